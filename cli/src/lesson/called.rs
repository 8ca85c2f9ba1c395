//! How the teeth of a lesson are told apart: what each is called, and which are the same tooth but for the bone it has lost.

use crate::case::{self, Case, Key, sentence_case};
use crate::figure::Language;
use crate::study::charts::plain_name;

/// What a tooth of a lesson is called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Called {
    /// Name and bone, and what else tells it from the others.
    pub(crate) title: String,
    /// "healthy bone" or the bone that is lost.
    pub(crate) bone: String,
    /// Teeth with the same number differ in nothing but the bone that is lost.
    pub(crate) family: usize,
}

/// At most so many keys tell two teeth apart.
const DIFFERENCES: usize = 2;
/// Heights on the crown closer than this are the same place: defaults are rounded to a hundredth of a millimetre.
const SAME_HEIGHT_MM: f64 = 0.015;

/// What the teeth of a lesson are called.
pub(crate) fn called(cases: &[Case], language: Language) -> Vec<Called> {
    let number = |text: &str| text.replace('.', language.decimal_mark());
    let bones: Vec<String> = cases
        .iter()
        .map(|case| match case.specimen.bone.loss_mm {
            loss if loss > 0.0 => language.tell("{} mm of bone lost", &[&number(&loss.to_string())]),
            _ => language.say("healthy bone"),
        })
        .collect();
    let plain: Vec<String> = cases
        .iter()
        .zip(&bones)
        .map(|(case, bone)| {
            let name = case.own_name.clone();
            let name = name.unwrap_or_else(|| sentence_case(&language.say(&case.name())));
            language.tell("{}, {}", &[&name, bone])
        })
        .collect();
    let titles: Vec<String> = (0..cases.len())
        .map(|k| {
            let same: Vec<usize> = (0..cases.len()).filter(|&j| plain[j] == plain[k]).collect();
            let marks: Vec<String> = differences(&same.iter().map(|&j| &cases[j]).collect::<Vec<_>>())
                .into_iter()
                .filter_map(|path| {
                    let own = case::parameters(&cases[k]).into_iter().find(|p| p.path == path)?;
                    let name = Key::find(path).map(plain_name)?;
                    Some(
                        format!("{} {} {}", language.say(&name), number(&own.value), own.unit)
                            .trim_end()
                            .to_owned(),
                    )
                })
                .collect();
            [vec![plain[k].clone()], marks].concat().join(", ")
        })
        .collect();
    (0..cases.len())
        .map(|k| {
            // Cases that agree in everything are counted.
            let before = titles[..k].iter().filter(|title| **title == titles[k]).count();
            let title =
                if before > 0 { format!("{} ({})", titles[k], before + 1) } else { titles[k].clone() };
            let family = (0..=k).find(|&j| one_tooth(&cases[j], &cases[k])).unwrap_or(k);
            Called { title, bone: bones[k].clone(), family }
        })
        .collect()
}

/// Keys in which some cases differ, the first few.
fn differences(cases: &[&Case]) -> Vec<&'static str> {
    let all: Vec<_> = cases.iter().map(|case| case::parameters(case)).collect();
    let Some((first, rest)) = all.split_first() else { return Vec::new() };
    let differs = |path: &str, value: &str| {
        rest.iter().any(|list| list.iter().any(|p| p.path == path && p.value != value))
    };
    let keys = first.iter().filter(|p| !p.path.starts_with("map.") && differs(p.path, &p.value));
    keys.map(|p| p.path).take(DIFFERENCES).collect()
}

/// Do two cases differ in nothing but the level of the bone?
fn one_tooth(a: &Case, b: &Case) -> bool {
    // What stands at a place of the crown keeps it, and its height above the crest grows with the bone that is lost.
    let follows = |path: &str| {
        path == "bone.loss_mm" || path.starts_with("map.") || path.starts_with("attachment.height")
    };
    let kept = |case: &Case| -> Vec<(&'static str, String)> {
        case::parameters(case).into_iter().filter(|p| !follows(p.path)).map(|p| (p.path, p.value)).collect()
    };
    let from_junction =
        |case: &Case| case.specimen.attachment.height_mm + case.specimen.crest_z_from_cej_mm();
    kept(a) == kept(b) && (from_junction(a) - from_junction(b)).abs() < SAME_HEIGHT_MM
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{load, option};

    fn cases(sets: &[&[(&str, &str)]]) -> Vec<Case> {
        sets.iter()
            .map(|given| {
                let all = [("tooth", "14")].iter().chain(*given);
                load(None, all.map(|(key, value)| option(key, key, value)).collect()).expect("a valid case")
            })
            .collect()
    }

    #[test]
    fn teeth_that_differ_only_in_bone_are_one_family_and_called_by_their_bone() {
        let all = called(&cases(&[&[], &[("bone.loss_mm", "4")]]), Language::En);
        assert_eq!(all[0].title, "Upper first premolar, healthy bone");
        assert_eq!(all[1].title, "Upper first premolar, 4 mm of bone lost");
        assert_eq!(all[0].family, all[1].family);
    }

    #[test]
    fn two_cases_of_one_tooth_are_told_apart_by_what_differs() {
        let stiff = [("materials.ligament.modulus_mpa", "0.5")];
        let all = called(&cases(&[&[], &stiff, &[], &[("bone.loss_mm", "2.5")]]), Language::De);
        let titles: Vec<&str> = all.iter().map(|c| c.title.as_str()).collect();
        let name = "Oberer erster Prämolar, gesunder Knochen, Elastizitätsmodul des Ligaments";
        assert_eq!(titles[0], format!("{name} 0,1 MPa"));
        assert_eq!(titles[1], format!("{name} 0,5 MPa"));
        assert_eq!(titles[2], format!("{name} 0,1 MPa (2)"));
        assert_eq!(titles[3], "Oberer erster Prämolar, 2,5 mm Knochenverlust");
        assert_eq!(all.iter().map(|c| c.family).collect::<Vec<_>>(), [0, 1, 0, 0]);
    }
}
