//! Closed forms, handbook cases and published values. Each file opens with its source, mesh, supports, expected
//! values, tolerance and the reason for it.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod algebra;
mod annulus;
mod benchmarks;
mod bone_loss;
mod disc;
mod lame;
mod paraboloid;
mod parallel_roots;
mod plausibility;
mod slender;
mod sphere;
