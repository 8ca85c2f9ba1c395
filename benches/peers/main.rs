//! The project's side of the comparison with other solvers. Every call does one thing in a fresh process and prints
//! one JSON object:
//!
//! - `peers export TOOTH SIZE_MM FILE.vtu`: solves the six unit loads with the plain element and writes the model.
//! - `peers solve TOOTH SIZE_MM METHOD [FORCES]`: times assembly, set-up and six loads. METHOD is `default` (what the
//!   program chooses), `iterative`, or `direct_double` or `direct_single`, which read the loads from FORCES, a file that `export`
//!   wrote beside the model.
//! - `peers mesh TOOTH SIZE_MM [SURFACE.off]`: times the mesher; writes the tooth's surface as plain triangles.
//! - `peers plot LINES.json GROWTH.svg`: draws times against unknowns.
#![allow(clippy::print_stdout, reason = "the printed object is the purpose")]

mod clock;
mod plot;
mod surface;

use std::error::Error;
use std::fs::File;
use std::io::{BufWriter, Read, Write};
use std::path::Path;

use gomphosis_benches::{Specimen, spec};
use gomphosis_mesh_gen::{Silent, mesh_tooth};
use gomphosis_solver::assembly::assemble;
use gomphosis_solver::linear::direct::{Direct, Precision};
use gomphosis_solver::linear::{Linear, LinearSolver, System};
use gomphosis_solver::{Bodies, Footprint, Formulation, export, solve_unit_loads};
use nalgebra::{DMatrix, Matrix6};
use serde_json::{Value, json};

use clock::{Clock, peak_mb};

type Failure = Box<dyn Error>;

/// Meshes generated for the mesher's time.
const MESHES: usize = 5;

fn main() -> Result<(), Failure> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let result = match words[..] {
        ["export", tooth, size, file] => export_model(tooth, size.parse()?, Path::new(file))?,
        ["solve", tooth, size, "default"] => solve(tooth, size.parse()?, Linear::Auto)?,
        ["solve", tooth, size, "iterative"] => solve(tooth, size.parse()?, Linear::Iterative)?,
        ["solve", tooth, size, "direct_double", forces] => {
            direct(tooth, size.parse()?, Precision::Double, Path::new(forces))?
        }
        ["solve", tooth, size, "direct_single", forces] => {
            direct(tooth, size.parse()?, Precision::Single, Path::new(forces))?
        }
        ["mesh", tooth, size] => mesh(tooth, size.parse()?, None)?,
        ["plot", lines, drawing] => {
            plot::growth(
                &serde_json::from_reader::<_, Vec<plot::Line>>(File::open(lines)?)?,
                Path::new(drawing),
            )?;
            json!({ "written": drawing })
        }
        ["mesh", tooth, size, file] => mesh(tooth, size.parse()?, Some(Path::new(file)))?,
        _ => {
            return Err(
                "usage: peers export|solve|mesh TOOTH SIZE_MM ..., or plot LINES.json GROWTH.svg".into()
            );
        }
    };
    println!("{result}");
    Ok(())
}

/// Writes the model and, beside it, the nodal forces of the six loads as numbers: load, node, axis.
fn export_model(tooth: &str, size: f64, path: &Path) -> Result<Value, Failure> {
    let specimen = Specimen::new(tooth, Some(size))?;
    let problem = specimen.problem(Bodies::Elastic, Formulation::Displacement);
    let solutions = solve_unit_loads(&problem, &Silent)?;
    export::write_solution(&mut BufWriter::new(File::create(path)?), &problem, &solutions, None)?;
    let mut forces = BufWriter::new(File::create(path.with_extension("forces"))?);
    for force in solutions.forces.iter().flatten() {
        for component in force.iter() {
            forces.write_all(&component.to_le_bytes())?;
        }
    }
    forces.flush()?;
    Ok(json!({
        "elements": problem.mesh.cells().len(),
        "nodes": problem.mesh.nodes().len(),
        "unknowns": solutions.statistics.unknowns,
    }))
}

