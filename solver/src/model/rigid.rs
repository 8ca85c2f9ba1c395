//! The ligament alone between a rigid tooth and rigid bone.
//!
//! The wall of the socket is held and the root surface moves as a rigid body: six prescribed motions give
//! the 6x6 stiffness by energy, `K_ij = U_i . K U_j`, and its inverse the compliance.

use gomphosis_mesh_gen::{Observer, Region, Stage, surface};
use nalgebra::{Matrix6, Vector3, Vector6};

use super::{UnitSolutions, asymmetry, faces, mark, rule};
use crate::assembly::Elements;
use crate::compliance::Compliance;
use crate::error::SolverError;
use crate::linear::Linear;
use crate::motion::{RigidMotion, SurfaceFit};
use crate::problem::ToothProblem;
use crate::statics::{Statics, stage};

pub(super) fn solve(problem: &ToothProblem, observer: &dyn Observer) -> Result<UnitSolutions, SolverError> {
    let mesh = problem.mesh;
    let nodes = mesh.nodes().len();
    let point = problem.reference_point;
    let elements =
        Elements::new(mesh, &[Region::Ligament], &problem.materials, problem.formulation, rule(problem)?);
    if elements.is_empty() {
        return Err(SolverError::NoElements { body: "ligament" });
    }
    let root_faces = faces(mesh, surface::ROOT)?;
    let root = mark(root_faces, nodes);
    let wall_faces = faces(mesh, surface::SOCKET_WALL)?;
    let wall = mark(wall_faces, nodes);
    // Prescribed: the six unit motions on the root, nothing on the wall.
    let units: [RigidMotion; 6] =
        std::array::from_fn(|k| RigidMotion::from_vector(point, &Vector6::ith(k, 1.0)));
    let mut fields: [Vec<Vector3<f64>>; 6] = units.map(|motion| {
        let moved = |(x, &on_root)| if on_root { motion.displacement_at(x) } else { Vector3::zeros() };
        mesh.nodes().iter().zip(&root).map(moved).collect()
    });
    let mut statics = Statics::new(elements);
    // Two-dimensional to the factor.
    statics.linear = Linear::Direct;
    statics.hold(root_faces, [true; 3]);
    statics.hold(wall_faces, [true; 3]);
    let forces: [Vec<Vector3<f64>>; 6] = std::array::from_fn(|_| vec![Vector3::zeros(); nodes]);
    let statistics = statics.solve(&forces, &mut fields, problem.options.memory_limit_bytes, observer)?;

    stage(observer, Stage::Mechanics, || {
        let reactions = statics.elements.internal_forces(&fields)?;
        let energy =
            |i: usize, j: usize| -> f64 { fields[i].iter().zip(&reactions[j]).map(|(u, f)| u.dot(f)).sum() };
        let stiffness = Matrix6::from_fn(energy);
        let compliance = Compliance::new(point, invert(&stiffness)?)?;
        let c = compliance.matrix;

        // Fields and root forces under unit wrenches; the bodies beside the ligament as they move.
        let body = rigid_bodies(problem, &wall);
        let motions: [Vec<Vector3<f64>>; 6] = std::array::from_fn(|load| {
            let motion = RigidMotion::from_vector(point, &c.column(load).into_owned());
            (0..nodes)
                .map(|n| match body[n] {
                    Body::Ligament => (0..6).map(|k| fields[k][n] * c[(k, load)]).sum(),
                    Body::Tooth => motion.displacement_at(&mesh.nodes()[n]),
                    Body::Bone => Vector3::zeros(),
                })
                .collect()
        });
        let forces: [Vec<Vector3<f64>>; 6] = std::array::from_fn(|load| {
            (0..nodes)
                .map(|n| {
                    if root[n] {
                        (0..6).map(|k| reactions[k][n] * c[(k, load)]).sum()
                    } else {
                        Vector3::zeros()
                    }
                })
                .collect()
        });
        let fit = SurfaceFit::new(mesh.nodes(), root_faces, point)
            .ok_or(SolverError::NoSurface { name: surface::ROOT })?;
        Ok(UnitSolutions {
            reference_point: point,
            compliance,
            asymmetry: asymmetry(&stiffness),
            fit_residual: std::array::from_fn(|load| fit.fit(&motions[load]).residual),
            tooth_bending_mm: [0.0; 6],
            load_compliance: c,
            motions,
            forces,
            fixed: body.iter().map(|b| *b == Body::Bone).collect(),
            statistics,
        })
    })
}

/// What a node moves with.
#[derive(Clone, Copy, PartialEq)]
enum Body {
    Ligament,
    Tooth,
    Bone,
}

/// The body of each node: the wall counts as bone; the root surface as ligament, whose field is prescribed there.
fn rigid_bodies(problem: &ToothProblem, wall: &[bool]) -> Vec<Body> {
    let mut body = vec![Body::Bone; wall.len()];
    for region in [Region::Tooth, Region::Ligament] {
        let what = if region == Region::Ligament { Body::Ligament } else { Body::Tooth };
        for (cell, found) in problem.mesh.cells().iter().zip(problem.mesh.regions()) {
            if *found == region {
                for &n in cell {
                    body[n as usize] = what;
                }
            }
        }
    }
    for (body, &on_wall) in body.iter_mut().zip(wall) {
        if on_wall {
            *body = Body::Bone;
        }
    }
    body
}

/// Inverse of a stiffness whose entries span N/mm and N mm/rad: scaled to a unit diagonal first.
fn invert(stiffness: &Matrix6<f64>) -> Result<Matrix6<f64>, SolverError> {
    let k = (stiffness + stiffness.transpose()) * 0.5;
    let scale = k.diagonal().map(|d| if d > 0.0 { d.sqrt().recip() } else { f64::NAN });
    let scaled = Matrix6::from_fn(|i, j| k[(i, j)] * scale[i] * scale[j]);
    let inverse = scaled
        .cholesky()
        .map(|factor| factor.inverse())
        .filter(|inverse| inverse.iter().all(|v| v.is_finite()))
        .ok_or(SolverError::Compliance { smallest: scaled.symmetric_eigenvalues().min() })?;
    Ok(Matrix6::from_fn(|i, j| inverse[(i, j)] * scale[i] * scale[j]))
}
