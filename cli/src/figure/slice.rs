//! The section of a mesh of curved ten-node elements along a surface y = Y(x, z), seen along y: where it cuts each body,
//! with the outline of every body and the borders between them. The surface is a plane or follows the roots; see
//! [`surface::Surface`].
//!
//! Each element is divided into eight tetrahedra on its own ten nodes, and each of these is cut; the points
//! of the cut lie on the element's curved edges, not on their chords. Points are known by the two nodes they
//! lie between, so that neighbours share them exactly.

pub(crate) mod surface;

use std::collections::BTreeMap;

use gomphosis_mesh_gen::mesh::{EDGES, Region, TetMesh};
use nalgebra::Vector3;

use surface::Surface;

/// A point of the section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// x and z, mm.
    pub(crate) at: [f64; 2],
    /// The nodal value, where both nodes have one.
    pub(crate) value: Option<f64>,
}

/// A section.
#[derive(Debug, Clone, Default)]
pub(crate) struct Section {
    /// The points.
    pub(crate) points: Vec<Point>,
    /// Directed edges of the pieces (body to the left), by their points, with the body.
    edges: BTreeMap<(u32, u32), Region>,
}

/// The eight tetrahedra on the ten nodes of an element: one at each corner, four in the octahedron between
/// the mid-side nodes (cut along the diagonal of the nodes 5 and 7).
const PARTS: [[usize; 4]; 8] = [
    [0, 4, 6, 7],
    [4, 1, 5, 8],
    [6, 5, 2, 9],
    [7, 8, 9, 3],
    [5, 7, 6, 4],
    [5, 7, 9, 6],
    [5, 7, 8, 9],
    [5, 7, 4, 8],
];

/// Barycentric coordinates of the ten nodes.
fn node_coordinates(node: usize) -> [f64; 4] {
    let mut l = [0.0; 4];
    if node < 4 {
        l[node] = 1.0;
    } else {
        let [i, j] = EDGES[node - 4];
        l[i] = 0.5;
        l[j] = 0.5;
    }
    l
}

/// The ten quadratic shape functions at barycentric coordinates.
fn shape(l: [f64; 4]) -> [f64; 10] {
    std::array::from_fn(|node| {
        if node < 4 {
            l[node] * (2.0 * l[node] - 1.0)
        } else {
            let [i, j] = EDGES[node - 4];
            4.0 * l[i] * l[j]
        }
    })
}

impl Section {
    /// Cuts a mesh; `value` may give some nodes a number.
    pub(crate) fn new(mesh: &TetMesh, surface: &Surface, value: &dyn Fn(u32) -> Option<f64>) -> Self {
        let mut section = Self::default();
        let mut known = BTreeMap::new();
        let ahead: Vec<bool> = mesh.nodes().iter().map(|p| surface.height(&p.coords) >= 0.0).collect();
        for (cell, (numbers, &region)) in mesh.cells().iter().zip(mesh.regions()).enumerate() {
            let sides = numbers.map(|n| ahead[n as usize]);
            if sides.iter().all(|&s| s) || sides.iter().all(|&s| !s) {
                continue;
            }
            let nodes = mesh.cell_nodes(cell).map(|p| p.coords);
            for part in PARTS {
                let ids = cut_order(part, &sides);
                let mut ring = Vec::with_capacity(4);
                for [a, b] in ids {
                    let key = (numbers[a].min(numbers[b]), numbers[a].max(numbers[b]));
                    let id = *known.entry(key).or_insert_with(|| {
                        section.points.push(crossing([a, b], &nodes, numbers, surface, value));
                        section.points.len() as u32 - 1
                    });
                    ring.push(id);
                }
                section.add(&ring, region);
            }
        }
        section
    }

    fn add(&mut self, ring: &[u32], region: Region) {
        let n = ring.len();
        for k in 0..n {
            let (a, b) = (ring[k], ring[(k + 1) % n]);
            if a == b {
                continue;
            }
            // An edge met again the other way round within one body is inside it.
            if self.edges.get(&(b, a)) == Some(&region) {
                self.edges.remove(&(b, a));
            } else {
                self.edges.insert((a, b), region);
            }
        }
    }

    /// Closed outlines of a body, each a ring of points with the body to the left.
    pub(crate) fn outlines(&self, region: Region) -> Vec<Vec<u32>> {
        chains(self.edges.iter().filter(|(_, r)| **r == region).map(|(&edge, _)| edge))
    }

