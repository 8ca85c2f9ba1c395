//! Set-up and six loads on the upper first premolar, by each linear solver.
#![allow(missing_docs, reason = "the group's functions are made by a macro")]

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use gomphosis_benches::Specimen;
use gomphosis_mesh_gen::Silent;
use gomphosis_solver::assembly::assemble;
use gomphosis_solver::linear::direct::{Direct, Precision};
use gomphosis_solver::linear::iterative::Iterative;
use gomphosis_solver::linear::{LinearSolver, System};
use gomphosis_solver::{Bodies, Formulation, solve_unit_loads};
use nalgebra::DMatrix;

/// Twice the default element size, mm: some thirty thousand unknowns.
const COARSE_MM: f64 = 2.4;

fn linear_solve(c: &mut Criterion) {
    let specimen = Specimen::new("upper first premolar", Some(COARSE_MM)).expect("a handbook tooth");
    let formulation = Formulation::default();
    let unit = solve_unit_loads(&specimen.problem(Bodies::Elastic, formulation), &Silent)
        .expect("the six unit loads of a handbook tooth");
    let (elements, free) = specimen.system(formulation);
    let matrix = assemble(&elements, &free, &Silent).expect("a valid mesh");
    let right = DMatrix::from_fn(3 * free.len(), 6, |row, load| {
        unit.forces[load][free.nodes()[row / 3] as usize][row % 3]
    });
    let system = System { matrix: &matrix, free: &free, elements: &elements };

    let mut group = c.benchmark_group("linear_solve");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(5));
    for (name, precision) in [("direct_double", Precision::Double), ("direct_single", Precision::Single)] {
        let set_up =
            || Direct::with_precision(black_box(&system), precision, None, &Silent).expect("a factor");
        group.bench_function(format!("{name}/set_up"), |b| b.iter(set_up));
        let solver = set_up();
        group.bench_function(format!("{name}/six_loads"), |b| {
            b.iter(|| solver.solve(&system, black_box(&right), &Silent).expect("a solution"));
        });
    }
    let set_up = || Iterative::set_up(black_box(&system), None, &Silent).expect("a preconditioner");
    group.bench_function("iterative/set_up", |b| b.iter(set_up));
    let solver = set_up();
    group.bench_function("iterative/six_loads", |b| {
        b.iter(|| solver.solve(&system, black_box(&right), &Silent).expect("a solution"));
    });
    group.finish();
}

criterion_group!(benches, linear_solve);
criterion_main!(benches);
