//! From a factor to a solution in double precision.

use std::time::Instant;

use gomphosis_mesh_gen::{Event, Observer, Stage};
use nalgebra::DMatrix;

use super::factor::{Factor, Number};
use crate::error::SolverError;
use crate::linear::exactness::{self, RESIDUAL, Refined};
use crate::linear::{Solved, System, relative_residual};

/// Refinement stops below this relative residual.
const TOLERANCE: f64 = 1e-12;
/// Most steps of iterative refinement.
const REFINEMENTS: usize = 5;
/// Relative error in the energy norm at which conjugate gradients stop.
const ENERGY: f64 = 1e-10;
/// The same of a correction.
const CORRECTION: f64 = 1e-3;
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
    accept((system, right), solution, (steps, relative), start, |residual| {
        Ok((factor.substitute(residual)?, 1))
    })
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
    let (solution, steps) = iterate(system, factor, right, ENERGY, observer)?;
    let true_residual = right - system.matrix.multiply(&solution);
    let relative = relative_residual(&true_residual, right);
    accept((system, right), solution, (steps, relative), start, |residual| {
        iterate(system, factor, residual, CORRECTION, observer)
    })
}

/// Conjugate gradients until the energy norm of the error has fallen by `fall`; the steps taken.
fn iterate<T: Number>(
    system: &System,
    factor: &Factor<T>,
    right: &DMatrix<f64>,
    fall: f64,
    observer: &dyn Observer,
) -> Result<(DMatrix<f64>, usize), SolverError> {
    let (rows, columns) = right.shape();
    let mut solution = DMatrix::zeros(rows, columns);
    let mut residual = right.clone();
    let mut direction = factor.substitute(&residual)?;
    let mut energy = dots(&residual, &direction);
    let enough: Vec<f64> = energy.iter().map(|e| fall * fall * e).collect();
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
    Ok((solution, steps))
}

/// Scalar products of the columns.
fn dots(a: &DMatrix<f64>, b: &DMatrix<f64>) -> Vec<f64> {
    a.column_iter().zip(b.column_iter()).map(|(a, b)| a.dot(&b)).collect()
}

/// The solution, refined with `correct` until it counts.
fn accept(
    (system, right): (&System, &DMatrix<f64>),
    solution: DMatrix<f64>,
    (iterations, relative_residual): (usize, f64),
    start: Instant,
    correct: impl FnMut(&DMatrix<f64>) -> Result<(DMatrix<f64>, usize), SolverError>,
) -> Result<Solved, SolverError> {
    if relative_residual <= RESIDUAL {
        let seconds = start.elapsed().as_secs_f64();
        return Ok(Solved {
            solution,
            iterations,
            relative_residual,
            energy_error: None,
            instead: None,
            seconds,
        });
    }
    let refined = exactness::refine(system, right, solution, correct)?;
    let Refined { solution, relative_residual, energy_error, .. } = refined;
    Ok(Solved {
        solution,
        iterations: iterations + refined.iterations,
        relative_residual,
        energy_error,
        instead: None,
        seconds: start.elapsed().as_secs_f64(),
    })
}

fn progress(observer: &dyn Observer, done: usize, total: usize) -> Result<(), SolverError> {
    if observer.on_event(Event::Progress { stage: Stage::Solve, done, total }).is_break() {
        return Err(SolverError::Interrupted);
    }
    Ok(())
}
