//! Source: theory of finite elements (Ciarlet 1978, from memory): quadratic elements converge with h^3 in the L2 norm and
//! h^2 in the H1 seminorm, curved isoparametric ones too if mid-side nodes leave the chord by no more than O(h^2).
//! Goal: element, assembly, loads and curved geometry together, on a displacement that no element can represent.
//! Mesh: a twisted, bent block of 3^3 to 8^3 boxes, all sides curved.
//! Supports and loads: a sum of plane waves as displacement; body force from Navier's equations, the exact traction on
//! two faces, the exact displacement at the nodes of the other four.
//! Expected: slopes 3 and 2.
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

/// `u_i = a_i sin(k_i . x + c_i)`.
#[derive(Clone, Copy)]
struct Waves([([f64; 3], f64, f64); 3]);

const GENERAL: Waves =
    Waves([([1.1, 0.6, -0.4], 0.8, 0.3), ([-0.5, 1.3, 0.7], 0.6, 1.1), ([0.4, -0.8, 1.2], 0.7, 2.0)]);
/// Without change of volume: `u_i` does not vary along axis i.
const SOLENOIDAL: Waves =
    Waves([([0.0, 1.1, -0.7], 0.8, 0.3), ([-0.9, 0.0, 1.2], 0.6, 1.1), ([0.8, -1.3, 0.0], 0.7, 2.0)]);

impl Waves {
    fn displacement(&self, x: Point3<f64>) -> Vector3<f64> {
        Vector3::from_fn(|i, _| {
            let (k, a, c) = self.0[i];
            a * (Vector3::from(k).dot(&x.coords) + c).sin()
        })
    }

    /// Row i is the gradient of `u_i`.
    fn gradient(&self, x: Point3<f64>) -> Matrix3<f64> {
        Matrix3::from_fn(|i, j| {
            let (k, a, c) = self.0[i];
            a * k[j] * (Vector3::from(k).dot(&x.coords) + c).cos()
        })
    }

    /// Minus ((lambda + mu) grad div u + mu laplace u).
    fn body_force(&self, x: Point3<f64>, (lambda, mu): (f64, f64)) -> Vector3<f64> {
        let mut force = Vector3::zeros();
        for (i, (k, a, c)) in self.0.into_iter().enumerate() {
            let k = Vector3::from(k);
            let value = a * (k.dot(&x.coords) + c).sin();
            force[i] += mu * k.norm_squared() * value;
            force += k * ((lambda + mu) * k[i] * value);
        }
        force
    }

    fn traction(&self, x: Point3<f64>, normal: Vector3<f64>, (lambda, mu): (f64, f64)) -> Vector3<f64> {
        let g = self.gradient(x);
        (g + g.transpose()) * normal * mu + normal * (lambda * g.trace())
    }
}

/// Bent about y, twisted about z, and swollen: no plane face left.
fn shape_of_block(p: Point3<f64>) -> Point3<f64> {
    let (x, y, z) = (2.0 * p.x, 1.0 + p.y, p.z);
    let (sine, cosine) = (0.5 * x).sin_cos();
    let (r, w) = (2.0 + z + 0.15 * (2.0 * p.y).sin(), y + 0.2 * p.z * p.x);
    Point3::new(r * sine, w, r * cosine - 2.0)
}

/// L2 error and H1-seminorm error.
fn errors(
    waves: &Waves,
    n: usize,
    poisson: f64,
    formulation: Formulation,
    quadrature_points: usize,
) -> (f64, f64) {
    let mesh = Block::uniform([n, n, n]).mesh(shape_of_block, |_| Region::Ligament).unwrap();
    let body = Body { mesh: &mesh, materials: with_ligament(1.0, poisson), formulation, quadrature_points };
    let lame = body.materials.ligament.lame();
    let held = [face::XI0, face::ETA0, face::ETA1, face::ZETA0];
    let held = || held.into_iter().flat_map(|name| nodes(&mesh, name));
    let supports = Supports::none(&mesh).hold(held(), [true; 3]);
    let case = LoadCase::new(&mesh)
        .with(&body.body_force(|x| waves.body_force(*x, lame)))
        .with(&body.traction(face::XI1, |x, normal| waves.traction(*x, *normal, lame)))
        .with(&body.traction(face::ZETA1, |x, normal| waves.traction(*x, *normal, lame)))
        .moving(&mesh, held(), |x| waves.displacement(x));
    let answer = &body.solve(&supports, &[case]).unwrap()[0];
    norms(waves, &mesh, &answer.displacement)
}

