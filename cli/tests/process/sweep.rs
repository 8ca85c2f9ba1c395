use std::process::Stdio;
use std::sync::OnceLock;
use std::time::Duration;

use serde_json::Value;

use crate::support::{CliTest, names};

/// Three meshes, two systems on each, two places of the load, two loads: 24 cases of a rigid incisor, and one that cannot be.
const STUDY: &str = "\
title = \"An incisor\"
[case]
tooth = \"lower central incisor\"
bodies = \"rigid\"
mesh.element_size_mm = 2
[vary]
root.length_mm = [11.5, 12.5, 13.5]
materials.ligament.poisson_ratio = [0.3, 0.45]
attachment.height_mm = [5.0, 6.0, 30.0]
load.torque_nmm = [0.0, 4.0]
";

fn csv(text: &str) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    reader
        .records()
        .map(|row| {
            let row = row.expect("a row");
            header.iter().map(str::to_owned).zip(row.iter().map(str::to_owned)).collect()
        })
        .collect()
}

/// The study run without any disturbance: its tables.
fn undisturbed() -> &'static (String, Vec<u8>) {
    static TABLES: OnceLock<(String, Vec<u8>)> = OnceLock::new();
    TABLES.get_or_init(|| {
        let test = CliTest::new();
        test.write("study.toml", STUDY);
        let run = test.run(&["sweep", "study.toml", "--out", "whole", "--quiet"]);
        assert_eq!(run.status, 0, "{}", run.err);
        let parquet = std::fs::read(test.path("whole/table.parquet")).expect("a table");
        (test.read("whole/table.csv"), parquet)
    })
}

fn assert_same(test: &CliTest, directory: &str, whole: &(String, Vec<u8>)) {
    assert!(
        test.read(&format!("{directory}/table.csv")) == whole.0,
        "table.csv differs from an undisturbed run"
    );
    let parquet = std::fs::read(test.path(&format!("{directory}/table.parquet"))).expect("a table");
    assert!(parquet == whole.1, "table.parquet differs from an undisturbed run");
}

