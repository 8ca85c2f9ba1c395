//! Which mid-side nodes of a thin layer may be left to others on a coarse level.
//!
//! Squeezed between stiff bodies, a thin, nearly incompressible layer moves like a film: across it the displacement
//! bends within a fraction of the thickness, along it it changes slowly. So every column of nodes that stands on a
//! corner keeps all its nodes, and the columns between, which stand on the middle of an edge, follow their two
//! neighbours.

use gomphosis_mesh_gen::mesh::EDGES;

use crate::assembly::Elements;

/// No node.
const NONE: u32 = u32::MAX;

/// An edge of the layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Edge {
    ends: [u32; 2],
    middle: u32,
}

/// The mid-side nodes between the columns of a layer, each with the two nodes at its level whose mean it takes.
///
/// The levels are counted from `inner`, the faces on one side of the layer. Which edge joins a corner to the one below it
/// in its column is told by length; where the elements are not thin, that may err, and the layer is interpolated a little
/// worse.
pub(super) fn followers(elements: &Elements, of_layer: &[bool], inner: &[[u32; 6]]) -> Vec<(u32, [u32; 2])> {
    let nodes = elements.mesh().nodes();
    let edges = edges(elements, of_layer);
    let level = levels(nodes.len(), &edges, inner);
    // For each corner: the edge down its column, and the middle of the edge that comes down to it.
    let mut down: Vec<Option<(f64, Edge)>> = vec![None; nodes.len()];
    for &edge in &edges {
        let [a, b] = edge.ends;
        let (la, lb) = (level[a as usize], level[b as usize]);
        if la != lb && la != NONE && lb != NONE {
            let upper = if la > lb { a } else { b };
            let length = (nodes[a as usize] - nodes[b as usize]).norm();
            let slot = &mut down[upper as usize];
            if slot.is_none_or(|(shortest, _)| length < shortest) {
                *slot = Some((length, edge));
            }
        }
    }
    let mut above = vec![NONE; nodes.len()];
    for (upper, slot) in (0..).zip(&down) {
        if let Some((_, edge)) = slot {
            let lower = edge.ends[usize::from(edge.ends[0] == upper)];
            above[lower as usize] = edge.middle;
        }
    }
    let below = |corner: u32| down[corner as usize].map(|(_, edge)| edge);
    edges
        .iter()
        .filter_map(|edge| {
            let [a, b] = edge.ends;
            let (la, lb) = (level[a as usize], level[b as usize]);
            if la == NONE || lb == NONE {
                return None;
            }
            if la == lb {
                return Some((edge.middle, edge.ends));
            }
            let (lower, upper) = if la < lb { (a, b) } else { (b, a) };
            let column = below(upper)?;
            let pair = [above[lower as usize], column.middle];
            (column != *edge && pair[0] != NONE).then_some((edge.middle, pair))
        })
        .collect()
}

/// The edges of the layer, sorted.
fn edges(elements: &Elements, of_layer: &[bool]) -> Vec<Edge> {
    let mut edges: Vec<Edge> = (0..elements.len())
        .filter(|&k| of_layer[k])
        .flat_map(|k| {
            let nodes = elements.nodes(k);
            EDGES.into_iter().zip(&nodes[4..]).map(|([i, j], &middle)| {
                let (a, b) = (nodes[i], nodes[j]);
                Edge { ends: [a.min(b), a.max(b)], middle }
            })
        })
        .collect();
    edges.sort_unstable();
    edges.dedup();
    edges
}

/// Edges between each corner and the inner side, [`NONE`] outside the layer.
fn levels(nodes: usize, edges: &[Edge], inner: &[[u32; 6]]) -> Vec<u32> {
    let mut level = vec![NONE; nodes];
    for face in inner {
        for &corner in &face[..3] {
            level[corner as usize] = 0;
        }
    }
    // Few levels: one pass over the edges each.
    for next in 1.. {
        let mut reached = false;
        for Edge { ends: [a, b], .. } in edges {
            for (from, to) in [(*a as usize, *b as usize), (*b as usize, *a as usize)] {
                if level[from] == next - 1 && level[to] == NONE {
                    level[to] = next;
                    reached = true;
                }
            }
        }
        if !reached {
            break;
        }
    }
    level
}
