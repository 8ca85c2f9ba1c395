//! The report: one HTML file that a researcher attaches to a paper. It holds no date and no time, so that the same case
//! gives the same bytes.

mod methods;

use askama::Template;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use gomphosis_solver::{Bodies, Plane, UNIT_LOADS};

use crate::accuracy::{Accuracy, NUMBERS};
use crate::case::{self as cases, Case, Heights, Parameter};
use crate::commands::Computed;
use crate::figure::Drawing;
use crate::result::{Extreme, PlaneResult};
use crate::summary::{self, CAUTION_IN_FULL, depth, micrometres, per_mm, region_name, share};
use crate::table::fixed;
use crate::verify;

const STYLE: &str = include_str!("../assets/report/page.css");

#[derive(Template)]
#[template(path = "report/page.html")]
struct Page<'a> {
    title: String,
    load: String,
    heights: String,
    model: String,
    planes: [&'a str; 2],
    style: &'a str,
    results: Vec<Row>,
    sequence: Option<Sequence>,
    ligament: Vec<Row>,
    space: Vec<Row>,
    parameters: Vec<Parameter>,
    mesh: Vec<MeshRow>,
    mesh_notes: Vec<String>,
    checks: Vec<CheckRow>,
    residuals: Vec<Row>,
    figures: Vec<Figure>,
    caution: &'a str,
    version: &'a str,
    command: String,
    case_toml: String,
    verification_cases: usize,
    methods: String,
    citation: String,
    applied: Option<String>,
    depths: Option<String>,
    pressed: String,
}

/// A named number with one or two cells.
struct Row {
    name: String,
    cells: Vec<String>,
}

/// What a sequence of meshes says.
struct Sequence {
    meshes: String,
    rows: Vec<Row>,
}

/// Quality of the elements of a body.
struct MeshRow {
    body: &'static str,
    cells: [String; 5],
}

struct CheckRow {
    name: String,
    value: String,
    limit: String,
    passed: bool,
}

/// A drawing with its caption, as a text that a page can hold.
struct Figure {
    data: String,
    caption: String,
}

/// A drawing with what is said below it.
pub(crate) struct Captioned {
    /// The drawing.
    pub(crate) drawing: Drawing,
    /// The sentence below it.
    pub(crate) caption: String,
}

/// The report of a computed case; `command` is how to make it again.
///
/// # Errors
/// A sentence of the template.
pub(crate) fn page(
    case: &Case,
    done: &Computed,
    figures: Vec<Captioned>,
    command: String,
) -> Result<String, String> {
    let result = &done.result;
    let accuracy = &result.numerical_error.discretisation;
    let page = Page {
        title: summary::title(case),
        load: summary::load_line(case),
        heights: Heights::of(case).words(),
        model: cases::sentence_case(&model(case, result.counts())),
        planes: [case.words().plane, "mesio-distal"],
        style: STYLE,
        results: results(case, done),
        sequence: accuracy.sequence().map(|s| Sequence { meshes: s.meshes(), rows: sequence_rows(accuracy) }),
        ligament: ligament(done),
        space: space(done),
        parameters: cases::parameters(case),
        mesh: mesh(done),
        mesh_notes: mesh_notes(done),
        checks: result.checks.iter().map(check).collect(),
        residuals: residuals(done),
        figures: figures
            .into_iter()
            .map(|f| Figure { data: STANDARD.encode(f.drawing.svg()), caption: f.caption })
            .collect(),
        caution: CAUTION_IN_FULL,
        version: env!("CARGO_PKG_VERSION"),
        command,
        case_toml: cases::toml(case),
        verification_cases: verify::cases::ALL.len(),
        methods: methods::methods(case, result),
        citation: methods::citation(),
        applied: applied(case),
        depths: summary::why_two_depths(case, result),
        pressed: pressed(done),
    };
    page.render().map_err(|e| e.to_string())
}

fn model(case: &Case, (nodes, tetrahedra, unknowns): (usize, usize, usize)) -> String {
    let bodies = match case.bodies {
        Bodies::Elastic => "tooth, ligament and bone elastic",
        Bodies::Rigid => "tooth and bone rigid around an elastic ligament (fast tier)",
    };
    format!("{bodies}; {tetrahedra} curved ten-node tetrahedra, {nodes} nodes, {unknowns} unknowns")
}

