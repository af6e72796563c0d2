//! The whole prediction from a station table and a plan.

use crate::answers::{Ask, answers};
use crate::free_wake::NoFreeWake;
use crate::limits::{LOW_REYNOLDS, MACH_COUNTS, MACH_SERIOUS, MOST_FREE_WAKES, REFERENCE_RATIO};
use crate::near_rest::{NearRest, is_slow};
use crate::notice::FlowNotice;
use crate::plan::{Flight, MOST_POINTS, PredictPlan};
use crate::point::region_words;
use crate::solved::{SettingLine, rest, solved_point};
use crate::{Air, FlowBlade, FlowError, FlowPropeller, Operation, PolarSource};
use bladeform_numeric::observe::{Observer, Stage, Stopped, report};
use bladeform_numeric::parallel;
use bladeform_polar::PolarRegion;
use bladeform_table::{
    AirState, Notice, OperatingPoint, Prediction, RadialRow, SettingOf, StationTable, by_harm,
};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Most points for which the second model is computed. A map of more points is read for its shape.
const MOST_SECOND_MODELS: usize = 400;
/// Predicts the performance of a propeller with the blades of a table.
///
/// There is one point for each pair of setting and flight condition. Answers, schedules and warnings follow from the plan. Points are solved
/// in parallel, and the result does not depend on the number of threads.
///
/// # Errors
/// [`FlowError`] if the table or the plan cannot be used; [`FlowError::Stopped`] if the observer ends the call.
///
/// ```
/// use bladeform_flow::{Flight, PredictPlan, Silent, ThinSections, predict};
/// let text = r#"{"blade": {"radius_m": 1.4}, "stations": [
///   {"radius_m": 0.42, "chord_m": 0.18, "blade_angle_deg": 35.0, "thickness_ratio": 0.2, "camber_ratio": 0.03},
///   {"radius_m": 0.90, "chord_m": 0.19, "blade_angle_deg": 19.0, "thickness_ratio": 0.12, "camber_ratio": 0.035},
///   {"radius_m": 1.33, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.08, "camber_ratio": 0.035}]}"#;
/// let table = bladeform_document::read_json(text.as_bytes()).unwrap();
/// let plan = PredictPlan { rpm: 1_750.0, flight: Flight::Speed(53.6), settings_deg: vec![16.0], ..PredictPlan::default() };
/// let prediction = predict(&table, &plan, &ThinSections, &Silent).unwrap();
/// let figures = &prediction.points[0].figures;
/// assert!((0.6..0.95).contains(&figures.efficiency.unwrap()));
/// assert!((figures.helical_tip_mach.unwrap() - 0.770).abs() < 0.001);
/// ```
pub fn predict(
    table: &StationTable,
    plan: &PredictPlan,
    source: &dyn PolarSource,
    observer: &dyn Observer,
) -> Result<Prediction, FlowError> {
    let air = plan.fluid()?;
    // Rotational speed and flight speed are checked before the polars, which take longest.
    let operations = operations(table, plan, &air)?;
    let points = operations.len() * plan.settings_deg.len().max(1);
    if points > MOST_POINTS {
        return Err(FlowError::TooMany { points, most: MOST_POINTS });
    }
    if let Some(setting) = plan.settings_deg.iter().find(|s| !(-90.0..=90.0).contains(*s)) {
        return Err(FlowError::Setting { setting_deg: *setting });
    }
    if table.angles_are_relative() && plan.settings_deg.is_empty() {
        return Err(FlowError::NoSetting);
    }
    plan.installed.check(plan.diameter_m.unwrap_or(2.0 * table.blade.radius_m))?;
    let root = &plan.installed.root;
    let blade = FlowBlade::rooted(table, plan.diameter_m, plan.elements, source, observer, root)?;
    let line = SettingLine {
        ratio: plan.setting_radius_ratio.unwrap_or_else(|| blade.reference_radius_ratio()),
        of: plan.setting_of,
        scale_u: table.scale.as_ref().and_then(|s| s.relative_uncertainty).unwrap_or(0.0),
    };
    let propeller = FlowPropeller::installed(blade, plan.blades, &plan.installed)?;
    let settings_deg = match plan.settings_deg.as_slice() {
        [] => vec![propeller.blade.table_angle_deg(line.of, line.ratio)?],
        given => given.to_vec(),
    };
    let pairs: Vec<(f64, Operation)> =
        settings_deg.iter().flat_map(|s| operations.iter().map(|o| (*s, *o))).collect();
    for setting in &settings_deg {
        propeller.blade.turn_rad(*setting, line.of, line.ratio)?;
    }
    let lifting_line = pairs.len() <= MOST_SECOND_MODELS;
    let rests = rests(&propeller, line, &pairs, plan.free_wake);
    let begun = AtomicUsize::new(0);
    let solved = parallel::map(&pairs, |(setting, operation)| {
        let done = begun.fetch_add(1, Ordering::Relaxed);
        report(observer, Stage { name: "operating points", done, total: pairs.len() })?;
        let rest = rests.iter().find(|(key, _)| *key == rest_key(*setting, operation)).map(|(_, rest)| rest);
        Ok(solved_point(&propeller, line, *setting, operation, lifting_line, rest).trusted())
    });
    let points = solved.into_iter().collect::<Result<Vec<_>, Stopped>>()?;
    report(observer, Stage::named("answers"))?;
    let ask = Ask { propeller: &propeller, line, settings_deg: &settings_deg, operations: &operations, plan };
    let (answers, schedules) = answers(&ask)?;
    let mut prediction = Prediction {
        blades: u64::from(plan.blades),
        diameter_m: propeller.diameter_m(),
        rpm: plan.rpm,
        speed_m_s: match plan.flight {
            Flight::Speed(v) => Some(v),
            Flight::Speeds(_) | Flight::Advance(_) => None,
        },
        air: air_state(&air),
        reference_radius_ratio: line.ratio,
        setting_of: line.of,
        inner_radius_m: propeller.blade.inner_radius_m,
        methods: methods(plan, &propeller, source, lifting_line),
        points,
        answers,
        schedules,
        ..Prediction::default()
    };
    let of_flow = notices(&propeller, &prediction, line, plan.free_wake);
    let of_table = table.other_blades(u64::from(plan.blades)).into_iter().chain(table.row_notices());
    prediction.warnings = of_flow.iter().map(Notice::of).chain(of_table.map(Notice::from)).collect();
    by_harm(&mut prediction.warnings);
    Ok(prediction)
}

