//! Area, volume, centroids and second moments of a surface, exact for its triangles.

use nalgebra::{Matrix3, SymmetricEigen, Vector3};

use crate::CleanMesh;
use bladeform_numeric::parallel::{self, GROUP_STEP};

/// Number of triangles summed before their sum is added to the total. It keeps the rounding error of millions of terms at that of thousands.
const BLOCK: usize = GROUP_STEP;

/// A volume below this fraction of `area^1.5` is only rounding error and has no centroid.
const VOLUME_FLOOR: f64 = 1e-12;

/// Integrals over a surface, in powers of the file unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Moments {
    /// Surface area.
    pub area: f64,
    /// Enclosed volume by the divergence theorem, relative to the centre of the box if the surface is open. Positive for
    /// triangles wound anticlockwise seen from outside.
    pub volume: f64,
    /// Centroid of the surface.
    pub area_centroid: [f64; 3],
    /// Centroid of the enclosed solid; `None` if the volume is only rounding error. Not meaningful for an open surface.
    pub volume_centroid: Option<[f64; 3]>,
    /// Integral of `(p - c)(p - c)^T dA` about the area centroid `c`, rows of a symmetric 3 x 3.
    pub area_second_moment: [[f64; 3]; 3],
    /// Unit principal axes of the area, largest spread first, right-handed. The sign of an axis is arbitrary: the first two
    /// have a positive largest coordinate.
    pub principal_axes: [[f64; 3]; 3],
    /// Mean squared distance of the area from its centroid along each principal axis.
    pub principal_variances: [f64; 3],
}

/// Moments of the whole mesh, exact for flat triangles.
///
/// Coordinates are relative to the centre of the bounding box, so that a mesh far from its origin loses no digits.
#[must_use]
pub fn moments(mesh: &CleanMesh) -> Moments {
    let reference = mesh.centre();
    let of_block = |block: &[[u32; 3]]| {
        let mut sum = MomentSum::default();
        for face in block {
            let [a, b, c] = mesh.corners(*face);
            sum.add_triangle([a - reference, b - reference, c - reference]);
        }
        sum
    };
    let sums = parallel::groups(mesh.faces().len(), |group| {
        mesh.faces()[group].chunks(BLOCK).map(of_block).collect::<Vec<_>>()
    });
    let mut total = MomentSum::default();
    sums.iter().flatten().for_each(|sum| total.add(sum));
    let spread = total.spread();
    let centroid = total.centroid() + reference;
    let real_volume = total.volume.abs() > VOLUME_FLOOR * total.area.powf(1.5);
    let volume_centroid = real_volume.then(|| (total.volume_first / total.volume + reference).into());
    Moments {
        area: total.area,
        volume: total.volume,
        area_centroid: centroid.into(),
        volume_centroid,
        area_second_moment: rows(&total.central_second()),
        principal_axes: spread.axes.map(Into::into),
        principal_variances: spread.variances,
    }
}

/// A matrix as an array of its rows.
pub(crate) fn rows(m: &Matrix3<f64>) -> [[f64; 3]; 3] {
    [0, 1, 2].map(|row| [0, 1, 2].map(|column| m[(row, column)]))
}

/// Principal axes and variances, largest first.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spread {
    pub(crate) axes: [Vector3<f64>; 3],
    pub(crate) variances: [f64; 3],
}

/// Rows and columns of the stored entries of a symmetric matrix.
const ENTRIES: [(usize, usize); 6] = [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)];

/// Accumulated integrals over triangles, relative to a reference point that the caller has subtracted.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct MomentSum {
    pub(crate) area: f64,
    /// Integral of the unit normal: zero for a closed surface.
    pub(crate) vector_area: Vector3<f64>,
    pub(crate) first: Vector3<f64>,
    /// Integral of `p p^T`: xx, xy, xz, yy, yz, zz.
    pub(crate) second: [f64; 6],
    pub(crate) volume: f64,
    pub(crate) volume_first: Vector3<f64>,
}

impl MomentSum {
    #[inline]
    pub(crate) fn add_triangle(&mut self, [a, b, c]: [Vector3<f64>; 3]) {
        let normal = (b - a).cross(&(c - a)) * 0.5;
        let area = normal.norm();
        let sum = a + b + c;
        self.area += area;
        self.vector_area += normal;
        self.first += sum * (area / 3.0);
        let share = area / 12.0;
        let product = |i: usize, j: usize| a[i] * a[j] + b[i] * b[j] + c[i] * c[j] + sum[i] * sum[j];
        for (entry, (i, j)) in self.second.iter_mut().zip(ENTRIES) {
            *entry += product(i, j) * share;
        }
        let volume = a.dot(&normal) / 3.0;
        self.volume += volume;
        self.volume_first += sum * (volume / 4.0);
    }

    pub(crate) fn add(&mut self, other: &Self) {
        self.area += other.area;
        self.vector_area += other.vector_area;
        self.first += other.first;
        self.second.iter_mut().zip(other.second).for_each(|(own, other)| *own += other);
        self.volume += other.volume;
        self.volume_first += other.volume_first;
    }

    /// Area centroid, relative to the reference; the reference itself if there is no area.
    pub(crate) fn centroid(&self) -> Vector3<f64> {
        if self.area > 0.0 { self.first / self.area } else { Vector3::zeros() }
    }

    pub(crate) fn central_second(&self) -> Matrix3<f64> {
        let c = self.centroid();
        let [xx, xy, xz, yy, yz, zz] = self.second;
        Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz) - c * c.transpose() * self.area
    }

    /// Volume by the divergence theorem relative to the centroid of the sum: the same for every reference, also for an open surface.
    pub(crate) fn volume_about_centroid(&self) -> f64 {
        self.volume - self.centroid().dot(&self.vector_area) / 3.0
    }

    pub(crate) fn spread(&self) -> Spread {
        let eigen = SymmetricEigen::new(self.central_second());
        let mut order = [0, 1, 2];
        order.sort_by(|&i, &j| eigen.eigenvalues[j].total_cmp(&eigen.eigenvalues[i]));
        let [first, second] =
            [order[0], order[1]].map(|i| facing_forward(eigen.eigenvectors.column(i).into()));
        let scale = if self.area > 0.0 { 1.0 / self.area } else { 0.0 };
        Spread {
            axes: [first, second, first.cross(&second)],
            // Because of rounding the smallest one may be slightly below zero.
            variances: order.map(|i| (eigen.eigenvalues[i] * scale).max(0.0)),
        }
    }
}

/// The axis or its opposite, whichever has a positive largest coordinate.
fn facing_forward(axis: Vector3<f64>) -> Vector3<f64> {
    if axis[axis.iamax()] < 0.0 { -axis } else { axis }
}
