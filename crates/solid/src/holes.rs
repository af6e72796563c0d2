//! Holes straight through a hub along the axis of rotation: the bore, and equal holes for bolts on a circle.

use std::f64::consts::{PI, TAU};

use bladeform_table::BoltFigures;
use thiserror::Error;

use crate::hub::Hub;

/// Equal holes for bolts, evenly spaced on a circle about the axis of rotation, straight through the hub.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoltCircle {
    /// Number of holes.
    pub count: u32,
    /// Diameter of each hole, m.
    pub hole_diameter_m: f64,
    /// Diameter of the circle on which their centres lie, m.
    pub circle_diameter_m: f64,
    /// Angle of the first hole from the axis of the first blade, deg, in the direction of rotation; `None`: not stated, the hole is put on that axis.
    pub first_deg: Option<f64>,
}

/// Which bolt holes a hub gets.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Bolts {
    /// Those of the table, if it states any and the hub has room for them.
    #[default]
    AsMeasured,
    /// None.
    None,
    /// These.
    Given(BoltCircle),
}

/// Fewest and most bolt holes: one is no circle, and more are a mistake of typing (chosen).
pub const BOLT_HOLES: [u32; 2] = [2, 36];

impl BoltCircle {
    /// Those of a table; `None` if it states sizes that no hub has.
    pub(crate) fn measured(bolts: &BoltFigures) -> Option<Self> {
        Some(Self {
            count: u32::try_from(bolts.count).ok()?,
            hole_diameter_m: bolts.hole_diameter_m.value,
            circle_diameter_m: bolts.circle_diameter_m.value,
            first_deg: Some(bolts.first_deg.value),
        })
    }

    /// The same on the mirrored propeller.
    pub(crate) fn mirrored(self) -> Self {
        Self { first_deg: self.first_deg.map(|a| -a), ..self }
    }
}

/// A hole along the axis of rotation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hole {
    /// Centre, `x` and `z`, m.
    pub(crate) centre_m: [f64; 2],
    /// Radius, m.
    pub(crate) radius_m: f64,
}

impl Hole {
    /// A point of its wall at an angle from `z` towards `x`, rad, at a height, m.
    pub(crate) fn at(&self, angle: f64, y: f64) -> [f64; 3] {
        let [x, z] = self.centre_m;
        [x + self.radius_m * angle.sin(), y, z + self.radius_m * angle.cos()]
    }
}

/// Why the holes do not fit the hub. Lengths in m.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum HoleFault {
    /// There is no hub to drill.
    #[error(
        "a bore or bolt holes need a hub, and a lone blade has none; give a hub diameter, or more than one blade"
    )]
    NoHub,
    /// A size is not a number of the right sign, or there are too few or too many holes.
    #[error("bolt holes need {} to {} holes with a diameter and a circle greater than zero, and a bore must not be negative", BOLT_HOLES[0], BOLT_HOLES[1])]
    Size,
    /// The bore leaves no wall.
    #[error(
        "{} {:.1} mm is too wide for a hub of {:.1} mm diameter; give a bore of at most {:.1} mm, or a larger hub",
        if *measured { "the bore of the table," } else { "a bore of" },
        1e3 * bore_m,
        1e3 * hub_m,
        tenths_down(*most_m)
    )]
    BoreTooWide {
        /// Diameter of the bore.
        bore_m: f64,
        /// Whether it is that of the table.
        measured: bool,
        /// Diameter of the hub.
        hub_m: f64,
        /// Greatest bore.
        most_m: f64,
    },
    /// Bolt holes would end in a rounded nose.
    #[error(
        "bolt holes go from one flat end of the hub to the other, and this hub has a nose of {:.1} mm; give a nose length of 0 mm",
        1e3 * nose_m
    )]
    InNose {
        /// Length of the nose.
        nose_m: f64,
    },
    /// Bolt holes meet the wall of the hub.
    #[error(
        "bolt holes of {:.1} mm on a circle of {:.1} mm break through the wall of the hub of {:.1} mm diameter; {}",
        1e3 * hole_m,
        1e3 * circle_m,
        1e3 * hub_m,
        circle_text("at most", tenths_down(*most_m))
    )]
    MeetRim {
        /// Diameter of a hole.
        hole_m: f64,
        /// Diameter of their circle.
        circle_m: f64,
        /// Diameter of the hub.
        hub_m: f64,
        /// Greatest circle; not above zero if there is none.
        most_m: f64,
    },
    /// Bolt holes meet the bore.
    #[error(
        "bolt holes of {:.1} mm on a circle of {:.1} mm break into the bore of {:.1} mm; {}",
        1e3 * hole_m,
        1e3 * circle_m,
        1e3 * bore_m,
        circle_text("at least", tenths_up(*least_m))
    )]
    MeetBore {
        /// Diameter of a hole.
        hole_m: f64,
        /// Diameter of their circle.
        circle_m: f64,
        /// Diameter of the bore.
        bore_m: f64,
        /// Least circle.
        least_m: f64,
    },
    /// Bolt holes meet one another.
    #[error(
        "{count} bolt holes of {:.1} mm on a circle of {:.1} mm meet one another; {}",
        1e3 * hole_m,
        1e3 * circle_m,
        circle_text("at least", tenths_up(*least_m))
    )]
    MeetOneAnother {
        /// Number of holes.
        count: u32,
        /// Diameter of a hole.
        hole_m: f64,
        /// Diameter of their circle.
        circle_m: f64,
        /// Least circle.
        least_m: f64,
    },
}

