//! From elements to the sparse system of the free nodes. Every entry is the sum of its contributions in the
//! order of the elements, so the bits do not depend on the number of threads.

mod elements;
mod matrix;
mod pattern;

pub use elements::{Elements, Unit, UnitBlocks};
pub use matrix::BlockMatrix;
pub use pattern::FreeNodes;

use gomphosis_mesh_gen::{Event, Observer, Stage};
use rayon::prelude::*;

use crate::error::SolverError;

/// Units whose matrices are held at a time: about 4 MB.
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
    let batches = elements.units().len().div_ceil(BATCH);
    for (batch, units) in elements.units().chunks(BATCH).enumerate() {
        progress(observer, batch, batches)?;
        let stiffness =
            units.par_iter().map(|unit| elements.unit_stiffness(unit)).collect::<Result<Vec<_>, _>>()?;
        let first_unit = batch * BATCH;
        matrix.blocks_mut().par_chunks_mut(share).enumerate().for_each(|(task, owned)| {
            let first = task * share;
            for (unit, blocks) in stiffness.iter().enumerate() {
                for (block, &target) in blocks.iter().zip(targets.of(first_unit + unit)) {
                    if target == HELD {
                        continue;
                    }
                    let Some(slot) =
                        ((target >> 1) as usize).checked_sub(first).and_then(|at| owned.get_mut(at))
                    else {
                        continue;
                    };
                    add(slot, block, target & 1 == 1);
                }
            }
        });
    }
    Ok(matrix)
}

fn add(sum: &mut [f64; 9], block: &[f64; 9], transposed: bool) {
    if transposed {
        for i in 0..3 {
            for j in 0..3 {
                sum[3 * i + j] += block[3 * j + i];
            }
        }
    } else {
        for (sum, value) in sum.iter_mut().zip(block) {
            *sum += value;
        }
    }
}

fn progress(observer: &dyn Observer, done: usize, total: usize) -> Result<(), SolverError> {
    if observer.on_event(Event::Progress { stage: Stage::Assembly, done, total }).is_break() {
        return Err(SolverError::Interrupted);
    }
    Ok(())
}

#[cfg(test)]
#[path = "assembly/tests.rs"]
mod tests;
