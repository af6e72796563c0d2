//! The part of a blade inboard of its elements: round and transition sections with drag and without lift.

use crate::notice::FlowNotice;
use bladeform_table::{RootSection, StationTable};
use std::f64::consts::PI;

/// Elements over the shank. Its drag has converged to a thousandth with them.
const ELEMENTS: usize = 12;
/// From this depth over breadth on a measured section of the root is a shank without lift. It is that of bluff stations.
const ROUND: f64 = crate::limits::BLUFF_THICKNESS_RATIO;
/// Directions in which the breadth of a measured section is looked for.
const DIRECTIONS: usize = 180;
/// A shorter shank, as a fraction of the tip radius, is none.
const SHORTEST: f64 = 1e-6;

/// What covers the root of the blades, and how thick they are there. SI.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RootPlan {
    /// Diameter of a spinner: inside it nothing has drag.
    pub spinner_m: Option<f64>,
    /// Diameter of a blunt hub without a spinner. The blades begin on it, and it has drag.
    pub blunt_hub_m: Option<f64>,
    /// Diameter of a round shank at its inner end. It goes before the sections that the table has there.
    pub shank_m: Option<f64>,
}

/// One element of the shank. SI. The angle is that of the table, before any setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ShankElement {
    pub(crate) radius_m: f64,
    pub(crate) width_m: f64,
    /// Its greatest width across the span.
    pub(crate) breadth_m: f64,
    /// Its least width over the greatest.
    pub(crate) thickness_ratio: f64,
    /// Angle of the broad axis to the plane of rotation.
    pub(crate) table_angle_rad: f64,
}

/// A section of the shank: radius, breadth, depth, m, and angle of the broad axis, rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Knot {
    pub(crate) radius_m: f64,
    pub(crate) breadth_m: f64,
    pub(crate) depth_m: f64,
    pub(crate) angle_rad: f64,
}

/// Where the size of the shank comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShankSize {
    /// Measured sections of the root.
    Measured,
    /// The user.
    Given,
    /// Taken as round and as thick as the first section.
    Assumed,
}

impl RootPlan {
    /// The radius on which the blades begin, m, if it is known: of the spinner, the hub or the root end, whichever is farthest out.
    pub(crate) fn begins_m(&self, table: &StationTable) -> Option<(f64, &'static str)> {
        let hub = table.hub.as_ref().and_then(|h| h.diameter_m.as_ref()).map(|d| 0.5 * d.value);
        let half = |d: Option<f64>| d.map(|d| 0.5 * d);
        [
            (half(self.spinner_m), "the spinner"),
            (half(self.blunt_hub_m), "the blunt hub"),
            (hub, "the measured hub, whose own drag is not counted"),
            (table.blade.root_radius_m, "the root end; the hub has no drag"),
        ]
        .into_iter()
        .filter_map(|(r, on)| Some((r.filter(|r| *r > 0.0)?, on)))
        .reduce(|a, b| if a.0 < b.0 { b } else { a })
    }

    /// The outermost measured section of the root that is a shank, m. `None` where the user states the shank.
    pub(crate) fn round_to_m(&self, table: &StationTable, first_m: f64) -> Option<f64> {
        if self.shank_m.is_some() {
            return Some(first_m);
        }
        let knots = table.root_sections.iter().filter_map(knot).filter(|k| k.radius_m < first_m);
        knots.filter(|k| ROUND * k.breadth_m <= k.depth_m).map(|k| k.radius_m).reduce(f64::max)
    }
}

