//! The result of a case, under the names of the output contract.

use gomphosis_mesh_gen::{QualityReport, ToothMesh};
use gomphosis_solver::{
    LARGEST_LINEAR_STRAIN, LigamentField, Movement, PlanarLoad, PlanarResistance, Plane, PressedPart,
    ScrewAxis, StrainExtreme, UNIT_LOADS, UnitSolutions, Wrench,
};
use nalgebra::{Matrix6, Point3};
use serde::Serialize;
use serde_json::{Map, Value};

use crate::accuracy::Accuracy;
use crate::case::{self, Case, Heights};

/// Name and version of the format.
pub(crate) const SCHEMA: &str = "gomphosis.result/1";

/// The whole result.
#[derive(Debug, Serialize)]
pub(crate) struct ResultDocument {
    schema: &'static str,
    version: &'static str,
    /// What the case is called.
    title: String,
    tooth: Named,
    case: Value,
    pub(crate) mesh: MeshCounts,
    compliance: ComplianceAt,
    pub(crate) bucco_lingual: PlaneResult,
    pub(crate) mesio_distal: PlaneResult,
    three_d: ThreeD,
    pub(crate) ligament: LigamentResult,
    pub(crate) numerical_error: NumericalError,
    pub(crate) checks: Vec<Check>,
    /// Whether a linear model can be believed at this load; not a failure.
    pub(crate) validity: Vec<Validity>,
    pub(crate) timing_s: Timing,
    peak_memory_mb: Option<f64>,
}

/// The tooth in words and numbers.
#[derive(Debug, Serialize)]
struct Named {
    name: String,
    /// On either side of the mouth; empty for the idealised shapes.
    iso_3950: Vec<u32>,
}

/// Counts of the mesh, and its quality.
#[derive(Debug, Serialize)]
pub(crate) struct MeshCounts {
    nodes: usize,
    tetrahedra: usize,
    unknowns: usize,
    pub(crate) quality: QualityReport,
}

/// Compliance at the point it is stated at.
#[derive(Debug, Serialize)]
struct ComplianceAt {
    point_mm: [f64; 3],
    /// Rows ux uy uz rx ry rz, columns Fx Fy Fz Mx My Mz; mm/N, 1/N, rad/(N mm).
    matrix: [[f64; 6]; 6],
    /// What was there before the matrix was made symmetric: largest `|C_ij - C_ji| / 2` over `sqrt(C_ii C_jj)`.
    asymmetry: f64,
}

/// A point of the long axis.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct AxisPoint {
    /// Negative above the crest; null at infinity.
    pub(crate) depth_below_crest_mm: Option<f64>,
    /// Of crest to apex.
    pub(crate) fraction_of_bony_root: Option<f64>,
}

/// Tip for each millimetre of travel of three reference points.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct TipPerMm {
    pub(crate) attachment: f64,
    pub(crate) cusp_tip: f64,
    pub(crate) crest: f64,
}

/// Torque for each millimetre of planned expansion that cancels the tip of a push without torque.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct Compensation {
    pub(crate) attachment: f64,
    pub(crate) cusp_tip: f64,
}

/// What a plane of action gives.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct PlaneResult {
    /// The load that rotation, tip and movement belong to.
    load: LoadAt,
    pub(crate) centre_of_resistance: AxisPoint,
    pub(crate) sigma_squared_mm2: f64,
    pub(crate) torque_for_translation_mm: f64,
    pub(crate) centre_of_rotation: AxisPoint,
    pub(crate) tip_deg: f64,
    pub(crate) travel_mm: f64,
    pub(crate) tip_deg_per_mm: TipPerMm,
    pub(crate) compensation_deg_per_mm: Compensation,
    /// Travel at the attachment under the load, of that under the same push without torque; null without a push.
    pub(crate) travel_percent_of_plain_push: Option<f64>,
    /// The same with the torque that stops the tip: what undoing the tip leaves of the movement under a given push.
    pub(crate) travel_left_percent: f64,
    pub(crate) movement: Movement,
}

/// A load in a plane, at the attachment's height, told in three ways.
#[derive(Debug, Clone, Serialize)]
struct LoadAt {
    #[serde(flatten)]
    heights: Heights,
    force_n: f64,
    torque_nmm: f64,
    /// Which way force and torque go, in words: a buccal torque has no part in the mesio-distal plane.
    applied: String,
}

