//! One blade in its own axes: which edge leads, which side is the back, points with normals, stations in it.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use bladeform_mesh::{CleanMesh, PlaneCut, cut};
use bladeform_quantity::Hand;

use crate::error::MeasureError;
use crate::notice::{HandRule, MeasureNotice};
use crate::plan::MeasurePlan;
use crate::slices::{Slice, twist_sign, vote};
use crate::stations::{Found, LocalBlade, share_correlation};
use crate::vector::{V3, add, cross, norm, sub};
use bladeform_numeric::observe::{Observer, Stage, Stopped, report};
use bladeform_numeric::parallel;

use super::{BLADE_FLATNESS, CERTAIN};

/// Which way things run, found by votes and overruled by the user.
pub(super) struct Sides {
    pub(super) first_leads: bool,
    pub(super) hand: Hand,
    pub(super) certain: bool,
}

/// `pitch_right`: whether the blade is right-handed if its geometric pitch is positive, where the plane of rotation is known and pitch has one sign.
pub(super) fn sides(
    slices: &[Slice],
    plan: &MeasurePlan,
    pitch_right: Option<bool>,
    notices: &mut Vec<MeasureNotice>,
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
        let rule = if pitch_right.is_some() { HandRule::Pitch } else { HandRule::Twist };
        if v.edge_share < CERTAIN && !plan.swap_edges {
            v.first_leads = back_left_of_first == right;
            notices.push(MeasureNotice::EdgeByRule(rule));
        } else {
            notices.push(MeasureNotice::BackByRule(rule));
        }
        v.back_on_left = right;
    }
    let mut first_leads = v.first_leads != plan.swap_edges;
    // Swapping edges alone keeps the back where it is, so the hand changes; so does swapping sides alone.
    let mut right = v.back_on_left != (plan.swap_edges != plan.swap_sides);
    let given = plan.swap_edges || plan.swap_sides;
    if plan.swap_edges != plan.swap_sides && plan.hand.is_none() {
        let hand = if right { Hand::Right } else { Hand::Left };
        notices.push(MeasureNotice::SwapChangesHand { edges: plan.swap_edges, hand });
    }
    let mut certain = given || (CERTAIN <= v.edge_share && CERTAIN <= v.side_share);
    if !certain {
        notices.push(MeasureNotice::SidesUncertain { edges: v.edge_share, sides: v.side_share });
    }
    if let Some(hand) = plan.hand {
        if (hand == Hand::Right) != right {
            right = !right;
            if v.edge_share < v.side_share {
                first_leads = !first_leads;
            }
            notices.push(MeasureNotice::HandGiven { hand });
        }
        certain = true;
    }
    Ok(Sides { first_leads, hand: if right { Hand::Right } else { Hand::Left }, certain })
}

/// The blade in right-handed span axes with its slices turned so that their first end leads.
/// `surface`: what [`surface`] says of the mesh, `quick`: the slices on which the sides were decided, both in the unmirrored axes.
pub(super) fn local_blade(
    mesh: CleanMesh,
    (mut normals, edge): (Vec<V3>, f64),
    quick: Vec<Slice>,
    sides: &Sides,
    span: (f64, f64),
) -> LocalBlade {
    let mirrored = sides.hand == Hand::Left;
    let mesh = if mirrored { mesh.map_vertices(|p| [-p[0], p[1], p[2]]) } else { mesh };
    let flip = |p: [f64; 2]| if mirrored { [-p[0], p[1]] } else { p };
    let mut slices = quick;
    for s in &mut slices {
        s.ends = s.ends.map(flip);
        if !sides.first_leads {
            s.ends.swap(0, 1);
            s.seen.swap(0, 1);
        }
    }
    if mirrored {
        normals.iter_mut().for_each(|n| n[0] = -n[0]);
    }
    LocalBlade { mesh, normals, mirrored, slices, edge, span }
}

/// Vertex normals (area-weighted) and the typical edge.
pub(super) fn surface(mesh: &CleanMesh) -> (Vec<V3>, f64) {
    parallel::join(|| normals_of(mesh), || typical_edge(mesh))
}

pub(super) fn typical_edge(mesh: &CleanMesh) -> f64 {
    let area: f64 = mesh.faces().iter().map(|f| norm(normal_of(mesh, f))).sum();
    // Two equilateral triangles of edge e have the area 0.87 e^2.
    (area / mesh.faces().len().max(1) as f64 / 0.87).sqrt()
}

/// Normal of a triangle, twice its area long.
#[inline]
pub(super) fn normal_of(mesh: &CleanMesh, [a, b, c]: &[u32; 3]) -> V3 {
    let [a, b, c] =
        [mesh.vertices()[*a as usize], mesh.vertices()[*b as usize], mesh.vertices()[*c as usize]];
    cross(sub(b, a), sub(c, a))
}

/// Area-weighted normals of the vertices.
pub(super) fn normals_of(mesh: &CleanMesh) -> Vec<V3> {
    let mut normals = vec![[0.0; 3]; mesh.vertices().len()];
    for f in mesh.faces() {
        let n = normal_of(mesh, f);
        for &i in f {
            normals[i as usize] = add(normals[i as usize], n);
        }
    }
    normals
}

/// Measures all planes in parallel; the results are in the order of the places.
/// `of_blades`: how many blades are done and how many there are, for the observer.
///
/// # Errors
/// [`Stopped`] when the observer ends the measurement: at the next station.
pub(super) fn measure_at(
    blade: &LocalBlade,
    places: &[f64],
    of_blades: [usize; 2],
    observer: &dyn Observer,
) -> Result<Vec<Found>, Stopped> {
    let cuts = cut(&blade.mesh, [0.0, 0.0, 1.0], places);
    let done = AtomicUsize::new(0);
    let stopped = AtomicBool::new(false);
    let measured = |cut: &PlaneCut| {
        if stopped.load(Ordering::Relaxed) {
            return Err(Stopped);
        }
        let found = blade.measure(cut);
        let done = of_blades[0] * cuts.len() + 1 + done.fetch_add(1, Ordering::Relaxed);
        let stage = Stage { name: "measuring stations", done, total: of_blades[1] * cuts.len() };
        report(observer, stage).inspect_err(|_| stopped.store(true, Ordering::Relaxed))?;
        Ok(found)
    };
    let mut found = parallel::map(&cuts, measured).into_iter().collect::<Result<Vec<_>, _>>()?;
    share_correlation(&mut found);
    Ok(found)
}