/// Setting and rotational speed: what a propeller at rest depends on.
fn rest_key(setting_deg: f64, operation: &Operation) -> [u64; 2] {
    [setting_deg.to_bits(), operation.omega_rad_s.to_bits()]
}

/// The propeller at rest for every setting and rotational speed with a slow point; none if they are too many.
fn rests(
    propeller: &FlowPropeller,
    line: SettingLine,
    pairs: &[(f64, Operation)],
    is_wanted: bool,
) -> Vec<([u64; 2], Result<NearRest, NoFreeWake>)> {
    let mut slow: Vec<&(f64, Operation)> = Vec::new();
    for pair in pairs.iter().filter(|(_, o)| is_slow(o.advance_ratio(propeller.diameter_m()))) {
        if slow.iter().all(|s| rest_key(s.0, &s.1) != rest_key(pair.0, &pair.1)) {
            slow.push(pair);
        }
    }
    if !is_wanted || MOST_FREE_WAKES < slow.len() {
        return Vec::new();
    }
    let solved = parallel::map(&slow, |(setting, operation)| {
        Some((rest_key(*setting, operation), rest(propeller, line, *setting, operation)?))
    });
    solved.into_iter().flatten().collect()
}

fn operations(table: &StationTable, plan: &PredictPlan, air: &Air) -> Result<Vec<Operation>, FlowError> {
    let diameter_m = plan.diameter_m.unwrap_or(2.0 * table.blade.radius_m);
    if !(diameter_m > 0.0 && diameter_m.is_finite()) {
        return Err(FlowError::Diameter { diameter_m });
    }
    plan.operations(diameter_m, *air)
}

fn air_state(air: &Air) -> AirState {
    AirState {
        altitude_m: air.altitude_m,
        temperature_offset_k: air.temperature_offset_k,
        temperature_k: air.temperature_k,
        pressure_pa: air.pressure_pa,
        density_kg_m3: air.density_kg_m3,
        viscosity_pa_s: air.viscosity_pa_s,
        speed_of_sound_m_s: air.speed_of_sound_m_s,
        water: air.water,
    }
}

