//! What people read on standard output: the headline numbers in plain words, with their units and the point
//! they refer to.

use std::path::Path;

use gomphosis_mesh_gen::{QualityReport, Region, RootPlan};
use gomphosis_solver::{Bodies, Plane};

use crate::accuracy::{NUMBERS, Observed};
use crate::case::{Case, Heights};
use crate::result::{AxisPoint, PlaneResult, ResultDocument, Validity};
use crate::table::{Table, WIDTH, fixed, height, lines, paragraph};

pub(crate) const CAUTION: &str =
    "A model for research and teaching, not a medical device; it gives no treatment dose.";

/// The caution in full, as README says it.
pub(crate) const CAUTION_IN_FULL: &str = "This is a model for research and teaching, not a medical device. It suggests \
    no treatment. Teeth moved beyond thin buccal bone lose it; roots and gums can be damaged. Licensed clinicians and \
    local rules decide.";

/// The headline of a result.
pub(crate) fn headline(case: &Case, result: &ResultDocument) -> String {
    let (nodes, tetrahedra, unknowns) = result.counts();
    let (bl, md) = (&result.bucco_lingual, &result.mesio_distal);
    let bodies = match case.bodies {
        Bodies::Elastic => "tooth, ligament and bone elastic",
        Bodies::Rigid => "tooth and bone rigid (fast tier)",
    };
    let ligament = case.materials.ligament;
    let mut table = Table::new();
    table.text(title(case));
    table.text(format!(
        "{bodies}; ligament {} MPa, Poisson ratio {}",
        ligament.modulus_mpa, ligament.poisson_ratio
    ));
    table.text(format!("{tetrahedra} tetrahedra, {nodes} nodes, {unknowns} unknowns"));
    table.text(format!("attachment {}", Heights::of(case).words()));
    table.text("");
    let words = case.words();
    table.row("Resistance", [words.plane, "mesio-distal"].map(str::to_owned));
    let accuracy = &result.numerical_error.discretisation;
    let both = |f: &dyn Fn(&PlaneResult) -> String| [f(bl), f(md)];
    // A number of each plane with its estimated error.
    let with_error = |name: &str, f: &dyn Fn(&PlaneResult) -> String| {
        [(bl, Plane::BuccoLingual), (md, Plane::MesioDistal)]
            .map(|(p, plane)| format!("{} {}", f(p), plus_minus(accuracy.percent(plane, name))))
    };
    table.row(
        "  centre of resistance below crest",
        with_error("centre_of_resistance_mm", &|p| depth(p.centre_of_resistance)),
    );
    table
        .row("  as a share of the bony root", both(&|p| format!("{}       ", share(p.centre_of_resistance))));
    table.row(
        "  sigma squared",
        with_error("sigma_squared_mm2", &|p| format!("{:.2} mm²", p.sigma_squared_mm2)),
    );
    table.row(
        "  torque for translation",
        with_error("torque_for_translation_mm", &|p| format!("{:.2} N·mm/N", p.torque_for_translation_mm)),
    );
    table.row(
        "  travel left once tip is stopped",
        with_error("travel_left_percent", &|p| format!("{:.1} %", p.travel_left_percent)),
    );
    if let Some(why) = why_two_depths(case, result) {
        table.text(format!("({why})"));
    }
    table.text("");
    let directions = case.directions();
    table.row(load_line(case), [format!("to {}", directions[0]), format!("to {}", directions[1])]);
    table.row("  movement", both(&|p| p.movement.to_string()));
    table.row(
        "  centre of rotation below crest",
        with_error("centre_of_rotation_mm", &|p| depth(p.centre_of_rotation)),
    );
    table.row("  travel at the attachment", with_error("travel_mm", &|p| micrometres(p.travel_mm)));
    if case.load.torque_nmm != 0.0 {
        table.row("  of the travel without torque", both(&|p| format!("{}       ", of_plain_push(p))));
    }
    table.row("  tip", with_error("tip_deg", &|p| format!("{}°", fixed(p.tip_deg, 4))));
    table.row(
        "  tip per mm at the attachment",
        with_error("tip_deg_per_mm_attachment", &|p| per_mm(p.tip_deg_per_mm.attachment)),
    );
    table.row(
        format!("  tip per mm at the {}", case.top_name()),
        with_error("tip_deg_per_mm_cusp_tip", &|p| per_mm(p.tip_deg_per_mm.cusp_tip)),
    );
    table.row(
        "  tip per mm at the crest",
        with_error("tip_deg_per_mm_crest", &|p| per_mm(p.tip_deg_per_mm.crest)),
    );
    table.text(format!(
        "(± is the estimated error of the mesh; what the model leaves out is not in it. Travel is that of the long axis at the \
         height named, tip per mm that for each mm of it. {COST_OF_TORQUE})"
    ));
    if case.load.torque_nmm != 0.0 {
        let said = case.applied(Plane::MesioDistal);
        table.text(format!(
            "(A torque across the arch has no part in the mesio-distal plane. Its column stands for another load: {said}.)"
        ));
    }
    table.text("");
    let mut text = table.render();
    text.push_str(&pressures(case, result));
    text.push('\n');
    text.push_str(&paragraph(CAUTION));
    text
}

