//! Small vectors as arrays: sums, products, lengths, distances.
//!
//! The order of every sum is fixed, first component first, so that figures do not change by a rounding.
//!
//! ```
//! use bladeform_numeric::vector::{cross, dot, norm, sub};
//! let (u, v) = (sub([1.0, 2.0, 3.0], [0.0, 2.0, 3.0]), [0.0, 4.0, 0.0]);
//! assert_eq!((dot(u, v), cross(u, v), norm(v)), (0.0, [0.0, 0.0, 4.0], 4.0));
//! ```

/// A vector or a point in space.
pub type V3 = [f64; 3];

/// The sum of two vectors.
#[inline]
#[must_use]
pub fn add<const N: usize>(a: [f64; N], b: [f64; N]) -> [f64; N] {
    std::array::from_fn(|k| a[k] + b[k])
}

/// The first vector less the second.
#[inline]
#[must_use]
pub fn sub<const N: usize>(a: [f64; N], b: [f64; N]) -> [f64; N] {
    std::array::from_fn(|k| a[k] - b[k])
}

/// A vector times a number.
#[inline]
#[must_use]
pub fn scale<const N: usize>(a: [f64; N], factor: f64) -> [f64; N] {
    std::array::from_fn(|k| a[k] * factor)
}

/// The scalar product.
#[inline]
#[must_use]
pub fn dot<const N: usize>(a: [f64; N], b: [f64; N]) -> f64 {
    (1..N).fold(a[0] * b[0], |sum, k| sum + a[k] * b[k])
}

/// The length of a vector. Squares of metres and chords neither overflow nor underflow; `hypot` guards against both at ten
/// times the cost.
#[inline]
#[must_use]
pub fn norm<const N: usize>(a: [f64; N]) -> f64 {
    dot(a, a).sqrt()
}

/// The distance of two points.
#[inline]
#[must_use]
pub fn distance<const N: usize>(a: [f64; N], b: [f64; N]) -> f64 {
    norm(sub(a, b))
}

/// The distance of two points of a plane, exact also where the square of a difference would underflow.
#[inline]
#[must_use]
pub fn distance_hypot(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The vector product.
#[inline]
#[must_use]
pub fn cross(a: V3, b: V3) -> V3 {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// The third component of the vector product of two vectors in the plane: positive if the second is to the left of the first.
#[inline]
#[must_use]
pub fn cross_in_plane(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

/// A vector in the plane, a quarter turn anticlockwise.
#[inline]
#[must_use]
pub fn left(a: [f64; 2]) -> [f64; 2] {
    [-a[1], a[0]]
}

/// The vector of length 1 in the direction of another; zero for a vector without length.
#[inline]
#[must_use]
pub fn unit(a: V3) -> V3 {
    scale(a, 1.0 / norm(a).max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_are_those_of_the_axes() {
        let [x, y, z] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        assert_eq!([cross(x, y), cross(y, z), cross(z, x)], [z, x, y]);
        assert_eq!(cross_in_plane([1.0, 0.0], left([1.0, 0.0])).to_bits(), 1.0_f64.to_bits());
        assert!(distance(left([3.0, 4.0]), [-4.0, 3.0]) < 1e-15);
        assert!(distance(add(scale(x, 2.0), sub(y, z)), [2.0, 1.0, -1.0]) < 1e-15);
    }

    #[test]
    fn lengths_and_distances_are_those_of_pythagoras() {
        assert!((norm([2.0, 3.0, 6.0]) - 7.0).abs() < 1e-15);
        assert!((distance([1.0, 1.0, 1.0], [3.0, 4.0, 7.0]) - 7.0).abs() < 1e-15);
        assert!((distance_hypot([1e-200, 0.0], [4e-200, 4e-200]) / 5e-200 - 1.0).abs() < 1e-15);
        assert!(distance(unit([0.0, -0.5, 0.0]), [0.0, -1.0, 0.0]) < 1e-15);
        assert!(norm(unit([0.0; 3])) < 1e-15);
    }

    #[test]
    fn sums_begin_with_the_first_component() {
        let (a, b) = ([0.1, 1e16, -1e16], [1.0; 3]);
        assert_eq!(dot(a, b).to_bits(), ((0.1 + 1e16) - 1e16_f64).to_bits());
    }
}
