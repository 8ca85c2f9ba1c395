//! Maps of the centre of rotation over height and torque, from a compliance on.
#![allow(missing_docs, reason = "the group's functions are made by a macro")]

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use gomphosis_benches::Specimen;
use gomphosis_mesh_gen::Silent;
use gomphosis_solver::{
    Bodies, Formulation, Movement, PlanarLoad, PlanarResistance, Plane, solve_unit_loads,
};

/// What a point of a map tells.
type Point = (Option<f64>, f64, f64, Movement);

/// A square map: heights 0 to 8 mm above the crest, torques 0 to 20 N mm, a push of 1 N.
fn map(resistance: &PlanarResistance, apex_depth_mm: f64, side: usize) -> Vec<Point> {
    let step = 1.0 / (side - 1) as f64;
    let mut points = Vec::with_capacity(side * side);
    for i in 0..side {
        for k in 0..side {
            let load = PlanarLoad {
                height_mm: 8.0 * step * i as f64,
                force_n: 1.0,
                torque_nmm: 20.0 * step * k as f64,
            };
            let motion = resistance.motion(&load);
            points.push((
                motion.centre_of_rotation_depth_mm(),
                motion.tip_deg(),
                motion.tip_deg_per_mm(load.height_mm),
                resistance.movement(&load, apex_depth_mm),
            ));
        }
    }
    points
}

fn maps(c: &mut Criterion) {
    let specimen = Specimen::new("upper first premolar", None).expect("a handbook tooth");
    let problem = specimen.problem(Bodies::Rigid, Formulation::default());
    let solutions = solve_unit_loads(&problem, &Silent).expect("the rigid tier of a handbook tooth");
    let resistance = PlanarResistance::new(&solutions.compliance, Plane::BuccoLingual);
    let apex = specimen.tooth.landmarks.bony_root_mm;
    let mut group = c.benchmark_group("map");
    group.sample_size(10).warm_up_time(Duration::from_millis(200)).measurement_time(Duration::from_secs(2));
    for side in [41, 1000] {
        group.throughput(Throughput::Elements((side * side) as u64));
        group.bench_function(format!("{side}x{side}"), |b| {
            b.iter(|| map(black_box(&resistance), apex, side));
        });
    }
    group.finish();
}

criterion_group!(benches, maps);
criterion_main!(benches);
