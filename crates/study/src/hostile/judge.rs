//! Compares a table with the exact truth: error over uncertainty of each figure, and whether there was a word where it is wrong.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use bladeform_quantity::Hand;
use bladeform_specimen::{Lofted, Pose, Truth};
use bladeform_table::{Station, StationColumn, StationTable};

use super::words::{Figure, flags, is_unknown_flag, is_unknown_warning, warns_of};

/// Error over uncertainty above which a figure is wrong: far outside the interval of `± 2 u`.
pub(super) const WRONG: f64 = 3.0;

/// A blade whose truth is known.
#[derive(Clone)]
pub(super) struct TrueBlade {
    pub(super) shape: Arc<dyn Lofted + Send + Sync>,
    /// Tells blades apart: truths are kept by it.
    pub(super) name: String,
    /// Radii between which its sections are those of the truth, m.
    pub(super) span_m: [f64; 2],
    /// How much farther out the blade stands than its shape, m; the span counts it.
    pub(super) outward_m: f64,
    /// Position around the axis of rotation, deg from the first blade.
    pub(super) azimuth_deg: f64,
}

/// What is known of a scan. Without blades it shows something foreign.
pub(super) struct Known {
    pub(super) pose: Pose,
    pub(super) blades: Vec<TrueBlade>,
}

/// Errors of one figure over the stations of a run.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Errors {
    pub(super) judged: usize,
    pub(super) over: usize,
    /// Greatest error over uncertainty, and that error in the figure's unit.
    pub(super) worst: [f64; 2],
}

/// The worst figure of a kind without a word.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Unsaid {
    pub(super) count: usize,
    pub(super) over_u: f64,
    pub(super) error: f64,
    pub(super) radius_ratio: f64,
}

/// Verdict of a run that gave a table.
#[derive(Debug, Clone, Default)]
pub(super) struct Verdict {
    pub(super) errors: BTreeMap<Figure, Errors>,
    pub(super) unsaid: BTreeMap<Figure, Unsaid>,
    /// Faults of the whole table without a word: hand, number of blades, a table of something that is no blade.
    pub(super) faults: Vec<String>,
    /// Codes of flags at stations with a wrong figure.
    pub(super) flags: BTreeMap<String, usize>,
    /// Codes of the warnings of the run.
    pub(super) warnings: BTreeSet<String>,
    /// Codes that no list knows.
    pub(super) unknown: BTreeSet<String>,
}

/// Truths that were computed, by blade and place: many runs ask for the same.
#[derive(Default)]
pub(super) struct Truths(Mutex<HashMap<(String, u64), Truth>>);

impl Truths {
    /// Truth at a radius, m; `None` where the blade has no section of its own.
    fn at(&self, blade: &TrueBlade, radius_m: f64) -> Option<Truth> {
        if !(blade.span_m[0]..=blade.span_m[1]).contains(&radius_m) {
            return None;
        }
        let key = (blade.name.clone(), (radius_m - blade.outward_m).to_bits());
        let kept = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(truth) = kept().get(&key) {
            return Some(*truth);
        }
        let own_m = radius_m - blade.outward_m;
        let truth = blade.shape.exact_truth(own_m / blade.shape.tip_radius_m());
        kept().insert(key, truth);
        Some(truth)
    }

    /// Mean of blades that have a section there; without any beyond the tips, nothing is left of a section.
    fn mean(&self, blades: &[TrueBlade], radius_m: f64) -> Option<[Option<f64>; 4]> {
        let all: Vec<Truth> = blades.iter().filter_map(|b| self.at(b, radius_m)).collect();
        let beyond = blades.iter().all(|b| b.span_m[1] < radius_m);
        if beyond {
            return Some([Some(0.0), None, Some(0.0), None]);
        }
        let n = all.len() as f64;
        let mean = |of: fn(&Truth) -> f64| {
            let mean = all.iter().map(of).sum::<f64>() / n;
            mean.is_finite().then_some(mean)
        };
        let whole = [
            mean(|t| t.chord_m),
            mean(|t| t.blade_angle_deg),
            mean(|t| t.thickness_m),
            mean(|t| t.camber_ratio),
        ];
        (!all.is_empty()).then_some(whole)
    }
}

/// Figures of a section, in the order of [`Truths::mean`].
const SECTION: [(Figure, StationColumn); 4] = [
    (Figure::Chord, StationColumn::ChordM),
    (Figure::Angle, StationColumn::BladeAngleDeg),
    (Figure::Thickness, StationColumn::ThicknessM),
    (Figure::Camber, StationColumn::CamberRatio),
];

/// How a table's places and sizes compare with the truth.
struct Placing {
    /// True metres in a metre of the table.
    true_scale: f64,
    /// The same where the table says that sizes are a guess: they are then compared in its own unit. Otherwise 1.
    granted: f64,
    /// Axis of the first blade as the table places it: points at the true radii 0 and 1 m, in the table's blade axes.
    axis: [[f64; 3]; 2],
    lone: bool,
}

