//! Velocities induced by straight vortex segments of unit circulation, and by lines of them on every blade. Lengths are in tip radii.

use nalgebra::Vector3;
use std::f64::consts::TAU;

pub(crate) type Vector = Vector3<f64>;

/// Below this product of distances a point lies on the line itself, and the induced velocity is zero.
const ON_LINE: f64 = 1e-14;
/// Least descent of a helix per radian beyond its last point.
const LEAST_DESCENT: f64 = 0.005;
/// Least length of a segment, squared.
const SHORTEST: f64 = 1e-20;

/// A vortex line with its core. It is evaluated at many points, so everything that depends on the line alone is stored.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    pub(crate) points: Vec<Vector>,
    /// Reciprocal squares of the lengths of the segments.
    per_square: Vec<f64>,
    core_fourth: f64,
    /// Height from which the helix continues to infinity, and its contribution to the stream inside over 4 pi.
    tail: Option<(f64, f64)>,
}

impl Line {
    pub(crate) fn new(points: Vec<Vector>, core: f64) -> Line {
        let square = |pair: &[Vector]| 1.0 / (pair[1] - pair[0]).norm_squared().max(SHORTEST);
        let per_square = points.windows(2).map(square).collect();
        Line { points, per_square, core_fourth: core.powi(4), tail: None }
    }

    /// The same line, continued to infinity beyond its last point as a helix with a descent per radian. From far away it is a semi-infinite solenoid. At its end
    /// this acts as a sink of the stream that continues inside.
    pub(crate) fn without_end(points: Vec<Vector>, core: f64, descent: f64) -> Line {
        let mut line = Line::new(points, core);
        if let Some(last) = line.points.last() {
            let stream = 0.5 * (last.x * last.x + last.z * last.z) / descent.min(-LEAST_DESCENT);
            line.tail = Some((last.y, stream / (2.0 * TAU)));
        }
        line
    }

    /// Velocity at a point induced by the segments from `first` up to but not including `end`.
    pub(crate) fn part(&self, at: &Vector, first: usize, end: usize) -> Vector {
        let mut sum = Vector::zeros();
        if end <= first {
            return sum;
        }
        let mut a = at - self.points[first];
        let mut far = a.norm();
        for k in first..end {
            let b = at - self.points[k + 1];
            let near = b.norm();
            sum += induced(&a, &b, far, near, self.per_square[k], self.core_fourth);
            (a, far) = (b, near);
        }
        sum / (2.0 * TAU)
    }

    /// Velocity induced by the whole line. If `own` is one of its points, the two segments that meet there are excluded.
    pub(crate) fn but(&self, at: &Vector, own: Option<usize>) -> Vector {
        let all = self.points.len() - 1;
        let mut sum = match own {
            None => self.part(at, 0, all),
            Some(k) => self.part(at, 0, k.max(1) - 1) + self.part(at, (k + 1).min(all), all),
        };
        if let Some((height, stream)) = self.tail {
            let away = Vector::new(at.x, at.y - height, at.z);
            sum += away * (stream / away.norm().powi(3));
        }
        sum
    }
}

/// Velocity, times 4 pi, induced by a segment whose ends lie at `-a` and `-b` from the point (Biot-Savart law: J. Katz, A. Plotkin, *Low-Speed Aerodynamics*,
/// 2nd edition 2001, section 10.4.5), with a smooth core (G. H. Vatistas, V. Kozel, W. C. Mih, Experiments in Fluids 11, 1991, exponent 2).
fn induced(a: &Vector, b: &Vector, far: f64, near: f64, per_square: f64, core_fourth: f64) -> Vector {
    let both = far * near;
    let product = both * (both + a.dot(b));
    if product.abs() < ON_LINE {
        return Vector::zeros();
    }
    let across = a.cross(b);
    let mut factor = (far + near) / product;
    if core_fourth > 0.0 {
        let squared = across.norm_squared() * per_square;
        factor *= squared / (squared * squared + core_fourth).sqrt();
    }
    across * factor
}

/// Velocity induced by one segment of unit circulation.
pub(crate) fn segment(from: &Vector, to: &Vector, at: &Vector, core_fourth: f64) -> Vector {
    let (a, b) = (at - from, at - to);
    let per_square = 1.0 / (to - from).norm_squared().max(SHORTEST);
    induced(&a, &b, a.norm(), b.norm(), per_square, core_fourth) / (2.0 * TAU)
}

/// The point of a blade's wake at a radius, a height and an age. The blade is along `z`, and flight is along `y`.
pub(crate) fn place(radius: f64, height: f64, age: f64) -> Vector {
    let (sin, cos) = age.sin_cos();
    Vector::new(-radius * sin, height, radius * cos)
}

/// Components of a velocity at an age: radial and in the direction of flight.
pub(crate) fn parts(v: &Vector, age: f64) -> [f64; 2] {
    let (sin, cos) = age.sin_cos();
    [v.z * cos - v.x * sin, v.y]
}

