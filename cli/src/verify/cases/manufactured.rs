//! Orders of convergence on a displacement that no element can represent.

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::{Observer, Region, TetMesh};
use gomphosis_solver::Formulation;
use gomphosis_solver::element::{Quadrature, gradients_at, shape};
use nalgebra::{Matrix3, Point3, Vector3};

use crate::verify::model::{LIGAMENT, nodes, with_ligament};
use crate::verify::row::{furthest, slope};
use crate::verify::statics::{Body, LoadCase, Supports};
use crate::verify::{Case, Row, VerifyError};

/// The case.
pub const CASE: Case = Case {
    name: "manufactured",
    title: "Manufactured solution",
    source: "theory of finite elements",
    reference: "Ciarlet 1978 (from memory): quadratic elements converge with h^3 in the L2 norm and h^2 in the H1 seminorm, \
        curved isoparametric ones too if mid-side nodes leave the chord by no more than O(h^2)",
    goal: "element, assembly, loads and curved geometry together, on a displacement that no element can represent",
    mesh: "a twisted, bent block of 3, 4, 6 and 8 boxes each way, all sides curved; a sum of plane waves as displacement, body \
        force from Navier's equations, exact traction on two faces, exact displacement of the other four",
    tolerance: "0.15 on the slopes of a fit over four meshes, and a cap on the finest error, so that a wrong constant shows \
        as well. Nearly incompressible (0.4999, a field without change of volume) half an order is lost on these meshes; the \
        error may grow by little from 0.49 and must stay below that of the plain element",
    run,
};

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
    (poisson, formulation, quadrature_points): (f64, Formulation, usize),
    observer: &dyn Observer,
) -> Result<[f64; 2], VerifyError> {
    let mesh = Block::uniform([n, n, n]).mesh(shape_of_block, |_| Region::Ligament)?;
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
    norms(waves, &mesh, &body.solve_one(&supports, case, observer)?.displacement)
}

fn norms(waves: &Waves, mesh: &TetMesh, field: &[Vector3<f64>]) -> Result<[f64; 2], VerifyError> {
    let rule = Quadrature::with_points(15).ok_or(VerifyError::Missing("no such quadrature rule"))?;
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
    Ok([l2.sqrt(), h1.sqrt()])
}

/// Sizes and errors of both norms over four meshes.
fn series(
    waves: &Waves,
    kind: (f64, Formulation, usize),
    observer: &dyn Observer,
) -> Result<[Vec<(f64, f64)>; 2], VerifyError> {
    let mut both = [Vec::new(), Vec::new()];
    for n in [3, 4, 6, 8] {
        for (list, error) in both.iter_mut().zip(errors(waves, n, kind, observer)?) {
            list.push((1.0 / n as f64, error));
        }
    }
    Ok(both)
}

fn run(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = Vec::new();
    let mut plain_orders = [Vec::new(), Vec::new()];
    let mut over_caps = [Vec::new(), Vec::new()];
    for (kind, caps) in [
        ((0.3, PLAIN, 4), [1e-3, 3e-2]),
        ((0.3, PLAIN, 11), [1e-3, 3e-2]),
        ((0.45, PLAIN, 4), [1e-3, 3e-2]),
        ((0.3, LIGAMENT, 4), [2e-3, 6e-2]),
        ((0.45, LIGAMENT, 4), [2e-3, 6e-2]),
        ((0.49, LIGAMENT, 4), [2e-3, 6e-2]),
    ] {
        let both = series(&GENERAL, kind, observer)?;
        for k in 0..2 {
            over_caps[k].push(both[k][3].1 / caps[k]);
            if kind.1 == PLAIN {
                plain_orders[k].push(slope(&both[k]) - ORDERS[k].1);
            } else {
                rows.push(order(&format!("nu {}", kind.0), k, &both[k]));
            }
        }
    }
    // Without change of volume.
    let base = series(&SOLENOIDAL, (0.49, LIGAMENT, 4), observer)?;
    let near = series(&SOLENOIDAL, (0.4999, LIGAMENT, 4), observer)?;
    let plain = series(&SOLENOIDAL, (0.4999, PLAIN, 4), observer)?;
    for k in 0..2 {
        let (norm, wanted) = ORDERS[k];
        rows.push(order("nu 0.49, volume kept", k, &base[k]));
        over_caps[k].push(base[k][3].1 / [2e-3, 6e-2][k]);
        let off = furthest(plain_orders[k].iter().copied());
        let name = format!("plain element, nu 0.3 and 0.45, order in {norm}, worst");
        rows.push(Row::absolute(name, wanted, wanted + off, 0.15));
    }
    for (k, (orders, growth, share)) in
        [((2.5, 3.15), 1.6, 0.65), ((1.5, 2.15), 1.8, 0.6)].into_iter().enumerate()
    {
        let norm = ORDERS[k].0;
        let last = near[k][3].1;
        let name = |what: &str| format!("nu 0.4999, volume kept, {what}");
        rows.push(Row::band(name(&format!("order in {norm}")), orders, slope(&near[k])));
        let (over_base, over_plain) = (last / base[k][3].1, last / plain[k][3].1);
        rows.push(Row::band(name(&format!("{norm} error over that at 0.49")), (0.9, growth), over_base));
        rows.push(Row::band(
            name(&format!("{norm} error over the plain element's")),
            (0.0, share),
            over_plain,
        ));
    }
    for k in 0..2 {
        let name = format!("finest {} error over its cap, largest of all", ORDERS[k].0);
        rows.push(Row::band(name, (0.0, 1.0), furthest(over_caps[k].iter().copied())));
    }
    Ok(rows)
}

const PLAIN: Formulation = Formulation::Displacement;

/// Norms and the orders they converge with.
const ORDERS: [(&str, f64); 2] = [("L2", 3.0), ("H1", 2.0)];

/// The slope of a fit over four meshes.
fn order(name: &str, norm: usize, errors: &[(f64, f64)]) -> Row {
    let (norm, wanted) = ORDERS[norm];
    Row::absolute(format!("{name}, order in {norm}"), wanted, slope(errors), 0.15)
}
