//! Models that several cases share.

use gomphosis_mesh_gen::{Face, Observer, TetMesh};
use gomphosis_solver::{
    Bodies, Footprint, Formulation, Material, Materials, SolveOptions, SolverError, ToothProblem,
    UnitSolutions, solve_unit_loads,
};
use nalgebra::Point3;

/// The ligament's element in the cases.
pub const LIGAMENT: Formulation = Formulation::ProjectedDilatation;

/// Default materials with another ligament.
#[must_use]
pub fn with_ligament(modulus_mpa: f64, poisson_ratio: f64) -> Materials {
    Materials { ligament: Material { modulus_mpa, poisson_ratio }, ..Materials::default() }
}

/// A problem with unit loads at the origin and an attachment that rigid bodies do not need.
#[must_use]
pub fn problem(
    mesh: &TetMesh,
    bodies: Bodies,
    materials: Materials,
    formulation: Formulation,
) -> ToothProblem<'_> {
    ToothProblem {
        mesh,
        materials,
        bodies,
        formulation,
        reference_point: Point3::origin(),
        footprint: Footprint {
            centre: Point3::new(3.9, 0.0, 4.0),
            face: Face::Buccal,
            width_mm: 3.0,
            height_mm: 3.0,
        },
        options: SolveOptions::default(),
    }
}

/// The six unit loads of a ligament of modulus 1 MPa between rigid bodies, stated at the origin.
///
/// # Errors
/// Any [`SolverError`].
pub fn rigid(
    mesh: &TetMesh,
    poisson: f64,
    formulation: Formulation,
    observer: &dyn Observer,
) -> Result<UnitSolutions, SolverError> {
    solve_unit_loads(&problem(mesh, Bodies::Rigid, with_ligament(1.0, poisson), formulation), observer)
}

/// Nodes of a named surface, each as often as faces use it.
pub fn nodes<'a>(mesh: &'a TetMesh, surface: &str) -> impl Iterator<Item = u32> + 'a {
    mesh.surface(surface).iter().flatten().copied()
}

/// Nodes of a named surface, each once.
#[must_use]
pub fn distinct_nodes(mesh: &TetMesh, surface: &str) -> Vec<u32> {
    nodes(mesh, surface).collect::<std::collections::BTreeSet<_>>().into_iter().collect()
}

/// Steps from 0 to 1 that grow by a constant factor.
#[must_use]
pub fn growing(steps: u32, factor: f64) -> Vec<f64> {
    let sum = |n: u32| (0..n).fold(0.0, |sum, k| sum + factor.powi(k.cast_signed()));
    let mut planes = (0..steps).map(|n| sum(n) / sum(steps)).collect::<Vec<_>>();
    planes.push(1.0);
    planes
}
