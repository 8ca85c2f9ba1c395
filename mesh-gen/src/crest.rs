//! Rows of low elements under the crest line.
//!
//! Where the ligament ends at the free crest, the pressure falls to nothing within about one thickness of the layer, and
//! the stress is singular along the two edges where the layer leaves root and wall. Elements as high as they are wide
//! show neither: they are the largest error of the tooth's compliance. So the plane of the crest is opened around the crest line: its nodes go down along the root, and the
//! gap between the two copies of each face around them is filled with rows that grow away from the crest. Rows cost few
//! nodes, because they do not refine along the line. Rows lower than the layers are thick gain nothing more: what is left
//! is the error across the layers (travel of the paraboloid root at Poisson ratio 0.45 against the axisymmetric reference:
//! 0.56 percent without rows, 0.13 with these, 0.13 to 0.21 with four or five lower ones).

use crate::lattice::snap::volume6;
use crate::lattice::{Body, LinearMesh};
use crate::layer::Interface;
use crate::mesh::FACES;
use crate::tooth::{ToothSolid, V3};

/// Height of a row over that of the one above it.
const GROWTH: f64 = 1.5;

/// Number of rows.
const ROWS: usize = 3;

/// Height of the first row over the thickness of the ligament, at the default element size.
const FIRST: f64 = 0.4;

/// Largest height of all rows over the element size: more leaves the elements below too little.
const MOST: f64 = 0.35;

/// Share of its volume that an element below the rows must keep.
const KEEP_VOLUME: f64 = 0.25;

/// How much lower the rows become where elements lose more, and how often.
const LOWER: f64 = 0.75;
const TRIALS: usize = 12;

/// Depths of the ends of the rows below the crest, mm: from the thickness of the ligament and the element size on the
/// root, both mm, and the size that counts as the default one. All scale with the element size, so that meshes of
/// several sizes are of one family.
pub(crate) fn depths(thickness: f64, size: f64, default_size: f64) -> [f64; ROWS] {
    let first = FIRST * thickness * size / default_size;
    let mut depths = [0.0; ROWS];
    let (mut height, mut depth) = (first, 0.0);
    for d in &mut depths {
        depth += height;
        height *= GROWTH;
        *d = depth;
    }
    let scale = (MOST * size / depths[ROWS - 1]).min(1.0);
    depths.map(|d| d * scale)
}

/// Nodes of the crest line: ends of the edges that bound the interface, growing.
fn crest_line(interface: &Interface) -> Vec<u32> {
    let mut edges: Vec<[u32; 2]> = interface
        .triangles
        .iter()
        .flat_map(|t| [0, 1, 2].map(|k| [t[k].min(t[(k + 1) % 3]), t[k].max(t[(k + 1) % 3])]))
        .collect();
    edges.sort_unstable();
    let mut line: Vec<u32> =
        edges.chunk_by(|a, b| a == b).filter(|group| group.len() == 1).flat_map(|group| group[0]).collect();
    line.sort_unstable();
    line.dedup();
    line
}

/// A column of nodes down the root from a node of the crest line.
struct Column {
    /// From the crest down, the node of the crest line first.
    nodes: Vec<u32>,
    /// Share of the wanted depths.
    share: f64,
}