/// What space gives beyond the two planes.
#[derive(Debug, Serialize)]
struct ThreeD {
    /// Where the coupling block of the compliance is symmetric.
    centre_of_compliance_mm: [f64; 3],
    centre_of_stiffness_mm: Option<[f64; 3]>,
    radius_of_resistance_mm: Option<f64>,
    axes_of_resistance: Option<Axes>,
    /// Motion of the attachment under the load of the case.
    motion: Motion,
}

#[derive(Debug, Serialize)]
struct Axes {
    about_x: Axis,
    about_y: Axis,
    about_z: Axis,
    /// Shortest distances between them.
    distance_xy_mm: f64,
    distance_yz_mm: f64,
    distance_zx_mm: f64,
}

#[derive(Debug, Serialize)]
struct Axis {
    point_mm: [f64; 3],
    direction: [f64; 3],
    pitch_mm: f64,
}

#[derive(Debug, Serialize)]
struct Motion {
    point_mm: [f64; 3],
    translation_mm: [f64; 3],
    rotation_deg: [f64; 3],
    screw_axis: Option<Axis>,
}

/// Extremes of the ligament's stress under the case's load.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct LigamentResult {
    /// Over the elements.
    elements: Extremes,
    /// Over the nodes of the root surface.
    pub(crate) root_surface: Extremes,
    /// Mean pressure over the pressed part of the root surface, its area and its share.
    pub(crate) pressed_part: PressedPart,
    /// Principal strain of largest size over the root surface.
    pub(crate) largest_strain: Strain,
}

/// A principal strain, elongation positive, and its place.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct Strain {
    pub(crate) strain: f64,
    pub(crate) at_mm: [f64; 3],
}

/// A limit of the model, not of the numbers: beyond it they are exact answers of a model that does not hold.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct Validity {
    pub(crate) name: &'static str,
    pub(crate) value: f64,
    pub(crate) limit: f64,
    pub(crate) within: bool,
}

impl Validity {
    /// Of the ligament's largest strain.
    pub(crate) fn of_strain(strain: f64) -> Self {
        let value = strain.abs();
        Self {
            name: "largest_ligament_strain",
            value,
            limit: LARGEST_LINEAR_STRAIN,
            within: value <= LARGEST_LINEAR_STRAIN,
        }
    }

    /// One sentence where the limit is passed.
    pub(crate) fn warning(&self) -> Option<String> {
        (!self.within).then(|| {
            format!(
                "Outside linear validity: the ligament's largest strain is {:.2}, beyond {}; positions hold, travel and \
                 pressure of this load are extrapolated",
                self.value, self.limit
            )
        })
    }
}

/// Extreme values, compression positive.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Extremes {
    pub(crate) largest_pressure: Extreme,
    pub(crate) smallest_pressure: Extreme,
    pub(crate) largest_shear: Extreme,
}

/// A value and its place.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct Extreme {
    pub(crate) kpa: f64,
    pub(crate) at_mm: [f64; 3],
}

/// What is known about the error of the numbers.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct NumericalError {
    /// Largest relative residual of the linear system over the six loads.
    pub(crate) linear_solver_residual: f64,
    /// Relative error in the energy norm; null where the residual alone tells.
    pub(crate) linear_solver_energy_error: Option<f64>,
    /// What the rigid motion leaves over on the root surface, relative, for each unit load.
    pub(crate) rigid_fit_residual: Map<String, Value>,
    /// How far the compliance read on the root is from symmetric, relative.
    pub(crate) asymmetry: f64,
    /// Error of the mesh for each headline number.
    pub(crate) discretisation: Accuracy,
}

/// A check of the result.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Check {
    pub(crate) name: &'static str,
    pub(crate) value: f64,
    pub(crate) limit: f64,
    pub(crate) passed: bool,
}

/// Seconds of each part.
#[derive(Debug, Clone, Copy, Default, Serialize)]
pub(crate) struct Timing {
    pub(crate) mesh: f64,
    pub(crate) assembly: f64,
    pub(crate) factor: f64,
    pub(crate) solve: f64,
    pub(crate) mechanics: f64,
    pub(crate) map: f64,
    pub(crate) figures: f64,
    pub(crate) total: f64,
}

/// What a result is made of.
pub(crate) struct Parts<'a> {
    pub(crate) case: &'a Case,
    pub(crate) tooth: &'a ToothMesh,
    pub(crate) solutions: &'a UnitSolutions,
    pub(crate) ligament: &'a LigamentField,
    /// Largest principal strain on the root.
    pub(crate) strain: StrainExtreme,
    pub(crate) wrench: Wrench,
    pub(crate) accuracy: Accuracy,
}

