//! Source: `tests/recompute/axisymmetric.py`, mesh 120 x 10; Gent and Lindley 1959 (seen in Strojniski vestnik 60, 2014,
//! 506-511) for nearly incompressible flat discs, `1/E_a = 1/(E (1 + 2 S^2)) + 1/K`.
//! Goal: a bonded layer with a free edge: pressing, tilting, shearing; large S and nu to 0.4999.
//! Mesh: disc of radius 2 S mm and thickness 1 mm, finer toward the rim.
//! Supports: both plates rigid.
//! Expected: the table below.
//! Tolerance: 1 %; 2 % at nu = 0.49 and above, where pressure falls off steeply at the rim; formula 5 % (its own error
//! against the reference at S = 5 is 4 %).

use gomphosis_mesh_gen::revolve::BondedDisc;
use gomphosis_tests::closed_form::shear_modulus;
use gomphosis_tests::compare::relative;
use gomphosis_tests::model::{LIGAMENT, rigid};
use nalgebra::Point3;

/// S, nu, apparent modulus / E, tilting / (E I / t), shear / (G A / t).
const TABLE: [[f64; 5]; 12] = [
    [1.0, 0.3, 1.21120, 1.24163, 0.918_075],
    [1.0, 0.45, 1.93782, 1.61145, 0.935_065],
    [1.0, 0.49, 2.66496, 1.85836, 0.942_156],
    [1.0, 0.4999, 3.02649, 1.96370, 0.945_923],
    [2.0, 0.3, 1.27682, 1.25170, 0.959_832],
    [2.0, 0.45, 2.67663, 2.12620, 0.968_185],
    [2.0, 0.49, 5.68521, 3.22125, 0.971_681],
    [2.0, 0.4999, 8.83667, 3.87065, 0.973_525],
    [5.0, 0.3, 1.31841, 1.29788, 0.984_121],
    [5.0, 0.45, 3.31427, 2.93641, 0.987_416],
    [5.0, 0.49, 11.2119, 7.73406, 0.988_798],
    [5.0, 0.4999, 48.5332, 17.4158, 0.989_526],
];

#[test]
fn bonded_disc() {
    for &[shape, poisson, pressed, tilted, sheared] in &TABLE {
        let disc = BondedDisc {
            radius_mm: 2.0 * shape,
            thickness_mm: 1.0,
            around: 18,
            rings: 10 + 2 * shape as usize,
            layers: 6,
            rim_grading: 0.8,
        };
        let mesh = disc.mesh().unwrap();
        let compliance = rigid(&mesh, poisson, LIGAMENT).unwrap().compliance;
        let k = compliance.at(Point3::new(0.0, 0.0, 1.0)).stiffness().unwrap();
        let area = std::f64::consts::PI * disc.radius_mm.powi(2);
        let second = area * disc.radius_mm.powi(2) / 4.0;
        let tolerance = if poisson < 0.49 { 0.01 } else { 0.02 };
        let name = |what: &str| format!("bonded disc S {shape}, {what}, nu {poisson}");
        let apparent = k[(2, 2)] / area;
        relative(&name("pressed"), pressed, apparent, tolerance);
        relative(&name("tilted"), tilted, k[(4, 4)] / second, tolerance);
        relative(&name("sheared"), sheared, k[(0, 0)] / area / shear_modulus(1.0, poisson), tolerance);
        if poisson > 0.499 && shape >= 5.0 {
            let bulk = 1.0 / (3.0 * (1.0 - 2.0 * poisson));
            let formula = 1.0 / (1.0 / (1.0 + 2.0 * shape * shape) + 1.0 / bulk);
            relative(&name("pressed, Gent and Lindley"), formula, apparent, 0.05);
        }
    }
}