fn results(case: &Case, done: &Computed) -> Vec<Row> {
    let result = &done.result;
    let accuracy = &result.numerical_error.discretisation;
    let planes = [(&result.bucco_lingual, Plane::BuccoLingual), (&result.mesio_distal, Plane::MesioDistal)];
    let row = |name: String, key: &str, show: &dyn Fn(&PlaneResult) -> String| Row {
        name,
        cells: planes.iter().flat_map(|(p, plane)| [show(p), error(accuracy.percent(*plane, key))]).collect(),
    };
    let mut rows = vec![
        row("centre of resistance below the crest".to_owned(), "centre_of_resistance_mm", &|p| {
            depth(p.centre_of_resistance)
        }),
        row("as a share of the bony root".to_owned(), "", &|p| share(p.centre_of_resistance)),
        row("sigma squared".to_owned(), "sigma_squared_mm2", &|p| format!("{:.2} mm²", p.sigma_squared_mm2)),
        row(
            format!("torque for translation, {}", summary::attachment_line(case)),
            "torque_for_translation_mm",
            &|p| format!("{:.2} N·mm/N", p.torque_for_translation_mm),
        ),
        row(
            "travel left under the same push once a torque stops the tip".to_owned(),
            "travel_left_percent",
            &|p| format!("{:.1} %", p.travel_left_percent),
        ),
        row("movement under the load".to_owned(), "", &|p| p.movement.to_string()),
        row("centre of rotation below the crest".to_owned(), "centre_of_rotation_mm", &|p| {
            depth(p.centre_of_rotation)
        }),
        row("travel at the attachment's height".to_owned(), "travel_mm", &|p| micrometres(p.travel_mm)),
        row("tip".to_owned(), "tip_deg", &|p| format!("{}°", fixed(p.tip_deg, 4))),
        row("tip for each mm, attachment's height".to_owned(), "tip_deg_per_mm_attachment", &|p| {
            per_mm(p.tip_deg_per_mm.attachment)
        }),
        row(format!("tip for each mm, {}", case.top_name()), "tip_deg_per_mm_cusp_tip", &|p| {
            per_mm(p.tip_deg_per_mm.cusp_tip)
        }),
        row("tip for each mm, crest".to_owned(), "tip_deg_per_mm_crest", &|p| per_mm(p.tip_deg_per_mm.crest)),
    ];
    if case.load.torque_nmm != 0.0 && case.load.force_n != 0.0 {
        rows.push(row(
            "travel, of that under the same push without torque".to_owned(),
            "",
            &summary::of_plain_push,
        ));
    }
    rows
}

/// What the column of the other plane stands for, where there is a torque.
fn applied(case: &Case) -> Option<String> {
    (case.load.torque_nmm != 0.0).then(|| {
        format!(
            "A torque across the arch has no part in the mesio-distal plane. Its column stands for another load: {}.",
            case.applied(Plane::MesioDistal)
        )
    })
}

/// The mean pressure of the pressed part, and how it stands to the largest value and to a force over an area.
fn pressed(done: &Computed) -> String {
    let ligament = &done.result.ligament;
    let part = ligament.pressed_part;
    let times = ligament.root_surface.largest_pressure.kpa / part.mean_kpa;
    let times =
        if times.is_finite() { format!(", {} times the mean", fixed(times, 1)) } else { String::new() };
    format!(
        "Over the pressed part of the root, {:.0} mm² or {:.0} % of its surface in the socket, the mean pressure is {:.2} kPa. The \
         largest stands at one place{times}. A few kPa for a newton, as texts quote them, are a force over an area of the root.",
        part.area_mm2,
        100.0 * part.share,
        part.mean_kpa
    )
}

fn error(percent: Option<f64>) -> String {
    match percent {
        Some(p) if p < 0.05 => "±\u{a0}<0.1%".to_owned(),
        Some(p) if p < 100.0 => format!("±\u{a0}{p:.1}%"),
        Some(_) => "±\u{a0}>100%".to_owned(),
        None => String::new(),
    }
}

fn sequence_rows(accuracy: &Accuracy) -> Vec<Row> {
    let Some(sequence) = accuracy.sequence() else { return Vec::new() };
    NUMBERS
        .iter()
        .map(|name| Row {
            name: name.replace('_', " "),
            cells: sequence
                .of(name)
                .into_iter()
                .flat_map(|seen| {
                    let order = match seen.order {
                        Some(p) if p <= 4.0 => format!("{p:.1}"),
                        Some(_) => "above 4".to_owned(),
                        None => "none".to_owned(),
                    };
                    let range = if seen.asymptotic { "" } else { ", not in the asymptotic range" };
                    [format!("{order}{range}"), seen.percent.map_or_else(String::new, |p| format!("{p:.2}%"))]
                })
                .collect(),
        })
        .collect()
}

