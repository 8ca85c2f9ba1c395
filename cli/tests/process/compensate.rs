use serde_json::Value;

use crate::support::{CliTest, names};

#[test]
fn a_tooth_is_set_against_the_rule_with_its_spread() {
    let test = CliTest::new();
    let run =
        test.run(&["compensate", "31", "--samples", "4", "--out", "rule", "--set", "root.length_mm=11"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.contains(" of 16 cases"), "{}", run.err);
    for part in [
        "Assumed: the appliance delivers the push but not the couple, and the aligner's own stiffness is not in the model.",
        "Lower central incisor: the rule of five ",
        "the incisal edge",
        "not a medical device",
    ] {
        // Texts are wrapped.
        let unwrapped = run.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(unwrapped.contains(part), "lacks {part}:\n{}", run.out);
    }
    assert_eq!(
        names(&test.path("rule")),
        ["compensation.csv", "compensation.json", "compensation.png", "compensation.svg"]
    );
    assert!(test.read("rule/compensation.svg").contains("delivers the push but not the couple"));
    // Drawn again from what is there: the same file.
    let again = test.run(&["figure", "compensation", "rule", "--out", "again.svg", "--quiet"]);
    assert_eq!((again.status, again.err.as_str()), (0, ""));
    assert!(test.read("again.svg") == test.read("rule/compensation.svg"));
    let document: Value = serde_json::from_str(&test.read("rule/compensation.json")).expect("JSON");
    let tooth = &document["teeth"][0];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{value}"));

    // The same numbers as `solve` gives.
    let run = test.run(&["solve", "31", "--json", "--set", "root.length_mm=11"]);
    let solved: Value = serde_json::from_str(&run.out).expect("JSON");
    let plane = &solved["bucco_lingual"];
    let found = &tooth["elastic"]["compensation_deg_per_mm"];
    for place in ["attachment", "cusp_tip"] {
        let same = number(&plane["compensation_deg_per_mm"][place]);
        approx::assert_relative_eq!(number(&found[place]), same, max_relative = 1e-9);
    }
    approx::assert_relative_eq!(
        number(&tooth["elastic"]["torque_for_translation_mm"]),
        number(&plane["torque_for_translation_mm"]),
        max_relative = 1e-9
    );
    // The fast tier stands for the reference within what is printed.
    assert!(number(&tooth["rigid_tier_differs_percent"]) < 1.0, "{tooth}");
    for source in ["all", "anatomy", "crest", "ligament", "attachment"] {
        let ends = &tooth["intervals"][source]["attachment"];
        assert!(number(&ends[0]) < number(&ends[1]), "{source}: {ends}");
    }
    // Lost bone moves the centre of rotation away from the crown (Geramy 2000, AJODO 117:399-405: the moment-to-force ratio for
    // bodily movement rises), so a millimetre at the attachment comes with less tip.
    let losses = tooth["bone_loss"].as_array().expect("a list");
    assert!(losses.len() >= 4);
    for pair in losses.windows(2) {
        let of = |loss: &Value, name: &str| number(&loss["numbers"][name]);
        assert!(of(&pair[0], "torque_for_translation_mm") < of(&pair[1], "torque_for_translation_mm"));
        let rate = |loss: &Value| number(&loss["numbers"]["compensation_deg_per_mm"]["attachment"]);
        assert!(rate(&pair[0]) > rate(&pair[1]));
    }
}

#[test]
fn what_cannot_be_is_said_before_anything_is_computed() {
    let test = CliTest::new();
    for (args, want) in [
        (&["compensate", "uper second moler"][..], "upper second molar"),
        (&["compensate", "14", "--all"], "cannot be used with"),
        (&["compensate", "14", "--samples", "1"], "4..=4096"),
        (&["figure", "compensation", "14"], "name the directory of `gomphosis compensate --out`"),
        (&["figure", "lines"], "name the directory of `gomphosis sweep --out`"),
        (&["compensate", "14", "--set", "bone.los_mm=1"], "the nearest key is bone.loss_mm"),
    ] {
        let run = test.run(args);
        assert_eq!(run.status, 2, "{args:?}: {}", run.err);
        assert!(run.err.contains(want), "{args:?}: {}", run.err);
        assert_eq!(run.out, "");
    }
}
