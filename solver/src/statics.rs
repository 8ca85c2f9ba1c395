//! Linear statics of any mesh: supports and nodal forces in, displacements out. Knows nothing of teeth.

use std::time::Instant;

use gomphosis_mesh_gen::{Event, Observer, Stage, triangle};
use nalgebra::{DMatrix, Point3, Vector3};
use serde::Serialize;

use crate::assembly::{self, BlockMatrix, Elements, FreeNodes};
use crate::element;
use crate::error::SolverError;
use crate::linear::{self, Linear, LinearSolver, System};

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
    /// Largest relative error in the energy norm over the loads, where the residual does not tell because rounding leaves
    /// more than it may be (a loose tooth).
    pub energy_error: Option<f64>,
    /// Assembly, s.
    pub assembly_s: f64,
    /// Ordering and factorisation, or set-up, s.
    pub factor_s: f64,
    /// The six solves, s.
    pub solve_s: f64,
}

/// A stage of the work between its two events.
pub(crate) fn stage<T>(
    observer: &dyn Observer,
    stage: Stage,
    work: impl FnOnce() -> Result<T, SolverError>,
) -> Result<T, SolverError> {
    if observer.on_event(Event::Started(stage)).is_break() {
        return Err(SolverError::Interrupted);
    }
    let result = work()?;
    if observer.on_event(Event::Finished(stage)).is_break() {
        return Err(SolverError::Interrupted);
    }
    Ok(result)
}

/// A body on its supports.
#[derive(Debug, Clone)]
pub struct Statics<'a> {
    /// The elements.
    pub elements: Elements<'a>,
    /// For each node of the mesh, which of its three displacements are prescribed.
    pub held: Vec<[bool; 3]>,
    /// How the system is solved.
    pub linear: Linear,
}

impl<'a> Statics<'a> {
    /// A body without supports.
    #[must_use]
    pub fn new(elements: Elements<'a>) -> Self {
        let held = vec![[false; 3]; elements.mesh().nodes().len()];
        Self { elements, held, linear: Linear::default() }
    }

    /// Prescribes displacements along some axes at the nodes of some faces.
    pub fn hold(&mut self, faces: &[[u32; 6]], axes: [bool; 3]) {
        for &n in faces.iter().flatten() {
            for (held, axis) in self.held[n as usize].iter_mut().zip(axes) {
                *held |= axis;
            }
        }
    }

    /// Solves for some load cases together.
    ///
    /// `forces`: nodal forces of each case, N. `fields`: displacements of each case, mm; on entry the prescribed
    /// ones count and the others are ignored, on return all are filled in.
    ///
    /// # Errors
    /// Any [`SolverError`].
    ///
    /// # Panics
    /// If the numbers of forces and fields differ, or their lengths from the number of nodes.
    pub fn solve(
        &self,
        forces: &[Vec<Vector3<f64>>],
        fields: &mut [Vec<Vector3<f64>>],
        limit_bytes: Option<u64>,
        observer: &dyn Observer,
    ) -> Result<SolveStatistics, SolverError> {
        self.prepare(limit_bytes, observer)?.solve(self, forces, fields, observer)
    }

    /// Assembles the system and sets its solver up, for one or more calls of [`Prepared::solve`].
    ///
    /// # Errors
    /// Any [`SolverError`].
    pub fn prepare(
        &self,
        limit_bytes: Option<u64>,
        observer: &dyn Observer,
    ) -> Result<Prepared, SolverError> {
        let start = Instant::now();
        let all_held: Vec<bool> = self.held.iter().map(|h| *h == [true; 3]).collect();
        let free = FreeNodes::new(&self.elements, &all_held);
        let matrix = stage(observer, Stage::Assembly, || {
            let mut matrix = assembly::assemble(&self.elements, &free, observer)?;
            matrix.hold(|row| self.held[free.nodes()[row] as usize]);
            Ok(matrix)
        })?;
        let assembly_s = start.elapsed().as_secs_f64();
        let system = System { matrix: &matrix, free: &free, elements: &self.elements };
        let solver =
            stage(observer, Stage::Factor, || linear::set_up(self.linear, &system, limit_bytes, observer))?;
        Ok(Prepared { matrix, free, solver, assembly_s })
    }

