//! The iterative solver against the direct one, over materials and threads.

use gomphosis_mesh_gen::mesh::EDGES;
use gomphosis_mesh_gen::revolve::{ParaboloidBodies, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{Face, Region, Silent, TetMesh, ToothInSocket, ToothKind, mesh_tooth};
use nalgebra::Point3;

use crate::SolverError;
use crate::linear::Linear;
use crate::material::{Material, Materials};
use crate::model::{UnitSolutions, solve_unit_loads};
use crate::problem::{Bodies, Footprint, Formulation, SolveOptions, ToothProblem};

/// The paraboloid root of the literature with crown and bone, coarse.
fn paraboloid() -> TetMesh {
    let mut root = ParaboloidRoot::reference(ThicknessLaw::Stretched);
    root.around = 12;
    root.rings = 6;
    root.bodies = ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 3, crown_mm: 8.0 };
    root.mesh().expect("the reference tooth")
}

fn problem(mesh: &TetMesh) -> ToothProblem<'_> {
    ToothProblem {
        mesh,
        materials: Materials::default(),
        bodies: Bodies::Elastic,
        formulation: Formulation::default(),
        reference_point: Point3::origin(),
        footprint: Footprint {
            centre: Point3::new(3.9, 0.0, 4.0),
            face: Face::Buccal,
            width_mm: 3.0,
            height_mm: 2.0,
        },
        options: SolveOptions { linear: Linear::Iterative, ..SolveOptions::default() },
    }
}

fn solve(problem: &ToothProblem, linear: Linear) -> UnitSolutions {
    let options = SolveOptions { linear, ..problem.options };
    solve_unit_loads(&ToothProblem { options, ..*problem }, &Silent).expect("solvable")
}

/// Largest difference of an entry of the two compliances, over the root of the product of its diagonal entries.
fn difference(a: &UnitSolutions, b: &UnitSolutions) -> f64 {
    let pairs = [(&a.compliance.matrix, &b.compliance.matrix), (&a.load_compliance, &b.load_compliance)];
    let mut largest = 0.0_f64;
    for (a, b) in pairs {
        for i in 0..6 {
            for j in 0..6 {
                largest = largest.max((a[(i, j)] - b[(i, j)]).abs() / (b[(i, i)] * b[(j, j)]).sqrt());
            }
        }
    }
    largest
}

#[test]
fn agrees_with_the_direct_solver_on_a_premolar() {
    let mut spec = ToothInSocket::handbook(ToothKind::parse("14").expect("a tooth"));
    spec.mesh.element_size_mm = 1.6;
    let made = mesh_tooth(&spec, &Silent).expect("a mesh");
    let problem = ToothProblem {
        reference_point: made.landmarks.attachment,
        footprint: Footprint::of(&spec.attachment, &made.landmarks),
        ..problem(&made.mesh)
    };
    let [direct, iterative] = [Linear::Direct, Linear::Iterative].map(|linear| solve(&problem, linear));
    let off = difference(&iterative, &direct);
    assert!(off < 1e-7, "differs by {off:.1e} from the direct solver");
    assert!(iterative.statistics.iterations < 30, "{:?}", iterative.statistics);
    assert!(iterative.statistics.factor_entries < direct.statistics.factor_entries / 2);
}

#[test]
fn iterations_hardly_depend_on_the_ligament() {
    let mesh = paraboloid();
    let mut problem = problem(&mesh);
    for formulation in [Formulation::ProjectedDilatation, Formulation::Displacement] {
        problem.formulation = formulation;
        for modulus_mpa in [0.01, 0.1, 1.0, 70.0] {
            for poisson_ratio in [0.3, 0.49, 0.4999] {
                problem.materials.ligament = Material { modulus_mpa, poisson_ratio };
                let solved = solve(&problem, Linear::Iterative);
                let iterations = solved.statistics.iterations;
                assert!(
                    (8..40).contains(&iterations),
                    "{iterations} for {modulus_mpa} MPa and {poisson_ratio}, {formulation:?}"
                );
                if (0.4..0.495).contains(&poisson_ratio) {
                    let off = difference(&solved, &solve(&problem, Linear::Direct));
                    assert!(off < 1e-7, "differs by {off:.1e} for {modulus_mpa} MPa, {formulation:?}");
                }
            }
        }
    }
}

/// Longest over shortest edge of the ligament's elements, the worst.
fn aspect(mesh: &TetMesh) -> f64 {
    let edges = |nodes: &[u32; 10]| {
        let length =
            |[a, b]: [usize; 2]| (mesh.nodes()[nodes[a] as usize] - mesh.nodes()[nodes[b] as usize]).norm();
        let lengths = EDGES.map(length);
        lengths.iter().copied().fold(0.0, f64::max) / lengths.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let ligament = mesh.cells().iter().zip(mesh.regions()).filter(|(_, r)| **r == Region::Ligament);
    ligament.map(|(nodes, _)| edges(nodes)).fold(0.0, f64::max)
}

#[test]
fn iterations_hardly_depend_on_how_flat_the_elements_are() {
    let [(moderate, few), (flat, more)] = [(36, 16), (6, 4)].map(|(around, rings)| {
        let mut root = ParaboloidRoot::reference(ThicknessLaw::Stretched);
        (root.around, root.rings) = (around, rings);
        root.bodies = ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 3, crown_mm: 8.0 };
        let mesh = root.mesh().expect("the reference tooth");
        (aspect(&mesh), solve(&problem(&mesh), Linear::Iterative).statistics.iterations)
    });
    assert!(moderate < 20.0 && flat > 40.0, "{moderate} {flat}");
    assert!(more <= 2 * few, "{more} iterations at an aspect of {flat}, {few} at {moderate}");
}

#[test]
fn same_bits_for_any_number_of_threads() {
    let mesh = paraboloid();
    let problem = problem(&mesh);
    let solutions: Vec<UnitSolutions> = [1, 2, 4]
        .map(|threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
            pool.install(|| solve(&problem, Linear::Iterative))
        })
        .into();
    for other in &solutions[1..] {
        for (a, b) in solutions[0].motions.iter().flatten().zip(other.motions.iter().flatten()) {
            assert_eq!(a.map(f64::to_bits), b.map(f64::to_bits));
        }
    }
}

#[test]
fn a_memory_limit_is_kept() {
    let mesh = paraboloid();
    let mut problem = problem(&mesh);
    problem.options.memory_limit_bytes = Some(10_000_000);
    let refused = solve_unit_loads(&problem, &Silent);
    assert!(matches!(refused, Err(SolverError::TooLarge { allowed_mb: ..=10, .. })), "{:?}", refused.err());
}
