//! Source: design decision: the same input gives the same bits for any number of threads.
//! Goal: assembly, factorisation and solves inside pools of 1, 2 and 4 threads, elastic bodies.
//! Tolerance: none.

use gomphosis_cli::verify::find;
use gomphosis_cli::verify::model::{LIGAMENT, problem};
use gomphosis_mesh_gen::Silent;
use gomphosis_mesh_gen::revolve::{ParaboloidBodies, ParaboloidRoot, ThicknessLaw};
use gomphosis_solver::{Bodies, Materials, solve_unit_loads};

#[test]
fn same_bits_for_any_number_of_threads() {
    let root = ParaboloidRoot {
        around: 18,
        rings: 10,
        bodies: ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 2, crown_mm: 8.0 },
        ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
    };
    let solve = |threads: usize, bodies: Bodies| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let mesh = root.mesh().unwrap();
            let problem = problem(&mesh, bodies, Materials::default(), LIGAMENT);
            let solutions = solve_unit_loads(&problem, &Silent).unwrap();
            let fields = solutions
                .motions
                .iter()
                .flatten()
                .flat_map(|u| u.iter().map(|v| v.to_bits()).collect::<Vec<_>>());
            (fields.collect::<Vec<_>>(), solutions.compliance.matrix.map(f64::to_bits))
        })
    };
    for bodies in [Bodies::Rigid, Bodies::Elastic] {
        let one = solve(1, bodies);
        for threads in [2, 4] {
            assert!(one == solve(threads, bodies), "{threads} threads, {bodies:?}");
        }
    }
}

/// The rows of verification cases that use both ways of solving.
#[test]
fn same_rows_for_any_number_of_threads() {
    let rows = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let run = |name: &str| find(name).unwrap().outcome(&Silent).rows.unwrap();
            ["bonded-ring", "lame-cylinder", "parallel-roots"].map(run)
        })
    };
    let one = rows(1);
    let bits = |rows: &[Vec<gomphosis_cli::verify::Row>; 3]| {
        rows.iter().flatten().map(|row| row.got.to_bits()).collect::<Vec<_>>()
    };
    assert!(bits(&one).len() > 20);
    for threads in [2, 4] {
        let many = rows(threads);
        assert_eq!(bits(&one), bits(&many), "{threads} threads");
        assert_eq!(one, many, "{threads} threads");
    }
}
