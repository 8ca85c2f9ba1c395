//! The surface that a section follows: through the long axis in the crown, and below it along the axes of the roots. A
//! plane through the long axis would run between two roots that stand side by side and show neither.
//!
//! The surface is y = Y(x, z), so that it can be drawn by leaving y out: lengths along x and z stay true. At each height it
//! passes through the axis of every root that it follows and turns from one to the next in the room between them. Above the
//! roots it comes back to the plane of the long axis, which it reaches at the cervix.

use gomphosis_mesh_gen::{MeshError, RootPlan, ToothInSocket, root_axes};
use nalgebra::{Point3, Vector3};

/// A root that the section follows.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Root {
    /// Where it stands among its neighbours.
    pub(crate) place: Place,
    /// Its axis, from its upper end to the apex, mm.
    axis: Vec<Point3<f64>>,
}

/// Where a root stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// The only root.
    Only,
    /// Toward cheek or lip.
    Outward,
    /// Toward tongue or palate.
    Inward,
    /// Toward the midline along the arch.
    Mesial,
    /// Both toward the cheek and the midline.
    MesialOutward,
}

/// A surface y = Y(x, z).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Surface {
    /// The roots from lingual to buccal.
    roots: Vec<Root>,
    /// Above this height it is the plane of the long axis, mm.
    top: f64,
}

/// Least distance across the arch over which the surface turns from one root to the next, mm.
const LEAST_TURN_MM: f64 = 0.5;
/// How far below its upper end the surface meets the axis of a root, mm: the root is wide there, and above it the trunk is
/// widest in the middle.
const INTO_ROOT_MM: f64 = 1.0;

impl Surface {
    /// The plane y = 0.
    #[cfg(test)]
    pub(crate) fn plane() -> Self {
        Self { roots: Vec::new(), top: 0.0 }
    }

    /// Along the roots of a tooth. Of roots that stand side by side it follows the mesial one.
    ///
    /// # Errors
    /// Those of a specification that makes no sense.
    pub(crate) fn along_roots(spec: &ToothInSocket) -> Result<Self, MeshError> {
        // The order of the axes is that of the plan, buccal before lingual and mesial before distal.
        let shown: &[(usize, Place)] = match spec.tooth.root.plan {
            RootPlan::Single => &[(0, Place::Only)],
            RootPlan::BuccalLingual => &[(1, Place::Inward), (0, Place::Outward)],
            RootPlan::MesialDistal => &[(0, Place::Mesial)],
            RootPlan::Three => &[(2, Place::Inward), (0, Place::MesialOutward)],
        };
        let axes = root_axes(spec)?;
        let roots =
            shown.iter().filter_map(|&(k, place)| Some(Root { place, axis: axes.get(k)?.clone() })).collect();
        Ok(Self { roots, top: -spec.crest_z_from_cej_mm() })
    }

    /// The roots that it follows, from lingual to buccal.
    pub(crate) fn roots(&self) -> &[Root] {
        &self.roots
    }

    /// How far a place lies on the mesial side of the surface, along y, mm.
    pub(crate) fn height(&self, p: &Vector3<f64>) -> f64 {
        p.y - self.y(p.x, p.z)
    }

    /// Y(x, z), mm.
    fn y(&self, x: f64, z: f64) -> f64 {
        let at = |root: &Root| self.axis_at(root, z);
        let mut roots = self.roots.iter();
        let Some(mut from) = roots.next().map(at) else { return 0.0 };
        for to in roots.map(at) {
            if x < to[0] {
                let share = (x - from[0]) / (to[0] - from[0]).max(LEAST_TURN_MM);
                return from[1] + smooth(share) * (to[1] - from[1]);
            }
            from = to;
        }
        from[1]
    }

    /// Where the surface has the axis of a root at a height: x and y, mm. Near the root's upper end and above it, it leaves
    /// the axis on its way to the long axis.
    fn axis_at(&self, root: &Root, z: f64) -> [f64; 2] {
        let [x, y] = root.at(z);
        let left = (self.top - z) / (self.top - (root.axis[0].z - INTO_ROOT_MM)).max(f64::MIN_POSITIVE);
        [x, y * smooth(left)]
    }
}

/// From 0 to 1 without a kink at the ends.
fn smooth(share: f64) -> f64 {
    let t = share.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

impl Root {
    /// Where the axis is at a height, or the nearest end of it: x and y, mm.
    fn at(&self, z: f64) -> [f64; 2] {
        let k = self.axis.partition_point(|p| p.z > z).clamp(1, self.axis.len() - 1);
        let (above, below) = (self.axis[k - 1], self.axis[k]);
        let t = ((above.z - z) / (above.z - below.z)).clamp(0.0, 1.0);
        [above.x + t * (below.x - above.x), above.y + t * (below.y - above.y)]
    }

    /// The lower end of the axis, mm.
    pub(crate) fn apex(&self) -> Point3<f64> {
        self.axis[self.axis.len() - 1]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gomphosis_mesh_gen::ToothKind;

    #[test]
    fn the_surface_holds_the_axes_of_the_roots_and_the_long_axis_in_the_crown() {
        for kind in ToothKind::ALL {
            let spec = ToothInSocket::handbook(kind);
            let surface = Surface::along_roots(&spec).expect("a handbook tooth");
            for root in surface.roots() {
                for p in root.axis.iter().filter(|p| p.z < root.axis[0].z - INTO_ROOT_MM) {
                    let off = surface.height(&p.coords);
                    assert!(off.abs() < 1e-9, "{}: {off} mm off the axis at {p}", kind.name());
                }
            }
            let top = -spec.crest_z_from_cej_mm() + 0.1;
            for x in [-4.0, -1.0, 0.0, 2.0, 5.0] {
                assert_eq!(surface.height(&Vector3::new(x, 0.7, top)).to_bits(), 0.7_f64.to_bits());
            }
        }
    }

    #[test]
    fn the_surface_has_no_steps() {
        for kind in ToothKind::ALL {
            let surface = Surface::along_roots(&ToothInSocket::handbook(kind)).expect("a handbook tooth");
            for i in -80..80 {
                for j in -200..120 {
                    let (x, z) = (0.1 * f64::from(i), 0.1 * f64::from(j));
                    let y = surface.y(x, z);
                    let [across, up] = [surface.y(x + 0.1, z) - y, surface.y(x, z + 0.1) - y];
                    // At most as steep as two in one.
                    assert!(
                        across.abs() < 0.2 && up.abs() < 0.2,
                        "{}: {across}, {up} at {x}, {z}",
                        kind.name()
                    );
                }
            }
        }
    }
}
