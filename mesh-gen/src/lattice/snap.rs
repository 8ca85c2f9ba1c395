//! Moves lattice nodes that lie close to the tooth's surface onto it, so that the cut makes no slivers.

use rayon::prelude::*;

use super::fixed_axes;
use super::tets::Lattice;
use crate::tooth::{ToothSolid, V3};

/// Signs of the tooth's function at the nodes (0 on the surface), and where it changes sign along edges.
pub(crate) struct Signs {
    pub(crate) sign: Vec<i8>,
    /// Edges with a sign change that was not snapped away, sorted, with the place of the zero.
    pub(crate) cuts: Vec<([u32; 2], V3)>,
}

/// How near (as a fraction of the edge) a zero must be to pull a node: edges along the axes, and diagonals
/// (Labelle and Shewchuk give 0.24999 and 0.41189 for the unstructured optimum; ours also cut both sides).
const ALPHA_AXIS: f64 = 0.25;
const ALPHA_DIAGONAL: f64 = 0.35;

/// Share of its lattice volume that a tetrahedron must keep when one of its nodes snaps.
const KEEP_VOLUME: f64 = 0.1;

pub(crate) fn volume6(p: [V3; 4]) -> f64 {
    (p[1] - p[0]).cross(&(p[2] - p[0])).dot(&(p[3] - p[0]))
}

/// Unique edges of tetrahedra, each with the smaller node first, sorted.
pub(crate) fn edges_of(tets: &[[u32; 4]]) -> Vec<[u32; 2]> {
    let mut edges = Vec::with_capacity(6 * tets.len());
    for t in tets {
        for [a, b] in crate::mesh::EDGES {
            edges.push([t[a].min(t[b]), t[a].max(t[b])]);
        }
    }
    edges.par_sort_unstable();
    edges.dedup();
    edges
}

pub(crate) fn snap(lattice: &mut Lattice, solid: &ToothSolid) -> Signs {
    let values: Vec<f64> = lattice.nodes.par_iter().map(|p| solid.value(p)).collect();
    let mut sign: Vec<i8> = values
        .iter()
        .map(|&f| {
            if f.abs() < 1e-9 {
                0
            } else if f < 0.0 {
                -1
            } else {
                1
            }
        })
        .collect();
    let crossing: Vec<[u32; 2]> = edges_of(&lattice.tets)
        .into_iter()
        .filter(|&[a, b]| i32::from(sign[a as usize]) * i32::from(sign[b as usize]) < 0)
        .collect();
    let zeros: Vec<(f64, V3)> = crossing
        .par_iter()
        .map(|&[a, b]| {
            let (pa, pb) = (lattice.nodes[a as usize], lattice.nodes[b as usize]);
            let t = solid.crossing(&pa, &pb, [values[a as usize], values[b as usize]]);
            (t, pa + (pb - pa) * t)
        })
        .collect();

    // Candidates: a node, and the zero it may move to.
    let mut candidates = Vec::new();
    for (&[a, b], &(t, place)) in crossing.iter().zip(&zeros) {
        let along = lattice.nodes[b as usize] - lattice.nodes[a as usize];
        let axes = (0..3).filter(|&k| along[k].abs() > 1e-9).count();
        let alpha = if axes == 1 { ALPHA_AXIS } else { ALPHA_DIAGONAL };
        for (v, other, fraction) in [(a, b, t), (b, a, 1.0 - t)] {
            let free = fixed_axes(lattice.masks[v as usize]);
            let in_planes = (0..3).all(|k| !free[k] || along[k].abs() < 1e-9);
            if fraction < alpha && in_planes {
                candidates.push((fraction / alpha, v, other, place));
            }
        }
    }
    candidates.sort_by(|x, y| x.0.total_cmp(&y.0).then((x.1, x.2).cmp(&(y.1, y.2))));

    let (start, star) = stars(lattice.nodes.len(), &lattice.tets);
    let original: Vec<f64> =
        lattice.tets.iter().map(|t| volume6(t.map(|n| lattice.nodes[n as usize]))).collect();
    for (_, v, other, place) in candidates {
        if sign[v as usize] == 0 || sign[other as usize] == 0 {
            continue;
        }
        let old = lattice.nodes[v as usize];
        lattice.nodes[v as usize] = place;
        let keeps = star[start[v as usize]..start[v as usize + 1]].iter().all(|&t| {
            let now = volume6(lattice.tets[t as usize].map(|n| lattice.nodes[n as usize]));
            now > KEEP_VOLUME * original[t as usize]
        });
        if keeps {
            sign[v as usize] = 0;
        } else {
            lattice.nodes[v as usize] = old;
        }
    }
    let cuts = crossing
        .into_iter()
        .zip(zeros)
        .filter(|&([a, b], _)| sign[a as usize] != 0 && sign[b as usize] != 0)
        .map(|(edge, (_, place))| (edge, place))
        .collect();
    Signs { sign, cuts }
}

/// Tetrahedra around each node: offsets and a flat list.
pub(crate) fn stars(nodes: usize, tets: &[[u32; 4]]) -> (Vec<usize>, Vec<u32>) {
    let mut start = vec![0usize; nodes + 1];
    for t in tets {
        for &n in t {
            start[n as usize + 1] += 1;
        }
    }
    for i in 0..nodes {
        start[i + 1] += start[i];
    }
    let mut next = start.clone();
    let mut list = vec![0u32; 4 * tets.len()];
    for (i, t) in tets.iter().enumerate() {
        for &n in t {
            list[next[n as usize]] = i as u32;
            next[n as usize] += 1;
        }
    }
    (start, list)
}
