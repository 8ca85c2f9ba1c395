//! The system once more, laid out for sweeps: whole rows of 3x3 blocks in the order of the sweep, every entry
//! as the sum of two single-precision numbers. Smoothers read the first alone, exact products read both (48
//! bits, relative error below 4e-15), and nothing is stored twice.
#![allow(
    clippy::inline_always,
    reason = "kernels must be built inside the function that enables the registers"
)]

use std::ops::Range;

use nalgebra::Matrix3;
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::lanes::{Field, LANES, Lanes, Rough, Wide, total};
use super::sweep::SweepOrder;
use crate::assembly::BlockMatrix;
use crate::error::SolverError;

/// Symmetric matrix with whole rows.
#[derive(Debug)]
pub(super) struct SplitMatrix {
    /// First entry of each row, and the end of the last.
    offsets: Vec<u32>,
    /// For each row: its first entry inside the row's own chunk, the diagonal, and the end of the chunk.
    own: Vec<[u32; 3]>,
    columns: Vec<u32>,
    high: Vec<[f32; 9]>,
    low: Vec<[f32; 9]>,
    /// Inverses of the diagonal blocks.
    inverse: Vec<[f32; 9]>,
}

impl SplitMatrix {
    /// Lays a matrix out in the order of a sweep.
    ///
    /// # Errors
    /// [`SolverError::NotPositiveDefinite`] if a diagonal block is not.
    pub(super) fn new(matrix: &BlockMatrix, sweep: &SweepOrder) -> Result<Self, SolverError> {
        let nodes = matrix.nodes();
        let (offsets, columns, sources) = whole_rows(matrix, sweep);
        let blocks = matrix.blocks();
        let entry = |source: u32, k: usize| {
            let k = if source & 1 == 0 { k } else { 3 * (k % 3) + k / 3 };
            blocks[(source >> 1) as usize][k]
        };
        // One after the other: both at once would be held twice for a moment, and they are most of the memory.
        let high: Vec<[f32; 9]> =
            sources.par_iter().map(|&source| std::array::from_fn(|k| entry(source, k) as f32)).collect();
        let low: Vec<[f32; 9]> = sources
            .par_iter()
            .zip(&high)
            .map(|(&source, high)| std::array::from_fn(|k| (entry(source, k) - f64::from(high[k])) as f32))
            .collect();
        let mut own = vec![[0; 3]; nodes];
        for chunk in &sweep.chunks {
            for row in chunk.clone() {
                let begin = offsets[row];
                let lane = &columns[begin as usize..offsets[row + 1] as usize];
                own[row] = [chunk.start, row, chunk.end]
                    .map(|bound| begin + lane.partition_point(|&c| (c as usize) < bound) as u32);
            }
        }
        let inverse = own
            .par_iter()
            .map(|&[_, diagonal, _]| {
                let (h, l) = (&high[diagonal as usize], &low[diagonal as usize]);
                let block = Matrix3::from_fn(|i, j| f64::from(h[3 * i + j]) + f64::from(l[3 * i + j]));
                let inverse = block.cholesky()?.inverse();
                Some(std::array::from_fn(|k| inverse[(k / 3, k % 3)] as f32))
            })
            .collect::<Option<Vec<_>>>()
            .ok_or(SolverError::NotPositiveDefinite { unknowns: matrix.unknowns() })?;
        Ok(Self { offsets, own, columns, high, low, inverse })
    }

    /// Number of block rows.
    pub(super) fn nodes(&self) -> usize {
        self.own.len()
    }

    /// Memory held, bytes.
    pub(super) fn bytes(&self) -> u64 {
        (self.columns.len() * 76 + self.nodes() * 52) as u64
    }

    /// Columns and blocks of a row.
    pub(super) fn row(&self, row: usize) -> impl Iterator<Item = (u32, [f64; 9])> {
        let range = self.offsets[row] as usize..self.offsets[row + 1] as usize;
        range.map(|k| {
            let (h, l) = (&self.high[k], &self.low[k]);
            (self.columns[k], std::array::from_fn(|i| f64::from(h[i]) + f64::from(l[i])))
        })
    }

    /// `y = A x` in double precision, and the inner product `x . y` of each lane.
    pub(super) fn multiply(&self, sweep: &SweepOrder, x: &Field, y: &mut Field) -> Lanes {
        let products: Vec<Lanes> = sweep
            .along(y)
            .into_par_iter()
            .map(|(first, y)| Arch::new().dispatch(Product { matrix: self, x, first, y }))
            .collect();
        total(&products)
    }

