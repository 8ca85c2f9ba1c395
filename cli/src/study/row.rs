//! One row a case: every headline number with the error of its mesh, under fixed names. Computed from a solved tooth by
//! superposition, so that another load on the same tooth costs a fraction of a millisecond.

use gomphosis_mesh_gen::{Landmarks, ToothMesh};
use gomphosis_solver::{
    Discretisation, LigamentStress, PlanarDiscretisation, PlanarLoad, PlanarResistance, Plane, UnitSolutions,
    Wrench,
};
use nalgebra::{Point3, Vector3};

use super::space::number_text;
use super::{Study, column_name};
use crate::case::{Heights, Key, Kind};
use crate::result::{self, Validity};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kept {
    /// A whole number.
    Count,
    /// A number; empty where there is none.
    Number,
    /// A word; empty where there is none.
    Word,
}

/// A column of a study's table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Column {
    /// Its name, with the unit as suffix.
    pub(crate) name: String,
    /// Its unit; empty for a pure number or a word.
    pub(crate) unit: &'static str,
    /// What it is.
    pub(crate) help: String,
    /// What it holds.
    pub(crate) kept: Kept,
}

/// Numbers of a plane that have an error: name, unit, meaning.
const PLANAR: [(&str, &str, &str); 13] = [
    ("centre_of_resistance_depth_mm", "mm", "centre of resistance below the crest"),
    ("sigma_squared_mm2", "mm2", "sigma squared"),
    (
        "torque_for_translation_mm",
        "mm",
        "root torque for each newton at the attachment that makes the tip zero",
    ),
    ("centre_of_rotation_depth_mm", "mm", "centre of rotation below the crest; empty at infinity"),
    ("tip_deg", "deg", "tip under the load"),
    ("travel_mm", "mm", "travel of the axis at the attachment's height under the load"),
    ("tip_deg_per_mm_attachment", "deg/mm", "tip for each mm of travel at the attachment's height"),
    ("tip_deg_per_mm_cusp_tip", "deg/mm", "tip for each mm of travel at the cusp tip or incisal edge"),
    ("tip_deg_per_mm_crest", "deg/mm", "tip for each mm of travel at the crest"),
    (
        "compensation_deg_per_mm_attachment",
        "deg/mm",
        "root torque for each mm of planned travel at the attachment that undoes the tip of a push without torque, if the appliance \
         delivers the push but not the couple; the aligner's own stiffness is not in the model",
    ),
    ("compensation_deg_per_mm_cusp_tip", "deg/mm", "the same for each mm at the cusp tip or incisal edge"),
    (
        "travel_percent_of_plain_push",
        "%",
        "travel at the attachment's height under the load, of that under the same push without torque; empty without a push",
    ),
    (
        "travel_left_percent",
        "%",
        "the same with the torque that stops the tip: what undoing the tip leaves of the travel under a given push",
    ),
];
const PLANES: [(Plane, &str); 2] =
    [(Plane::BuccoLingual, "bucco_lingual"), (Plane::MesioDistal, "mesio_distal")];

/// Columns before the outputs: the number of the case, the varied keys, and how the case ended.
fn inputs(study: &Study) -> Vec<Column> {
    let column = |name: &str, unit, help: &str, kept| Column {
        name: name.to_owned(),
        unit,
        help: help.to_owned(),
        kept,
    };
    let mut columns = vec![column("case", "", "number of the case, from 1", Kept::Count)];
    for axis in &study.axes {
        let Key { path, unit, help, kind } = axis.key;
        let kept =
            if matches!(kind, Kind::Number { .. } | Kind::Count { .. }) { Kept::Number } else { Kept::Word };
        columns.push(column(&column_name(path), unit, help, kept));
    }
    columns.push(column(
        "status",
        "",
        "ok; check failed: the numbers are there but a check did not pass; failed",
        Kept::Word,
    ));
    columns.push(column("reason", "", "why a case or a check failed", Kept::Word));
    columns
}

