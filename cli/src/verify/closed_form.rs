//! Solutions that are known without finite elements, each with its source and its own tests.

pub mod annulus;
pub mod foundation;
pub mod lame;
pub mod sphere;

/// Shear modulus `E / (2 (1 + nu))`, MPa.
#[must_use]
pub fn shear_modulus(modulus: f64, poisson: f64) -> f64 {
    modulus / (2.0 * (1.0 + poisson))
}

/// Oedometric modulus `E (1 - nu) / ((1 + nu)(1 - 2 nu))`, MPa.
#[must_use]
pub fn oedometric_modulus(modulus: f64, poisson: f64) -> f64 {
    modulus * (1.0 - poisson) / ((1.0 + poisson) * (1.0 - 2.0 * poisson))
}
