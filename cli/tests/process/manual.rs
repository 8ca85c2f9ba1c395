use std::path::Path;

use crate::support::{CliTest, names};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

fn read(path: &str) -> String {
    std::fs::read_to_string(Path::new(ROOT).join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// The blocks of TOML in a page.
fn toml_blocks(page: &str) -> Vec<&str> {
    page.split("```toml\n").skip(1).filter_map(|block| block.split("```").next()).collect()
}

#[test]
fn every_demonstration_case_is_valid_and_listed() {
    let directory = Path::new(ROOT).join("demo-geometry");
    let listed = read("demo-geometry/README.md");
    let cases: Vec<String> = names(&directory)
        .into_iter()
        .filter(|name| Path::new(name).extension().is_some_and(|e| e == "toml"))
        .collect();
    assert!(cases.len() >= 19, "sixteen teeth and the idealised shapes: {cases:?}");
    for name in cases {
        assert!(listed.contains(&format!("({name})")), "README.md lacks {name}");
        let path = directory.join(&name);
        let run = CliTest::new().run(&["case", &path.to_string_lossy()]);
        assert_eq!((run.status, run.err.as_str()), (0, ""), "{name}");
    }
}

#[test]
fn the_manual_holds_the_table_of_all_keys() {
    let run = CliTest::new().run(&["case", "--reference"]);
    assert_eq!(run.status, 0);
    let manual = read("cli/docs/case.md");
    assert!(
        manual.contains(&format!("<!-- reference -->\n{}<!-- end of reference -->", run.out)),
        "cli/docs/case.md is not what `gomphosis case --reference` prints:\n{}",
        run.out
    );
    for set in gomphosis_solver::PUBLISHED_LIGAMENTS {
        let row = manual.lines().find(|line| line.starts_with(&format!("| `{}` |", set.name)));
        let row = row.unwrap_or_else(|| panic!("cli/docs/case.md lacks {}", set.name));
        assert!(row.contains(set.source), "{row}");
        let cells: Vec<f64> =
            row.split('|').filter_map(|c| c.trim().trim_end_matches(" MPa").parse().ok()).collect();
        assert_eq!(cells, [set.material.modulus_mpa, set.material.poisson_ratio]);
    }
}

#[test]
fn the_cases_of_the_manual_are_valid() {
    let manual = read("cli/docs/case.md");
    let blocks = toml_blocks(&manual);
    assert_eq!(blocks.len(), 2);
    for block in blocks {
        let test = CliTest::new();
        test.write("case.toml", block);
        let run = test.run(&["case", "case.toml"]);
        assert_eq!((run.status, run.err.as_str()), (0, ""), "{block}");
    }
}

#[test]
fn the_exit_codes_of_the_manual_are_those_of_the_program() {
    let manual = read("cli/docs/output.md");
    for (exit, meaning) in gomphosis_cli::Exit::TABLE {
        assert!(manual.contains(&format!("| {} | {meaning} |", exit.code())), "{meaning}");
    }
}

#[test]
fn every_ready_study_is_valid_and_shown() {
    let directory = Path::new(ROOT).join("demo-geometry/studies");
    let (listed, shown) = (read("demo-geometry/README.md"), read("cli/docs/studies.md"));
    let studies: Vec<String> = names(&directory)
        .into_iter()
        .filter(|name| Path::new(name).extension().is_some_and(|e| e == "toml"))
        .collect();
    assert!(studies.len() >= 4, "{studies:?}");
    for name in studies {
        assert!(listed.contains(&format!("(studies/{name})")), "demo-geometry/README.md lacks {name}");
        assert!(shown.contains(&format!("demo-geometry/studies/{name}")), "cli/docs/studies.md lacks {name}");
        let path = directory.join(&name);
        let run = CliTest::new().run(&["sweep", &path.to_string_lossy(), "--dry-run"]);
        assert_eq!((run.status, run.err.as_str()), (0, ""), "{name}");
    }
}

#[test]
fn the_studies_of_the_manual_are_valid() {
    let manual = read("cli/docs/studies.md");
    let blocks = toml_blocks(&manual);
    assert_eq!(blocks.len(), 2);
    for block in blocks {
        let test = CliTest::new();
        test.write("study.toml", block);
        let run = test.run(&["sweep", "study.toml", "--dry-run"]);
        assert_eq!((run.status, run.err.as_str()), (0, ""), "{block}");
    }
}