/// Columns of the outputs.
fn outputs() -> Vec<Column> {
    let column = |name: &str, unit, help: &str, kept| Column {
        name: name.to_owned(),
        unit,
        help: help.to_owned(),
        kept,
    };
    let mut columns = vec![
        column("bony_root_mm", "mm", "root inside the bone, crest to deepest apex", Kept::Number),
        column(
            "cusp_tip_above_crest_mm",
            "mm",
            "height of the cusp tip or incisal edge above the crest",
            Kept::Number,
        ),
        column("load_above_crest_mm", "mm", "height of the load above the crest", Kept::Number),
        column(
            "load_above_cej_mm",
            "mm",
            "height of the load above the cemento-enamel junction (idealised shapes: above the healthy crest)",
            Kept::Number,
        ),
        column("load_share_of_crown", "", "height of the load as a share of the crown", Kept::Number),
    ];
    for (_, plane) in PLANES {
        for (name, unit, help) in PLANAR {
            columns.push(column(&format!("{plane}_{name}"), unit, help, Kept::Number));
            let about = format!("estimated error of the mesh of {plane}_{name}");
            columns.push(column(&format!("{plane}_{name}_error"), unit, &about, Kept::Number));
        }
        for (name, help) in [
            ("centre_of_resistance_fraction", "centre of resistance as a share of the bony root"),
            (
                "centre_of_rotation_fraction",
                "centre of rotation as a share of the bony root; empty at infinity",
            ),
        ] {
            columns.push(column(&format!("{plane}_{name}"), "", help, Kept::Number));
        }
        columns.push(column(&format!("{plane}_movement"), "", "kind of movement under the load", Kept::Word));
    }
    columns.push(column("radius_of_resistance_mm", "mm", "radius of resistance", Kept::Number));
    for (name, help) in [
        ("ligament_largest_pressure_kpa", "largest pressure (compression) of the ligament on the root"),
        (
            "ligament_smallest_pressure_kpa",
            "smallest pressure (tension is negative) of the ligament on the root",
        ),
        ("ligament_largest_shear_kpa", "largest shear of the ligament on the root"),
    ] {
        columns.push(column(name, "kPa", help, Kept::Number));
    }
    columns.push(column(
        "ligament_pressed_mean_pressure_kpa",
        "kPa",
        "area mean of the pressure over the part of the root in the socket that is pressed",
        Kept::Number,
    ));
    columns.push(column(
        "ligament_pressed_share",
        "",
        "share of the root's surface in the socket that is pressed",
        Kept::Number,
    ));
    columns.push(column(
        "ligament_largest_strain",
        "",
        "principal strain of largest size of the ligament on the root, elongation positive",
        Kept::Number,
    ));
    columns.push(column(
        "linear_validity",
        "",
        "within; outside: the largest strain of the ligament is beyond what a linear model can answer for",
        Kept::Word,
    ));
    columns.push(column(
        "asymmetry",
        "",
        "how far the compliance read on the root is from symmetric",
        Kept::Number,
    ));
    columns.push(column("unknowns", "", "unknowns of the system", Kept::Count));
    columns
}

/// All columns of a study's table.
pub(crate) fn columns(study: &Study) -> Vec<Column> {
    let mut columns = inputs(study);
    columns.extend(outputs());
    columns
}

/// Fields of a row after the number of the case, separated by tabs.
pub(crate) fn fields(inputs: &[String], status: &str, reason: &str, outputs: &str) -> String {
    let mut text = String::with_capacity(outputs.len() + 64);
    for input in inputs {
        text.push_str(input);
        text.push('\t');
    }
    text.push_str(status);
    text.push('\t');
    // Neither tabs nor line ends inside a field.
    text.extend(reason.chars().map(|c| if c.is_control() { ' ' } else { c }));
    text.push('\t');
    text.push_str(outputs);
    text
}

/// Fields of a case without outputs.
pub(crate) fn failed(inputs: &[String], reason: &str) -> String {
    fields(inputs, "failed", reason, &"\t".repeat(outputs().len() - 1))
}

/// A solved tooth with the place of its load: all that any load there needs.
pub(crate) struct Station<'a> {
    solutions: &'a UnitSolutions,
    landmarks: Landmarks,
    attachment: Point3<f64>,
    heights: Heights,
    stress: &'a LigamentStress,
    planes: &'a [PlanarDiscretisation; 2],
    radius_mm: Option<f64>,
    /// Sentences about failed checks.
    pub(crate) failed_checks: String,
}

/// What a solution tells beyond itself.
pub(crate) struct Derived {
    stress: LigamentStress,
    planes: [PlanarDiscretisation; 2],
}

impl Derived {
    /// Stresses and errors of a solution.
    pub(crate) fn new(
        problem: &gomphosis_solver::ToothProblem,
        solutions: &UnitSolutions,
        tooth: &ToothMesh,
    ) -> Result<Self, gomphosis_solver::SolverError> {
        let missing = Discretisation::estimate(problem, solutions, &tooth.thickness_shortfall)?;
        Ok(Self {
            stress: LigamentStress::new(problem, solutions)?,
            planes: PLANES
                .map(|(plane, _)| PlanarDiscretisation::new(&missing, &solutions.compliance, plane)),
        })
    }
}

impl<'a> Station<'a> {
    /// A solved tooth and a place of the load at the attachment's heights.
    pub(crate) fn new(
        tooth: &ToothMesh,
        solutions: &'a UnitSolutions,
        derived: &'a Derived,
        attachment: Point3<f64>,
        heights: Heights,
    ) -> Self {
        let failed_checks = result::failures(&result::checks(solutions, &tooth.quality)).join("; ");
        Self {
            solutions,
            landmarks: tooth.landmarks,
            attachment,
            heights,
            stress: &derived.stress,
            planes: &derived.planes,
            radius_mm: solutions.compliance.radius_of_resistance(),
            failed_checks,
        }
    }