#[test]
fn a_row_holds_what_solve_says_of_the_same_case() {
    let test = CliTest::new();
    test.write("study.toml", STUDY);
    let run = test.run(&["sweep", "study.toml", "--out", "results", "--json"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    let document: Value = serde_json::from_str(&run.out).expect("JSON");
    assert_eq!((document["cases"].as_u64(), document["failed"].as_u64()), (Some(36), Some(12)));
    let rows = csv(&test.read("results/table.csv"));
    assert_eq!(rows.len(), 36);
    for (number, row) in rows.iter().enumerate() {
        assert_eq!(row["case"], (number + 1).to_string());
        let possible = row["attachment_height_mm"] != "30.0";
        assert_eq!(row["status"] == "ok", possible, "{row:?}");
        assert_eq!(row["reason"].contains("is not on the crown"), !possible, "{row:?}");
        assert_eq!(row["bucco_lingual_tip_deg"].is_empty(), !possible);
    }
    // The figure once more, from the journals.
    let run = test.run(&["figure", "lines", "results", "--out", "again.svg", "--quiet"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    assert!(test.read("again.svg") == test.read("results/lines.svg"));
    let run = test.run(&["figure", "tornado", "results"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("a tornado is drawn of a sample"), "{}", run.err);
    // One case of the last mesh, by another way.
    let row = rows
        .iter()
        .find(|row| {
            row["root_length_mm"] == "13.5"
                && row["materials_ligament_poisson_ratio"] == "0.45"
                && row["attachment_height_mm"] == "6.0"
                && row["load_torque_nmm"] == "4.0"
        })
        .expect("the case is there");
    let run = test.run(&[
        "solve",
        "31",
        "--bodies",
        "rigid",
        "--json",
        "--set",
        "mesh.element_size_mm=2",
        "--set",
        "root.length_mm=13.5",
        "--set",
        "attachment.height_mm=6",
        "--set",
        "load.torque_nmm=4",
    ]);
    let solved: Value = serde_json::from_str(&run.out).expect("JSON");
    let got = |name: &str| row[name].parse::<f64>().unwrap_or_else(|e| panic!("{name}: {e}"));
    for plane in ["bucco_lingual", "mesio_distal"] {
        let of = &solved[plane];
        let errors = &solved["numerical_error"]["discretisation"][plane];
        for (column, value, error) in [
            (
                "centre_of_resistance_depth_mm",
                &of["centre_of_resistance"]["depth_below_crest_mm"],
                "centre_of_resistance_mm",
            ),
            ("sigma_squared_mm2", &of["sigma_squared_mm2"], "sigma_squared_mm2"),
            ("torque_for_translation_mm", &of["torque_for_translation_mm"], "torque_for_translation_mm"),
            (
                "centre_of_rotation_depth_mm",
                &of["centre_of_rotation"]["depth_below_crest_mm"],
                "centre_of_rotation_mm",
            ),
            ("tip_deg", &of["tip_deg"], "tip_deg"),
            ("travel_mm", &of["travel_mm"], "travel_mm"),
            ("tip_deg_per_mm_attachment", &of["tip_deg_per_mm"]["attachment"], "tip_deg_per_mm_attachment"),
            ("tip_deg_per_mm_cusp_tip", &of["tip_deg_per_mm"]["cusp_tip"], "tip_deg_per_mm_cusp_tip"),
            ("tip_deg_per_mm_crest", &of["tip_deg_per_mm"]["crest"], "tip_deg_per_mm_crest"),
        ] {
            let value = value.as_f64().expect("a number");
            approx::assert_relative_eq!(got(&format!("{plane}_{column}")), value, max_relative = 1e-8);
            // The estimate takes differences, in other variables.
            let error = errors[error]["error"].as_f64().expect("a number");
            approx::assert_relative_eq!(got(&format!("{plane}_{column}_error")), error, max_relative = 1e-4);
        }
        for point in ["attachment", "cusp_tip"] {
            let value = of["compensation_deg_per_mm"][point].as_f64().expect("a number");
            let column = format!("{plane}_compensation_deg_per_mm_{point}");
            approx::assert_relative_eq!(got(&column), value, max_relative = 1e-8);
        }
        assert_eq!(row[&format!("{plane}_movement")], of["movement"].as_str().expect("a word"));
    }
    let root = &solved["ligament"]["root_surface"];
    for (column, value) in [
        ("ligament_largest_pressure_kpa", &root["largest_pressure"]["kpa"]),
        ("ligament_smallest_pressure_kpa", &root["smallest_pressure"]["kpa"]),
        ("ligament_largest_shear_kpa", &root["largest_shear"]["kpa"]),
    ] {
        approx::assert_relative_eq!(got(column), value.as_f64().expect("a number"), max_relative = 1e-7);
    }
}

#[test]
fn an_elastic_row_with_a_shared_system_holds_what_solve_says() {
    let test = CliTest::new();
    let study = "[case]\ntooth = \"paraboloid\"\nmesh.element_size_mm = 2\nroot.length_mm = 8\n\
                 [vary]\nattachment.height_mm = [4.0, 5.5]\n";
    test.write("study.toml", study);
    let run = test.run(&["sweep", "study.toml", "--out", "results", "--quiet"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let rows = csv(&test.read("results/table.csv"));
    for (row, height) in rows.iter().zip(["4.0", "5.5"]) {
        let height = format!("attachment.height_mm={height}");
        let fixed = ["--set", "mesh.element_size_mm=2", "--set", "root.length_mm=8", "--set", &height];
        let run = test.run(&[&["solve", "paraboloid", "--json"], &fixed[..]].concat());
        let solved: Value = serde_json::from_str(&run.out).expect("JSON");
        let value = solved["bucco_lingual"]["tip_deg_per_mm"]["cusp_tip"].as_f64().expect("a number");
        let got: f64 = row["bucco_lingual_tip_deg_per_mm_cusp_tip"].parse().expect("a number");
        // The linear solver stops at 1e-7.
        approx::assert_relative_eq!(got, value, max_relative = 1e-6);
    }
}

#[cfg(unix)]
#[test]
fn killed_again_and_again_a_study_ends_with_the_same_bytes() {
    let whole = undisturbed();
    let test = CliTest::new();
    test.write("study.toml", STUDY);
    // Moments from a generator of our own (Knuth's constants), so that a failure can be repeated.
    let mut state = 20_u64;
    let mut kills = 0;
    for attempt in 0.. {
        let resume: &[&str] = if attempt == 0 { &[] } else { &["--resume"] };
        let args =
            [&["sweep", "study.toml", "--out", "results", "--quiet", "--threads", "2"], resume].concat();
        let mut child = test
            .command(&args)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_millis(30 + (state >> 33) % 400));
        if child.try_wait().expect("a child").is_none() {
            // SIGKILL: the process has no chance to tidy up.
            child.kill().expect("killed");
            kills += 1;
        }
        child.wait().expect("ended");
        assert!(!test.path("results/table.csv").exists() || test.read("results/table.csv") == whole.0);
        if kills >= 5 || attempt >= 8 {
            break;
        }
    }
    assert!(kills >= 2, "the study ended too soon to be killed");
    // A torn last line, as a kill in the middle of a write leaves it.
    let journal = test.path("results/rows.journal");
    let mut bytes = std::fs::read(&journal).unwrap_or_default();
    if !bytes.is_empty() {
        let cut = bytes.len() - bytes.len().min(7);
        bytes.truncate(cut);
        std::fs::write(&journal, &bytes).expect("written");
    }
    let run = test.run(&["sweep", "study.toml", "--out", "results", "--resume", "--threads", "1"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_same(&test, "results", whole);
    let left = names(&test.path("results")).into_iter().filter(|n| n.contains(".part")).count();
    assert_eq!(left, 0, "nothing half-written is left");
    // Once more: everything is there, and stays as it is.
    let run = test.run(&["sweep", "study.toml", "--out", "results", "--resume"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_same(&test, "results", whole);
}

#[cfg(unix)]
#[test]
fn a_disk_that_is_full_ends_the_run_and_a_resume_completes_it() {
    let whole = undisturbed();
    let test = CliTest::new();
    test.write("study.toml", STUDY);
    // A limit on the size of files, whose signal is ignored, makes writes fail as a full disk does.
    let program = env!("CARGO_BIN_EXE_gomphosis");
    let script =
        format!("trap '' XFSZ; ulimit -f 8; exec '{program}' sweep study.toml --out results --threads 1");
    let output = std::process::Command::new("sh")
        .args(["-c", &script])
        .current_dir(test.path("."))
        .output()
        .expect("a shell");
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(4), "{err}");
    assert!(err.contains("cases are kept in results/rows.journal; --resume goes on"), "{err}");
    assert!(err.contains("error: cannot write results/rows.journal: "), "{err}");
    assert!(!test.path("results/table.csv").exists());
    let run = test.run(&["sweep", "study.toml", "--out", "results", "--resume"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.contains(" of 36 cases are there from an earlier run"), "{}", run.err);
    assert_same(&test, "results", whole);
}

#[test]
fn shards_are_joined_to_the_same_bytes_and_a_missing_one_is_named() {
    let whole = undisturbed();
    let test = CliTest::new();
    test.write("study.toml", STUDY);
    for shard in ["1/3", "3/3"] {
        let run = test.run(&["sweep", "study.toml", "--out", "results", "--shard", shard, "--quiet"]);
        assert_eq!(run.status, 0, "{}", run.err);
        assert!(run.out.contains(&format!("Shard {shard} of An incisor")), "{}", run.out);
    }
    let run = test.run(&["gather", "results"]);
    assert_eq!(run.status, 1);
    assert!(
        run.err.contains("of 36 cases are missing") && run.err.contains("unfinished: shard 2/3\n"),
        "{}",
        run.err
    );
    assert!(!test.path("results/table.csv").exists());
    let run = test.run(&["figure", "lines", "results"]);
    assert_eq!(run.status, 1);
    assert!(run.err.contains("of 36 cases are missing"), "{}", run.err);
    // The last one on another machine.
    let run = test.run(&["sweep", "study.toml", "--out", "elsewhere", "--shard", "2/3", "--quiet"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let run = test.run(&["gather", "results", "elsewhere"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_same(&test, "results", whole);
}

#[test]
fn finished_rows_are_not_lost_by_mistake() {
    let test = CliTest::new();
    let study = |loss: &str| {
        format!(
            "[case]\ntooth = 31\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n[vary]\nload.torque_nmm = [0, 1]\n\
             bone.loss_mm = [{loss}]\n"
        )
    };
    test.write("one.toml", study("0"));
    test.write("other.toml", study("1"));
    assert_eq!(test.run(&["sweep", "one.toml", "--out", "results", "--quiet"]).status, 0);
    let before = std::fs::read(test.path("results/rows.journal")).expect("a journal");
    let run = test.run(&["sweep", "one.toml", "--out", "results"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("holds 2 finished cases of 2; --resume goes on with them"), "{}", run.err);
    let run = test.run(&["sweep", "other.toml", "--out", "results", "--resume"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("of another study, or of this one before it was changed"), "{}", run.err);
    assert_eq!(std::fs::read(test.path("results/rows.journal")).expect("a journal"), before);
    let run = test.run(&["sweep", "other.toml", "--out", "results", "--restart", "--quiet"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(test.read("results/table.csv").contains(",1.0,ok,"));
    let run = test.run(&["gather", "."]);
    assert_eq!(run.status, 4);
    assert!(run.err.contains("cannot read ./study.toml"), "{}", run.err);
}

#[test]
fn a_study_that_would_mislead_says_so_wherever_it_is_read() {
    let test = CliTest::new();
    let study = "[case]\ntooth = 31\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n[vary]\nbone.loss_mm = [0, 1]\n\
                 attachment.height_mm = [6]\n";
    test.write("study.toml", study);
    let run = test.run(&["sweep", "study.toml", "--dry-run"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    assert!(run.out.contains("warning: bone.loss_mm moves the crest while"), "{}", run.out);
    let run = test.run(&["sweep", "study.toml", "--out", "results"]);
    assert!(run.err.contains("warning: bone.loss_mm moves the crest"), "{}", run.err);
    assert!(run.out.contains("Warning: bone.loss_mm moves the crest"), "{}", run.out);
    let run = test.run(&["gather", "results", "--json"]);
    let document: Value = serde_json::from_str(&run.out).expect("JSON");
    assert!(
        document["warnings"][0].as_str().is_some_and(|w| w.contains("attachment.height_share")),
        "{document}"
    );
    // Both cases state where they were pushed: at one height above the crest, at two places of the crown.
    let rows = csv(&test.read("results/table.csv"));
    let of =
        |name: &str| -> Vec<f64> { rows.iter().map(|row| row[name].parse().expect("a number")).collect() };
    assert_eq!(of("load_above_crest_mm"), [6.0, 6.0]);
    assert_eq!(of("load_above_cej_mm"), [4.5, 3.5]);
    assert_eq!(of("load_share_of_crown"), [0.5, 3.5 / 9.0]);
}
