//! The prediction as a document: the performance of a propeller with the blades of a table, point by point.

use crate::{Notice, SettingOf, WaterState};
use serde_json::{Map, Value};

/// What the figures with a body behind the propeller are, as sentences for readers.
pub const BODY_MEANING: &str = "The shaft thrust is the force on the shaft, with the stream over the disc that the body leaves. The propulsive thrust is less by the rise of the body's drag in the slipstream, as in potential flow: behind a hull's wake of friction, and at zero speed, it is a guess. Its interval by the methods (±m, twice the standard uncertainty) is that of the shaft thrust and, where the drag coefficient of the body was not stated, the whole rise of its drag in squares. The shanks' power is part of the power.";
/// The schema of the document.
pub const PREDICTION_SCHEMA: &str = "bladeform.prediction/1";

/// Defines a structure of figures and the list of its keys from one list, so that documents and structure always agree.
macro_rules! figures {
    ($(#[doc = $head:literal])+ $name:ident { $($(#[doc = $doc:literal])+ $field:ident;)+ }) => {
        $(#[doc = $head])+
        #[derive(Clone, Copy, Debug, Default, PartialEq)]
        pub struct $name {
            $($(#[doc = $doc])+ pub $field: Option<f64>,)+
        }

        impl $name {
            /// The keys of the figures in the order of the documents. Each ends in its unit, except that of a pure number.
            pub const KEYS: &'static [&'static str] = &[$(stringify!($field)),+];

            /// The figures in the order of [`Self::KEYS`].
            #[must_use]
            pub fn values(&self) -> Vec<Option<f64>> {
                vec![$(self.$field),+]
            }

            /// Sets the figure of a key. Returns false for a key that is no figure.
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
    /// The performance of the propeller at one operating point. A figure without meaning is `None`.
    OperatingFigures {
        /// Blade setting: the angle of the setting's line at the reference radius, deg.
        setting_deg;
        /// Advance ratio `V/(n D)`.
        advance_ratio;
        /// Thrust of the whole propeller along flight, N.
        thrust_n;
        /// Torque that turns the propeller, N m.
        torque_nm;
        /// Power absorbed, W; negative if the stream drives the propeller.
        power_w;
        /// `T/(rho n^2 D^4)`.
        thrust_coefficient;
        /// `Q/(rho n^2 D^5)`.
        torque_coefficient;
        /// `P/(rho n^3 D^5)`.
        power_coefficient;
        /// `J C_T/C_P`; none at the static point, and none if thrust and power are not both positive.
        efficiency;
        /// Mach number of the tip's helical path.
        helical_tip_mach;
        /// Fraction of the blade's span that is stalled.
        stalled_fraction;
    }
}

figures! {
    /// Standard uncertainties of an operating point due to the uncertainty of the geometry.
    OperatingUncertainty {
        /// Of the setting if it is an answer, deg.
        setting_deg;
        /// Of the thrust, N.
        thrust_n;
        /// Of the torque, N m.
        torque_nm;
        /// Of the power, W.
        power_w;
        /// Of the efficiency.
        efficiency;
        /// The part of that of the thrust that is common to all stations (the scale), N.
        common_thrust_n;
        /// The part of that of the power that is common to all stations (the scale), W.
        common_power_w;
    }
}

figures! {
    /// Standard uncertainties of an operating point due to the methods: root mean square differences from published tests of the same kind of propeller and state of flow. A figure without such a test is `None`.
    MethodUncertainty {
        /// Of the thrust, N.
        thrust_n;
        /// Of the torque, N m.
        torque_nm;
        /// Of the power, W.
        power_w;
        /// Of the efficiency.
        efficiency;
    }
}

figures! {
    /// The second, independent model at one operating point, and its difference from the first.
    SecondModel {
        /// Thrust, N.
        thrust_n;
        /// Power, W.
        power_w;
        /// Efficiency.
        efficiency;
        /// Its thrust minus that of the first model, as a fraction of the first.
        thrust_difference;
        /// Its power minus that of the first model, as a fraction of the first.
        power_difference;
    }
}

figures! {
    /// The free wake, the second model at zero speed, if it converged, and its difference from the blade elements.
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
        /// Its thrust minus that of the blade elements, as a fraction of theirs.
        thrust_difference;
        /// Its power minus that of the blade elements, as a fraction of theirs.
        power_difference;
        /// Radius of the tip vortex where it passes the next blade, as a fraction of the tip radius.
        tip_vortex_radius_ratio;
        /// Its depth below that blade, as a fraction of the tip radius.
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
        /// Turn of the stream along the chord, deg. Lift and drag are those of the polar at the angle of attack minus this angle.
        stream_turn_deg;
        /// Axial induced velocity at the blade, positive downstream, m/s.
        axial_induced_m_s;
        /// Swirl velocity induced at the blade, positive in the direction of rotation, m/s.
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

figures! {
    /// What belongs to a propeller in water at one operating point. Its `K_T`, `K_Q` and `eta_0` are the thrust coefficient, the torque coefficient and the efficiency.
    WaterFigures {
        /// `(p - p_v)/(rho n^2 D^2 / 2)` with the pressure `p` at the depth of the shaft; none without a depth.
        cavitation_number;
        /// Fraction of the span on which cavitation begins when the blade points up; none without a depth.
        cavitating_fraction;
        /// Fraction of the span on which the least pressure is not known, so that cavitation was not looked for.
        unchecked_fraction;
    }
}

figures! {
    /// What of one operating point belongs to the shanks, the hub and the body behind the propeller.
    InstalledFigures {
        /// Thrust of all shanks, N; part of the thrust and mostly negative.
        shank_thrust_n;
        /// Power of all shanks, W; part of the power.
        shank_power_w;
        /// Drag of a blunt hub, N; the thrust is less by it.
        hub_drag_n;
        /// Axial speed of the stream at 0.75 R without the propeller, as a fraction of the speed of flight.
        stream_factor;
        /// Thrust less the rise of the body's drag, N; none without a body.
        propulsive_thrust_n;
        /// `V T/P` of that thrust; none without a body and where there is no efficiency.
        propulsive_efficiency;
        /// Standard uncertainty of the propulsive thrust by the methods, N: that of the thrust, and the whole rise of the body's drag where its coefficient was not given.
        u_method_propulsive_thrust_n;
        /// The same of the propulsive efficiency.
        u_method_propulsive_efficiency;
    }
}

figures! {
    /// The figures of one operating point by blade elements with a smooth surface and with one that is turbulent from 5 % of the chord on; those shown lie between.
    SurfaceFigures {
        /// Thrust with a smooth surface, N.
        smooth_thrust_n;
        /// Power with a smooth surface, W.
        smooth_power_w;
        /// Efficiency with a smooth surface.
        smooth_efficiency;
        /// Thrust with a worn surface, N.
        worn_thrust_n;
        /// Power with a worn surface, W.
        worn_power_w;
        /// Efficiency with a worn surface.
        worn_efficiency;
    }
}

figures! {
    /// What belongs to a section in water.
    RadialWater {
        /// Pressure above that of the vapour when the blade points up, over the dynamic pressure of the resultant speed; none without a depth.
        cavitation_number;
        /// Least pressure coefficient on the section; none where it is not known.
        least_pressure_coefficient;
    }
}

impl RadialWater {
    /// Whether cavitation begins here: the least pressure is below that of the vapour. `None` where either is not known.
    #[must_use]
    pub fn cavitates(&self) -> Option<bool> {
        Some(-self.least_pressure_coefficient? > self.cavitation_number?)
    }
}

/// One radius at one operating point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RadialRow {
    /// Its figures.
    pub figures: RadialFigures,
    /// Whether the flow is separated.
    pub stalled: bool,
    /// What belongs to water; `None` in air.
    pub water: Option<RadialWater>,
    /// The region of the polar from which the coefficients come, in words.
    pub polar_region: String,
}

/// One operating point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OperatingPoint {
    /// Its figures.
    pub figures: OperatingFigures,
    /// Speed of flight, m/s.
    pub speed_m_s: f64,
    /// Rotation, revolutions per minute.
    pub rpm: f64,
    /// Effect of the uncertainty of the geometry, if it was requested.
    pub u: Option<OperatingUncertainty>,
    /// Uncertainty due to the methods; `None` in a state of flow without a published test.
    pub u_method: Option<MethodUncertainty>,
    /// What belongs to water; `None` in air.
    pub water: Option<WaterFigures>,
    /// What belongs to shank, hub and body; `None` if there is none of them.
    pub installed: Option<InstalledFigures>,
    /// The band of the surface; `None` if its state is known.
    pub surface: Option<SurfaceFigures>,
    /// The second model, if it was computed.
    pub lifting_line: Option<SecondModel>,
    /// The second model at zero speed, if it was computed and converged.
    pub free_wake: Option<FreeWakeModel>,
    /// What must be reported about this point.
    pub flags: Vec<Notice>,
    /// The radii from the root to the tip; may be empty.
    pub radial: Vec<RadialRow>,
}

/// An answer: a point that was solved for instead of picked from the steps.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Answer {
    /// A short name of lower-case letters and underscores, such as `best_efficiency`.
    pub name: String,
    /// The answer as a sentence with units.
    pub sentence: String,
    /// The point. `None` if there is no such point; the sentence then says why.
    pub point: Option<OperatingPoint>,
}

/// A list of solved points that belong together, such as the setting over flight speed at constant rpm and power.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Schedule {
    /// A short name of lower-case letters and underscores.
    pub name: String,
    /// Its description, a sentence with units.
    pub sentence: String,
    /// Greatest rotation allowed, revolutions per minute; `None` if none is stated.
    pub most_rpm: Option<f64>,
    /// Its points, without radial rows.
    pub points: Vec<OperatingPoint>,
}

/// The state of the air, or of the water.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AirState {
    /// Geopotential altitude, m; of water that of its surface.
    pub altitude_m: f64,
    /// Temperature above that of the standard, K.
    pub temperature_offset_k: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Pressure, Pa; of water that on its surface.
    pub pressure_pa: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
    /// Speed of sound, m/s; infinite in water, which does not compress here.
    pub speed_of_sound_m_s: f64,
    /// The water, if it is water.
    pub water: Option<WaterState>,
}

/// The prediction of a propeller from a station table.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// The name of the table's file; empty if not stated.
    pub table_file: String,
    /// SHA-256 of its bytes, hexadecimal; empty if not stated.
    pub table_sha256: String,
    /// Number of blades.
    pub blades: u64,
    /// Diameter, m.
    pub diameter_m: f64,
    /// Rotation, revolutions per minute.
    pub rpm: f64,
    /// Speed of flight, m/s; `None` if advance ratios were requested.
    pub speed_m_s: Option<f64>,
    /// The air, or the water.
    pub air: AirState,
    /// Radius to which the setting refers, as a fraction of the tip radius; 1 is the tip.
    pub reference_radius_ratio: f64,
    /// The line whose angle the setting is.
    pub setting_of: SettingOf,
    /// Radius at which the computed blade begins, m.
    pub inner_radius_m: f64,
    /// How the figures were computed, a sentence each.
    pub methods: Vec<String>,
    /// The requested points.
    pub points: Vec<OperatingPoint>,
    /// The answers.
    pub answers: Vec<Answer>,
    /// Lists of solved points.
    pub schedules: Vec<Schedule>,
    /// What must be reported about the whole prediction.
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
    /// Whether the point is static: the flight speed is zero.
    #[must_use]
    pub fn is_static(&self) -> bool {
        self.speed_m_s == 0.0
    }
}