impl Placing {
    fn of(known: &Known, table: &StationTable) -> Option<Self> {
        let unit = table.scale.as_ref()?.metres_per_unit?;
        let map = table.frame.as_ref()?.scan_to_blade?;
        let into = |p: [f64; 3]| {
            let q = known.pose.apply(p);
            [0, 1, 2].map(|i| (0..3).map(|j| map[i][j] * q[j]).sum::<f64>() + map[i][3])
        };
        let true_scale = 1.0 / (known.pose.scale * unit);
        let guess = table.warnings.iter().any(|w| w.code() == "no-length");
        Some(Self {
            true_scale,
            granted: if guess { true_scale } else { 1.0 },
            axis: [into([0.0; 3]), into([0.0, 0.0, 1.0])],
            lone: table.blades.is_empty(),
        })
    }

    /// True radius, m, of the section that the table gives for a radius.
    fn true_radius(&self, claimed_m: f64) -> f64 {
        let [a, b] = self.axis;
        if self.lone {
            return (claimed_m - a[2]) / (b[2] - a[2]);
        }
        let from_axis = |z: f64| (a[0] + z * (b[0] - a[0])).hypot(a[2] + z * (b[2] - a[2]));
        // The distance from the axis found is all but proportional to the radius.
        let first = claimed_m * claimed_m / from_axis(claimed_m);
        first * claimed_m / from_axis(first)
    }

    /// Azimuth of a true direction from the first blade of the table, deg.
    fn azimuth_of(&self, true_deg: f64) -> f64 {
        let [a, b] = self.axis;
        true_deg + (b[0] - a[0]).atan2(b[2] - a[2]).to_degrees()
    }
}

/// One list of stations to compare, with the blades of which it is the mean.
struct Part<'a> {
    stations: &'a [Station],
    blades: Vec<TrueBlade>,
}

fn parts<'a>(known: &Known, table: &'a StationTable, placing: &Placing) -> Vec<Part<'a>> {
    let mut parts = vec![Part { stations: &table.stations, blades: known.blades.clone() }];
    for rows in &table.blades {
        let here = rows.azimuth_deg.unwrap_or(0.0);
        let apart = |b: &TrueBlade| turn(placing.azimuth_of(b.azimuth_deg) - here).abs();
        let nearest = known.blades.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)));
        if let Some(blade) = nearest {
            parts.push(Part { stations: &rows.stations, blades: vec![blade.clone()] });
        }
    }
    parts
}

/// An angle between -180 and 180 deg.
fn turn(deg: f64) -> f64 {
    (deg + 180.0).rem_euclid(360.0) - 180.0
}

/// Compares a table with what is known.
pub(super) fn judged(known: &Known, table: &StationTable, truths: &Truths) -> Verdict {
    let mut verdict = Verdict {
        warnings: table.warnings.iter().map(|w| w.code().to_owned()).collect(),
        ..Verdict::default()
    };
    let all_flags = table.stations.iter().chain(table.blades.iter().flat_map(|b| &b.stations));
    let unknown_flags = all_flags.flat_map(|s| &s.flags).filter(|f| is_unknown_flag(f));
    verdict.unknown = unknown_flags.map(|f| f.code().to_owned()).collect();
    verdict.unknown.extend(verdict.warnings.iter().filter(|c| is_unknown_warning(c)).cloned());
    if known.blades.is_empty() {
        of_foreign(table, &mut verdict);
        return verdict;
    }
    whole_faults(known, table, &mut verdict);
    let Some(placing) = Placing::of(known, table) else {
        verdict.faults.push("no scale or no axes in the table".to_owned());
        return verdict;
    };
    scale_error(table, &placing, &mut verdict);
    for part in parts(known, table, &placing) {
        let zeros = zeros(table, &part, &placing, truths);
        for station in part.stations {
            compare(station, &part, &placing, (truths, zeros), &mut verdict);
        }
    }
    verdict
}

/// A table of something that is no blade: a station with a chord but no word is a fault.
fn of_foreign(table: &StationTable, verdict: &mut Verdict) {
    let warned = Figure::ALL.iter().any(|f| verdict.warnings.iter().any(|c| warns_of(c, *f)));
    let said =
        |s: &&Station| s.flags.iter().any(|flag| Figure::ALL.iter().any(|figure| flags(flag, *figure)));
    let unsaid = table.stations.iter().filter(|s| s.chord_m.is_some() && !said(s)).count();
    for flag in table.stations.iter().flat_map(|s| &s.flags) {
        *verdict.flags.entry(flag.code().to_owned()).or_default() += 1;
    }
    if 0 < unsaid && !warned {
        verdict.faults.push(format!("{unsaid} of {} stations measured", table.stations.len()));
    }
}

