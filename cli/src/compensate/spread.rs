//! What varies between teeth, and how much. Every spread states its source; one without a source is an assumption.

use gomphosis_mesh_gen::ToothForm;

use crate::case::Case;
use crate::study::space::Distribution;

/// Standard deviation over mean of the root's length, 13 %: the order that the ranges of Scheid and Weiss, Woelfel's Dental
/// Anatomy, give (a range of some hundred teeth spans about five and a half standard deviations); from memory.
const ROOT_LENGTH: f64 = 0.13;
/// The same for the height of the crown, 8 %; from memory.
const CROWN_HEIGHT: f64 = 0.08;
/// The same for widths of crown and cervix, which go together, 7 %; from memory.
const WIDTH: f64 = 0.07;
/// Depth of the furcation as a share of the root, 25 %: 3.07 with a standard deviation of 0.82 mm, buccal, in 96 lower first
/// molars; taken for every tooth with several roots.
const FURCATION: f64 = 0.25;
/// Shortest roots below the furcation, beside two ligaments, mm: the least that is meshed, and a little.
const SHORTEST_ROOTS_MM: f64 = 2.55;
/// Angle between roots, 20 %: an assumption, no source.
const DIVERGENCE: f64 = 0.2;
/// Bells are cut off at this many standard deviations.
const CUT: f64 = 2.0;

/// Crest below the cemento-enamel junction, mm: from 1 (healthy: 0.4 to 1.9; Hausmann, Allen and Clerehugh 1991, J Periodontol
/// 62:570-572) to 3.6 (mean of the buccal crest of 1463 upper
/// teeth in cone-beam tomography, J Oral Maxillofac Res 10, 2019, e4).
pub(super) const CREST_MM: [f64; 2] = [1.0, 3.6];
/// Attachment above and below its place, mm: an assumption, no source.
pub(super) const ATTACHMENT_MM: f64 = 1.0;

/// Heights of the attachment that stand for its range.
pub(super) const HEIGHTS: usize = 9;

/// Length of a short root over that of the tooth itself.
const SHORT_ROOT: f64 = 0.8;

/// What a draw takes: the sizes of a tooth, then the level of its crest.
pub(super) const DRAWN: [&str; 7] = [
    "root length",
    "crown height",
    "mesio-distal width",
    "bucco-lingual width",
    "furcation depth",
    "angle between roots",
    "depth of the crest",
];
/// Numbers that a draw takes.
pub(super) const DRAWS: usize = DRAWN.len();

/// What the spreads are, for people.
pub(super) const WORDS: &str = "Spread: standard deviations of 13 % (root length), 8 % (crown height), 7 % (widths; all \
    three from memory), 25 % (furcation; 96 lower first molars) and 20 % (angle between roots; no source), cut at two \
    deviations; crest 1 to 3.6 mm below the cemento-enamel junction (J Oral Maxillofac Res 2019); eight published pairs of \
    ligament constants; attachment up to 1 mm above or below its place (no source).";

/// A factor around 1.
fn factor(sd: f64, share: f64) -> f64 {
    let cut = CUT * sd;
    Distribution::TruncatedNormal { mean: 1.0, sd, from: 1.0 - cut, to: 1.0 + cut }.quantile(share)
}