    /// Outputs under a push and a root torque at the attachment, separated by tabs.
    pub(crate) fn outputs(&self, force_n: f64, torque_nmm: f64) -> String {
        let mut row = Outputs(String::with_capacity(1300));
        let root = self.landmarks.bony_root_mm;
        row.number(Some(root));
        row.number(Some(self.landmarks.cusp_tip.z));
        let Heights { height_mm, height_from_cej_mm, height_share } = self.heights;
        for height in [height_mm, height_from_cej_mm, height_share] {
            row.number(Some(height));
        }
        let load = PlanarLoad { height_mm, force_n, torque_nmm };
        for (missing, (plane, _)) in self.planes.iter().zip(PLANES) {
            let (values, errors) = missing.errors(|c| self.numbers(plane, &load, c));
            for (value, error) in values.iter().zip(errors) {
                row.number(Some(*value));
                row.number(Some(error.bound));
            }
            row.number(Some(values[0] / root));
            row.number(Some(values[3] / root));
            let resistance = PlanarResistance::from_coefficients(plane, missing.coefficients());
            row.word(resistance.movement(&load, root).name());
        }
        row.number(self.radius_mm);
        let wrench = Wrench {
            point: self.attachment,
            force: Vector3::new(force_n, 0.0, 0.0),
            moment: Vector3::new(0.0, -torque_nmm, 0.0),
        };
        let weights = self.solutions.weights(&wrench);
        let (extremes, pressed) = self.stress.on_the_root(&weights);
        for extreme in [extremes.compression, extremes.tension, extremes.shear] {
            row.number(Some(extreme.kpa));
        }
        row.number(Some(pressed.mean_kpa));
        row.number(Some(pressed.share));
        let strain = self.stress.largest_strain(&weights).strain;
        row.number(Some(strain));
        row.word(if Validity::of_strain(strain).within { "within" } else { "outside" });
        row.number(Some(self.solutions.asymmetry));
        row.word(&self.solutions.statistics.unknowns.to_string());
        row.0.pop();
        row.0
    }

    /// The numbers of [`PLANAR`].
    fn numbers(&self, plane: Plane, load: &PlanarLoad, coefficients: [f64; 3]) -> [f64; PLANAR.len()] {
        let resistance = PlanarResistance::from_coefficients(plane, coefficients);
        let motion = resistance.motion(load);
        let (height, cusp) = (self.heights.height_mm, self.landmarks.cusp_tip.z);
        [
            resistance.centre_depth_mm(),
            resistance.sigma_squared_mm2(),
            resistance.torque_for_translation_mm(height),
            motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
            motion.tip_deg(),
            motion.travel_mm(height),
            motion.tip_deg_per_mm(height),
            motion.tip_deg_per_mm(cusp),
            motion.tip_deg_per_mm(0.0),
            resistance.compensation_deg_per_mm(height, height),
            resistance.compensation_deg_per_mm(height, cusp),
            if load.force_n == 0.0 {
                f64::NAN
            } else {
                100.0 * resistance.share_of_plain_push(height, load.torque_nmm / load.force_n)
            },
            100.0 * resistance.travel_left(height),
        ]
    }
}

/// Fields under construction, each followed by a tab.
struct Outputs(String);

impl Outputs {
    /// A number; what is none is an empty field.
    fn number(&mut self, value: Option<f64>) {
        if let Some(value) = value.filter(|v| !v.is_nan()) {
            self.0.push_str(&number_text(value));
        }
        self.0.push('\t');
    }

    fn word(&mut self, word: &str) {
        self.0.push_str(word);
        self.0.push('\t');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_row_has_as_many_fields_as_any_other() {
        let inputs = ["1.5".to_owned(), "upper canine".to_owned()];
        let row = failed(&inputs, "no\troom\nfor it");
        assert_eq!(row.split('\t').count(), 2 + 2 + outputs().len());
        assert!(row.starts_with("1.5\tupper canine\tfailed\tno room for it\t\t"));
    }

    #[test]
    fn names_of_columns_are_unique_and_carry_their_unit() {
        let columns = outputs();
        for (k, column) in columns.iter().enumerate() {
            assert!(columns[..k].iter().all(|c| c.name != column.name), "{}", column.name);
            let suffix = match column.unit {
                "mm" | "deg" | "mm2" => format!("_{}", column.unit),
                "deg/mm" => "deg_per_mm".to_owned(),
                "kPa" => "_kpa".to_owned(),
                "%" => "_percent".to_owned(),
                _ => String::new(),
            };
            assert!(column.name.contains(&suffix), "{} lacks {}", column.name, column.unit);
        }
    }
}
