//! Lift, drag and moment of a section from its outline.
//!
//! The crate does not depend on blades or files. It is two-dimensional except for the stall delay.
//!
//! - [`Panels`]: inviscid flow around a closed outline.
//! - [`PreparedSection`], [`viscous_point`]: with boundary layers, coupled with the outer flow by Newton's method.
//! - [`SectionTable`]: the polar over angle, Reynolds and Mach number for a blade element; it can be stored as bytes in a cache.
//! - [`GivenPolar`]: the same from a table of the user.
//! - [`stall_delayed`], [`added_drag`]: the effect of rotation near the hub.
//!
//! The main entry is [`SectionTable::compute`]; for one angle and Reynolds number it is [`viscous_point`].
//!
//! ```
//! use bladeform_polar::{Panels, ViscousSettings, viscous_point};
//! use bladeform_section::Family;
//!
//! let outline = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 }.outline(200);
//! let alpha_rad = 4.0_f64.to_radians();
//! let inviscid = Panels::new(&outline, 140)?.flow(alpha_rad);
//! let viscous = viscous_point(&outline, alpha_rad, 3e6, &ViscousSettings::rough())?;
//! // Boundary layers cost some lift.
//! assert!(viscous.converged && 0.8 * inviscid.lift < viscous.lift && viscous.lift < inviscid.lift);
//! assert!((0.005..0.02).contains(&viscous.drag));
//! # Ok::<(), bladeform_polar::PolarError>(())
//! ```

mod beyond_stall;
mod bluff;
mod closure;
mod compressibility;
mod contour;
mod coupled;
mod curve;
mod dual;
mod error;
mod forces;
mod given;
mod hash;
mod inviscid;
mod kernel;
mod layer;
mod march;
mod outer;
mod rotation;
mod spline;
mod store;
mod system;
mod table;
mod viscous;

pub use bluff::bar_drag;
pub use compressibility::{MACH_LIMIT, critical_mach};
pub use error::PolarError;
pub use forces::{PolarRegion, SectionForces, SectionPolar};
pub use given::GivenPolar;
pub use inviscid::{Panels, SurfaceFlow};
pub use rotation::{added_drag, delayed_lift, level, stall_delayed};
pub use table::{Convergence, SectionTable, TableSettings};
pub use viscous::{PreparedSection, REYNOLDS_RANGE, ViscousPoint, ViscousSettings, viscous_point};
