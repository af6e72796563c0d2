//! The circulation over the span and the few trailing vortices that represent it. They are smooth functions of the circulation, so that the iterations converge.

/// Least radius, as a fraction of the tip radius, outboard of which all circulation rolls up into the tip vortex before the next blade comes. If the circulation
/// is greatest farther out, that radius applies. By H. Kaden's similarity (Ingenieur-Archiv 2, 1931; from memory) the sheet at a tip rolls up over some 0.1 R
/// within half a radian and over 0.25 R within half a turn. Values from 0.7 to 0.9 R change the thrust of a twisted, tapered propeller by half a per cent.
const ROLLS_UP: f64 = 0.8;

/// Bound circulation over the span, linear between the element centres and zero at both ends.
#[derive(Clone, Debug)]
pub(crate) struct Load {
    knots: Vec<(f64, f64)>,
    /// Radius and value of the greatest circulation that rolls up into the tip vortex.
    peak: (f64, f64),
}

impl Load {
    /// `inner` is the radius at which the blade begins. The tip is at 1.
    pub(crate) fn new(inner: f64, middles: &[f64], bound: &[f64]) -> Load {
        let mut knots = vec![(inner, 0.0)];
        knots.extend(middles.iter().copied().zip(bound.iter().copied()));
        knots.push((1.0, 0.0));
        let mut load = Load { knots, peak: (ROLLS_UP, 0.0) };
        let at_border = load.value(ROLLS_UP);
        let peak = peak(&load.knots, ROLLS_UP);
        load.peak = if peak.1 > at_border && peak.0 > ROLLS_UP { peak } else { (ROLLS_UP, at_border) };
        load
    }

    pub(crate) fn peak_radius(&self) -> f64 {
        self.peak.0
    }

    /// Circulation of the tip vortex over the greatest circulation anywhere.
    pub(crate) fn tip_share(&self) -> f64 {
        self.peak.1 / self.knots.iter().map(|k| k.1).fold(self.peak.1, f64::max)
    }

    fn value(&self, r: f64) -> f64 {
        let k = self.knots.partition_point(|p| p.0 < r).clamp(1, self.knots.len() - 1);
        let (a, b) = (self.knots[k - 1], self.knots[k]);
        a.1 + (b.1 - a.1) * ((r - a.0) / (b.0 - a.0)).clamp(0.0, 1.0)
    }

    /// Strengths and release radii of `count` vortices, the tip vortex first, then from the root outward. Each inboard vortex has the circulation that leaves its
    /// part of the span inboard of the greatest circulation, and is released at the centroid of that circulation.
    pub(crate) fn vortices(&self, count: usize) -> (Vec<f64>, Vec<f64>) {
        let (inner, outer, carried) = (self.knots[0].0, ROLLS_UP, self.peak.1);
        let parts = (count - 1) as f64;
        let border = |k: usize| inner + (outer - inner) * k as f64 / parts;
        let value = |k: usize| {
            if k + 1 == count {
                carried
            } else if k == 0 {
                0.0
            } else {
                self.value(border(k))
            }
        };
        let (mut strength, mut released) = (vec![carried], vec![1.0]);
        for f in 1..count {
            let (low, high) = (border(f - 1), border(f));
            strength.push(value(f - 1) - value(f));
            // The centroid uses magnitudes: if positive and negative circulation cancel, the sum has no centroid.
            let (mut all, mut moment) = (0.0, 0.0);
            let inside = self.knots.iter().filter(|k| low < k.0 && k.0 < high).copied();
            let ends = [(low, value(f - 1)), (high, self.value(high))];
            let mut points: Vec<(f64, f64)> = [ends[0]].into_iter().chain(inside).collect();
            points.push(ends[1]);
            for pair in points.windows(2) {
                let leaves = (pair[1].1 - pair[0].1).abs();
                all += leaves;
                moment += leaves * 0.5 * (pair[0].0 + pair[1].0);
            }
            if f + 1 == count {
                // The further rise of the circulation beyond that radius up to its peak. It grows from zero as the peak moves outboard.
                let gained = (carried - self.value(outer)).max(0.0);
                all += gained;
                moment += gained * 0.5 * (outer + self.peak.0);
            }
            released.push(if all > 0.0 { moment / all } else { 0.5 * (low + high) });
        }
        (strength, released)
    }
}

/// The greatest value outboard, by a parabola through the knots around it.
fn peak(knots: &[(f64, f64)], from: f64) -> (f64, f64) {
    let last = knots.len() - 1;
    let first = knots.partition_point(|p| p.0 < from).clamp(1, last - 1);
    let k = (first..last).max_by(|a, b| knots[*a].1.total_cmp(&knots[*b].1)).unwrap_or(first);
    let ((x0, y0), (x1, y1), (x2, y2)) = (knots[k - 1], knots[k], knots[k + 1]);
    let (before, after) = ((y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1));
    let bend = (after - before) / (x2 - x0);
    // Slope, at the middle knot, of the parabola through all three knots.
    let slope = before + bend * (x1 - x0);
    if bend.is_nan() || 0.0 <= bend {
        return (x1, y1);
    }
    let x = (x1 - slope / (2.0 * bend)).clamp(0.5 * (x0 + x1), 0.5 * (x1 + x2));
    (x, y1 + (x - x1) * (slope + bend * (x - x1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circulation with its greatest value in the middle of the last fifth.
    fn parabola() -> Load {
        let middles: Vec<f64> = (0..80).map(|k| 0.2 + 0.01 * (f64::from(k) + 0.5)).collect();
        let bound: Vec<f64> = middles.iter().map(|r| (r - 0.2) * (1.6 - r)).collect();
        Load::new(0.2, &middles, &bound)
    }

    #[test]
    fn what_leaves_is_what_is_bound() {
        let load = parabola();
        assert!((load.peak_radius() - 0.9).abs() < 1e-9 && (load.peak.1 - 0.49).abs() < 1e-9);
        assert!((load.tip_share() - 1.0).abs() < 1e-9);
        for count in [3, 4, 6] {
            let (strength, released) = load.vortices(count);
            assert!(strength.iter().sum::<f64>().abs() < 1e-12, "{strength:?}");
            assert!(released.windows(2).skip(1).all(|p| p[0] < p[1]));
            // The moment of a load that only rises inboard is known: greatest value times its radius minus the area below the curve.
            let moment: f64 = strength.iter().zip(&released).skip(1).map(|(s, r)| -s * r).sum();
            let area = |r: f64| 0.9 * r * r - r.powi(3) / 3.0 - 0.32 * r;
            let known = 0.49 * 0.9 - (area(0.9) - area(0.2));
            assert!((moment - known).abs() < 2e-3, "{moment} {known}");
        }
    }

    #[test]
    fn a_small_change_of_the_load_changes_the_vortices_a_little() {
        let middles: Vec<f64> = (0..30).map(|k| 0.15 + 0.85 * (f64::from(k) + 0.5) / 30.0).collect();
        let of = |p: f64| {
            let bound: Vec<f64> = middles.iter().map(|r| r.powf(p) * (1.0 - r).sqrt()).collect();
            Load::new(0.15, &middles, &bound).vortices(4)
        };
        for k in 0..200 {
            let (a, b) = (of(1.0 + 0.005 * f64::from(k)), of(1.005 + 0.005 * f64::from(k)));
            let far = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
            assert!(far(&a.0, &b.0) < 0.01 && far(&a.1, &b.1) < 0.01, "{k} {a:?} {b:?}");
        }
    }
}
