//! ASCII STL: `solid`, then `facet normal` .. `outer loop` .. three times `vertex` .. `endloop` .. `endfacet`.

use super::stl_binary::{corners_of, normal};
use super::text::{Lines, begins_with, number, quoted, without_mark, words};
use super::weld::{BLOCK, Weld};
use crate::notice::ReadNotice;
use crate::read_mesh::{MeshFormat, ReadMesh};
use crate::{RawMesh, ReadError};
use std::io::{self, BufWriter, Write};

/// Approximate number of bytes per facet, for the initial size of the vertex table.
const FACET_BYTES: usize = 250;

/// Reads all facets of all solids and joins their corners.
///
/// Keywords may be in upper or lower case, and the solid may be unnamed. Normals are ignored, because the corners are more reliable.
pub(super) fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let mut reader = Reader {
        lines: Lines::new(without_mark(bytes), 1),
        weld: Weld::with_expected(bytes.len() / FACET_BYTES / 2),
        faces: Vec::new(),
        pending: Vec::with_capacity(BLOCK),
        facet: None,
        is_open: false,
        n_solids: 0,
    };
    while let Some(line) = reader.lines.next() {
        reader.line(line)?;
    }
    reader.join_pending()?;
    if reader.facet.is_some() {
        let inside = format!("facet {}", reader.facet_number());
        return Err(ReadError::CutShort { format: MeshFormat::StlAscii, byte: bytes.len(), inside });
    }
    Ok(reader.finish())
}

/// Writes an ASCII STL file with the shortest decimals that read back to the same double-precision numbers.
///
/// # Errors
/// Errors of `out`; `InvalidInput` if a face refers to a missing vertex.
pub fn write_stl_ascii(mesh: &RawMesh, out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    writeln!(out, "solid bladeform")?;
    for face in &mesh.faces {
        let corners = corners_of(mesh, *face)?;
        let [nx, ny, nz] = normal(corners);
        writeln!(out, "facet normal {nx:?} {ny:?} {nz:?}\n outer loop")?;
        for [x, y, z] in corners {
            writeln!(out, "  vertex {x:?} {y:?} {z:?}")?;
        }
        writeln!(out, " endloop\nendfacet")?;
    }
    writeln!(out, "endsolid bladeform")?;
    out.flush()
}

struct Reader<'a> {
    lines: Lines<'a>,
    weld: Weld,
    faces: Vec<[u32; 3]>,
    /// Corners of the last facets. They are joined in blocks.
    pending: Vec<[[f64; 3]; 3]>,
    /// The corners read so far of the current facet.
    facet: Option<Facet>,
    is_open: bool,
    n_solids: usize,
}

#[derive(Default)]
struct Facet {
    corners: [[f64; 3]; 3],
    n_corners: usize,
}

impl Reader<'_> {
    /// Processes one line. The name after `solid` may be anything, so the rest of that line is ignored. Elsewhere
    /// several words may be on one line, because some writers put a whole facet on one.
    fn line(&mut self, line: &[u8]) -> Result<(), ReadError> {
        let mut words = words(line);
        while let Some(word) = words.next() {
            match keyword(word)
                .ok_or_else(|| self.fault(format!("{} is no word of an STL file", quoted(word))))?
            {
                Keyword::Solid => return self.solid(),
                Keyword::EndSolid => return self.end_solid(),
                Keyword::Facet => self.begin_facet()?,
                Keyword::Vertex => self.vertex(&mut words)?,
                Keyword::EndFacet => self.end_facet()?,
                Keyword::Normal => words.by_ref().take(3).for_each(drop),
                Keyword::Loop => {}
            }
        }
        Ok(())
    }

    fn solid(&mut self) -> Result<(), ReadError> {
        self.outside_facets("solid")?;
        self.is_open = true;
        self.n_solids += 1;
        Ok(())
    }

    fn end_solid(&mut self) -> Result<(), ReadError> {
        self.outside_facets("endsolid")?;
        self.is_open = false;
        Ok(())
    }

    fn begin_facet(&mut self) -> Result<(), ReadError> {
        self.outside_facets("facet")?;
        self.facet = Some(Facet::default());
        Ok(())
    }

    fn vertex<'w>(&mut self, words: &mut impl Iterator<Item = &'w [u8]>) -> Result<(), ReadError> {
        let mut corner = [0.0; 3];
        for coordinate in &mut corner {
            let word = words.next().ok_or_else(|| self.fault("a vertex needs three coordinates".into()))?;
            *coordinate = number(word).ok_or_else(|| self.fault(format!("{} is no number", quoted(word))))?;
        }
        match &mut self.facet {
            Some(facet) if facet.n_corners < 3 => {
                facet.corners[facet.n_corners] = corner;
                facet.n_corners += 1;
                Ok(())
            }
            _ => Err(self.fault("this vertex belongs to no facet, or is a facet's fourth".into())),
        }
    }

    fn end_facet(&mut self) -> Result<(), ReadError> {
        match self.facet.take() {
            Some(Facet { corners, n_corners: 3 }) => self.pending.push(corners),
            Some(Facet { n_corners, .. }) => {
                return Err(self.fault(format!("the facet ends with {n_corners} vertices instead of three")));
            }
            None => return Err(self.fault("`endfacet` without `facet`".into())),
        }
        if self.pending.len() == BLOCK { self.join_pending() } else { Ok(()) }
    }

    fn join_pending(&mut self) -> Result<(), ReadError> {
        let joined = self.weld.triangles(self.pending.drain(..), &mut self.faces);
        joined.ok_or_else(|| self.fault("there are more vertices than 4,294,967,294".into()))
    }

    fn outside_facets(&self, word: &str) -> Result<(), ReadError> {
        match self.facet {
            Some(_) => {
                Err(self.fault(format!("`{word}` before the `endfacet` of facet {}", self.facet_number())))
            }
            None => Ok(()),
        }
    }

    /// The facet being read, counted from 1.
    fn facet_number(&self) -> usize {
        self.faces.len() + self.pending.len() + 1
    }

    fn fault(&self, what: String) -> ReadError {
        ReadError::Line { format: MeshFormat::StlAscii, line: self.lines.number(), what }
    }

    fn finish(self) -> ReadMesh {
        let mut notes = Vec::new();
        if self.is_open {
            notes.push(ReadNotice::NoEnd);
        }
        if 1 < self.n_solids {
            notes.push(ReadNotice::SeveralSolids { count: self.n_solids });
        }
        let (triangles_in_file, welded_on_reading) = (self.faces.len(), self.weld.welded());
        ReadMesh {
            mesh: RawMesh { vertices: self.weld.into_vertices(), faces: self.faces },
            format: MeshFormat::StlAscii,
            triangles_in_file,
            vertices_in_file: 3 * triangles_in_file,
            welded_on_reading,
            notes,
        }
    }
}

