//! Lamé's thick sphere and thick cylinder (plane strain) under inner pressure.
//!
//! Any textbook, for example Timoshenko and Goodier, Theory of Elasticity, articles on hollow spheres and cylinders
//! (from memory).

/// A hollow body under inner pressure.
#[derive(Debug, Clone, Copy)]
pub struct Hollow {
    /// Inner radius a, mm.
    pub inner: f64,
    /// Outer radius b, mm.
    pub outer: f64,
    /// Inner pressure, MPa.
    pub pressure: f64,
    /// Young's modulus, MPa.
    pub modulus: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

/// Displacement and stress at a radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Radial {
    /// Radial displacement, mm.
    pub displacement: f64,
    /// Radial stress, MPa.
    pub radial: f64,
    /// Hoop stress, MPa.
    pub hoop: f64,
}

impl Hollow {
    /// As a sphere: `s_r = k (1 - b^3/r^3)`, `s_t = k (1 + b^3/(2 r^3))`, `k = p a^3/(b^3 - a^3)`,
    /// `u = r (s_t (1 - nu) - nu s_r) / E`.
    #[must_use]
    pub fn sphere(&self, r: f64) -> Radial {
        let k = self.pressure * self.inner.powi(3) / (self.outer.powi(3) - self.inner.powi(3));
        let ratio = (self.outer / r).powi(3);
        let (radial, hoop) = (k * (1.0 - ratio), k * (1.0 + ratio / 2.0));
        let strain = (hoop * (1.0 - self.poisson) - self.poisson * radial) / self.modulus;
        Radial { displacement: r * strain, radial, hoop }
    }

    /// As a cylinder in plane strain: `s_r = k (1 - b^2/r^2)`, `s_t = k (1 + b^2/r^2)`, `k = p a^2/(b^2 - a^2)`,
    /// `u = r (1 + nu) (s_t (1 - nu) - nu s_r) / E`.
    #[must_use]
    pub fn cylinder(&self, r: f64) -> Radial {
        let k = self.pressure * self.inner.powi(2) / (self.outer.powi(2) - self.inner.powi(2));
        let ratio = (self.outer / r).powi(2);
        let (radial, hoop) = (k * (1.0 - ratio), k * (1.0 + ratio));
        let strain =
            (1.0 + self.poisson) * (hoop * (1.0 - self.poisson) - self.poisson * radial) / self.modulus;
        Radial { displacement: r * strain, radial, hoop }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    /// Equilibrium `d s_r/dr + n (s_r - s_t)/r = 0` and compatibility with `u`, by central differences.
    #[test]
    fn stresses_balance_and_follow_from_the_displacement() {
        let body = Hollow { inner: 1.0, outer: 2.0, pressure: 1.5, modulus: 10.0, poisson: 0.35 };
        let h = 1e-5;
        for r in [1.1, 1.5, 1.9] {
            for (n, at) in [(2.0, Hollow::sphere as fn(&Hollow, f64) -> Radial), (1.0, Hollow::cylinder)] {
                let (low, middle, high) = (at(&body, r - h), at(&body, r), at(&body, r + h));
                let slope = (high.radial - low.radial) / (2.0 * h);
                assert!((slope + n * (middle.radial - middle.hoop) / r).abs() < 1e-7);
                let (lambda, g) = (10.0 * 0.35 / (1.35 * 0.3), 10.0 / 2.7);
                let stretch = (high.displacement - low.displacement) / (2.0 * h);
                let hoop = middle.displacement / r;
                let volume = stretch + n * hoop;
                assert_relative_eq!(middle.radial, lambda * volume + 2.0 * g * stretch, max_relative = 1e-7);
                assert_relative_eq!(middle.hoop, lambda * volume + 2.0 * g * hoop, max_relative = 1e-7);
            }
        }
        assert_relative_eq!(body.sphere(1.0).radial, -1.5, max_relative = 1e-14);
        assert!(body.cylinder(2.0).radial.abs() < 1e-14);
    }
}