/// What undoing the tip costs, for people.
pub(crate) const COST_OF_TORQUE: &str = "Travel left: the push is held, and a torque stops the tip; to hold the millimetre instead, \
    the push must grow by one over that share.";

/// The ligament's stresses on the root, for people.
fn pressures(case: &Case, result: &ResultDocument) -> String {
    let mut table = Table::new();
    let root = &result.ligament.root_surface;
    table.row(
        format!("Ligament on the root, push to {}", case.directions()[0]),
        ["largest".to_owned(), "depth below crest".to_owned()],
    );
    for (name, extreme, sign) in [
        ("  compression", root.largest_pressure, 1.0),
        ("  tension", root.smallest_pressure, -1.0),
        ("  shear", root.largest_shear, 1.0),
    ] {
        table.row(
            name,
            [
                format!("{:.2} kPa", (extreme.kpa * sign).max(0.0)),
                format!("{} mm", fixed(-extreme.at_mm[2], 1)),
            ],
        );
    }
    let strain = result.ligament.largest_strain;
    table.row(
        "  strain, principal",
        [format!("{:.3}", strain.strain), format!("{} mm", fixed(-strain.at_mm[2], 1))],
    );
    let pressed = result.ligament.pressed_part;
    table.text(format!(
        "  Mean compression over the pressed part of the root ({:.0} % of it, {:.0} mm²): {:.2} kPa",
        100.0 * pressed.share,
        pressed.area_mm2,
        pressed.mean_kpa
    ));
    for warning in result.validity.iter().filter_map(Validity::warning) {
        table.text(warning);
    }
    table.render()
}

/// Share of the travel of the plain push, for people.
pub(crate) fn of_plain_push(plane: &PlaneResult) -> String {
    plane
        .travel_percent_of_plain_push
        .map_or_else(|| "-".to_owned(), |percent| format!("{} %", fixed(percent, 1)))
}

/// Two depths of the centre of resistance are told apart from this difference of the share of the root on.
const TOLD_APART: f64 = 0.03;

/// Why a tooth with several roots has two depths of its centre of resistance, where they differ.
pub(crate) fn why_two_depths(case: &Case, result: &ResultDocument) -> Option<String> {
    let fraction = |p: &PlaneResult| p.centre_of_resistance.fraction_of_bony_root;
    let (across, along) = (fraction(&result.bucco_lingual)?, fraction(&result.mesio_distal)?);
    if (across - along).abs() < TOLD_APART {
        return None;
    }
    let words = case.words();
    let (plane, other) =
        if across > along { (words.plane, "mesio-distal") } else { ("mesio-distal", words.plane) };
    // With parallel roots the depths are nearly the same, and with one root they agree: it is the number of walls.
    let behind = match case.specimen.tooth.root.plan {
        RootPlan::Single => return Some("Two depths: the root is not round.".to_owned()),
        RootPlan::BuccalLingual | RootPlan::MesialDistal => "the roots stand",
        RootPlan::Three => "more of the roots stand",
    };
    Some(format!(
        "Two depths: in the {plane} plane {behind} behind each other, so that below the furcation each presses a wall of its own and \
         the tooth is held deeper than in the {other} plane."
    ))
}

/// What `solve` says beyond the headline.
pub(crate) fn detail(result: &ResultDocument) -> String {
    let mut table = Table::new();
    let error = &result.numerical_error;
    table.text("");
    table.row("Exactness", [String::new()]);
    match error.linear_solver_energy_error {
        None => {
            let residual = format!("{:.1e}", error.linear_solver_residual);
            table.row("  relative residual of the linear solver", [residual]);
        }
        Some(energy) => {
            table.row("  relative error of the linear solver (energy)", [format!("{energy:.1e}")]);
        }
    }
    table.row(
        "  asymmetry of the compliance before it was made symmetric",
        [format!("{:.1e}", error.asymmetry)],
    );
    if let Some(sequence) = error.discretisation.sequence() {
        table.text(format!("Element sizes {}", sequence.meshes()));
        table.row(
            "  observed order, and error of this result",
            ["bucco-lingual", "mesio-distal"].map(str::to_owned),
        );
        let mut outside = false;
        for name in NUMBERS {
            let cell = |seen: Observed| {
                let order = match seen.order {
                    Some(p) if p <= 4.0 => format!("{p:.1}"),
                    Some(_) => ">4".to_owned(),
                    None => "-".to_owned(),
                };
                let percent = seen.percent.map_or_else(|| "-".to_owned(), |p| format!("{p:.2}%"));
                let range = if seen.asymptotic { ' ' } else { '*' };
                outside |= !seen.asymptotic;
                format!("{order:>4}{range} {percent:>7}")
            };
            table.row(format!("  {}", name.replace('_', " ")), sequence.of(name).map(cell));
        }
        if outside {
            table.text("* not in the asymptotic range: the order is not the elements', and the error takes a factor of 3");
        }
    }
    table.row("Time", [format!("{:.2} s", result.timing_s.total)]);
    table.render()
}

