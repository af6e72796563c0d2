//! The station table: the measured figures with their scan, scale and axes.

use crate::TableNotice;
use crate::{
    HubFigures, KnownLength, Notice, PartRecord, Readings, Repeats, RootSection, Rotation, SectionSurface,
    Station, StationColumn,
};
use bladeform_quantity::Hand;
use serde_json::{Map, Value};

/// The schema of the document.
pub const SCHEMA: &str = "bladeform.stations/1";

/// Default reference radius of a setting, as a fraction of the tip radius (common practice, no source).
pub const DEFAULT_REFERENCE_RADIUS_RATIO: f64 = 0.75;

/// The caution in every measured table.
pub const CAUTION: &str = "A measured or rebuilt propeller is not an airworthy one. Do not run a printed, cut or rebuilt copy, not even on the ground: a root, a glue line, wood, a bad balance or too high a speed kills people nearby, with screws and models too. The authority's rules and licensed practice decide.";

/// The caution in at most 80 bytes of ASCII, for the headers of files that can be built from.
pub const CAUTION_SHORT: &str =
    "Not airworthy. Never run a printed, cut or rebuilt copy, not even on the ground.";
const _: () = assert!(CAUTION_SHORT.len() <= 80);

/// A radius as a fraction of `R`, or the tip.
#[must_use]
pub fn place_text(ratio: f64) -> String {
    if (ratio - 1.0).abs() < f64::EPSILON { "the tip".to_owned() } else { format!("{ratio} R") }
}

/// The station table of a blade, or of a whole propeller.
///
/// A table written by hand has no `source`, `scale`, `frame` and `repairs`. The radii of `stations` increase strictly.
/// Each `extra` holds the keys that this version does not know. They are written as they were read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StationTable {
    /// What people say of the part.
    pub record: PartRecord,
    /// The scan from which the table was measured.
    pub source: Option<Source>,
    /// The scale of the scan.
    pub scale: Option<Scale>,
    /// The axes of the blade.
    pub frame: Option<Frame>,
    /// Figures of the whole blade.
    pub blade: BladeFigures,
    /// What was removed or closed before measuring.
    pub repairs: Option<Repairs>,
    /// The stations from the root to the tip. For a whole propeller they are the mean of its blades.
    pub stations: Vec<Station>,
    /// Sections of the root between its end, or the hub, and the first station, by rising radius. Empty if the table has none. For a whole propeller they are those of its first blade.
    pub root_sections: Vec<RootSection>,
    /// The hub of a whole propeller; `None` for a single blade, or if the scan shows none.
    pub hub: Option<HubFigures>,
    /// The blades of a whole propeller. Empty for a single blade.
    pub blades: Vec<BladeRows>,
    /// The axis of rotation of a whole propeller as measured; `None` for a single blade.
    pub rotation: Option<Rotation>,
    /// How the blades of a propeller differ from their mean. Empty for a single blade.
    pub blade_differences: Vec<BladeDifference>,
    /// What several scans of one blade say about one another, if the table is their mean.
    pub repeats: Option<Repeats>,
    /// Readings by hand beside the scan; `None` without any.
    pub readings: Option<Readings>,
    /// What must be reported about the whole table.
    pub warnings: Vec<Notice>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The scan from which a table was measured. An empty text means that it is not stated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Source {
    /// The name of the file.
    pub file: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// Its format.
    pub format: String,
    /// The number of vertices as read.
    pub vertices: Option<u64>,
    /// The number of triangles as read.
    pub triangles: Option<u64>,
    /// Resolution for which the figures are corrected, m: the full width at half maximum of the kernel that smoothed the surface.
    pub resolution_m: Option<f64>,
    /// Its standard uncertainty, m; `None` where the user stated the resolution.
    pub resolution_uncertainty_m: Option<f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The scale of the scan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scale {
    /// Metres per unit of the scan.
    pub metres_per_unit: Option<f64>,
    /// The basis of the scale, in words; empty if not stated.
    pub basis: String,
    /// The relative standard uncertainty of the scale.
    pub relative_uncertainty: Option<f64>,
    /// The known lengths beside the scale, if a distance between two points is among them. Otherwise empty.
    pub known_lengths: Vec<KnownLength>,
    /// Sum of the squares of their differences over their standard uncertainties; `None` for fewer than two.
    pub chi_square: Option<f64>,
    /// Their number less one; `None` for fewer than two.
    pub degrees_of_freedom: Option<u64>,
    /// The Birge ratio by which the uncertainty was multiplied; `None` if they do not contradict one another.
    pub birge_ratio: Option<f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The axes of the blade and its hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frame {
    /// Blade axes in metres = this matrix, row-major, times a point of the scan (with 1 as fourth coordinate).
    pub scan_to_blade: Option<[[f64; 4]; 4]>,
    /// How the axes were found, in words; empty if not stated.
    pub method: String,
    /// The hand of the propeller; right if not stated.
    pub hand: Hand,
    /// Whether the hand is known instead of guessed.
    pub hand_certain: bool,
    /// How the hand is known; `None` if not stated.
    pub hand_basis: Option<HandBasis>,
    /// On what the sections are cut; planes if not stated.
    pub sections: SectionSurface,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl Frame {
    /// How the hand is known: as stated, or else as [`Self::hand_certain`] says.
    #[must_use]
    pub fn how_hand_is_known(&self) -> HandBasis {
        self.hand_basis.unwrap_or(if self.hand_certain { HandBasis::Certain } else { HandBasis::Assumed })
    }
}

/// How the hand of a propeller is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandBasis {
    /// The user gave it, or which edge leads or which side is the back.
    Given,
    /// The shape shows it clearly.
    Certain,
    /// A rule or a doubtful shape decides: a guess.
    Assumed,
}

impl HandBasis {
    /// The word of a file.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Certain => "certain",
            Self::Assumed => "assumed",
        }
    }

    /// The basis of a word of a file; `None` if it is none of them.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        [Self::Given, Self::Certain, Self::Assumed].into_iter().find(|basis| basis.as_str() == word)
    }

    /// The words for people.
    #[must_use]
    pub const fn shown(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Certain => "certain",
            Self::Assumed => "assumed, not certain",
        }
    }
}