    /// One forward sweep of block Gauss-Seidel from zero: solves `(D + L) x = b`.
    pub(super) fn forward(&self, sweep: &SweepOrder, b: &Rough, x: &mut Rough) {
        for colour in &sweep.colours {
            coloured(sweep, colour.clone(), x, |chunk| {
                Arch::new().dispatch(Forward { matrix: self, b, chunk });
            });
        }
    }

    /// What a forward sweep from zero leaves over: `b - A x = -U x`.
    pub(super) fn forward_residual(&self, sweep: &SweepOrder, x: &Rough, r: &mut Rough) {
        sweep.along(r).into_par_iter().for_each(|(first, r)| {
            Arch::new().dispatch(Residual { matrix: self, x, first, r });
        });
    }

    /// One backward sweep of block Gauss-Seidel.
    pub(super) fn backward(&self, sweep: &SweepOrder, b: &Rough, x: &mut Rough) {
        for colour in sweep.colours.iter().rev() {
            coloured(sweep, colour.clone(), x, |chunk| {
                Arch::new().dispatch(Backward { matrix: self, b, chunk });
            });
        }
    }

    /// Subtracts the entries `begin..end` times `x` from `sum`, columns counted from `first`.
    #[inline(always)]
    fn subtract(&self, sum: &mut Wide<f32>, begin: u32, end: u32, x: &[Wide<f32>], first: usize) {
        let range = begin as usize..end as usize;
        for (&column, block) in self.columns[range.clone()].iter().zip(&self.high[range]) {
            let x = &x[column as usize - first];
            for i in 0..3 {
                for j in 0..3 {
                    let a = block[3 * i + j];
                    for lane in 0..LANES {
                        sum[i][lane] -= a * x[j][lane];
                    }
                }
            }
        }
    }

    #[inline(always)]
    fn solve_diagonal(&self, row: usize, b: &Wide<f32>) -> Wide<f32> {
        let inverse = &self.inverse[row];
        let mut x = [[0.0; LANES]; 3];
        for i in 0..3 {
            for j in 0..3 {
                let a = inverse[3 * i + j];
                for lane in 0..LANES {
                    x[i][lane] += a * b[j][lane];
                }
            }
        }
        x
    }
}

// The kernels are types of their own so that the compiler can build each for the vector registers of the machine
// it runs on. None of them contracts or reorders sums, so the bits are the same on every machine.

struct Product<'a> {
    matrix: &'a SplitMatrix,
    x: &'a [Wide<f64>],
    first: usize,
    y: &'a mut [Wide<f64>],
}

impl WithSimd for Product<'_> {
    type Output = Lanes;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> Lanes {
        let Self { matrix, x, first, y } = self;
        for (row, y) in (first..).zip(y.iter_mut()) {
            let range = matrix.offsets[row] as usize..matrix.offsets[row + 1] as usize;
            let mut sum = [[0.0; LANES]; 3];
            for ((&column, high), low) in
                matrix.columns[range.clone()].iter().zip(&matrix.high[range.clone()]).zip(&matrix.low[range])
            {
                let x = &x[column as usize];
                for i in 0..3 {
                    for j in 0..3 {
                        let a = f64::from(high[3 * i + j]) + f64::from(low[3 * i + j]);
                        for lane in 0..LANES {
                            sum[i][lane] += a * x[j][lane];
                        }
                    }
                }
            }
            *y = sum;
        }
        let mut inner = [0.0; LANES];
        for (x, y) in x[first..].iter().zip(y) {
            for axis in 0..3 {
                for lane in 0..LANES {
                    inner[lane] += x[axis][lane] * y[axis][lane];
                }
            }
        }
        inner
    }
}

struct Residual<'a> {
    matrix: &'a SplitMatrix,
    x: &'a [Wide<f32>],
    first: usize,
    r: &'a mut [Wide<f32>],
}

impl WithSimd for Residual<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { matrix, x, first, r } = self;
        for (row, r) in (first..).zip(r) {
            let mut sum = [[0.0; LANES]; 3];
            matrix.subtract(&mut sum, matrix.own[row][1] + 1, matrix.offsets[row + 1], x, 0);
            *r = sum;
        }
    }
}

