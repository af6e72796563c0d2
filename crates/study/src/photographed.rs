//! How often the stated uncertainties hold on photographed scans: a resolution kernel, noise of any length, two sides, deformation, free sections.
//!
//! Blades and scans come from the photogrammetry generator of `specimen`, which shares neither the outline model nor the noise model of the measurement.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

use bladeform_measure::{KnownAngle, MeasurePlan, ScanInput, Silent, measure};
use bladeform_numeric::parallel;
use bladeform_quantity::StationRadii;
use bladeform_specimen::{
    Correlation, Deformation, DrawnBlade, Edge, Hub, Kernel, KernelKind, Photogrammetry, Random, Sections,
    Triangulation, Truth, photographed_blade, photographed_propeller,
};
use bladeform_table::{Station, StationColumn, StationTable};

use crate::accuracy::{bytes, ratios};
use crate::calibration::{QUANTITIES, TAPE_M, error};
use crate::markdown::Table;
use crate::tally::Tally;

/// What is drawn for one scan.
struct Case {
    blade: DrawnBlade,
    plan: Photogrammetry,
    /// Blades of a whole propeller.
    blades: Option<usize>,
    /// The length or diameter as read, m.
    length_m: f64,
}

/// One scan in this many is of a whole propeller.
const ONE_PROPELLER_IN: u64 = 4;
/// One scan in this many has neither noise nor kernel, holes or deformation.
const ONE_CLEAN_IN: u64 = 16;

fn draw(seed: u64, most_triangles: usize) -> Case {
    let mut random = Random::new(seed ^ 0x9A6E_57A7_0000_0001);
    let blades = (seed % ONE_PROPELLER_IN == 3).then(|| 2 + (3.0 * random.uniform()) as usize);
    let blade = DrawnBlade::any(seed, blades.is_some());
    let mut plan = Photogrammetry::drawn(seed);
    plan.triangles = plan.triangles.min(most_triangles);
    if seed.is_multiple_of(ONE_CLEAN_IN) {
        plan = Photogrammetry {
            noise: vec![],
            kernel: Kernel::NONE,
            sides_offset_m: 0.0,
            deformation: Deformation::NONE,
            holes: 0,
            ..plan
        };
    }
    let known = if blades.is_some() { 2.0 * blade.radius_m } else { blade.length_m() };
    Case { blade, plan, blades, length_m: known + TAPE_M * random.normal() }
}

/// Hub of a drawn propeller: it hides the inner tenth of the blades.
fn hub_of(case: &Case, blades: usize) -> Hub {
    let radius_m = 0.14 * case.blade.radius_m;
    Hub { blades, radius_m, length_m: 1.2 * radius_m }
}

/// The file of a scan: read from the folder if it is kept there, else made, and kept there.
fn file_of(case: &Case, seed: u64, kept: Option<&Path>) -> std::io::Result<Vec<u8>> {
    let place = kept.map(|folder| folder.join(format!("{seed}-{}.ply", case.plan.triangles)));
    if let Some(place) = &place
        && let Ok(file) = std::fs::read(place)
    {
        return Ok(file);
    }
    let scan = match case.blades {
        Some(blades) => photographed_propeller(&case.blade, &hub_of(case, blades), &case.plan),
        None => photographed_blade(&case.blade, &case.plan),
    };
    let file = bytes(&scan.mesh)?;
    if let Some(place) = &place {
        std::fs::write(place, &file)?;
    }
    Ok(file)
}

/// Noise over at least this length, m, is seen by the check points of a report: their marks are a few millimetres to centimetres wide and average what is shorter (common practice, no source).
const SEEN_BY_MARKS_M: f64 = 0.02;

