//! The free wake of a propeller at zero speed: compared with a published test and with itself at other steps and sizes, and the reasons reported if there is none.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_flow::{
    Air, Flight, FlowBlade, FlowError, FlowPropeller, FreeWakeSettings, NoFreeWake, Operation, PolarSource,
    PredictPlan, RestPerformance, SectionShape, ThinSection, ThinSections, free_wake_at_rest, predict,
};
use bladeform_numeric::parallel;
use bladeform_polar::{SectionForces, SectionPolar};
use bladeform_table::{BladeFigures, Setting, SettingOf, Station, StationTable};
use std::f64::consts::PI;
use std::sync::Arc;

/// Chord over radius and blade angle, deg, at a fraction of the tip radius.
type Shape = fn(f64) -> [f64; 2];

/// Two untwisted, untapered blades, a sixth of the radius wide.
fn plain(_: f64) -> [f64; 2] {
    [1.0 / 6.0, 0.0]
}

/// Twisted for constant pitch, tapered; 12 deg at 0.75 R.
fn twisted(x: f64) -> [f64; 2] {
    [0.16 - 0.09 * (x - 0.5).max(0.0), (0.75 * 12.0_f64.to_radians().tan() / x).atan().to_degrees()]
}

fn table(shape: Shape, radius_m: f64) -> StationTable {
    let stations = (0..12)
        .map(|k| {
            let x = 0.2 + 0.8 * f64::from(k) / 11.0;
            let [chord, angle] = shape(x);
            Station {
                chord_m: Some(chord * radius_m),
                blade_angle_deg: Some(angle),
                thickness_ratio: Some(0.1),
                camber_ratio: Some(0.0),
                ..Station::at(x * radius_m, radius_m)
            }
        })
        .collect();
    let angle_deg = shape(0.75)[1];
    let setting = Setting { angle_deg, radius_ratio: 0.75, of: SettingOf::Chord, extra: Default::default() };
    let blade = BladeFigures { radius_m, setting: Some(setting), ..BladeFigures::default() };
    StationTable { blade, stations, ..StationTable::default() }
}

fn propeller(
    shape: Shape,
    radius_m: f64,
    elements: usize,
    blades: u32,
    source: &dyn PolarSource,
) -> FlowPropeller {
    let blade = FlowBlade::of_table(&table(shape, radius_m), None, elements, source).unwrap();
    FlowPropeller::new(blade, blades).unwrap()
}

fn still(rpm: f64) -> Operation {
    Operation::new(0.0, rpm, Air::standard(0.0, 0.0).unwrap()).unwrap()
}

fn solve(
    propeller: &FlowPropeller,
    turn_deg: f64,
    settings: &FreeWakeSettings,
) -> Result<RestPerformance, NoFreeWake> {
    free_wake_at_rest(propeller, turn_deg.to_radians(), &still(1_000.0), settings, None)
}

/// NACA 0012 as measured (NASA TM 4074): slope 0.1085 per degree, drag 0.0079 and rising with the lift; Prandtl-Glauert factor for the Mach number.
struct Measured;

impl SectionPolar for Measured {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let lift = 0.1085_f64.to_degrees() * alpha_rad / (1.0 - mach * mach).sqrt();
        let inner = ThinSection::ideal(0.0).forces(alpha_rad, reynolds, mach);
        SectionForces { lift, drag: 0.0079 + 0.004 * lift * lift, ..inner }
    }
}

impl PolarSource for Measured {
    fn polars(
        &self,
        shapes: &[SectionShape],
        _: &dyn bladeform_flow::Observer,
    ) -> Result<Vec<Arc<dyn SectionPolar>>, FlowError> {
        Ok(shapes.iter().map(|_| Arc::new(Measured) as Arc<dyn SectionPolar>).collect())
    }

    fn method(&self) -> String {
        "measured".to_owned()
    }
}

