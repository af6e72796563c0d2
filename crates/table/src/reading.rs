//! Readings by hand, with calipers, protractor and tape, beside what the scan shows at the same places.

use serde_json::{Map, Value};

use crate::{Shown, StationColumn};

/// What was read by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ReadingOf {
    /// Thickness of a section.
    Thickness,
    /// Its chord.
    Chord,
    /// Its longest chord, which is what calipers over both edges read.
    LongestChord,
    /// Its face angle, which is what a protractor on a flat face reads.
    FaceAngle,
    /// Its blade angle.
    BladeAngle,
    /// The length along the span between two stations.
    Length,
}

/// Calipers are read to a tenth of a millimetre (common practice, no source).
const CALIPERS_M: f64 = 1e-4;
/// A protractor is read to a quarter of a degree (common practice, no source).
const PROTRACTOR_DEG: f64 = 0.25;
/// A tape is read to half a millimetre (common practice, no source).
const TAPE_M: f64 = 5e-4;

impl ReadingOf {
    /// All, in the order of the documentation.
    pub const ALL: [Self; 6] =
        [Self::Thickness, Self::Chord, Self::LongestChord, Self::FaceAngle, Self::BladeAngle, Self::Length];

    /// The word of the documents and of the command line.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Thickness => "thickness",
            Self::Chord => "chord",
            Self::LongestChord => "longest-chord",
            Self::FaceAngle => "face-angle",
            Self::BladeAngle => "blade-angle",
            Self::Length => "length",
        }
    }

    /// Reads one of the words; `None` for any other.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|of| of.as_str() == text.trim())
    }

    /// All the words in a sentence.
    #[must_use]
    pub fn words() -> String {
        Self::ALL.map(Self::as_str).join(", ")
    }

    /// Several of them in a sentence.
    #[must_use]
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Thickness => "thicknesses",
            Self::Chord => "chords",
            Self::LongestChord => "longest chords",
            Self::FaceAngle => "face angles",
            Self::BladeAngle => "blade angles",
            Self::Length => "lengths along the span",
        }
    }

    /// The column of the table with the same figure; `None` for the length between two stations.
    #[must_use]
    pub const fn column(self) -> Option<StationColumn> {
        match self {
            Self::Thickness => Some(StationColumn::ThicknessM),
            Self::Chord => Some(StationColumn::ChordM),
            Self::LongestChord => Some(StationColumn::LongestChordM),
            Self::FaceAngle => Some(StationColumn::FaceAngleDeg),
            Self::BladeAngle => Some(StationColumn::BladeAngleDeg),
            Self::Length => None,
        }
    }

    /// Whether it is an angle, deg; else a length, m.
    #[must_use]
    pub const fn is_angle(self) -> bool {
        matches!(self, Self::FaceAngle | Self::BladeAngle)
    }

    /// Whether an offset of the surface changes it by the offset of both sides.
    #[must_use]
    pub const fn is_across(self) -> bool {
        matches!(self, Self::Thickness | Self::Chord | Self::LongestChord)
    }

    /// Whether missing edges shorten it.
    #[must_use]
    pub const fn is_chord(self) -> bool {
        matches!(self, Self::Chord | Self::LongestChord)
    }

    /// The unit at the end of its keys.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        if self.is_angle() { "deg" } else { "m" }
    }

    /// How it is displayed: name, unit, factor and decimals.
    #[must_use]
    pub const fn shown(self) -> Shown {
        match self {
            Self::Thickness => Shown::new("thickness", "mm", 1e3, 2),
            Self::Chord => Shown::new("chord", "mm", 1e3, 2),
            Self::LongestChord => Shown::new("longest chord", "mm", 1e3, 2),
            Self::FaceAngle => Shown::new("face angle", "deg", 1.0, 2),
            Self::BladeAngle => Shown::new("blade angle", "deg", 1.0, 2),
            Self::Length => Shown::new("length", "mm", 1e3, 2),
        }
    }

    /// The resolution of the usual tool, in m or deg: the standard uncertainty of a reading that states none.
    #[must_use]
    pub const fn tool_resolution(self) -> f64 {
        match self {
            Self::FaceAngle | Self::BladeAngle => PROTRACTOR_DEG,
            Self::Length => TAPE_M,
            Self::Thickness | Self::Chord | Self::LongestChord => CALIPERS_M,
        }
    }
}

/// One reading and what the scan shows at the same place. Values are in m, or in deg for angles.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// What was read.
    pub of: ReadingOf,
    /// The station, m; for a length the inner of its two.
    pub radius_m: f64,
    /// The outer station of a length, m; `None` for the others.
    pub to_radius_m: Option<f64>,
    /// The reading.
    pub reading: f64,
    /// Its standard uncertainty.
    pub u_reading: f64,
    /// Whether that is the resolution of the usual tool, since none was given.
    pub u_is_assumed: bool,
    /// The same figure by the scan; `None` where the section could not be measured.
    pub scan: Option<f64>,
    /// Its standard uncertainty.
    pub u_scan: Option<f64>,
    /// Reading less scan. Where angles are relative, or no length is known, less what the readings themselves set: see [`Readings`].
    pub difference: Option<f64>,
    /// Its combined standard uncertainty.
    pub u_difference: Option<f64>,
    /// The difference over its combined standard uncertainty.
    pub difference_over_u: Option<f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl Reading {
    /// A reading that is not yet compared. `u`: its standard uncertainty; `None` takes the resolution of the usual tool.
    #[must_use]
    pub fn new(of: ReadingOf, reading: f64, u: Option<f64>, radius_m: f64) -> Self {
        Self {
            of,
            radius_m,
            to_radius_m: None,
            reading,
            u_reading: u.unwrap_or(of.tool_resolution()),
            u_is_assumed: u.is_none(),
            scan: None,
            u_scan: None,
            difference: None,
            u_difference: None,
            difference_over_u: None,
            extra: Map::new(),
        }
    }
}

