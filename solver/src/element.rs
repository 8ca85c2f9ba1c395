//! The curved ten-node tetrahedron: shape functions, quadrature and stiffness. Knows nothing of meshes or
//! systems.

pub mod prism;
pub mod quadrature;

use gomphosis_mesh_gen::mesh::{EDGES, shape_gradients};
use nalgebra::{Matrix3, Point3, Vector3};

pub use quadrature::Quadrature;

/// Nodes of an element.
pub const NODES: usize = 10;
/// Pairs `(a, b)` of nodes with `a >= b`.
pub const PAIRS: usize = NODES * (NODES + 1) / 2;

/// Number of the pair `(a, b)`, `a >= b`.
#[must_use]
pub const fn pair(a: usize, b: usize) -> usize {
    a * (a + 1) / 2 + b
}

/// The ten quadratic shape functions at barycentric coordinates `l` (VTK order: corners, then the mid-side
/// nodes of the edges 01 12 02 03 13 23).
#[must_use]
pub fn shape(l: [f64; 4]) -> [f64; NODES] {
    let mut n = [0.0; NODES];
    for i in 0..4 {
        n[i] = l[i] * (2.0 * l[i] - 1.0);
    }
    for (k, [i, j]) in EDGES.into_iter().enumerate() {
        n[4 + k] = 4.0 * l[i] * l[j];
    }
    n
}

/// Jacobian `J_ij = dx_j / dxi_i` for reference gradients at one point.
fn jacobian(nodes: &[Point3<f64>; NODES], gradients: &[Vector3<f64>; NODES]) -> Matrix3<f64> {
    let mut j = Matrix3::zeros();
    for (x, g) in nodes.iter().zip(gradients) {
        j += g * x.coords.transpose();
    }
    j
}

/// Gradients of the shape functions in space at barycentric coordinates `l`, and the determinant of the
/// Jacobian (six times the volume for straight sides).
#[must_use]
pub fn gradients_at(nodes: &[Point3<f64>; NODES], l: [f64; 4]) -> ([Vector3<f64>; NODES], f64) {
    physical_gradients(nodes, &shape_gradients(l))
}

fn physical_gradients(
    nodes: &[Point3<f64>; NODES],
    reference: &[Vector3<f64>; NODES],
) -> ([Vector3<f64>; NODES], f64) {
    let j = jacobian(nodes, reference);
    // Inverse by cofactors; the columns of the inverse over the determinant.
    let (r0, r1, r2) = (j.row(0).transpose(), j.row(1).transpose(), j.row(2).transpose());
    let (c0, c1, c2) = (r1.cross(&r2), r2.cross(&r0), r0.cross(&r1));
    let determinant = r0.dot(&c0);
    let scale = determinant.recip();
    (reference.map(|g| (c0 * g.x + c1 * g.y + c2 * g.z) * scale), determinant)
}

/// Volume of an element, mm3.
#[must_use]
pub fn volume(nodes: &[Point3<f64>; NODES], rule: &Quadrature) -> f64 {
    rule.points().map(|p| p.weight * jacobian(nodes, p.gradients).determinant()).sum()
}

/// Lower triangle of the symmetric stiffness of one element: block `pair(a, b)` is the 3x3 matrix (row by
/// row) that takes the displacement of node `b` to the force on node `a`.
#[derive(Debug, Clone)]
pub struct ElementMatrix {
    /// The blocks, N/mm.
    pub blocks: [[f64; 9]; PAIRS],
}

impl ElementMatrix {
    /// Adds the forces that displacements of the ten nodes cause: `f += K u`.
    pub fn apply(&self, u: &[Vector3<f64>; NODES], f: &mut [Vector3<f64>; NODES]) {
        for a in 0..NODES {
            for b in 0..=a {
                let k = Matrix3::from_row_slice(&self.blocks[pair(a, b)]);
                f[a] += k * u[b];
                if a != b {
                    f[b] += k.tr_mul(&u[a]);
                }
            }
        }
    }
}

/// Row length of the working matrix: thirty rounded up to a full number of vector lanes.
const ROW: usize = 32;

/// Stiffness of the plain displacement element with Lamé constants `(lambda, mu)` in MPa.
///
/// With `H_ab = integral g_a g_b^T dV` over the gradients of the shape functions, the block is
/// `lambda H_ab + mu H_ab^T + mu tr(H_ab) I`.
///
/// # Errors
/// The determinant of the Jacobian, if it is not positive at a point of the rule.
pub fn stiffness(
    nodes: &[Point3<f64>; NODES],
    (lambda, mu): (f64, f64),
    rule: &Quadrature,
) -> Result<ElementMatrix, f64> {
    // h[(3a + i), (3b + j)] = integral g_ai g_bj: a sum of outer products of one vector of thirty.
    let mut h = [[0.0; ROW]; 3 * NODES];
    for point in rule.points() {
        let (gradients, determinant) = physical_gradients(nodes, point.gradients);
        if determinant.is_nan() || determinant <= 0.0 {
            return Err(determinant);
        }
        let weight = point.weight * determinant;
        let mut g = [0.0; ROW];
        for (slot, value) in g.iter_mut().zip(gradients.iter().flat_map(Vector3::iter)) {
            *slot = *value;
        }
        for (row, &gr) in h.iter_mut().zip(&g) {
            let scaled = weight * gr;
            for (out, value) in row.iter_mut().zip(&g) {
                *out += scaled * value;
            }
        }
    }
    let mut blocks = [[0.0; 9]; PAIRS];
    for a in 0..NODES {
        for b in 0..=a {
            let block = &mut blocks[pair(a, b)];
            let (ra, rb) = (3 * a, 3 * b);
            let trace = mu * (h[ra][rb] + h[ra + 1][rb + 1] + h[ra + 2][rb + 2]);
            for i in 0..3 {
                for j in 0..3 {
                    block[3 * i + j] = lambda * h[ra + i][rb + j] + mu * h[ra + j][rb + i];
                }
                block[4 * i] += trace;
            }
        }
    }
    Ok(ElementMatrix { blocks })
}

#[cfg(test)]
#[path = "element/tests.rs"]
mod tests;
