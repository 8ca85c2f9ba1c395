//! What is printed fits a terminal of 80 columns.

use crate::support::{CliTest, fast};

/// Characters of a line that every terminal has.
const COLUMNS: usize = 80;

/// Lines that do not fit.
fn wide(text: &str) -> Vec<&str> {
    text.lines().filter(|line| line.chars().count() > COLUMNS).collect()
}

#[test]
fn every_commands_text_fits_eighty_columns() {
    let test = CliTest::new();
    test.write(
        "study.toml",
        "title = \"A study with a title that is as long as titles of studies are when somebody has thought about them\"\n\
         design = \"latin_hypercube\"\nsamples = 12\n[case]\ntooth = 46\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n\
         [vary]\nroot.length_mm = { distribution = \"uniform\", from = 12, to = 15 }\n\
         bone.crest_below_cej_mm = { distribution = \"uniform\", from = 1, to = 14 }\n",
    );
    let plain: [&[&str]; 8] = [
        &["teeth"],
        &["verify", "--list"],
        &["verify", "patch-test", "rigid-motions", "bonded-ring"],
        &["validate", "mobility"],
        &["sweep", "study.toml", "--dry-run"],
        &["sweep", "study.toml", "--out", "study"],
        &["compensate", "31", "--samples", "4", "--set", "mesh.element_size_mm=2", "--out", "rule"],
        &["compensate", "31", "41", "--samples", "4", "--set", "mesh.element_size_mm=2"],
    ];
    let coarse: [&[&str]; 7] = [
        &["map", "14", "--set", "load.torque_nmm=20", "--out", "map"],
        &["map", "13", "--out", "map"],
        &["solve", "16", "--verify", "--out", "result.json"],
        &["solve", "paraboloid", "--set", "load.force_n=-1.23456789", "--set", "load.torque_nmm=-3.123456"],
        &["solve", "upper first premolar", "--set", "load.force_n=0", "--set", "load.torque_nmm=3"],
        &["report", "11", "--out", "report.html"],
        &["mesh", "46", "--set", "bone.loss_mm=1", "--out", "mesh.vtu"],
    ];
    let runs = plain.iter().map(|args| args.to_vec()).chain(coarse.iter().map(|args| {
        let args = fast(args);
        // Meshing has no bodies.
        if args[0] == "mesh" {
            args.into_iter().filter(|a| *a != "--bodies" && *a != "rigid").collect()
        } else {
            args
        }
    }));
    for args in runs {
        let run = test.run(&args);
        assert_eq!(run.status, 0, "{args:?}: {}", run.err);
        assert!(!run.out.is_empty(), "{args:?} prints nothing");
        assert_eq!(wide(&run.out), Vec::<&str>::new(), "{args:?}:\n{}", run.out);
        assert!(!run.out.contains('\t') && run.out.lines().all(|line| line == line.trim_end()), "{args:?}");
    }
}
