//! Files of a checked solid.

mod obj;
mod step;

pub use step::StepUnit;

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
