//! When a solution counts, and how one that does not yet is improved.
//!
//! A solution of `K u = f` whose residual `r = f - K u` stays below [`RESIDUAL`] of `f` counts without further question.
//! A loose tooth cannot get there. To round the exact `u` to double precision is to disturb it by `eps |u|`, and leaves a
//! residual of some `eps |K| |u|`: no smaller one can be asked for (Rigal and Gaches 1967, J ACM 14:543-548; Higham,
//! Accuracy and Stability of Numerical Algorithms, section 7.1; from memory). Where stiff dentine hangs in a soft
//! ligament `|K| |u|` is many orders of magnitude above `|f|`. The backward error `|r| / (|K| |u| + |f|)` would be small
//! there, but it is no measure either: the motion of the tooth as a whole, which is what is wanted, may be wrong by the
//! condition number times as much.
//!
//! What is asked of such a solution is its error `e = K^-1 r` in the norm of the energy,
//!
//! `|e|_K^2 = e . K e = r . K^-1 r`, over `|u|_K^2 = f . u`
//!
//! (Hestenes and Stiefel 1952, the estimate of conjugate gradients; Strakos and Tichy 2002, ETNA 13:56-80; Arioli 2004,
//! Numer Math 97:1-24; from memory). By the inequality of Cauchy and Schwarz it bounds what is read off: for any load `g`
//! with its own solution `v`, `|g . e| <= |v|_K |e|_K`, so that each compliance `c_gf = g . u` is wrong by at most that
//! share of `sqrt(c_gg c_ff)`. `K^-1 r` is a second solve, which is the correction of iterative refinement (Wilkinson
//! 1963) as well: refinement goes on while it gains, and rounding shows as a correction that no longer shrinks.

use nalgebra::DMatrix;

use super::{System, relative_residual};
use crate::error::SolverError;

/// Relative residual below which a solution counts without a look at its energy.
pub(super) const RESIDUAL: f64 = 1e-8;
/// Relative error in the energy norm above which a solution is refused: two orders of magnitude below the error of the
/// finest meshes in use. Rounding leaves some 1e-8 where a tooth moves 60 mm for a newton, and grows with that travel.
pub(super) const REFUSED: f64 = 1e-5;
/// Relative error in the energy norm at which refinement has done enough.
const ENOUGH: f64 = 1e-10;
/// Most corrections.
const CORRECTIONS: usize = 6;

/// A solution with the proof that it counts.
#[derive(Debug)]
pub(super) struct Refined {
    pub(super) solution: DMatrix<f64>,
    /// Steps of all corrections.
    pub(super) iterations: usize,
    /// Largest relative residual over the columns.
    pub(super) relative_residual: f64,
    /// Largest relative error in the energy norm over the columns, where it was asked for.
    pub(super) energy_error: Option<f64>,
}

/// Refines a solution while that gains. `correct` solves for a residual, roughly, and counts its steps.
///
/// # Errors
/// [`SolverError::Inexact`] if rounding leaves more than [`REFUSED`]; those of `correct`.
pub(super) fn refine(
    system: &System,
    right: &DMatrix<f64>,
    mut solution: DMatrix<f64>,
    mut correct: impl FnMut(&DMatrix<f64>) -> Result<(DMatrix<f64>, usize), SolverError>,
) -> Result<Refined, SolverError> {
    let (mut iterations, mut corrections, mut before) = (0, 0, f64::INFINITY);
    loop {
        let residual = right - system.matrix.multiply(&solution);
        let (correction, steps) = correct(&residual)?;
        iterations += steps;
        corrections += 1;
        let energy_error = energy_error((right, &solution), (&residual, &correction));
        let gains = energy_error > ENOUGH && energy_error <= 0.5 * before && corrections < CORRECTIONS;
        if !gains {
            if energy_error.is_nan() || energy_error > REFUSED {
                return Err(SolverError::Inexact { iterations, energy_error, tolerance: REFUSED });
            }
            let relative_residual = relative_residual(&residual, right);
            return Ok(Refined { solution, iterations, relative_residual, energy_error: Some(energy_error) });
        }
        before = energy_error;
        solution += correction;
    }
}

/// Largest `sqrt(r . d / f . u)` over the columns, where `d = K^-1 r`; a column of zeros counts as exact, not-a-number
/// wins.
fn energy_error(
    (right, solution): (&DMatrix<f64>, &DMatrix<f64>),
    (residual, correction): (&DMatrix<f64>, &DMatrix<f64>),
) -> f64 {
    let work = |a: &DMatrix<f64>, b: &DMatrix<f64>, k: usize| a.column(k).dot(&b.column(k));
    (0..right.ncols())
        .map(|k| {
            let missing = work(residual, correction, k);
            // Zero over zero is a column of zeros; a negative work is that of no positive definite matrix.
            if missing == 0.0 { 0.0 } else { (missing / work(right, solution, k)).sqrt() }
        })
        .fold(0.0, |worst: f64, e| if worst.is_nan() || e <= worst { worst } else { e })
}

#[cfg(test)]
#[path = "exactness/tests.rs"]
mod tests;
