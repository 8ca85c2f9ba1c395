//! Source: design decision: the same input gives the same bits for any number of threads.
//! Goal: every file of `map` and of `solve --export`, in both tiers, on 1, 2 and 4 threads.
//! Mesh: a lower incisor at its coarsest; its elastic system is large enough for the iterative solver, and the case says so.
//! Tolerance: none, but for the times and the memory that a result states.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::Path;

/// Contents of a directory, with what depends on the machine left out of the JSON.
fn contents(directory: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(directory).unwrap() {
        let path = entry.unwrap().path();
        let mut bytes = std::fs::read(&path).unwrap();
        if path.extension().is_some_and(|e| e == "json") {
            let mut value: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
            for volatile in ["timing_s", "peak_memory_mb"] {
                assert!(
                    value.as_object_mut().unwrap().remove(volatile).is_some(),
                    "{volatile} is not stated"
                );
            }
            bytes = value.to_string().into_bytes();
        }
        files.insert(path.file_name().unwrap().to_string_lossy().into_owned(), bytes);
    }
    files
}

fn run(words: &[&str], directory: &Path, threads: usize, bodies: &str) -> Vec<u8> {
    let place = |name: &str| directory.join(name).into_os_string();
    let mut args: Vec<OsString> =
        ["gomphosis", words[0], "31", "-q", "--set", "mesh.element_size_mm=3", "--bodies", bodies]
            .map(OsString::from)
            .to_vec();
    args.extend(["--threads".into(), threads.to_string().into()]);
    if words[0] == "map" {
        args.extend(["--out".into(), directory.as_os_str().to_owned()]);
    } else {
        args.extend(["--out".into(), place("result.json"), "--export".into(), place("model.vtu")]);
    }
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = gomphosis_cli::run(args, &mut out, &mut err);
    assert_eq!(exit, gomphosis_cli::Exit::Ok, "{}", String::from_utf8_lossy(&err));
    out
}

fn same(command: &str, bodies: &str) {
    let outcome = |threads| {
        let directory = tempfile::tempdir().unwrap();
        run(&[command], directory.path(), threads, bodies);
        contents(directory.path())
    };
    let one = outcome(1);
    assert_eq!(one.len(), if command == "map" { 11 } else { 2 }, "{:?}", one.keys());
    for threads in [2, 4] {
        let other = outcome(threads);
        assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>());
        for (name, bytes) in &one {
            assert!(
                *bytes == other[name],
                "{name} of {command}, {bodies} bodies, differs on {threads} threads"
            );
        }
    }
}

#[test]
fn maps_are_the_same_bytes_for_any_number_of_threads() {
    same("map", "rigid");
}

#[test]
fn exports_are_the_same_bytes_for_any_number_of_threads() {
    same("solve", "rigid");
}

#[test]
fn elastic_maps_are_the_same_bytes_for_any_number_of_threads() {
    same("map", "elastic");
}

#[test]
fn elastic_exports_are_the_same_bytes_for_any_number_of_threads() {
    same("solve", "elastic");
}
