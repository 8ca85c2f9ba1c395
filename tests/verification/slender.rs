//! Source: Burstone 1962 (plane parabola, 2/5 of the root; from memory), Burstone and Pryputniewicz 1980 (1/3 for the
//! paraboloid; from memory); the second moments are elementary integrals (`closed_form::foundation`).
//! Goal: geometry of the mesh's root surface and the algebra of centres, without a finite-element solve.
//! Mesh: paraboloid roots with h / R of 50 and 100 on springs normal to the surface; the load of a slice is then
//! proportional to its width, or to a power of it with weighted springs.
//! Expected: centre 2 / (n + 4) and sigma^2 / h^2 of the power n: 0.4000 and 0.06857 for n = 1, 1/3 and 1/18 for 2.
//! Tolerance: 0.001 and 0.0002: the part of the slope that is left at h / R = 50.

use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::surface;
use gomphosis_solver::{PlanarResistance, Plane};
use gomphosis_tests::closed_form::foundation::{Springs, compliance, slender_parabola};
use gomphosis_tests::compare::absolute;
use nalgebra::Point3;

#[test]
fn slender_roots_on_normal_springs() {
    for slenderness in [50.0, 100.0] {
        let root = ParaboloidRoot {
            half_axis_x_mm: 13.0 / slenderness,
            half_axis_y_mm: 13.0 / slenderness,
            thickness_mm: 0.02,
            rings: 60,
            crest_grading: 0.0,
            ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
        };
        let mesh = root.mesh().unwrap();
        // A trace of tangential springs holds the turn about the axis.
        let springs = Springs { normal: 1.0, tangential: 1e-9 };
        for power in [1.0, 2.0, 3.0] {
            let weight = |p: Point3<f64>| p.x.hypot(p.y).powf(power - 1.0);
            let c = compliance(&mesh, surface::ROOT, springs, weight).unwrap();
            let (centre, sigma_squared) = slender_parabola(power);
            for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
                let got = PlanarResistance::new(&c, plane);
                let name = |what: &str| format!("slender root h/R {slenderness}, weight r^{power}, {what}");
                absolute(&name("centre / h"), centre, got.centre_depth_mm() / 13.0, 0.001);
                absolute(&name("sigma^2 / h^2"), sigma_squared, got.sigma_squared_mm2() / 169.0, 0.0002);
            }
        }
    }
}