fn ligament(done: &Computed) -> Vec<Row> {
    let root = &done.result.ligament.root_surface;
    let row = |name: &str, e: Extreme, sign: f64| Row {
        name: name.to_owned(),
        cells: vec![
            format!("{:.2} kPa", (sign * e.kpa).max(0.0)),
            format!("({}, {}, {}) mm", fixed(e.at_mm[0], 1), fixed(e.at_mm[1], 1), fixed(e.at_mm[2], 1)),
        ],
    };
    let strain = done.result.ligament.largest_strain;
    let beyond = done.result.strain_beyond().map_or_else(String::new, |[_, limit]| {
        format!(", outside linear validity: beyond {limit}, travel and pressure are extrapolated")
    });
    let at = strain.at_mm.map(|x| fixed(x, 1));
    vec![
        row("largest compression", root.largest_pressure, 1.0),
        row("largest tension", root.smallest_pressure, -1.0),
        row("largest shear", root.largest_shear, 1.0),
        Row {
            name: "largest principal strain".to_owned(),
            cells: vec![
                format!("{:.3}{beyond}", strain.strain),
                format!("({}, {}, {}) mm", at[0], at[1], at[2]),
            ],
        },
    ]
}

/// What space gives beyond the two planes.
fn space(done: &Computed) -> Vec<Row> {
    let compliance = &done.solutions.compliance;
    let triple = |v: [f64; 3], decimals: usize| {
        format!("({}, {}, {})", fixed(v[0], decimals), fixed(v[1], decimals), fixed(v[2], decimals))
    };
    let row = |name: &str, cell: String| Row { name: name.to_owned(), cells: vec![cell] };
    let mut rows = vec![row(
        "centre of compliance",
        format!("{} mm", triple(compliance.centre_of_compliance().coords.into(), 2)),
    )];
    if let Some(radius) = compliance.radius_of_resistance() {
        rows.push(row("radius of resistance", format!("{} mm", fixed(radius, 3))));
    }
    if let Some(axes) = compliance.axes_of_resistance() {
        let distances = axes.distances_mm;
        rows.push(row(
            "axes of resistance miss each other by (x and y, y and z, z and x)",
            format!("{} mm", triple(distances, 3)),
        ));
    }
    let motion = compliance.motion(&done.wrench).at(done.tooth.landmarks.attachment);
    rows.push(row(
        "travel of the attachment under the load (x, y, z)",
        format!("{} µm", triple(motion.translation.map(|mm| 1e3 * mm).into(), 2)),
    ));
    rows.push(row(
        "rotation under the load (about x, y, z)",
        format!("{} degrees", triple(motion.rotation.map(f64::to_degrees).into(), 4)),
    ));
    if let Some(axis) = motion.screw() {
        rows.push(row(
            "screw axis: a point, its direction",
            format!("{} mm, {}", triple(axis.point.coords.into(), 2), triple(axis.direction.into(), 3)),
        ));
    }
    rows
}

fn mesh(done: &Computed) -> Vec<MeshRow> {
    let regions = done.tooth.quality.regions.iter();
    regions
        .map(|r| MeshRow {
            body: region_name(r.region),
            cells: [
                r.tetrahedra.to_string(),
                format!("{:.2} mm³", r.volume_mm3),
                r.exact_volume_mm3
                    .map_or_else(|| "not known".to_owned(), |v| format!("{:.3}%", 100.0 * r.volume_mm3 / v)),
                format!("{:.0}° to {:.0}°", r.smallest_dihedral_deg, r.largest_dihedral_deg),
                format!("{:.2}", r.smallest_scaled_jacobian),
            ],
        })
        .collect()
}

fn mesh_notes(done: &Computed) -> Vec<String> {
    let quality = &done.tooth.quality;
    let t = &quality.ligament_thickness;
    let mut notes = vec![
        format!(
            "Ligament thickness: asked {:.4} mm on average, made {:.4} mm; error {:.2}% on average, {:.1}% at worst, {:.1} mm \
             below the crest.",
            t.asked_mean_mm, t.achieved_mean_mm, t.mean_error_percent, t.worst_error_percent, -t.worst_at.z
        ),
        format!("The root's surface lies at most {:.4} mm from the exact shape.", quality.root_deviation_mm),
        "No element is inverted: a Bernstein bound of the Jacobian proves it for every one.".to_owned(),
    ];
    notes.extend(quality.remarks.iter().map(|remark| format!("Note of the mesher: {remark}.")));
    notes
}

fn check(check: &crate::result::Check) -> CheckRow {
    CheckRow {
        name: check.name.replace('_', " "),
        value: format!("{:.2e}", check.value),
        limit: format!("{:.0e}", check.limit),
        passed: check.passed,
    }
}

/// What the rigid motion leaves over on the root, for each unit load.
fn residuals(done: &Computed) -> Vec<Row> {
    UNIT_LOADS
        .iter()
        .zip(done.solutions.fit_residual)
        .map(|(name, r)| Row { name: (*name).to_owned(), cells: vec![format!("{r:.1e}")] })
        .collect()
}
