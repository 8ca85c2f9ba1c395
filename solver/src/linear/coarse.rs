//! The coarse space. In tooth and bone only the corner nodes remain and the mid-side nodes follow them
//! linearly. The ligament, whose thin and nearly incompressible elements would lock so, keeps the columns of nodes that
//! stand on corners (see `layer`), and every node if it is so incompressible that even that would lock. The low elements
//! of the rows under the crest line, in the ligament and beside it, keep every node too: there the displacement bends
//! between corners that are close. The contrast between the bodies is thus carried by the coarse system, which is factored.

use gomphosis_mesh_gen::mesh::EDGES;
use gomphosis_mesh_gen::{Region, surface};
use nalgebra::{Matrix3, Point3, Vector3};
use nalgebra_sparse::pattern::SparsityPattern;
use rayon::prelude::*;

use super::System;
use super::cholesky::Cholesky;
use super::lanes::{LANES, Rough, Wide};
use super::layer::followers;
use super::split::SplitMatrix;
use super::sweep::SweepOrder;
use crate::assembly::BlockMatrix;
use crate::error::SolverError;

/// No coarse node.
const NONE: u32 = u32::MAX;
/// Weights below this are dropped.
const SMALLEST_WEIGHT: f64 = 1e-6;
/// Plain elements of a stiff body whose `lambda / mu` is above this (Poisson ratio 0.45) keep their nodes too.
const NEARLY_INCOMPRESSIBLE: f64 = 9.0;
/// A ligament whose `lambda / mu` is above this (Poisson ratio 0.492) keeps every node: the
/// coarse level would lock.
const LAYER_LOCKS: f64 = 60.0;
/// A ligament element whose middle extent is below this share of the longest keeps every node.
const LOW: f64 = 0.3;
/// An element of any body whose shortest extent is below this share of the longest keeps every node.
const FLAT: f64 = 0.15;

/// A coarse node or none, and the weight for each axis.
type Parent = (u32, [f32; 3]);

/// What a fine node takes from the coarse ones: the corners of an element at most.
type Parents = [Parent; 4];

/// Transfer between the nodes in sweep order and the coarse nodes, and the factored coarse system.
#[derive(Debug)]
pub(super) struct Coarse {
    parents: Vec<Parents>,
    /// For each coarse node the fine nodes that take from it, with the weights.
    offsets: Vec<u32>,
    children: Vec<Parent>,
    factor: Cholesky,
}

impl Coarse {
    /// Builds and factors the Galerkin system `P^T A P`; `progress` is called before each of three steps.
    ///
    /// # Errors
    /// Those of [`Cholesky::new`], and what `progress` returns.
    pub(super) fn new(
        system: &System,
        sweep: &SweepOrder,
        matrix: &SplitMatrix,
        limit_bytes: Option<u64>,
        progress: impl Fn(usize) -> Result<(), SolverError>,
    ) -> Result<Self, SolverError> {
        let (parents, coarse_nodes) = interpolation(system, sweep, matrix);
        let (offsets, children) = transpose(&parents, coarse_nodes);
        let galerkin = galerkin(&parents, &offsets, &children, matrix);
        let factor = Cholesky::new(&galerkin, limit_bytes, progress)?;
        Ok(Self { parents, offsets, children, factor })
    }

    /// Entries of the factor.
    pub(super) fn entries(&self) -> usize {
        self.factor.entries()
    }

    /// Memory at the peak of the set-up, predicted, bytes.
    pub(super) fn bytes(&self) -> u64 {
        self.factor.bytes() + (self.parents.len() * 64 + self.children.len() * 16) as u64
    }

    /// Adds to `x` the coarse correction of a residual in the first `used` lanes.
    ///
    /// # Errors
    /// [`SolverError::Factor`] if memory runs out.
    pub(super) fn correct(&self, residual: &Rough, x: &mut Rough, used: usize) -> Result<(), SolverError> {
        let nodes = self.offsets.len() - 1;
        let rows = 3 * nodes;
        let restricted: Vec<Wide<f32>> = (0..nodes)
            .into_par_iter()
            .with_min_len(256)
            .map(|c| {
                let mut sum = Wide::<f32>::default();
                let range = self.offsets[c] as usize..self.offsets[c + 1] as usize;
                for (fine, weight) in &self.children[range] {
                    let r = &residual[*fine as usize];
                    for axis in 0..3 {
                        for lane in 0..LANES {
                            sum[axis][lane] += weight[axis] * r[axis][lane];
                        }
                    }
                }
                sum
            })
            .collect();
        let mut columns = vec![0.0; rows * used];
        columns.par_chunks_mut(rows).enumerate().for_each(|(lane, column)| {
            for (three, node) in column.chunks_exact_mut(3).zip(&restricted) {
                for axis in 0..3 {
                    three[axis] = node[axis][lane];
                }
            }
        });
        self.factor.substitute(&mut columns, rows)?;
        x.par_iter_mut().with_min_len(256).zip(&self.parents).for_each(|(x, parents)| {
            for &(c, weight) in parents.iter().take_while(|p| p.0 != NONE) {
                for axis in 0..3 {
                    for lane in 0..used {
                        let value = columns[lane * rows + 3 * c as usize + axis];
                        x[axis][lane] += weight[axis] * value;
                    }
                }
            }
        });
        Ok(())
    }
}

