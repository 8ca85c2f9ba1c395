//! How far the default mesh is from finer ones, and how well the estimate made from the default mesh alone says so:
//! for every kind of tooth, rigid tier, default size against half of it.
//! `discretisation [TOOTH...]` restricts it.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Discretisation, Footprint, Formulation, Materials, PlanarLoad, PlanarResistance,
    Plane, SolveOptions, ToothProblem, solve_unit_loads,
};

const NAMES: [&str; 10] = [
    "BL resistance",
    "BL sigma2",
    "BL rotation",
    "BL tip/mm",
    "BL travel",
    "MD resistance",
    "MD sigma2",
    "MD rotation",
    "MD tip/mm",
    "MD travel",
];

fn headline(compliance: &Compliance, height: f64) -> [f64; 10] {
    let mut out = [0.0; 10];
    for (k, plane) in [Plane::BuccoLingual, Plane::MesioDistal].into_iter().enumerate() {
        let p = PlanarResistance::new(compliance, plane);
        let motion = p.motion(&PlanarLoad { height_mm: height, force_n: 1.0, torque_nmm: 0.0 });
        out[5 * k] = p.centre_depth_mm();
        out[5 * k + 1] = p.sigma_squared_mm2();
        out[5 * k + 2] = motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN);
        out[5 * k + 3] = motion.tip_deg_per_mm(height);
        out[5 * k + 4] = motion.travel_mm(height);
    }
    out
}

fn solve(kind: ToothKind, size: f64) -> (Compliance, Discretisation, usize, f64) {
    let mut spec = ToothInSocket::handbook(kind);
    spec.mesh.element_size_mm = size;
    let tooth = mesh_tooth(&spec, &Silent).expect("a handbook tooth meshes");
    let problem = ToothProblem {
        mesh: &tooth.mesh,
        materials: Materials::default(),
        bodies: Bodies::Rigid,
        formulation: Formulation::default(),
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&spec.attachment, &tooth.landmarks),
        options: SolveOptions::default(),
    };
    let solutions = solve_unit_loads(&problem, &Silent).expect("it solves");
    let missing = Discretisation::estimate(&problem, &solutions, &tooth.thickness_shortfall)
        .expect("there is a ligament");
    (solutions.compliance, missing, solutions.statistics.unknowns, spec.attachment.height_mm)
}

fn main() {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let kinds: Vec<ToothKind> = if asked.is_empty() {
        ToothKind::ALL.to_vec()
    } else {
        asked.iter().filter_map(|a| ToothKind::parse(a)).collect()
    };
    for kind in kinds {
        let (fine, _, _, height) = solve(kind, 0.6);
        let (coarse, missing, unknowns, _) = solve(kind, 1.2);
        let truth = headline(&fine, height);
        let got = headline(&coarse, height);
        let errors = missing.errors(&coarse, |c| headline(c, height));
        println!("{} {unknowns}", kind.name());
        for k in 0..10 {
            let percent = |v: f64| 100.0 * v / got[k];
            let (truth, bias, bound) =
                (percent(truth[k] - got[k]), percent(errors[k].bias), percent(errors[k].bound).abs());
            println!(
                "  {:<14} true {truth:+.3} bias {bias:+.3} bound {bound:.3} {:.2} {:.2} {}",
                NAMES[k],
                bias / truth,
                bound / truth.abs(),
                if truth.abs() > bound { "MISSED" } else { "" }
            );
        }
    }
}
