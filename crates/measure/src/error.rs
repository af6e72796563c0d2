//! Why a scan cannot be measured at all.

use bladeform_table::{Flag, with_details};

use crate::body::{Body, bodies_text};

/// One sentence each: what, and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// The file is not a mesh that can be read.
    #[error(transparent)]
    Read(#[from] bladeform_mesh::ReadError),
    /// Arrays in memory are not a mesh.
    #[error(transparent)]
    Arrays(#[from] bladeform_mesh::ArrayError),
    /// The observer ended the measurement.
    #[error(transparent)]
    Stopped(#[from] bladeform_numeric::observe::Stopped),
    /// Nothing is left after the repair.
    #[error(transparent)]
    NothingLeft(#[from] bladeform_mesh::NothingLeft),
    /// The shape is not a blade.
    #[error(
        "no blade was found in the scan: {reason}{}; give a mesh of one blade or of a whole propeller without its surroundings",
        left_out_text(*left_out)
    )]
    NoBlade {
        /// What contradicts a blade.
        reason: NoBladeReason,
        /// Smaller bodies of the scan that were left out.
        left_out: usize,
    },
    /// Several bodies of about one size, and only one can be the blade.
    #[error(
        "{}",
        with_details(
            &format!("the scan holds {} separate bodies of comparable size; cut them apart and measure each from its own file", .0.len()),
            &bodies_text(.0)
        )
    )]
    Bodies(Vec<Body>),
    /// Known lengths contradict one another.
    #[error("the known lengths contradict one another: {0}")]
    Lengths(LengthFault),
    /// The diameter alone does not give the scale of a lone blade.
    #[error(
        "the diameter of {diameter_m:.4} m alone does not give the scale of a lone blade, whose root end is not on the axis of rotation; give the root radius (from the axis to the root end) or the overall length of the blade too"
    )]
    RootRadiusNeeded {
        /// Diameter of the propeller.
        diameter_m: f64,
    },
    /// A station is outside the blade.
    #[error(
        "station {radius_m:.4} m is outside the blade, which extends from {root_m:.4} m to {tip_m:.4} m; choose stations between them"
    )]
    StationOutside {
        /// The requested radius.
        radius_m: f64,
        /// Root end.
        root_m: f64,
        /// Tip.
        tip_m: f64,
    },
    /// Sections on cylinders of a lone blade.
    #[error(
        "sections on cylinders need the axis of rotation, which a lone blade does not show; measure the whole propeller, or cut the sections by planes"
    )]
    CylindersNeedAxis,
    /// Every station failed.
    #[error("none of the {count} stations could be measured{}", first_text(first.as_ref()))]
    NoStation {
        /// How many were tried.
        count: usize,
        /// The reason at the first.
        first: Option<Flag>,
    },
}

/// What contradicts a blade. The text continues a sentence.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoBladeReason {
    /// Most sections are nearly as thick as they are wide.
    #[error("{thick} of {all} sections across its span are nearly as thick as they are wide")]
    Thick {
        /// Thick sections.
        thick: usize,
        /// All sections.
        all: usize,
    },
    /// Most planes across the longest axis do not give an outline.
    #[error("only {found} of {all} sections across its longest axis have an outline")]
    FewOutlines {
        /// Sections with an outline.
        found: usize,
        /// All sections.
        all: usize,
    },
    /// The figures of the stations are not those of a blade.
    #[error("its figures are not those of a blade: {}", doubts_text(doubts))]
    Unlike {
        /// The reasons.
        doubts: Vec<Doubt>,
    },
    /// Too few sections of the outer half have an outline.
    #[error("too few sections for a line of centroids")]
    FewCentroids,
}

/// A reason why a table is hardly that of a blade.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Doubt {
    /// A chord is longer than the tip radius.
    #[error("a chord is {chord_per_radius:.1} times as long as the tip radius")]
    Wide {
        /// Greatest chord over tip radius.
        chord_per_radius: f64,
    },
    /// The activity factor is beyond that of any blade.
    #[error("the activity factor of one blade is {factor:.0}, and the widest blades have some 700")]
    Active {
        /// The activity factor.
        factor: f64,
    },
    /// The blade angle jumps.
    #[error(
        "the blade angle changes by {jump_deg:.0} deg between neighbouring stations at {radius_ratio:.2} R"
    )]
    Jump {
        /// The change, deg.
        jump_deg: f64,
        /// The outer of the two stations, tip radii.
        radius_ratio: f64,
    },
    /// Most sections are thick.
    #[error("{:.0} % of the stations are more than half as thick as they are long", 100.0 * part)]
    Thick {
        /// Their part of all stations.
        part: f64,
    },
    /// Most stations could not be measured.
    #[error("{:.0} % of the stations could not be measured", 100.0 * part)]
    Refused {
        /// Their part of all stations.
        part: f64,
    },
    /// Nothing shows a blade's form.
    #[error(
        "there is no round hub or bore, the tips are square or open, and the sections show neither leading edge nor back"
    )]
    NoFeature,
}

/// The reasons in one text.
pub(crate) fn doubts_text(doubts: &[Doubt]) -> String {
    doubts.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// How the lengths that the user gave contradict one another. Lengths in m.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LengthFault {
    /// The blade is longer than the radius of the propeller.
    #[error("a blade of {length_m:.4} m is longer than half the diameter of {diameter_m:.4} m")]
    LongerThanRadius {
        /// Overall length of the blade.
        length_m: f64,
        /// Diameter of the propeller.
        diameter_m: f64,
    },
    /// Length and diameter leave another root radius than the given one.
    #[error("length and diameter leave {left_m:.4} m for the root radius, but {given_m:.4} m was given")]
    OtherRootRadius {
        /// Half the diameter less the length.
        left_m: f64,
        /// Root radius given.
        given_m: f64,
    },
    /// A known distance is none.
    #[error(
        "distance {number} is none: its two points are one, or a figure is not a positive number; give two different points and a length"
    )]
    NoDistance {
        /// Its place among the distances, counted from 1.
        number: usize,
    },
    /// The root radius leaves no blade.
    #[error("the root radius is not smaller than half the diameter")]
    RootBeyondTip,
    /// The length of a blade does not give the scale of a whole propeller.
    #[error(
        "the scan shows a propeller of {blades} blades, whose size is set by its diameter; give the diameter"
    )]
    DiameterNeeded {
        /// Blades of the propeller in the scan.
        blades: usize,
    },
}

/// The largest body may not have been the one that was meant.
fn left_out_text(left_out: usize) -> String {
    match left_out {
        0 => String::new(),
        1 => "; this is the largest body of the scan, and one smaller body was left out: cut the blade out of the scan".to_owned(),
        more => format!(
            "; this is the largest body of the scan, and {more} smaller bodies were left out: cut the blade out of the scan"
        ),
    }
}

fn first_text(first: Option<&Flag>) -> String {
    first.map_or(String::new(), |flag| format!("; reason at the first: {flag}"))
}

impl MeasureError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Read(error) => error.code(),
            Self::Arrays(error) => error.code(),
            Self::Stopped(_) => "stopped",
            Self::NothingLeft(_) => "nothing-left",
            Self::NoBlade { .. } => "no-blade",
            Self::Bodies(_) => "several-bodies",
            Self::Lengths(_) => "lengths-contradict",
            Self::RootRadiusNeeded { .. } => "root-radius-needed",
            Self::StationOutside { .. } => "station-outside",
            Self::CylindersNeedAxis => "cylinders-need-axis",
            Self::NoStation { .. } => "no-station",
        }
    }
}
