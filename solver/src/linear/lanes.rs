//! Vectors of several right-hand sides side by side, so that one sweep over the matrix serves all of them.
//!
//! Sums run over chunks of a fixed size in a fixed order: the bits do not depend on the number of threads.

use nalgebra::DMatrix;
use rayon::prelude::*;

/// Right-hand sides that travel together. Six loads and two idle lanes: a full vector register.
pub(super) const LANES: usize = 8;
/// Nodes of a chunk of work.
const CHUNK: usize = 1024;

/// One number a lane.
pub(super) type Lanes = [f64; LANES];
/// The three components of one node in all lanes.
pub(super) type Wide<T> = [[T; LANES]; 3];
/// A vector over the nodes, in double precision.
pub(super) type Field = Vec<Wide<f64>>;
/// A vector over the nodes, in single precision.
pub(super) type Rough = Vec<Wide<f32>>;

/// A vector of zeros.
pub(super) fn zeros(nodes: usize) -> Field {
    vec![[[0.0; LANES]; 3]; nodes]
}

/// Columns `first..` of a matrix as lanes; row `3 order[n] + axis` becomes component `axis` of node `n`. Lanes
/// without a column are zero.
pub(super) fn gather(columns: &DMatrix<f64>, first: usize, order: &[u32]) -> Field {
    let used = LANES.min(columns.ncols() - first);
    order
        .par_iter()
        .map(|&old| {
            let mut node = [[0.0; LANES]; 3];
            for (axis, lanes) in node.iter_mut().enumerate() {
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
        for (axis, lanes) in node.iter().enumerate() {
            for (lane, value) in lanes.iter().take(used).enumerate() {
                columns[(3 * old as usize + axis, first + lane)] = *value;
            }
        }
    }
}

/// Inner product of each lane.
pub(super) fn dot(a: &Field, b: &Field) -> Lanes {
    let parts: Vec<Lanes> = a
        .par_chunks(CHUNK)
        .zip(b.par_chunks(CHUNK))
        .map(|(a, b)| {
            let mut sum = [0.0; LANES];
            for (a, b) in a.iter().flatten().zip(b.iter().flatten()) {
                for lane in 0..LANES {
                    sum[lane] += a[lane] * b[lane];
                }
            }
            sum
        })
        .collect();
    parts.iter().fold([0.0; LANES], |sum, part| std::array::from_fn(|l| sum[l] + part[l]))
}

/// `y += factor x`, lane by lane.
pub(super) fn add_scaled(y: &mut Field, factor: &Lanes, x: &Field) {
    y.par_chunks_mut(CHUNK).zip(x.par_chunks(CHUNK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().flatten().zip(x.iter().flatten()) {
            for lane in 0..LANES {
                y[lane] += factor[lane] * x[lane];
            }
        }
    });
}

/// `y = x + factor y`, lane by lane.
pub(super) fn scale_and_add(y: &mut Field, factor: &Lanes, x: &Field) {
    y.par_chunks_mut(CHUNK).zip(x.par_chunks(CHUNK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().flatten().zip(x.iter().flatten()) {
            for lane in 0..LANES {
                y[lane] = x[lane] + factor[lane] * y[lane];
            }
        }
    });
}

/// Rounded to single precision.
pub(super) fn round(x: &Field, into: &mut Rough) {
    into.par_chunks_mut(CHUNK).zip(x.par_chunks(CHUNK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().flatten().zip(x.iter().flatten()) {
            for lane in 0..LANES {
                y[lane] = x[lane] as f32;
            }
        }
    });
}

/// Widened to double precision.
pub(super) fn widen(x: &Rough, into: &mut Field) {
    into.par_chunks_mut(CHUNK).zip(x.par_chunks(CHUNK)).for_each(|(y, x)| {
        for (y, x) in y.iter_mut().flatten().zip(x.iter().flatten()) {
            for lane in 0..LANES {
                y[lane] = f64::from(x[lane]);
            }
        }
    });
}
