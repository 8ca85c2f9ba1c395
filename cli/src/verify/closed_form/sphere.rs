//! Rigid sphere in a concentric bonded shell.
//!
//! Papkovich-Neuber form of the displacement for travel of the inner sphere along z:
//! `u = z-hat (A + B/r^3 + C (3 - 4 nu)/r + D (3 - 2 nu) r^2) + r-hat cos(theta) (-3 B/r^3 + C/r - D (4 - 6 nu) r^2)`.
//! Both brackets are (1, 0) at r = a and (0, 0) at r = b; the force is `16 pi G (1 - nu) C`.

use std::f64::consts::PI;

use nalgebra::{Matrix4, Vector3, Vector4};

use super::shear_modulus;

/// A bonded shell.
#[derive(Debug, Clone, Copy)]
pub struct BondedShell {
    /// Inner radius a, mm.
    pub inner: f64,
    /// Outer radius b, mm.
    pub outer: f64,
    /// Young's modulus, MPa.
    pub modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

impl BondedShell {
    /// Force for travel of the inner sphere, N/mm.
    #[must_use]
    pub fn lateral(&self) -> f64 {
        16.0 * PI * shear_modulus(self.modulus, self.poisson) * (1.0 - self.poisson) * self.constants()[2]
    }

    /// Moment for turning the inner sphere, N mm/rad: `8 pi G / (1/a^3 - 1/b^3)` (torsion of concentric shells).
    #[must_use]
    pub fn torsion(&self) -> f64 {
        8.0 * PI * shear_modulus(self.modulus, self.poisson) / (self.inner.powi(-3) - self.outer.powi(-3))
    }

    /// Displacement at a point of the layer when the inner sphere travels 1 mm along z, mm.
    #[must_use]
    pub fn displacement(&self, x: Vector3<f64>) -> Vector3<f64> {
        let [a, b, c, d]: [f64; 4] = self.constants().into();
        let (r, nu) = (x.norm(), self.poisson);
        let along = a + b / r.powi(3) + c * (3.0 - 4.0 * nu) / r + d * (3.0 - 2.0 * nu) * r * r;
        let radial = -3.0 * b / r.powi(3) + c / r - d * (4.0 - 6.0 * nu) * r * r;
        Vector3::z() * along + x / r * (x.z / r) * radial
    }

    fn constants(&self) -> Vector4<f64> {
        let nu = self.poisson;
        let rows = |r: f64| {
            (
                [1.0, r.powi(-3), (3.0 - 4.0 * nu) / r, (3.0 - 2.0 * nu) * r * r],
                [0.0, -3.0 * r.powi(-3), 1.0 / r, -(4.0 - 6.0 * nu) * r * r],
            )
        };
        let ((inner_z, inner_r), (outer_z, outer_r)) = (rows(self.inner), rows(self.outer));
        let m = Matrix4::from_row_iterator([inner_z, inner_r, outer_z, outer_r].concat());
        m.lu()
            .solve(&Vector4::new(1.0, 0.0, 0.0, 0.0))
            .expect("the four conditions are independent for a < b")
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    const SHELL: BondedShell = BondedShell { inner: 1.0, outer: 1.6, modulus: 2.0, poisson: 0.3 };

    #[test]
    fn field_meets_its_boundary_values_and_navier() {
        for direction in [Vector3::new(0.6, 0.0, 0.8), Vector3::new(-0.48, 0.64, 0.6), Vector3::z()] {
            let inner = SHELL.displacement(direction * 1.0);
            let outer = SHELL.displacement(direction * 1.6);
            assert!((inner - Vector3::z()).norm() < 1e-13 && outer.norm() < 1e-13);
            // (1 - 2 nu) laplace(u) + grad(div u) = 0, by central differences.
            let (x, h) = (direction * 1.3, 1e-3);
            let u = |i: f64, a: usize, j: f64, b: usize| {
                let mut p = x;
                p[a] += i * h;
                p[b] += j * h;
                SHELL.displacement(p)
            };
            let second = |a: usize, b: usize| {
                if a == b {
                    (u(1.0, a, 0.0, a) - 2.0 * u(0.0, a, 0.0, a) + u(-1.0, a, 0.0, a)) / (h * h)
                } else {
                    (u(1.0, a, 1.0, b) - u(1.0, a, -1.0, b) - u(-1.0, a, 1.0, b) + u(-1.0, a, -1.0, b))
                        / (4.0 * h * h)
                }
            };
            for axis in 0..3 {
                let laplace = (0..3).map(|k| second(k, k)[axis]).sum::<f64>();
                let gradient = (0..3).map(|k| second(axis, k)[k]).sum::<f64>();
                assert!((0.4 * laplace + gradient).abs() < 2e-4, "{laplace} {gradient}");
            }
        }
    }

    /// Far outer wall, incompressible: Stokes' drag with G in place of the viscosity, `6 pi G a`.
    #[test]
    fn sphere_in_a_wide_incompressible_body_is_stokes_sphere() {
        let wide = BondedShell { inner: 1.0, outer: 1e6, modulus: 3.0, poisson: 0.5 - 1e-9 };
        assert_relative_eq!(wide.lateral(), 6.0 * PI, max_relative = 1e-5);
    }

    /// A thin compressible layer is a layer of springs: normal springs carry a third of the sphere's area, tangential
    /// ones two thirds.
    #[test]
    fn thin_shell_is_a_layer_of_springs() {
        let thin = BondedShell { inner: 1.0, outer: 1.0001, modulus: 2.0, poisson: 0.3 };
        let springs = super::super::oedometric_modulus(2.0, 0.3) + 2.0 * shear_modulus(2.0, 0.3);
        assert_relative_eq!(thin.lateral(), 4.0 * PI * springs / 3.0 / 1e-4, max_relative = 1e-3);
    }
}
