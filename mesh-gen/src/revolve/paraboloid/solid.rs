//! The inside of a paraboloid tooth: discs stacked on the rings of the root's surface, a lens at the apex where
//! the rim of the lowest disc is the root's own, and discs up the crown.

use std::collections::BTreeMap;

use nalgebra::Point3;

use super::super::disc::{Rings, middle_angle};
use super::ParaboloidRoot;
use crate::mesh::{EDGES, FACES};
use crate::sweep::{Sheet, between, split_prism};

/// What the tooth adds to the nodes of the swept layers. Vertices and mid-sides of the root's surface are those of
/// half-level 0.
pub(super) struct Solid {
    /// Nodes to append.
    pub(super) nodes: Vec<Point3<f64>>,
    /// Ten-node cells.
    pub(super) cells: Vec<[u32; 10]>,
    /// Free faces, turned outward.
    pub(super) crown: Vec<[u32; 6]>,
}

/// A vertex on the rim of a disc at or above the crest: where it lies on the crown's side.
#[derive(Clone, Copy)]
struct Side {
    z: f64,
    angle: f64,
}

struct Builder<'a> {
    root: &'a ParaboloidRoot,
    rings: &'a Rings,
    sheet: &'a Sheet,
    /// Nodes of the swept layers, then those added here.
    nodes: Vec<Point3<f64>>,
    sides: BTreeMap<u32, Side>,
    mids: BTreeMap<(u32, u32), u32>,
}

/// `swept` are the nodes of the swept layers, `crown_mm` the height of the crown above z = 0.
pub(super) fn fill(
    root: &ParaboloidRoot,
    rings: &Rings,
    sheet: &Sheet,
    swept: Vec<Point3<f64>>,
    crown_mm: f64,
) -> Solid {
    let count = swept.len();
    let mut builder =
        Builder { root, rings, sheet, nodes: swept, sides: BTreeMap::new(), mids: BTreeMap::new() };
    let levels = builder.levels(crown_mm);
    let triangles = rings.core_triangles();
    let mut cells = Vec::new();
    for layer in 0..levels.len() - 1 {
        for &triangle in &triangles {
            for corners in split_prism(triangle, layer) {
                let tet = corners.map(|(vertex, level)| levels[level][vertex as usize]);
                // At the rim of the lens, prisms lose edges and some of their tetrahedra vanish.
                if (0..4).all(|i| (0..i).all(|j| tet[i] != tet[j])) {
                    cells.push(builder.ten_nodes(tet));
                }
            }
        }
    }
    let crown = builder.free_faces(&cells);
    Solid { nodes: builder.nodes.split_off(count), cells, crown }
}

