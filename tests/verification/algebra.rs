//! Source: a * b = sigma^2 for all parallel forces in a plane (Naegerl, Burstone, Becker, Kubein-Meesenburg 1991, AJODO
//! 99:337-345); the travel of the centre of resistance depends on the force alone (Geramy, Shiraz Univ J Dent); a
//! motion does not depend on the frame that describes it (rigid-body mechanics).
//! Goal: from the six solutions to centres, without the closed algebra of `PlanarResistance` on the measured side.
//! Mesh: elliptic paraboloid root, uniform ligament 0.2 mm, so that the two planes differ.
//! Tolerance: a * b 0.2 % (outside 0.2 mm around translation), travel 1e-6, frame and reciprocity 1e-8: rounding of a
//! direct solve on a badly scaled system.

use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidBodies, ParaboloidRoot, ThicknessLaw, mapped};
use gomphosis_mesh_gen::{Silent, TetMesh, surface};
use gomphosis_solver::motion::SurfaceFit;
use gomphosis_solver::{
    Bodies, Compliance, PlanarResistance, Plane, SolveOptions, ToothProblem, UnitSolutions, Wrench,
    solve_unit_loads,
};
use gomphosis_tests::compare::{absolute, relative};
use gomphosis_tests::model::{LIGAMENT, problem, rigid, with_ligament};
use nalgebra::{Isometry3, Point3, Rotation3, Vector3};

fn root() -> TetMesh {
    let root = ParaboloidRoot {
        half_axis_x_mm: 3.5,
        half_axis_y_mm: 2.5,
        thickness_mm: 0.2,
        around: 18,
        rings: 12,
        ..ParaboloidRoot::reference(ThicknessLaw::Uniform(CrestEdge::Normal))
    };
    root.mesh().unwrap()
}

/// Motion of the root surface at the crest's centre under a wrench, from the displacement field.
fn motion(mesh: &TetMesh, solutions: &UnitSolutions, wrench: &Wrench) -> (f64, f64) {
    let fit = SurfaceFit::new(mesh.nodes(), mesh.surface(surface::ROOT), Point3::origin()).unwrap();
    let fitted = fit.fit(&solutions.displacement(wrench));
    assert!(fitted.residual < 1e-9, "a rigid root leaves {}", fitted.residual);
    (fitted.motion.translation.x, fitted.motion.rotation.y)
}

#[test]
fn product_of_distances_and_travel_of_the_centre_are_constant() {
    let mesh = root();
    let solutions = rigid(&mesh, 0.45, LIGAMENT).unwrap();
    let plane = PlanarResistance::new(&solutions.compliance, Plane::BuccoLingual);
    let (depth, height) = (plane.centre_depth_mm(), 4.0);
    let mut compared = 0;
    for step in 0..=44 {
        let ratio = -2.0 + 0.5 * f64::from(step);
        let push = Wrench::force(Point3::new(3.5, 0.0, height), Vector3::x());
        let load = Wrench { moment: Vector3::y() * -ratio, ..push };
        let (u, phi) = motion(&mesh, &solutions, &load);
        let travel = u - phi * depth;
        relative("travel of the centre of resistance", plane.centre_compliance_mm_per_n(), travel, 1e-6);
        let a = height + depth - ratio;
        if a.abs() > 0.2 {
            // The axis stands still at the depth u / phi.
            let b = u / phi - depth;
            relative(&format!("a b at M/F {ratio}"), plane.sigma_squared_mm2(), a * b, 0.002);
            compared += 1;
        }
    }
    assert!(compared >= 43);
}

#[test]
fn reciprocity_and_reference_point() {
    let mesh = root();
    let at = |point: Point3<f64>| {
        let materials = with_ligament(1.0, 0.45);
        let here =
            ToothProblem { reference_point: point, ..problem(&mesh, Bodies::Rigid, materials, LIGAMENT) };
        solve_unit_loads(&here, &Silent).unwrap()
    };
    let (origin, other) = (at(Point3::origin()), at(Point3::new(1.0, -2.0, 5.0)));
    assert!(origin.asymmetry < 1e-8 && other.asymmetry < 1e-8, "{} {}", origin.asymmetry, other.asymmetry);
    same(&origin.compliance.at(other.reference_point), &other.compliance, 1e-8);
    let c = origin.compliance;
    let centred = c.at(c.centre_of_compliance());
    let skew = (centred.b() - centred.b().transpose()).norm();
    let scale = (c.a().norm() * c.c().norm()).sqrt();
    absolute("skew part of the coupling at the centre of compliance", 0.0, skew / scale, 1e-10);
}

