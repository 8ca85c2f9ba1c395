//! Blocks for verification: a grid of boxes cut into tetrahedra and mapped to any shape with curved sides.
//!
//! Bars, plates, rings, sectors, membranes: whatever a map of the unit cube makes. The six faces are named
//! surfaces. Not for teeth.

use std::collections::BTreeMap;

use nalgebra::Point3;

use crate::error::MeshError;
use crate::mesh::{EDGES, Region, TetMesh};
use crate::sweep::{Swept, check_count, check_size, grid};

#[cfg(test)]
mod tests;

/// Names of the six faces of a block.
pub mod face {
    /// First coordinate 0.
    pub const XI0: &str = "xi0";
    /// First coordinate 1.
    pub const XI1: &str = "xi1";
    /// Second coordinate 0.
    pub const ETA0: &str = "eta0";
    /// Second coordinate 1.
    pub const ETA1: &str = "eta1";
    /// Third coordinate 0.
    pub const ZETA0: &str = "zeta0";
    /// Third coordinate 1.
    pub const ZETA1: &str = "zeta1";
}

/// Most boxes along an axis.
const MOST_BOXES: usize = 100_000;

/// Random distortion of the inside of a block, the same for the same seed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jitter {
    /// Largest shift of an inner corner along each axis, as a fraction of the smallest box in that direction.
    pub corners: f64,
    /// Largest shift of an inner mid-side node off the middle of its edge, as the same kind of fraction.
    pub mid_sides: f64,
    /// Seed.
    pub seed: u64,
}

/// The unit cube as a grid of boxes, each cut into six tetrahedra.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Grid planes along each axis, rising from 0 to 1.
    pub planes: [Vec<f64>; 3],
    /// Distortion of the inside, if any.
    pub jitter: Option<Jitter>,
}

impl Block {
    /// Evenly spaced planes; `boxes` counts along each axis.
    #[must_use]
    pub fn uniform(boxes: [usize; 3]) -> Self {
        // More than the mesh would accept are not written out.
        let planes = boxes.map(|n| (0..=n.min(MOST_BOXES + 1)).map(|i| i as f64 / n.max(1) as f64).collect());
        Self { planes, jitter: None }
    }

    /// The same block with a distorted inside.
    #[must_use]
    pub fn distorted(mut self, jitter: Jitter) -> Self {
        self.jitter = Some(jitter);
        self
    }

    /// The mesh: `map` takes the unit cube to space (mm), `region` tells the body from the centre of a box in the
    /// unit cube. The map is applied to corner and mid-side nodes alike, so the sides are curved as the map
    /// is. It must keep orientation.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] for planes that do not rise from 0 to 1, for a jitter outside 0 to 0.3, or for more
    /// than 20 million nodes; [`MeshError::Inverted`] if the map or the jitter turns an element over.
    pub fn mesh(
        &self,
        map: impl Fn(Point3<f64>) -> Point3<f64>,
        region: impl Fn(Point3<f64>) -> Region,
    ) -> Result<TetMesh, MeshError> {
        let boxes = self.check()?;
        let at = |axis: usize, place: f64| {
            let planes = &self.planes[axis];
            let below = (place.floor() as usize).min(planes.len() - 2);
            planes[below] + (planes[below + 1] - planes[below]) * (place - below as f64)
        };
        let sheet = grid([boxes[0], boxes[1]], false, |i, j| Point3::new(at(0, i), at(1, j), 0.0));
        let swept = Swept::new(&sheet, boxes[2]);
        let mut parameters = swept.positions(|p, half| Point3::new(p.x, p.y, at(2, half as f64 / 2.0)));
        if let Some(jitter) = self.jitter {
            self.distort(jitter, &swept.cells, &mut parameters);
        }
        let tets = 3 * sheet.triangles.len();
        let regions = (0..swept.cells.len())
            .map(|cell| {
                let boxed = cell % tets / 6;
                let (i, j, k) = (boxed % boxes[0], boxed / boxes[0], swept.layer_of[cell]);
                region(Point3::new(at(0, i as f64 + 0.5), at(1, j as f64 + 0.5), at(2, k as f64 + 0.5)))
            })
            .collect();
        let nodes = parameters.into_iter().map(map).collect();
        let columns = boxes[0] as u32 + 1;
        let last = [boxes[0] as u32, boxes[1] as u32];
        let side = |axis: usize, value: u32| {
            swept.side(0..boxes[2], |edge| {
                edge.iter().all(|&n| if axis == 0 { n % columns == value } else { n / columns == value })
            })
        };
        let surfaces = BTreeMap::from([
            (face::XI0.to_owned(), side(0, 0)),
            (face::XI1.to_owned(), side(0, last[0])),
            (face::ETA0.to_owned(), side(1, 0)),
            (face::ETA1.to_owned(), side(1, last[1])),
            (face::ZETA0.to_owned(), swept.level(0, true)),
            (face::ZETA1.to_owned(), swept.level(boxes[2], false)),
        ]);
        TetMesh::new(nodes, swept.cells, regions, surfaces)
    }