/// F. X. Caradonna, C. Tung, NASA TM-81232, 1981: 0.0046 at 8 deg, 1250 rpm, radius 1.143 m. The settings of the wake change the thrust by some 3 per cent, and the
/// lift slope of the sections changes it by as much. Blade elements are 16 per cent off.
#[test]
fn a_hovering_rotor_has_the_published_thrust() {
    let rotor = propeller(plain, 1.143, 32, 2, &Measured);
    let found =
        free_wake_at_rest(&rotor, 8.0_f64.to_radians(), &still(1_250.0), &FreeWakeSettings::USUAL, None)
            .unwrap();
    let p = &found.performance;
    let tip = p.operation.omega_rad_s * 1.143;
    let coefficient = p.thrust_n / (p.operation.air.density_kg_m3 * PI * (1.143 * tip).powi(2));
    assert!((coefficient / 0.0046 - 1.0).abs() < 0.08, "{coefficient}");
    // On Landgrebe's rotors the vortex was within a tenth of the radius below the next blade and about a tenth inboard of the tip (from memory).
    assert!((0.02..0.1).contains(&found.passage_depth), "{}", found.passage_depth);
    assert!((0.85..0.95).contains(&found.passage_radius), "{}", found.passage_radius);
}

/// The ideal disc (W. J. M. Rankine 1865, R. E. Froude 1889) absorbs the least power for a thrust. A contracting wake reduces thrust.
#[test]
fn twisted_blades_settle_within_sense() {
    for blades in [2, 3, 4] {
        let p = propeller(twisted, 1.0, 32, blades, &ThinSections);
        let found = solve(&p, 0.0, &FreeWakeSettings::USUAL).unwrap();
        let elements = p.performance(0.0, &still(1_000.0));
        let ratio = found.performance.thrust_n / elements.thrust_n;
        assert!((0.5..0.95).contains(&found.figure_of_merit()), "{blades}: {}", found.figure_of_merit());
        assert!((0.8..1.0).contains(&ratio), "{blades}: {ratio}");
        assert!(found.wake_left < 1e-4 && found.rounds < 40);
        // The total thrust is consistent with the elements.
        let sum: f64 = found.performance.elements.iter().map(|e| e.thrust_n_per_m * e.width_m).sum();
        assert!((f64::from(blades) * sum / found.performance.thrust_n - 1.0).abs() < 1e-12);
    }
}

/// From 24 to 36 steps per turn the thrust still changes by 1.3 per cent.
#[test]
fn other_steps_and_elements_give_the_same_answer() {
    let solved = |elements, settings: &FreeWakeSettings| {
        solve(&propeller(twisted, 1.0, elements, 2, &ThinSections), 0.0, settings).unwrap()
    };
    let base = solved(32, &FreeWakeSettings::USUAL);
    for other in [
        solved(32, &FreeWakeSettings { steps: 36, ..FreeWakeSettings::USUAL }),
        solved(44, &FreeWakeSettings::USUAL),
    ] {
        let (a, b) = (&base.performance, &other.performance);
        assert!((a.thrust_n / b.thrust_n - 1.0).abs() < 0.02, "{} {}", a.thrust_n, b.thrust_n);
        assert!((a.torque_nm / b.torque_nm - 1.0).abs() < 0.02, "{} {}", a.torque_nm, b.torque_nm);
        assert!((base.passage_radius - other.passage_radius).abs() < 0.005);
        assert!((base.passage_depth - other.passage_depth).abs() < 0.005);
    }
}

#[test]
fn threads_and_size_do_not_matter_and_a_wake_close_by_is_a_start() {
    let small = propeller(plain, 0.5, 24, 2, &Measured);
    let on =
        |threads| parallel::with_threads(threads, || solve(&small, 10.0, &FreeWakeSettings::USUAL).unwrap());
    let (one, two) = (on(1), on(2));
    assert_eq!(one.performance, two.performance);
    // At twice the size and half the rotational speed all speeds, and hence Mach numbers, are the same. Thrust is proportional to the area.
    let large = propeller(plain, 1.0, 24, 2, &Measured);
    let scaled =
        free_wake_at_rest(&large, 10.0_f64.to_radians(), &still(500.0), &FreeWakeSettings::USUAL, None)
            .unwrap();
    assert!((scaled.performance.thrust_n / one.performance.thrust_n / 4.0 - 1.0).abs() < 1e-3);
    let near = solve(&small, 9.0, &FreeWakeSettings::USUAL).unwrap();
    let from = free_wake_at_rest(
        &small,
        10.0_f64.to_radians(),
        &still(1_000.0),
        &FreeWakeSettings::USUAL,
        Some(&near),
    )
    .unwrap();
    assert!(from.worked[1] < one.worked[1], "{:?} {:?}", from.worked, one.worked);
    assert!((from.performance.thrust_n / one.performance.thrust_n - 1.0).abs() < 3e-3);
}

