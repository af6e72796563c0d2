//! Symmetric positive definite matrices whose blocks lie in a band around the diagonal: their Cholesky factor, and the blocks of the inverse inside the band.

use nalgebra::{DMatrix, DVector};

/// Square blocks of one size; `blocks[j][d]` is that of row `j + d` and column `j`, for `d` up to the band's width.
#[derive(Debug, Clone)]
pub(super) struct Banded {
    size: usize,
    blocks: Vec<Vec<DMatrix<f64>>>,
}

impl Banded {
    /// `count` blocks of `size` on the diagonal, and `width` below each. All are zero.
    pub(super) fn zero(count: usize, size: usize, width: usize) -> Self {
        let column = |j: usize| vec![DMatrix::zeros(size, size); (width + 1).min(count - j)];
        Self { size, blocks: (0..count).map(column).collect() }
    }

    /// The block of row `i` and column `j`, which is not above the diagonal, to be changed.
    pub(super) fn block_mut(&mut self, i: usize, j: usize) -> &mut DMatrix<f64> {
        &mut self.blocks[j][i - j]
    }

    /// The block of row `i` and column `j` of a symmetric matrix; `None` outside the band.
    pub(super) fn block(&self, i: usize, j: usize) -> Option<DMatrix<f64>> {
        if j <= i {
            self.blocks[j].get(i - j).cloned()
        } else {
            self.blocks[i].get(j - i).map(DMatrix::transpose)
        }
    }

    /// The lower triangular factor `L` of `L L'`; `None` if the matrix is not positive definite.
    pub(super) fn cholesky(mut self) -> Option<Factor> {
        for j in 0..self.blocks.len() {
            let diagonal = std::mem::replace(&mut self.blocks[j][0], DMatrix::zeros(0, 0));
            let own = diagonal.cholesky()?.unpack();
            // L_ij L_jj' = A_ij
            let solved = self.blocks[j][1..].iter().map(|a| own.solve_lower_triangular(&a.transpose()));
            let transposed = solved.collect::<Option<Vec<_>>>()?;
            let below: Vec<_> = transposed.iter().map(DMatrix::transpose).collect();
            for (d, right) in transposed.iter().enumerate() {
                for (e, left) in below.iter().enumerate().skip(d) {
                    self.blocks[j + d + 1][e - d].gemm(-1.0, left, right, 1.0);
                }
            }
            self.blocks[j].splice(1.., below);
            self.blocks[j][0] = own;
        }
        Some(Factor { lower: self })
    }
}

/// A Cholesky factor.
pub(super) struct Factor {
    lower: Banded,
}

impl Factor {
    /// The solution for a right-hand side.
    pub(super) fn solve(&self, right: &DVector<f64>) -> Option<DVector<f64>> {
        let (n, blocks) = (self.lower.size, &self.lower.blocks);
        let mut x = right.clone();
        for (j, column) in blocks.iter().enumerate() {
            let own = column[0].solve_lower_triangular(&x.rows(j * n, n).into_owned())?;
            for (d, block) in column.iter().enumerate().skip(1) {
                let mut rest = x.rows_mut((j + d) * n, n);
                rest -= block * &own;
            }
            x.rows_mut(j * n, n).copy_from(&own);
        }
        for (j, column) in blocks.iter().enumerate().rev() {
            let mut own = x.rows(j * n, n).into_owned();
            for (d, block) in column.iter().enumerate().skip(1) {
                own -= block.transpose() * x.rows((j + d) * n, n);
            }
            x.rows_mut(j * n, n).copy_from(&column[0].tr_solve_lower_triangular(&own)?);
        }
        Some(x)
    }

    /// The blocks of the inverse inside the band (K. Takahashi, J. Fagan, M.-S. Chin, "Formation of a sparse bus impedance matrix and its application to short circuit study", 8th PICA
    /// Conference, 1973, from memory).
    pub(super) fn inverse_in_band(&self) -> Option<Banded> {
        let (n, blocks) = (self.lower.size, &self.lower.blocks);
        let mut inverse =
            Banded { size: n, blocks: blocks.iter().map(|c| vec![DMatrix::zeros(n, n); c.len()]).collect() };
        for (j, column) in blocks.iter().enumerate().rev() {
            let of_diagonal = column[0].solve_lower_triangular(&DMatrix::identity(n, n))?;
            // Columns below the diagonal of L times the inverse of its diagonal block.
            let scaled: Vec<DMatrix<f64>> = column.iter().skip(1).map(|l| l * &of_diagonal).collect();
            for d in 1..column.len() {
                let mut sum = DMatrix::zeros(n, n);
                for (e, scaled) in scaled.iter().enumerate() {
                    sum -= inverse.block(j + d, j + 1 + e)? * scaled;
                }
                inverse.blocks[j][d] = sum;
            }
            let mut own = of_diagonal.transpose() * &of_diagonal;
            for (e, scaled) in scaled.iter().enumerate() {
                own -= scaled.transpose() * &inverse.blocks[j][e + 1];
            }
            inverse.blocks[j][0] = own;
        }
        Some(inverse)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A random banded matrix and the same as a whole one.
    fn example(count: usize, n: usize, width: usize) -> (Banded, DMatrix<f64>) {
        let mut state = 7_u64;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let mut banded = Banded::zero(count, n, width);
        let mut whole = DMatrix::zeros(count * n, count * n);
        for j in 0..count {
            for i in j..(j + width + 1).min(count) {
                let mut block = DMatrix::from_fn(n, n, |_, _| uniform());
                if i == j {
                    block = &block
                        + block.transpose()
                        + DMatrix::identity(n, n) * (4.0 * (n * width.max(1)) as f64);
                }
                whole.view_mut((i * n, j * n), (n, n)).copy_from(&block);
                whole.view_mut((j * n, i * n), (n, n)).copy_from(&block.transpose());
                *banded.block_mut(i, j) = block;
            }
        }
        (banded, whole)
    }

    #[test]
    fn solution_and_inverse_are_those_of_the_whole_matrix() {
        for (count, n, width) in [(7, 3, 2), (5, 2, 4), (4, 3, 0)] {
            let (banded, whole) = example(count, n, width);
            let right = DVector::from_fn(count * n, |i, _| (i as f64 * 0.7).sin());
            let factor = banded.cholesky().unwrap();
            let inverse = whole.try_inverse().unwrap();
            assert!((factor.solve(&right).unwrap() - &inverse * &right).amax() < 1e-12);
            let in_band = factor.inverse_in_band().unwrap();
            for j in 0..count {
                for i in j..(j + width + 1).min(count) {
                    let block = in_band.block(i, j).unwrap();
                    assert!((block - inverse.view((i * n, j * n), (n, n))).amax() < 1e-12, "{i} {j}");
                }
            }
        }
    }
}
