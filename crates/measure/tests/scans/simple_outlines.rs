//! Outlines of measured stations can be built: none crosses itself, and where sides changed places at a thin edge the table says what was done.

use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
use bladeform_quantity::StationRadii;
use bladeform_section::make_simple;
use bladeform_specimen::{DrawnBlade, Photogrammetry, photographed_blade};

#[test]
fn outlines_of_photographed_blades_with_thin_edges_do_not_cross_themselves() {
    let mut made_sharp = 0;
    for seed in [4, 10, 12] {
        let blade = DrawnBlade::any(seed, false);
        let plan = Photogrammetry { triangles: 80_000, ..Photogrammetry::drawn(seed) };
        let scan = photographed_blade(&blade, &plan);
        let ask = MeasurePlan {
            length_m: Some(blade.length_m()),
            root_radius_m: Some(blade.root_radius_m),
            stations: StationRadii::Count(16),
            ..MeasurePlan::default()
        };
        let table = measure(ScanInput::mesh(&scan.mesh, "scan"), &ask, &Silent).unwrap();
        for s in &table.stations {
            let sharp = s.flags.iter().filter(|f| f.code() == "edge-made-sharp");
            made_sharp += sharp.count();
            let Some(outline) = &s.outline else { continue };
            let mut points: Vec<[f64; 2]> = outline.points().collect();
            if points.len() == 241 {
                let mended = make_simple(&mut points).expect("an outline that crosses itself");
                assert_eq!(mended, [None, None], "seed {seed} at {:.2} R", s.radius_ratio);
            }
        }
    }
    assert!(0 < made_sharp, "no edge was mended: the scans test nothing");
}
