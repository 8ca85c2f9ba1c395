//! Six unit wrenches as tractions over the attachment's footprint on the crown.
//!
//! `t(x) = a + b x (x - p)` inside the footprint; `a` and `b` follow from the wanted force and moment, so the
//! resultants are exact however the footprint cuts the faces.

use gomphosis_mesh_gen::{TetMesh, surface};
use nalgebra::{Matrix3x6, Matrix6, Point3, Vector3, Vector6};

use super::faces;
use crate::error::SolverError;
use crate::motion::cross_matrix;
use crate::problem::Footprint;
use gomphosis_mesh_gen::triangle::{self, SurfacePoint};

/// Halvings of a face's edges where the border of the footprint crosses it; what is left is clipped as if flat.
const DEPTH: u32 = 3;
/// Smallest cosine between a face's normal and the outward direction of the loaded face.
const FACING: f64 = 0.2;
/// Smallest share of the footprint that must lie on the crown.
const COVERED: f64 = 0.25;

/// A quadrature point inside the footprint.
struct Loaded {
    nodes: [u32; 6],
    shape: [f64; 6],
    arm: Vector3<f64>,
    weight: f64,
}

/// Nodal forces of the six unit wrenches at `point`, N.
///
/// # Errors
/// [`SolverError::NoSurface`] or [`SolverError::Footprint`].
pub(super) fn unit_forces(
    mesh: &TetMesh,
    footprint: &Footprint,
    point: Point3<f64>,
) -> Result<[Vec<Vector3<f64>>; 6], SolverError> {
    let mut loaded = Vec::new();
    let mut area = 0.0;
    for face in faces(mesh, surface::CROWN)? {
        let nodes = face.map(|n| mesh.nodes()[n as usize]);
        cut(footprint, &nodes, CORNERS, DEPTH, &mut |p| {
            area += p.weight;
            loaded.push(Loaded { nodes: *face, shape: p.shape, arm: p.position - point, weight: p.weight });
        });
    }
    let refused = || SolverError::Footprint {
        x: footprint.centre.x,
        y: footprint.centre.y,
        z: footprint.centre.z,
        width_mm: footprint.width_mm,
        height_mm: footprint.height_mm,
        covered_mm2: area,
    };
    if area.is_nan() || area < COVERED * footprint.width_mm * footprint.height_mm {
        return Err(refused());
    }
    // Resultant of the traction [I, -S(arm)] (a, b): its Gram matrix times (a, b).
    let mut gram = Matrix6::zeros();
    for p in &loaded {
        let rows = motion_rows(&p.arm);
        gram += rows.transpose() * rows * p.weight;
    }
    let factor = gram.cholesky().ok_or_else(refused)?;
    Ok(std::array::from_fn(|load| {
        let traction: Vector6<f64> = factor.solve(&Vector6::ith(load, 1.0));
        let mut forces = vec![Vector3::zeros(); mesh.nodes().len()];
        for p in &loaded {
            let force = motion_rows(&p.arm) * traction * p.weight;
            for (&n, shape) in p.nodes.iter().zip(p.shape) {
                forces[n as usize] += force * shape;
            }
        }
        forces
    }))
}

/// `a + b x r` as a matrix on `(a, b)`.
fn motion_rows(arm: &Vector3<f64>) -> Matrix3x6<f64> {
    let mut rows = Matrix3x6::zeros();
    rows.fixed_view_mut::<3, 3>(0, 0).fill_with_identity();
    rows.fixed_view_mut::<3, 3>(0, 3).copy_from(&-cross_matrix(arm));
    rows
}

/// A part of a triangle: its three corners in barycentric coordinates of the whole.
type Part = [[f64; 3]; 3];
const CORNERS: Part = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// Visits quadrature points of the part of a face inside the footprint, with weights that sum to its area.
fn cut(
    footprint: &Footprint,
    nodes: &[Point3<f64>; 6],
    part: Part,
    depth: u32,
    visit: &mut impl FnMut(&SurfacePoint),
) {
    let mids = [middle(part[0], part[1]), middle(part[1], part[2]), middle(part[2], part[0])];
    let probe = |l: [f64; 3]| offset(footprint, &triangle::point_at(nodes, l, 1.0));
    let probes = [part[0], part[1], part[2], mids[0], mids[1], mids[2]].map(probe);
    if probes.iter().all(|o| o.iter().all(|d| *d <= 0.0)) {
        integrate(nodes, part, visit);
    } else if (0..BORDERS).any(|border| probes.iter().all(|o| o[border] > 0.0)) {
        // Beyond one and the same border with all probes: outside.
    } else if depth == 0 {
        let corners = std::array::from_fn::<_, 3, _>(|k| (part[k], probes[k])).to_vec();
        let inside = (0..BORDERS).fold(corners, |polygon, border| clip(&polygon, border));
        for k in 2..inside.len() {
            integrate(nodes, [inside[0].0, inside[k - 1].0, inside[k].0], visit);
        }
    } else {
        for child in [
            [part[0], mids[0], mids[2]],
            [mids[0], part[1], mids[1]],
            [mids[2], mids[1], part[2]],
            [mids[0], mids[1], mids[2]],
        ] {
            cut(footprint, nodes, child, depth - 1, visit);
        }
    }
}

