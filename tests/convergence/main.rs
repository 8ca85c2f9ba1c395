//! Orders of convergence, fitted over a series of meshes.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod manufactured;
