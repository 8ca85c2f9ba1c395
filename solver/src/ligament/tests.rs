use approx::assert_relative_eq;
use gomphosis_mesh_gen::Silent;
use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};

use super::*;
use crate::model::solve_unit_loads;
use crate::model::tests::problem_on;
use crate::problem::Bodies;

#[test]
fn pressure_and_shear_of_known_states() {
    // Mohr's circle: principal stresses 1, -3 in the plane and 2 across.
    let state = Stress([-1.0, -1.0, 2.0, 2.0, 0.0, 0.0]);
    assert_relative_eq!(state.pressure(), 0.0);
    assert_relative_eq!(state.largest_shear(), 2.5, max_relative = 1e-14);
    assert_relative_eq!(Stress([-2.0, -2.0, -2.0, 0.0, 0.0, 0.0]).pressure(), 2.0);
}

#[test]
fn stress_of_a_uniform_gradient_follows_from_hookes_law() {
    let h = Matrix3::new(0.01, 0.004, 0.0, 0.002, -0.003, 0.001, 0.0, 0.005, 0.002);
    let (lambda, mu) = (3.0, 2.0);
    let e = (h + h.transpose()) * 0.5;
    let s = Matrix3::identity() * (lambda * e.trace()) + e * (2.0 * mu);
    let found = Stress::from_gradient(&h, (lambda, mu)).0;
    for (value, expected) in found.into_iter().zip([s.m11, s.m22, s.m33, s.m12, s.m23, s.m31]) {
        assert_relative_eq!(value, expected, max_relative = 1e-13);
    }
}

#[test]
fn points_to_nodes_is_exact_for_linear_fields() {
    let rule = Quadrature::gauss();
    let value = |l: [f64; 4]| 1.0 + 2.0 * l[1] - 3.0 * l[2] + 0.5 * l[3];
    for node in 0..NODES {
        let mut l = [0.0; 4];
        if node < 4 {
            l[node] = 1.0;
        } else {
            gomphosis_mesh_gen::mesh::EDGES[node - 4].into_iter().for_each(|c| l[c] = 0.5);
        }
        let carried: f64 = rule
            .points()
            .enumerate()
            .map(|(k, p)| value(p.barycentric) * Quadrature::gauss_to_node(k, node))
            .sum();
        assert_relative_eq!(carried, value(l), epsilon = 1e-14);
    }
}

#[test]
fn the_pressed_half_of_a_sphere_carries_half_the_largest_pressure_on_average() {
    // A rigid sphere pushed in a concentric bonded shell: the displacement is a vector along the push times functions of the
    // radius plus a radial part with a cosine (Papkovich-Neuber), so the dilatation on the sphere, and with it the pressure,
    // is P cos(theta). Over the hemisphere that it presses the mean is P / 2 (Archimedes: equal slices have equal areas).
    let mesh =
        gomphosis_mesh_gen::revolve::SphereShell { inner_mm: 3.0, outer_mm: 3.25, divisions: 6, layers: 2 }
            .mesh()
            .expect("a shell");
    let problem = problem_on(&mesh, Bodies::Rigid);
    let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
    let stress = LigamentStress::new(&problem, &solutions).expect("a ligament");
    for direction in [Vector3::x(), Vector3::new(0.6, 0.0, -0.8)] {
        let wrench = Wrench::force(Point3::origin(), direction);
        let field = stress.under(&solutions, &wrench);
        let pressed = field.root_pressed;
        assert_relative_eq!(pressed.share, 0.5, epsilon = 0.01);
        assert_relative_eq!(pressed.area_mm2, 2.0 * std::f64::consts::PI * 9.0, max_relative = 0.02);
        assert_relative_eq!(pressed.mean_kpa, 0.5 * field.root_extremes.compression.kpa, max_relative = 0.02);
        // Superposition without the fields says the same.
        let (extremes, again) = stress.on_the_root(&solutions.weights(&wrench));
        assert_relative_eq!(again.mean_kpa, pressed.mean_kpa, max_relative = 1e-12);
        assert_relative_eq!(
            extremes.compression.kpa,
            field.root_extremes.compression.kpa,
            max_relative = 1e-12
        );
        // Twice the push, twice the mean over the same part; turned round, the other half.
        let twice = stress.under(&solutions, &Wrench::force(Point3::origin(), direction * 2.0)).root_pressed;
        assert_relative_eq!(twice.mean_kpa, 2.0 * pressed.mean_kpa, max_relative = 1e-12);
        assert_relative_eq!(twice.share, pressed.share);
        let back = stress.under(&solutions, &Wrench::force(Point3::origin(), -direction)).root_pressed;
        assert_relative_eq!(back.share + pressed.share, 1.0, max_relative = 1e-12);
    }
}

#[test]
fn buccal_push_squeezes_the_buccal_side_and_superposes() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().expect("the reference root");
    let problem = problem_on(&mesh, Bodies::Rigid);
    let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
    let stress = LigamentStress::new(&problem, &solutions).expect("a ligament");
    let resistance = Point3::new(0.0, 0.0, -5.1);
    let push = |f: f64| stress.under(&solutions, &Wrench::force(resistance, Vector3::x() * f));
    let one = push(1.0);
    // Translation to +x: compression on the side of +x, tension of nearly the same size opposite.
    let (high, low) = (one.root_extremes.compression, one.root_extremes.tension);
    assert!(high.at.x > 1.0 && low.at.x < -1.0, "{high:?} {low:?}");
    assert_relative_eq!(high.kpa, -low.kpa, max_relative = 0.05);
    let three = push(3.0);
    assert_relative_eq!(
        three.cell_extremes.shear.kpa,
        3.0 * one.cell_extremes.shear.kpa,
        max_relative = 1e-9
    );

    // Equilibrium: the tractions on the root carry the force. Resultant of the recovered stress within 2 percent
    // of 1 N (it is first-order in the element size).
    let mut resultant = Vector3::zeros();
    for face in mesh.surface(surface::ROOT) {
        let nodes = face.map(|n| mesh.nodes()[n as usize]);
        for p in gomphosis_mesh_gen::triangle::integrate(&nodes) {
            let mut sum = Stress::default();
            for (n, shape) in face.iter().zip(p.shape) {
                let at = stress.root_nodes.binary_search(n).expect("a root node");
                sum.add(
                    &Stress::combine(
                        std::array::from_fn(|l| &stress.unit_root[l][at]),
                        &solutions.weights(&Wrench::force(resistance, Vector3::x())),
                    ),
                    shape,
                );
            }
            let [xx, yy, zz, xy, yz, zx] = sum.0;
            resultant += Matrix3::new(xx, xy, zx, xy, yy, yz, zx, yz, zz) * p.normal * p.weight;
        }
    }
    assert_relative_eq!(resultant.x.abs(), 1.0, max_relative = 0.02);
}
