//! Points, vectors and maps that know which space they belong to.
//!
//! A scan's coordinates and blade axes in metres are both three numbers; mixing them must not compile.
//!
//! ```compile_fail,E0308
//! use bladeform_quantity::space::{Blade, Point, Scan};
//! fn radius_m(point: Point<Blade>) -> f64 {
//!     point.radius_m()
//! }
//! let scanned: Point<Scan> = Point::new(0.0, 0.0, 812.4);
//! radius_m(scanned); // A point of the scan is no point of the blade.
//! ```
//!
//! With the map between them it does:
//!
//! ```
//! use bladeform_quantity::space::{Blade, Map, Point, Scan};
//! // The scan is in millimetres and its y axis is the span.
//! let rotation = [[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]];
//! let map: Map<Scan, Blade> = Map::from_parts(0.001, rotation, [0.0, 0.0, 0.1]);
//! let tip = map.apply(Point::new(0.0, 900.0, 0.0));
//! assert_eq!(tip.radius_m(), 1.0);
//! ```

use crate::QuantityError;
use std::fmt;
use std::marker::PhantomData;
use std::ops::{Add, Neg, Sub};

/// The space of the scan as it stands in its file, in its own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scan {}

/// The axes of the blade, metres: `z` the radius, `y` towards flight, `x` towards where the blade moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Blade {}

/// A point of the space `S`.
#[derive(Clone, Copy, PartialEq)]
pub struct Point<S> {
    coords: [f64; 3],
    space: PhantomData<S>,
}

/// A difference of two points of the space `S`.
#[derive(Clone, Copy, PartialEq)]
pub struct Vector<S> {
    coords: [f64; 3],
    space: PhantomData<S>,
}

/// A similarity from `Src` to `Dst`: a rotation, perhaps with a reflection, one scale, and a translation.
#[derive(Clone, Copy, PartialEq)]
pub struct Map<Src, Dst> {
    scale: f64,
    /// Rows of an orthonormal matrix.
    rotation: [[f64; 3]; 3],
    translation: [f64; 3],
    spaces: PhantomData<(Src, Dst)>,
}

impl<S> Point<S> {
    /// The point with these coordinates, in the unit of the space.
    #[must_use]
    pub const fn new(x: f64, y: f64, z: f64) -> Point<S> {
        Point::from_coords([x, y, z])
    }

    /// The point with these coordinates, in the unit of the space.
    #[must_use]
    pub const fn from_coords(coords: [f64; 3]) -> Point<S> {
        Point { coords, space: PhantomData }
    }

    /// The coordinates, in the unit of the space.
    #[must_use]
    pub const fn coords(&self) -> [f64; 3] {
        self.coords
    }
}

impl Point<Blade> {
    /// The radius, m: the distance from the axis of rotation along the span.
    #[must_use]
    pub const fn radius_m(&self) -> f64 {
        self.coords[2]
    }
}

impl<S> Vector<S> {
    /// The vector with these coordinates, in the unit of the space.
    #[must_use]
    pub const fn new(x: f64, y: f64, z: f64) -> Vector<S> {
        Vector::from_coords([x, y, z])
    }

    /// The vector with these coordinates, in the unit of the space.
    #[must_use]
    pub const fn from_coords(coords: [f64; 3]) -> Vector<S> {
        Vector { coords, space: PhantomData }
    }

    /// The coordinates, in the unit of the space.
    #[must_use]
    pub const fn coords(&self) -> [f64; 3] {
        self.coords
    }

    /// The scalar product, in the unit of the space squared.
    #[must_use]
    pub fn dot(&self, other: &Vector<S>) -> f64 {
        dot(self.coords, other.coords)
    }

    /// The vector product, in the unit of the space squared.
    #[must_use]
    pub fn cross(&self, other: &Vector<S>) -> Vector<S> {
        let ([a, b, c], [d, e, f]) = (self.coords, other.coords);
        Vector::new(b * f - c * e, c * d - a * f, a * e - b * d)
    }

