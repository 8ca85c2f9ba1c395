use serde_json::Value;

use crate::support::{CliTest, fast};

#[test]
fn a_report_states_every_key_with_its_source_and_the_numbers_of_the_run() {
    let test = CliTest::new();
    let args = ["report", "13", "--set", "load.torque_nmm=5", "-q", "--out", "canine.html"];
    let run = test.run(&fast(&args));
    assert_eq!((run.status, run.err.as_str(), run.out.as_str()), (0, "", ""));
    let page = test.read("canine.html");
    assert!(!page.contains("http://") && !page.contains("https://"), "nothing is fetched");
    // Every key of the case file, once in its table.
    let case = test.run(&["case", "13", "--json"]);
    let value: Value = serde_json::from_str(&case.out).expect("JSON");
    let mut keys = Vec::new();
    collect("", &value, &mut keys);
    assert!(keys.len() > 30);
    for key in keys {
        assert!(page.contains(&format!("<code>{key}</code>")), "{key}");
    }
    assert!(page.contains("given: --set load.torque_nmm=5"));
    assert!(page.contains("gomphosis report 13 --bodies rigid"));
    assert!(page.contains("Licensed clinicians and local rules decide."));
    assert_eq!(page.matches("<img ").count(), 5);
    // The centre of resistance as the JSON has it.
    let solve = test.run(&fast(&["solve", "13", "--set", "load.torque_nmm=5", "--json"]));
    let result: Value = serde_json::from_str(&solve.out).expect("JSON");
    let depth =
        result["bucco_lingual"]["centre_of_resistance"]["depth_below_crest_mm"].as_f64().expect("a number");
    assert!(page.contains(&format!("<td>{depth:.2} mm</td>")), "{depth}");
    // The same case gives the same bytes.
    let again = test.run(&fast(&args));
    assert_eq!(again.status, 0);
    assert_eq!(page, test.read("canine.html"));
}

fn collect(path: &str, value: &Value, keys: &mut Vec<String>) {
    if let Value::Object(map) = value {
        for (name, inner) in map {
            let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
            collect(&path, inner, keys);
        }
    } else {
        keys.push(path.to_owned());
    }
}

#[test]
fn a_couple_alone_is_reported_without_the_figures_that_need_a_push() {
    let test = CliTest::new();
    let run = test.run(&fast(&["report", "41", "--set", "load.force_n=0", "--set", "load.torque_nmm=3"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(test.read("report.html").matches("<img ").count(), 2);
}
