//! PLY: a text header that declares elements and their properties, then their rows as text or binary.

use super::ply_body::{BinaryRows, Fault, Rows, TextRows};
use super::ply_header::{Element, Header, Property, PropertyKind};
use super::polygon::{note_too_few, push_fan, push_strip};
use super::stl_binary::corners_of;
use super::text::quoted;
use crate::notice::ReadNotice;
use crate::read_mesh::{MeshFormat, ReadMesh};
use crate::{RawMesh, ReadError};
use std::io::{self, BufWriter, Write};

/// Names that programs use for the corners of a face.
const CORNER_LISTS: [&str; 2] = ["vertex_indices", "vertex_index"];
const AXES: [&str; 3] = ["x", "y", "z"];
/// Maximum number of ignored properties named in a notice. The rest is only counted.
const LISTED_NAMES: usize = 8;
/// Ends one strip and begins the next within the list of element `tristrips`.
const STRIP_END: f64 = -1.0;

/// Reads elements `vertex`, `face` and `tristrips`, and skips all others.
pub(super) fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let header = Header::read(bytes)?;
    match header.format {
        MeshFormat::PlyBinaryLittleEndian => read_body(&header, BinaryRows::<false>::new(bytes, &header)),
        MeshFormat::PlyBinaryBigEndian => read_body(&header, BinaryRows::<true>::new(bytes, &header)),
        _ => read_body(&header, TextRows::new(bytes, &header)),
    }
}

/// Writes a binary (little-endian) PLY file: coordinates as `float` if that loses nothing, otherwise as `double`.
///
/// # Errors
/// Errors of `out`; `InvalidInput` if a face refers to a missing vertex.
pub fn write_ply_binary(mesh: &RawMesh, out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    let is_single = fits_single(mesh);
    write_header(mesh, "binary_little_endian", is_single, &mut out)?;
    for coordinate in mesh.vertices.as_flattened() {
        match is_single {
            true => out.write_all(&(*coordinate as f32).to_le_bytes())?,
            false => out.write_all(&coordinate.to_le_bytes())?,
        }
    }
    for face in &mesh.faces {
        corners_of(mesh, *face)?;
        out.write_all(&[3])?;
        for index in face {
            out.write_all(&index.to_le_bytes())?;
        }
    }
    out.flush()
}

/// Writes an ASCII PLY file with the shortest decimals that read back to the same double-precision numbers.
///
/// # Errors
/// Errors of `out`; `InvalidInput` if a face refers to a missing vertex.
pub fn write_ply_ascii(mesh: &RawMesh, out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    write_header(mesh, "ascii", fits_single(mesh), &mut out)?;
    for [x, y, z] in &mesh.vertices {
        writeln!(out, "{x:?} {y:?} {z:?}")?;
    }
    for face in &mesh.faces {
        corners_of(mesh, *face)?;
        let [a, b, c] = face;
        writeln!(out, "3 {a} {b} {c}")?;
    }
    out.flush()
}

fn write_header(mesh: &RawMesh, encoding: &str, is_single: bool, out: &mut impl Write) -> io::Result<()> {
    let (n_vertices, n_faces) = (mesh.vertices.len(), mesh.faces.len());
    let number = if is_single { "float" } else { "double" };
    // Most readers support only `int` indices. They are used as long as they can count the vertices.
    let index = if i32::try_from(n_vertices).is_ok() { "int" } else { "uint" };
    writeln!(out, "ply\nformat {encoding} 1.0\nelement vertex {n_vertices}")?;
    for axis in AXES {
        writeln!(out, "property {number} {axis}")?;
    }
    writeln!(out, "element face {n_faces}\nproperty list uchar {index} {}\nend_header", CORNER_LISTS[0])
}

fn fits_single(mesh: &RawMesh) -> bool {
    let is_single = |x: &f64| x.is_nan() || f64::from(*x as f32).to_bits() == x.to_bits();
    mesh.vertices.as_flattened().iter().all(is_single)
}

fn read_body<R: Rows>(header: &Header, rows: R) -> Result<ReadMesh, ReadError> {
    let n_vertices = header.elements.iter().find(|element| element.name == "vertex").map_or(0, |e| e.count);
    let mut body =
        Body { header, rows, n_vertices, mesh: RawMesh::default(), n_too_few: 0, notes: Vec::new() };
    for element in &header.elements {
        body.element(element)?;
    }
    note_too_few(body.n_too_few, &mut body.notes);
    body.rows.note_rest(&mut body.notes);
    Ok(ReadMesh {
        format: header.format,
        triangles_in_file: body.mesh.faces.len(),
        vertices_in_file: body.mesh.vertices.len(),
        welded_on_reading: 0,
        mesh: body.mesh,
        notes: body.notes,
    })
}

