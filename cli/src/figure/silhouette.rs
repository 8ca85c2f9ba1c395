//! The outline of a body seen along the arch (from distal to mesial, x to the right and z up): its surface
//! triangles are projected, their coverage is counted on a fine grid, and the outline is the contour of half
//! coverage.

use gomphosis_mesh_gen::{TetMesh, triangle};
use nalgebra::Vector3;

use super::contour::Grid;
use super::svg::At;

/// Samples a millimetre along each axis.
const SAMPLES_PER_MM: f64 = 80.0;
/// Samples of a coverage cell along each axis.
const CELL: usize = 4;

/// Each side of a curved triangle is divided into this many.
const DIVISIONS: usize = 4;

/// Closed outlines, mm, of some surfaces of a mesh whose nodes are displaced.
pub(crate) fn outline(
    mesh: &TetMesh,
    surfaces: &[&str],
    motion: &dyn Fn(u32) -> Vector3<f64>,
) -> Vec<Vec<At>> {
    let place = |n: u32| {
        let p = mesh.nodes()[n as usize].coords + motion(n);
        [p.x, p.z]
    };
    let triangles: Vec<[At; 3]> = surfaces
        .iter()
        .flat_map(|name| mesh.surface(name))
        .flat_map(|face| divide(&face.map(place)))
        .collect();
    project(&triangles)
}

/// Flat triangles along a curved one (corners, then the middles of the sides ab, bc, ca).
fn divide(nodes: &[At; 6]) -> Vec<[At; 3]> {
    let point = |i: usize, j: usize| {
        let (b, c) = (i as f64 / DIVISIONS as f64, j as f64 / DIVISIONS as f64);
        let weights = triangle::shape([1.0 - b - c, b, c]);
        let sum = |k: usize| weights.iter().zip(nodes).map(|(w, p)| w * p[k]).sum();
        [sum(0), sum(1)]
    };
    let mut parts = Vec::with_capacity(DIVISIONS * DIVISIONS);
    for i in 0..DIVISIONS {
        for j in 0..DIVISIONS - i {
            parts.push([point(i, j), point(i + 1, j), point(i, j + 1)]);
            if i + j + 2 <= DIVISIONS {
                parts.push([point(i + 1, j), point(i + 1, j + 1), point(i, j + 1)]);
            }
        }
    }
    parts
}

/// A closed ring with the steps of the grid evened out.
fn smoothed(ring: &[At]) -> Vec<At> {
    // The last point repeats the first.
    let n = ring.len() - 1;
    let mut points = ring[..n].to_vec();
    for _ in 0..2 {
        points = (0..n)
            .map(|k| {
                let (a, b, c) = (points[(k + n - 1) % n], points[k], points[(k + 1) % n]);
                [0, 1].map(|i| 0.25 * (a[i] + 2.0 * b[i] + c[i]))
            })
            .collect();
    }
    points
}

fn project(triangles: &[[At; 3]]) -> Vec<Vec<At>> {
    let mut low = [f64::MAX; 2];
    let mut high = [f64::MIN; 2];
    for point in triangles.iter().flatten() {
        for k in 0..2 {
            low[k] = low[k].min(point[k]);
            high[k] = high[k].max(point[k]);
        }
    }
    let cell = CELL as f64 / SAMPLES_PER_MM;
    let cells = [0, 1].map(|k| ((high[k] - low[k]) / cell).ceil() as usize + 4);
    // Outlines of something absurdly large, or of nothing, are left out.
    if triangles.is_empty() || cells.iter().any(|&n| n > 4000) {
        return Vec::new();
    }
    let origin = low.map(|v| v - 2.0 * cell);
    let samples = cells.map(|n| n * CELL);
    let mut covered = vec![false; samples[0] * samples[1]];
    for triangle in triangles {
        cover(
            &triangle.map(|p| [(p[0] - origin[0]) * SAMPLES_PER_MM, (p[1] - origin[1]) * SAMPLES_PER_MM]),
            samples,
            &mut covered,
        );
    }
    let axis = |k: usize| (0..cells[k]).map(|i| origin[k] + (i as f64 + 0.5) * cell).collect::<Vec<_>>();
    let share = |i: usize, j: usize| {
        let count = (0..CELL * CELL)
            .filter(|s| covered[(j * CELL + s / CELL) * samples[0] + i * CELL + s % CELL])
            .count();
        count as f64 / (CELL * CELL) as f64
    };
    Grid::new(axis(0), axis(1), share)
        .above(0.5)
        .iter()
        .filter(|ring| ring.len() > 8)
        .map(|ring| smoothed(ring))
        .collect()
}

/// Marks the samples (at cell centres) inside a triangle.
fn cover(triangle: &[At; 3], samples: [usize; 2], covered: &mut [bool]) {
    let range = |k: usize| {
        let low = triangle.iter().map(|p| p[k]).fold(f64::MAX, f64::min);
        let high = triangle.iter().map(|p| p[k]).fold(f64::MIN, f64::max);
        (
            (low - 0.5).ceil().max(0.0) as usize,
            ((high - 0.5).floor() + 1.0).clamp(0.0, samples[k] as f64) as usize,
        )
    };
    let [a, b, c] = *triangle;
    let side = |p: At, q: At, s: At| (q[0] - p[0]) * (s[1] - p[1]) - (q[1] - p[1]) * (s[0] - p[0]);
    let turn = side(a, b, c).signum();
    let (columns, rows) = (range(0), range(1));
    for j in rows.0..rows.1 {
        for i in columns.0..columns.1 {
            let s = [i as f64 + 0.5, j as f64 + 0.5];
            if [side(a, b, s), side(b, c, s), side(c, a, s)].iter().all(|v| v * turn >= 0.0) {
                covered[j * samples[0] + i] = true;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_outline_of_a_disc_of_triangles_is_the_circle() {
        let rim = |k: u32| {
            let angle = f64::from(k) * std::f64::consts::TAU / 60.0;
            [3.0 * angle.cos(), 3.0 * angle.sin()]
        };
        let fan: Vec<[At; 3]> = (0..60).map(|k| [[0.0, 0.0], rim(k), rim(k + 1)]).collect();
        let rings = project(&fan);
        assert_eq!(rings.len(), 1);
        for point in &rings[0] {
            let radius = point[0].hypot(point[1]);
            assert!((radius - 3.0).abs() < 0.02, "outline at radius {radius}");
        }
    }
}
