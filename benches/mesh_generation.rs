//! Meshing the upper first premolar at the default element size and at half of it.
#![allow(missing_docs, reason = "the group's functions are made by a macro")]

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use gomphosis_benches::spec;
use gomphosis_mesh_gen::{Silent, mesh_tooth};

fn mesh_generation(c: &mut Criterion) {
    let mut group = c.benchmark_group("mesh_generation");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(5));
    let default = spec("upper first premolar", None).expect("a handbook tooth");
    for (name, divisor) in [("default_size", 1.0), ("half_size", 2.0)] {
        let mut tooth = default;
        tooth.mesh.element_size_mm /= divisor;
        group.bench_function(name, |b| {
            b.iter(|| mesh_tooth(black_box(&tooth), &Silent).expect("a handbook tooth can be meshed"));
        });
    }
    group.finish();
}

criterion_group!(benches, mesh_generation);
criterion_main!(benches);
