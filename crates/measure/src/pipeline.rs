//! The main job: bytes of a scan in, station table out.

use std::sync::atomic::{AtomicUsize, Ordering};

use bladeform_mesh::{
    CleanMesh, Moments, OrientationReport, Part, PartReason, PlaneCut, RepairTally, cut, isolate, moments_on,
    orient, read,
};
use bladeform_quantity::{Hand, Measured};
use bladeform_table::{
    BladeFigures, BladeRows, ColumnUnit, Frame, Repairs, Setting, SettingOf, Source, Station, StationColumn,
    StationTable, UncertaintySource, activity_factor_of, blade_differences, flag_departures,
    geometric_pitch_m, mean_of,
};
use sha2::{Digest, Sha256};

use crate::axes::{length, lone_axes, places, span_of};
use crate::bodies::one_part;
use crate::error::MeasureError;
use crate::hub::hub_axis;
use crate::noise::surface_noise;
use crate::parallel;
use crate::plan::MeasurePlan;
use crate::reach::{Overreach, overreach};
use crate::resolution::coarse_numbers;
use crate::scale::{Known, lone_scale, rotor_scale, station_radii};
use crate::slices::{Slice, slices, twist_sign, vote};
use crate::stations::{
    Found, LocalBlade, ToTable, add_misfit, excess_residuals_m, share_correlation, turn_station,
};
use crate::symmetry::{Rotor, find_rotor};
use crate::tip::{missing_tip, outside_circle};
use crate::vector::{Axes, V3, add, cross, dot, median, norm, scale, sub, unit};

/// Fraction of the tip radius at which angles are referred to.
const REFERENCE: f64 = 0.75;
/// Share of the votes below which edges, sides and hand are not certain.
const CERTAIN: f64 = 0.8;
/// A blade's length over the propeller's diameter is below one half; a two-bladed propeller's is one.
const LONE_SHARE: f64 = 0.75;
/// Half of a blade's sections are flatter than this (least width over longest chord); a block or a ball has none.
const BLADE_FLATNESS: f64 = 0.6;

/// Where stages and steps are told to, through the facade `log`: a message is the stage, `done` and `total` count its steps.
const PROGRESS: &str = "bladeform::progress";

/// Measures a scan. `bytes`: the file's content; `file`: its name for the record.
///
/// # Errors
/// [`MeasureError`] when the file is no mesh, holds no blade, or no station can be measured.
pub fn measure(bytes: &[u8], file: &str, plan: &MeasurePlan) -> Result<StationTable, MeasureError> {
    Ok(measure_keeping(bytes, file, plan, |_| ())?.0)
}

/// As [`measure`], and the part of the scan that was measured: repaired, wound, without fragments and ground, in the scan's own axes and
/// unit. Finding it takes a good share of the time, so whoever shows it need not find it again.
///
/// # Errors
/// As [`measure`].
pub fn measure_with_part(
    bytes: &[u8],
    file: &str,
    plan: &MeasurePlan,
) -> Result<(StationTable, CleanMesh), MeasureError> {
    measure_keeping(bytes, file, plan, CleanMesh::clone)
}

/// Measures, and gives what `keep` takes from the part before it is used up.
fn measure_keeping<K>(
    bytes: &[u8],
    file: &str,
    plan: &MeasurePlan,
    keep: impl FnOnce(&CleanMesh) -> K,
) -> Result<(StationTable, K), MeasureError> {
    log::info!(target: PROGRESS, "reading the mesh");
    let (found, sha256) = std::thread::scope(|scope| {
        let hashing = (1 < plan.threads).then(|| scope.spawn(|| sha256_of(bytes)));
        let found = read(bytes);
        let hash = hashing.and_then(|h| h.join().ok()).unwrap_or_else(|| sha256_of(bytes));
        (found, hash)
    });
    let found = found?;
    let mut warnings = found.notes.clone();
    warnings.extend(coarse_numbers(&found.mesh));
    let source = Source {
        file: file.to_owned(),
        sha256,
        format: found.format.name().to_owned(),
        vertices: Some(found.vertices_in_file as u64),
        triangles: Some(found.triangles_in_file as u64),
        ..Source::default()
    };
    log::info!(target: PROGRESS, "repairing the mesh");
    let distinct = found.format.joins_corners();
    let Part { mesh, mut tally, orientation: report, removed, all_ground } =
        isolate(found.mesh, distinct, plan.threads)?;
    tally.duplicate_vertices += found.welded_on_reading;
    if all_ground {
        warnings
            .push("everything in the scan looks like a table or ground; no ground was taken out".to_owned());
    }
    for part in &removed {
        match part.reason {
            PartReason::Ground => tally.ground_components += 1,
            _ => tally.stray_components += 1,
        }
    }
    log::info!(target: PROGRESS, "finding the axes");
    let mut m = moments_on(&mesh, plan.threads);
    let mut rotor = find_rotor(&mesh, &m, plan.threads);
    if is_said_to_be_lone(plan)
        && let Some(found) = rotor.take()
    {
        warnings.push(format!(
            "the scan turns into itself like a propeller of {} blades; it is measured as a lone blade because --length is well short of --diameter; for a whole propeller give --diameter alone",
            found.blades
        ));
    }
    let (mut mesh, mut report, mut left_out) = (mesh, report, 0);
    if rotor.is_none()
        && let Some(one) = one_part(&mesh)?
    {
        warnings.extend(one.warning);
        left_out = one.left_out;
        if let Some(largest) = one.mesh {
            tally.stray_components += left_out;
            let flipped = report.flipped_triangles;
            (mesh, report) = orient(largest);
            report.flipped_triangles += flipped;
            m = moments_on(&mesh, plan.threads);
        }
    }
    let kept = keep(&mesh);
    let (mut table, planform) = match rotor {
        Some(rotor) => measure_rotor(&mesh, rotor, plan, &mut warnings)?,
        None => {
            measure_lone(mesh, &m, &report, plan, &mut warnings).map_err(|e| among_others(e, left_out))?
        }
    };
    table.source = Some(source);
    table.repairs = Some(repairs(&tally, &report, &mut warnings));
    finish(&mut table, &planform, warnings)?;
    Ok((table, kept))
}

