use gomphosis_mesh_gen::block::Block;
use gomphosis_mesh_gen::{Region, Silent};
use nalgebra::DMatrix;

use super::*;
use crate::assembly::{Elements, FreeNodes, assemble};
use crate::element::Quadrature;
use crate::material::{Material, Materials};
use crate::problem::Formulation;

#[test]
fn both_precisions_give_the_same_solution_at_the_worst_contrast() {
    let mesh = Block::uniform([5, 5, 5])
        .mesh(|p| p * 8.0, |c| if c.z > 0.4 && c.z < 0.6 { Region::Ligament } else { Region::Tooth })
        .expect("a block");
    let materials =
        Materials { ligament: Material { modulus_mpa: 0.05, poisson_ratio: 0.499 }, ..Materials::default() };
    let elements =
        Elements::new(&mesh, &Region::ALL, &materials, Formulation::ProjectedDilatation, Quadrature::gauss());
    let held: Vec<bool> = mesh.nodes().iter().map(|x| x.z == 0.0).collect();
    let free = FreeNodes::new(&elements, &held);
    let matrix = assemble(&elements, &free, &Silent).expect("valid");
    let system = System { matrix: &matrix, free: &free, elements: &elements };
    let right = DMatrix::from_fn(matrix.unknowns(), 3, |r, c| ((r * 7 + c * 3) % 11) as f64 - 5.0);
    let [double, single] = [Precision::Double, Precision::Single].map(|precision| {
        let direct = Direct::with_precision(&system, precision, None, &Silent).expect("positive definite");
        (direct.report().bytes, direct.solve(&system, &right, &Silent).expect("solvable"))
    });
    let off = (&double.1.solution - &single.1.solution).amax() / double.1.solution.amax();
    assert!(off < 1e-8, "{off}");
    assert!(single.1.iterations < 40, "{} steps", single.1.iterations);
    assert!(single.0 < double.0);
}
