//! The curved six-node triangle: shape functions and area quadrature.

use nalgebra::{Point3, Vector3};

/// One point of an area rule: barycentric coordinates and weight (the weights sum to 1).
pub type RulePoint = ([f64; 3], f64);

const A: f64 = 0.445_948_490_915_965;
const B: f64 = 0.091_576_213_509_771;
const WA: f64 = 0.223_381_589_678_011;
const WB: f64 = 0.109_951_743_655_322;

/// Six points, exact for degree 4 (Dunavant 1985, IJNME 21:1129-1148; Strang and Fix 1973; from memory).
pub const RULE: [RulePoint; 6] = [
    ([1.0 - 2.0 * A, A, A], WA),
    ([A, 1.0 - 2.0 * A, A], WA),
    ([A, A, 1.0 - 2.0 * A], WA),
    ([1.0 - 2.0 * B, B, B], WB),
    ([B, 1.0 - 2.0 * B, B], WB),
    ([B, B, 1.0 - 2.0 * B], WB),
];

/// Shape functions of the nodes `[a, b, c, ab, bc, ca]` at barycentric coordinates `l`.
#[must_use]
pub fn shape(l: [f64; 3]) -> [f64; 6] {
    [
        l[0] * (2.0 * l[0] - 1.0),
        l[1] * (2.0 * l[1] - 1.0),
        l[2] * (2.0 * l[2] - 1.0),
        4.0 * l[0] * l[1],
        4.0 * l[1] * l[2],
        4.0 * l[2] * l[0],
    ]
}

/// Derivatives of the shape functions to `l[1]` and `l[2]`, with `l[0] = 1 - l[1] - l[2]`.
#[must_use]
pub fn shape_gradients(l: [f64; 3]) -> [[f64; 2]; 6] {
    let corner = [1.0 - 4.0 * l[0], 4.0 * l[1] - 1.0, 4.0 * l[2] - 1.0];
    [
        [corner[0], corner[0]],
        [corner[1], 0.0],
        [0.0, corner[2]],
        [4.0 * (l[0] - l[1]), -4.0 * l[1]],
        [4.0 * l[2], 4.0 * l[1]],
        [-4.0 * l[2], 4.0 * (l[0] - l[2])],
    ]
}

/// A point of the surface with its share of the area.
#[derive(Debug, Clone, Copy)]
pub struct SurfacePoint {
    /// Position, mm.
    pub position: Point3<f64>,
    /// Unit normal, outward for the orientation of the face.
    pub normal: Vector3<f64>,
    /// Shape functions of the six nodes.
    pub shape: [f64; 6],
    /// Area that the point stands for, mm2.
    pub weight: f64,
}

/// Position, normal and area element of a curved triangle at barycentric coordinates `l`; `weight` is the
/// fraction of the triangle that the point stands for.
#[must_use]
pub fn point_at(nodes: &[Point3<f64>; 6], l: [f64; 3], weight: f64) -> SurfacePoint {
    let shape = shape(l);
    let (mut position, mut du, mut dv) = (Vector3::zeros(), Vector3::zeros(), Vector3::zeros());
    for ((x, n), [gu, gv]) in nodes.iter().zip(shape).zip(shape_gradients(l)) {
        position += x.coords * n;
        du += x.coords * gu;
        dv += x.coords * gv;
    }
    let area = du.cross(&dv);
    let norm = area.norm();
    SurfacePoint { position: Point3::from(position), normal: area / norm, shape, weight: 0.5 * norm * weight }
}

/// The points of [`RULE`] on a curved triangle.
pub fn integrate(nodes: &[Point3<f64>; 6]) -> impl Iterator<Item = SurfacePoint> + '_ {
    RULE.iter().map(|&(l, weight)| point_at(nodes, l, weight))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Integral of x^i y^j over the unit right triangle: i! j! / (i + j + 2)! (handbook).
    #[test]
    fn rule_is_exact_to_degree_four() {
        let factorial = |n: i32| (1..=n).map(f64::from).product::<f64>();
        for i in 0..=4_i32 {
            for j in 0..=(4 - i) {
                let exact = factorial(i) * factorial(j) / factorial(i + j + 2);
                let sum: f64 = RULE.iter().map(|(l, w)| 0.5 * w * l[1].powi(i) * l[2].powi(j)).sum();
                approx::assert_relative_eq!(sum, exact, max_relative = 1e-13);
            }
        }
    }

    #[test]
    fn shape_functions_are_nodal_and_sum_to_one() {
        let nodes = [
            [1.0, 0.0, 0.0],
            [0.0, 1.0, 0.0],
            [0.0, 0.0, 1.0],
            [0.5, 0.5, 0.0],
            [0.0, 0.5, 0.5],
            [0.5, 0.0, 0.5],
        ];
        for (a, l) in nodes.iter().enumerate() {
            for (b, value) in shape(*l).iter().enumerate() {
                approx::assert_relative_eq!(*value, if a == b { 1.0 } else { 0.0 }, epsilon = 1e-15);
            }
        }
        let l = [0.2, 0.3, 0.5];
        approx::assert_relative_eq!(shape(l).iter().sum::<f64>(), 1.0, epsilon = 1e-15);
        for k in 0..2 {
            approx::assert_relative_eq!(
                shape_gradients(l).iter().map(|g| g[k]).sum::<f64>(),
                0.0,
                epsilon = 1e-14
            );
        }
    }
}
