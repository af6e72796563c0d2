//! Extremes and crossings of smooth functions of one variable, refined by solving.

/// Steps of the golden section: from a few degrees to a thousandth of one.
const GOLDEN_STEPS: usize = 24;
/// Halvings of a crossing's bracket: from a few degrees to a millionth of one.
const HALVINGS: usize = 24;
/// The golden section's ratio.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// Where the greatest value of a function lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Peak {
    pub(crate) at: f64,
    /// Whether it lies at the end of the searched range, so that a greater value may lie beyond.
    pub(crate) at_end: bool,
}

/// The greatest value over rising places where the function is known; places without a value are passed over.
pub(crate) fn peak(places: &[f64], values: &[Option<f64>], f: impl Fn(f64) -> Option<f64>) -> Option<Peak> {
    let best = (0..places.len())
        .filter(|k| values[*k].is_some_and(f64::is_finite))
        .max_by(|a, b| values[*a].unwrap_or(f64::MIN).total_cmp(&values[*b].unwrap_or(f64::MIN)))?;
    let (first, last) = (best == 0, best + 1 == places.len());
    let (mut a, mut b) = (places[best.saturating_sub(1)], places[(best + 1).min(places.len() - 1)]);
    let value = |x: f64| f(x).unwrap_or(f64::NEG_INFINITY);
    let (mut x1, mut x2) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut f1, mut f2) = (value(x1), value(x2));
    for _ in 0..GOLDEN_STEPS {
        if f1 < f2 {
            (a, x1, f1) = (x1, x2, f2);
            x2 = a + GOLDEN * (b - a);
            f2 = value(x2);
        } else {
            (b, x2, f2) = (x2, x1, f1);
            x1 = b - GOLDEN * (b - a);
            f1 = value(x1);
        }
    }
    let at = 0.5 * (a + b);
    let near_end =
        (first && (at - places[0]).abs() < 1e-2) || (last && (at - places[places.len() - 1]).abs() < 1e-2);
    Some(Peak { at, at_end: near_end })
}

/// The first place where a function rises through zero.
pub(crate) fn rising_crossing(places: &[f64], values: &[f64], f: impl Fn(f64) -> f64) -> Option<f64> {
    let k = (1..places.len()).find(|k| values[k - 1] <= 0.0 && values[*k] > 0.0)?;
    let (mut a, mut b) = (places[k - 1], places[k]);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (a + b);
        if f(middle) > 0.0 { b = middle } else { a = middle }
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
        let found = peak(&places, &values, |x| Some(f(x))).unwrap();
        assert!((found.at - 4.3).abs() < 1e-3 && !found.at_end);
        let line: Vec<f64> = places.iter().map(|x| x - 2.25).collect();
        assert!((rising_crossing(&places, &line, |x| x - 2.25).unwrap() - 2.25).abs() < 1e-6);
        assert!(peak(&places, &line.iter().map(|v| Some(*v)).collect::<Vec<_>>(), Some).unwrap().at_end);
    }
}
