//! Spikes at the ends of a lone blade: a few points of the scan far beyond the surface, such as stray points or damaged numbers of the file.

use std::collections::BTreeSet;

use bladeform_mesh::{CleanMesh, Moments, moments};

use crate::vector::{Axes, V3, dot, median, norm, scale, sub};

/// Most points that may stand out together: more of them are a part of the surface (chosen).
const MOST_POINTS: usize = 20;
/// Most spikes that are taken off; each is looked for anew, since it may have hidden others (chosen).
const MOST_SPIKES: usize = 16;
/// Gaps below this part of the length between one point and the next along the span are not looked at: a scale that is wrong by less is within a tape's reading.
const LEAST_GAP: f64 = 5e-4;
/// A spike stands out by more than so many times what the longest edge next to it extends along the span: the triangles of one surface are of about one size (chosen).
const LONGER: f64 = 2.5;

/// A few points that stood out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spike {
    /// The farthest of them, in the scan.
    pub(crate) tip: V3,
    /// How many they were.
    pub(crate) points: usize,
}

/// The mesh with the points of spikes put back among their neighbours, its moments, and the spikes; `None` where there is none.
/// The ends are looked for along the first principal axis.
pub(crate) fn without_spikes(mesh: &CleanMesh, m: &Moments) -> Option<(CleanMesh, Moments, Vec<Spike>)> {
    let mut spikes = Vec::new();
    let mut now: Option<(CleanMesh, Moments)> = None;
    while spikes.len() < MOST_SPIKES {
        let (at, by) = now.as_ref().map_or((mesh, m), |(mesh, m)| (mesh, m));
        let axes = Axes::along(by.area_centroid, by.principal_axes[0], by.principal_axes[1]);
        let outwards = axes.rows[2];
        let Some((spike, moves)) = [outwards, scale(outwards, -1.0)].iter().find_map(|d| spike(at, *d))
        else {
            break;
        };
        spikes.push(spike);
        let moved = at.clone().map_vertices(|p| {
            moves
                .iter()
                .find(|(from, _)| from.map(f64::to_bits) == p.map(f64::to_bits))
                .map_or(p, |(_, to)| *to)
        });
        let moments = moments(&moved);
        now = Some((moved, moments));
    }
    now.map(|(mesh, m)| (mesh, m, spikes))
}

/// Points, and where they belong.
type Moves = Vec<(V3, V3)>;

/// The spike that is the farthest part of the mesh in a direction, if there is one.
fn spike(mesh: &CleanMesh, outwards: V3) -> Option<(Spike, Moves)> {
    let mut far: Vec<(f64, u32)> =
        mesh.vertices().iter().zip(0..).map(|(p, i)| (dot(*p, outwards), i)).collect();
    if far.len() <= 4 * MOST_POINTS {
        return None;
    }
    let low = far.iter().fold(f64::INFINITY, |l, (z, _)| l.min(*z));
    far.select_nth_unstable_by(MOST_POINTS, |a, b| b.0.total_cmp(&a.0));
    far.truncate(MOST_POINTS + 1);
    far.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
    // The length without what may be a spike: the spike itself may be longer than the blade.
    let least = LEAST_GAP * (far[MOST_POINTS].0 - low);
    (1..=MOST_POINTS).filter(|k| least < far[k - 1].0 - far[*k].0).find_map(|count| {
        let gap = far[count - 1].0 - far[count].0;
        let points: Vec<u32> = far[..count].iter().map(|(_, i)| *i).collect();
        let moves = moves_of(mesh, &points, outwards, gap)?;
        Some((Spike { tip: mesh.vertices()[points[0] as usize], points: count }, moves))
    })
}

/// Where the points of a spike belong: at the median of the vertices around them. `None` where they are no spike, which stands out by
/// `gap`: far more than the edges next to it extend that way, and by more than it is wide.
fn moves_of(mesh: &CleanMesh, points: &[u32], outwards: V3, gap: f64) -> Option<Moves> {
    let is_point = |v: &u32| points.contains(v);
    let at = |v: u32| mesh.vertices()[v as usize];
    let around: BTreeSet<u32> = mesh
        .faces()
        .iter()
        .filter(|f| f.iter().any(is_point))
        .flatten()
        .copied()
        .filter(|v| !is_point(v))
        .collect();
    let longest = mesh
        .faces()
        .iter()
        .filter(|f| f.iter().any(|v| around.contains(v)))
        .flat_map(|f| [(f[0], f[1]), (f[1], f[2]), (f[2], f[0])])
        .filter(|(a, b)| !is_point(a) && !is_point(b))
        .fold(0.0, |l: f64, (a, b)| l.max(dot(sub(at(a), at(b)), outwards).abs()));
    if longest <= 0.0 || gap <= LONGER * longest {
        return None;
    }
    // Medians, since one of the vertices around may be the middle of a flat end, far away.
    let centre = [0, 1, 2].map(|k| median(&mut around.iter().map(|v| at(*v)[k]).collect::<Vec<_>>()));
    let half_width = median(&mut around.iter().map(|v| norm(sub(at(*v), centre))).collect::<Vec<_>>());
    (2.0 * half_width < gap).then(|| points.iter().map(|v| (at(*v), centre)).collect())
}

