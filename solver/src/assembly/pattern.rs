//! Which entries the system has, and where each element puts its blocks.

use nalgebra_sparse::pattern::SparsityPattern;
use rayon::prelude::*;

use super::{Elements, HELD};

/// Numbering of the nodes that are free to move: those of the elements that are not held.
#[derive(Debug, Clone)]
pub struct FreeNodes {
    number: Vec<u32>,
    nodes: Vec<u32>,
}

impl FreeNodes {
    /// Numbers the nodes of `elements` that `held` does not mark, in the order of the mesh.
    #[must_use]
    pub fn new(elements: &Elements, held: &[bool]) -> Self {
        let mut used = vec![false; held.len()];
        for k in 0..elements.len() {
            for &n in elements.nodes(k) {
                used[n as usize] = true;
            }
        }
        let mut number = vec![HELD; held.len()];
        let mut nodes = Vec::new();
        for (n, slot) in number.iter_mut().enumerate() {
            if used[n] && !held[n] {
                *slot = nodes.len() as u32;
                nodes.push(n as u32);
            }
        }
        Self { number, nodes }
    }

    /// Number of free nodes.
    #[must_use]
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// None free?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Mesh node of each free node, growing.
    #[must_use]
    pub fn nodes(&self) -> &[u32] {
        &self.nodes
    }

    /// Free number of a mesh node.
    #[must_use]
    pub fn number(&self, node: u32) -> Option<u32> {
        let n = self.number[node as usize];
        (n != HELD).then_some(n)
    }
}

/// Pattern of the lower triangle on the graph of free nodes, row by row, columns sorted.
pub(super) fn lower_pattern(elements: &Elements, free: &FreeNodes) -> SparsityPattern {
    let (first, incident) = incidence(elements, free);
    let rows: Vec<Vec<usize>> = (0..free.len())
        .into_par_iter()
        .map(|row| {
            let mut columns: Vec<usize> = incident[first[row]..first[row + 1]]
                .iter()
                .flat_map(|&u| elements.unit_nodes(&elements.units()[u as usize]))
                .map(|&n| free.number[n as usize])
                .filter(|&c| c != HELD && c as usize <= row)
                .map(|c| c as usize)
                .collect();
            columns.sort_unstable();
            columns.dedup();
            columns
        })
        .collect();
    let mut offsets = Vec::with_capacity(rows.len() + 1);
    let mut total = 0;
    offsets.push(0);
    for row in &rows {
        total += row.len();
        offsets.push(total);
    }
    let columns = rows.into_iter().flatten().collect();
    SparsityPattern::try_from_offsets_and_indices(free.len(), free.len(), offsets, columns)
        .expect("offsets grow and the columns of a row are sorted and unique")
}

/// Units at each free node, as offsets and list.
fn incidence(elements: &Elements, free: &FreeNodes) -> (Vec<usize>, Vec<u32>) {
    let rows_of =
        |unit| elements.unit_nodes(unit).iter().map(|&n| free.number[n as usize]).filter(|&row| row != HELD);
    let mut first = vec![0; free.len() + 1];
    for row in elements.units().iter().flat_map(rows_of) {
        first[row as usize + 1] += 1;
    }
    for row in 0..free.len() {
        first[row + 1] += first[row];
    }
    let mut next = first.clone();
    let mut incident = vec![0; first[free.len()]];
    for (u, unit) in (0_u32..).zip(elements.units()) {
        for row in rows_of(unit) {
            incident[next[row as usize]] = u;
            next[row as usize] += 1;
        }
    }
    (first, incident)
}

/// Where each unit adds its blocks.
pub(super) struct Targets {
    offsets: Vec<usize>,
    list: Vec<u32>,
}

impl Targets {
    /// For each block of a unit, twice the number of the block it adds to, plus one if transposed; [`HELD`] if
    /// a node is held.
    pub(super) fn of(&self, unit: usize) -> &[u32] {
        &self.list[self.offsets[unit]..self.offsets[unit + 1]]
    }
}

pub(super) fn targets(elements: &Elements, free: &FreeNodes, pattern: &SparsityPattern) -> Targets {
    let lists: Vec<Vec<u32>> = elements
        .units()
        .par_iter()
        .map(|unit| {
            let rows: Vec<u32> = elements.unit_nodes(unit).iter().map(|&n| free.number[n as usize]).collect();
            let mut list = Vec::with_capacity(rows.len() * (rows.len() + 1) / 2);
            for (a, &ra) in rows.iter().enumerate() {
                for &rb in &rows[..=a] {
                    list.push(if ra == HELD || rb == HELD { HELD } else { target(pattern, ra, rb) });
                }
            }
            list
        })
        .collect();
    let mut offsets = Vec::with_capacity(lists.len() + 1);
    let mut total = 0;
    offsets.push(0);
    for list in &lists {
        total += list.len();
        offsets.push(total);
    }
    Targets { offsets, list: lists.concat() }
}

fn target(pattern: &SparsityPattern, ra: u32, rb: u32) -> u32 {
    let (row, column) = (ra.max(rb) as usize, ra.min(rb) as usize);
    let begin = pattern.major_offsets()[row];
    let at = pattern.lane(row).binary_search(&column).expect("the pattern holds every pair");
    ((begin + at) as u32) << 1 | u32::from(ra < rb)
}
