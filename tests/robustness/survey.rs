//! Draws many cases, meshes each and audits the mesh, and prints a tally with every case that went wrong:
//! `survey_cases [COUNT [SEED [FINEST_MM [ONLY]]]]`.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Instant;

use gomphosis_mesh_gen::{MeshError, Silent, mesh_tooth};
use gomphosis_tests::{audit, draw};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize| arguments.get(k).and_then(|a| a.parse::<f64>().ok());
    let count = number(0).unwrap_or(100.0) as u32;
    let seed = number(1).unwrap_or(0.0) as u64;
    let strategy = draw::tooth(number(2).unwrap_or(1.0));
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    let mut runner =
        TestRunner::new_with_rng(Config::default(), TestRng::from_seed(RngAlgorithm::ChaCha, &bytes));
    let mut tally: BTreeMap<String, u32> = BTreeMap::new();
    let mut add = |what: String| *tally.entry(what).or_default() += 1;
    for k in 0..count {
        let Ok(tree) = strategy.new_tree(&mut runner) else { continue };
        let spec = tree.current();
        if number(3).is_some_and(|only| only as u32 != k) {
            continue;
        }
        let accepted = match spec.check() {
            Ok(()) => true,
            Err(MeshError::OutOfRange { key, .. } | MeshError::Impossible { key, .. }) => {
                add(format!("refused at {key}"));
                continue;
            }
            Err(other) => {
                println!("{k}: check fails strangely: {other}\n{spec:?}");
                continue;
            }
        };
        assert!(accepted);
        let clock = Instant::now();
        let made = catch_unwind(AssertUnwindSafe(|| mesh_tooth(&spec, &Silent)));
        let seconds = clock.elapsed().as_secs_f64();
        let verdict = match made {
            Err(_) => "PANIC".to_owned(),
            Ok(Err(error)) => {
                let text = error.to_string();
                let kind = match error {
                    MeshError::Impossible { key, .. } | MeshError::OutOfRange { key, .. } => {
                        format!("late refusal at {key}")
                    }
                    MeshError::UnderResolved { .. } => "UNDER-RESOLVED".to_owned(),
                    MeshError::NoRoom { .. } => "NO ROOM".to_owned(),
                    MeshError::Inverted { .. } => "INVERTED".to_owned(),
                    MeshError::TooLarge { .. } => "too large".to_owned(),
                    _ => "ERROR".to_owned(),
                };
                println!("{k}: {kind}: {text} ({seconds:.1} s)\n  {spec:?}");
                kind
            }
            Ok(Ok(made)) => match audit::audit(&made) {
                Err(sentence) => {
                    println!("{k}: AUDIT: {sentence}\n  {spec:?}");
                    "AUDIT".to_owned()
                }
                Ok(measured) => {
                    let q = &made.quality;
                    let jacobian = q.regions.iter().map(|r| r.smallest_scaled_jacobian).fold(1.0, f64::min);
                    println!(
                        "{k}: {} | {} tets | {seconds:.2} s | jacobian {jacobian:.3} sampled {:.3} | volume {:+.4} block {:+.1e} | thickness {:.2} {:.1} % | root {:.3} mm | {}",
                        gomphosis_name(&spec),
                        q.tetrahedra,
                        measured.smallest_jacobian,
                        measured.tooth_volume_error,
                        measured.block_volume_error,
                        q.ligament_thickness.mean_error_percent,
                        q.ligament_thickness.worst_error_percent,
                        q.root_deviation_mm,
                        q.remarks.join("; ")
                    );
                    if q.remarks.iter().any(|r| r.starts_with("the element size was reduced")) {
                        "meshed, with a reduced size".to_owned()
                    } else {
                        "meshed".to_owned()
                    }
                }
            },
        };
        add(verdict);
    }
    for (what, times) in tally {
        println!("{times:6} {what}");
    }
}

fn gomphosis_name(spec: &gomphosis_mesh_gen::ToothInSocket) -> String {
    match spec.tooth.form {
        gomphosis_mesh_gen::ToothForm::Anatomical(kind) => kind.name(),
        gomphosis_mesh_gen::ToothForm::Paraboloid => "paraboloid".to_owned(),
        gomphosis_mesh_gen::ToothForm::EllipticParaboloid => "elliptic paraboloid".to_owned(),
    }
}
