//! Tetrahedra of the graded lattice. Every rule looks only at a face and its two cells, and both cells see
//! the same triangles, so the result conforms without search.

use rustc_hash::{FxHashMap, FxHashSet};

use super::octree::{Cell, Frame, Octree};
use super::{Mask, SHELL};
use crate::tooth::V3;

/// Where a lattice tetrahedron is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    AboveCrest,
    Cancellous,
    Cortical,
}

/// The uncut lattice.
pub(crate) struct Lattice {
    pub(crate) nodes: Vec<V3>,
    pub(crate) masks: Vec<Mask>,
    pub(crate) tets: Vec<[u32; 4]>,
    pub(crate) places: Vec<Place>,
}

type Unit = [i32; 3];

struct Builder<'a> {
    frame: &'a Frame,
    tree: &'a Octree,
    corners: FxHashSet<Unit>,
    numbers: FxHashMap<Unit, u32>,
    units: Vec<Unit>,
    out: Lattice,
}

pub(crate) fn build(frame: &Frame, tree: &Octree) -> Lattice {
    let mut corners = FxHashSet::default();
    for (cell, _) in tree.leaves.iter().zip(&tree.active).filter(|(_, active)| **active) {
        for k in 0..8 {
            corners.insert(corner(cell, k));
        }
        for axis in 0..3 {
            for upper in [false, true] {
                corners.extend(quartered_edges(tree, cell, axis, upper));
            }
        }
    }
    let mut builder = Builder {
        frame,
        tree,
        corners,
        numbers: FxHashMap::default(),
        units: Vec::new(),
        out: Lattice { nodes: Vec::new(), masks: Vec::new(), tets: Vec::new(), places: Vec::new() },
    };
    for (i, &cell) in tree.leaves.iter().enumerate() {
        if tree.active[i] {
            for axis in 0..3 {
                for upper in [false, true] {
                    builder.face(cell, axis, upper);
                }
            }
        }
    }
    builder.out
}

fn corner(cell: &Cell, k: usize) -> Unit {
    [0, 1, 2].map(|axis| cell.corner[axis] + if k >> axis & 1 == 1 { cell.edge() } else { 0 })
}

/// Corners of the square face of a cell.
fn square(cell: &Cell, axis: usize, upper: bool) -> [Unit; 4] {
    let edge = cell.edge();
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    [(0, 0), (edge, 0), (edge, edge), (0, edge)].map(|(du, dv)| {
        let mut p = cell.corner;
        p[axis] += if upper { edge } else { 0 };
        p[u] += du;
        p[v] += dv;
        p
    })
}

/// Is any of the four finer cells beyond a face meshed?
fn meets_finer(tree: &Octree, cell: &Cell, axis: usize, upper: bool) -> bool {
    let half = cell.edge() / 2;
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    [(0, 0), (half, 0), (0, half), (half, half)].into_iter().any(|(du, dv)| {
        let mut corner = cell.corner;
        corner[axis] += if upper { 2 * half } else { -half };
        corner[u] += du;
        corner[v] += dv;
        tree.find(Cell { corner, level: cell.level + 1 }).is_some_and(|j| tree.active[j])
    })
}

/// Middles of the edges of a face that is quartered because a meshed finer cell lies beyond. Cells that share such an
/// edge must know its middle even where no meshed cell has it as a corner.
fn quartered_edges(tree: &Octree, cell: &Cell, axis: usize, upper: bool) -> Vec<Unit> {
    if cell.edge() < 2 || !meets_finer(tree, cell, axis, upper) {
        return Vec::new();
    }
    let s = square(cell, axis, upper);
    (0..4).map(|k| middle(s[k], s[(k + 1) % 4])).collect()
}

fn middle(a: Unit, b: Unit) -> Unit {
    [0, 1, 2].map(|k| i32::midpoint(a[k], b[k]))
}

