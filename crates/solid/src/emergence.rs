//! Where the blade surface emerges from the cylinder of the hub: single points, and the curve through them.

use bladeform_numeric::vector::norm;
use bladeform_table::SectionSurface;

use crate::error::SolidError;
use crate::joint_fault::JointFault;
use crate::surface::{BladeSurface, Patch};

/// A point within this distance of the cylinder, m, is on it.
const ON_CYLINDER_M: f64 = 1e-12;
/// Distance from the cylinder, m, that rounding may cause for a point on it.
const ROUNDING_M: f64 = 1e-9;
/// How far beyond the cylinder the search for sections on cylinders ends, m: more than a surface in a file may be off, and than the straight flat of a tail sags below its cylinder (its width squared over eight
/// radii: 0.2 mm for 8 mm on a hub of 40 mm radius).
const BEYOND_M: f64 = 1e-3;
/// Maximum number of search steps for a point. A third of them halve the interval, which alone reduces it to 1e-8.
const MOST_STEPS: usize = 80;
/// Maximum distance of a curve piece from the exact curve, m. It is below the accuracy that a STEP file of this crate declares, and far below workshop accuracy.
const CURVE_M: f64 = 2e-9;
/// Maximum number of times that an interval of the surface knots is halved.
const MOST_HALVINGS: u32 = 12;

/// One of the two sheets that bound a blade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sheet {
    /// Back and face: the surface itself.
    Sides,
    /// The flat of the tail: straight from the tail corner on the back (0) to that on the face (1).
    Tail,
}

impl Sheet {
    fn patch(self, surface: &BladeSurface, u: f64, v: f64) -> Patch {
        match self {
            Self::Sides => surface.patch(u, v),
            Self::Tail => {
                let (back, face) = (surface.patch(0.0, v), surface.patch(1.0, v));
                let mixed = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| (1.0 - u) * a[k] + u * b[k]);
                Patch {
                    at: mixed(back.at, face.at),
                    du: [0, 1, 2].map(|k| face.at[k] - back.at[k]),
                    dv: mixed(back.dv, face.dv),
                }
            }
        }
    }
}

/// Parameter `v` at which the line of constant `u` leaves the cylinder, by bisection with secants.
pub(crate) fn emergence(
    surface: &BladeSurface,
    sheet: Sheet,
    u: f64,
    radius_m: f64,
) -> Result<f64, SolidError> {
    let beyond = |v: f64| {
        let p = sheet.patch(surface, u, v).at;
        p[0].hypot(p[2]) - radius_m
    };
    // Sections on cylinders reach the radius all at once, so that the end of the search lies a little beyond it.
    let beyond_m = if surface.sections() == SectionSurface::Cylinder { BEYOND_M } else { 0.0 };
    let (mut low, mut high) = (0.0, surface.v_of_radius(radius_m + beyond_m));
    let (mut at_low, mut at_high) = (beyond(low), beyond(high));
    if 0.0 <= at_low {
        return Err(JointFault::RootOutside {
            diameter_m: 2.0 * radius_m,
            above_m: 2.0 * (radius_m + at_low),
        }
        .into());
    }
    if at_high < -ROUNDING_M {
        return Err(JointFault::BladeInside {
            diameter_m: 2.0 * radius_m,
            below_m: 2.0 * (radius_m + at_high),
        }
        .into());
    }
    for k in 0..MOST_STEPS {
        let secant = low - at_low * (high - low) / (at_high - at_low);
        let middle = if k % 3 == 2 || !(low < secant && secant < high) { 0.5 * (low + high) } else { secant };
        let at = beyond(middle);
        if at.abs() < ON_CYLINDER_M {
            return Ok(middle);
        }
        if at < 0.0 {
            (low, at_low) = (middle, at);
        } else {
            (high, at_high) = (middle, at);
        }
    }
    Ok(0.5 * (low + high))
}

/// The curve in which a sheet emerges from the cylinder, as cubics with continuous tangent.
#[derive(Debug, Clone)]
pub(crate) struct Emergence {
    /// Parameters `u` where cubics meet, increasing.
    pub(crate) breaks: Vec<f64>,
    /// Control points, m, of a cubic B-spline with double knots at the inner breaks: first point, two per cubic, last point.
    pub(crate) control: Vec<[f64; 3]>,
    /// Maximum distance, m, from the exact curve on cylinder and sheet, measured at the quarters of every cubic.
    pub(crate) error_m: f64,
}

/// A point of the exact curve with its derivative with respect to `u`.
#[derive(Debug, Clone, Copy)]
struct Node {
    u: f64,
    at: [f64; 3],
    slope: [f64; 3],
}

struct Tracer<'a> {
    surface: &'a BladeSurface,
    sheet: Sheet,
    radius_m: f64,
}

impl Emergence {
    /// `breaks`: the breaks of the sheet. It is smooth between them.
    pub(crate) fn trace(
        surface: &BladeSurface,
        sheet: Sheet,
        breaks: &[f64],
        radius_m: f64,
    ) -> Result<Self, SolidError> {
        let tracer = Tracer { surface, sheet, radius_m };
        let nodes = breaks.iter().map(|&u| tracer.node(u)).collect::<Result<Vec<_>, _>>()?;
        let mut made = Self { breaks: vec![nodes[0].u], control: vec![nodes[0].at], error_m: 0.0 };
        for pair in nodes.windows(2) {
            tracer.piece(pair[0], pair[1], 0, &mut made)?;
        }
        made.control.push(nodes[nodes.len() - 1].at);
        Ok(made)
    }

