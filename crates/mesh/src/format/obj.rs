//! OBJ: one keyword per line. `v` defines a vertex, `f` a polygon by the numbers of its vertices.

use super::polygon::{note_too_few, push_fan};
use super::stl_binary::corners_of;
use super::text::{Lines, number, quoted, without_mark, words};
use crate::notice::ReadNotice;
use crate::read_mesh::{MeshFormat, ReadMesh};
use crate::{RawMesh, ReadError};
use std::io::{self, BufWriter, Write};

const FORMAT: MeshFormat = MeshFormat::Obj;

/// Keywords without information about the surface, or only about its appearance and grouping.
const SILENT: [&[u8]; 12] =
    [b"vt", b"vn", b"vp", b"g", b"o", b"s", b"mg", b"lod", b"bevel", b"c_interp", b"d_interp", b"shadow_obj"];
/// Keywords of drawn elements that are not triangle surfaces.
const UNREAD_SHAPES: [&[u8]; 8] = [b"l", b"p", b"curv", b"curv2", b"surf", b"cstype", b"deg", b"end"];
const MATERIALS: [&[u8]; 3] = [b"mtllib", b"usemtl", b"maplib"];

/// Whether a file with this first word may be an OBJ file.
pub(super) fn is_keyword(word: &[u8]) -> bool {
    matches!(word, b"v" | b"f")
        || [&SILENT[..6], &UNREAD_SHAPES[..2], &MATERIALS[..2]].concat().contains(&word)
}

/// Reads all vertices and polygons of all groups and objects.
pub(super) fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let mut reader = Reader { lines: Lines::new(without_mark(bytes), 1), ..Reader::default() };
    let mut joined = Vec::new();
    while let Some(line) = reader.lines.next() {
        match continued(line) {
            None => reader.line(line)?,
            Some(start) => {
                joined.clear();
                joined.extend_from_slice(start);
                reader.continue_line(&mut joined);
                reader.line(&joined)?;
            }
        }
    }
    reader.finish()
}

/// Writes an OBJ file with the shortest decimals that read back to the same double-precision numbers.
///
/// # Errors
/// Errors of `out`; `InvalidInput` if a face refers to a missing vertex.
pub fn write_obj(mesh: &RawMesh, out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    for [x, y, z] in &mesh.vertices {
        writeln!(out, "v {x:?} {y:?} {z:?}")?;
    }
    for face in &mesh.faces {
        corners_of(mesh, *face)?;
        let [a, b, c] = face.map(|index| u64::from(index) + 1);
        writeln!(out, "f {a} {b} {c}")?;
    }
    out.flush()
}

/// The text before the backslash that continues a line. A comment is not continued, because it may end in a path.
fn continued(line: &[u8]) -> Option<&[u8]> {
    let start = line.trim_ascii_end().strip_suffix(b"\\")?;
    (!start.trim_ascii_start().starts_with(b"#")).then_some(start)
}

struct Reader<'a> {
    lines: Lines<'a>,
    mesh: RawMesh,
    /// Vertex numbers of the polygon that is being read.
    polygon: Vec<u32>,
    n_faces: usize,
    n_too_few: usize,
    /// The largest vertex number that was used before its vertex was read, and the face that used it.
    ahead: Option<(u32, usize)>,
    n_shapes: usize,
    has_materials: bool,
    /// Lines with an unknown keyword: their number, and the first.
    unknown: Option<(usize, usize)>,
}

impl Default for Reader<'_> {
    fn default() -> Self {
        Self {
            lines: Lines::new(b"", 1),
            mesh: RawMesh::default(),
            polygon: Vec::new(),
            n_faces: 0,
            n_too_few: 0,
            ahead: None,
            n_shapes: 0,
            has_materials: false,
            unknown: None,
        }
    }
}