impl Builder<'_> {
    /// Node numbers of the core's vertices on each level, from the apex up.
    fn levels(&mut self, crown_mm: f64) -> Vec<Vec<u32>> {
        let core = self.rings.core;
        let inner = self.rings.first(core);
        let cap = (0..(inner + self.rings.around) as u32).collect::<Vec<_>>();
        let lowest = self.root_disc(core);
        let slices = (core / 2).max(1);
        let mut levels = vec![cap.clone()];
        for slice in 1..slices {
            let fraction = slice as f64 / slices as f64;
            let mut level = cap.clone();
            for (vertex, node) in level.iter_mut().enumerate().take(inner) {
                let (low, high) = (self.nodes[cap[vertex] as usize], self.nodes[lowest[vertex] as usize]);
                *node = self.push(between(low, high, fraction));
            }
            levels.push(level);
        }
        levels.push(lowest);
        let crest = self.rings.radii.len() - 1;
        for ring in core + 1..=crest {
            let disc = self.root_disc(ring);
            levels.push(disc);
        }
        for (place, angle) in self.rim_angles().into_iter().enumerate() {
            let node = (self.rings.first(crest) + place) as u32;
            self.sides.insert(node, Side { z: -self.root.bone_loss_mm, angle });
        }
        for z in self.crown_heights(crown_mm) {
            let disc = self.crown_disc(z);
            levels.push(disc);
        }
        levels
    }

    /// The disc inside a ring of the root's surface.
    fn root_disc(&mut self, ring: usize) -> Vec<u32> {
        let first = self.rings.first(ring) as u32;
        let rim = self.nodes[first as usize];
        // The first vertex of a ring lies in the plane y = 0.
        let mut disc = self.inside(rim.x / self.root.half_axis_x_mm, rim.z);
        disc.extend((0..self.rings.around as u32).map(|i| first + i));
        disc
    }

    fn crown_disc(&mut self, z: f64) -> Vec<u32> {
        let mut disc = self.inside(self.root.outline(z), z);
        for angle in self.rim_angles() {
            let side = Side { z, angle };
            let node = self.push(self.side_point(side));
            self.sides.insert(node, side);
            disc.push(node);
        }
        disc
    }

    /// New vertices of the core inside its rim, scaled to the fraction `s` of the half axes.
    fn inside(&mut self, s: f64, z: f64) -> Vec<u32> {
        let full = self.rings.radii[self.rings.core];
        let inner = self.rings.first(self.rings.core);
        (0..inner)
            .map(|vertex| {
                let p = self.sheet.vertices[vertex] * (s / full);
                self.push(Point3::new(self.root.half_axis_x_mm * p.x, self.root.half_axis_y_mm * p.y, z))
            })
            .collect()
    }

    fn rim_angles(&self) -> Vec<f64> {
        (0..self.rings.around).map(|i| std::f64::consts::TAU * i as f64 / self.rings.around as f64).collect()
    }

    /// Heights of the discs above the crest, the last one the top; the rim of the whole root is one of them.
    fn crown_heights(&self, crown_mm: f64) -> Vec<f64> {
        let half_axis = f64::midpoint(self.root.half_axis_x_mm, self.root.half_axis_y_mm);
        let size = std::f64::consts::TAU * half_axis / self.rings.around as f64;
        let steps = |length: f64| (length / size).ceil().clamp(1.0, 1000.0);
        let mut heights = Vec::new();
        let mut climb = |from: f64, to: f64| {
            let n = steps(to - from);
            heights.extend((1..=n as usize).map(|k| from + (to - from) * k as f64 / n));
        };
        if self.root.bone_loss_mm > 0.0 {
            climb(-self.root.bone_loss_mm, 0.0);
        }
        climb(0.0, crown_mm);
        heights
    }

    fn side_point(&self, side: Side) -> Point3<f64> {
        let s = self.root.outline(side.z);
        let (sine, cosine) = side.angle.sin_cos();
        Point3::new(self.root.half_axis_x_mm * s * cosine, self.root.half_axis_y_mm * s * sine, side.z)
    }

    fn push(&mut self, point: Point3<f64>) -> u32 {
        self.nodes.push(point);
        self.nodes.len() as u32 - 1
    }

    fn ten_nodes(&mut self, tet: [u32; 4]) -> [u32; 10] {
        let mut cell = [0; 10];
        cell[..4].copy_from_slice(&tet);
        for (k, [i, j]) in EDGES.into_iter().enumerate() {
            cell[4 + k] = self.mid(tet[i], tet[j]);
        }
        cell
    }

    fn mid(&mut self, i: u32, j: u32) -> u32 {
        let edge = (i.min(j), i.max(j));
        if let Some(number) = self.sheet.edges.get(&edge) {
            return self.sheet.vertices.len() as u32 + number;
        }
        if let Some(&node) = self.mids.get(&edge) {
            return node;
        }
        let point = match (self.sides.get(&i), self.sides.get(&j)) {
            (Some(a), Some(b)) if middle_angle_near(a.angle, b.angle) => {
                self.side_point(Side { z: f64::midpoint(a.z, b.z), angle: middle_angle(a.angle, b.angle) })
            }
            _ => nalgebra::center(&self.nodes[i as usize], &self.nodes[j as usize]),
        };
        let node = self.push(point);
        self.mids.insert(edge, node);
        node
    }

    /// Faces of one cell only that are not the root's surface.
    fn free_faces(&self, cells: &[[u32; 10]]) -> Vec<[u32; 6]> {
        let key = |face: &[u32]| {
            let mut corners = [face[0], face[1], face[2]];
            corners.sort_unstable();
            corners
        };
        let mut faces = BTreeMap::<[u32; 3], Option<[u32; 6]>>::new();
        for cell in cells {
            for local in FACES {
                let face = local.map(|n| cell[n]);
                faces.entry(key(&face)).and_modify(|f| *f = None).or_insert(Some(face));
            }
        }
        for triangle in &self.sheet.triangles {
            faces.remove(&key(triangle));
        }
        faces.into_values().flatten().collect()
    }
}

/// Neighbours on the rim, not two points across the disc.
fn middle_angle_near(a: f64, b: f64) -> bool {
    let apart = (a - b).abs();
    apart.min(std::f64::consts::TAU - apart) < 1.1
}