/// The largest body may not have been the one that was meant.
fn among_others(error: MeasureError, left_out: usize) -> MeasureError {
    match error {
        MeasureError::NoBlade(text) if 0 < left_out => MeasureError::NoBlade(format!(
            "{text}; that is the largest body of the scan, and {left_out} smaller beside it were left out: cut the blade out of the scan"
        )),
        other => other,
    }
}

fn sha256_of(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Whether the known lengths can only be those of a lone blade: its own length, well short of the propeller's diameter.
fn is_said_to_be_lone(plan: &MeasurePlan) -> bool {
    plan.length_m.zip(plan.diameter_m).is_some_and(|(length, diameter)| length < LONE_SHARE * diameter)
}

fn repairs(tally: &RepairTally, report: &OrientationReport, warnings: &mut Vec<String>) -> Repairs {
    let mut repairs = Repairs {
        duplicate_vertices: tally.duplicate_vertices as u64,
        degenerate_triangles: tally.degenerate_triangles as u64,
        stray_components: tally.stray_components as u64,
        flipped_triangles: report.flipped_triangles as u64,
        non_finite_vertices: tally.non_finite_vertices as u64,
        ..Repairs::default()
    };
    for (key, count) in tally.entries() {
        let known = [
            "duplicate_vertices",
            "degenerate_triangles",
            "stray_components",
            "flipped_triangles",
            "non_finite_vertices",
        ];
        if !known.contains(&key) && 0 < count {
            repairs.count(key, count as u64);
        }
    }
    repairs.count("boundary_edges", report.boundary_edges as u64);
    repairs.count("non_manifold_edges", report.non_manifold_edges as u64);
    if report.unorientable {
        warnings.push(
            "the surface cannot be wound consistently; back and face are told apart less surely".to_owned(),
        );
    }
    repairs
}

/// Figures that follow from the stations.
/// `planform`: radius and longest chord of the quick sections, m.
fn finish(
    table: &mut StationTable,
    planform: &[(f64, f64)],
    warnings: Vec<String>,
) -> Result<(), MeasureError> {
    if table.blade.setting.is_some() {
        // A relative angle has no pitch.
        for s in table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations)) {
            set_pitch(s);
        }
    }
    // Where the scale is a guess, it has no uncertainty, and what hangs on it alone has none.
    let known = table.scale.as_ref().and_then(|s| s.relative_uncertainty);
    let relative = known.unwrap_or(0.0);
    for s in table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations)) {
        add_scale_uncertainty(s, relative);
    }
    let blade = &mut table.blade;
    blade.u.blade_length_m = blade.blade_length_m.zip(known).map(|(l, u)| l * u);
    blade.u.volume_m3 = blade.volume_m3.zip(known).map(|(v, u)| 3.0 * v * u);
    if table.stations.iter().all(Station::is_refused) {
        let first =
            table.stations.first().and_then(|s| s.flags.first()).map_or(String::new(), ToString::to_string);
        return Err(MeasureError::NoStation { count: table.stations.len(), first });
    }
    flag_departures(&mut table.stations);
    table.warnings.extend(warnings);
    if let Some((factor, u)) = activity_factor_of(table.blade.radius_m, &table.stations, planform) {
        table.blade.activity_factor = Some(factor.value);
        table.blade.u.activity_factor = Some(u);
        if factor.needs_warning() {
            table.warnings.push(format!(
                "the activity factor rests for {:.0} % of its range on chords carried beyond the stations",
                100.0 * factor.extrapolated_share
            ));
        }
    }
    Ok(())
}

/// Adds what the known length leaves uncertain to every length and area. It is common to all stations and blades, so it comes after
/// means over blades have been taken.
fn add_scale_uncertainty(s: &mut Station, relative: f64) {
    for &column in StationColumn::FIGURES {
        let power = match column.unit() {
            ColumnUnit::Metre => 1.0,
            ColumnUnit::SquareMetre => 2.0,
            _ => continue,
        };
        if let Some(value) = column.get(s) {
            s.add_uncertainty(column, UncertaintySource::Length, power * value.abs() * relative);
        }
    }
}

fn set_pitch(s: &mut Station) {
    let pitch = |angle: Option<f64>, u: Option<f64>| {
        let value = angle.map(|a| geometric_pitch_m(s.radius_m, a))?;
        let slope = std::f64::consts::TAU * s.radius_m / angle?.to_radians().cos().powi(2);
        Some((value, u.unwrap_or(0.0).to_radians() * slope))
    };
    let (chord, face) =
        (pitch(s.blade_angle_deg, s.u.blade_angle_deg), pitch(s.face_angle_deg, s.u.face_angle_deg));
    s.pitch_m = chord.map(|p| p.0);
    s.u.pitch_m = chord.map(|p| p.1);
    s.face_pitch_m = face.map(|p| p.0);
    s.u.face_pitch_m = face.map(|p| p.1);
}

