//! Both tiers on the idealised root.

use approx::assert_relative_eq;
use gomphosis_mesh_gen::revolve::{ParaboloidBodies, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{Face, Region, Silent, ToothInSocket, ToothKind, mesh_tooth};
use nalgebra::Vector6;

use super::*;
use crate::assembly::{Elements, Unit};
use crate::linear::Linear;
use crate::material::{Material, Materials};
use crate::motion::stack;
use crate::problem::{Footprint, Formulation, SolveOptions};
use crate::resistance::{PlanarResistance, Plane};

/// A problem with the default materials, unit loads at the crest.
pub(crate) fn problem_on(mesh: &TetMesh, bodies: Bodies) -> ToothProblem<'_> {
    ToothProblem {
        mesh,
        materials: Materials::default(),
        bodies,
        formulation: Formulation::default(),
        reference_point: Point3::origin(),
        footprint: Footprint {
            centre: Point3::new(3.9, 0.0, 4.0),
            face: Face::Buccal,
            width_mm: 3.0,
            height_mm: 2.0,
        },
        options: SolveOptions::default(),
    }
}

fn reference(law: ThicknessLaw) -> TetMesh {
    ParaboloidRoot::reference(law).mesh().expect("the reference root")
}

#[test]
fn rigid_reference_root_agrees_with_the_axisymmetric_computation() {
    // Source: an axisymmetric finite-element computation (Fourier, nine-node elements, checked against the exact
    // annulus and sphere) of the paraboloid of Haack and Haft 1972 and Provatidis 2001: h 13, R 3.9, t 0.229 mm,
    // stretched law; values for each MPa of modulus. Its own scatter is below 0.1 percent.
    let mesh = reference(ThicknessLaw::Stretched);
    for (nu, kx, centre, sigma, kz, torsion) in [
        (0.30, 1001.1, 0.4094, 14.25, 532.4, 4178.0),
        (0.45, 2316.2, 0.3959, 12.49, 669.6, 3746.0),
        (0.49, 9236.0, 0.3956, 11.07, 1634.5, 3645.0),
        (0.499, 67_060.0, 0.4068, 8.53, f64::NAN, f64::NAN),
    ] {
        let mut problem = problem_on(&mesh, Bodies::Rigid);
        problem.materials.ligament = Material { modulus_mpa: 1.0, poisson_ratio: nu };
        let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
        for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
            let r = PlanarResistance::new(&solutions.compliance, plane);
            assert_relative_eq!(1.0 / r.centre_compliance_mm_per_n(), kx, max_relative = 0.002);
            assert_relative_eq!(r.centre_depth_mm() / 13.0, centre, epsilon = 0.001);
            assert_relative_eq!(r.sigma_squared_mm2(), sigma, max_relative = 0.005);
        }
        let c = &solutions.compliance.matrix;
        if kz.is_finite() {
            assert_relative_eq!(1.0 / c[(2, 2)], kz, max_relative = 0.003);
            assert_relative_eq!(1.0 / c[(5, 5)], torsion, max_relative = 0.001);
        }
        assert!(solutions.asymmetry < 1e-9 && solutions.fit_residual.iter().all(|r| *r < 1e-9));
    }
}

#[test]
fn rigid_fields_solve_the_exported_problem() {
    // What a reader of the exported file would do: forces on the root, the wall held, equilibrium everywhere.
    let mesh = reference(ThicknessLaw::Stretched);
    let mut problem = problem_on(&mesh, Bodies::Rigid);
    problem.reference_point = Point3::new(1.0, -0.5, 4.0);
    let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
    let elements = crate::assembly::Elements::new(
        &mesh,
        &gomphosis_mesh_gen::Region::ALL,
        &problem.materials,
        problem.formulation,
        rule(&problem).expect("offered"),
    );
    let internal = elements.internal_forces(&solutions.motions).expect("valid elements");
    for (load, (forces, internal)) in solutions.forces.iter().zip(&internal).enumerate() {
        let scale = forces.iter().map(Vector3::norm).fold(0.0, f64::max);
        for ((f, k), fixed) in forces.iter().zip(internal).zip(&solutions.fixed) {
            assert!(*fixed || (f - k).norm() < 1e-9 * scale, "load {load}");
        }
        let force: Vector3<f64> = forces.iter().sum();
        let moment: Vector3<f64> =
            forces.iter().zip(mesh.nodes()).map(|(f, x)| (x - problem.reference_point).cross(f)).sum();
        assert_relative_eq!(stack(&force, &moment), Vector6::ith(load, 1.0), epsilon = 1e-8);
    }
    assert_relative_eq!(solutions.load_compliance, solutions.compliance.matrix, epsilon = 1e-15);
}

