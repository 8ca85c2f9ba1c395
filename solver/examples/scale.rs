//! Time and memory against size: `scale [TOOTH [SIZES [METHODS [LIGAMENT_MODULUS [LIGAMENT_POISSON]]]]]`, sizes and
//! methods separated by commas.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use std::time::Instant;

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::linear::Linear;
use gomphosis_solver::{
    Bodies, Footprint, Formulation, Material, Materials, SolveOptions, ToothProblem, solve_unit_loads,
};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let argument = |k: usize, default: &str| arguments.get(k).map_or(default.to_owned(), Clone::clone);
    let kind = ToothKind::parse(&argument(0, "14")).ok_or("no such tooth")?;
    let mut materials = Materials::default();
    materials.ligament = Material::new(
        argument(3, &materials.ligament.modulus_mpa.to_string()).parse()?,
        argument(4, &materials.ligament.poisson_ratio.to_string()).parse()?,
    )?;
    println!(
        "size mm | unknowns | method | mesh s | assembly s | set-up s | solve s | iterations | residual | predicted MB | peak MB | Cxx mm/N"
    );
    for size in argument(1, "1.6,1.2,0.8").split(',') {
        let mut spec = ToothInSocket::handbook(kind);
        spec.mesh.element_size_mm = size.parse()?;
        let start = Instant::now();
        let made = mesh_tooth(&spec, &Silent)?;
        let mesh_s = start.elapsed().as_secs_f64();
        for method in argument(2, "iterative").split(',') {
            let linear = match method {
                "direct" => Linear::Direct,
                "iterative" => Linear::Iterative,
                _ => Linear::Auto,
            };
            let problem = ToothProblem {
                mesh: &made.mesh,
                materials,
                bodies: Bodies::Elastic,
                formulation: Formulation::default(),
                reference_point: made.landmarks.attachment,
                footprint: Footprint::of(&spec.attachment, &made.landmarks),
                options: SolveOptions { linear, ..SolveOptions::default() },
            };
            let solved = solve_unit_loads(&problem, &Silent)?;
            let s = &solved.statistics;
            println!(
                "{size} | {} | {} | {mesh_s:.2} | {:.2} | {:.2} | {:.2} | {} | {:.1e} | {} | {} | {:.12e}",
                s.unknowns,
                s.method,
                s.assembly_s,
                s.factor_s,
                s.solve_s,
                s.iterations,
                s.relative_residual,
                s.factor_bytes / 1_000_000,
                peak_mb(),
                solved.compliance.matrix[(0, 0)],
            );
        }
    }
    Ok(())
}

/// Largest memory of this process so far, MB, where the system tells.
fn peak_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap_or("VmHWM: 0 kB");
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).unwrap_or(0) / 1024
}
