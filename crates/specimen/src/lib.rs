//! Invented blades as exact functions of the radius, and seeded scans of them with what photogrammetry does to a part: the truth that
//! measuring is tested against. Knows nothing of how a scan is measured. The main entries are [`Blade`] and [`scan_of_blade`].
//!
//! ```
//! use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//! let blade = Blade::quarry_mill();
//! let scan = scan_of_blade(&blade, &ScanPlan { triangles: 20_000, ..ScanPlan::clean(7) });
//! assert!(15_000 < scan.mesh.faces.len());
//! assert!((blade.truth(0.75).chord_m - blade.chord_m(0.75 * blade.radius_m)).abs() < 1e-3);
//! ```
//!
//! [`DrawnBlade`] is a blade of free sections and plan form; [`photographed_blade`] and [`photographed_propeller`] make scans of any
//! [`Lofted`] blade with a limited resolution, noise of a stated correlation, two sides that do not quite fit, and deformation:
//!
//! ```
//! use bladeform_specimen::{Axis, DrawnBlade, Edge, Photogrammetry, Sections, photographed_blade};
//! let sections = Sections::Free { nose: Edge::Blunt, tail: Edge::Square };
//! let blade = DrawnBlade::drawn(7, sections, Axis::Shank, 0.5);
//! let scan = photographed_blade(&blade, &Photogrammetry { triangles: 60_000, ..Photogrammetry::drawn(1) });
//! assert!(50_000 < scan.mesh.faces.len());
//! assert!(0.0 < blade.truth(0.75).chord_m);
//! ```

mod blade;
mod damage;
mod drawn;
mod photogrammetry;
mod pose;
mod random;
mod scan;
mod series;
mod shaped;
mod surface;
mod truth;

pub use blade::{Blade, SectionKind};
pub use damage::{Damage, in_pose};
pub use drawn::{Axis, DrawnBlade, DrawnSection, Edge, Sections};
pub use photogrammetry::{
    Correlation, Deformation, Hub, Kernel, KernelKind, Lofted, Noise, Photogrammetry, Triangulation,
    photographed_blade, photographed_propeller,
};
pub use pose::Pose;
pub use random::Random;
pub use scan::{
    MadeScan, ScanPlan, scan_of_blade, scan_of_lofted, scan_of_propeller, scan_of_rows, scan_of_screw,
    scan_of_series,
};
pub use series::SeriesScrew;
pub use shaped::{BentBlade, Foot, FootedBlade, Form, ShapedBlade, TurnedBlade};
pub use surface::SpecimenPropeller;
pub use truth::Truth;
