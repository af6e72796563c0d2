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
