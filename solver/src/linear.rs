//! One door to the linear solvers: set up once from an assembled system, then solve many right-hand sides.

mod cholesky;
mod coarse;
pub mod direct;
mod exactness;
pub mod iterative;
mod lanes;
mod layer;
mod multigrid;
mod split;
mod sweep;

use gomphosis_mesh_gen::{Observer, TetMesh};
use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};

use crate::assembly::{BlockMatrix, Elements, FreeNodes};
use crate::error::SolverError;
use direct::Direct;
use iterative::Iterative;

/// Unknowns above which [`Linear::Auto`] iterates. At 33,000, the smallest tooth in its bone that was measured, the
/// iteration takes half the time of the factor and a third of its memory.
const ITERATIVE_ABOVE: usize = 15_000;

/// An assembled system with what a solver that uses the physics may want to know beside it.
#[derive(Debug, Clone, Copy)]
pub struct System<'a> {
    /// The stiffness of the free nodes.
    pub matrix: &'a BlockMatrix,
    /// Numbering of the free nodes: block row to mesh node and back.
    pub free: &'a FreeNodes,
    /// The elements that were assembled: mesh, regions, materials, element matrices.
    pub elements: &'a Elements<'a>,
}

impl System<'_> {
    /// The mesh.
    #[must_use]
    pub fn mesh(&self) -> &TetMesh {
        self.elements.mesh()
    }
}

/// Which solver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Linear {
    /// The faster one for the size of the system.
    #[default]
    Auto,
    /// A sparse Cholesky factor of the whole system.
    Direct,
    /// Conjugate gradients, preconditioned by two levels that carry the contrast of the bodies.
    Iterative,
}

/// Sets the chosen solver up.
///
/// # Errors
/// Those of [`Direct::set_up`] or [`Iterative::set_up`].
pub fn set_up(
    linear: Linear,
    system: &System,
    limit_bytes: Option<u64>,
    observer: &dyn Observer,
) -> Result<Box<dyn LinearSolver>, SolverError> {
    let iterative = match linear {
        Linear::Auto => system.matrix.unknowns() > ITERATIVE_ABOVE,
        Linear::Direct => false,
        Linear::Iterative => true,
    };
    Ok(if iterative {
        match Iterative::set_up(system, limit_bytes, observer) {
            // What a coarse level in single precision takes for indefinite may be a soft body among stiff ones.
            Err(SolverError::NotPositiveDefinite { .. }) => {
                Box::new(Direct::set_up(system, limit_bytes, observer)?)
            }
            other => Box::new(other?),
        }
    } else {
        Box::new(Direct::set_up(system, limit_bytes, observer)?)
    })
}

/// What the set-up of a solver cost.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUpReport {
    /// The method, in words.
    pub method: String,
    /// Entries held by the factor or preconditioner.
    pub entries: usize,
    /// Memory held at the peak of the set-up, predicted, bytes.
    pub bytes: u64,
    /// Wall time, s.
    pub seconds: f64,
}

/// A solution with its cost and exactness.
#[derive(Debug, Clone)]
pub struct Solved {
    /// One solution a column, shape (3n, k).
    pub solution: DMatrix<f64>,
    /// Most iterations over the columns (refinement steps of a direct method).
    pub iterations: usize,
    /// Largest relative residual `|f - K u| / |f|` over the columns.
    pub relative_residual: f64,
    /// Largest relative error in the energy norm over the columns, estimated where the residual alone does not tell (it
    /// is above 1e-8 because rounding leaves as much).
    pub energy_error: Option<f64>,
    /// The method, where it is not the one that was set up because that one did not do.
    pub instead: Option<String>,
    /// Wall time, s.
    pub seconds: f64,
}

/// A solver that is set up for one system.
pub trait LinearSolver {
    /// What the set-up cost.
    fn report(&self) -> &SetUpReport;

    /// Solves for all columns of `right`, shape (3n, k), together.
    ///
    /// # Errors
    /// [`SolverError::NotConverged`], [`SolverError::Inexact`] or [`SolverError::Interrupted`].
    fn solve(
        &self,
        system: &System,
        right: &DMatrix<f64>,
        observer: &dyn Observer,
    ) -> Result<Solved, SolverError>;
}

/// Largest `|r_k| / |f_k|` over the columns; a column of zeros counts as exact, not-a-number wins.
#[must_use]
pub fn relative_residual(residual: &DMatrix<f64>, right: &DMatrix<f64>) -> f64 {
    residual
        .column_iter()
        .zip(right.column_iter())
        .map(|(r, f)| {
            let norm = f.norm();
            if norm > 0.0 { r.norm() / norm } else { 0.0 }
        })
        .fold(0.0, |worst: f64, r| if worst.is_nan() || r <= worst { worst } else { r })
}
