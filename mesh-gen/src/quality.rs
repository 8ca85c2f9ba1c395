//! What a finished mesh is like, and how far it is from the shape that was asked.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::mesh::{Region, TetMesh, bernstein, ratio, surface};
use crate::socket::Socket;
use crate::specimen::{QualityReport, RegionQuality, ThicknessReport};
use crate::tooth::{ToothSolid, V3};
use crate::triangle;

/// The report, and how much thinner than asked the layer is on each face of the wall at the points of the area rule, mm.
/// `bounds`: a box that holds the tooth.
pub(crate) fn report(
    mesh: &TetMesh,
    socket: &Socket,
    bounds: (V3, V3),
    remarks: Vec<String>,
) -> (QualityReport, Vec<[f64; 6]>) {
    let tooth_volume = exact_tooth_volume(socket.solid, bounds);
    let mut regions = Vec::new();
    for region in Region::ALL {
        let cells: Vec<usize> = (0..mesh.cells().len()).filter(|&c| mesh.regions()[c] == region).collect();
        if cells.is_empty() {
            continue;
        }
        let measured: Vec<(f64, f64, f64, f64)> = cells
            .par_iter()
            .map(|&c| {
                let nodes = mesh.cell_nodes(c);
                let (low, high) = dihedrals(&nodes);
                let coefficients = bernstein(&nodes);
                (coefficients.1 / 6.0, low, high, ratio(coefficients))
            })
            .collect();
        regions.push(RegionQuality {
            region,
            tetrahedra: cells.len(),
            volume_mm3: measured.iter().map(|m| m.0).sum(),
            exact_volume_mm3: (region == Region::Tooth).then_some(tooth_volume),
            smallest_dihedral_deg: measured.iter().map(|m| m.1).fold(f64::INFINITY, f64::min),
            largest_dihedral_deg: measured.iter().map(|m| m.2).fold(0.0, f64::max),
            smallest_scaled_jacobian: measured.iter().map(|m| m.3).fold(f64::INFINITY, f64::min),
        });
    }
    let samples = thickness_samples(mesh, socket);
    let (ligament_thickness, root_deviation_mm) = thickness(&samples);
    let shortfall = samples
        .chunks_exact(triangle::RULE.len())
        .map(|face| std::array::from_fn(|k| face[k].asked - face[k].achieved))
        .collect();
    let report = QualityReport {
        nodes: mesh.nodes().len(),
        tetrahedra: mesh.cells().len(),
        regions,
        ligament_thickness,
        root_deviation_mm,
        remarks,
    };
    (report, shortfall)
}

/// Smallest and largest dihedral angle between the corner planes, degrees.
fn dihedrals(nodes: &[Point3<f64>; 10]) -> (f64, f64) {
    let p = [0, 1, 2, 3].map(|k| nodes[k].coords);
    let faces = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];
    let normals = faces.map(|[a, b, c]: [usize; 3]| (p[b] - p[a]).cross(&(p[c] - p[a])).normalize());
    let (mut largest, mut smallest) = (-1.0_f64, 1.0_f64);
    for i in 0..4 {
        for j in i + 1..4 {
            let cosine = -normals[i].dot(&normals[j]);
            largest = largest.max(cosine);
            smallest = smallest.min(cosine);
        }
    }
    (largest.min(1.0).acos().to_degrees(), smallest.max(-1.0).acos().to_degrees())
}

fn thickness_samples(mesh: &TetMesh, socket: &Socket) -> Vec<ThicknessSample> {
    let points = |t: &[u32; 6]| t.map(|n| mesh.nodes()[n as usize]);
    // Root and wall triangles come in the same order, with corners in the same order.
    mesh.surface(surface::ROOT)
        .par_iter()
        .zip(mesh.surface(surface::SOCKET_WALL))
        .flat_map_iter(|(root, wall)| {
            let (root, wall) = (points(root), points(wall));
            triangle::RULE.into_iter().map(move |(l, share)| {
                let (r, w) = (triangle::point_at(&root, l, share), triangle::point_at(&wall, l, share));
                let at = r.position.coords;
                ThicknessSample {
                    at,
                    area: r.weight,
                    achieved: (w.position - r.position).dot(&socket.solid.normal(&at)),
                    asked: socket.asked_thickness(&at),
                    deviation: socket.solid.sample(&at).value.abs(),
                }
            })
        })
        .collect()
}

fn thickness(samples: &[ThicknessSample]) -> (ThicknessReport, f64) {
    let area: f64 = samples.iter().map(|s| s.area).sum();
    let mut report = ThicknessReport {
        asked_mean_mm: samples.iter().map(|s| s.area * s.asked).sum::<f64>() / area,
        achieved_mean_mm: samples.iter().map(|s| s.area * s.achieved).sum::<f64>() / area,
        mean_error_percent: 100.0 * samples.iter().map(|s| s.area * s.error()).sum::<f64>() / area,
        worst_error_percent: 0.0,
        worst_at: Point3::origin(),
    };
    if let Some(worst) = samples.iter().max_by(|a, b| a.error().total_cmp(&b.error())) {
        report.worst_error_percent = 100.0 * worst.error();
        report.worst_at = Point3::from(worst.at);
    }
    (report, samples.iter().map(|s| s.deviation).fold(0.0, f64::max))
}

/// The layer at one point of the root surface; lengths in mm, area in mm2.
struct ThicknessSample {
    at: V3,
    area: f64,
    achieved: f64,
    asked: f64,
    deviation: f64,
}

impl ThicknessSample {
    fn error(&self) -> f64 {
        (self.achieved - self.asked).abs() / self.asked
    }
}

/// Volume of the tooth from its implicit function alone: for every line of a fine grid in x and y, the
/// lengths along z where the function is negative.
fn exact_tooth_volume(solid: &ToothSolid, (low, high): (V3, V3)) -> f64 {
    const STEP: f64 = 0.2;
    let columns = ((high.x - low.x) / STEP).ceil() as usize;
    let rows = ((high.y - low.y) / STEP).ceil() as usize;
    let lengths: f64 = (0..columns * rows)
        .into_par_iter()
        .map(|i| {
            let x = low.x + (i % columns) as f64 * STEP + 0.5 * STEP;
            let y = low.y + (i / columns) as f64 * STEP + 0.5 * STEP;
            line_length(solid, x, y, low.z, high.z)
        })
        .collect::<Vec<_>>()
        .iter()
        .sum();
    lengths * STEP * STEP
}

fn line_length(solid: &ToothSolid, x: f64, y: f64, low: f64, high: f64) -> f64 {
    let value = |z: f64| solid.value(&V3::new(x, y, z));
    let mut inside = 0.0;
    let (mut z, mut f) = (low, value(low));
    while z < high {
        // March by the distance, but never by less than a grid step.
        let next = (z + f.abs().max(0.15)).min(high);
        let g = value(next);
        if (f < 0.0) == (g < 0.0) {
            if f < 0.0 {
                inside += next - z;
            }
        } else {
            let at = |z: f64| V3::new(x, y, z);
            let crossing = z + (next - z) * solid.crossing(&at(z), &at(next), [f, g]);
            inside += if f < 0.0 { crossing - z } else { next - crossing };
        }
        (z, f) = (next, g);
    }
    inside
}
