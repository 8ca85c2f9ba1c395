//! Graded octree over the coarse cells: small cells along the root, large ones far away, neighbours (also
//! across edges and corners) at most a factor of two apart.

use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};

use super::axis::{Axis, AxisPlanes, COARSE};
use super::sizing::Sizing;
use crate::error::MeshError;
use crate::socket::Socket;
use crate::spec::DEFAULT_ELEMENT_SIZE_MM;
use crate::tooth::V3;

/// Finest level: cells of two units.
const DEEPEST: u8 = 5;

/// Cells beyond which the mesh would not fit a machine that anyone will run it on.
const MOST_CELLS: usize = 250_000;

/// Tetrahedra that a cell makes.
const TETRAHEDRA: usize = 12;

/// Memory at the peak for each of them, bytes: 0.08 to 0.5 million took 660 to 920 each (`peak_mb` of `peers mesh` in `benches`).
const BYTES: u64 = 1000;

/// A leaf: lower corner in units, and level (edge = 64 >> level).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Cell {
    pub(crate) corner: [i32; 3],
    pub(crate) level: u8,
}

impl Cell {
    pub(crate) fn edge(&self) -> i32 {
        COARSE >> self.level
    }

    pub(crate) fn centre(&self) -> [i32; 3] {
        self.corner.map(|c| c + self.edge() / 2)
    }

    fn children(self) -> impl Iterator<Item = Self> {
        let half = self.edge() / 2;
        (0..8).map(move |k| Self {
            corner: [0, 1, 2].map(|axis| self.corner[axis] + if k >> axis & 1 == 1 { half } else { 0 }),
            level: self.level + 1,
        })
    }
}

/// The lattice's frame: axes and the planes that matter.
#[derive(Debug)]
pub(crate) struct Frame {
    pub(crate) axes: [Axis; 3],
    pub(crate) planes: [AxisPlanes; 3],
    /// Nominal edge of a coarse cell, mm.
    pub(crate) coarse: f64,
}

impl Frame {
    pub(crate) fn new(socket: &Socket, size: f64, top_z: f64, crown: (V3, V3)) -> Self {
        let coarse = 4.0 * size.min(DEFAULT_ELEMENT_SIZE_MM);
        let b = &socket.block;
        let margin = 0.3;
        let tc = b.cortical;
        let (x, px) = Axis::new(
            crown.0.x.min(b.low.x + margin) - margin,
            b.low.x,
            b.high.x,
            crown.1.x.max(b.high.x - margin) + margin,
            coarse,
            (Some(tc), Some(tc)),
        );
        let (y, py) = Axis::new(
            crown.0.y.min(b.low.y + margin) - margin,
            b.low.y,
            b.high.y,
            crown.1.y.max(b.high.y - margin) + margin,
            coarse,
            (None, None),
        );
        let (z, pz) = Axis::new(b.low.z, b.low.z, 0.0, top_z + margin, coarse, (None, Some(tc)));
        Self { axes: [x, y, z], planes: [px, py, pz], coarse }
    }

    pub(crate) fn at(&self, unit: [i32; 3]) -> V3 {
        V3::new(self.axes[0].at(unit[0]), self.axes[1].at(unit[1]), self.axes[2].at(unit[2]))
    }

    pub(crate) fn crest(&self) -> i32 {
        self.planes[2].high
    }

    /// Is the point (in doubled precision of cell centres) inside the block of bone, below the crest?
    pub(crate) fn in_block(&self, centre: [i32; 3]) -> bool {
        centre[2] < self.crest()
            && (0..2).all(|k| centre[k] > self.planes[k].low && centre[k] < self.planes[k].high)
    }
}

/// Leaves of the octree, with look-up.
pub(crate) struct Octree {
    /// All leaves, in a fixed order.
    pub(crate) leaves: Vec<Cell>,
    /// Is the leaf meshed?
    pub(crate) active: Vec<bool>,
    index: FxHashMap<Cell, u32>,
}

