//! Maxima and zero crossings of smooth functions of one variable, refined by iteration.
//!
//! ```
//! use bladeform_numeric::search::{peak, rising_crossing};
//! let places = [0.0, 1.0, 2.0, 3.0];
//! let top = peak(&places, &places.map(|x| Some(x.sin())), 1e-6, |x| Some(x.sin())).unwrap();
//! assert!((top.at - 0.5 * std::f64::consts::PI).abs() < 1e-5 && !top.at_end);
//! let root = rising_crossing(&places, &places.map(|x| x * x - 2.0), 1e-9, |x| x * x - 2.0).unwrap();
//! assert!((root - 2_f64.sqrt()).abs() < 1e-8);
//! ```

/// Most steps of the search for a maximum: golden-section steps alone make a bracket 2e8 times narrower.
const TOP_STEPS: usize = 40;
/// Length of a golden-section step as a fraction of the wider part.
const GOLDEN: f64 = 0.381_966_011_250_105_2;
/// A maximum nearer to an end of the range than so many tolerances lies at the end.
const AT_END: f64 = 1000.0;
/// Most steps of the search for a crossing: every third step halves the bracket, which is then 1e9 times narrower.
const CROSSING_STEPS: usize = 90;

/// The position of the greatest value of a function.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// The position.
    pub at: f64,
    /// Whether it lies at the end of the searched range, so that a greater value may lie beyond.
    pub at_end: bool,
}

/// The greatest value over increasing positions with known values, one for each. Positions without a value are skipped; `None` if
/// there is no other. `width`: tolerance of the position.
pub fn peak(
    places: &[f64],
    values: &[Option<f64>],
    width: f64,
    f: impl Fn(f64) -> Option<f64>,
) -> Option<Peak> {
    let best = (0..places.len())
        .filter(|k| values[*k].is_some_and(f64::is_finite))
        .max_by(|a, b| values[*a].unwrap_or(f64::MIN).total_cmp(&values[*b].unwrap_or(f64::MIN)))?;
    let (first, last) = (best == 0, best + 1 == places.len());
    let value = |x: f64| f(x).unwrap_or(f64::NEG_INFINITY);
    let at = if first || last {
        let (a, b) = if first {
            (places[0], places[1.min(places.len() - 1)])
        } else {
            (places[best - 1], places[best])
        };
        let x = a + GOLDEN * (b - a);
        top([a, x, b], value(x), width, value)
    } else {
        // The search starts at the best known position. Hence it succeeds however narrow the range of known values is.
        let top_value = values[best].unwrap_or(f64::NEG_INFINITY);
        top([places[best - 1], places[best], places[best + 1]], top_value, width, value)
    };
    let near = |end: f64| (at - end).abs() < AT_END * width;
    let near_end = (first && near(places[0])) || (last && near(places[places.len() - 1]));
    Some(Peak { at, at_end: near_end })
}

/// The maximum of a function between `a` and `b`, starting at `x` between them with its value `fx`: parabolas through the three best positions, golden-section
/// steps where a parabola is no use (R. P. Brent, *Algorithms for Minimization without Derivatives*, 1973, chapter 5).
fn top([mut a, mut x, mut b]: [f64; 3], mut fx: f64, width: f64, f: impl Fn(f64) -> f64) -> f64 {
    // The second and third best positions, and the last two steps.
    let (mut w, mut v, mut fw, mut fv) = (x, x, fx, fx);
    let (mut step, mut before) = (0.0_f64, 0.0_f64);
    for _ in 0..TOP_STEPS {
        let middle = 0.5 * (a + b);
        if (x - middle).abs() + 0.5 * (b - a) <= 2.0 * width {
            break;
        }
        let parabola = parabola_step([x, w, v], [fx, fw, fv])
            .filter(|d| d.abs() < 0.5 * before.abs() && a < x + d && x + d < b);
        before = step;
        step = match parabola {
            Some(d) if x + d - a < 2.0 * width || b - x - d < 2.0 * width => width.copysign(middle - x),
            Some(d) => d,
            None => {
                before = if x < middle { b - x } else { a - x };
                GOLDEN * before
            }
        };
        let u = x + if step.abs() < width { width.copysign(step) } else { step };
        let fu = f(u);
        if fx <= fu {
            if u < x {
                b = x
            } else {
                a = x
            }
            (v, fv, w, fw, x, fx) = (w, fw, x, fx, u, fu);
        } else {
            if u < x {
                a = u
            } else {
                b = u
            }
            if fw <= fu || w.total_cmp(&x).is_eq() {
                (v, fv, w, fw) = (w, fw, u, fu);
            } else if fv <= fu || v.total_cmp(&x).is_eq() || v.total_cmp(&w).is_eq() {
                (v, fv) = (u, fu);
            }
        }
    }
    x
}

