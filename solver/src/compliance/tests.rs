//! Identities of the compliance algebra. Sources beside each check.

use approx::assert_relative_eq;
use nalgebra::{Matrix3, Matrix6, Point3, Rotation3, Vector3};

use super::*;

/// A positive definite matrix without any symmetry, from fixed pseudo-random numbers.
fn general() -> Compliance {
    let mut state = 7_u64;
    let mut next = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
    };
    let g = Matrix6::from_fn(|_, _| next());
    let mut m = g * g.transpose() + Matrix6::identity() * 0.1;
    for i in 3..6 {
        for j in 0..6 {
            m[(i, j)] *= 0.1;
            m[(j, i)] *= 0.1;
        }
    }
    Compliance::new(Point3::new(0.4, -0.2, 1.0), m).expect("built positive definite")
}

/// A body with a true centre of resistance.
fn centred(centre: Point3<f64>) -> Compliance {
    let point = Point3::new(1.0, 2.0, 3.0);
    let mut matrix = Matrix6::zeros();
    let c = Matrix3::new(0.02, 0.003, 0.0, 0.003, 0.03, 0.001, 0.0, 0.001, 0.05);
    matrix.fixed_view_mut::<3, 3>(0, 0).copy_from(&Matrix3::from_diagonal(&Vector3::new(1.0, 2.0, 3.0)));
    matrix.fixed_view_mut::<3, 3>(3, 3).copy_from(&c);
    Compliance::new(centre, matrix).expect("block diagonal of positive blocks").at(point)
}

#[test]
fn shifting_changes_neither_motion_nor_energy() {
    let here = general();
    let there = here.at(Point3::new(-3.0, 5.0, 2.0));
    let wrench = Wrench {
        point: Point3::new(0.0, 1.0, 8.0),
        force: Vector3::new(1.0, 0.3, -0.2),
        moment: Vector3::new(0.4, -2.0, 1.0),
    };
    let a = here.motion(&wrench);
    let b = there.motion(&wrench).at(here.point);
    assert_relative_eq!(a.as_vector(), b.as_vector(), max_relative = 1e-12);
}

#[test]
fn coupling_block_is_symmetric_at_the_centre_of_compliance() {
    // Definition; Dathe et al. 2013 call the point the centre of elasticity.
    let body = general();
    let b = body.at(body.centre_of_compliance()).b();
    assert_relative_eq!(b, b.transpose(), epsilon = 1e-14);
}

#[test]
fn stiffness_coupling_is_symmetric_at_the_centre_of_stiffness() {
    // Ciblak and Lipkin 1994 tell the centres of stiffness and of compliance apart (from memory).
    let body = general();
    let centre = body.centre_of_stiffness().expect("positive definite");
    let k = body.at(centre).stiffness().expect("positive definite");
    let b = k.fixed_view::<3, 3>(0, 3).into_owned();
    assert_relative_eq!(b, b.transpose(), epsilon = 1e-9 * k.amax());
    assert!((centre - body.centre_of_compliance()).norm() > 1e-3, "two points for an unsymmetric body");
}

#[test]
fn a_true_centre_of_resistance_is_found_and_has_no_radius() {
    let centre = Point3::new(0.3, -0.1, -5.2);
    let body = centred(centre);
    assert_relative_eq!(body.centre_of_compliance(), centre, epsilon = 1e-12);
    assert_relative_eq!(body.centre_of_stiffness().expect("definite"), centre, epsilon = 1e-10);
    assert!(body.radius_of_resistance().expect("definite") < 1e-12);
    assert_relative_eq!(body.b(), coupling_about(&body.point, &centre, &body.c()), epsilon = 1e-13);
    let axes = body.axes_of_resistance().expect("couples turn it");
    assert!(axes.distances_mm.iter().all(|d| *d < 1e-12), "{:?}", axes.distances_mm);
}

#[test]
fn invariants_survive_a_rotation_in_space() {
    let body = general();
    let turn = Rotation3::from_euler_angles(0.7, -0.4, 1.9);
    let turned = body.rotated(&turn);
    assert_relative_eq!(turned.centre_of_compliance(), turn * body.centre_of_compliance(), epsilon = 1e-12);
    assert_relative_eq!(
        turned.radius_of_resistance().expect("definite"),
        body.radius_of_resistance().expect("definite"),
        max_relative = 1e-8
    );
}

#[test]
fn moment_for_translation_stops_the_rotation() {
    let body = general();
    let force = Vector3::new(1.0, -2.0, 0.5);
    let moment = body.moment_for_translation(&force).expect("definite");
    let motion = body.motion(&Wrench { point: body.point, force, moment });
    assert!(motion.rotation.norm() < 1e-14);
}

#[test]
fn compliance_times_stiffness_is_one() {
    let body = general();
    let k = body.stiffness().expect("definite");
    assert_relative_eq!(body.matrix * k, Matrix6::identity(), epsilon = 1e-10);
}

#[test]
fn an_indefinite_matrix_is_refused() {
    let mut m = Matrix6::identity();
    m[(0, 1)] = 2.0;
    m[(1, 0)] = 2.0;
    assert!(matches!(Compliance::new(Point3::origin(), m), Err(SolverError::Compliance { .. })));
}
