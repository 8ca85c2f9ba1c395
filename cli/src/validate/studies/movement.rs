//! Movements: taught ratios, tip for each millimetre, mobility, and directions of change.

use gomphosis_mesh_gen::Observer;
use gomphosis_solver::{PUBLISHED_LIGAMENTS, PlanarLoad};

use super::super::specimen::{ACROSS, Specimen};
use super::{Known, Results, Source, Study, rigid};
use crate::verify::VerifyError;

/// Moment-to-force ratios and tip per millimetre.
pub(super) const TAUGHT: Study = Study {
    name: "taught-ratios",
    title: "Ratios of moment to force, and tip for each millimetre",
    source: "Moment-to-force ratios at the bracket as taught; tipping in expansion (EJO 2005, doi 10.1093/ejo/cjh092; authors \
        Motoyoshi et al. from memory); aligners without attachment (Gomez et al. 2015, Angle Orthod 85:454-460)",
    rebuilt: "Average teeth, attachment at mid-crown, crest 1.5 mm below the cemento-enamel junction, rigid tooth and bone, 0.10 \
        MPa and 0.45, uniform 0.2 mm. The ratios are those of a fixed bracket, whose height the rule does not name",
    run: taught,
};

fn taught(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let ratio = Source::recalled("textbooks", "8 to 10 mm");
    let apex = Source::recalled("textbooks", "5 to 7 mm");
    for tooth in ["upper central incisor", "upper canine", "lower central incisor", "lower first premolar"] {
        let solved = rigid(tooth, &[], &mut results, observer)?;
        results.findings.push(ratio.finds(
            tooth,
            "ratio for translation, mm",
            (8.0, 10.0),
            solved.translation(),
            "The ratio is the distance from bracket to centre, which is longer for an attachment at mid-crown over a healthy \
             crest; 8 to 10 mm want a bracket nearer the gum, a crest at the junction, or a centre nearer the crest",
        ));
        results.findings.push(apex.finds(
            tooth,
            "ratio for rotation about the apex, mm",
            (5.0, 7.0),
            solved.ratio_about(solved.bony_root()),
            "From apex rotation to translation the ratio grows by sigma² over the distance from centre to apex. The taught 3 mm \
             want a sigma² of three times that distance, about twice what any of these teeth has",
        ));
        if tooth == "upper canine" {
            let source = Source::read("Gomez et al. 2015", "between the cervical and the middle third");
            let root = solved.bony_root() + solved.junction();
            results.findings.push(source.finds(
                tooth,
                "centre of rotation of a push / root, from the junction",
                (0.28, 0.38),
                (solved.push_turns_about() + solved.junction()) / root,
                "An aligner is no push at mid-crown: it grips the whole crown. A push without torque turns no linear model \
                 of this tooth about a point above its centre of resistance",
            ));
        }
    }
    let measured = Source::read("EJO 2005", "1.9 (means) to 5 (regression) degrees/mm");
    let rule = Source { by: "rule of thumb", stated: "5 degrees/mm", known: Known::CommonPractice };
    for tooth in ["upper first premolar", "upper second premolar", "upper first molar", "lower first molar"] {
        let solved = rigid(tooth, &[], &mut results, observer)?;
        let (attachment, cusp) = (solved.tip_per_mm(solved.height()), solved.tip_per_mm(solved.cusp_tip()));
        let here = "tip of a plain push, measured at the attachment, degrees/mm";
        results.findings.push(measured.finds(
            tooth,
            here,
            (1.9, 5.0),
            attachment,
            "A push at the attachment without any torque is the worst case; the patients' appliances held the teeth",
        ));
        let there = "the same, measured at the cusp tip, degrees/mm";
        results.findings.push(measured.finds(tooth, there, (1.9, 5.0), cusp, ""));
        results.findings.push(rule.finds(
            tooth,
            here,
            (4.5, 5.5),
            attachment,
            "The rule has no source and does not say where the millimetre is measured",
        ));
    }
    Ok(results)
}

/// Crown displacement in volunteers.
pub(super) const MOBILITY: Study = Study {
    name: "mobility",
    title: "Mobility of an upper incisor",
    source: "Jones et al. 2001 (J Orthod 28:29-38): 0.39 N moved the crowns of ten volunteers' upper incisors by 0.012 to 0.133 \
        mm",
    rebuilt: "The average upper central incisor, pushed at mid-crown, rigid tooth and bone, uniform ligament of 0.2 mm, with each \
        published pair of ligament constants in turn",
    run: mobility,
};