/// Parents of each node in sweep order, and the number of coarse nodes.
///
/// A mid-side node takes the value that the linear field of an element's corners has at the node's place: linear
/// displacements, rotations among them, are then exact on curved elements too.
fn interpolation(system: &System, sweep: &SweepOrder, matrix: &SplitMatrix) -> (Vec<Parents>, usize) {
    let elements = system.elements;
    let nodes = sweep.len();
    let place = |node: u32| system.free.number(node).map(|n| sweep.place[n as usize] as usize);
    let whole: Vec<bool> = (0..elements.len())
        .map(|k| {
            let (lambda, mu) = elements.lame(k);
            elements.region(k) == Region::Ligament
                || lambda > NEARLY_INCOMPRESSIBLE * mu
                || extents(&elements.positions(k))[0] < FLAT
        })
        .collect();
    let layered: Vec<bool> = (0..elements.len())
        .map(|k| {
            let (lambda, mu) = elements.lame(k);
            elements.region(k) == Region::Ligament
                && lambda <= LAYER_LOCKS * mu
                && extents(&elements.positions(k))[1] >= LOW
        })
        .collect();
    // The stiffest of what keeps its nodes: where a neighbour is no stiffer, the nodes they share are kept too.
    let mut kept = vec![0.0_f64; nodes];
    // Nodes that an element beside the ligament keeps.
    let mut beside = vec![false; nodes];
    for k in (0..elements.len()).filter(|&k| whole[k]) {
        for at in elements.nodes(k).iter().filter_map(|&n| place(n)) {
            kept[at] = kept[at].max(elements.lame(k).0);
            beside[at] |= elements.region(k) != Region::Ligament;
        }
    }
    // The element whose linear field a mid-side node follows, and how far inside it the node lies.
    let mut host = vec![(NONE, f64::NEG_INFINITY, [0.0; 4]); nodes];
    for k in (0..elements.len()).filter(|&k| !whole[k]) {
        let positions = elements.positions(k);
        let (_, mu) = elements.lame(k);
        for (local, &node) in elements.nodes(k).iter().enumerate().skip(4) {
            let Some(at) = place(node).filter(|&at| kept[at] < mu) else { continue };
            let weights = barycentric(&positions, local);
            let inside = weights.iter().copied().fold(f64::INFINITY, f64::min);
            if inside > host[at].1 + 1e-9 {
                host[at] = (k as u32, inside, weights);
            }
        }
    }
    let hosted = |row: usize| host[row].0 != NONE;
    // Nodes between the columns of the ligament, unless a stiffer body has them or what they would follow.
    let mut pairs = vec![[NONE; 2]; nodes];
    for (node, pair) in followers(elements, &layered, elements.mesh().surface(surface::ROOT)) {
        let free = |n: &u32| place(*n).is_none_or(|row| !hosted(row));
        let own = |row: &usize| !hosted(*row) && !beside[*row];
        if let Some(row) = place(node).filter(|row| own(row) && pair.iter().all(free)) {
            pairs[row] = pair;
        }
    }
    let kept: Vec<bool> = (0..nodes).map(|row| !hosted(row) && pairs[row][0] == NONE).collect();
    let mut coarse_nodes = 0;
    let mut number = vec![NONE; nodes];
    for (slot, _) in number.iter_mut().zip(&kept).filter(|(_, kept)| **kept) {
        *slot = coarse_nodes;
        coarse_nodes += 1;
    }
    let held: Vec<[bool; 3]> = (0..nodes).into_par_iter().map(|row| held_axes(matrix, row)).collect();
    let parents = (0..nodes)
        .map(|row| {
            let mut parents = [(NONE, [0.0; 3]); 4];
            if kept[row] {
                parents[0] = (number[row], [1.0; 3]);
                return parents;
            }
            let (element, _, weights) = host[row];
            let follows: Vec<(u32, f64)> = if element == NONE {
                pairs[row].iter().map(|&node| (node, 0.5)).collect()
            } else {
                elements.nodes(element as usize).iter().copied().zip(weights).collect()
            };
            let follows = follows.into_iter().filter(|(_, weight)| weight.abs() > SMALLEST_WEIGHT);
            let free = follows.filter_map(|(node, weight)| Some((place(node)?, weight)));
            for (slot, (corner, weight)) in parents.iter_mut().zip(free) {
                let masked = std::array::from_fn(|axis| {
                    if held[row][axis] || held[corner][axis] { 0.0 } else { weight as f32 }
                });
                *slot = (number[corner], masked);
            }
            parents
        })
        .collect();
    (parents, coarse_nodes as usize)
}