    /// Nodal forces of a traction on some faces, N: `traction(x, n)` in MPa at a point with the outward normal
    /// (as the faces are oriented).
    #[must_use]
    pub fn traction_forces(
        &self,
        faces: &[[u32; 6]],
        traction: impl Fn(&Point3<f64>, &Vector3<f64>) -> Vector3<f64>,
    ) -> Vec<Vector3<f64>> {
        let nodes = self.elements.mesh().nodes();
        let mut forces = vec![Vector3::zeros(); nodes.len()];
        for face in faces {
            for p in triangle::integrate(&face.map(|n| nodes[n as usize])) {
                let force = traction(&p.position, &p.normal) * p.weight;
                for (&n, shape) in face.iter().zip(p.shape) {
                    forces[n as usize] += force * shape;
                }
            }
        }
        forces
    }

    /// Nodal forces of a force for each volume, N: `density(x)` in N/mm3, with the rule of the elements.
    #[must_use]
    pub fn body_forces(&self, density: impl Fn(&Point3<f64>) -> Vector3<f64>) -> Vec<Vector3<f64>> {
        let mut forces = vec![Vector3::zeros(); self.elements.mesh().nodes().len()];
        for k in 0..self.elements.len() {
            let positions = self.elements.positions(k);
            for p in self.elements.rule().points() {
                let shape = element::shape(p.barycentric);
                let x: Vector3<f64> = positions.iter().zip(shape).map(|(x, n)| x.coords * n).sum();
                let (_, determinant) = element::gradients_at(&positions, p.barycentric);
                let force = density(&Point3::from(x)) * (p.weight * determinant);
                for (&n, shape) in self.elements.nodes(k).iter().zip(shape) {
                    forces[n as usize] += force * shape;
                }
            }
        }
        forces
    }
}

/// A system that is assembled and set up, to be solved for one set of load cases after another.
pub struct Prepared {
    matrix: BlockMatrix,
    free: FreeNodes,
    solver: Box<dyn LinearSolver>,
    assembly_s: f64,
}

impl Prepared {
    /// Solves for some load cases together; `statics` is the body that was prepared, `forces` and `fields` are as for
    /// [`Statics::solve`]. What was solved before leaves no trace in the result.
    ///
    /// # Errors
    /// Any [`SolverError`].
    ///
    /// # Panics
    /// If the numbers of forces and fields differ, or their lengths from the number of nodes.
    pub fn solve(
        &self,
        statics: &Statics,
        forces: &[Vec<Vector3<f64>>],
        fields: &mut [Vec<Vector3<f64>>],
        observer: &dyn Observer,
    ) -> Result<SolveStatistics, SolverError> {
        assert_eq!(forces.len(), fields.len(), "one field a load case");
        for (u, held) in fields.iter_mut().flat_map(|field| field.iter_mut().zip(&statics.held)) {
            for axis in 0..3 {
                if !held[axis] {
                    u[axis] = 0.0;
                }
            }
        }
        let free = &self.free;
        let mut right = DMatrix::zeros(3 * free.len(), forces.len());
        let moved = fields.iter().flatten().any(|u| u.iter().any(|v| *v != 0.0));
        let reaction = if moved { statics.elements.internal_forces(fields)? } else { Vec::new() };
        for (case, mut column) in right.column_iter_mut().enumerate() {
            for (k, &node) in free.nodes().iter().enumerate() {
                let node = node as usize;
                for axis in (0..3).filter(|&axis| !statics.held[node][axis]) {
                    let from_supports = reaction.get(case).map_or(0.0, |f| f[node][axis]);
                    column[3 * k + axis] = forces[case][node][axis] - from_supports;
                }
            }
        }
        let system = System { matrix: &self.matrix, free, elements: &statics.elements };
        let solved = stage(observer, Stage::Solve, || self.solver.solve(&system, &right, observer))?;
        for (field, solution) in fields.iter_mut().zip(solved.solution.column_iter()) {
            for (k, &node) in free.nodes().iter().enumerate() {
                let node = node as usize;
                for axis in (0..3).filter(|&axis| !statics.held[node][axis]) {
                    field[node][axis] = solution[3 * k + axis];
                }
            }
        }
        let report = self.solver.report();
        Ok(SolveStatistics {
            elements: statics.elements.len(),
            unknowns: self.matrix.unknowns(),
            matrix_entries: self.matrix.entries(),
            method: solved.instead.unwrap_or_else(|| report.method.clone()),
            factor_entries: report.entries,
            factor_bytes: report.bytes,
            iterations: solved.iterations,
            relative_residual: solved.relative_residual,
            energy_error: solved.energy_error,
            assembly_s: self.assembly_s,
            factor_s: report.seconds,
            solve_s: solved.seconds,
        })
    }
}

#[cfg(test)]
#[path = "statics/tests.rs"]
mod tests;