fn whole_faults(known: &Known, table: &StationTable, verdict: &mut Verdict) {
    let said = |codes: &[&str]| codes.iter().any(|c| verdict.warnings.contains(*c));
    let mut faults = Vec::new();
    // All blades of this study are right-handed.
    let certain = table.frame.as_ref().is_some_and(|f| f.hand_certain);
    if table.hand() != Hand::Right && certain {
        faults.push("hand".to_owned());
    }
    let count = table.blade.blades_in_scan.unwrap_or(1);
    if count != known.blades.len() as u64 && !said(&["lone-by-size"]) {
        faults.push(format!("{count} of {} blades", known.blades.len()));
    }
    verdict.faults = faults;
}

/// The scale counts as one more place at which the radius is judged.
fn scale_error(table: &StationTable, placing: &Placing, verdict: &mut Verdict) {
    let u = table.scale.as_ref().and_then(|s| s.relative_uncertainty);
    let relative = placing.granted / placing.true_scale - 1.0;
    let error = relative * table.blade.radius_m;
    if let Some(u) = u.filter(|u| 0.0 < *u) {
        let said = verdict.warnings.iter().any(|c| warns_of(c, Figure::Radius));
        note(verdict, Figure::Radius, [relative / u, error], 1.0, said);
    }
}

/// True angle that counts as zero in a table, deg: at the place that it claims, and at the place where its reference section really lies. A setting that
/// was stated for one place and used at another turns all angles alike.
fn zeros(table: &StationTable, part: &Part<'_>, placing: &Placing, truths: &Truths) -> [f64; 2] {
    if !placing.lone {
        return [0.0; 2];
    }
    let there = placing.true_radius(table.blade.reference_radius_ratio * table.blade.radius_m);
    let angle = truths.mean(&part.blades, there).and_then(|t| t[1]);
    match &table.blade.setting {
        None => [angle.unwrap_or(0.0); 2],
        Some(setting) => [0.0, angle.map_or(0.0, |a| a - setting.angle_deg)],
    }
}

/// Enters an error over its uncertainty, and as unsaid where there is no word.
fn note(verdict: &mut Verdict, figure: Figure, [over_u, error]: [f64; 2], radius_ratio: f64, said: bool) {
    let errors = verdict.errors.entry(figure).or_default();
    errors.judged += 1;
    if errors.worst[0] < over_u.abs() {
        errors.worst = [over_u.abs(), error];
    }
    if over_u.abs() <= WRONG {
        return;
    }
    errors.over += 1;
    if said {
        return;
    }
    let unsaid = verdict.unsaid.entry(figure).or_default();
    unsaid.count += 1;
    if unsaid.over_u < over_u.abs() {
        *unsaid = Unsaid { count: unsaid.count, over_u: over_u.abs(), error, radius_ratio };
    }
}

/// Compares one station. A warning about radii or scale excuses a section's figure if the figure is right for the place at which the section really lies.
fn compare(
    station: &Station,
    part: &Part<'_>,
    placing: &Placing,
    (truths, zeros): (&Truths, [f64; 2]),
    verdict: &mut Verdict,
) {
    if station.is_refused() {
        return;
    }
    let has_word = |figure: Figure| {
        station.flags.iter().any(|f| flags(f, figure)) || verdict.warnings.iter().any(|c| warns_of(c, figure))
    };
    let said_of_radius = has_word(Figure::Radius);
    let claimed = station.radius_m * placing.granted;
    let place = placing.true_radius(station.radius_m);
    let mut found = Vec::new();
    if let Some(u) = station.u.radius_m.filter(|u| 0.0 < *u) {
        let error = claimed - place;
        found.push((Figure::Radius, [error / (u * placing.granted), error], said_of_radius));
    }
    let (truth, truth_there) =
        (truths.mean(&part.blades, claimed), std::cell::LazyCell::new(|| truths.mean(&part.blades, place)));
    for (k, (figure, column)) in SECTION.into_iter().enumerate() {
        let error = |truth: Option<f64>, scale: f64, zero: f64| {
            let (value, u, truth) = (column.get(station)?, column.u(station)?, truth?);
            let (error, scale) = match figure {
                Figure::Angle => (turn(value - (truth - zero)), 1.0),
                Figure::Camber => (value - truth, 1.0),
                _ => (scale * value - truth, scale),
            };
            (0.0 < u).then(|| [error / (u * scale), error])
        };
        let Some(wrong) = error(truth.and_then(|t| t[k]), placing.granted, zeros[0]) else { continue };
        let said = wrong[0].abs() <= WRONG
            || has_word(figure)
            || (said_of_radius
                && error(truth_there.and_then(|t| t[k]), placing.true_scale, zeros[1])
                    .is_none_or(|e| e[0].abs() <= WRONG));
        found.push((figure, wrong, said));
    }
    if found.iter().any(|(_, e, _)| WRONG < e[0].abs()) {
        for flag in &station.flags {
            *verdict.flags.entry(flag.code().to_owned()).or_default() += 1;
        }
    }
    for (figure, error, said) in found {
        note(verdict, figure, error, station.radius_ratio, said);
    }
}
