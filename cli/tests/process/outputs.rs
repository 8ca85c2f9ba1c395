use std::path::Path;

use crate::support::{CliTest, FAST, fast, names};

const DIARY: &str = "dear diary\n";

/// Runs a command that must refuse before it computes anything, and returns the message.
fn refused(test: &CliTest, args: &[&str]) -> String {
    let before = test.files();
    let run = test.run(&fast(args));
    assert_eq!(run.status, 2, "{args:?}: {}", run.err);
    assert!(!run.err.contains(" s  "), "{args:?} is refused before it computes: {}", run.err);
    assert_eq!((run.out.as_str(), test.files()), ("", before), "{args:?}");
    run.err
}

fn done(test: &CliTest, args: &[&str]) -> crate::support::Run {
    let run = test.run(&fast(args));
    assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    run
}

/// The commands that write one file, with the name of one.
const WRITERS: [(&[&str], &str); 6] = [
    (&["solve", "31", "--out"], "a.json"),
    (&["solve", "31", "--export"], "a.vtu"),
    (&["mesh", "31", "--out"], "b.vtu"),
    (&["report", "31", "--out"], "a.html"),
    (&["lesson", "31", "--out"], "b.html"),
    (&["figure", "tip", "31", "--out"], "a.svg"),
];

#[test]
fn what_somebody_else_made_stays_and_what_the_command_made_is_made_again() {
    for (command, name) in WRITERS {
        let test = CliTest::new();
        let args = [command, &[name]].concat();
        test.write(name, DIARY);
        let err = refused(&test, &args);
        assert!(err.contains(&format!("error: {name} is there already")) && err.contains("--force"), "{err}");
        assert_eq!(test.read(name), DIARY);
        let run = done(&test, &[&args[..], &["--force"]].concat());
        assert!(!run.err.contains("note:"), "{}", run.err);
        let made = std::fs::read(test.path(name)).expect("a file");
        assert_ne!(made, DIARY.as_bytes());
        // A copy of it is known as well as the file itself; the same command says nothing of it.
        std::fs::rename(test.path(name), test.path("moved")).expect("renamed");
        std::fs::copy(test.path("moved"), test.path(name)).expect("copied");
        let run = done(&test, &args);
        assert!(!run.err.contains("note:"), "{}", run.err);
        // Another case: it says what it replaces.
        let other: Vec<&str> = args.iter().map(|word| if *word == "31" { "41" } else { word }).collect();
        let other = [&other[..], &["--set", "load.torque_nmm=4"]].concat();
        let run = done(&test, &other);
        let note = format!("note: {name} holds ");
        assert!(run.err.contains(&note) && run.err.contains("ower central incisor"), "{args:?}: {}", run.err);
    }
}

#[test]
fn a_file_of_this_program_for_something_else_stays_too() {
    let test = CliTest::new();
    done(&test, &["figure", "tip", "31", "--out", "a.svg"]);
    done(&test, &["lesson", "31", "--out", "a.html"]);
    let err = refused(&test, &["report", "31", "--out", "a.html"]);
    assert!(err.contains("a.html holds a lesson; another --out, or --force, would do"), "{err}");
    done(&test, &["report", "31", "--out", "a.html", "--force"]);
}

#[test]
fn an_empty_file_holds_nothing_to_lose() {
    let test = CliTest::new();
    test.write("a.json", "");
    done(&test, &["solve", "31", "--out", "a.json"]);
}

#[test]
fn the_input_is_never_an_output() {
    let test = CliTest::new();
    let text = "tooth = 31\n";
    test.write("case.toml", text);
    for (args, input) in [
        (
            &["map", "case.toml", "--out", ".", "--force"][..],
            "./case.toml is the file that is read (case.toml)",
        ),
        (
            &["solve", "case.toml", "--out", "hard.json", "--force"],
            "hard.json is the file that is read (case.toml)",
        ),
        (
            &["solve", "case.toml", "--out", "soft.json", "--force"],
            "soft.json is the file that is read (case.toml)",
        ),
    ] {
        if input.starts_with("hard") {
            std::fs::hard_link(test.path("case.toml"), test.path("hard.json")).expect("linked");
        }
        #[cfg(unix)]
        if input.starts_with("soft") {
            std::os::unix::fs::symlink("case.toml", test.path("soft.json")).expect("linked");
        }
        let err = refused(&test, args);
        assert!(err.contains(input), "{err}");
        assert_eq!(test.read("case.toml"), text);
    }
}

