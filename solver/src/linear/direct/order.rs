//! Fill-reducing order of the unknowns.

use feral_metis::{CscPattern, metis_order};
use nalgebra_sparse::pattern::SparsityPattern;

/// Nested dissection of the graph of nodes, each node then expanded to its three unknowns: the permutation
/// (new to old) and its inverse.
///
/// # Errors
/// What the library said.
pub(in crate::linear) fn nested_dissection(
    lower: &SparsityPattern,
) -> Result<(Vec<usize>, Vec<usize>), String> {
    let nodes = lower.major_dim();
    let order: Vec<i32> = if nodes == 0 { Vec::new() } else { order_nodes(lower)? };
    let mut forward = Vec::with_capacity(3 * nodes);
    let mut inverse = vec![0; 3 * nodes];
    for &node in &order {
        let node = usize::try_from(node).map_err(|e| e.to_string())?;
        for axis in 0..3 {
            inverse[3 * node + axis] = forward.len();
            forward.push(3 * node + axis);
        }
    }
    Ok((forward, inverse))
}

fn order_nodes(lower: &SparsityPattern) -> Result<Vec<i32>, String> {
    let nodes = lower.major_dim();
    let mut degree = vec![0_i32; nodes + 1];
    for (row, column) in lower.entries() {
        degree[row + 1] += 1;
        if row != column {
            degree[column + 1] += 1;
        }
    }
    for k in 0..nodes {
        degree[k + 1] += degree[k];
    }
    let mut next = degree.clone();
    let mut indices = vec![0_i32; degree[nodes] as usize];
    // Rows in growing order fill every column in growing order: first the columns left of the diagonal
    // (the row's own entries), then the rows below it.
    for (row, column) in lower.entries() {
        indices[next[row] as usize] = i32::try_from(column).map_err(|e| e.to_string())?;
        next[row] += 1;
        if row != column {
            indices[next[column] as usize] = i32::try_from(row).map_err(|e| e.to_string())?;
            next[column] += 1;
        }
    }
    let pattern = CscPattern::new(nodes, &degree, &indices).ok_or("the pattern is not consistent")?;
    metis_order(&pattern).map_err(|e| format!("{e:?}"))
}
