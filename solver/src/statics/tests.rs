//! Statics of blocks and layers against exact solutions.

use approx::assert_relative_eq;
use gomphosis_mesh_gen::block::{Block, Jitter, face};
use gomphosis_mesh_gen::revolve::{Annulus, LOWER_END, UPPER_END};
use gomphosis_mesh_gen::{Region, Silent, TetMesh, surface};
use nalgebra::Matrix3;

use super::*;
use crate::element::Quadrature;
use crate::material::{Material, Materials};
use crate::problem::Formulation;

const FORMULATIONS: [Formulation; 2] = [Formulation::Displacement, Formulation::ProjectedDilatation];

fn materials(nu: f64) -> Materials {
    let one = Material { modulus_mpa: 1.0, poisson_ratio: nu };
    Materials { tooth: one, ligament: one, cancellous_bone: one, cortical_bone: one }
}

fn statics(mesh: &TetMesh, nu: f64, formulation: Formulation) -> Statics<'_> {
    let rule = Quadrature::gauss();
    Statics::new(Elements::new(mesh, &Region::ALL, &materials(nu), formulation, rule))
}

/// A block of ligament whose inside is distorted: corners off the grid and, if asked, mid-side nodes off their
/// edges.
fn distorted(mid_sides: f64) -> TetMesh {
    Block::uniform([3, 3, 3])
        .distorted(Jitter { corners: 0.15, mid_sides, seed: 5 })
        .mesh(|p| p, |_| Region::Ligament)
        .expect("a mild distortion")
}

const FACES: [&str; 6] = [face::XI0, face::XI1, face::ETA0, face::ETA1, face::ZETA0, face::ZETA1];

#[test]
fn patch_test_on_a_distorted_mesh() {
    // Irons' patch test: any of nine displacement gradients on the border gives the same inside. The integrand
    // is a cubic on curved elements, so four points pass on straight sides only.
    for (mid_sides, points) in [(0.0, 4), (0.05, 11), (0.05, 15)] {
        let mesh = distorted(mid_sides);
        for formulation in FORMULATIONS {
            for nu in [0.3, 0.499] {
                let rule = Quadrature::with_points(points).expect("offered");
                let elements = Elements::new(&mesh, &Region::ALL, &materials(nu), formulation, rule);
                let mut body = Statics::new(elements);
                for name in FACES {
                    body.hold(mesh.surface(name), [true; 3]);
                }
                let exact: Vec<Vec<Vector3<f64>>> = (0..9)
                    .map(|k| {
                        let mut h = Matrix3::zeros();
                        h[(k / 3, k % 3)] = 1.0;
                        mesh.nodes().iter().map(|x| h * x.coords).collect()
                    })
                    .collect();
                let mut fields = exact.clone();
                let forces = vec![vec![Vector3::zeros(); mesh.nodes().len()]; 9];
                body.solve(&forces, &mut fields, None, &Silent).expect("held");
                for (u, v) in fields.iter().flatten().zip(exact.iter().flatten()) {
                    let off = (u - v).norm();
                    assert!(off < 1e-12, "{formulation:?} {points} points, nu {nu}: {off}");
                }
            }
        }
    }
}

#[test]
fn rigid_motions_of_a_whole_mesh_cause_no_force() {
    let mesh = distorted(0.05);
    let rigid: Vec<Vec<Vector3<f64>>> = (0..6)
        .map(|k| {
            let axis = Vector3::ith(k % 3, 1.0);
            let motion = |x: &Point3<f64>| if k < 3 { axis } else { axis.cross(&x.coords) };
            mesh.nodes().iter().map(motion).collect()
        })
        .collect();
    for formulation in FORMULATIONS {
        let forces = statics(&mesh, 0.49, formulation).elements.internal_forces(&rigid).expect("valid");
        assert!(forces.iter().flatten().all(|f| f.norm() < 1e-12), "{formulation:?}");
    }
}

#[test]
fn a_free_body_has_six_motions_without_energy_and_no_more() {
    let mesh = Block::uniform([2, 1, 1]).mesh(|p| p, |_| Region::Ligament).expect("a block");
    for formulation in FORMULATIONS {
        let body = statics(&mesh, 0.499, formulation);
        let free = FreeNodes::new(&body.elements, &vec![false; mesh.nodes().len()]);
        let matrix = assembly::assemble(&body.elements, &free, &Silent).expect("valid");
        let lower = DMatrix::from(&matrix.to_csr());
        let full = DMatrix::from_fn(lower.nrows(), lower.ncols(), |i, j| lower[(i.max(j), i.min(j))]);
        let mut values: Vec<f64> = full.symmetric_eigenvalues().iter().copied().collect();
        values.sort_by(f64::total_cmp);
        assert!(values[5].abs() < 1e-10 && values[6] > 1e-4, "{formulation:?} {:?}", &values[..8]);
    }
}

