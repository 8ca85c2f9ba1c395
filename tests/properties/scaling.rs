//! Source: dimensional analysis of linear elasticity: stiffness is proportional to the modulus; with lengths times s the
//! translation compliance goes with 1/s, the coupling with 1/s^2, the rotation compliance with 1/s^3. Mirror images
//! have mirrored compliances. Superposition is exact.
//! Goal: no hidden length, modulus or handedness in the program.
//! Tolerance: 1e-8: rounding of a direct solve.

use gomphosis_cli::verify::model::{LIGAMENT, problem, with_ligament};
use gomphosis_mesh_gen::Silent;
use gomphosis_mesh_gen::TetMesh;
use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidRoot, ThicknessLaw, mapped};
use gomphosis_solver::{Bodies, solve_unit_loads};
use gomphosis_tests::compare::relative;
use nalgebra::Matrix6;

fn root() -> ParaboloidRoot {
    ParaboloidRoot {
        half_axis_x_mm: 3.5,
        half_axis_y_mm: 2.5,
        around: 12,
        rings: 8,
        ..ParaboloidRoot::reference(ThicknessLaw::Uniform(CrestEdge::Flush))
    }
}

fn compliance(mesh: &TetMesh, modulus: f64) -> Matrix6<f64> {
    let materials = with_ligament(modulus, 0.45);
    let problem = problem(mesh, Bodies::Rigid, materials, LIGAMENT);
    solve_unit_loads(&problem, &Silent).unwrap().compliance.matrix
}

#[test]
fn modulus_scales_the_stiffness() {
    let mesh = root().mesh().unwrap();
    let (soft, stiff) = (compliance(&mesh, 0.05), compliance(&mesh, 50.0));
    for i in 0..6 {
        relative("modulus times 1000", soft[(i, i)] / 1000.0, stiff[(i, i)], 1e-8);
    }
}

#[test]
fn length_scales_each_block_by_its_power() {
    let mesh = root().mesh().unwrap();
    let s = 2.5;
    let large = mapped(&mesh, |p| p * s).unwrap();
    let (small, large) = (compliance(&mesh, 1.0), compliance(&large, 1.0));
    for i in 0..6 {
        for j in 0..6 {
            let power = 1 + i32::from(i >= 3) + i32::from(j >= 3);
            let scale = (large[(i, i)] * large[(j, j)]).sqrt();
            let difference = (small[(i, j)] / s.powi(power) - large[(i, j)]).abs();
            assert!(difference < 1e-8 * scale, "entry {i} {j}: {difference:e} of {scale:e}");
        }
    }
}

/// Moments are axial vectors: at a mirror in y, entries change sign by the parity of both components.
#[test]
fn a_mirrored_tooth_has_the_mirrored_compliance() {
    // Leaning, so that the mirror matters.
    let leaning = mapped(&root().mesh().unwrap(), |mut p| {
        p.y += 0.1 * p.z + 0.01 * p.z * p.x;
        p
    })
    .unwrap();
    // A mirror image needs its elements turned over: swap two corners, and the mid-side nodes with them.
    let nodes = leaning.nodes().iter().map(|p| nalgebra::Point3::new(p.x, -p.y, p.z)).collect();
    let cells = leaning
        .cells()
        .iter()
        .map(|c| [c[0], c[2], c[1], c[3], c[6], c[5], c[4], c[7], c[9], c[8]])
        .collect();
    let turned =
        |name: &str| leaning.surface(name).iter().map(|f| [f[0], f[2], f[1], f[5], f[4], f[3]]).collect();
    let surfaces = leaning.surface_names().map(|name| (name.to_owned(), turned(name))).collect();
    let mirrored = TetMesh::new(nodes, cells, leaning.regions().to_vec(), surfaces).unwrap();
    let (one, other) = (compliance(&leaning, 1.0), compliance(&mirrored, 1.0));
    let sign = [1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
    for i in 0..6 {
        for j in 0..6 {
            let scale = (one[(i, i)] * one[(j, j)]).sqrt();
            let difference = (sign[i] * sign[j] * one[(i, j)] - other[(i, j)]).abs();
            assert!(difference < 1e-8 * scale, "entry {i} {j}: {difference:e} of {scale:e}");
        }
    }
    assert!(one[(0, 1)].abs() > 1e-6 * one[(0, 0)], "the leaning root couples x and y");
}
