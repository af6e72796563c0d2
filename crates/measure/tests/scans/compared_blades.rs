//! The blades of scanned propellers compared with one another: what was done to one of them is found with its amount, and even propellers are alike.

use crate::tried;
use crate::unlike_blades::{RADIUS_M, bent, blade, broken_at, measured, propeller, shifted, turned};
use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
use bladeform_mesh::RawMesh;
use bladeform_quantity::Measured;
use bladeform_specimen::{
    Hub, Photogrammetry, ScanPlan, SpecimenPropeller, photographed_propeller, scan_of_propeller,
};
use bladeform_table::{BladesComparison, Departing, StationColumn, WholeFigure, compare_blades};

fn compared(mesh: &RawMesh) -> BladesComparison {
    compare_blades(&measured(mesh), "propeller").unwrap()
}

/// The departures in the two figures of setting, or in a figure of whole blades; blades as the table numbers them.
fn whole(c: &BladesComparison, figure: WholeFigure) -> Vec<(u64, usize, Measured)> {
    let of = |d: &bladeform_table::BladeDeparture| match &d.what {
        Departing::Whole(f, by) if *f == figure => Some((d.index, d.others.len(), *by)),
        _ => None,
    };
    c.verdict.departures.iter().filter_map(of).collect()
}

fn shift(c: &BladesComparison, column: StationColumn) -> Vec<(u64, usize, Measured)> {
    let of = |d: &bladeform_table::BladeDeparture| match &d.what {
        Departing::Figure(f) if f.column == column && f.is_shifted => {
            Some((d.index, d.others.len(), f.shift.unwrap()))
        }
        _ => None,
    };
    c.verdict.departures.iter().filter_map(of).collect()
}

/// Where the damage puts the exact mid-chords of a blade, m.
fn exact_mid_chords(damage: &dyn Fn(&mut RawMesh), ratios: &[f64]) -> Vec<[f64; 3]> {
    let vertices = ratios.iter().map(|&ratio| {
        let [x, y] = blade().truth(ratio).mid_chord_m;
        [x, y, ratio * RADIUS_M]
    });
    let mut points = RawMesh { vertices: vertices.collect(), faces: vec![] };
    damage(&mut points);
    points.vertices
}

/// Error over standard uncertainty beyond which an amount is wrong: a dozen amounts are judged.
const MOST_OFF: f64 = 3.0;

/// The odd one is the only blade named where there are more than two, and the amount is the exact one.
fn check(found: &[(u64, usize, Measured)], count: usize, exact: f64, what: &str) {
    let [(index, others, by)] = found else { panic!("{count} blades, {what}: {found:?}") };
    assert_eq!(*others, count - 1, "{what}");
    // Of two blades the first is named: the changed one or the other.
    let error = if count == 2 { by.value.abs() - exact.abs() } else { by.value - exact };
    println!("{count} blades, {what}: blade {index} by {:.5} (exact {exact:.5}), u {:.5}", by.value, by.u);
    assert!(error.abs() < MOST_OFF * by.u, "{count} blades, {what}: {by:?}, exact {exact}");
}

#[test]
fn a_coarser_a_shorter_a_bent_and_a_shifted_blade_are_named_with_their_amounts() {
    for &count in tried(&[3, 2, 4], 1) {
        let c = compared(&propeller(count, 1e-4, turned(3.0)));
        check(&shift(&c, StationColumn::BladeAngleDeg), count, 3.0, "blade angle, deg");
        check(&shift(&c, StationColumn::FaceAngleDeg), count, 3.0, "face angle, deg");
        assert!(shift(&c, StationColumn::ChordM).is_empty() && whole(&c, WholeFigure::TipRadius).is_empty());

        let c = compared(&propeller(count, 1e-4, broken_at(RADIUS_M - 0.06)));
        check(&whole(&c, WholeFigure::TipRadius), count, -0.06, "tip radius, m");
        assert!(whole(&c, WholeFigure::Track).is_empty() && whole(&c, WholeFigure::Azimuth).is_empty());
        assert_eq!(c.verdict.departures.len(), 1, "{:?}", c.verdict);

        let bend = bent(1.0);
        let c = compared(&propeller(count, 1e-4, &bend));
        let track = |damage: &dyn Fn(&mut RawMesh)| exact_mid_chords(damage, &[0.95])[0][1];
        check(&whole(&c, WholeFigure::Track), count, track(&bend) - track(&|_| ()), "track, m");
        assert!((c.track_radius_m - 0.95 * RADIUS_M).abs() < 1e-9);

        let aside = shifted(0, 0.01);
        let c = compared(&propeller(count, 1e-4, &aside));
        let ratios = [0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95];
        let azimuth = |damage: &dyn Fn(&mut RawMesh)| {
            let points = exact_mid_chords(damage, &ratios);
            points.iter().map(|p| p[0].atan2(p[2]).to_degrees()).sum::<f64>() / points.len() as f64
        };
        check(&whole(&c, WholeFigure::Azimuth), count, azimuth(&aside) - azimuth(&|_| ()), "azimuth, deg");
    }
}

