//! One symmetric cycle of two levels as an approximate inverse: a forward sweep of block Gauss-Seidel, the
//! coarse correction by the factor, a backward sweep. All in single precision.

use super::coarse::Coarse;
use super::lanes::Rough;
use super::split::SplitMatrix;
use super::sweep::SweepOrder;
use crate::error::SolverError;

/// `z = M^-1 r` in the first `used` lanes; `residual` is overwritten.
///
/// # Errors
/// [`SolverError::Factor`] if memory runs out.
pub(super) fn cycle(
    matrix: &SplitMatrix,
    sweep: &SweepOrder,
    coarse: &Coarse,
    used: usize,
    (r, z, residual): (&Rough, &mut Rough, &mut Rough),
) -> Result<(), SolverError> {
    matrix.forward(sweep, r, z);
    matrix.forward_residual(sweep, z, residual);
    coarse.correct(residual, z, used)?;
    matrix.backward(sweep, r, z);
    Ok(())
}