/// Sine and cosine of the angle from the first blade to each blade.
#[derive(Clone, Debug)]
pub(crate) struct Blades(Vec<(f64, f64)>);

impl Blades {
    pub(crate) fn new(count: u32) -> Blades {
        Blades((0..count).map(|k| (TAU * f64::from(k) / f64::from(count)).sin_cos()).collect())
    }

    pub(crate) fn len(&self) -> usize {
        self.0.len()
    }

    /// Sum of a velocity over the blades. `of` gives the velocity in the axes of one blade, from the point in the same axes and the number of the blade.
    pub(crate) fn sum(&self, at: &Vector, mut of: impl FnMut(&Vector, usize) -> Vector) -> Vector {
        let mut sum = Vector::zeros();
        for (k, (sin, cos)) in self.0.iter().enumerate() {
            let v = of(&turned(at, -sin, *cos), k);
            sum += turned(&v, *sin, *cos);
        }
        sum
    }
}

pub(crate) fn turned(v: &Vector, sin: f64, cos: f64) -> Vector {
    Vector::new(v.x * cos + v.z * sin, v.y, v.z * cos - v.x * sin)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The infinite straight vortex, `1/(2 pi r)`, right-handed about its direction (H. Lamb, *Hydrodynamics*, 6th edition 1932).
    #[test]
    fn a_long_line_is_the_plane_vortex() {
        let line = Line::new((-2000..=2000).map(|k| Vector::new(0.0, 0.0, f64::from(k))).collect(), 0.0);
        let v = line.but(&Vector::new(0.3, 0.4, 0.2), None);
        let expected = 1.0 / (TAU * 0.5);
        assert!((v.norm() / expected - 1.0).abs() < 1e-6, "{v}");
        assert!(v.dot(&Vector::new(-0.8, 0.6, 0.0)) > 0.999 * expected, "{v}");
    }

    /// Velocity on the axis of a ring, `r^2/(2 (r^2 + y^2)^1.5)` (H. Lamb, as above, section 161).
    #[test]
    fn a_ring_moves_the_air_on_its_axis() {
        let ring = Line::new((0..=720).map(|k| place(0.7, 0.0, TAU * f64::from(k) / 720.0)).collect(), 0.0);
        for y in [0.0_f64, 0.4, -1.3] {
            let v = ring.but(&Vector::new(0.0, y, 0.0), None);
            let expected = 0.49 / (2.0 * (0.49 + y * y).powf(1.5));
            assert!((v.y.abs() / expected - 1.0).abs() < 1e-4, "{v} {expected}");
        }
        // The vortex leaves the blade backwards. Its air moves down, against the direction of flight, which means thrust.
        assert!(ring.but(&Vector::zeros(), None).y < 0.0);
    }

    #[test]
    fn a_core_takes_the_middle_away_and_leaves_the_rest() {
        let points = vec![Vector::new(0.0, 0.0, -50.0), Vector::new(0.0, 0.0, 50.0)];
        let (thin, thick) = (Line::new(points.clone(), 0.0), Line::new(points, 0.1));
        let at = |line: &Line, x: f64| line.but(&Vector::new(x, 0.0, 0.0), None).norm();
        assert!(at(&thick, 1e-4) < 0.01 * at(&thin, 1e-4));
        assert!((at(&thick, 1.0) / at(&thin, 1.0) - 1.0).abs() < 1e-4);
        // Vatistas, exponent 2: at the core radius the velocity is that of a plane vortex over the square root of two.
        assert!((at(&thick, 0.1) / at(&thin, 0.1) - 0.5_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn blades_are_alike() {
        let line =
            Line::new((0..20).map(|k| place(0.9, -0.01 * f64::from(k), 0.2 * f64::from(k))).collect(), 0.0);
        let blades = Blades::new(3);
        let of = |at: &Vector| blades.sum(at, |p, _| line.but(p, None));
        let at = Vector::new(0.3, 0.1, 0.5);
        let (sin, cos) = (TAU / 3.0).sin_cos();
        let there = of(&turned(&at, sin, cos));
        assert!((there - turned(&of(&at), sin, cos)).norm() < 1e-12);
        assert_eq!(blades.len(), 3);
    }

    #[test]
    fn a_point_of_the_line_is_spared_its_own_segments() {
        let line =
            Line::new((0..6).map(|k| place(1.0, -0.1 * f64::from(k), 0.3 * f64::from(k))).collect(), 0.01);
        for own in 0..6 {
            let at = line.points[own];
            let others: Vector = (0..5)
                .filter(|s| *s != own && s + 1 != own)
                .map(|s| segment(&line.points[s], &line.points[s + 1], &at, 1e-8))
                .sum();
            assert!((line.but(&at, Some(own)) - others).norm() < 1e-12, "{own}");
        }
    }
}