/// Which way things run, found by votes and overruled by the user.
struct Sides {
    first_leads: bool,
    hand: Hand,
    certain: bool,
}

/// `pitch_right`: whether the blade is right-handed if its geometric pitch is positive, where the plane of rotation is known and pitch has one sign.
fn sides(
    slices: &[Slice],
    plan: &MeasurePlan,
    pitch_right: Option<bool>,
    warnings: &mut Vec<String>,
) -> Result<Sides, MeasureError> {
    let flat = slices.iter().filter(|s| s.flatness < BLADE_FLATNESS).count();
    if 2 * flat < slices.len() || slices.is_empty() {
        return Err(MeasureError::NoBlade(format!(
            "{} of {} sections across its span are nearly as thick as they are wide",
            slices.len() - flat,
            slices.len()
        )));
    }
    let mut v = vote(slices);
    if (v.edge_share < CERTAIN && !plan.swap_edges) || (v.side_share < CERTAIN && !plan.swap_sides) {
        // Geometric pitch is positive, and the blade angle of a propeller falls towards the tip (both common practice, no source): seen from the tip,
        // a right-hand blade's chord turns clockwise outwards. Hand and back together show the leading edge, hand and leading edge the back.
        let back_left_of_first = v.back_on_left == v.first_leads;
        let right = pitch_right.unwrap_or(twist_sign(slices) < 0.0);
        let by = if pitch_right.is_some() {
            "pitch, taken as positive"
        } else {
            "twist, taken to fall towards the tip"
        };
        if v.edge_share < CERTAIN && !plan.swap_edges {
            v.first_leads = back_left_of_first == right;
            warnings.push(format!("the sections lean to neither edge: the leading edge follows from the {by}; give --hand or --swap if that is wrong"));
        } else {
            warnings.push(format!("the sections bulge to neither side: the back follows from the {by}; give --hand or --swap if that is wrong"));
        }
        v.back_on_left = right;
    }
    let mut first_leads = v.first_leads != plan.swap_edges;
    // Swapping edges alone keeps the back where it is, so the hand changes; so does swapping sides alone.
    let mut right = v.back_on_left != (plan.swap_edges != plan.swap_sides);
    let told = plan.swap_edges || plan.swap_sides;
    if plan.swap_edges != plan.swap_sides && plan.hand.is_none() {
        let (swapped, kept) = if plan.swap_edges { ("edges", "back") } else { ("sides", "leading edge") };
        warnings.push(format!(
            "--swap {swapped} alone keeps the {kept} and so changes the hand, to {}; for the same hand give --swap edges --swap sides",
            if right { Hand::Right } else { Hand::Left }
        ));
    }
    let mut certain = told || (CERTAIN <= v.edge_share && CERTAIN <= v.side_share);
    if !certain {
        warnings.push(format!(
            "the sections do not agree on which edge leads ({:.0} %) or which side is the back ({:.0} %): edges, sides and hand are a guess; give --hand or --swap",
            100.0 * v.edge_share,
            100.0 * v.side_share
        ));
    }
    if let Some(hand) = plan.hand {
        if (hand == Hand::Right) != right {
            right = !right;
            if v.edge_share < v.side_share {
                first_leads = !first_leads;
            }
            warnings.push(format!("the shape looks {}-handed; --hand {hand} overrules it", hand.other()));
        }
        certain = true;
    }
    Ok(Sides { first_leads, hand: if right { Hand::Right } else { Hand::Left }, certain })
}

/// The blade in right-handed span axes with its slices turned so that their first end leads.
/// `quick`: the slices on which the sides were decided, in the unmirrored axes.
fn local_blade(
    mesh: CleanMesh,
    quick: Vec<Slice>,
    sides: &Sides,
    span: (f64, f64),
    threads: usize,
) -> LocalBlade {
    let mirrored = sides.hand == Hand::Left;
    let mesh = if mirrored { mesh.map_vertices_on(threads, |p| [-p[0], p[1], p[2]]) } else { mesh };
    let flip = |p: [f64; 2]| if mirrored { [-p[0], p[1]] } else { p };
    let mut slices = quick;
    for s in &mut slices {
        s.ends = s.ends.map(flip);
        if !sides.first_leads {
            s.ends.swap(0, 1);
            s.seen.swap(0, 1);
        }
    }
    let (normals, edge) = normals(&mesh, mirrored, threads);
    LocalBlade { mesh, normals, mirrored, slices, edge, span }
}

/// Vertex normals (area-weighted) and the typical edge, at the same time if there are two threads. A mirrored mesh has its triangles turned inside out.
fn normals(mesh: &CleanMesh, mirrored: bool, threads: usize) -> (Vec<V3>, f64) {
    std::thread::scope(|scope| {
        let aside = (1 < threads).then(|| scope.spawn(|| typical_edge(mesh)));
        let normals = normals_of(mesh, mirrored, |_| true);
        let edge = match aside {
            Some(thread) => thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
            None => typical_edge(mesh),
        };
        (normals, edge)
    })
}

fn typical_edge(mesh: &CleanMesh) -> f64 {
    let area: f64 = mesh.faces().iter().map(|f| norm(normal_of(mesh, f))).sum();
    // Two equilateral triangles of edge e have the area 0.87 e^2.
    (area / mesh.faces().len().max(1) as f64 / 0.87).sqrt()
}

