//! From a factor to a solution in double precision.

use std::time::Instant;

use gomphosis_mesh_gen::{Event, Observer, Stage};
use nalgebra::DMatrix;

use super::factor::{Factor, Number};
use crate::error::SolverError;
use crate::linear::{Solved, System, relative_residual};

/// Refinement stops below this relative residual.
const TOLERANCE: f64 = 1e-12;
/// A solution that stays above this is refused.
const REFUSED: f64 = 1e-6;
/// Most steps of iterative refinement.
const REFINEMENTS: usize = 5;
/// Relative error in the energy norm at which conjugate gradients stop.
const ENERGY: f64 = 1e-10;
/// Most steps of conjugate gradients.
const STEPS: usize = 100;

/// Solution by substitution and iterative refinement: one step in any case, more while they still pay (the
/// contrast of the bodies leaves a relative residual of some 1e-10 that is rounding alone).
pub(super) fn refined(
    system: &System,
    factor: &Factor<f64>,
    right: &DMatrix<f64>,
    observer: &dyn Observer,
) -> Result<Solved, SolverError> {
    let start = Instant::now();
    let mut solution = factor.substitute(right)?;
    let mut residual = right - system.matrix.multiply(&solution);
    let mut relative = relative_residual(&residual, right);
    let mut steps = 0;
    while steps < REFINEMENTS {
        progress(observer, steps, REFINEMENTS)?;
        let trial = &solution + factor.substitute(&residual)?;
        residual = right - system.matrix.multiply(&trial);
        let before = std::mem::replace(&mut relative, relative_residual(&residual, right));
        steps += 1;
        if relative < before {
            solution = trial;
        } else {
            relative = before;
        }
        if relative <= TOLERANCE || relative > 0.3 * before {
            break;
        }
    }
    accept(solution, steps, relative, start)
}

/// Solution by conjugate gradients with the factor as preconditioner, all columns in step. Each column has its own
/// coefficients and rests once it is done: when `r . M^-1 r`, which estimates the squared error in the energy norm
/// because `M` is nearly `K`, has fallen by the square of [`ENERGY`].
pub(super) fn conjugate_gradients<T: Number>(
    system: &System,
    factor: &Factor<T>,
    right: &DMatrix<f64>,
    observer: &dyn Observer,
) -> Result<Solved, SolverError> {
    let start = Instant::now();
    let (rows, columns) = right.shape();
    let mut solution = DMatrix::zeros(rows, columns);
    let mut residual = right.clone();
    let mut direction = factor.substitute(&residual)?;
    let mut energy = dots(&residual, &direction);
    let enough: Vec<f64> = energy.iter().map(|e| ENERGY * ENERGY * e).collect();
    let mut steps = 0;
    while steps < STEPS {
        let running: Vec<usize> = (0..columns).filter(|&k| energy[k] > enough[k]).collect();
        if running.is_empty() {
            break;
        }
        progress(observer, steps, STEPS)?;
        let image = system.matrix.multiply(&direction);
        let work = dots(&direction, &image);
        for &k in &running {
            let step = energy[k] / work[k];
            solution.column_mut(k).axpy(step, &direction.column(k), 1.0);
            residual.column_mut(k).axpy(-step, &image.column(k), 1.0);
        }
        let preconditioned = factor.substitute(&residual)?;
        let next = dots(&residual, &preconditioned);
        for &k in &running {
            let ratio = next[k] / energy[k];
            direction.column_mut(k).axpy(1.0, &preconditioned.column(k), ratio);
        }
        energy = next;
        steps += 1;
    }
    let true_residual = right - system.matrix.multiply(&solution);
    accept(solution, steps, relative_residual(&true_residual, right), start)
}

/// Scalar products of the columns.
fn dots(a: &DMatrix<f64>, b: &DMatrix<f64>) -> Vec<f64> {
    a.column_iter().zip(b.column_iter()).map(|(a, b)| a.dot(&b)).collect()
}

fn accept(
    solution: DMatrix<f64>,
    iterations: usize,
    relative_residual: f64,
    start: Instant,
) -> Result<Solved, SolverError> {
    if relative_residual.is_nan() || relative_residual > REFUSED {
        return Err(SolverError::NotConverged { iterations, relative_residual, tolerance: REFUSED });
    }
    let seconds = start.elapsed().as_secs_f64();
    Ok(Solved { solution, iterations, relative_residual, seconds })
}

fn progress(observer: &dyn Observer, done: usize, total: usize) -> Result<(), SolverError> {
    if observer.on_event(Event::Progress { stage: Stage::Solve, done, total }).is_break() {
        return Err(SolverError::Interrupted);
    }
    Ok(())
}