    /// Border of one body against another, as chains of points with the first body to the left.
    pub(crate) fn border(&self, left: Region, right: Region) -> Vec<Vec<u32>> {
        let shared = self
            .edges
            .iter()
            .filter(|((a, b), r)| **r == left && self.edges.get(&(*b, *a)) == Some(&right))
            .map(|(&edge, _)| edge);
        chains(shared)
    }

    /// Area enclosed by the outlines of a body, mm2.
    #[cfg(test)]
    pub(crate) fn area(&self, region: Region) -> f64 {
        self.edges
            .iter()
            .filter(|(_, r)| **r == region)
            .map(|((a, b), _)| {
                let (p, q) = (self.points[*a as usize].at, self.points[*b as usize].at);
                0.5 * (p[0] * q[1] - q[0] * p[1])
            })
            .sum()
    }
}

/// The node pairs whose edges the surface cuts, ordered around the cut so that the piece lies to the left for
/// a reader who sees x to the right and z up. Only the order of the nodes is used, no coordinates, so that
/// neighbours agree even where the cut shrinks to a line or a point.
fn cut_order(part: [usize; 4], sides: &[bool; 10]) -> Vec<[usize; 2]> {
    let (front, back): (Vec<usize>, Vec<usize>) = (0..4).partition(|&k| sides[part[k]]);
    let (order, mut pairs) = match (front.as_slice(), back.as_slice()) {
        (&[a], &[b, c, d]) => ([a, b, c, d], vec![[a, b], [a, c], [a, d]]),
        (&[b, c, d], &[a]) => ([a, b, c, d], vec![[a, d], [a, c], [a, b]]),
        (&[a, b], &[c, d]) => ([a, b, c, d], vec![[a, c], [a, d], [b, d], [b, c]]),
        _ => return Vec::new(),
    };
    let inversions =
        (0..4).flat_map(|i| (i + 1..4).map(move |j| (i, j))).filter(|&(i, j)| order[i] > order[j]);
    if inversions.count() % 2 == 1 {
        pairs.reverse();
    }
    pairs.into_iter().map(|pair| pair.map(|k| part[k])).collect()
}

/// Where the curve between two nodes of an element meets the surface.
fn crossing(
    [a, b]: [usize; 2],
    nodes: &[Vector3<f64>; 10],
    numbers: &[u32; 10],
    surface: &Surface,
    value: &dyn Fn(u32) -> Option<f64>,
) -> Point {
    // The same end first in every element that shares the edge, so that all find the same bits.
    let (a, b) = if numbers[a] < numbers[b] { (a, b) } else { (b, a) };
    let (la, lb) = (node_coordinates(a), node_coordinates(b));
    let at = |t: f64| std::array::from_fn(|k| la[k] + t * (lb[k] - la[k]));
    let place = |t: f64| -> Vector3<f64> { shape(at(t)).iter().zip(nodes).map(|(n, p)| p * *n).sum() };
    let height = |t: f64| surface.height(&place(t));
    let (mut low, mut high) = (0.0, 1.0);
    let rising = height(0.0) < 0.0;
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if (height(middle) < 0.0) == rising {
            low = middle;
        } else {
            high = middle;
        }
    }
    let t = 0.5 * (low + high);
    let place = place(t);
    let value = match (value(numbers[a]), value(numbers[b])) {
        (Some(va), Some(vb)) => Some(va + t * (vb - va)),
        _ => None,
    };
    Point { at: [place.x, place.z], value }
}

/// Joins directed edges into chains; a closed one ends before its first point comes again.
fn chains(edges: impl Iterator<Item = (u32, u32)>) -> Vec<Vec<u32>> {
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    let mut incoming: BTreeMap<u32, usize> = BTreeMap::new();
    for (a, b) in edges {
        next.entry(a).or_default().push(b);
        *incoming.entry(b).or_default() += 1;
    }
    let mut found = Vec::new();
    // Open chains first, from points that nothing leads to.
    let mut starts: Vec<u32> = next.keys().copied().filter(|a| !incoming.contains_key(a)).collect();
    starts.extend(next.keys().copied().collect::<Vec<_>>());
    for start in starts {
        let mut chain = vec![start];
        let mut at = start;
        while let Some(to) = next.get_mut(&at).and_then(Vec::pop) {
            if to == start {
                break;
            }
            chain.push(to);
            at = to;
        }
        if chain.len() > 1 {
            found.push(chain);
        }
    }
    found
}

#[cfg(test)]
#[path = "slice/tests.rs"]
mod tests;
