//! Source: closed form of the bonded annulus (`closed_form::annulus`); Adkins and Gent 1954 is its incompressible limit.
//! Goal: no locking of a thin layer under sideways load, from nu = 0 to nearly incompressible.
//! Mesh: ring 3 / 3.25 mm, 24 elements around, 2 through the thickness, 1 along (0.5 mm).
//! Supports: wall held, core moved 1 mm (1 rad); ends as a long ring has them (no axial travel for the sideways
//! load and the turn, no travel across for the axial load).
//! Expected: 58.858, 67.866, 161.63, 667.46 N/mm for each mm at nu = 0, 0.3, 0.45, 0.49 (E = 1).
//! Tolerance: 0.1 %, 0.3 % at 0.49 and above: the solution is exact and the mesh fine for it; twice what was measured.

use gomphosis_mesh_gen::revolve::{Annulus, LOWER_END, UPPER_END};
use gomphosis_mesh_gen::surface;
use gomphosis_solver::Formulation;
use gomphosis_tests::closed_form::annulus::BondedAnnulus;
use gomphosis_tests::compare::relative;
use gomphosis_tests::model::{distinct_nodes, nodes, with_ligament};
use gomphosis_tests::statics::{Body, LoadCase, Supports};
use nalgebra::{Point3, Vector3};

const HEIGHT: f64 = 0.5;

/// Force (moment about the axis for a turn) on the core for each mm of length.
fn stiffness(
    poisson: f64,
    formulation: Formulation,
    ends: [bool; 3],
    motion: impl Fn(Point3<f64>) -> Vector3<f64>,
) -> f64 {
    let ring = Annulus { inner_mm: 3.0, outer_mm: 3.25, height_mm: HEIGHT, around: 24, along: 1, layers: 2 };
    let mesh = ring.mesh().unwrap();
    let body =
        Body { mesh: &mesh, materials: with_ligament(1.0, poisson), formulation, quadrature_points: 4 };
    let supports = Supports::none(&mesh)
        .hold(nodes(&mesh, LOWER_END).chain(nodes(&mesh, UPPER_END)), ends)
        .hold(nodes(&mesh, surface::ROOT).chain(nodes(&mesh, surface::SOCKET_WALL)), [true; 3]);
    let case = LoadCase::new(&mesh).moving(&mesh, nodes(&mesh, surface::ROOT), &motion);
    let answer = &body.solve(&supports, &[case]).unwrap()[0];
    // Work of the reactions on the motion of the core.
    let work = |n: u32| answer.reactions[n as usize].dot(&motion(mesh.nodes()[n as usize]));
    distinct_nodes(&mesh, surface::ROOT).into_iter().map(work).sum::<f64>() / HEIGHT
}

fn compare(formulation: Formulation, numbers: &[f64]) {
    for &poisson in numbers {
        let exact = BondedAnnulus { inner: 3.0, outer: 3.25, modulus: 1.0, poisson };
        let tolerance = if poisson < 0.49 { 0.001 } else { 0.003 };
        let name = |what: &str| format!("annulus, {what}, nu {poisson}, {}", formulation.name());
        let lateral = stiffness(poisson, formulation, [false, false, true], |_| Vector3::x());
        relative(&name("lateral"), exact.lateral(), lateral, tolerance);
        let axial = stiffness(poisson, formulation, [true, true, false], |_| Vector3::z());
        relative(&name("axial"), exact.axial(), axial, tolerance);
        let turn = stiffness(poisson, formulation, [false, false, true], |p| Vector3::new(-p.y, p.x, 0.0));
        relative(&name("torsion"), exact.torsion(), turn, tolerance);
    }
}

#[test]
fn projected_dilatation() {
    compare(Formulation::ProjectedDilatation, &[0.0, 0.3, 0.45, 0.49, 0.499, 0.4999]);
}

#[test]
fn displacement() {
    compare(Formulation::Displacement, &[0.0, 0.3, 0.45, 0.49]);
}