/// The sizes of a tooth drawn; the attachment keeps its place on the crown.
pub(super) fn anatomy(case: &Case, shares: &[f64; DRAWS]) -> Case {
    let mut drawn = case.clone();
    let [length, crown, width_md, width_bl, furcation, divergence, ..] = *shares;
    let sizes = &case.specimen.tooth;
    let mut spec = case
        .specimen
        .with_root_length(sizes.root.length_mm * factor(ROOT_LENGTH, length))
        .with_crown_height(sizes.crown.height_mm * factor(CROWN_HEIGHT, crown));
    let md = factor(WIDTH, width_md);
    // A root of revolution is as wide both ways.
    let round = sizes.form == ToothForm::Paraboloid;
    let bl = if round { md } else { factor(WIDTH, width_bl) };
    spec.tooth.crown.mesiodistal_mm *= md;
    spec.tooth.root.mesiodistal_mm *= md;
    spec.tooth.crown.buccolingual_mm *= bl;
    spec.tooth.root.buccolingual_mm *= bl;
    let parted = spec.tooth.root.furcation_mm * factor(FURCATION, furcation);
    // Roots must have a length of their own.
    let deepest = spec.tooth.root.length_mm - SHORTEST_ROOTS_MM - 2.0 * spec.ligament.thickness_mm;
    spec.tooth.root.furcation_mm = parted.min(deepest);
    spec.tooth.root.divergence_deg *= factor(DIVERGENCE, divergence);
    drawn.specimen = spec;
    drawn
}

/// Sizes and crest drawn. Ligament and height of the attachment need no mesh of their own: each drawn tooth meets all of
/// them.
pub(super) fn with_sizes_and_crest(case: &Case, shares: &[f64; DRAWS]) -> Case {
    let [.., crest] = *shares;
    with_crest(&anatomy(case, shares), CREST_MM[0] + (CREST_MM[1] - CREST_MM[0]) * crest)
}

/// The heights of the attachment above or below its place, mm: the middles of as many equal shares of its range.
pub(super) fn heights() -> [f64; HEIGHTS] {
    std::array::from_fn(|k| ATTACHMENT_MM * ((2 * k + 1) as f64 / HEIGHTS as f64 - 1.0))
}

/// Another level of the healthy crest; the attachment keeps its place on the crown. Idealised roots have no junction: there
/// the level counts from the case's own.
pub(super) fn with_crest(case: &Case, below_cej_mm: f64) -> Case {
    let mut moved = case.clone();
    let spec = &case.specimen;
    moved.specimen = if matches!(spec.tooth.form, ToothForm::Anatomical(_)) {
        spec.with_crest(below_cej_mm)
    } else {
        spec.with_bone_loss(spec.bone.loss_mm + (below_cej_mm - CREST_MM[0]))
    };
    moved
}

/// A shorter root, its furcation in proportion; the attachment keeps its place on the crown.
pub(super) fn with_short_root(case: &Case) -> Case {
    let mut moved = case.clone();
    moved.specimen = case.specimen.with_root_length(SHORT_ROOT * case.specimen.tooth.root.length_mm);
    moved
}

/// More bone lost; the attachment keeps its place on the crown.
pub(super) fn with_loss(case: &Case, more_mm: f64) -> Case {
    let mut moved = case.clone();
    moved.specimen = case.specimen.with_bone_loss(case.specimen.bone.loss_mm + more_mm);
    moved
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use gomphosis_mesh_gen::ToothKind;

    use super::*;
    use crate::case::defaults;

    #[test]
    fn the_middle_draw_is_the_tooth_itself() {
        for kind in ToothKind::ALL {
            let case = defaults(ToothForm::Anatomical(kind));
            let drawn = anatomy(&case, &[0.5; DRAWS]);
            assert_relative_eq!(
                drawn.specimen.tooth.root.length_mm,
                case.specimen.tooth.root.length_mm,
                max_relative = 1e-9
            );
            assert_relative_eq!(
                drawn.specimen.attachment.height_mm,
                case.specimen.attachment.height_mm,
                max_relative = 1e-9
            );
            drawn.specimen.check().expect("the tooth itself");
        }
    }

    #[test]
    fn a_lower_crest_leaves_the_attachment_where_it_is_on_the_crown() {
        let case = defaults(ToothForm::Anatomical(ToothKind::ALL[3]));
        let moved = with_crest(&case, 3.5);
        assert_relative_eq!(moved.specimen.attachment.height_mm, case.specimen.attachment.height_mm + 2.0);
        let moved = with_loss(&case, 3.0);
        assert_relative_eq!(moved.specimen.attachment.height_mm, case.specimen.attachment.height_mm + 3.0);
    }
}