/// The elements between the radius on which the blades begin and that on which lifting elements do, and where their size comes from. `first`: the section of the first station.
pub(crate) fn shank(
    table: &StationTable,
    plan: &RootPlan,
    inner_m: f64,
    first: Knot,
) -> (Vec<ShankElement>, Option<FlowNotice>) {
    let radius_m = table.blade.radius_m;
    let Some((begins_m, on)) = plan.begins_m(table) else { return (Vec::new(), None) };
    if inner_m - begins_m <= SHORTEST * radius_m {
        return (Vec::new(), None);
    }
    let measured: Vec<Knot> =
        table.root_sections.iter().filter_map(knot).filter(|k| k.radius_m < first.radius_m).collect();
    let (knots, size) = match (plan.shank_m, measured.as_slice()) {
        (Some(d), _) => {
            (vec![Knot { radius_m: begins_m, breadth_m: d, depth_m: d, ..first }, first], ShankSize::Given)
        }
        (None, []) => {
            let d = first.depth_m;
            (vec![Knot { breadth_m: d, depth_m: d, ..first }], ShankSize::Assumed)
        }
        (None, some) => (some.iter().copied().chain([first]).collect(), ShankSize::Measured),
    };
    let width_m = (inner_m - begins_m) / ELEMENTS as f64;
    let elements: Vec<ShankElement> = (0..ELEMENTS)
        .map(|k| {
            let r = begins_m + (k as f64 + 0.5) * width_m;
            let at = between(&knots, r);
            ShankElement {
                radius_m: r,
                width_m,
                breadth_m: at.breadth_m,
                thickness_ratio: at.depth_m / at.breadth_m,
                table_angle_rad: at.angle_rad,
            }
        })
        .collect();
    let notice = FlowNotice::Shank {
        from_ratio: begins_m / radius_m,
        to_ratio: inner_m / radius_m,
        breadth_m: elements.first().map_or(0.0, |e| e.breadth_m),
        size,
        on,
    };
    (elements, Some(notice))
}

/// Between neighbours, constant beyond the ends. Breadth and depth are those of the mean of the two figures as symmetric tensors with the breadth and the depth along their axes: linear where
/// the axes agree; a round section, which has no direction, takes that of its neighbour; half a turn of an axis changes nothing.
fn between(knots: &[Knot], r: f64) -> Knot {
    let above = knots.partition_point(|k| k.radius_m <= r);
    let (a, b) = (knots[above.saturating_sub(1)], knots[above.min(knots.len() - 1)]);
    let span = b.radius_m - a.radius_m;
    let share = if span > 0.0 { ((r - a.radius_m) / span).clamp(0.0, 1.0) } else { 0.0 };
    let mix = |x: f64, y: f64| x + share * (y - x);
    // Half the difference of the axes, as a vector at twice the angle.
    let [of_a, of_b] = [a, b].map(|k| {
        let (sin, cos) = (2.0 * k.angle_rad).sin_cos();
        [cos, sin].map(|v| 0.5 * (k.breadth_m - k.depth_m) * v)
    });
    let [along, across] = [0, 1].map(|k| mix(of_a[k], of_b[k]));
    let (middle, half) = (0.5 * mix(a.breadth_m + a.depth_m, b.breadth_m + b.depth_m), along.hypot(across));
    Knot {
        radius_m: r,
        breadth_m: middle + half,
        depth_m: middle - half,
        angle_rad: if half > 0.0 { 0.5 * across.atan2(along) } else { b.angle_rad },
    }
}

