//! The elements that take part, with their constants.

use gomphosis_mesh_gen::{Region, TetMesh};
use nalgebra::{Matrix3, Point3, Vector3};
use rayon::prelude::*;

use super::BATCH;
use crate::element::prism::{self, PRISM_CELLS, Prism};
use crate::element::{self, NODES, Quadrature, pair};
use crate::error::SolverError;
use crate::material::Materials;
use crate::problem::Formulation;

/// Elements of some regions of a mesh, with their materials.
///
/// They are assembled in *units*: single elements, or the prisms of the ligament's layers if the formulation
/// asks for them.
#[derive(Debug, Clone)]
pub struct Elements<'a> {
    mesh: &'a TetMesh,
    cells: Vec<u32>,
    units: Vec<Unit>,
    lame: [(f64, f64); Region::ALL.len()],
    rule: Quadrature,
}

/// What is integrated as one piece.
#[derive(Debug, Clone, PartialEq)]
pub enum Unit {
    /// The element of this number in [`Elements::cells`].
    Cell(u32),
    /// Three elements from this number on.
    Prism(u32, Box<Prism>),
}

/// Stiffness of a unit: lower triangle, block `pair(a, b)` for its local nodes `a >= b`.
pub type UnitBlocks = Vec<[f64; 9]>;

impl<'a> Elements<'a> {
    /// The elements of `regions`. The ligament uses `formulation`, all others plain displacements.
    ///
    /// A prism is three ligament elements that follow each other in the mesh and share six corners, as the
    /// mesher leaves them. Ligament elements that make no prism stay plain.
    #[must_use]
    pub fn new(
        mesh: &'a TetMesh,
        regions: &[Region],
        materials: &Materials,
        formulation: Formulation,
        rule: Quadrature,
    ) -> Self {
        let cells: Vec<u32> = (0_u32..)
            .zip(mesh.regions())
            .filter(|(_, region)| regions.contains(region))
            .map(|(cell, _)| cell)
            .collect();
        let lame = Region::ALL.map(|region| materials.of(region).lame());
        let mut units = Vec::with_capacity(cells.len());
        let mut next = 0;
        while next < cells.len() {
            let prism = (formulation == Formulation::ProjectedDilatation)
                .then(|| prism_at(mesh, &cells[next..]))
                .flatten();
            if let Some(prism) = prism {
                units.push(Unit::Prism(next as u32, Box::new(prism)));
                next += PRISM_CELLS;
            } else {
                units.push(Unit::Cell(next as u32));
                next += 1;
            }
        }
        Self { mesh, cells, units, lame, rule }
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

    /// The quadrature rule.
    #[must_use]
    pub fn rule(&self) -> &Quadrature {
        &self.rule
    }

    /// The pieces that are integrated.
    #[must_use]
    pub fn units(&self) -> &[Unit] {
        &self.units
    }

    /// Node numbers of a unit.
    #[must_use]
    pub fn unit_nodes<'s>(&'s self, unit: &'s Unit) -> &'s [u32] {
        match unit {
            Unit::Cell(k) => self.nodes(*k as usize),
            Unit::Prism(_, prism) => &prism.nodes,
        }
    }

    /// Stiffness of a unit.
    ///
    /// # Errors
    /// [`SolverError::Jacobian`].
    pub fn unit_stiffness(&self, unit: &Unit) -> Result<UnitBlocks, SolverError> {
        match unit {
            Unit::Cell(k) => {
                let k = *k as usize;
                element::stiffness(&self.positions(k), self.lame(k), &self.rule)
                    .map(|matrix| matrix.blocks.to_vec())
                    .map_err(|determinant| self.jacobian(k, determinant))
            }
            Unit::Prism(first, prism) => {
                let k = *first as usize;
                prism::stiffness(prism, &self.prism_positions(k), self.lame(k), &self.rule)
                    .map_err(|determinant| self.jacobian(k, determinant))
            }
        }
    }

    /// Node positions of the three elements of the prism that begins with the `k`-th element, mm.
    #[must_use]
    pub fn prism_positions(&self, k: usize) -> [[Point3<f64>; NODES]; PRISM_CELLS] {
        std::array::from_fn(|i| self.positions(k + i))
    }

    fn jacobian(&self, k: usize, determinant: f64) -> SolverError {
        SolverError::Jacobian { cell: self.cells[k] as usize, determinant }
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
        for batch in self.units.chunks(BATCH) {
            let parts = batch
                .par_iter()
                .map(|unit| {
                    let blocks = self.unit_stiffness(unit)?;
                    let nodes = self.unit_nodes(unit);
                    let local = |field: &Vec<Vector3<f64>>| {
                        let u: Vec<_> = nodes.iter().map(|&n| field[n as usize]).collect();
                        apply(&blocks, &u)
                    };
                    Ok(fields.iter().map(local).collect::<Vec<_>>())
                })
                .collect::<Result<Vec<_>, SolverError>>()?;
            for (unit, part) in batch.iter().zip(parts) {
                for (total, local) in forces.iter_mut().zip(part) {
                    for (&n, f) in self.unit_nodes(unit).iter().zip(local) {
                        total[n as usize] += f;
                    }
                }
            }
        }
        Ok(forces)
    }
}

/// The prism that the first three of some elements make, if they do.
fn prism_at(mesh: &TetMesh, cells: &[u32]) -> Option<Prism> {
    let three: [u32; PRISM_CELLS] = cells.get(..PRISM_CELLS)?.try_into().ok()?;
    if three.iter().any(|&c| mesh.regions()[c as usize] != Region::Ligament) {
        return None;
    }
    Prism::of(three.map(|c| &mesh.cells()[c as usize]))
}

/// `K u` for the lower triangle of a symmetric matrix of blocks.
fn apply(blocks: &[[f64; 9]], u: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
    let mut f = vec![Vector3::zeros(); u.len()];
    for a in 0..u.len() {
        for b in 0..=a {
            let k = Matrix3::from_row_slice(&blocks[pair(a, b)]);
            f[a] += k * u[b];
            if a != b {
                f[b] += k.tr_mul(&u[a]);
            }
        }
    }
    f
}
