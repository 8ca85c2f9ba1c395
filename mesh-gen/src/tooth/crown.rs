//! Crowns: a rounded prism between four outlines, cut off by an occlusal surface with simple cusps or ridges. Made to
//! be recognised in a section and in a silhouette and to carry the load, not to occlude.

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

/// Incisal ridges that fall away from the long axis along the arch: to mesial and to distal, mm for each mm.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Ridges {
    pub(crate) mesial: f64,
    pub(crate) distal: f64,
    /// Radius of the rounded tip for a slope of 1, mm.
    pub(crate) blunt: f64,
}

impl Ridges {
    /// How far the ridge lies below its top at a place along the arch, and the slope there.
    fn fall(&self, y: f64) -> (f64, f64) {
        let slope = if y > 0.0 { self.mesial } else { self.distal };
        let length = y.hypot(self.blunt).max(1e-9);
        (slope * (length - self.blunt), slope * y / length)
    }
}

/// One outline of a crown: knots of height as a fraction of the crown's, and distance from the long axis, mm.
pub(crate) type Outline = Vec<(f64, f64)>;

/// A crown above the cemento-enamel junction.
#[derive(Debug, Clone)]
pub(crate) struct Crown {
    /// Height of the cemento-enamel junction, mm.
    pub(crate) base_z: f64,
    /// Height of the highest cusp or of the incisal edge above it, mm.
    pub(crate) height: f64,
    /// Outlines seen along the arch: to the cheek or lip, and to the tongue (positive away from the axis).
    pub(crate) buccal: Outline,
    pub(crate) lingual: Outline,
    /// Outlines seen from the cheek or lip.
    pub(crate) mesial: Outline,
    pub(crate) distal: Outline,
    /// Exponent of the section: 2 is an ellipse, larger is squarer.
    pub(crate) exponent: f64,
    pub(crate) cusps: Vec<Cusp>,
    pub(crate) ridges: Ridges,
    /// Rounding of the occlusal edge, mm.
    pub(crate) edge_radius: f64,
    /// How far the crown reaches below the junction into the root, mm.
    pub(crate) overlap: f64,
}

/// Half width and shift of the middle at a height between two outlines, each with its derivative.
struct Span {
    half: (f64, f64),
    middle: (f64, f64),
}

impl Span {
    fn between(positive: &Outline, negative: &Outline, t: f64) -> Self {
        let ((p, dp), (n, dn)) = (smooth(positive, t), smooth(negative, t));
        Self { half: (0.5 * (p + n), 0.5 * (dp + dn)), middle: (0.5 * (p - n), 0.5 * (dp - dn)) }
    }
}

impl Crown {
    pub(crate) fn sample(&self, p: &V3) -> Sample {
        let up = p.z - self.base_z;
        let side = self.side(p, up);
        let top = self.top(p, up);
        let bottom = Sample { value: -up - self.overlap, gradient: -V3::z() };
        intersect(intersect(side, top, self.edge_radius), bottom, 0.3)
    }

    fn across(&self, t: f64) -> Span {
        Span::between(&self.buccal, &self.lingual, t)
    }

    fn along(&self, t: f64) -> Span {
        Span::between(&self.mesial, &self.distal, t)
    }

    fn fraction(&self, z: f64) -> f64 {
        (z - self.base_z) / self.height
    }

    /// Smaller half width of the section at a height, mm.
    pub(crate) fn half_width(&self, z: f64) -> f64 {
        let t = self.fraction(z);
        self.across(t).half.0.min(self.along(t).half.0)
    }

    /// Buccal shift of the section's centre at a height, mm.
    pub(crate) fn shift(&self, z: f64) -> f64 {
        self.across(self.fraction(z)).middle.0
    }

    /// Where the crown is highest (x, y): on the tallest cusp, or in the middle of the incisal edge.
    pub(crate) fn top_place(&self) -> (f64, f64) {
        let tallest = self.cusps.iter().max_by(|a, b| a.height.total_cmp(&b.height));
        tallest.map_or((self.across(1.0).middle.0, 0.0), |c| (c.x, c.y))
    }

    fn side(&self, p: &V3, up: f64) -> Sample {
        let t = up / self.height;
        let (across, along) = (self.across(t), self.along(t));
        let ((a, da), (b, db)) = (across.half, along.half);
        let (x, y) = (p.x - across.middle.0, p.y - along.middle.0);
        let n = self.exponent;
        let (u, v) = (x.abs() / a, y.abs() / b);
        let (un, vn) = (u.powf(n), v.powf(n));
        let sum = (un + vn).max(1e-12);
        let q = sum.powf(1.0 / n);
        // d q / d u = u^(n-1) q^(1-n); widths and middles depend on z.
        let common = q / sum;
        let (qu, qv) = (un / u.max(1e-9) * common, vn / v.max(1e-9) * common);
        let gradient = V3::new(
            qu / a * x.signum(),
            qv / b * y.signum(),
            -(qu * (u * da + x.signum() * across.middle.1) / a
                + qv * (v * db + y.signum() * along.middle.1) / b)
                / self.height,
        );
        if q < 1e-3 {
            return Sample { value: -a.min(b), gradient: V3::x() };
        }
        Sample { value: q - 1.0, gradient }.normalised()
    }

    /// Height of the occlusal surface at a place over its height far from all cusps, and its slopes.
    fn relief(&self, x: f64, y: f64) -> (f64, f64, f64) {
        let (fall, slope) = self.ridges.fall(y);
        let (mut height, mut hx, mut hy) = (-fall, 0.0, -slope);
        for cusp in &self.cusps {
            let (dx, dy) = ((x - cusp.x) / cusp.width_x, (y - cusp.y) / cusp.width_y);
            let bump = cusp.height * (-dx * dx - dy * dy).exp();
            height += bump;
            hx -= 2.0 * dx / cusp.width_x * bump;
            hy -= 2.0 * dy / cusp.width_y * bump;
        }
        (height, hx, hy)
    }

    fn top(&self, p: &V3, up: f64) -> Sample {
        let (x, y) = self.top_place();
        // The surface is hung so that it has the crown's height at its highest place.
        let base = self.height - self.relief(x, y).0;
        let (height, hx, hy) = self.relief(p.x, p.y);
        Sample { value: up - base - height, gradient: V3::new(-hx, -hy, 1.0) }.normalised()
    }
}

/// Smooth curve through knots, constant outside; value and derivative. Cubic Hermite pieces with the slopes of Fritsch and
/// Butland (1984, from memory): no wider between two knots than at the wider one, so that a largest width stands at its knot.
fn smooth(knots: &[(f64, f64)], t: f64) -> (f64, f64) {
    let last = knots.len() - 1;
    if t <= knots[0].0 {
        return (knots[0].1, 0.0);
    }
    if t >= knots[last].0 {
        return (knots[last].1, 0.0);
    }
    let i = knots.partition_point(|k| k.0 <= t) - 1;
    let secant = |j: usize| (knots[j + 1].1 - knots[j].1) / (knots[j + 1].0 - knots[j].0);
    let slope = |j: usize| {
        if j == 0 || j == last {
            return 0.0;
        }
        let (before, after) = (secant(j - 1), secant(j));
        if before * after <= 0.0 { 0.0 } else { 2.0 * before * after / (before + after) }
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
