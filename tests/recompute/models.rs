//! Writes the models that `recompute.py` solves again, as `.vtu` files into the directory named as argument.

use std::error::Error;
use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

use gomphosis_cli::verify::model::{problem, with_ligament};
use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidBodies, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{Silent, TetMesh, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::export::write_solution;
use gomphosis_solver::{
    Bodies, Footprint, Formulation, Materials, SolveOptions, ToothProblem, solve_unit_loads,
};

fn main() -> Result<(), Box<dyn Error>> {
    let directory = PathBuf::from(std::env::args().nth(1).ok_or("name a directory for the files")?);
    std::fs::create_dir_all(&directory)?;
    idealised(&directory)?;
    for (name, bodies, formulation) in [
        ("upper first premolar", Bodies::Elastic, Formulation::Displacement),
        ("upper first molar", Bodies::Rigid, Formulation::default()),
        ("lower lateral incisor", Bodies::Elastic, Formulation::default()),
    ] {
        handbook(&directory, name, bodies, formulation)?;
    }
    Ok(())
}

/// Paraboloids: an elliptic one with all bodies, and the reference root at a ligament nearly incompressible.
fn idealised(directory: &Path) -> Result<(), Box<dyn Error>> {
    let root = ParaboloidRoot {
        half_axis_y_mm: 2.8,
        around: 18,
        rings: 10,
        bodies: ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 3, crown_mm: 8.0 },
        ..ParaboloidRoot::reference(ThicknessLaw::Uniform(CrestEdge::Flush))
    };
    let mesh = root.mesh()?;
    for (name, formulation) in
        [("displacement", Formulation::Displacement), ("default", Formulation::default())]
    {
        let elastic = problem(&mesh, Bodies::Elastic, Materials::default(), formulation);
        write(directory, &format!("elliptic_paraboloid_{name}"), &elastic)?;
    }
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh()?;
    let options = SolveOptions { quadrature_points: 11, ..SolveOptions::default() };
    let rigid = problem(&mesh, Bodies::Rigid, with_ligament(0.68, 0.499), Formulation::default());
    write(directory, "reference_root", &ToothProblem { options, ..rigid })
}

fn handbook(
    directory: &Path,
    name: &str,
    bodies: Bodies,
    formulation: Formulation,
) -> Result<(), Box<dyn Error>> {
    let kind = ToothKind::parse(name).ok_or("no such tooth")?;
    let mut tooth = ToothInSocket::handbook(kind);
    tooth.mesh.element_size_mm *= 2.0;
    let meshed = mesh_tooth(&tooth, &Silent)?;
    let mesh: &TetMesh = &meshed.mesh;
    let whole = problem(mesh, bodies, Materials::default(), formulation);
    let footprint = Footprint::of(&tooth.attachment, &meshed.landmarks);
    let reference_point = meshed.landmarks.attachment;
    write(directory, &name.replace(' ', "_"), &ToothProblem { footprint, reference_point, ..whole })
}

fn write(directory: &Path, name: &str, problem: &ToothProblem) -> Result<(), Box<dyn Error>> {
    let solutions = solve_unit_loads(problem, &Silent)?;
    let mut file = BufWriter::new(File::create(directory.join(format!("{name}.vtu")))?);
    write_solution(&mut file, problem, &solutions, None)?;
    Ok(())
}
