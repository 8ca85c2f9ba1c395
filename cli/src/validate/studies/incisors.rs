//! Teeth with one root: where their centre of resistance lies.

use gomphosis_mesh_gen::Observer;

use super::super::specimen::{ACROSS, ALONG};
use super::{Results, Source, Study, around, elastic, plane_name, rigid};
use crate::verify::VerifyError;

/// Tanne, Koenig and Burstone 1988.
pub(super) const TANNE: Study = Study {
    name: "tanne-1988",
    title: "Upper central incisor of 1988",
    source: "Tanne, Koenig and Burstone 1988 (AJODO 94:426-431), finite elements",
    rebuilt: "From the paper, all from memory: root 13 mm, tooth 19,600 MPa and 0.15, ligament 0.67 MPa and 0.49, bone \
        13,700 MPa and 0.15. The bracket 5.25 mm above the crest follows from its ratio for translation and its centre. \
        Thickness 0.229 mm and the crest at the cemento-enamel junction are assumed; the shape is the average tooth's, the \
        paper's not being known",
    run: tanne,
};

fn tanne(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let set = [
        "bone.crest_below_cej_mm=0",
        "attachment.height_mm=5.25",
        "ligament.thickness_mm=0.229",
        "materials.ligament.published=tanne_1987",
        "materials.tooth.modulus_mpa=19600",
        "materials.tooth.poisson_ratio=0.15",
        "materials.cancellous_bone.modulus_mpa=13700",
        "materials.cancellous_bone.poisson_ratio=0.15",
        "materials.cortical_bone.modulus_mpa=13700",
        "materials.cortical_bone.poisson_ratio=0.15",
    ];
    let tooth = "upper central incisor";
    let solved = elastic(tooth, &set, &mut results, observer)?;
    let by = |stated| Source::recalled("Tanne et al. 1988", stated);
    results.findings = vec![
        by("0.24").finds(
            tooth,
            "centre of resistance / root",
            around(0.24),
            solved.fraction(ACROSS),
            "The ideal paraboloid at 0.49 gives 0.37 to 0.40 in two independent computations (table of `gomphosis verify`), \
             holography in the mouth about 1/3. Most likely a coarse mesh of elements that lock at 0.49, and another shape of \
             root",
        ),
        by("8.39").finds(
            tooth,
            "ratio for translation, mm",
            around(8.39),
            solved.translation(),
            "Follows from the centre: the ratio is the distance from bracket to centre",
        ),
        by("6.52").finds(
            tooth,
            "ratio for rotation about the apex, mm",
            around(6.52),
            solved.ratio_about(solved.bony_root()),
            "Follows from the centre; which of the paper's ratios belongs to which centre of rotation is from memory too",
        ),
        by("9.53").finds(
            tooth,
            "ratio for rotation about the incisal edge, mm",
            around(9.53),
            solved.ratio_about(-solved.cusp_tip()),
            "Follows from the centre",
        ),
        by("18.5, derived as (8.39 - 6.52)(13 - 3.12)").finds(
            tooth,
            "sigma squared, mm²",
            around(18.5),
            solved.plane(ACROSS).sigma_squared_mm2(),
            "Derived from two recalled ratios; those for edge and translation give 14 to 16 with an edge 4 to 5.5 mm above \
             the bracket, so that one of them is not recalled exactly or the model was not linear",
        ),
    ];
    Ok(results)
}

/// Reviews, measurements and textbooks.
pub(super) const SINGLE_ROOTS: Study = Study {
    name: "single-roots",
    title: "Teeth with one root",
    source: "Reviews and textbooks, and a measurement in the mouth (Burstone and Pryputniewicz 1980, AJO 77:396-409, laser \
        holography)",
    rebuilt: "Average teeth of the handbook, crest 1.5 mm below the cemento-enamel junction, uniform ligament of 0.2 mm, 0.10 \
        MPa and 0.45, rigid tooth and bone. The sources give no constants",
    run: single_roots,
};

fn single_roots(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let review = Source::read("Papageorgiou 2005 (Hellenic Orthod Rev 8)", "33 to 42 % of the root");
    let general = Source::read("review in ISRN Dent 2012 (PMC3424837)", "1/3 to 1/2 of the root");
    let textbook = Source::recalled("textbooks", "0.35 to 0.45");
    let measured = Source::recalled("Burstone & Pryputniewicz 1980", "close to 1/3");
    let quantity = "centre of resistance / bony root";
    for tooth in [
        "upper central incisor",
        "upper lateral incisor",
        "upper canine",
        "upper second premolar",
        "lower central incisor",
        "lower canine",
        "lower first premolar",
        "lower second premolar",
    ] {
        let fraction = rigid(tooth, &[], &mut results, observer)?.fraction(ACROSS);
        results.findings.push(review.finds(tooth, quantity, (0.33, 0.42), fraction, ""));
        results.findings.push(general.finds(tooth, quantity, (1.0 / 3.0, 0.5), fraction, ""));
        if tooth == "upper central incisor" {
            let near = "A living tooth of its own shape and bone level, and a band of a tenth around a rounded value: a near \
                miss";
            results.findings.push(measured.finds(tooth, quantity, around(1.0 / 3.0), fraction, near));
        }
        if tooth.ends_with("premolar") {
            results.findings.push(textbook.finds(tooth, quantity, (0.35, 0.45), fraction, ""));
        }
    }
    let premolar = "upper first premolar";
    let two = rigid(premolar, &[], &mut results, observer)?;
    let one = rigid(premolar, &["root.plan=single"], &mut results, observer)?;
    results.findings.push(textbook.finds(
        "upper first premolar, two roots",
        quantity,
        (0.35, 0.45),
        two.fraction(ACROSS),
        "The textbooks take it as one root. Pushed across the arch each of the two roots presses a wall of its own below the \
         furcation, which lowers the centre; whether they diverge hardly matters",
    ));
    results.findings.push(textbook.finds(
        "the same with one root",
        quantity,
        (0.35, 0.45),
        one.fraction(ACROSS),
        "",
    ));
    Ok(results)
}

/// Vollmer et al. 1999.
pub(super) const VOLLMER: Study = Study {
    name: "vollmer-1999",
    title: "Upper canine and elliptic paraboloid",
    source: "Vollmer, Bourauel, Maier and Jaeger 1999 (EJO 21:633-648), finite elements",
    rebuilt: "Ligament 0.10 MPa and 0.45 (from memory) on the average upper canine and on the elliptic paraboloid 7.8 x 5.2 x 13 \
        mm; the paper's own sizes are not known. Elastic bodies",
    run: vollmer,
};

fn vollmer(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let source = Source::recalled("Vollmer et al. 1999", "about 2/5 (0.36 to 0.42)");
    for tooth in ["upper canine", "elliptic paraboloid"] {
        let set = ["materials.ligament.published=vollmer_1999"];
        let solved = elastic(tooth, &set, &mut results, observer)?;
        for plane in [ACROSS, ALONG] {
            let quantity = format!("centre of resistance / bony root, {}", plane_name(plane));
            results.findings.push(source.finds(tooth, &quantity, (0.36, 0.42), solved.fraction(plane), ""));
        }
    }
    Ok(results)
}
