//! Quadrature over the reference tetrahedron.

use gomphosis_mesh_gen::mesh::{EDGES, shape_gradients};
use nalgebra::Vector3;

use super::NODES;

/// A rule with the reference gradients of the shape functions at its points.
#[derive(Debug, Clone)]
pub struct Quadrature {
    points: Vec<StoredPoint>,
}

#[derive(Debug, Clone)]
struct StoredPoint {
    barycentric: [f64; 4],
    weight: f64,
    gradients: [Vector3<f64>; NODES],
}

/// A point of a rule.
#[derive(Debug, Clone, Copy)]
pub struct QuadraturePoint<'a> {
    /// Barycentric coordinates.
    pub barycentric: [f64; 4],
    /// Weight; the weights of a rule sum to 1/6, the volume of the reference element.
    pub weight: f64,
    /// Gradients of the ten shape functions to the local coordinates.
    pub gradients: &'a [Vector3<f64>; NODES],
}

impl Quadrature {
    /// The rule with 4 points (degree 2; Hammer, Marlowe and Stroud 1956), 11 points (degree 4) or 15 points
    /// (degree 5; both Keast 1986, CMAME 55:339-348; from memory). `None` for any other number.
    #[must_use]
    pub fn with_points(points: usize) -> Option<Self> {
        let list = match points {
            4 => four(),
            11 => eleven(),
            15 => fifteen(),
            _ => return None,
        };
        Some(Self::from_list(list))
    }

    /// The rule with 4 points.
    #[must_use]
    pub fn gauss() -> Self {
        Self::from_list(four())
    }

    /// Value at a node of the linear function that is 1 at one point of the 4-point rule and 0 at the others.
    ///
    /// Each point has one odd coordinate `a` and three `b`; a place with barycentric coordinates `l` has the
    /// coordinates `(l_j - b) / (a - b)` in the tetrahedron of the points.
    #[must_use]
    pub fn gauss_to_node(point: usize, node: usize) -> f64 {
        let (a, b) = gauss_coordinates();
        let l = if node < 4 {
            f64::from(u8::from(node == point))
        } else {
            0.5 * f64::from(u8::from(EDGES[node - 4].contains(&point)))
        };
        (l - b) / (a - b)
    }

    fn from_list(list: Vec<([f64; 4], f64)>) -> Self {
        let points = list
            .into_iter()
            .map(|(l, weight)| StoredPoint { barycentric: l, weight, gradients: shape_gradients(l) })
            .collect();
        Self { points }
    }

    /// Number of points.
    #[must_use]
    pub fn len(&self) -> usize {
        self.points.len()
    }

    /// Never true for a rule.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// The points.
    pub fn points(&self) -> impl Iterator<Item = QuadraturePoint<'_>> {
        self.points.iter().map(|p| QuadraturePoint {
            barycentric: p.barycentric,
            weight: p.weight,
            gradients: &p.gradients,
        })
    }
}

/// Four places that differ in one coordinate.
fn corners(odd: f64, other: f64) -> impl Iterator<Item = [f64; 4]> {
    (0..4).map(move |i| {
        let mut l = [other; 4];
        l[i] = odd;
        l
    })
}

/// Six places with two coordinates `a` and two `b`.
fn edges(a: f64, b: f64) -> impl Iterator<Item = [f64; 4]> {
    [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]].into_iter().map(move |[i, j]| {
        let mut l = [b; 4];
        l[i] = a;
        l[j] = a;
        l
    })
}

/// The odd and the other coordinate of the 4-point rule.
fn gauss_coordinates() -> (f64, f64) {
    let root = 5.0_f64.sqrt();
    ((5.0 + 3.0 * root) / 20.0, (5.0 - root) / 20.0)
}

fn four() -> Vec<([f64; 4], f64)> {
    let (odd, other) = gauss_coordinates();
    corners(odd, other).map(|l| (l, 1.0 / 24.0)).collect()
}

fn eleven() -> Vec<([f64; 4], f64)> {
    let spread = (5.0_f64 / 14.0).sqrt();
    let mut rule = vec![([0.25; 4], -74.0 / 5625.0)];
    rule.extend(corners(11.0 / 14.0, 1.0 / 14.0).map(|l| (l, 343.0 / 45_000.0)));
    rule.extend(edges((1.0 + spread) / 4.0, (1.0 - spread) / 4.0).map(|l| (l, 56.0 / 2250.0)));
    rule
}

fn fifteen() -> Vec<([f64; 4], f64)> {
    let mut rule = vec![([0.25; 4], 0.030_283_678_097_089)];
    rule.extend(corners(0.0, 1.0 / 3.0).map(|l| (l, 0.006_026_785_714_286)));
    rule.extend(corners(8.0 / 11.0, 1.0 / 11.0).map(|l| (l, 0.011_645_249_086_029)));
    let (c, d) = (0.066_550_153_573_664, 0.433_449_846_426_336);
    rule.extend(edges(c, d).map(|l| (l, 0.010_949_141_561_386)));
    rule
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Integral of `r^i s^j t^k` over the reference tetrahedron: `i! j! k! / (i + j + k + 3)!` (handbook).
    #[test]
    fn rules_are_exact_to_their_degree() {
        let factorial = |n: i32| (1..=n).map(f64::from).product::<f64>();
        for (points, degree) in [(4, 2), (11, 4), (15, 5)] {
            let rule = Quadrature::with_points(points).expect("offered");
            assert_eq!(rule.len(), points);
            for i in 0..=degree {
                for j in 0..=(degree - i) {
                    for k in 0..=(degree - i - j) {
                        let exact = factorial(i) * factorial(j) * factorial(k) / factorial(i + j + k + 3);
                        let sum: f64 = rule
                            .points()
                            .map(|p| {
                                let [_, r, s, t] = p.barycentric;
                                p.weight * r.powi(i) * s.powi(j) * t.powi(k)
                            })
                            .sum();
                        approx::assert_relative_eq!(sum, exact, max_relative = 1e-11);
                    }
                }
            }
        }
        assert!(Quadrature::with_points(5).is_none());
    }
}