/// Breadth, depth and direction of a measured section: its depth is its least width, its breadth that across it.
fn knot(section: &RootSection) -> Option<Knot> {
    let points: Vec<[f64; 2]> = section.outline.points().collect();
    let width = |angle: f64| {
        let (sin, cos) = angle.sin_cos();
        let along = points.iter().map(|p| p[0] * cos + p[1] * sin);
        let (low, high) = along.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    let angles = (0..DIRECTIONS).map(|k| PI * k as f64 / DIRECTIONS as f64);
    let (across, depth_m) = angles.map(|a| (a, width(a))).min_by(|a, b| a.1.total_cmp(&b.1))?;
    let breadth_m = width(across + 0.5 * PI);
    let angle_rad = (across + 0.5 * PI).rem_euclid(PI);
    (points.len() > 2 && depth_m > 0.0 && breadth_m > 0.0).then_some(Knot {
        radius_m: section.radius_m,
        breadth_m,
        depth_m: depth_m.min(breadth_m),
        // A broad axis has no direction: within a quarter of a turn of the plane of rotation.
        angle_rad: if angle_rad > 0.5 * PI { angle_rad - PI } else { angle_rad },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_section::Family;
    use bladeform_table::{BladeFigures, SectionOutline};

    const FIRST: Knot = Knot { radius_m: 0.3, breadth_m: 0.12, depth_m: 0.03, angle_rad: 0.6 };

    fn table(root_radius_m: Option<f64>, root_sections: Vec<RootSection>) -> StationTable {
        let blade = BladeFigures { radius_m: 1.0, root_radius_m, ..BladeFigures::default() };
        StationTable { blade, root_sections, ..StationTable::default() }
    }

    fn ellipse(radius_m: f64, breadth_m: f64, thickness: f64, angle_rad: f64) -> RootSection {
        let (sin, cos) = angle_rad.sin_cos();
        let turned = |p: &[f64; 2]| {
            let p = p.map(|v| v * breadth_m);
            [p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos]
        };
        let points: Vec<[f64; 2]> = Family::Ellipse { thickness }.outline(400).iter().map(turned).collect();
        RootSection {
            radius_m,
            closed: true,
            outline: SectionOutline::from_points(&points),
            ..RootSection::default()
        }
    }

    #[test]
    fn a_measured_root_gives_its_own_sizes() {
        let table = table(Some(0.1), vec![ellipse(0.1, 0.06, 1.0, 0.0), ellipse(0.2, 0.08, 0.7, 0.5)]);
        let plan = RootPlan::default();
        assert_eq!(plan.round_to_m(&table, 0.3), Some(0.2));
        let (elements, notice) = shank(&table, &plan, 0.2, FIRST);
        assert!(matches!(notice, Some(FlowNotice::Shank { size: ShankSize::Measured, .. })));
        let last = elements[ELEMENTS - 1];
        assert!(
            (last.breadth_m - 0.0792).abs() < 5e-4 && (last.thickness_ratio - 0.71).abs() < 0.01,
            "{last:?}"
        );
        let knot = knot(&table.root_sections[1]).unwrap();
        assert!((knot.angle_rad - 0.5).abs() < 0.02 && (knot.depth_m - 0.056).abs() < 1e-4, "{knot:?}");
    }

    #[test]
    fn a_section_between_two_has_the_axes_of_their_mean() {
        let at = |radius_m: f64, breadth_m: f64, depth_m: f64, angle_rad: f64| Knot {
            radius_m,
            breadth_m,
            depth_m,
            angle_rad,
        };
        // A round section has no direction.
        let from_round = between(&[at(0.1, 0.06, 0.06, -1.2), at(0.3, 0.12, 0.03, 0.6)], 0.2);
        assert!((from_round.angle_rad - 0.6).abs() < 1e-12 && (from_round.breadth_m - 0.09).abs() < 1e-12);
        assert!((from_round.depth_m - 0.045).abs() < 1e-12);
        // Between 80 and -80 deg lies 90 deg and not 0.
        let [up, down] = [80.0_f64, -80.0].map(f64::to_radians);
        let turned = between(&[at(0.1, 0.12, 0.03, up), at(0.3, 0.12, 0.03, down)], 0.2);
        assert!((turned.angle_rad.abs() - 0.5 * PI).abs() < 1e-9 && turned.breadth_m > 0.117, "{turned:?}");
        // Axes across one another: the mean is round, by hand.
        let crossed = between(&[at(0.1, 0.10, 0.04, 0.0), at(0.3, 0.10, 0.04, 0.5 * PI)], 0.2);
        assert!((crossed.breadth_m - 0.07).abs() < 1e-12 && (crossed.depth_m - 0.07).abs() < 1e-12);
    }

    #[test]
    fn a_spinner_covers_the_shank() {
        let known = table(Some(0.1), vec![]);
        let (elements, notice) = shank(&known, &RootPlan::default(), 0.3, FIRST);
        assert!(matches!(notice, Some(FlowNotice::Shank { size: ShankSize::Assumed, .. })));
        assert!(
            (elements[0].breadth_m - 0.03).abs() < 1e-12
                && (elements.len() as f64 * elements[0].width_m - 0.2).abs() < 1e-12
        );
        let spinner = RootPlan { spinner_m: Some(0.4), ..RootPlan::default() };
        let (covered, _) = shank(&known, &spinner, 0.3, FIRST);
        assert!((covered[0].radius_m - 0.5 * covered[0].width_m - 0.2).abs() < 1e-12);
        assert!(shank(&known, &RootPlan { spinner_m: Some(0.7), ..spinner }, 0.35, FIRST).0.is_empty());
        assert!(shank(&table(None, vec![]), &RootPlan::default(), 0.3, FIRST).0.is_empty());
        let given = RootPlan { shank_m: Some(0.07), ..RootPlan::default() };
        let (elements, notice) = shank(&known, &given, 0.3, FIRST);
        assert!(matches!(notice, Some(FlowNotice::Shank { size: ShankSize::Given, .. })));
        assert!(elements[0].thickness_ratio > 0.9 && elements[ELEMENTS - 1].thickness_ratio < 0.35);
    }
}