/// Quadrature points of a part of a face.
fn integrate(nodes: &[Point3<f64>; 6], part: Part, visit: &mut impl FnMut(&SurfacePoint)) {
    let [a, b, c] = part;
    let fraction = ((b[1] - a[1]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[1] - a[1])).abs();
    for (l, weight) in triangle::RULE {
        let whole = std::array::from_fn(|k| l[0] * a[k] + l[1] * b[k] + l[2] * c[k]);
        visit(&triangle::point_at(nodes, whole, weight * fraction));
    }
}

/// A corner of a polygon on a face: barycentric coordinates and how far it lies beyond each border.
type Corner = ([f64; 3], [f64; BORDERS]);

/// The part of a polygon on the near side of a border (Sutherland and Hodgman 1974).
fn clip(polygon: &[Corner], border: usize) -> Vec<Corner> {
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (k, current) in polygon.iter().enumerate() {
        let next = &polygon[(k + 1) % polygon.len()];
        let (here, there) = (current.1[border], next.1[border]);
        if here <= 0.0 {
            kept.push(*current);
        }
        if (here <= 0.0) != (there <= 0.0) {
            let t = here / (here - there);
            kept.push((
                std::array::from_fn(|i| current.0[i] + t * (next.0[i] - current.0[i])),
                std::array::from_fn(|i| current.1[i] + t * (next.1[i] - current.1[i])),
            ));
        }
    }
    kept
}

fn middle(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|k| 0.5 * (a[k] + b[k]))
}

/// Borders of the footprint: both sides across, along z and in depth, and the facing.
const BORDERS: usize = 7;

/// How far a point lies beyond each border of the footprint (negative inside).
fn offset(footprint: &Footprint, p: &SurfacePoint) -> [f64; BORDERS] {
    let from_centre = p.position - footprint.centre;
    let outward = footprint.outward();
    let across = from_centre.dot(&footprint.across());
    let depth = from_centre.dot(&outward);
    let (half_width, half_height) = (0.5 * footprint.width_mm, 0.5 * footprint.height_mm);
    let half_depth = footprint.width_mm.max(footprint.height_mm);
    [
        across - half_width,
        -across - half_width,
        from_centre.z - half_height,
        -from_centre.z - half_height,
        depth - half_depth,
        -depth - half_depth,
        FACING - p.normal.dot(&outward),
    ]
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use approx::assert_relative_eq;
    use gomphosis_mesh_gen::{Face, Region, mesh::FACES};

    use super::*;

    /// One big tetrahedron whose slanted face looks to +x; all four faces are crown.
    fn wedge() -> TetMesh {
        let corners = [
            Point3::new(0.0, -4.0, -4.0),
            Point3::new(0.0, 0.0, 6.0),
            Point3::new(0.5, 5.0, -4.0),
            Point3::new(-5.0, 0.0, 0.0),
        ];
        let mut nodes = corners.to_vec();
        for [a, b] in gomphosis_mesh_gen::mesh::EDGES {
            nodes.push(nalgebra::center(&corners[a], &corners[b]));
        }
        let cell: [u32; 10] = std::array::from_fn(|k| k as u32);
        let crown = FACES.map(|f| f.map(|k| cell[k])).to_vec();
        let surfaces = BTreeMap::from([(surface::CROWN.to_owned(), crown)]);
        TetMesh::new(nodes, vec![cell], vec![Region::Tooth], surfaces)
            .expect("a straight tetrahedron is valid")
    }

    fn footprint(z: f64) -> Footprint {
        Footprint { centre: Point3::new(0.1, 0.0, z), face: Face::Buccal, width_mm: 2.0, height_mm: 1.5 }
    }

    #[test]
    fn resultants_are_the_unit_wrenches() {
        let mesh = wedge();
        let point = Point3::new(-1.0, 0.4, -3.0);
        let forces = unit_forces(&mesh, &footprint(0.0), point).expect("inside the face");
        for (load, field) in forces.iter().enumerate() {
            let force: Vector3<f64> = field.iter().sum();
            let moment: Vector3<f64> =
                field.iter().zip(mesh.nodes()).map(|(f, x)| (x - point).cross(f)).sum();
            assert_relative_eq!(
                crate::motion::stack(&force, &moment),
                Vector6::ith(load, 1.0),
                epsilon = 1e-11
            );
        }
    }

    #[test]
    fn loaded_area_is_that_of_the_footprint_on_the_slanted_face() {
        // The face through three corners has the unit normal n: the box cuts width x height / n_x from it.
        let mesh = wedge();
        let x = mesh.nodes();
        let normal = (x[1] - x[0]).cross(&(x[2] - x[0])).normalize();
        let mut area = 0.0;
        for face in mesh.surface(surface::CROWN) {
            cut(&footprint(0.0), &face.map(|n| x[n as usize]), CORNERS, DEPTH, &mut |p| area += p.weight);
        }
        assert_relative_eq!(area, 3.0 / normal.x.abs(), max_relative = 1e-12);
    }

    #[test]
    fn a_footprint_beside_the_crown_is_refused() {
        let refused = unit_forces(&wedge(), &footprint(6.0), Point3::origin());
        assert!(matches!(refused, Err(SolverError::Footprint { covered_mm2, .. }) if covered_mm2 < 0.75));
    }
}