/// A chunk under sweep, and what it sees of the others.
struct Chunk<'a> {
    /// Everything before the chunk's colour.
    before: &'a [Wide<f32>],
    /// The chunk itself and its first place.
    own: &'a mut [Wide<f32>],
    start: usize,
    /// Everything after the colour, and where that begins.
    after: &'a [Wide<f32>],
    end: usize,
}

struct Forward<'a> {
    matrix: &'a SplitMatrix,
    b: &'a [Wide<f32>],
    chunk: Chunk<'a>,
}

impl WithSimd for Forward<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { matrix, b, chunk: Chunk { before, own, start, .. } } = self;
        for k in 0..own.len() {
            let row = start + k;
            let [first, diagonal, _] = matrix.own[row];
            let mut sum = b[row];
            matrix.subtract(&mut sum, matrix.offsets[row], first, before, 0);
            matrix.subtract(&mut sum, first, diagonal, own, start);
            own[k] = matrix.solve_diagonal(row, &sum);
        }
    }
}

struct Backward<'a> {
    matrix: &'a SplitMatrix,
    b: &'a [Wide<f32>],
    chunk: Chunk<'a>,
}

impl WithSimd for Backward<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { matrix, b, chunk: Chunk { before, own, start, after, end } } = self;
        for k in (0..own.len()).rev() {
            let row = start + k;
            let [first, diagonal, rest] = matrix.own[row];
            let mut sum = b[row];
            matrix.subtract(&mut sum, matrix.offsets[row], first, before, 0);
            matrix.subtract(&mut sum, first, diagonal, own, start);
            matrix.subtract(&mut sum, diagonal + 1, rest, own, start);
            matrix.subtract(&mut sum, rest, matrix.offsets[row + 1], after, end);
            own[k] = matrix.solve_diagonal(row, &sum);
        }
    }
}

/// Runs `work` for the chunks of a colour side by side.
fn coloured(
    sweep: &SweepOrder,
    colour: Range<usize>,
    x: &mut [Wide<f32>],
    work: impl Fn(Chunk) + Send + Sync,
) {
    let chunks = &sweep.chunks[colour];
    let (Some(first), Some(last)) = (chunks.first(), chunks.last()) else { return };
    let (before, rest) = x.split_at_mut(first.start);
    let (mut current, after) = rest.split_at_mut(last.end - first.start);
    let (before, after, end) = (&*before, &*after, last.end);
    let mut parts = Vec::with_capacity(chunks.len());
    for chunk in chunks {
        let (own, others) = current.split_at_mut(chunk.len());
        parts.push(Chunk { before, own, start: chunk.start, after, end });
        current = others;
    }
    parts.into_par_iter().for_each(work);
}

/// Offsets and columns of the whole rows in the order of the sweep, and where each entry comes from: twice the
/// number of the stored block, plus one if it is to be transposed.
fn whole_rows(matrix: &BlockMatrix, sweep: &SweepOrder) -> (Vec<u32>, Vec<u32>, Vec<u32>) {
    let nodes = matrix.nodes();
    let pattern = matrix.pattern();
    let place = |node: usize| sweep.place[node];
    let mut offsets = vec![0_u32; nodes + 1];
    for (row, column) in pattern.entries() {
        offsets[place(row) as usize + 1] += 1;
        if row != column {
            offsets[place(column) as usize + 1] += 1;
        }
    }
    for row in 0..nodes {
        offsets[row + 1] += offsets[row];
    }
    let mut next = offsets.clone();
    let mut entries = vec![(0_u32, 0_u32); offsets[nodes] as usize];
    let mut put = |row: u32, column: u32, source: u32| {
        let slot = &mut next[row as usize];
        entries[*slot as usize] = (column, source);
        *slot += 1;
    };
    for (k, (row, column)) in (0_u32..).zip(pattern.entries()) {
        put(place(row), place(column), k << 1);
        if row != column {
            put(place(column), place(row), k << 1 | 1);
        }
    }
    let mut rest = entries.as_mut_slice();
    let mut lanes = Vec::with_capacity(nodes);
    for row in 0..nodes {
        let (lane, others) = rest.split_at_mut((offsets[row + 1] - offsets[row]) as usize);
        lanes.push(lane);
        rest = others;
    }
    lanes.into_par_iter().for_each(<[_]>::sort_unstable);
    let (columns, sources) = entries.into_iter().unzip();
    (offsets, columns, sources)
}
