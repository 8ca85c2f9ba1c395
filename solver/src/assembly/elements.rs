//! The elements that take part, with their constants.

use gomphosis_mesh_gen::{Region, TetMesh};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::BATCH;
use crate::element::{self, ElementMatrix, NODES, Quadrature};
use crate::error::SolverError;
use crate::material::Materials;
use crate::problem::Formulation;

/// Elements of some regions of a mesh, with their materials.
#[derive(Debug, Clone)]
pub struct Elements<'a> {
    mesh: &'a TetMesh,
    cells: Vec<u32>,
    lame: [(f64, f64); Region::ALL.len()],
    ligament: Formulation,
    rule: Quadrature,
}

impl<'a> Elements<'a> {
    /// The elements of `regions`. The ligament uses `formulation`, all others plain displacements.
    #[must_use]
    pub fn new(
        mesh: &'a TetMesh,
        regions: &[Region],
        materials: &Materials,
        formulation: Formulation,
        rule: Quadrature,
    ) -> Self {
        let cells = (0_u32..)
            .zip(mesh.regions())
            .filter(|(_, region)| regions.contains(region))
            .map(|(cell, _)| cell)
            .collect();
        let lame = Region::ALL.map(|region| materials.of(region).lame());
        Self { mesh, cells, lame, ligament: formulation, rule }
    }

    /// Number of elements.
    #[must_use]
    pub fn len(&self) -> usize {
        self.cells.len()
    }

    /// No element at all?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }

    /// The mesh.
    #[must_use]
    pub fn mesh(&self) -> &'a TetMesh {
        self.mesh
    }

    /// Numbers of the elements in the mesh, growing.
    #[must_use]
    pub fn cells(&self) -> &[u32] {
        &self.cells
    }

    /// Node numbers of the `k`-th element.
    #[must_use]
    pub fn nodes(&self, k: usize) -> &'a [u32; NODES] {
        &self.mesh.cells()[self.cells[k] as usize]
    }

    /// Region of the `k`-th element.
    #[must_use]
    pub fn region(&self, k: usize) -> Region {
        self.mesh.regions()[self.cells[k] as usize]
    }

    /// Node positions of the `k`-th element, mm.
    #[must_use]
    pub fn positions(&self, k: usize) -> [Point3<f64>; NODES] {
        self.mesh.cell_nodes(self.cells[k] as usize)
    }

    /// Lamé constants of the `k`-th element, MPa.
    #[must_use]
    pub fn lame(&self, k: usize) -> (f64, f64) {
        self.lame[self.region(k) as usize]
    }

    /// Formulation of the `k`-th element.
    #[must_use]
    pub fn formulation(&self, k: usize) -> Formulation {
        if self.region(k) == Region::Ligament { self.ligament } else { Formulation::Displacement }
    }

    /// The quadrature rule.
    #[must_use]
    pub fn rule(&self) -> &Quadrature {
        &self.rule
    }

    /// Stiffness of the `k`-th element.
    ///
    /// # Errors
    /// [`SolverError::Jacobian`].
    pub fn stiffness(&self, k: usize) -> Result<ElementMatrix, SolverError> {
        element::stiffness(&self.positions(k), self.lame(k), self.formulation(k), &self.rule)
            .map_err(|determinant| SolverError::Jacobian { cell: self.cells[k] as usize, determinant })
    }

    /// Nodal forces that displacement fields cause, `K u` over all nodes of the mesh, held ones included, N.
    /// Summed in the order of the elements.
    ///
    /// # Errors
    /// [`SolverError::Jacobian`].
    pub fn internal_forces(
        &self,
        fields: &[Vec<Vector3<f64>>],
    ) -> Result<Vec<Vec<Vector3<f64>>>, SolverError> {
        let mut forces = vec![vec![Vector3::zeros(); self.mesh.nodes().len()]; fields.len()];
        for first in (0..self.len()).step_by(BATCH) {
            let range = first..self.len().min(first + BATCH);
            let parts = range
                .clone()
                .into_par_iter()
                .map(|k| {
                    let matrix = self.stiffness(k)?;
                    let nodes = self.nodes(k);
                    let local = |field: &Vec<Vector3<f64>>| {
                        let mut f = [Vector3::zeros(); NODES];
                        matrix.apply(&nodes.map(|n| field[n as usize]), &mut f);
                        f
                    };
                    Ok(fields.iter().map(local).collect::<Vec<_>>())
                })
                .collect::<Result<Vec<_>, SolverError>>()?;
            for (k, part) in range.zip(parts) {
                for (total, local) in forces.iter_mut().zip(part) {
                    for (&n, f) in self.nodes(k).iter().zip(local) {
                        total[n as usize] += f;
                    }
                }
            }
        }
        Ok(forces)
    }
}
