//! Files of a checked solid.

mod obj;
mod step;
mod step_blade;
mod step_entities;
mod step_hub;

pub use step::{StepFile, StepUnit};

use std::io::{self, Write};

use bladeform_mesh::{write_ply_ascii, write_ply_binary, write_stl_ascii, write_stl_binary};
use bladeform_table::CAUTION_SHORT;

use crate::watertight::WatertightSolid;

/// Triangle formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SolidFormat {
    /// Stereolithography file.
    Stl,
    /// Polygon file.
    Ply,
    /// Wavefront OBJ with a group for every part.
    Obj,
}

impl WatertightSolid {
    /// Writes the triangles. `is_ascii` selects numbers as text if the format has both.
    ///
    /// # Errors
    /// Errors of `out`.
    pub fn write(&self, format: SolidFormat, is_ascii: bool, out: &mut impl Write) -> io::Result<()> {
        let mut file = Vec::new();
        match (format, is_ascii) {
            (SolidFormat::Stl, false) => write_stl_binary(self.mesh(), &mut file)?,
            (SolidFormat::Stl, true) => {
                named_stl(&[(format!("{STL_NAME} {CAUTION_SHORT}"), self)], &mut file)?
            }
            (SolidFormat::Ply, false) => write_ply_binary(self.mesh(), &mut file)?,
            (SolidFormat::Ply, true) => write_ply_ascii(self.mesh(), &mut file)?,
            (SolidFormat::Obj, _) => return obj::write(self, out),
        }
        with_caution(format, is_ascii, &mut file);
        out.write_all(&file)?;
        out.flush()
    }
}

/// Name of the solid in an STL file as text; readers take what follows it as a comment.
const STL_NAME: &str = "propeller";
/// Length of the free text before the triangles of a binary STL file.
const STL_HEADER: usize = 80;
/// The line after which comments stand in a PLY file begins so.
const PLY_FORMAT: &[u8] = b"format ";

/// Writes the caution where the format has room for it.
fn with_caution(format: SolidFormat, is_ascii: bool, file: &mut Vec<u8>) {
    match format {
        SolidFormat::Stl if !is_ascii && STL_HEADER <= file.len() => {
            file[..STL_HEADER].fill(b' ');
            file[..CAUTION_SHORT.len()].copy_from_slice(CAUTION_SHORT.as_bytes());
        }
        SolidFormat::Ply => {
            let line = file.windows(PLY_FORMAT.len()).position(|w| w == PLY_FORMAT);
            let end = line.and_then(|at| file[at..].iter().position(|b| *b == b'\n').map(|n| at + n + 1));
            if let Some(end) = end {
                file.splice(end..end, format!("comment {CAUTION_SHORT}\n").into_bytes());
            }
        }
        SolidFormat::Stl | SolidFormat::Obj => {}
    }
}

/// Writes several named solids into one file: ASCII STL with a `solid` for each, or OBJ with an object (`o`) for each. They may overlap, because each is a
/// separate solid. `None` for a format without names.
///
/// # Errors
/// Errors of `out`.
pub fn write_named(
    solids: &[(String, &WatertightSolid)],
    format: SolidFormat,
    out: &mut impl Write,
) -> Option<io::Result<()>> {
    match format {
        SolidFormat::Stl => Some(named_stl(solids, out)),
        SolidFormat::Obj => Some(obj::write_objects(solids, out)),
        SolidFormat::Ply => None,
    }
}

fn named_stl(solids: &[(String, &WatertightSolid)], out: &mut impl Write) -> io::Result<()> {
    for (name, solid) in solids {
        let mut text = Vec::new();
        write_stl_ascii(solid.mesh(), &mut text)?;
        // The triangles are between its first and last line.
        let first = text.iter().position(|b| *b == b'\n').map_or(text.len(), |i| i + 1);
        let last = text.windows(8).rposition(|w| w == b"endsolid").unwrap_or(text.len());
        writeln!(out, "solid {name}")?;
        out.write_all(&text[first.min(last)..last])?;
        writeln!(out, "endsolid {name}")?;
    }
    out.flush()
}
