//! Triangular factors of a dense square matrix in blocks, so that most of the work is one product of matrices.
//!
//! G. H. Golub, C. F. Van Loan, "Matrix Computations", 4th ed., 2013, sections 3.2.11 (blocks) and 3.4.5 (partial pivoting).

use nalgebra::{DMatrix, DVector};

/// Columns of a block. Of 8, 12, 16, 24 and 32, this was fastest for the 165 stations of a section (`docs/decisions/017-time-of-a-prediction.md`).
const BLOCK: usize = 16;

/// Solves `transposed^T x = right` in place: `transposed` becomes its factors, `right` becomes `x`. `pivots` is working space. False if the equations are singular.
pub(crate) fn solve_transposed(
    transposed: &mut DMatrix<f64>,
    right: &mut DVector<f64>,
    pivots: &mut Vec<usize>,
) -> bool {
    let n = transposed.nrows();
    pivots.clear();
    for first in (0..n).step_by(BLOCK) {
        let end = (first + BLOCK).min(n);
        if !panel(transposed, first, end, pivots) {
            return false;
        }
        beyond(transposed, first, end, &pivots[first..end]);
    }
    // With P M = L U for the matrix M: M^T = U^T L^T P.
    let x = right.as_mut_slice();
    for j in 0..n {
        let column = &transposed.as_slice()[j * n..(j + 1) * n];
        let sum: f64 = column[..j].iter().zip(&*x).map(|(u, v)| u * v).sum();
        x[j] = (x[j] - sum) / column[j];
    }
    for j in (0..n).rev() {
        let column = &transposed.as_slice()[j * n..(j + 1) * n];
        let sum: f64 = column[j + 1..].iter().zip(&x[j + 1..]).map(|(l, v)| l * v).sum();
        x[j] -= sum;
    }
    for (j, &p) in pivots.iter().enumerate().rev() {
        x.swap(j, p);
    }
    true
}

/// Factors the columns `first..end` below the row `first`, one column after the other from those before it. The pivot of each column is added to `pivots`.
fn panel(matrix: &mut DMatrix<f64>, first: usize, end: usize, pivots: &mut Vec<usize>) -> bool {
    let n = matrix.nrows();
    let columns = &mut matrix.as_mut_slice()[first * n..end * n];
    for k in 0..end - first {
        let row = first + k;
        let (done, rest) = columns.split_at_mut(k * n);
        let own = &mut rest[..n];
        pivots[first..].iter().enumerate().for_each(|(j, &p)| own.swap(first + j, p));
        forward(own, done, first, row);
        below(own, done, first, row);
        let pivot = largest(own, row);
        if own[pivot] == 0.0 || !own[pivot].is_finite() {
            return false;
        }
        pivots.push(pivot);
        if pivot != row {
            own.swap(row, pivot);
            done.chunks_exact_mut(n).for_each(|c| c.swap(row, pivot));
        }
        let inverse = 1.0 / own[row];
        own[row + 1..].iter_mut().for_each(|v| *v *= inverse);
    }
    true
}

/// Solves for the rows `first..end` of a column with the lower factors in `done`, whose first column has its diagonal in the row `first`.
fn forward(column: &mut [f64], done: &[f64], first: usize, end: usize) {
    for (k, lower) in done.chunks_exact(column.len()).enumerate() {
        let factor = column[first + k];
        let (own, lower) = (&mut column[first + k + 1..end], &lower[first + k + 1..end]);
        own.iter_mut().zip(lower).for_each(|(v, l)| *v -= factor * l);
    }
}

/// Subtracts from the rows from `row` on what the columns `done` contribute. Four at once: so each entry is read and written a fourth as often.
fn below(column: &mut [f64], done: &[f64], first: usize, row: usize) {
    let n = column.len();
    let (solved, rest) = column.split_at_mut(row);
    let fours = done.chunks_exact(4 * n);
    let left = fours.remainder();
    let mut k = first;
    for four in fours {
        let [a, b, c, d] = [0, 1, 2, 3].map(|j| &four[j * n + row..(j + 1) * n]);
        let [fa, fb, fc, fd] = [0, 1, 2, 3].map(|j| solved[k + j]);
        for ((((v, a), b), c), d) in rest.iter_mut().zip(a).zip(b).zip(c).zip(d) {
            *v -= fa * a + fb * b + (fc * c + fd * d);
        }
        k += 4;
    }
    for (j, lower) in left.chunks_exact(n).enumerate() {
        let factor = solved[k + j];
        rest.iter_mut().zip(&lower[row..]).for_each(|(v, l)| *v -= factor * l);
    }
}

