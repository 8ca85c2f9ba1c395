//! Identities that hold whatever the numbers: patch test, rigid motions, definiteness, the same bits for any number of
//! threads, laws of scale.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod patch;
mod scaling;
mod threads;
