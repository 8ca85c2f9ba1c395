use std::ffi::OsString;
use std::sync::atomic::AtomicBool;

use serde_json::Value;

use crate::support::CliTest;

/// Cases that take no time.
const CHEAP: [&str; 2] = ["patch-test", "rigid-motions"];

fn verify<'a>(more: &[&'a str]) -> Vec<&'a str> {
    ["verify"].into_iter().chain(CHEAP).chain(more.iter().copied()).collect()
}

#[test]
fn the_table_goes_to_standard_output_and_progress_elsewhere() {
    let test = CliTest::new();
    let run = test.run(&verify(&[]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(
        run.out.contains("8 of 8 comparisons within their tolerance; 2 cases, none failed\n"),
        "{}",
        run.out
    );
    assert_eq!(run.out.matches(" yes\n").count(), 8, "{}", run.out);
    assert_eq!(run.err.lines().count(), 2, "{}", run.err);
    let quiet = test.run(&verify(&["-q", "--threads", "1"]));
    assert_eq!((quiet.status, quiet.err.as_str()), (0, ""));
    let rows = |out: &str| out.lines().filter(|l| l.ends_with(" yes")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(rows(&run.out), rows(&quiet.out), "the numbers do not depend on the number of threads");
    assert!(test.files().is_empty());
}

#[test]
fn the_document_holds_every_comparison() {
    let run = CliTest::new().run(&verify(&["--json"]));
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let whole: Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(whole["schema"], "gomphosis.verification/1");
    assert_eq!(whole["passed"], true);
    assert_eq!(whole["comparisons"], 8);
    let cases = whole["cases"].as_array().expect("cases");
    assert_eq!(cases.iter().map(|c| c["name"].as_str().expect("a name")).collect::<Vec<_>>(), CHEAP);
    for case in cases {
        for key in ["title", "reference", "goal", "mesh", "tolerance"] {
            assert!(case[key].as_str().is_some_and(|text| !text.is_empty()), "{key}");
        }
        for row in case["rows"].as_array().expect("rows") {
            assert!(
                row["got"].is_number() && row["target"]["kind"].is_string() && row["passed"] == true,
                "{row}"
            );
        }
    }
}

#[test]
fn a_page_gets_the_table_between_its_marks() {
    let test = CliTest::new();
    let (begin, end) = ("<!-- verification -->", "<!-- end of verification -->");
    test.write("page.md", format!("before\n{begin}\nold\n{end}\nafter\n"));
    let run = test.run(&verify(&["--into", "page.md", "--markdown", "-q"]));
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(test.read("page.md"), format!("before\n{begin}\n{}{end}\nafter\n", run.out));
    test.write("bare.md", "no marks\n");
    let run = test.run(&verify(&["--into", "bare.md"]));
    assert_eq!((run.status, run.out.as_str()), (2, ""));
    assert!(run.err.contains("bare.md has no marks"), "{}", run.err);
    assert_eq!(test.read("bare.md"), "no marks\n");
    let run = test.run(&verify(&["--into", "absent.md"]));
    assert_eq!(run.status, 4);
}

/// A text in one line.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn cases_are_listed_and_found_by_name() {
    let test = CliTest::new();
    let run = test.run(&["verify", "--list"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    for case in gomphosis_cli::verify::cases::ALL {
        assert!(run.out.contains(&format!("{}: {}\n", case.name, case.title)));
        // Texts are wrapped.
        for text in [case.reference, case.tolerance] {
            assert!(words(&run.out).contains(&words(text)), "{text}");
        }
    }
    let run = test.run(&["verify", "bonded-rings"]);
    assert_eq!((run.status, run.out.as_str()), (2, ""));
    assert!(run.err.contains("the nearest name is bonded-ring\n"), "{}", run.err);
}

#[test]
fn a_stop_from_outside_ends_between_cases() {
    let args = ["gomphosis", "verify"].map(OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let (stop, signal) = (AtomicBool::new(true), std::sync::atomic::AtomicI32::new(0));
    let mut console = gomphosis_cli::Console {
        out: &mut out,
        err: &mut err,
        err_is_terminal: false,
        stop: &stop,
        signal: &signal,
    };
    assert_eq!(gomphosis_cli::run_on(args, &mut console), gomphosis_cli::Exit::Interrupted);
    assert!(out.is_empty());
}

#[test]
fn published_values_stand_beside_those_of_the_model() {
    let test = CliTest::new();
    let run = test.run(&["validate", "mobility", "--json"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""), "a value outside its band is no failure");
    let whole: Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!(whole["schema"], "gomphosis.validation/1");
    let findings = whole["studies"][0]["findings"].as_array().expect("findings");
    assert_eq!(findings.len(), gomphosis_solver::PUBLISHED_LIGAMENTS.len());
    let inside = findings.iter().filter(|f| f["inside"] == true).count();
    assert_eq!(whole["values_inside"], inside);
    assert!(inside > 0 && inside < findings.len(), "the published ligaments span three orders of magnitude");
    let run = test.run(&["validate", "mobilty"]);
    assert_eq!((run.status, run.out.as_str()), (2, ""));
    assert!(run.err.contains("the nearest name is mobility\n"), "{}", run.err);
    let run = test.run(&["validate", "--into", "absent.md"]);
    assert_eq!(run.status, 4);
}
