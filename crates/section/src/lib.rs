//! Closed outlines in the plane: published section families, the smooth fit of noisy points, the mean line, and the
//! figures of a section with their uncertainty.
//!
//! The crate does not deal with meshes, the third dimension, or files.
//! A section lies in a plane with `x` along the chord from the leading edge and `y` towards the back.
//! The main entry is [`fit_section`], from scan points to an outline with its uncertainty.
//!
//! - [`Family`] gives the exact outline of a published section: the reference for tests and for advice.
//! - [`mean_line`] finds the locus of the centres of inscribed circles of any closed polygon, directly from the definition.
//! - [`fit_section`] fits a [`Shape`] (mean line with the thickness at right angles to it) to points of a band of the blade.
//! - [`figures`] computes chord, angle, thickness, camber and the rest of a [`Shape`]. [`SectionFit::figures`] adds their uncertainty.
//!
//! ```
//! use bladeform_section::{Family, mean_line};
//! let section = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
//! let outline = section.outline(2000);
//! let line = mean_line(&outline, section.leading_index(2000)).unwrap();
//! assert!((line.thickness() - 0.12).abs() < 2e-4);
//! ```

mod basis;
mod blur;
mod edge_flow;
mod fairing;
mod family;
mod figures;
mod fit;
mod lanes;
mod leading_edge;
mod mean_line;
mod nearest;
mod outline_figures;
mod polygon;
mod prior;
mod radial;
mod shape;
mod shape_cubics;
mod simple;
mod turn;

pub use fairing::faired;
pub use family::Family;
pub use figures::{FIGURE_COUNT, Figure, Figures, figures, rival_of_longest_chord};
pub use fit::{
    BandPoint, Departure, EDGE_PARAMETERS, FitError, FitQuality, FitSettings, N_STRIPS, OUTLINE_PARAMETERS,
    PointEvidence, SectionFit, fit_section, outline_prior,
};
pub use mean_line::{InscribedCircle, MeanLine, MeanLineError, mean_line};
pub use nearest::{NearestMember, nearest_sections};
pub use outline_figures::outline_figures;
pub use polygon::{
    area, centroid, convex_hull, face_line_angle, longest_chord, perimeter, signed_distance, signed_distances,
};
pub use radial::{RadialFit, fit_radial};
pub use shape::Shape;
pub use simple::{CrossedOutline, SharpenedEdge, make_simple};