/// The quality of a mesh.
pub(crate) fn quality(case: &Case, quality: &QualityReport) -> String {
    let mut table = Table::new();
    table.text(title(case));
    table.text(format!("{} tetrahedra with curved sides, {} nodes", quality.tetrahedra, quality.nodes));
    table.text("");
    let head = ["elements", "volume", "of exact", "dihedral", "Jacobian"];
    table.row("body", head.map(str::to_owned));
    for region in &quality.regions {
        let exact = region
            .exact_volume_mm3
            .map_or_else(|| "-".to_owned(), |v| format!("{:.3}%", 100.0 * region.volume_mm3 / v));
        table.row(
            region_name(region.region),
            [
                region.tetrahedra.to_string(),
                format!("{:.2} mm³", region.volume_mm3),
                exact,
                format!("{:.0}° to {:.0}°", region.smallest_dihedral_deg, region.largest_dihedral_deg),
                format!("{:.2}", region.smallest_scaled_jacobian),
            ],
        );
    }
    table.text("(dihedral angles, smallest to largest; smallest scaled Jacobian)");
    table.text("");
    let t = &quality.ligament_thickness;
    table.text(format!(
        "Ligament thickness: asked {:.4} mm on average, made {:.4} mm; error {:.2}% on average, {:.1}% at worst ({:.1} mm below the crest)",
        t.asked_mean_mm, t.achieved_mean_mm, t.mean_error_percent, t.worst_error_percent, -t.worst_at.z
    ));
    table.text(format!("Root surface: at most {:.4} mm from the exact shape", quality.root_deviation_mm));
    for remark in &quality.remarks {
        table.text(format!("Note: {remark}"));
    }
    table.render()
}

/// Where a directory of results is.
pub(crate) fn written(directory: &Path, files: &str) -> String {
    let text = format!("Written to {}: {files}", directory.display());
    lines(&text, WIDTH, "", "").into_iter().fold("\n".to_owned(), |out, line| out + &line + "\n")
}

/// Where a file is.
pub(crate) fn written_file(path: &Path) -> String {
    format!("Written: {}\n", path.display())
}

pub(crate) fn title(case: &Case) -> String {
    case.title()
}

pub(crate) fn load_line(case: &Case) -> String {
    let load = case.load;
    let torque = if load.torque_nmm == 0.0 {
        "no torque".to_owned()
    } else {
        format!("torque {} N·mm", load.torque_nmm)
    };
    format!("Push of {} N, {torque}, through the long axis", load.force_n.abs())
}

/// Where the load acts, as every text says it.
pub(crate) fn attachment_line(case: &Case) -> String {
    format!("attachment {} mm above the crest", height(case.specimen.attachment.height_mm))
}

pub(crate) fn depth(point: AxisPoint) -> String {
    point.depth_below_crest_mm.map_or_else(|| "at infinity".to_owned(), |d| format!("{} mm", fixed(d, 2)))
}

/// An error in percent, as wide as any other.
fn plus_minus(percent: Option<f64>) -> String {
    match percent {
        Some(p) if p < 0.05 => "±<0.1%".to_owned(),
        Some(p) if p < 9.95 => format!("± {p:.1}%"),
        Some(p) if p < 99.5 => format!("±{p:4.0}%"),
        _ => "      ".to_owned(),
    }
}

pub(crate) fn share(point: AxisPoint) -> String {
    point.fraction_of_bony_root.map_or_else(|| "-".to_owned(), |f| fixed(f, 3))
}

pub(crate) fn micrometres(mm: f64) -> String {
    format!("{} µm", fixed(1e3 * mm, 2))
}

pub(crate) fn per_mm(value: f64) -> String {
    if value.is_finite() { format!("{} °/mm", fixed(value, 2)) } else { "does not travel".to_owned() }
}

pub(crate) fn region_name(region: Region) -> &'static str {
    match region {
        Region::Tooth => "tooth",
        Region::Ligament => "ligament",
        Region::CancellousBone => "cancellous bone",
        Region::CorticalBone => "cortical bone",
    }
}
