//! Axes of a part in the scan, the vector algebra that they need, and the median.

pub(crate) use bladeform_numeric::vector::{V3, add, cross, dot, norm, scale, sub, unit};

/// A median absolute deviation as a standard deviation of normal errors.
pub(crate) const NORMAL_MAD: f64 = 1.4826;

/// The middle one of some numbers, the upper of two; 0 of none. Their order is changed.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    let half = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(half, f64::total_cmp).1 }
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