/// The part of a blade that differs is found where it is, and the rest is not called unlike.
#[test]
fn a_tip_that_is_twisted_is_found_at_the_tip() {
    // From 0.7 R outwards by up to 3 deg at the tip, about the span.
    let twist = |mesh: &mut RawMesh| {
        for p in mesh.vertices.iter_mut().filter(|p| 0.7 * RADIUS_M < p[2]) {
            let (sin, cos) = (3.0 * (p[2] / RADIUS_M - 0.7) / 0.3).to_radians().sin_cos();
            *p = [cos * p[0] - sin * p[1], sin * p[0] + cos * p[1], p[2]];
        }
    };
    let c = compared(&propeller(3, 1e-4, twist));
    let places: Vec<_> = c
        .verdict
        .departures
        .iter()
        .filter_map(|d| match &d.what {
            Departing::Figure(f) if f.column == StationColumn::FaceAngleDeg => {
                Some((d.others.len(), &f.places))
            }
            _ => None,
        })
        .collect();
    let [(2, places)] = places[..] else { panic!("{:?}", c.verdict_sentences()) };
    let [place] = &places[..] else { panic!("{places:?}") };
    assert!(0.75 < place.from_to[0] && 0.9 <= place.at && 0.9 <= place.from_to[1], "{place:?}");
    let exact = 3.0 * (place.at - 0.7) / 0.3;
    assert!(
        (place.difference.value - exact).abs() < MOST_OFF * place.difference.u,
        "{place:?}, exact {exact}"
    );
}

/// Even propellers of 2, 3 and 4 blades, without noise in the hub and with 0.2 mm on the blades, in any pose. One in twenty is what the verdict states; it is cautious, since edges and the scatter
/// between the blades are taken as errors of one blade.
#[test]
fn even_propellers_are_alike() {
    let seeds: Vec<u64> = (1..=8).collect();
    let seeds = tried(&seeds, 2);
    let mut said = Vec::new();
    let counts = tried(&[4, 2, 3], 1);
    for &count in counts {
        for &seed in seeds {
            let propeller =
                SpecimenPropeller { blade: blade(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
            let plan = ScanPlan {
                triangles: 20_000 * count,
                noise_m: 2e-4,
                any_pose: true,
                ..ScanPlan::clean(100 * seed + count as u64)
            };
            let c = compared(&scan_of_propeller(&propeller, &plan).mesh);
            assert!(c.verdict.is_alike().is_some() && c.verdict.wholes.len() == 3, "{:?}", c.notes);
            if c.verdict.is_alike() == Some(false) {
                said.push(format!("{count} blades, seed {seed}: {}", c.verdict_sentences()[1]));
            }
        }
    }
    println!("{} of {} even propellers called unlike: {said:#?}", said.len(), counts.len() * seeds.len());
    // One in twenty of 24 is 1.2, and six or more have a probability of 0.001; two of the first two one of 0.0025 (binomial). Of all 24 none was called unlike on 2026-11-29.
    let most = if counts.len() * seeds.len() < 20 { 1 } else { 5 };
    assert!(said.len() <= most, "{said:#?}");
}

/// Photographed propellers of even blades, which the scan bends and joins differently: without its accuracy the verdict takes that for the blades' own, which the table warns of.
#[test]
fn photographed_even_propellers_are_counted() {
    let seeds: Vec<u64> = (1..=6).collect();
    for &accuracy_m in tried(&[Some(5e-4), None], 1) {
        let mut said = Vec::new();
        for &seed in tried(&seeds, 1) {
            let plan = Photogrammetry { triangles: 180_000, ..Photogrammetry::drawn(seed) };
            let around = Hub { blades: 3, radius_m: 0.16, length_m: 0.2 };
            let mesh = photographed_propeller(&blade(), &around, &plan).mesh;
            let plan = MeasurePlan {
                diameter_m: Some(2.0 * RADIUS_M),
                scan_accuracy_m: accuracy_m,
                ..MeasurePlan::default()
            };
            let table = measure(ScanInput::mesh(&mesh, "scan"), &plan, &Silent).unwrap();
            let c = compare_blades(&table, "photographed").unwrap();
            let told = c.notes.iter().any(|n| n.code() == "blades-without-accuracy");
            assert_eq!(told, accuracy_m.is_none(), "{:?}", c.notes);
            if c.verdict.is_alike() == Some(false) {
                said.push(c.verdict_sentences());
            }
        }
        println!("accuracy {accuracy_m:?}: {} called unlike: {said:#?}", said.len());
        // Stated as half a millimetre, which is what such a scan is bent by, none of six was called unlike on 2026-11-29, four without it; one is a generous limit.
        let most = tried(&seeds, 1).len() / seeds.len();
        assert!(accuracy_m.is_none() || said.len() <= most, "{said:#?}");
    }
}
