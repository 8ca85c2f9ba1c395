//! Molars: centre of resistance and furcation.

use gomphosis_mesh_gen::Observer;

use super::super::specimen::{ACROSS, ALONG, Specimen};
use super::{Results, Source, Study, around, plane_name, rigid, two_sigma};
use crate::verify::VerifyError;

const GENERAL: Source = Source::read("review in ISRN Dent 2012 (PMC3424837)", "1/3 to 1/2 of the root");
const TEXTBOOK: Source = Source::recalled("textbooks", "1 to 2 mm apical of the furcation");

/// Fifty upper first molars.
pub(super) const UPPER: Study = Study {
    name: "upper-first-molar",
    title: "Upper first molar",
    source: "Gandhi et al. 2021 (AJODO; authors from memory), finite elements of 50 teeth from cone-beam scans; Viecilli, \
        Budiman and Burstone 2013 (AJODO 143:163-172)",
    rebuilt: "The average tooth of the handbook, rigid tooth and bone, 0.10 MPa and 0.45, uniform 0.2 mm; then with the crest at \
        the cemento-enamel junction, because the sources do not say where their bone begins. The tooth is built evenly to mesial and distal. Bands of two standard \
        deviations of the fifty teeth",
    run: upper,
};

fn upper(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let gandhi = |stated| Source::read("Gandhi et al. 2021", stated);
    let deeper = "The average tooth here lies to the apex of the fifty: its roots stand apart to their ends, and its crest is \
        1.5 mm below the junction. With the crest at the junction the difference shrinks";
    for (tooth, set) in [
        ("upper first molar", [].as_slice()),
        (
            "the same, crest at the junction",
            ["bone.crest_below_cej_mm=0", "attachment.height_mm=3.75"].as_slice(),
        ),
    ] {
        let solved = rigid("upper first molar", set, &mut results, observer)?;
        for plane in [ACROSS, ALONG] {
            let name = plane_name(plane);
            let (depth, furcation) = (solved.depth(plane), solved.specimen.furcation());
            results.findings.push(gandhi("0.19 ± 1.75").finds(
                tooth,
                &format!("centre gingival of the trifurcation, {name}, mm"),
                two_sigma(0.188, 1.75),
                depth - furcation,
                deeper,
            ));
            results.findings.push(gandhi("7.86 ± 1.66").finds(
                tooth,
                &format!("centre gingival of the buccal surface's middle, {name}, mm"),
                two_sigma(7.86, 1.66),
                depth + solved.height(),
                deeper,
            ));
            results.findings.push(TEXTBOOK.finds(
                tooth,
                &format!("centre apical of the furcation, {name}, mm"),
                (1.0, 2.0),
                depth - furcation,
                "The rule has no source; where the furcation is counted from (entrance or roof) moves it by a millimetre",
            ));
            let quantity = format!("centre of resistance / bony root, {name}");
            results.findings.push(GENERAL.finds(
                tooth,
                &quantity,
                (1.0 / 3.0, 0.5),
                solved.fraction(plane),
                "",
            ));
        }
        if !set.is_empty() {
            continue;
        }
        let centre = solved.compliance.centre_of_compliance();
        results.findings.push(gandhi("4.94 ± 1.39").finds(
            tooth,
            "centre lingual of the buccal surface's middle, mm",
            two_sigma(4.94, 1.39),
            solved.attachment().x - centre.x,
            "",
        ));
        results.findings.push(gandhi("2.54 ± 2.7").finds(
            tooth,
            "centre distal of the buccal surface's middle, mm",
            two_sigma(2.54, 2.7),
            solved.attachment().y - centre.y,
            "",
        ));
        let axes = solved.compliance.axes_of_resistance();
        let axes = axes.ok_or(VerifyError::Missing("no axes of resistance"))?;
        let apart = axes.distances_mm.into_iter().fold(0.0, f64::max);
        results.findings.push(
            Source::read("Viecilli et al. 2013", "the axes of three couples do not meet").finds(
                tooth,
                "largest distance between axes of couples, mm",
                (0.1, f64::INFINITY),
                apart,
                "",
            ),
        );
    }
    Ok(results)
}

/// Lower first molar.
pub(super) const LOWER: Study = Study {
    name: "lower-first-molar",
    title: "Lower first molar",
    source: "Oh et al. 2019 (AJODO 156:365-374), finite elements of lower posterior teeth, forces in the median sagittal plane; \
        sizes of 20 extracted teeth",
    rebuilt: "The average tooth of the handbook, rigid tooth and bone, 0.10 MPa and 0.45, uniform 0.2 mm. The paper's \
        forces run fore and aft, so along the arch at the molar, where the two roots stand one behind the other; across the \
        arch it gives no value. For the root's area the crest stands at the cemento-enamel junction, so that all of the root counts",
    run: lower,
};

fn lower(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let tooth = "lower first molar";
    let solved = rigid(tooth, &[], &mut results, observer)?;
    results.findings.push(Source::read("Oh et al. 2019", "0.48").finds(
        tooth,
        "centre of resistance / bony root, mesio-distal",
        around(0.48),
        solved.fraction(ALONG),
        "",
    ));
    for plane in [ACROSS, ALONG] {
        let name = plane_name(plane);
        results.findings.push(GENERAL.finds(
            tooth,
            &format!("centre of resistance / bony root, {name}"),
            (1.0 / 3.0, 0.5),
            solved.fraction(plane),
            "",
        ));
        results.findings.push(TEXTBOOK.finds(
            tooth,
            &format!("centre apical of the furcation, {name}, mm"),
            (1.0, 2.0),
            solved.depth(plane) - solved.specimen.furcation(),
            "The rule has no source and names no plane. The furcation here is at its entrance, 3.3 mm below the junction; \
             counted from its roof, or from 4 mm (20 teeth), less is left",
        ));
    }
    let whole = Specimen::rigid(tooth, &["bone.crest_below_cej_mm=0"], observer)?;
    results.commands.push(whole.command.clone());
    let all = whole.area(|_| true);
    let teeth = |stated| Source::read("20 extracted teeth", stated);
    results.findings.push(teeth("48.7 %").finds(
        tooth,
        "root's area in its first 6 mm / all",
        around(0.487),
        whole.area(|p| p.z > -6.0) / all,
        "The model's roots taper evenly from a wide trunk, so that more of their area lies near the crown; natural roots keep \
         their width longer",
    ));
    let furcation = whole.furcation();
    let mesial = whole.area(|p| p.z < -furcation && p.y > 0.0);
    let distal = whole.area(|p| p.z < -furcation && p.y < 0.0);
    results.findings.push(teeth("1 : 0.88").finds(
        tooth,
        "area of the distal root / mesial root",
        around(0.88),
        distal / mesial,
        "The model's two roots differ only by how they are parted here, at the long axis",
    ));
    Ok(results)
}
