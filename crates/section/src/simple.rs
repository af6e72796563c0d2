//! Outlines that do not cross themselves: edges whose fitted sides change places are given a sharp end.
//!
//! A fit knows the thickness near a sharp edge to the noise of the scan, so that it may come out below zero over a few tenths of a millimetre. No solid has such an outline.

use crate::polygon::{add, cross, left, norm, scale, sub};

/// How far from an end sides that change places are an edge, as a part of the chord.
const EDGE_PART: f64 = 0.1;
/// And by how much at most, as a part of the chord: more is not the noise of an edge.
const MOST_OVERLAP: f64 = 0.01;
/// The wedge begins where the thickness is this multiple of the overlap: an equal error to the other side would have left it open.
const WEDGE_FROM: f64 = 2.0;

/// An edge that was given a sharp end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpenedEdge {
    /// Over which length from the end, in the unit of the points.
    pub length: f64,
    /// How far a side was moved at most, likewise.
    pub moved: f64,
}

/// An outline crosses itself, and not only at a thin edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the outline crosses itself")]
pub struct CrossedOutline;

/// Gives an outline sharp ends where its sides change places; returns the edges that were mended, the leading and the trailing one.
///
/// `points`: n x 2, n odd, from the tail over the back to the nose and along the face to the tail, where the first and the last, the second and the last but one and
/// so on lie at the same place of the mean line, as `Shape::outline` makes them.
///
/// # Errors
/// [`CrossedOutline`] if the outline crosses itself elsewhere, or by more than 1 % of its chord.
pub fn make_simple(points: &mut [[f64; 2]]) -> Result<[Option<SharpenedEdge>; 2], CrossedOutline> {
    let middle = points.len() / 2;
    let mean: Vec<[f64; 2]> =
        (0..=middle).map(|k| scale(add(points[k], points[points.len() - 1 - k]), 0.5)).collect();
    let chord = norm(sub(mean[0], mean[middle]));
    // From each end inwards.
    let from_nose: Vec<usize> = (0..=middle).rev().collect();
    let from_tail: Vec<usize> = (0..=middle).collect();
    let nose = sharpened(points, &mean, &from_nose, chord)?;
    let tail = sharpened(points, &mean, &from_tail, chord)?;
    if crosses_itself(points) { Err(CrossedOutline) } else { Ok([nose, tail]) }
}

/// Makes the end a wedge if the sides change places there. `inwards`: places of the mean line, from the end on.
fn sharpened(
    points: &mut [[f64; 2]],
    mean: &[[f64; 2]],
    inwards: &[usize],
    chord: f64,
) -> Result<Option<SharpenedEdge>, CrossedOutline> {
    let last = points.len() - 1;
    let towards_tail = |k: usize| {
        let d = sub(mean[k.saturating_sub(1)], mean[(k + 1).min(mean.len() - 1)]);
        scale(d, 1.0 / norm(d).max(f64::MIN_POSITIVE))
    };
    let thickness = |points: &[[f64; 2]], k: usize| cross(towards_tail(k), sub(points[k], points[last - k]));
    let mut along = vec![0.0; inwards.len()];
    for i in 1..inwards.len() {
        along[i] = along[i - 1] + norm(sub(mean[inwards[i]], mean[inwards[i - 1]]));
    }
    let edge = along.iter().take_while(|s| **s < EDGE_PART * chord).count();
    // The end itself may be a point.
    let crossed = |i: usize| thickness(points, inwards[i]) <= 0.0;
    let Some(inner) =
        (1..edge).rev().find(|&i| crossed(i)).or((thickness(points, inwards[0]) < 0.0).then_some(0))
    else {
        return Ok(None);
    };
    let overlap = (0..=inner).map(|i| -thickness(points, inwards[i])).fold(0.0, f64::max);
    let open = |&i: &usize| WEDGE_FROM * overlap < thickness(points, inwards[i]);
    let from = (inner + 1..edge).find(open).ok_or(CrossedOutline)?;
    if MOST_OVERLAP * chord < overlap {
        return Err(CrossedOutline);
    }
    let full = thickness(points, inwards[from]);
    let mut moved: f64 = 0.0;
    for i in 0..from {
        let k = inwards[i];
        let half = scale(left(towards_tail(k)), 0.5 * full * along[i] / along[from]);
        for (place, at) in [(k, add(mean[k], half)), (last - k, sub(mean[k], half))] {
            moved = moved.max(norm(sub(points[place], at)));
            points[place] = at;
        }
    }
    Ok(Some(SharpenedEdge { length: along[from], moved }))
}

/// Whether two sides of a closed polygon that are no neighbours cross.
fn crosses_itself(points: &[[f64; 2]]) -> bool {
    let n = points.len();
    let side = |i: usize| (points[i], points[(i + 1) % n]);
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| cross(sub(b, a), sub(c, a));
    let apart = |(a, b): ([f64; 2], [f64; 2]), (c, d): ([f64; 2], [f64; 2])| {
        (0..2).any(|x| a[x].max(b[x]) < c[x].min(d[x]) || c[x].max(d[x]) < a[x].min(b[x]))
    };
    (0..n).any(|i| {
        let (a, b) = side(i);
        (i + 2..n).filter(|j| (j + 1) % n != i).any(|j| {
            let (c, d) = side(j);
            !apart((a, b), (c, d))
                && turn(a, b, c) * turn(a, b, d) < 0.0
                && turn(c, d, a) * turn(c, d, b) < 0.0
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A lens of 10 % thickness whose sides change places at both ends by a cubic of the given depth.
    fn leaf(depth: f64) -> Vec<[f64; 2]> {
        let n: usize = 241;
        (0..n)
            .map(|i| {
                let t = std::f64::consts::PI * (1.0 - 2.0 * i as f64 / (n - 1) as f64);
                let x = 0.5 * (1.0 - t.cos());
                let half = 0.2 * x * (1.0 - x)
                    - depth
                        * ((1.0 - x / 0.03).max(0.0) + (1.0 - (1.0 - x) / 0.03).max(0.0))
                        * x.min(1.0 - x)
                        / 0.0075;
                [x, 0.03 * x * (1.0 - x) + half * t.signum()]
            })
            .collect()
    }

    #[test]
    fn a_sound_outline_stays_as_it_is() {
        let sound = leaf(0.0);
        let mut same = sound.clone();
        assert_eq!(make_simple(&mut same), Ok([None, None]));
        assert_eq!(same, sound);
    }

    #[test]
    fn sides_that_change_places_at_an_edge_become_a_wedge_with_the_same_ends() {
        let crossed = leaf(0.006);
        assert!(crosses_itself(&crossed));
        let mut points = crossed.clone();
        let mended = make_simple(&mut points).unwrap();
        assert!(!crosses_itself(&points));
        for edge in mended.map(Option::unwrap) {
            assert!(edge.length < 0.06 && edge.moved < 0.007, "{edge:?}");
        }
        for end in [0, 120, 240] {
            assert!(norm(sub(points[end], crossed[end])) < 1e-3);
        }
        assert_eq!(points[40..100], crossed[40..100]);
    }

    #[test]
    fn sides_that_change_places_in_the_middle_or_by_much_are_refused() {
        let mut eight = leaf(0.0);
        let n = eight.len();
        for k in 40..60 {
            eight.swap(k, n - 1 - k);
        }
        assert_eq!(make_simple(&mut eight), Err(CrossedOutline));
        assert_eq!(make_simple(&mut leaf(0.05)), Err(CrossedOutline));
    }
}