/// Inserts the rows. Returns which nodes belong to them, the crest line included.
pub(crate) fn insert_rows(
    mesh: &mut LinearMesh,
    interface: &Interface,
    solid: &ToothSolid,
    depths: &[f64],
) -> Vec<bool> {
    let line = crest_line(interface);
    let column_of = |n: u32| line.binary_search(&n).ok();
    // Elements below the crest that touch the line.
    let below: Vec<usize> = (0..mesh.tets.len())
        .filter(|&t| !mesh.above[t] && mesh.tets[t].iter().any(|&n| column_of(n).is_some()))
        .collect();
    let faces = crest_faces(mesh, &below, &column_of);
    let deepest = depths[depths.len() - 1];
    let place = |p: &V3, depth: f64| solid.project(&V3::new(p.x, p.y, p.z - depth), [false, false, true]);

    let mut columns: Vec<Column> = line.iter().map(|&n| Column { nodes: vec![n], share: 1.0 }).collect();
    for _ in 0..TRIALS {
        let ends: Vec<V3> =
            columns.iter().map(|c| place(&mesh.nodes[c.nodes[0] as usize], c.share * deepest)).collect();
        let mut low = vec![false; columns.len()];
        for &t in &below {
            let tet = mesh.tets[t];
            let old = volume6(tet.map(|n| mesh.nodes[n as usize]));
            let new = volume6(tet.map(|n| column_of(n).map_or(mesh.nodes[n as usize], |c| ends[c])));
            if new < KEEP_VOLUME * old {
                for c in tet.into_iter().filter_map(column_of) {
                    low[c] = true;
                }
            }
        }
        if !low.contains(&true) {
            break;
        }
        for (column, _) in columns.iter_mut().zip(&low).filter(|(_, low)| **low) {
            column.share *= LOWER;
        }
    }
    for column in &mut columns {
        for depth in depths {
            let p = place(&mesh.nodes[column.nodes[0] as usize], column.share * depth);
            column.nodes.push(mesh.nodes.len() as u32);
            mesh.nodes.push(p);
            mesh.masks.push(0);
            mesh.on_surface.push(true);
        }
    }
    for t in below {
        for n in &mut mesh.tets[t] {
            if let Some(c) = column_of(*n) {
                *n = columns[c].nodes[depths.len()];
            }
        }
    }
    let mut in_rows = vec![false; mesh.nodes.len()];
    for (face, body) in faces {
        for row in 0..depths.len() {
            let end =
                |k: usize, level: usize| column_of(face[k]).map_or(face[k], |c| columns[c].nodes[level]);
            for tet in wedge(face, |k| end(k, row + 1), |k| end(k, row)) {
                for n in tet {
                    in_rows[n as usize] = true;
                }
                mesh.tets.push(tet);
                mesh.bodies.push(body);
                mesh.above.push(false);
            }
        }
    }
    in_rows
}

/// Faces in the plane of the crest that touch its line, upward, with the body below them.
fn crest_faces(
    mesh: &LinearMesh,
    below: &[usize],
    column_of: &impl Fn(u32) -> Option<usize>,
) -> Vec<([u32; 3], Body)> {
    let key = |mut face: [u32; 3]| {
        face.sort_unstable();
        face
    };
    let touches = |t: &[u32; 4], local: [usize; 6]| {
        let face = [t[local[0]], t[local[1]], t[local[2]]];
        face.iter().any(|&n| column_of(n).is_some()).then_some(face)
    };
    // Faces of everything around the line, told apart by the side of the plane that they are seen from.
    let mut seen: Vec<([u32; 3], bool, usize, [u32; 3])> = Vec::new();
    for (t, tet) in mesh.tets.iter().enumerate() {
        if mesh.above[t] || below.binary_search(&t).is_ok() {
            for local in FACES {
                if let Some(face) = touches(tet, local) {
                    seen.push((key(face), mesh.above[t], t, face));
                }
            }
        }
    }
    seen.sort_unstable();
    let in_crest = |face: &[u32; 3]| face.iter().all(|&n| mesh.nodes[n as usize].z.abs() < 1e-9);
    seen.chunk_by(|a, b| a.0 == b.0)
        .filter_map(|group| match group {
            [(_, false, t, face), (_, true, ..)] => Some((*face, mesh.bodies[*t])),
            [(_, false, t, face)] if mesh.bodies[*t].is_bone() && in_crest(face) => {
                Some((*face, mesh.bodies[*t]))
            }
            _ => None,
        })
        .collect()
}