enum Keyword {
    Solid,
    EndSolid,
    Facet,
    Normal,
    Loop,
    Vertex,
    EndFacet,
}

fn keyword(word: &[u8]) -> Option<Keyword> {
    let table: [(&[u8], Keyword); 7] = [
        (b"vertex", Keyword::Vertex),
        (b"facet", Keyword::Facet),
        (b"normal", Keyword::Normal),
        (b"outer", Keyword::Loop),
        (b"loop", Keyword::Loop),
        (b"endloop", Keyword::Loop),
        (b"endfacet", Keyword::EndFacet),
    ];
    let known =
        table.into_iter().find(|(name, _)| word.eq_ignore_ascii_case(name)).map(|(_, keyword)| keyword);
    // Some programs write the name of the solid without a blank before it.
    known
        .or_else(|| begins_with(word, b"solid").then_some(Keyword::Solid))
        .or_else(|| begins_with(word, b"endsolid").then_some(Keyword::EndSolid))
}

#[cfg(test)]
mod tests {
    use crate::ReadNotice;
    const FACET: &str =
        "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1e0 0\nendloop\nendfacet\n";

    fn message(text: &str) -> String {
        crate::read(text.as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn keywords_in_either_case_and_an_unnamed_solid() {
        for text in
            [format!("solid\n{FACET}endsolid\n"), format!("SOLID x y\r\n{}ENDSOLID", FACET.to_uppercase())]
        {
            let read = crate::read(text.as_bytes()).unwrap();
            assert_eq!((read.mesh.faces.len(), read.mesh.vertices.len(), read.notes.len()), (1, 3, 0));
        }
    }

    #[test]
    fn several_solids_are_one_mesh() {
        let text = format!("solid facet vertex\n{FACET}endsolid\nsolid b\n{FACET}endsolid b\n");
        let read = crate::read(text.as_bytes()).unwrap();
        assert_eq!((read.mesh.faces.len(), read.mesh.vertices.len(), read.welded_on_reading), (2, 3, 3));
        assert_eq!(read.notes, [ReadNotice::SeveralSolids { count: 2 }]);
    }

    #[test]
    fn a_name_without_a_blank_before_it() {
        let text = format!("solidPart\n{FACET}endsolidPart\n");
        let read = crate::read(text.as_bytes()).unwrap();
        assert_eq!((read.mesh.faces.len(), read.notes.len()), (1, 0));
    }

    #[test]
    fn one_line_a_facet() {
        let text = format!("solid\n{}\nendsolid", FACET.replace('\n', " "));
        assert_eq!(crate::read(text.as_bytes()).unwrap().mesh.faces.len(), 1);
    }

    #[test]
    fn a_missing_end_is_noted_after_a_facet_and_refused_within() {
        let read = crate::read(format!("solid\n{FACET}").as_bytes()).unwrap();
        assert_eq!(read.notes[0], ReadNotice::NoEnd);
        let cut = message(&format!("solid\n{FACET}facet normal 0 0 1\nouter loop\nvertex 0 0 0\n"));
        assert!(cut.contains("inside facet 2"), "{cut}");
    }

    #[test]
    fn faults_name_their_line() {
        let cases = [
            ("solid\nfacets\n", "line 2: `facets` is no word of an STL file"),
            ("solid\nvertex 0 0 0\n", "line 2: this vertex belongs to no facet"),
            ("solid\nfacet normal 0 0 1\nvertex 0 0,5 0\n", "line 3: `0,5` is no number"),
            ("solid\nfacet normal 0 0 1\nvertex 0 0\n", "line 3: a vertex needs three coordinates"),
            ("solid\nfacet normal 0 0 1\nvertex 0 0 0\nendfacet\n", "line 4: the facet ends with 1 vertices"),
            (
                "solid\nfacet normal 0 0 1\nfacet normal 0 0 1\n",
                "line 3: `facet` before the `endfacet` of facet 1",
            ),
            ("solid\nendfacet\n", "line 2: `endfacet` without `facet`"),
        ];
        for (text, expected) in cases {
            assert!(message(text).contains(expected), "{}", message(text));
        }
    }
}
