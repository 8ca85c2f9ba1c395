use std::sync::Arc;

use super::plan::{Plan, Shard, for_workers};
use super::*;

fn parse(text: &str) -> Result<Study, Complaint> {
    read::study(&Arc::new(SourceFile { name: "study.toml".to_owned(), text: text.to_owned() }))
}

fn sentence(text: &str) -> String {
    parse(text).expect_err("this study is wrong").to_string()
}

#[test]
fn a_grid_holds_every_combination_the_last_key_fastest() {
    let study = parse(
        "[case]\ntooth = 16\n[vary]\nbone.loss_mm = [0, 2]\nroot.length_mm = { from = 12, to = 13, steps = 3 }\n",
    )
    .expect("a study");
    let all: Vec<String> = (0..study.len())
        .map(|k| study.values(k).iter().map(Cell::text).collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(all, ["0.0 12.0", "0.0 12.5", "0.0 13.0", "2.0 12.0", "2.0 12.5", "2.0 13.0"]);
    let case = study.case(&study.values(4)).expect("a case");
    assert_eq!((case.specimen.bone.loss_mm, case.specimen.tooth.root.length_mm), (2.0, 12.5));
    assert_eq!(case.name(), "upper first molar");
}

#[test]
fn keys_may_be_written_in_tables_and_samples_have_a_seed() {
    let text = |seed: u32| {
        format!(
            "design = \"sobol\"\nsamples = 8\nseed = {seed}\n[vary.root]\nlength_mm = {{ distribution = \"normal\", mean = 14, \
             sd = 1 }}\n[vary]\ntooth = [14, \"upper second premolar\"]\n\"bone.loss_mm\" = {{ distribution = \"uniform\", \
             from = 0, to = 3 }}\n"
        )
    };
    let (one, two) = (parse(&text(1)).expect("a study"), parse(&text(2)).expect("a study"));
    assert_eq!(one.len(), 8);
    assert_eq!(one.axes.len(), 3);
    assert_ne!(one.values(3), two.values(3));
    assert_ne!(one.fingerprint(), two.fingerprint());
    assert_eq!(one.fingerprint(), parse(&text(1)).expect("a study").fingerprint());
    let teeth: Vec<String> = (0..8).map(|k| one.case(&one.values(k)).expect("a case").name()).collect();
    assert!(teeth.iter().any(|t| t == "upper first premolar") && teeth.iter().any(|t| t.contains("second")));
}

#[test]
fn what_is_wrong_is_said_with_its_place_and_what_would_be_right() {
    for (text, want) in [
        ("", "there is no table [vary]; a study varies at least one key, for example"),
        ("[vary]\n", "[vary] is empty"),
        ("vary = 3\n", "study.toml:1: vary is 3; a study varies at least one key"),
        (
            "[vary]\nbone.los_mm = [1]\n",
            "study.toml:2: there is no key bone.los_mm; the nearest key is bone.loss_mm",
        ),
        (
            "[vary]\nbone.loss_mm = 2\n",
            "study.toml:2: bone.loss_mm is 2; what it runs over is wanted: a list",
        ),
        ("[vary]\nbone.loss_mm = []\n", "bone.loss_mm runs over an empty list"),
        (
            "[vary]\nbone.loss_mm = [1, \"two\"]\n",
            "study.toml:2: bone.loss_mm is \"two\"; a number is wanted, in mm",
        ),
        (
            "[vary]\nbone.loss_mm = { from = 1, to = 2 }\n",
            "bone.loss_mm: steps is missing; a range has from, to and steps",
        ),
        (
            "[vary]\nbone.loss_mm = { from = 2, to = 1, steps = 3 }\n",
            "runs from 2 to 1; the end must lie above the start",
        ),
        (
            "[vary]\nbone.loss_mm = { from = 0, to = 1, steps = 1 }\n",
            "steps is 1; a whole number from 2 to 1000000 is wanted",
        ),
        (
            "[vary]\nbone.loss_mm = { form = 0, to = 1, steps = 2 }\n",
            "what a key runs over has no key form; the nearest is from",
        ),
        (
            "[vary]\nbone.loss_mm = { distribution = \"gauss\", mean = 1, sd = 1 }\n",
            "distribution is \"gauss\"; \"uniform\", \"log_uniform\", \"normal\", \"truncated_normal\" or \"discrete\" is wanted",
        ),
        (
            "[vary]\nbone.loss_mm = { distribution = \"normal\", mean = 1, sd = 1 }\n",
            "a grid runs over lists and ranges, but bone.loss_mm has a distribution; set design = ",
        ),
        (
            "design = \"sobol\"\n[vary]\nbone.loss_mm = { distribution = \"normal\", mean = 1, sd = 0 }\n",
            "the standard deviation of",
        ),
        (
            "design = \"sobol\"\n[vary]\nbone.loss_mm = { distribution = \"normal\", mean = 1, sd = 1, to = 3 }\n",
            "to has no meaning for a normal; it takes mean, sd",
        ),
        (
            "design = \"sobol\"\n[vary]\nbone.loss_mm = { distribution = \"log_uniform\", from = 0, to = 1 }\n",
            "from is 0; a log-uniform",
        ),
        (
            "design = \"sobol\"\n[vary]\nbone.loss_mm = { distribution = \"discrete\", values = [1, 2], weights = [1] }\n",
            "weights do not fit the values; as many positive numbers as there are values (2)",
        ),
        (
            "design = \"best\"\n[vary]\nbone.loss_mm = [1]\n",
            "design is \"best\"; \"grid\", \"latin_hypercube\", \"sobol\" or \"saltelli\" is wanted",
        ),
        ("samples = 5\n[vary]\nbone.loss_mm = [1]\n", "samples has no meaning for a grid"),
        (
            "tooth = 14\n[vary]\nbone.loss_mm = [1]\n",
            "a study has no key tooth; keys of the case stand in [case]",
        ),
        (
            "[case]\ntoth = 14\n[vary]\nbone.loss_mm = [1]\n",
            "study.toml:2: there is no key toth; the nearest key is tooth",
        ),
        (
            "[case]\nbone.loss_mm = 1\n[vary]\nbone.loss_mm = [1]\n",
            "bone.loss_mm varies here and is fixed in [case]; one of the two must go",
        ),
        ("[vary]\nmap.heights = [3]\n", "map.heights belongs to the map that `gomphosis map` draws"),
        ("[vary]\ntooth = [14, \"wisdom\"]\n", "\"wisdom\" is no tooth that is known here"),
        (
            "[vary]\nbodies = { from = 1, to = 2, steps = 2 }\n",
            "bodies takes words; a list of them is wanted",
        ),
        (
            "[vary]\nmaterials.ligament.published = [\"jones_2001\"]\nmaterials.ligament.modulus_mpa = [1]\n",
            "materials.ligament.published already says what materials.ligament.modulus_mpa is",
        ),
        (
            "[vary]\nload.force_n = { from = 1, to = 2, steps = 1000000 }\nload.torque_nmm = { from = 1, to = 2, steps = 100 }\n",
            "this study has 100000000 cases; at most 10000000 are run",
        ),
        (
            "seed = -1\n[vary]\nbone.loss_mm = [1]\n",
            "seed is -1; a whole number from 0 to 4294967295 is wanted",
        ),
        ("[vary\n", "study.toml:1: this is not TOML"),
    ] {
        let got = sentence(text);
        assert!(got.contains(want), "{text}\n gave: {got}\n want: {want}");
    }
}

#[test]
fn cases_are_grouped_by_what_they_share() {
    let study = parse(
        "[vary]\nload.torque_nmm = [0, 1]\nbone.loss_mm = [0, 1]\nattachment.height_mm = [5, 6]\nbodies = [\"rigid\", \"elastic\"]\n",
    )
    .expect("a study");
    let plan = Plan::new(&study);
    assert_eq!(plan.groups.len(), 2);
    for group in &plan.groups {
        assert_eq!(group.cases.len(), 8);
        let systems: Vec<u32> = group.cases.iter().map(|c| plan.system(*c)).collect();
        assert!(systems.is_sorted() && systems[3] != systems[4]);
        let stations: Vec<[u32; 2]> = group.cases.iter().map(|c| plan.station(*c)).collect();
        assert!(stations.chunk_by(|a, b| a == b).all(|chunk| chunk.len() == 2));
    }
}

#[test]
fn shards_hold_every_case_once_and_are_even() {
    for text in [
        "[vary]\nbone.loss_mm = { from = 0, to = 5, steps = 23 }\n",
        "[vary]\nload.force_n = { from = 1, to = 2, steps = 1000 }\nload.torque_nmm = { from = 0, to = 9, steps = 10 }\n",
        "[vary]\nattachment.height_mm = { from = 4, to = 7, steps = 40 }\nbone.loss_mm = [0, 1, 2]\n",
    ] {
        let study = parse(text).expect("a study");
        let plan = Plan::new(&study);
        for of in [1, 2, 3, 7] {
            let mut seen = vec![0; study.len()];
            let mut sizes = Vec::new();
            for number in 1..=of {
                let parts = plan.shard(Shard { number, of });
                sizes.push(parts.iter().map(|p| p.cases.len()).sum::<usize>());
                for case in parts.iter().flat_map(|part| &part.cases) {
                    seen[*case as usize] += 1;
                }
            }
            assert!(seen.iter().all(|n| *n == 1), "{text} in {of}");
            if study.len() > 1000 {
                // Loads on one mesh cannot be cut without meshing it again: half a shard is the worst.
                continue;
            }
            let (least, most) = (sizes.iter().min().expect("some"), sizes.iter().max().expect("some"));
            assert!(most - least <= study.len().div_ceil(of), "{sizes:?}");
        }
    }
    assert!(Shard::parse("0/2").is_err() && Shard::parse("3/2").is_err() && Shard::parse("2").is_err());
    assert_eq!(Shard::parse(" 2 / 4 "), Ok(Shard { number: 2, of: 4 }));
}

#[test]
fn one_mesh_with_many_systems_is_shared_out_to_the_workers() {
    let study = parse(
        "[vary]\nmaterials.ligament.modulus_mpa = { from = 0.1, to = 1, steps = 10 }\nload.torque_nmm = [0, 1, 2]\n",
    )
    .expect("a study");
    let plan = Plan::new(&study);
    let parts = for_workers(&plan, plan.shard(Shard::WHOLE), 3);
    let sizes: Vec<usize> = parts.iter().map(|p| p.cases.len()).collect();
    assert_eq!(sizes, [15, 9, 6]);
    // Loads alone are no reason for a second mesh.
    let loads = parse("[vary]\nload.torque_nmm = { from = 0, to = 9, steps = 100 }\n").expect("a study");
    let plan = Plan::new(&loads);
    assert_eq!(for_workers(&plan, plan.shard(Shard::WHOLE), 4).len(), 1);
    // The height of the attachment is one only where bodies deform.
    for (bodies, parts) in [("elastic", 2), ("rigid", 1)] {
        let text = format!(
            "[case]\nbodies = \"{bodies}\"\n[vary]\nattachment.height_mm = {{ from = 4, to = 6, steps = 6 }}\n"
        );
        let plan = Plan::new(&parse(&text).expect("a study"));
        assert_eq!(for_workers(&plan, plan.shard(Shard::WHOLE), 2).len(), parts, "{bodies}");
        let shards: Vec<usize> = (1..=2).map(|number| plan.shard(Shard { number, of: 2 }).len()).collect();
        assert_eq!(shards.iter().filter(|n| **n > 0).count(), parts, "{bodies}: {shards:?}");
    }
}

#[test]
fn a_study_that_moves_the_crest_under_a_height_that_counts_from_it_says_so() {
    let warnings = |text: &str| parse(text).expect("a study").warnings();
    let share = "attachment.height_share = [0.4, 0.6]\n";
    let height = "attachment.height_mm = [5.0, 6.0]\n";
    let drawn = "bone.crest_below_cej_mm = { distribution = \"uniform\", from = 1, to = 3 }\n";
    for (text, keys) in [
        (format!("[vary]\nbone.loss_mm = [0, 2]\n{height}"), "bone.loss_mm moves"),
        (
            "[case]\nattachment.height_mm = 5\n[vary]\nbone.loss_mm = { from = 0, to = 2, steps = 3 }\n"
                .to_owned(),
            "bone.loss_mm moves",
        ),
        (format!("design = \"sobol\"\n[vary]\n{drawn}{height}"), "bone.crest_below_cej_mm moves"),
        (
            format!("design = \"sobol\"\n[vary]\n{drawn}bone.loss_mm = [0, 1]\n{height}"),
            "bone.loss_mm and bone.crest_below_cej_mm move",
        ),
    ] {
        let said = warnings(&text);
        assert_eq!(said.len(), 1, "{text}");
        assert!(said[0].starts_with(keys) && said[0].contains("attachment.height_share"), "{said:?}");
    }
    for text in [
        format!("[vary]\nbone.loss_mm = [0, 2]\n{share}"),
        "[vary]\nbone.loss_mm = [0, 2]\n".to_owned(),
        format!("[case]\nbone.loss_mm = 2\n[vary]\n{height}"),
        format!("[vary]\nbone.loss_mm = [2]\n{height}"),
    ] {
        assert!(warnings(&text).is_empty(), "{text}");
    }
}

#[test]
fn each_height_of_the_attachment_varies_and_reaches_no_further_than_the_load() {
    for key in cases::place::KEYS {
        let study = parse(&format!("[vary]\n{key} = [0.3, 0.9]\n[case]\nattachment.face = \"buccal\"\n"))
            .expect("a study");
        assert_eq!(study.axes[0].reach, Reach::Attachment, "{key}");
    }
    let both = sentence("[vary]\nattachment.height_mm = [5.0]\nattachment.height_share = [0.5]\n");
    assert!(both.contains("attachment.height_mm already says where the attachment is"), "{both}");
    let both =
        sentence("[case]\nattachment.height_from_cej_mm = 4\n[vary]\nattachment.height_share = [0.5]\n");
    assert!(both.contains("attachment.height_from_cej_mm already says"), "{both}");
}

#[test]
fn texts_of_a_study_are_checked_at_reading() {
    for (text, want) in [
        (
            "title = \"a\\u001bb\"\n[vary]\nbone.loss_mm = [0]\n",
            "study.toml:1: title holds the character U+001B",
        ),
        (
            "title = \"a\\u2066b\"\n[vary]\nbone.loss_mm = [0]\n",
            "study.toml:1: title holds the character U+2066",
        ),
        ("title = 3\n[vary]\nbone.loss_mm = [0]\n", "study.toml:1: title is not a text"),
        ("[vary]\ntooth = [14, \"15\\n\"]\n", "study.toml:2: \"15\\n\" is no tooth"),
        ("[vary]\nname = [\"a\"]\n", "study.toml:2: name does not vary"),
        ("[case]\nname = \"a\"\n[vary]\nbone.loss_mm = [0]\n", "study.toml:2: name belongs to a single case"),
        ("[vary]\n\"root.length_mm\" = [13]\nroot.length_mm = [14]\n", "root.length_mm varies a second time"),
    ] {
        let said = sentence(text);
        assert!(said.contains(want), "{text}: {said}");
    }
}

#[test]
fn a_study_says_which_teeth_its_numbers_mean() {
    let study = parse("[vary]\ntooth = [14, \"UR5\", \"upper canine\"]\n").expect("a study");
    assert_eq!(
        study.teeth_meant(),
        [
            "upper right first premolar, ISO 3950 number 14; in the Universal system 14 would be the upper left first molar, \
             here universal:14",
            "upper right second premolar, ISO 3950 number 15"
        ]
    );
}

#[test]
fn every_column_of_numbers_has_a_german_name_for_figures() {
    use super::row::{Kept, columns};
    let study = parse("[case]\ntooth = 16\n[vary]\nbone.loss_mm = [0, 2]\n").expect("a study");
    let lacking: Vec<String> = columns(&study)
        .into_iter()
        .skip_while(|column| column.name != "reason")
        .filter(|column| column.kept != Kept::Word && !column.name.ends_with(quantity::ERROR))
        .filter(|column| !crate::figure::Language::De.knows(quantity::words(column)))
        .map(|column| format!("{}: {}", column.name, quantity::words(&column)))
        .collect();
    assert!(lacking.is_empty(), "columns without a German name: {lacking:#?}");
}
