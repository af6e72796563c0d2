//! Round values for axes.

/// About `wanted` round values that cover `low..=high`, and the number of decimals they need. Their spacing is 1, 2 or 5 times a power of ten.
///
/// The first is not above `low`, the last not below `high`. An empty range is widened by a tenth of its value on each side.
pub(crate) fn ticks(low: f64, high: f64, wanted: usize) -> (Vec<f64>, usize) {
    let (low, high) = if high - low > 1e-12 * low.abs().max(high.abs()) {
        (low, high)
    } else {
        let room = (0.1 * low.abs()).max(1e-6);
        (low - room, high + room)
    };
    let step = round_up((high - low) / wanted.max(1) as f64);
    let (first, last) = ((low / step + 1e-9).floor() as i64, (high / step - 1e-9).ceil() as i64);
    let values = (first..=last).map(|k| k as f64 * step).collect();
    let decimals = (-step.log10().floor()).max(0.0) as usize;
    (values, decimals)
}

/// The smallest number of the form 1, 2 or 5 times a power of ten that is not below `value`. `value` is above 0.
pub(crate) fn round_up(value: f64) -> f64 {
    let power = 10_f64.powf(value.log10().floor());
    let factor =
        [1.0, 2.0, 5.0, 10.0].into_iter().find(|f| value <= f * power * (1.0 + 1e-9)).unwrap_or(10.0);
    factor * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_cover_the_range() {
        assert_eq!(ticks(160.0, 210.1, 5), (vec![160.0, 180.0, 200.0, 220.0], 0));
        let (values, decimals) = ticks(-0.013, 0.052, 4);
        assert_eq!((values.len(), decimals), (5, 2));
        assert!(values[0] <= -0.013 && values[4] >= 0.052);
        assert!(ticks(3.0, 3.0, 4).0.len() > 1);
        assert!(ticks(0.0, 0.0, 4).0.len() > 1);
    }

    #[test]
    fn rounding_up_meets_one_two_five() {
        for (value, round) in [(0.13, 0.2), (1.0, 1.0), (2.1, 5.0), (51.0, 100.0)] {
            assert!((round_up(value) - round).abs() < 1e-12 * round);
        }
    }
}
