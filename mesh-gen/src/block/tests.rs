//! Volumes of mapped blocks against closed forms, faces, distortion and refusals.

use std::f64::consts::{FRAC_PI_2, PI};

use approx::assert_relative_eq;

use super::*;

/// Volume from the corner and edge data of each cell: mean Bernstein coefficient of det J over six, exact for
/// curved elements, here by the value at the four vertices and the four face centres (degree 3 exact rule).
fn volume(mesh: &TetMesh) -> f64 {
    let mut sum = 0.0;
    for cell in 0..mesh.cells().len() {
        let nodes = mesh.cell_nodes(cell);
        let mut points = Vec::new();
        for corner in 0..4 {
            let mut l = [0.0; 4];
            l[corner] = 1.0;
            points.push((l, 1.0 / 40.0));
            let mut l = [1.0 / 3.0; 4];
            l[corner] = 0.0;
            points.push((l, 9.0 / 40.0));
        }
        for (l, weight) in points {
            let g = crate::mesh::shape_gradients(l);
            let mut jacobian = nalgebra::Matrix3::zeros();
            for (x, dn) in nodes.iter().zip(&g) {
                jacobian += x.coords * dn.transpose();
            }
            sum += weight * jacobian.determinant() / 6.0;
        }
    }
    sum
}

fn quarter_ring(p: Point3<f64>) -> Point3<f64> {
    let (radius, angle) = (1.0 + p.x, FRAC_PI_2 * p.y);
    Point3::new(radius * angle.cos(), radius * angle.sin(), 3.0 * p.z)
}

#[test]
fn unit_cube_is_filled_and_its_faces_are_where_they_are_named() {
    let mesh = Block::uniform([2, 3, 4]).mesh(|p| p, |_| Region::Tooth).unwrap();
    assert_eq!(mesh.cells().len(), 6 * 24);
    assert_relative_eq!(volume(&mesh), 1.0, max_relative = 1e-13);
    let faces = [
        (face::XI0, 0, 0.0, 12),
        (face::XI1, 0, 1.0, 12),
        (face::ETA0, 1, 0.0, 8),
        (face::ETA1, 1, 1.0, 8),
        (face::ZETA0, 2, 0.0, 6),
        (face::ZETA1, 2, 1.0, 6),
    ];
    for (name, axis, value, boxes) in faces {
        assert_eq!(mesh.surface(name).len(), 2 * boxes, "{name}");
        for triangle in mesh.surface(name) {
            let p = triangle.map(|n| mesh.nodes()[n as usize]);
            assert!(p.iter().all(|p| (p[axis] - value).abs() < 1e-15), "{name}");
            let normal = (p[1] - p[0]).cross(&(p[2] - p[0]));
            assert!(normal[axis] * (value - 0.5) > 0.0, "{name} looks inward");
        }
    }
}

#[test]
fn curved_sides_converge_to_the_quarter_ring_with_the_fourth_power() {
    let exact = PI / 4.0 * 3.0 * 3.0;
    let error = |n: usize| {
        let mesh = Block::uniform([2, n, 1]).mesh(quarter_ring, |_| Region::Tooth).unwrap();
        (volume(&mesh) - exact).abs()
    };
    let (coarse, fine) = (error(4), error(8));
    assert!(fine < 1e-3 * exact);
    assert!(coarse / fine > 12.0, "{coarse} {fine}");
}

#[test]
fn distortion_keeps_the_cube_and_depends_on_the_seed_only() {
    let jitter = |seed| Jitter { corners: 0.12, mid_sides: 0.04, seed };
    let mesh =
        |seed| Block::uniform([4, 4, 4]).distorted(jitter(seed)).mesh(|p| p, |_| Region::Tooth).unwrap();
    let (a, b) = (mesh(1), mesh(2));
    assert_eq!(a, mesh(1));
    assert_ne!(a, b);
    assert_relative_eq!(volume(&a), 1.0, max_relative = 1e-12);
    for n in a.surface(face::XI1).iter().flatten() {
        assert_eq!(a.nodes()[*n as usize].x.to_bits(), 1f64.to_bits());
    }
}

#[test]
fn regions_follow_the_centre_of_the_box() {
    let region = |p: Point3<f64>| if p.x < 0.5 { Region::Tooth } else { Region::Ligament };
    let mesh = Block::uniform([4, 2, 3]).mesh(|p| p, region).unwrap();
    for cell in 0..mesh.cells().len() {
        let nodes = mesh.cell_nodes(cell);
        let x = nodes[..4].iter().map(|p| p.x).sum::<f64>() / 4.0;
        assert_eq!(mesh.regions()[cell], region(Point3::new(x, 0.0, 0.0)));
    }
}

#[test]
fn bad_blocks_are_refused() {
    let mesh = |block: Block| block.mesh(|p| p, |_| Region::Tooth);
    let mut falling = Block::uniform([2, 2, 2]);
    falling.planes[1] = vec![0.0, 0.7, 0.6, 1.0];
    assert!(matches!(mesh(falling), Err(MeshError::Impossible { .. })));
    let mut unknown = Block::uniform([2, 2, 2]);
    unknown.planes[0][1] = f64::NAN;
    assert!(mesh(unknown).is_err());
    assert!(matches!(mesh(Block::uniform([0, 1, 1])), Err(MeshError::OutOfRange { .. })));
    assert!(matches!(mesh(Block::uniform([900, 900, 900])), Err(MeshError::OutOfRange { .. })));
    assert!(matches!(mesh(Block::uniform([usize::MAX, 1, 1])), Err(MeshError::OutOfRange { .. })));
    let wild = Jitter { corners: 0.9, mid_sides: 0.0, seed: 1 };
    assert!(matches!(mesh(Block::uniform([2, 2, 2]).distorted(wild)), Err(MeshError::OutOfRange { .. })));
    let mirrored = Block::uniform([1, 1, 1]).mesh(|p| Point3::new(-p.x, p.y, p.z), |_| Region::Tooth);
    assert!(matches!(mirrored, Err(MeshError::Inverted { .. })));
    let nowhere = Block::uniform([1, 1, 1]).mesh(|p| p * f64::NAN, |_| Region::Tooth);
    assert!(matches!(nowhere, Err(MeshError::Inverted { .. })));
}