impl Reader<'_> {
    fn line(&mut self, line: &[u8]) -> Result<(), ReadError> {
        // Text after a number sign is a comment, also at the end of a line.
        let mut words = words(line).take_while(|word| !word.starts_with(b"#"));
        match words.next() {
            None => {}
            Some(b"v") => self.vertex(words)?,
            // An early revision of the format used `fo` for a face.
            Some(b"f" | b"fo") => self.face(words)?,
            Some(word) if UNREAD_SHAPES.contains(&word) => self.n_shapes += 1,
            Some(word) if MATERIALS.contains(&word) => self.has_materials = true,
            Some(word) if SILENT.contains(&word) => {}
            Some(_) => self.unknown.get_or_insert((0, self.lines.number())).0 += 1,
        }
        Ok(())
    }

    fn continue_line(&mut self, joined: &mut Vec<u8>) {
        for line in self.lines.by_ref() {
            joined.push(b' ');
            let Some(start) = continued(line) else {
                return joined.extend_from_slice(line);
            };
            joined.extend_from_slice(start);
        }
    }

    /// The three coordinates; a weight or a colour after them is not used.
    fn vertex<'w>(&mut self, mut words: impl Iterator<Item = &'w [u8]>) -> Result<(), ReadError> {
        let mut vertex = [0.0; 3];
        for coordinate in &mut vertex {
            let word = words.next().ok_or_else(|| self.fault("a vertex needs three coordinates".into()))?;
            *coordinate = number(word).ok_or_else(|| self.fault(format!("{} is no number", quoted(word))))?;
        }
        if u32::try_from(self.mesh.vertices.len()).is_ok_and(|n| n < u32::MAX) {
            self.mesh.vertices.push(vertex);
            return Ok(());
        }
        Err(ReadError::TooLarge { format: FORMAT, what: "it has more than 4,294,967,295 vertices".into() })
    }

    fn face<'w>(&mut self, words: impl Iterator<Item = &'w [u8]>) -> Result<(), ReadError> {
        self.n_faces += 1;
        let mut polygon = std::mem::take(&mut self.polygon);
        polygon.clear();
        for word in words {
            polygon.push(self.index(word)?);
        }
        push_fan(&polygon, &mut self.mesh.faces);
        self.n_too_few += usize::from(polygon.len() < 3);
        self.polygon = polygon;
        Ok(())
    }

    /// The vertex of a corner `v`, `v/vt`, `v//vn` or `v/vt/vn`, counted from 0. Numbers in the file count from 1, or
    /// backwards with -1 for the last vertex so far.
    fn index(&mut self, word: &[u8]) -> Result<u32, ReadError> {
        let text = word.split(|b| *b == b'/').next().unwrap_or_default();
        let index: i64 = std::str::from_utf8(text)
            .ok()
            .and_then(|text| text.parse().ok())
            .ok_or_else(|| self.fault(format!("{} is no corner of a face", quoted(word))))?;
        if index == 0 {
            return Err(ReadError::VertexZero { face: self.n_faces, line: self.lines.number() });
        }
        let so_far = self.mesh.vertices.len();
        let number = if index < 0 { index.checked_add(so_far as i64) } else { index.checked_sub(1) };
        let number = number.and_then(|number| u32::try_from(number).ok()).filter(|number| *number < u32::MAX);
        let number = number.ok_or_else(|| self.no_vertex(self.n_faces, index))?;
        if so_far <= number as usize && self.ahead.is_none_or(|(greatest, _)| greatest < number) {
            self.ahead = Some((number, self.n_faces));
        }
        Ok(number)
    }

    fn no_vertex(&self, face: usize, index: i64) -> ReadError {
        ReadError::FaceIndex { format: FORMAT, face, index, vertices: self.mesh.vertices.len(), first: 1 }
    }

    fn fault(&self, what: String) -> ReadError {
        ReadError::Line { format: FORMAT, line: self.lines.number(), what }
    }

    fn finish(self) -> Result<ReadMesh, ReadError> {
        if let Some((number, face)) = self.ahead
            && self.mesh.vertices.len() <= number as usize
        {
            return Err(self.no_vertex(face, i64::from(number) + 1));
        }
        let notes = self.notes();
        Ok(ReadMesh {
            format: FORMAT,
            triangles_in_file: self.mesh.faces.len(),
            vertices_in_file: self.mesh.vertices.len(),
            welded_on_reading: 0,
            mesh: self.mesh,
            notes,
        })
    }

    fn notes(&self) -> Vec<ReadNotice> {
        let mut notes = Vec::new();
        note_too_few(self.n_too_few, &mut notes);
        if self.has_materials {
            notes.push(ReadNotice::Materials);
        }
        if 0 < self.n_shapes {
            notes.push(ReadNotice::Shapes { count: self.n_shapes });
        }
        if let Some((count, first)) = self.unknown {
            notes.push(ReadNotice::UnknownKeywords { count, first });
        }
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n";

    fn read_text(rest: &str) -> ReadMesh {
        crate::read(format!("{SQUARE}{rest}").as_bytes()).unwrap()
    }

    fn message(rest: &str) -> String {
        crate::read(format!("{SQUARE}{rest}").as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn every_way_to_name_a_corner() {
        for corners in ["1 2 3", "1/1 2/2 3/3", "1//1 2//1 3//1", "1/1/1 2/2/1 3/3/1", "-4 -3 -2", "1/ 2/ 3/"]
        {
            assert_eq!(read_text(&format!("f {corners}\n")).mesh.faces, [[0, 1, 2]], "{corners}");
        }
    }

    #[test]
    fn polygons_groups_and_carried_lines() {
        let read = read_text("o a\nf 1 2 \\\r\n 3 \\\n4 # square\ng b\nf 1 2 3\n# C:\\\nf 2 3 4");
        assert_eq!(read.mesh.faces, [[0, 1, 2], [0, 2, 3], [0, 1, 2], [1, 2, 3]]);
        assert!(read.notes.is_empty(), "{:?}", read.notes);
    }

    #[test]
    fn numbers_from_the_end_count_the_vertices_so_far() {
        let read = read_text("f -1 -2 -3\nv 5 5 5 1.0 0.5 0.5 0.5\nf -1 -2 -3\n");
        assert_eq!(read.mesh.faces, [[3, 2, 1], [4, 3, 2]]);
        assert_eq!(read.mesh.vertices.len(), 5);
    }

    #[test]
    fn a_vertex_may_come_after_its_face() {
        assert_eq!(read_text("f 1 2 5\nv 0 0 1\n").mesh.faces, [[0, 1, 4]]);
        assert!(
            message("f 1 2 3\nf 1 2 5\n")
                .contains("face 2: it names vertex 5, but the file holds 4 vertices")
        );
    }

    #[test]
    fn what_is_ignored_is_noted() {
        let read = read_text("mtllib a.mtl\nl 1 2\nf 1 2\nf 1 2 3\nwhat is this\n");
        assert_eq!(
            read.notes,
            [
                ReadNotice::SmallFaces { count: 1 },
                ReadNotice::Materials,
                ReadNotice::Shapes { count: 1 },
                ReadNotice::UnknownKeywords { count: 1, first: 9 },
            ]
        );
    }

    #[test]
    fn faults_name_their_place() {
        let cases = [
            ("v 1 2\n", "line 5: a vertex needs three coordinates"),
            ("v 1 2 x\n", "line 5: `x` is no number"),
            ("f 1 2 a/1\n", "line 5: `a/1` is no corner"),
            (
                "f 1 2 0\n",
                "OBJ, face 1 (line 5): it names vertex 0, but the vertices of an OBJ file count from 1",
            ),
            ("f 1 2 -5\n", "face 1: it names vertex -5"),
            ("f 1 2 99999999999\n", "face 1: it names vertex 99999999999"),
            ("", "4 vertices but no faces, so it is a cloud of points"),
        ];
        for (rest, expected) in cases {
            assert!(message(rest).contains(expected), "{}", message(rest));
        }
    }
}