impl Octree {
    pub(crate) fn build(
        frame: &Frame,
        socket: &Socket,
        size: f64,
        growth: f64,
        limit_bytes: Option<u64>,
    ) -> Result<Self, MeshError> {
        let mut level = Vec::new();
        for x in 0..frame.axes[0].cells {
            for y in 0..frame.axes[1].cells {
                for z in 0..frame.axes[2].cells {
                    level.push(Cell { corner: [x * COARSE, y * COARSE, z * COARSE], level: 0 });
                }
            }
        }
        let sizing = Sizing { frame, socket, size, growth };
        let mut order = Vec::new();
        while !level.is_empty() {
            let splits: Vec<bool> =
                level.par_iter().map(|&c| c.level < DEEPEST && sizing.wants_split(c)).collect();
            let mut finer = Vec::new();
            for (cell, split) in level.into_iter().zip(splits) {
                if split {
                    finer.extend(cell.children());
                } else {
                    order.push(cell);
                }
            }
            let tetrahedra = (order.len() + finer.len()).saturating_mul(TETRAHEDRA);
            if tetrahedra > MOST_CELLS * TETRAHEDRA {
                return Err(MeshError::TooLarge { element_size_mm: size, tetrahedra });
            }
            if let Some(limit) = limit_bytes.filter(|limit| tetrahedra as u64 * BYTES > *limit) {
                return Err(MeshError::NoMemory {
                    element_size_mm: size,
                    tetrahedra,
                    left_mb: limit / 1_000_000,
                });
            }
            level = finer;
        }
        let mut leaves: FxHashSet<Cell> = order.iter().copied().collect();
        balance(frame, &mut leaves, order.clone());
        // Leaves in lattice order: deterministic whatever the map's inner order is.
        let mut all = leaves.into_iter().collect::<Vec<_>>();
        all.sort_unstable_by_key(|c| (c.corner[2], c.corner[1], c.corner[0], c.level));
        let active = all.iter().map(|&c| is_active(frame, socket, c)).collect();
        let index = all.iter().enumerate().map(|(i, &c)| (c, i as u32)).collect();
        Ok(Self { leaves: all, active, index })
    }

    pub(crate) fn find(&self, cell: Cell) -> Option<usize> {
        self.index.get(&cell).map(|&i| i as usize)
    }
}

/// Splits leaves until all 26 neighbours differ by at most one level.
fn balance(frame: &Frame, leaves: &mut FxHashSet<Cell>, mut queue: Vec<Cell>) {
    queue.sort_unstable_by_key(|c| (c.level, c.corner));
    while let Some(cell) = queue.pop() {
        if cell.level < 2 || !leaves.contains(&cell) {
            continue;
        }
        let edge = cell.edge();
        for dx in -1..=1 {
            for dy in -1..=1 {
                for dz in -1..=1 {
                    let beside =
                        [cell.corner[0] + dx * edge, cell.corner[1] + dy * edge, cell.corner[2] + dz * edge];
                    if (0..3).any(|k| beside[k] < 0 || beside[k] >= frame.axes[k].cells * COARSE) {
                        continue;
                    }
                    // A leaf around that place that is two or more levels coarser must go.
                    for level in 0..cell.level - 1 {
                        let mask = !((COARSE >> level) - 1);
                        let large = Cell { corner: beside.map(|c| c & mask), level };
                        if leaves.remove(&large) {
                            for child in large.children() {
                                leaves.insert(child);
                                queue.push(child);
                            }
                            queue.push(cell);
                        }
                    }
                }
            }
        }
    }
}

/// Below the crest every cell of the block is meshed; above it those that the tooth touches.
fn is_active(frame: &Frame, socket: &Socket, cell: Cell) -> bool {
    let centre = cell.centre();
    if centre[2] < frame.crest() {
        return frame.in_block(centre);
    }
    let half = cell.edge() / 2;
    let far = frame.at(centre);
    if socket.solid.value(&far) > 3.0 * frame.coarse / f64::from(1 << cell.level) {
        return false;
    }
    // Corners, edge middles, face centres and centre.
    for i in 0..3 {
        for j in 0..3 {
            for k in 0..3 {
                let at = [cell.corner[0] + i * half, cell.corner[1] + j * half, cell.corner[2] + k * half];
                if socket.solid.value(&frame.at(at)) < 0.0 {
                    return true;
                }
            }
        }
    }
    false
}