/// The row from `row` on with the entry of largest magnitude.
fn largest(column: &[f64], row: usize) -> usize {
    const LANES: usize = 4;
    let mut most = [0.0f64; LANES];
    let parts = column[row..].chunks_exact(LANES);
    let last = parts.remainder().iter().fold(0.0, |m: f64, v| if m < v.abs() { v.abs() } else { m });
    for part in parts {
        for (m, v) in most.iter_mut().zip(part) {
            *m = if *m < v.abs() { v.abs() } else { *m };
        }
    }
    let most = most.into_iter().fold(last, f64::max);
    column[row..].iter().position(|v| most <= v.abs()).map_or(row, |i| row + i)
}

/// Applies the factors of the columns `first..end` to all columns behind, and their exchanges to all others.
fn beyond(matrix: &mut DMatrix<f64>, first: usize, end: usize, pivots: &[usize]) {
    let n = matrix.nrows();
    let (before, rest) = matrix.as_mut_slice().split_at_mut(first * n);
    let (block, after) = rest.split_at_mut((end - first) * n);
    let exchanged =
        |column: &mut [f64]| pivots.iter().enumerate().for_each(|(k, &p)| column.swap(first + k, p));
    before.chunks_exact_mut(n).for_each(exchanged);
    after.chunks_exact_mut(n).for_each(exchanged);
    if end == n {
        return;
    }
    let inverse = inverse_of_lower(&block[first..], n, end - first);
    let (done, mut left) = matrix.columns_range_pair_mut(first..end, end..n);
    let upper = inverse * left.rows(first, end - first);
    left.rows_mut(first, end - first).copy_from(&upper);
    left.rows_mut(end, n - end).gemm(-1.0, &done.rows(end, n - end), &upper, 1.0);
}

/// Inverse of the lower triangle with a diagonal of ones at the start of `columns`, which are `n` apart. As a product it costs a tenth of solving column by column, whose loops are short.
fn inverse_of_lower(columns: &[f64], n: usize, size: usize) -> DMatrix<f64> {
    let mut inverse = DMatrix::identity(size, size);
    for j in 0..size {
        for k in j..size {
            let factor = inverse[(k, j)];
            for i in k + 1..size {
                inverse[(i, j)] -= factor * columns[k * n + i];
            }
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against nalgebra's own factors, for sizes around those of blocks; the first diagonal entry is zero, so rows must be exchanged.
    #[test]
    fn the_solution_is_that_of_the_library() {
        for n in [1, 5, BLOCK, BLOCK + 1, 3 * BLOCK - 1, 90] {
            let entry = |i: usize, j: usize| ((7 * i * i + 13 * j + 3 * i * j) as f64 * 0.37).sin();
            let mut matrix = DMatrix::from_fn(n, n, |i, j| entry(i + 1, j + 1));
            if 1 < n {
                matrix[(0, 0)] = 0.0;
            }
            let right = DVector::from_fn(n, |i, _| (i as f64 * 0.7).cos());
            let expected = matrix.transpose().lu().solve(&right).unwrap();
            let (mut factors, mut x) = (matrix.clone(), right.clone());
            assert!(solve_transposed(&mut factors, &mut x, &mut Vec::new()));
            let residual = (matrix.transpose() * &x - &right).amax();
            let allowed = 1e3 * (matrix.transpose() * &expected - &right).amax().max(1e-14);
            assert!(residual < allowed, "{n}: {residual} {allowed}");
        }
    }

    #[test]
    fn singular_equations_are_told() {
        let mut matrix = DMatrix::from_fn(20, 20, |i, j| (i * j) as f64);
        assert!(!solve_transposed(&mut matrix, &mut DVector::zeros(20), &mut Vec::new()));
    }
}
