//! The elements themselves: constant strain, rigid motions.

use gomphosis_mesh_gen::block::{Block, Jitter, face};
use gomphosis_mesh_gen::{Observer, Region, TetMesh};
use gomphosis_solver::element::prism::{self, PRISM_NODES, Prism};
use gomphosis_solver::element::{self, NODES, Quadrature, pair};
use gomphosis_solver::{Formulation, SolverError};
use nalgebra::{DMatrix, Matrix3, Point3, Vector3};

use crate::verify::model::{LIGAMENT, nodes, with_ligament};
use crate::verify::row::furthest;
use crate::verify::statics::{Body, LoadCase, Supports};
use crate::verify::{Case, Row, VerifyError};

/// Patch test.
pub const PATCH: Case = Case {
    name: "patch-test",
    title: "Patch test",
    source: "exact",
    reference: "constant-strain patch test (Irons and Razzaque 1972, from memory)",
    goal: "elements of any shape pass a constant strain and a turn exactly",
    mesh: "cube of 3 x 3 x 3 boxes, five seeds: inner corners moved at random (straight sides), then also mid-side nodes \
        (curved sides); all faces moved by each of six strains and three turns, nu 0.45",
    tolerance: "1e-11 of the largest displacement: rounding. Curved elements need a rule of degree 3, because gradients times \
        the Jacobian are cubic; with the rule of four points 0.002 is left over",
    run: patch,
};

/// Rigid motions.
pub const RIGID_MOTIONS: Case = Case {
    name: "rigid-motions",
    title: "Rigid motions",
    source: "exact",
    reference: "a free body has six rigid motions that cost no force and no other (rigid-body mechanics)",
    goal: "no spurious mechanism and no false stiffness in a single curved element or a prism of three, with any rule",
    mesh: "three elements and three prisms of the curved cube; rules of 4, 11 and 15 points",
    tolerance: "1e-12 of the largest eigenvalue for the six, 1e-13 for the force: rounding; the seventh at least 1e-5 of the largest",
    run: rigid_motions,
};

const FACES: [&str; 6] = [face::XI0, face::XI1, face::ETA0, face::ETA1, face::ZETA0, face::ZETA1];

fn cube(mid_sides: f64, seed: u64) -> Result<TetMesh, VerifyError> {
    let jitter = Jitter { corners: 0.12, mid_sides, seed };
    Ok(Block::uniform([3, 3, 3]).distorted(jitter).mesh(|p| p, |_| Region::Ligament)?)
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

/// Largest error inside over all states and five seeds.
fn worst(
    mid_sides: f64,
    formulation: Formulation,
    quadrature_points: usize,
    observer: &dyn Observer,
) -> Result<f64, VerifyError> {
    let mut errors = Vec::new();
    for seed in 1..=5 {
        let mesh = cube(mid_sides, seed)?;
        let body = Body { mesh: &mesh, materials: with_ligament(1.0, 0.45), formulation, quadrature_points };
        let held = || FACES.into_iter().flat_map(|name| nodes(&mesh, name));
        let supports = Supports::none(&mesh).hold(held(), [true; 3]);
        let fields = states();
        let case = |g: &Matrix3<f64>| LoadCase::new(&mesh).moving(&mesh, held(), |p| g * p.coords);
        let cases = fields.iter().map(case).collect::<Vec<_>>();
        for (g, answer) in fields.iter().zip(body.solve(&supports, &cases, observer)?) {
            let pairs = mesh.nodes().iter().zip(&answer.displacement);
            errors.push(furthest(pairs.map(|(p, u)| (u - g * p.coords).norm())));
        }
    }
    Ok(furthest(errors))
}

fn patch(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = Vec::new();
    for (sides, mid_sides, points) in
        [("straight sides, 4 points", 0.0, 4), ("curved sides, 11 points", 0.04, 11)]
    {
        for (element, formulation) in [("plain", Formulation::Displacement), ("ligament's", LIGAMENT)] {
            let error = worst(mid_sides, formulation, points, observer)?;
            rows.push(Row::rounding(format!("{sides}, {element} element, worst error"), error, 1e-11));
        }
    }
    let error = worst(0.04, Formulation::Displacement, 4, observer)?;
    rows.push(Row::absolute("curved sides, 4 points, what is left over", 0.0, error, 2e-3));
    Ok(rows)
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

fn rigid_motions(_: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mesh = cube(0.04, 3)?;
    let turn = Vector3::new(0.3, -0.5, 0.9);
    let (mut sixth, mut stiff, mut forces) = (Vec::new(), Vec::new(), Vec::new());
    for points in [4, 11, 15] {
        let rule = Quadrature::with_points(points).ok_or(VerifyError::Missing("no such quadrature rule"))?;
        for first in [0, 39, 99] {
            let inverted = |determinant| SolverError::Jacobian { cell: first, determinant };
            let positions = [0, 1, 2].map(|k| mesh.cell_nodes(first + k));
            let one = element::stiffness(&positions[0], (2.0, 1.0), &rule).map_err(inverted)?;
            let prism = Prism::of([0, 1, 2].map(|k| &mesh.cells()[first + k]));
            let prism = prism.ok_or(VerifyError::Missing("the three elements are no prism"))?;
            let three = prism::stiffness(&prism, &positions, (20.0, 1.0), &rule).map_err(inverted)?;
            for values in [eigenvalues(NODES, &one.blocks), eigenvalues(PRISM_NODES, &three)] {
                let largest = values[values.len() - 1];
                sixth.push(furthest(values[..6].iter().map(|v| v / largest)).abs());
                stiff.push(largest / values[6]);
            }
            let u = positions[0].map(|p: Point3<f64>| Vector3::new(1.0, 2.0, 3.0) + turn.cross(&p.coords));
            let mut f = [Vector3::zeros(); NODES];
            one.apply(&u, &mut f);
            forces.push(furthest(f.iter().map(nalgebra::Matrix::norm)));
        }
    }
    Ok(vec![
        Row::rounding("six zero eigenvalues over the largest", furthest(sixth), 1e-12),
        Row::band("largest eigenvalue over the seventh", (1.0, 1e5), furthest(stiff)),
        Row::rounding("force of a rigid motion, N", furthest(forces), 1e-13),
    ])
}
