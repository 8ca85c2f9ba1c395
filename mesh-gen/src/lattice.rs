//! From an implicit tooth and a block of bone to a tetrahedral mesh whose faces lie on the root: a graded
//! body-centred cubic lattice, snapped and cut where the tooth's function changes sign (after Labelle and
//! Shewchuk, "Isosurface stuffing", SIGGRAPH 2007; the octree grading, the crest planes and the volume test
//! in the snap are our own).

pub(crate) mod axis;
pub(crate) mod cut;
pub(crate) mod octree;
pub(crate) mod sizing;
pub(crate) mod snap;
pub(crate) mod tets;

use crate::tooth::V3;

/// Which side of the root a tetrahedron is on, and in which part of the bone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Body {
    Tooth,
    Cancellous,
    Cortical,
}

impl Body {
    pub(crate) fn is_bone(self) -> bool {
        self != Self::Tooth
    }
}

/// Planes a node must stay in: bit k set means coordinate k is fixed; bit k + 3 that it lies on a plane of the
/// cortical shell, where it stays only if the tooth is far.
pub(crate) type Mask = u8;

/// First of the bits for the planes of the cortical shell.
pub(crate) const SHELL: Mask = 8;

pub(crate) fn fixed_axes(mask: Mask) -> [bool; 3] {
    [mask & 1 != 0, mask & 2 != 0, mask & 4 != 0]
}

/// Straight-sided tetrahedra of tooth and bone that share the faces on the root.
#[derive(Debug, Clone)]
pub(crate) struct LinearMesh {
    pub(crate) nodes: Vec<V3>,
    pub(crate) masks: Vec<Mask>,
    /// The node lies on the tooth's surface.
    pub(crate) on_surface: Vec<bool>,
    pub(crate) tets: Vec<[u32; 4]>,
    pub(crate) bodies: Vec<Body>,
    /// The tetrahedron lies above the plane of the crest.
    pub(crate) above: Vec<bool>,
}
