//! The idealised root of the literature: a paraboloid, round or elliptic, with a plain stub above the crest.

use super::{Sample, V3, intersect};

/// `(x/a)^2 + (y/b)^2 = 1 + z/h` with z measured from the healthy crest: half axes a and b there, apex at
/// z = -h. Above it the paraboloid goes over smoothly into a prism that ends flat.
#[derive(Debug, Clone)]
pub(crate) struct Paraboloid {
    /// Half axis across the arch at the crest, mm.
    pub(crate) a: f64,
    /// Half axis along the arch at the crest, mm.
    pub(crate) b: f64,
    /// Depth of the apex below the healthy crest, mm.
    pub(crate) h: f64,
    /// Height of the healthy crest in the tooth frame (the bone loss), mm.
    pub(crate) crest_z: f64,
    /// Height of the flat top, mm.
    pub(crate) top_z: f64,
}

/// Height over which the paraboloid goes over into a prism, mm.
const BEND: f64 = 1.0;

impl Paraboloid {
    pub(crate) fn sample(&self, p: &V3) -> Sample {
        let (qx, qy, z) = (p.x / self.a, p.y / self.b, p.z - self.crest_z);
        let (level, slope) = if z <= 0.0 {
            (1.0 + z / self.h, 1.0 / self.h)
        } else if z < BEND {
            let t = z / BEND;
            (1.0 + (z - 0.5 * z * t) / self.h, (1.0 - t) / self.h)
        } else {
            (1.0 + 0.5 * BEND / self.h, 0.0)
        };
        let side = Sample {
            value: qx * qx + qy * qy - level,
            gradient: V3::new(2.0 * qx / self.a, 2.0 * qy / self.b, -slope),
        }
        .normalised();
        if p.z < self.top_z - 3.0 {
            return side;
        }
        intersect(side, Sample { value: p.z - self.top_z, gradient: V3::z() }, 0.5)
    }
}
