use std::process::Stdio;

use crate::support::{CliTest, fast};

#[test]
fn progress_is_plain_lines_without_a_terminal_and_nothing_when_quiet() {
    let test = CliTest::new();
    let run = test.run(&["mesh", "43", "--set", "mesh.element_size_mm=2"]);
    assert_eq!(run.status, 0);
    assert!(run.err.contains("inserting the ligament"), "{}", run.err);
    assert!(!run.err.contains('\u{1b}'), "no control characters without a terminal");
    let run = test.run(&["mesh", "43", "--set", "mesh.element_size_mm=2", "--quiet"]);
    assert_eq!((run.status, run.err.as_str()), (0, ""));
    assert!(!run.out.is_empty());
}

#[test]
fn a_reader_that_went_away_is_no_complaint() {
    let test = CliTest::new();
    let mut child = test
        .command(&["teeth", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("the program ends");
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[cfg(unix)]
#[test]
fn the_interrupt_key_ends_the_work_and_leaves_nothing() {
    let test = CliTest::new();
    let child = test
        .command(&["map", "36", "--set", "mesh.element_size_mm=0.7", "--out", "results"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    std::thread::sleep(std::time::Duration::from_millis(400));
    let pid = child.id().to_string();
    let sent = std::process::Command::new("kill").args(["-INT", &pid]).status().expect("kill runs");
    assert!(sent.success());
    let output = child.wait_with_output().expect("the program ends");
    assert_eq!(output.status.code(), Some(130), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(String::from_utf8_lossy(&output.stderr).ends_with("interrupted\n"));
    assert!(output.stdout.is_empty());
    assert!(test.files().is_empty());
}

#[test]
fn a_stop_from_outside_ends_with_the_same_code() {
    use std::sync::atomic::{AtomicBool, AtomicI32};
    let args = fast(&["gomphosis", "solve"]).into_iter().map(std::ffi::OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let (stop, signal) = (AtomicBool::new(true), AtomicI32::new(0));
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
