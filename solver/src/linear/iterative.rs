//! Conjugate gradients on all right-hand sides together, preconditioned by a cycle of two levels.
//!
//! The soft, thin and nearly incompressible ligament between stiff bodies defeats general preconditioners. Here
//! the coarse level keeps the corners of tooth and bone, and in the ligament the columns of nodes that stand on corners
//! (every node above a Poisson ratio of 0.492; see `coarse`), and is factored: it carries the contrast, and what remains
//! for the sweeps is ordinary elasticity. The number of iterations hardly depends on the ligament's material, on the
//! size of the mesh or on how flat its elements are.
//!
//! The iteration ends at a relative residual of 1e-8. Where rounding does not let the true residual follow, the solution is
//! refined and judged by its energy (see `exactness`); where that does not do, or the iteration does not end, as with a
//! nearly incompressible tooth, the whole system is factored.

use std::time::Instant;

use gomphosis_mesh_gen::{Event, Observer, Stage};
use nalgebra::DMatrix;

use super::coarse::Coarse;
use super::direct::Direct;
use super::exactness::{self, RESIDUAL, Refined};
use super::lanes::{self, Field, LANES, Lanes};
use super::multigrid::cycle;
use super::split::SplitMatrix;
use super::sweep::SweepOrder;
use super::{LinearSolver, SetUpReport, Solved, System};
use crate::error::SolverError;

/// How far the residual of a correction falls.
const CORRECTION: f64 = 1e-4;
/// How far the recurrence of the residual may drift away from the truth.
const DRIFT: f64 = 10.0;
/// Most iterations.
const ITERATIONS: usize = 300;
/// Parts of the set-up that are reported.
const PARTS: usize = 4;

/// Preconditioned conjugate gradients, set up for one matrix.
#[derive(Debug)]
pub struct Iterative {
    sweep: SweepOrder,
    matrix: SplitMatrix,
    coarse: Coarse,
    limit_bytes: Option<u64>,
    report: SetUpReport,
}

impl Iterative {
    /// Sets the preconditioner up.
    ///
    /// # Errors
    /// [`SolverError::TooLarge`] if the predicted memory is above `limit_bytes`,
    /// [`SolverError::NotPositiveDefinite`], [`SolverError::Factor`] or [`SolverError::Interrupted`].
    pub fn set_up(
        system: &System,
        limit_bytes: Option<u64>,
        observer: &dyn Observer,
    ) -> Result<Self, SolverError> {
        let start = Instant::now();
        let progress = |done| {
            let event = Event::Progress { stage: Stage::Factor, done, total: PARTS };
            if observer.on_event(event).is_break() { Err(SolverError::Interrupted) } else { Ok(()) }
        };
        progress(0)?;
        let all = system.mesh().nodes();
        let positions: Vec<_> = system.free.nodes().iter().map(|&n| all[n as usize]).collect();
        let sweep = SweepOrder::new(&positions, system.matrix.pattern());
        let matrix = SplitMatrix::new(system.matrix, &sweep)?;
        progress(1)?;
        let left = limit_bytes.map(|limit| limit.saturating_sub(matrix.bytes()));
        let coarse = Coarse::new(system, &sweep, &matrix, left, |step| progress(step + 1))?;
        let report = SetUpReport {
            method: "conjugate gradients preconditioned by two levels".to_owned(),
            entries: coarse.entries(),
            bytes: matrix.bytes() + coarse.bytes(),
            seconds: start.elapsed().as_secs_f64(),
        };
        Ok(Self { sweep, matrix, coarse, limit_bytes, report })
    }

    /// Solves for up to [`LANES`] right-hand sides in sweep order, until the residual has fallen by `fall`; the iterations
    /// taken.
    fn iterate(
        &self,
        right: &Field,
        used: usize,
        fall: f64,
        observer: &dyn Observer,
    ) -> Result<(Field, usize), SolverError> {
        let nodes = self.matrix.nodes();
        let norm = lanes::dot(right, right).map(f64::sqrt);
        let [mut x, mut p, mut q] = std::array::from_fn(|_| lanes::zeros(nodes));
        let mut r = right.clone();
        let mut rounded = lanes::round(&r);
        let [mut z, mut residual] = [rounded.clone(), rounded.clone()];
        let mut rz = [0.0; LANES];
        for step in 0..ITERATIONS {
            let event = Event::Progress { stage: Stage::Solve, done: step, total: ITERATIONS };
            if observer.on_event(event).is_break() {
                return Err(SolverError::Interrupted);
            }
            cycle(&self.matrix, &self.sweep, &self.coarse, used, (&rounded, &mut z, &mut residual))?;
            let before = std::mem::replace(&mut rz, lanes::dot_rough(&r, &z));
            lanes::turn(&mut p, &quotient(&rz, &before), &z);
            let pq = self.matrix.multiply(&self.sweep, &p, &mut q);
            // Both are squares of energy norms unless a matrix is not positive definite.
            if (0..used).any(|l| rz[l] < 0.0 || pq[l] < 0.0) {
                return Err(SolverError::NotPositiveDefinite { unknowns: 3 * nodes });
            }
            let alpha = quotient(&rz, &pq);
            let square = lanes::advance((&mut x, &mut r, &mut rounded), &alpha, (&p, &q));
            if worst_ratio(&square.map(f64::sqrt), &norm) <= fall {
                return Ok((x, step + 1));
            }
        }
        let relative_residual = worst_ratio(&lanes::dot(&r, &r).map(f64::sqrt), &norm);
        Err(SolverError::NotConverged { iterations: ITERATIONS, relative_residual, tolerance: fall })
    }

