//! What the mesh leaves out of the compliance: an estimate from one solution, without a second mesh.
//!
//! Two parts, each a symmetric 6x6 matrix to be added to the compliance.
//!
//! *Elements*: the fields of the six unit loads lie in the span of the elements, so the work they miss is the energy of
//! the error, `integral (s_i - s_h,i) : S : (s_j - s_h,j) dV` with the exact stress `s`, the computed stress `s_h` and the
//! elastic compliance `S`. The exact stress is replaced by the one recovered at the nodes (Zienkiewicz and Zhu 1987,
//! IJNME 24:337-357; from memory).
//!
//! *Thickness*: where curved edges are quadratic arcs or had to be straightened, the layer is thinner or thicker than
//! asked. Moving a clamped boundary outward by `d` changes the compliance by `integral s_i : e_j d dA` over it (the
//! derivative of the energy to the shape), with `d` the thickness asked less the thickness of the mesh.
//!
//! Both are estimates. The recovered stress knows nothing of the singular edges where the layer leaves root and wall at the
//! free crest, and shows about half of the energy there; [`ELEMENTS`] and [`THICKNESS`] make bounds of the two parts.

mod planar;

use gomphosis_mesh_gen::mesh::FACES;
use gomphosis_mesh_gen::{Region, surface, triangle};
use nalgebra::{Matrix3, Matrix6};
use rayon::prelude::*;

use crate::assembly::Elements;
use crate::compliance::Compliance;
use crate::element::{Quadrature, shape};
use crate::error::SolverError;
use crate::ligament::{CellStress, Stress, cell_stresses};
use crate::model::UnitSolutions;
use crate::problem::ToothProblem;
use crate::strain::UnitStrain;

pub use planar::PlanarDiscretisation;

/// Factor on what the elements miss, piece by piece without cancellation. On paraboloid roots of two laws of thickness, two
/// levels of the crest and Poisson ratios 0.3 to 0.49 the error against an axisymmetric reference was up to 3.3 times what
/// the recovered stress shows, 1.7 times in the median (the `accuracy` example of the tests prints the table).
pub const ELEMENTS: f64 = 4.0;

/// Share of what single pieces of the wall may change, without cancellation, that is added to what they change together:
/// the derivative is exact to first order, but the root has moved where the wall has.
pub const THICKNESS: f64 = 0.5;

/// What is estimated to be missing from a compliance, at its own point, in pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct Discretisation {
    /// From the elements of the ligament, one matrix an element.
    elements: Vec<Matrix6<f64>>,
    /// From the thickness of the ligament in the mesh, one matrix a unit of elements.
    thickness: Vec<Matrix6<f64>>,
}

/// Estimated error of a number that follows from the compliance, in its own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ErrorEstimate {
    /// The number with what is missing, less the number as computed.
    pub bias: f64,
    /// Bound of the error: [`ELEMENTS`] times what the elements may change, piece by piece without regard to sign, and what
    /// the thickness changes in all with the share [`THICKNESS`] of its pieces.
    pub bound: f64,
}

impl Discretisation {
    /// Estimates what is missing; `shortfall` is thickness asked less thickness achieved, mm, for each face of the
    /// socket's wall at the six points of [`triangle::RULE`].
    ///
    /// # Errors
    /// [`SolverError::NoElements`] or [`SolverError::NoSurface`].
    pub fn estimate(
        problem: &ToothProblem,
        solutions: &UnitSolutions,
        shortfall: &[[f64; 6]],
    ) -> Result<Self, SolverError> {
        let elements = Elements::new(
            problem.mesh,
            &[Region::Ligament],
            &problem.materials,
            problem.formulation,
            Quadrature::gauss(),
        );
        if elements.is_empty() {
            return Err(SolverError::NoElements { body: "ligament" });
        }
        let parts = cell_stresses(&elements, &solutions.motions);
        Ok(Self {
            elements: missing_energy(&elements, &parts),
            thickness: missing_thickness(&elements, solutions, shortfall)?,
        })
    }

