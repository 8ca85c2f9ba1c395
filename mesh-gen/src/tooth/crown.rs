//! Crowns: a rounded prism whose width changes with height, cut off by an occlusal surface with simple
//! cusps. Made to be recognised in a section and to carry the load, not to occlude.

use super::{Sample, V3, intersect};

/// A cusp: a bump of the occlusal surface.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cusp {
    pub(crate) x: f64,
    pub(crate) y: f64,
    /// Height above the occlusal base, mm.
    pub(crate) height: f64,
    /// Half widths at which the bump has fallen to 1/e, mm.
    pub(crate) width_x: f64,
    pub(crate) width_y: f64,
}

/// A crown above the cemento-enamel junction.
#[derive(Debug, Clone)]
pub(crate) struct Crown {
    /// Height of the cemento-enamel junction, mm.
    pub(crate) base_z: f64,
    /// Height of the highest cusp above it, mm.
    pub(crate) height: f64,
    /// Knots (height fraction, half width across the arch) and (.., along the arch), mm.
    pub(crate) across: Vec<(f64, f64)>,
    pub(crate) along: Vec<(f64, f64)>,
    /// Knots (height fraction, shift of the section's centre to buccal), mm.
    pub(crate) lean: Vec<(f64, f64)>,
    /// Exponent of the section: 2 is an ellipse, larger is squarer.
    pub(crate) exponent: f64,
    /// Height of the occlusal base above the junction, mm.
    pub(crate) occlusal_base: f64,
    pub(crate) cusps: Vec<Cusp>,
    /// Rounding of the occlusal edge, mm.
    pub(crate) edge_radius: f64,
    /// How far the crown reaches below the junction into the root, mm.
    pub(crate) overlap: f64,
}

impl Crown {
    pub(crate) fn sample(&self, p: &V3) -> Sample {
        let up = p.z - self.base_z;
        let side = self.side(p, up);
        let top = self.top(p, up);
        let bottom = Sample { value: -up - self.overlap, gradient: -V3::z() };
        intersect(intersect(side, top, self.edge_radius), bottom, 0.3)
    }

    /// Smaller half width of the section at a height, mm.
    pub(crate) fn half_width(&self, z: f64) -> f64 {
        let t = (z - self.base_z) / self.height;
        hermite(&self.across, t).0.min(hermite(&self.along, t).0)
    }

    /// Buccal shift of the section's centre at a height, mm.
    pub(crate) fn shift(&self, z: f64) -> f64 {
        hermite(&self.lean, (z - self.base_z) / self.height).0
    }

    /// The same at the occlusal end.
    pub(crate) fn edge_x(&self) -> f64 {
        self.shift(self.base_z + self.height)
    }

    fn side(&self, p: &V3, up: f64) -> Sample {
        let t = up / self.height;
        let (a, da) = hermite(&self.across, t);
        let (b, db) = hermite(&self.along, t);
        let (shift, dshift) = hermite(&self.lean, t);
        let x = p.x - shift;
        let n = self.exponent;
        let (u, v) = (x.abs() / a, p.y.abs() / b);
        let (un, vn) = (u.powf(n), v.powf(n));
        let sum = (un + vn).max(1e-12);
        let q = sum.powf(1.0 / n);
        // d q / d u = u^(n-1) q^(1-n); the widths depend on z.
        let common = q / sum;
        let (qu, qv) = (un / u.max(1e-9) * common, vn / v.max(1e-9) * common);
        let gradient = V3::new(
            qu / a * x.signum(),
            qv / b * p.y.signum(),
            -(qu * (u * da + x.signum() * dshift) / a + qv * v * db / b) / self.height,
        );
        if q < 1e-3 {
            return Sample { value: -a.min(b), gradient: V3::x() };
        }
        Sample { value: q - 1.0, gradient }.normalised()
    }

    fn top(&self, p: &V3, up: f64) -> Sample {
        let mut height = self.occlusal_base;
        let (mut hx, mut hy) = (0.0, 0.0);
        for cusp in &self.cusps {
            let (dx, dy) = ((p.x - cusp.x) / cusp.width_x, (p.y - cusp.y) / cusp.width_y);
            let bump = cusp.height * (-dx * dx - dy * dy).exp();
            height += bump;
            hx -= 2.0 * dx / cusp.width_x * bump;
            hy -= 2.0 * dy / cusp.width_y * bump;
        }
        Sample { value: up - height, gradient: V3::new(-hx, -hy, 1.0) }.normalised()
    }
}

/// Smooth curve through knots (cubic Hermite, slopes by three-point differences), constant outside; value
/// and derivative.
fn hermite(knots: &[(f64, f64)], t: f64) -> (f64, f64) {
    let last = knots.len() - 1;
    if t <= knots[0].0 {
        return (knots[0].1, 0.0);
    }
    if t >= knots[last].0 {
        return (knots[last].1, 0.0);
    }
    let i = knots.partition_point(|k| k.0 <= t) - 1;
    let slope = |j: usize| {
        if j == 0 || j == last {
            0.0
        } else {
            (knots[j + 1].1 - knots[j - 1].1) / (knots[j + 1].0 - knots[j - 1].0)
        }
    };
    let (t0, v0) = knots[i];
    let (t1, v1) = knots[i + 1];
    let width = t1 - t0;
    let (m0, m1) = (slope(i) * width, slope(i + 1) * width);
    let x = (t - t0) / width;
    let (x2, x3) = (x * x, x * x * x);
    let value = v0 * (2.0 * x3 - 3.0 * x2 + 1.0)
        + m0 * (x3 - 2.0 * x2 + x)
        + v1 * (-2.0 * x3 + 3.0 * x2)
        + m1 * (x3 - x2);
    let derivative = v0 * (6.0 * x2 - 6.0 * x)
        + m0 * (3.0 * x2 - 4.0 * x + 1.0)
        + v1 * (-6.0 * x2 + 6.0 * x)
        + m1 * (3.0 * x2 - 2.0 * x);
    (value, derivative / width)
}
