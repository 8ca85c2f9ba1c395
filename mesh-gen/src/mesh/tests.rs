use approx::assert_relative_eq;
use nalgebra::{Matrix3, Point3};

use super::*;

fn straight(corners: [Point3<f64>; 4]) -> [Point3<f64>; 10] {
    let mut nodes = [Point3::origin(); 10];
    nodes[..4].copy_from_slice(&corners);
    for (k, [i, j]) in EDGES.into_iter().enumerate() {
        nodes[4 + k] = nalgebra::center(&corners[i], &corners[j]);
    }
    nodes
}

fn unit() -> [Point3<f64>; 10] {
    straight([
        Point3::origin(),
        Point3::new(1.0, 0.0, 0.0),
        Point3::new(0.0, 1.0, 0.0),
        Point3::new(0.0, 0.0, 1.0),
    ])
}

fn det(nodes: &[Point3<f64>; 10], l: [f64; 4]) -> f64 {
    let mut j = Matrix3::zeros();
    for (p, g) in nodes.iter().zip(shape_gradients(l)) {
        j += p.coords * g.transpose();
    }
    j.determinant()
}

#[test]
fn straight_elements_have_a_constant_jacobian() {
    assert_relative_eq!(bernstein_ratio(&unit()), 1.0, epsilon = 1e-12);
    let mut mirrored = unit();
    for p in &mut mirrored {
        p.z = -p.z;
    }
    assert!(bernstein_ratio(&mirrored) <= 0.0);
}

#[test]
fn the_bernstein_bound_is_below_every_sample_of_the_jacobian() {
    let mut nodes = unit();
    nodes[4].y += 0.21;
    nodes[7].x -= 0.1;
    nodes[9].z += 0.15;
    let bound = bernstein_ratio(&nodes);
    let n = 12;
    let (mut smallest, mut sum, mut count) = (f64::INFINITY, 0.0, 0.0);
    for i in 0..=n {
        for j in 0..=n - i {
            for k in 0..=n - i - j {
                let f = |m: i32| f64::from(m) / f64::from(n);
                let value = det(&nodes, [f(n - i - j - k), f(i), f(j), f(k)]);
                smallest = smallest.min(value);
                sum += value;
                count += 1.0;
            }
        }
    }
    assert!(sum / count > 0.0);
    // The mean coefficient is the integral mean of det J: 6 x the volume of the curved element.
    let volume = volume(&nodes);
    assert!(bound * 6.0 * volume <= smallest + 1e-12, "{bound} {smallest}");
    assert!(bound > -1.0);
}

#[test]
fn a_folded_element_is_refused() {
    let mut nodes = unit();
    nodes[4] = Point3::new(0.5, 0.9, 0.0);
    let mesh = TetMesh::new(
        nodes.to_vec(),
        vec![[0, 1, 2, 3, 4, 5, 6, 7, 8, 9]],
        vec![Region::Tooth],
        BTreeMap::new(),
    );
    assert!(matches!(mesh, Err(MeshError::Inverted { cell: 0, .. })));
}

#[test]
fn a_mesh_with_a_face_shared_the_wrong_way_is_refused() {
    // Two copies of one element share all faces with equal parity.
    let cell = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];
    let mesh =
        TetMesh::new(unit().to_vec(), vec![cell, cell], vec![Region::Tooth, Region::Tooth], BTreeMap::new());
    assert!(matches!(mesh, Err(MeshError::NotConforming { .. })));
}

#[test]
fn a_cell_that_names_a_missing_node_is_refused() {
    let mesh = TetMesh::new(
        unit().to_vec(),
        vec![[0, 1, 2, 3, 4, 5, 6, 7, 8, 10]],
        vec![Region::Tooth],
        BTreeMap::new(),
    );
    assert!(matches!(mesh, Err(MeshError::NodeIndex { node: 10, .. })));
}

/// Volume of a curved element: det J is a cubic, integrated exactly by the degree-3 rule of Stroud (five
/// points, one weight negative) on the unit tetrahedron (from memory).
fn volume(nodes: &[Point3<f64>; 10]) -> f64 {
    let mut total = 0.0;
    let det = |l: [f64; 4]| {
        let g = shape_gradients(l);
        let mut j = nalgebra::Matrix3::zeros();
        for (p, g) in nodes.iter().zip(g) {
            j += p.coords * g.transpose();
        }
        j.determinant()
    };
    total += -0.8 / 6.0 * det([0.25; 4]);
    for k in 0..4 {
        let mut l = [1.0 / 6.0; 4];
        l[k] = 0.5;
        total += 0.45 / 6.0 * det(l);
    }
    total
}
