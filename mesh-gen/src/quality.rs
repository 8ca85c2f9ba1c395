//! What a finished mesh is like, and how far it is from the shape that was asked.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::mesh::{Region, TetMesh, bernstein_ratio, shape_gradients, surface};
use crate::socket::Socket;
use crate::specimen::{QualityReport, RegionQuality, ThicknessReport};
use crate::tooth::{ToothSolid, V3};

/// `bounds`: a box that holds the tooth.
pub(crate) fn report(
    mesh: &TetMesh,
    socket: &Socket,
    bounds: (V3, V3),
    remarks: Vec<String>,
) -> QualityReport {
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
                (volume(&nodes), low, high, bernstein_ratio(&nodes))
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
    let (ligament_thickness, root_deviation_mm) = thickness(mesh, socket);
    QualityReport {
        nodes: mesh.nodes().len(),
        tetrahedra: mesh.cells().len(),
        regions,
        ligament_thickness,
        root_deviation_mm,
        remarks,
    }
}

/// Volume of a curved element: det J is a cubic, integrated exactly by the degree-3 rule of Stroud (five
/// points, one weight negative) on the unit tetrahedron.
pub(crate) fn volume(nodes: &[Point3<f64>; 10]) -> f64 {
    let mut total = 0.0;
    let det = |l: [f64; 4]| {
        let g = shape_gradients(l);
        let mut j = nalgebra::Matrix3::zeros();
        for (p, g) in nodes.iter().zip(g) {
            j += p.coords * g.transpose();
        }
        j.determinant()
    };
    total += -0.8 / 6.0 * det([0.25; 4]);
    for k in 0..4 {
        let mut l = [1.0 / 6.0; 4];
        l[k] = 0.5;
        total += 0.45 / 6.0 * det(l);
    }
    total
}

/// Smallest and largest dihedral angle between the corner planes, degrees.
fn dihedrals(nodes: &[Point3<f64>; 10]) -> (f64, f64) {
    let p = [0, 1, 2, 3].map(|k| nodes[k].coords);
    let faces = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];
    let normals = faces.map(|[a, b, c]: [usize; 3]| (p[b] - p[a]).cross(&(p[c] - p[a])).normalize());
    let (mut low, mut high) = (180.0_f64, 0.0_f64);
    for i in 0..4 {
        for j in i + 1..4 {
            let angle = (-normals[i].dot(&normals[j])).clamp(-1.0, 1.0).acos().to_degrees();
            low = low.min(angle);
            high = high.max(angle);
        }
    }
    (low, high)
}

/// Points and weights of a six-point rule of degree 4 on triangles (Dunavant 1985), barycentric, weights sum
/// to 1.
const TRIANGLE: [([f64; 3], f64); 6] = {
    const A: f64 = 0.445_948_490_915_965;
    const B: f64 = 0.091_576_213_509_771;
    const WA: f64 = 0.223_381_589_678_011;
    const WB: f64 = 0.109_951_743_655_322;
    [
        ([1.0 - 2.0 * A, A, A], WA),
        ([A, 1.0 - 2.0 * A, A], WA),
        ([A, A, 1.0 - 2.0 * A], WA),
        ([1.0 - 2.0 * B, B, B], WB),
        ([B, 1.0 - 2.0 * B, B], WB),
        ([B, B, 1.0 - 2.0 * B], WB),
    ]
};

/// Point, and area element times weight, at a barycentric place of a six-node triangle.
fn on_triangle(nodes: &[V3; 6], l: [f64; 3]) -> (V3, f64) {
    let [a, b, c] = l;
    let n = [
        a * (2.0 * a - 1.0),
        b * (2.0 * b - 1.0),
        c * (2.0 * c - 1.0),
        4.0 * a * b,
        4.0 * b * c,
        4.0 * c * a,
    ];
    // Derivatives to b and c with a = 1 - b - c.
    let db = [1.0 - 4.0 * a, 4.0 * b - 1.0, 0.0, 4.0 * (a - b), 4.0 * c, -4.0 * c];
    let dc = [1.0 - 4.0 * a, 0.0, 4.0 * c - 1.0, -4.0 * b, 4.0 * b, 4.0 * (a - c)];
    let sum = |w: [f64; 6]| nodes.iter().zip(w).map(|(p, w)| p * w).sum::<V3>();
    (sum(n), 0.5 * sum(db).cross(&sum(dc)).norm())
}

fn thickness(mesh: &TetMesh, socket: &Socket) -> (ThicknessReport, f64) {
    let points = |t: &[u32; 6]| t.map(|n| mesh.nodes()[n as usize].coords);
    // Root and wall triangles come in the same order, with corners in the same order.
    let pairs: Vec<([V3; 6], [V3; 6])> = mesh
        .surface(surface::ROOT)
        .iter()
        .zip(mesh.surface(surface::SOCKET_WALL))
        .map(|(r, w)| (points(r), points(w)))
        .collect();
    let samples: Vec<ThicknessSample> = pairs
        .par_iter()
        .flat_map_iter(|(root, wall)| {
            TRIANGLE.into_iter().map(move |(l, weight)| {
                let (at, area) = on_triangle(root, l);
                let (w, _) = on_triangle(wall, l);
                let achieved = (w - at).dot(&socket.solid.normal(&at));
                ThicknessSample {
                    at,
                    area: area * weight,
                    achieved,
                    asked: socket.asked_thickness(&at),
                    deviation: socket.solid.sample(&at).value.abs(),
                }
            })
        })
        .collect();
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
    const STEP: f64 = 0.12;
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
            let (mut a, mut b) = (z, next);
            for _ in 0..40 {
                let m = 0.5 * (a + b);
                if (value(m) < 0.0) == (f < 0.0) {
                    a = m;
                } else {
                    b = m;
                }
            }
            inside += if f < 0.0 { a - z } else { next - a };
        }
        (z, f) = (next, g);
    }
    inside
}
