//! The volume of a blade outside the hub, computed without triangles: an independent check of the joint.

use bladeform_table::SectionSurface;

use crate::surface::BladeSurface;

/// Sections across the joint. With this number the trapezium rule is accurate to a few millionths of the blade volume.
const SECTIONS: usize = 600;
/// Points per spline interval of a section.
const PER_INTERVAL: usize = 6;

/// Volume of a blade outside a cylinder about `y`, m^3.
pub(crate) fn volume_outside_m3(surface: &BladeSurface, radius_m: f64) -> f64 {
    if surface.sections() == SectionSurface::Cylinder {
        return surface.volume_beyond_m3(surface.v_of_radius(radius_m));
    }
    let inside = volume_inside_m3(surface, radius_m);
    surface.volume_m3() - inside
}

/// Integral over the radius of the section area inside the cylinder.
fn volume_inside_m3(surface: &BladeSurface, radius_m: f64) -> f64 {
    let root = surface.root_radius_m();
    // Near the crest of the cylinder the half width decreases like a square root, so the radii are denser there.
    let z = |k: usize| radius_m - (radius_m - root) * (1.0 - k as f64 / SECTIONS as f64).powi(2);
    let area = |z: f64| {
        let half = (radius_m * radius_m - z * z).max(0.0).sqrt();
        let section = surface.section(z, PER_INTERVAL);
        let cut = clip(&clip(&section, half, 1.0), half, -1.0);
        if cut.len() < 3 { 0.0 } else { bladeform_section::area(&cut).abs() }
    };
    let areas: Vec<_> = (0..=SECTIONS).map(|k| (z(k), area(z(k)))).collect();
    areas.windows(2).map(|w| 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0)).sum()
}

/// The part of a polygon with `sign * x <= half` (I. E. Sutherland, G. W. Hodgman, 1974).
fn clip(polygon: &[[f64; 2]], half: f64, sign: f64) -> Vec<[f64; 2]> {
    let mut kept = Vec::new();
    for (a, b) in polygon.iter().zip(polygon.iter().cycle().skip(1)) {
        let (da, db) = (half - sign * a[0], half - sign * b[0]);
        if 0.0 <= da {
            kept.push(*a);
        }
        if (0.0 <= da) != (0.0 <= db) {
            let t = da / (da - db);
            kept.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
        }
    }
    kept
}
