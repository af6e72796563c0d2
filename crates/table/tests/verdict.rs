//! The verdict of a comparison on invented pairs of blades with normal errors whose size is stated.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_table::{
    BladeFigures, ComparePlan, Comparison, Source, Station, StationColumn, StationTable, UncertaintySource,
    compare,
};

const STATIONS: usize = 24;
const U_CHORD_M: f64 = 3e-4;
const U_ANGLE_DEG: f64 = 0.08;

/// Normal errors by the sum of twelve uniform ones (D. E. Knuth, *Seminumerical algorithms*: the constants of its 64-bit congruential generator; from memory).
struct Errors(u64);

impl Errors {
    fn next(&mut self) -> f64 {
        let mut sum = -6.0;
        for _ in 0..12 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum
    }
}

/// A lone blade with relative angles, measured with errors. `change`: what is added to chord (m) and angle (deg) at a radius ratio.
fn table(errors: &mut Errors, scan: &str, change: impl Fn(f64) -> [f64; 2]) -> StationTable {
    let zero = U_ANGLE_DEG * errors.next();
    let station = |k: usize| {
        let ratio = 0.2 + 0.75 * k as f64 / (STATIONS - 1) as f64;
        let [chord, angle] = change(ratio);
        let mut s = Station::at(ratio, 1.0);
        s.chord_m = Some(0.2 - 0.08 * ratio + chord + U_CHORD_M * errors.next());
        s.blade_angle_deg = Some(30.0 * (0.75 - ratio) + angle - zero + U_ANGLE_DEG * errors.next());
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Scan, U_CHORD_M);
        for source in [UncertaintySource::Scan, UncertaintySource::Reference] {
            s.add_uncertainty(StationColumn::BladeAngleDeg, source, U_ANGLE_DEG);
        }
        s
    };
    StationTable {
        source: Some(Source { sha256: scan.to_owned(), ..Source::default() }),
        blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
        stations: (0..STATIONS).map(station).collect(),
        ..StationTable::default()
    }
}

fn compared(a: &StationTable, b: &StationTable) -> Comparison {
    compare([a, b], ["left", "right"], &ComparePlan::default()).unwrap()
}

fn of(c: &Comparison, column: StationColumn) -> &bladeform_table::FigureVerdict {
    c.verdict.of.iter().find(|f| f.column == column).unwrap()
}

#[test]
fn equal_blades_are_called_unlike_as_rarely_as_is_stated() {
    let mut errors = Errors(1);
    let unlike = (0..400)
        .filter(|_| {
            let (a, b) = (table(&mut errors, "", |_| [0.0; 2]), table(&mut errors, "", |_| [0.0; 2]));
            compared(&a, &b).verdict.is_alike() == Some(false)
        })
        .count();
    // One in twenty is stated: 20 of 400, with a standard deviation of 4.4. The shift and the departures are judged cautiously.
    assert!((1..=33).contains(&unlike), "{unlike} of 400");
}

#[test]
fn a_tip_twisted_by_a_degree_is_found_where_the_common_reference_would_hide_it() {
    let mut errors = Errors(2);
    let twisted = |r: f64| [0.0, if r < 0.85 { 0.0 } else { 1.4 * (r - 0.85) / 0.1 }];
    let mut a = table(&mut errors, "", |_| [0.0; 2]);
    let b = table(&mut errors, "", twisted);
    // A hole at the reference radius of the first scan.
    for s in &mut a.stations {
        s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Reference, 1.0);
        if (s.radius_ratio - 0.75).abs() < 0.03 {
            s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Scan, 1.0);
        }
    }
    let c = compared(&a, &b);
    let angle = of(&c, StationColumn::BladeAngleDeg);
    let [place] = &angle.places[..] else { panic!("{:?}", angle.places) };
    assert!(0.85 < place.from_to[0] && 0.94 < place.from_to[1] && 0.94 < place.at, "{place:?}");
    assert!((place.difference.value + 1.4).abs() < 3.0 * place.difference.u, "{place:?}");
    assert!(of(&c, StationColumn::ChordM).is_alike());
    // The zero lies where both are known, and a notice says so.
    assert!(c.notes.iter().any(|n| n.code() == "other-reference"));
    assert!((c.twist_about.unwrap() - 0.75).abs() > 0.03);
    assert!(c.of(StationColumn::BladeAngleDeg).iter().filter(|(_, f)| f.u.unwrap() < 0.2).count() > 18);
    let sentences = c.verdict_sentences();
    assert!(sentences[0].starts_with("Not alike") && sentences[1].contains("as twist"), "{sentences:#?}");
}

#[test]
fn a_blade_that_is_wider_by_one_part_in_a_hundred_has_another_scale_and_the_same_shape() {
    let mut errors = Errors(3);
    let a = table(&mut errors, "", |r| [0.02 * (0.2 - 0.08 * r), 0.0]);
    let b = table(&mut errors, "", |_| [0.0; 2]);
    let c = compared(&a, &b);
    let chord = of(&c, StationColumn::ChordM);
    assert!(chord.is_shifted && chord.places.is_empty(), "{chord:?}");
    assert!((chord.shift.unwrap().value - 0.02).abs() < 2.0 * chord.shift.unwrap().u);
    // The difference is in all rows; less the common one it is noise.
    for (_, f) in c.of(StationColumn::ChordM) {
        assert!(f.beyond_shift.unwrap().value.abs() < 5.0 * U_CHORD_M);
    }
}

#[test]
fn a_table_against_itself_has_no_difference_and_says_that_the_scan_is_the_same() {
    let a = table(&mut Errors(4), "abc", |_| [0.0; 2]);
    let c = compared(&a, &a);
    assert!(c.notes.iter().any(|n| n.code() == "same-scan-compared"));
    for s in &c.stations {
        assert!(s.figures.iter().all(|f| f.difference == 0.0 && f.u.is_none()));
    }
    assert_eq!(c.verdict.is_alike(), None);
    assert!(c.verdict_sentences()[0].starts_with("No verdict"));
}

/// JCGM 100:2008, 5.2.2: the parts by the definitions are the same in both and cancel; by the known lengths and by absolute references they count once each.
#[test]
fn common_parts_count_once_or_not_at_all() {
    let mut errors = Errors(5);
    let (mut a, mut b) = (table(&mut errors, "", |_| [0.0; 2]), table(&mut errors, "", |_| [0.0; 2]));
    for s in a.stations.iter_mut().chain(&mut b.stations) {
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Definition, 2e-3);
        s.add_uncertainty(StationColumn::ChordM, UncertaintySource::Length, 4e-4);
        s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Definition, 0.5);
    }
    let c = compared(&a, &b);
    let root = 2f64.sqrt();
    for (_, f) in c.of(StationColumn::ChordM) {
        assert!((f.u.unwrap() - root * U_CHORD_M.hypot(4e-4)).abs() < 1e-12);
        assert!((f.u_own.unwrap() - root * U_CHORD_M).abs() < 1e-12);
    }
    // Twist: two stations of two tables, each with its own part.
    for (_, f) in c.of(StationColumn::BladeAngleDeg) {
        assert!((f.u.unwrap() - 2.0 * U_ANGLE_DEG).abs() < 1e-12, "{f:?}");
    }
}
