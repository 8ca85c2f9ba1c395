use gomphosis_mesh_gen::block::Block;
use gomphosis_mesh_gen::{Region, Silent};
use nalgebra::DMatrix;

use super::*;
use crate::assembly::{BlockMatrix, Elements, FreeNodes, assemble};
use crate::element::Quadrature;
use crate::linear::LinearSolver;
use crate::linear::direct::{Direct, Precision};
use crate::material::{Material, Materials};
use crate::problem::Formulation;

/// A stiff block on a soft layer on a stiff block that is held: the softer the layer, the looser the block on top.
fn with_layer<T>(modulus_mpa: f64, work: impl FnOnce(&System) -> T) -> T {
    let mesh = Block::uniform([4, 4, 6])
        .mesh(|p| p * 8.0, |c| if c.z > 0.4 && c.z < 0.6 { Region::Ligament } else { Region::Tooth })
        .expect("a block");
    let materials =
        Materials { ligament: Material { modulus_mpa, poisson_ratio: 0.45 }, ..Materials::default() };
    let elements =
        Elements::new(&mesh, &Region::ALL, &materials, Formulation::ProjectedDilatation, Quadrature::gauss());
    let held: Vec<bool> = mesh.nodes().iter().map(|x| x.z == 0.0).collect();
    let free = FreeNodes::new(&elements, &held);
    let matrix = assemble(&elements, &free, &Silent).expect("valid");
    work(&System { matrix: &matrix, free: &free, elements: &elements })
}

/// Forces of one newton along each axis, shared by the nodes, and a twist.
fn forces(matrix: &BlockMatrix) -> DMatrix<f64> {
    let nodes = matrix.nodes() as f64;
    DMatrix::from_fn(matrix.unknowns(), 3, |row, axis| if row % 3 == axis { 1.0 / nodes } else { 0.0 })
}

#[test]
fn the_error_of_a_disturbed_solution_is_estimated_and_refined_away() {
    with_layer(0.1, |system| {
        let right = forces(system.matrix);
        let direct = Direct::with_precision(system, Precision::Double, None, &Silent).expect("definite");
        let exact = direct.solve(system, &right, &Silent).expect("solvable").solution;
        // Each column wrong by its own share of itself: that share is the error in any norm.
        let shares = [1e-3, 2e-5, 0.0];
        let disturbed = DMatrix::from_fn(exact.nrows(), 3, |r, c| exact[(r, c)] * (1.0 + shares[c]));
        let mut estimates = Vec::new();
        let refined = refine(system, &right, disturbed, |residual| {
            let solved = direct.solve(system, residual, &Silent)?;
            estimates.push(residual.column(0).dot(&solved.solution.column(0)));
            Ok((solved.solution, 1))
        })
        .expect("refinable");
        let energy = right.column(0).dot(&exact.column(0));
        approx::assert_relative_eq!((estimates[0] / energy).sqrt(), 1e-3, max_relative = 1e-4);
        assert!(refined.energy_error.expect("asked for") < 1e-9, "{refined:?}");
        let off = (&refined.solution - &exact).amax() / exact.amax();
        assert!(off < 1e-9, "{off}");
    });
}

#[test]
fn a_loose_block_counts_by_its_energy_where_its_residual_cannot_be_small() {
    // In the limit of a soft layer the block moves as a rigid body and its compliance is inversely proportional to the
    // layer's modulus: c(E) E = a + b E with the same a and b for all E.
    let compliance = |modulus: f64| {
        with_layer(modulus, |system| {
            let right = forces(system.matrix);
            let direct = Direct::with_precision(system, Precision::Double, None, &Silent).expect("definite");
            let solved = direct.solve(system, &right, &Silent).expect("counts");
            (right.column(0).dot(&solved.solution.column(0)) * modulus, solved)
        })
    };
    let [(firm, plain), (soft, _), (loose, judged)] = [10.0, 0.1, 1e-3].map(compliance);
    assert_eq!(plain.energy_error, None, "a firm block needs no second look");
    assert!(judged.relative_residual > RESIDUAL, "{:e}", judged.relative_residual);
    let error = judged.energy_error.expect("judged by its energy");
    assert!(error < 1e-7, "{error:e}");
    // The straight line through the first two, at the third.
    let slope = (firm - soft) / (10.0 - 0.1);
    let expected = soft + slope * (1e-3 - 0.1);
    approx::assert_relative_eq!(loose, expected, max_relative = 1e-6);
}

#[test]
fn what_does_not_converge_is_refused() {
    with_layer(0.1, |system| {
        let right = forces(system.matrix);
        let zeros = DMatrix::zeros(right.nrows(), right.ncols());
        // A correction that is none leaves the solution where it is.
        let refused = refine(system, &right, zeros, |residual| Ok((residual * 1e-9, 1)));
        assert!(matches!(refused, Err(SolverError::Inexact { .. })), "{refused:?}");
    });
}