/// Limit of the linear residual that counts as solved.
const RESIDUAL_LIMIT: f64 = 1e-7;
/// Limit of the error in the energy norm that counts as solved where rounding leaves a residual.
const ENERGY_LIMIT: f64 = 1e-5;
/// Limit of the asymmetry that the bending of the tooth and its roots may cause: the percent that headline numbers are
/// held to. Healthy teeth stay below 0.003.
const ASYMMETRY_LIMIT: f64 = 0.01;
/// Limit of the mean error of the ligament's thickness, percent.
const THICKNESS_LIMIT: f64 = 5.0;

/// The checks of a solution.
pub(crate) fn checks(solutions: &UnitSolutions, quality: &QualityReport) -> Vec<Check> {
    let check = |name, value: f64, limit| Check { name, value, limit, passed: value <= limit };
    let statistics = &solutions.statistics;
    vec![
        // Where rounding leaves a residual, the solver has judged the error itself.
        match statistics.energy_error {
            None => check("linear_solver_residual", statistics.relative_residual, RESIDUAL_LIMIT),
            Some(error) => check("linear_solver_energy_error", error, ENERGY_LIMIT),
        },
        check("asymmetry", solutions.asymmetry, ASYMMETRY_LIMIT),
        check(
            "ligament_thickness_mean_error_percent",
            quality.ligament_thickness.mean_error_percent,
            THICKNESS_LIMIT,
        ),
    ]
}

/// Sentences about the checks that failed.
pub(crate) fn failures(checks: &[Check]) -> Vec<String> {
    checks
        .iter()
        .filter(|c| !c.passed)
        .map(|c| format!("check failed: {} is {:.3e}, the limit is {:.3e}", c.name, c.value, c.limit))
        .collect()
}

impl ResultDocument {
    /// Gathers the result; times are filled in later.
    pub(crate) fn new(parts: &Parts<'_>) -> Self {
        let solutions = parts.solutions;
        let quality = parts.tooth.quality.clone();
        let plane = |plane| PlaneResult::new(parts, plane);
        let residuals = UNIT_LOADS.iter().zip(solutions.fit_residual);
        let numerical_error = NumericalError {
            linear_solver_residual: solutions.statistics.relative_residual,
            linear_solver_energy_error: solutions.statistics.energy_error,
            rigid_fit_residual: residuals.map(|(name, r)| ((*name).to_owned(), Value::from(r))).collect(),
            asymmetry: solutions.asymmetry,
            discretisation: parts.accuracy.clone(),
        };
        let checks = checks(solutions, &quality);
        Self {
            schema: SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            title: parts.case.title(),
            tooth: Named {
                name: parts.case.name(),
                iso_3950: case::iso_numbers(parts.case.specimen.tooth.form),
            },
            case: case::json(parts.case),
            mesh: MeshCounts {
                nodes: quality.nodes,
                tetrahedra: quality.tetrahedra,
                unknowns: solutions.statistics.unknowns,
                quality,
            },
            compliance: ComplianceAt {
                point_mm: triple(&solutions.compliance.point),
                matrix: rows(&solutions.compliance.matrix),
                asymmetry: solutions.asymmetry,
            },
            bucco_lingual: plane(Plane::BuccoLingual),
            mesio_distal: plane(Plane::MesioDistal),
            three_d: ThreeD::new(parts),
            ligament: LigamentResult::new(parts.ligament, &parts.strain),
            numerical_error,
            checks,
            validity: vec![Validity::of_strain(parts.strain.strain)],
            timing_s: Timing::default(),
            peak_memory_mb: None,
        }
    }

    /// The ligament's largest strain under the case's load and the largest that a linear model answers for, if it is passed.
    pub(crate) fn strain_beyond(&self) -> Option<[f64; 2]> {
        self.validity.iter().find(|limit| !limit.within).map(|limit| [limit.value, limit.limit])
    }

    /// Sentences about the checks that failed.
    pub(crate) fn failed_checks(&self) -> Vec<String> {
        failures(&self.checks)
    }

    /// Notes times and memory at the end.
    pub(crate) fn finish(&mut self, timing: Timing) {
        self.timing_s = timing;
        self.peak_memory_mb = crate::memory::peak_mb();
    }

    /// Unknowns of the system.
    pub(crate) fn counts(&self) -> (usize, usize, usize) {
        (self.mesh.nodes, self.mesh.tetrahedra, self.mesh.unknowns)
    }

