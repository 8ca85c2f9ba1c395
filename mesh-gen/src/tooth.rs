//! The tooth as an implicit solid: negative inside, close to a signed distance near its surface, with a
//! smooth gradient there. Owns the shape; knows nothing of ligament, bone or mesh.

pub(crate) mod anatomy;
pub(crate) mod canal;
pub(crate) mod crown;
pub(crate) mod handbook;
pub(crate) mod ideal;
mod outlines;

use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

use canal::Canal;
use crown::Crown;
use ideal::Paraboloid;

pub(crate) type V3 = Vector3<f64>;

/// Value and gradient of an implicit function.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) value: f64,
    pub(crate) gradient: V3,
}

impl Sample {
    /// Divides by the length of the gradient: the first-order distance.
    pub(crate) fn normalised(self) -> Self {
        let length = self.gradient.norm().max(1e-12);
        Self { value: self.value / length, gradient: self.gradient / length }
    }

    fn negated(self) -> Self {
        Self { value: -self.value, gradient: -self.gradient }
    }
}

/// Smooth union: the smaller of two values, with a fillet where they differ by less than `radius`.
pub(crate) fn unite(a: Sample, b: Sample, radius: f64) -> Sample {
    let h = (0.5 + (b.value - a.value) / (2.0 * radius)).clamp(0.0, 1.0);
    Sample {
        value: b.value * (1.0 - h) + a.value * h - radius * h * (1.0 - h),
        gradient: b.gradient * (1.0 - h) + a.gradient * h,
    }
}

/// Smooth intersection: the larger of two values, with a rounded edge.
pub(crate) fn intersect(a: Sample, b: Sample, radius: f64) -> Sample {
    unite(a.negated(), b.negated(), radius).negated()
}

/// A tooth in the tooth frame (crest at z = 0).
#[derive(Debug, Clone)]
pub(crate) struct ToothSolid {
    /// Trunk first (multi-rooted teeth), then the roots.
    pub(crate) canals: Vec<Canal>,
    pub(crate) trunk: bool,
    pub(crate) root: Option<Paraboloid>,
    pub(crate) crown: Option<Crown>,
    /// Radius of the fillet between roots, mm.
    pub(crate) furcation_fillet: f64,
    /// Radius of the fillet between root and crown, mm.
    pub(crate) cervix_fillet: f64,
    /// Height of the cemento-enamel junction above the crest, mm.
    pub(crate) cej_z: f64,
}

impl ToothSolid {
    /// Value and gradient at a point.
    pub(crate) fn sample(&self, p: &V3) -> Sample {
        let root = self.root_sample(p);
        match &self.crown {
            // The crown ends well above the apical parts: skip it where it cannot matter.
            Some(crown) if p.z > self.cej_z - 3.0 => unite(root, crown.sample(p), self.cervix_fillet),
            _ => root,
        }
    }

    fn root_sample(&self, p: &V3) -> Sample {
        if let Some(paraboloid) = &self.root {
            return paraboloid.sample(p);
        }
        let mut all = self.canals[0].sample(p);
        for canal in &self.canals[1..] {
            all = unite(all, canal.sample(p), self.furcation_fillet);
        }
        all
    }

    pub(crate) fn value(&self, p: &V3) -> f64 {
        self.sample(p).value
    }

    /// Where the value is zero on a segment whose ends have values of opposite sign, as the fraction from `a` to `b`:
    /// regula falsi with the Illinois rule.
    pub(crate) fn crossing(&self, a: &V3, b: &V3, ends: [f64; 2]) -> f64 {
        let (mut t0, mut t1, [mut f0, mut f1]) = (0.0, 1.0, ends);
        let mut side = 0;
        for _ in 0..60 {
            let t = (t0 * f1 - t1 * f0) / (f1 - f0);
            let f = self.value(&(a + (b - a) * t));
            if f.abs() < 1e-11 || (t1 - t0).abs() < 1e-12 {
                return t;
            }
            if (f < 0.0) == (f1 < 0.0) {
                t1 = t;
                f1 = f;
                if side == -1 {
                    f0 *= 0.5;
                }
                side = -1;
            } else {
                t0 = t;
                f0 = f;
                if side == 1 {
                    f1 *= 0.5;
                }
                side = 1;
            }
        }
        0.5 * (t0 + t1)
    }

