//! The factor of a coarse system: in single precision, in double precision if that fails.

use faer::sparse::linalg::cholesky::SymbolicCholesky;

use super::direct::factor::Factor;
use super::direct::{Values, analyse, check_memory, double, order};
use crate::assembly::BlockMatrix;
use crate::error::SolverError;

/// The factor.
pub(super) struct Cholesky {
    symbolic: SymbolicCholesky<usize>,
    values: Values,
    bytes: u64,
}

impl std::fmt::Debug for Cholesky {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Cholesky").field("entries", &self.entries()).finish_non_exhaustive()
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
        progress(0)?;
        let (forward, inverse) = order::nested_dissection(matrix.pattern())
            .map_err(|detail| SolverError::Factor { step: "ordering", unknowns, detail })?;
        progress(1)?;
        let lower = matrix.to_csr();
        let symbolic = analyse(&lower, &forward, &inverse)?;
        drop((forward, inverse));
        progress(2)?;
        let bytes = check_memory::<f32>(&symbolic, &lower, limit_bytes)?;
        let (values, bytes) = match Factor::<f32>::compute(&symbolic, &lower) {
            Ok(values) => (Values::Single(values), bytes),
            Err(SolverError::NotPositiveDefinite { .. }) => {
                let (values, bytes) = double(&symbolic, &lower, limit_bytes)?;
                (Values::Double(values), bytes)
            }
            Err(other) => return Err(other),
        };
        Ok(Self { symbolic, values, bytes })
    }

    /// Entries of the factor.
    pub(super) fn entries(&self) -> usize {
        self.symbolic.len_val()
    }

    /// Memory at the peak of the factorisation, predicted, bytes.
    pub(super) fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Solves in place for columns of `rows` entries that follow each other in `right`.
    ///
    /// # Errors
    /// [`SolverError::Factor`] if memory runs out.
    pub(super) fn substitute(&self, right: &mut [f32], rows: usize) -> Result<(), SolverError> {
        let symbolic = &self.symbolic;
        match &self.values {
            Values::Single(values) => Factor { symbolic, values }.substitute_in_place(right, rows),
            Values::Double(values) => {
                let mut wide: Vec<f64> = right.iter().map(|&v| f64::from(v)).collect();
                Factor { symbolic, values }.substitute_in_place(&mut wide, rows)?;
                for (narrow, wide) in right.iter_mut().zip(wide) {
                    *narrow = wide as f32;
                }
                Ok(())
            }
        }
    }
}
