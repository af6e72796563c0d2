//! Accelerated fixed-point iteration for `x = g(x)`: the next value follows from the last few, so that few iterations are needed.

use nalgebra::{DMatrix, DVector};

/// Number of iterations remembered.
const REMEMBERED: usize = 5;
/// Singular values below this fraction of the greatest are noise.
const NOISE: f64 = 1e-3;

/// The last iterations (D. G. Anderson, *Iterative procedures for nonlinear integral equations*, Journal of the ACM 12, 1965; from memory).
#[derive(Default)]
pub(crate) struct Mixing {
    values: Vec<DVector<f64>>,
    changes: Vec<DVector<f64>>,
}

impl Mixing {
    /// The next value. `change`: the change that `g` makes at `value`. `share`: the fraction of the change that is applied.
    pub(crate) fn next(&mut self, value: &DVector<f64>, change: &DVector<f64>, share: f64) -> DVector<f64> {
        self.values.push(value.clone());
        self.changes.push(change.clone());
        if self.values.len() > REMEMBERED + 1 {
            self.values.remove(0);
            self.changes.remove(0);
        }
        let plain = value + change * share;
        let count = self.values.len() - 1;
        if count == 0 {
            return plain;
        }
        let steps = |list: &[DVector<f64>]| {
            DMatrix::from_columns(&list.windows(2).map(|p| &p[1] - &p[0]).collect::<Vec<_>>())
        };
        let (moved, changed) = (steps(&self.values), steps(&self.changes));
        let svd = changed.clone().svd(true, true);
        let least = NOISE * svd.singular_values.max();
        match svd.solve(change, least) {
            Ok(weights) => plain - (moved + changed * share) * weights,
            Err(_) => plain,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_linear_map_settles_in_as_many_rounds_as_it_has_directions() {
        // Plain iteration would diverge: -3 is an eigenvalue.
        let of = |x: &DVector<f64>| DVector::from_vec(vec![1.0 - 3.0 * x[0] + 0.5 * x[1], 2.0 - 0.4 * x[1]]);
        let mut x = DVector::from_vec(vec![0.0, 0.0]);
        let mut mixing = Mixing::default();
        for _ in 0..5 {
            let change = of(&x) - &x;
            x = mixing.next(&x, &change, 0.3);
        }
        assert!((of(&x) - &x).amax() < 1e-6, "{x}");
    }
}
