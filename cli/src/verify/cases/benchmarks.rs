//! Handbook benchmarks of linear elasticity, each on meshes of this project's own.

use std::f64::consts::FRAC_PI_2;

use gomphosis_mesh_gen::block::{Block, face};
use gomphosis_mesh_gen::{Observer, Region, TetMesh};
use gomphosis_solver::{Formulation, Material, Materials};
use nalgebra::{Point3, Vector3};

use crate::verify::model::{growing, nodes};
use crate::verify::statics::{Body, LoadCase, Supports};
use crate::verify::{Case, Row, VerifyError};

/// LE10.
pub const PLATE: Case = Case {
    name: "le10",
    title: "LE10, thick elliptic plate",
    source: "NAFEMS 1990",
    reference: "The Standard NAFEMS Benchmarks, Rev. 3, 1990 (geometry and target as quoted by several published code \
        manuals): stress yy at (2000, 0, top) -5.38 MPa",
    goal: "stress at a corner of a thick curved plate",
    mesh: "ellipses 2000 x 1000 and 3250 x 2750 mm, thickness 600 mm, E 210,000 MPa, nu 0.3, 1 MPa on top; 3 x 5 x 2, 6 x 10 x \
        4 and 12 x 20 x 8 boxes, finer to the inner edge and to the corner; symmetry on x = 0 and y = 0, outer edge without \
        sideways travel, its mid-line without any",
    tolerance: "3 %: the scatter that published codes show on meshes of this size",
    run: plate,
};

/// LE11.
pub const TAPER: Case = Case {
    name: "le11",
    title: "LE11, cylinder, taper and sphere",
    source: "NAFEMS 1990",
    reference: "The Standard NAFEMS Benchmarks, Rev. 3, 1990 (geometry and target as quoted by several published code \
        manuals): stress zz at (1, 0, 0) -105 MPa",
    goal: "stress of a body under uneven heating",
    mesh: "meridian in metres: sphere of 1 and 1.4, taper, cylinder of 0.7071 and 1; E 210,000 MPa, nu 0.3, expansion 2.3e-4 \
        (r + z); a quarter in 2 x 3 x 6, 4 x 6 x 12 and 8 x 12 x 24 boxes; no axial travel at base and top",
    tolerance: "3 %: the scatter that published codes show on meshes of this size",
    run: taper,
};

/// Cook's membrane.
pub const MEMBRANE: Case = Case {
    name: "cook",
    title: "Cook's membrane",
    source: "Cook 1974",
    reference: "Cook 1974; 23.96 at the middle of the loaded edge is the converged plane-stress value in wide use; the \
        plane-strain value 21.52 is a converged nine-node computation without a second source",
    goal: "bending and shear of a skewed plate, with a singular corner",
    mesh: "corners (0,0) (48,44) (48,60) (0,44), thickness 1, E 1, nu 1/3, total shear 1 on the right edge; 4, 8, 16 and 32 \
        boxes each way, one through half the thickness",
    tolerance: "1 %: the scatter that published codes show on meshes of this size",
    run: membrane,
};

fn body(mesh: &TetMesh, modulus_mpa: f64, poisson_ratio: f64) -> Body<'_> {
    let materials = Materials { tooth: Material { modulus_mpa, poisson_ratio }, ..Materials::default() };
    Body { mesh, materials, formulation: Formulation::Displacement, quadrature_points: 4 }
}

fn node_at(mesh: &TetMesh, place: Point3<f64>) -> Result<usize, VerifyError> {
    let near = |p: &Point3<f64>| nalgebra::distance(p, &place) < 1e-9;
    let missing = VerifyError::Missing("the mesh has no node at the place of the target value");
    mesh.nodes().iter().position(near).ok_or(missing)
}

fn plate(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let map = |p: Point3<f64>| {
        let (sine, cosine) = (FRAC_PI_2 * p.y).sin_cos();
        let (inner, outer) = ([2000.0 * cosine, 1000.0 * sine], [3250.0 * cosine, 2750.0 * sine]);
        Point3::new(
            inner[0] + (outer[0] - inner[0]) * p.x,
            inner[1] + (outer[1] - inner[1]) * p.x,
            600.0 * p.z,
        )
    };
    let mut series = Vec::new();
    for n in [1, 2, 4] {
        let mut block = Block::uniform([3 * n as usize, 5 * n as usize, 2 * n as usize]);
        block.planes[0] = growing(3 * n, 1.96f64.powf(1.0 / f64::from(n)));
        block.planes[1] = growing(5 * n, 1.3225f64.powf(1.0 / f64::from(n)));
        let mesh = block.mesh(map, |_| Region::Tooth)?;
        let middle = nodes(&mesh, face::XI1).filter(|&n| (mesh.nodes()[n as usize].z - 300.0).abs() < 1e-9);
        let supports = Supports::none(&mesh)
            .hold(nodes(&mesh, face::ETA0), [false, true, false])
            .hold(nodes(&mesh, face::ETA1), [true, false, false])
            .hold(nodes(&mesh, face::XI1), [true, true, false])
            .hold(middle, [false, false, true]);
        let body = body(&mesh, 210_000.0, 0.3);
        let case = LoadCase::new(&mesh).with(&body.traction(face::ZETA1, |_, normal| -normal));
        let answer = body.solve_one(&supports, case, observer)?;
        let stress = body.nodal_stress(&answer.displacement, |_| 0.0);
        series.push((1.0 / f64::from(n), stress[node_at(&mesh, Point3::new(2000.0, 0.0, 600.0))?].0[1]));
    }
    Ok(vec![Row::relative("stress yy at D, MPa", -5.38, series[2].1, 0.03).settling(&series)])
}