    /// What the elements leave out of the compliance.
    #[must_use]
    pub fn of_elements(&self) -> Matrix6<f64> {
        self.elements.iter().sum()
    }

    /// What the thickness of the mesh leaves out of the compliance.
    #[must_use]
    pub fn of_thickness(&self) -> Matrix6<f64> {
        self.thickness.iter().sum()
    }

    /// The compliance with what is missing.
    #[must_use]
    pub fn complete(&self, compliance: &Compliance) -> Compliance {
        Compliance {
            point: compliance.point,
            matrix: compliance.matrix + self.of_elements() + self.of_thickness(),
        }
    }

    /// Error of several numbers at once; `numbers` gives them for a compliance.
    #[must_use]
    pub fn errors<const N: usize>(
        &self,
        compliance: &Compliance,
        numbers: impl Fn(&Compliance) -> [f64; N],
    ) -> [ErrorEstimate; N] {
        let now = numbers(compliance);
        let complete = numbers(&self.complete(compliance));
        let slopes = slopes(compliance, numbers);
        std::array::from_fn(|k| ErrorEstimate {
            bias: complete[k] - now[k],
            bound: bound(
                self.elements.iter().map(|piece| slopes[k].dot(piece)),
                self.thickness.iter().map(|piece| slopes[k].dot(piece)),
            ),
        })
    }
}

/// Bound of an error from what each piece changes.
fn bound(elements: impl Iterator<Item = f64>, thickness: impl Iterator<Item = f64>) -> f64 {
    let (together, apart) = thickness.fold((0.0, 0.0), |(sum, size), v| (sum + v, size + f64::abs(v)));
    ELEMENTS * elements.map(f64::abs).sum::<f64>() + f64::abs(together) + THICKNESS * apart
}

/// Derivatives of numbers to the entries of a symmetric compliance, by central differences.
fn slopes<const N: usize>(
    compliance: &Compliance,
    numbers: impl Fn(&Compliance) -> [f64; N],
) -> [Matrix6<f64>; N] {
    const STEP: f64 = 1e-5;
    let c = &compliance.matrix;
    let mut slopes = [Matrix6::zeros(); N];
    for i in 0..6 {
        for j in 0..=i {
            let step = STEP * (c[(i, i)] * c[(j, j)]).sqrt();
            let moved = |sign: f64| {
                let mut matrix = *c;
                matrix[(i, j)] += sign * step;
                if i != j {
                    matrix[(j, i)] += sign * step;
                }
                numbers(&Compliance { point: compliance.point, matrix })
            };
            let (up, down) = (moved(1.0), moved(-1.0));
            for k in 0..N {
                let slope = (up[k] - down[k]) / (2.0 * step);
                // A change of an entry off the diagonal is one of two.
                slopes[k][(i, j)] = if i == j { slope } else { 0.5 * slope };
                slopes[k][(j, i)] = slopes[k][(i, j)];
            }
        }
    }
    slopes
}

/// `integral (s*_i - s_i) : S : (s*_j - s_j) dV`.
fn missing_energy(elements: &Elements, parts: &[CellStress]) -> Vec<Matrix6<f64>> {
    let nodes = elements.mesh().nodes().len();
    let mut weights = vec![0.0; nodes];
    let mut recovered = vec![[Stress::default(); 6]; nodes];
    for (k, part) in parts.iter().enumerate() {
        for (local, &node) in elements.nodes(k).iter().enumerate() {
            weights[node as usize] += part.volume;
            for (sum, values) in recovered[node as usize].iter_mut().zip(&part.at_nodes) {
                sum.add(&values[local], part.volume);
            }
        }
    }
    for (sums, weight) in recovered.iter_mut().zip(&weights) {
        for sum in sums {
            sum.0.iter_mut().for_each(|v| *v /= weight);
        }
    }
    let rule = elements.rule();
    parts
        .par_iter()
        .enumerate()
        .map(|(k, part)| {
            let positions = elements.positions(k);
            let mut energy = Matrix6::zeros();
            for point in rule.points() {
                let (_, determinant) = crate::element::gradients_at(&positions, point.barycentric);
                let n = shape(point.barycentric);
                let difference: [Stress; 6] = std::array::from_fn(|load| {
                    let mut d = Stress::default();
                    for (local, &node) in elements.nodes(k).iter().enumerate() {
                        d.add(&recovered[node as usize][load], n[local]);
                        if local < 4 {
                            d.add(&part.at_nodes[load][local], -point.barycentric[local]);
                        }
                    }
                    d
                });
                energy += products(&difference, elements.lame(k)) * (point.weight * determinant);
            }
            energy
        })
        .collect()
}