#[test]
fn a_case_of_ones_own_stays_where_results_go() {
    let test = CliTest::new();
    // Printed by the program, but kept to be edited.
    let printed = test.run(&["case", "31"]).out;
    test.write("case.toml", &printed);
    let err = refused(&test, &["map", "31", "--out", "."]);
    assert!(err.contains("./case.toml is there already and is not a case that this program made"), "{err}");
    assert_eq!(test.read("case.toml"), printed);
    // Results are made again, and somebody's edit of their case is kept.
    done(&test, &["map", "31", "--out", "results"]);
    let run = done(&test, &["map", "31", "--out", "results"]);
    assert!(!run.err.contains("note:"), "{}", run.err);
    let run = done(&test, &["map", "41", "--set", "root.length_mm=13", "--out", "results"]);
    assert!(
        run.err.contains("note: results holds 10 files of another case (Lower central incisor"),
        "{}",
        run.err
    );
    let edited = test.read("results/case.toml") + "# mine\n";
    test.write("results/case.toml", &edited);
    refused(&test, &["map", "31", "--out", "results"]);
    assert_eq!(test.read("results/case.toml"), edited);
    done(&test, &["map", "31", "--out", "results", "--force"]);
}

#[test]
fn a_study_keeps_what_others_put_beside_it() {
    let test = CliTest::new();
    let study = |length: &str| {
        format!(
            "[case]\ntooth = 31\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n[vary]\nroot.length_mm = [{length}]\n"
        )
    };
    test.write("mine.toml", study("11.5"));
    test.write("study.toml", study("12.5"));
    let run = test.run(&["sweep", "mine.toml", "--out", ".", "-q"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert!(
        run.err.contains("./study.toml is there already and is not a study that this program made"),
        "{}",
        run.err
    );
    assert_eq!(test.read("study.toml"), study("12.5"));
    // Not even beginning anew makes it go.
    assert_eq!(test.run(&["sweep", "mine.toml", "--out", ".", "--restart", "-q"]).status, 2);
    assert_eq!(test.files(), ["mine.toml", "study.toml"]);
    // The study itself may stand where its results go, and stays as it is.
    let run = test.run(&["sweep", "study.toml", "--out", ".", "-q"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert_eq!(test.read("study.toml"), study("12.5"));
    // A journal of somebody else's is no journal, whatever is asked.
    test.write("other/rows.journal", DIARY);
    for how in ["--resume", "--restart"] {
        let run = test.run(&["sweep", "mine.toml", "--out", "other", how, "-q"]);
        assert_eq!(run.status, 2, "{}", run.err);
    }
    assert_eq!(test.read("other/rows.journal"), DIARY);
    // A table of somebody else's is seen before the first case is run.
    test.write("third/table.csv", "name,dose\n");
    let run = test.run(&["sweep", "mine.toml", "--out", "third", "-q"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert_eq!(names(&test.path("third")), ["table.csv"]);
    // A copy that was changed by hand says what it is now, and another study does not take its place.
    assert_eq!(test.run(&["sweep", "mine.toml", "--out", "fourth", "-q"]).status, 0);
    let run = test.run(&["sweep", "study.toml", "--out", "fourth", "--shard", "1/2", "-q"]);
    assert_eq!(run.status, 2);
    assert!(run.err.contains("fourth/study.toml is the copy of another study"), "{}", run.err);
    // The copy is a study as any other.
    let run = test.run(&["sweep", "fourth/study.toml", "--out", "fourth", "--resume", "-q"]);
    assert_eq!(run.status, 0, "{}", run.err);
}

#[test]
fn names_that_lie_are_refused_before_anything_is_computed() {
    let test = CliTest::new();
    for (args, wanted) in [
        (&["solve", "31", "--export", "a.stl"][..], ".vtu"),
        (&["solve", "31", "--out", "a.csv"], ".json"),
        (&["mesh", "31", "--out", "a.obj"], ".vtu"),
        (&["report", "31", "--out", "r.pdf"], ".html"),
        (&["lesson", "31", "--out", "x.png"], ".html"),
        (&["figure", "tip", "31", "--out", "x.jpg"], ".svg, .png"),
        (&["figure", "tip", "31", "--out", "x.jpg", "--format", "png"], ".svg, .png"),
        (&["figure", "tip", "31", "--out", "x"], "say --format"),
        (&["map", "31", "--out", "result.json"], "into a directory"),
    ] {
        let err = refused(&test, args);
        assert!(err.contains(wanted), "{args:?}: {err}");
        assert_eq!(err.lines().count(), 1, "{err}");
    }
    let run = test.run(&["compensate", "31", "--out", "rule.csv"]);
    assert_eq!((run.status, test.files().len()), (2, 0), "{}", run.err);
    // Capital letters and names without an ending are no lies.
    for name in ["A.JSON", "result"] {
        done(&test, &["solve", "31", "--out", name]);
        assert!(test.read(name).starts_with('{'));
    }
}

#[test]
fn two_outputs_in_one_place_are_refused() {
    let test = CliTest::new();
    std::fs::create_dir(test.path("sub")).expect("made");
    for [out, export] in [["same", "same"], ["same", "./same"], ["same", "sub/../same"], ["-", "/dev/stdout"]]
    {
        if cfg!(unix) || !out.starts_with('-') {
            let err = refused(&test, &["solve", "31", "--out", out, "--export", export]);
            assert!(err.contains("one place"), "{err}");
        }
    }
    let err = refused(&test, &["solve", "31", "--out", "-", "--json"]);
    assert!(err.contains("two outputs"), "{err}");
}

#[test]
fn what_cannot_be_written_is_said_before_anything_is_computed() {
    let test = CliTest::new();
    for args in [
        &["solve", "31", "--out", "no/such/directory.json"][..],
        &["mesh", "31", "--out", "no/such.vtu"],
        &["report", "31", "--out", "."],
        &["map", "31", "--out", "file/below"],
    ] {
        test.write("file", "");
        let run = test.run(&fast(args));
        assert_eq!(run.status, 4, "{args:?}: {}", run.err);
        assert!(run.err.starts_with("error: cannot "), "{args:?} is refused before it computes: {}", run.err);
    }
}

#[cfg(unix)]
mod unix {
    use std::os::unix::fs::{FileTypeExt, MetadataExt, PermissionsExt, symlink};
    use std::process::{Command, Stdio};

    use super::*;

    #[test]
    fn devices_are_written_to_and_stay_devices() {
        let test = CliTest::new();
        for args in [["solve", "31", "--out", "/dev/null"], ["mesh", "31", "--out", "/dev/null"]] {
            done(&test, &args);
        }
        let run = test.run(&fast(&["solve", "31", "--out", "/dev/full"]));
        assert_eq!(run.status, 4, "{}", run.err);
        assert!(run.err.contains("error: cannot write /dev/full: the disk is full"), "{}", run.err);
        for device in ["/dev/null", "/dev/full"] {
            assert!(std::fs::metadata(device).expect("there").file_type().is_char_device(), "{device}");
        }
    }

    #[test]
    fn standard_output_takes_a_file_and_nothing_else() {
        let test = CliTest::new();
        let whole = done(&test, &["report", "31", "--out", "report.html"]);
        assert!(whole.out.contains("report.html"));
        for name in ["/dev/stdout", "-", "/dev/fd/1"] {
            let run = done(&test, &["report", "31", "--out", name]);
            assert!(
                run.out.starts_with("<!DOCTYPE html>") && run.out.trim_end().ends_with("</html>"),
                "{name}"
            );
            let run = done(&test, &["solve", "31", "--out", name]);
            serde_json::from_str::<serde_json::Value>(&run.out).expect("one JSON document");
            assert!(run.err.contains("centre of resistance"), "what people read is on standard error");
        }
        // Into a file of the shell, behind what is there.
        let script = format!(
            "echo before > both; {} solve 31 --out /dev/stdout {} >> both",
            env!("CARGO_BIN_EXE_gomphosis"),
            FAST.join(" ")
        );
        let status = Command::new("sh")
            .args(["-c", &script])
            .current_dir(test.path("."))
            .stderr(Stdio::null())
            .status();
        assert!(status.expect("a shell").success());
        let both = test.read("both");
        assert!(both.starts_with("before\n{") && both.ends_with("}\n"), "{}", &both[..60.min(both.len())]);
    }

    #[test]
    fn a_pipe_is_written_to_and_stays_a_pipe() {
        let test = CliTest::new();
        assert!(Command::new("mkfifo").arg(test.path("pipe")).status().expect("mkfifo runs").success());
        let reader = {
            let path = test.path("pipe");
            std::thread::spawn(move || std::fs::read_to_string(path).expect("text"))
        };
        done(&test, &["solve", "31", "--out", "pipe"]);
        let text = reader.join().expect("read");
        serde_json::from_str::<serde_json::Value>(&text).expect("one JSON document");
        assert!(std::fs::symlink_metadata(test.path("pipe")).expect("there").file_type().is_fifo());
        // A journal is no pipe: a study that waited for a reader would wait for ever.
        std::fs::create_dir(test.path("results")).expect("made");
        std::fs::rename(test.path("pipe"), test.path("results/rows.journal")).expect("moved");
        test.write("study.toml", "[case]\ntooth = 31\n[vary]\nroot.length_mm = [11]\n");
        let run = test.run(&["sweep", "study.toml", "--out", "results"]);
        assert_eq!(run.status, 2, "{}", run.err);
    }

    #[test]
    fn a_symbolic_link_is_followed_and_stays_a_link() {
        let test = CliTest::new();
        std::fs::create_dir(test.path("far")).expect("made");
        symlink("far/real.json", test.path("link.json")).expect("linked");
        let err = refused(&test, &["solve", "31", "--out", "link.json"]);
        assert!(err.contains("a symbolic link that leads nowhere"), "{err}");
        test.write("far/real.json", DIARY);
        refused(&test, &["solve", "31", "--out", "link.json"]);
        assert_eq!(test.read("far/real.json"), DIARY);
        test.write("far/real.json", "");
        done(&test, &["solve", "31", "--out", "link.json"]);
        assert!(std::fs::symlink_metadata(test.path("link.json")).expect("there").is_symlink());
        assert!(!std::fs::symlink_metadata(test.path("far/real.json")).expect("there").is_symlink());
        assert!(test.read("far/real.json").starts_with('{'));
        assert_eq!(names(&test.path("far")), ["real.json"]);
        // A ring of links leads nowhere either.
        symlink("a.json", test.path("b.json")).expect("linked");
        symlink("b.json", test.path("a.json")).expect("linked");
        refused(&test, &["solve", "31", "--out", "a.json"]);
    }

    #[test]
    fn mode_and_owner_of_what_is_made_again_are_kept() {
        let test = CliTest::new();
        done(&test, &["solve", "31", "--out", "a.json"]);
        std::fs::set_permissions(test.path("a.json"), std::fs::Permissions::from_mode(0o604)).expect("set");
        let root = std::fs::metadata(test.path("a.json")).expect("there").uid() == 0;
        if root {
            std::os::unix::fs::chown(test.path("a.json"), Some(12), Some(34)).expect("given away");
        }
        let before = std::fs::metadata(test.path("a.json")).expect("there");
        done(&test, &["solve", "31", "--out", "a.json"]);
        let after = std::fs::metadata(test.path("a.json")).expect("there");
        assert_ne!(before.ino(), after.ino(), "the file was written anew");
        assert_eq!((before.mode(), before.uid(), before.gid()), (after.mode(), after.uid(), after.gid()));
    }
}

#[test]
fn a_pdf_is_the_same_bytes_each_time() {
    let test = CliTest::new();
    done(&test, &["figure", "tip", "31", "--out", "first.pdf", "-q"]);
    for _ in 0..3 {
        done(&test, &["figure", "tip", "31", "--out", "again.pdf", "-q"]);
        let read = |name: &str| std::fs::read(test.path(name)).expect("a page");
        assert!(read("first.pdf") == read("again.pdf"), "the pages differ");
    }
    let page = lopdf::Document::load(test.path("first.pdf")).expect("a page that reads");
    assert_eq!(page.get_pages().len(), 1);
    let first = page.page_iter().next().expect("a page");
    assert!(!page.get_page_content(first).is_empty());
}

#[test]
fn paths_are_shown_as_they_were_given() {
    let test = CliTest::new();
    test.write("a.json", DIARY);
    let whole = test.path("a.json");
    let err = refused(&test, &["solve", "31", "--out", &whole.to_string_lossy()]);
    assert!(err.contains(&*whole.to_string_lossy()), "{err}");
    assert!(Path::new(&whole).exists());
}
