//! Mesh and solution as a VTK XML unstructured grid (`.vtu`) of quadratic tetrahedra, complete enough that
//! anyone can rebuild and solve the same system with another library.
//!
//! Cell array `region` (numbers of [`Region`]). Point arrays `fixed` (0 or 1) and, with a solution,
//! `unit_force_fx` ... `unit_force_mz` (nodal forces, N) and `unit_motion_fx` ... `unit_motion_mz`
//! (displacements, mm). Field data `reference_point_mm`, `modulus_mpa` and `poisson_ratio` (one value a region number),
//! `quadrature_points`, and `formulation`: the name as ASCII codes, because general readers do not agree on
//! text arrays.
//!
//! With a load of its own ([`LoadedState`]) a solution also holds the point array `displacement_mm`, the cell arrays
//! `ligament_pressure_kpa` (compression positive) and `ligament_shear_kpa` (largest shear), which are not a number
//! outside the ligament, and the field data `load_point_mm`, `load_force_n` and `load_moment_nmm`.
//!
//! With rigid bodies only the ligament is written: the wall of the socket is `fixed`, the forces act on the
//! root surface.

use std::fmt::Write as _;
use std::io::Write;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use gomphosis_mesh_gen::{Region, TetMesh, surface};
use nalgebra::{Point3, Vector3};

use crate::error::SolverError;
use crate::ligament::LigamentField;
use crate::material::Materials;
use crate::model::{UNIT_LOADS, UnitSolutions};
use crate::motion::Wrench;
use crate::problem::{Bodies, ToothProblem};

/// Number of the quadratic tetrahedron among the cell types of VTK.
const QUADRATIC_TETRAHEDRON: u8 = 24;

/// Writes a mesh; the nodes of its held surface are marked `fixed`, and the field data hold the materials and
/// the reference point (mm) that a solution would use.
///
/// # Errors
/// [`SolverError::Write`].
pub fn write_mesh(
    out: &mut impl Write,
    mesh: &TetMesh,
    materials: &Materials,
    reference_point: Point3<f64>,
) -> Result<(), SolverError> {
    let mut fixed = vec![0_u8; mesh.nodes().len()];
    for &n in mesh.surface(surface::FIXED).iter().flatten() {
        fixed[n as usize] = 1;
    }
    let mut points = String::new();
    bytes(&mut points, "fixed", &fixed);
    grid(out, mesh, &common_field(materials, reference_point), &points, "")
}

/// A load, and the ligament's state under it.
#[derive(Debug, Clone, Copy)]
pub struct LoadedState<'a> {
    /// The load.
    pub wrench: Wrench,
    /// Pressure and shear of the ligament under the load.
    pub field: &'a LigamentField,
}

/// Writes a mesh with the six unit loads and their displacement fields, and the state under one load where it is given.
///
/// # Errors
/// [`SolverError::Write`].
///
/// # Panics
/// If the state is of another mesh.
pub fn write_solution(
    out: &mut impl Write,
    problem: &ToothProblem,
    solutions: &UnitSolutions,
    state: Option<&LoadedState<'_>>,
) -> Result<(), SolverError> {
    let mut field = common_field(&problem.materials, solutions.reference_point);
    floats(&mut field, "quadrature_points", 1, [problem.options.quadrature_points as f64]);
    bytes(&mut field, "formulation", problem.formulation.name().as_bytes());

    let part = (problem.bodies == Bodies::Rigid).then(|| problem.mesh.extract(&[Region::Ligament]));
    let (mesh, numbers) = match &part {
        Some((mesh, old)) => (mesh, old.clone()),
        None => (problem.mesh, (0..problem.mesh.nodes().len() as u32).collect()),
    };
    let mut points = String::new();
    let fixed: Vec<u8> = numbers.iter().map(|&n| u8::from(solutions.fixed[n as usize])).collect();
    bytes(&mut points, "fixed", &fixed);
    let mut vectors = |name: &str, values: &[Vector3<f64>]| {
        let flat = numbers.iter().flat_map(|&n| <[f64; 3]>::from(values[n as usize]));
        floats(&mut points, name, 3, flat);
    };
    for (load, name) in UNIT_LOADS.iter().enumerate() {
        vectors(&format!("unit_force_{name}"), &solutions.forces[load]);
        vectors(&format!("unit_motion_{name}"), &solutions.motions[load]);
    }
    let mut cells = String::new();
    if let Some(state) = state {
        vectors("displacement_mm", &solutions.displacement(&state.wrench));
        let Wrench { point, force, moment } = state.wrench;
        for (name, vector) in
            [("load_point_mm", point.coords), ("load_force_n", force), ("load_moment_nmm", moment)]
        {
            floats(&mut field, name, 1, vector.iter().copied());
        }
        // In the ligament alone each element has its value, in the order of the mesh.
        let mut of_ligament = 0..;
        let places: Vec<Option<usize>> = mesh
            .regions()
            .iter()
            .map(|region| (*region == Region::Ligament).then(|| of_ligament.next())?)
            .collect();
        assert_eq!(
            places.iter().flatten().count(),
            state.field.cell_pressure_kpa.len(),
            "the state belongs to the ligament of this mesh"
        );
        for (name, values) in [
            ("ligament_pressure_kpa", &state.field.cell_pressure_kpa),
            ("ligament_shear_kpa", &state.field.cell_shear_kpa),
        ] {
            let of_cells = places.iter().map(|place| place.map_or(f64::NAN, |k| values[k]));
            floats(&mut cells, name, 1, of_cells);
        }
    }
    grid(out, mesh, &field, &points, &cells)
}

