//! A plane with a thickness in a scan, and how it is fitted and searched for.

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::moments::MomentSum;

/// Minimum fraction of a piece's area for a plane to be a bench merged with the part.
pub(crate) const BENCH_SHARE: f64 = 0.15;

/// Maximum half-thickness of a plane, as a fraction of the extent of the piece.
pub(crate) const BAND_PER_EXTENT: f64 = 0.01;

/// Cosine of the maximum angle (78 degrees) between the normal of a plane and that of a triangle in it, which is noisy: noise of half an edge
/// length tilts it by 45 degrees.
pub(crate) const FACE_ALIGNMENT: f64 = 0.2;

/// Number of regions along the extent of a piece when it is averaged for plane detection.
pub(crate) const REGIONS: f64 = 64.0;

/// Rounds of fitting. The band converges in two or three.
pub(crate) const FIT_ROUNDS: usize = 4;

/// A plane with a thickness, in coordinates relative to the centre of the mesh. The normal points to the side that its triangles face.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plane {
    pub(crate) normal: Vector3<f64>,
    offset: f64,
    /// Half-thickness.
    pub(crate) band: f64,
}

impl Plane {
    /// The plane through a point.
    pub(crate) fn through(point: Vector3<f64>, normal: Vector3<f64>, band: f64) -> Self {
        Self { normal, offset: normal.dot(&point), band }
    }

    /// Least-squares plane of the sums, and its standard deviation.
    pub(crate) fn fitted(sum: &MomentSum, band: f64) -> (Self, f64) {
        let spread = sum.spread();
        let axis = spread.axes[2];
        let normal = if axis.dot(&sum.vector_area) < 0.0 { -axis } else { axis };
        (Self { normal, offset: normal.dot(&sum.centroid()), band }, spread.variances[2].sqrt())
    }

    pub(crate) fn height(&self, p: Vector3<f64>) -> f64 {
        self.normal.dot(&p) - self.offset
    }

    pub(crate) fn holds_face(&self, corners: [Vector3<f64>; 3]) -> bool {
        corners.iter().all(|&p| self.height(p).abs() <= self.band) && self.facing(corners) >= FACE_ALIGNMENT
    }

    /// Cosine of the angle between plane and triangle.
    pub(crate) fn facing(&self, [a, b, c]: [Vector3<f64>; 3]) -> f64 {
        (b - a).cross(&(c - a)).normalize().dot(&self.normal)
    }

    pub(crate) fn turned(self) -> Self {
        Self { normal: -self.normal, offset: -self.offset, ..self }
    }
}

/// Planes and regions are relative to the centre of the mesh, so that rounding far from the origin has no effect.
#[inline]
pub(crate) fn from_centre(mesh: &CleanMesh, [a, b, c]: [Vector3<f64>; 3]) -> [Vector3<f64>; 3] {
    let centre = mesh.centre();
    [a - centre, b - centre, c - centre]
}
