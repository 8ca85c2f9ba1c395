//! Several bodies of ligament, one tooth: two roots side by side.

use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw, side_by_side};
use gomphosis_mesh_gen::{Observer, TetMesh};
use gomphosis_solver::{PlanarResistance, Plane};
use nalgebra::Vector3;

use crate::verify::model::{LIGAMENT, rigid};
use crate::verify::row::furthest;
use crate::verify::{Case, Row, VerifyError};

/// The case.
pub const CASE: Case = Case {
    name: "parallel-roots",
    title: "Two parallel roots",
    source: "rigid-body mechanics",
    reference: "two equal rigid roots turn about their common centre: k_theta = 2 (kx sigma_1^2 + kz d^2), so sigma^2 = \
        sigma_1^2 + (kz / kx) d^2 in their plane and sigma_1^2 across it; unequal roots have no centre of resistance (Dathe, \
        Naegerl and Kubein-Meesenburg 2013, J Dent Biomech 4)",
    goal: "several bodies of ligament on one tooth, and the algebra of centres where there is none",
    mesh: "two stretched paraboloids, half axis 2 mm, 18 around, 12 rings, 2 layers, 3 and 5 mm from the axis; then one of \
        them 9 instead of 13 mm long",
    tolerance: "0.1 %, 0.2 % between planes: the relation holds for the discrete roots up to their own lack of symmetry",
    run,
};

fn root() -> ParaboloidRoot {
    ParaboloidRoot {
        half_axis_x_mm: 2.0,
        half_axis_y_mm: 2.0,
        around: 18,
        rings: 12,
        ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
    }
}

fn run(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let long = root().mesh()?;
    let mut rows = Vec::new();
    let (mut across_all, mut depths) = (Vec::new(), Vec::new());
    for poisson in [0.3, 0.45] {
        let one = rigid(&long, poisson, LIGAMENT, observer)?.compliance;
        let single = PlanarResistance::new(&one, Plane::BuccoLingual);
        let ratio = single.centre_compliance_mm_per_n() / one.matrix[(2, 2)];
        for d in [3.0, 5.0] {
            let shift = Vector3::x() * d;
            let pair = side_by_side(&[(&long, shift), (&long, -shift)])?;
            let both = rigid(&pair, poisson, LIGAMENT, observer)?.compliance;
            let along = PlanarResistance::new(&both, Plane::BuccoLingual);
            let across = PlanarResistance::new(&both, Plane::MesioDistal);
            let expected = single.sigma_squared_mm2() + ratio * d * d;
            let name = format!("sigma² in their plane, d {d} mm, nu {poisson}, mm²");
            rows.push(Row::relative(name, expected, along.sigma_squared_mm2(), 0.001));
            across_all.push((single.sigma_squared_mm2(), across.sigma_squared_mm2()));
            depths.push((single.centre_depth_mm(), along.centre_depth_mm()));
        }
    }
    rows.push(Row::worst("sigma² across, worst difference from a single root", across_all, 0.002));
    rows.push(Row::worst("depth of the centre, worst difference from a single root", depths, 0.001));
    let short = ParaboloidRoot { length_mm: 9.0, ..root() }.mesh()?;
    let shift = Vector3::x() * 3.0;
    let equal = left_over(&side_by_side(&[(&long, shift), (&long, -shift)])?, observer)?;
    let unequal = left_over(&side_by_side(&[(&long, shift), (&short, -shift)])?, observer)?;
    rows.push(Row::rounding(
        "skew coupling at the centre of compliance, scaled",
        furthest([equal.0, unequal.0]),
        1e-10,
    ));
    rows.push(Row::absolute("equal roots, coupling that is left, scaled", 0.0, equal.1, 1e-3));
    rows.push(Row::absolute("equal roots, radius of resistance, mm", 0.0, equal.2, 0.01));
    rows.push(Row::band(
        "unequal roots, coupling over that of equal ones",
        (30.0, f64::INFINITY),
        unequal.1 / equal.1,
    ));
    rows.push(Row::band("unequal roots, radius of resistance, mm", (0.1, f64::INFINITY), unequal.2));
    Ok(rows)
}

/// Skew and whole part of the coupling at the centre of compliance, scaled; radius of resistance, mm.
fn left_over(mesh: &TetMesh, observer: &dyn Observer) -> Result<(f64, f64, f64), VerifyError> {
    let c = rigid(mesh, 0.45, LIGAMENT, observer)?.compliance;
    let centred = c.at(c.centre_of_compliance());
    let scale = (centred.a().norm() * centred.c().norm()).sqrt();
    let skew = centred.b() - centred.b().transpose();
    let radius =
        c.radius_of_resistance().ok_or(VerifyError::Missing("the roots have no radius of resistance"))?;
    Ok((skew.norm() / scale, centred.b().norm() / scale, radius))
}
