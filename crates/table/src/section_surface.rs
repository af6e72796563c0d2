//! On what the sections of a table are cut: planes across the span, or cylinders about the axis of rotation.

/// The surface of one section. Drawings of ship's screws show sections on cylinders (ISO 484-1; ITTC Recommended Procedure 7.5-01-02-01, 2008), those of aircraft propellers on planes (common practice, no source).
///
/// ```
/// use bladeform_table::SectionSurface;
/// let on_cylinder = SectionSurface::Cylinder;
/// // A quarter of a turn at 2 m: the arc is as long as a quarter of the circle.
/// let flat = on_cylinder.flat([2.0, 0.3, 0.0]);
/// assert!((flat[0] - std::f64::consts::PI).abs() < 1e-12 && flat[1] == 0.3 && (flat[2] - 2.0).abs() < 1e-12);
/// let back = on_cylinder.placed(flat);
/// assert!((back[0] - 2.0).abs() < 1e-12 && back[2].abs() < 1e-12);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SectionSurface {
    /// The plane `z = r`, perpendicular to the span.
    #[default]
    Plane,
    /// The cylinder of radius `r` about the axis of rotation, developed: the abscissa is the arc `r theta`, the ordinate the height `y`.
    Cylinder,
}

impl SectionSurface {
    /// Both, in the order of help and documents.
    pub const ALL: [Self; 2] = [Self::Plane, Self::Cylinder];

    /// The word of options and files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Plane => "plane",
            Self::Cylinder => "cylinder",
        }
    }

    /// The surface of a word of options and files; `None` if it is none.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.key() == word)
    }

    /// The words for people.
    #[must_use]
    pub const fn shown(self) -> &'static str {
        match self {
            Self::Plane => "planes across the span",
            Self::Cylinder => "cylinders about the axis of rotation, developed",
        }
    }

    /// A point in blade axes laid flat, any unit of length: its place in the section (`x`, `y`), and the radius of that section. On a plane the point itself. On a cylinder `x` is the arc from the span
    /// axis. The map keeps volumes, and the sense of triangles.
    #[must_use]
    pub fn flat(self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Plane => [x, y, z],
            Self::Cylinder => {
                let radius = x.hypot(z);
                [radius * x.atan2(z), y, radius]
            }
        }
    }

    /// The point in blade axes of a place in a section; the inverse of [`Self::flat`].
    #[must_use]
    pub fn placed(self, [x, y, radius]: [f64; 3]) -> [f64; 3] {
        match self {
            Self::Cylinder if 0.0 < radius => {
                let (sin, cos) = (x / radius).sin_cos();
                [radius * sin, y, radius * cos]
            }
            _ => [x, y, radius],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Every point of the helicoid `y = P theta / 2 pi` at one radius lies on one straight line of the developed section, and its slope gives the pitch.
    #[test]
    fn a_true_helicoid_has_its_pitch_at_every_radius() {
        const PITCH_M: f64 = 0.9;
        for r in [0.05, 0.1, 0.35, 0.5] {
            let at = |theta: f64| {
                SectionSurface::Cylinder.flat([r * theta.sin(), PITCH_M * theta / TAU, r * theta.cos()])
            };
            let [a, b] = [-0.9, 1.1].map(at);
            let slope = (b[1] - a[1]) / (b[0] - a[0]);
            assert!((TAU * r * slope / PITCH_M - 1.0).abs() < 1e-12);
            let c = at(0.3);
            assert!((c[1] - a[1] - slope * (c[0] - a[0])).abs() < 1e-15 && (c[2] - r).abs() < 1e-15);
        }
    }

    #[test]
    fn laying_flat_keeps_volumes_and_the_sense_of_triangles() {
        let at = [0.11, 0.02, 0.27];
        let h = 1e-6;
        let d = |k: usize| {
            let [mut low, mut high] = [at; 2];
            (low[k], high[k]) = (low[k] - h, high[k] + h);
            let [low, high] = [low, high].map(|p| SectionSurface::Cylinder.flat(p));
            [0, 1, 2].map(|i| (high[i] - low[i]) / (2.0 * h))
        };
        let [a, b, c] = [d(0), d(1), d(2)];
        let det = a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0]);
        assert!((det - 1.0).abs() < 1e-6, "{det}");
    }
}
