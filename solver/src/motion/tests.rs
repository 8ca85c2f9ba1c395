use approx::assert_relative_eq;
use nalgebra::{Point3, Vector3};

use super::*;

fn motion() -> RigidMotion {
    RigidMotion {
        point: Point3::new(1.0, -2.0, 3.0),
        translation: Vector3::new(0.3, 0.1, -0.2),
        rotation: Vector3::new(0.02, -0.05, 0.01),
    }
}

#[test]
fn shifted_motion_and_wrench_do_the_same_work() {
    // Principle of virtual work: the power of a wrench on a motion does not depend on the point.
    let wrench = Wrench {
        point: Point3::new(0.5, 0.7, 8.0),
        force: Vector3::new(1.0, -0.4, 0.2),
        moment: Vector3::new(-3.0, 2.0, 5.0),
    };
    let work = |p: Point3<f64>| wrench.at(p).as_vector().dot(&motion().at(p).as_vector());
    let q = Point3::new(-4.0, 2.5, -7.0);
    assert_relative_eq!(work(wrench.point), work(q), max_relative = 1e-13);
}

#[test]
fn shift_matrix_is_the_shift() {
    let p = motion().point;
    let r = Vector3::new(2.0, -1.0, 0.5);
    let shifted = shift(&r) * motion().as_vector();
    assert_relative_eq!(shifted, motion().at(p + r).as_vector(), epsilon = 1e-15);
}

#[test]
fn points_of_the_screw_axis_move_along_it() {
    let axis = motion().screw().expect("this motion turns");
    for t in [-3.0, 0.0, 2.0] {
        let u = motion().displacement_at(&(axis.point + axis.direction * t));
        assert_relative_eq!(u, axis.direction * (axis.pitch_mm * axis.angle), epsilon = 1e-14);
    }
    assert!(RigidMotion { rotation: Vector3::zeros(), ..motion() }.screw().is_none());
}

#[test]
fn a_motion_carried_on_is_the_exponential_of_its_twist() {
    // The exponential by nalgebra's scaling and squaring of the 4x4 matrix of the twist.
    let at_origin = motion().at(Point3::origin());
    for factor in [-20.0, 0.0, 1.0, 7.5, 40.0] {
        let mut twist = nalgebra::Matrix4::zeros();
        twist.fixed_view_mut::<3, 3>(0, 0).copy_from(&cross_matrix(&at_origin.rotation));
        twist.fixed_view_mut::<3, 1>(0, 3).copy_from(&at_origin.translation);
        let expected = (twist * factor).exp();
        assert_relative_eq!(motion().carried_on(factor).to_homogeneous(), expected, epsilon = 1e-12);
    }
    // A translation stays one, and a small motion is met in the limit.
    let straight = RigidMotion { rotation: Vector3::zeros(), ..motion() };
    let p = Point3::new(4.0, -1.0, 9.0);
    assert_relative_eq!(straight.carried_on(30.0) * p, p + straight.translation * 30.0, epsilon = 1e-13);
    let small = motion().carried_on(1e-6) * p - p;
    assert_relative_eq!(small * 1e6, motion().displacement_at(&p), epsilon = 1e-6);
}

#[test]
fn a_buccal_force_above_the_reference_tips_the_crown_buccally() {
    // Sign convention: force along x at height z gives a positive moment about y, and a positive rotation
    // about y carries what lies above toward +x.
    let moment = Wrench::force(Point3::new(0.0, 0.0, 4.0), Vector3::x()).at(Point3::origin()).moment;
    assert_eq!(moment, Vector3::new(0.0, 4.0, 0.0));
    let tip = RigidMotion { point: Point3::origin(), translation: Vector3::zeros(), rotation: Vector3::y() };
    assert!(tip.displacement_at(&Point3::new(0.0, 0.0, 4.0)).x > 0.0);
}

#[test]
fn distance_between_axes() {
    let axis = |point: [f64; 3], direction: Vector3<f64>| ScrewAxis {
        point: Point3::from(point),
        direction,
        angle: 1.0,
        pitch_mm: 0.0,
    };
    let x = axis([5.0, 0.0, 0.0], Vector3::x());
    assert_relative_eq!(x.distance_to(&axis([0.0, 3.0, 2.0], Vector3::y())), 2.0, epsilon = 1e-14);
    assert_relative_eq!(x.distance_to(&axis([0.0, 3.0, 4.0], Vector3::x())), 5.0, epsilon = 1e-14);
}

#[test]
fn fit_returns_a_rigid_field_exactly_and_splits_off_the_rest() {
    // A flat six-node square of side 2 (two triangles) under a rigid motion plus a bending that is
    // orthogonal to every rigid motion of the square: uz = x^2 - y^2.
    let grid: Vec<Point3<f64>> =
        (0..9).map(|k| Point3::new(f64::from(k % 3) - 1.0, f64::from(k / 3) - 1.0, 0.0)).collect();
    let faces = [[0, 2, 8, 1, 5, 4], [0, 8, 6, 4, 7, 3]];
    let fit = SurfaceFit::new(&grid, &faces, Point3::new(0.3, 0.0, 1.0)).expect("a square has an area");
    assert_relative_eq!(fit.area(), 4.0, max_relative = 1e-14);
    assert_relative_eq!(fit.centroid(), Point3::origin(), epsilon = 1e-14);
    let rigid: Vec<_> = grid.iter().map(|x| motion().displacement_at(x)).collect();
    let found = fit.fit(&rigid);
    assert_relative_eq!(
        found.motion.as_vector(),
        motion().at(Point3::new(0.3, 0.0, 1.0)).as_vector(),
        epsilon = 1e-13
    );
    assert!(found.residual < 1e-13);

    let bent: Vec<_> =
        grid.iter().zip(&rigid).map(|(x, u)| u + Vector3::z() * (x.x * x.x - x.y * x.y)).collect();
    let found = fit.fit(&bent);
    assert_relative_eq!(
        found.motion.as_vector(),
        motion().at(Point3::new(0.3, 0.0, 1.0)).as_vector(),
        epsilon = 1e-13
    );
    assert!(found.residual > 0.1 && found.residual < 1.0);
}
