//! Lowers the crest across the furcation of every kind of tooth with several roots, meshes and audits each level, and
//! prints what came out: `survey_furcations [STEP_MM [FROM_MM [TO_MM [TOOTH]]]]`, the crest from `FROM` to `TO` below the
//! furcation.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use std::time::Instant;

use gomphosis_mesh_gen::{RootPlan, Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_tests::audit;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number =
        |k: usize, default: f64| arguments.get(k).and_then(|a| a.parse::<f64>().ok()).unwrap_or(default);
    let (step, from, to) = (number(0, 0.05), number(1, -0.7), number(2, 0.7));
    let only = arguments.get(3).and_then(|name| ToothKind::parse(name));
    let (mut meshed, mut moved, mut wrong) = (0, 0, 0);
    for kind in ToothKind::ALL.into_iter().filter(|kind| only.is_none_or(|one| one == *kind)) {
        let handbook = ToothInSocket::handbook(kind);
        if handbook.tooth.root.plan == RootPlan::Single {
            continue;
        }
        for k in 0..=((to - from) / step).round() as i32 {
            let below = from + step * f64::from(k);
            let crest = handbook.tooth.root.furcation_mm + below;
            let mut spec = handbook;
            spec.bone.loss_mm = crest - spec.bone.crest_below_cej_mm;
            spec.attachment.height_mm = crest + 0.5 * spec.tooth.crown.height_mm;
            let clock = Instant::now();
            let verdict = match mesh_tooth(&spec, &Silent) {
                Err(error) => {
                    wrong += 1;
                    format!("FAILED: {error}")
                }
                Ok(made) => match audit::audit(&made) {
                    Err(sentence) => {
                        wrong += 1;
                        format!("AUDIT: {sentence}")
                    }
                    Ok(measured) => {
                        meshed += 1;
                        let q = &made.quality;
                        moved += i32::from(q.remarks.iter().any(|r| r.contains("the roots part")));
                        format!(
                            "{} tets | jacobian {:.3} | thickness {:.2} {:.1} % | {}",
                            q.tetrahedra,
                            measured.smallest_jacobian,
                            q.ligament_thickness.mean_error_percent,
                            q.ligament_thickness.worst_error_percent,
                            q.remarks.join("; ")
                        )
                    }
                },
            };
            println!("{:<19} {below:+.2} | {:.1} s | {verdict}", kind.name(), clock.elapsed().as_secs_f64());
        }
    }
    println!("{meshed} meshed, {moved} of them with a furcation that was moved; {wrong} not");
}