fn taper(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut series = Vec::new();
    for n in [1, 2, 4] {
        let mut block = Block::uniform([2 * n as usize, 3 * n as usize, 6 * n as usize]);
        block.planes[0] = growing(2 * n, 1.69f64.powf(1.0 / f64::from(n)));
        let turned = |p: Point3<f64>| {
            let [r, z] = meridian(p);
            let (sine, cosine) = (FRAC_PI_2 * p.y).sin_cos();
            Point3::new(r * cosine, r * sine, z)
        };
        let mesh = block.mesh(turned, |_| Region::Tooth)?;
        let supports = Supports::none(&mesh)
            .hold(nodes(&mesh, face::ETA0), [false, true, false])
            .hold(nodes(&mesh, face::ETA1), [true, false, false])
            .hold(nodes(&mesh, face::ZETA0).chain(nodes(&mesh, face::ZETA1)), [false, false, true]);
        let body = body(&mesh, 210_000.0, 0.3);
        let expansion = |p: Point3<f64>| 2.3e-4 * (p.x.hypot(p.y) + p.z);
        let case = LoadCase::new(&mesh).with(&body.expansion(expansion));
        let answer = body.solve_one(&supports, case, observer)?;
        let stress = body.nodal_stress(&answer.displacement, expansion);
        series.push((1.0 / f64::from(n), stress[node_at(&mesh, Point3::new(1.0, 0.0, 0.0))?].0[2]));
    }
    Ok(vec![Row::relative("stress zz at A, MPa", -105.0, series[2].1, 0.03).settling(&series)])
}

/// Radius and height: three stretches along the meridian, each on a third of the third coordinate; the first coordinate
/// goes from the inner to the outer surface.
fn meridian(p: Point3<f64>) -> [f64; 2] {
    let half = 0.5f64.sqrt();
    let stretch = (p.z * 3.0).floor().min(2.0);
    let t = p.z * 3.0 - stretch;
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
}

fn membrane(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let map = |p: Point3<f64>| {
        let (bottom, top) = (44.0 * p.x, 44.0 + 16.0 * p.x);
        Point3::new(48.0 * p.x, bottom + (top - bottom) * p.y, 0.5 * p.z)
    };
    let (mut stress, mut strain) = (Vec::new(), Vec::new());
    for n in [4, 8, 16, 32] {
        let mut block = Block::uniform([n as usize, n as usize, 1]);
        block.planes[0] = growing(n, 2.183f64.powf(1.0 / f64::from(n)));
        let mesh = block.mesh(map, |_| Region::Tooth)?;
        let body = body(&mesh, 1.0, 1.0 / 3.0);
        // Half the thickness; the plane z = 0 is one of symmetry.
        let case = LoadCase::new(&mesh).with(&body.traction(face::XI1, |_, _| Vector3::y() / 16.0));
        let wall = Supports::none(&mesh).hold(nodes(&mesh, face::XI0), [true, true, false]);
        let stress_free = wall.hold(nodes(&mesh, face::ZETA0), [false, false, true]);
        let strain_free = stress_free.clone().hold(nodes(&mesh, face::ZETA1), [false, false, true]);
        let middle = node_at(&mesh, Point3::new(48.0, 52.0, 0.0))?;
        for (supports, series) in [(stress_free, &mut stress), (strain_free, &mut strain)] {
            let answer = body.solve_one(&supports, case.clone(), observer)?;
            series.push((1.0 / f64::from(n), answer.displacement[middle].y));
        }
    }
    let row = |name: &str, expected: f64, series: &[(f64, f64)]| {
        Row::relative(name, expected, series[3].1, 0.01).settling(series)
    };
    Ok(vec![
        row("plane stress, rise of (48, 52), mm", 23.96, &stress),
        row("plane strain, rise of (48, 52), mm", 21.52, &strain),
    ])
}
