//! A symmetric sparse matrix of 3x3 blocks, lower triangle.

use std::sync::OnceLock;

use nalgebra::DMatrix;
use nalgebra_sparse::CsrMatrix;
use nalgebra_sparse::pattern::SparsityPattern;
use rayon::prelude::*;

/// Symmetric matrix of 3x3 blocks on the graph of nodes: unknown `3 node + axis`. Only blocks with
/// `row >= column` are stored, each row by row; diagonal blocks are stored whole.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockMatrix {
    pattern: SparsityPattern,
    blocks: Vec<[f64; 9]>,
    upper: OnceLock<Upper>,
}

/// Vectors that advance together in a product.
const LANES: usize = 6;
/// Three values of a node in each lane.
type Lanes = [[f64; LANES]; 3];

/// The blocks right of the diagonal, which are stored as transposes below it.
#[derive(Debug, Clone, PartialEq)]
struct Upper {
    offsets: Vec<usize>,
    /// Column and number of the stored block.
    entries: Vec<(u32, u32)>,
}

impl Upper {
    fn of(lower: &SparsityPattern) -> Self {
        let mut offsets = vec![0; lower.major_dim() + 1];
        for (row, column) in lower.entries().filter(|(row, column)| row != column) {
            debug_assert!(row > column, "lower triangle");
            offsets[column + 1] += 1;
        }
        for k in 0..lower.major_dim() {
            offsets[k + 1] += offsets[k];
        }
        let mut next = offsets.clone();
        let mut entries = vec![(0, 0); offsets[lower.major_dim()]];
        for (at, (row, column)) in lower.entries().enumerate() {
            if row != column {
                entries[next[column]] = (row as u32, at as u32);
                next[column] += 1;
            }
        }
        Self { offsets, entries }
    }
}

impl BlockMatrix {
    /// A matrix of zeros on a pattern of block rows, lower triangle.
    #[must_use]
    pub fn zeros(pattern: SparsityPattern) -> Self {
        let blocks = vec![[0.0; 9]; pattern.nnz()];
        Self { pattern, blocks, upper: OnceLock::new() }
    }

    /// A matrix of some blocks on a pattern, lower triangle.
    ///
    /// # Panics
    /// If their numbers differ.
    #[must_use]
    pub fn new(pattern: SparsityPattern, blocks: Vec<[f64; 9]>) -> Self {
        assert_eq!(pattern.nnz(), blocks.len(), "one block an entry of the pattern");
        Self { pattern, blocks, upper: OnceLock::new() }
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

    /// The product with a few vectors, one a column: `K x`, shapes (3n, k). Each row is summed in the order of its
    /// columns whatever the number of threads.
    ///
    /// # Panics
    /// If the number of rows differs from the number of unknowns.
    #[must_use]
    pub fn multiply(&self, x: &DMatrix<f64>) -> DMatrix<f64> {
        assert_eq!(x.nrows(), self.unknowns(), "rows of the operand against unknowns");
        let upper = self.upper.get_or_init(|| Upper::of(&self.pattern));
        let mut y = DMatrix::zeros(x.nrows(), x.ncols());
        for first in (0..x.ncols()).step_by(LANES) {
            let width = LANES.min(x.ncols() - first);
            let mut source = vec![[[0.0; LANES]; 3]; self.nodes()];
            for lane in 0..width {
                let values = x.column(first + lane);
                for (node, value) in source.iter_mut().zip(values.as_slice().chunks_exact(3)) {
                    for axis in 0..3 {
                        node[axis][lane] = value[axis];
                    }
                }
            }
            let product: Vec<Lanes> =
                (0..self.nodes()).into_par_iter().map(|row| self.row_product(upper, row, &source)).collect();
            for lane in 0..width {
                for (node, sums) in product.iter().enumerate() {
                    for axis in 0..3 {
                        y[(3 * node + axis, first + lane)] = sums[axis][lane];
                    }
                }
            }
        }
        y
    }

    /// One block row of the product.
    fn row_product(&self, upper: &Upper, row: usize, source: &[Lanes]) -> Lanes {
        let mut sums = [[0.0; LANES]; 3];
        for (column, block) in self.row(row) {
            for i in 0..3 {
                for j in 0..3 {
                    for (sum, x) in sums[i].iter_mut().zip(&source[column][j]) {
                        *sum += block[3 * i + j] * x;
                    }
                }
            }
        }
        for &(column, at) in &upper.entries[upper.offsets[row]..upper.offsets[row + 1]] {
            let (block, x) = (&self.blocks[at as usize], &source[column as usize]);
            for i in 0..3 {
                for j in 0..3 {
                    for (sum, x) in sums[i].iter_mut().zip(&x[j]) {
                        *sum += block[3 * j + i] * x;
                    }
                }
            }
        }
        sums
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
