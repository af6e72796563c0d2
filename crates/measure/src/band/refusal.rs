//! Why a station cannot be measured.

use bladeform_section::FitError;

/// One sentence each.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum Refusal {
    /// The plane misses the surface.
    #[error("no surface of the scan crosses the station's plane")]
    NoSurface,
    /// There is no provisional chord line.
    #[error("too few sections around the station have an outline")]
    FewSections,
    /// A nearly circular section is open over more than a third of its turn.
    #[error("the nearly circular section has points on less than two thirds of its turn")]
    OpenRound,
    /// Too many points lie off the fitted outline; `fraction` of them.
    #[error(
        "{:.0} % of the scan points near the station do not lie on one outline: the surface is there twice, or something has grown onto it",
        100.0 * fraction
    )]
    ManyStray {
        /// Points off the outline over all points near the station.
        fraction: f64,
    },
    /// The fitted chord and the width of the cut disagree.
    #[error(
        "the outline fitted to the points around the station is {:.0} % as long as the cut is wide: they do not belong to one section",
        100.0 * chord
    )]
    OtherChord {
        /// Fitted chord over the width of the cut.
        chord: f64,
    },
    /// The outline has figures that no section has.
    #[error(
        "the outline fitted to the points around the station has no area, no thickness, or is thicker than it is long: the surface there is torn or inside out"
    )]
    Impossible,
    /// The fit itself failed.
    #[error(transparent)]
    Fit(#[from] FitError),
}
