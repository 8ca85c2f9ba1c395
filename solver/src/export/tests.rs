use base64::Engine as _;
use gomphosis_mesh_gen::Silent;
use gomphosis_mesh_gen::revolve::{ParaboloidRoot, ThicknessLaw};

use super::*;
use crate::ligament::LigamentStress;
use crate::model::solve_unit_loads;
use crate::model::tests::problem_on;

/// Decodes one array of a file by its name: element type, payload.
fn read<'a>(text: &'a str, name: &str) -> (&'a str, Vec<u8>) {
    let at = text.find(&format!("Name=\"{name}\"")).unwrap_or_else(|| panic!("no array {name}"));
    let open = text[..at].rfind("<DataArray").expect("inside a tag");
    let kind = text[open..].split('"').nth(1).expect("a type");
    let start = at + text[at..].find('>').expect("the tag ends") + 1;
    let end = start + text[start..].find('<').expect("the array ends");
    let raw = STANDARD.decode(&text[start..end]).expect("base64");
    let length = u64::from_le_bytes(raw[..8].try_into().expect("eight bytes"));
    assert_eq!(length as usize, raw.len() - 8, "{name}: the length in front");
    (kind, raw[8..].to_vec())
}

fn floats_of(text: &str, name: &str) -> Vec<f64> {
    let (kind, raw) = read(text, name);
    assert_eq!(kind, "Float64");
    raw.chunks_exact(8).map(|b| f64::from_le_bytes(b.try_into().expect("eight bytes"))).collect()
}

#[test]
fn rigid_solution_reads_back() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().expect("the reference root");
    let problem = problem_on(&mesh, Bodies::Rigid);
    let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
    let mut file = Vec::new();
    write_solution(&mut file, &problem, &solutions, None).expect("memory takes it");
    let text = String::from_utf8(file).expect("text");
    assert_eq!(floats_of(&text, "modulus_mpa"), [18_600.0, 0.1, 1370.0, 13_700.0]);
    assert_eq!(floats_of(&text, "quadrature_points"), [4.0]);
    assert_eq!(read(&text, "formulation").1, problem.formulation.name().as_bytes());
    let (part, numbers) = mesh.extract(&[Region::Ligament]);
    let points = floats_of(&text, "points");
    assert!(points.chunks_exact(3).zip(part.nodes()).all(|(p, x)| p == x.coords.as_slice()));
    let motion = floats_of(&text, "unit_motion_my");
    let same = |(u, &n): (&[f64], &u32)| u == solutions.motions[4][n as usize].as_slice();
    assert!(motion.chunks_exact(3).zip(&numbers).all(same));
    let force: f64 = floats_of(&text, "unit_force_fx").iter().step_by(3).sum();
    approx::assert_relative_eq!(force, 1.0, epsilon = 1e-9);
    assert_eq!(read(&text, "types").1, vec![24; mesh.cells().len()]);
    let regions = read(&text, "region").1;
    assert!(regions.chunks_exact(8).all(|b| i64::from_le_bytes(b.try_into().expect("eight bytes")) == 1));
}

#[test]
fn a_load_of_its_own_is_written_as_it_follows_from_the_unit_loads() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().expect("the reference root");
    let problem = problem_on(&mesh, Bodies::Rigid);
    let solutions = solve_unit_loads(&problem, &Silent).expect("solvable");
    let stress = LigamentStress::new(&problem, &solutions).expect("a ligament");
    let wrench = Wrench {
        point: solutions.reference_point,
        force: Vector3::new(2.0, 0.0, 0.5),
        moment: Vector3::new(0.0, -3.0, 0.0),
    };
    let field = stress.under(&solutions, &wrench);
    let mut file = Vec::new();
    let state = LoadedState { wrench, field: &field };
    write_solution(&mut file, &problem, &solutions, Some(&state)).expect("memory takes it");
    let text = String::from_utf8(file).expect("text");
    assert_eq!(floats_of(&text, "load_force_n"), [2.0, 0.0, 0.5]);
    assert_eq!(floats_of(&text, "load_moment_nmm"), [0.0, -3.0, 0.0]);
    let units = ["fx", "fz", "my"].map(|name| floats_of(&text, &format!("unit_motion_{name}")));
    for (k, moved) in floats_of(&text, "displacement_mm").iter().enumerate() {
        let sum = 2.0 * units[0][k] + 0.5 * units[1][k] - 3.0 * units[2][k];
        approx::assert_relative_eq!(*moved, sum, epsilon = 1e-12);
    }
    assert_eq!(floats_of(&text, "ligament_pressure_kpa"), field.cell_pressure_kpa);
    assert_eq!(floats_of(&text, "ligament_shear_kpa"), field.cell_shear_kpa);
    assert!(field.cell_shear_kpa.iter().all(|shear| *shear > 0.0));
}

#[test]
fn mesh_alone_has_no_loads() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().expect("the reference root");
    let mut file = Vec::new();
    write_mesh(&mut file, &mesh, &Materials::default(), Point3::origin()).expect("memory takes it");
    let text = String::from_utf8(file).expect("text");
    assert!(!text.contains("unit_force") && text.contains("Name=\"modulus_mpa\""));
    assert_eq!(read(&text, "fixed").1, vec![0; mesh.nodes().len()]);
}