    /// The length, in the unit of the space.
    #[must_use]
    pub fn norm(&self) -> f64 {
        self.coords[0].hypot(self.coords[1]).hypot(self.coords[2])
    }

    /// The vector made longer by a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Vector<S> {
        Vector::from_coords(self.coords.map(|c| factor * c))
    }
}

impl<Src, Dst> Map<Src, Dst> {
    /// `scale * rotation * point + translation`.
    ///
    /// The rows of `rotation` are unit vectors at right angles, and `scale` is above 0: the caller's promise, on which
    /// [`Map::inverse`] rests. A determinant of -1 is a reflection. For numbers from a file use [`Map::from_row_major`].
    #[must_use]
    pub const fn from_parts(scale: f64, rotation: [[f64; 3]; 3], translation: [f64; 3]) -> Map<Src, Dst> {
        Map { scale, rotation, translation, spaces: PhantomData }
    }

    /// The map of a 4 x 4 matrix given by rows, checked to be a similarity.
    ///
    /// # Errors
    /// [`QuantityError::NotASimilarity`] when the last row is not `0 0 0 1`, a number is not finite, or the upper
    /// left part is not one scale times an orthonormal matrix within 1e-6 of the scale.
    pub fn from_row_major(matrix: &[[f64; 4]; 4]) -> Result<Map<Src, Dst>, QuantityError> {
        let fail = |reason| Err(QuantityError::NotASimilarity { reason });
        if !matrix.iter().flatten().all(|v| v.is_finite()) {
            return fail("a number is not finite");
        }
        let [a, b, c, one] = matrix[3];
        if !([a, b, c].iter().all(|v| *v == 0.0) && (one - 1.0).abs() <= f64::EPSILON) {
            return fail("the last row differs");
        }
        let linear = [0, 1, 2].map(|i| [matrix[i][0], matrix[i][1], matrix[i][2]]);
        let scale = determinant(linear).abs().cbrt();
        if !(scale > 0.0 && scale.is_finite()) {
            return fail("it has no volume");
        }
        let rotation = linear.map(|row| row.map(|v| v / scale));
        if !is_orthonormal(&rotation) {
            return fail("its axes are not of one length and at right angles");
        }
        Ok(Map::from_parts(scale, rotation, [matrix[0][3], matrix[1][3], matrix[2][3]]))
    }

    /// The image of a point.
    #[must_use]
    pub fn apply(&self, point: Point<Src>) -> Point<Dst> {
        let turned = self.turned(point.coords);
        Point::from_coords([0, 1, 2].map(|i| turned[i] + self.translation[i]))
    }

    /// The image of a vector: turned and scaled, not moved.
    #[must_use]
    pub fn apply_vector(&self, vector: Vector<Src>) -> Vector<Dst> {
        Vector::from_coords(self.turned(vector.coords))
    }

    /// The map the other way.
    #[must_use]
    pub fn inverse(&self) -> Map<Dst, Src> {
        let r = self.rotation;
        let transposed = [0, 1, 2].map(|i| [r[0][i], r[1][i], r[2][i]]);
        let back = transposed.map(|row| -dot(row, self.translation) / self.scale);
        Map::from_parts(1.0 / self.scale, transposed, back)
    }

    /// This map, then another.
    #[must_use]
    pub fn then<End>(&self, next: &Map<Dst, End>) -> Map<Src, End> {
        let r = self.rotation;
        let columns = [0, 1, 2].map(|j| [r[0][j], r[1][j], r[2][j]]);
        let rotation = next.rotation.map(|row| columns.map(|column| dot(row, column)));
        let translation = next.apply(Point::from_coords(self.translation)).coords();
        Map::from_parts(self.scale * next.scale, rotation, translation)
    }

    /// The 4 x 4 matrix by rows, for points as columns with 1 as fourth coordinate.
    #[must_use]
    pub fn to_row_major(&self) -> [[f64; 4]; 4] {
        let row = |i: usize| {
            let [a, b, c] = self.rotation[i].map(|v| self.scale * v);
            [a, b, c, self.translation[i]]
        };
        [row(0), row(1), row(2), [0.0, 0.0, 0.0, 1.0]]
    }

