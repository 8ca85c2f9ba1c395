//! Rigid core in a layer bonded between two coaxial cylinders, plane strain.
//!
//! Lateral: stiffness of a bonded cylindrical bush for any Poisson's ratio; it becomes the formula of Adkins and
//! Gent 1954 (from memory) for an incompressible layer, and a spring layer of the oedometric and the shear modulus
//! for a thin one. Derived from the Kolosov potentials of a ring whose edges are held or moved as rigid bodies.

use std::f64::consts::PI;

use super::shear_modulus;

/// A bonded ring; stiffnesses are for each mm of length.
#[derive(Debug, Clone, Copy)]
pub struct BondedAnnulus {
    /// Inner radius a, mm.
    pub inner: f64,
    /// Outer radius b, mm.
    pub outer: f64,
    /// Young's modulus, MPa.
    pub modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl BondedAnnulus {
    /// Force for sideways travel of the core, N/mm for each mm:
    /// `2 pi G (1 + kappa) / (kappa ln(b/a) - (b^2 - a^2) / (kappa (a^2 + b^2)))`, `kappa = 3 - 4 nu`.
    #[must_use]
    pub fn lateral(&self) -> f64 {
        let kappa = 3.0 - 4.0 * self.poisson;
        let (a2, b2) = (self.inner.powi(2), self.outer.powi(2));
        let flow = kappa * (self.outer / self.inner).ln() - (b2 - a2) / (kappa * (a2 + b2));
        2.0 * PI * shear_modulus(self.modulus, self.poisson) * (1.0 + kappa) / flow
    }

    /// Force for travel of the core along the axis, N/mm for each mm: `2 pi G / ln(b/a)`.
    #[must_use]
    pub fn axial(&self) -> f64 {
        2.0 * PI * shear_modulus(self.modulus, self.poisson) / (self.outer / self.inner).ln()
    }

    /// Moment for turning the core about the axis, N mm/rad for each mm: `4 pi G / (1/a^2 - 1/b^2)`.
    #[must_use]
    pub fn torsion(&self) -> f64 {
        4.0 * PI * shear_modulus(self.modulus, self.poisson) / (self.inner.powi(-2) - self.outer.powi(-2))
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;
    use crate::verify::closed_form::oedometric_modulus;

    /// A thin compressible layer is a layer of springs: `pi r (M + G) / t` sideways.
    #[test]
    fn thin_ring_is_a_layer_of_springs() {
        for poisson in [0.0, 0.3, 0.4] {
            let ring = BondedAnnulus { inner: 1.0, outer: 1.0001, modulus: 2.0, poisson };
            let springs = oedometric_modulus(2.0, poisson) + shear_modulus(2.0, poisson);
            assert_relative_eq!(ring.lateral(), PI * 1.00005 * springs / 1e-4, max_relative = 1e-5);
        }
    }

    /// Adkins and Gent 1954 (from memory): `4 pi G / (ln(b/a) - (b^2 - a^2)/(a^2 + b^2))` for an incompressible bush.
    #[test]
    fn incompressible_ring_is_the_bush_of_adkins_and_gent() {
        let ring = BondedAnnulus { inner: 1.0, outer: 2.0, modulus: 3.0, poisson: 0.5 - 1e-9 };
        assert_relative_eq!(ring.lateral(), 4.0 * PI / (2f64.ln() - 3.0 / 5.0), max_relative = 1e-6);
    }

    /// The displacement field behind the lateral stiffness, checked against Navier's equations by finite
    /// differences and against its force by integrating tractions on a circle.
    #[test]
    fn lateral_stiffness_is_the_force_of_a_field_in_equilibrium() {
        let (a, b, g, nu) = (1.0f64, 1.7f64, 1.0, 0.35);
        let kappa = 3.0 - 4.0 * nu;
        // Kolosov: 2 G (u + i v) = kappa phi - z conj(phi') - conj(psi) with
        // phi = A ln z + C z^2, psi = -kappa A ln z + B / z^2 + D, all real.
        let mul = |p: (f64, f64), q: (f64, f64)| (p.0 * q.0 - p.1 * q.1, p.0 * q.1 + p.1 * q.0);
        let power = |x: f64, y: f64, n: i32| {
            let (r, th) = (x.hypot(y), y.atan2(x));
            (r.powi(n) * (f64::from(n) * th).cos(), r.powi(n) * (f64::from(n) * th).sin())
        };
        let field = |k: [f64; 4], x: f64, y: f64| {
            let r = x.hypot(y);
            let z = (x, y);
            // kappa A (ln z + ln conj z) = 2 kappa A ln r is single valued.
            let inverse = power(x, y, -1);
            let conj_phi = (k[0] * inverse.0 + 2.0 * k[2] * x, -(k[0] * inverse.1 + 2.0 * k[2] * y));
            let back = mul(z, conj_phi);
            let z2 = power(x, y, 2);
            let w2 = power(x, y, -2);
            (
                (2.0 * kappa * k[0] * r.ln() + kappa * k[2] * z2.0 - back.0 - k[1] * w2.0 - k[3]) / (2.0 * g),
                (kappa * k[2] * z2.1 - back.1 + k[1] * w2.1) / (2.0 * g),
            )
        };
        // Four conditions: u = 1 at two points of r = a, u = 0 at two points of r = b.
        let places = [(a, 0.0, 1.0), (0.0, a, 1.0), (b, 0.0, 0.0), (0.0, b, 0.0)];
        let mut m = nalgebra::Matrix4::zeros();
        let mut rhs = nalgebra::Vector4::zeros();
        for (row, (x, y, value)) in places.into_iter().enumerate() {
            for column in 0..4 {
                let mut k = [0.0; 4];
                k[column] = 1.0;
                m[(row, column)] = field(k, x, y).0;
            }
            rhs[row] = value;
        }
        let k: [f64; 4] = m.lu().solve(&rhs).expect("four independent conditions").into();
        for i in 0..12 {
            let (sine, cosine) = (f64::from(i) * 0.5).sin_cos();
            let (inner, outer) = (field(k, a * cosine, a * sine), field(k, b * cosine, b * sine));
            assert!((inner.0 - 1.0).abs() + inner.1.abs() + outer.0.abs() + outer.1.abs() < 1e-12);
        }
        // Force on the core: minus the integral of the traction over a circle inside the layer.
        let (radius, steps, h) = (1.3, 720, 1e-5);
        let mut force = 0.0;
        for i in 0..steps {
            let (sine, cosine) = (std::f64::consts::TAU * f64::from(i) / f64::from(steps)).sin_cos();
            let (x, y) = (radius * cosine, radius * sine);
            let slope = |dx: f64, dy: f64| {
                let (p, q) = (field(k, x + dx, y + dy), field(k, x - dx, y - dy));
                ((p.0 - q.0) / (2.0 * h), (p.1 - q.1) / (2.0 * h))
            };
            let ((ux, vx), (uy, vy)) = (slope(h, 0.0), slope(0.0, h));
            let lambda = 2.0 * g * nu / (1.0 - 2.0 * nu);
            let (sxx, sxy) = (lambda * (ux + vy) + 2.0 * g * ux, g * (uy + vx));
            force -= (sxx * cosine + sxy * sine) * radius * std::f64::consts::TAU / f64::from(steps);
        }
        let ring = BondedAnnulus { inner: a, outer: b, modulus: 2.0 * g * (1.0 + nu), poisson: nu };
        assert_relative_eq!(force, ring.lateral(), max_relative = 1e-8);
    }
}
