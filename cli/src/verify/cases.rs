//! The catalogue: one file for each family of cases, in the order of the table.

use crate::verify::Case;

pub mod algebra;
pub mod benchmarks;
pub mod bone_loss;
pub mod disc;
pub mod elements;
pub mod lame;
pub mod manufactured;
pub mod paraboloid;
pub mod parallel_roots;
pub mod ring;
pub mod slender;
pub mod sphere;

/// Every case.
pub const ALL: [Case; 19] = [
    elements::PATCH,
    elements::RIGID_MOTIONS,
    manufactured::CASE,
    lame::SPHERE,
    lame::CYLINDER,
    benchmarks::PLATE,
    benchmarks::TAPER,
    benchmarks::MEMBRANE,
    ring::CASE,
    sphere::CASE,
    disc::CASE,
    paraboloid::STRETCHED,
    paraboloid::UNIFORM,
    paraboloid::MESHED,
    bone_loss::CASE,
    slender::CASE,
    parallel_roots::CASE,
    algebra::CONSTANTS,
    algebra::COMPLIANCE,
];