/// Normal of a triangle, twice its area long.
#[inline]
fn normal_of(mesh: &CleanMesh, [a, b, c]: &[u32; 3]) -> V3 {
    let [a, b, c] =
        [mesh.vertices()[*a as usize], mesh.vertices()[*b as usize], mesh.vertices()[*c as usize]];
    cross(sub(b, a), sub(c, a))
}

/// Area-weighted normals of those vertices that `counts` accepts; what stands for the others means nothing.
fn normals_of(mesh: &CleanMesh, mirrored: bool, counts: impl Fn(&V3) -> bool) -> Vec<V3> {
    let mut normals = vec![[0.0; 3]; mesh.vertices().len()];
    for f in mesh.faces() {
        if !f.iter().any(|&i| counts(&mesh.vertices()[i as usize])) {
            continue;
        }
        let n = normal_of(mesh, f);
        let n = if mirrored { scale(n, -1.0) } else { n };
        for &i in f {
            normals[i as usize] = add(normals[i as usize], n);
        }
    }
    normals
}

/// Measures all planes, two threads taking turns; the order of the result is that of the places.
/// `of_blades`: how many blades are done and how many there are, for whoever listens.
fn measure_at(blade: &LocalBlade, places: &[f64], threads: usize, of_blades: [usize; 2]) -> Vec<Found> {
    let cuts = cut(&blade.mesh, [0.0, 0.0, 1.0], places, threads);
    let done = AtomicUsize::new(0);
    let measured = |cut: &PlaneCut| {
        let found = blade.measure(cut);
        let done = 1 + done.fetch_add(1, Ordering::Relaxed);
        log::info!(target: PROGRESS, done = of_blades[0] * cuts.len() + done, total = of_blades[1] * cuts.len(); "measuring stations");
        found
    };
    let mut found = parallel::map(&cuts, threads, measured);
    share_correlation(&mut found);
    found
}

fn measure_lone(
    mesh: CleanMesh,
    m: &Moments,
    report: &OrientationReport,
    plan: &MeasurePlan,
    warnings: &mut Vec<String>,
) -> Result<(StationTable, Vec<(f64, f64)>), MeasureError> {
    let lone = lone_axes(&mesh, m, plan.swap_ends, plan.threads)?;
    if !lone.ends_certain && !plan.swap_ends {
        warnings.push("both ends of the blade are about equally thick: which is the tip is a guess; give --swap ends if it is wrong".to_owned());
    }
    let local = mesh.map_vertices_on(plan.threads, |p| lone.axes.local(p));
    let seen = span_of(&local);
    let quick = slices(&local, &places(seen.0, seen.1), plan.threads);
    let sides = sides(&quick, plan, None, warnings)?;
    warnings.extend(missing_tip(&local, &quick, seen));
    let (span, end_u) = ends(&local, &quick);
    let blade = local_blade(local, quick, &sides, span, plan.threads);
    let scaling = lone_scale(plan, Measured::new(span.1 - span.0, end_u), warnings)?;
    let known = scaling.known;
    let to = ToTable {
        metres_per_unit: known.metres_per_unit,
        radius_at_origin_m: scaling.root_radius_m - known.metres_per_unit * span.0,
        tip_radius_m: scaling.radius_m,
    };
    let radii = station_radii(&plan.stations, scaling.root_radius_m, scaling.radius_m)?;
    let reference = plan.setting.and_then(|s| s.1).unwrap_or(REFERENCE);
    let z = |r: f64| (r - to.radius_at_origin_m) / to.metres_per_unit;
    let mut at: Vec<f64> = radii.iter().map(|&r| z(r)).collect();
    at.push(z(reference * scaling.radius_m));
    let found = measure_at(&blade, &at, plan.threads, [0, 1]);
    let mut stations = parallel::map(&found, plan.threads, |f| f.station(&to));
    let at_reference = stations.last().cloned().unwrap_or_default();
    let (turn, setting) = turn_to_setting(plan, &at_reference, reference, warnings);
    stations.iter_mut().for_each(|s| turn_station(s, turn));
    warnings.extend(outside_circle(
        &blade.mesh,
        -to.radius_at_origin_m / to.metres_per_unit,
        span.1 + to.radius_at_origin_m / to.metres_per_unit,
        turn,
        to.metres_per_unit,
    ));
    add_misfits(&mut stations);
    let reference_station = stations.pop().unwrap_or_default();
    refer_angles(&mut stations, &reference_station, plan);
    if let Some(play) = lone.play {
        for (s, f) in stations.iter_mut().zip(&found) {
            let u = play.at(f.z) * to.metres_per_unit;
            for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
                s.add_uncertainty(column, UncertaintySource::Axes, u);
            }
        }
    }
    let unit3 = to.metres_per_unit.powi(3);
    let closed = report.boundary_edges == 0 && !report.unorientable;
    let volume_m3 = unit3 * if closed { m.volume } else { volume_of(&blade.slices, span) };
    if !closed {
        warnings.push("the surface is open: the volume is the integral of the section areas, open sections taken as convex".to_owned());
    }
    let frame = Frame {
        scan_to_blade: Some(matrix(&lone.axes, sides.hand, &to, turn, &known)),
        method: lone.method,
        hand: sides.hand,
        hand_certain: sides.certain,
        ..Frame::default()
    };
    let planform = planform(&[&blade.slices], &to);
    let table = StationTable {
        scale: Some(known.document()),
        frame: Some(frame),
        blade: BladeFigures {
            radius_m: scaling.radius_m,
            root_radius_m: Some(scaling.root_radius_m),
            blade_length_m: Some(scaling.radius_m - scaling.root_radius_m),
            blades_in_scan: Some(1),
            volume_m3: Some(volume_m3),
            reference_radius_ratio: reference,
            setting,
            ..BladeFigures::default()
        },
        stations,
        ..StationTable::default()
    };
    Ok((table, planform))
}