/// Scaled difference of two compliances at one point.
fn same(expected: &Compliance, got: &Compliance, tolerance: f64) {
    for i in 0..6 {
        for j in 0..6 {
            let scale = (expected.matrix[(i, i)] * expected.matrix[(j, j)]).sqrt();
            let error = (expected.matrix[(i, j)] - got.matrix[(i, j)]).abs() / scale;
            assert!(error < tolerance, "entry {i} {j}: {error:.2e}");
        }
    }
}

#[test]
fn an_axisymmetric_root_has_a_centre_of_resistance() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().unwrap();
    let c = rigid(&mesh, 0.45, LIGAMENT).unwrap().compliance;
    let centre = c.centre_of_compliance();
    let centred = c.at(centre);
    let coupling = centred.b().norm() / (c.a().norm() * c.c().norm()).sqrt();
    absolute("remaining coupling", 0.0, coupling, 1e-4);
    absolute("radius of resistance, mm", 0.0, c.radius_of_resistance().unwrap(), 0.01);
    let plane = PlanarResistance::new(&c, Plane::BuccoLingual);
    absolute("centre of compliance and of resistance, mm", -plane.centre_depth_mm(), centre.z, 0.01);
    let axes = c.axes_of_resistance().unwrap();
    for distance in axes.distances_mm {
        absolute("axes of resistance meet, mm", 0.0, distance, 0.01);
    }
}

/// The whole body, turned and moved, through the rigid tier and then turned back.
#[test]
fn nothing_depends_on_the_frame_rigid_bodies() {
    let mesh = root();
    let move_all = Isometry3::new(Vector3::new(3.0, -7.0, 2.0), Vector3::new(0.7, -1.1, 0.4));
    let moved = mapped(&mesh, |p| move_all * p).unwrap();
    let at_rest = rigid(&mesh, 0.45, LIGAMENT).unwrap().compliance;
    let elsewhere = rigid(&moved, 0.45, LIGAMENT).unwrap().compliance;
    let carried = at_rest.rotated(&Rotation3::from(move_all.rotation));
    let carried = Compliance { point: carried.point + move_all.translation.vector, ..carried };
    same(&carried.at(Point3::origin()), &elsewhere, 1e-8);
    relative(
        "radius of resistance, turned",
        at_rest.radius_of_resistance().unwrap(),
        elsewhere.radius_of_resistance().unwrap(),
        1e-4,
    );
    let centre = move_all * at_rest.centre_of_compliance();
    absolute(
        "centre of compliance, turned, mm",
        0.0,
        (centre - elsewhere.centre_of_compliance()).norm(),
        1e-6,
    );
}

/// Very stiff tooth and bone in the elastic tier against the rigid tier.
#[test]
fn stiff_bodies_tend_to_rigid_ones() {
    let root = ParaboloidRoot {
        around: 18,
        rings: 10,
        bodies: ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 2, crown_mm: 8.0 },
        ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
    };
    let mesh = root.mesh().unwrap();
    let soft = with_ligament(0.1, 0.45);
    let error = |stiff: f64| {
        let mut materials = soft;
        for body in [&mut materials.tooth, &mut materials.cancellous_bone, &mut materials.cortical_bone] {
            body.modulus_mpa = stiff;
        }
        let solve = |bodies| solve_unit_loads(&problem(&mesh, bodies, materials, LIGAMENT), &Silent).unwrap();
        let (elastic, rigid) = (solve(Bodies::Elastic), solve(Bodies::Rigid));
        let (e, r) = (elastic.compliance.matrix, rigid.compliance.matrix);
        (0..6).map(|i| e[(i, i)] / r[(i, i)] - 1.0).fold(0.0, |m: f64, v| m.max(v.abs()))
    };
    let (soft, stiff) = (error(2e4), error(2e6));
    absolute("elastic tier with bodies of 2,000,000 MPa against rigid tier", 0.0, stiff, 1e-3);
    // The difference is linear in the flexibility of the bodies.
    relative("falls with their flexibility", soft / 100.0, stiff, 0.1);
}

/// Memory and quadrature are options of the problem; a rule that does not exist is refused, not rounded.
#[test]
fn unknown_quadrature_is_refused() {
    let mesh = root();
    let options = SolveOptions { quadrature_points: 5, ..SolveOptions::default() };
    let problem =
        ToothProblem { options, ..problem(&mesh, Bodies::Rigid, with_ligament(1.0, 0.45), LIGAMENT) };
    assert!(solve_unit_loads(&problem, &Silent).is_err());
}