    /// Solves for up to [`LANES`] columns.
    fn solve_together(
        &self,
        system: &System,
        right: &DMatrix<f64>,
        observer: &dyn Observer,
    ) -> Result<Refined, SolverError> {
        let order = &self.sweep.order;
        let used = right.ncols();
        let b = lanes::gather(right, 0, order);
        let (x, iterations) = self.iterate(&b, used, RESIDUAL, observer)?;
        let mut product = lanes::zeros(x.len());
        self.matrix.multiply(&self.sweep, &x, &mut product);
        let residual = lanes::difference(&b, &product);
        let [r, f] = [&residual, &b].map(|v| lanes::dot(v, v).map(f64::sqrt));
        let relative_residual = worst_ratio(&r, &f);
        let mut solution = DMatrix::zeros(right.nrows(), used);
        lanes::scatter(&x, &mut solution, 0, order);
        if relative_residual <= DRIFT * RESIDUAL {
            return Ok(Refined { solution, iterations, relative_residual, energy_error: None });
        }
        let refined = exactness::refine(system, right, solution, |residual| {
            let (x, steps) = self.iterate(&lanes::gather(residual, 0, order), used, CORRECTION, observer)?;
            let mut correction = DMatrix::zeros(right.nrows(), used);
            lanes::scatter(&x, &mut correction, 0, order);
            Ok((correction, steps))
        })?;
        Ok(Refined { iterations: iterations + refined.iterations, ..refined })
    }

    /// Factors the whole system and solves by the factor.
    fn factored(
        &self,
        system: &System,
        right: &DMatrix<f64>,
        observer: &dyn Observer,
    ) -> Result<Solved, SolverError> {
        let start = Instant::now();
        let left = self.limit_bytes.map(|limit| limit.saturating_sub(self.report.bytes));
        let direct = Direct::set_up(system, left, observer)?;
        let solved = direct.solve(system, right, observer)?;
        let instead = solved.instead.or_else(|| Some(direct.report().method.clone()));
        Ok(Solved { instead, seconds: start.elapsed().as_secs_f64(), ..solved })
    }
}

impl LinearSolver for Iterative {
    fn report(&self) -> &SetUpReport {
        &self.report
    }

    fn solve(
        &self,
        system: &System,
        right: &DMatrix<f64>,
        observer: &dyn Observer,
    ) -> Result<Solved, SolverError> {
        let start = Instant::now();
        let mut solution = DMatrix::zeros(right.nrows(), right.ncols());
        let (mut iterations, mut relative_residual, mut energy_error) = (0, 0.0_f64, None::<f64>);
        for first in (0..right.ncols()).step_by(LANES) {
            let used = LANES.min(right.ncols() - first);
            let some = right.columns(first, used).into_owned();
            let refined = match self.solve_together(system, &some, observer) {
                Err(
                    SolverError::NotConverged { .. }
                    | SolverError::Inexact { .. }
                    | SolverError::NotPositiveDefinite { .. },
                ) => return self.factored(system, right, observer),
                other => other?,
            };
            solution.columns_mut(first, used).copy_from(&refined.solution);
            iterations = iterations.max(refined.iterations);
            relative_residual = relative_residual.max(refined.relative_residual);
            energy_error =
                refined.energy_error.map_or(energy_error, |e| Some(energy_error.map_or(e, |w| w.max(e))));
        }
        let seconds = start.elapsed().as_secs_f64();
        Ok(Solved { solution, iterations, relative_residual, energy_error, instead: None, seconds })
    }
}

/// `a / b`, zero where `b` is.
fn quotient(a: &Lanes, b: &Lanes) -> Lanes {
    std::array::from_fn(|l| if b[l] == 0.0 { 0.0 } else { a[l] / b[l] })
}

/// Largest `a / b`; lanes of zeros do not count, not-a-number wins.
fn worst_ratio(a: &Lanes, b: &Lanes) -> f64 {
    quotient(a, b).iter().fold(0.0, |worst: f64, &r| if worst.is_nan() || r <= worst { worst } else { r })
}

#[cfg(test)]
#[path = "iterative/tests.rs"]
mod tests;
