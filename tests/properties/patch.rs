//! Source: the constant-strain patch test (Irons and Razzaque 1972, from memory), and the six rigid motions of a free body.
//! Goal: any element shape passes a constant strain exactly; rigid motions cost no force.
//! Mesh: cube of 3^3 boxes with randomly moved inner corners (straight sides) and also randomly moved mid-side nodes
//! (curved sides), several seeds.
//! Supports: all nodes of the faces moved by a linear field.
//! Expected: the field inside, to rounding. Curved elements need a rule of degree 3: gradients times det J are cubic; the
//! rule of four points integrates them to second order only, and the test says what is left over.
//! Tolerance: 1e-11 of the largest displacement.

use gomphosis_mesh_gen::block::{Block, Jitter, face};
use gomphosis_mesh_gen::{Region, TetMesh};
use gomphosis_solver::Formulation;
use gomphosis_solver::element::prism::{self, PRISM_NODES, Prism};
use gomphosis_solver::element::{self, NODES, Quadrature, pair};
use gomphosis_tests::compare::absolute;
use gomphosis_tests::model::{nodes, with_ligament};
use gomphosis_tests::statics::{Body, LoadCase, Supports};
use nalgebra::{DMatrix, Matrix3, Point3, Vector3};

const FACES: [&str; 6] = [face::XI0, face::XI1, face::ETA0, face::ETA1, face::ZETA0, face::ZETA1];

fn cube(mid_sides: f64, seed: u64) -> TetMesh {
    let jitter = Jitter { corners: 0.12, mid_sides, seed };
    Block::uniform([3, 3, 3]).distorted(jitter).mesh(|p| p, |_| Region::Ligament).unwrap()
}

/// Six strains and three turns.
fn states() -> Vec<Matrix3<f64>> {
    let unit = |i: usize, j: usize| Matrix3::from_fn(|r, c| f64::from(u8::from(r == i && c == j)));
    let mut states = vec![unit(0, 0), unit(1, 1), unit(2, 2)];
    for (i, j) in [(0, 1), (1, 2), (2, 0)] {
        states.push(unit(i, j) + unit(j, i));
        states.push(unit(i, j) - unit(j, i));
    }
    states
}

/// Largest error inside over all states, and largest force of a turn.
fn worst(mesh: &TetMesh, formulation: Formulation, quadrature_points: usize) -> f64 {
    let body = Body { mesh, materials: with_ligament(1.0, 0.45), formulation, quadrature_points };
    let held = || FACES.into_iter().flat_map(|name| nodes(mesh, name));
    let supports = Supports::none(mesh).hold(held(), [true; 3]);
    let fields = states();
    let case = |g: &Matrix3<f64>| LoadCase::new(mesh).moving(mesh, held(), |p| g * p.coords);
    let cases = fields.iter().map(case).collect::<Vec<_>>();
    let answers = body.solve(&supports, &cases).unwrap();
    let mut worst = 0.0f64;
    for (g, answer) in fields.iter().zip(&answers) {
        for (p, u) in mesh.nodes().iter().zip(&answer.displacement) {
            worst = worst.max((u - g * p.coords).norm());
        }
    }
    worst
}

#[test]
fn straight_elements_pass_the_patch_test() {
    for seed in 1..=5 {
        let mesh = cube(0.0, seed);
        for formulation in [Formulation::Displacement, Formulation::ProjectedDilatation] {
            let name = format!("patch test, straight, seed {seed}, {}", formulation.name());
            absolute(&name, 0.0, worst(&mesh, formulation, 4), 1e-11);
        }
    }
}

#[test]
fn curved_elements_pass_the_patch_test_with_a_rule_of_degree_three() {
    for seed in 1..=5 {
        let mesh = cube(0.04, seed);
        let name = |what: &str| format!("patch test, curved, seed {seed}, {what}");
        for formulation in [Formulation::Displacement, Formulation::ProjectedDilatation] {
            absolute(&name(formulation.name()), 0.0, worst(&mesh, formulation, 11), 1e-11);
        }
        absolute(&name("4 points, what is left over"), 0.0, worst(&mesh, Formulation::Displacement, 4), 2e-3);
    }
}

/// Eigenvalues of a symmetric matrix given by the blocks of its lower triangle, sorted.
fn eigenvalues(nodes: usize, blocks: &[[f64; 9]]) -> Vec<f64> {
    let full = DMatrix::from_fn(3 * nodes, 3 * nodes, |r, c| {
        let (a, i, b, j) = (r / 3, r % 3, c / 3, c % 3);
        if a >= b { blocks[pair(a, b)][3 * i + j] } else { blocks[pair(b, a)][3 * j + i] }
    });
    let mut sorted = full.symmetric_eigenvalues().iter().copied().collect::<Vec<_>>();
    sorted.sort_by(f64::total_cmp);
    sorted
}

/// Single curved elements and prisms of three have six zero eigenvalues, all others positive, with every rule: four
/// points are just enough, 4 x 6 strains against 30 - 6 motions.
#[test]
fn elements_and_prisms_have_six_rigid_motions_and_no_other() {
    let mesh = cube(0.04, 3);
    for points in [4, 11, 15] {
        let rule = Quadrature::with_points(points).unwrap();
        for first in [0, 39, 99] {
            let positions = [0, 1, 2].map(|k| mesh.cell_nodes(first + k));
            let one = element::stiffness(&positions[0], (2.0, 1.0), &rule).unwrap();
            let three =
                Prism::of([0, 1, 2].map(|k| &mesh.cells()[first + k])).expect("three elements of a prism");
            let three = prism::stiffness(&three, &positions, (20.0, 1.0), &rule).unwrap();
            for values in [eigenvalues(NODES, &one.blocks), eigenvalues(PRISM_NODES, &three)] {
                let largest = values[values.len() - 1];
                assert!(values[5].abs() < 1e-12 * largest, "{points} points: {values:?}");
                assert!(values[6] > 1e-5 * largest, "{points} points: {values:?}");
            }
            // And a rigid motion itself costs no force.
            let turn = Vector3::new(0.3, -0.5, 0.9);
            let u = positions[0].map(|p: Point3<f64>| Vector3::new(1.0, 2.0, 3.0) + turn.cross(&p.coords));
            let mut f = [Vector3::zeros(); NODES];
            one.apply(&u, &mut f);
            assert!(f.iter().all(|f| f.norm() < 1e-13), "{f:?}");
        }
    }
}