/// Radius and longest chord of the quick sections with both edges, m: the mean over the blades, rising.
fn planform(blades: &[&[Slice]], to: &ToTable) -> Vec<(f64, f64)> {
    let mut sums = std::collections::BTreeMap::<u64, (f64, f64, f64)>::new();
    for s in blades.iter().copied().flatten().filter(|s| s.seen == [true; 2]) {
        let r = to.radius_at_origin_m + to.metres_per_unit * s.z;
        if 0.0 < r {
            // The bits of numbers above zero rise as they do; all blades are cut at the same places.
            let sum = sums.entry(r.to_bits()).or_insert((r, 0.0, 0.0));
            sum.1 += length(s) * to.metres_per_unit;
            sum.2 += 1.0;
        }
    }
    sums.into_values().map(|(r, sum, n)| (r, sum / n)).collect()
}

/// Root end and tip along the span, and the standard uncertainty of their distance. A flat root end is taken at the median of its points, other ends
/// where the noise of the outermost point is expected to have pushed it from.
fn ends(local: &CleanMesh, slices: &[Slice]) -> ((f64, f64), f64) {
    let (low, high) = span_of(local);
    let normals = normals_of(local, false, |_| true);
    let noise = surface_noise(local, &normals, slices, (low, high));
    let heights: Vec<f64> = local.vertices().iter().map(|p| p[2]).collect();
    let tip = overreach(local, &heights, |_| [0.0, 0.0, 1.0], high, &noise);
    let near = low + 0.02 * (high - low);
    let mut face: Vec<f64> = local
        .vertices()
        .iter()
        .zip(&normals)
        .filter(|(p, n)| p[2] < near && n[2] < -0.8 * norm(**n))
        .map(|(p, _)| p[2])
        .collect();
    if face.len() < 30 {
        let depths: Vec<f64> = heights.iter().map(|z| -z).collect();
        let root = overreach(local, &depths, |_| [0.0, 0.0, -1.0], -low, &noise);
        return ((low + root.excess, high - tip.excess), tip.u.hypot(root.u));
    }
    ((median(&mut face), high - tip.excess), tip.u)
}

/// Integral of the section areas along the span by the trapezoid rule, the ends carried on.
fn volume_of(slices: &[Slice], span: (f64, f64)) -> f64 {
    let inner: f64 = slices.windows(2).map(|w| 0.5 * (w[0].area + w[1].area) * (w[1].z - w[0].z)).sum();
    let end = |s: Option<&Slice>, at: f64, share: f64| s.map_or(0.0, |s| share * s.area * (s.z - at).abs());
    inner + end(slices.first(), span.0, 1.0) + end(slices.last(), span.1, 0.5)
}

fn add_misfits(stations: &mut [Station]) {
    let excess = excess_residuals_m(stations);
    stations.iter_mut().zip(excess).for_each(|(s, excess)| add_misfit(s, excess));
}

/// Angles are counted from the one at the reference radius, whose own uncertainty they share; there the angle itself is exact, by convention or as given.
fn refer_angles(stations: &mut [Station], reference: &Station, plan: &MeasurePlan) {
    let column = referred_by(plan);
    let Some(u) = column.u(reference) else { return };
    for s in stations {
        for angle in
            [StationColumn::BladeAngleDeg, StationColumn::FaceAngleDeg, StationColumn::LongestChordAngleDeg]
        {
            if angle == column && (s.radius_m - reference.radius_m).abs() < SAME_PLACE * reference.radius_m {
                angle.set_u(s, Some(0.0));
            } else {
                s.add_uncertainty(angle, UncertaintySource::Reference, u);
            }
        }
    }
}

/// Radii this close, as a fraction of themselves, are one place.
const SAME_PLACE: f64 = 1e-9;

/// The angle that the setting, given or by convention, is of.
fn referred_by(plan: &MeasurePlan) -> StationColumn {
    if plan.setting.is_some() { plan.setting_of.column() } else { StationColumn::BladeAngleDeg }
}

/// The angle that is added so that the setting holds, and the setting for the table.
fn turn_to_setting(
    plan: &MeasurePlan,
    reference: &Station,
    ratio: f64,
    warnings: &mut Vec<String>,
) -> (f64, Option<Setting>) {
    let column = referred_by(plan);
    let Some(measured) = column.get(reference) else {
        warnings.push(format!(
            "the section at {ratio:.3} R could not be measured: angles are not referred to it"
        ));
        return (0.0, None);
    };
    match plan.setting {
        Some((angle, _)) => {
            let setting = Setting {
                angle_deg: angle,
                radius_ratio: ratio,
                of: plan.setting_of,
                extra: Default::default(),
            };
            ((angle - measured).to_radians(), Some(setting))
        }
        None => {
            warnings.push(format!(
                "a lone blade does not show its plane of rotation: angles are relative to the chord line at {ratio:.2} R (0 deg there); give --setting for absolute ones"
            ));
            (-measured.to_radians(), None)
        }
    }
}

