//! From elements to the sparse system of the free nodes. Every entry is the sum of its contributions in the
//! order of the elements, so the bits do not depend on the number of threads.

mod elements;
mod matrix;
mod pattern;

pub use elements::Elements;
pub use matrix::BlockMatrix;
pub use pattern::FreeNodes;

use gomphosis_mesh_gen::{Event, Observer, Stage};
use rayon::prelude::*;

use crate::element::{NODES, PAIRS, pair};
use crate::error::SolverError;

/// Elements whose matrices are held at a time: about 4 MB.
const BATCH: usize = 1024;
/// Mark of a pair with a held node.
const HELD: u32 = u32::MAX;

/// Assembles the stiffness of the free nodes.
///
/// # Errors
/// [`SolverError::Jacobian`] or [`SolverError::Interrupted`].
pub fn assemble(
    elements: &Elements,
    free: &FreeNodes,
    observer: &dyn Observer,
) -> Result<BlockMatrix, SolverError> {
    let mut matrix = BlockMatrix::zeros(pattern::lower_pattern(elements, free));
    let targets = pattern::targets(elements, free, matrix.pattern());
    // One task a thread owns a contiguous range of blocks and picks its own out of every batch.
    let share = matrix.blocks().len().div_ceil(rayon::current_num_threads()).max(1);
    let batches = elements.len().div_ceil(BATCH);
    for batch in 0..batches {
        progress(observer, batch, batches)?;
        let range = batch * BATCH..elements.len().min((batch + 1) * BATCH);
        let stiffness =
            range.clone().into_par_iter().map(|e| elements.stiffness(e)).collect::<Result<Vec<_>, _>>()?;
        let targets = &targets[range.start * PAIRS..range.end * PAIRS];
        matrix.blocks_mut().par_chunks_mut(share).enumerate().for_each(|(task, owned)| {
            let first = task * share;
            for (element, targets) in stiffness.iter().zip(targets.chunks_exact(PAIRS)) {
                for (block, &target) in element.blocks.iter().zip(targets) {
                    if target == HELD {
                        continue;
                    }
                    let Some(slot) =
                        ((target >> 1) as usize).checked_sub(first).and_then(|at| owned.get_mut(at))
                    else {
                        continue;
                    };
                    if target & 1 == 0 {
                        for (sum, value) in slot.iter_mut().zip(block) {
                            *sum += value;
                        }
                    } else {
                        for i in 0..3 {
                            for j in 0..3 {
                                slot[3 * i + j] += block[3 * j + i];
                            }
                        }
                    }
                }
            }
        });
    }
    Ok(matrix)
}

fn progress(observer: &dyn Observer, done: usize, total: usize) -> Result<(), SolverError> {
    if observer.on_event(Event::Progress { stage: Stage::Assembly, done, total }).is_break() {
        return Err(SolverError::Interrupted);
    }
    Ok(())
}

/// Calls `each(pair number, a, b)` for the pairs of an element.
fn for_pairs(mut each: impl FnMut(usize, usize, usize)) {
    for a in 0..NODES {
        for b in 0..=a {
            each(pair(a, b), a, b);
        }
    }
}

#[cfg(test)]
#[path = "assembly/tests.rs"]
mod tests;
