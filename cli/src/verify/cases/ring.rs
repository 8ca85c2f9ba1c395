//! A thin layer bonded between two coaxial cylinders: no locking under sideways load.

use gomphosis_mesh_gen::revolve::{Annulus, LOWER_END, UPPER_END};
use gomphosis_mesh_gen::{Observer, surface};
use gomphosis_solver::Formulation;
use nalgebra::{Point3, Vector3};

use crate::verify::closed_form::annulus::BondedAnnulus;
use crate::verify::model::{LIGAMENT, distinct_nodes, nodes, with_ligament};
use crate::verify::statics::{Body, LoadCase, Supports};
use crate::verify::{Case, Row, VerifyError};

/// The case.
pub const CASE: Case = Case {
    name: "bonded-ring",
    title: "Bonded ring",
    source: "exact",
    reference: "stiffness of a rigid core in a ring bonded to core and wall, plane strain, from the Kolosov potentials; its \
        incompressible limit is the bush of Adkins and Gent 1954 (from memory)",
    goal: "no locking of a thin layer, from Poisson's ratio 0 to nearly incompressible",
    mesh: "ring 3 / 3.25 mm, a slice of 0.5 mm; 12, 24 and 48 elements around with 1, 2 and 4 through the thickness; wall \
        held, core moved, no travel of the ends along the axis (across it for the axial load)",
    tolerance: "0.1 %, 0.3 % at 0.49 and above, where the volume's stiffness exceeds the shear's fifty times: the solution is \
        exact and the finest mesh finer than a ligament's. Axial, turning and the plain element on the middle mesh",
    run,
};

const HEIGHT: f64 = 0.5;
const NUMBERS: [f64; 6] = [0.0, 0.3, 0.45, 0.49, 0.499, 0.4999];

fn run(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = Vec::new();
    for poisson in NUMBERS {
        let mut series = Vec::new();
        for n in [1, 2, 4] {
            let (ends, push) = ([false, false, true], |_| Vector3::x());
            series.push((1.0 / n as f64, stiffness(n, poisson, LIGAMENT, ends, push, observer)?));
        }
        let exact = exact(poisson).lateral();
        let tolerance = if poisson < 0.49 { 0.001 } else { 0.003 };
        let name = format!("lateral stiffness, nu {poisson}, N/mm²");
        rows.push(Row::relative(name, exact, series[2].1, tolerance).against(&series));
    }
    let (mut axial, mut turning, mut plain) = (Vec::new(), Vec::new(), Vec::new());
    for poisson in NUMBERS {
        let exact = exact(poisson);
        let (along, across) = ([true, true, false], [false, false, true]);
        let turn = |p: Point3<f64>| Vector3::new(-p.y, p.x, 0.0);
        axial.push((exact.axial(), stiffness(2, poisson, LIGAMENT, along, |_| Vector3::z(), observer)?));
        turning.push((exact.torsion(), stiffness(2, poisson, LIGAMENT, across, turn, observer)?));
        if poisson < 0.495 {
            let displacement = Formulation::Displacement;
            let got = stiffness(2, poisson, displacement, across, |_| Vector3::x(), observer)?;
            plain.push((exact.lateral(), got));
        }
    }
    rows.push(Row::worst("axial stiffness, nu 0 to 0.4999, worst error", axial, 0.001));
    rows.push(Row::worst("turning stiffness, nu 0 to 0.4999, worst error", turning, 0.001));
    rows.push(Row::worst("plain element, lateral, nu 0 to 0.49, worst error", plain, 0.003));
    Ok(rows)
}

fn exact(poisson: f64) -> BondedAnnulus {
    BondedAnnulus { inner: 3.0, outer: 3.25, modulus: 1.0, poisson }
}

/// Force (moment about the axis for a turn) on the core for each mm of length, on the mesh of `n` layers.
fn stiffness(
    n: usize,
    poisson: f64,
    formulation: Formulation,
    ends: [bool; 3],
    motion: impl Fn(Point3<f64>) -> Vector3<f64>,
    observer: &dyn Observer,
) -> Result<f64, VerifyError> {
    let ring =
        Annulus { inner_mm: 3.0, outer_mm: 3.25, height_mm: HEIGHT, around: 12 * n, along: 1, layers: n };
    let mesh = ring.mesh()?;
    let body =
        Body { mesh: &mesh, materials: with_ligament(1.0, poisson), formulation, quadrature_points: 4 };
    let supports = Supports::none(&mesh)
        .hold(nodes(&mesh, LOWER_END).chain(nodes(&mesh, UPPER_END)), ends)
        .hold(nodes(&mesh, surface::ROOT).chain(nodes(&mesh, surface::SOCKET_WALL)), [true; 3]);
    let case = LoadCase::new(&mesh).moving(&mesh, nodes(&mesh, surface::ROOT), &motion);
    let answer = body.solve_one(&supports, case, observer)?;
    // Work of the reactions on the motion of the core.
    let work = |n: u32| answer.reactions[n as usize].dot(&motion(mesh.nodes()[n as usize]));
    Ok(distinct_nodes(&mesh, surface::ROOT).into_iter().map(work).sum::<f64>() / HEIGHT)
}
