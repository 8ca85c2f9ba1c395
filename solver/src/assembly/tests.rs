use approx::assert_relative_eq;
use gomphosis_mesh_gen::block::Block;
use gomphosis_mesh_gen::{Region, Silent, TetMesh};
use nalgebra::{DMatrix, Vector3};
use nalgebra_sparse::factorization::CscCholesky;
use nalgebra_sparse::{CooMatrix, CscMatrix};

use super::*;
use crate::element::Quadrature;
use crate::linear::{LinearSolver, System, direct::Direct};
use crate::material::Materials;
use crate::problem::Formulation;

fn mesh() -> TetMesh {
    Block::uniform([2, 2, 2])
        .mesh(|p| p, |c| if c.z < 0.5 { Region::Ligament } else { Region::Tooth })
        .expect("a block")
}

fn elements(mesh: &TetMesh) -> Elements<'_> {
    let rule = Quadrature::gauss();
    Elements::new(mesh, &Region::ALL, &Materials::default(), Formulation::ProjectedDilatation, rule)
}

#[test]
fn layers_are_recognised_as_prisms() {
    // A box of six elements is two prisms; half of the boxes are ligament.
    let mesh = mesh();
    let units = elements(&mesh);
    let prisms = units.units().iter().filter(|u| matches!(u, Unit::Prism(..))).count();
    assert_eq!((prisms, units.units().len()), (8, 8 + 24));
}

#[test]
fn product_is_the_internal_force_and_the_scalar_matrix_is_the_same() {
    let mesh = mesh();
    let elements = elements(&mesh);
    let free = FreeNodes::new(&elements, &vec![false; mesh.nodes().len()]);
    let matrix = assemble(&elements, &free, &Silent).expect("valid");
    let field: Vec<Vector3<f64>> =
        mesh.nodes().iter().map(|x| Vector3::new(x.x * x.y, x.z.sin(), x.x - x.z * x.z)).collect();
    let internal = elements.internal_forces(std::slice::from_ref(&field)).expect("valid");
    let x = DMatrix::from_fn(matrix.unknowns(), 1, |r, _| field[r / 3][r % 3]);
    let product = matrix.multiply(&x);
    let lower = DMatrix::from(&matrix.to_csr());
    let full = DMatrix::from_fn(lower.nrows(), lower.ncols(), |i, j| lower[(i.max(j), i.min(j))]);
    let dense = full * &x;
    for (r, value) in product.iter().enumerate() {
        assert_relative_eq!(*value, internal[0][r / 3][r % 3], epsilon = 1e-9);
        assert_relative_eq!(*value, dense[r], epsilon = 1e-9);
    }
}

#[test]
fn solution_agrees_with_a_general_purpose_factorisation() {
    // Oracle: nalgebra-sparse's own Cholesky on the same entries.
    let mesh = mesh();
    let elements = elements(&mesh);
    let held: Vec<bool> = mesh.nodes().iter().map(|x| x.z == 0.0).collect();
    let free = FreeNodes::new(&elements, &held);
    let matrix = assemble(&elements, &free, &Silent).expect("valid");
    let n = matrix.unknowns();
    let right = DMatrix::from_fn(n, 2, |r, c| ((r * 7 + c * 3) % 11) as f64 - 5.0);
    let mut full = CooMatrix::new(n, n);
    for (i, j, v) in matrix.to_csr().triplet_iter() {
        full.push(i, j, *v);
        if i != j {
            full.push(j, i, *v);
        }
    }
    let oracle = CscCholesky::factor(&CscMatrix::from(&full)).expect("positive definite").solve(&right);
    let system = System { matrix: &matrix, free: &free, elements: &elements };
    let direct = Direct::set_up(&system, None, &Silent).expect("positive definite");
    let solved = direct.solve(&system, &right, &Silent).expect("solvable");
    // The oracle does not refine; the contrast of the bodies costs it some digits.
    let off = (&solved.solution - &oracle).amax() / oracle.amax();
    assert!(off < 1e-8, "{off}");
    assert!(solved.relative_residual < 1e-9);
}
