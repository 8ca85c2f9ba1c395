//! Source: `tests/recompute/axisymmetric.py`, mesh 200 x 6; directions as Geramy 2000 (AJODO 117:399-405) found them.
//! Goal: a falling crest moves the centres the right way and by the right amount.
//! Mesh, supports: the stretched paraboloid of `paraboloid.rs`, cut at the crest.
//! Expected: the table below; E = 1 MPa.
//! Tolerance: 1.5 %; sigma squared 2 %: mesh error.

use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};
use gomphosis_solver::{PlanarResistance, Plane};
use gomphosis_tests::compare::relative;
use gomphosis_tests::model::{LIGAMENT, rigid};

/// Loss, nu, kx, depth of the centre of resistance below the rim of the whole root, sigma squared.
const SERIES: [[f64; 5]; 10] = [
    [0.0, 0.3, 1001.02, 5.32192, 14.2489],
    [2.0, 0.3, 810.970, 6.41049, 10.4721],
    [4.0, 0.3, 626.530, 7.51017, 7.29897],
    [6.0, 0.3, 449.849, 8.62475, 4.72105],
    [8.0, 0.3, 284.632, 9.76068, 2.72627],
    [0.0, 0.45, 2315.57, 5.14794, 12.4854],
    [2.0, 0.45, 1867.48, 6.23565, 8.97999],
    [4.0, 0.45, 1433.55, 7.33447, 6.07492],
    [6.0, 0.45, 1019.24, 8.44815, 3.76195],
    [8.0, 0.45, 633.897, 9.58314, 2.03009],
];

#[test]
fn bone_loss_lowers_the_centre_and_frees_the_tooth() {
    for series in SERIES.chunks(5) {
        let mut rows = Vec::new();
        for &[loss, poisson, kx, depth, sigma_squared] in series {
            let root =
                ParaboloidRoot { bone_loss_mm: loss, ..ParaboloidRoot::reference(ThicknessLaw::Stretched) };
            let mesh = root.mesh().unwrap();
            let compliance = rigid(&mesh, poisson, LIGAMENT).unwrap().compliance;
            let plane = PlanarResistance::new(&compliance, Plane::BuccoLingual);
            let name = |what: &str| format!("bone loss {loss} mm, {what}, nu {poisson}");
            relative(&name("kx"), kx, 1.0 / plane.centre_compliance_mm_per_n(), 0.015);
            relative(&name("centre"), depth, plane.centre_depth_mm(), 0.015);
            relative(&name("sigma squared"), sigma_squared, plane.sigma_squared_mm2(), 0.02);
            // Torque to force ratio for translation at a bracket 4 mm above the healthy crest.
            rows.push((
                plane.centre_depth_mm(),
                plane.centre_depth_mm() - loss,
                plane.sigma_squared_mm2(),
                plane.torque_for_translation_mm(4.0),
            ));
        }
        for pair in rows.windows(2) {
            assert!(pair[1].0 > pair[0].0, "the centre moves to the apex");
            assert!(pair[1].1 < pair[0].1, "and nearer to the new crest");
            assert!(pair[1].2 < pair[0].2, "sigma squared falls");
            assert!(pair[1].3 > pair[0].3, "translation needs more torque for the same force");
        }
    }
}