struct Body<'a, R> {
    header: &'a Header,
    rows: R,
    /// Number of vertices in the header. Faces may come before the vertices.
    n_vertices: u64,
    mesh: RawMesh,
    n_too_few: usize,
    notes: Vec<ReadNotice>,
}

/// A property and how it is used.
type Planned<P> = (PropertyKind, P);

/// The list that is read from a row of `face` or `tristrips`.
#[derive(Clone, Copy, PartialEq)]
enum Corners {
    Polygon,
    Strips,
}

impl<R: Rows> Body<'_, R> {
    fn element(&mut self, element: &Element) -> Result<(), ReadError> {
        match element.name.as_str() {
            _ if element.count == 0 => Ok(()),
            "vertex" => self.vertices(element),
            "face" => self.faces(element, Corners::Polygon),
            "tristrips" => self.faces(element, Corners::Strips),
            // Rows without properties take no space, so there is nothing to skip, whatever their number.
            _ if element.properties.is_empty() => Ok(()),
            _ => self.pass_over(element),
        }
    }

    fn vertices(&mut self, element: &Element) -> Result<(), ReadError> {
        let axis_of = |property: &Property| AXES.iter().position(|axis| *axis == property.name);
        let plan: Vec<Planned<Option<usize>>> =
            element.properties.iter().map(|p| (p.kind, axis_of(p).filter(|_| is_scalar(p.kind)))).collect();
        for (i, axis) in AXES.iter().enumerate() {
            if plan.iter().filter(|(_, planned)| *planned == Some(i)).count() != 1 {
                return Err(self.not_declared(format!("vertices without one property `{axis}`")));
            }
        }
        let rest = element.properties.iter().filter(|p| axis_of(p).is_none());
        self.note_properties("vertex", rest);
        if u64::from(u32::MAX) <= element.count {
            let what = "it counts more vertices than 4,294,967,294".into();
            return Err(ReadError::TooLarge { format: self.header.format, what });
        }
        self.mesh.vertices.reserve_exact(self.rows_that_fit(element));
        for row in 0..element.count {
            let vertex = self.vertex(&plan).map_err(|fault| self.fault(fault, element, row))?;
            self.mesh.vertices.push(vertex);
        }
        Ok(())
    }

    #[inline]
    fn vertex(&mut self, plan: &[Planned<Option<usize>>]) -> Result<[f64; 3], Fault> {
        let mut vertex = [0.0; 3];
        self.rows.begin_row()?;
        for (kind, axis) in plan {
            match (*kind, *axis) {
                (PropertyKind::Scalar(scalar), Some(axis)) => vertex[axis] = self.rows.number(scalar)?,
                _ => self.skip(*kind)?,
            }
        }
        Ok(vertex)
    }

    fn faces(&mut self, element: &Element, corners: Corners) -> Result<(), ReadError> {
        let is_corners = |p: &Property| CORNER_LISTS.contains(&p.name.as_str()) && !is_scalar(p.kind);
        let plan: Vec<Planned<bool>> = element.properties.iter().map(|p| (p.kind, is_corners(p))).collect();
        if plan.iter().filter(|(_, planned)| *planned).count() != 1 {
            let what = format!(
                "faces (element {}) without one list `vertex_indices` or `vertex_index`",
                shown(&element.name)
            );
            return Err(self.not_declared(what));
        }
        self.note_properties(&element.name, element.properties.iter().filter(|p| !is_corners(p)));
        self.mesh.faces.reserve_exact(self.triangles_that_fit(element, &plan));
        let mut polygon = Vec::new();
        for row in 0..element.count {
            polygon.clear();
            self.row_corners(&plan, &mut polygon).map_err(|fault| self.fault(fault, element, row))?;
            self.push_faces(corners, &polygon, row)?;
        }
        Ok(())
    }

    #[inline]
    fn row_corners(&mut self, plan: &[Planned<bool>], polygon: &mut Vec<f64>) -> Result<(), Fault> {
        self.rows.begin_row()?;
        for (kind, is_corners) in plan {
            match *kind {
                PropertyKind::List { length, item } if *is_corners => {
                    let count = self.rows.length(length, item)?;
                    for _ in 0..count {
                        polygon.push(self.rows.number(item)?);
                    }
                }
                kind => self.skip(kind)?,
            }
        }
        Ok(())
    }

    /// Checks the corners of a row and appends its triangles.
    #[inline]
    fn push_faces(&mut self, corners: Corners, polygon: &[f64], row: u64) -> Result<(), ReadError> {
        if let (Corners::Polygon, [a, b, c]) = (corners, polygon) {
            let face = [self.index(*a, row)?, self.index(*b, row)?, self.index(*c, row)?];
            self.mesh.faces.push(face);
            return Ok(());
        }
        let ends = |index: &f64| corners == Corners::Strips && index.to_bits() == STRIP_END.to_bits();
        for part in polygon.split(ends) {
            let part = part.iter().map(|index| self.index(*index, row)).collect::<Result<Vec<u32>, _>>()?;
            match corners {
                Corners::Polygon => push_fan(&part, &mut self.mesh.faces),
                Corners::Strips => push_strip(&part, &mut self.mesh.faces),
            }
            self.n_too_few += usize::from(corners == Corners::Polygon && part.len() < 3);
        }
        Ok(())
    }

    /// The number of a vertex, checked against the vertex count in the header. All counted vertices are read, or
    /// reading fails.
    #[inline]
    fn index(&self, index: f64, row: u64) -> Result<u32, ReadError> {
        let number = index as u32;
        if u64::from(number) < self.n_vertices && f64::from(number).to_bits() == (index + 0.0).to_bits() {
            return Ok(number);
        }
        let face = row as usize + 1;
        if index.fract().to_bits() << 1 != 0 {
            return Err(self.rows.error(Fault::NotWhole, format!("face {face}")));
        }
        let (format, vertices) = (self.header.format, self.n_vertices as usize);
        Err(ReadError::FaceIndex { format, face, index: index as i64, vertices, first: 0 })
    }

    fn pass_over(&mut self, element: &Element) -> Result<(), ReadError> {
        for row in 0..element.count {
            self.pass_row(element).map_err(|fault| self.fault(fault, element, row))?;
        }
        self.notes.push(ReadNotice::Element { name: shown(&element.name), rows: element.count });
        Ok(())
    }

    fn pass_row(&mut self, element: &Element) -> Result<(), Fault> {
        self.rows.begin_row()?;
        element.properties.iter().try_for_each(|property| self.skip(property.kind))
    }

    fn skip(&mut self, kind: PropertyKind) -> Result<(), Fault> {
        match kind {
            PropertyKind::Scalar(scalar) => self.rows.skip(scalar, 1),
            PropertyKind::List { length, item } => {
                let count = self.rows.length(length, item)?;
                self.rows.skip(item, count)
            }
        }
    }

    /// Number of rows to allocate: never more than the rest of the file can contain.
    fn rows_that_fit(&self, element: &Element) -> usize {
        self.fitting(element, element.min_row_bytes(self.header.format))
    }

    /// The same for faces. Most of them are triangles.
    fn triangles_that_fit(&self, element: &Element, plan: &[Planned<bool>]) -> usize {
        let items = plan.iter().filter(|(_, is_corners)| *is_corners).map(|(kind, _)| match kind {
            PropertyKind::List { item, .. } | PropertyKind::Scalar(item) => 3 * self.rows.min_bytes(*item),
        });
        self.fitting(element, element.min_row_bytes(self.header.format) + items.sum::<usize>())
    }

    fn fitting(&self, element: &Element, row_bytes: usize) -> usize {
        let fitting = self.rows.left_in_file() / row_bytes.max(1);
        usize::try_from(element.count).map_or(fitting, |count| count.min(fitting))
    }

    fn note_properties<'p>(&mut self, element: &str, properties: impl Iterator<Item = &'p Property>) {
        let names: Vec<String> = properties.map(|property| shown(&property.name)).collect();
        let (listed, n_more) =
            (&names[..names.len().min(LISTED_NAMES)], names.len().saturating_sub(LISTED_NAMES));
        if !names.is_empty() {
            let listed = listed.join(", ");
            self.notes.push(ReadNotice::Properties { element: element.to_owned(), listed, more: n_more });
        }
    }

    fn not_declared(&self, what: String) -> ReadError {
        let instead = "export the scan again with coordinates and faces";
        ReadError::NotSupported { format: self.header.format, what, instead }
    }

    fn fault(&self, fault: Fault, element: &Element, row: u64) -> ReadError {
        self.rows.error(
            fault,
            format!("row {} of the {} of element {}", row + 1, element.count, shown(&element.name)),
        )
    }
}