/// What the report of a scan like this would state as its accuracy: the root mean square of the errors of places that lie far apart, m. `with_noise`: not only what deforms and shifts the whole,
/// also noise longer than the marks.
fn accuracy_m(case: &Case, with_noise: bool) -> Option<f64> {
    let (plan, length_m) = (&case.plan, case.blade.radius_m - case.blade.root_radius_m);
    let d = &plan.deformation;
    // A third of an axis's share each for two sides that differ by the offset, and about the mean squares over the blade of the deformations.
    let square = plan.sides_offset_m.powi(2) / 6.0
        + 0.3 * length_m.powi(2) * (d.bow.powi(2) + d.saddle.powi(2) + d.torsion.powi(2))
        + (0.5 * case.blade.greatest_chord_m).powi(2) * d.stretch.iter().map(|s| s * s / 3.0).sum::<f64>();
    let long = plan.noise.iter().filter(|n| with_noise && SEEN_BY_MARKS_M <= n.length_m);
    let square = square + long.map(|n| n.deviation_m.powi(2)).sum::<f64>();
    (0.0 < square).then(|| square.sqrt())
}

/// Stations of a propeller begin here, fractions of the tip radius: farther in the hub and its fillets hide the sections.
const OUTSIDE_HUB: f64 = 0.46;

/// Measures a scan. `other_edges`: the user has seen that leading and trailing edge were exchanged, and says so.
fn measured(case: &Case, file: &[u8], other_edges: bool, told: &str) -> Result<StationTable, String> {
    let lone = case.blades.is_none();
    let least = if lone { 0.0 } else { OUTSIDE_HUB };
    let setting = KnownAngle { angle_deg: case.blade.truth(0.75).blade_angle_deg, radius_ratio: None };
    let ask = MeasurePlan {
        length_m: lone.then_some(case.length_m),
        diameter_m: (!lone).then_some(case.length_m),
        length_uncertainty_m: TAPE_M,
        root_radius_m: lone.then_some(case.blade.root_radius_m),
        stations: StationRadii::Ratios(ratios().into_iter().filter(|r| least < *r).collect()),
        swap_edges: other_edges,
        scan_accuracy_m: accuracy_m(case, told == "report").filter(|_| !told.is_empty()),
        resolution_m: matches!(told, "all" | "report")
            .then_some(WIDTH_OF_GAUSSIAN * case.plan.kernel.deviation_m),
        setting: lone.then_some(setting),
        ..MeasurePlan::default()
    };
    measure(ScanInput::file(file, "study"), &ask, &Silent).map_err(|e| e.to_string())
}

/// Names of the rows to which a scan belongs, in the order of the printed table.
fn rows_of(case: &Case) -> Vec<(u8, String)> {
    let plan = &case.plan;
    let mut rows = vec![(0, "all".to_owned())];
    let mm = |m: f64| 1e3 * m;
    let within = |value: f64, bounds: &[f64], unit: &str| {
        let k = bounds.iter().position(|b| value < *b).unwrap_or(bounds.len());
        match (k.checked_sub(1).map(|k| bounds[k]), bounds.get(k)) {
            (None, Some(b)) => format!("under {b} {unit}"),
            (Some(a), Some(b)) => format!("{a} to {b} {unit}"),
            (a, None) => format!("{} {unit} and over", a.unwrap_or(0.0)),
        }
    };
    match plan.noise.iter().max_by(|a, b| a.deviation_m.total_cmp(&b.deviation_m)) {
        None => rows.push((1, "no noise".to_owned())),
        Some(noise) => {
            // Patches are named by their radius, at which their correlation falls to 1/e.
            let kind = match noise.correlation {
                Correlation::Gaussian => "Gaussian noise",
                Correlation::Exponential => "exponential noise",
                Correlation::Patches => "noise of patches",
            };
            rows.push((2, kind.to_owned()));
            if noise.correlation != Correlation::Patches {
                rows.push((1, format!("noise over {}", within(mm(noise.length_m), &[2.0, 8.0, 20.0], "mm"))));
            }
        }
    }
    rows.push((3, format!("kernel {}", within(mm(plan.kernel.deviation_m), &[0.4, 1.0], "mm"))));
    let kind = match plan.kernel.kind {
        KernelKind::Outline => "kernel along the outline",
        KernelKind::Surface => "kernel over the surface",
        KernelKind::Flow => "shortening flow",
    };
    rows.push((3, kind.to_owned()));
    rows.push((4, if plan.sides_offset_m > 0.0 { "two sides apart" } else { "sides together" }.to_owned()));
    rows.push((
        5,
        if plan.deformation == Deformation::NONE { "not deformed" } else { "deformed" }.to_owned(),
    ));
    let thinned = matches!(plan.triangulation, Triangulation::Thinned(_));
    rows.push((6, if thinned { "thinned triangles" } else { "even triangles" }.to_owned()));
    rows.push((
        7,
        format!("{} triangles", within(plan.triangles as f64, &[150_000.0, 400_000.0], ""))
            .replace("  ", " "),
    ));
    let family = match case.blade.sections {
        Sections::FourDigit => "four-digit".to_owned(),
        Sections::ClarkY => "Clark Y".to_owned(),
        Sections::Raf6 => "R.A.F. 6".to_owned(),
        Sections::FlatFaced => "flat-faced".to_owned(),
        Sections::Free { nose, tail } => {
            for (part, edge) in [("nose", nose), ("tail", tail)] {
                rows.push((9, format!("free, {part} {}", name(edge))));
            }
            "free".to_owned()
        }
    };
    rows.push((8, family));
    rows.push((10, case.blades.map_or_else(|| "lone blade".to_owned(), |n| format!("propeller of {n}"))));
    rows
}

