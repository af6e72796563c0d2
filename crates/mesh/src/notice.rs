//! What a reader ignored or assumed: one code and one sentence each.

use std::fmt;

/// What a reader ignored or assumed in a file. None of it stops reading.
///
/// ```
/// use bladeform_mesh::ReadNotice;
/// let notice = ReadNotice::PointsOrLines { count: 1 };
/// assert_eq!(notice.code(), "points-ignored");
/// assert_eq!(notice.to_string(), "1 set of points or lines was ignored");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum ReadNotice {
    /// An ASCII STL file has no last `endsolid`.
    NoEnd,
    /// An STL file holds several solids.
    SeveralSolids {
        /// Their number.
        count: usize,
    },
    /// The header of a binary STL file counts no triangles, but the file holds some.
    CountOfZero {
        /// Number of triangles in the file.
        held: usize,
    },
    /// A binary STL file continues after its counted triangles.
    AfterTriangles {
        /// Triangles that the header counts.
        counted: u32,
        /// Bytes after them.
        bytes: usize,
        /// Number of whole triangles that these bytes could contain.
        room: usize,
    },
    /// Bytes after the end of the content.
    BytesAfter {
        /// Their number.
        bytes: usize,
    },
    /// A line of a PLY file has too many numbers.
    LongLine {
        /// The line, from 1.
        line: usize,
    },
    /// Lines after the last one counted in the header of a PLY file.
    LinesAfter {
        /// The last counted line, from 1.
        line: usize,
    },
    /// An element of a PLY file that is not part of the surface.
    Element {
        /// Its name, made safe for display.
        name: String,
        /// Number of its rows.
        rows: u64,
    },
    /// Properties of a PLY file that are not part of the surface.
    Properties {
        /// The element's name.
        element: String,
        /// Names of the properties, made safe for display.
        listed: String,
        /// Number of further properties.
        more: usize,
    },
    /// Faces with fewer than three corners.
    SmallFaces {
        /// Their number.
        count: usize,
    },
    /// Materials.
    Materials,
    /// Lines of an OBJ file with points, lines or free-form shapes.
    Shapes {
        /// Their number.
        count: usize,
    },
    /// Lines of an OBJ file with an unknown keyword.
    UnknownKeywords {
        /// Their number.
        count: usize,
        /// The first of them, from 1.
        first: usize,
    },
    /// Scenes of a GLB file other than the default.
    OtherScenes {
        /// Their number.
        count: usize,
    },
    /// Sets of points or lines in a GLB file.
    PointsOrLines {
        /// Their number.
        count: usize,
    },
    /// Corners of a GLB file that do not make a whole triangle.
    LooseCorners {
        /// Their number.
        count: usize,
    },
    /// Skins and morph targets of a GLB file.
    Deformations,
    /// Positions of a GLB file do not reach the bounds stated for them.
    WiderBounds {
        /// The first accessor of them.
        accessor: usize,
        /// Number of such accessors.
        count: usize,
    },
}

impl ReadNotice {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoEnd => "no-end-of-solid",
            Self::SeveralSolids { .. } => "several-solids",
            Self::CountOfZero { .. } => "count-of-zero",
            Self::AfterTriangles { .. } => "bytes-after-triangles",
            Self::BytesAfter { .. } => "bytes-after-content",
            Self::LongLine { .. } => "long-line",
            Self::LinesAfter { .. } => "lines-after-content",
            Self::Element { .. } => "element-ignored",
            Self::Properties { .. } => "properties-ignored",
            Self::SmallFaces { .. } => "small-faces",
            Self::Materials => "materials-ignored",
            Self::Shapes { .. } => "shapes-ignored",
            Self::UnknownKeywords { .. } => "unknown-keywords",
            Self::OtherScenes { .. } => "scenes-ignored",
            Self::PointsOrLines { .. } => "points-ignored",
            Self::LooseCorners { .. } => "corners-ignored",
            Self::Deformations => "deformations-ignored",
            Self::WiderBounds { .. } => "wider-bounds",
        }
    }
}

