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
    let section = Section::new(&mesh, &Surface::plane(), &|_| None);
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
    let flat = Section::new(&mesh, &Surface::plane(), &|_| None).area(Region::Tooth);
    assert!(flat > 0.0);
    let curved = element([[0.0, -1.0, 0.0], [1.0, -1.0, 0.0], [0.0, -1.0, 1.0], [0.0, 2.0, 0.0]], bulge);
    let section = Section::new(&curved, &Surface::plane(), &|_| None);
    assert!(section.area(Region::Tooth) > flat, "the bulge adds area");
}

#[test]
fn values_are_those_of_the_place() {
    let corners = [[0.3, 0.7, 0.1], [2.0, -1.0, 0.0], [0.0, -0.8, 0.2], [0.1, -0.9, 3.0]];
    let mesh = element(corners, |p| p);
    let value = |n: u32| Some(mesh.nodes()[n as usize].z * 5.0);
    let section = Section::new(&mesh, &Surface::plane(), &value);
    assert!(!section.points.is_empty());
    for point in &section.points {
        assert!((point.value.expect("both nodes have one") - 5.0 * point.at[1]).abs() < 1e-12);
    }
}

#[test]
fn neighbours_share_points_so_that_outlines_close() {
    let sphere =
        gomphosis_mesh_gen::revolve::SphereShell { inner_mm: 2.0, outer_mm: 3.0, divisions: 6, layers: 2 };
    let mesh = sphere.mesh().expect("a valid shell");
    let section = Section::new(&mesh, &Surface::plane(), &|_| None);
    // Area of a ring: pi (3^2 - 2^2), less what chords of a fifth of a radian cut off (theta^2 / 24 each side).
    let area = section.area(Region::Ligament);
    assert!((area - 5.0 * std::f64::consts::PI).abs() < 0.03, "area {area}");
    assert_eq!(section.outlines(Region::Ligament).len(), 2, "an outer and an inner circle");
    for point in &section.points {
        let radius = point.at[0].hypot(point.at[1]);
        assert!((1.998..=3.002).contains(&radius), "point at radius {radius}");
    }
}

/// A tooth, its mesh and the section along its roots, without values.
fn sectioned(kind: gomphosis_mesh_gen::ToothKind) -> (gomphosis_mesh_gen::ToothInSocket, Section) {
    use gomphosis_mesh_gen::{Silent, ToothInSocket, mesh_tooth};
    let spec = ToothInSocket::handbook(kind);
    let mesh = mesh_tooth(&spec, &Silent).expect("the tooth meshes").mesh;
    let surface = Surface::along_roots(&spec).expect("a handbook tooth");
    (spec, Section::new(&mesh, &surface, &|_| None))
}

#[test]
fn a_section_along_the_roots_shows_each_root_in_its_ligament_down_to_the_apex() {
    for name in ["16", "36", "38", "14", "13"] {
        let kind = gomphosis_mesh_gen::ToothKind::parse(name).expect("a tooth");
        let (spec, section) = sectioned(kind);
        let surface = Surface::along_roots(&spec).expect("a handbook tooth");
        let border: Vec<[[f64; 2]; 2]> = section
            .border(Region::Tooth, Region::Ligament)
            .iter()
            .flat_map(|chain| chain.windows(2))
            .map(|pair| [0, 1].map(|k| section.points[pair[k] as usize].at))
            .collect();
        for root in surface.roots() {
            // Less than the mesh leaves of a rounded tip: a tenth of a millimetre.
            let apex = [root.apex().x, root.apex().z];
            let nearest = border.iter().map(|side| distance_to(apex, *side)).fold(f64::MAX, f64::min);
            assert!(nearest < 0.1, "{name}: the section misses the apex by {nearest} mm");
        }
        // One piece of tooth, and around it one of ligament: every root keeps its ligament on both sides.
        let outlines = |region| section.outlines(region).len();
        assert_eq!(outlines(Region::Tooth), 1, "{name}");
        // Where tooth meets bone without ligament there is none between them.
        let bare = section.border(Region::Tooth, Region::CancellousBone).len()
            + section.border(Region::Tooth, Region::CorticalBone).len();
        assert_eq!(bare, 0, "{name}: tooth touches bone");
        let length: f64 = border.iter().map(|[a, b]| (a[0] - b[0]).hypot(a[1] - b[1])).sum();
        let least = 2.0 * spec.bony_root_mm();
        assert!(length > least, "{name}: {length} mm of root in ligament, less than both sides of it");
    }
}

/// Distance of a place from the line between two others.
fn distance_to(place: [f64; 2], [from, to]: [[f64; 2]; 2]) -> f64 {
    let (side, off) = ([to[0] - from[0], to[1] - from[1]], [place[0] - from[0], place[1] - from[1]]);
    let square = (side[0] * side[0] + side[1] * side[1]).max(f64::MIN_POSITIVE);
    let share = ((side[0] * off[0] + side[1] * off[1]) / square).clamp(0.0, 1.0);
    (off[0] - share * side[0]).hypot(off[1] - share * side[1])
}
