//! The textbook fractions of a slender root on springs: geometry and algebra without a finite-element solve.

use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{Observer, surface};
use gomphosis_solver::{PlanarResistance, Plane};
use nalgebra::Point3;

use crate::verify::closed_form::foundation::{Springs, compliance, slender_parabola};
use crate::verify::row::furthest;
use crate::verify::{Case, Row, VerifyError};

/// The case.
pub const CASE: Case = Case {
    name: "slender-root",
    title: "Slender root on springs",
    source: "elementary integrals",
    reference: "Burstone 1962 (plane parabola, 2/5 of the root; from memory), Burstone and Pryputniewicz 1980 (1/3 for the \
        paraboloid; from memory): a load proportional to the power n of the width puts the centre at 2/(n + 4)",
    goal: "geometry of the root's surface and the algebra of centres, without finite elements",
    mesh: "paraboloid roots 50 and 100 times as long as wide, 24 around, 60 rings, on springs normal to the surface",
    tolerance: "0.001 and 0.0002, the part of the slope that is left at 50",
    run,
};

fn run(_: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = Vec::new();
    for power in [1.0, 2.0, 3.0] {
        let (centre, sigma_squared) = slender_parabola(power);
        let (mut off_centre, mut off_sigma) = (Vec::new(), Vec::new());
        for slenderness in [50.0, 100.0] {
            let root = ParaboloidRoot {
                half_axis_x_mm: 13.0 / slenderness,
                half_axis_y_mm: 13.0 / slenderness,
                thickness_mm: 0.02,
                rings: 60,
                crest_grading: 0.0,
                ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
            };
            // A trace of tangential springs holds the turn about the axis.
            let springs = Springs { normal: 1.0, tangential: 1e-9 };
            let weight = |p: Point3<f64>| p.x.hypot(p.y).powf(power - 1.0);
            let c = compliance(&root.mesh()?, surface::ROOT, springs, weight)?;
            for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
                let got = PlanarResistance::new(&c, plane);
                off_centre.push(got.centre_depth_mm() / 13.0 - centre);
                off_sigma.push(got.sigma_squared_mm2() / 169.0 - sigma_squared);
            }
        }
        let name = |what: &str| format!("load as width^{power}, {what}, worst of four");
        rows.push(Row::absolute(name("centre / h"), centre, centre + furthest(off_centre), 0.001));
        let off = furthest(off_sigma);
        rows.push(Row::absolute(name("sigma² / h²"), sigma_squared, sigma_squared + off, 0.0002));
    }
    Ok(rows)
}
