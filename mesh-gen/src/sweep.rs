//! A triangulated sheet swept through levels: prisms, each split into three tetrahedra whose faces always fit.
//!
//! The one mechanism behind the plain verification shapes of [`crate::block`] and [`crate::revolve`]. It works in
//! the parameter space (a point of the sheet, a level); the callers map parameters to space. It knows nothing
//! about surfaces of revolution or bodies.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};

use crate::error::MeshError;
use crate::mesh::EDGES;

/// A triangulated sheet with a point for each mid-side. Triangles turn so that their normal points to higher levels.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sheet {
    /// Parameters of the vertices.
    pub(crate) vertices: Vec<Point3<f64>>,
    /// Parameters of the mid-side points, one for each of `edges`.
    pub(crate) mids: Vec<Point3<f64>>,
    /// Vertex triples.
    pub(crate) triangles: Vec<[u32; 3]>,
    /// The edge (smaller vertex first) to its number.
    pub(crate) edges: BTreeMap<(u32, u32), u32>,
    /// Edges with one triangle only, in the direction in which that triangle runs through them.
    pub(crate) rim: Vec<[u32; 2]>,
}

impl Sheet {
    /// Finds edges and rim of a triangulation; `mid` gives the point between two vertices, smaller number first.
    pub(crate) fn new(
        vertices: Vec<Point3<f64>>,
        triangles: Vec<[u32; 3]>,
        mid: impl Fn(u32, u32) -> Point3<f64>,
    ) -> Self {
        let mut edges = BTreeMap::new();
        let mut uses = BTreeMap::new();
        for &[a, b, c] in &triangles {
            for (i, j) in [(a, b), (b, c), (c, a)] {
                edges.insert((i.min(j), i.max(j)), 0);
                uses.entry((i.min(j), i.max(j)))
                    .and_modify(|u: &mut (u32, [u32; 2])| u.0 += 1)
                    .or_insert((1, [i, j]));
            }
        }
        let mut mids = Vec::with_capacity(edges.len());
        for (number, (&(i, j), slot)) in edges.iter_mut().enumerate() {
            *slot = number as u32;
            mids.push(mid(i, j));
        }
        let rim = uses.into_values().filter(|u| u.0 == 1).map(|u| u.1).collect();
        Self { vertices, mids, triangles, edges, rim }
    }

    /// The same sheet turned over.
    pub(crate) fn flipped(mut self) -> Self {
        self.triangles.iter_mut().for_each(|triangle| triangle.swap(1, 2));
        self.rim.iter_mut().for_each(|edge| edge.swap(0, 1));
        self
    }

    /// Points on one half-level: vertices, then mid-sides.
    pub(crate) fn stride(&self) -> usize {
        self.vertices.len() + self.mids.len()
    }

    /// Column of the sheet's point between two vertices (or of the vertex itself, if they are one).
    fn column(&self, i: u32, j: u32) -> u32 {
        if i == j { i } else { self.vertices.len() as u32 + self.edges[&(i.min(j), i.max(j))] }
    }

    /// Column numbers of the six nodes of a triangle `[a, b, c, ab, bc, ca]`.
    pub(crate) fn triangle_columns(&self, [a, b, c]: [u32; 3]) -> [u32; 6] {
        [a, b, c, self.column(a, b), self.column(b, c), self.column(c, a)]
    }

    /// Parameter of a column.
    pub(crate) fn parameter(&self, column: usize) -> Point3<f64> {
        if column < self.vertices.len() {
            self.vertices[column]
        } else {
            self.mids[column - self.vertices.len()]
        }
    }
}

/// A sheet swept through `layers` layers. Nodes are numbered half-level by half-level:
/// node = half-level * stride + column.
#[derive(Debug, Clone)]
pub(crate) struct Swept<'a> {
    /// The sheet.
    pub(crate) sheet: &'a Sheet,
    /// Ten-node cells, the layers in order, all triangles of the sheet in each.
    pub(crate) cells: Vec<[u32; 10]>,
    /// Layer of each cell.
    pub(crate) layer_of: Vec<usize>,
    layers: usize,
}

/// A vertex of the swept mesh: vertex of the sheet, level.
type Corner = (u32, usize);

impl<'a> Swept<'a> {
    /// Splits every prism. The diagonal of a side runs from the smaller sheet vertex below to the larger one
    /// above, so neighbours agree (the Kuhn or staircase split; Dompierre et al. 1999, from memory).
    pub(crate) fn new(sheet: &'a Sheet, layers: usize) -> Self {
        let mut swept = Self { sheet, cells: Vec::new(), layer_of: Vec::new(), layers };
        for layer in 0..layers {
            for &triangle in &sheet.triangles {
                for corners in split_prism(triangle, layer) {
                    swept.cells.push(swept.ten_nodes(corners));
                    swept.layer_of.push(layer);
                }
            }
        }
        swept
    }

    /// Nodes in all.
    pub(crate) fn node_count(&self) -> usize {
        (2 * self.layers + 1) * self.sheet.stride()
    }

    /// Number of the node between two corners of one layer, or of the corner itself.
    pub(crate) fn node(&self, (i, below): Corner, (j, above): Corner) -> u32 {
        (below + above) as u32 * self.sheet.stride() as u32 + self.sheet.column(i, j)
    }

    fn ten_nodes(&self, corners: [Corner; 4]) -> [u32; 10] {
        let mut nodes = [0; 10];
        for k in 0..4 {
            nodes[k] = self.node(corners[k], corners[k]);
        }
        for (k, [i, j]) in EDGES.into_iter().enumerate() {
            nodes[4 + k] = self.node(corners[i], corners[j]);
        }
        nodes
    }

