//! A symmetric sparse matrix of 3x3 blocks, lower triangle.

use nalgebra::{DMatrix, Matrix3};
use nalgebra_sparse::CsrMatrix;
use nalgebra_sparse::pattern::SparsityPattern;

/// Symmetric matrix of 3x3 blocks on the graph of nodes: unknown `3 node + axis`. Only blocks with
/// `row >= column` are stored, each row by row; diagonal blocks are stored whole.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockMatrix {
    pattern: SparsityPattern,
    blocks: Vec<[f64; 9]>,
}

impl BlockMatrix {
    /// A matrix of zeros on a pattern of block rows, lower triangle.
    #[must_use]
    pub fn zeros(pattern: SparsityPattern) -> Self {
        let blocks = vec![[0.0; 9]; pattern.nnz()];
        Self { pattern, blocks }
    }

    /// Number of block rows.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.pattern.major_dim()
    }

    /// Number of unknowns, three a block row.
    #[must_use]
    pub fn unknowns(&self) -> usize {
        3 * self.nodes()
    }

    /// The pattern of the blocks.
    #[must_use]
    pub fn pattern(&self) -> &SparsityPattern {
        &self.pattern
    }

    /// The blocks in the order of the pattern.
    #[must_use]
    pub fn blocks(&self) -> &[[f64; 9]] {
        &self.blocks
    }

    pub(super) fn blocks_mut(&mut self) -> &mut [[f64; 9]] {
        &mut self.blocks
    }

    /// Uncouples single unknowns: `held(row)` tells which axes of a block row are held. Their rows and columns
    /// become zero but for the diagonal, which keeps its value.
    pub fn hold(&mut self, held: impl Fn(usize) -> [bool; 3]) {
        let held: Vec<[bool; 3]> = (0..self.nodes()).map(held).collect();
        if held.iter().all(|h| *h == [false; 3]) {
            return;
        }
        for (block, (row, column)) in self.blocks.iter_mut().zip(self.pattern.entries()) {
            for i in 0..3 {
                for j in 0..3 {
                    if (held[row][i] || held[column][j]) && !(row == column && i == j) {
                        block[3 * i + j] = 0.0;
                    }
                }
            }
        }
    }

    /// Columns and blocks of a block row.
    pub fn row(&self, row: usize) -> impl Iterator<Item = (usize, &[f64; 9])> {
        let offsets = self.pattern.major_offsets();
        self.pattern.lane(row).iter().copied().zip(&self.blocks[offsets[row]..offsets[row + 1]])
    }

    /// Stored entries of the lower triangle, the diagonal included.
    #[must_use]
    pub fn entries(&self) -> usize {
        9 * self.blocks.len() - 3 * self.nodes()
    }

    /// The product with a few vectors, one a column: `K x`, shapes (3n, k).
    ///
    /// # Panics
    /// If the number of rows differs from the number of unknowns.
    #[must_use]
    pub fn multiply(&self, x: &DMatrix<f64>) -> DMatrix<f64> {
        assert_eq!(x.nrows(), self.unknowns(), "rows of the operand against unknowns");
        let mut y = DMatrix::zeros(x.nrows(), x.ncols());
        for k in 0..x.ncols() {
            let source = x.column(k);
            let mut result = y.column_mut(k);
            for row in 0..self.nodes() {
                let mut sum = nalgebra::Vector3::zeros();
                let own = source.fixed_rows::<3>(3 * row).into_owned();
                for (column, block) in self.row(row) {
                    let block = Matrix3::from_row_slice(block);
                    sum += block * source.fixed_rows::<3>(3 * column);
                    if column != row {
                        let mut other = result.fixed_rows_mut::<3>(3 * column);
                        other += block.tr_mul(&own);
                    }
                }
                let mut mine = result.fixed_rows_mut::<3>(3 * row);
                mine += sum;
            }
        }
        y
    }

    /// The lower triangle as an ordinary compressed-row matrix of scalars.
    #[must_use]
    #[allow(clippy::missing_panics_doc, reason = "the columns of a row are sorted and unique")]
    pub fn to_csr(&self) -> CsrMatrix<f64> {
        let n = self.unknowns();
        let mut offsets = Vec::with_capacity(n + 1);
        let mut columns = Vec::with_capacity(self.entries());
        let mut values = Vec::with_capacity(self.entries());
        offsets.push(0);
        for row in 0..self.nodes() {
            for i in 0..3 {
                for (column, block) in self.row(row) {
                    let width = if column == row { i + 1 } else { 3 };
                    for j in 0..width {
                        columns.push(3 * column + j);
                        values.push(block[3 * i + j]);
                    }
                }
                offsets.push(columns.len());
            }
        }
        CsrMatrix::try_from_csr_data(n, n, offsets, columns, values)
            .expect("columns of a row are sorted and unique")
    }
}