    /// The document as text.
    pub(crate) fn to_json(&self) -> String {
        // Every part is a plain struct of numbers and texts, which serialises without fail.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }
}

impl PlaneResult {
    fn new(parts: &Parts<'_>, plane: Plane) -> Self {
        let resistance = PlanarResistance::new(&parts.solutions.compliance, plane);
        let landmarks = &parts.tooth.landmarks;
        let height = parts.case.specimen.attachment.height_mm;
        let load = PlanarLoad {
            height_mm: height,
            force_n: parts.case.load.force_n,
            torque_nmm: parts.case.load.torque_nmm,
        };
        let motion = resistance.motion(&load);
        let root = landmarks.bony_root_mm;
        let at = |depth: Option<f64>| AxisPoint {
            depth_below_crest_mm: depth,
            fraction_of_bony_root: depth.map(|d| d / root),
        };
        let cusp = landmarks.cusp_tip.z;
        Self {
            load: LoadAt {
                heights: Heights::of(parts.case),
                force_n: load.force_n,
                torque_nmm: load.torque_nmm,
                applied: parts.case.applied(plane),
            },
            centre_of_resistance: at(Some(resistance.centre_depth_mm())),
            sigma_squared_mm2: resistance.sigma_squared_mm2(),
            torque_for_translation_mm: resistance.torque_for_translation_mm(height),
            centre_of_rotation: at(motion.centre_of_rotation_depth_mm()),
            tip_deg: motion.tip_deg(),
            travel_mm: motion.travel_mm(height),
            tip_deg_per_mm: TipPerMm {
                attachment: motion.tip_deg_per_mm(height),
                cusp_tip: motion.tip_deg_per_mm(cusp),
                crest: motion.tip_deg_per_mm(0.0),
            },
            compensation_deg_per_mm: Compensation {
                attachment: resistance.compensation_deg_per_mm(height, height),
                cusp_tip: resistance.compensation_deg_per_mm(height, cusp),
            },
            travel_percent_of_plain_push: (load.force_n != 0.0)
                .then(|| 100.0 * resistance.share_of_plain_push(height, load.torque_nmm / load.force_n)),
            travel_left_percent: 100.0 * resistance.travel_left(height),
            movement: resistance.movement(&load, root),
        }
    }
}

impl ThreeD {
    fn new(parts: &Parts<'_>) -> Self {
        let compliance = &parts.solutions.compliance;
        let motion = compliance.motion(&parts.wrench).at(parts.tooth.landmarks.attachment);
        Self {
            centre_of_compliance_mm: triple(&compliance.centre_of_compliance()),
            centre_of_stiffness_mm: compliance.centre_of_stiffness().map(|p| triple(&p)),
            radius_of_resistance_mm: compliance.radius_of_resistance(),
            axes_of_resistance: compliance.axes_of_resistance().map(|axes| {
                let [x, y, z] = axes.axes.map(|axis| Axis::new(&axis));
                let [distance_xy_mm, distance_yz_mm, distance_zx_mm] = axes.distances_mm;
                Axes { about_x: x, about_y: y, about_z: z, distance_xy_mm, distance_yz_mm, distance_zx_mm }
            }),
            motion: Motion {
                point_mm: triple(&motion.point),
                translation_mm: motion.translation.into(),
                rotation_deg: motion.rotation.map(f64::to_degrees).into(),
                screw_axis: motion.screw().map(|axis| Axis::new(&axis)),
            },
        }
    }
}

impl Axis {
    fn new(axis: &ScrewAxis) -> Self {
        Self { point_mm: triple(&axis.point), direction: axis.direction.into(), pitch_mm: axis.pitch_mm }
    }
}

impl LigamentResult {
    fn new(field: &LigamentField, strain: &StrainExtreme) -> Self {
        let extremes = |e: &gomphosis_solver::ligament::StressExtremes| {
            let extreme =
                |x: &gomphosis_solver::ligament::Extreme| Extreme { kpa: x.kpa, at_mm: triple(&x.at) };
            Extremes {
                largest_pressure: extreme(&e.compression),
                smallest_pressure: extreme(&e.tension),
                largest_shear: extreme(&e.shear),
            }
        };
        Self {
            elements: extremes(&field.cell_extremes),
            root_surface: extremes(&field.root_extremes),
            pressed_part: field.root_pressed,
            largest_strain: Strain { strain: strain.strain, at_mm: triple(&strain.at) },
        }
    }
}

fn triple(point: &Point3<f64>) -> [f64; 3] {
    point.coords.into()
}

fn rows(matrix: &Matrix6<f64>) -> [[f64; 6]; 6] {
    std::array::from_fn(|i| std::array::from_fn(|j| matrix[(i, j)]))
}
