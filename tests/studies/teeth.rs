//! The sixteen kinds of tooth side by side, elastic tier, default mesh, as the Markdown page of the manual.
//! `cargo run --release -p gomphosis-tests --example teeth > cli/docs/teeth.md`
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example's output is its purpose")]
#![allow(clippy::expect_used, reason = "a study that cannot run ends")]

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Discretisation, Footprint, Formulation, Materials, PlanarLoad, PlanarResistance,
    Plane, SolveOptions, ToothProblem, solve_unit_loads,
};

fn main() {
    println!("# The sixteen teeth side by side\n");
    println!(
        "Made by `cargo run --release -p gomphosis-tests --example teeth > cli/docs/teeth.md`.\n\n\
         Average dimensions, healthy bone, elastic bodies, default mesh and ligament; a push of 1 N without torque through the \
         long axis at the attachment's height. Depths are below the alveolar crest; the share is of crest to deepest apex. \
         Torque for translation is torque over force at the attachment. ± is the estimated error of the mesh in percent, the \
         largest of the row's numbers.\n\n\
         A model for research and teaching, not a medical device: compliance compares forces, not doses, and these are averages \
         of teeth, not anyone's.\n"
    );
    println!(
        "| tooth | attachment, mm | CRes bucco-lingual | CRes mesio-distal | sigma² | CRot | tip per mm, attachment | \
         tip per mm, cusp tip | torque for translation | travel | ± % | unknowns |"
    );
    println!("|---|{}", "--:|".repeat(11));
    for kind in ToothKind::ALL {
        eprintln!("{}", kind.name());
        println!("{}", row(kind));
    }
}

fn row(kind: ToothKind) -> String {
    let spec = ToothInSocket::handbook(kind);
    let tooth = mesh_tooth(&spec, &Silent).expect("a handbook tooth meshes");
    let marks = &tooth.landmarks;
    let problem = ToothProblem {
        mesh: &tooth.mesh,
        materials: Materials::default(),
        bodies: Bodies::Elastic,
        formulation: Formulation::default(),
        reference_point: marks.attachment,
        footprint: Footprint::of(&spec.attachment, marks),
        options: SolveOptions::default(),
    };
    let solutions = solve_unit_loads(&problem, &Silent).expect("it solves");
    let missing = Discretisation::estimate(&problem, &solutions, &tooth.thickness_shortfall)
        .expect("there is a ligament");
    let height = spec.attachment.height_mm;
    let load = PlanarLoad { height_mm: height, force_n: 1.0, torque_nmm: 0.0 };
    let numbers = |c: &Compliance| {
        let [bl, md] = [Plane::BuccoLingual, Plane::MesioDistal].map(|plane| PlanarResistance::new(c, plane));
        let motion = bl.motion(&load);
        [
            bl.centre_depth_mm(),
            md.centre_depth_mm(),
            bl.sigma_squared_mm2(),
            motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
            motion.tip_deg_per_mm(height),
            motion.tip_deg_per_mm(marks.cusp_tip.z),
            bl.torque_for_translation_mm(height),
            motion.travel_mm(height),
        ]
    };
    let found = numbers(&solutions.compliance);
    let worst = missing
        .errors(&solutions.compliance, numbers)
        .iter()
        .zip(found)
        .map(|(e, v)| 100.0 * e.bound / v.abs())
        .fold(0.0, f64::max);
    let [bl, md, sigma, rotation, attachment, cusp, torque, travel] = found;
    let depth = |d: f64| format!("{d:.2} mm ({:.3})", d / marks.bony_root_mm);
    format!(
        "| {} | {height:.2} | {} | {} | {sigma:.1} mm² | {rotation:.2} mm | {attachment:.2}° | {cusp:.2}° | {torque:.2} N·mm/N | \
         {:.1} µm | {worst:.1} | {} |",
        kind.name(),
        depth(bl),
        depth(md),
        1e3 * travel,
        solutions.statistics.unknowns,
    )
}
