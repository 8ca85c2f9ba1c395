//! Tooth, ligament and bone all deform; the crown is loaded over the attachment's footprint.

use gomphosis_mesh_gen::{Observer, Region, Stage, surface};
use nalgebra::{Matrix6, Vector3};

use super::{UnitSolutions, asymmetry, faces, load, mark, rule};
use crate::assembly::Elements;
use crate::compliance::Compliance;
use crate::error::SolverError;
use crate::motion::{FittedMotion, SurfaceFit};
use crate::problem::ToothProblem;
use crate::statics::{Statics, stage};

pub(super) fn solve(problem: &ToothProblem, observer: &dyn Observer) -> Result<UnitSolutions, SolverError> {
    let mesh = problem.mesh;
    let nodes = mesh.nodes().len();
    let elements = Elements::new(mesh, &Region::ALL, &problem.materials, problem.formulation, rule(problem)?);
    if elements.is_empty() {
        return Err(SolverError::NoElements { body: "tooth" });
    }
    let fixed_faces = faces(mesh, surface::FIXED)?;
    let root = faces(mesh, surface::ROOT)?;
    let forces = load::unit_forces(mesh, &problem.footprint, problem.reference_point)?;
    let mut motions = std::array::from_fn::<_, 6, _>(|_| vec![Vector3::zeros(); nodes]);
    let mut statics = Statics::new(elements);
    statics.linear = problem.options.linear;
    statics.hold(fixed_faces, [true; 3]);
    let statistics = statics.solve(&forces, &mut motions, problem.options.memory_limit_bytes, observer)?;
    stage(observer, Stage::Mechanics, || {
        let fit = SurfaceFit::new(mesh.nodes(), root, problem.reference_point)
            .ok_or(SolverError::NoSurface { name: surface::ROOT })?;
        let fitted: [FittedMotion; 6] = std::array::from_fn(|load| fit.fit(&motions[load]));
        let matrix = Matrix6::from_columns(&fitted.map(|f| f.motion.as_vector()));
        let tooth = tooth_nodes(&statics.elements);
        Ok(UnitSolutions {
            reference_point: problem.reference_point,
            compliance: Compliance::new(problem.reference_point, matrix)?,
            asymmetry: asymmetry(&matrix),
            fit_residual: fitted.map(|f| f.residual),
            tooth_bending_mm: std::array::from_fn(|load| {
                tooth
                    .iter()
                    .map(|&n| {
                        let n = n as usize;
                        let rigid = fitted[load].motion.displacement_at(&mesh.nodes()[n]);
                        (motions[load][n] - rigid).norm()
                    })
                    .fold(0.0, f64::max)
            }),
            load_compliance: Matrix6::from_fn(|i, j| {
                forces[i].iter().zip(&motions[j]).map(|(f, u)| f.dot(u)).sum()
            }),
            motions,
            forces,
            fixed: mark(fixed_faces, nodes),
            statistics,
        })
    })
}

/// Nodes of the tooth and its attachment, growing.
fn tooth_nodes(elements: &Elements) -> Vec<u32> {
    let mut nodes: Vec<u32> = (0..elements.len())
        .filter(|&k| matches!(elements.region(k), Region::Tooth | Region::Attachment))
        .flat_map(|k| *elements.nodes(k))
        .collect();
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}