fn methods(
    plan: &PredictPlan,
    propeller: &FlowPropeller,
    source: &dyn PolarSource,
    with_second: bool,
) -> Vec<String> {
    let mut methods = vec![
        match plan.water {
            None => "air: ISO 2533 standard atmosphere, Sutherland viscosity".to_owned(),
            Some(water) => crate::water::method(&water),
        },
        format!("sections: {}", source.method()),
        format!(
            "propeller: {} blade elements balanced with momentum theory, including swirl, by one residual in the inflow angle (Ning 2014, 2021); Goldstein's tip loss for {} blades and the local helix, Prandtl's loss at the root; the turn of the stream along the chord is that of an extended lifting line of the same chords (Weissinger 1947), so wide blades and tips have less lift",
            propeller.blade.elements.len(),
            plan.blades
        ),
        "uncertainty: first-order effect of the uncertainty of chord, blade angle and camber at each station, and of the scale, which is common to all stations; the error of the methods is not included".to_owned(),
    ];
    if !propeller.blade.shank.is_empty() {
        methods.push(
            "shank: bars across the undisturbed stream without lift, with the drag of round and elliptic cylinders over the Reynolds number (Hoerner 1965)".to_owned(),
        );
    }
    if plan.installed.root.blunt_hub_m.is_some() {
        methods.push(
            "hub: drag of a flat-faced cylinder along the stream (White 2011, Hoerner 1965)".to_owned(),
        );
    }
    if let Some(body) = plan.installed.body.filter(|_| plan.installed.has_body()) {
        methods.push(format!(
            "body: potential flow of a prolate spheroid of {:.1} mm by {:.1} mm, its nose {:.1} mm behind the blades (Lamb 1932), changes the axial speed over the disc; the propulsive thrust is the thrust less the rise of the body's drag: its pressure drag by momentum, its other drag in proportion to the dynamic pressure of the slipstream (Glauert 1935)",
            1e3 * body.diameter_m,
            1e3 * body.length_m,
            1e3 * body.gap_m
        ));
    }
    if let Some(factor) = plan.installed.stream_factor {
        methods.push(format!(
            "body: the axial speed over the disc is {factor} of that of flight, as given; the propulsive thrust is the thrust less the rise of the body's pressure drag by momentum"
        ));
    }
    if plan.engine.is_some() {
        methods.push(
            "engine: torque as given, at any altitude; interpolated between its rows with monotone cubics"
                .to_owned(),
        );
    }
    if plan.free_wake {
        methods.push(
            "second model at zero speed: steady free wake of a tip vortex and three inboard vortices, solved with Newton's method (Quackenbush, Bliss, Wachspress 1989), with a straight radial extended lifting line whose control points are at three quarters of the chord (Weissinger 1947); not used if more than 0.15 of the outer half of the blade is stalled, if the tip vortex passes within 0.02 R of the next blade, or if it does not converge. In flight below an advance ratio of 0.2 its ratio to the blade elements at rest is carried on and fades".to_owned(),
        );
    }
    if with_second {
        methods.push(
            "second model in flight: lifting lines with helical wakes whose pitch follows from the solution (Lerbs 1952, Wrench 1957), through the quarter chord, with sweep and rake if the table has mid-chord points, and control points at three quarters of the chord (Weissinger 1947); the wake does not contract".to_owned(),
        );
    }
    methods
}

