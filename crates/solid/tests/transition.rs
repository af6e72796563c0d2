//! Tables with exact outlines, from the round shank through the transition outwards. The surface reproduces them and bounds a solid.

use bladeform_section::{longest_chord, signed_distance};
use bladeform_solid::{BladeSurface, PropellerSurface, Silent, SolidPlan};
use bladeform_specimen::{Blade, SectionKind};
use bladeform_table::{SectionOutline, Station, StationTable};

const STEP_M: f64 = 0.052;

/// A station with the outline of the blade; on the shank, if `round`, with two diameters only.
fn station(blade: &Blade, radius_m: f64, round: bool) -> Station {
    let outline = blade.outline(radius_m);
    let mut s = Station::at(radius_m, blade.radius_m);
    // Outlines run from the tail along the back to the nose, halfway, and then along the face.
    let (tail, nose) = (outline[0], outline[outline.len() / 2]);
    let ahead = [nose[0] - tail[0], nose[1] - tail[1]];
    let chord = ahead[0].hypot(ahead[1]);
    let (cos, sin) = (ahead[0] / chord, ahead[1] / chord);
    let local = |p: &[f64; 2]| {
        let d = [p[0] - 0.5 * (nose[0] + tail[0]), p[1] - 0.5 * (nose[1] + tail[1])];
        [0.5 * chord - d[0] * cos - d[1] * sin, d[1] * cos - d[0] * sin]
    };
    let points: Vec<_> = outline.iter().map(local).collect();
    let across = |f: fn(f64, f64) -> f64, start: f64| points.iter().map(|p| p[1]).fold(start, f);
    let thickness = across(f64::max, f64::NEG_INFINITY) - across(f64::min, f64::INFINITY);
    s.thickness_m = Some(thickness);
    s.longest_chord_m = longest_chord(&points).map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]));
    if round {
        return s;
    }
    s.chord_m = Some(chord);
    s.blade_angle_deg = Some(sin.atan2(cos).to_degrees());
    s.thickness_ratio = Some(thickness / chord);
    s.mid_chord_x_m = Some(0.5 * (nose[0] + tail[0]));
    s.mid_chord_y_m = Some(0.5 * (nose[1] + tail[1]));
    s.outline = Some(SectionOutline::from_points(&points));
    s
}

fn table(blade: &Blade) -> StationTable {
    let mut table = StationTable::default();
    table.blade.radius_m = blade.radius_m;
    table.blade.root_radius_m = Some(blade.root_radius_m);
    // 0.172 and 0.224 m are nearly round, 0.276 and 0.328 m half shank and half section.
    table.stations = (0..24).map(|k| station(blade, 0.172 + STEP_M * f64::from(k), k < 2)).collect();
    table
}

/// Maximum distance between the sections of the surface and of the blade, m, up to a fraction of the distance from nose to tail.
fn greatest_distance(blade: &Blade, surface: &BladeSurface, radius_m: f64, reach: f64) -> f64 {
    let own = blade.outline(radius_m);
    let (tail, nose) = (own[0], own[own.len() / 2]);
    let back = [tail[0] - nose[0], tail[1] - nose[1]];
    let whole = back[0] * back[0] + back[1] * back[1];
    let share = |p: &[f64; 2]| ((p[0] - nose[0]) * back[0] + (p[1] - nose[1]) * back[1]) / whole;
    let section = surface.section(radius_m, 8);
    let near = section.iter().filter(|p| share(p) < reach);
    near.map(|p| signed_distance(&own, *p).abs()).fold(0.0, f64::max)
}

#[test]
fn outlines_halfway_between_shank_and_section_are_met_and_the_surface_between_is_near() {
    // Between stations 52 mm apart the chord grows by half, and a spline has no better information. Flat-faced tails change from round to blunt there.
    for (kind, between_m) in
        [(SectionKind::FourDigit, 1.5e-3), (SectionKind::ClarkY, 1.5e-3), (SectionKind::FlatFaced, 3e-3)]
    {
        let blade = Blade::quarry_mill().with_kind(kind);
        let table = table(&blade);
        let propeller =
            PropellerSurface::new(&table, SolidPlan { tolerance_m: 3e-4, ..SolidPlan::default() }).unwrap();
        let surface = propeller.blade();
        assert!((surface.sections_m()[0] - 0.276).abs() < 1e-9, "{kind:?}");
        for s in &table.stations[2..] {
            let off = |reach| greatest_distance(&blade, surface, s.radius_m, reach);
            // A few hundredths of a millimetre. More where the edges of flat-faced sections are blended into the shank, and at tails that are opened or straightened.
            let most = if kind == SectionKind::FlatFaced { 1.5e-4 } else { 4e-5 };
            assert!(off(0.98) < most, "{kind:?} {:.3}: {}", s.radius_m, off(0.98));
            assert!(off(2.0) < 2e-3 * s.chord_m.unwrap(), "{kind:?} {:.3}: {}", s.radius_m, off(2.0));
        }
        for k in 1..6 {
            let r = 0.172 + STEP_M * (f64::from(k) + 0.5);
            let off = greatest_distance(&blade, surface, r, 2.0);
            assert!(off < between_m, "{kind:?} {r:.3}: {off}");
        }
        let made = propeller.at(None, &Silent).unwrap();
        assert!((made.solid.facts().volume_m3 / made.section_volume_m3 - 1.0).abs() < 1e-3, "{kind:?}");
    }
}

#[test]
fn a_shank_of_constant_diameter_stays_a_cylinder_up_to_its_last_station() {
    let blade = Blade::quarry_mill();
    let mut table = table(&blade);
    for s in &mut table.stations[..2] {
        s.thickness_m = Some(0.09);
        s.longest_chord_m = Some(0.09);
    }
    let surface = BladeSurface::of_table(&table).unwrap();
    for k in 0..=40 {
        let r = 0.12 + (0.224 - 0.12) * f64::from(k) / 40.0;
        for p in surface.section(r, 4) {
            // The swelling begins at 0.224 m with a kink that a spline smooths over the last 13 mm.
            let most = if r < 0.2 { 2e-5 } else { 1.5e-4 };
            assert!((p[0].hypot(p[1]) - 0.045).abs() < most, "{r:.4}: {p:?}");
        }
    }
}

/// A fan to the tip point would be so flat that its sheets intersect after rounding to single precision.
#[test]
fn the_tip_ends_in_a_flat_within_the_tolerance() {
    let blade = Blade::quarry_mill();
    let table = table(&blade);
    let plan = SolidPlan { shank_diameter_m: Some(2.0 * blade.shank_radius_m), ..SolidPlan::default() };
    let made = PropellerSurface::new(&table, plan).unwrap().at(None, &Silent).unwrap();
    let vertices = &made.solid.mesh().vertices;
    let top = vertices.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
    assert!(50 < vertices.iter().filter(|p| (p[2] - top).abs() < 1e-6).count());
    assert!((top / 1e3 - blade.radius_m).abs() < 5e-5, "{top} mm");
    assert!(made.chord_error_m < 5e-5);
}
