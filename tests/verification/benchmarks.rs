//! Handbook benchmarks of linear elasticity, each on a mesh of this project's own.
//!
//! LE10, thick elliptic plate under pressure, and LE11, solid cylinder, taper and sphere under a temperature field: The
//! Standard NAFEMS Benchmarks, Rev. 3, 1990 (geometry and targets as quoted by several published code manuals).
//! Cook's membrane: Cook 1974; 23.96 at the middle of the loaded edge is the converged plane-stress value in wide use;
//! the plane-strain value 21.52 is a converged nine-node computation (no second source).
//! Tolerance: 3 % (LE10, LE11) and 1 % (Cook): the scatter that published codes show on meshes of this size.

use std::f64::consts::FRAC_PI_2;

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::{Region, TetMesh};
use gomphosis_solver::{Formulation, Material, Materials};
use gomphosis_tests::compare::relative;
use gomphosis_tests::model::{growing, nodes};
use gomphosis_tests::statics::{Body, LoadCase, Supports};
use nalgebra::{Point3, Vector3};

fn body(mesh: &TetMesh, modulus: f64, poisson: f64) -> Body<'_> {
    let materials = Materials { tooth: Material::new(modulus, poisson).unwrap(), ..Materials::default() };
    Body { mesh, materials, formulation: Formulation::Displacement, quadrature_points: 4 }
}

fn node_at(mesh: &TetMesh, place: Point3<f64>) -> usize {
    let near = |p: &Point3<f64>| nalgebra::distance(p, &place) < 1e-9;
    mesh.nodes().iter().position(near).expect("a node at the place of the target value")
}

/// Ellipses 2000 x 1000 and 3250 x 2750, thickness 600 mm; E 210,000, nu 0.3; 1 MPa on top. Symmetry on x = 0 and y = 0;
/// the outer edge does not move sideways, its mid-line not at all. Stress yy at (2000, 0, top): -5.38 MPa.
#[test]
fn thick_elliptic_plate() {
    let map = |p: Point3<f64>| {
        let (sine, cosine) = (FRAC_PI_2 * p.y).sin_cos();
        let (inner, outer) = ([2000.0 * cosine, 1000.0 * sine], [3250.0 * cosine, 2750.0 * sine]);
        Point3::new(
            inner[0] + (outer[0] - inner[0]) * p.x,
            inner[1] + (outer[1] - inner[1]) * p.x,
            600.0 * p.z,
        )
    };
    let mut block = Block::uniform([6, 10, 4]);
    block.planes[0] = growing(6, 1.4);
    block.planes[1] = growing(10, 1.15);
    let mesh = block.mesh(map, |_| Region::Tooth).unwrap();
    let middle = nodes(&mesh, face::XI1).filter(|&n| (mesh.nodes()[n as usize].z - 300.0).abs() < 1e-9);
    let supports = Supports::none(&mesh)
        .hold(nodes(&mesh, face::ETA0), [false, true, false])
        .hold(nodes(&mesh, face::ETA1), [true, false, false])
        .hold(nodes(&mesh, face::XI1), [true, true, false])
        .hold(middle, [false, false, true]);
    let body = body(&mesh, 210_000.0, 0.3);
    let case = LoadCase::new(&mesh).with(&body.traction(face::ZETA1, |_, normal| -normal));
    let answer = &body.solve(&supports, &[case]).unwrap()[0];
    let stress = body.nodal_stress(&answer.displacement, |_| 0.0);
    let got = stress[node_at(&mesh, Point3::new(2000.0, 0.0, 600.0))].0[1];
    relative("LE10 stress yy at D, MPa", -5.38, got, 0.03);
}