    /// Unit normal from central differences of the value: exact to second order also inside fillets, where
    /// the blended gradient is not.
    pub(crate) fn normal(&self, p: &V3) -> V3 {
        const STEP: f64 = 1e-4;
        let mut g = V3::zeros();
        for axis in 0..3 {
            let mut forward = *p;
            let mut backward = *p;
            forward[axis] += STEP;
            backward[axis] -= STEP;
            g[axis] = self.value(&forward) - self.value(&backward);
        }
        g.normalize()
    }

    /// Moves a point onto the surface along the gradient; components marked `fixed` stay. Ends with the first step shorter
    /// than a nanometre; what is left is of the order of its square.
    pub(crate) fn project(&self, start: &V3, fixed: [bool; 3]) -> V3 {
        let mut p = *start;
        for _ in 0..14 {
            let mut s = self.sample(&p);
            for (component, fixed) in s.gradient.iter_mut().zip(fixed) {
                if fixed {
                    *component = 0.0;
                }
            }
            let square = s.gradient.norm_squared();
            if square < 1e-12 {
                break;
            }
            let mut step = s.gradient * (-s.value / square);
            let length = step.norm();
            if length > 0.5 {
                step *= 0.5 / length;
            }
            p += step;
            if length < 1e-6 {
                break;
            }
        }
        p
    }

    /// Smallest radii of curvature, mm, at a point of the surface: of the surface itself where it bulges, and of the one
    /// `offset` outside it where it is hollow. The shape operator is the gradient of the unit normal.
    pub(crate) fn tightest_radii(&self, p: &V3, offset: f64) -> [f64; 2] {
        const STEP: f64 = 0.04;
        const FLAT: f64 = 1e-3;
        let normal = |q: &V3| self.sample(q).gradient.normalize();
        let mut shape = Matrix3::zeros();
        for axis in 0..3 {
            let step = V3::ith(axis, STEP);
            shape.set_column(axis, &((normal(&(p + step)) - normal(&(p - step))) / (2.0 * STEP)));
        }
        let n = normal(p);
        let tangent = Matrix3::identity() - n * n.transpose();
        let curvatures = (tangent * (shape + shape.transpose()) * tangent * 0.5).symmetric_eigenvalues();
        let (bulging, hollow) = (curvatures.max(), -curvatures.min());
        [1.0 / bulging.max(FLAT), 1.0 / hollow.max(FLAT) - offset]
    }

    /// Edge length at which the crown's thickness at the height of a point is still shown, mm.
    pub(crate) fn crown_feature(&self, p: &V3) -> f64 {
        self.crown.as_ref().map_or(f64::INFINITY, |crown| crown.half_width(p.z).max(0.5))
    }

    /// Where the middle of the crown is at a height, mm buccal of the long axis.
    pub(crate) fn crown_axis_x(&self, z: f64) -> f64 {
        self.crown.as_ref().map_or(0.0, |crown| crown.shift(z))
    }

    /// The deepest point of the root or roots, mm.
    pub(crate) fn apex(&self) -> V3 {
        if let Some(paraboloid) = &self.root {
            return V3::new(0.0, 0.0, paraboloid.crest_z - paraboloid.h);
        }
        let first = usize::from(self.trunk && self.canals.len() > 1);
        self.canals[first..]
            .iter()
            .map(Canal::apex)
            .min_by(|a, b| a.z.total_cmp(&b.z))
            .unwrap_or_else(V3::zeros)
    }

