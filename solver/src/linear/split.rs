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

/// An entry of a row: its column and its block, rounded to single precision.
#[derive(Debug, Clone, Copy)]
struct Entry {
    column: u32,
    block: [f32; 9],
}

/// What lies on one side of the diagonal, row by row: a sweep reads it from one end to the other.
#[derive(Debug)]
struct Side {
    /// First entry of each row, and the end of the last.
    offsets: Vec<u32>,
    entries: Vec<Entry>,
    /// What rounding left over of each block.
    low: Vec<[f32; 9]>,
}

impl Side {
    fn new(entries: &[(u32, u32)], rows: &[Range<u32>], block: impl Fn(u32) -> [f64; 9] + Sync) -> Self {
        let mut offsets = Vec::with_capacity(rows.len() + 1);
        let mut total = 0;
        offsets.push(0);
        for row in rows {
            total += row.len() as u32;
            offsets.push(total);
        }
        let listed: Vec<(u32, u32)> =
            rows.iter().flat_map(|row| &entries[row.start as usize..row.end as usize]).copied().collect();
        // One after the other: both at once would be held twice for a moment, and they are most of the memory.
        let entries: Vec<Entry> = listed
            .par_iter()
            .map(|&(column, source)| Entry { column, block: block(source).map(|v| v as f32) })
            .collect();
        let low =
            listed.par_iter().zip(&entries).map(|(&(_, source), high)| rest(&block(source), &high.block));
        let low = low.collect();
        Self { offsets, entries, low }
    }

    #[inline(always)]
    fn range(&self, row: usize) -> Range<usize> {
        self.offsets[row] as usize..self.offsets[row + 1] as usize
    }

    /// The entries of a row, and what rounding left over of them.
    #[inline(always)]
    fn row(&self, row: usize) -> impl Iterator<Item = (&Entry, &[f32; 9])> {
        let range = self.range(row);
        self.entries[range.clone()].iter().zip(&self.low[range])
    }
}

/// Symmetric matrix with whole rows.
#[derive(Debug)]
pub(super) struct SplitMatrix {
    below: Side,
    above: Side,
    /// For each row: where below the diagonal its own chunk begins, and where above it ends.
    own: Vec<[u32; 2]>,
    /// The diagonal blocks rounded, what that left over, and their inverses.
    diagonal: Vec<[[f32; 9]; 3]>,
}

impl SplitMatrix {
    /// Lays a matrix out in the order of a sweep.
    ///
    /// # Errors
    /// [`SolverError::NotPositiveDefinite`] if a diagonal block is not.
    pub(super) fn new(matrix: &BlockMatrix, sweep: &SweepOrder) -> Result<Self, SolverError> {
        let nodes = matrix.nodes();
        let (offsets, entries) = whole_rows(matrix, sweep);
        let blocks = matrix.blocks();
        let block = |source: u32| -> [f64; 9] {
            let block = &blocks[(source >> 1) as usize];
            std::array::from_fn(|k| block[if source & 1 == 0 { k } else { 3 * (k % 3) + k / 3 }])
        };
        let middle: Vec<u32> = (0..nodes)
            .into_par_iter()
            .map(|row| {
                let lane = &entries[offsets[row] as usize..offsets[row + 1] as usize];
                offsets[row] + lane.partition_point(|e| (e.0 as usize) < row) as u32
            })
            .collect();
        let diagonal = middle
            .par_iter()
            .map(|&at| {
                let block = block(entries[at as usize].1);
                let high = block.map(|v| v as f32);
                let inverse = Matrix3::from_row_slice(&block).cholesky()?.inverse();
                Some([high, rest(&block, &high), std::array::from_fn(|k| inverse[(k / 3, k % 3)] as f32)])
            })
            .collect::<Option<Vec<_>>>()
            .ok_or(SolverError::NotPositiveDefinite { unknowns: matrix.unknowns() })?;
        let rows: Vec<Range<u32>> = (0..nodes).map(|row| offsets[row]..middle[row]).collect();
        let below = Side::new(&entries, &rows, block);
        let rows: Vec<Range<u32>> = (0..nodes).map(|row| middle[row] + 1..offsets[row + 1]).collect();
        let above = Side::new(&entries, &rows, block);
        let mut own = vec![[0; 2]; nodes];
        for chunk in &sweep.chunks {
            for row in chunk.clone() {
                let bound = |side: &Side, bound: usize| {
                    let lane = &side.entries[side.range(row)];
                    side.offsets[row] + lane.partition_point(|e| (e.column as usize) < bound) as u32
                };
                own[row] = [bound(&below, chunk.start), bound(&above, chunk.end)];
            }
        }
        Ok(Self { below, above, own, diagonal })
    }

