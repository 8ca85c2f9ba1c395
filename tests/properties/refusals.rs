//! Source: design decision: what does not exist is refused, not rounded.

use gomphosis_cli::verify::model::{LIGAMENT, problem, with_ligament};
use gomphosis_mesh_gen::Silent;
use gomphosis_mesh_gen::revolve::SphereShell;
use gomphosis_solver::{Bodies, SolveOptions, ToothProblem, solve_unit_loads};

#[test]
fn unknown_quadrature_is_refused() {
    let mesh = SphereShell { inner_mm: 3.0, outer_mm: 3.25, divisions: 1, layers: 1 }.mesh().unwrap();
    let solve = |quadrature_points: usize| {
        let options = SolveOptions { quadrature_points, ..SolveOptions::default() };
        let whole = problem(&mesh, Bodies::Rigid, with_ligament(1.0, 0.45), LIGAMENT);
        solve_unit_loads(&ToothProblem { options, ..whole }, &Silent)
    };
    assert!(solve(4).is_ok());
    assert!(solve(5).is_err());
}