    /// Multiplicities of the breaks as knots.
    pub(crate) fn multiplicities(&self) -> Vec<usize> {
        let last = self.breaks.len() - 1;
        (0..=last).map(|i| if i == 0 || i == last { 4 } else { 2 }).collect()
    }
}

impl Tracer<'_> {
    fn node(&self, u: f64) -> Result<Node, SolidError> {
        let v = emergence(self.surface, self.sheet, u, self.radius_m)?;
        let Patch { at, du, dv } = self.sheet.patch(self.surface, u, v);
        // x^2 + z^2 is constant: implicit differentiation.
        let rate = -(at[0] * du[0] + at[2] * du[2]) / (at[0] * dv[0] + at[2] * dv[2]);
        Ok(Node { u, at, slope: [0, 1, 2].map(|k| du[k] + rate * dv[k]) })
    }

    /// Adds the cubic with the points and slopes of two nodes. Halves the interval until the cubic is close enough to the exact curve.
    fn piece(&self, a: Node, b: Node, depth: u32, made: &mut Emergence) -> Result<(), SolidError> {
        let h = b.u - a.u;
        let inner = [
            [0, 1, 2].map(|k| a.at[k] + h / 3.0 * a.slope[k]),
            [0, 1, 2].map(|k| b.at[k] - h / 3.0 * b.slope[k]),
        ];
        let off = |s: f64, exact: &Node| {
            let r = 1.0 - s;
            let d = [0, 1, 2].map(|k| {
                r * r * r * a.at[k] + 3.0 * r * s * (r * inner[0][k] + s * inner[1][k]) + s * s * s * b.at[k]
                    - exact.at[k]
            });
            norm(d)
        };
        let nodes = [0.25, 0.5, 0.75].map(|s| self.node(a.u + s * h).map(|exact| (off(s, &exact), exact)));
        let [quarter, middle, other] = nodes;
        let (middle_off, middle) = middle?;
        let error = quarter?.0.max(middle_off).max(other?.0);
        if CURVE_M < error && depth < MOST_HALVINGS {
            self.piece(a, middle, depth + 1, made)?;
            return self.piece(middle, b, depth + 1, made);
        }
        made.breaks.push(b.u);
        made.control.extend(inner);
        made.error_m = made.error_m.max(error);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rows::RowPlan;

    /// Blades with their inner end inside the hub, one of them with a round shank.
    fn blades() -> Vec<BladeSurface> {
        let table = bladeform_document::read_json(
            br#"{"blade": {"radius_m": 0.5, "root_radius_m": 0.06}, "stations": [
              {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
              {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
              {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#,
        )
        .unwrap();
        [None, Some(0.022)]
            .map(|shank_radius_m| RowPlan { shank_radius_m, ..RowPlan::default() })
            .iter()
            .map(|plan| BladeSurface::planned(&table, plan).unwrap())
            .collect()
    }

    /// The written B-spline, evaluated by the recurrence of its definition (C. de Boor, 1978, chapter X).
    fn value(curve: &Emergence, u: f64) -> [f64; 3] {
        let knots = curve.breaks.iter().zip(curve.multiplicities());
        let t: Vec<f64> = knots.flat_map(|(&b, n)| std::iter::repeat_n(b, n)).collect();
        assert_eq!(t.len(), curve.control.len() + 4);
        let span = t.iter().rposition(|&k| k <= u).unwrap();
        let mut d: Vec<[f64; 3]> = (0..4).map(|k| curve.control[span - 3 + k]).collect();
        for r in 1..4 {
            for j in (r..4).rev() {
                let i = span - 3 + j;
                let a = (u - t[i]) / (t[i + 4 - r] - t[i]);
                d[j] = [0, 1, 2].map(|k| (1.0 - a) * d[j - 1][k] + a * d[j][k]);
            }
        }
        d[3]
    }

    #[test]
    fn the_curve_lies_on_the_cylinder_and_on_the_blade_between_the_places_it_was_checked_at() {
        let radius = 0.08;
        for blade in blades() {
            for (sheet, breaks) in
                [(Sheet::Sides, blade.across.breaks().to_vec()), (Sheet::Tail, vec![0.0, 1.0])]
            {
                let curve = Emergence::trace(&blade, sheet, &breaks, radius).unwrap();
                assert!(curve.error_m <= CURVE_M, "{}", curve.error_m);
                assert_eq!(curve.control.len(), 2 * curve.breaks.len());
                for w in curve.breaks.windows(2) {
                    for s in [0.1, 0.4, 0.6, 0.9] {
                        let u = w[0] + s * (w[1] - w[0]);
                        let at = value(&curve, u);
                        let v = emergence(&blade, sheet, u, radius).unwrap();
                        let on_blade = sheet.patch(&blade, u, v).at;
                        let off: f64 = (0..3).map(|k| (at[k] - on_blade[k]).powi(2)).sum();
                        assert!(off.sqrt() < 2.0 * CURVE_M, "{u}: {}", off.sqrt());
                        assert!((at[0].hypot(at[2]) - radius).abs() < 2.0 * CURVE_M, "{u}");
                    }
                }
            }
        }
    }
}
