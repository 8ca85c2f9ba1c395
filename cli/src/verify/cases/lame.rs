//! Lamé's thick sphere and thick cylinder: displacement and stress of a general three-dimensional body.

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::revolve::{SphereShell, mapped};
use gomphosis_mesh_gen::{Observer, Region, TetMesh, surface};
use gomphosis_solver::Formulation;
use nalgebra::{Matrix3, Point3, Vector3};

use crate::verify::closed_form::lame::{Hollow, Radial};
use crate::verify::model::{LIGAMENT, distinct_nodes, growing, nodes, with_ligament};
use crate::verify::row::furthest;
use crate::verify::statics::{Answer, Body, LoadCase, Supports};
use crate::verify::{Case, Row, VerifyError};

const REFERENCE: &str = "Lamé; any textbook, for example Timoshenko and Goodier, Theory of Elasticity (from memory): radii 1 and \
    2 mm, inner pressure 1 MPa, E = 1000 MPa";
const TOLERANCE: &str = "displacement 0.5 %, mean stress at the inner surface 2 %, any node there 6 % of the pressure: nodal \
    stress of quadratic elements at a surface";

/// Thick sphere.
pub const SPHERE: Case = Case {
    name: "lame-sphere",
    title: "Thick sphere under pressure",
    source: "Lamé",
    reference: REFERENCE,
    goal: "displacement and stress of a curved body, compressible and nearly incompressible",
    mesh: "whole sphere, icosahedron with each edge in 2, 3 and 5, as many layers finer inward; three nodes moved as the \
        closed form says, which takes out the rigid motions and no more",
    tolerance: TOLERANCE,
    run: sphere,
};

/// Thick cylinder.
pub const CYLINDER: Case = Case {
    name: "lame-cylinder",
    title: "Thick cylinder under pressure",
    source: "Lamé",
    reference: REFERENCE,
    goal: "the same in plane strain, on boxes cut into tetrahedra",
    mesh: "quarter cylinder, 3 x 4, 6 x 8 and 12 x 16 boxes finer inward, one along; symmetry planes, no travel of the ends",
    tolerance: TOLERANCE,
    run: cylinder,
};

/// Poisson's ratio and the element.
const KINDS: [(f64, Formulation); 3] = [(0.3, LIGAMENT), (0.49, LIGAMENT), (0.3, Formulation::Displacement)];

fn body(mesh: &TetMesh, poisson: f64, formulation: Formulation) -> Body<'_> {
    Body { mesh, materials: with_ligament(1000.0, poisson), formulation, quadrature_points: 4 }
}

fn hollow(poisson: f64) -> Hollow {
    Hollow { inner: 1.0, outer: 2.0, pressure: 1.0, modulus: 1000.0, poisson }
}

/// What is read off a solution.
#[derive(Debug, Clone, Copy)]
struct Reading {
    /// Mean radial displacement at a and at b.
    travel: [f64; 2],
    /// Largest error of displacement anywhere over the largest displacement.
    worst_travel: f64,
    /// Mean radial and hoop stress at a.
    stress: [f64; 2],
    /// Largest error of both at any node of a.
    worst_stress: f64,
}

fn read(
    body: &Body,
    answer: &Answer,
    radial: impl Fn(Point3<f64>) -> Vector3<f64>,
    exact: impl Fn(f64) -> Radial,
) -> Reading {
    let stress = body.nodal_stress(&answer.displacement, |_| 0.0);
    let wanted = [exact(1.0).radial, exact(1.0).hoop];
    let (mut counts, mut travel, mut sums) = ([0.0; 2], [0.0; 2], [0.0; 2]);
    let (mut off_travel, mut off_stress) = (Vec::new(), Vec::new());
    for ((p, u), s) in body.mesh.nodes().iter().zip(&answer.displacement).zip(&stress) {
        let (r, n) = (radial(*p).norm(), radial(*p).normalize());
        off_travel.push((u - n * exact(r).displacement).norm());
        for (k, radius) in [1.0, 2.0].into_iter().enumerate() {
            if (r - radius).abs() < 1e-9 {
                counts[k] += 1.0;
                travel[k] += u.dot(&n);
            }
        }
        if (r - 1.0).abs() < 1e-9 {
            let [xx, yy, zz, xy, yz, zx] = s.0;
            let tensor = Matrix3::new(xx, xy, zx, xy, yy, yz, zx, yz, zz);
            let t = n.cross(&if n.z.abs() < 0.9 { Vector3::z() } else { Vector3::x() }).normalize();
            let found = [n.dot(&(tensor * n)), t.dot(&(tensor * t))];
            for k in 0..2 {
                sums[k] += found[k];
                off_stress.push(found[k] - wanted[k]);
            }
        }
    }
    Reading {
        travel: [travel[0] / counts[0], travel[1] / counts[1]],
        worst_travel: furthest(off_travel) / exact(1.0).displacement,
        stress: sums.map(|sum| sum / counts[0]),
        worst_stress: furthest(off_stress).abs(),
    }
}

