//! The socket: how far the wall stands from the root, and the block of bone around it. Owns the thickness
//! law; knows nothing of elements.

use crate::spec::{LigamentProfile, ToothInSocket};
use crate::tooth::{ToothSolid, V3};

/// Depth within which the wall's direction turns horizontal toward the crest, over the depth of the root; at least two
/// thicknesses of the ligament.
const FADE: f64 = 0.14;

/// A root surface whose normal has a smaller vertical share is the side of a root, one with a larger share a roof.
const WALL_STEEPNESS: f64 = 0.5;
const ROOF_STEEPNESS: f64 = 0.9;

/// 0 below 0, 1 above 1, smooth between.
fn smoothstep(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// Faces of the bone block and the planes of its cortical shell, tooth frame, mm.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Block {
    pub(crate) low: V3,
    pub(crate) high: V3,
    pub(crate) cortical: f64,
}

/// Wall of the socket as an offset of the root, and the bone block.
#[derive(Debug, Clone)]
pub(crate) struct Socket<'a> {
    pub(crate) solid: &'a ToothSolid,
    spec: &'a ToothInSocket,
    /// Depth of the deepest apex, mm.
    pub(crate) depth: f64,
    pub(crate) block: Block,
    /// Depth within which the wall's direction turns horizontal toward the crest, mm.
    fade: f64,
    /// Several roots may come closer than two ligaments: look for it.
    crowded: bool,
}

impl<'a> Socket<'a> {
    pub(crate) fn new(spec: &'a ToothInSocket, solid: &'a ToothSolid, depth: f64) -> Self {
        let reach = 1.5 * spec.tooth.root.buccolingual_mm.max(spec.tooth.root.mesiodistal_mm) + 4.0;
        let (low, high) = solid.bounds_between(-depth, 0.0, reach);
        let t = spec.ligament.thickness_mm.max(spec.ligament.mid_thickness_mm);
        let bone = &spec.bone;
        let block = Block {
            low: V3::new(
                low.x - t - bone.lingual_plate_mm,
                low.y - t - bone.interdental_mm,
                -depth - t - bone.below_apex_mm,
            ),
            high: V3::new(high.x + t + bone.buccal_plate_mm, high.y + t + bone.interdental_mm, 0.0),
            cortical: bone.cortical_mm,
        };
        Self { solid, spec, depth, block, fade: (FADE * depth).max(2.0 * t), crowded: solid.canals.len() > 1 }
    }

    /// Thickness asked at a height, normal to the root, mm (not for the stretched profile).
    fn law(&self, z: f64) -> f64 {
        let l = &self.spec.ligament;
        match l.profile {
            LigamentProfile::Hourglass => {
                let u = (-z / self.depth).clamp(0.0, 1.0);
                l.thickness_mm + (l.mid_thickness_mm - l.thickness_mm) * 4.0 * u * (1.0 - u)
            }
            LigamentProfile::Uniform | LigamentProfile::Stretched => l.thickness_mm,
        }
    }

    /// Thickness at the crest, mm.
    pub(crate) fn crest_thickness(&self) -> f64 {
        self.spec.ligament.thickness_mm
    }

    /// Point of the wall that belongs to a point of the root surface.
    ///
    /// `w = r + t n' / (n . n')`: n is the root's normal; n' is n with its vertical component faded out
    /// toward the crest and exactly horizontal on it, so that the layer ends flush with the crest while its
    /// thickness normal to the root stays t to first order.
    pub(crate) fn wall(&self, r: &V3) -> V3 {
        let l = &self.spec.ligament;
        if l.profile == LigamentProfile::Stretched {
            return self.stretched_wall(r, smoothstep(-r.z / self.fade));
        }
        let n = self.solid.normal(r);
        let direction = V3::new(n.x, n.y, n.z * smoothstep(-r.z / self.fade_at(&n)));
        // Never lean more than the normal itself: a nearly horizontal surface at the crest keeps a finite step.
        let direction = direction.normalize();
        let lean = n.dot(&direction).max(0.5);
        let mut t = self.law(r.z) / lean;
        if self.crowded {
            t = t.min(0.42 * self.gap(r, &direction, 2.4 * t));
        }
        r + direction * t
    }

    /// Depth within which the wall's direction turns horizontal where the root has a normal. Under the roof of a furcation it
    /// is short: a layer below a roof that lies just under the crest would fold if it had to turn with the layer beside
    /// the roots.
    fn fade_at(&self, n: &V3) -> f64 {
        let roof = smoothstep((-n.z - WALL_STEEPNESS) / (ROOF_STEEPNESS - WALL_STEEPNESS));
        let short = self.fade.min(self.spec.ligament.thickness_mm);
        self.fade + (short - self.fade) * roof
    }

    /// Point of the stretched paraboloid for a root point: its image under the stretch about the centre of the
    /// healthy crest, slid along the stretched surface to the root point's own height on a lowered crest.
    fn stretched_wall(&self, r: &V3, ease: f64) -> V3 {
        let root = &self.spec.tooth.root;
        let (h, t) = (root.length_mm, self.spec.ligament.thickness_mm);
        // Heights from the healthy crest.
        let level = r.z - self.spec.bone.loss_mm;
        let image = level * (h + t) / h;
        let z = level + (image - level) * if self.spec.bone.loss_mm > 0.0 { ease } else { 1.0 };
        let widen = ((1.0 + z / (h + t)).max(0.0) / (1.0 + level / h).max(1e-12)).sqrt();
        V3::new(
            r.x * widen * (1.0 + 2.0 * t / root.buccolingual_mm),
            r.y * widen * (1.0 + 2.0 * t / root.mesiodistal_mm),
            (z + self.spec.bone.loss_mm).min(0.0),
        )
    }

    /// Free distance from a root point along a direction until the tooth is met again, at most `reach`, mm.
    fn gap(&self, r: &V3, direction: &V3, reach: f64) -> f64 {
        const STEPS: usize = 8;
        let first = 0.08 * reach;
        let mut free = first;
        for k in 1..=STEPS {
            let at = first + (reach - first) * k as f64 / STEPS as f64;
            if self.solid.value(&(r + direction * at)) < 0.0 {
                let (mut low, mut high) = (free, at);
                for _ in 0..20 {
                    let mid = 0.5 * (low + high);
                    if self.solid.value(&(r + direction * mid)) < 0.0 {
                        high = mid;
                    } else {
                        low = mid;
                    }
                }
                return low;
            }
            free = at;
        }
        f64::INFINITY
    }

    /// Thickness asked at a root point, mm, measured along the root's normal.
    pub(crate) fn asked_thickness(&self, r: &V3) -> f64 {
        if self.spec.ligament.profile == LigamentProfile::Stretched {
            let n = self.solid.normal(r);
            return (self.wall(r) - r).dot(&n);
        }
        self.law(r.z)
    }
}
