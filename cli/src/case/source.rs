//! Where each value of a case comes from: the place where it was given, or the source of its default. The texts repeat what
//! the code that holds the default says.

use gomphosis_mesh_gen::ToothForm;
use gomphosis_solver::PUBLISHED_LIGAMENTS;
use serde_json::Value;

use super::complaint::Origin;
use super::key::{KEYS, Kind};
use super::{Case, place, write};

/// A value of a case with its source.
#[derive(Debug, Clone)]
pub(crate) struct Parameter {
    /// The key.
    pub(crate) path: &'static str,
    /// As it is written in a case.
    pub(crate) value: String,
    pub(crate) unit: &'static str,
    pub(crate) meaning: &'static str,
    pub(crate) source: String,
    /// Was it given, or is it a default?
    pub(crate) given: bool,
}

const HANDBOOK: &str = "average of the handbook: Ash & Nelson, Wheeler's Dental Anatomy, Physiology and Occlusion (partly from memory)";
const IDEAL: &str = "idealised root of Haack & Haft 1972 and Provatidis 1999-2001 (from memory)";
const NO_SOURCE: &str = "common practice, no source";
const MEMORY: &str = "from memory";
const OWN: &str = "choice of the model";

/// Every value of a case, in the order of the keys.
pub(crate) fn parameters(case: &Case) -> Vec<Parameter> {
    KEYS.iter()
        .filter(|key| !matches!(key.kind, Kind::Shorthand { .. }))
        .filter_map(|key| {
            let value = match write::value(key, case)? {
                Value::String(text) => text,
                other => other.to_string(),
            };
            let origin = case.origins.get(key.path);
            let given = origin.is_some();
            let source = match origin {
                Some(Origin::File(file, span)) => {
                    format!("given in {}, line {}", file.name, file.line(span.start))
                }
                Some(Origin::Option(text)) => format!("given: {text}"),
                Some(Origin::Default) | None => match case.place.key() {
                    Some(given) if place::KEYS.contains(&key.path) => format!("follows from {given}"),
                    _ => default_source(case, key.path),
                },
            };
            Some(Parameter { path: key.path, value, unit: key.unit, meaning: key.help, source, given })
        })
        .collect()
}

/// The source of a default.
fn default_source(case: &Case, path: &str) -> String {
    let kind = match case.specimen.tooth.form {
        ToothForm::Anatomical(kind) => Some(kind),
        ToothForm::Paraboloid | ToothForm::EllipticParaboloid => None,
    };
    let table = path.split('.').next().unwrap_or_default();
    let text = match (table, path) {
        (_, "tooth") => "the built-in case",
        ("crown", _) | (_, "root.length_mm" | "root.mesiodistal_mm" | "root.buccolingual_mm") => {
            if kind.is_some() { HANDBOOK } else { IDEAL }
        }
        (_, "root.plan") => {
            if kind.is_some() {
                "number of roots of the average tooth (handbook)"
            } else {
                IDEAL
            }
        }
        (_, "root.furcation_mm" | "root.divergence_deg") => {
            match kind.map(|k| (k.is_upper(), k.position())) {
                Some((true, 6)) => "means of 20 upper first molars",
                Some((false, 6)) => "means of 359 lower molars",
                Some((true, 4)) if path == "root.furcation_mm" => {
                    "from memory; trunks of 100 two-rooted teeth were shorter, 6.0 mm without and 7.4 mm with a ridge in the \
                     furcation (Dababneh & Rodan 2013, J Int Acad Periodontol 15:8-15)"
                }
                Some((true, 4 | 7 | 8) | (false, 7 | 8)) => MEMORY,
                _ => "one root: without meaning",
            }
        }
        (_, "root.curvature_mm") => NO_SOURCE,
        (_, "root.tip_radius_mm") => {
            if kind.is_some() {
                MEMORY
            } else {
                "curvature of the paraboloid at its apex"
            }
        }
        (_, "ligament.thickness_mm") if kind.is_some() => {
            "middle of the 0.15 to 0.38 mm found in man (Orban, second-hand)"
        }
        (_, "ligament.thickness_mm") => IDEAL,
        (_, "ligament.mid_thickness_mm") => MEMORY,
        ("ligament", _) => OWN,
        (_, "bone.crest_below_cej_mm") if kind.is_none() => "no crown: the junction is the crest",
        (_, "bone.crest_below_cej_mm") => {
            "between 0.4 and 1.9 mm, the 95 % limits of bite-wings of sites without loss of attachment (Hausmann, Allen & \
             Clerehugh 1991, J Periodontol 62:570-572)"
        }
        (_, "bone.loss_mm") => "healthy bone",
        (_, "bone.buccal_plate_mm" | "bone.lingual_plate_mm") => {
            match kind.map(|k| (k.is_upper(), k.position())) {
                Some((true, 4 | 5)) => {
                    "upper premolars, 1 mm below the crest: J Oral Implantol 43, 2017, 261-265"
                }
                Some((true, 1..=3)) if path == "bone.buccal_plate_mm" => {
                    "upper front teeth, mid-root: J Oral Maxillofac Res 10, 2019, e4"
                }
                _ => NO_SOURCE,
            }
        }
        ("bone", _) => NO_SOURCE,
        _ if place::KEYS.contains(&path) => "middle of the crown",
        (_, "attachment.footprint_width_mm") => "Angle Orthod 89, 2019, 679",
        (_, "attachment.footprint_height_mm") => MEMORY,
        ("load", _) => "a plain push of one newton: the model is linear",
        (_, "materials.ligament.modulus_mpa" | "materials.ligament.poisson_ratio") => {
            let ligament = case.materials.ligament;
            let found = PUBLISHED_LIGAMENTS.iter().find(|set| set.material == ligament);
            return found.map_or_else(|| OWN.to_owned(), |set| set.source.to_owned());
        }
        (_, "materials.cortical_bone.modulus_mpa" | "materials.cortical_bone.poisson_ratio") => {
            "in wide use in finite-element work on teeth, for example PMC4946000, table 3"
        }
        ("materials", _) => {
            "in wide use in finite-element work on teeth, for example Moga et al. 2023, Int J Environ Res Public Health 20:1889, \
             table 1"
        }
        ("mesh", _) => "from a study of the error of the mesh (cli/docs/output.md)",
        ("map", _) => "crest to cusp tip, and every kind of movement",
        _ => OWN,
    };
    text.to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::{load, option};
    use super::*;

    #[test]
    fn every_value_has_a_source_and_given_ones_say_where() {
        for tooth in ["14", "16", "31", "37", "paraboloid", "elliptic paraboloid"] {
            let case = load(None, vec![option("--tooth", "tooth", tooth)]).expect("valid");
            let list = parameters(&case);
            assert!(list.len() > 30);
            assert!(list.iter().all(|p| !p.source.is_empty()), "{list:#?}");
            assert_eq!(list.iter().filter(|p| p.given).map(|p| p.path).collect::<Vec<_>>(), ["tooth"]);
        }
        let given = vec![
            option("--set bone.loss_mm=2", "bone.loss_mm", "2"),
            option(
                "--set materials.ligament.published=tanne_1987",
                "materials.ligament.published",
                "tanne_1987",
            ),
        ];
        let list = parameters(&load(None, given).expect("valid"));
        let of = |path: &str| list.iter().find(|p| p.path == path).expect("known").source.clone();
        assert_eq!(of("bone.loss_mm"), "given: --set bone.loss_mm=2");
        assert!(
            of("materials.ligament.modulus_mpa").contains("Tanne"),
            "{}",
            of("materials.ligament.modulus_mpa")
        );
    }
}
