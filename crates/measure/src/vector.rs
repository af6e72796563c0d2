//! The little vector algebra that axes need, and the median.

pub(crate) type V3 = [f64; 3];

pub(crate) fn dot(a: V3, b: V3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
pub(crate) fn cross(a: V3, b: V3) -> V3 {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}
pub(crate) fn sub(a: V3, b: V3) -> V3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}
pub(crate) fn add(a: V3, b: V3) -> V3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}
pub(crate) fn scale(a: V3, k: f64) -> V3 {
    [a[0] * k, a[1] * k, a[2] * k]
}
pub(crate) fn norm(a: V3) -> f64 {
    dot(a, a).sqrt()
}
/// The middle one of some numbers, the upper of two; 0 of none. Their order is changed.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    let half = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(half, f64::total_cmp).1 }
}
pub(crate) fn unit(a: V3) -> V3 {
    scale(a, 1.0 / norm(a).max(f64::MIN_POSITIVE))
}

/// Span axes of a part in the scan's coordinates: local = rows * (point - origin), in file units; `rows[2]` runs along the span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Axes {
    pub(crate) origin: V3,
    pub(crate) rows: [V3; 3],
}

impl Axes {
    /// Axes with a given span direction; the other two are whatever is stable: `hint` is made perpendicular and becomes the second.
    pub(crate) fn along(origin: V3, span: V3, hint: V3) -> Self {
        let w = unit(span);
        let v = unit(sub(hint, scale(w, dot(hint, w))));
        Self { origin, rows: [cross(v, w), v, w] }
    }
    pub(crate) fn local(&self, p: V3) -> V3 {
        let d = sub(p, self.origin);
        [dot(self.rows[0], d), dot(self.rows[1], d), dot(self.rows[2], d)]
    }
    /// A local point in the scan's coordinates.
    pub(crate) fn scan(&self, p: V3) -> V3 {
        (0..3).fold(self.origin, |s, k| add(s, scale(self.rows[k], p[k])))
    }
    /// A local direction in the scan's coordinates.
    pub(crate) fn scan_direction(&self, d: V3) -> V3 {
        (0..3).fold([0.0; 3], |s, k| add(s, scale(self.rows[k], d[k])))
    }
}
