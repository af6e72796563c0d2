//! The hub of a STEP file: cylinder and half an ellipsoid in sectors, one per blade, between two flat ends.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::step_entities::{Entities, Oriented, reversed};
use crate::holes::Hole;
use crate::hub::{Hub, Slant};

/// Radius of the flat that replaces the pole of the nose, as a fraction of the hub radius. A surface of revolution has no normal on its axis. The flat
/// shortens the nose by 0.005 %.
const POLE_SHARE: f64 = 0.01;

/// Minimum number of sectors, because no face may close on itself.
const LEAST_SECTORS: u32 = 2;

/// A circle about the axis of rotation or that of a hole, divided where two sectors meet.
struct Ring {
    vertices: Vec<usize>,
    /// Arcs from each vertex to the next, from `z` towards `x`.
    arcs: Vec<usize>,
}

/// The parts of a hub that are written.
pub(super) struct HubFaces<'a> {
    hub: &'a Hub,
    /// Angles from `z` towards `x`, rad, where sectors begin: midway between blades, so that every hole is within one face.
    angles: Vec<f64>,
    /// How the sectors follow the blades.
    slant: Slant,
}

/// Angle of one piece of a helix, rad: a cubic is then within 2e-9 m of it on a hub of 0.2 m (error `R a^4 / 384`).
const HELIX_PIECE: f64 = 0.04;

/// Direction at an angle from `z` towards `x`.
fn outwards(angle: f64) -> [f64; 3] {
    [angle.sin(), 0.0, angle.cos()]
}

impl<'a> HubFaces<'a> {
    pub(super) fn new(hub: &'a Hub, blades: u32, slant: Slant) -> Self {
        let sectors = blades.max(LEAST_SECTORS);
        let angles = (0..sectors).map(|k| (TAU * f64::from(k) - PI) / f64::from(sectors)).collect();
        Self { hub, angles, slant }
    }

    /// By how much the borders of the sectors lie beside their angles at a height, rad; beyond the cylinder as at its end.
    fn aside(&self, y: f64) -> f64 {
        let [rear, front] = self.hub.ends_m();
        (self.slant.aside_m + self.slant.slope * y.clamp(rear, front)) / self.hub.radius_m
    }

    /// The border of a sector from the rear to the front: a straight line, or a helix as cubics with its points and slopes.
    fn side(&self, file: &mut Entities, angle: f64) -> usize {
        let (radius, [rear, front]) = (self.hub.radius_m, self.hub.ends_m());
        let at = |y: f64| {
            let [x, _, z] = outwards(angle + self.aside(y)).map(|c| radius * c);
            [x, y, z]
        };
        if self.slant.slope == 0.0 {
            return file.straight(at(rear), at(front));
        }
        let turn = (self.aside(front) - self.aside(rear)).abs();
        let pieces = (turn / HELIX_PIECE).ceil().max(1.0) as usize;
        let breaks: Vec<f64> = (0..=pieces).map(|k| k as f64 / pieces as f64).collect();
        let height = |t: f64| rear + self.hub.length_m * t;
        // A third of the derivative over one piece.
        let third = |t: f64| {
            let [x, _, z] = at(height(t));
            let by = 1.0 / (3.0 * pieces as f64);
            let turned = self.slant.slope / radius * self.hub.length_m * by;
            [z * turned, self.hub.length_m * by, -x * turned]
        };
        let shifted = |t: f64, sign: f64| {
            let (p, d) = (at(height(t)), third(t));
            [0, 1, 2].map(|k| p[k] + sign * d[k])
        };
        let inner = breaks.windows(2).flat_map(|w| [shifted(w[0], 1.0), shifted(w[1], -1.0)]);
        let points: Vec<_> = [at(rear)].into_iter().chain(inner).chain([at(front)]).collect();
        let counts: Vec<usize> = (0..=pieces).map(|k| if k == 0 || k == pieces { 4 } else { 2 }).collect();
        file.spline_curve(&points, (&counts, &breaks))
    }