#[cfg(test)]
mod tests {
    use bladeform_mesh::{RawMesh, repair};
    use bladeform_numeric::observe::Silent;
    use bladeform_quantity::StationRadii;
    use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

    use super::*;
    use crate::input::ScanInput;
    use crate::pipeline::measure;
    use crate::plan::MeasurePlan;

    fn scan(triangles: usize, seed: u64) -> RawMesh {
        let plan = ScanPlan {
            triangles,
            holes: 0,
            fragments: 0,
            bench: false,
            any_pose: false,
            ..ScanPlan::usual(seed)
        };
        scan_of_blade(&Blade::quarry_mill(), &plan).mesh
    }

    fn found(raw: RawMesh) -> Option<(CleanMesh, Vec<Spike>)> {
        let mesh = repair(raw).unwrap().0;
        let m = moments(&mesh);
        without_spikes(&mesh, &m).map(|(mesh, _, spikes)| (mesh, spikes))
    }

    #[test]
    fn an_undamaged_scan_has_no_spike_whatever_its_density() {
        for (triangles, seed) in [(2_000, 1), (10_000, 2), (100_000, 3)] {
            assert!(found(scan(triangles, seed)).is_none(), "{triangles}");
        }
    }

    #[test]
    fn points_pulled_past_tip_or_root_are_put_back_to_within_an_edge() {
        let sound = scan(100_000, 4);
        let length = |mesh: &[V3]| {
            let (l, h) =
                mesh.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[2]), h.max(p[2])));
            h - l
        };
        let true_length = length(&sound.vertices);
        // 20 mm past the tip, 50 mm past the root, and farther than the blade is long, as a flipped bit puts it.
        for (at_tip, by) in [(true, 0.020), (false, 0.050), (true, 2.0)] {
            let mut raw = sound.clone();
            let sign = if at_tip { 1.0 } else { -1.0 };
            let end = raw.vertices.iter_mut().max_by(|a, b| (sign * a[2]).total_cmp(&(sign * b[2]))).unwrap();
            end[2] += sign * by;
            let (mesh, spikes) = found(raw).unwrap();
            assert_eq!(spikes.len(), 1, "{at_tip} {by}");
            let off = length(mesh.vertices()) / true_length - 1.0;
            assert!(off.abs() < 2e-3, "{at_tip} {by}: {off}");
        }
    }

    #[test]
    fn chords_are_those_of_the_sound_scan_and_the_spike_is_said_with_place_and_amount() {
        let blade = Blade::quarry_mill();
        let plan = MeasurePlan {
            length_m: Some(blade.length_m()),
            diameter_m: Some(2.0 * blade.radius_m),
            resolution_m: Some(0.0),
            stations: StationRadii::Ratios(vec![0.4, 0.6, 0.8]),
            ..MeasurePlan::default()
        };
        let table = |mesh: &RawMesh| measure(ScanInput::mesh(mesh, "test"), &plan, &Silent).unwrap();
        let sound = scan(100_000, 5);
        let before = table(&sound);
        assert!(before.warnings.iter().all(|w| w.code() != "spike-at-end"));
        // A vertex past the tip, one past the root, and one corner of one triangle alone, as a flipped bit in a file of single triangles leaves it.
        for (at_tip, by, alone) in [(true, 0.020, false), (true, 0.5, true), (false, 0.050, false)] {
            let mut raw = sound.clone();
            let sign = if at_tip { 1.0 } else { -1.0 };
            let height = |i: &usize| sign * sound.vertices[*i][2];
            let i = (0..raw.vertices.len()).max_by(|a, b| height(a).total_cmp(&height(b))).unwrap();
            let mut moved = raw.vertices[i];
            moved[2] += sign * by;
            if alone {
                let new = raw.vertices.len() as u32;
                raw.vertices.push(moved);
                let face = raw.faces.iter_mut().find(|f| f.contains(&(i as u32))).unwrap();
                face.iter_mut().filter(|v| **v == i as u32).for_each(|v| *v = new);
            } else {
                raw.vertices[i] = moved;
            }
            let after = table(&raw);
            let said = after.warnings.iter().find(|w| w.code() == "spike-at-end");
            let said =
                said.unwrap_or_else(|| panic!("{by}: {:?} {:?} {:?}", after.warnings, after.repairs, moved));
            let said = said.sentence();
            let end = if at_tip { "the tip" } else { "the root end" };
            let percent = said.split(" by ").nth(1).and_then(|t| t.split(' ').next()).unwrap();
            // To within what an edge of the mesh extends along the span.
            let off = percent.parse::<f64>().unwrap() - 100.0 * by / blade.length_m();
            assert!(said.contains(end) && off.abs() < 0.3, "{by}: {said}");
            for (a, b) in after.stations.iter().zip(&before.stations) {
                let off = (a.chord_m.unwrap() - b.chord_m.unwrap()).abs();
                assert!(off < a.u.chord_m.unwrap(), "{end}: {off} of u {:?}", a.u.chord_m);
                assert!(off < 1e-3 * b.chord_m.unwrap(), "{end}: {off}");
            }
        }
    }
}