#[test]
fn where_there_is_none_a_sentence_says_why() {
    let rotor = propeller(plain, 1.0, 24, 2, &ThinSections);
    let flying = Operation::new(10.0, 1_000.0, Air::standard(0.0, 0.0).unwrap()).unwrap();
    let why = free_wake_at_rest(&rotor, 0.1, &flying, &FreeWakeSettings::USUAL, None).unwrap_err();
    assert!(why.to_string().contains("10.00 m/s"), "{why}");
    assert_eq!(solve(&rotor, -5.0, &FreeWakeSettings::USUAL).unwrap_err(), NoFreeWake::NoThrust);
    let stalled = solve(&rotor, 40.0, &FreeWakeSettings::USUAL).unwrap_err();
    assert!(matches!(stalled, NoFreeWake::Stalled { share } if share > 0.3), "{stalled}");
    let close = solve(&rotor, 2.0, &FreeWakeSettings::USUAL).unwrap_err();
    assert!(close.to_string().contains("the next blade"), "{close}");
    let impatient =
        solve(&rotor, 8.0, &FreeWakeSettings { most_rounds: 2, ..FreeWakeSettings::USUAL }).unwrap_err();
    assert!(
        matches!(impatient, NoFreeWake::NotSettled { .. } | NoFreeWake::NoSteadyWake { .. }),
        "{impatient}"
    );
}

#[test]
fn a_prediction_at_rest_has_both_models_or_the_reason() {
    let plan = |settings_deg: Vec<f64>, free_wake: bool| {
        let plan = PredictPlan {
            rpm: 1_000.0,
            flight: Flight::Speed(0.0),
            settings_deg,
            elements: 24,
            free_wake,
            ..PredictPlan::default()
        };
        predict(&table(twisted, 1.0), &plan, &ThinSections, &bladeform_flow::Silent).unwrap()
    };
    let both = plan(vec![12.0, 45.0], true);
    let wake = both.points[0].free_wake.unwrap();
    // The free wake carries the figures where it has an answer, whether or not the other points have one.
    assert_eq!(wake.thrust_n, both.points[0].figures.thrust_n);
    assert!(wake.thrust_n < wake.blade_elements_thrust_n);
    assert!(both.points[0].flags.iter().any(|f| f.code() == "by-free-wake"));
    assert!(both.points[0].lifting_line.is_none());
    assert!(both.points[1].free_wake.is_none());
    let reason = both.points[1].flags.iter().find(|f| f.code() == "no-free-wake").unwrap();
    assert!(reason.sentence().contains("stalled"), "{reason}");
    let without = plan(vec![12.0], false);
    assert!(without.points[0].free_wake.is_none());
    assert!(
        without.warnings.iter().any(|w| w.sentence().contains("skipped as requested")),
        "{:?}",
        without.warnings
    );
    let many = plan((0..20).map(|k| 12.0 + 0.1 * f64::from(k)).collect(), true);
    assert!(many.points.iter().all(|p| p.free_wake.is_none()));
    assert!(
        many.warnings.iter().any(|w| w.sentence().contains("more than 12 settings")),
        "{:?}",
        many.warnings
    );
}

/// The setting that absorbs the power of a table's point at rest is that point's: answers and tables have one model there.
#[test]
fn a_power_at_rest_is_matched_as_tables_show_it() {
    let plan = |settings_deg: Vec<f64>, power_w: Option<f64>| {
        let plan = PredictPlan {
            rpm: 1_000.0,
            flight: Flight::Speed(0.0),
            settings_deg,
            elements: 16,
            power_w,
            ..PredictPlan::default()
        };
        predict(&table(plain, 1.0), &plan, &ThinSections, &bladeform_flow::Silent).unwrap()
    };
    let shown = plan(vec![10.0], None).points[0].figures;
    let answered = plan(vec![7.0, 13.0], shown.power_w);
    let answer = answered.answers.iter().find(|a| a.name == "power_match").unwrap();
    let point = answer.point.as_ref().unwrap();
    assert!((point.figures.setting_deg.unwrap() - 10.0).abs() < 0.02, "{}", answer.sentence);
    assert!((point.figures.thrust_n.unwrap() / shown.thrust_n.unwrap() - 1.0).abs() < 2e-3);
    assert!(point.flags.iter().any(|f| f.code() == "by-free-wake"), "{:?}", point.flags);
}

