use super::*;
use nalgebra::Point3;

#[test]
fn the_eight_parts_fill_the_element_without_turning_over() {
    let corner = |n: usize| {
        let l = node_coordinates(n);
        Vector3::new(l[1], l[2], l[3])
    };
    let volumes = PARTS.map(|[a, b, c, d]| {
        let (p, q, r) = (corner(b) - corner(a), corner(c) - corner(a), corner(d) - corner(a));
        p.cross(&q).dot(&r) / 6.0
    });
    for volume in volumes {
        assert!((volume - 1.0 / 48.0).abs() < 1e-15, "volumes {volumes:?}");
    }
}

/// One element with its mid-side nodes bent by `bend`.
fn element(corners: [[f64; 3]; 4], bend: impl Fn(Point3<f64>) -> Point3<f64>) -> TetMesh {
    let mut nodes: Vec<Point3<f64>> = corners.map(Point3::from).to_vec();
    if (nodes[1] - nodes[0]).cross(&(nodes[2] - nodes[0])).dot(&(nodes[3] - nodes[0])) < 0.0 {
        nodes.swap(2, 3);
    }
    for [i, j] in EDGES {
        nodes.push(bend(nalgebra::center(&nodes[i], &nodes[j])));
    }
    let cells = vec![std::array::from_fn(|k| k as u32)];
    TetMesh::new(nodes, cells, vec![Region::Tooth], BTreeMap::new()).expect("a valid element")
}

#[test]
fn a_cut_triangle_has_its_area_and_lies_to_the_left_of_its_outline() {
    // The plane halves the edges from (0, 1, 0): a triangle with half the lengths of the far face.
    let mesh = element([[0.0, 1.0, 0.0], [2.0, -1.0, 0.0], [0.0, -1.0, 0.0], [0.0, -1.0, 3.0]], |p| p);
    let section = Section::new(&mesh, &[Vector3::zeros(); 10], &|_| None);
    let area = section.area(Region::Tooth);
    assert!((area - 0.75).abs() < 1e-12, "area {area}");
    assert_eq!(section.outlines(Region::Tooth).len(), 1);
}

#[test]
fn a_curved_side_is_followed_not_its_chord() {
    // Mid-side nodes away from the y axis are pushed out onto the unit cylinder.
    let bulge = |p: Point3<f64>| {
        let radius = p.x.hypot(p.z);
        if radius > 0.6 { Point3::new(p.x / radius, p.y, p.z / radius) } else { p }
    };
    let mesh = element([[0.0, -1.0, 0.0], [1.0, -1.0, 0.0], [0.0, -1.0, 1.0], [0.0, 2.0, 0.0]], |p| p);
    let flat = Section::new(&mesh, &[Vector3::zeros(); 10], &|_| None).area(Region::Tooth);
    assert!(flat > 0.0);
    let curved = element([[0.0, -1.0, 0.0], [1.0, -1.0, 0.0], [0.0, -1.0, 1.0], [0.0, 2.0, 0.0]], bulge);
    let section = Section::new(&curved, &[Vector3::zeros(); 10], &|_| None);
    assert!(section.area(Region::Tooth) > flat, "the bulge adds area");
}

#[test]
fn displacements_and_values_are_those_of_the_place() {
    let corners = [[0.3, 0.7, 0.1], [2.0, -1.0, 0.0], [0.0, -0.8, 0.2], [0.1, -0.9, 3.0]];
    let mesh = element(corners, |p| p);
    let motion: Vec<_> = mesh.nodes().iter().map(|p| Vector3::new(2.0 * p.x, 0.0, p.z - p.x)).collect();
    let value = |n: u32| Some(mesh.nodes()[n as usize].z * 5.0);
    let section = Section::new(&mesh, &motion, &value);
    assert!(!section.points.is_empty());
    for point in &section.points {
        let [x, z] = point.at;
        assert!((point.motion - Vector3::new(2.0 * x, 0.0, z - x)).norm() < 1e-12);
        assert!((point.value.expect("both nodes have one") - 5.0 * z).abs() < 1e-12);
    }
}

#[test]
fn neighbours_share_points_so_that_outlines_close() {
    let sphere =
        gomphosis_mesh_gen::revolve::SphereShell { inner_mm: 2.0, outer_mm: 3.0, divisions: 6, layers: 2 };
    let mesh = sphere.mesh().expect("a valid shell");
    let still = vec![Vector3::zeros(); mesh.nodes().len()];
    let section = Section::new(&mesh, &still, &|_| None);
    // Area of a ring: pi (3^2 - 2^2), less what chords of a fifth of a radian cut off (theta^2 / 24 each side).
    let area = section.area(Region::Ligament);
    assert!((area - 5.0 * std::f64::consts::PI).abs() < 0.03, "area {area}");
    assert_eq!(section.outlines(Region::Ligament).len(), 2, "an outer and an inner circle");
    for point in &section.points {
        let radius = point.at[0].hypot(point.at[1]);
        assert!((1.998..=3.002).contains(&radius), "point at radius {radius}");
    }
}
