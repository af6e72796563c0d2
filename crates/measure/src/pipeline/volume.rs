//! The volume that the scan of a whole propeller encloses, and its first moment about the axis of rotation.

use bladeform_mesh::{CleanMesh, components, rims};
use bladeform_table::{BladeVolume, RotatingVolume, VolumeSource};

use crate::vector::{V3, add, cross, dot, norm, scale, sub};

/// Most of the surface, as a fraction, that flat pieces may close: beyond it too much of the solid is not seen. A judgement.
const MOST_CLOSED: f64 = 0.05;
/// Standard uncertainty of how far the surface bulges over a hole, in widths of the hole: the side of a section 20 cm wide that rises by 2 cm bulges by 0.024 over 5 cm; doubled. A judgement
/// (JCGM 100:2008, 4.3).
const BULGE: f64 = 0.05;
/// A body with less than this part of the surface is a scrap.
const LEAST_BODY: f64 = 0.01;

/// What is known of the axis and the scan.
pub(super) struct About<'a> {
    /// A point of the axis at the height of the blades.
    pub(super) point: V3,
    /// The axis, towards flight.
    pub(super) flight: V3,
    /// Directions of the blades across it.
    pub(super) spans: &'a [V3],
    /// Accuracy over long distances, m; 0 if it is not stated.
    pub(super) accuracy_m: f64,
    /// Metres in a file unit.
    pub(super) metres_per_unit: f64,
}

/// Integrals over a part of the surface, all in file units; vectors along the span of the first blade and a quarter of a turn on.
#[derive(Clone, Default)]
struct Sums {
    volume: f64,
    /// Of the volume about the axis, and along the axis.
    moment: [f64; 2],
    height: f64,
    area: f64,
    /// Of the distance over the area.
    surface: [f64; 2],
    /// Variance of the moment by holes, and of that along the own blade.
    holes: [f64; 2],
    own_holes: f64,
}

/// The volume within a scan of a propeller. `u_place`: standard uncertainty of the axis at a height above its point, file units. `None` where the surface is too open.
///
/// Each triangle makes a tetrahedron with the point of the axis, so that the triangles of a blade's sector enclose what lies between the half-planes midway to its neighbours (divergence theorem; A. M. Messner, G. Q. Taylor, *Algorithm 550: solid polyhedron measures*, ACM Transactions on Mathematical
/// Software 6 (1980), 121-130, from memory). Each hole is closed by a fan about the centroid of its rim.
pub(super) fn rotating_volume(
    mesh: &CleanMesh,
    about: &About<'_>,
    u_place: impl Fn(f64) -> f64,
) -> Option<RotatingVolume> {
    let first = about.spans[0];
    let axes = [first, cross(about.flight, first), about.flight];
    let local = |v: u32| {
        let d = sub(mesh.vertices()[v as usize], about.point);
        axes.map(|axis| dot(axis, d))
    };
    let own: Vec<[f64; 2]> = about.spans.iter().map(|s| [dot(axes[0], *s), dot(axes[1], *s)]).collect();
    let mut sums = vec![Sums::default(); own.len()];
    for face in mesh.faces() {
        let corners = face.map(local);
        let k = sector(&own, corners);
        sums[k].add(corners);
    }
    let area: f64 = sums.iter().map(|s| s.area).sum();
    let mut closed = 0.0;
    for rim in rims(mesh) {
        closed += close(&mut sums, &own, &rim, local);
    }
    if !(0.0 < area && closed < MOST_CLOSED * area) {
        return None;
    }
    let all = sums.iter().fold(Sums::default(), Sums::plus);
    if all.volume <= 0.0 {
        return None;
    }
    let k = about.metres_per_unit;
    let (k3, k4) = (k.powi(3), k.powi(4));
    // Both sides of a blade off by half the accuracy each, each blade for itself.
    let offset = |surface: f64| 0.5 * about.accuracy_m * k.powi(3) * surface.abs();
    let along = |s: &Sums, e: [f64; 2]| s.surface[0] * e[0] + s.surface[1] * e[1];
    let long_range = [0, 1].map(|e| sums.iter().fold(0.0, |u: f64, s| u.hypot(offset(s.surface[e]))));
    let axis = k4 * all.volume * u_place(all.height / all.volume);
    let of_blade = |(s, e): (&Sums, &[f64; 2])| BladeVolume {
        volume_m3: k3 * s.volume,
        first_moment_m4: k4 * (s.moment[0] * e[0] + s.moment[1] * e[1]),
        u_first_moment_m4: (k4 * s.own_holes.sqrt()).hypot(offset(along(s, *e))),
    };
    Some(RotatingVolume {
        volume_m3: k3 * all.volume,
        first_moment_m4: all.moment.map(|m| k4 * m),
        u_from: vec![
            (VolumeSource::Holes, all.holes.map(|v| k4 * v.sqrt())),
            (VolumeSource::LongRange, long_range),
            (VolumeSource::Axis, [axis; 2]),
        ],
        closed_ratio: closed / area,
        bodies: components(mesh).iter().filter(|c| LEAST_BODY * area < c.area).count() as u64,
        blades: sums.iter().zip(&own).map(of_blade).collect(),
        ..RotatingVolume::default()
    })
}

