//! One symmetric cycle of two levels as an approximate inverse: a forward sweep of block Gauss-Seidel, the
//! coarse correction by the factor, a backward sweep. All in single precision.

use super::coarse::Coarse;
use super::lanes::{Field, LANES, Rough, round, widen};
use super::split::SplitMatrix;
use super::sweep::SweepOrder;
use crate::error::SolverError;

/// Vectors that a cycle works on.
#[derive(Debug)]
pub(super) struct Workspace {
    right: Rough,
    x: Rough,
    residual: Rough,
}

impl Workspace {
    /// Room for some nodes.
    pub(super) fn new(nodes: usize) -> Self {
        let empty = || vec![[[0.0; LANES]; 3]; nodes];
        Self { right: empty(), x: empty(), residual: empty() }
    }
}

/// `z = M^-1 r` in the first `used` lanes.
///
/// # Errors
/// [`SolverError::Factor`] if memory runs out.
pub(super) fn cycle(
    matrix: &SplitMatrix,
    sweep: &SweepOrder,
    coarse: &Coarse,
    (r, z, used): (&Field, &mut Field, usize),
    work: &mut Workspace,
) -> Result<(), SolverError> {
    round(r, &mut work.right);
    matrix.forward(sweep, &work.right, &mut work.x);
    matrix.forward_residual(&work.x, &mut work.residual);
    coarse.correct(&work.residual, &mut work.x, used)?;
    matrix.backward(sweep, &work.right, &mut work.x);
    widen(&work.x, z);
    Ok(())
}