    /// The scale: units of `Dst` in one of `Src`.
    #[must_use]
    pub const fn scale(&self) -> f64 {
        self.scale
    }

    /// `1.0` for a map that keeps right hands right, `-1.0` for one that mirrors.
    #[must_use]
    pub fn determinant_sign(&self) -> f64 {
        if determinant(self.rotation) < 0.0 { -1.0 } else { 1.0 }
    }

    fn turned(&self, coords: [f64; 3]) -> [f64; 3] {
        self.rotation.map(|row| self.scale * dot(row, coords))
    }
}

impl<S> Map<S, S> {
    /// The map that changes nothing.
    #[must_use]
    pub const fn identity() -> Map<S, S> {
        Map::from_parts(1.0, [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], [0.0; 3])
    }
}

/// How far the products of rows of a matrix from a file may be from those of an orthonormal one: files by hand carry
/// seven digits or so.
const ORTHONORMAL_TOLERANCE: f64 = 1e-6;

fn is_orthonormal(rows: &[[f64; 3]; 3]) -> bool {
    let near = |i: usize, j: usize| {
        let expected = if i == j { 1.0 } else { 0.0 };
        (dot(rows[i], rows[j]) - expected).abs() <= ORTHONORMAL_TOLERANCE
    };
    (0..3).all(|i| (i..3).all(|j| near(i, j)))
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn determinant([a, b, c]: [[f64; 3]; 3]) -> f64 {
    a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
}

impl<S> Sub for Point<S> {
    type Output = Vector<S>;

    fn sub(self, other: Point<S>) -> Vector<S> {
        Vector::from_coords([0, 1, 2].map(|i| self.coords[i] - other.coords[i]))
    }
}

impl<S> Add<Vector<S>> for Point<S> {
    type Output = Point<S>;

    fn add(self, vector: Vector<S>) -> Point<S> {
        Point::from_coords([0, 1, 2].map(|i| self.coords[i] + vector.coords[i]))
    }
}

impl<S> Add for Vector<S> {
    type Output = Vector<S>;

    fn add(self, other: Vector<S>) -> Vector<S> {
        Vector::from_coords([0, 1, 2].map(|i| self.coords[i] + other.coords[i]))
    }
}

impl<S> Neg for Vector<S> {
    type Output = Vector<S>;

    fn neg(self) -> Vector<S> {
        self.scaled(-1.0)
    }
}

impl<S> fmt::Debug for Point<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Point").field(&self.coords).finish()
    }
}

impl<S> fmt::Debug for Vector<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Vector").field(&self.coords).finish()
    }
}

