//! Which edge leads, which side is the back, and the hand: by votes over the quick sections, overruled by the user.

use bladeform_quantity::Hand;
use bladeform_table::HandBasis;

use crate::band::slices::Slice;
use crate::error::{MeasureError, NoBladeReason};
use crate::notice::{HandDoubt, HandRule, MeasureNotice};
use crate::plan::MeasurePlan;

/// Fraction of the votes below which edges, sides and hand are not certain.
const CERTAIN: f64 = 0.8;
/// Half of a blade's sections are flatter than this (least width over longest chord); a block or a ball has none.
const BLADE_FLATNESS: f64 = 0.6;

/// Which way things run, found by votes and overruled by the user.
pub(crate) struct Sides {
    pub(crate) first_leads: bool,
    pub(crate) hand: Hand,
    /// How the hand is known.
    pub(crate) basis: HandBasis,
}

impl Sides {
    /// Whether the hand is known instead of guessed.
    pub(crate) fn certain(&self) -> bool {
        self.basis != HandBasis::Assumed
    }
}

/// `pitch_right`: whether the blade is right-handed if its geometric pitch is positive, where the plane of rotation is known and pitch has one sign.
pub(crate) fn sides(
    slices: &[Slice],
    plan: &MeasurePlan,
    pitch_right: Option<bool>,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Sides, MeasureError> {
    let flat = slices.iter().filter(|s| s.flatness < BLADE_FLATNESS).count();
    if 2 * flat < slices.len() || slices.is_empty() {
        return Err(MeasureError::NoBlade {
            reason: NoBladeReason::Thick { thick: slices.len() - flat, all: slices.len() },
            left_out: 0,
        });
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
    let agreed = CERTAIN <= v.edge_share && CERTAIN <= v.side_share;
    if !given && !agreed {
        notices.push(MeasureNotice::SidesUncertain { edges: v.edge_share, sides: v.side_share });
    }
    if let Some(hand) = plan.hand
        && (hand == Hand::Right) != right
    {
        right = !right;
        if v.edge_share < v.side_share {
            first_leads = !first_leads;
        }
        notices.push(MeasureNotice::HandGiven { hand });
    }
    let hand = if right { Hand::Right } else { Hand::Left };
    let doubts = if agreed && pitch_right.is_none() { doubts(slices, right) } else { vec![] };
    let basis = if given || plan.hand.is_some() {
        HandBasis::Given
    } else if !doubts.is_empty() {
        notices.push(MeasureNotice::HandDoubtful { hand, doubts });
        HandBasis::Assumed
    } else if agreed {
        HandBasis::Certain
    } else {
        HandBasis::Assumed
    };
    Ok(Sides { first_leads, hand, basis })
}

/// Turn between the inner and the outer third of a blade, rad, below which it is no evidence: some 3 deg, as much as a warped blade may have (a judgement).
const LEAST_TURN: f64 = 0.05;
/// The outermost share of the sections, whose short chords tell their direction badly.
const AT_TIP: f64 = 0.05;

/// What in the shape of a lone blade speaks against the hand that its sections vote for.
fn doubts(slices: &[Slice], right: bool) -> Vec<HandDoubt> {
    let flat: Vec<&Slice> = slices.iter().filter(|s| s.flatness < ROUND).collect();
    let end = flat.len() - (AT_TIP * flat.len() as f64) as usize;
    let third = end / 3;
    if third == 0 {
        return vec![];
    }
    let mut doubts = Vec::new();
    let turn = turn_between(&flat[..end], third);
    // Seen from the tip, a right-hand blade's chord turns clockwise outwards.
    if LEAST_TURN < turn.abs() && (turn < 0.0) != right {
        doubts.push(HandDoubt::RisingTwist { deg: turn.abs().to_degrees() });
    }
    let owned = |part: &[&Slice]| part.iter().map(|s| (*s).clone()).collect::<Vec<_>>();
    let (inner, outer) = (vote(&owned(&flat[..third])), vote(&owned(&flat[third..])));
    let bulges_left = |v: &Vote| v.back_on_left == v.first_leads;
    let is_clear = |v: &Vote| CERTAIN <= v.side_share;
    if is_clear(&inner) && is_clear(&outer) && bulges_left(&inner) != bulges_left(&outer) {
        doubts.push(HandDoubt::CamberChangesSign);
    }
    doubts
}

/// Mean turn of the chord from the inner to the outer third of some sections, rad, anticlockwise seen from the tip.
fn turn_between(sections: &[&Slice], third: usize) -> f64 {
    let direction = |s: &Slice| [s.ends[0][0] - s.ends[1][0], s.ends[0][1] - s.ends[1][1]];
    let mut angles = vec![0.0];
    for w in sections.windows(2) {
        let (a, b) = (direction(w[0]), direction(w[1]));
        let turn = (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]);
        angles.push(angles[angles.len() - 1] + turn);
    }
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    mean(&angles[angles.len() - third..]) - mean(&angles[..third])
}

/// Fraction of the sections whose chord must rise one way before pitch has one sign along the span: the rest may lie in holes.
const ONE_SIGN: f64 = 0.9;

/// Whether positive pitch means a right-hand blade: seen from the tip its chord rises towards `x`, whichever way flight is. `slices` with the axis of
/// rotation as their second axis.
pub(crate) fn right_by_pitch(slices: &[Slice]) -> Option<bool> {
    let rise = |s: &Slice| (s.ends[0][0] - s.ends[1][0]) * (s.ends[0][1] - s.ends[1][1]);
    let rising = slices.iter().filter(|s| 0.0 < rise(s)).count() as f64 / slices.len().max(1) as f64;
    (ONE_SIGN <= rising.max(1.0 - rising)).then_some(0.5 < rising)
}

/// Sign that turns the axis of rotation towards flight: the back looks there.
pub(crate) fn towards_flight(slices: &[Slice], sides: &Sides) -> f64 {
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
pub(crate) fn leads_forward(slices: &[Slice], hand: Hand) -> bool {
    let forward: f64 = slices.iter().map(|s| s.ends[0][0] - s.ends[1][0]).sum();
    (0.0 < forward) == (hand == Hand::Right)
}

/// What a vote over the sections says of edges and sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Vote {
    /// The first end of every slice's chord is the leading edge.
    pub(crate) first_leads: bool,
    /// The back lies to the left when one looks from the trailing to the leading edge: a right-hand blade.
    pub(crate) back_on_left: bool,
    /// Share of the votes for each.
    pub(crate) edge_share: f64,
    pub(crate) side_share: f64,
}

/// Sections rounder than this say nothing about edges and sides.
const ROUND: f64 = 0.45;
/// Offsets of the centroid across the chord below this share of it are no vote on the back: a thin symmetrical section has none.
const NO_SIDE_VOTE: f64 = 0.004;
/// Offsets along the chord below this share of it are no vote on the leading edge: aerofoil sections lean by 0.07, sections drawn with compasses not at all.
const NO_EDGE_VOTE: f64 = 0.015;
/// What a missing edge adds to that: half of 6 % of the chord, beyond which a section whose edge is in a hole says little about its shape (a judgement).
const UNSEEN_EDGE: f64 = 0.03;
/// Share of the sections that must vote: a few that a hole makes lean are no majority.
const QUORUM: f64 = 0.3;

/// The leading edge is the end to which the section's area leans; the back is the side to which it bulges.
pub(crate) fn vote(slices: &[Slice]) -> Vote {
    let (mut edge, mut side, mut sections) = ([0.0_f64; 2], [0.0_f64; 2], 0.0);
    let mut leans = [0.0; 2];
    for s in slices.iter().filter(|s| s.flatness < ROUND) {
        sections += 1.0;
        let [a, b] = s.middles;
        let chord = [b[0] - a[0], b[1] - a[1]];
        let square = chord[0] * chord[0] + chord[1] * chord[1];
        let d = [s.centroid[0] - a[0], s.centroid[1] - a[1]];
        let along = (d[0] * chord[0] + d[1] * chord[1]) / square - 0.5;
        let left_of_chord = (chord[0] * d[1] - chord[1] * d[0]) / square;
        leans = [leans[0] - along, leans[1] - left_of_chord];
        // What is missing at an edge shifts the centroid by up to half of it.
        let unseen = if s.seen == [true; 2] { 0.0 } else { UNSEEN_EDGE };
        count(&mut edge, -along, NO_EDGE_VOTE + unseen);
        count(&mut side, -left_of_chord, NO_SIDE_VOTE);
    }
    let is_vote = |v: [f64; 2]| QUORUM * sections < v[0] + v[1];
    let share = |v: [f64; 2]| if is_vote(v) { v[0].max(v[1]) / (v[0] + v[1]) } else { 0.5 };
    // Without a vote the mean lean is the best guess. The chord runs from its first end: seen from the second end to the first, left and right change.
    let first = |v: [f64; 2], lean: f64| if is_vote(v) { v[1] <= v[0] } else { 0.0 <= lean };
    let (first_leads, bulge_left) = (first(edge, leans[0]), first(side, leans[1]));
    Vote {
        first_leads,
        back_on_left: bulge_left == first_leads,
        edge_share: share(edge),
        side_share: share(side),
    }
}

/// Twist of the blade along its span as the first end's direction shows it: positive when the chord turns anticlockwise (seen from the tip) outwards.
pub(crate) fn twist_sign(slices: &[Slice]) -> f64 {
    let flat: Vec<_> = slices.iter().filter(|s| s.flatness < ROUND).collect();
    let direction = |s: &Slice| [s.ends[0][0] - s.ends[1][0], s.ends[0][1] - s.ends[1][1]];
    let turn = |w: &[&Slice]| {
        let (a, b) = (direction(w[0]), direction(w[1]));
        (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1])
    };
    flat.windows(2).map(turn).sum()
}

fn count(votes: &mut [f64; 2], lean: f64, least: f64) {
    if least < lean.abs() {
        votes[usize::from(lean < 0.0)] += 1.0;
    }
}
