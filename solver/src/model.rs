//! The six unit loads of a tooth: from a problem to its compliance.

mod elastic;
mod load;
mod rigid;

pub use elastic::ElasticTooth;
use gomphosis_mesh_gen::{Observer, TetMesh};
use nalgebra::{Matrix6, Point3, Vector3};

use crate::compliance::Compliance;
use crate::element::Quadrature;
use crate::error::SolverError;
use crate::motion::Wrench;
use crate::problem::{Bodies, ToothProblem};
use crate::statics::SolveStatistics;

/// Names of the six unit loads, in order.
pub const UNIT_LOADS: [&str; 6] = ["fx", "fy", "fz", "mx", "my", "mz"];

/// Displacement fields of the six unit loads and what follows from them.
#[derive(Debug, Clone)]
pub struct UnitSolutions {
    /// Where the unit wrenches act and the compliance is stated, mm.
    pub reference_point: Point3<f64>,
    /// Displacement of every node of the mesh for each unit load, mm.
    pub motions: [Vec<Vector3<f64>>; 6],
    /// Nodal forces of each unit load, N. Rigid bodies: the forces of the root on the ligament.
    pub forces: [Vec<Vector3<f64>>; 6],
    /// Held nodes. Rigid bodies: every node of the bone and the socket's wall.
    pub fixed: Vec<bool>,
    /// Motion of the root surface for unit wrenches (area-weighted least squares), symmetric part.
    pub compliance: Compliance,
    /// Largest entry of the antisymmetric part over the root of the product of its diagonal entries: the
    /// tooth's own bending makes it non-zero.
    pub asymmetry: f64,
    /// For each load, what the rigid motion leaves over on the root surface: root mean square, relative.
    pub fit_residual: [f64; 6],
    /// For each load, the largest distance of a node of the tooth from where the fitted rigid motion puts
    /// it, mm: the bending of the tooth, most of it near the load.
    pub tooth_bending_mm: [f64; 6],
    /// Work of each load on the motion of each other, `f_i . u_j`: the compliance felt at the load, the
    /// tooth's bending included.
    pub load_compliance: Matrix6<f64>,
    /// Counts, times and exactness.
    pub statistics: SolveStatistics,
}

impl UnitSolutions {
    /// Weights of the six unit solutions for a wrench stated anywhere.
    #[must_use]
    pub fn weights(&self, wrench: &Wrench) -> [f64; 6] {
        wrench.at(self.reference_point).as_vector().into()
    }

    /// Displacement of every node under a wrench, by superposition, mm.
    #[must_use]
    pub fn displacement(&self, wrench: &Wrench) -> Vec<Vector3<f64>> {
        let weights = self.weights(wrench);
        let mut sum = vec![Vector3::zeros(); self.motions[0].len()];
        for (field, weight) in self.motions.iter().zip(weights) {
            for (s, u) in sum.iter_mut().zip(field) {
                *s += u * weight;
            }
        }
        sum
    }
}

/// Solves the six unit loads of a tooth in its socket.
///
/// # Errors
/// Any [`SolverError`]; [`SolverError::Interrupted`] if the observer asks for it.
pub fn solve_unit_loads(
    problem: &ToothProblem,
    observer: &dyn Observer,
) -> Result<UnitSolutions, SolverError> {
    problem.check()?;
    // Once into the pool of threads: to enter it for each small loop would cost more than the loop.
    rayon::scope(|_| match problem.bodies {
        Bodies::Elastic => elastic::solve(problem, observer),
        Bodies::Rigid => rigid::solve(problem, observer),
    })
}

/// The rule that the options ask for.
fn rule(problem: &ToothProblem) -> Result<Quadrature, SolverError> {
    Quadrature::with_points(problem.options.quadrature_points).ok_or(SolverError::OutOfRange {
        key: "solver.quadrature_points".to_owned(),
        value: problem.options.quadrature_points as f64,
        allowed: "there are rules of 4, 11 and 15 points",
    })
}

/// The faces of a surface that must be there.
fn faces<'a>(mesh: &'a TetMesh, name: &'static str) -> Result<&'a [[u32; 6]], SolverError> {
    let faces = mesh.surface(name);
    if faces.is_empty() { Err(SolverError::NoSurface { name }) } else { Ok(faces) }
}

/// Marks the nodes of some faces.
fn mark(faces: &[[u32; 6]], nodes: usize) -> Vec<bool> {
    let mut marked = vec![false; nodes];
    for &n in faces.iter().flatten() {
        marked[n as usize] = true;
    }
    marked
}

/// Largest antisymmetric entry of a compliance, scaled by its diagonal.
fn asymmetry(c: &Matrix6<f64>) -> f64 {
    let mut largest: f64 = 0.0;
    for i in 0..6 {
        for j in 0..i {
            let scale = (c[(i, i)] * c[(j, j)]).abs().sqrt();
            largest = largest.max(0.5 * (c[(i, j)] - c[(j, i)]).abs() / scale);
        }
    }
    largest
}

#[cfg(test)]
#[path = "model/tests.rs"]
pub(crate) mod tests;
