//! Vectors of several right-hand sides side by side, so that one sweep over the matrix serves all of them.
//!
//! Sums run over chunks of a fixed size in a fixed order: the bits do not depend on the number of threads.

use std::ops::{Index, IndexMut};

use nalgebra::DMatrix;
use rayon::prelude::*;

/// Right-hand sides that travel together. Six loads and two idle lanes: a full vector register.
pub(super) const LANES: usize = 8;
/// Nodes of a chunk of work.
const CHUNK: usize = 1024;

/// One number a lane.
pub(super) type Lanes = [f64; LANES];
/// The three components of one node in all lanes, where no vector register's load crosses a cache line.
#[derive(Debug, Clone, Copy, Default)]
#[repr(align(32))]
pub(super) struct Wide<T>(pub(super) [[T; LANES]; 3]);
/// A vector over the nodes, in double precision.
pub(super) type Field = Vec<Wide<f64>>;
/// A vector over the nodes, in single precision.
pub(super) type Rough = Vec<Wide<f32>>;

impl<T> Index<usize> for Wide<T> {
    type Output = [T; LANES];

    #[inline]
    fn index(&self, axis: usize) -> &Self::Output {
        &self.0[axis]
    }
}

impl<T> IndexMut<usize> for Wide<T> {
    #[inline]
    fn index_mut(&mut self, axis: usize) -> &mut Self::Output {
        &mut self.0[axis]
    }
}

/// A vector of zeros.
pub(super) fn zeros(nodes: usize) -> Field {
    vec![Wide::default(); nodes]
}

/// Columns `first..` of a matrix as lanes; row `3 order[n] + axis` becomes component `axis` of node `n`. Lanes
/// without a column are zero.
pub(super) fn gather(columns: &DMatrix<f64>, first: usize, order: &[u32]) -> Field {
    let used = LANES.min(columns.ncols() - first);
    order
        .par_iter()
        .map(|&old| {
            let mut node = Wide::default();
            for (axis, lanes) in node.0.iter_mut().enumerate() {
                for (lane, value) in lanes.iter_mut().take(used).enumerate() {
                    *value = columns[(3 * old as usize + axis, first + lane)];
                }
            }
            node
        })
        .collect()
}

/// The way back of [`gather`].
pub(super) fn scatter(field: &Field, columns: &mut DMatrix<f64>, first: usize, order: &[u32]) {
    let used = LANES.min(columns.ncols() - first);
    for (node, &old) in field.iter().zip(order) {
        for (axis, lanes) in node.0.iter().enumerate() {
            for (lane, value) in lanes.iter().take(used).enumerate() {
                columns[(3 * old as usize + axis, first + lane)] = *value;
            }
        }
    }
}

/// Inner product of each lane.
pub(super) fn dot(a: &Field, b: &Field) -> Lanes {
    let products = a.par_chunks(CHUNK).zip(b.par_chunks(CHUNK)).map(|(a, b)| {
        let mut sum = [0.0; LANES];
        for (a, b) in a.iter().zip(b) {
            for axis in 0..3 {
                for lane in 0..LANES {
                    sum[lane] += a[axis][lane] * b[axis][lane];
                }
            }
        }
        sum
    });
    total(&products.collect::<Vec<_>>())
}

/// Inner product of each lane with a vector in single precision.
pub(super) fn dot_rough(a: &Field, b: &Rough) -> Lanes {
    let products = a.par_chunks(CHUNK).zip(b.par_chunks(CHUNK)).map(|(a, b)| {
        let mut sum = [0.0; LANES];
        for (a, b) in a.iter().zip(b) {
            for axis in 0..3 {
                for lane in 0..LANES {
                    sum[lane] += a[axis][lane] * f64::from(b[axis][lane]);
                }
            }
        }
        sum
    });
    total(&products.collect::<Vec<_>>())
}

/// Sum of the parts in their order.
pub(super) fn total(parts: &[Lanes]) -> Lanes {
    parts.iter().fold([0.0; LANES], |sum, part| std::array::from_fn(|l| sum[l] + part[l]))
}

/// A new direction, `p = z + factor p`, lane by lane.
pub(super) fn turn(p: &mut Field, factor: &Lanes, z: &Rough) {
    p.par_chunks_mut(CHUNK).zip(z.par_chunks(CHUNK)).for_each(|(p, z)| {
        for (p, z) in p.iter_mut().zip(z) {
            for axis in 0..3 {
                for lane in 0..LANES {
                    p[axis][lane] = f64::from(z[axis][lane]) + factor[lane] * p[axis][lane];
                }
            }
        }
    });
}

/// A step along the direction: `x += factor p`, `r -= factor q`, lane by lane, and the residual rounded to
/// single precision; the inner product `r . r` of each lane.
pub(super) fn advance(
    (x, r, rounded): (&mut Field, &mut Field, &mut Rough),
    factor: &Lanes,
    (p, q): (&Field, &Field),
) -> Lanes {
    let states = x.par_chunks_mut(CHUNK).zip(r.par_chunks_mut(CHUNK)).zip(rounded.par_chunks_mut(CHUNK));
    let squares =
        states.zip(p.par_chunks(CHUNK)).zip(q.par_chunks(CHUNK)).map(|((((x, r), rounded), p), q)| {
            let mut sum = [0.0; LANES];
            for ((((x, r), rounded), p), q) in x.iter_mut().zip(r).zip(rounded).zip(p).zip(q) {
                for axis in 0..3 {
                    for lane in 0..LANES {
                        x[axis][lane] += factor[lane] * p[axis][lane];
                        let left = r[axis][lane] - factor[lane] * q[axis][lane];
                        r[axis][lane] = left;
                        rounded[axis][lane] = left as f32;
                        sum[lane] += left * left;
                    }
                }
            }
            sum
        });
    total(&squares.collect::<Vec<_>>())
}

/// `b - a`.
pub(super) fn difference(b: &Field, a: &Field) -> Field {
    let lanes = |b: &[f64; LANES], a: &[f64; LANES]| std::array::from_fn(|l| b[l] - a[l]);
    b.par_iter().zip(a).map(|(b, a)| Wide(std::array::from_fn(|axis| lanes(&b[axis], &a[axis])))).collect()
}

/// Rounded to single precision.
pub(super) fn round(x: &Field) -> Rough {
    x.par_iter().map(|node| Wide(node.0.map(|lanes| lanes.map(|v| v as f32)))).collect()
}