/// A name from the file, made safe for a message.
fn shown(name: &str) -> String {
    quoted(name.as_bytes())
}

fn is_scalar(kind: PropertyKind) -> bool {
    matches!(kind, PropertyKind::Scalar(_))
}

#[cfg(test)]
mod tests {
    use crate::ReadNotice;
    use crate::read;

    const VERTICES: &str = "element vertex 4\nproperty float x\nproperty float y\nproperty float z\n";
    const POINTS: &str = "0 0 0\n1 0 0\n0 1 0\n0 0 1\n";

    /// An ASCII file with four vertices and the given declaration and rows.
    fn ply(declared: &str, rows: &str) -> Vec<u8> {
        format!("ply\nformat ascii 1.0\n{VERTICES}{declared}end_header\n{POINTS}{rows}").into_bytes()
    }

    fn faces(count: usize, rows: &str) -> Vec<u8> {
        ply(&format!("element face {count}\nproperty list uchar int vertex_index\n"), rows)
    }

    #[test]
    fn strips_are_split_at_minus_one() {
        let declared = "element tristrips 1\nproperty list int int vertex_indices\n";
        let read = read(&ply(declared, "8 0 1 2 3 -1 1 2 3\n")).unwrap();
        assert_eq!(read.mesh.faces, [[0, 1, 2], [2, 1, 3], [1, 2, 3]]);
    }