/// Figures of the whole blade.
#[derive(Clone, Debug, PartialEq)]
pub struct BladeFigures {
    /// Radius of the tip, m.
    pub radius_m: f64,
    /// Distance of the root end from the axis of rotation, m.
    pub root_radius_m: Option<f64>,
    /// Length of the blade from its root end to the tip, m.
    pub blade_length_m: Option<f64>,
    /// Number of blades in the scan.
    pub blades_in_scan: Option<u64>,
    /// Activity factor of one blade.
    pub activity_factor: Option<f64>,
    /// Volume of one blade, m3.
    pub volume_m3: Option<f64>,
    /// The reference radius of the setting as a fraction of the tip radius.
    pub reference_radius_ratio: f64,
    /// The setting; `None` if the angles are relative.
    pub setting: Option<Setting>,
    /// The standard uncertainties of the figures above.
    pub u: BladeUncertainty,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The standard uncertainties of [`BladeFigures`], each in the unit of its figure. They are written if any is stated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BladeUncertainty {
    /// Of `radius_m`.
    pub radius_m: Option<f64>,
    /// Of `root_radius_m`.
    pub root_radius_m: Option<f64>,
    /// Of `blade_length_m`.
    pub blade_length_m: Option<f64>,
    /// Of `activity_factor`.
    pub activity_factor: Option<f64>,
    /// Of `volume_m3`.
    pub volume_m3: Option<f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The one absolute angle that the user gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// The angle, degrees.
    pub angle_deg: f64,
    /// Radius to which it refers, as a fraction of the tip radius; 1 is the tip.
    pub radius_ratio: f64,
    /// The line that has this angle.
    pub of: SettingOf,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The line whose angle a setting is. Chord and face differ by degrees.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SettingOf {
    /// The chord line.
    #[default]
    Chord,
    /// The line fitted to the face.
    Face,
}

/// Counts of what was removed or closed before measuring. Further counts are in `extra`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Repairs {
    /// Duplicate vertices.
    pub duplicate_vertices: u64,
    /// Triangles without an area.
    pub degenerate_triangles: u64,
    /// Pieces separate from the blade.
    pub stray_components: u64,
    /// Triangles whose orientation was reversed.
    pub flipped_triangles: u64,
    /// Vertices with a coordinate that is not a finite number.
    pub non_finite_vertices: u64,
    /// Further counts, and keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// One blade of a whole propeller.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BladeRows {
    /// The number of the blade, counted from 0. For people it is counted from 1.
    pub index: u64,
    /// Its azimuth about the axis, degrees from the first blade.
    pub azimuth_deg: Option<f64>,
    /// Distance of its tip from the axis of rotation, m.
    pub tip_radius_m: Option<f64>,
    /// Standard uncertainty of that without what all blades have in common (scale, place of the axis), m.
    pub u_tip_radius_m: Option<f64>,
    /// Its stations from the root to the tip.
    pub stations: Vec<Station>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// How one blade of a propeller differs from the mean of all.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BladeDifference {
    /// The number of the blade, counted from 0. For people it is counted from 1.
    pub index: u64,
    /// Mean over the stations of its blade angle minus that of the mean blade, degrees.
    pub mean_blade_angle_difference_deg: Option<f64>,
    /// Mean over the stations of its chord minus that of the mean blade, m.
    pub mean_chord_difference_m: Option<f64>,
    /// Axial position of its tip minus the mean of all blades' tips, m.
    pub track_m: Option<f64>,
    /// The standard uncertainties of the three.
    pub u: BladeDifferenceUncertainty,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The standard uncertainties of a [`BladeDifference`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BladeDifferenceUncertainty {
    /// Of `mean_blade_angle_difference_deg`.
    pub mean_blade_angle_difference_deg: Option<f64>,
    /// Of `mean_chord_difference_m`.
    pub mean_chord_difference_m: Option<f64>,
    /// Of `track_m`.
    pub track_m: Option<f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl StationTable {
    /// The number of blades or scans whose mean the stations are; 1 for a lone blade.
    #[must_use]
    pub fn members(&self) -> usize {
        let scans = self.repeats.as_ref().map_or(0, |r| r.scans.len());
        self.blades.len().max(scans).max(1)
    }

    /// A notice if a propeller with `blades` blades is requested and the scanned propeller has another number.
    #[must_use]
    pub fn other_blades(&self, blades: u64) -> Option<TableNotice> {
        let scanned = self.blade.blades_in_scan.filter(|n| 1 < *n && *n != blades)?;
        Some(TableNotice::OtherBlades { scanned, requested: blades })
    }

    /// The values present in one column: `(radius_m, value)`, from the root to the tip.
    #[must_use]
    pub fn column(&self, column: StationColumn) -> Vec<(f64, f64)> {
        self.stations.iter().filter_map(|s| column.get(s).map(|value| (s.radius_m, value))).collect()
    }

    /// On what the sections are cut; planes if the table does not state it.
    #[must_use]
    pub fn sections(&self) -> SectionSurface {
        self.frame.as_ref().map_or_else(SectionSurface::default, |frame| frame.sections)
    }

    /// The hand; right if the table does not state it.
    #[must_use]
    pub fn hand(&self) -> Hand {
        self.frame.as_ref().map_or_else(Hand::default, |frame| frame.hand)
    }

    /// Whether the angles are relative: no setting was given.
    #[must_use]
    pub fn angles_are_relative(&self) -> bool {
        self.blade.setting.is_none()
    }
}

impl Default for BladeFigures {
    fn default() -> BladeFigures {
        BladeFigures {
            radius_m: 0.0,
            root_radius_m: None,
            blade_length_m: None,
            blades_in_scan: None,
            activity_factor: None,
            volume_m3: None,
            reference_radius_ratio: DEFAULT_REFERENCE_RADIUS_RATIO,
            setting: None,
            u: BladeUncertainty::default(),
            extra: Map::new(),
        }
    }
}

impl SettingOf {
    /// The word of the documents and of the command line: `chord` or `face`.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            SettingOf::Chord => "chord",
            SettingOf::Face => "face",
        }
    }

    /// Reads `chord` or `face`; `None` for any other word.
    #[must_use]
    pub fn parse(text: &str) -> Option<SettingOf> {
        match text.trim() {
            "chord" => Some(SettingOf::Chord),
            "face" => Some(SettingOf::Face),
            _ => None,
        }
    }

    /// The column that holds the angle of this line.
    #[must_use]
    pub const fn column(self) -> StationColumn {
        match self {
            SettingOf::Chord => StationColumn::BladeAngleDeg,
            SettingOf::Face => StationColumn::FaceAngleDeg,
        }
    }
}

impl Repairs {
    /// All counts with their keys: the five named fields, then the others.
    pub fn counts(&self) -> impl Iterator<Item = (&str, u64)> {
        let own = [
            ("duplicate_vertices", self.duplicate_vertices),
            ("degenerate_triangles", self.degenerate_triangles),
            ("stray_components", self.stray_components),
            ("flipped_triangles", self.flipped_triangles),
            ("non_finite_vertices", self.non_finite_vertices),
        ];
        let others = self.extra.iter().filter_map(|(key, value)| Some((key.as_str(), value.as_u64()?)));
        own.into_iter().chain(others)
    }

    /// Adds a count under a key other than the five.
    pub fn count(&mut self, key: &str, count: u64) {
        self.extra.insert(key.to_owned(), Value::from(count));
    }
}