/// The program's own way, loads and compliance included.
fn solve(tooth: &str, size: f64, linear: Linear) -> Result<Value, Failure> {
    let specimen = Specimen::new(tooth, Some(size))?;
    let mut problem = specimen.problem(Bodies::Elastic, Formulation::Displacement);
    problem.options.linear = linear;
    let clock = Clock::start();
    let solutions = solve_unit_loads(&problem, &Silent)?;
    let (wall_s, cpu_s) = clock.elapsed();
    let s = &solutions.statistics;
    Ok(json!({
        "wall_s": wall_s, "cpu_s": cpu_s, "peak_mb": peak_mb(),
        "assembly_s": s.assembly_s, "set_up_s": s.factor_s, "loads_s": s.solve_s,
        "unknowns": s.unknowns, "elements": s.elements,
        "method": s.method, "iterations": s.iterations, "residual": s.relative_residual,
        "compliance": rows(&solutions.load_compliance),
    }))
}

/// Assembly and a factor in the precision asked for.
fn direct(tooth: &str, size: f64, precision: Precision, forces: &Path) -> Result<Value, Failure> {
    let specimen = Specimen::new(tooth, Some(size))?;
    let nodes = specimen.tooth.mesh.nodes().len();
    let forces = read_numbers(forces)?;
    if forces.len() != 18 * nodes {
        return Err("the forces are of another mesh".into());
    }
    let clock = Clock::start();
    let (elements, free) = specimen.system(Formulation::Displacement);
    let matrix = assemble(&elements, &free, &Silent)?;
    let assembly_s = clock.elapsed().0;
    let right = DMatrix::from_fn(3 * free.len(), 6, |row, load| {
        forces[3 * (load * nodes + free.nodes()[row / 3] as usize) + row % 3]
    });
    let system = System { matrix: &matrix, free: &free, elements: &elements };
    let solver = Direct::with_precision(&system, precision, None, &Silent)?;
    let solved = solver.solve(&system, &right, &Silent)?;
    let compliance: DMatrix<f64> = right.transpose() * &solved.solution;
    let (wall_s, cpu_s) = clock.elapsed();
    let report = solver.report();
    Ok(json!({
        "wall_s": wall_s, "cpu_s": cpu_s, "peak_mb": peak_mb(),
        "assembly_s": assembly_s, "set_up_s": report.seconds, "loads_s": solved.seconds,
        "unknowns": matrix.unknowns(), "elements": elements.len(),
        "method": report.method, "iterations": solved.iterations, "residual": solved.relative_residual,
        "compliance": rows(&Matrix6::from_fn(|i, j| compliance[(i, j)])),
    }))
}

/// Median time of some meshes.
fn mesh(tooth: &str, size: f64, file: Option<&Path>) -> Result<Value, Failure> {
    let spec = spec(tooth, Some(size))?;
    let mut made = mesh_tooth(&spec, &Silent)?;
    let mut times = Vec::with_capacity(MESHES);
    for _ in 0..MESHES {
        let clock = Clock::start();
        made = mesh_tooth(&spec, &Silent)?;
        times.push(clock.elapsed());
    }
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (wall_s, cpu_s) = times[MESHES / 2];
    let specimen = Specimen { footprint: Footprint::of(&spec.attachment, &made.landmarks), tooth: made };
    let unknowns = 3 * specimen.system(Formulation::Displacement).1.len();
    let triangles = file.map(|path| surface::write_tooth(&specimen.tooth.mesh, path)).transpose()?;
    Ok(json!({
        "wall_s": wall_s, "cpu_s": cpu_s, "peak_mb": peak_mb(),
        "elements": specimen.tooth.mesh.cells().len(), "unknowns": unknowns, "triangles": triangles,
    }))
}

fn read_numbers(path: &Path) -> Result<Vec<f64>, Failure> {
    let mut bytes = Vec::new();
    File::open(path)?.read_to_end(&mut bytes)?;
    Ok(bytes.chunks_exact(8).map(|chunk| f64::from_le_bytes(std::array::from_fn(|k| chunk[k]))).collect())
}

fn rows(matrix: &Matrix6<f64>) -> Vec<Vec<f64>> {
    matrix.row_iter().map(|row| row.iter().copied().collect()).collect()
}