    #[test]
    fn what_is_ignored_is_noted() {
        let declared = "element face 2\nproperty list uchar int vertex_indices\nproperty uchar red\n";
        let read = read(&ply(declared, "\n3 0 1 2 255 7\n2 0 1 255\n\nrest\n")).unwrap();
        assert_eq!(
            read.notes,
            [
                ReadNotice::Properties { element: "face".to_owned(), listed: "`red`".to_owned(), more: 0 },
                ReadNotice::SmallFaces { count: 1 },
                ReadNotice::LongLine { line: 16 },
                ReadNotice::LinesAfter { line: 17 },
            ]
        );
    }

    #[test]
    fn faults_name_their_place() {
        let cases = [
            (
                faces(1, "3 0 1 4\n"),
                "face 1: it names vertex 4, but the file holds 4 vertices, counted from 0",
            ),
            (faces(1, "3 0 1 -1\n"), "face 1: it names vertex -1"),
            (
                faces(2, "3 0 1 2\n3 0 1 2.5\n"),
                "line 15: the number of a vertex that is not whole, in face 2",
            ),
            (faces(1, "3 0 1 nan\n"), "line 14: the number of a vertex that is not whole, in face 1"),
            (faces(1, "3 0 1\n"), "line 14: the line ends too early for row 1 of the 1 of element `face`"),
            (faces(1, "-3 0 1\n"), "line 14: `-3` is not the length of a list"),
            (faces(1, "3 0 one 2\n"), "line 14: `one` is no number"),
            (faces(2, "3 0 1 2\n"), "inside row 2 of the 2 of element `face`"),
            (faces(0, ""), "4 vertices but no faces, so it is a cloud of points"),
            (ply("", ""), "4 vertices but no faces"),
            (ply("element face 1\nproperty int a\n", "1\n"), "without one list `vertex_indices`"),
        ];
        for (bytes, expected) in cases {
            let message = read(&bytes).unwrap_err().to_string();
            assert!(message.contains(expected), "{message}");
        }
    }

    #[test]
    fn names_that_cannot_be_shown_are_not_repeated() {
        let message = read(&ply("element \u{1b}ace 1\nproperty float a\n", "x\n")).unwrap_err().to_string();
        assert!(
            message.contains("`x` is no number, in row 1 of the 1 of element `\u{fffd}ace`"),
            "{message}"
        );
    }

    #[test]
    fn a_binary_file_cut_short_names_byte_and_row() {
        let header = format!("ply\nformat binary_little_endian 1.0\n{VERTICES}end_header\n");
        let message = read(&[header.as_bytes(), &[0; 30]].concat()).unwrap_err().to_string();
        let expected =
            format!("the file ends at byte {}, inside row 3 of the 4 of element `vertex`", header.len() + 30);
        assert!(message.contains(&expected), "{message}");
    }

    #[test]
    fn coordinates_that_are_no_numbers_are_kept() {
        let bytes = faces(1, "3 0 1 2\n");
        let text = String::from_utf8_lossy(&bytes).replace("1 0 0", "nan inf -nan(ind)");
        let [x, y, z] = read(text.as_bytes()).unwrap().mesh.vertices[1];
        assert!(x.is_nan() && y.is_infinite() && z.is_nan());
    }
}