/// Meridian in metres: sphere of 1 and 1.4, taper, cylinder of 0.7071 and 1; E 210,000 MPa, nu 0.3, expansion
/// 2.3e-4 (r + z); no axial travel at base and top. Stress zz at (1, 0, 0): -105 MPa.
#[test]
fn cylinder_taper_and_sphere() {
    let half = 0.5f64.sqrt();
    // Three stretches along the meridian, each on a third of the third coordinate.
    let meridian = |p: Point3<f64>| {
        let (stretch, t) = ((p.z * 3.0).floor().min(2.0), p.z * 3.0 - (p.z * 3.0).floor().min(2.0));
        let arc = |radius: f64, last: f64| {
            let (sine, cosine) = (t * last.to_radians()).sin_cos();
            [radius * cosine, radius * sine]
        };
        let line = |a: [f64; 2], b: [f64; 2]| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
        let taper_foot = [1.4 * 30f64.to_radians().cos(), 0.7];
        let (inner, outer) = match stretch as usize {
            0 => (arc(1.0, 45.0), arc(1.4, 30.0)),
            1 => (line([half, half], [half, 1.39]), line(taper_foot, [1.0, 1.39])),
            _ => (line([half, 1.39], [half, 1.79]), line([1.0, 1.39], [1.0, 1.79])),
        };
        [inner[0] + (outer[0] - inner[0]) * p.x, inner[1] + (outer[1] - inner[1]) * p.x]
    };
    let map = |p: Point3<f64>| {
        let [r, z] = meridian(p);
        let (sine, cosine) = (FRAC_PI_2 * p.y).sin_cos();
        Point3::new(r * cosine, r * sine, z)
    };
    let mut block = Block::uniform([5, 8, 15]);
    block.planes[0] = growing(5, 1.3);
    let mesh = block.mesh(map, |_| Region::Tooth).unwrap();
    let supports = Supports::none(&mesh)
        .hold(nodes(&mesh, face::ETA0), [false, true, false])
        .hold(nodes(&mesh, face::ETA1), [true, false, false])
        .hold(nodes(&mesh, face::ZETA0).chain(nodes(&mesh, face::ZETA1)), [false, false, true]);
    let body = body(&mesh, 210_000.0, 0.3);
    let expansion = |p: Point3<f64>| 2.3e-4 * (p.x.hypot(p.y) + p.z);
    let case = LoadCase::new(&mesh).with(&body.expansion(expansion));
    let answer = &body.solve(&supports, &[case]).unwrap()[0];
    let stress = body.nodal_stress(&answer.displacement, expansion);
    let got = stress[node_at(&mesh, Point3::new(1.0, 0.0, 0.0))].0[2];
    relative("LE11 stress zz at A, MPa", -105.0, got, 0.03);
}

/// Corners (0,0) (48,44) (48,60) (0,44), thickness 1, E 1, nu 1/3, total shear 1 on the right edge.
#[test]
fn tapered_membrane() {
    let map = |p: Point3<f64>| {
        let (bottom, top) = (44.0 * p.x, 44.0 + 16.0 * p.x);
        Point3::new(48.0 * p.x, bottom + (top - bottom) * p.y, 0.5 * p.z)
    };
    let mut block = Block::uniform([16, 16, 1]);
    block.planes[0] = growing(16, 1.05);
    let mesh = block.mesh(map, |_| Region::Tooth).unwrap();
    let body = body(&mesh, 1.0, 1.0 / 3.0);
    // Half the thickness; the plane z = 0 is one of symmetry.
    let case = LoadCase::new(&mesh).with(&body.traction(face::XI1, |_, _| Vector3::y() / 16.0));
    let wall = Supports::none(&mesh).hold(nodes(&mesh, face::XI0), [true, true, false]);
    let stress_free = wall.clone().hold(nodes(&mesh, face::ZETA0), [false, false, true]);
    let strain_free = stress_free.clone().hold(nodes(&mesh, face::ZETA1), [false, false, true]);
    let middle = node_at(&mesh, Point3::new(48.0, 52.0, 0.0));
    for (name, supports, expected) in
        [("plane stress", stress_free, 23.96), ("plane strain", strain_free, 21.52)]
    {
        let answer = &body.solve(&supports, std::slice::from_ref(&case)).unwrap()[0];
        relative(
            &format!("Cook's membrane, {name}, (48, 52)"),
            expected,
            answer.displacement[middle].y,
            0.01,
        );
    }
}
