//! A falling crest moves the centres the right way and by the right amount.

use gomphosis_mesh_gen::Observer;
use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};
use gomphosis_solver::{PlanarResistance, Plane};

use crate::verify::model::{LIGAMENT, rigid};
use crate::verify::{Case, Row, VerifyError};

/// The case.
pub const CASE: Case = Case {
    name: "bone-loss",
    title: "Bone loss on the paraboloid root",
    source: "axisymmetric FE",
    reference: "tests/recompute/axisymmetric.py, mesh 200 x 6; directions as Geramy 2000 (AJODO 117:399-405) found them",
    goal: "a falling crest moves the centres the reported way and by the right amount",
    mesh: "the stretched paraboloid, 24 around, 16 rings, 2 layers, cut at the crest; rigid root, held wall; E = 1 MPa",
    tolerance: "1.5 %, sigma squared 2 %: the error of two layers of elements on a shorter root",
    run,
};

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

fn run(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = Vec::new();
    let (mut centres, mut lateral, mut sigma) = (Vec::new(), Vec::new(), Vec::new());
    let mut reported = 0.0;
    for series in SERIES.chunks(5) {
        let mut found = Vec::new();
        for &[loss, poisson, kx, depth, sigma_squared] in series {
            let root =
                ParaboloidRoot { bone_loss_mm: loss, ..ParaboloidRoot::reference(ThicknessLaw::Stretched) };
            let compliance = rigid(&root.mesh()?, poisson, LIGAMENT, observer)?.compliance;
            let plane = PlanarResistance::new(&compliance, Plane::BuccoLingual);
            let got = plane.centre_depth_mm();
            if poisson < 0.4 {
                let name = format!("loss {loss} mm, centre below the rim, nu {poisson}, mm");
                rows.push(Row::relative(name, depth, got, 0.015));
            } else {
                centres.push((depth, got));
            }
            lateral.push((kx, 1.0 / plane.centre_compliance_mm_per_n()));
            sigma.push((sigma_squared, plane.sigma_squared_mm2()));
            // Below the healthy crest, below the new one, and the torque for each newton of a translation at a bracket
            // 4 mm above the healthy crest.
            let torque = plane.torque_for_translation_mm(4.0);
            found.push([got, loss - got, -plane.sigma_squared_mm2(), torque]);
        }
        for pair in found.windows(2) {
            reported += (0..4).map(|k| f64::from(u8::from(pair[1][k] > pair[0][k]))).sum::<f64>();
        }
    }
    rows.push(Row::worst("centre, nu 0.45, five losses, worst error", centres, 0.015));
    rows.push(Row::worst("kx, all ten, worst error", lateral, 0.015));
    rows.push(Row::worst("sigma², all ten, worst error", sigma, 0.02));
    // The centre to the apex but nearer to the crest, sigma squared down, more torque for a translation.
    let name = "changes in the reported direction, of 32";
    rows.push(Row::absolute(name, 32.0, reported, 0.0).from("Geramy 2000"));
    Ok(rows)
}
