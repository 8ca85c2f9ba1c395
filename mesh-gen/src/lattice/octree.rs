//! Graded octree over the coarse cells: small cells along the root, large ones far away, neighbours (also
//! across edges and corners) at most a factor of two apart.

use rustc_hash::{FxHashMap, FxHashSet};

use super::axis::{Axis, AxisPlanes, COARSE};
use crate::error::MeshError;
use crate::socket::Socket;
use crate::tooth::V3;
use crate::tooth::handbook::DEFAULT_ELEMENT_SIZE_MM;

/// Finest level: cells of two units.
const DEEPEST: u8 = 5;

/// Cells beyond which the mesh would not fit a machine that anyone will run it on.
const MOST_CELLS: usize = 250_000;

/// Element edge over the smallest radius of curvature at the default size.
const FEATURE: f64 = 1.0;

/// The same at sizes above the default.
const COARSEST: f64 = 0.7;

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
        let coarse = 4.0 * size;
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
    pub(crate) fn build(frame: &Frame, socket: &Socket, size: f64) -> Result<Self, MeshError> {
        let mut stack = Vec::new();
        for x in (0..frame.axes[0].cells).rev() {
            for y in (0..frame.axes[1].cells).rev() {
                for z in (0..frame.axes[2].cells).rev() {
                    stack.push(Cell { corner: [x * COARSE, y * COARSE, z * COARSE], level: 0 });
                }
            }
        }
        let sizing = Sizing { frame, socket, size };
        let mut leaves: FxHashSet<Cell> = FxHashSet::default();
        let mut order = Vec::new();
        while let Some(cell) = stack.pop() {
            if cell.level < DEEPEST && sizing.wants_split(cell) {
                stack.extend(cell.children());
            } else {
                leaves.insert(cell);
                order.push(cell);
            }
            if order.len() + stack.len() > MOST_CELLS {
                return Err(MeshError::TooLarge {
                    element_size_mm: size,
                    tetrahedra: order.len().saturating_mul(12),
                });
            }
        }
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

struct Sizing<'a> {
    frame: &'a Frame,
    socket: &'a Socket<'a>,
    size: f64,
}

impl Sizing<'_> {
    fn wants_split(&self, cell: Cell) -> bool {
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
        edge > std::f64::consts::SQRT_2 * self.wanted(&p, edge, in_bone)
    }

    /// The planes of the cortical shell must run between cells.
    fn crosses_shell(&self, cell: Cell) -> bool {
        (0..3).any(|k| {
            self.frame.planes[k].inner.iter().any(|&u| cell.corner[k] < u && u < cell.corner[k] + cell.edge())
        })
    }

    /// Edge length wanted at a point, given the edge of the cell around it, mm.
    fn wanted(&self, p: &V3, edge: f64, in_bone: bool) -> f64 {
        let h = self.size;
        let value = self.socket.solid.value(p);
        let away = (value.abs() - 0.87 * edge).max(0.0);
        let radius = self.socket.solid.feature_size(p);
        // Tight curvature is shown by finer elements, in proportion to the size asked; a size above the
        // default does not make the root coarser than its curvature allows.
        let shown = FEATURE * radius;
        let curved = if h <= DEFAULT_ELEMENT_SIZE_MM {
            (shown * h / DEFAULT_ELEMENT_SIZE_MM).max(0.45 * h)
        } else {
            shown.min((COARSEST * radius).max(DEFAULT_ELEMENT_SIZE_MM)).max(0.45 * DEFAULT_ELEMENT_SIZE_MM)
        };
        // The crown carries the load but not the answer: let it be coarser.
        let rise = ((p.z / h - 0.5) / 1.5).clamp(0.0, 1.0);
        let mut wanted = h * (1.0 + 0.2 * rise);
        wanted = wanted.min(if rise > 0.0 { self.socket.solid.crown_feature(p) } else { curved });
        if in_bone && value > 0.0 {
            let block = &self.socket.block;
            let face = (block.high.x - p.x).min(p.x - block.low.x);
            wanted = wanted.min((0.5 * (value + face)).max(0.4 * h));
        }
        wanted + away
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