/// `a_i : S : a_j` of six stresses: `dev : dev / 2 mu + tr tr / 9 K`.
fn products(a: &[Stress; 6], (lambda, mu): (f64, f64)) -> Matrix6<f64> {
    let bulk = lambda + 2.0 * mu / 3.0;
    Matrix6::from_fn(|i, j| {
        let (s, t) = (&a[i].0, &a[j].0);
        let (tr_s, tr_t) = (s[0] + s[1] + s[2], t[0] + t[1] + t[2]);
        let full: f64 = (0..3).map(|k| s[k] * t[k] + 2.0 * s[k + 3] * t[k + 3]).sum();
        (full - tr_s * tr_t / 3.0) / (2.0 * mu) + tr_s * tr_t / (9.0 * bulk)
    })
}

/// `integral s_i : e_j d dA` over the wall.
fn missing_thickness(
    elements: &Elements,
    solutions: &UnitSolutions,
    shortfall: &[[f64; 6]],
) -> Result<Vec<Matrix6<f64>>, SolverError> {
    let mesh = elements.mesh();
    let wall = mesh.surface(surface::SOCKET_WALL);
    if wall.is_empty() || wall.len() != shortfall.len() {
        return Err(SolverError::NoSurface { name: surface::SOCKET_WALL });
    }
    let key = |corners: [u32; 3]| {
        let mut key = corners;
        key.sort_unstable();
        key
    };
    let mut index: Vec<([u32; 3], usize)> =
        wall.iter().enumerate().map(|(i, t)| (key([t[0], t[1], t[2]]), i)).collect();
    index.sort_unstable();
    let pieces = elements
        .units()
        .par_iter()
        .map(|unit| {
            let mut sum = Matrix6::zeros();
            let strain = UnitStrain::new(elements, unit, &solutions.motions);
            for k in strain.cells() {
                let nodes = elements.nodes(k);
                for face in FACES {
                    let corners = [nodes[face[0]], nodes[face[1]], nodes[face[2]]];
                    let Ok(found) = index.binary_search_by_key(&key(corners), |face| face.0) else {
                        continue;
                    };
                    let at = index[found].1;
                    let positions = wall[at].map(|n| mesh.nodes()[n as usize]);
                    for (&(l, share), &short) in triangle::RULE.iter().zip(&shortfall[at]) {
                        let point = triangle::point_at(&positions, l, share);
                        let barycentric = std::array::from_fn(|local| {
                            (0..3).find(|&c| wall[at][c] == nodes[local]).map_or(0.0, |c| l[c])
                        });
                        let (gradients, _) = strain.at(k, barycentric);
                        sum += densities(&gradients, elements.lame(k)) * (short * point.weight);
                    }
                }
            }
            sum
        })
        .collect();
    Ok(pieces)
}

/// `s_i : e_j` of six displacement gradients.
fn densities(gradients: &[Matrix3<f64>; 6], lame: (f64, f64)) -> Matrix6<f64> {
    let stresses = gradients.map(|h| Stress::from_gradient(&h, lame).0);
    Matrix6::from_fn(|i, j| {
        let (s, h) = (&stresses[i], &gradients[j]);
        s[0] * h.m11
            + s[1] * h.m22
            + s[2] * h.m33
            + s[3] * (h.m12 + h.m21)
            + s[4] * (h.m23 + h.m32)
            + s[5] * (h.m13 + h.m31)
    })
}