    /// Number of block rows.
    pub(super) fn nodes(&self) -> usize {
        self.own.len()
    }

    /// Memory held, bytes.
    pub(super) fn bytes(&self) -> u64 {
        ((self.below.entries.len() + self.above.entries.len()) * 76 + self.nodes() * 124) as u64
    }

    /// Columns and blocks of a row.
    pub(super) fn row(&self, row: usize) -> impl Iterator<Item = (u32, [f64; 9])> {
        let whole = |(entry, low): (&Entry, &[f32; 9])| (entry.column, sum(&entry.block, low));
        let [high, low, _] = &self.diagonal[row];
        let diagonal = std::iter::once((row as u32, sum(high, low)));
        self.below.row(row).map(whole).chain(diagonal).chain(self.above.row(row).map(whole))
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

    /// The entries below the diagonal, in other chunks and in the row's own.
    #[inline(always)]
    fn below_own(&self, row: usize) -> (&[Entry], &[Entry]) {
        let Range { start, end } = self.below.range(row);
        let own = self.own[row][0] as usize;
        (&self.below.entries[start..own], &self.below.entries[own..end])
    }

    /// The entries above the diagonal, in the row's own chunk and in others.
    #[inline(always)]
    fn above_own(&self, row: usize) -> (&[Entry], &[Entry]) {
        let Range { start, end } = self.above.range(row);
        let own = self.own[row][1] as usize;
        (&self.above.entries[start..own], &self.above.entries[own..end])
    }

    #[inline(always)]
    fn solve_diagonal(&self, row: usize, b: &Wide<f32>) -> Wide<f32> {
        let inverse = &self.diagonal[row][2];
        let mut x = Wide::default();
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

/// The sum of the two parts of a block.
#[inline(always)]
fn sum(high: &[f32; 9], low: &[f32; 9]) -> [f64; 9] {
    std::array::from_fn(|k| f64::from(high[k]) + f64::from(low[k]))
}

/// What rounding left over of a block.
fn rest(block: &[f64; 9], high: &[f32; 9]) -> [f32; 9] {
    std::array::from_fn(|k| (block[k] - f64::from(high[k])) as f32)
}

/// Subtracts entries times `x` from `sum`, columns counted from `first`.
#[inline(always)]
fn subtract(sum: &mut Wide<f32>, entries: &[Entry], x: &[Wide<f32>], first: usize) {
    for Entry { column, block } in entries {
        let x = &x[*column as usize - first];
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

/// Adds a block times `x` to `sum`.
#[inline(always)]
fn add(sum: &mut Wide<f64>, block: &[f64; 9], x: &Wide<f64>) {
    for i in 0..3 {
        for j in 0..3 {
            for lane in 0..LANES {
                sum[i][lane] += block[3 * i + j] * x[j][lane];
            }
        }
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
            let mut total = Wide::default();
            for (entry, low) in matrix.below.row(row) {
                add(&mut total, &sum(&entry.block, low), &x[entry.column as usize]);
            }
            let [high, low, _] = &matrix.diagonal[row];
            add(&mut total, &sum(high, low), &x[row]);
            for (entry, low) in matrix.above.row(row) {
                add(&mut total, &sum(&entry.block, low), &x[entry.column as usize]);
            }
            *y = total;
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
            let mut sum = Wide::default();
            subtract(&mut sum, &matrix.above.entries[matrix.above.range(row)], x, 0);
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
            let (others, inner) = matrix.below_own(row);
            let mut sum = b[row];
            subtract(&mut sum, others, before, 0);
            subtract(&mut sum, inner, own, start);
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
            let (earlier, below) = matrix.below_own(row);
            let (above, later) = matrix.above_own(row);
            let mut sum = b[row];
            subtract(&mut sum, earlier, before, 0);
            subtract(&mut sum, below, own, start);
            subtract(&mut sum, above, own, start);
            subtract(&mut sum, later, after, end);
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

/// Offsets of the whole rows in the order of the sweep, and for each entry the column and where it comes from: twice
/// the number of the stored block, plus one if it is to be transposed.
fn whole_rows(matrix: &BlockMatrix, sweep: &SweepOrder) -> (Vec<u32>, Vec<(u32, u32)>) {
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
    (offsets, entries)
}
