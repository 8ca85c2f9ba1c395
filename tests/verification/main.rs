//! Closed forms, handbook cases and published values. Each file opens with its source, mesh, supports, expected
//! values, tolerance and the reason for it.

mod algebra;
mod annulus;
mod benchmarks;
mod bone_loss;
mod disc;
mod lame;
mod paraboloid;
mod parallel_roots;
mod slender;
mod sphere;
