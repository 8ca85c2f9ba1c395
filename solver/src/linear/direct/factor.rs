//! The numeric factor in either precision.

use faer::dyn_stack::{MemBuffer, MemStack, StackReq};
use faer::linalg::cholesky::llt::factor::LltRegularization;
use faer::sparse::SparseColMatRef;
use faer::sparse::linalg::cholesky::{LltRef, SymbolicCholesky};
use faer::traits::ComplexField;
use faer::{Conj, MatMut, Par, Side, Spec};
use nalgebra::DMatrix;
use nalgebra_sparse::CsrMatrix;
use rayon::prelude::*;

use super::pattern_of;
use crate::error::SolverError;

/// A precision of the factor.
pub(in crate::linear) trait Number: ComplexField + Copy + Send + Sync {
    /// Rounded from double precision.
    fn round(value: f64) -> Self;
    /// Back to double precision.
    fn widen(self) -> f64;
    /// No regularisation.
    fn regularisation() -> LltRegularization<Self::Real>;
}

impl Number for f64 {
    fn round(value: f64) -> Self {
        value
    }
    fn widen(self) -> f64 {
        self
    }
    fn regularisation() -> LltRegularization<f64> {
        LltRegularization::default()
    }
}

impl Number for f32 {
    fn round(value: f64) -> Self {
        value as Self
    }
    fn widen(self) -> f64 {
        f64::from(self)
    }
    fn regularisation() -> LltRegularization<f32> {
        LltRegularization::default()
    }
}

/// A factor ready to substitute.
pub(in crate::linear) struct Factor<'a, T> {
    pub(in crate::linear) symbolic: &'a SymbolicCholesky<usize>,
    pub(in crate::linear) values: &'a [T],
}

/// Columns that are substituted together.
const GROUP: usize = 3;

/// As many threads as the pool has.
fn parallelism() -> Par {
    Par::rayon(0)
}

impl<T: Number> Factor<'_, T> {
    /// Workspace of the factorisation.
    pub(super) fn workspace(symbolic: &SymbolicCholesky<usize>) -> StackReq {
        symbolic.factorize_numeric_llt_scratch::<T>(parallelism(), Spec::default())
    }

    /// Factors the matrix whose lower triangle is given.
    pub(in crate::linear) fn compute(
        symbolic: &SymbolicCholesky<usize>,
        lower: &CsrMatrix<f64>,
    ) -> Result<Vec<T>, SolverError> {
        let unknowns = lower.nrows();
        let rounded: Vec<T> = lower.values().iter().map(|&v| T::round(v)).collect();
        let mut values = vec![T::round(0.0); symbolic.len_val()];
        let mut memory = memory(Self::workspace(symbolic), "factorisation", unknowns)?;
        symbolic
            .factorize_numeric_llt(
                &mut values,
                SparseColMatRef::new(pattern_of(lower), &rounded),
                Side::Upper,
                T::regularisation(),
                parallelism(),
                MemStack::new(&mut memory),
                Spec::default(),
            )
            .map_err(|_| SolverError::NotPositiveDefinite { unknowns })?;
        Ok(values)
    }

    /// Solves with the factor alone. The columns are split into groups that are solved side by side, each by one
    /// thread; the split does not depend on the number of threads.
    pub(super) fn substitute(&self, right: &DMatrix<f64>) -> Result<DMatrix<f64>, SolverError> {
        let (rows, columns) = right.shape();
        let mut x: Vec<T> = right.iter().map(|&v| T::round(v)).collect();
        self.substitute_in_place(&mut x, rows)?;
        Ok(DMatrix::from_iterator(rows, columns, x.into_iter().map(T::widen)))
    }

    /// Solves in place for columns of `rows` entries that follow each other, in the same groups.
    pub(in crate::linear) fn substitute_in_place(&self, x: &mut [T], rows: usize) -> Result<(), SolverError> {
        if rows > 0 {
            x.par_chunks_mut(GROUP * rows).try_for_each(|group| {
                let width = group.len() / rows;
                let scratch = self.symbolic.solve_in_place_scratch::<T>(width, Par::Seq);
                let mut memory = memory(scratch, "substitution", rows)?;
                LltRef::new(self.symbolic, self.values).solve_in_place_with_conj(
                    Conj::No,
                    MatMut::from_column_major_slice_mut(group, rows, width),
                    Par::Seq,
                    MemStack::new(&mut memory),
                );
                Ok::<_, SolverError>(())
            })?;
        }
        Ok(())
    }
}

fn memory(scratch: StackReq, step: &'static str, unknowns: usize) -> Result<MemBuffer, SolverError> {
    MemBuffer::try_new(scratch).map_err(|_| SolverError::Factor {
        step,
        unknowns,
        detail: format!("no {} MB of workspace", scratch.unaligned_bytes_required() / 1_000_000),
    })
}
