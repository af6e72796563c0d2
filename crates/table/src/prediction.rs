//! The prediction as a document: what a propeller made of a table's blades does, point by point.

use crate::{Notice, SettingOf};
use serde_json::{Map, Value};

/// The schema of the document.
pub const PREDICTION_SCHEMA: &str = "bladeform.prediction/1";

/// Makes a structure of figures and the list of its keys from one list, so that documents and structure cannot drift apart.
macro_rules! figures {
    ($(#[doc = $head:literal])+ $name:ident { $($(#[doc = $doc:literal])+ $field:ident;)+ }) => {
        $(#[doc = $head])+
        #[derive(Clone, Copy, Debug, Default, PartialEq)]
        pub struct $name {
            $($(#[doc = $doc])+ pub $field: Option<f64>,)+
        }

        impl $name {
            /// The keys of the figures in the order of the documents; each ends in its unit, a pure number in none.
            pub const KEYS: &'static [&'static str] = &[$(stringify!($field)),+];

            /// The figures in the order of [`Self::KEYS`].
            #[must_use]
            pub fn values(&self) -> Vec<Option<f64>> {
                vec![$(self.$field),+]
            }

            /// Sets the figure of a key; false for a key that is no figure.
            pub fn set(&mut self, key: &str, value: Option<f64>) -> bool {
                match key {
                    $(stringify!($field) => self.$field = value,)+
                    _ => return false,
                }
                true
            }
        }
    };
}

figures! {
    /// What the propeller does at one operating point. A figure without meaning is `None`.
    OperatingFigures {
        /// Blade setting: the angle of the setting's line at the reference radius, deg.
        setting_deg;
        /// Advance ratio `V/(n D)`.
        advance_ratio;
        /// Thrust of the whole propeller along flight, N.
        thrust_n;
        /// Torque that turns the propeller, N m.
        torque_nm;
        /// Power taken up, W; negative where the stream drives the propeller.
        power_w;
        /// `T/(rho n^2 D^4)`.
        thrust_coefficient;
        /// `Q/(rho n^2 D^5)`.
        torque_coefficient;
        /// `P/(rho n^3 D^5)`.
        power_coefficient;
        /// `J C_T/C_P`; none at the static point, and none where thrust and power are not both positive.
        efficiency;
        /// Mach number of the tip's helical path.
        helical_tip_mach;
        /// Fraction of the blade's span that is stalled.
        stalled_fraction;
    }
}

figures! {
    /// Standard uncertainties of an operating point that the uncertainty of the geometry causes.
    OperatingUncertainty {
        /// Of the setting where it is an answer, deg.
        setting_deg;
        /// Of the thrust, N.
        thrust_n;
        /// Of the torque, N m.
        torque_nm;
        /// Of the power, W.
        power_w;
        /// Of the efficiency.
        efficiency;
        /// The part of the thrust's that all stations share (the scale), N.
        common_thrust_n;
        /// The part of the power's that all stations share (the scale), W.
        common_power_w;
    }
}

figures! {
    /// The second, independent model at one operating point, and how far it is from the first.
    SecondModel {
        /// Thrust, N.
        thrust_n;
        /// Power, W.
        power_w;
        /// Efficiency.
        efficiency;
        /// Its thrust less that of the first model, as a fraction of the first.
        thrust_difference;
        /// Its power less that of the first model, as a fraction of the first.
        power_difference;
    }
}

figures! {
    /// The free wake of a propeller at rest, the second model there, where it settled, and how far it is from the blade elements.
    FreeWakeModel {
        /// Thrust, N.
        thrust_n;
        /// Power, W.
        power_w;
        /// Power of the ideal disc of this thrust over the power.
        figure_of_merit;
        /// Thrust by blade elements, N.
        blade_elements_thrust_n;
        /// Power by blade elements, W.
        blade_elements_power_w;
        /// Its thrust less that of the blade elements, as a fraction of theirs.
        thrust_difference;
        /// Its power less that of the blade elements, as a fraction of theirs.
        power_difference;
        /// Radius of the tip vortex where it passes the next blade, as a fraction of the tip radius.
        tip_vortex_radius_ratio;
        /// How far below that blade it is there, as a fraction of the tip radius.
        tip_vortex_depth_ratio;
    }
}

figures! {
    /// The figures of one radius at one operating point.
    RadialFigures {
        /// Radius, m.
        radius_m;
        /// Radius as a fraction of the tip radius.
        radius_ratio;
        /// Chord, m.
        chord_m;
        /// Blade angle at this setting, from the plane of rotation to the chord line, deg.
        blade_angle_deg;
        /// Angle of the resultant stream to the plane of rotation, deg.
        inflow_angle_deg;
        /// Angle of attack of the chord line, deg.
        angle_of_attack_deg;
        /// What the stream turns along the chord, deg: lift and drag are the polar's at the angle of attack less this.
        stream_turn_deg;
        /// Axial induced velocity at the blade, positive downstream, m/s.
        axial_induced_m_s;
        /// Swirl velocity induced at the blade, positive the way the blade moves, m/s.
        swirl_induced_m_s;
        /// Resultant speed at the section, m/s.
        resultant_speed_m_s;
        /// Reynolds number on the chord.
        reynolds;
        /// Mach number of the resultant speed.
        mach;
        /// Lift coefficient.
        lift_coefficient;
        /// Drag coefficient.
        drag_coefficient;
        /// Thrust of one blade per metre of span, N/m.
        thrust_n_per_m;
        /// Torque of one blade per metre of span, N m/m.
        torque_n;
    }
}

/// One radius at one operating point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RadialRow {
    /// Its figures.
    pub figures: RadialFigures,
    /// Whether the flow has left the section.
    pub stalled: bool,
    /// Which part of the polar the coefficients come from, in words.
    pub polar_region: String,
}

/// One operating point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OperatingPoint {
    /// Its figures.
    pub figures: OperatingFigures,
    /// Speed of flight, m/s.
    pub speed_m_s: f64,
    /// Rotation, revolutions a minute.
    pub rpm: f64,
    /// What the uncertainty of the geometry does to it, where it was asked for.
    pub u: Option<OperatingUncertainty>,
    /// The second model, where it was computed.
    pub lifting_line: Option<SecondModel>,
    /// The second model of a propeller at rest, where it was computed and settled.
    pub free_wake: Option<FreeWakeModel>,
    /// What must be told about this point.
    pub flags: Vec<Notice>,
    /// The radii from the root to the tip; may be empty.
    pub radial: Vec<RadialRow>,
}

/// An answer: a point that was solved for, not picked from the steps.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// A short name of lower-case letters and underscores, such as `best_efficiency`.
    pub name: String,
    /// The answer as a sentence with units.
    pub sentence: String,
    /// The point; `None` where there is no such point, and the sentence says why.
    pub point: Option<OperatingPoint>,
}