/// A table at rest and a sweep from slow flight on are one curve: the same ratio of the free wake to the blade elements at rest, fading to nothing at an advance ratio of 0.2 without a step, half of it in
/// the interval of the methods. Radial rows still add up.
#[test]
fn rest_and_slow_flight_are_one_curve() {
    let advance: Vec<f64> = vec![0.0, 1e-4, 0.1, 0.1999, 0.2];
    let plan = |free_wake: bool| {
        let plan = PredictPlan {
            rpm: 1_000.0,
            flight: Flight::Advance(advance.clone()),
            settings_deg: vec![12.0],
            elements: 16,
            free_wake,
            ..PredictPlan::default()
        };
        predict(&table(twisted, 1.0), &plan, &ThinSections, &bladeform_flow::Silent).unwrap()
    };
    let (one, elements) = (plan(true), plan(false));
    let told = elements.warnings.iter().find(|w| w.code() == "not-corrected-near-rest").unwrap();
    assert!(told.sentence().contains("3 of 5 points"), "{told}");
    let ratio = |k: usize, of: fn(&bladeform_table::OperatingFigures) -> Option<f64>| {
        of(&one.points[k].figures).unwrap() / of(&elements.points[k].figures).unwrap()
    };
    let figures: [fn(&bladeform_table::OperatingFigures) -> Option<f64>; 2] = [|f| f.thrust_n, |f| f.power_w];
    for of in figures {
        let rest = ratio(0, of);
        assert!((0.8..0.999).contains(&rest), "{rest}");
        assert!((ratio(1, of) - rest).abs() < 1e-6);
        // By hand: the fading 1 - t^2 (3 - 2 t) is a half in the middle.
        assert!((ratio(2, of) - 0.5 * (1.0 + rest)).abs() < 1e-9);
        assert!((ratio(3, of) - 1.0).abs() < 1e-6 && (ratio(4, of) - 1.0).abs() < 1e-12);
    }
    let codes = |k: usize| one.points[k].flags.iter().map(|f| f.code().to_owned()).collect::<Vec<_>>();
    assert!(codes(0).contains(&"by-free-wake".to_owned()) && codes(2).contains(&"near-rest".to_owned()));
    assert!(!codes(4).contains(&"near-rest".to_owned()));
    // Efficiency follows from thrust and power, and the rows from root to tip add up to the thrust.
    let figures = &one.points[2].figures;
    let eta = figures.thrust_n.unwrap() * one.points[2].speed_m_s / figures.power_w.unwrap();
    assert!((figures.efficiency.unwrap() - eta).abs() < 1e-12);
    let rows = |k: usize| {
        let parts = |points: &[bladeform_table::OperatingPoint]| -> f64 {
            points[k].radial.iter().map(|r| r.figures.thrust_n_per_m.unwrap()).sum()
        };
        parts(&one.points) / parts(&elements.points)
    };
    assert!((rows(2) - ratio(2, |f| f.thrust_n)).abs() < 1e-9);
    let u = |p: &bladeform_table::OperatingPoint| p.u_method.unwrap().thrust_n.unwrap();
    let change = figures.thrust_n.unwrap() - elements.points[2].figures.thrust_n.unwrap();
    assert!(u(&one.points[2]) > (0.5 * change).abs());
}

/// Wide blades are not lines: two published screws of 0.7 R had a quarter to a third too little thrust.
#[test]
fn wide_blades_have_no_free_wake() {
    let wide = propeller(|_| [0.4, 20.0], 1.0, 16, 3, &ThinSections);
    let why = solve(&wide, 0.0, &FreeWakeSettings::USUAL).unwrap_err();
    assert!(matches!(why, NoFreeWake::Wide { ratio } if (ratio - 0.4).abs() < 1e-9), "{why}");
}
