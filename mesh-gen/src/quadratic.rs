//! Mid-side nodes: on the root, the wall and the layers between for edges of the ligament, on the crown's
//! surface for its free edges, half-way elsewhere; and the guard that keeps every curved element positive.
//!
//! The guard looks at the smallest Bernstein coefficient of det J over the mean one. Where it is low it
//! first moves the straight mid-side nodes around, then takes back curvature edge by edge.

use rayon::prelude::*;

use crate::lattice::LinearMesh;
use crate::lattice::snap::edges_of;
use crate::layer::{Interface, Ligament};
use crate::mesh::{EDGES, Region, bernstein_ratio};
use crate::socket::Socket;
use crate::tooth::V3;
use nalgebra::Point3;

/// Elements below this are helped by moving straight mid-side nodes.
const WANTED: f64 = 0.25;
/// Elements below this lose curvature.
const LEAST: f64 = 0.1;

/// How a mid-side node is placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Straight,
    /// On a group (pair of columns), at a level in half layers.
    Layer {
        group: u32,
        half_levels: u32,
    },
    /// On the free surface of the crown.
    Crown,
}

/// Curvature of the edges over one pair of neighbouring columns.
struct Group {
    /// Middle of the chord on root and wall.
    chord: (V3, V3),
    /// Curved middle on root and wall.
    curved: (V3, V3),
    /// Share of the curvature kept.
    keep: f64,
}

/// Ten-node elements.
pub(crate) struct Quadratic {
    pub(crate) nodes: Vec<V3>,
    pub(crate) cells: Vec<[u32; 10]>,
    pub(crate) regions: Vec<Region>,
    /// Edges of the root surface that lost some curvature.
    pub(crate) relaxed_groups: usize,
    /// Mid-side number of an edge of corners.
    edges: Vec<[u32; 2]>,
    corners: u32,
}

impl Quadratic {
    /// Number of the mid-side node between two corners.
    pub(crate) fn middle(&self, a: u32, b: u32) -> Option<u32> {
        self.edges.binary_search(&[a.min(b), a.max(b)]).ok().map(|i| self.corners + i as u32)
    }

    /// Six-node triangle over three corners.
    pub(crate) fn triangle(&self, t: [u32; 3]) -> Option<[u32; 6]> {
        Some([t[0], t[1], t[2], self.middle(t[0], t[1])?, self.middle(t[1], t[2])?, self.middle(t[2], t[0])?])
    }
}

