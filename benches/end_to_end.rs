//! The whole command in-process, from the case to the figures on disk.
#![allow(missing_docs, reason = "the group's functions are made by a macro")]

use std::ffi::OsString;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use gomphosis_cli::{Exit, run};

fn end_to_end(c: &mut Criterion) {
    let mut group = c.benchmark_group("map_command");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(8));
    for bodies in ["rigid", "elastic"] {
        group.bench_function(bodies, |b| {
            b.iter(|| {
                let folder = tempfile::tempdir().expect("a temporary directory");
                let out = folder.path().as_os_str();
                let words = ["gomphosis", "map", "--quiet", "--bodies", bodies, "--out"];
                let words = words.into_iter().map(OsString::from).chain([out.to_owned()]);
                let (mut results, mut messages) = (Vec::new(), Vec::new());
                let exit = run(words, &mut results, &mut messages);
                assert!(matches!(exit, Exit::Ok), "{}", String::from_utf8_lossy(&messages));
            });
        });
    }
    group.finish();
}

criterion_group!(benches, end_to_end);
criterion_main!(benches);