fn notices(
    propeller: &FlowPropeller,
    prediction: &Prediction,
    line: SettingLine,
    is_free_wake_wanted: bool,
) -> Vec<FlowNotice> {
    let mut notices = propeller.blade.warnings.clone();
    let answers = prediction.answers.iter().filter_map(|a| a.point.as_ref());
    let schedules = prediction.schedules.iter().flat_map(|s| &s.points);
    let all = prediction.points.iter().chain(answers).chain(schedules);
    let mach = all.filter_map(|p| p.figures.helical_tip_mach).fold(0.0, f64::max);
    if mach > MACH_COUNTS {
        notices.push(FlowNotice::TipMach { mach, is_serious: mach > MACH_SERIOUS });
    }
    notices.extend(low_reynolds(&prediction.points));
    let differ = |p: &&OperatingPoint| p.flags.iter().any(|f| f.code() == "models-differ");
    let count = prediction.points.iter().filter(differ).count();
    if count > 0 {
        notices.push(FlowNotice::ModelsDiffer { count, all: prediction.points.len() });
    }
    let has_none = |p: &&OperatingPoint| p.lifting_line.is_none() && p.free_wake.is_none();
    let without = prediction.points.iter().filter(has_none).count();
    let slow = |p: &&OperatingPoint| p.figures.advance_ratio.is_some_and(is_slow);
    let mut settings: Vec<u64> = prediction
        .points
        .iter()
        .filter(slow)
        .filter_map(|p| p.figures.setting_deg)
        .map(f64::to_bits)
        .collect();
    settings.sort_unstable();
    settings.dedup();
    let too_many = is_free_wake_wanted && MOST_FREE_WAKES < settings.len();
    let still = prediction.points.iter().filter(|p| p.is_static()).count();
    let flying = prediction.points.iter().filter(slow).count() - still;
    if flying > 0 && (too_many || !is_free_wake_wanted) {
        notices.push(FlowNotice::NotCorrected { count: flying, all: prediction.points.len(), too_many });
    }
    if without > 0 {
        notices.push(FlowNotice::NoSecondModel {
            count: without,
            all: prediction.points.len(),
            skipped: !is_free_wake_wanted && 0 < still,
            too_many: too_many && 0 < still,
        });
    }
    let faces = propeller.blade.faces_of_outlines;
    if line.of == SettingOf::Face && faces > 0 {
        notices.push(FlowNotice::FacesOfOutlines { count: faces, all: propeller.blade.stations.len() });
    }
    let covered = |e: &&crate::blade::BladeElement| {
        std::f64::consts::TAU * e.radius_m < f64::from(propeller.blades) * e.chord_m
    };
    if let Some(e) = propeller.blade.elements.iter().rev().find(covered) {
        notices.push(FlowNotice::Cascade {
            to_ratio: e.radius_m / propeller.blade.radius_m,
            blades: propeller.blades,
        });
    }
    if propeller.blade.angles_are_relative() {
        notices.push(FlowNotice::RelativeAngles { line: line.of.as_str(), ratio: line.ratio });
    }
    match prediction.air.water {
        Some(water) => {
            let has_body = propeller.installation().has_body();
            let own = crate::water::notices(&water, prediction);
            notices.extend(own.into_iter().filter(|n| !(has_body && matches!(n, FlowNotice::IsolatedScrew))));
        }
        None if propeller.installation().has_body() => {}
        None => notices.push(FlowNotice::IsolatedPropeller),
    }
    if propeller.installation().has_body() {
        notices.push(FlowNotice::Installed { streamlined: propeller.installation().is_streamlined() });
    }
    notices
}

/// Says that computed polars are known to be off at the Reynolds numbers of some points. Polars of the user and sections without boundary layers have no such error.
fn low_reynolds(points: &[OperatingPoint]) -> Option<FlowNotice> {
    let number = |p: &OperatingPoint| {
        let off = |r: &RadialRow| (r.figures.radius_ratio.unwrap_or(0.0) - REFERENCE_RATIO).abs();
        let row = p.radial.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        row.figures
            .reynolds
            .filter(|re| *re < LOW_REYNOLDS && row.polar_region != region_words(PolarRegion::Given))
    };
    let low: Vec<f64> = points.iter().filter_map(number).collect();
    let reynolds = low.iter().copied().reduce(f64::min)?;
    Some(FlowNotice::LowReynolds { reynolds, count: low.len(), all: points.len() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{Coded, RadialFigures};

    #[test]
    fn low_reynolds_numbers_of_computed_polars_are_told() {
        let point = |reynolds: f64, region: PolarRegion| OperatingPoint {
            radial: [(0.3, 1e4), (0.76, reynolds)]
                .map(|(ratio, re)| RadialRow {
                    figures: RadialFigures {
                        radius_ratio: Some(ratio),
                        reynolds: Some(re),
                        ..RadialFigures::default()
                    },
                    polar_region: region_words(region).to_owned(),
                    ..RadialRow::default()
                })
                .to_vec(),
            ..OperatingPoint::default()
        };
        let (computed, given) = (PolarRegion::Computed, PolarRegion::Given);
        assert!(low_reynolds(&[point(2.1e5, computed), point(5e4, given)]).is_none());
        let told = low_reynolds(&[point(2.1e5, computed), point(6.2e4, computed)]).unwrap();
        assert!(told.sentence().contains("1 of 2 points") && told.sentence().contains("62,000"));
    }
}
