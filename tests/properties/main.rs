//! Identities that hold whatever the numbers: the same bits for any number of threads, laws of scale, refusals.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod attachment;
mod estimate;
mod refusals;
mod scaling;
mod threads;
