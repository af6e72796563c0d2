//! Why hub and blades do not fit each other: one sentence each.

use thiserror::Error;

use crate::fault::SurfaceFault;
use crate::propeller::SettingAngle;

/// What is wrong where blades and hub meet, or where an end of the blade is closed. Lengths in m.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum JointFault {
    /// A flat region cannot be divided into triangles.
    #[error("{region} cannot be {}: {fault}", if *region == FlatRegion::Hub { "joined" } else { "closed" })]
    Fill {
        /// The region.
        region: FlatRegion,
        /// What is wrong with its outline.
        fault: FillFault,
    },
    /// The hub would cover the first station.
    #[error(
        "a hub of {:.1} mm diameter would cover the first station at {:.1} mm; choose a hub diameter below {:.1} mm",
        1e3 * diameter_m,
        1e3 * first_m,
        2e3 * first_m
    )]
    CoversStation {
        /// Hub diameter requested.
        diameter_m: f64,
        /// Radius of the first station.
        first_m: f64,
    },
    /// There is no room for a hub.
    #[error(
        "no hub fits between the root end at {:.1} mm and the first station at {:.1} mm: one that holds the blades side by side has a diameter of {:.1} mm; {}",
        1e3 * root_m,
        1e3 * first_m,
        1e3 * needed_m,
        no_room_advice(*most_blades, *first_m)
    )]
    NoRoom {
        /// Radius of the root end.
        root_m: f64,
        /// Radius of the first station.
        first_m: f64,
        /// Diameter of the hub that the blades need.
        needed_m: f64,
        /// The most blades for which there is a hub; `None` if there is none for any number.
        most_blades: Option<u32>,
    },
    /// The root end is too wide for the hub.
    #[error(
        "the blade's root is {:.1} mm wide, too wide for a hub of {:.1} mm diameter; {}",
        1e3 * width_m,
        1e3 * diameter_m,
        least_text(*least_m)
    )]
    RootTooWide {
        /// Width of the root end.
        width_m: f64,
        /// Hub diameter.
        diameter_m: f64,
        /// Least hub diameter that holds the blades, rounded up to a tenth of a millimetre; `None` if none does that leaves the first station free.
        least_m: Option<f64>,
    },
    /// Blades are too wide to stand side by side around the hub.
    #[error(
        "{blades} blades collide at the hub: each is {:.1} mm wide around a hub of {:.1} mm diameter, which leaves {:.1} mm; {}",
        1e3 * width_m,
        1e3 * diameter_m,
        1e3 * room_m,
        side_by_side_advice(*least_m, *most_blades)
    )]
    BladesTooWide {
        /// Number of blades.
        blades: u32,
        /// Width of each along the circumference of the hub.
        width_m: f64,
        /// Hub diameter.
        diameter_m: f64,
        /// Circumference of the hub for each blade.
        room_m: f64,
        /// Diameter of a hub that holds them if they are no wider there; `None` if it would reach beyond the blade.
        least_m: Option<f64>,
        /// The most blades that this hub holds.
        most_blades: u32,
    },
    /// The blade emerges beyond an end of the hub.
    #[error(
        "the hub is too short by {:.1} mm: at this setting the blade emerges up to {:.1} mm from the hub's middle, too far for a length of {:.1} mm; give a hub length of at least {:.0} mm",
        1e3 * (least_m - length_m),
        1e3 * reach_m,
        1e3 * length_m,
        (1e3 * least_m).ceil()
    )]
    HubTooShort {
        /// Maximum distance from the middle of the hub at which the blade emerges, along the axis of rotation.
        reach_m: f64,
        /// Hub length.
        length_m: f64,
        /// Least hub length at this setting.
        least_m: f64,
    },
    /// The inner end of the blade is outside the hub.
    #[error(
        "the blade's inner end reaches out of the hub of {:.1} mm diameter; give a hub diameter above {:.0} mm",
        1e3 * diameter_m,
        (1e3 * above_m).ceil()
    )]
    RootOutside {
        /// Hub diameter.
        diameter_m: f64,
        /// Diameter of the cylinder that the inner end reaches.
        above_m: f64,
    },
    /// The blade lies within the hub.
    #[error(
        "the blade does not come out of the hub of {:.1} mm diameter; give a hub diameter below {:.0} mm",
        1e3 * diameter_m,
        (1e3 * below_m).floor()
    )]
    BladeInside {
        /// Hub diameter.
        diameter_m: f64,
        /// Diameter of the cylinder that the blade reaches there.
        below_m: f64,
    },
    /// Blades meet each other, or a blade meets the hub twice.
    #[error(
        "at {} the {blades} blades collide, or a blade meets the hub twice: the surface {}; choose another setting, hub or number of blades",
        setting_text(*setting),
        fault.to_string().trim_start_matches("it ")
    )]
    Collision {
        /// The setting; `None`: the table's angles.
        setting: Option<SettingAngle>,
        /// Number of blades.
        blades: u32,
        /// The result of the check.
        fault: SurfaceFault,
    },
    /// The blade emerges at the very edge of the hub.
    #[error(
        "at {} the blade comes out at the very edge of the hub of {:.1} mm diameter and {:.1} mm length ({fault}); give a hub length of {:.0} mm",
        setting_text(*setting),
        1e3 * diameter_m,
        1e3 * length_m,
        (1e3 * length_m).ceil() + MORE_LENGTH_MM
    )]
    HubEdge {
        /// The setting; `None`: the table's angles.
        setting: Option<SettingAngle>,
        /// Hub diameter.
        diameter_m: f64,
        /// Hub length.
        length_m: f64,
        /// The result of the check.
        fault: SurfaceFault,
    },
}

