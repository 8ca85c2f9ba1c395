//! Source: theory of finite elements (Ciarlet 1978, from memory): quadratic elements converge with h^3 in the L2 norm and
//! h^2 in the H1 seminorm, curved isoparametric ones too if mid-side nodes leave the chord by no more than O(h^2).
//! Goal: element, assembly, loads and curved geometry together, on a displacement that no element can represent.
//! Mesh: a twisted, bent block of 3^3 to 8^3 boxes, all sides curved.
//! Supports and loads: a sum of plane waves as displacement; body force from Navier's equations, the exact traction on
//! two faces, the exact displacement at the nodes of the other four.
//! Expected: slopes 3 and 2 for the plain element; the mean dilatation keeps no more than one order less where the
//! material is compressible, and 2 and 1 is what its constant pressure gives when it is not.
//! Tolerance: 0.15 on the slopes of a fit over four meshes; and a cap on the finest error, so that a wrong constant
//! shows as well.

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::{Region, TetMesh};
use gomphosis_solver::Formulation;
use gomphosis_solver::element::{Quadrature, gradients_at, shape};
use gomphosis_tests::compare::{absolute, band};
use gomphosis_tests::fit::slope;
use gomphosis_tests::model::{nodes, with_ligament};
use gomphosis_tests::statics::{Body, LoadCase, Supports};
use nalgebra::{Matrix3, Point3, Vector3};

/// u_i = a_i sin(k_i . x + c_i).
const WAVES: [([f64; 3], f64, f64); 3] =
    [([1.1, 0.6, -0.4], 0.8, 0.3), ([-0.5, 1.3, 0.7], 0.6, 1.1), ([0.4, -0.8, 1.2], 0.7, 2.0)];

fn exact(x: Point3<f64>) -> Vector3<f64> {
    Vector3::from_fn(|i, _| {
        let (k, a, c) = WAVES[i];
        a * (Vector3::from(k).dot(&x.coords) + c).sin()
    })
}

/// Gradient, row i the gradient of u_i.
fn slope_of(x: Point3<f64>) -> Matrix3<f64> {
    Matrix3::from_fn(|i, j| {
        let (k, a, c) = WAVES[i];
        a * k[j] * (Vector3::from(k).dot(&x.coords) + c).cos()
    })
}

/// Body force: minus ((lambda + mu) grad div u + mu laplace u).
fn body_force(x: Point3<f64>, (lambda, mu): (f64, f64)) -> Vector3<f64> {
    let mut force = Vector3::zeros();
    for (i, (k, a, c)) in WAVES.into_iter().enumerate() {
        let k = Vector3::from(k);
        let value = a * (k.dot(&x.coords) + c).sin();
        force[i] += mu * k.norm_squared() * value;
        force += k * ((lambda + mu) * k[i] * value);
    }
    force
}

fn traction(x: Point3<f64>, normal: Vector3<f64>, (lambda, mu): (f64, f64)) -> Vector3<f64> {
    let g = slope_of(x);
    (g + g.transpose()) * normal * mu + normal * (lambda * g.trace())
}

/// Bent about y, twisted about z, and swollen: no plane face left.
fn shape_of_block(p: Point3<f64>) -> Point3<f64> {
    let (x, y, z) = (2.0 * p.x, 1.0 + p.y, p.z);
    let (sine, cosine) = (0.5 * x).sin_cos();
    let (r, w) = (2.0 + z + 0.15 * (2.0 * p.y).sin(), y + 0.2 * p.z * p.x);
    Point3::new(r * sine, w, r * cosine - 2.0)
}

/// L2 error and H1-seminorm error.
fn errors(n: usize, poisson: f64, formulation: Formulation, quadrature_points: usize) -> (f64, f64) {
    let mesh = Block::uniform([n, n, n]).mesh(shape_of_block, |_| Region::Ligament).unwrap();
    let body = Body { mesh: &mesh, materials: with_ligament(1.0, poisson), formulation, quadrature_points };
    let lame = body.materials.ligament.lame();
    let held = [face::XI0, face::ETA0, face::ETA1, face::ZETA0];
    let held = || held.into_iter().flat_map(|name| nodes(&mesh, name));
    let supports = Supports::none(&mesh).hold(held(), [true; 3]);
    let case = LoadCase::new(&mesh)
        .with(&body.body_force(|x| body_force(*x, lame)))
        .with(&body.traction(face::XI1, |x, normal| traction(*x, *normal, lame)))
        .with(&body.traction(face::ZETA1, |x, normal| traction(*x, *normal, lame)))
        .moving(&mesh, held(), exact);
    let answer = &body.solve(&supports, &[case]).unwrap()[0];
    norms(&mesh, &answer.displacement)
}

fn norms(mesh: &TetMesh, field: &[Vector3<f64>]) -> (f64, f64) {
    let rule = Quadrature::with_points(15).unwrap();
    let (mut l2, mut h1) = (0.0, 0.0);
    for (cell, numbers) in mesh.cells().iter().enumerate() {
        let places = mesh.cell_nodes(cell);
        for point in rule.points() {
            let n = shape(point.barycentric);
            let (gradients, determinant) = gradients_at(&places, point.barycentric);
            let (mut x, mut u, mut g) = (Vector3::zeros(), Vector3::zeros(), Matrix3::zeros());
            for a in 0..10 {
                let value = field[numbers[a] as usize];
                x += places[a].coords * n[a];
                u += value * n[a];
                g += value * gradients[a].transpose();
            }
            let at = Point3::from(x);
            let weight = point.weight * determinant;
            l2 += weight * (u - exact(at)).norm_squared();
            h1 += weight * (g - slope_of(at)).norm_squared();
        }
    }
    (l2.sqrt(), h1.sqrt())
}

fn series(poisson: f64, formulation: Formulation, points: usize) -> ([f64; 2], [f64; 2]) {
    let counts = [3, 4, 6, 8];
    let sizes = counts.map(|n| 1.0 / n as f64);
    let errors = counts.map(|n| errors(n, poisson, formulation, points));
    let (l2, h1) = (errors.map(|e| e.0), errors.map(|e| e.1));
    ([slope(&sizes, &l2), slope(&sizes, &h1)], [l2[3], h1[3]])
}

#[test]
fn plain_element_is_of_third_and_second_order() {
    for (poisson, points) in [(0.3, 4), (0.3, 11), (0.45, 4)] {
        let ([l2, h1], [last_l2, last_h1]) = series(poisson, Formulation::Displacement, points);
        let name = |what: &str| format!("manufactured, {what}, nu {poisson}, {points} points");
        absolute(&name("slope in L2"), 3.0, l2, 0.15);
        absolute(&name("slope in H1"), 2.0, h1, 0.15);
        band(&name("finest L2 error"), (0.0, 1e-3), last_l2);
        band(&name("finest H1 error"), (0.0, 3e-2), last_h1);
    }
}

/// Constant pressure in each element: second order in L2, first in H1, whatever nu.
#[test]
fn mean_dilatation_does_not_lock() {
    for poisson in [0.3, 0.49, 0.4999] {
        let ([l2, h1], [last_l2, last_h1]) = series(poisson, Formulation::MeanDilatation, 4);
        let name = |what: &str| format!("manufactured, mean dilatation, {what}, nu {poisson}");
        band(&name("slope in L2"), (1.6, 3.15), l2);
        band(&name("slope in H1"), (0.8, 2.15), h1);
        band(&name("finest L2 error"), (0.0, 1e-2), last_l2);
        band(&name("finest H1 error"), (0.0, 1e-1), last_h1);
    }
}
