//! The hub of a STEP file: cylinder and half an ellipsoid in two halves each, so that no face closes on itself, between two flat ends.

use super::step::{Entities, refs};
use crate::hub::Hub;

/// Radius of the flat that takes the place of the nose's pole, as a share of the hub's: a surface of revolution has no normal where it meets its axis. It
/// takes 0.005 % off the nose's length.
const POLE_SHARE: f64 = 0.01;

/// Both halves of a circle about the axis of rotation, from `+x` to `-x` on the side of `-z` and back on that of `+z`, with the vertices there.
struct Ring {
    vertices: [usize; 2],
    halves: [usize; 2],
}

impl Entities {
    /// The closed shell of a hub.
    pub(super) fn hub_shell(&mut self, hub: &Hub) -> usize {
        let (radius, rear, front) = (hub.radius_m, -0.5 * hub.length_m, 0.5 * hub.length_m);
        let (low, high) = (self.ring(radius, rear), self.ring(radius, front));
        let sides = [0, 1].map(|k| {
            let x = if k == 0 { radius } else { -radius };
            let line = self.straight([x, rear, 0.0], [x, front, 0.0]);
            self.edge(low.vertices[k], high.vertices[k], line)
        });
        let placement = self.about_flight(0.0, 1.0);
        let cylinder = self.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{})", self.length(radius)));
        let mut faces = self.halves(cylinder, true, &low, &high, sides);
        faces.push(self.disc(&low, rear, -1.0));
        if hub.nose_m > 0.0 {
            let height = front + hub.nose_m * (1.0 - POLE_SHARE * POLE_SHARE).sqrt();
            let top = self.ring(POLE_SHARE * radius, height);
            // The greater half axis stands first.
            let is_flat = hub.nose_m <= radius;
            let meridians = [0, 1].map(|k| {
                let curve = self.meridian(hub, if k == 0 { 1.0 } else { -1.0 }, is_flat);
                let sense = if is_flat { ".T." } else { ".F." };
                self.add(&format!(
                    "EDGE_CURVE('',#{},#{},#{curve},{sense})",
                    high.vertices[k], top.vertices[k]
                ))
            });
            let swept = self.meridian(hub, 1.0, is_flat);
            let (origin, axis) = (self.point([0.0; 3]), self.direction([0.0, 1.0, 0.0]));
            let axis = self.add(&format!("AXIS1_PLACEMENT('',#{origin},#{axis})"));
            let nose = self.add(&format!("SURFACE_OF_REVOLUTION('',#{swept},#{axis})"));
            faces.extend(self.halves(nose, is_flat, &high, &top, meridians));
            faces.push(self.disc(&top, height, 1.0));
        } else {
            faces.push(self.disc(&high, front, 1.0));
        }
        self.add(&format!("CLOSED_SHELL('',({}))", refs(&faces)))
    }

    /// A placement on the axis of rotation, its axis towards flight times `sign`.
    fn about_flight(&mut self, y: f64, sign: f64) -> usize {
        let point = self.point([0.0, y, 0.0]);
        let (axis, reference) = (self.direction([0.0, sign, 0.0]), self.direction([1.0, 0.0, 0.0]));
        self.add(&format!("AXIS2_PLACEMENT_3D('',#{point},#{axis},#{reference})"))
    }

    fn ring(&mut self, radius: f64, y: f64) -> Ring {
        let placement = self.about_flight(y, 1.0);
        let circle = self.add(&format!("CIRCLE('',#{placement},{})", self.length(radius)));
        let vertices = [self.vertex([radius, y, 0.0]), self.vertex([-radius, y, 0.0])];
        let halves =
            [self.edge(vertices[0], vertices[1], circle), self.edge(vertices[1], vertices[0], circle)];
        Ring { vertices, halves }
    }

    /// The nose's ellipse on the side of `x`.
    fn meridian(&mut self, hub: &Hub, x: f64, is_flat: bool) -> usize {
        let centre = self.point([0.0, 0.5 * hub.length_m, 0.0]);
        // With the first half axis across, the curve runs from the rim to the pole; with the first one along the axis the other way.
        let (axis, reference, first, second) = if is_flat {
            ([0.0, 0.0, x], [x, 0.0, 0.0], hub.radius_m, hub.nose_m)
        } else {
            ([0.0, 0.0, -x], [0.0, 1.0, 0.0], hub.nose_m, hub.radius_m)
        };
        let (axis, reference) = (self.direction(axis), self.direction(reference));
        let placement = self.add(&format!("AXIS2_PLACEMENT_3D('',#{centre},#{axis},#{reference})"));
        self.add(&format!("ELLIPSE('',#{placement},{},{})", self.length(first), self.length(second)))
    }

    /// Both halves of a surface about the axis between two rings. `same_sense`: whether its normal points outwards.
    fn halves(
        &mut self,
        surface: usize,
        same_sense: bool,
        low: &Ring,
        high: &Ring,
        sides: [usize; 2],
    ) -> Vec<usize> {
        [0, 1]
            .map(|k| {
                let bound =
                    [(low.halves[k], true), (sides[1 - k], true), (high.halves[k], false), (sides[k], false)];
                self.face(surface, &bound, same_sense, false)
            })
            .to_vec()
    }

    fn disc(&mut self, ring: &Ring, y: f64, sign: f64) -> usize {
        let placement = self.about_flight(y, sign);
        let plane = self.add(&format!("PLANE('',#{placement})"));
        let is_front = sign > 0.0;
        let order = if is_front { [0, 1] } else { [1, 0] };
        let bound = order.map(|k| (ring.halves[k], is_front));
        self.face(plane, &bound, true, false)
    }
}
