//! One root (or the trunk of a multi-rooted tooth): an ellipse swept along a curved axis, shrinking toward a
//! rounded apex.

use super::{Sample, V3};

/// Last step of the search for the nearest point of the axis. Newton's next error is of the order of its square, and
/// the value is stationary there.
const ENOUGH: f64 = 1e-8;

/// Swept ellipse. At axis point `c(s)`, s in [0, 1], the section's half axes are `rho(s) / scale.x` and
/// `rho(s) / scale.y`; `rho(s) = tip + (start - tip)(1 - (1 - bulge) s - bulge s^2)`, and the ends are
/// half-ellipsoids. A bulge of 0 gives a cone, 1 a parabola that leaves the cervix without a taper.
///
/// The implicit function is `g(p) = min over s of |D (p - c(s))| - rho(s)`, with `D = diag(scale)`; its
/// gradient follows from the envelope theorem, `D^2 (p - c) / |D (p - c)|` at the minimising s.
#[derive(Debug, Clone)]
pub(crate) struct Canal {
    /// Control points of the quadratic Bezier axis, mm.
    pub(crate) axis: [V3; 3],
    /// Diagonal of D; z is 1.
    pub(crate) scale: V3,
    /// rho at s = 0, mm.
    pub(crate) start: f64,
    /// rho at s = 1, mm.
    pub(crate) tip: f64,
    /// Shape between the two, 0 to 1.
    pub(crate) bulge: f64,
}

impl Canal {
    fn centre(&self, s: f64) -> V3 {
        let r = 1.0 - s;
        self.axis[0] * (r * r) + self.axis[1] * (2.0 * r * s) + self.axis[2] * (s * s)
    }

    fn radius(&self, s: f64) -> f64 {
        self.tip + (self.start - self.tip) * (1.0 - s * (1.0 - self.bulge + self.bulge * s))
    }

    /// The s in [0, 1] that minimises `|D (p - c(s))| - rho(s)`: safeguarded Newton on the derivative. The
    /// function is convex for a straight axis (rho is concave) and nearly so for the curvatures used here.
    fn nearest(&self, p: &V3) -> f64 {
        let d = &self.scale;
        let first = (self.axis[1] - self.axis[0]) * 2.0;
        let second = (self.axis[0] - self.axis[1] * 2.0 + self.axis[2]) * 2.0;
        let scaled_second = second.component_mul(d);
        let drop = self.start - self.tip;
        let bend = 2.0 * drop * self.bulge;
        let slope = |s: f64| {
            let v = (p - self.centre(s)).component_mul(d);
            let tangent = (first + second * s).component_mul(d);
            let length = v.norm().max(1e-9);
            let along = v.dot(&tangent);
            let slope = -along / length + drop * (1.0 - self.bulge) + bend * s;
            let curvature = (tangent.norm_squared() - v.dot(&scaled_second)) / length
                - along * along / (length * length * length)
                + bend;
            (slope, curvature)
        };
        let (mut low, mut high) = (0.0, 1.0);
        let span = self.axis[2].z - self.axis[0].z;
        let mut s = ((p.z - self.axis[0].z) / span).clamp(0.0, 1.0);
        for _ in 0..40 {
            let (value, curvature) = slope(s);
            if value > 0.0 {
                high = s;
            } else {
                low = s;
            }
            let newton = s - value / curvature;
            let next = if curvature > 0.0 && newton > low && newton < high {
                newton
            } else if curvature > 0.0 && newton <= low && low <= 0.0 {
                // The minimum may sit on the end.
                if slope(0.0).0 >= 0.0 {
                    return 0.0;
                }
                0.5 * (low + high)
            } else if curvature > 0.0 && newton >= high && high >= 1.0 {
                if slope(1.0).0 <= 0.0 {
                    return 1.0;
                }
                0.5 * (low + high)
            } else {
                0.5 * (low + high)
            };
            if (next - s).abs() < ENOUGH || high - low < ENOUGH {
                return next;
            }
            s = next;
        }
        s
    }

    /// Point of the axis at a height, or the nearest end.
    pub(crate) fn centre_at(&self, z: f64) -> V3 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if self.centre(middle).z > z {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.centre(low)
    }

    /// First-order distance and its gradient.
    pub(crate) fn sample(&self, p: &V3) -> Sample {
        let s = self.nearest(p);
        let offset = p - self.centre(s);
        let scaled = offset.component_mul(&self.scale);
        let length = scaled.norm();
        let gradient = if length > 1e-9 { scaled.component_mul(&self.scale) / length } else { V3::x() };
        Sample { value: length - self.radius(s), gradient }.normalised()
    }

    /// The axis from its upper end to the apex.
    pub(crate) fn axis_points(&self) -> Vec<V3> {
        const STEPS: usize = 32;
        let swept = (0..=STEPS).map(|k| self.centre(k as f64 / STEPS as f64));
        swept.chain([self.apex()]).collect()
    }

    /// The apex: lowest point of the canal, mm.
    pub(crate) fn apex(&self) -> V3 {
        self.axis[2] - V3::z() * self.tip
    }
}