    /// Positions of all nodes: `map(parameter of the sheet, half-level)`.
    pub(crate) fn positions(&self, map: impl Fn(Point3<f64>, usize) -> Point3<f64>) -> Vec<Point3<f64>> {
        let stride = self.sheet.stride();
        (0..self.node_count()).map(|n| map(self.sheet.parameter(n % stride), n / stride)).collect()
    }

    /// Six-node triangles of a level, turned toward higher levels or, if `down`, toward lower ones.
    pub(crate) fn level(&self, level: usize, down: bool) -> Vec<[u32; 6]> {
        let base = 2 * level as u32 * self.sheet.stride() as u32;
        let turned = self.sheet.triangles.iter().map(|&[a, b, c]| if down { [a, c, b] } else { [a, b, c] });
        turned.map(|triangle| self.sheet.triangle_columns(triangle).map(|column| base + column)).collect()
    }

    /// Six-node triangles over the rim edges that `keep` names, in the given layers, turned outward.
    pub(crate) fn side(
        &self,
        layers: std::ops::Range<usize>,
        keep: impl Fn([u32; 2]) -> bool,
    ) -> Vec<[u32; 6]> {
        let mut faces = Vec::new();
        for layer in layers {
            for &[p, q] in self.sheet.rim.iter().filter(|edge| keep(**edge)) {
                let [p0, q0, q1, p1] = [(p, layer), (q, layer), (q, layer + 1), (p, layer + 1)];
                let halves = if p < q { [[p0, q0, q1], [p0, q1, p1]] } else { [[p0, q0, p1], [q0, q1, p1]] };
                for [a, b, c] in halves {
                    faces.push([
                        self.node(a, a),
                        self.node(b, b),
                        self.node(c, c),
                        self.node(a, b),
                        self.node(b, c),
                        self.node(c, a),
                    ]);
                }
            }
        }
        faces
    }
}

/// Three tetrahedra of the prism over a triangle, each positive if the triangle turns toward higher levels.
pub(crate) fn split_prism(triangle: [u32; 3], layer: usize) -> [[Corner; 4]; 3] {
    let ([a, b, c], even) = sorted(triangle);
    let (above, below) = (layer + 1, layer);
    let mut tets = [
        [(a, below), (b, below), (c, below), (c, above)],
        [(a, below), (b, below), (c, above), (b, above)],
        [(a, below), (b, above), (c, above), (a, above)],
    ];
    if !even {
        for tet in &mut tets {
            tet.swap(1, 2);
        }
    }
    tets
}

/// Sorted triple, and whether the permutation that sorted it was even.
fn sorted([a, b, c]: [u32; 3]) -> ([u32; 3], bool) {
    let mut t = [a, b, c];
    t.sort_unstable();
    (t, t == [a, b, c] || t == [b, c, a] || t == [c, a, b])
}

/// A regular grid of rectangles, each cut along the diagonal from its first to its last corner, so that the split
/// of the swept boxes is the same everywhere. `point(i, j)` is the parameter; with `closed` the first direction
/// joins its end to its beginning.
pub(crate) fn grid([nu, nv]: [usize; 2], closed: bool, point: impl Fn(f64, f64) -> Point3<f64>) -> Sheet {
    let columns = if closed { nu } else { nu + 1 };
    let number = |i: usize, j: usize| ((i % columns) + j * columns) as u32;
    let mut vertices = Vec::with_capacity(columns * (nv + 1));
    for j in 0..=nv {
        for i in 0..columns {
            vertices.push(point(i as f64, j as f64));
        }
    }
    let mut triangles = Vec::with_capacity(2 * nu * nv);
    for j in 0..nv {
        for i in 0..nu {
            let (a, b, c, d) = (number(i, j), number(i + 1, j), number(i + 1, j + 1), number(i, j + 1));
            triangles.push([a, b, c]);
            triangles.push([a, c, d]);
        }
    }
    let place = |n: u32| (n as usize % columns, n as usize / columns);
    Sheet::new(vertices, triangles, |m, n| {
        let ((im, jm), (i, j)) = (place(m), place(n));
        // Across the seam of a closed grid, count on past the end.
        let (im, i) = match im.abs_diff(i) > 1 {
            true if im < i => (im + nu, i),
            true => (im, i + nu),
            false => (im, i),
        };
        point((im + i) as f64 / 2.0, (jm + j) as f64 / 2.0)
    })
}

/// Refuses a count outside a range.
pub(crate) fn check_count(
    key: &'static str,
    value: usize,
    least: usize,
    most: usize,
) -> Result<(), MeshError> {
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(MeshError::OutOfRange {
        key,
        value: value as f64,
        allowed: format!("must lie between {least} and {most}"),
    })
}

/// Refuses a length that is not positive and finite.
pub(crate) fn check_length(key: &'static str, value: f64) -> Result<(), MeshError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(MeshError::OutOfRange { key, value, allowed: "must be a positive length in mm".into() })
}

/// Refuses shapes of more nodes than this crate's verification shapes are meant for.
pub(crate) fn check_size(key: &'static str, factors: &[usize]) -> Result<(), MeshError> {
    let nodes = factors.iter().map(|&f| f as f64).product::<f64>();
    if nodes <= 2e7 {
        return Ok(());
    }
    Err(MeshError::OutOfRange { key, value: nodes, allowed: "would make more than 20 million nodes".into() })
}

/// The point `fraction` of the way from `a` to `b`.
pub(crate) fn between(a: Point3<f64>, b: Point3<f64>, fraction: f64) -> Point3<f64> {
    let step: Vector3<f64> = b - a;
    a + step * fraction
}
