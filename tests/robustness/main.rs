//! Cases drawn at random over everything that a case file holds: each meshes or is refused with a key to change, the
//! compliance obeys its laws, the reader takes anything, and whole outputs are the same bits for any number of threads.
//!
//! The same cases each time. `GOMPHOSIS_CASES=1000 cargo test --test robustness` tries every property that often,
//! `GOMPHOSIS_SEED` draws others, and the example `survey_cases` prints a tally.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod mechanics;
mod meshing;
mod outputs;
mod reader;
