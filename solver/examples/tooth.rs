//! Both tiers on a tooth, with the numbers that papers give. `tooth [NAME [SIZE [MODULUS [NU [FORMULATION]]]]]`; the name `paraboloid`
//! (default) is the idealised tooth, any other a kind of tooth. With `--export FOLDER` both solutions are written
//! there.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use std::time::Instant;

use gomphosis_mesh_gen::revolve::{ParaboloidBodies, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{Silent, TetMesh, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Footprint, Formulation, Material, Materials, PlanarResistance, Plane, SolveOptions, ToothProblem,
    export, solve_unit_loads,
};
use nalgebra::Point3;

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let folder = arguments.iter().position(|a| a == "--export").map(|at| {
        let folder = arguments.get(at + 1).cloned().unwrap_or_else(|| ".".to_owned());
        arguments.truncate(at);
        folder
    });
    let number = |k: usize, default| arguments.get(k).and_then(|a| a.parse().ok()).unwrap_or(default);
    let name = arguments.first().map_or("paraboloid", String::as_str);
    let size = number(1, 0.8);
    let ligament = Material::new(number(2, 0.10), number(3, 0.45))?;

    let formulation = match arguments.get(4).map(String::as_str) {
        Some("displacement") => Formulation::Displacement,
        _ => Formulation::default(),
    };

    let start = Instant::now();
    let (mesh, footprint, bony_root) = match ToothKind::parse(name) {
        None => idealised(size)?,
        Some(kind) => {
            let mut spec = ToothInSocket::handbook(kind);
            spec.mesh.element_size_mm = size;
            let tooth = mesh_tooth(&spec, &Silent)?;
            (tooth.mesh, Footprint::of(&spec.attachment, &tooth.landmarks), tooth.landmarks.bony_root_mm)
        }
    };
    println!(
        "{name}: {} nodes, {} elements, meshed in {:.2} s",
        mesh.nodes().len(),
        mesh.cells().len(),
        start.elapsed().as_secs_f64()
    );
    for bodies in [Bodies::Rigid, Bodies::Elastic] {
        let problem = ToothProblem {
            mesh: &mesh,
            materials: Materials { ligament, ..Materials::default() },
            bodies,
            formulation,
            reference_point: footprint.centre,
            footprint,
            options: SolveOptions::default(),
        };
        let start = Instant::now();
        let solutions = solve_unit_loads(&problem, &Silent)?;
        println!("{bodies:?}: {:.2} s", start.elapsed().as_secs_f64());
        println!("  {:?}", solutions.statistics);
        println!(
            "  asymmetry {:.2e}, fit residual {:.2e}, bending {:.4} mm/N",
            solutions.asymmetry, solutions.fit_residual[0], solutions.tooth_bending_mm[0]
        );
        for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
            let r = PlanarResistance::new(&solutions.compliance, plane);
            let height = footprint.centre.z;
            println!(
                "  {plane:?}: centre {:.4} mm = {:.4} of the bony root, sigma2 {:.3} mm2, kx/E {:.1} mm, tip {:.3} deg/mm, T/F for translation {:.2} mm",
                r.centre_depth_mm(),
                r.centre_depth_mm() / bony_root,
                r.sigma_squared_mm2(),
                1.0 / r.centre_compliance_mm_per_n() / ligament.modulus_mpa,
                r.compensation_deg_per_mm(height, height),
                r.torque_for_translation_mm(height),
            );
        }
        let c = &solutions.compliance;
        println!(
            "  centre of compliance {:.3?}, radius of resistance {:.3?} mm",
            c.centre_of_compliance(),
            c.radius_of_resistance()
        );
        if let Some(folder) = &folder {
            let path = format!("{folder}/{bodies:?}.vtu").to_lowercase();
            export::write_solution(&mut std::fs::File::create(path)?, &problem, &solutions, None)?;
        }
    }
    Ok(())
}

/// The paraboloid of the literature in a bowl of bone: half axis 3.9, length 13, ligament 0.229 mm.
fn idealised(size: f64) -> Result<(TetMesh, Footprint, f64), Failure> {
    let mut root = ParaboloidRoot::reference(ThicknessLaw::Stretched);
    root.around = 6 * ((24.5 / size / 6.0).round() as usize).max(2);
    root.rings = ((14.5 / size) as usize).max(root.around / 6 + 1);
    root.bodies = ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 4, crown_mm: 8.0 };
    let footprint = Footprint {
        centre: Point3::new(3.9, 0.0, 4.0),
        face: gomphosis_mesh_gen::Face::Buccal,
        width_mm: 3.0,
        height_mm: 2.0,
    };
    Ok((root.mesh()?, footprint, 13.0))
}
