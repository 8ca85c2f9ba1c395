//! Which edge length is wanted where: that of the specification, less where the root or the wall of its socket
//! bends, and growing with the distance from them.

use std::f64::consts::SQRT_2;

use super::octree::{Cell, Frame};
use crate::socket::Socket;
use crate::spec::DEFAULT_ELEMENT_SIZE_MM;
use crate::tooth::V3;

/// Element edge over the radius of curvature that it shows, at the default size.
const EDGE_OVER_RADIUS: f64 = 1.0;

/// Edge below which no curvature asks for finer elements, over the element size.
const FINEST: f64 = 0.45;

/// The same where the root itself bulges more tightly than [`SHARP`], as at the rim of a blade's apex.
const FINEST_AT_RIM: f64 = 0.25;

/// Radius of curvature of such a rim, mm.
const SHARP: f64 = 0.3;

/// Largest distance between the places of a cell where curvature is looked at, mm.
const PITCH: f64 = 0.7;

/// Share of a step away from the surface that must show as distance, or else the other side, or another root, is near.
const CLEAR: f64 = 0.7;

/// The rule for cells of one lattice.
pub(crate) struct Sizing<'a> {
    pub(crate) frame: &'a Frame,
    pub(crate) socket: &'a Socket<'a>,
    /// Element size asked for, mm.
    pub(crate) size: f64,
    /// What each millimetre away from the root adds to the edge length, mm.
    pub(crate) growth: f64,
}

impl Sizing<'_> {
    /// Is the cell too large for its place?
    pub(crate) fn wants_split(&self, cell: Cell) -> bool {
        let edge = self.frame.coarse / f64::from(1 << cell.level);
        let centre = cell.centre();
        let in_bone = self.frame.in_block(centre);
        if centre[2] < self.frame.crest() && !in_bone {
            return false;
        }
        if in_bone && self.crosses_shell(cell) {
            return true;
        }
        let p = self.frame.at(centre);
        edge > SQRT_2 * self.wanted(&p, edge, in_bone) || self.bends(&p, edge)
    }

    /// The planes of the cortical shell must run between cells.
    fn crosses_shell(&self, cell: Cell) -> bool {
        (0..3).any(|k| {
            self.frame.planes[k].inner.iter().any(|&u| cell.corner[k] < u && u < cell.corner[k] + cell.edge())
        })
    }

    /// Edge length wanted at a point, given the edge of the cell around it, mm.
    fn wanted(&self, p: &V3, edge: f64, in_bone: bool) -> f64 {
        let solid = self.socket.solid;
        let value = solid.value(p);
        let away = (value.abs() - 0.87 * edge).max(0.0);
        // The crown carries the load but not the answer: let it be coarser.
        let rise = ((p.z / self.size - 0.5) / 1.5).clamp(0.0, 1.0);
        let mut wanted = self.at_root() + (1.2 * self.size - self.at_root()) * rise;
        if rise > 0.0 {
            wanted = wanted.min(solid.crown_feature(p));
        }
        if in_bone && value > 0.0 {
            let block = &self.socket.block;
            let face = (block.high.x - p.x).min(p.x - block.low.x);
            wanted = wanted.min((0.5 * (value + face)).max(0.4 * self.at_root()));
        }
        wanted + self.growth * away
    }

    /// Edge length at the root, mm: a size above the default makes crown and bone coarser, not the ligament, whose
    /// errors would be the result's.
    fn at_root(&self) -> f64 {
        self.size.min(DEFAULT_ELEMENT_SIZE_MM)
    }

    /// Do the root, or the wall around it, bend too tightly in the cell for elements of its size, or is too little
    /// room inside or outside?
    fn bends(&self, centre: &V3, edge: f64) -> bool {
        let smallest = FINEST * self.at_root();
        let solid = self.socket.solid;
        let at_rim = FINEST_AT_RIM * self.at_root();
        if edge <= SQRT_2 * at_rim || centre.z > 0.5 * edge || solid.value(centre).abs() > 0.87 * edge {
            return false;
        }
        let steps = (edge / PITCH).ceil().max(2.0);
        let pitch = edge / steps;
        let steps = steps as usize;
        let at = |k: usize| pitch * (k as f64 + 0.5) - 0.5 * edge;
        (0..steps.pow(3)).any(|k| {
            let p = centre + V3::new(at(k % steps), at(k / steps % steps), at(k / (steps * steps)));
            if p.z > 0.0 || solid.value(&p).abs() > pitch {
                return false;
            }
            let p = solid.project(&p, [false; 3]);
            if (p - centre).amax() > 0.5 * edge {
                return false;
            }
            let only_rims = edge <= SQRT_2 * smallest;
            let n = solid.normal(&p);
            let (septum, root) = (0.5 * edge, edge);
            let narrow = || {
                solid.value(&(p + n * septum)) < CLEAR * septum
                    || solid.value(&(p - n * root)) > -CLEAR * root
            };
            if !only_rims && narrow() {
                return true;
            }
            let [bulging, hollow] = solid.tightest_radii(&p, self.socket.asked_thickness(&p));
            let shown = EDGE_OVER_RADIUS * bulging.min(hollow) * self.at_root() / DEFAULT_ELEMENT_SIZE_MM;
            bulging < SHARP || !only_rims && edge > SQRT_2 * shown.max(smallest)
        })
    }
}
