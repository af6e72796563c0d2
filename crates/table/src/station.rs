//! One station, and the one place where its columns are defined.

use crate::column::{ColumnUnit, Shown};
use crate::{Departures, Flag, NearSection, SmoothFigures, StationScatter, UncertaintyBudget};
use bladeform_quantity::Measured;
use serde_json::{Map, Value};

/// Defines [`Station`], [`StationUncertainty`] and [`StationColumn`] from one list, so that the keys of the documents,
/// the headings, the terminal's columns and the fields of the structures always agree.
macro_rules! station_columns {
    (
        positions { $($(#[doc = $p_doc:literal])+ $p_variant:ident $p_field:ident $p_unit:ident $p_shown:expr;)+ }
        figures { $($(#[doc = $doc:literal])+ $variant:ident $field:ident $unit:ident $shown:expr;)+ }
        evidence { $($(#[doc = $e_doc:literal])+ $e_variant:ident $e_field:ident $e_unit:ident $e_shown:expr;)+ }
    ) => {
        /// One station of a blade: its figures in SI, angles in degrees.
        ///
        /// A figure that has no meaning here is `None`: `null` in JSON, an empty cell in CSV.
        #[derive(Clone, Debug, Default, PartialEq)]
        pub struct Station {
            $($(#[doc = $p_doc])+ pub $p_field: f64,)+
            $($(#[doc = $doc])+ pub $field: Option<f64>,)+
            /// The standard uncertainties of the figures above.
            pub u: StationUncertainty,
            /// The sources of the uncertainties, as far as they are stated.
            pub budget: UncertaintyBudget,
            /// Scatter of the figures between several scans. Empty for one scan.
            pub scatter: StationScatter,
            $($(#[doc = $e_doc])+ pub $e_field: Option<f64>,)+
            /// Departures of the scan from the outline on the parts of the section.
            pub departures: Departures,
            /// Published sections close to the outline, the nearest first. Empty if none were searched for.
            pub near_sections: Vec<NearSection>,
            /// The figures of the smooth blade here, where all stations together give one.
            pub smooth: SmoothFigures,
            /// What must be reported about this station.
            pub flags: Vec<Flag>,
            /// The cleaned outline. `None` for a station that failed or if the table has none.
            pub outline: Option<SectionOutline>,
            /// The keys that this version does not know, kept as they were read.
            pub extra: Map<String, Value>,
        }

        /// The standard uncertainty of each figure of a [`Station`], in the unit of the figure.
        #[derive(Clone, Debug, Default, PartialEq)]
        pub struct StationUncertainty {
            $(#[doc = concat!("Of `", stringify!($p_field), "`.")] pub $p_field: Option<f64>,)+
            $(#[doc = concat!("Of `", stringify!($field), "`.")] pub $field: Option<f64>,)+
            /// The keys that this version does not know, kept as they were read.
            pub extra: Map<String, Value>,
        }

        /// A column of the station table, in the order of the documents.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum StationColumn {
            $($(#[doc = $p_doc])+ $p_variant,)+
            $($(#[doc = $doc])+ $variant,)+
            $($(#[doc = $e_doc])+ $e_variant,)+
        }

        impl StationColumn {
            /// Every figure: the columns that have a standard uncertainty.
            pub const FIGURES: &'static [StationColumn] =
                &[$(StationColumn::$p_variant,)+ $(StationColumn::$variant,)+];
            /// Angles that a setting turns together.
            pub const ANGLES: [StationColumn; 3] =
                [Self::BladeAngleDeg, Self::FaceAngleDeg, Self::LongestChordAngleDeg];
            /// The evidence for the figures: columns without an uncertainty of their own.
            pub const EVIDENCE: &'static [StationColumn] = &[$(StationColumn::$e_variant,)+];

            /// The key in JSON and the heading in CSV. It ends in its unit.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self {
                    $(StationColumn::$p_variant => stringify!($p_field),)+
                    $(StationColumn::$variant => stringify!($field),)+
                    $(StationColumn::$e_variant => stringify!($e_field),)+
                }
            }

            /// The heading of the column's uncertainty in CSV, `u_` and the key; `None` for evidence.
            #[must_use]
            pub const fn uncertainty_key(self) -> Option<&'static str> {
                match self {
                    $(StationColumn::$p_variant => Some(concat!("u_", stringify!($p_field))),)+
                    $(StationColumn::$variant => Some(concat!("u_", stringify!($field))),)+
                    $(StationColumn::$e_variant => None,)+
                }
            }

            /// The unit of the figure in the documents.
            #[must_use]
            pub const fn unit(self) -> ColumnUnit {
                match self {
                    $(StationColumn::$p_variant => ColumnUnit::$p_unit,)+
                    $(StationColumn::$variant => ColumnUnit::$unit,)+
                    $(StationColumn::$e_variant => ColumnUnit::$e_unit,)+
                }
            }

            /// How the column is displayed: name, unit, factor and decimals.
            #[must_use]
            pub const fn shown(self) -> Shown {
                match self {
                    $(StationColumn::$p_variant => $p_shown,)+
                    $(StationColumn::$variant => $shown,)+
                    $(StationColumn::$e_variant => $e_shown,)+
                }
            }

            /// The meaning of the column, a sentence.
            #[must_use]
            pub const fn meaning(self) -> &'static str {
                match self {
                    $(StationColumn::$p_variant => concat!($($p_doc),+).trim_ascii(),)+
                    $(StationColumn::$variant => concat!($($doc),+).trim_ascii(),)+
                    $(StationColumn::$e_variant => concat!($($e_doc),+).trim_ascii(),)+
                }
            }

            /// The figure of a station, in the unit of the key.
            #[must_use]
            pub const fn get(self, station: &Station) -> Option<f64> {
                match self {
                    $(StationColumn::$p_variant => Some(station.$p_field),)+
                    $(StationColumn::$variant => station.$field,)+
                    $(StationColumn::$e_variant => station.$e_field,)+
                }
            }

            /// Sets the figure of a station. The position of a station cannot be removed: `None` does not change
            /// `radius_m` and `radius_ratio`.
            pub const fn set(self, station: &mut Station, value: Option<f64>) {
                match self {
                    $(StationColumn::$p_variant => if let Some(value) = value { station.$p_field = value },)+
                    $(StationColumn::$variant => station.$field = value,)+
                    $(StationColumn::$e_variant => station.$e_field = value,)+
                }
            }

            /// The standard uncertainty of the figure. `None` if it is missing and for evidence.
            #[must_use]
            pub const fn u(self, station: &Station) -> Option<f64> {
                match self {
                    $(StationColumn::$p_variant => station.u.$p_field,)+
                    $(StationColumn::$variant => station.u.$field,)+
                    $(StationColumn::$e_variant => None,)+
                }
            }

            /// Sets the standard uncertainty of the figure. Evidence has none and is not changed.
            pub const fn set_u(self, station: &mut Station, value: Option<f64>) {
                match self {
                    $(StationColumn::$p_variant => station.u.$p_field = value,)+
                    $(StationColumn::$variant => station.u.$field = value,)+
                    $(StationColumn::$e_variant => {})+
                }
            }
        }
    };
}

station_columns! {
    positions {
        /// Radius: distance of the section from the axis of rotation, along the span.
        RadiusM radius_m Metre Shown::new("r", "mm", 1e3, 1);
        /// Radius as a fraction of the tip radius.
        RadiusRatio radius_ratio Ratio Shown::new("r/R", "-", 1.0, 3);
    }
    figures {
        /// Chord: length of the straight line joining the two ends of the mean line.
        ChordM chord_m Metre Shown::new("chord", "mm", 1e3, 1);
        /// Blade angle: from the plane of rotation to the chord line, positive with the leading edge towards flight.
        BladeAngleDeg blade_angle_deg Degree Shown::new("blade angle", "deg", 1.0, 2);
        /// Face angle: from the plane of rotation to the line fitted to the face between 30 % and 90 % of the chord.
        FaceAngleDeg face_angle_deg Degree Shown::new("face angle", "deg", 1.0, 2);
        /// Thickness: diameter of the greatest inscribed circle.
        ThicknessM thickness_m Metre Shown::new("thickness", "mm", 1e3, 2);
        /// Thickness as a fraction of the chord.
        ThicknessRatio thickness_ratio Ratio Shown::new("t/c", "%", 1e2, 2);
        /// Where the greatest thickness lies, as a fraction of the chord from the leading edge.
        ThicknessPosition thickness_position Position Shown::new("t at", "%", 1e2, 1);
        /// Camber: greatest distance of the mean line from the chord line as a fraction of the chord, positive towards the back.
        CamberRatio camber_ratio Ratio Shown::new("camber", "%", 1e2, 2);
        /// Where the greatest camber lies, as a fraction of the chord from the leading edge.
        CamberPosition camber_position Position Shown::new("camber at", "%", 1e2, 1);
        /// Leading-edge radius: radius of curvature of the outline at the leading edge.
        LeadingEdgeRadiusM leading_edge_radius_m Metre Shown::new("LE radius", "mm", 1e3, 2);
        /// Trailing-edge thickness: width of the outline where the last inscribed circle sits.
        TrailingEdgeThicknessM trailing_edge_thickness_m Metre Shown::new("TE thickness", "mm", 1e3, 2);
        /// Longest chord: greatest distance between two points of the outline.
        LongestChordM longest_chord_m Metre Shown::new("longest chord", "mm", 1e3, 1);
        /// Angle of the longest chord to the plane of rotation.
        LongestChordAngleDeg longest_chord_angle_deg Degree Shown::new("its angle", "deg", 1.0, 2);
        /// Area of the section.
        AreaM2 area_m2 SquareMetre Shown::new("area", "mm2", 1e6, 0);
        /// Centre of the chord line along x of the blade axes: sweep.
        MidChordXM mid_chord_x_m Metre Shown::new("mid-chord x", "mm", 1e3, 1);
        /// Centre of the chord line along y of the blade axes: rake.
        MidChordYM mid_chord_y_m Metre Shown::new("mid-chord y", "mm", 1e3, 1);
        /// Geometric pitch of the chord line, 2 pi r tan(blade angle).
        PitchM pitch_m Metre Shown::new("pitch", "m", 1.0, 3);
        /// Geometric pitch of the face, 2 pi r tan(face angle).
        FacePitchM face_pitch_m Metre Shown::new("face pitch", "m", 1.0, 3);
    }
    evidence {
        /// The number of scan points that the outline rests on, a whole number.
        Points points Count Shown::new("points", "-", 1.0, 0);
        /// Root mean square distance of those points from the outline.
        ResidualRmsM residual_rms_m Metre Shown::new("residual", "mm", 1e3, 3);
    }
}

/// The outline of a section, m: closed, anticlockwise, with the chord line along `x` and the leading edge at the origin.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SectionOutline {
    /// Along the chord from the leading edge, m.
    pub x: Vec<f64>,
    /// Normal to the chord, positive towards the back, m; as many values as `x`.
    pub y: Vec<f64>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

impl SectionOutline {
    /// An outline from its points `[x, y]`, m.
    #[must_use]
    pub fn from_points(points: &[[f64; 2]]) -> SectionOutline {
        let (x, y) = points.iter().map(|&[x, y]| (x, y)).unzip();
        SectionOutline { x, y, extra: Map::new() }
    }

    /// The points `[x, y]`, m.
    pub fn points(&self) -> impl Iterator<Item = [f64; 2]> + '_ {
        self.x.iter().zip(&self.y).map(|(&x, &y)| [x, y])
    }

    /// The number of points.
    #[must_use]
    pub fn len(&self) -> usize {
        self.x.len().min(self.y.len())
    }

    /// Whether there is no point.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl StationColumn {
    /// Every column: the figures, then the evidence.
    pub fn all() -> impl Iterator<Item = StationColumn> {
        StationColumn::FIGURES.iter().chain(StationColumn::EVIDENCE).copied()
    }

    /// The column of a key. `None` for a key that is no column.
    #[must_use]
    pub fn of_key(key: &str) -> Option<StationColumn> {
        StationColumn::all().find(|column| column.key() == key)
    }

    /// The figure of a station with its uncertainty, which is zero if none is stated. `None` if the figure is missing.
    #[must_use]
    pub fn measured(self, station: &Station) -> Option<Measured> {
        self.get(station).map(|value| Measured::new(value, self.u(station).unwrap_or(0.0)))
    }

    /// Sets the figure and its uncertainty; `None` clears both.
    pub fn set_measured(self, station: &mut Station, measured: Option<Measured>) {
        self.set(station, measured.map(|m| m.value));
        self.set_u(station, measured.map(|m| m.u));
    }
}

impl Station {
    /// A station at `radius_m` of a blade with the tip radius `blade_radius_m`, both m, without any other figure.
    #[must_use]
    pub fn at(radius_m: f64, blade_radius_m: f64) -> Station {
        Station { radius_m, radius_ratio: radius_m / blade_radius_m, ..Station::default() }
    }

    /// A station that could not be measured: its radius, and the reason as a flag.
    #[must_use]
    pub fn refused(radius_m: f64, blade_radius_m: f64, reason: impl Into<String>) -> Station {
        let flags = vec![Flag::Refused { reason: reason.into() }];
        Station { flags, ..Station::at(radius_m, blade_radius_m) }
    }

    /// Whether the station could not be measured.
    #[must_use]
    pub fn is_refused(&self) -> bool {
        self.flags.iter().any(Flag::is_refusal)
    }
}

/// The columns of the documents as a table in Markdown: key, unit and meaning.
#[must_use]
pub fn columns_as_markdown() -> String {
    let mut text = String::from("| key | unit | meaning |\n|---|---|---|\n");
    for column in StationColumn::all() {
        let unit = column.unit().name();
        text.push_str(&format!("| `{}` | {unit} | {} |\n", column.key(), column.meaning()));
    }
    text
}
