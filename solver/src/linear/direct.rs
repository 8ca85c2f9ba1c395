//! Sparse Cholesky with nested dissection on the graph of nodes.

mod order;

use std::time::Instant;

use faer::dyn_stack::{MemBuffer, MemStack, StackReq};
use faer::linalg::cholesky::llt::factor::LltRegularization;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, LltRef, SymbolicCholesky, SymmetricOrdering, factorize_symbolic_cholesky,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Conj, MatMut, Par, Side};
use gomphosis_mesh_gen::{Event, Observer, Stage};
use nalgebra::DMatrix;

use super::{LinearSolver, SetUpReport, Solved, System, relative_residual};
use crate::error::SolverError;

/// Refinement stops below this relative residual.
const TOLERANCE: f64 = 1e-12;
/// A solution that stays above this is refused.
const REFUSED: f64 = 1e-6;
/// Most steps of iterative refinement.
const REFINEMENTS: usize = 5;

/// A Cholesky factor.
pub struct Direct {
    symbolic: SymbolicCholesky<usize>,
    values: Vec<f64>,
    report: SetUpReport,
}

impl std::fmt::Debug for Direct {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Direct").field("report", &self.report).finish_non_exhaustive()
    }
}

impl Direct {
    /// Orders and factors a system.
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
        let unknowns = system.matrix.unknowns();
        let failed = |step: &'static str, detail: String| SolverError::Factor { step, unknowns, detail };
        let progress = |done| {
            let event = Event::Progress { stage: Stage::Factor, done, total: 3 };
            if observer.on_event(event).is_break() { Err(SolverError::Interrupted) } else { Ok(()) }
        };
        progress(0)?;
        let (forward, inverse) =
            order::nested_dissection(system.matrix.pattern()).map_err(|detail| failed("ordering", detail))?;
        let permutation = faer::perm::PermRef::new_checked(&forward, &inverse, unknowns);
        progress(1)?;

        // Rows of the lower triangle are the columns of the upper one.
        let lower = system.matrix.to_csr();
        let (offsets, columns, values) = lower.csr_data();
        let pattern = SymbolicSparseColMatRef::new_checked(unknowns, unknowns, offsets, None, columns);
        let symbolic = factorize_symbolic_cholesky(
            pattern,
            Side::Upper,
            SymmetricOrdering::Custom(permutation),
            CholeskySymbolicParams::default(),
        )
        .map_err(|e| failed("symbolic factorisation", e.to_string()))?;
        let par = parallelism();
        let scratch = symbolic.factorize_numeric_llt_scratch::<f64>(par, faer::Spec::default());
        let entries = symbolic.len_val();
        let bytes = needed_bytes(entries, &scratch, system);
        if let Some(limit) = limit_bytes
            && bytes > limit
        {
            return Err(SolverError::TooLarge {
                unknowns,
                needed_mb: bytes / 1_000_000,
                allowed_mb: limit / 1_000_000,
            });
        }
        progress(2)?;
        let mut factor = vec![0.0; entries];
        let mut memory =
            MemBuffer::try_new(scratch).map_err(|_| failed("factorisation", "out of memory".to_owned()))?;
        symbolic
            .factorize_numeric_llt(
                &mut factor,
                SparseColMatRef::new(pattern, values),
                Side::Upper,
                LltRegularization::default(),
                par,
                MemStack::new(&mut memory),
                faer::Spec::default(),
            )
            .map_err(|_| SolverError::NotPositiveDefinite { unknowns })?;
        let report = SetUpReport {
            method: "sparse Cholesky with nested dissection".to_owned(),
            entries,
            bytes,
            seconds: start.elapsed().as_secs_f64(),
        };
        Ok(Self { symbolic, values: factor, report })
    }

    /// Solves with the factor alone.
    fn substitute(&self, right: &mut DMatrix<f64>) -> Result<(), SolverError> {
        let (rows, columns) = right.shape();
        let par = parallelism();
        let scratch = self.symbolic.solve_in_place_scratch::<f64>(columns, par);
        let mut memory = MemBuffer::try_new(scratch).map_err(|_| SolverError::Factor {
            step: "substitution",
            unknowns: rows,
            detail: "out of memory".to_owned(),
        })?;
        LltRef::new(&self.symbolic, &self.values).solve_in_place_with_conj(
            Conj::No,
            MatMut::from_column_major_slice_mut(right.as_mut_slice(), rows, columns),
            par,
            MemStack::new(&mut memory),
        );
        Ok(())
    }
}

impl LinearSolver for Direct {
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
        let mut solution = right.clone();
        self.substitute(&mut solution)?;
        let mut residual = right - system.matrix.multiply(&solution);
        let mut relative = relative_residual(&residual, right);
        let mut steps = 0;
        // One step in any case, more while they still pay: the contrast of the bodies leaves a residual of some
        // 1e-10 that is rounding alone.
        while steps < REFINEMENTS {
            let event = Event::Progress { stage: Stage::Solve, done: steps, total: REFINEMENTS };
            if observer.on_event(event).is_break() {
                return Err(SolverError::Interrupted);
            }
            self.substitute(&mut residual)?;
            let refined = &solution + &residual;
            residual = right - system.matrix.multiply(&refined);
            let before = std::mem::replace(&mut relative, relative_residual(&residual, right));
            steps += 1;
            if relative < before {
                solution = refined;
            } else {
                relative = before;
            }
            if relative <= TOLERANCE || relative > 0.3 * before {
                break;
            }
        }
        if relative.is_nan() || relative > REFUSED {
            return Err(SolverError::NotConverged {
                iterations: steps,
                relative_residual: relative,
                tolerance: REFUSED,
            });
        }
        let seconds = start.elapsed().as_secs_f64();
        Ok(Solved { solution, iterations: steps, relative_residual: relative, seconds })
    }
}

/// The factor, its workspace, and the three copies of the matrix that live at the same time.
fn needed_bytes(entries: usize, scratch: &StackReq, system: &System) -> u64 {
    let matrix = system.matrix.entries() * 16 + system.matrix.blocks().len() * 80;
    (entries * 8 + scratch.unaligned_bytes_required() + matrix) as u64
}

/// As many threads as the pool has.
fn parallelism() -> Par {
    Par::rayon(0)
}
