use std::sync::atomic::AtomicBool;

use super::*;
use crate::case::{load, option};
use crate::commands;
use crate::progress::{Progress, Show};

/// A case from its tooth and keys, coarse, with its result.
fn computed(tooth: &str, keys: &[(&str, &str)]) -> (Case, String) {
    let mut given = vec![option("--tooth", "tooth", tooth), option("--set", "mesh.element_size_mm", "2")];
    given.extend(keys.iter().map(|(key, value)| option("--set", key, value)));
    let case = load(None, given).expect("a case");
    let stop = AtomicBool::new(false);
    let done = commands::compute(&case, false, &Progress::new(Show::Nothing, &stop)).expect("a result");
    let text = methods(&case, &done.result);
    (case, text)
}

/// Tooth, keys, what must stand there, what must not.
type Told<'a> = (&'a str, &'a [(&'a str, &'a str)], &'a [&'a str], &'a [&'a str]);

#[test]
fn the_paragraph_says_what_the_case_is_and_nothing_else() {
    let elastic = "cuts were held in all directions";
    let rigid = "Tooth and bone were rigid";
    let bodies = ("bodies", "rigid");
    let cases: [Told; 7] = [
        (
            "41",
            &[("load.torque_nmm", "6"), ("load.force_n", "0.5")],
            &[
                "lower central incisor",
                elastic,
                "bucco-lingually, single,",
                "no bone was lost",
                "0.2 mm thick everywhere, normal to the root",
                "a push of 0.5 N to labial with a torque of 6 N·mm that drives the root to labial",
                "on the labial face of the crown",
                "mesh.element_size_mm 2.0 mm (default 1.2)",
                "with 2 layers of elements",
                "change of volume was projected",
                "at most",
            ],
            &[rigid, "furcation", "parting", "hourglass", "parabola"],
        ),
        (
            "16",
            &[bodies, ("bone.loss_mm", "2"), ("root.length_mm", "14"), ("load.force_n", "-1")],
            &[
                rigid,
                "two buccal roots and a palatal one parting",
                "horizontal bone loss of 2 mm was modelled",
                "root.length_mm 14.0 mm (default",
                "a push of 1 N to palatal, stated",
                "held in all directions on the wall of the socket",
            ],
            &[elastic, "footprint", "torque of", "no bone was lost"],
        ),
        (
            "14",
            &[
                bodies,
                ("ligament.profile", "hourglass"),
                ("ligament.mid_thickness_mm", "0.15"),
                ("ligament.layers", "1"),
            ],
            &[
                "0.2 mm thick at crest and apex and 0.15 mm half-way",
                "with 1 layer of elements",
                "a buccal and a lingual root parting",
            ],
            &["everywhere, normal", "1 layers"],
        ),
        (
            "46",
            &[bodies, ("formulation", "displacement"), ("materials.ligament.published", "tanne_1987")],
            &[
                "plain displacement element",
                "Young's modulus 0.67 MPa, Poisson's ratio 0.49",
                "a mesial and a distal root parting",
            ],
            &["projected on linear functions"],
        ),
        (
            "paraboloid",
            &[bodies, ("ligament.profile", "stretched")],
            &[
                "a paraboloid of revolution",
                "stretching the root",
                "No bone was lost, so that 13.00 mm of root stood in bone",
            ],
            &["cemento-enamel", "cervix", "Wheeler"],
        ),
        (
            "elliptic paraboloid",
            &[bodies, ("bone.loss_mm", "1"), ("load.force_n", "0"), ("load.torque_nmm", "-5")],
            &[
                "an elliptic paraboloid",
                "Horizontal bone loss of 1 mm",
                "a torque of 5 N·mm that drives the root to lingual, stated",
            ],
            &["a push of", "of revolution"],
        ),
        (
            "13",
            &[bodies, ("root.curvature_mm", "0.5")],
            &["bent 0.5 mm to distal", "Sizes were averages"],
            &[],
        ),
    ];
    for (tooth, keys, wanted, unwanted) in cases {
        let (case, text) = computed(tooth, keys);
        for part in wanted.iter().copied().chain([env!("CARGO_PKG_VERSION"), AUTHORS, "linear elastic"]) {
            assert!(text.contains(part), "{tooth} {keys:?} lacks {part:?}:\n{text}");
        }
        for part in unwanted {
            assert!(!text.contains(part), "{tooth} {keys:?} has {part:?}:\n{text}");
        }
        // Every size that was given stands there with its value.
        for (key, value) in keys.iter().filter(|(key, _)| key.ends_with("_mm")) {
            let number: f64 = value.parse().expect("a number");
            assert!(text.contains(&format!("{number}")), "{key} = {value}:\n{text}");
        }
        assert!(!text.contains("  ") && !text.contains("NaN") && text.ends_with('.'), "{text}");
        assert!(text.contains(&height(case.specimen.attachment.height_mm)));
    }
}

#[test]
fn the_citation_has_author_year_and_version() {
    let text = citation();
    assert!(text.starts_with("The Gomphosis developers (2026). Gomphosis: "), "{text}");
    assert!(text.contains(concat!("version ", env!("CARGO_PKG_VERSION"))));
    // The file for reference managers says the same.
    let file = include_str!("../../../CITATION.cff");
    assert!(file.contains(concat!("\nversion: ", env!("CARGO_PKG_VERSION"), "\n")), "{file}");
    assert!(file.contains(&format!("\ndate-released: {YEAR}-")), "{file}");
    assert!(file.contains(&format!("name: \"{AUTHORS}\"")), "{file}");
}