/// A systematic part by which readings and scan may differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SystematicPart {
    /// The edges are missing from the scan: chords alone are short.
    Edges,
    /// The scan's surface lies inside, or outside, of the part's: thickness and chord are off by the same amount.
    Offset,
    /// The scale: all lengths are off by the same fraction.
    Scale,
    /// The setting: all angles are off by the same amount.
    Turn,
}

impl SystematicPart {
    /// All. Of two that explain equally much the first is taken: chords alone do not tell missing edges from an offset, and edges are missing more often.
    pub const ALL: [Self; 4] = [Self::Edges, Self::Offset, Self::Scale, Self::Turn];

    /// The word of the documents.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Edges => "edges",
            Self::Offset => "offset",
            Self::Scale => "scale",
            Self::Turn => "turn",
        }
    }

    /// Reads one of the words; `None` for any other.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|part| part.as_str() == text)
    }

    /// The unit at the end of its keys.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Edges | Self::Offset => "m",
            Self::Scale => "ratio",
            Self::Turn => "deg",
        }
    }

    /// Its name in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Edges => "missing edges",
            Self::Offset => "an offset of the surface",
            Self::Scale => "an error of the scale",
            Self::Turn => "an error of the setting",
        }
    }

    /// How it is displayed: name, unit, factor and decimals.
    #[must_use]
    pub const fn shown(self) -> Shown {
        match self {
            Self::Edges => Shown::new("edges", "mm", 1e3, 2),
            Self::Offset => Shown::new("offset", "mm", 1e3, 2),
            Self::Scale => Shown::new("scale", "%", 1e2, 2),
            Self::Turn => Shown::new("turn", "deg", 1.0, 2),
        }
    }
}

/// What one systematic part would explain, by least squares.
#[derive(Clone, Debug, PartialEq)]
pub struct Reconciliation {
    /// The part.
    pub part: SystematicPart,
    /// How much is to be added to the scan: the length of both missing edges together, m; the offset of each side outwards, m; the fraction of every length;
    /// the angle, deg.
    pub amount: f64,
    /// Its standard uncertainty.
    pub u_amount: f64,
    /// Chi-square of what is left, with one degree of freedom less.
    pub chi_square_left: f64,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// All readings by hand, and whether they and the scan agree.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// The readings in the order given.
    pub rows: Vec<Reading>,
    /// Sum of squares of the differences, weighted by their covariance; `None` where nothing can be compared.
    pub chi_square: Option<f64>,
    /// Readings less the quantities that they set.
    pub degrees_of_freedom: u64,
    /// Whether they contradict the scan.
    pub contradict: bool,
    /// What would be added to relative angles by the readings of angles, deg; `None` where angles are absolute.
    pub angle_shift_deg: Option<f64>,
    /// Its standard uncertainty, deg.
    pub u_angle_shift_deg: Option<f64>,
    /// The fraction by which lengths would grow: by the weighted mean of the known length and the readings of length, or, where no length is known, by all
    /// readings of lengths. It is not applied.
    pub length_correction_ratio: Option<f64>,
    /// Its standard uncertainty.
    pub u_length_correction_ratio: Option<f64>,
    /// What each systematic part would explain, the most first. Empty where the readings agree.
    pub parts: Vec<Reconciliation>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl Readings {
    /// What must be said beside the table of readings, as sentences.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(chi_square) = self.chi_square {
            let verdict = if self.contradict { "contradict" } else { "agree with" };
            said.push(format!(
                "Together the readings {verdict} the scan: chi-square {chi_square:.2}, {}.",
                freedom(self.degrees_of_freedom)
            ));
        }
        let assumed = self.rows.iter().filter(|r| r.u_is_assumed).count();
        if 0 < assumed {
            said.push(format!(
                "{assumed} of {} readings came without an uncertainty: the resolution of the usual tool stands for it (calipers {:.1} mm, protractor {PROTRACTOR_DEG} deg, tape {:.1} mm).",
                self.rows.len(),
                1e3 * CALIPERS_M,
                1e3 * TAPE_M
            ));
        }
        if let Some((shift, u)) = self.angle_shift_deg.zip(self.u_angle_shift_deg) {
            let angles = self.rows.iter().filter(|r| r.of.is_angle() && r.scan.is_some()).count();
            let only = if angles == 1 {
                "One angle by hand checks nothing, but fixes the setting"
            } else {
                "The angles by hand fix the setting, and only their differences are compared"
            };
            said.push(format!(
                "The angles of the table are relative. {only}: add {shift:.2} ± {:.2} deg to each.",
                2.0 * u
            ));
        }
        if let Some((fraction, u)) = self.length_correction_ratio.zip(self.u_length_correction_ratio) {
            said.push(format!(
                "The known lengths together, weighted by their uncertainties, make the lengths of the table {:.3} ± {:.3} % {}. The table keeps the scale that it states.",
                100.0 * fraction.abs(),
                200.0 * u,
                if fraction < 0.0 { "smaller" } else { "greater" }
            ));
        }
        said
    }
}

/// Degrees of freedom in words.
pub(crate) fn freedom(n: u64) -> String {
    if n == 1 { "1 degree of freedom".to_owned() } else { format!("{n} degrees of freedom") }
}
