//! Source: closed form of the rigid sphere in a bonded shell (`closed_form::sphere`).
//! Goal: the first fully three-dimensional curved thin layer, through the rigid tier.
//! Mesh: shell 3 / 3.25 mm, icosahedron with each edge in 6, 2 layers.
//! Supports: outer sphere held, inner sphere rigid.
//! Expected: 326.55, 344.92, 725.31, 2761.5 N/mm at nu = 0, 0.3, 0.45, 0.49 (E = 1).
//! Tolerance: 0.5 %, 2 % at 0.49 and above: as for the annulus.

use gomphosis_mesh_gen::revolve::SphereShell;
use gomphosis_solver::Formulation;
use gomphosis_tests::closed_form::sphere::BondedShell;
use gomphosis_tests::compare::{absolute, relative};
use gomphosis_tests::model::rigid;

fn compare(formulation: Formulation, numbers: &[f64]) {
    let mesh = SphereShell { inner_mm: 3.0, outer_mm: 3.25, divisions: 6, layers: 2 }.mesh().unwrap();
    for &poisson in numbers {
        let exact = BondedShell { inner: 3.0, outer: 3.25, modulus: 1.0, poisson };
        let tolerance = if poisson < 0.49 { 0.005 } else { 0.02 };
        let c = rigid(&mesh, poisson, formulation).unwrap().compliance.matrix;
        let name = |what: &str| format!("sphere, {what}, nu {poisson}, {}", formulation.name());
        relative(&name("lateral"), exact.lateral(), 1.0 / c[(0, 0)], tolerance);
        relative(&name("torsion"), exact.torsion(), 1.0 / c[(3, 3)], tolerance);
        // The same in every direction, and no coupling, up to the mesh.
        for axis in 1..3 {
            relative(&name("isotropy"), c[(0, 0)], c[(axis, axis)], 1e-3);
            absolute(&name("coupling"), 0.0, c[(0, 3 + axis)] / (c[(0, 0)] * c[(3, 3)]).sqrt(), 1e-3);
        }
    }
}

#[test]
fn mean_dilatation() {
    compare(Formulation::MeanDilatation, &[0.0, 0.3]);
}

#[test]
fn displacement() {
    compare(Formulation::Displacement, &[0.0, 0.3, 0.45, 0.49]);
}