/// Rows of a series of meshes.
fn rows(
    poisson: f64,
    formulation: Formulation,
    exact: impl Fn(f64) -> Radial,
    series: &[(f64, Reading)],
) -> Vec<Row> {
    let Some((_, finest)) = series.last() else { return Vec::new() };
    let of = |read: fn(&Reading) -> f64| series.iter().map(|(h, r)| (*h, read(r))).collect::<Vec<_>>();
    let element = if formulation == LIGAMENT { "" } else { ", plain element" };
    let name = |what: &str| format!("{what}, nu {poisson}{element}");
    let mut rows = Vec::new();
    if formulation == LIGAMENT {
        let (a, b) = (exact(1.0), exact(2.0));
        rows.push(Row::relative(name("mean u(a), mm"), a.displacement, finest.travel[0], 0.005));
        rows.push(Row::relative(name("mean u(b), mm"), b.displacement, finest.travel[1], 0.005));
        rows.push(Row::relative(name("mean radial stress at a, MPa"), a.radial, finest.stress[0], 0.02));
        rows.push(Row::relative(name("mean hoop stress at a, MPa"), a.hoop, finest.stress[1], 0.02));
    }
    // Means are no measure of order: the errors of nodes cancel in them.
    let (travel, stress) = (finest.worst_travel, finest.worst_stress);
    rows.push(
        Row::absolute(name("displacement anywhere, worst error over u(a)"), 0.0, travel, 0.005)
            .against(&of(|r| r.worst_travel)),
    );
    rows.push(
        Row::absolute(name("stress at any node of a, worst error over p"), 0.0, stress, 0.06)
            .against(&of(|r| r.worst_stress)),
    );
    rows
}

fn sphere(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut all = Vec::new();
    let mut pinned = Vec::new();
    let meshes = [ball(2)?, ball(3)?, ball(5)?];
    for (poisson, formulation) in KINDS {
        let exact = |r: f64| hollow(poisson).sphere(r);
        let mut series = Vec::new();
        for (size, mesh) in [1.0 / 2.0, 1.0 / 3.0, 1.0 / 5.0].into_iter().zip(&meshes) {
            let wall = distinct_nodes(mesh, surface::SOCKET_WALL);
            // Three corners of the wall far apart.
            let far = |axis: Vector3<f64>| {
                let along = |n: &u32| mesh.nodes()[*n as usize].coords.dot(&axis);
                let furthest = wall.iter().max_by(|a, b| along(a).total_cmp(&along(b)));
                furthest.copied().ok_or(VerifyError::Missing("the sphere has no wall"))
            };
            let pins = [far(Vector3::x())?, far(Vector3::y())?, far(Vector3::z())?];
            let body = body(mesh, poisson, formulation);
            let supports = Supports::none(mesh).hold(pins, [true; 3]);
            // Faces of the root are turned into the layer, the way the pressure pushes.
            let case = LoadCase::new(mesh).with(&body.traction(surface::ROOT, |_, normal| *normal)).moving(
                mesh,
                pins,
                |p| p.coords.normalize() * exact(2.0).displacement,
            );
            let answer = body.solve_one(&supports, case, observer)?;
            series.push((size, read(&body, &answer, |p| p.coords, exact)));
            if size < 0.25 {
                let largest = pins.map(|n| answer.reactions[n as usize].norm());
                pinned.push(furthest(largest) / std::f64::consts::PI);
            }
        }
        all.extend(rows(poisson, formulation, exact, &series));
    }
    all.push(Row::absolute("force of a pin over p pi a², worst of all", 0.0, furthest(pinned), 0.005));
    Ok(all)
}

/// A shell whose layers are finer inward.
fn ball(n: usize) -> Result<TetMesh, VerifyError> {
    let even = SphereShell { inner_mm: 1.0, outer_mm: 2.0, divisions: n, layers: n }.mesh()?;
    Ok(mapped(&even, |p| {
        let (r, depth) = (p.coords.norm(), p.coords.norm() - 1.0);
        p * ((1.0 + depth * (0.5 + 0.5 * depth)) / r)
    })?)
}

fn cylinder(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut all = Vec::new();
    for (poisson, formulation) in KINDS {
        let exact = |r: f64| hollow(poisson).cylinder(r);
        let mut series = Vec::new();
        for n in [1, 2, 4] {
            let mesh = quarter(n)?;
            let supports = Supports::none(&mesh)
                .hold(nodes(&mesh, face::ETA0), [false, true, false])
                .hold(nodes(&mesh, face::ETA1), [true, false, false])
                .hold(nodes(&mesh, face::ZETA0).chain(nodes(&mesh, face::ZETA1)), [false, false, true]);
            let body = body(&mesh, poisson, formulation);
            let case = LoadCase::new(&mesh).with(&body.traction(face::XI0, |_, normal| -normal));
            let answer = body.solve_one(&supports, case, observer)?;
            let across = |p: Point3<f64>| Vector3::new(p.x, p.y, 0.0);
            series.push((1.0 / f64::from(n), read(&body, &answer, across, exact)));
        }
        all.extend(rows(poisson, formulation, exact, &series));
    }
    Ok(all)
}

/// A quarter of the cylinder in 3 n x 4 n boxes; the steps of all meshes follow one law.
fn quarter(n: u32) -> Result<TetMesh, VerifyError> {
    let place = |p: Point3<f64>| {
        let (r, (sine, cosine)) = (1.0 + p.x, (std::f64::consts::FRAC_PI_2 * p.y).sin_cos());
        Point3::new(r * cosine, r * sine, 0.3 * p.z)
    };
    let mut block = Block::uniform([3 * n as usize, 4 * n as usize, 1]);
    block.planes[0] = growing(3 * n, 1.69f64.powf(1.0 / f64::from(n)));
    Ok(block.mesh(place, |_| Region::Ligament)?)
}