    /// The lowest point of each root, mm.
    pub(crate) fn apices(&self) -> Vec<V3> {
        let first = usize::from(self.trunk && self.canals.len() > 1);
        match self.root {
            Some(_) => vec![self.apex()],
            None => self.canals[first..].iter().map(Canal::apex).collect(),
        }
    }

    /// The axis of each root from its upper end to its apex, points in even steps of its parameter, mm.
    pub(crate) fn root_axes(&self) -> Vec<Vec<V3>> {
        let first = usize::from(self.trunk && self.canals.len() > 1);
        match &self.root {
            Some(paraboloid) => vec![vec![V3::new(0.0, 0.0, paraboloid.crest_z), self.apex()]],
            None => self.canals[first..].iter().map(Canal::axis_points).collect(),
        }
    }

    /// The highest point: on the tallest cusp, or above the long axis; `height` is where to start looking.
    pub(crate) fn cusp_tip(&self, height: f64) -> V3 {
        const STEP: f64 = 0.05;
        let (x, y) = self.crown.as_ref().map_or((0.0, 0.0), Crown::top_place);
        // Down from above: under a crown wider than its root the line leaves the tooth again.
        let mut low = height + 2.0;
        while low > 0.0 && self.value(&V3::new(x, y, low)) >= 0.0 {
            low -= STEP;
        }
        let mut high = low + STEP;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.value(&V3::new(x, y, middle)) < 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        V3::new(x, y, low)
    }

    /// Axis-aligned box that holds the part of the tooth between two heights, from samples: (low, high).
    pub(crate) fn bounds_between(&self, low_z: f64, high_z: f64, reach: f64) -> (V3, V3) {
        let layers = ((high_z - low_z) / 0.25).ceil().max(1.0) as usize;
        let height = |k: usize| low_z + (high_z - low_z) * k as f64 / layers as f64;
        let widened = |bounds: Bounds, layers: Vec<usize>| {
            let parts: Vec<Bounds> =
                layers.into_par_iter().map(|k| self.widen(bounds, height(k), reach)).collect();
            parts.iter().fold(bounds, |all, part| (all.0.inf(&part.0), all.1.sup(&part.1)))
        };
        // A few layers first: what they find spares the others most of their rows.
        let nothing = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        let (first, rest) = (0..=layers).partition(|k| k % 4 == 0);
        widened(widened(nothing, first), rest)
    }

    /// The box with what the tooth has at a height: in rows along x and along y, the middle ones first, from outside
    /// to the first inside sample, or to where the row can no longer widen the box.
    fn widen(&self, (mut low, mut high): Bounds, z: f64, reach: f64) -> Bounds {
        const STEP: f64 = 0.1;
        let n = (reach / STEP).ceil() as i64;
        let mut met = false;
        for i in (0..=2 * n).map(|i| if i % 2 == 0 { i / 2 } else { -(i + 1) / 2 }) {
            let fixed = i as f64 * 2.0 * STEP;
            if fixed.abs() > reach {
                continue;
            }
            for (axis, sign) in [(0, -1.0), (0, 1.0), (1, -1.0), (1, 1.0)] {
                let mut at = reach;
                while at > -reach {
                    let outermost = if sign > 0.0 { high[axis] } else { -low[axis] };
                    if met && at + STEP <= outermost {
                        break;
                    }
                    let p =
                        if axis == 0 { V3::new(sign * at, fixed, z) } else { V3::new(fixed, sign * at, z) };
                    let value = self.value(&p);
                    if value <= 0.0 {
                        let edge = sign * (at + value.abs().min(STEP));
                        low[axis] = low[axis].min(edge);
                        high[axis] = high[axis].max(edge);
                        low[2] = low[2].min(z);
                        high[2] = high[2].max(z);
                        met = true;
                        break;
                    }
                    at -= value.max(STEP);
                }
            }
        }
        (low, high)
    }
}

/// Lower and upper corner of a box.
type Bounds = (V3, V3);

#[cfg(test)]
mod tests;
