//! Source: Lamé's thick sphere and cylinder (`closed_form::lame`), a = 1, b = 2, p = 1, E = 1000.
//! Goal: displacement and stress of a general three-dimensional body, compressible and nearly incompressible.
//! Mesh: whole sphere (icosahedron, each edge in 5, 5 layers finer inward); quarter cylinder, 6 x 8 x 1 boxes finer inward, plane strain.
//! Supports: sphere: three nodes moved as the closed form says, which takes out the rigid motions and no more;
//! cylinder: symmetry planes.
//! Expected: u(a) 8.0000e-4 and u(b) 3.0000e-4 (sphere, nu 0.3) and so on; hoop and radial stress at a.
//! Tolerance: displacement 0.5 %, surface stress 2 %: nodal stress of quadratic elements at a surface.

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::revolve::{SphereShell, mapped};
use gomphosis_mesh_gen::{Region, TetMesh, surface};
use gomphosis_solver::Formulation;
use gomphosis_tests::closed_form::lame::{Hollow, Radial};
use gomphosis_tests::compare::{absolute, relative};
use gomphosis_tests::model::{distinct_nodes, growing, nodes, with_ligament};
use gomphosis_tests::statics::{Answer, Body, LoadCase, Supports};
use nalgebra::{Matrix3, Point3, Vector3};

fn body(mesh: &TetMesh, poisson: f64, formulation: Formulation) -> Body<'_> {
    Body { mesh, materials: with_ligament(1000.0, poisson), formulation, quadrature_points: 4 }
}

fn hollow(poisson: f64) -> Hollow {
    Hollow { inner: 1.0, outer: 2.0, pressure: 1.0, modulus: 1000.0, poisson }
}

/// Largest errors of displacement (over the largest exact one), and of radial and hoop stress at r = a.
fn compare(
    name: &str,
    body: &Body,
    answer: &Answer,
    radial: impl Fn(Point3<f64>) -> Vector3<f64>,
    exact: impl Fn(f64) -> Radial,
) {
    let largest = exact(1.0).displacement;
    let mut worst = 0.0f64;
    for (p, u) in body.mesh.nodes().iter().zip(&answer.displacement) {
        let r = radial(*p);
        worst = worst.max((u - r.normalize() * exact(r.norm()).displacement).norm());
    }
    absolute(&format!("{name}, displacement anywhere, relative"), 0.0, worst / largest, 0.005);
    let stress = body.nodal_stress(&answer.displacement, |_| 0.0);
    let (mut count, mut sums, mut worst) = (0.0, [0.0; 2], 0.0f64);
    for (p, s) in body.mesh.nodes().iter().zip(&stress) {
        let r = radial(*p);
        if (r.norm() - 1.0).abs() > 1e-9 {
            continue;
        }
        let [xx, yy, zz, xy, yz, zx] = s.0;
        let tensor = Matrix3::new(xx, xy, zx, xy, yy, yz, zx, yz, zz);
        let n = r.normalize();
        let t = n.cross(&if n.z.abs() < 0.9 { Vector3::z() } else { Vector3::x() }).normalize();
        let found = [n.dot(&(tensor * n)), t.dot(&(tensor * t))];
        let wanted = [exact(1.0).radial, exact(1.0).hoop];
        count += 1.0;
        for k in 0..2 {
            sums[k] += found[k];
            worst = worst.max((found[k] - wanted[k]).abs());
        }
    }
    relative(&format!("{name}, mean radial stress at a"), exact(1.0).radial, sums[0] / count, 0.02);
    relative(&format!("{name}, mean hoop stress at a"), exact(1.0).hoop, sums[1] / count, 0.02);
    absolute(&format!("{name}, worst nodal stress at a, over p"), 0.0, worst, 0.06);
}

#[test]
fn sphere() {
    // Layers finer inward.
    let even = SphereShell { inner_mm: 1.0, outer_mm: 2.0, divisions: 5, layers: 5 }.mesh().unwrap();
    let mesh = mapped(&even, |p| {
        let (r, depth) = (p.coords.norm(), p.coords.norm() - 1.0);
        p * ((1.0 + depth * (0.5 + 0.5 * depth)) / r)
    })
    .unwrap();
    let wall = distinct_nodes(&mesh, surface::SOCKET_WALL);
    // Three corners of the wall far apart.
    let far = |axis: Vector3<f64>| {
        let along = |n: &u32| mesh.nodes()[*n as usize].coords.dot(&axis);
        *wall.iter().max_by(|a, b| along(a).total_cmp(&along(b))).unwrap()
    };
    let pins = [far(Vector3::x()), far(Vector3::y()), far(Vector3::z())];
    for (poisson, formulation) in [
        (0.3, Formulation::Displacement),
        (0.3, Formulation::ProjectedDilatation),
        (0.49, Formulation::ProjectedDilatation),
    ] {
        let body = body(&mesh, poisson, formulation);
        let exact = |r: f64| hollow(poisson).sphere(r);
        let supports = Supports::none(&mesh).hold(pins, [true; 3]);
        // Faces of the root are turned into the layer, the way the pressure pushes.
        let case = LoadCase::new(&mesh).with(&body.traction(surface::ROOT, |_, normal| *normal)).moving(
            &mesh,
            pins,
            |p| p.coords.normalize() * exact(2.0).displacement,
        );
        let answer = &body.solve(&supports, &[case]).unwrap()[0];
        let pushed = pins.iter().map(|&n| answer.reactions[n as usize].norm()).fold(0.0, f64::max);
        absolute("sphere, force of a pin over p pi a^2", 0.0, pushed / std::f64::consts::PI, 0.005);
        let name = format!("thick sphere, nu {poisson}, {}", formulation.name());
        compare(&name, &body, answer, |p| p.coords, exact);
        let outer = answer.displacement[far(-Vector3::z()) as usize].norm();
        relative(&format!("{name}, u(b)"), exact(2.0).displacement, outer, 0.005);
    }
}

#[test]
fn cylinder() {
    let quarter = |p: Point3<f64>| {
        let (r, (sine, cosine)) = (1.0 + p.x, (std::f64::consts::FRAC_PI_2 * p.y).sin_cos());
        Point3::new(r * cosine, r * sine, 0.3 * p.z)
    };
    let mut block = Block::uniform([6, 8, 1]);
    block.planes[0] = growing(6, 1.3);
    let mesh = block.mesh(quarter, |_| Region::Ligament).unwrap();
    let supports = Supports::none(&mesh)
        .hold(nodes(&mesh, face::ETA0), [false, true, false])
        .hold(nodes(&mesh, face::ETA1), [true, false, false])
        .hold(nodes(&mesh, face::ZETA0).chain(nodes(&mesh, face::ZETA1)), [false, false, true]);
    for (poisson, formulation) in [
        (0.3, Formulation::Displacement),
        (0.3, Formulation::ProjectedDilatation),
        (0.49, Formulation::ProjectedDilatation),
    ] {
        let body = body(&mesh, poisson, formulation);
        let case = LoadCase::new(&mesh).with(&body.traction(face::XI0, |_, normal| -normal));
        let answer = &body.solve(&supports, &[case]).unwrap()[0];
        let name = format!("thick cylinder, nu {poisson}, {}", formulation.name());
        let across = |p: Point3<f64>| Vector3::new(p.x, p.y, 0.0);
        compare(&name, &body, answer, across, |r| hollow(poisson).cylinder(r));
    }
}