impl fmt::Display for ReadNotice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoEnd => f.write_str(
                "the file ends without `endsolid`; it may have been cut short, so check that the part is complete",
            ),
            Self::SeveralSolids { count } => {
                write!(f, "the {count} solids of the file were read as one mesh")
            }
            Self::CountOfZero { held } => {
                write!(f, "the header counts no triangles, but the file holds {held}, which were read")
            }
            Self::AfterTriangles { counted, bytes, room } => write!(
                f,
                "after the {counted} {} that the header counts, {bytes} {} (room for {room} more) {} ignored; check that the part is complete",
                of(*counted as usize, "triangle", "triangles"),
                of(*bytes, "byte", "bytes"),
                of(*bytes, "was", "were")
            ),
            Self::BytesAfter { bytes } => write!(
                f,
                "the last {} after the end of the content {} ignored",
                counted(*bytes, "byte", "bytes"),
                of(*bytes, "was", "were")
            ),
            Self::LongLine { line } => {
                write!(f, "line {line} holds more numbers than the header declares; the rest of it was ignored")
            }
            Self::LinesAfter { line } => {
                write!(f, "the lines after line {line}, the last that the header counts, were ignored")
            }
            Self::Element { name, rows } => {
                write!(f, "the element {name} ({}) was ignored", counted(*rows as usize, "row", "rows"))
            }
            Self::Properties { element, listed, more: 0 } => {
                write!(f, "these properties of the element `{element}` were ignored: {listed}")
            }
            Self::Properties { element, listed, more } => {
                write!(f, "these properties of the element `{element}` were ignored: {listed} and {more} more")
            }
            Self::SmallFaces { count } => write!(
                f,
                "{} with fewer than three corners {} skipped",
                counted(*count, "face", "faces"),
                of(*count, "was", "were")
            ),
            Self::Materials => f.write_str("the materials of the file were ignored"),
            Self::Shapes { count } => write!(
                f,
                "{} with points, lines or free-form shapes {} ignored",
                counted(*count, "line", "lines"),
                of(*count, "was", "were")
            ),
            Self::UnknownKeywords { count, first } => write!(
                f,
                "{} with an unknown keyword, from line {first} on, {} ignored",
                counted(*count, "line", "lines"),
                of(*count, "was", "were")
            ),
            Self::OtherScenes { count } => write!(
                f,
                "only the default scene was read; {} {} ignored",
                counted(*count, "other scene", "other scenes"),
                of(*count, "was", "were")
            ),
            Self::PointsOrLines { count } => write!(
                f,
                "{} of points or lines {} ignored",
                counted(*count, "set", "sets"),
                of(*count, "was", "were")
            ),
            Self::LooseCorners { count } => write!(
                f,
                "{} that {} no whole triangle {} ignored",
                counted(*count, "corner", "corners"),
                of(*count, "makes", "make"),
                of(*count, "was", "were")
            ),
            Self::Deformations => {
                f.write_str("bones and shape blends were ignored: the mesh was read in its rest shape")
            }
            Self::WiderBounds { accessor, count } => write!(
                f,
                "the positions of {} (the first is number {accessor}) do not reach the `min` and `max` stated for them. Points are missing or wrong if the byte offset is wrong; the shape is right if the bounds are those of a greater scene. Compare size and picture with the scan, and export it again if they differ",
                counted(*count, "accessor", "accessors")
            ),
        }
    }
}

/// The singular or the plural word.
const fn of(count: usize, one: &'static str, several: &'static str) -> &'static str {
    if count == 1 { one } else { several }
}

/// The count and its noun.
fn counted(count: usize, one: &str, several: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { several })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_and_several_agree_with_their_verbs() {
        assert_eq!(
            ReadNotice::SmallFaces { count: 1 }.to_string(),
            "1 face with fewer than three corners was skipped"
        );
        assert_eq!(
            ReadNotice::SmallFaces { count: 2 }.to_string(),
            "2 faces with fewer than three corners were skipped"
        );
        assert_eq!(
            ReadNotice::LooseCorners { count: 1 }.to_string(),
            "1 corner that makes no whole triangle was ignored"
        );
        assert_eq!(
            ReadNotice::OtherScenes { count: 3 }.to_string(),
            "only the default scene was read; 3 other scenes were ignored"
        );
    }
}
