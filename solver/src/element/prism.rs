//! Three tetrahedra that make one prism of a layer, with the change of volume projected on linear functions.
//!
//! In a thin, nearly incompressible layer the pressure is smooth along the layer and nearly constant through
//! it. Three plain elements would control the change of volume with twelve functions and lock; the prism
//! keeps the four linear ones, which carry the pressure gradients that a constant cannot.

use nalgebra::{Cholesky, Matrix3, Matrix4, Point3, U4, Vector3, Vector4};

use super::{NODES, Quadrature, pair, physical_gradients};

/// Nodes of a prism of three ten-node tetrahedra.
pub const PRISM_NODES: usize = 18;
/// Elements of a prism.
pub const PRISM_CELLS: usize = 3;

/// How the thirty places of three elements map to the eighteen nodes of their prism.
#[derive(Debug, Clone, PartialEq)]
pub struct Prism {
    /// Global numbers of the nodes, in the order of their first appearance.
    pub nodes: [u32; PRISM_NODES],
    /// Local number of each node of each element.
    pub local: [[u8; NODES]; PRISM_CELLS],
}

impl Prism {
    /// Recognises three elements as a prism: six corners and eighteen nodes in all.
    #[must_use]
    pub fn of(cells: [&[u32; NODES]; PRISM_CELLS]) -> Option<Self> {
        let mut corners: Vec<u32> = cells.iter().flat_map(|c| c[..4].iter().copied()).collect();
        corners.sort_unstable();
        corners.dedup();
        if corners.len() != 6 {
            return None;
        }
        let mut nodes = Vec::with_capacity(PRISM_NODES);
        let mut local = [[0; NODES]; PRISM_CELLS];
        for (cell, local) in cells.iter().zip(&mut local) {
            for (n, slot) in cell.iter().zip(local) {
                let at = nodes.iter().position(|m| m == n).unwrap_or_else(|| {
                    nodes.push(*n);
                    nodes.len() - 1
                });
                *slot = at as u8;
            }
        }
        Some(Self { nodes: nodes.try_into().ok()?, local })
    }
}

/// The projection of the change of volume on linear functions over a prism.
///
/// With `phi = (1, (x - x_c) / s)`, `M = integral phi phi^T dV` and `G = integral phi div dV` (four rows over the
/// unknowns), the projected change of volume is `phi^T M^-1 G u` and its energy `kappa/2 u^T G^T M^-1 G u`
/// (Simo, Taylor and Pister 1985, CMAME 51:177-208; from memory).
#[derive(Debug, Clone)]
pub struct Dilatation {
    centre: Vector3<f64>,
    scale: f64,
    mass: Cholesky<f64, U4>,
    /// `integral phi g_a dV` for each node of the prism: row k is for function k.
    moments: [[Vector3<f64>; 4]; PRISM_NODES],
}

impl Dilatation {
    /// Prepares the projection.
    ///
    /// # Errors
    /// The determinant of the Jacobian, if it is not positive at a point of the rule.
    pub fn new(
        prism: &Prism,
        positions: &[[Point3<f64>; NODES]; PRISM_CELLS],
        rule: &Quadrature,
    ) -> Result<Self, f64> {
        let corners = positions.iter().flat_map(|cell| &cell[..4]);
        let centre = corners.clone().map(|x| x.coords).sum::<Vector3<f64>>() / 12.0;
        let scale = corners.map(|x| (x.coords - centre).norm()).fold(0.0, f64::max);
        let mut mass = Matrix4::zeros();
        let mut moments = [[Vector3::zeros(); 4]; PRISM_NODES];
        for (cell, local) in positions.iter().zip(&prism.local) {
            for point in rule.points() {
                let (gradients, determinant) = physical_gradients(cell, point.gradients);
                if determinant.is_nan() || determinant <= 0.0 {
                    return Err(determinant);
                }
                let weight = point.weight * determinant;
                let shape = super::shape(point.barycentric);
                let x: Vector3<f64> = cell.iter().zip(shape).map(|(x, n)| x.coords * n).sum();
                let phi = functions(&((x - centre) / scale));
                mass += phi * phi.transpose() * weight;
                for (g, &a) in gradients.iter().zip(local) {
                    for (moment, phi) in moments[a as usize].iter_mut().zip(phi.iter()) {
                        *moment += g * (weight * phi);
                    }
                }
            }
        }
        // Positive definite for any prism with a volume.
        let mass = Cholesky::new(mass).ok_or(0.0)?;
        Ok(Self { centre, scale, mass, moments })
    }

    /// Coefficients of the projected change of volume for displacements of the eighteen nodes.
    #[must_use]
    pub fn coefficients(&self, u: &[Vector3<f64>; PRISM_NODES]) -> Vector4<f64> {
        let mut right = Vector4::zeros();
        for (moment, u) in self.moments.iter().zip(u) {
            for (sum, m) in right.iter_mut().zip(moment) {
                *sum += m.dot(u);
            }
        }
        self.mass.solve(&right)
    }

    /// The projected change of volume at a place.
    #[must_use]
    pub fn value(&self, coefficients: &Vector4<f64>, x: &Point3<f64>) -> f64 {
        functions(&((x.coords - self.centre) / self.scale)).dot(coefficients)
    }
}

fn functions(x: &Vector3<f64>) -> Vector4<f64> {
    Vector4::new(1.0, x.x, x.y, x.z)
}

/// Lower triangle of the stiffness of a prism: plain shear of the three elements, projected change of volume.
///
/// # Errors
/// The determinant of the Jacobian, if it is not positive at a point of the rule.
///
/// # Panics
/// Never: the factor of a positive definite matrix has no zero on its diagonal.
pub fn stiffness(
    prism: &Prism,
    positions: &[[Point3<f64>; NODES]; PRISM_CELLS],
    (lambda, mu): (f64, f64),
    rule: &Quadrature,
) -> Result<Vec<[f64; 9]>, f64> {
    let mut blocks = vec![[0.0; 9]; PRISM_NODES * (PRISM_NODES + 1) / 2];
    for (cell, local) in positions.iter().zip(&prism.local) {
        // The plain element without its bulk modulus: lambda + 2/3 mu = 0.
        let shear = super::stiffness(cell, (-2.0 / 3.0 * mu, mu), rule)?.blocks;
        for a in 0..NODES {
            for b in 0..=a {
                let (la, lb) = (local[a] as usize, local[b] as usize);
                let block = &shear[pair(a, b)];
                let sum = &mut blocks[pair(la.max(lb), la.min(lb))];
                for i in 0..3 {
                    for j in 0..3 {
                        sum[3 * i + j] += if la >= lb { block[3 * i + j] } else { block[3 * j + i] };
                    }
                }
            }
        }
    }
    let kappa = lambda + 2.0 / 3.0 * mu;
    let dilatation = Dilatation::new(prism, positions, rule)?;
    let factor = dilatation.mass.l();
    // Orthonormal functions: rows of L^-1 G.
    let rows = dilatation.moments.map(|moments| {
        let moments = nalgebra::Matrix4x3::from_rows(&moments.map(|m| m.transpose()));
        factor.solve_lower_triangular(&moments).expect("a Cholesky factor has no zero on its diagonal")
    });
    for a in 0..PRISM_NODES {
        for b in 0..=a {
            let volume: Matrix3<f64> = rows[a].tr_mul(&rows[b]) * kappa;
            let sum = &mut blocks[pair(a, b)];
            for i in 0..3 {
                for j in 0..3 {
                    sum[3 * i + j] += volume[(i, j)];
                }
            }
        }
    }
    Ok(blocks)
}
