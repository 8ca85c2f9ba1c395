//! Errors of the headline numbers: from one mesh in every run, from a sequence of meshes when asked.

use gomphosis_mesh_gen::{Landmarks, Region, ToothMesh};
use gomphosis_solver::discretisation::{ELEMENTS, THICKNESS};
use gomphosis_solver::{
    Compliance, Discretisation, GridConvergence, PlanarLoad, PlanarResistance, Plane, SolverError,
    ToothProblem, UnitSolutions,
};
use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::case::Case;

/// Headline numbers of a plane, with their units.
pub(crate) const NUMBERS: [&str; PER_PLANE] = [
    "centre_of_resistance_mm",
    "sigma_squared_mm2",
    "torque_for_translation_mm",
    "centre_of_rotation_mm",
    "tip_deg",
    "travel_mm",
    "tip_deg_per_mm_attachment",
    "tip_deg_per_mm_cusp_tip",
    "tip_deg_per_mm_crest",
    "travel_left_percent",
];
const PER_PLANE: usize = 10;
const ALL: usize = 2 * PER_PLANE;

/// Order at which the error of the compliance falls with the size of the elements: twice the exponent of the stress-free
/// corner of a bonded layer, 0.59 where it keeps its volume (from memory); 1.12 was found on the paraboloid root, from sizes
/// 1.2 and 0.8 mm with two and three layers against the axisymmetric reference.
const SINGULAR_ORDER: f64 = 1.2;

/// Error of a number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct NumberError {
    /// In the number's own unit; null where the number is infinite.
    pub(crate) error: Option<f64>,
    /// Relative to the number.
    pub(crate) percent: Option<f64>,
    /// What is expected to be missing from the number, its own unit, with its sign.
    pub(crate) bias: Option<f64>,
}

/// Errors of all headline numbers.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Accuracy {
    method: &'static str,
    /// Factor on what the elements miss, and share of the single pieces of the thickness.
    safety_factor: f64,
    thickness_share: f64,
    bucco_lingual: Map<String, Value>,
    mesio_distal: Map<String, Value>,
    /// Of the compliance's diagonal, percent: fx, fy, fz, mx, my, mz.
    compliance_diagonal_percent: [f64; 6],
    /// A sequence of meshes; null unless asked for.
    sequence: Option<Sequence>,
    #[serde(skip)]
    errors: [NumberError; ALL],
}

/// What a sequence of meshes says.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Sequence {
    method: &'static str,
    element_size_mm: [f64; 3],
    unknowns: [usize; 3],
    /// Ratios of the mean element sizes in the ligament, from the counts: coarse over middle, middle over fine.
    ligament_ratio: [f64; 2],
    /// Number of the eighteen headline numbers that are in the asymptotic range.
    numbers_in_asymptotic_range: usize,
    /// Each mesh, from the one of the result to the finest.
    meshes: [MeshOfSequence; 3],
    bucco_lingual: Map<String, Value>,
    mesio_distal: Map<String, Value>,
}

/// One mesh of a sequence with its headline numbers.
#[derive(Debug, Clone, Serialize)]
struct MeshOfSequence {
    element_size_mm: f64,
    layers: u32,
    unknowns: usize,
    ligament_tetrahedra: usize,
    bucco_lingual: Map<String, Value>,
    mesio_distal: Map<String, Value>,
}

/// The headline numbers of one mesh of a sequence.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rung {
    element_size_mm: f64,
    layers: u32,
    unknowns: usize,
    ligament_tetrahedra: usize,
    numbers: [f64; ALL],
}

impl Rung {
    pub(crate) fn new(case: &Case, tooth: &ToothMesh, solutions: &UnitSolutions) -> Self {
        Self {
            element_size_mm: case.specimen.mesh.element_size_mm,
            layers: case.specimen.ligament.layers,
            ligament_tetrahedra: tooth
                .quality
                .regions
                .iter()
                .find(|region| region.region == Region::Ligament)
                .map_or(0, |region| region.tetrahedra),
            unknowns: solutions.statistics.unknowns,
            numbers: numbers(case, &tooth.landmarks, &solutions.compliance),
        }
    }
}

impl Accuracy {
    /// Estimates the errors from the mesh at hand.
    pub(crate) fn estimate(
        case: &Case,
        tooth: &ToothMesh,
        problem: &ToothProblem,
        solutions: &UnitSolutions,
    ) -> Result<Self, SolverError> {
        let missing = Discretisation::estimate(problem, solutions, &tooth.thickness_shortfall)?;
        let compliance = &solutions.compliance;
        let values = numbers(case, &tooth.landmarks, compliance);
        let found = missing.errors(compliance, |c| numbers(case, &tooth.landmarks, c));
        let errors: [NumberError; ALL] = std::array::from_fn(|k| {
            let error = found[k].bound;
            let finite = |v: f64| v.is_finite().then_some(v);
            NumberError {
                error: finite(error),
                percent: finite(100.0 * error / values[k].abs()),
                bias: finite(found[k].bias),
            }
        });
        let diagonal = missing.errors(compliance, |c| std::array::from_fn::<f64, 6, _>(|k| c.matrix[(k, k)]));
        let plane = |first: usize| {
            NUMBERS.iter().zip(&errors[first..]).map(|(name, e)| ((*name).to_owned(), json!(e))).collect()
        };
        Ok(Self {
            method: "one mesh: stress recovered in the ligament and thickness of the layer, without cancellation",
            safety_factor: ELEMENTS,
            thickness_share: THICKNESS,
            bucco_lingual: plane(0),
            mesio_distal: plane(PER_PLANE),
            compliance_diagonal_percent: std::array::from_fn(|k| {
                100.0 * diagonal[k].bound / compliance.matrix[(k, k)]
            }),
            sequence: None,
            errors,
        })
    }