/// Field data of every file: reference point, and elastic constants in the order of the region numbers.
fn common_field(materials: &Materials, reference_point: Point3<f64>) -> String {
    let materials = Region::ALL.map(|region| materials.of(region));
    let mut field = String::new();
    floats(&mut field, "reference_point_mm", 1, reference_point.iter().copied());
    floats(&mut field, "modulus_mpa", 1, materials.iter().map(|m| m.modulus_mpa));
    floats(&mut field, "poisson_ratio", 1, materials.iter().map(|m| m.poisson_ratio));
    field
}

/// The file around ready-made data arrays.
fn grid(
    out: &mut impl Write,
    mesh: &TetMesh,
    field: &str,
    points: &str,
    of_cells: &str,
) -> Result<(), SolverError> {
    let (nodes, cells) = (mesh.nodes().len(), mesh.cells().len());
    let mut text = String::new();
    text.push_str("<?xml version=\"1.0\"?>\n");
    text.push_str(
        "<VTKFile type=\"UnstructuredGrid\" version=\"1.0\" byte_order=\"LittleEndian\" header_type=\"UInt64\">\n",
    );
    text.push_str("<UnstructuredGrid>\n");
    // The arrays of the field data say how many values they have; all others are counted by points or cells.
    if !field.is_empty() {
        _ = write!(text, "<FieldData>\n{field}</FieldData>\n");
    }
    _ = writeln!(text, "<Piece NumberOfPoints=\"{nodes}\" NumberOfCells=\"{cells}\">");
    text.push_str("<Points>\n");
    floats(&mut text, "points", 3, mesh.nodes().iter().flat_map(|x| <[f64; 3]>::from(x.coords)));
    text.push_str("</Points>\n<Cells>\n");
    integers(&mut text, "connectivity", mesh.cells().iter().flatten().map(|&n| i64::from(n)));
    integers(&mut text, "offsets", (1..).take(cells).map(|k: i64| 10 * k));
    bytes(&mut text, "types", &vec![QUADRATIC_TETRAHEDRON; cells]);
    _ = write!(text, "</Cells>\n<PointData>\n{points}</PointData>\n<CellData>\n");
    integers(&mut text, "region", mesh.regions().iter().map(|&r| i64::from(r as u8)));
    text.push_str(of_cells);
    text.push_str("</CellData>\n</Piece>\n</UnstructuredGrid>\n</VTKFile>\n");
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

fn floats(text: &mut String, name: &str, components: usize, values: impl IntoIterator<Item = f64>) {
    let data: Vec<u8> = values.into_iter().flat_map(f64::to_le_bytes).collect();
    array(text, name, "Float64", components, data.len() / 8 / components, &data);
}

fn integers(text: &mut String, name: &str, values: impl IntoIterator<Item = i64>) {
    let data: Vec<u8> = values.into_iter().flat_map(i64::to_le_bytes).collect();
    array(text, name, "Int64", 1, data.len() / 8, &data);
}

fn bytes(text: &mut String, name: &str, values: &[u8]) {
    array(text, name, "UInt8", 1, values.len(), values);
}

/// One data array in base64, its length in bytes in front.
fn array(text: &mut String, name: &str, kind: &str, components: usize, tuples: usize, data: &[u8]) {
    _ = write!(
        text,
        "<DataArray type=\"{kind}\" Name=\"{name}\" NumberOfComponents=\"{components}\" NumberOfTuples=\"{tuples}\" format=\"binary\">"
    );
    let mut whole = (data.len() as u64).to_le_bytes().to_vec();
    whole.extend_from_slice(data);
    STANDARD.encode_string(whole, text);
    text.push_str("</DataArray>\n");
}

#[cfg(test)]
#[path = "export/tests.rs"]
mod tests;