/// A list of solved points that belong together, such as the setting over flight speed at constant rpm and power.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schedule {
    /// A short name of lower-case letters and underscores.
    pub name: String,
    /// What it is, as a sentence with units.
    pub sentence: String,
    /// Its points, without radial rows.
    pub points: Vec<OperatingPoint>,
}

/// The state of the air.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AirState {
    /// Geopotential altitude, m.
    pub altitude_m: f64,
    /// How much warmer the air is than the standard, K.
    pub temperature_offset_k: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
    /// Speed of sound, m/s.
    pub speed_of_sound_m_s: f64,
}

/// The prediction of a propeller from a station table.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// The name of the table's file; empty when not stated.
    pub table_file: String,
    /// SHA-256 of its bytes, hexadecimal; empty when not stated.
    pub table_sha256: String,
    /// Number of blades.
    pub blades: u64,
    /// Diameter, m.
    pub diameter_m: f64,
    /// Rotation, revolutions a minute.
    pub rpm: f64,
    /// Speed of flight, m/s; `None` when advance ratios were asked for.
    pub speed_m_s: Option<f64>,
    /// The air.
    pub air: AirState,
    /// Where the setting holds, as a fraction of the tip radius; 1 is the tip.
    pub reference_radius_ratio: f64,
    /// Which line has the setting's angle.
    pub setting_of: SettingOf,
    /// Where the computed blade begins, m.
    pub inner_radius_m: f64,
    /// How the figures were computed, a sentence each.
    pub methods: Vec<String>,
    /// The points that were asked for.
    pub points: Vec<OperatingPoint>,
    /// The answers.
    pub answers: Vec<Answer>,
    /// Lists of solved points.
    pub schedules: Vec<Schedule>,
    /// What must be told about the whole prediction.
    pub warnings: Vec<Notice>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl Default for Prediction {
    fn default() -> Prediction {
        Prediction {
            table_file: String::new(),
            table_sha256: String::new(),
            blades: 0,
            diameter_m: 0.0,
            rpm: 0.0,
            speed_m_s: None,
            air: AirState::default(),
            reference_radius_ratio: crate::DEFAULT_REFERENCE_RADIUS_RATIO,
            setting_of: SettingOf::Chord,
            inner_radius_m: 0.0,
            methods: Vec::new(),
            points: Vec::new(),
            answers: Vec::new(),
            schedules: Vec::new(),
            warnings: Vec::new(),
            extra: Map::new(),
        }
    }
}

impl OperatingPoint {
    /// Whether the propeller stands still in the air: no speed of flight.
    #[must_use]
    pub fn is_static(&self) -> bool {
        self.speed_m_s == 0.0
    }
}
