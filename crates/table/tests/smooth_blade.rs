//! The smooth blade and the stations that depart from it, on blades whose figures are all known.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_table::{
    Flag, SmoothColumn, Station, StationColumn, UncertaintySource, departures_from_smooth, flag_departures,
};

const TIP_M: f64 = 1.42;
const COUNT: usize = 24;

/// A rounded blade of constant pitch: the chord falls to zero at the tip like the width of an ellipse.
fn blade(count: usize) -> Vec<Station> {
    let row = |k: usize| {
        let s = 0.25 + 0.72 * k as f64 / (count - 1) as f64;
        let end = ((s - 0.9) / 0.1).clamp(0.0, 1.0);
        Station {
            chord_m: Some(0.2 * (1.0 - 0.9 * (s - 0.45_f64).powi(2)) * (1.0 - end.powi(4)).sqrt()),
            blade_angle_deg: Some((0.2 / s).atan().to_degrees()),
            thickness_ratio: Some(0.06 + 0.14 * (-3.0 * (s - 0.25)).exp()),
            camber_ratio: Some(0.03),
            mid_chord_x_m: Some(-0.02 * s * s),
            ..Station::at(s * TIP_M, TIP_M)
        }
    };
    (0..count).map(row).collect()
}

fn state(stations: &mut [Station], column: StationColumn, u: f64) {
    for s in stations {
        s.add_uncertainty(column, UncertaintySource::Scan, u);
    }
}

fn shift(station: &mut Station, column: StationColumn, by: f64) {
    column.set(station, column.get(station).map(|v| v + by));
}

/// Normal numbers by the method of Box and Muller from a congruential sequence.
fn normals(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut uniform = move || {
        state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    move || (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
}

#[test]
fn an_exact_blade_has_no_flag_however_small_its_uncertainties() {
    for count in [8, 12, 24, 60, 200] {
        let mut stations = blade(count);
        state(&mut stations, StationColumn::ChordM, 1e-7);
        assert_eq!(departures_from_smooth(&stations), [], "{count} stations");
    }
}

#[test]
fn any_one_station_off_by_a_few_millimetres_is_found_with_the_amount_and_nothing_else_is() {
    // Up to 0.85 R: farther out the curve bends towards the tip, and less is detected.
    for dented in 2..COUNT - 4 {
        for by in [-0.003, 0.003] {
            let mut stations = blade(COUNT);
            state(&mut stations, StationColumn::ChordM, 2e-4);
            shift(&mut stations[dented], StationColumn::ChordM, by);
            let found = departures_from_smooth(&stations);
            assert_eq!(found.len(), 1, "station {dented}, {by} m: {found:?}");
            assert_eq!((found[0].station, found[0].column), (dented, StationColumn::ChordM));
            let amount = found[0].amount;
            assert!((amount.value - by).abs() < 3.0 * amount.u, "station {dented}: {amount:?}");
            assert!((amount.value - by).abs() < 5e-4, "station {dented}: {amount:?}");
        }
    }
}

#[test]
fn a_flag_says_figure_amount_and_side_and_changes_no_figure() {
    let mut stations = blade(COUNT);
    state(&mut stations, StationColumn::ChordM, 2e-4);
    shift(&mut stations[12], StationColumn::ChordM, -0.0021);
    shift(&mut stations[12], StationColumn::BladeAngleDeg, 1.5);
    let before: Vec<_> = stations.iter().map(|s| (s.chord_m, s.blade_angle_deg)).collect();
    flag_departures(&mut stations);
    assert_eq!(before, stations.iter().map(|s| (s.chord_m, s.blade_angle_deg)).collect::<Vec<_>>());
    let texts: Vec<String> = stations[12].flags.iter().map(Flag::text).collect();
    assert_eq!(texts.len(), 2, "{texts:?}");
    assert!(texts[0].starts_with("departs: chord is 2.1 mm (± 0."), "{}", texts[0]);
    assert!(
        texts[0].ends_with(") shorter than on the smooth blade. The figure is unchanged; check the blade for a repair, a dent, wear or a bend"),
        "{}",
        texts[0]
    );
    assert!(texts[1].starts_with("departs: blade angle is 1.5"), "{}", texts[1]);
    assert!(texts[1].contains("above that of the smooth blade"), "{}", texts[1]);
    assert!(stations.iter().enumerate().all(|(k, s)| k == 12 || s.flags.is_empty()));
}

/// Three standard uncertainties: one figure in 370 by chance if errors are normal and the curve has no uncertainty.
#[test]
fn errors_of_the_stated_size_are_hardly_ever_flagged_and_the_curve_averages_them() {
    let (blades, u) = (200, 6e-4);
    let (mut flagged, mut squares) = (0, 0.0);
    for seed in 0..blades {
        let mut stations = blade(COUNT);
        let exact = stations[10].chord_m.unwrap();
        state(&mut stations, StationColumn::ChordM, u);
        let mut normal = normals(seed);
        for s in &mut stations {
            shift(s, StationColumn::ChordM, u * normal());
        }
        flagged += departures_from_smooth(&stations).len();
        let smooth = SmoothColumn::of(&stations, StationColumn::ChordM).unwrap();
        squares += (smooth.value_at(stations[10].radius_m).measured.value - exact).powi(2);
    }
    let judged = blades as usize * (COUNT - 2);
    assert!(flagged * 200 < judged, "{flagged} of {judged}");
    let rms = (squares / blades as f64).sqrt();
    assert!(rms < 0.75 * u, "{rms}");
}

/// A tape around a broad section: its ratio hardly changes, its thickness does.
#[test]
fn a_layer_around_one_section_is_found_by_its_thickness() {
    let mut stations = blade(COUNT);
    for s in &mut stations {
        s.thickness_m = s.thickness_ratio.zip(s.chord_m).map(|(ratio, chord)| ratio * chord);
    }
    state(&mut stations, StationColumn::ThicknessM, 4e-5);
    shift(&mut stations[11], StationColumn::ThicknessM, 6e-4);
    let found = departures_from_smooth(&stations);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].station, found[0].column), (11, StationColumn::ThicknessM));
    assert!((found[0].amount.value - 6e-4).abs() < 1e-4, "{found:?}");
}

