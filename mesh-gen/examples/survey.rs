//! Meshes every kind of tooth at several element sizes, bone levels and ligament thicknesses, and prints what
//! the meshes are like. `survey [TOOTH [SIZE [LOSS_FRACTION [THICKNESS]]]]` restricts it to one.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use std::time::Instant;

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number = |k: usize| arguments.get(k).and_then(|a| a.parse::<f64>().ok());
    let kinds: Vec<ToothKind> = match arguments.first().map(String::as_str) {
        None | Some("all") => ToothKind::ALL.to_vec(),
        Some(name) => ToothKind::parse(name).into_iter().collect(),
    };
    let sizes = number(1).map_or(vec![1.6, 0.8, 0.4], |s| vec![s]);
    let losses = number(2).map_or(vec![0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6], |s| vec![s]);
    let thicknesses = number(3).map_or(vec![0.15, 0.2, 0.4], |s| vec![s]);
    println!(
        "tooth                  h loss    t  | nodes   tets | dihedral low high (tooth, bone) | jacobian tooth lig bone | thickness mean worst % | root dev | volume % | s"
    );
    for kind in kinds {
        for &size in &sizes {
            for &loss in &losses {
                for &thickness in &thicknesses {
                    let healthy = ToothInSocket::handbook(kind);
                    let mut spec = healthy.with_bone_loss(loss * healthy.bony_root_mm());
                    spec.mesh.element_size_mm = size;
                    spec.ligament.thickness_mm = thickness;
                    one(&kind.name(), &spec);
                }
            }
        }
    }
}

fn one(name: &str, spec: &ToothInSocket) {
    let start = Instant::now();
    let result = mesh_tooth(spec, &Silent);
    let seconds = start.elapsed().as_secs_f64();
    let label = format!(
        "{name:<21} {:.2} {:4.1} {:.2}",
        spec.mesh.element_size_mm, spec.bone.loss_mm, spec.ligament.thickness_mm
    );
    match result {
        Ok(made) => {
            let q = &made.quality;
            let solid: Vec<_> = q.regions.iter().filter(|r| r.region as u8 != 1).collect();
            let low = solid.iter().map(|r| r.smallest_dihedral_deg).fold(180.0, f64::min);
            let high = solid.iter().map(|r| r.largest_dihedral_deg).fold(0.0, f64::max);
            let jacobian = |n: u8| {
                q.regions
                    .iter()
                    .filter(|r| if n < 2 { r.region as u8 == n } else { r.region as u8 >= 2 })
                    .map(|r| r.smallest_scaled_jacobian)
                    .fold(1.0, f64::min)
            };
            let tooth = &q.regions[0];
            let volume = tooth.exact_volume_mm3.map_or(0.0, |v| 100.0 * (tooth.volume_mm3 / v - 1.0));
            println!(
                "{label} | {:6} {:6} | {low:5.1} {high:5.1} | {:.2} {:.2} {:.2} | {:6.3} {:5.1} | {:.3} | {volume:+.3} | {seconds:.2} {}",
                q.nodes,
                q.tetrahedra,
                jacobian(0),
                jacobian(1),
                jacobian(2),
                q.ligament_thickness.mean_error_percent,
                q.ligament_thickness.worst_error_percent,
                q.root_deviation_mm,
                q.remarks.join("; "),
            );
        }
        Err(error) => println!("{label} | FAILED {error} ({seconds:.2} s)"),
    }
}
