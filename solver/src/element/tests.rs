//! Identities of the element (any text on isoparametric elements, for example Hughes 2000).

use approx::assert_relative_eq;
use nalgebra::{DMatrix, Rotation3};

use super::*;

const LAME: (f64, f64) = (1.3, 0.7);

fn reference_nodes() -> [[f64; 4]; NODES] {
    let mut nodes = [[0.0; 4]; NODES];
    for (i, node) in nodes.iter_mut().take(4).enumerate() {
        node[i] = 1.0;
    }
    for (k, [i, j]) in EDGES.into_iter().enumerate() {
        nodes[4 + k][i] = 0.5;
        nodes[4 + k][j] = 0.5;
    }
    nodes
}

/// An element with curved sides.
fn curved() -> [Point3<f64>; NODES] {
    let corners = [
        Point3::new(0.1, 0.0, 0.0),
        Point3::new(1.2, 0.1, -0.1),
        Point3::new(0.3, 0.9, 0.2),
        Point3::new(0.2, 0.3, 1.1),
    ];
    reference_nodes().map(|l| {
        let straight: Vector3<f64> = corners.iter().zip(l).map(|(c, l)| c.coords * l).sum();
        Point3::from(
            straight + Vector3::new(straight.y, -straight.z, straight.x).component_mul(&straight) * 0.12,
        )
    })
}

fn dense(matrix: &ElementMatrix) -> DMatrix<f64> {
    DMatrix::from_fn(30, 30, |r, c| {
        let ((a, i), (b, j)) = ((r / 3, r % 3), (c / 3, c % 3));
        if a >= b { matrix.blocks[pair(a, b)][3 * i + j] } else { matrix.blocks[pair(b, a)][3 * j + i] }
    })
}

#[test]
fn shape_functions_are_nodal_and_sum_to_one() {
    for (a, l) in reference_nodes().into_iter().enumerate() {
        for (b, value) in shape(l).into_iter().enumerate() {
            assert_relative_eq!(value, if a == b { 1.0 } else { 0.0 }, epsilon = 1e-15);
        }
    }
    assert_relative_eq!(shape([0.1, 0.2, 0.3, 0.4]).iter().sum::<f64>(), 1.0, epsilon = 1e-15);
}

#[test]
fn gradients_are_those_of_the_shape_functions() {
    let l = [0.1, 0.2, 0.3, 0.4];
    let reference = shape_gradients(l);
    assert!(reference.iter().sum::<Vector3<f64>>().norm() < 1e-14);
    for k in 0..3 {
        let step = 1e-6;
        let moved = |s: f64| {
            let mut m = l;
            m[0] -= s;
            m[k + 1] += s;
            shape(m)
        };
        for ((plus, minus), g) in moved(step).iter().zip(moved(-step)).zip(&reference) {
            assert_relative_eq!((plus - minus) / (2.0 * step), g[k], epsilon = 1e-9);
        }
    }
}

#[test]
fn curved_element_reproduces_linear_fields() {
    let nodes = curved();
    let gradient = Matrix3::new(0.1, 0.4, -0.2, 0.3, -0.5, 0.6, 0.7, 0.2, 0.9);
    for l in [[0.25; 4], [0.7, 0.1, 0.1, 0.1]] {
        let (g, determinant) = gradients_at(&nodes, l);
        assert!(determinant > 0.0);
        let found: Matrix3<f64> =
            nodes.iter().zip(&g).map(|(x, g)| gradient * x.coords * g.transpose()).sum();
        assert_relative_eq!(found, gradient, epsilon = 1e-13);
    }
}

#[test]
fn volume_of_a_curved_element_does_not_depend_on_the_rule() {
    // det J is a cubic: the rules of degree 4 and 5 are exact.
    let [eleven, fifteen] = [11, 15].map(|n| Quadrature::with_points(n).expect("offered"));
    assert_relative_eq!(volume(&curved(), &eleven), volume(&curved(), &fifteen), max_relative = 1e-12);
}

#[test]
fn rigid_motions_cost_nothing_and_everything_else_something() {
    for points in [4, 11, 15] {
        let rule = Quadrature::with_points(points).expect("offered");
        let nodes = curved();
        let matrix = stiffness(&nodes, LAME, &rule).expect("valid element");
        let k = dense(&matrix);
        assert_relative_eq!(k, k.transpose(), epsilon = 1e-14);
        for mode in 0..6 {
            let axis = Vector3::ith(mode % 3, 1.0);
            let u = nodes.map(|x| if mode < 3 { axis } else { axis.cross(&x.coords) });
            let mut f = [Vector3::zeros(); NODES];
            matrix.apply(&u, &mut f);
            assert!(f.iter().all(|f| f.norm() < 1e-13), "mode {mode}");
        }
        // Four points carry 24 strains: exactly what thirty unknowns less six rigid motions need.
        let eigenvalues = k.symmetric_eigenvalues();
        assert_eq!(eigenvalues.iter().filter(|v| v.abs() < 1e-10).count(), 6, "{points} points");
        assert!(eigenvalues.min() > -1e-12);
    }
}

#[test]
fn stiffness_is_the_second_derivative_of_the_strain_energy() {
    // Independent route: W = sum of weights x (lambda/2 tr(e)^2 + mu e:e), central differences.
    let rule = Quadrature::with_points(4).expect("offered");
    let nodes = curved();
    let k = dense(&stiffness(&nodes, LAME, &rule).expect("valid element"));
    let energy = |u: &[f64; 30]| -> f64 {
        rule.points()
            .map(|p| {
                let (g, determinant) = gradients_at(&nodes, p.barycentric);
                let mut grad = Matrix3::zeros();
                for (a, g) in g.iter().enumerate() {
                    grad += Vector3::from_column_slice(&u[3 * a..3 * a + 3]) * g.transpose();
                }
                let e = (grad + grad.transpose()) * 0.5;
                p.weight * determinant * (0.5 * LAME.0 * e.trace().powi(2) + LAME.1 * e.norm_squared())
            })
            .sum()
    };
    for (r, c) in [(0, 0), (4, 1), (29, 17), (8, 22), (13, 13)] {
        let at = |sr: f64, sc: f64| {
            let mut u = [0.0; 30];
            u[r] += sr;
            u[c] += sc;
            energy(&u)
        };
        let second = (at(1.0, 1.0) - at(1.0, -1.0) - at(-1.0, 1.0) + at(-1.0, -1.0)) / 4.0;
        assert_relative_eq!(second, k[(r, c)], epsilon = 1e-12);
    }
}

#[test]
fn turning_the_element_turns_its_stiffness() {
    let rule = Quadrature::with_points(4).expect("offered");
    let turn = Rotation3::from_euler_angles(0.5, 1.0, -0.3);
    let nodes = curved();
    let turned = nodes.map(|x| turn * x);
    let k = stiffness(&nodes, LAME, &rule).expect("valid element");
    let q = stiffness(&turned, LAME, &rule).expect("valid element");
    for (k, q) in k.blocks.iter().zip(&q.blocks) {
        let expected = turn.matrix() * Matrix3::from_row_slice(k) * turn.matrix().transpose();
        assert_relative_eq!(Matrix3::from_row_slice(q), expected, epsilon = 1e-13);
    }
}

#[test]
fn an_inverted_element_is_refused() {
    let nodes = curved().map(|x| Point3::new(-x.x, x.y, x.z));
    let rule = Quadrature::with_points(4).expect("offered");
    assert!(stiffness(&nodes, LAME, &rule).is_err());
}