/// metres = M * scan point, row by row.
fn matrix(axes: &Axes, hand: Hand, to: &ToTable, turn: f64, known: &Known) -> [[f64; 4]; 4] {
    let k = known.metres_per_unit;
    let (sin, cos) = turn.sin_cos();
    let first = if hand == Hand::Left { scale(axes.rows[0], -1.0) } else { axes.rows[0] };
    let x = sub(scale(first, cos), scale(axes.rows[1], sin));
    let y = add(scale(first, sin), scale(axes.rows[1], cos));
    let row = |d: V3, shift: f64| [k * d[0], k * d[1], k * d[2], shift - k * dot(d, axes.origin)];
    [row(x, 0.0), row(y, 0.0), row(axes.rows[2], to.radius_at_origin_m), [0.0, 0.0, 0.0, 1.0]]
}

/// Blades that end within this factor of one another end at one radius: tips differ by noise and by some millimetres of wear.
const ONE_RADIUS: f64 = 1.005;
/// Of two blades that differ by more than this factor the shorter is taken: no tip breaks off so little, but a scrap of bench lies anywhere.
const NO_WEAR: f64 = 1.05;

/// Distance of the tips from the axis: the middle one of the blades' farthest points, so that a scrap in one blade's sector does not count.
fn tip_radius(mesh: &CleanMesh, rotor: &Rotor, spans: &[V3]) -> f64 {
    let mut ends = vec![0.0f64; spans.len()];
    for &p in mesh.vertices() {
        let d = sub(p, rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own {
            ends[own] = ends[own].max(off_axis(rotor, p).1);
        }
    }
    ends.sort_by(f64::total_cmp);
    match ends[..] {
        [short, long] if long < NO_WEAR * short => long,
        [short, _] => short,
        // The greatest of those that agree with the middle one.
        _ => {
            let middle = ends[ends.len() / 2];
            ends.iter().copied().filter(|e| *e < ONE_RADIUS * middle).fold(middle, f64::max)
        }
    }
}

fn measure_rotor(
    mesh: &CleanMesh,
    rotor: Rotor,
    plan: &MeasurePlan,
    warnings: &mut Vec<String>,
) -> Result<(StationTable, Vec<(f64, f64)>), MeasureError> {
    let mut rotor = rotor;
    let reach = |rotor: &Rotor| mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).fold(0.0, f64::max);
    let hub = hub_axis(mesh, &rotor, reach(&rotor));
    if let Some(hub) = &hub {
        (rotor.point, rotor.direction) = (hub.point, hub.direction);
    } else {
        warnings.push("no round hub or bore shows the axis of rotation: it is that of the blades' own symmetry, in which a bent or unevenly set blade tilts it; how far the blades differ in track and angle is not told apart from such a tilt and has no interval".to_owned());
    }
    let farthest = reach(&rotor);
    let rotor = &at_blade_height(mesh, rotor, farthest);
    let radius = tip_radius(mesh, rotor, &blade_directions(mesh, rotor, farthest));
    if ONE_RADIUS * radius < farthest {
        warnings.push(format!(
            "part of the scan reaches {:.1} % farther from the axis than the blades agree on: it is left out as no blade's; look whether a tip is damaged or something else came along",
            100.0 * (farthest / radius - 1.0)
        ));
    }
    let spans = blade_directions(mesh, rotor, radius);
    let first = Axes::along(rotor.point, spans[0], rotor.direction);
    let part = sector(mesh, rotor, spans[0]).map_vertices(|p| first.local(p));
    let inner = hub_radius(&part, radius, plan.threads);
    let quick = slices(&part, &places(inner, radius), plan.threads);
    let voted = sides(&quick, plan, right_by_pitch(&quick), warnings)?;
    let flight = towards_flight(&quick, &voted);
    let tip = rotor_overreach(mesh, rotor, &part, &quick, (inner, radius));
    let radius = radius - tip.excess;
    let known = rotor_scale(plan, Measured::new(radius, tip.u), rotor.blades, warnings)?;
    let radii = station_radii(&plan.stations, inner * known.metres_per_unit, radius * known.metres_per_unit)?;
    let at: Vec<f64> = radii.iter().map(|r| r / known.metres_per_unit).collect();
    let to = ToTable {
        metres_per_unit: known.metres_per_unit,
        radius_at_origin_m: 0.0,
        tip_radius_m: radius * known.metres_per_unit,
    };
    let direction = scale(rotor.direction, flight);
    let (mut blades, mut volume, mut frame, mut all_slices) = (vec![], 0.0, None, vec![]);
    for (index, span) in spans.iter().enumerate() {
        let axes = Axes::along(rotor.point, *span, direction);
        let local = sector(mesh, rotor, *span).map_vertices(|p| axes.local(p));
        let quick = slices(&local, &places(inner, radius), plan.threads);
        // Edges follow from hand and flight for every blade alike.
        let own = Sides { first_leads: leads_forward(&quick, voted.hand), ..voted };
        if let Some(tip) = missing_tip(&local, &quick, (inner, radius)) {
            warnings.push(format!("blade {}: {tip}", index + 1));
        }
        let blade = local_blade(local, quick, &own, (inner, radius), plan.threads);
        volume += volume_of(&blade.slices, (inner, radius));
        all_slices.push(blade.slices.clone());
        let of_blades = [index, spans.len()];
        let found = measure_at(&blade, &at, plan.threads, of_blades);
        let mut stations = parallel::map(&found, plan.threads, |f| f.station(&to));
        add_misfits(&mut stations);
        let azimuth = azimuth_deg(&spans[0], span, &direction);
        blades.push(BladeRows {
            index: index as u64,
            azimuth_deg: Some(azimuth),
            stations,
            ..BladeRows::default()
        });
        frame.get_or_insert_with(|| matrix(&axes, voted.hand, &to, 0.0, &known));
    }
    let mean = mean_of(&blades.iter().map(|b| b.stations.clone()).collect::<Vec<_>>());
    let setting = measured_setting(&mean, to.tip_radius_m);
    if plan.setting.is_some() {
        warnings.push("a whole propeller shows its own angles: --setting was not used".to_owned());
    }
    if plan.root_radius_m.is_some() {
        warnings
            .push("a whole propeller shows where its blades begin: --root-radius was not used".to_owned());
    }
    if plan.length_m.is_some() && plan.diameter_m.is_some() {
        warnings.push("the scale of a whole propeller is its diameter's: --length was not used".to_owned());
    }
    let mut differences = blade_differences(&blades, &mean, to.tip_radius_m);
    for d in &mut differences {
        // A tilt of the axis raises one blade's tip and lowers the opposite one's, and turns the angles of those between.
        let tilt = hub.as_ref().map(|h| h.play.tilt());
        let with = |u: Option<f64>, part: f64| Some(u?.hypot(tilt? * part));
        d.u.track_m = with(d.u.track_m, to.tip_radius_m);
        d.u.mean_blade_angle_difference_deg = with(d.u.mean_blade_angle_difference_deg, 1f64.to_degrees());
    }
    let axis = hub.as_ref().map_or_else(
        || format!("axis of rotation by rotational symmetry of {} blades", rotor.blades),
        |h| {
            format!(
                "axis of rotation by a round wall of the hub (cylinder of radius {:.1} mm fitted to {} points), {} blades by rotational symmetry",
                1e3 * h.radius * known.metres_per_unit,
                h.points,
                rotor.blades
            )
        },
    );
    let planform = planform(&all_slices.iter().map(Vec::as_slice).collect::<Vec<_>>(), &to);
    let table = StationTable {
        scale: Some(known.document()),
        frame: Some(Frame {
            scan_to_blade: frame,
            method: format!(
                "{axis} (mismatch {:.2} % of the size); each span through the area centroid beyond 0.3 R",
                100.0 * rotor.mismatch
            ),
            hand: voted.hand,
            hand_certain: voted.certain,
            ..Frame::default()
        }),
        blade: BladeFigures {
            radius_m: to.tip_radius_m,
            root_radius_m: Some(inner * known.metres_per_unit),
            blade_length_m: Some((radius - inner) * known.metres_per_unit),
            blades_in_scan: Some(rotor.blades as u64),
            volume_m3: Some(volume * known.metres_per_unit.powi(3) / rotor.blades as f64),
            reference_radius_ratio: REFERENCE,
            setting,
            ..BladeFigures::default()
        },
        stations: mean,
        blades,
        blade_differences: differences,
        ..StationTable::default()
    };
    Ok((table, planform))
}