impl Builder<'_> {
    fn node(&mut self, unit: Unit) -> u32 {
        if let Some(&n) = self.numbers.get(&unit) {
            return n;
        }
        let n = self.units.len() as u32;
        self.numbers.insert(unit, n);
        self.units.push(unit);
        self.out.nodes.push(self.frame.at(unit));
        self.out.masks.push(self.mask(unit));
        n
    }

    fn mask(&self, unit: Unit) -> Mask {
        let crest = self.frame.crest();
        if unit[2] > crest {
            return 0;
        }
        let inside = (0..2).all(|k| {
            let p = &self.frame.planes[k];
            p.low <= unit[k] && unit[k] <= p.high
        });
        if !inside {
            return if unit[2] == crest { 4 } else { 0 };
        }
        let mut mask = 0;
        for (k, (p, u)) in self.frame.planes.iter().zip(unit).enumerate() {
            if u == p.low || u == p.high {
                mask |= 1 << k;
            } else if p.inner.contains(&u) {
                mask |= SHELL << k;
            }
        }
        mask
    }

    fn tet(&mut self, corners: [Unit; 4]) {
        let sum = [0, 1, 2].map(|k| corners.iter().map(|u| u[k]).sum::<i32>());
        let place = self.place(sum);
        let d = |a: Unit, b: Unit| {
            V3::new(f64::from(b[0] - a[0]), f64::from(b[1] - a[1]), f64::from(b[2] - a[2]))
        };
        let volume =
            d(corners[0], corners[1]).cross(&d(corners[0], corners[2])).dot(&d(corners[0], corners[3]));
        debug_assert!(volume != 0.0);
        let mut tet = corners.map(|u| self.node(u));
        if volume < 0.0 {
            tet.swap(2, 3);
        }
        self.out.tets.push(tet);
        self.out.places.push(place);
    }

    /// Place from four times the centroid.
    fn place(&self, sum: Unit) -> Place {
        if sum[2] > 4 * self.frame.crest() {
            return Place::AboveCrest;
        }
        let p = &self.frame.planes;
        // Inner planes come as [near low, near high] on x and [below the crest] on z.
        let shell_x = match p[0].inner[..] {
            [a, b] => sum[0] < 4 * a || sum[0] > 4 * b,
            _ => true,
        };
        let shell_z = p[2].inner.first().is_some_and(|&a| sum[2] > 4 * a);
        if shell_x || shell_z { Place::Cortical } else { Place::Cancellous }
    }

    fn face(&mut self, cell: Cell, axis: usize, upper: bool) {
        let edge = cell.edge();
        let level_of_face = cell.corner[axis] + if upper { edge } else { 0 };
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let at = |du: i32, dv: i32| {
            let mut p = cell.corner;
            p[axis] = level_of_face;
            p[u] += du;
            p[v] += dv;
            p
        };
        let square = square(&cell, axis, upper);
        let centre = cell.centre();
        let mut beside = cell.corner;
        beside[axis] += if upper { edge } else { -edge };
        let same = Cell { corner: beside, level: cell.level };
        if let Some(j) = self.tree.find(same) {
            if self.tree.active[j] && !self.is_special(axis, level_of_face, centre) {
                if upper {
                    self.bridge(square, centre, same.centre());
                }
            } else {
                self.fan(square, middle(square[0], square[2]), centre);
            }
            return;
        }
        if cell.level > 0 {
            let mask = !(2 * edge - 1);
            let large = Cell { corner: beside.map(|c| c & mask), level: cell.level - 1 };
            if let Some(j) = self.tree.find(large) {
                if self.tree.active[j] {
                    let mut hub = large.centre();
                    hub[axis] = level_of_face;
                    self.quarter(square, hub, centre);
                } else {
                    self.fan(square, middle(square[0], square[2]), centre);
                }
                return;
            }
        }
        // Finer cells beyond, or the end of the lattice.
        let half = edge / 2;
        let hub = middle(square[0], square[2]);
        if meets_finer(self.tree, &cell, axis, upper) {
            for (du, dv) in [(0, 0), (half, 0), (half, half), (0, half)] {
                let small = [at(du, dv), at(du + half, dv), at(du + half, dv + half), at(du, dv + half)];
                self.quarter(small, hub, centre);
            }
        } else {
            self.fan(square, hub, centre);
        }
    }

    /// Planes that must be a union of faces: crest and cortical shell.
    fn is_special(&self, axis: usize, unit: i32, centre: Unit) -> bool {
        let p = &self.frame.planes[axis];
        if axis == 2 && unit == p.high {
            return true;
        }
        self.frame.in_block(centre) && p.inner.contains(&unit)
    }

    /// Four tetrahedra around the segment between two cell centres; an edge with a hanging middle gives two.
    fn bridge(&mut self, square: [Unit; 4], here: Unit, there: Unit) {
        for k in 0..4 {
            let (a, b) = (square[k], square[(k + 1) % 4]);
            self.each_piece(a, b, |s, p, q| s.tet([here, there, p, q]));
        }
    }

    /// A square fanned round its centre and coned to the cell's centre.
    fn fan(&mut self, square: [Unit; 4], hub: Unit, centre: Unit) {
        for k in 0..4 {
            let (a, b) = (square[k], square[(k + 1) % 4]);
            self.each_piece(a, b, |s, p, q| s.tet([hub, p, q, centre]));
        }
    }

    /// A small square that shares the corner `hub` with the centre of a larger one: two triangles by the
    /// diagonal from the hub, coned to the cell's centre.
    fn quarter(&mut self, square: [Unit; 4], hub: Unit, centre: Unit) {
        let k = square.iter().position(|&p| p == hub).expect("the hub is a corner of the small square");
        let [a, b, c, d] = [0, 1, 2, 3].map(|i| square[(k + i) % 4]);
        self.tet([a, b, c, centre]);
        self.tet([a, c, d, centre]);
    }

    fn each_piece(&mut self, a: Unit, b: Unit, mut emit: impl FnMut(&mut Self, Unit, Unit)) {
        let m = middle(a, b);
        let long = (0..3).any(|k| (a[k] - b[k]).abs() >= 2);
        if long && self.corners.contains(&m) {
            emit(self, a, m);
            emit(self, m, b);
        } else {
            emit(self, a, b);
        }
    }
}