const fn name(edge: Edge) -> &'static str {
    match edge {
        Edge::Sharp => "sharp",
        Edge::Blunt => "blunt",
        Edge::Square => "square",
        Edge::Compass => "by compasses",
    }
}

/// Results of one scan: errors with their uncertainty by quantity.
type Errors = Vec<Vec<(f64, f64)>>;

/// Errors of a station's own figure and of the smooth blade's there, by quantity.
type Pairs = Vec<Vec<[(f64, f64); 2]>>;

/// Whether the scan has no edge at a station.
fn lacks_edge(s: &Station) -> bool {
    s.flags.iter().any(|f| matches!(f.code(), "gap-at-nose" | "gap-at-tail" | "nose-missing"))
}

/// The stations where both the station and the smooth blade have a figure, of those that are asked for.
fn pairs_of(case: &Case, table: &StationTable, is_asked: impl Fn(&Station) -> bool) -> Pairs {
    let mut pairs = vec![vec![]; QUANTITIES.len()];
    let Some(reference) = table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-6) else {
        return pairs;
    };
    for s in table.stations.iter().filter(|s| is_asked(s)) {
        let truth = case.blade.truth(s.radius_ratio);
        for (q, quantity) in QUANTITIES.iter().enumerate() {
            let Some(smooth) = s.smooth.figures.get(&quantity.1) else { continue };
            let mut on_smooth = s.clone();
            quantity.1.set(&mut on_smooth, Some(smooth.value));
            quantity.1.set_u(&mut on_smooth, Some(smooth.u));
            if let Some(own) = error(s, &truth, reference, quantity)
                && let Some(smooth) = error(&on_smooth, &truth, reference, quantity)
                && 0.0 < own.1
                && 0.0 < smooth.1
            {
                pairs[q].push([own, smooth]);
            }
        }
    }
    pairs
}

fn errors_of(case: &Case, table: &StationTable) -> Option<Errors> {
    let mut errors = vec![vec![]; QUANTITIES.len()];
    let reference = table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-6)?;
    let truths: Vec<Truth> = table.stations.iter().map(|s| case.blade.truth(s.radius_ratio)).collect();
    for (s, t) in table.stations.iter().zip(&truths) {
        for (q, quantity) in QUANTITIES.iter().enumerate() {
            // The angle at the reference radius of a lone blade is the setting, which was given.
            if let Some(e) = error(s, t, reference, quantity)
                && 0.0 < e.1
            {
                errors[q].push(e);
            }
        }
    }
    Some(errors)
}

/// An angle is as far off, deg, as exchanged edges or ends would make it.
const TURNED_DEG: f64 = 3.0;

/// Whether most angles are as far off as exchanged edges or ends would make them. A few such angles are failed stations, which count as errors.
fn is_turned(errors: &Errors) -> bool {
    let angles = &errors[QUANTITIES.iter().position(|q| q.1 == StationColumn::BladeAngleDeg).unwrap_or(0)];
    let off = angles.iter().filter(|e| TURNED_DEG < e.0.abs()).count();
    angles.len() < 2 * off
}