/// Distance from the first of three positions to the vertex of the parabola through all of them. `None` if there is none.
fn parabola_step([x, w, v]: [f64; 3], [fx, fw, fv]: [f64; 3]) -> Option<f64> {
    let (r, q) = ((x - w) * (fx - fv), (x - v) * (fx - fw));
    let step = ((x - w) * r - (x - v) * q) / (2.0 * (q - r));
    step.is_finite().then_some(step)
}

/// The first position where a function rises through zero. False position with the value of a side halved if that side stays (the "Illinois" rule: M. Dowell
/// and P. Jarratt, BIT 11, 1971). Every third step is a bisection, so that a jump is found as well.
///
/// `places`: increasing, with one value each; `width`: tolerance of the position. `None` if the values do not rise through zero.
pub fn rising_crossing(places: &[f64], values: &[f64], width: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    let k = (1..places.len()).find(|k| values[k - 1] <= 0.0 && values[*k] > 0.0)?;
    let ([mut a, mut b], [mut fa, mut fb]) = ([places[k - 1], places[k]], [values[k - 1], values[k]]);
    let mut was_above = None;
    for step in 0..CROSSING_STEPS {
        if b - a < width {
            break;
        }
        let secant = a - fa * (b - a) / (fb - fa);
        let inside = a < secant && secant < b && step % 3 != 2;
        let c = if inside { secant } else { 0.5 * (a + b) };
        let fc = f(c);
        let above = fc > 0.0;
        if above {
            (b, fb) = (c, fc);
            fa *= if was_above == Some(true) { 0.5 } else { 1.0 };
        } else {
            (a, fa) = (c, fc);
            fb *= if was_above == Some(false) { 0.5 } else { 1.0 };
        }
        was_above = Some(above);
    }
    Some(0.5 * (a + b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_and_a_line() {
        let places: Vec<f64> = (0..=10).map(f64::from).collect();
        let f = |x: f64| 3.0 - (x - 4.3).powi(2);
        let values: Vec<Option<f64>> = places.iter().map(|x| Some(f(*x))).collect();
        let found = peak(&places, &values, 1e-5, |x| Some(f(x))).unwrap();
        assert!((found.at - 4.3).abs() < 1e-3 && !found.at_end);
        let line: Vec<f64> = places.iter().map(|x| x - 2.25).collect();
        assert!((rising_crossing(&places, &line, 1e-7, |x| x - 2.25).unwrap() - 2.25).abs() < 1e-6);
        assert!(
            peak(&places, &line.iter().map(|v| Some(*v)).collect::<Vec<_>>(), 1e-5, Some).unwrap().at_end
        );
    }

    /// A function, the position of its maximum or crossing, and the calls allowed.
    type Case = (fn(f64) -> f64, f64, usize);

    #[test]
    fn few_steps_find_what_is_smooth_and_the_rest_is_found_as_well() {
        let places: Vec<f64> = (0..=5).map(f64::from).collect();
        let calls = std::cell::Cell::new(0);
        let counted = |f: fn(f64) -> f64| {
            let calls = &calls;
            move |x: f64| {
                calls.set(calls.get() + 1);
                f(x)
            }
        };
        let tops: [Case; 3] = [
            // Smooth; with a corner; with a step down to the right of the maximum.
            (|x| (0.4 * x).sin() * (-0.1 * x).exp(), (0.4_f64 / 0.1).atan() / 0.4, 14),
            (|x| -(x - 2.7).abs(), 2.7, 40),
            (|x| if x < 3.3 { x } else { 0.0 }, 3.3, 40),
        ];
        for (f, at, most) in tops {
            calls.set(0);
            let values: Vec<Option<f64>> = places.iter().map(|x| Some(f(*x))).collect();
            let g = counted(f);
            let found = peak(&places, &values, 1e-5, |x| Some(g(x))).unwrap();
            assert!((found.at - at).abs() < 1e-4 && calls.get() <= most, "{at}: {found:?}, {}", calls.get());
        }
        // The function is known over a fifth of the bracket only.
        let known = |x: f64| (2.9..3.1).contains(&x).then(|| 3.0 - (x - 3.02).abs());
        let values: Vec<Option<f64>> = places.iter().map(|x| known(*x)).collect();
        let found = peak(&places, &values, 1e-5, known).unwrap();
        assert!((found.at - 3.02).abs() < 1e-4, "{found:?}");
        let crossings: [Case; 2] =
            [(|x| x * x - 7.0, 7.0_f64.sqrt(), 14), (|x| if x < 3.3 { -1.0 } else { 4.0 }, 3.3, 90)];
        for (f, at, most) in crossings {
            calls.set(0);
            let values: Vec<f64> = places.iter().map(|x| f(*x)).collect();
            let found = rising_crossing(&places, &values, 1e-7, counted(f)).unwrap();
            assert!((found - at).abs() < 1e-6 && calls.get() <= most, "{at}: {found}, {}", calls.get());
        }
    }
}