fn mobility(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let source = Source::read("Jones et al. 2001", "0.012 to 0.133 mm");
    let specimen = Specimen::rigid("upper central incisor", &[], observer)?;
    results.commands.push(format!("{} --set materials.ligament.published=NAME", specimen.command));
    let height_mm = specimen.height();
    for set in PUBLISHED_LIGAMENTS {
        let plane = specimen.with_ligament(set.material, observer)?;
        let load = PlanarLoad { height_mm, force_n: 0.39, torque_nmm: 0.0 };
        let remark = if set.name == "jones_2001" {
            "The pair was fitted to these very volunteers on the paper's own model of tooth and ligament, which is not known \
             here; on an even layer of 0.2 mm it is several times too stiff"
        } else {
            "A pair belongs to the thickness, the load and the experiment of its own paper"
        };
        results.findings.push(source.finds(
            &format!("ligament {}", set.name),
            "travel at mid-crown under 0.39 N, mm",
            (0.012, 0.133),
            plane.motion(&load).travel_mm(height_mm),
            remark,
        ));
    }
    Ok(results)
}

/// What was reported without numbers.
pub(super) const DIRECTIONS: Study = Study {
    name: "directions",
    title: "Directions of change",
    source: "Geramy 2000 (AJODO 117:399-405), bone loss on an upper central incisor; Choy et al. 2000 (AJODO 117:98-105), root \
        length; Naegerl et al. 1991 (AJODO 99:337-345), two planes; Yao et al. 2023 (doi 10.3389/fbioe.2023.1120535), root torque",
    rebuilt: "Average teeth, rigid tooth and bone, 0.10 MPa and 0.45, uniform 0.2 mm; bone loss of 0, 2, 4 and 6 mm; a root of 10 \
        instead of 13 mm; torque from 0 to 8 N mm for each newton. What is counted is how many steps go the reported way. The 0.26 degrees/mm of Yao et al. for each degree of torque programmed on the appliance are not comparable: the torque that reaches the tooth is not known",
    run: directions,
};

fn directions(observer: &dyn Observer) -> Result<Results, VerifyError> {
    let mut results = Results::default();
    let tooth = "upper central incisor";
    // Below the healthy crest; minus what is below the crest; ratio for translation at the bracket; travel; minus the
    // place of the centre of rotation below the crest.
    let mut found = Vec::new();
    for loss in [0.0, 2.0, 4.0, 6.0] {
        let solved = rigid(tooth, &[&format!("bone.loss_mm={loss}")], &mut results, observer)?;
        let depth = solved.depth(ACROSS);
        found.push([
            depth + loss,
            -depth,
            solved.translation(),
            solved.push(0.0).1,
            -solved.push_turns_about(),
        ]);
    }
    let geramy = |stated| Source::read("Geramy 2000", stated);
    for (k, stated) in [
        "the centre moves to the apex",
        "its distance to the crest falls",
        "the ratio for bodily movement rises",
        "displacements grow",
        "the centre of rotation moves toward the crest",
    ]
    .into_iter()
    .enumerate()
    {
        let steps = found.windows(2).filter(|pair| pair[1][k] > pair[0][k]).count() as f64;
        let quantity = format!("steps of bone loss, of 3, after which {stated}");
        results.findings.push(geramy(stated).finds(tooth, &quantity, (3.0, 3.0), steps, ""));
    }
    let long = rigid(tooth, &[], &mut results, observer)?;
    let short = rigid(tooth, &["root.length_mm=10"], &mut results, observer)?;
    results.findings.push(Source::read("Choy et al. 2000", "short roots tip more").finds(
        tooth,
        "tip of a push, root of 10 mm over root of 13 mm",
        (1.0, f64::INFINITY),
        short.push(0.0).0 / long.push(0.0).0,
        "",
    ));
    let premolar = rigid("upper first premolar", &[], &mut results, observer)?;
    let [across, along] =
        [ACROSS, super::super::specimen::ALONG].map(|p| premolar.plane(p).sigma_squared_mm2());
    results.findings.push(Source::read("Naegerl et al. 1991", "sigma² depends on the direction").finds(
        "upper first premolar",
        "sigma² across over along the arch",
        (1.05, f64::INFINITY),
        across / along,
        "",
    ));
    let steps = [0.0, 2.0, 4.0, 6.0];
    let counted = steps.into_iter().filter(|&torque| {
        let ((tip, travel), (less_tip, less_travel)) = (premolar.push(torque), premolar.push(torque + 2.0));
        less_tip / less_travel < tip / travel && less_travel < travel
    });
    let steps = counted.count() as f64;
    results.findings.push(
        Source::read("Yao et al. 2023", "root torque lowers the tip, and what the crown travels").finds(
            "upper first premolar",
            "steps of torque, of 4, that lower both tip per mm and travel",
            (4.0, 4.0),
            steps,
            "",
        ),
    );
    Ok(results)
}
