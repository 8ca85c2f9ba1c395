//! Sparse Cholesky factor of a symmetric block matrix, nested dissection on the graph of nodes.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::LltRegularization;
use faer::sparse::linalg::cholesky::{
    CholeskySymbolicParams, LltRef, SymbolicCholesky, SymmetricOrdering, factorize_symbolic_cholesky,
};
use faer::sparse::{SparseColMatRef, SymbolicSparseColMatRef};
use faer::{Conj, MatMut, Par, Side};

use super::direct::order;
use crate::assembly::BlockMatrix;
use crate::error::SolverError;

/// The factor.
pub(super) struct Cholesky {
    symbolic: SymbolicCholesky<usize>,
    values: Vec<f64>,
    bytes: u64,
}

impl std::fmt::Debug for Cholesky {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Cholesky").field("entries", &self.values.len()).finish_non_exhaustive()
    }
}

impl Cholesky {
    /// Orders and factors; `progress` is called before each of the three steps.
    ///
    /// # Errors
    /// [`SolverError::TooLarge`] if the predicted memory is above `limit_bytes`,
    /// [`SolverError::NotPositiveDefinite`], [`SolverError::Factor`], or what `progress` returns.
    pub(super) fn new(
        matrix: &BlockMatrix,
        limit_bytes: Option<u64>,
        progress: impl Fn(usize) -> Result<(), SolverError>,
    ) -> Result<Self, SolverError> {
        let unknowns = matrix.unknowns();
        let failed = |step: &'static str, detail: String| SolverError::Factor { step, unknowns, detail };
        progress(0)?;
        let (forward, inverse) =
            order::nested_dissection(matrix.pattern()).map_err(|detail| failed("ordering", detail))?;
        let permutation = faer::perm::PermRef::new_checked(&forward, &inverse, unknowns);
        progress(1)?;

        // Rows of the lower triangle are the columns of the upper one.
        let lower = matrix.to_csr();
        let (offsets, columns, values) = lower.csr_data();
        let pattern = SymbolicSparseColMatRef::new_checked(unknowns, unknowns, offsets, None, columns);
        let symbolic = factorize_symbolic_cholesky(
            pattern,
            Side::Upper,
            SymmetricOrdering::Custom(permutation),
            CholeskySymbolicParams::default(),
        )
        .map_err(|e| failed("symbolic factorisation", e.to_string()))?;
        let scratch = symbolic.factorize_numeric_llt_scratch::<f64>(parallelism(), faer::Spec::default());
        let entries = symbolic.len_val();
        // The factor, its workspace, and the three copies of the matrix that live at the same time.
        let copies = matrix.entries() * 16 + matrix.blocks().len() * 80;
        let bytes = (entries * 8 + scratch.unaligned_bytes_required() + copies) as u64;
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
                parallelism(),
                MemStack::new(&mut memory),
                faer::Spec::default(),
            )
            .map_err(|_| SolverError::NotPositiveDefinite { unknowns })?;
        Ok(Self { symbolic, values: factor, bytes })
    }

    /// Entries of the factor.
    pub(super) fn entries(&self) -> usize {
        self.values.len()
    }

    /// Memory at the peak of the factorisation, predicted, bytes.
    pub(super) fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Solves in place for `columns` right-hand sides, one after the other in `right`.
    ///
    /// # Errors
    /// [`SolverError::Factor`] if memory runs out.
    pub(super) fn substitute(&self, right: &mut [f64], columns: usize) -> Result<(), SolverError> {
        let rows = right.len() / columns.max(1);
        let par = parallelism();
        let scratch = self.symbolic.solve_in_place_scratch::<f64>(columns, par);
        let mut memory = MemBuffer::try_new(scratch).map_err(|_| SolverError::Factor {
            step: "substitution",
            unknowns: rows,
            detail: "out of memory".to_owned(),
        })?;
        LltRef::new(&self.symbolic, &self.values).solve_in_place_with_conj(
            Conj::No,
            MatMut::from_column_major_slice_mut(right, rows, columns),
            par,
            MemStack::new(&mut memory),
        );
        Ok(())
    }
}

/// As many threads as the pool has.
fn parallelism() -> Par {
    Par::rayon(0)
}