    /// Error of a number of a plane, percent, where it is finite.
    pub(crate) fn percent(&self, plane: Plane, name: &str) -> Option<f64> {
        let at = NUMBERS.iter().position(|n| *n == name)?;
        self.errors[at + if plane == Plane::BuccoLingual { 0 } else { PER_PLANE }].percent
    }

    /// Adds what a sequence of meshes says, from the one of the result to the finest.
    pub(crate) fn add_sequence(&mut self, rungs: &[Rung; 3]) {
        // Mean sizes from the counts, as Celik et al. 2008 define them; the ligament has the same volume in all.
        let size = rungs.map(|rung| (rung.ligament_tetrahedra as f64).cbrt().recip());
        let ligament_ratio = [size[0] / size[1], size[1] / size[2]];
        let convergence = |number: usize| {
            let [coarse, middle, fine] = rungs.map(|rung| rung.numbers[number]);
            GridConvergence::new(
                [fine, middle, coarse],
                [ligament_ratio[1], ligament_ratio[0]],
                SINGULAR_ORDER,
            )
        };
        let plane = |first: usize| {
            NUMBERS
                .iter()
                .enumerate()
                .map(|(k, name)| {
                    let found = convergence(first + k);
                    let percent = |v: f64| 100.0 * v / found.extrapolated.abs();
                    let entry = json!({
                        "values": rungs.map(|rung| rung.numbers[first + k]),
                        "observed_order": found.order,
                        "in_asymptotic_range": found.asymptotic,
                        "extrapolated": found.extrapolated,
                        "grid_convergence_index_percent": percent(found.index),
                        "error_of_result_percent": percent(found.error_of_coarsest),
                    });
                    ((*name).to_owned(), entry)
                })
                .collect()
        };
        let mesh = |rung: &Rung| {
            let values = |first: usize| {
                NUMBERS
                    .iter()
                    .zip(&rung.numbers[first..])
                    .map(|(name, value)| ((*name).to_owned(), json!(value)))
                    .collect()
            };
            MeshOfSequence {
                element_size_mm: rung.element_size_mm,
                layers: rung.layers,
                unknowns: rung.unknowns,
                ligament_tetrahedra: rung.ligament_tetrahedra,
                bucco_lingual: values(0),
                mesio_distal: values(PER_PLANE),
            }
        };
        self.sequence = Some(Sequence {
            method: "three meshes, grid convergence index with a factor of 1.25, of 3 outside the asymptotic range (Roache 1994, \
                     ASME V&V 20); the order at most that of the singular edge of the ligament at the crest",
            element_size_mm: rungs.map(|r| r.element_size_mm),
            unknowns: rungs.map(|r| r.unknowns),
            ligament_ratio,
            numbers_in_asymptotic_range: (0..ALL).filter(|&k| convergence(k).asymptotic).count(),
            meshes: rungs.each_ref().map(mesh),
            bucco_lingual: plane(0),
            mesio_distal: plane(PER_PLANE),
        });
    }

    /// The sequence, if one was run.
    pub(crate) fn sequence(&self) -> Option<&Sequence> {
        self.sequence.as_ref()
    }
}

/// What a sequence says about a number.
pub(crate) struct Observed {
    pub(crate) order: Option<f64>,
    /// Error of the result, percent.
    pub(crate) percent: Option<f64>,
    pub(crate) asymptotic: bool,
}

impl Sequence {
    /// Element sizes, layers and unknowns, as a sentence.
    pub(crate) fn meshes(&self) -> String {
        let parts: Vec<String> = self
            .meshes
            .iter()
            .map(|m| format!("{:.2} mm, {} layers ({} unknowns)", m.element_size_mm, m.layers, m.unknowns))
            .collect();
        parts.join("; ")
    }

    /// What the sequence says about a number, in the bucco-lingual and the mesio-distal plane.
    pub(crate) fn of(&self, name: &str) -> [Observed; 2] {
        [&self.bucco_lingual, &self.mesio_distal].map(|plane| {
            let entry = plane.get(name);
            let get = |key: &str| entry.and_then(|e| e.get(key));
            Observed {
                order: get("observed_order").and_then(Value::as_f64),
                percent: get("error_of_result_percent").and_then(Value::as_f64),
                asymptotic: get("in_asymptotic_range").and_then(Value::as_bool) == Some(true),
            }
        })
    }
}

/// All headline numbers for a compliance, bucco-lingual first.
fn numbers(case: &Case, landmarks: &Landmarks, compliance: &Compliance) -> [f64; ALL] {
    let height = case.specimen.attachment.height_mm;
    let load = PlanarLoad { height_mm: height, force_n: case.load.force_n, torque_nmm: case.load.torque_nmm };
    let mut all = [f64::NAN; ALL];
    for (plane, out) in
        [Plane::BuccoLingual, Plane::MesioDistal].into_iter().zip(all.chunks_exact_mut(PER_PLANE))
    {
        let resistance = PlanarResistance::new(compliance, plane);
        let motion = resistance.motion(&load);
        out.copy_from_slice(&[
            resistance.centre_depth_mm(),
            resistance.sigma_squared_mm2(),
            resistance.torque_for_translation_mm(height),
            motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
            motion.tip_deg(),
            motion.travel_mm(height),
            motion.tip_deg_per_mm(height),
            motion.tip_deg_per_mm(landmarks.cusp_tip.z),
            motion.tip_deg_per_mm(0.0),
            100.0 * resistance.travel_left(height),
        ]);
    }
    all
}
