//! Sparse Cholesky with nested dissection on the graph of nodes.
//!
//! Small systems are factored in double precision and refined once. Large ones are factored in single precision,
//! at half the memory and nearly half the time, and the factor preconditions conjugate gradients in double
//! precision, which need some ten steps. Where bodies are so unlike that single precision shows nothing of the soft ones,
//! the factor is made again in double precision.

pub(super) mod factor;
pub(super) mod order;
mod refine;

use std::time::Instant;

use faer::Side;
use faer::sparse::SymbolicSparseColMatRef;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, SymbolicCholesky, SymmetricOrdering, factorize_symbolic_cholesky,
};
use gomphosis_mesh_gen::{Event, Observer, Stage};
use nalgebra::DMatrix;
use nalgebra_sparse::CsrMatrix;

use self::factor::{Factor, Number};
use super::{LinearSolver, SetUpReport, Solved, System};
use crate::error::SolverError;

/// Unknowns from which on the factor is in single precision.
const SINGLE_FROM: usize = 60_000;

/// The method with a factor in double precision.
const IN_DOUBLE: &str = "sparse Cholesky with nested dissection";

/// Precision of the factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Precision {
    /// Factor in double precision, then iterative refinement.
    Double,
    /// Factor in single precision, then conjugate gradients in double precision.
    Single,
}

/// A Cholesky factor of one system.
pub struct Direct {
    symbolic: SymbolicCholesky<usize>,
    values: Values,
    limit_bytes: Option<u64>,
    report: SetUpReport,
}

/// The entries of a factor.
pub(super) enum Values {
    Double(Vec<f64>),
    Single(Vec<f32>),
}

impl std::fmt::Debug for Direct {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Direct").field("report", &self.report).finish_non_exhaustive()
    }
}

impl Direct {
    /// Orders and factors a system in the precision that suits its size.
    ///
    /// # Errors
    /// [`SolverError::TooLarge`] if the predicted memory is above `limit_bytes`,
    /// [`SolverError::NotPositiveDefinite`], [`SolverError::Factor`] or [`SolverError::Interrupted`].
    pub fn set_up(
        system: &System,
        limit_bytes: Option<u64>,
        observer: &dyn Observer,
    ) -> Result<Self, SolverError> {
        let large = system.matrix.unknowns() >= SINGLE_FROM;
        let precision = if large { Precision::Single } else { Precision::Double };
        Self::with_precision(system, precision, limit_bytes, observer)
    }

    /// Orders and factors a system. A matrix that is not positive definite in single precision is factored again
    /// in double precision.
    ///
    /// # Errors
    /// As [`Direct::set_up`].
    pub fn with_precision(
        system: &System,
        precision: Precision,
        limit_bytes: Option<u64>,
        observer: &dyn Observer,
    ) -> Result<Self, SolverError> {
        let start = Instant::now();
        let progress = |done| {
            let event = Event::Progress { stage: Stage::Factor, done, total: 3 };
            if observer.on_event(event).is_break() { Err(SolverError::Interrupted) } else { Ok(()) }
        };
        progress(0)?;
        let unknowns = system.matrix.unknowns();
        let (forward, inverse) = order::nested_dissection(system.matrix.pattern())
            .map_err(|detail| SolverError::Factor { step: "ordering", unknowns, detail })?;
        progress(1)?;
        let lower = system.matrix.to_csr();
        let symbolic = analyse(&lower, &forward, &inverse)?;
        drop((forward, inverse));
        progress(2)?;
        let in_double = || {
            let (values, bytes) = double(&symbolic, &lower, limit_bytes)?;
            Ok::<_, SolverError>((Values::Double(values), bytes))
        };
        let (values, bytes) = match precision {
            Precision::Double => in_double()?,
            Precision::Single => {
                let bytes = check_memory::<f32>(&symbolic, &lower, limit_bytes)?;
                match Factor::compute(&symbolic, &lower) {
                    Ok(values) => (Values::Single(values), bytes),
                    Err(SolverError::NotPositiveDefinite { .. }) => in_double()?,
                    Err(other) => return Err(other),
                }
            }
        };
        let method = match values {
            Values::Double(_) => IN_DOUBLE,
            Values::Single(_) => {
                "single-precision sparse Cholesky with nested dissection and conjugate gradients"
            }
        };
        let report = SetUpReport {
            method: method.to_owned(),
            entries: symbolic.len_val(),
            bytes,
            seconds: start.elapsed().as_secs_f64(),
        };
        Ok(Self { symbolic, values, limit_bytes, report })
    }
}