/// One row of the table: all errors by quantity, and the share of each scan.
#[derive(Default)]
struct Row {
    tallies: Vec<Tally>,
    shares: Vec<Vec<f64>>,
    /// Mean relative error of the chord of each scan.
    chords: Vec<f64>,
}

impl Row {
    fn add(&mut self, errors: &Errors) {
        self.tallies.resize_with(QUANTITIES.len(), Tally::default);
        self.shares.resize_with(QUANTITIES.len(), Vec::new);
        for (q, of_quantity) in errors.iter().enumerate() {
            if of_quantity.is_empty() {
                continue;
            }
            of_quantity.iter().for_each(|&(e, u)| self.tallies[q].add(e, Some(u)));
            let within = of_quantity.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count();
            self.shares[q].push(within as f64 / of_quantity.len() as f64);
        }
    }

    /// Share within 2 u with its standard error from scan to scan, and error over u.
    fn cell(&self, q: usize) -> String {
        let shares = &self.shares[q];
        let n = shares.len() as f64;
        if shares.is_empty() {
            return "none".to_owned();
        }
        let mean = shares.iter().sum::<f64>() / n;
        let scatter = shares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
        format!(
            "{:.0} ± {:.0} ({:.2})",
            100.0 * self.tallies[q].covered(),
            100.0 * (scatter / n).sqrt(),
            self.tallies[q].error_over_u()
        )
    }
}

/// The resolution of a scan: width at half height of its kernel, m.
struct Resolution {
    seed: u64,
    triangles: usize,
    noise: String,
    true_m: f64,
    estimated_m: f64,
    u_m: f64,
    /// Mean relative error of the chord, and the root mean square of error over u.
    chord: (f64, f64),
}

impl Resolution {
    fn of(seed: u64, case: &Case, table: &StationTable, chords: &[(f64, f64)]) -> Option<Self> {
        let source = table.source.as_ref()?;
        let n = chords.len().max(1) as f64;
        let noise = case.plan.noise.iter().max_by(|a, b| a.deviation_m.total_cmp(&b.deviation_m))?;
        Some(Self {
            seed,
            triangles: case.plan.triangles,
            noise: format!(
                "{:.2} mm {:?} over {:.1} mm",
                1e3 * noise.deviation_m,
                noise.correlation,
                1e3 * noise.length_m
            ),
            true_m: WIDTH_OF_GAUSSIAN * case.plan.kernel.deviation_m,
            estimated_m: source.resolution_m.unwrap_or(0.0),
            u_m: source.resolution_uncertainty_m?,
            chord: (
                chords.iter().map(|e| e.0).sum::<f64>() / n,
                (chords.iter().map(|(e, u)| (e / u).powi(2)).sum::<f64>() / n).sqrt(),
            ),
        })
    }
}

/// Width at half height of a Gaussian over its standard deviation.
const WIDTH_OF_GAUSSIAN: f64 = 2.354_820_045;

/// What many scans gave.
struct Results {
    rows: BTreeMap<(u8, String), Row>,
    /// The same with the figures of the smooth blade.
    smooth: [Row; 2],
    /// The same at stations where the scan has no edge.
    in_holes: [Row; 2],
    /// Mean relative error of the chord of each scan with its kernel.
    chords: Vec<(Kernel, f64)>,
    /// The resolution of each scan and what the measurement took it for.
    resolutions: Vec<Resolution>,
    remarks: Vec<String>,
    refused: usize,
    exchanged: usize,
    seconds: f64,
}