fn norms(waves: &Waves, mesh: &TetMesh, field: &[Vector3<f64>]) -> (f64, f64) {
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
            l2 += weight * (u - waves.displacement(at)).norm_squared();
            h1 += weight * (g - waves.gradient(at)).norm_squared();
        }
    }
    (l2.sqrt(), h1.sqrt())
}

fn series(waves: &Waves, poisson: f64, formulation: Formulation, points: usize) -> ([f64; 2], [f64; 2]) {
    let counts = [3, 4, 6, 8];
    let sizes = counts.map(|n| 1.0 / n as f64);
    let errors = counts.map(|n| errors(waves, n, poisson, formulation, points));
    let (l2, h1) = (errors.map(|e| e.0), errors.map(|e| e.1));
    ([slope(&sizes, &l2), slope(&sizes, &h1)], [l2[3], h1[3]])
}

#[test]
fn plain_element_is_of_third_and_second_order() {
    for (poisson, points) in [(0.3, 4), (0.3, 11), (0.45, 4)] {
        let ([l2, h1], [last_l2, last_h1]) = series(&GENERAL, poisson, Formulation::Displacement, points);
        let name = |what: &str| format!("manufactured, {what}, nu {poisson}, {points} points");
        absolute(&name("slope in L2"), 3.0, l2, 0.15);
        absolute(&name("slope in H1"), 2.0, h1, 0.15);
        band(&name("finest L2 error"), (0.0, 1e-3), last_l2);
        band(&name("finest H1 error"), (0.0, 3e-2), last_h1);
    }
}

/// The ligament's own element keeps both orders up to nu = 0.49.
#[test]
fn projected_dilatation_keeps_the_orders() {
    for (waves, poisson) in [(GENERAL, 0.3), (GENERAL, 0.45), (GENERAL, 0.49), (SOLENOIDAL, 0.49)] {
        let ([l2, h1], [last_l2, last_h1]) = series(&waves, poisson, Formulation::ProjectedDilatation, 4);
        let name = |what: &str| format!("manufactured, projected dilatation, {what}, nu {poisson}");
        absolute(&name("slope in L2"), 3.0, l2, 0.15);
        absolute(&name("slope in H1"), 2.0, h1, 0.15);
        band(&name("finest L2 error"), (0.0, 2e-3), last_l2);
        band(&name("finest H1 error"), (0.0, 6e-2), last_h1);
    }
}

/// Nearly incompressible and without change of volume: the error grows by half from nu = 0.49 to 0.4999 and is little
/// more than half that of the plain element there. On these meshes half an order is lost.
#[test]
fn projected_dilatation_does_not_lock() {
    let ([_, _], [l2, h1]) = series(&SOLENOIDAL, 0.49, Formulation::ProjectedDilatation, 4);
    let ([order_l2, order_h1], [close_l2, close_h1]) =
        series(&SOLENOIDAL, 0.4999, Formulation::ProjectedDilatation, 4);
    let (_, [plain_l2, plain_h1]) = series(&SOLENOIDAL, 0.4999, Formulation::Displacement, 4);
    let name = |what: &str| format!("manufactured, nu 0.4999, {what}");
    band(&name("slope in L2"), (2.5, 3.15), order_l2);
    band(&name("slope in H1"), (1.5, 2.15), order_h1);
    band(&name("L2 error over that at 0.49"), (0.9, 1.6), close_l2 / l2);
    band(&name("H1 error over that at 0.49"), (0.9, 1.8), close_h1 / h1);
    band(&name("L2 error over that of the plain element"), (0.0, 0.65), close_l2 / plain_l2);
    band(&name("H1 error over that of the plain element"), (0.0, 0.6), close_h1 / plain_h1);
}
