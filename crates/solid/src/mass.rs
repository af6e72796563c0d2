//! Mass, centre of mass and moments of inertia of a solid of one density.

use bladeform_numeric::vector::{add, cross, dot, scale, sub};

use crate::watertight::WatertightSolid;

/// Mass and its distribution. Axes of the table: `z` along the first blade, `y` along the axis of rotation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MassProperties {
    /// Mass, kg.
    pub mass_kg: f64,
    /// Centre of mass, m.
    pub centre_m: [f64; 3],
    /// Moments of inertia about the axes `x`, `y` and `z` through the centre of mass, kg m2.
    pub inertia_kg_m2: [f64; 3],
    /// Moment of inertia about the axis of rotation, the `y` axis of the table, kg m2.
    pub about_rotation_kg_m2: f64,
}

impl WatertightSolid {
    /// The mass properties for a density in kg/m3, exact for the triangles.
    ///
    /// # Source
    /// Each triangle makes a tetrahedron with a reference point, whose first and second moments are sums over its corners: A. M. Messner, G. Q. Taylor, *Algorithm 550: solid polyhedron
    /// measures*, ACM Transactions on Mathematical Software 6 (1980), 121-130 (from memory).
    #[must_use]
    pub fn mass_properties(&self, density_kg_m3: f64) -> MassProperties {
        let mesh = self.mesh();
        let unit = self.metres_per_unit();
        // A corner of the solid: a reference far away would lose digits.
        let reference = mesh.vertices.first().map_or([0.0; 3], |p| scale(*p, unit));
        let (mut volume, mut first, mut second) = (0.0, [0.0; 3], [0.0; 3]);
        for face in &mesh.faces {
            let [a, b, c] = face.map(|v| sub(scale(mesh.vertices[v as usize], unit), reference));
            let part = dot(a, cross(b, c)) / 6.0;
            let sum = add(add(a, b), c);
            volume += part;
            first = add(first, scale(sum, 0.25 * part));
            for (k, second) in second.iter_mut().enumerate() {
                *second += part / 20.0 * (a[k] * a[k] + b[k] * b[k] + c[k] * c[k] + sum[k] * sum[k]);
            }
        }
        let from_reference = scale(first, 1.0 / volume);
        let centre_m = add(reference, from_reference);
        // Mean squares of the coordinates about the centre.
        let spread = [0, 1, 2].map(|k| second[k] / volume - from_reference[k] * from_reference[k]);
        let mass_kg = density_kg_m3 * volume;
        let inertia_kg_m2 =
            [spread[1] + spread[2], spread[0] + spread[2], spread[0] + spread[1]].map(|s| mass_kg * s);
        let off_axis = centre_m[0] * centre_m[0] + centre_m[2] * centre_m[2];
        MassProperties {
            mass_kg,
            centre_m,
            inertia_kg_m2,
            about_rotation_kg_m2: inertia_kg_m2[1] + mass_kg * off_axis,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watertight::Group;

    /// A block a by b by c: `m (b^2 + c^2) / 12` and so on (ISO 80000-4:2019, item 4-7, by integration); the parallel axis by Steiner's theorem.
    #[test]
    fn a_block_has_the_moments_of_its_formula() {
        let (size, corner) = ([0.3, 0.2, 0.5], [1.0, -2.0, 0.25]);
        let vertices: Vec<[f64; 3]> = (0..8)
            .map(|i| [0, 1, 2].map(|k| corner[k] + if i >> k & 1 == 1 { size[k] } else { 0.0 }))
            .collect();
        let faces = [
            [0, 2, 1],
            [1, 2, 3],
            [4, 5, 6],
            [5, 7, 6],
            [0, 1, 4],
            [1, 5, 4],
            [2, 6, 3],
            [3, 6, 7],
            [0, 4, 2],
            [2, 4, 6],
            [1, 3, 5],
            [3, 7, 5],
        ];
        let group = Group { name: "block".to_owned(), faces: 0..12 };
        let solid = WatertightSolid::check(&vertices, faces.to_vec(), vec![group], 1.0).unwrap();
        let found = solid.mass_properties(700.0);
        let mass = 700.0 * 0.3 * 0.2 * 0.5;
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * b.abs();
        assert!(near(found.mass_kg, mass), "{found:?}");
        let square = size.map(|s| s * s);
        let expected = [square[1] + square[2], square[0] + square[2], square[0] + square[1]];
        for k in 0..3 {
            assert!(near(found.centre_m[k], corner[k] + 0.5 * size[k]), "{found:?}");
            assert!(near(found.inertia_kg_m2[k], mass * expected[k] / 12.0), "{found:?}");
        }
        let off = 1.15_f64.powi(2) + 0.5_f64.powi(2);
        assert!(near(found.about_rotation_kg_m2, mass * (expected[1] / 12.0 + off)), "{found:?}");
    }
}