/// Makes, measures and compares scans. `told`: `all` states resolution and accuracy of each scan, `accuracy` the latter alone, `report` both with the
/// accuracy as check points see it, long noise too.
fn collect(scans: usize, most_triangles: usize, first: u64, kept: Option<&Path>, told: &str) -> Results {
    let mut rows = BTreeMap::<(u8, String), Row>::new();
    let ([mut smooth, mut in_holes], mut chords) = (<[[Row; 2]; 2]>::default(), vec![]);
    let mut resolutions = vec![];
    let mut remarks = vec![];
    let (mut refused, mut exchanged, mut seconds) = (0, 0, 0.0);
    let batch = 2 * parallel::threads();
    for begin in (0..scans).step_by(batch) {
        let results = parallel::indices(batch.min(scans - begin), |i| {
            let seed = first + (begin + i) as u64;
            let case = draw(seed, most_triangles);
            let file = file_of(&case, seed, kept);
            let before = std::time::Instant::now();
            let file = file.map_err(|e| e.to_string());
            let measured =
                |other_edges| file.clone().and_then(|file| measured(&case, &file, other_edges, told));
            let mut table = measured(false);
            let seconds = before.elapsed().as_secs_f64();
            let mut errors = table.as_ref().ok().and_then(|t| errors_of(&case, t));
            let turned = errors.as_ref().is_some_and(is_turned);
            if turned {
                table = measured(true);
                errors = table.as_ref().ok().and_then(|t| errors_of(&case, t));
            }
            (seed, case, table, errors, turned, seconds)
        });
        for (seed, case, table, errors, turned, took) in results {
            seconds += took;
            let what =
                || format!("seed {seed}, {:?}, {:?} blades", case.blade.sections, case.blades.unwrap_or(1));
            let table = match table {
                Ok(table) => table,
                Err(e) => {
                    remarks.push(format!("{}: {e}", what()));
                    continue;
                }
            };
            exchanged += usize::from(turned);
            refused += table.stations.iter().filter(|s| s.is_refused()).count();
            let Some(errors) = errors else {
                remarks.push(format!("{}: no station at 0.75 R", what()));
                continue;
            };
            if is_turned(&errors) {
                let certain = table.frame.as_ref().is_some_and(|f| f.hand_certain);
                remarks.push(format!(
                    "{}: edges or ends exchanged even when told, {}",
                    what(),
                    if certain { "not reported" } else { "reported as a guess" }
                ));
                continue;
            }
            for (rows, pairs) in [
                (&mut smooth, pairs_of(&case, &table, |_| true)),
                (&mut in_holes, pairs_of(&case, &table, lacks_edge)),
            ] {
                for (k, row) in rows.iter_mut().enumerate() {
                    row.add(&pairs.iter().map(|p| p.iter().map(|pair| pair[k]).collect()).collect());
                }
            }
            let of_chord = &errors[0];
            let chord = (!of_chord.is_empty())
                .then(|| of_chord.iter().map(|e| e.0).sum::<f64>() / of_chord.len() as f64);
            resolutions.extend(Resolution::of(seed, &case, &table, of_chord));
            chords.extend(chord.map(|mean| (case.plan.kernel, mean)));
            for row in rows_of(&case) {
                let row = rows.entry(row).or_default();
                row.add(&errors);
                row.chords.extend(chord);
            }
        }
    }
    Results { rows, smooth, in_holes, chords, resolutions, remarks, refused, exchanged, seconds }
}

/// Prints the share of errors within 2 u by row and quantity. `kept`: folder in which scans are kept, so that another run need not make them.
pub(crate) fn run(
    scans: usize,
    most_triangles: usize,
    first: u64,
    kept: Option<&Path>,
    told: &str,
) -> std::io::Result<()> {
    let Results { rows, smooth, in_holes, chords, resolutions, remarks, refused, exchanged, seconds } =
        collect(scans, most_triangles, first, kept, told);
    let mut out = std::io::stdout();
    writeln!(
        out,
        "\n{scans} photographed scans of drawn blades and propellers, seeds from {first}, 60,000 to {most_triangles} triangles; {refused} stations refused, \
         edges exchanged in {exchanged} scans and measured again with the other edges, {} scans not counted; {:.2} s for each measurement\n",
        remarks.len(),
        seconds / scans.max(1) as f64
    )?;
    for remark in &remarks {
        writeln!(out, "- {remark}")?;
    }
    let title = "Errors within 2 u, % ± its standard error from scan to scan, and error over u, root mean square \
                 (goals: 90 to 98 % over all, no row under 87 %, 0.75 to 1.3)";
    let names: Vec<&str> = QUANTITIES.iter().map(|q| q.0.split(',').next().unwrap_or(q.0)).collect();
    let headings: Vec<&str> = ["row", "scans"].into_iter().chain(names).collect();
    let table = Table::begin(&mut out, title, &headings)?;
    for ((_, name), row) in &rows {
        let count = row.shares.iter().map(Vec::len).max().unwrap_or(0);
        let cells = (0..QUANTITIES.len()).map(|q| row.cell(q));
        table
            .row(&mut out, &[name.clone(), count.to_string()].into_iter().chain(cells).collect::<Vec<_>>())?;
    }
    if let Some(all) = rows.get(&(0, "all".to_owned())) {
        print_root_mean_squares(&mut out, all)?;
    }
    print_smooth(&mut out, "The smooth blade beside its stations, root mean squares", &smooth)?;
    print_smooth(&mut out, "The same at stations where the scan lacks an edge", &in_holes)?;
    print_chords(&mut out, &chords)?;
    print_chords_by_row(&mut out, &rows)?;
    if resolutions.is_empty() { Ok(()) } else { print_resolutions(&mut out, &resolutions) }
}

