//! Files of a checked solid.

mod obj;
mod step;
mod step_blade;
mod step_entities;
mod step_hub;

pub use step::{StepFile, StepUnit};

use std::io::{self, Write};

use bladeform_mesh::{write_ply_ascii, write_ply_binary, write_stl_ascii, write_stl_binary};

use crate::watertight::WatertightSolid;

/// Formats of triangles.
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
    /// Writes the triangles; `is_ascii` asks for numbers as text where the format knows both.
    ///
    /// # Errors
    /// What `out` reports.
    pub fn write(&self, format: SolidFormat, is_ascii: bool, out: &mut impl Write) -> io::Result<()> {
        match (format, is_ascii) {
            (SolidFormat::Stl, false) => write_stl_binary(self.mesh(), out),
            (SolidFormat::Stl, true) => write_stl_ascii(self.mesh(), out),
            (SolidFormat::Ply, false) => write_ply_binary(self.mesh(), out),
            (SolidFormat::Ply, true) => write_ply_ascii(self.mesh(), out),
            (SolidFormat::Obj, _) => obj::write(self, out),
        }
    }
}

/// Writes several solids, a name each, into one file: ASCII STL with a `solid` for each, or OBJ with an object (`o`) for each. They may overlap: each is a
/// solid by itself. `None` for a format that knows no names.
///
/// # Errors
/// What `out` reports.
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
        // Between its first and its last line stand the triangles.
        let first = text.iter().position(|b| *b == b'\n').map_or(text.len(), |i| i + 1);
        let last = text.windows(8).rposition(|w| w == b"endsolid").unwrap_or(text.len());
        writeln!(out, "solid {name}")?;
        out.write_all(&text[first.min(last)..last])?;
        writeln!(out, "endsolid {name}")?;
    }
    out.flush()
}
