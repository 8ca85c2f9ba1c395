//! Limits of the machine: too little memory and too many threads end in one sentence, never in an abort.
#![cfg(target_os = "linux")]

use std::process::Command;

use super::support::{CliTest, FAST};

/// Runs the program under a limit of the shell: its status, and what it says.
fn limited(limit: &str, args: &[&str]) -> (Option<i32>, String) {
    let test = CliTest::new();
    let program = env!("CARGO_BIN_EXE_gomphosis");
    let line = format!("ulimit {limit} && exec \"$0\" \"$@\"");
    let output = Command::new("sh")
        .args(["-c", &line, program])
        .args(args)
        .current_dir(test.path(""))
        .env_remove("RUST_BACKTRACE")
        .output()
        .expect("a shell");
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn too_little_memory_is_refused_in_one_sentence() {
    let solve = [&["solve", "11", "--quiet", "--threads", "2"][..], &FAST].concat();
    let mut refused = 0;
    for (flag, name) in [("-v", "ulimit -v"), ("-d", "ulimit -d")] {
        for kib in [150_000, 400_000, 900_000, 1_600_000] {
            let (status, said) = limited(&format!("{flag} {kib}"), &solve);
            // Larger limits may be enough, as the size of the processor's cache has it.
            if status == Some(0) {
                continue;
            }
            assert_eq!(status, Some(2), "{flag} {kib}: {said}");
            assert!(said.contains(name) && said.contains("MB are left"), "{flag} {kib}: {said}");
            assert_eq!(said.trim().lines().count(), 1, "{said}");
            refused += 1;
        }
    }
    assert!(refused >= 2, "{refused} refused");
    let (status, said) = limited("-v unlimited", &solve);
    assert_eq!(status, Some(0), "{said}");
}

#[test]
fn more_threads_than_a_machine_can_use_are_refused() {
    let test = CliTest::new();
    for command in [&["solve", "14"][..], &["verify"], &["sweep", "study.toml"], &["lesson", "14"]] {
        let run = test.run(&[command, &["--threads", "10000"]].concat());
        assert_eq!(run.status, 2, "{}", run.err);
        assert!(
            run.err.contains("a whole number from 1 to ") && run.err.contains("processor"),
            "{}",
            run.err
        );
    }
}