/// Shortest and middle extent of an element over its longest: of the roots of the eigenvalues of the covariance of its
/// corners.
fn extents(positions: &[Point3<f64>; 10]) -> [f64; 2] {
    let corners = &positions[..4];
    let centre = corners.iter().map(|x| x.coords).sum::<Vector3<f64>>() / 4.0;
    let covariance: Matrix3<f64> =
        corners.iter().map(|x| (x.coords - centre) * (x.coords - centre).transpose()).sum();
    let mut values: [f64; 3] = covariance.symmetric_eigenvalues().into();
    values.sort_by(f64::total_cmp);
    [values[0], values[1]].map(|v| (v.max(0.0) / values[2]).sqrt())
}

/// Barycentric coordinates of a local node in the straight tetrahedron of the corners.
fn barycentric(positions: &[Point3<f64>; 10], local: usize) -> [f64; 4] {
    let [origin, x] = [positions[0], positions[local]];
    let edges = Matrix3::from_columns(&[1, 2, 3].map(|k| positions[k] - origin));
    let middle = || {
        let mut weights = [0.0; 4];
        for end in EDGES[local - 4] {
            weights[end] = 0.5;
        }
        weights
    };
    edges.lu().solve(&(x - origin)).map_or_else(middle, |l| [1.0 - l.sum(), l.x, l.y, l.z])
}

/// Axes of a row that are coupled to nothing: they are held.
fn held_axes(matrix: &SplitMatrix, row: usize) -> [bool; 3] {
    let mut held = [true; 3];
    for (column, block) in matrix.row(row) {
        for i in 0..3 {
            for j in 0..3 {
                if block[3 * i + j] != 0.0 && !(column as usize == row && i == j) {
                    held[i] = false;
                }
            }
        }
    }
    held
}

/// The transfer by coarse nodes.
fn transpose(parents: &[Parents], coarse_nodes: usize) -> (Vec<u32>, Vec<Parent>) {
    let mut offsets = vec![0_u32; coarse_nodes + 1];
    for &(c, _) in parents.iter().flatten().filter(|p| p.0 != NONE) {
        offsets[c as usize + 1] += 1;
    }
    for c in 0..coarse_nodes {
        offsets[c + 1] += offsets[c];
    }
    let mut next = offsets.clone();
    let mut children = vec![(0, [0.0; 3]); offsets[coarse_nodes] as usize];
    for (fine, p) in (0..).zip(parents) {
        for &(c, weight) in p.iter().filter(|p| p.0 != NONE) {
            children[next[c as usize] as usize] = (fine, weight);
            next[c as usize] += 1;
        }
    }
    (offsets, children)
}

/// `P^T A P`, lower triangle.
fn galerkin(parents: &[Parents], offsets: &[u32], children: &[Parent], matrix: &SplitMatrix) -> BlockMatrix {
    let nodes = offsets.len() - 1;
    let rows: Vec<Vec<(usize, [f64; 9])>> = (0..nodes)
        .into_par_iter()
        .with_min_len(64)
        .map_init(
            || vec![NONE; nodes],
            |slots, row| {
                let mut sums: Vec<(usize, [f64; 9])> = Vec::new();
                for (fine, left) in &children[offsets[row] as usize..offsets[row + 1] as usize] {
                    for (column, block) in matrix.row(*fine as usize) {
                        for &(c, right) in parents[column as usize].iter().take_while(|p| p.0 != NONE) {
                            if c as usize > row {
                                continue;
                            }
                            let slot = &mut slots[c as usize];
                            if *slot == NONE {
                                *slot = sums.len() as u32;
                                sums.push((c as usize, [0.0; 9]));
                            }
                            let sum = &mut sums[*slot as usize].1;
                            for i in 0..3 {
                                for j in 0..3 {
                                    sum[3 * i + j] +=
                                        f64::from(left[i]) * f64::from(right[j]) * block[3 * i + j];
                                }
                            }
                        }
                    }
                }
                for (c, _) in &sums {
                    slots[*c] = NONE;
                }
                sums.sort_unstable_by_key(|(c, _)| *c);
                sums
            },
        )
        .collect();
    let mut pattern_offsets = Vec::with_capacity(nodes + 1);
    let mut total = 0;
    pattern_offsets.push(0);
    for row in &rows {
        total += row.len();
        pattern_offsets.push(total);
    }
    let (columns, blocks) = rows.into_iter().flatten().unzip();
    let pattern = SparsityPattern::try_from_offsets_and_indices(nodes, nodes, pattern_offsets, columns)
        .expect("offsets grow and the columns of a row are sorted and unique");
    BlockMatrix::new(pattern, blocks)
}