pub(crate) fn curve(
    mesh: &LinearMesh,
    interface: &Interface,
    ligament: &Ligament,
    layers: u32,
    socket: &Socket,
) -> Quadratic {
    let mut tets = mesh.tets.clone();
    let mut regions: Vec<Region> = mesh
        .bodies
        .iter()
        .map(|b| match b {
            crate::lattice::Body::Tooth => Region::Tooth,
            crate::lattice::Body::Cancellous => Region::CancellousBone,
            crate::lattice::Body::Cortical => Region::CorticalBone,
        })
        .collect();
    tets.extend_from_slice(&ligament.tets);
    regions.resize(tets.len(), Region::Ligament);
    let edges = edges_of(&tets);
    let corners = mesh.nodes.len() as u32;
    let find = |a: u32, b: u32| {
        edges.binary_search(&[a.min(b), a.max(b)]).expect("the edges are those of all elements")
    };

    // Groups: pairs of neighbouring columns, with the number of interface triangles on them.
    let mut pairs: Vec<[u32; 2]> = Vec::new();
    for t in &ligament.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            pairs.push([a.min(b), a.max(b)]);
        }
    }
    pairs.sort_unstable();
    let pairs: Vec<([u32; 2], bool)> =
        pairs.chunk_by(|a, b| a == b).map(|group| (group[0], group.len() == 1)).collect();
    let mut groups: Vec<Group> = pairs
        .par_iter()
        .map(|&([a, b], on_crest)| {
            let end = |c: u32, last: bool| {
                let column = &ligament.columns[c as usize];
                mesh.nodes[column[if last { column.len() - 1 } else { 0 }] as usize]
            };
            let chord = (0.5 * (end(a, false) + end(b, false)), 0.5 * (end(a, true) + end(b, true)));
            let root = socket.solid.project(&chord.0, [false, false, on_crest]);
            Group { chord, curved: (root, socket.wall(&root)), keep: 1.0 }
        })
        .collect();

    let mut sides = vec![Side::Straight; edges.len()];
    for t in &interface.crown {
        for k in 0..3 {
            sides[find(t[k], t[(k + 1) % 3])] = Side::Crown;
        }
    }
    for t in &ligament.tets {
        for [i, j] in EDGES {
            let (Some((ca, ka)), Some((cb, kb))) =
                (ligament.place[t[i] as usize], ligament.place[t[j] as usize])
            else {
                continue;
            };
            if ca != cb {
                let key = [ca.min(cb), ca.max(cb)];
                let group = pairs
                    .binary_search_by(|p| p.0.cmp(&key))
                    .expect("columns of one prism share an edge of the interface")
                    as u32;
                sides[find(t[i], t[j])] = Side::Layer { group, half_levels: ka + kb };
            }
        }
    }

    let crown_curved: Vec<Option<V3>> = edges
        .par_iter()
        .zip(&sides)
        .map(|(&[a, b], side)| {
            (*side == Side::Crown).then(|| {
                let middle = 0.5 * (mesh.nodes[a as usize] + mesh.nodes[b as usize]);
                socket.solid.project(&middle, [false; 3])
            })
        })
        .collect();
    let mut crown_keep = vec![1.0; edges.len()];
    let mut freed = vec![V3::zeros(); edges.len()];

    let cells: Vec<[u32; 10]> = tets
        .par_iter()
        .map(|t| {
            let mut cell = [0; 10];
            cell[..4].copy_from_slice(t);
            for (k, [i, j]) in EDGES.into_iter().enumerate() {
                cell[4 + k] = corners + find(t[i], t[j]) as u32;
            }
            cell
        })
        .collect();

    let place_all = |groups: &[Group], crown_keep: &[f64], freed: &[V3]| -> Vec<V3> {
        edges
            .par_iter()
            .enumerate()
            .map(|(i, &[a, b])| {
                let chord = 0.5 * (mesh.nodes[a as usize] + mesh.nodes[b as usize]);
                match sides[i] {
                    Side::Straight => chord + freed[i],
                    Side::Crown => crown_curved[i].map_or(chord, |c| chord + (c - chord) * crown_keep[i]),
                    Side::Layer { group, half_levels } => {
                        let g = &groups[group as usize];
                        let root = g.chord.0 + (g.curved.0 - g.chord.0) * g.keep;
                        let wall = g.chord.1 + (g.curved.1 - g.chord.1) * g.keep;
                        root + (wall - root) * (f64::from(half_levels) / f64::from(2 * layers))
                    }
                }
            })
            .collect()
    };

    let mut nodes = mesh.nodes.clone();
    nodes.extend(place_all(&groups, &crown_keep, &freed));
    let ratio =
        |nodes: &[V3], cell: &[u32; 10]| bernstein_ratio(&cell.map(|n| Point3::from(nodes[n as usize])));
    let low = |nodes: &[V3], bound: f64| -> Vec<u32> {
        (0..cells.len() as u32)
            .into_par_iter()
            .filter(|&c| ratio(nodes, &cells[c as usize]) < bound)
            .collect()
    };

    // Move straight mid-side nodes of poor elements.
    let poor = low(&nodes, WANTED);
    if !poor.is_empty() {
        let mut on_edge: Vec<(u32, u32)> = Vec::new();
        for (c, cell) in cells.iter().enumerate() {
            for &n in &cell[4..] {
                on_edge.push((n - corners, c as u32));
            }
        }
        on_edge.par_sort_unstable();
        let star = |e: u32| {
            let from = on_edge.partition_point(|x| x.0 < e);
            let to = on_edge.partition_point(|x| x.0 <= e);
            &on_edge[from..to]
        };
        let mut candidates: Vec<u32> = poor
            .iter()
            .flat_map(|&c| cells[c as usize][4..].iter().map(|&n| n - corners))
            .filter(|&e| sides[e as usize] == Side::Straight)
            .collect();
        candidates.sort_unstable();
        candidates.dedup();
        for _ in 0..2 {
            for &e in &candidates {
                let [a, b] = edges[e as usize];
                let (mask_a, mask_b) = (mesh.masks[a as usize], mesh.masks[b as usize]);
                let fixed = crate::lattice::fixed_axes(mask_a & mask_b);
                let length = (mesh.nodes[a as usize] - mesh.nodes[b as usize]).norm();
                let n = (corners + e) as usize;
                let worst = |nodes: &[V3]| {
                    star(e)
                        .iter()
                        .map(|&(_, c)| ratio(nodes, &cells[c as usize]))
                        .fold(f64::INFINITY, f64::min)
                };
                let mut best = worst(&nodes);
                if best > WANTED {
                    continue;
                }
                for scale in [0.12, 0.06, 0.03, 0.015] {
                    for axis in 0..3 {
                        if fixed[axis] {
                            continue;
                        }
                        for sign in [1.0, -1.0] {
                            let old = nodes[n][axis];
                            nodes[n][axis] += sign * scale * length;
                            let now = worst(&nodes);
                            if now > best + 1e-6 {
                                best = now;
                            } else {
                                nodes[n][axis] = old;
                            }
                        }
                    }
                }
                freed[e as usize] = nodes[n] - 0.5 * (mesh.nodes[a as usize] + mesh.nodes[b as usize]);
            }
        }
    }

    // Take back curvature where that was not enough.
    let mut relaxed = rustc_hash::FxHashSet::default();
    let mut poor = low(&nodes, LEAST);
    for round in 0..16 {
        if poor.is_empty() {
            break;
        }
        let factor = if round < 12 { 0.7 } else { 0.0 };
        let mut touched_groups: Vec<u32> = Vec::new();
        let mut touched_edges: Vec<u32> = Vec::new();
        for &c in &poor {
            for &n in &cells[c as usize][4..] {
                match sides[(n - corners) as usize] {
                    Side::Layer { group, .. } => touched_groups.push(group),
                    Side::Crown | Side::Straight => touched_edges.push(n - corners),
                }
            }
        }
        touched_groups.sort_unstable();
        touched_groups.dedup();
        touched_edges.sort_unstable();
        touched_edges.dedup();
        for &g in &touched_groups {
            groups[g as usize].keep *= factor;
            relaxed.insert(g);
        }
        for &e in &touched_edges {
            crown_keep[e as usize] *= factor;
            freed[e as usize] *= factor;
        }
        // Only elements with a moved node can have changed.
        let places = place_all(&groups, &crown_keep, &freed);
        let moved: Vec<bool> =
            places.iter().zip(&nodes[corners as usize..]).map(|(new, old)| new != old).collect();
        nodes.truncate(corners as usize);
        nodes.extend(places);
        poor = (0..cells.len() as u32)
            .into_par_iter()
            .filter(|&c| {
                let cell = &cells[c as usize];
                cell[4..].iter().any(|&n| moved[(n - corners) as usize]) && ratio(&nodes, cell) < LEAST
            })
            .collect();
    }
    Quadratic { nodes, cells, regions, relaxed_groups: relaxed.len(), edges, corners }
}
