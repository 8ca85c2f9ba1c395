//! The six unit loads of a tooth: from a problem to its compliance.

use gomphosis_mesh_gen::Observer;
use nalgebra::{Matrix6, Point3, Vector3};
use serde::Serialize;

use crate::compliance::Compliance;
use crate::error::SolverError;
use crate::motion::Wrench;
use crate::problem::ToothProblem;

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

/// Counts, times and exactness of a solve.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct SolveStatistics {
    /// Elements assembled.
    pub elements: usize,
    /// Free unknowns.
    pub unknowns: usize,
    /// Stored entries of the lower triangle of the system.
    pub matrix_entries: usize,
    /// How the system was solved, in words.
    pub method: String,
    /// Entries of the factor.
    pub factor_entries: usize,
    /// Predicted memory of the factorisation, bytes.
    pub factor_bytes: u64,
    /// Most iterations over the loads (refinement steps of a direct method).
    pub iterations: usize,
    /// Largest relative residual over the loads.
    pub relative_residual: f64,
    /// Assembly, s.
    pub assembly_s: f64,
    /// Ordering and factorisation, or set-up, s.
    pub factor_s: f64,
    /// The six solves, s.
    pub solve_s: f64,
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
    _observer: &dyn Observer,
) -> Result<UnitSolutions, SolverError> {
    problem.check()?;
    Err(SolverError::Factor { step: "assembly", unknowns: 0, detail: "not in yet".to_owned() })
}