#[test]
fn what_all_stations_share_hides_no_dent() {
    let mut stations = blade(COUNT);
    state(&mut stations, StationColumn::BladeAngleDeg, 0.05);
    for s in &mut stations {
        s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Reference, 2.0);
    }
    shift(&mut stations[9], StationColumn::BladeAngleDeg, -0.8);
    let found = departures_from_smooth(&stations);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].amount.u < 0.2 && (found[0].amount.value + 0.8).abs() < 0.1, "{found:?}");
}

#[test]
fn where_a_shank_passes_into_the_blade_it_does_not_depart() {
    let mut stations = blade(COUNT);
    for column in [StationColumn::ChordM, StationColumn::ThicknessRatio] {
        state(&mut stations, column, 1e-4);
    }
    shift(&mut stations[2], StationColumn::ChordM, -0.02);
    // Without a shank the same is damage.
    assert!(!departures_from_smooth(&stations).is_empty());
    (stations[0].chord_m, stations[0].thickness_ratio) = (None, None);
    stations[0].flags.push(Flag::NearlyCircular { thickness_ratio: 1.0 });
    assert_eq!(departures_from_smooth(&stations), []);
    // And farther out it is with one.
    shift(&mut stations[9], StationColumn::ChordM, -0.02);
    assert!(departures_from_smooth(&stations).iter().any(|d| d.station == 9));
}

#[test]
fn nearly_circular_and_refused_stations_are_left_out_and_order_does_not_matter() {
    let mut stations = blade(COUNT);
    for k in [5, 6] {
        shift(&mut stations[k], StationColumn::ChordM, -0.05);
    }
    stations[5].flags.push(Flag::NearlyCircular { thickness_ratio: 0.9 });
    stations[6].flags.push(Flag::Refused { reason: "no outline".to_owned() });
    assert_eq!(departures_from_smooth(&stations), []);
    shift(&mut stations[15], StationColumn::ChordM, -0.004);
    stations.reverse();
    let found = departures_from_smooth(&stations);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].station, COUNT - 1 - 15);
}

#[test]
fn few_stations_are_not_judged_and_beyond_the_stations_the_value_is_carried() {
    assert!(SmoothColumn::of(&blade(7), StationColumn::ChordM).is_none());
    assert!(SmoothColumn::of(&blade(24), StationColumn::Points).is_none());
    let smooth = SmoothColumn::of(&blade(24), StationColumn::BladeAngleDeg).unwrap();
    let (inside, beyond) = (smooth.value_at(0.75 * TIP_M), smooth.value_at(TIP_M));
    assert!(!inside.is_extrapolated());
    assert!((inside.measured.value - (0.2_f64 / 0.75).atan().to_degrees()).abs() < 0.02);
    assert!(beyond.is_extrapolated() && inside.measured.u < beyond.measured.u);
    assert!((beyond.measured.value - 0.2_f64.atan().to_degrees()).abs() < 0.2, "{beyond:?}");
}
