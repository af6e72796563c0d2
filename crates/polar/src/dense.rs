//! Dense linear equations in blocks: most of the work becomes products of matrices, which nalgebra's library for them does several times faster
//! than the elimination column by column of its own factorisation (0.9 ms against 0.3 ms for 163 unknowns; docs/performance.md).
//!
//! G. H. Golub, C. F. Van Loan, "Matrix Computations", 4th ed., section 3.4: Gaussian elimination with row interchanges, right-looking, in blocks.

use nalgebra::{DMatrix, DVector};

/// Columns eliminated one by one before the rest of the matrix is updated at once.
const BLOCK: usize = 24;

/// Solves `matrix * x = right`; `matrix` is used up. `None` where it is singular.
pub(crate) fn solve(matrix: &mut DMatrix<f64>, mut right: DVector<f64>) -> Option<DVector<f64>> {
    let n = matrix.nrows();
    for first in (0..n).step_by(BLOCK) {
        let end = (first + BLOCK).min(n);
        for k in first..end {
            let pivot = (k..n).max_by(|&a, &b| matrix[(a, k)].abs().total_cmp(&matrix[(b, k)].abs()))?;
            if matrix[(pivot, k)] == 0.0 || !matrix[(pivot, k)].is_finite() {
                return None;
            }
            if pivot != k {
                matrix.swap_rows(pivot, k);
                right.swap_rows(pivot, k);
            }
            let inverse = 1.0 / matrix[(k, k)];
            matrix.view_mut((k + 1, k), (n - k - 1, 1)).scale_mut(inverse);
            for j in k + 1..end {
                let factor = matrix[(k, j)];
                let (done, mut rest) = matrix.columns_range_pair_mut(k, j);
                rest.rows_mut(k + 1, n - k - 1).axpy(-factor, &done.rows(k + 1, n - k - 1), 1.0);
            }
        }
        if end == n {
            break;
        }
        // The block's rows to the right, then everything below and to the right.
        let width = n - end;
        for j in end..n {
            for k in first..end {
                let factor = matrix[(k, j)];
                let (done, mut rest) = matrix.columns_range_pair_mut(k, j);
                rest.rows_mut(k + 1, end - k - 1).axpy(-factor, &done.rows(k + 1, end - k - 1), 1.0);
            }
        }
        let upper = matrix.view((first, end), (end - first, width)).into_owned();
        let (left, mut rest) = matrix.columns_range_pair_mut(first..end, end..n);
        rest.rows_mut(end, width).gemm(-1.0, &left.rows(end, width), &upper, 1.0);
    }
    for k in 0..n {
        let value = right[k];
        right.rows_mut(k + 1, n - k - 1).axpy(-value, &matrix.column(k).rows(k + 1, n - k - 1), 1.0);
    }
    for k in (0..n).rev() {
        right[k] /= matrix[(k, k)];
        let value = right[k];
        right.rows_mut(0, k).axpy(-value, &matrix.column(k).rows(0, k), 1.0);
    }
    right.iter().all(|v| v.is_finite()).then_some(right)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_library_s_factorisation() {
        // A fixed sequence of numbers in place of random ones; sizes around the block's.
        let mut state = 1_u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        for n in [1, 2, 23, 24, 25, 163] {
            let matrix = DMatrix::from_fn(n, n, |_, _| next());
            let right = DVector::from_fn(n, |_, _| next());
            let library = matrix.clone().lu().solve(&right).unwrap();
            let own = solve(&mut matrix.clone(), right).unwrap();
            assert!((own - &library).amax() < 1e-9 * (1.0 + library.amax()), "{n} unknowns");
        }
        assert!(solve(&mut DMatrix::zeros(30, 30), DVector::zeros(30)).is_none());
    }
}
