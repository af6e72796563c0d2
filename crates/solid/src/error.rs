//! Why no solid can be made: one code and one sentence each.

use thiserror::Error;

use crate::fault::SurfaceFault;
use crate::holes::HoleFault;
use crate::joint_fault::{JointFault, setting_text};
use crate::plan_fault::PlanFault;
use crate::propeller::SettingAngle;
use crate::station_fault::StationFault;

/// Why no solid was made. Lengths in m.
#[derive(Debug, Error, Clone, PartialEq)]
#[non_exhaustive]
pub enum SolidError {
    /// Too few sections.
    #[error(
        "the table has {}, and a blade surface needs at least {needed}; measure or write more stations",
        stations_text(*count)
    )]
    TooFewStations {
        /// Usable stations.
        count: usize,
        /// How many are needed.
        needed: usize,
    },
    /// A station cannot be used.
    #[error("the station at {:.1} mm: {fault}", 1e3 * radius_m)]
    Station {
        /// Radius in the table.
        radius_m: f64,
        /// What is wrong and what to do.
        fault: StationFault,
    },
    /// The request does not fit the table.
    #[error(transparent)]
    Plan(#[from] PlanFault),
    /// Hub and blades do not fit each other.
    #[error(transparent)]
    Joint(#[from] JointFault),
    /// Bore and bolt holes do not fit the hub.
    #[error(transparent)]
    Holes(#[from] HoleFault),
    /// The surface does not bound a solid. Nothing is written.
    #[error(
        "the surface made at {} is not that of a solid: {fault}; nothing was written. Try other hub dimensions or settings, or fewer stations (above all the first ones near the shank)",
        setting_text(*setting)
    )]
    NotSolid {
        /// The setting; `None`: the table's angles.
        setting: Option<SettingAngle>,
        /// The result of the check.
        fault: SurfaceFault,
    },
    /// The root is not in the table.
    #[error(
        "the surface would hold {:.0} cm3 where the scan holds {:.0} cm3: the table has no section between the root at {:.1} mm and its first station at {:.1} mm, and to carry that station straight on to the root is far from what was scanned. Measure stations farther in, or state a round shank",
        CM3_PER_M3 * surface_m3,
        CM3_PER_M3 * scan_m3,
        1e3 * root_m,
        1e3 * first_m
    )]
    RootUnknown {
        /// Volume of the surface, m3.
        surface_m3: f64,
        /// Volume of the scanned blade, m3.
        scan_m3: f64,
        /// Radius of the first station.
        first_m: f64,
        /// Radius of the root.
        root_m: f64,
    },
    /// The observer ended the call.
    #[error(transparent)]
    Stopped(#[from] bladeform_numeric::observe::Stopped),
    /// A value is not finite.
    #[error("the surface has no finite coordinates at {:.1} mm; check the stations around it", 1e3 * radius_m)]
    NotFinite {
        /// Radius.
        radius_m: f64,
    },
}

impl SolidError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TooFewStations { .. } => "too-few-stations",
            Self::Station { .. } => "station-unusable",
            Self::Plan(_) => "plan-contradicts-table",
            Self::Joint(_) => "hub-contradicts-blades",
            Self::Holes(_) => "holes-contradict-hub",
            Self::NotSolid { .. } => "not-a-solid",
            Self::RootUnknown { .. } => "root-unknown",
            Self::Stopped(_) => "stopped",
            Self::NotFinite { .. } => "not-finite",
        }
    }
}

const CM3_PER_M3: f64 = 1e6;

fn stations_text(count: usize) -> String {
    match count {
        0 => "no station with a section".to_owned(),
        1 => "one station with a section".to_owned(),
        more => format!("{more} stations with a section"),
    }
}