/// Tetrahedra between two copies of an upward face; what has no height where a corner has one copy only is left out.
/// Split by the numbers of the corners, so that neighbours agree (Dompierre et al. 1999, from memory).
fn wedge(face: [u32; 3], low: impl Fn(usize) -> u32, high: impl Fn(usize) -> u32) -> Vec<[u32; 4]> {
    let mut order = [0, 1, 2];
    order.sort_unstable_by_key(|&k| face[k]);
    let [a, b, c] = order;
    let mut tets = vec![
        [low(a), low(b), low(c), high(c)],
        [low(a), low(b), high(c), high(b)],
        [low(a), high(b), high(c), high(a)],
    ];
    // An odd order of the corners mirrors the pieces.
    if (b + 3 - a) % 3 == 2 {
        for tet in &mut tets {
            tet.swap(1, 2);
        }
    }
    tets.retain(|t| (0..4).all(|i| (0..i).all(|j| t[i] != t[j])));
    tets
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tooth::anatomy;
    use crate::{Silent, ToothInSocket, ToothKind, mesh_tooth, surface};

    /// All rows scale with the element size, and leave most of an element to what is below them.
    #[test]
    fn depths_of_the_rows_scale_with_the_elements() {
        let [coarse, fine] = [1.2, 0.6].map(|size| depths(0.2, size, 1.2));
        for (coarse, fine) in coarse.iter().zip(fine) {
            approx::assert_relative_eq!(*coarse, 2.0 * fine, epsilon = 1e-12);
        }
        approx::assert_relative_eq!(coarse[0], 0.08, epsilon = 1e-12);
        assert!(coarse.windows(2).all(|d| d[1] > d[0]));
        approx::assert_relative_eq!(depths(0.5, 1.2, 1.2)[ROWS - 1], MOST * 1.2, epsilon = 1e-12);
    }

    /// Every corner of a root face that has an edge on the crest is at most one row deep, and lies on the tooth.
    #[test]
    fn faces_along_the_crest_line_are_one_row_high() {
        for number in [0, 3, 5] {
            let spec = ToothInSocket::handbook(ToothKind::ALL[number]);
            let made = mesh_tooth(&spec, &Silent).unwrap();
            let solid = anatomy::build(&spec);
            let first = depths(spec.ligament.thickness_mm, 1.2, 1.2)[0];
            let mut along = 0;
            for face in made.mesh.surface(surface::ROOT) {
                let corners = [0, 1, 2].map(|k| made.mesh.nodes()[face[k] as usize]);
                if corners.iter().filter(|p| p.z == 0.0).count() < 2 {
                    continue;
                }
                along += 1;
                for p in corners {
                    assert!(p.z > -first * (1.0 + 1e-9), "{}: {p}", spec_name(number));
                    assert!(solid.value(&p.coords).abs() < 1e-4, "{}: {p}", spec_name(number));
                }
            }
            assert!(along > 10, "{}: {along} faces along the crest", spec_name(number));
        }
    }

    fn spec_name(number: usize) -> String {
        ToothKind::ALL[number].name()
    }

    /// The three pieces of a prism fill it, whatever the order of the numbers, and a corner without a second copy takes
    /// away its part only.
    #[test]
    fn pieces_fill_the_gap() {
        let corner = [V3::new(0.0, 0.0, 0.0), V3::new(1.0, 0.0, 0.0), V3::new(0.0, 1.0, 0.0)];
        for face in [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1], [2, 1, 0], [1, 0, 2]] {
            for (opened, volume) in [(3, 3.0), (2, 2.0), (1, 1.0)] {
                // Positions by place in the face, numbers by the face: upward whatever the numbers.
                let high = |k: usize| face[k];
                let low = |k: usize| if k < opened { face[k] + 10 } else { face[k] };
                let at = |n: u32| {
                    let k = face.iter().position(|&f| f == n % 10).unwrap();
                    corner[k] - V3::z() * if n >= 10 { 1.0 } else { 0.0 }
                };
                let pieces = wedge(face, low, high);
                let volumes: Vec<f64> = pieces.iter().map(|t| volume6(t.map(at))).collect();
                assert!(volumes.iter().all(|v| *v > 0.0), "{face:?} {volumes:?}");
                approx::assert_relative_eq!(volumes.iter().sum::<f64>(), volume, epsilon = 1e-12);
            }
        }
    }
}