    /// Writes the faces. `rims`: border of each blade opening, anticlockwise seen from the axis.
    pub(super) fn write(&self, file: &mut Entities, rims: &[Vec<Oriented>]) -> Vec<usize> {
        let hub = self.hub;
        let (radius, [rear, front]) = (hub.radius_m, hub.ends_m());
        let (low, high) = (self.ring(file, radius, rear), self.ring(file, radius, front));
        let mut sides = Vec::new();
        for (k, angle) in self.angles.iter().enumerate() {
            let line = self.side(file, *angle);
            sides.push(file.edge(low.vertices[k], high.vertices[k], line, true));
        }
        let mut faces = Vec::new();
        for k in 0..self.angles.len() {
            let placement = about_flight(file, 0.0, self.opposite(k) + self.aside(hub.middle_m));
            let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", file.length(radius)));
            let border = sector(k, [&low, &high], &sides);
            faces.push(file.face(surface, &border, rims.get(k).map_or(&[], std::slice::from_ref), true));
        }
        let holes = hub.holes();
        let bottoms: Vec<Ring> = holes.iter().map(|hole| self.hole_ring(file, hole, rear)).collect();
        faces.push(self.disc(file, &low, &bottoms, rear, -1.0));
        let tops = if hub.nose_m > 0.0 {
            let (top, height) = self.nose(file, high, &mut faces);
            // A bore leaves nothing of the end of the nose.
            if holes.is_empty() {
                faces.push(self.disc(file, &top, &[], height, 1.0));
            }
            vec![top]
        } else {
            let tops: Vec<Ring> = holes.iter().map(|hole| self.hole_ring(file, hole, front)).collect();
            faces.push(self.disc(file, &high, &tops, front, 1.0));
            tops
        };
        for (hole, ends) in holes.iter().zip(bottoms.iter().zip(&tops)) {
            self.wall(file, hole, [ends.0, ends.1], &mut faces);
        }
        faces
    }

    /// The circle of a hole at a height, divided at the angles of the hub's front end.
    fn hole_ring(&self, file: &mut Entities, hole: &Hole, y: f64) -> Ring {
        let angles: Vec<f64> = self.hole_angles().collect();
        let [x, z] = hole.centre_m;
        let placement = file.placement([x, y, z], [0.0, 1.0, 0.0], outwards(angles[0]));
        let circle = file.add(&format!("CIRCLE('',#{placement},{})", file.length(hole.radius_m)));
        let vertices = angles.iter().map(|a| file.vertex(hole.at(*a, y))).collect();
        ring_of(file, vertices, circle)
    }

    fn hole_angles(&self) -> impl Iterator<Item = f64> {
        let aside = self.aside(self.hub.ends_m()[1]);
        self.angles.iter().map(move |a| a + aside)
    }

