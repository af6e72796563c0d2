//! Writes an invented scan of about so many triangles as a binary PLY file: `scan_file 2000000 scan.ply`. For trials of large scans by hand.

use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let triangles = arguments.next().ok_or("give a number of triangles and a file")?.parse()?;
    let path = arguments.next().ok_or("give a number of triangles and a file")?;
    let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles, ..ScanPlan::usual(4) });
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&scan.mesh, &mut bytes)?;
    std::fs::write(path, bytes)?;
    Ok(())
}