impl<Src, Dst> fmt::Debug for Map<Src, Dst> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Map").field(&self.to_row_major()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A rotation of an angle about `x` then of another about `z`, mirrored in `x` on request.
    fn rotation(about_x: f64, about_z: f64, mirrored: bool) -> [[f64; 3]; 3] {
        let ((sx, cx), (sz, cz)) = (about_x.sin_cos(), about_z.sin_cos());
        let m = if mirrored { -1.0 } else { 1.0 };
        [[m * cz, -sz * cx, sz * sx], [m * sz, cz * cx, -cz * sx], [0.0, sx, cx]]
    }

    fn any_map() -> impl Strategy<Value = Map<Scan, Blade>> {
        let shift = [-5.0_f64..5.0, -5.0..5.0, -5.0..5.0];
        (0.001_f64..100.0, -3.0_f64..3.0, -3.0_f64..3.0, any::<bool>(), shift).prop_map(
            |(scale, x, z, mirrored, shift)| Map::from_parts(scale, rotation(x, z, mirrored), shift),
        )
    }

    fn any_point() -> impl Strategy<Value = Point<Scan>> {
        [-10.0_f64..10.0, -10.0..10.0, -10.0..10.0].prop_map(Point::from_coords)
    }

    #[test]
    fn the_tag_costs_nothing() {
        assert_eq!(size_of::<Point<Scan>>(), size_of::<[f64; 3]>());
        assert_eq!(size_of::<Vector<Blade>>(), size_of::<[f64; 3]>());
        assert_eq!(size_of::<Map<Scan, Blade>>(), 13 * size_of::<f64>());
        assert_eq!(align_of::<Point<Scan>>(), align_of::<f64>());
    }

    #[test]
    fn vectors_multiply_as_usual() {
        let (x, y) = (Vector::<Blade>::new(2.0, 0.0, 0.0), Vector::new(0.0, 3.0, 0.0));
        assert_eq!(x.cross(&y), Vector::new(0.0, 0.0, 6.0));
        assert_eq!((x.dot(&y), (x + -y).norm()), (0.0, 13.0_f64.sqrt()));
    }

    #[test]
    fn what_is_no_similarity_is_refused() {
        let good =
            Map::<Scan, Blade>::from_parts(2.0, rotation(0.3, 0.7, false), [1.0, 2.0, 3.0]).to_row_major();
        assert!(Map::<Scan, Blade>::from_row_major(&good).is_ok());
        let spoilt: [fn(&mut [[f64; 4]; 4]); 5] = [
            |m| m[3][0] = 1.0,
            |m| m[1][1] = f64::NAN,
            |m| m[0] = [0.0; 4],
            |m| m[0][0] *= 1.01,
            |m| m[2] = m[1],
        ];
        for spoil in spoilt {
            let mut matrix = good;
            spoil(&mut matrix);
            let message = Map::<Scan, Blade>::from_row_major(&matrix).unwrap_err().to_string();
            assert!(message.contains("not a similarity"), "{message}");
        }
    }

    proptest! {
        #[test]
        fn there_and_back_is_where_it_was(map in any_map(), point in any_point()) {
            let back = map.inverse().apply(map.apply(point));
            prop_assert!((back - point).norm() < 1e-10 * (1.0 + 5.0 / map.scale()));
        }

        #[test]
        fn the_matrix_says_what_the_map_does(map in any_map(), point in any_point()) {
            let ([x, y, z], matrix) = (point.coords(), map.to_row_major());
            let rows = [0, 1, 2].map(|i| matrix[i][0] * x + matrix[i][1] * y + matrix[i][2] * z + matrix[i][3]);
            prop_assert!((map.apply(point) - Point::from_coords(rows)).norm() < 1e-10 * (1.0 + map.scale()));
            let read = Map::<Scan, Blade>::from_row_major(&matrix).unwrap();
            prop_assert!((read.apply(point) - map.apply(point)).norm() < 1e-10 * (1.0 + map.scale()));
        }

        #[test]
        fn one_map_after_another_is_one_map(first in any_map(), second in any_map(), point in any_point()) {
            let second = Map::<Blade, Scan>::from_parts(second.scale, second.rotation, second.translation);
            let (together, apart) = (first.then(&second).apply(point), second.apply(first.apply(point)));
            prop_assert!((together - apart).norm() < 1e-9 * (1.0 + first.scale() * second.scale()));
            let sign = first.determinant_sign() * second.determinant_sign();
            prop_assert!(first.then(&second).determinant_sign() * sign > 0.0);
        }

        #[test]
        fn lengths_grow_by_the_scale(map in any_map(), a in any_point(), b in any_point()) {
            let (before, after) = ((a - b).norm(), (map.apply(a) - map.apply(b)).norm());
            prop_assert!((after - map.scale() * before).abs() < 1e-9 * (1.0 + map.scale()));
            prop_assert!((map.apply_vector(a - b).norm() - after).abs() < 1e-9 * (1.0 + map.scale()));
        }
    }

    #[test]
    fn identity_keeps_a_point() {
        let point = Point::<Blade>::new(1.0, 2.0, 3.0);
        assert_eq!(Map::identity().apply(point), point);
    }
}
