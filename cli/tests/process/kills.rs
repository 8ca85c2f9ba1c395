//! Every command that writes, ended by a signal at moments of chance: nothing half-written is left, and the exit status says
//! which signal it was. `GOMPHOSIS_KILLS` sets the number of kills (`cargo test -p gomphosis-cli --test process kills -- --nocapture`).

#![cfg(unix)]
#![allow(clippy::print_stdout, reason = "the count is what a long run is for")]

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::{CliTest, FAST};

const STUDY: &str = "[case]\ntooth = 31\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n\
                     [vary]\nroot.length_mm = [11.5, 12.5]\nload.torque_nmm = [0, 2]\n";

/// Signals with the exit status that tells them.
const SIGNALS: [(&str, i32); 3] = [("HUP", 129), ("INT", 130), ("TERM", 143)];

/// Commands that write; what is written goes to `out`.
fn commands() -> Vec<Vec<&'static str>> {
    let with_case: [&[&str]; 6] = [
        &["map", "31", "--out", "out"],
        &["solve", "31", "--out", "out/a.json", "--export", "out/a.vtu"],
        &["mesh", "31", "--out", "out/b.vtu"],
        &["report", "31", "--out", "out/a.html"],
        &["lesson", "31", "--out", "out/b.html"],
        &["figure", "section", "31", "--out", "out/a.pdf"],
    ];
    let mut all: Vec<Vec<&str>> = with_case.iter().map(|args| [args, &FAST[..]].concat()).collect();
    all.push(vec!["sweep", "study.toml", "--out", "out", "--restart"]);
    all.push(vec!["gather", "gathered"]);
    all.push(vec!["compensate", "31", "--samples", "4", "--set", "mesh.element_size_mm=2", "--out", "out"]);
    all
}

fn half_written(directory: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(directory).expect("a directory") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(half_written(&path));
        } else if path.extension().is_some_and(|e| e == "part") {
            found.push(path.display().to_string());
        }
    }
    found
}

/// Is a signal ignored by this process, and so by its children?
fn is_ignored(number: u32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0) >> (number - 1) & 1 == 1
}

#[test]
fn killed_at_any_moment_every_command_leaves_nothing_half_written() {
    let kills: usize = std::env::var("GOMPHOSIS_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(27);
    let test = CliTest::new();
    test.write("study.toml", STUDY);
    assert_eq!(test.run(&["sweep", "study.toml", "--out", "gathered", "-q"]).status, 0);
    std::fs::create_dir(test.path("out")).expect("made");
    // Moments from a generator of our own (Knuth's constants), so that a failure can be repeated.
    let mut state = 7_u64;
    let mut draw = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / (1_u64 << 31) as f64
    };
    let signals: Vec<_> = SIGNALS.into_iter().filter(|(name, _)| *name != "HUP" || !is_ignored(1)).collect();
    let commands = commands();
    // How long each takes when nobody disturbs it.
    let lasts: Vec<Duration> = commands
        .iter()
        .map(|args| {
            let begin = Instant::now();
            assert_eq!(test.run(args).status, 0, "{args:?}");
            begin.elapsed()
        })
        .collect();
    let mut counts = [0; 2];
    for kill in 0..kills {
        let args = &commands[kill % commands.len()];
        let (signal, status) = signals[kill / commands.len() % signals.len()];
        let mut child = test
            .command(args)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        std::thread::sleep(lasts[kill % commands.len()].mul_f64(0.02 + draw()));
        let pid = child.id().to_string();
        let _ = Command::new("kill").args([&format!("-{signal}"), &pid]).stderr(Stdio::null()).status();
        let ended = child.wait().expect("ended");
        // Too late to be heard, or so early that nobody listened yet.
        let by_signal = std::os::unix::process::ExitStatusExt::signal(&ended).is_some();
        assert!(by_signal || [Some(0), Some(status)].contains(&ended.code()), "{signal} {args:?}: {ended:?}");
        counts[usize::from(ended.code() == Some(status))] += 1;
        assert_eq!(half_written(&test.path(".")), Vec::<String>::new(), "{signal} {args:?}");
    }
    println!("{kills} kills: {} heard, {} after the end or before the beginning", counts[1], counts[0]);
    assert!(counts[1] > 0, "no signal was heard");
    // What is there is whole.
    for args in &commands {
        let run = test.run(args);
        assert_eq!(run.status, 0, "{args:?}: {}", run.err);
    }
}

#[test]
fn a_limit_on_the_size_of_files_is_tidied_up_and_told() {
    let test = CliTest::new();
    for (trap, status) in [("", 153), ("trap '' XFSZ; ", 4)] {
        let script = format!(
            "{trap}ulimit -f 40; exec {} mesh 31 --out mesh.vtu {}",
            env!("CARGO_BIN_EXE_gomphosis"),
            FAST.join(" ")
        );
        let output =
            Command::new("sh").args(["-c", &script]).current_dir(test.path(".")).output().expect("a shell");
        let err = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(status), "{err}");
        assert!(
            err.contains("error: cannot write mesh.vtu: it would be larger than the system lets a file be"),
            "{err}"
        );
        assert!(test.files().is_empty(), "{:?}", test.files());
    }
}

#[test]
fn a_hangup_that_is_to_be_ignored_is_ignored() {
    let test = CliTest::new();
    let script = format!(
        "trap '' HUP; {} solve 31 --json {} & sleep 0.2; kill -HUP $!; wait $!",
        env!("CARGO_BIN_EXE_gomphosis"),
        FAST.join(" ")
    );
    let output =
        Command::new("sh").args(["-c", &script]).current_dir(test.path(".")).output().expect("a shell");
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stdout.ends_with(b"}\n"));
}

#[test]
fn a_pipe_without_a_reader_is_left_by_a_signal() {
    let test = CliTest::new();
    assert!(Command::new("mkfifo").arg(test.path("pipe")).status().expect("mkfifo runs").success());
    let args = [&["solve", "31", "--out", "pipe"], &FAST[..]].concat();
    let mut child =
        test.command(&args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("the program starts");
    // Long enough to have computed and to wait.
    std::thread::sleep(Duration::from_secs(2));
    let pid = child.id().to_string();
    assert!(Command::new("kill").args(["-TERM", &pid]).status().expect("kill runs").success());
    assert_eq!(child.wait().expect("ended").code(), Some(143));
}
