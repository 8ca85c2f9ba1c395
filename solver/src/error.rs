//! What can go wrong between a mesh and the motion of a tooth.

use thiserror::Error;

/// Reasons why a problem has no solution here. Every variant carries the numbers.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum SolverError {
    /// A value outside what makes sense. `key` is the dotted case key.
    #[error("{key} is {value}: {allowed}")]
    OutOfRange {
        /// Dotted key of the case file, for example `materials.ligament.poisson_ratio`.
        key: String,
        /// The value as given.
        value: f64,
        /// What would be right, as a sentence without a full stop.
        allowed: &'static str,
    },
    /// A surface that the model needs has no faces in this mesh.
    #[error("the mesh has no surface named {name}")]
    NoSurface {
        /// Name of the surface.
        name: &'static str,
    },
    /// A body that the model needs has no elements in this mesh.
    #[error("the mesh has no elements of the {body}")]
    NoElements {
        /// Name of the body.
        body: &'static str,
    },
    /// The footprint of the attachment covers no part of the crown that could carry the load.
    #[error(
        "the attachment of {width_mm} x {height_mm} mm at ({x:.2}, {y:.2}, {z:.2}) mm covers {covered_mm2:.3} mm2 of the crown, too little to carry a load"
    )]
    Footprint {
        /// Centre of the footprint.
        x: f64,
        /// Centre of the footprint.
        y: f64,
        /// Centre of the footprint.
        z: f64,
        /// Width across, mm.
        width_mm: f64,
        /// Height, mm.
        height_mm: f64,
        /// Area of the crown inside the footprint, mm2.
        covered_mm2: f64,
    },
    /// An element with a Jacobian that is not positive at a quadrature point.
    #[error("element {cell} has the Jacobian {determinant:.3e} at a quadrature point")]
    Jacobian {
        /// The element.
        cell: usize,
        /// The determinant found.
        determinant: f64,
    },
    /// The factor would need more memory than allowed.
    #[error(
        "{unknowns} unknowns need about {needed_mb} MB to factor, but {allowed_mb} MB are allowed; a larger mesh.element_size_mm needs less"
    )]
    TooLarge {
        /// Unknowns of the system.
        unknowns: usize,
        /// Predicted need, MB (10^6 bytes).
        needed_mb: u64,
        /// The limit, MB.
        allowed_mb: u64,
    },
    /// The system is not positive definite: a body is not held, or a material is not admissible.
    #[error("the system of {unknowns} unknowns is not positive definite: a body is not held anywhere")]
    NotPositiveDefinite {
        /// Unknowns of the system.
        unknowns: usize,
    },
    /// The solution of the linear system is not as exact as asked.
    #[error(
        "the linear solver stopped after {iterations} steps at a relative residual of {relative_residual:.2e} (asked: {tolerance:.2e})"
    )]
    NotConverged {
        /// Steps taken.
        iterations: usize,
        /// Largest relative residual over the right-hand sides.
        relative_residual: f64,
        /// What was asked.
        tolerance: f64,
    },
    /// Rounding leaves more of an error than a result may have.
    #[error(
        "rounding leaves a relative error of {energy_error:.1e} in the solution (at most {tolerance:.0e} is allowed): the bodies are too unlike in stiffness"
    )]
    Inexact {
        /// Steps taken.
        iterations: usize,
        /// Largest relative error in the energy norm over the right-hand sides.
        energy_error: f64,
        /// What is allowed.
        tolerance: f64,
    },
    /// The library that orders or factors the matrix refused it.
    #[error("the {step} of {unknowns} unknowns failed: {detail}")]
    Factor {
        /// Which step.
        step: &'static str,
        /// Unknowns of the system.
        unknowns: usize,
        /// What the library said.
        detail: String,
    },
    /// A matrix that should be symmetric positive definite is not.
    #[error("the compliance is not positive definite: its smallest scaled eigenvalue is {smallest:.3e}")]
    Compliance {
        /// Smallest eigenvalue after scaling the diagonal to one.
        smallest: f64,
    },
    /// A file could not be written.
    #[error("could not write: {0}")]
    Write(#[from] std::io::Error),
    /// The observer asked to stop.
    #[error("interrupted")]
    Interrupted,
}
