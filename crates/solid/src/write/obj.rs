//! Wavefront OBJ with a group (`g`) for every part.

use std::io::{self, BufWriter, Write};

use bladeform_table::CAUTION;

use crate::watertight::WatertightSolid;

pub(crate) fn write(solid: &WatertightSolid, out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    writeln!(out, "# {CAUTION}\n# lengths in units of {} m", solid.metres_per_unit())?;
    part(solid, 0, &mut out)?;
    out.flush()
}

/// Several solids, one object each.
pub(crate) fn write_objects(solids: &[(String, &WatertightSolid)], out: &mut impl Write) -> io::Result<()> {
    let mut out = BufWriter::new(out);
    let mut before = 0;
    for (name, solid) in solids {
        if before == 0 {
            writeln!(out, "# {CAUTION}\n# lengths in units of {} m", solid.metres_per_unit())?;
        }
        writeln!(out, "o {name}")?;
        part(solid, before, &mut out)?;
        before += solid.mesh().vertices.len() as u64;
    }
    out.flush()
}

/// Vertices and groups. `before` vertices are already in the file.
fn part(solid: &WatertightSolid, before: u64, out: &mut impl Write) -> io::Result<()> {
    for [x, y, z] in &solid.mesh().vertices {
        // The coordinates are in single precision: their shortest decimals read back exactly.
        writeln!(out, "v {:?} {:?} {:?}", *x as f32, *y as f32, *z as f32)?;
    }
    for group in solid.groups() {
        writeln!(out, "g {}", group.name)?;
        for face in &solid.mesh().faces[group.faces.clone()] {
            let [a, b, c] = face.map(|i| before + u64::from(i) + 1);
            writeln!(out, "f {a} {b} {c}")?;
        }
    }
    Ok(())
}