/// A flat region that is filled with triangles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FlatRegion {
    /// The flat at the tip.
    Tip,
    /// The root end.
    Root,
    /// The unrolled cylinder of the hub around one blade.
    Hub,
    /// An end of a hub with holes.
    HubEnd,
}

impl std::fmt::Display for FlatRegion {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Tip => "the tip",
            Self::Root => "the root end",
            Self::Hub => "hub and blades",
            Self::HubEnd => "an end of the hub",
        })
    }
}

/// Why a flat region cannot be divided into triangles.
#[derive(Debug, Error, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FillFault {
    /// A coordinate is not finite, or too small or too large for the triangulation.
    #[error("a coordinate is not finite, or its magnitude is out of range")]
    Coordinate,
    /// Two points are the same.
    #[error("two points of an outline coincide")]
    SamePoint,
    /// Two sides cross.
    #[error("an outline crosses itself or another")]
    Crossing,
}

/// What to do about a root that is too wide.
fn least_text(least_m: Option<f64>) -> String {
    least_m.map_or(
        "no hub that leaves the first station free holds so many blades: give fewer blades, or measure stations farther out only".to_owned(),
        |least_m| format!("choose a hub diameter of at least {:.1} mm", 1e3 * least_m),
    )
}

/// So much longer a hub no longer ends where the blade comes out, mm (chosen: far above the digits of a file, little on any hub).
const MORE_LENGTH_MM: f64 = 2.0;

fn no_room_advice(most_blades: Option<u32>, first_m: f64) -> String {
    match most_blades {
        Some(most) => format!("give {most} {} at most", if most == 1 { "blade" } else { "blades" }),
        None => format!("state a hub diameter below {:.0} mm", (2e3 * first_m).floor()),
    }
}

fn side_by_side_advice(least_m: Option<f64>, most_blades: u32) -> String {
    let fewer = format!("{most_blades} {} at most", if most_blades == 1 { "blade" } else { "blades" });
    match least_m {
        Some(least) => format!("give a hub diameter of {:.0} mm, or {fewer}", (1e3 * least).ceil()),
        None => format!("give {fewer}"),
    }
}

/// A setting in words.
pub(crate) fn setting_text(setting: Option<SettingAngle>) -> String {
    setting
        .map_or("the table's angles".to_owned(), |s| format!("{} deg at {} R", s.angle_deg, s.radius_ratio))
}
