//! Why a specification does not fit the table or the scan: one sentence each.

use bladeform_mesh::{NothingLeft, ReadError};
use bladeform_table::SettingOf;
use thiserror::Error;

/// What is wrong with a specification. Lengths in m.
#[derive(Debug, Error, Clone, PartialEq)]
#[non_exhaustive]
pub enum PlanFault {
    /// The number of blades is out of range.
    #[error("{blades} blades cannot be made; give 1 to {most}")]
    Blades {
        /// Blades requested.
        blades: u32,
        /// Maximum number of blades.
        most: u32,
    },
    /// What was asked for moves the sections of a screw off their cylinders.
    #[error(
        "the sections of the table lie on cylinders about the axis of rotation, and {0} would move them off; leave it out, or measure the scan again with plane sections"
    )]
    SectionsOnCylinders(MovesSections),
    /// A length is zero, negative or not finite.
    #[error("the {0} must be greater than zero")]
    NotPositive(PlanLength),
    /// The length of the nose is negative or not finite.
    #[error("the nose length must not be negative")]
    NegativeNose,
    /// The chord error is out of range.
    #[error(
        "a tolerance of {:.4} mm cannot be kept; give {} mm to {} mm",
        1e3 * tolerance_m,
        1e3 * allowed_m[0],
        1e3 * allowed_m[1]
    )]
    Tolerance {
        /// Chord error requested.
        tolerance_m: f64,
        /// Minimum and maximum.
        allowed_m: [f64; 2],
    },
    /// The chord error is too small for a blade of this size.
    #[error(
        "at {:.4} mm tolerance the blade of {:.3} m radius needs some {} million triangles, more than {} million; give a greater tolerance, and check that the table's lengths are metres",
        1e3 * tolerance_m,
        radius_m,
        triangles / 1_000_000,
        most / 1_000_000
    )]
    TooManyTriangles {
        /// Chord error requested.
        tolerance_m: f64,
        /// Tip radius.
        radius_m: f64,
        /// Expected number of triangles.
        triangles: usize,
        /// Maximum number of triangles.
        most: usize,
    },
    /// The diameter would move the inner end of the blade across the axis of rotation.
    #[error(
        "a diameter of {:.1} mm would move the blade's inner end, at {:.1} mm, across the axis of rotation; give a diameter greater than {:.1} mm",
        1e3 * diameter_m,
        1e3 * innermost_m,
        1e3 * least_m
    )]
    AcrossAxis {
        /// Diameter requested.
        diameter_m: f64,
        /// Radius of the inner end in the table.
        innermost_m: f64,
        /// The diameter must be greater than this.
        least_m: f64,
    },
    /// Blades around a hub need an absolute angle, and the table has none.
    #[error(
        "the table's angles are relative, so blades around a hub need an absolute angle; give a setting, for example 20 deg at 0.75 R"
    )]
    RelativeAngles,
    /// The table does not have the angle to which the setting refers.
    #[error(
        "the table has no {} at two stations, so a setting of the {} has no meaning; refer the setting to the {}",
        .0.column().key(),
        .0.as_str(),
        other_line(.0).as_str()
    )]
    NoSettingAngle(SettingOf),
    /// The scan cannot be compared with the blade.
    #[error("the scan cannot be compared: {0}")]
    Scan(#[from] ScanFault),
}

/// The line to which a setting can refer instead.
const fn other_line(line: &SettingOf) -> SettingOf {
    match line {
        SettingOf::Face => SettingOf::Chord,
        SettingOf::Chord => SettingOf::Face,
    }
}

/// What moves sections off the cylinders on which they were measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum MovesSections {
    /// A setting: the blade turned about its own axis.
    Setting,
    /// Another diameter: the blade moved along its own axis.
    Diameter,
    /// A round shank, which is round across the span and not on a cylinder.
    Shank,
}

impl std::fmt::Display for MovesSections {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Setting => "a setting of the blades",
            Self::Diameter => "another diameter",
            Self::Shank => "a round shank",
        })
    }
}

/// A length of a specification.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum PlanLength {
    /// Diameter of the propeller.
    Diameter,
    /// Diameter of the hub.
    HubDiameter,
    /// Length of the hub.
    HubLength,
    /// Diameter of the shank.
    ShankDiameter,
}

impl std::fmt::Display for PlanLength {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Diameter => "diameter",
            Self::HubDiameter => "hub diameter",
            Self::HubLength => "hub length",
            Self::ShankDiameter => "shank diameter",
        })
    }
}

/// Why a scan cannot be compared with the smooth blade of its table.
#[derive(Debug, Error, Clone, PartialEq)]
#[non_exhaustive]
pub enum ScanFault {
    /// The table does not state the position of the scan.
    #[error("the table has no frame.scan_to_blade, so it is not known where the scan lies")]
    NoFrame,
    /// The bytes are not a mesh.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// Nothing of the mesh is left after the repair.
    #[error(transparent)]
    NothingLeft(#[from] NothingLeft),
    /// No point of the scan lies between the first and the last station.
    #[error("none of its points lies between the stations; is it the scan of this table?")]
    NoPoint,
}
