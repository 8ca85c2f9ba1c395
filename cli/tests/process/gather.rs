//! Journals of many shards: split here from the journal of one run, so that each holds what a shard would have left.

use std::fmt::Write;

use crate::support::{CliTest, Run};

/// A thousand loads on one tooth: one solution serves them all.
fn study(cases: usize) -> String {
    format!(
        "[case]\ntooth = 31\nbodies = \"rigid\"\nmesh.element_size_mm = 2\n\
         [vary]\nload.torque_nmm = {{ from = 0, to = 8, steps = {cases} }}\n"
    )
}

/// A line of a journal: the sum of what follows it (CRC-32), in hexadecimal digits.
fn line(payload: &str) -> String {
    format!("{:08x}\t{payload}\n", crc32fast::hash(payload.as_bytes()))
}

/// Runs a study whole, and splits its journal into as many as it has cases, in the directory `shards`.
fn split(cases: usize) -> CliTest {
    let test = CliTest::new();
    test.write("study.toml", study(cases));
    let run = test.run(&["sweep", "study.toml", "--out", "whole", "-q"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let journal = test.read("whole/rows.journal");
    let mut lines = journal.lines();
    let head = lines.next().and_then(|head| head.split_once('\t')).expect("a head").1.to_owned();
    let head = head.strip_suffix("1/1").expect("the whole study").to_owned();
    for (k, row) in lines.enumerate() {
        let shard = k + 1;
        let text = line(&format!("{head}{shard}/{cases}")) + row + "\n";
        test.write(&format!("shards/rows-{shard}-of-{cases}.journal"), text);
    }
    test.write("shards/study.toml", test.read("whole/study.toml"));
    test
}

/// Gathers with few files open at once.
fn gather(test: &CliTest, most_open: usize) -> Run {
    let script = format!("ulimit -n {most_open}; exec {} gather shards -q", env!("CARGO_BIN_EXE_gomphosis"));
    let output = std::process::Command::new("sh")
        .args(["-c", &script])
        .current_dir(test.path("."))
        .output()
        .expect("a shell");
    Run {
        status: output.status.code().expect("it ends by itself"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

#[cfg(unix)]
#[test]
fn ten_thousand_shards_are_gathered_with_few_files_open() {
    let test = split(10_000);
    let run = gather(&test, 64);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(test.read("shards/table.csv") == test.read("whole/table.csv"), "the tables differ");
    let parquet = |name: &str| std::fs::read(test.path(name)).expect("a table");
    assert!(parquet("shards/table.parquet") == parquet("whole/table.parquet"), "the tables differ");
    // Some are lost: which, and who owes them, is said soon.
    std::fs::remove_file(test.path("shards/rows-17-of-10000.journal")).expect("removed");
    let run = gather(&test, 64);
    assert_eq!(run.status, 1, "{}", run.err);
    assert!(run.err.contains("1 of 10000 cases are missing"), "{}", run.err);
    assert!(run.err.contains("unfinished: shard "), "{}", run.err);
}

#[cfg(unix)]
#[test]
fn journals_that_disagree_are_an_error_with_both_values() {
    let test = split(8);
    let own = test.read("shards/rows-3-of-8.journal");
    let other = test.read("shards/rows-5-of-8.journal");
    let row = own.lines().nth(1).expect("a row").split_once('\t').expect("its sum").1;
    let (case, fields) = row.split_once('\t').expect("its case");
    // The same once more is no harm.
    test.write("shards/rows-5-of-8.journal", format!("{other}{}", line(row)));
    assert_eq!(gather(&test, 64).status, 0);
    let mut fields: Vec<String> = fields.split('\t').map(str::to_owned).collect();
    let at = 3;
    let value = std::mem::replace(&mut fields[at], "12.75".to_owned());
    let wrong = line(&format!("{case}\t{}", fields.join("\t")));
    test.write("shards/rows-5-of-8.journal", format!("{other}{wrong}"));
    for name in ["table.csv", "table.parquet", "lines.svg", "lines.png"] {
        std::fs::remove_file(test.path("shards").join(name)).expect("removed");
    }
    let run = gather(&test, 64);
    assert_eq!(run.status, 1, "{}", run.err);
    let header = test.read("whole/table.csv");
    let column = header.lines().next().expect("a header").split(',').nth(at + 1).expect("a column");
    let mut wanted =
        format!("two rows of case {} disagree: {column} is ", case.parse::<usize>().expect("a number") + 1);
    let _ = write!(wanted, "{value} in shards/rows-3-of-8.journal and 12.75 in shards/rows-5-of-8.journal");
    assert!(run.err.contains(&wanted), "{wanted}\n{}", run.err);
    assert!(!test.path("shards/table.csv").exists());
    // Within one journal it is the same error.
    test.write("shards/rows-5-of-8.journal", &other);
    test.write("shards/rows-3-of-8.journal", format!("{own}{wrong}"));
    assert_eq!(gather(&test, 64).status, 1);
}

#[cfg(unix)]
#[test]
fn a_damaged_head_costs_no_row() {
    let test = split(8);
    for shard in [2, 7] {
        let name = format!("shards/rows-{shard}-of-8.journal");
        let mut bytes = std::fs::read(test.path(&name)).expect("bytes");
        bytes[20] ^= 0x11;
        test.write(&name, bytes);
    }
    let run = gather(&test, 64);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(test.read("shards/table.csv") == test.read("whole/table.csv"));
    // A run that goes on keeps them too.
    let mut bytes = std::fs::read(test.path("whole/rows.journal")).expect("bytes");
    bytes[20] ^= 0x11;
    test.write("whole/rows.journal", bytes);
    let run = test.run(&["sweep", "study.toml", "--out", "whole", "--resume"]);
    assert_eq!(run.status, 0, "{}", run.err);
    assert!(run.err.contains("8 of 8 cases are there from an earlier run"), "{}", run.err);
    // Rows of another study are not taken.
    test.write("other.toml", study(9));
    let mut bytes = std::fs::read(test.path("shards/rows-2-of-8.journal")).expect("bytes");
    bytes.splice(0..0, *b"broken\n");
    test.write("other/rows.journal", bytes);
    let run = test.run(&["sweep", "other.toml", "--out", "other", "--resume"]);
    assert_eq!(run.status, 2, "{}", run.err);
    assert!(run.err.contains("its rows are not those of this study"), "{}", run.err);
}

#[cfg(target_os = "linux")]
#[test]
fn a_second_run_waits_a_moment_and_then_says_who_is_writing() {
    let test = CliTest::new();
    test.write("study.toml", study(4));
    std::fs::create_dir(test.path("results")).expect("made");
    let held = std::fs::File::create(test.path("results/rows.journal")).expect("made");
    held.lock().expect("free");
    let args = ["sweep", "study.toml", "--out", "results", "-q"];
    let run = test.run(&args);
    assert_eq!(run.status, 2, "{}", run.err);
    let who = format!("process {}, is writing here", std::process::id());
    assert!(run.err.contains(&who), "{}", run.err);
    // One that lets go in time is waited for.
    let child = test.command(&args).stdout(std::process::Stdio::null()).spawn().expect("the program starts");
    std::thread::sleep(std::time::Duration::from_millis(700));
    drop(held);
    assert_eq!(child.wait_with_output().expect("ended").status.code(), Some(0));
}
