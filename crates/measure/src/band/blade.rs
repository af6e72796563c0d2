//! One blade in its own span axes: mesh with normals, quick sections, ends.

use bladeform_mesh::CleanMesh;
use bladeform_numeric::parallel;
use bladeform_quantity::Hand;

use super::refined::repeated;
use super::slices::Slice;
use crate::frame::axes::length;
use crate::frame::kernel::{Kernel, MOST_BELIEVED_M, kernel};
use crate::frame::noise::variogram;
use crate::frame::sides::Sides;
use crate::plan::MeasurePlan;
use crate::vector::{V3, add, cross, dot, median, norm, sub};

/// A blade in its own span axes (z the span from the axis of rotation or from any origin), file units; turned so that it is right-handed.
pub(crate) struct LocalBlade {
    pub(crate) mesh: CleanMesh,
    /// Vertex normals, area-weighted, outward; zero for vertices that only repeat others.
    pub(crate) normals: Vec<V3>,
    /// Whether the mesh is a mirror image, so that its triangles are wound inside out.
    pub(crate) mirrored: bool,
    /// Quick sections, the first end of each chord the leading edge.
    pub(crate) slices: Vec<Slice>,
    /// Typical edge of a triangle.
    pub(crate) edge: f64,
    /// Ends of the span.
    pub(crate) span: (f64, f64),
    /// The kernel that smoothed the surface.
    pub(crate) kernel: Kernel,
    /// Whether the span counts from the axis of rotation, so that `z` is the radius.
    pub(crate) from_axis: bool,
}

impl LocalBlade {
    /// Finds the kernel that smoothed the surface, or takes the given one. `metres_per_unit`: metres in a file unit.
    pub(crate) fn with_kernel(mut self, plan: &MeasurePlan, metres_per_unit: f64) -> Self {
        self.kernel = match plan.kernel_m() {
            Some(given) => Kernel { deviation: given / metres_per_unit, u: 0.0 },
            None => {
                let seen = variogram(&self.mesh, &self.normals, &self.slices, self.span, self.edge);
                let mut chords: Vec<f64> = self.slices.iter().map(length).collect();
                kernel(&seen, self.edge, median(&mut chords), MOST_BELIEVED_M / metres_per_unit)
            }
        };
        self
    }

    /// The blade in right-handed span axes, with its sections turned so that the first end leads.
    /// `quick`: the sections on which the sides were decided; mesh, normals and sections in the axes before mirroring.
    pub(crate) fn new(
        mesh: CleanMesh,
        (mut normals, edge): (Vec<V3>, f64),
        quick: Vec<Slice>,
        sides: &Sides,
        span: (f64, f64),
    ) -> Self {
        let mirrored = sides.hand == Hand::Left;
        let mesh = if mirrored { mesh.map_vertices(|p| [-p[0], p[1], p[2]]) } else { mesh };
        let flip = |p: [f64; 2]| if mirrored { [-p[0], p[1]] } else { p };
        let mut slices = quick;
        for s in &mut slices {
            s.ends = s.ends.map(flip);
            s.middles = s.middles.map(flip);
            if !sides.first_leads {
                s.ends.swap(0, 1);
                s.seen.swap(0, 1);
                s.middles.swap(0, 1);
                s.open.swap(0, 1);
            }
        }
        if mirrored {
            normals.iter_mut().for_each(|n| n[0] = -n[0]);
        }
        Self { mesh, normals, mirrored, slices, edge, span, kernel: Kernel::default(), from_axis: false }
    }

    /// Says that the span counts from the axis of rotation.
    pub(crate) fn counted_from_axis(self) -> Self {
        Self { from_axis: true, ..self }
    }
}

/// Vertex normals (area-weighted) and the typical edge. Vertices that only repeat others, in a mesh whose flat triangles were split, have no normal: it is zero, and they are no points of
/// the scan. The edge is then that of the triangles before.
pub(crate) fn surface(mesh: &CleanMesh) -> (Vec<V3>, f64) {
    let (mut normals, edge) = parallel::join(|| normals_of(mesh), || typical_edge(mesh));
    let Some(repeated) = repeated(mesh) else { return (normals, edge) };
    normals.iter_mut().zip(&repeated).filter(|(_, repeated)| **repeated).for_each(|(n, _)| *n = [0.0; 3]);
    let kept = repeated.iter().filter(|repeated| !**repeated).count();
    let coarser = (repeated.len() as f64 / kept.max(1) as f64).sqrt();
    (normals, coarser * edge)
}

/// Whether a vertex is a point of the scan: see [`surface`].
pub(crate) fn is_point(normal: V3) -> bool {
    0.0 < dot(normal, normal)
}

/// Area of two equilateral triangles over the square of their edge, the square root of 3 over 2, rounded.
const PAIR_OF_TRIANGLES: f64 = 0.87;

pub(crate) fn typical_edge(mesh: &CleanMesh) -> f64 {
    let area: f64 = mesh.faces().iter().map(|f| norm(normal_of(mesh, f))).sum();
    (area / mesh.faces().len().max(1) as f64 / PAIR_OF_TRIANGLES).sqrt()
}

/// Normal of a triangle, twice its area long.
#[inline]
pub(crate) fn normal_of(mesh: &CleanMesh, [a, b, c]: &[u32; 3]) -> V3 {
    let [a, b, c] =
        [mesh.vertices()[*a as usize], mesh.vertices()[*b as usize], mesh.vertices()[*c as usize]];
    cross(sub(b, a), sub(c, a))
}

/// Area-weighted normals of the vertices.
pub(crate) fn normals_of(mesh: &CleanMesh) -> Vec<V3> {
    let mut normals = vec![[0.0; 3]; mesh.vertices().len()];
    for f in mesh.faces() {
        let n = normal_of(mesh, f);
        for &i in f {
            normals[i as usize] = add(normals[i as usize], n);
        }
    }
    normals
}