/// How far the noise of the outermost points of all blades has pushed the tip circle out. `part`: one blade in span axes, with its slices.
fn rotor_overreach(
    mesh: &CleanMesh,
    rotor: &Rotor,
    part: &CleanMesh,
    slices: &[Slice],
    span: (f64, f64),
) -> Overreach {
    let noise = surface_noise(part, &normals_of(part, false, |_| true), slices, span);
    let distances: Vec<f64> = mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).collect();
    let outwards = |p: V3| {
        let d = sub(p, rotor.point);
        unit(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
    };
    overreach(mesh, &distances, outwards, span.1, &noise)
}

/// Component of a point along the axis, and distance from it.
fn off_axis(rotor: &Rotor, p: V3) -> (f64, f64) {
    let d = sub(p, rotor.point);
    let along = dot(d, rotor.direction);
    (along, norm(sub(d, scale(rotor.direction, along))))
}

/// The rotor with its point moved along the axis to where the blades' spans meet it: to the height of the area centroid of the surface beyond 0.3 R.
/// Blades that differ share the mean of theirs.
fn at_blade_height(mesh: &CleanMesh, rotor: Rotor, radius: f64) -> Rotor {
    let (mut sums, mut areas) = (vec![0.0; rotor.blades], vec![0.0; rotor.blades]);
    let spans = blade_directions(mesh, &rotor, radius);
    for f in mesh.faces() {
        let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
        let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
        let (along, r) = off_axis(&rotor, middle);
        let d = sub(middle, rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own.filter(|_| 0.3 * radius < r) {
            let area = norm(cross(sub(b, a), sub(c, a)));
            sums[own] += area * along;
            areas[own] += area;
        }
    }
    let heights = sums.iter().zip(&areas).map(|(s, a)| s / a.max(f64::MIN_POSITIVE));
    let height = heights.sum::<f64>() / rotor.blades as f64;
    Rotor { point: add(rotor.point, scale(rotor.direction, height)), ..rotor }
}

/// Span of each blade: from the axis through the area centroid of its surface beyond 0.3 R.
fn blade_directions(mesh: &CleanMesh, rotor: &Rotor, radius: f64) -> Vec<V3> {
    let side = if rotor.direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let u = unit(sub(side, scale(rotor.direction, dot(side, rotor.direction))));
    let v = cross(rotor.direction, u);
    let n = rotor.blades as f64;
    let outer: Vec<(V3, f64)> = mesh
        .faces()
        .iter()
        .filter_map(|f| {
            let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
            let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
            (0.3 * radius < off_axis(rotor, middle).1)
                .then(|| (sub(middle, rotor.point), norm(cross(sub(b, a), sub(c, a)))))
        })
        .collect();
    let (mut cos, mut sin) = (0.0, 0.0);
    for (d, w) in &outer {
        let phase = n * dot(*d, v).atan2(dot(*d, u));
        cos += w * phase.cos();
        sin += w * phase.sin();
    }
    let start = sin.atan2(cos) / n;
    let mut spans: Vec<V3> = (0..rotor.blades)
        .map(|k| start + std::f64::consts::TAU * k as f64 / n)
        .map(|a| {
            let guess = add(scale(u, a.cos()), scale(v, a.sin()));
            let aside = (std::f64::consts::PI / n).cos();
            let sum = outer
                .iter()
                .filter(|(d, _)| aside * across(rotor, *d) < dot(*d, guess))
                .fold([0.0; 3], |s, (d, w)| add(s, scale(*d, *w)));
            unit(sub(sum, scale(rotor.direction, dot(sum, rotor.direction))))
        })
        .collect();
    // The blade that is numbered first may not depend on how the file lies: there is none by shape, so the farthest along the principal order is as good;
    // the mean and the differences do not depend on it.
    spans.sort_by(|a, b| b[0].total_cmp(&a[0]));
    let begin = spans[0];
    spans.sort_by(|a, b| {
        azimuth_deg(&begin, a, &rotor.direction).total_cmp(&azimuth_deg(&begin, b, &rotor.direction))
    });
    spans
}

fn across(rotor: &Rotor, d: V3) -> f64 {
    norm(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
}

/// Angle from one span to another about the axis, 0 to 360 deg.
fn azimuth_deg(from: &V3, to: &V3, axis: &V3) -> f64 {
    let angle = dot(cross(*from, *to), *axis).atan2(dot(*from, *to)).to_degrees().rem_euclid(360.0);
    if 360.0 - 1e-6 < angle { 0.0 } else { angle }
}

/// Triangles of one blade's sector about the axis.
fn sector(mesh: &CleanMesh, rotor: &Rotor, span: V3) -> CleanMesh {
    let aside = (std::f64::consts::PI / rotor.blades as f64).cos();
    mesh.subset(|i| {
        let middle = scale(
            mesh.faces()[i].map(|v| mesh.vertices()[v as usize]).into_iter().fold([0.0; 3], add),
            1.0 / 3.0,
        );
        let d = sub(middle, rotor.point);
        aside * across(rotor, d) <= dot(d, span)
    })
}

/// Where the blade leaves the hub: going inwards from mid span, the place where the section's hull grows out of all proportion.
fn hub_radius(part: &CleanMesh, radius: f64, threads: usize) -> f64 {
    let found = slices(part, &places(0.02 * radius, radius), threads);
    let mut least = f64::INFINITY;
    for s in found.iter().rev().filter(|s| s.z < 0.6 * radius) {
        let hull = bladeform_section::area(&s.hull);
        if 2.0 * least < hull {
            return s.z + 0.02 * radius;
        }
        least = least.min(hull);
    }
    found.first().map_or(0.1 * radius, |s| s.z.max(0.05 * radius))
}

/// Slices whose chord rises one way, as a share of all, from which pitch has one sign along the span.
const ONE_SIGN: f64 = 0.9;

/// Whether positive pitch means a right-hand blade: seen from the tip its chord rises towards `x`, whichever way flight is. `slices` with the axis of
/// rotation as their second axis.
fn right_by_pitch(slices: &[Slice]) -> Option<bool> {
    let rise = |s: &Slice| (s.ends[0][0] - s.ends[1][0]) * (s.ends[0][1] - s.ends[1][1]);
    let rising = slices.iter().filter(|s| 0.0 < rise(s)).count() as f64 / slices.len().max(1) as f64;
    (ONE_SIGN <= rising.max(1.0 - rising)).then_some(0.5 < rising)
}

/// Sign that turns the axis of rotation towards flight: the back looks there.
fn towards_flight(slices: &[Slice], sides: &Sides) -> f64 {
    let sum: f64 = slices
        .iter()
        .map(|s| {
            let [a, b] = if sides.first_leads { s.ends } else { [s.ends[1], s.ends[0]] };
            let e = [a[0] - b[0], a[1] - b[1]];
            // The back lies to the left of the way to the leading edge on a right-hand blade.
            if sides.hand == Hand::Right { e[0] } else { -e[0] }
        })
        .sum();
    if sum < 0.0 { -1.0 } else { 1.0 }
}

/// With the axis turned towards flight, the leading edge of a right-hand blade lies towards x, of a left-hand one against it.
fn leads_forward(slices: &[Slice], hand: Hand) -> bool {
    let forward: f64 = slices.iter().map(|s| s.ends[0][0] - s.ends[1][0]).sum();
    (0.0 < forward) == (hand == Hand::Right)
}

/// The angle of the mean blade at the reference radius.
fn measured_setting(mean: &[Station], radius_m: f64) -> Option<Setting> {
    let table = StationTable {
        blade: BladeFigures { radius_m, reference_radius_ratio: REFERENCE, ..BladeFigures::default() },
        stations: mean.to_vec(),
        ..StationTable::default()
    };
    let angle = table.value_at_reference(StationColumn::BladeAngleDeg)?;
    Some(Setting {
        angle_deg: angle.measured.value,
        radius_ratio: REFERENCE,
        of: SettingOf::Chord,
        extra: Default::default(),
    })
}
