//! What a mesh buys: error of the headline numbers against unknowns and against seconds, for three ways to let the
//! elements grow away from the root. Elastic tier; the Markdown page of the benchmarks.
//! `cargo run --release -p gomphosis-tests --example gradings > benches/gradings.md`
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example's output is its purpose")]
#![allow(clippy::expect_used, reason = "a study that cannot run ends")]

use std::time::Instant;

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Footprint, Formulation, Materials, PlanarLoad, PlanarResistance, Plane, SolveOptions,
    ToothProblem, solve_unit_loads,
};

const TOOTH: &str = "upper first premolar";
/// Growth of the edge length, mm a mm, and its name.
const GRADINGS: [(f64, &str); 3] =
    [(0.15, "nearly uniform, 0.15"), (1.0, "default, 1"), (3.0, "as steep as the lattice allows, 3")];
/// Element sizes on the root, mm.
const SIZES: [f64; 4] = [1.2, 1.0, 0.8, 0.6];
/// The mesh that the others are compared with: element size, mm, and growth.
const REFERENCE: (f64, f64) = (0.4, 0.7);
const NAMES: [&str; 10] = [
    "CRes",
    "sigma²",
    "CRot",
    "tip/mm",
    "travel",
    "CRes, mesio-distal",
    "sigma², mesio-distal",
    "CRot, mesio-distal",
    "tip/mm, mesio-distal",
    "travel, mesio-distal",
];

/// The numbers of a mesh, its unknowns, and the seconds for mesh and solution.
fn solve(size: f64, growth: f64) -> ([f64; 10], usize, f64, f64) {
    let kind = ToothKind::parse(TOOTH).expect("a tooth");
    let mut spec = ToothInSocket::handbook(kind);
    spec.mesh.element_size_mm = size;
    spec.mesh.growth = growth;
    let start = Instant::now();
    let tooth = mesh_tooth(&spec, &Silent).expect("a handbook tooth meshes");
    let meshed = start.elapsed().as_secs_f64();
    let problem = ToothProblem {
        mesh: &tooth.mesh,
        materials: Materials::default(),
        bodies: Bodies::Elastic,
        formulation: Formulation::default(),
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&spec.attachment, &tooth.landmarks),
        options: SolveOptions::default(),
    };
    let solutions = solve_unit_loads(&problem, &Silent).expect("it solves");
    let seconds = start.elapsed().as_secs_f64();
    let numbers = headline(&solutions.compliance, spec.attachment.height_mm);
    (numbers, solutions.statistics.unknowns, meshed, seconds - meshed)
}

fn headline(compliance: &Compliance, height: f64) -> [f64; 10] {
    let mut out = [0.0; 10];
    for (plane, out) in [Plane::BuccoLingual, Plane::MesioDistal].into_iter().zip(out.chunks_exact_mut(5)) {
        let resistance = PlanarResistance::new(compliance, plane);
        let motion = resistance.motion(&PlanarLoad { height_mm: height, force_n: 1.0, torque_nmm: 0.0 });
        out.copy_from_slice(&[
            resistance.centre_depth_mm(),
            resistance.sigma_squared_mm2(),
            motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
            motion.tip_deg_per_mm(height),
            motion.travel_mm(height),
        ]);
    }
    out
}

fn main() {
    let (truth, unknowns, ..) = solve(REFERENCE.0, REFERENCE.1);
    println!(
        "# Error against unknowns and seconds

Written by `cargo run --release -p gomphosis-tests --example gradings`. The {TOOTH}, elastic tier. *Growth* is what each
millimetre away from the root adds to the edge of the elements, mm. Errors in percent against a mesh of {unknowns}
unknowns (element size {} mm, growth {}): the largest of ten headline numbers, which one it is, and the root of the
mean square. Seconds on the machine that ran it.

| growth | element size mm | unknowns | mesh s | solution s | largest error % | of | rms error % |
|---|---|---|---|---|---|---|---|",
        REFERENCE.0, REFERENCE.1
    );
    for (growth, name) in GRADINGS {
        for size in SIZES {
            let (numbers, unknowns, mesh_s, solve_s) = solve(size, growth);
            let errors: Vec<f64> =
                numbers.iter().zip(&truth).map(|(got, truth)| 100.0 * (got / truth - 1.0)).collect();
            let worst = (0..errors.len())
                .max_by(|&a, &b| errors[a].abs().total_cmp(&errors[b].abs()))
                .expect("there are ten");
            let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
            println!(
                "| {name} | {size} | {unknowns} | {mesh_s:.2} | {solve_s:.2} | {:.2} | {} | {rms:.2} |",
                errors[worst].abs(),
                NAMES[worst]
            );
        }
    }
}
