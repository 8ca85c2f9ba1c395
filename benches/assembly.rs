//! Assembly of the elastic system of the upper first premolar at the default element size.
#![allow(missing_docs, reason = "the group's functions are made by a macro")]

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use gomphosis_benches::Specimen;
use gomphosis_mesh_gen::Silent;
use gomphosis_solver::Formulation;
use gomphosis_solver::assembly::assemble;

fn assembly(c: &mut Criterion) {
    let specimen = Specimen::new("upper first premolar", None).expect("a handbook tooth");
    let mut group = c.benchmark_group("assembly");
    group.sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(3));
    for formulation in [Formulation::Displacement, Formulation::ProjectedDilatation] {
        let (elements, free) = specimen.system(formulation);
        group.throughput(Throughput::Elements(elements.len() as u64));
        group.bench_function(formulation.name(), |b| {
            b.iter(|| assemble(black_box(&elements), &free, &Silent).expect("a valid mesh"));
        });
    }
    group.finish();
}

criterion_group!(benches, assembly);
criterion_main!(benches);