/// The resolution that the measurement took beside the true one, greatest first.
fn print_resolutions(out: &mut impl Write, all: &[Resolution]) -> std::io::Result<()> {
    let within = all.iter().filter(|r| (r.estimated_m - r.true_m).abs() <= 2.0 * r.u_m).count();
    let title = format!(
        "Resolution estimated from the noise, width at half height: {within} of {} within 2 u",
        all.len()
    );
    let headings = [
        "seed",
        "triangles",
        "largest noise",
        "true, mm",
        "estimated, mm",
        "u, mm",
        "chord's mean error, %",
        "chord's error over u",
    ];
    let table = Table::begin(out, &title, &headings)?;
    let mut sorted: Vec<_> = all.iter().collect();
    sorted.sort_by(|a, b| b.true_m.total_cmp(&a.true_m));
    for r in sorted {
        let cells = [
            r.seed.to_string(),
            r.triangles.to_string(),
            r.noise.clone(),
            format!("{:.2}", 1e3 * r.true_m),
            format!("{:.2}", 1e3 * r.estimated_m),
            format!("{:.2}", 1e3 * r.u_m),
            format!("{:+.2}", 100.0 * r.chord.0),
            format!("{:.2}", r.chord.1),
        ];
        table.row(out, &cells)?;
    }
    Ok(())
}

