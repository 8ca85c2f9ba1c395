//! Tooth, ligament and bone all deform; the crown is loaded over the attachment's footprint.

use gomphosis_mesh_gen::{Observer, Region, Stage, surface};
use nalgebra::{Matrix6, Point3, Vector3};

use super::{UnitSolutions, asymmetry, faces, load, mark, rule};
use crate::assembly::Elements;
use crate::compliance::Compliance;
use crate::error::SolverError;
use crate::motion::{FittedMotion, SurfaceFit};
use crate::problem::{Footprint, ToothProblem};
use crate::statics::{Prepared, Statics, stage};

pub(super) fn solve(problem: &ToothProblem, observer: &dyn Observer) -> Result<UnitSolutions, SolverError> {
    ElasticTooth::new(problem, observer)?.solve(&problem.footprint, problem.reference_point, observer)
}

/// An elastic tooth in its socket whose system is set up once and solved for one attachment after another.
pub struct ElasticTooth<'a> {
    statics: Statics<'a>,
    prepared: Prepared,
}

impl<'a> ElasticTooth<'a> {
    /// Assembles and sets up; footprint and reference point of the problem are left aside.
    ///
    /// # Errors
    /// Any [`SolverError`].
    pub fn new(problem: &ToothProblem<'a>, observer: &dyn Observer) -> Result<Self, SolverError> {
        problem.check()?;
        let mesh = problem.mesh;
        let elements =
            Elements::new(mesh, &Region::ALL, &problem.materials, problem.formulation, rule(problem)?);
        if elements.is_empty() {
            return Err(SolverError::NoElements { body: "tooth" });
        }
        let fixed_faces = faces(mesh, surface::FIXED)?;
        let mut statics = Statics::new(elements);
        statics.linear = problem.options.linear;
        statics.hold(fixed_faces, [true; 3]);
        let prepared = statics.prepare(problem.options.memory_limit_bytes, observer)?;
        Ok(Self { statics, prepared })
    }

    /// The six unit loads on a footprint, stated at a point.
    ///
    /// # Errors
    /// Any [`SolverError`].
    pub fn solve(
        &self,
        footprint: &Footprint,
        point: Point3<f64>,
        observer: &dyn Observer,
    ) -> Result<UnitSolutions, SolverError> {
        let mesh = self.statics.elements.mesh();
        let nodes = mesh.nodes().len();
        let root = faces(mesh, surface::ROOT)?;
        let forces = load::unit_forces(mesh, footprint, point)?;
        let mut motions = std::array::from_fn::<_, 6, _>(|_| vec![Vector3::zeros(); nodes]);
        let statistics = self.prepared.solve(&self.statics, &forces, &mut motions, observer)?;
        stage(observer, Stage::Mechanics, || {
            let fit = SurfaceFit::new(mesh.nodes(), root, point)
                .ok_or(SolverError::NoSurface { name: surface::ROOT })?;
            let fitted: [FittedMotion; 6] = std::array::from_fn(|load| fit.fit(&motions[load]));
            let matrix = Matrix6::from_columns(&fitted.map(|f| f.motion.as_vector()));
            let tooth = tooth_nodes(&self.statics.elements);
            Ok(UnitSolutions {
                reference_point: point,
                compliance: Compliance::new(point, matrix)?,
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
                fixed: mark(faces(mesh, surface::FIXED)?, nodes),
                statistics,
            })
        })
    }
}

/// Nodes of the tooth, growing.
fn tooth_nodes(elements: &Elements) -> Vec<u32> {
    let mut nodes: Vec<u32> = (0..elements.len())
        .filter(|&k| elements.region(k) == Region::Tooth)
        .flat_map(|k| *elements.nodes(k))
        .collect();
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}