/// The blade in whose sector a triangle lies.
fn sector(own: &[[f64; 2]], [a, b, c]: [V3; 3]) -> usize {
    let middle = add(a, add(b, c));
    let towards = |e: &[f64; 2]| middle[0] * e[0] + middle[1] * e[1];
    (0..own.len()).max_by(|&i, &j| towards(&own[i]).total_cmp(&towards(&own[j]))).unwrap_or(0)
}

/// Closes a rim by a fan and adds what it leaves uncertain; its area.
fn close(sums: &mut [Sums], own: &[[f64; 2]], rim: &[[u32; 2]], local: impl Fn(u32) -> V3) -> f64 {
    let n = rim.len().max(1) as f64;
    let middle = scale(rim.iter().fold([0.0; 3], |sum, edge| add(sum, local(edge[0]))), 1.0 / n);
    let mut vector = [0.0; 3];
    for &[a, b] in rim {
        // Against the triangle on the other side of the edge.
        let corners = [middle, local(b), local(a)];
        vector = add(vector, cross(sub(corners[1], middle), sub(corners[2], middle)));
        let k = sector(own, corners);
        sums[k].fill(corners);
    }
    let area = 0.5 * norm(vector);
    let width = (4.0 * area / std::f64::consts::PI).sqrt();
    let bulge = BULGE * width * area;
    let k = sector(own, [middle; 3]);
    // What is there lies anywhere in the width of the hole: a quarter of it as a standard deviation about its middle.
    let variance = |distance: f64| bulge * bulge * (distance * distance + width * width / 16.0);
    let s = &mut sums[k];
    (0..2).for_each(|e| s.holes[e] += variance(middle[e]));
    s.own_holes += variance(middle[0] * own[k][0] + middle[1] * own[k][1]);
    area
}

impl Sums {
    fn plus(mut self, other: &Self) -> Self {
        self.volume += other.volume;
        self.height += other.height;
        self.area += other.area;
        for e in 0..2 {
            self.moment[e] += other.moment[e];
            self.surface[e] += other.surface[e];
            self.holes[e] += other.holes[e];
        }
        self
    }

    /// Adds the tetrahedron of a triangle with the origin.
    fn fill(&mut self, [a, b, c]: [V3; 3]) {
        let volume = dot(a, cross(b, c)) / 6.0;
        let sum = add(a, add(b, c));
        self.volume += volume;
        self.height += 0.25 * volume * sum[2];
        (0..2).for_each(|e| self.moment[e] += 0.25 * volume * sum[e]);
    }

    /// The same, with the triangle's area.
    fn add(&mut self, corners: [V3; 3]) {
        self.fill(corners);
        let [a, b, c] = corners;
        let area = 0.5 * norm(cross(sub(b, a), sub(c, a)));
        self.area += area;
        let sum = add(a, add(b, c));
        (0..2).for_each(|e| self.surface[e] += area * sum[e] / 3.0);
    }
}