/// Mean error of the chord by row, with its standard error from scan to scan.
fn print_chords_by_row(out: &mut impl Write, rows: &BTreeMap<(u8, String), Row>) -> std::io::Result<()> {
    let headings = ["row", "scans", "mean error, %", "its standard error, %"];
    let table = Table::begin(out, "Bias of the chord by row", &headings)?;
    for ((_, name), row) in rows.iter().filter(|(_, row)| 1 < row.chords.len()) {
        let n = row.chords.len() as f64;
        let mean = row.chords.iter().sum::<f64>() / n;
        let scatter = (row.chords.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let cells = [
            name.clone(),
            row.chords.len().to_string(),
            format!("{:.3}", 100.0 * mean),
            format!("{:.3}", 100.0 * scatter / n.sqrt()),
        ];
        table.row(out, &cells)?;
    }
    Ok(())
}

fn print_root_mean_squares(out: &mut impl Write, all: &Row) -> std::io::Result<()> {
    let table = Table::begin(out, "Root mean squares over all", &["quantity", "error", "u", "mean error"])?;
    for (q, quantity) in QUANTITIES.iter().enumerate() {
        let t = &all.tallies[q];
        let cells = [
            quantity.0.to_owned(),
            format!("{:.6}", t.rms()),
            format!("{:.6}", t.rms_u()),
            format!("{:.6}", t.mean_error()),
        ];
        table.row(out, &cells)?;
    }
    Ok(())
}

/// The smooth blade beside the stations that it is made of.
fn print_smooth(out: &mut impl Write, title: &str, [own, smooth]: &[Row; 2]) -> std::io::Result<()> {
    let headings = ["quantity", "error of stations", "error of smooth blade", "its u", "within 2 u"];
    let table = Table::begin(out, title, &headings)?;
    for (q, quantity) in QUANTITIES.iter().enumerate() {
        if let (Some(own), Some(t)) = (own.tallies.get(q), smooth.tallies.get(q))
            && 0.0 < t.rms()
        {
            let cells = [
                quantity.0.to_owned(),
                format!("{:.6}", own.rms()),
                format!("{:.6}", t.rms()),
                format!("{:.6}", t.rms_u()),
                smooth.cell(q),
            ];
            table.row(out, &cells)?;
        }
    }
    Ok(())
}

/// Bounds between the rows of kernels, m.
const KERNELS_M: [f64; 5] = [0.0, 0.4e-3, 1e-3, 2e-3, f64::INFINITY];

/// The mean error of the chord by the kernel that smoothed the surface.
fn print_chords(out: &mut impl Write, chords: &[(Kernel, f64)]) -> std::io::Result<()> {
    let title = "Bias of the chord by the deviation of the kernel (goals: 0.1 % at 1.5 mm, 0.25 % at 3 mm)";
    let headings = ["kernel, mm", "scans", "mean error, %", "its standard error, %", "scatter of scans, %"];
    let table = Table::begin(out, title, &headings)?;
    let rows = KERNELS_M.windows(2).flat_map(|bounds| [(bounds, false), (bounds, true)]);
    for (bounds, is_flow) in rows {
        let is_in = |k: &Kernel| {
            (bounds[0]..bounds[1]).contains(&k.deviation_m) && (k.kind == KernelKind::Flow) == is_flow
        };
        let of: Vec<f64> = chords.iter().filter(|c| is_in(&c.0)).map(|c| 100.0 * c.1).collect();
        let n = of.len() as f64;
        if n < 2.0 {
            continue;
        }
        let mean = of.iter().sum::<f64>() / n;
        let scatter = (of.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let cells = [
            format!(
                "{} to {}, {}",
                1e3 * bounds[0],
                1e3 * bounds[1],
                if is_flow { "shortening flow" } else { "smoothed once" }
            ),
            of.len().to_string(),
            format!("{mean:.3}"),
            format!("{:.3}", scatter / n.sqrt()),
            format!("{scatter:.3}"),
        ];
        table.row(out, &cells)?;
    }
    Ok(())
}

/// The gate: a few small scans of the photogrammetry generator, with resolution and accuracy stated.
#[cfg(test)]
mod tests {
    use super::*;

    /// Seeds from here on, and how many: every kind of noise, kernel and edge occurs among them.
    const FIRST: u64 = 9000;
    const SCANS: usize = 8;
    const TRIANGLES: usize = 80_000;
    /// Greatest accepted fall of a share below the one found when the gate was set, %: one scan of eight that is half outside.
    const SLACK: f64 = 6.0;
    /// Shares within 2 u, %, found when the gate was set, in the order of the quantities.
    const FOUND: [f64; QUANTITIES.len()] =
        [90.6, 90.6, 90.2, 89.3, 90.1, 89.9, 97.5, 97.5, 97.5, 96.9, 98.7, 83.0, 86.8, 100.0, 86.0];

    #[test]
    #[allow(clippy::print_stdout, reason = "`--nocapture` shows what a change needs")]
    fn intervals_hold_on_photographed_scans_as_before() {
        let results = collect(SCANS, TRIANGLES, FIRST, None, "all");
        assert!(results.remarks.is_empty(), "{:?}", results.remarks);
        let all = &results.rows[&(0, "all".to_owned())];
        let mut faults = Vec::new();
        for (q, quantity) in QUANTITIES.iter().enumerate() {
            let share = 100.0 * all.tallies[q].covered();
            println!("{}: {share:.1}, found before {:.1}", quantity.0, FOUND[q]);
            if share < FOUND[q] - SLACK {
                faults
                    .push(format!("{}: {share:.1} % within 2 u, found before {:.1} %", quantity.0, FOUND[q]));
            }
        }
        assert!(faults.is_empty(), "{faults:?}");
    }
}