/// A length rounded down to a tenth of a millimetre, mm, so that what a sentence names fits.
fn tenths_down(m: f64) -> f64 {
    0.1 * (1e4 * m + 1e-6).floor()
}

fn tenths_up(m: f64) -> f64 {
    0.1 * (1e4 * m - 1e-6).ceil()
}

fn circle_text(which: &str, mm: f64) -> String {
    if mm <= 0.0 {
        return "give smaller holes".to_owned();
    }
    format!("give a circle of {which} {mm:.1} mm, or smaller holes")
}

/// Least wall beside a hole as a fraction of the hub's diameter (chosen: a thinner one is a mistake of typing).
const LEAST_WALL: f64 = 0.01;
/// And in tolerances of the facets, so that the triangles of two walls keep apart.
const WALL_TOLERANCES: f64 = 4.0;

impl Hub {
    /// The holes: the bore first.
    pub(crate) fn holes(&self) -> Vec<Hole> {
        let bore = Hole { centre_m: [0.0; 2], radius_m: self.bore_radius_m };
        let mut holes = Vec::new();
        if 0.0 < self.bore_radius_m {
            holes.push(bore);
        }
        if let Some(bolts) = self.bolts {
            let first = bolts.first_deg.unwrap_or(0.0).to_radians();
            holes.extend((0..bolts.count).map(|k| {
                let a = first + TAU * f64::from(k) / f64::from(bolts.count);
                let centre_m = [a.sin(), a.cos()].map(|c| 0.5 * bolts.circle_diameter_m * c);
                Hole { centre_m, radius_m: 0.5 * bolts.hole_diameter_m }
            }));
        }
        holes
    }

    /// Refuses holes that do not leave walls between them and around them. `measured`: whether the bore is that of the table.
    pub(crate) fn check_holes(&self, measured: bool, tolerance_m: f64) -> Result<(), HoleFault> {
        let hub_m = 2.0 * self.radius_m;
        let wall = (LEAST_WALL * hub_m).max(WALL_TOLERANCES * tolerance_m);
        let (bore_m, most_m) = (2.0 * self.bore_radius_m, hub_m - 2.0 * wall);
        if most_m < bore_m {
            return Err(HoleFault::BoreTooWide { bore_m, measured, hub_m, most_m: most_m.max(0.0) });
        }
        let Some(bolts) = self.bolts else { return Ok(()) };
        let (count, hole_m, circle_m) = (bolts.count, bolts.hole_diameter_m, bolts.circle_diameter_m);
        let is_size = [hole_m, circle_m].iter().all(|m| 0.0 < *m && m.is_finite());
        if !is_size || !(BOLT_HOLES[0]..=BOLT_HOLES[1]).contains(&count) {
            return Err(HoleFault::Size);
        }
        if 0.0 < self.nose_m {
            return Err(HoleFault::InNose { nose_m: self.nose_m });
        }
        let most_m = hub_m - hole_m - 2.0 * wall;
        if most_m < circle_m {
            return Err(HoleFault::MeetRim { hole_m, circle_m, hub_m, most_m });
        }
        let least_m = bore_m + hole_m + 2.0 * wall;
        if 0.0 < bore_m && circle_m < least_m {
            return Err(HoleFault::MeetBore { hole_m, circle_m, bore_m, least_m });
        }
        // The chord between neighbouring centres is the circle's diameter times the sine of half their angle.
        let least_m = (hole_m + wall) / (PI / f64::from(count)).sin();
        if circle_m < least_m {
            return Err(HoleFault::MeetOneAnother { count, hole_m, circle_m, least_m });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sizes_that_a_refusal_names_fit() {
        let hub = Hub {
            radius_m: 0.06,
            length_m: 0.1,
            nose_m: 0.0,
            middle_m: 0.0,
            bore_radius_m: 0.02,
            bolts: None,
        };
        let drilled = |count, hole_m, circle_m| Hub {
            bolts: Some(BoltCircle {
                count,
                hole_diameter_m: hole_m,
                circle_diameter_m: circle_m,
                first_deg: None,
            }),
            ..hub
        };
        let said = |hub: Hub| hub.check_holes(false, 5e-5).unwrap_err().to_string();
        assert_eq!(drilled(8, 0.01, 0.08).check_holes(false, 5e-5), Ok(()));
        let wide = Hub { bore_radius_m: 0.0595, ..hub };
        assert!(said(wide).ends_with("give a bore of at most 117.6 mm, or a larger hub"), "{}", said(wide));
        assert_eq!(Hub { bore_radius_m: 0.0588, ..hub }.check_holes(false, 5e-5), Ok(()));
        for (holes, named_m, words) in [
            ((8, 0.01, 0.109), 0.1076, "circle of at most 107.6 mm"),
            ((8, 0.01, 0.05), 0.0524, "circle of at least 52.4 mm"),
            ((16, 0.012, 0.06), 0.0677, "circle of at least 67.7 mm"),
        ] {
            let (count, hole_m, circle_m) = holes;
            let sentence = said(drilled(count, hole_m, circle_m));
            assert!(sentence.contains(words), "{sentence}");
            assert_eq!(drilled(count, hole_m, named_m).check_holes(false, 5e-5), Ok(()), "{sentence}");
        }
        assert!(said(drilled(4, 0.12, 0.05)).ends_with("give smaller holes"));
        assert!(said(Hub { nose_m: 0.02, ..drilled(8, 0.01, 0.08) }).contains("nose length of 0 mm"));
        assert!(said(drilled(1, 0.01, 0.08)).contains("2 to 36 holes"));
    }
}
