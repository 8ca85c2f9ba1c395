//! Meshed handbook teeth, ready to be solved, for the benchmarks.

use gomphosis_mesh_gen::{Region, Silent, ToothInSocket, ToothKind, ToothMesh, mesh_tooth, surface};
use gomphosis_solver::assembly::{Elements, FreeNodes};
use gomphosis_solver::element::Quadrature;
use gomphosis_solver::{Bodies, Footprint, Formulation, Materials, SolveOptions, ToothProblem};

/// A meshed tooth with the place of its load.
pub struct Specimen {
    /// Mesh and landmarks.
    pub tooth: ToothMesh,
    /// Where the crown is loaded.
    pub footprint: Footprint,
}

impl Specimen {
    /// A handbook tooth at an element size, mm; `None` for the default size.
    ///
    /// # Errors
    /// If the tooth is unknown or cannot be meshed.
    pub fn new(tooth: &str, size_mm: Option<f64>) -> Result<Self, String> {
        let spec = spec(tooth, size_mm)?;
        let tooth = mesh_tooth(&spec, &Silent).map_err(|error| error.to_string())?;
        let footprint = Footprint::of(&spec.attachment, &tooth.landmarks);
        Ok(Self { tooth, footprint })
    }

    /// The problem with default materials.
    #[must_use]
    pub fn problem(&self, bodies: Bodies, formulation: Formulation) -> ToothProblem<'_> {
        ToothProblem {
            mesh: &self.tooth.mesh,
            materials: Materials::default(),
            bodies,
            formulation,
            reference_point: self.tooth.landmarks.attachment,
            footprint: self.footprint,
            options: SolveOptions::default(),
        }
    }

    /// The elements and the free nodes of the elastic system.
    ///
    /// # Panics
    /// Never: the 4-point rule exists.
    #[must_use]
    pub fn system(&self, formulation: Formulation) -> (Elements<'_>, FreeNodes) {
        let mesh = &self.tooth.mesh;
        let rule = Quadrature::with_points(4).expect("there is a rule of four points");
        let elements = Elements::new(mesh, &Region::ALL, &Materials::default(), formulation, rule);
        let mut held = vec![false; mesh.nodes().len()];
        for &n in mesh.surface(surface::FIXED).iter().flatten() {
            held[n as usize] = true;
        }
        let free = FreeNodes::new(&elements, &held);
        (elements, free)
    }
}

/// The specification of a handbook tooth at an element size, mm; `None` for the default size. A name that ends with
/// `, short` is of that tooth in a short socket, which needs few elements: 5 mm of bone lost, little bone around, one
/// layer in the ligament.
///
/// # Errors
/// If there is no such tooth.
pub fn spec(tooth: &str, size_mm: Option<f64>) -> Result<ToothInSocket, String> {
    let name = tooth.strip_suffix(", short");
    let kind =
        ToothKind::parse(name.unwrap_or(tooth)).ok_or_else(|| format!("there is no tooth '{tooth}'"))?;
    let mut spec = ToothInSocket::handbook(kind);
    if name.is_some() {
        spec = spec.with_bone_loss(5.0);
        spec.ligament.layers = 1;
        spec.bone.below_apex_mm = 1.5;
        spec.bone.interdental_mm = 1.0;
    }
    if let Some(size) = size_mm {
        spec.mesh.element_size_mm = size;
    }
    Ok(spec)
}