#[test]
fn bonded_annulus_does_not_lock() {
    // Exact plane-strain solution of a bonded bush with a rigid core moved sideways (Adkins and Gent 1954 for the
    // incompressible case): K/L = 2 pi G (1 + k) / (k ln(b/a) - (b^2 - a^2) / (k (a^2 + b^2))), k = 3 - 4 nu.
    // Values for a = 3, b = 3.25, E = 1; tolerance: what a mesh of the size of a ligament's must reach.
    let ring = Annulus { inner_mm: 3.0, outer_mm: 3.25, height_mm: 0.8, around: 24, along: 1, layers: 2 };
    let mesh = ring.mesh().expect("a ring");
    for (nu, exact) in [(0.3, 67.8663), (0.45, 161.627), (0.49, 667.457), (0.499, 5192.26)] {
        let mut body = statics(&mesh, nu, Formulation::ProjectedDilatation);
        body.hold(mesh.surface(surface::ROOT), [true; 3]);
        body.hold(mesh.surface(surface::SOCKET_WALL), [true; 3]);
        body.hold(mesh.surface(LOWER_END), [false, false, true]);
        body.hold(mesh.surface(UPPER_END), [false, false, true]);
        let mut fields = vec![vec![Vector3::zeros(); mesh.nodes().len()]];
        for &n in mesh.surface(surface::ROOT).iter().flatten() {
            fields[0][n as usize] = Vector3::x();
        }
        let none = vec![vec![Vector3::zeros(); mesh.nodes().len()]];
        body.solve(&none, &mut fields, None, &Silent).expect("held");
        let forces = body.elements.internal_forces(&fields).expect("valid");
        let work: f64 = fields[0].iter().zip(&forces[0]).map(|(u, f)| u.dot(f)).sum();
        assert_relative_eq!(work / 0.8, exact, max_relative = 0.001);
    }
}

#[test]
fn a_bar_under_traction_and_its_own_weight() {
    // Strength of materials, nu = 0: end displacement p L / E; a hanging bar lengthens by gamma L^2 / (2 E).
    let mesh = Block::uniform([1, 1, 4])
        .mesh(|p| Point3::new(p.x, p.y, 5.0 * p.z), |_| Region::Tooth)
        .expect("a bar");
    let mut body = statics(&mesh, 0.0, Formulation::Displacement);
    body.hold(mesh.surface(face::ZETA1), [true; 3]);
    let end = mesh.surface(face::ZETA0);
    let forces =
        vec![body.traction_forces(end, |_, n| n * 0.2), body.body_forces(|_| Vector3::new(0.0, 0.0, -0.3))];
    let mut fields = vec![vec![Vector3::zeros(); mesh.nodes().len()]; 2];
    body.solve(&forces, &mut fields, None, &Silent).expect("held");
    for (field, expected) in fields.iter().zip([0.2 * 5.0, 0.3 * 25.0 / 2.0]) {
        for &n in end.iter().flatten() {
            assert_relative_eq!(field[n as usize].z, -expected, max_relative = 1e-11);
        }
    }
}

#[test]
fn a_body_without_supports_is_refused() {
    // Rounding decides whether a pivot turns negative or the solution drowns; neither may pass in silence.
    let mesh = distorted(0.05);
    let body = statics(&mesh, 0.3, Formulation::Displacement);
    let push = vec![body.traction_forces(mesh.surface(face::XI1), |_, _| Vector3::x())];
    let result = body.solve(&push, &mut push.clone(), None, &Silent);
    assert!(
        matches!(result, Err(SolverError::NotPositiveDefinite { .. } | SolverError::NotConverged { .. })),
        "{result:?}"
    );
}

#[test]
fn bits_do_not_depend_on_the_number_of_threads() {
    let mesh = Block::uniform([6, 6, 6])
        .mesh(
            |p| Point3::new(9.0 * p.x, 9.0 * p.y, 9.0 * p.z),
            |c| {
                if c.z > 0.4 && c.z < 0.6 { Region::Ligament } else { Region::Tooth }
            },
        )
        .expect("a block");
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| {
            let mut body = statics(&mesh, 0.45, Formulation::ProjectedDilatation);
            body.hold(mesh.surface(face::ZETA0), [true; 3]);
            let load = body.traction_forces(mesh.surface(face::ZETA1), |_, _| Vector3::new(0.1, 0.0, -0.2));
            let free = FreeNodes::new(&body.elements, &vec![false; mesh.nodes().len()]);
            let matrix = assembly::assemble(&body.elements, &free, &Silent).expect("valid");
            let mut fields = vec![vec![Vector3::zeros(); mesh.nodes().len()]; 6];
            body.solve(&vec![load; 6], &mut fields, None, &Silent).expect("held");
            let internal = body.elements.internal_forces(&fields).expect("valid");
            (matrix, fields, internal)
        })
    };
    let one = run(1);
    for threads in [2, 3, 4] {
        let many = run(threads);
        assert!(one.0 == many.0, "matrix with {threads} threads");
        assert!(one.1 == many.1, "solution with {threads} threads");
        assert!(one.2 == many.2, "forces with {threads} threads");
    }
}