    fn check(&self) -> Result<[usize; 3], MeshError> {
        for planes in &self.planes {
            check_count("block.planes", planes.len(), 2, MOST_BOXES + 1)?;
            let rising = planes.windows(2).all(|w| w[0] < w[1]);
            let whole =
                planes[0].abs().to_bits() == 0 && planes[planes.len() - 1].to_bits() == 1f64.to_bits();
            if !rising || !whole {
                return Err(MeshError::Impossible {
                    key: "block.planes",
                    reason: "the planes of a block must rise from 0 to 1".into(),
                    suggestion: None,
                });
            }
        }
        if let Some(jitter) = self.jitter {
            for value in [jitter.corners, jitter.mid_sides] {
                if !(0.0..=0.3).contains(&value) {
                    return Err(MeshError::OutOfRange {
                        key: "block.jitter",
                        value,
                        allowed: "must lie between 0 and 0.3".into(),
                    });
                }
            }
        }
        let boxes = [0, 1, 2].map(|axis| self.planes[axis].len() - 1);
        check_size("block.planes", &[2 * boxes[0] + 1, 2 * boxes[1] + 1, 2 * boxes[2] + 1])?;
        Ok(boxes)
    }

    /// Moves inner corners, puts mid-side nodes half-way between their corners, then moves the inner ones.
    fn distort(&self, jitter: Jitter, cells: &[[u32; 10]], parameters: &mut [Point3<f64>]) {
        let step =
            [0, 1, 2].map(|axis| self.planes[axis].windows(2).fold(1.0, |s, w| f64::min(s, w[1] - w[0])));
        let mut random = SplitMix(jitter.seed);
        let mut shift = |p: &mut Point3<f64>, size: f64| {
            for axis in 0..3 {
                let r = random.symmetric() * size * step[axis];
                // Nodes of a face stay on it.
                if p[axis] > 0.0 && p[axis] < 1.0 {
                    p[axis] += r;
                }
            }
        };
        let mut is_corner = vec![false; parameters.len()];
        for cell in cells {
            for &corner in &cell[..4] {
                is_corner[corner as usize] = true;
            }
        }
        for (p, _) in parameters.iter_mut().zip(&is_corner).filter(|(_, corner)| **corner) {
            shift(p, jitter.corners);
        }
        for cell in cells {
            for (k, [i, j]) in EDGES.into_iter().enumerate() {
                let (a, b) = (parameters[cell[i] as usize], parameters[cell[j] as usize]);
                parameters[cell[4 + k] as usize] = nalgebra::center(&a, &b);
            }
        }
        for (p, _) in parameters.iter_mut().zip(&is_corner).filter(|(_, corner)| !**corner) {
            shift(p, jitter.mid_sides);
        }
    }
}

/// The generator of Steele, Lea and Flood 2014 (from memory): enough for a reproducible distortion.
struct SplitMix(u64);

impl SplitMix {
    /// Evenly spread between -1 and 1.
    fn symmetric(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (z >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}