    /// The wall of a hole in sectors; it faces the axis of the hole.
    fn wall(&self, file: &mut Entities, hole: &Hole, [below, above]: [&Ring; 2], faces: &mut Vec<usize>) {
        let rear = self.hub.ends_m()[0];
        let front = if self.hub.nose_m > 0.0 { self.hub.bore_end_m() } else { self.hub.ends_m()[1] };
        let mut sides = Vec::new();
        for (k, angle) in self.hole_angles().enumerate() {
            let line = file.straight(hole.at(angle, rear), hole.at(angle, front));
            sides.push(file.edge(below.vertices[k], above.vertices[k], line, true));
        }
        let [x, z] = hole.centre_m;
        for k in 0..sides.len() {
            let first = outwards(self.opposite(k) + self.aside(self.hub.ends_m()[1]));
            let placement = file.placement([x, 0.0, z], [0.0, 1.0, 0.0], first);
            let radius = file.length(hole.radius_m);
            let surface = file.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{radius})"));
            let border = reversed(&sector(k, [below, above], &sides));
            faces.push(file.face(surface, &border, &[], false));
        }
    }

    /// The nose from the ring where it begins to the bore, or nearly to its pole. Returns the ring where it ends, and the position of that ring in the flight direction, m.
    fn nose(&self, file: &mut Entities, high: Ring, faces: &mut Vec<usize>) -> (Ring, f64) {
        let hub = self.hub;
        let share = if 0.0 < hub.bore_radius_m { hub.bore_radius_m / hub.radius_m } else { POLE_SHARE };
        let height = hub.ends_m()[1] + hub.nose_m * (1.0 - share * share).sqrt();
        let top = self.ring(file, share * hub.radius_m, height);
        // The larger semi-axis comes first.
        let is_flat = hub.nose_m <= hub.radius_m;
        let mut meridians = Vec::new();
        for (k, angle) in self.angles.iter().enumerate() {
            let curve = self.meridian(file, angle + self.aside(height), is_flat);
            meridians.push(file.edge(high.vertices[k], top.vertices[k], curve, is_flat));
        }
        let (origin, axis) = (file.point([0.0; 3]), file.direction([0.0, 1.0, 0.0]));
        let axis = file.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
        for k in 0..self.angles.len() {
            // A whole ellipse would sweep every point of the nose twice, and geometry kernels would have to guess on which half a border is.
            let ellipse = self.meridian(file, self.opposite(k) + self.aside(height), is_flat);
            let swept = file.add(&format!(
                "TRIMMED_CURVE('',#{ellipse},(PARAMETER_VALUE(0.)),(PARAMETER_VALUE({FRAC_PI_2:.15})),.T.,.PARAMETER.)"
            ));
            let surface = file.add(&format!("SURFACE_OF_REVOLUTION('',#{swept},#{axis})"));
            faces.push(file.face(surface, &sector(k, [&high, &top], &meridians), &[], is_flat));
        }
        (top, height)
    }

    /// The angle opposite to the middle of a sector. A surface about the axis begins there, so that the sector is in the middle of its parameters. If a border
    /// is at the beginning, kernels may take it for the end because of rounding.
    fn opposite(&self, k: usize) -> f64 {
        self.angles[k] + PI / self.angles.len() as f64 + PI
    }

    fn ring(&self, file: &mut Entities, radius: f64, y: f64) -> Ring {
        let placement = about_flight(file, y, self.angles[0] + self.aside(y));
        let circle = file.add(&format!("CIRCLE('',#{placement},{})", file.length(radius)));
        let at = |angle: &f64| {
            let [x, _, z] = outwards(angle + self.aside(y)).map(|c| radius * c);
            file.vertex([x, y, z])
        };
        let vertices: Vec<_> = self.angles.iter().map(at).collect();
        ring_of(file, vertices, circle)
    }

    /// The ellipse of the nose at an angle.
    fn meridian(&self, file: &mut Entities, angle: f64, is_flat: bool) -> usize {
        let (hub, [sin, _, cos]) = (self.hub, outwards(angle));
        // If the first semi-axis is radial, the curve runs from the rim to the pole; if it is axial, from the pole to the rim.
        let (axis, first, halves) = if is_flat {
            ([-cos, 0.0, sin], [sin, 0.0, cos], [hub.radius_m, hub.nose_m])
        } else {
            ([cos, 0.0, -sin], [0.0, 1.0, 0.0], [hub.nose_m, hub.radius_m])
        };
        let placement = file.placement([0.0, hub.ends_m()[1], 0.0], axis, first);
        let [a, b] = halves.map(|half| file.length(half));
        file.add(&format!("ELLIPSE('',#{placement},{a},{b})"))
    }

    fn disc(&self, file: &mut Entities, ring: &Ring, holes: &[Ring], y: f64, sign: f64) -> usize {
        let plane = file.plane([0.0, y, 0.0], [0.0, sign, 0.0], outwards(self.angles[0]));
        let arcs = |ring: &Ring| -> Vec<Oriented> { ring.arcs.iter().map(|&arc| (arc, true)).collect() };
        let (outer, inner): (Vec<Oriented>, Vec<Vec<Oriented>>) = if sign > 0.0 {
            (arcs(ring), holes.iter().map(|hole| reversed(&arcs(hole))).collect())
        } else {
            (reversed(&arcs(ring)), holes.iter().map(arcs).collect())
        };
        file.face(plane, &outer, &inner, true)
    }
}

/// A circle divided at vertices that lie on it in order.
fn ring_of(file: &mut Entities, vertices: Vec<usize>, circle: usize) -> Ring {
    let next = |k: usize| vertices[(k + 1) % vertices.len()];
    let arcs = (0..vertices.len()).map(|k| file.edge(vertices[k], next(k), circle, true)).collect();
    Ring { vertices, arcs }
}

/// A placement on the axis of rotation, with its axis in the flight direction and its first coordinate at an angle.
fn about_flight(file: &mut Entities, y: f64, angle: f64) -> usize {
    file.placement([0.0, y, 0.0], [0.0, 1.0, 0.0], outwards(angle))
}

/// Border of a sector of a surface about the axis between two rings.
fn sector(k: usize, [low, high]: [&Ring; 2], sides: &[usize]) -> [Oriented; 4] {
    let next = (k + 1) % sides.len();
    [(low.arcs[k], true), (sides[next], true), (high.arcs[k], false), (sides[k], false)]
}