#[test]
fn elastic_bodies_soften_the_socket_a_little() {
    let mut root = ParaboloidRoot::reference(ThicknessLaw::Stretched);
    root.around = 18;
    root.rings = 10;
    root.bodies = ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 4, crown_mm: 8.0 };
    let mesh = root.mesh().expect("the reference tooth");
    let [rigid, elastic] = [Bodies::Rigid, Bodies::Elastic].map(|bodies| {
        let mut problem = problem_on(&mesh, bodies);
        problem.options.linear = Linear::Direct;
        solve_unit_loads(&problem, &Silent).expect("solvable")
    });
    let [r, e] = [&rigid, &elastic].map(|s| PlanarResistance::new(&s.compliance, Plane::BuccoLingual));
    let softer = e.centre_compliance_mm_per_n() / r.centre_compliance_mm_per_n();
    assert!((1.0..1.05).contains(&softer), "softer by {softer}");
    assert!((e.centre_depth_mm() - r.centre_depth_mm()).abs() < 0.1);
    // Reciprocity holds up to the bending of the tooth; the compliance felt at the load is exactly symmetric.
    assert!(elastic.asymmetry < 0.01, "{}", elastic.asymmetry);
    assert!(asymmetry(&elastic.load_compliance) < 1e-9);
    assert!(elastic.fit_residual.iter().all(|r| *r < 0.05), "{:?}", elastic.fit_residual);
    // The load works on more than the rigid motion: the tooth bends.
    for k in 0..6 {
        assert!(elastic.load_compliance[(k, k)] > elastic.compliance.matrix[(k, k)]);
    }
    // Outside the load everything is in equilibrium: reactions balance the unit wrench.
    assert!(elastic.statistics.relative_residual < 1e-9, "{}", elastic.statistics.relative_residual);
}

#[test]
fn stopping_is_an_error_of_its_own() {
    struct Stop;
    impl Observer for Stop {
        fn on_event(&self, _: gomphosis_mesh_gen::Event) -> std::ops::ControlFlow<()> {
            std::ops::ControlFlow::Break(())
        }
    }
    let mesh = reference(ThicknessLaw::Stretched);
    let stopped = solve_unit_loads(&problem_on(&mesh, Bodies::Rigid), &Stop);
    assert!(matches!(stopped, Err(SolverError::Interrupted)));
}

#[test]
fn a_memory_limit_is_kept_with_numbers() {
    let mesh = reference(ThicknessLaw::Stretched);
    let mut problem = problem_on(&mesh, Bodies::Rigid);
    problem.options.memory_limit_bytes = Some(1_000_000);
    match solve_unit_loads(&problem, &Silent) {
        Err(SolverError::TooLarge { unknowns, needed_mb, allowed_mb: 1 }) => {
            assert!(unknowns > 1000 && needed_mb > 1);
        }
        other => panic!("{:?}", other.map(|s| s.statistics)),
    }
}

#[test]
fn ligament_of_a_meshed_tooth_is_all_prisms() {
    // The projected dilatation stands on the order in which the mesher leaves the elements of a layer.
    let mut spec = ToothInSocket::handbook(ToothKind::parse("14").expect("a premolar"));
    spec.mesh.element_size_mm = 1.6;
    let tooth = mesh_tooth(&spec, &Silent).expect("meshable");
    let elements = Elements::new(
        &tooth.mesh,
        &[Region::Ligament],
        &Materials::default(),
        Formulation::ProjectedDilatation,
        Quadrature::gauss(),
    );
    assert!(elements.len() > 300);
    assert!(elements.units().iter().all(|unit| matches!(unit, Unit::Prism(..))));
}