impl Direct {
    /// What a factor in single precision could not do.
    fn solve_in_double(
        &self,
        system: &System,
        right: &DMatrix<f64>,
        observer: &dyn Observer,
    ) -> Result<Solved, SolverError> {
        let symbolic = &self.symbolic;
        let (values, _) = double(symbolic, &system.matrix.to_csr(), self.limit_bytes)?;
        let solved = refine::refined(system, &Factor { symbolic, values: &values }, right, observer)?;
        Ok(Solved { instead: Some(IN_DOUBLE.to_owned()), ..solved })
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
        let symbolic = &self.symbolic;
        match &self.values {
            Values::Double(values) => refine::refined(system, &Factor { symbolic, values }, right, observer),
            Values::Single(values) => {
                match refine::conjugate_gradients(system, &Factor { symbolic, values }, right, observer) {
                    Err(SolverError::Inexact { .. }) => self.solve_in_double(system, right, observer),
                    other => other,
                }
            }
        }
    }
}

pub(super) fn double(
    symbolic: &SymbolicCholesky<usize>,
    lower: &CsrMatrix<f64>,
    limit_bytes: Option<u64>,
) -> Result<(Vec<f64>, u64), SolverError> {
    let bytes = check_memory::<f64>(symbolic, lower, limit_bytes)?;
    Ok((Factor::compute(symbolic, lower)?, bytes))
}

pub(super) fn analyse(
    lower: &CsrMatrix<f64>,
    forward: &[usize],
    inverse: &[usize],
) -> Result<SymbolicCholesky<usize>, SolverError> {
    let unknowns = lower.nrows();
    let permutation = faer::perm::PermRef::new_checked(forward, inverse, unknowns);
    factorize_symbolic_cholesky(
        pattern_of(lower),
        Side::Upper,
        SymmetricOrdering::Custom(permutation),
        CholeskySymbolicParams::default(),
    )
    .map_err(|e| SolverError::Factor { step: "symbolic factorisation", unknowns, detail: e.to_string() })
}

/// Rows of the lower triangle are the columns of the upper one.
fn pattern_of(lower: &CsrMatrix<f64>) -> SymbolicSparseColMatRef<'_, usize> {
    let n = lower.nrows();
    SymbolicSparseColMatRef::new_checked(n, n, lower.row_offsets(), None, lower.col_indices())
}

/// Memory of the factorisation at its peak, bytes: the factor, its workspace (a permuted copy of the matrix
/// among it), the matrix in blocks and in scalars.
pub(super) fn check_memory<T: Number>(
    symbolic: &SymbolicCholesky<usize>,
    lower: &CsrMatrix<f64>,
    limit_bytes: Option<u64>,
) -> Result<u64, SolverError> {
    let number = size_of::<T>();
    let matrix = lower.nnz() * (8 + 8 + 8 + number);
    let bytes = (symbolic.len_val() * number
        + Factor::<T>::workspace(symbolic).unaligned_bytes_required()
        + matrix) as u64;
    match limit_bytes {
        Some(limit) if bytes > limit => Err(SolverError::TooLarge {
            unknowns: lower.nrows(),
            needed_mb: bytes / 1_000_000,
            allowed_mb: limit / 1_000_000,
        }),
        _ => Ok(bytes),
    }
}

#[cfg(test)]
#[path = "direct/tests.rs"]
mod tests;
