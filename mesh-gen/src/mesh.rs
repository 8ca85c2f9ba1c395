//! The mesh type that everything downstream relies on. A [`TetMesh`] is always valid: indices in range,
//! every element positive everywhere (by a Bernstein bound), faces shared by at most two elements with
//! opposite orientation. It knows regions and named surfaces and nothing about teeth.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::error::MeshError;

/// The body an element belongs to. The discriminant is the number written to exported files; 4 is kept for an attachment
/// that is a body of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[repr(u8)]
pub enum Region {
    /// The tooth (dentine; the crown is not told apart).
    Tooth = 0,
    /// The periodontal ligament.
    Ligament = 1,
    /// Cancellous bone.
    CancellousBone = 2,
    /// Cortical bone.
    CorticalBone = 3,
}

impl Region {
    /// All regions, in the order of their numbers.
    pub const ALL: [Self; 4] = [Self::Tooth, Self::Ligament, Self::CancellousBone, Self::CorticalBone];
}

/// Names of the surfaces of a tooth in its socket. Other meshes may use names of their own.
pub mod surface {
    /// Tooth against ligament: the root surface inside the socket.
    pub const ROOT: &str = "root";
    /// Ligament against bone: the wall of the socket.
    pub const SOCKET_WALL: &str = "socket_wall";
    /// The free ring of ligament at the crest.
    pub const LIGAMENT_CREST: &str = "ligament_crest";
    /// The free surface of the tooth above the crest.
    pub const CROWN: &str = "crown";
    /// Faces of the crown touched by the attachment's footprint.
    pub const ATTACHMENT: &str = "attachment";
    /// The free crest of the bone.
    pub const BONE_CREST: &str = "bone_crest";
    /// Outer faces of the bone that are held: mesial and distal cuts and the floor.
    pub const FIXED: &str = "fixed";
    /// Free buccal face of the bone.
    pub const BUCCAL_PLATE: &str = "buccal_plate";
    /// Free lingual face of the bone.
    pub const LINGUAL_PLATE: &str = "lingual_plate";
}

/// Local node numbers of the six edges: mid-side node `4 + k` lies on edge `EDGES[k]` (VTK order).
pub const EDGES: [[usize; 2]; 6] = [[0, 1], [1, 2], [0, 2], [0, 3], [1, 3], [2, 3]];

/// Local node numbers of the four faces, three corners then the mid-side nodes opposite to none:
/// `[a, b, c, ab, bc, ca]`, seen from outside counter-clockwise for a positive element.
pub const FACES: [[usize; 6]; 4] =
    [[0, 2, 1, 6, 5, 4], [0, 1, 3, 4, 8, 7], [1, 2, 3, 5, 9, 8], [0, 3, 2, 7, 9, 6]];

/// A conforming mesh of curved ten-node tetrahedra.
#[derive(Debug, Clone, PartialEq)]
pub struct TetMesh {
    nodes: Vec<Point3<f64>>,
    cells: Vec<[u32; 10]>,
    regions: Vec<Region>,
    surfaces: BTreeMap<String, Vec<[u32; 6]>>,
}

impl TetMesh {
    /// Takes the parts and checks them.
    ///
    /// `nodes` in mm; `cells` in VTK quadratic-tetrahedron order (four corners, then the mid-side nodes of
    /// edges 01 12 02 03 13 23); one region a cell; `surfaces` map a name to six-node triangles
    /// `[a, b, c, ab, bc, ca]`, counter-clockwise seen from outside the body they bound (from the ligament's
    /// side for the root surface, from the bone's side for the socket wall).
    ///
    /// # Errors
    /// [`MeshError::NodeIndex`], [`MeshError::Inverted`] or [`MeshError::NotConforming`].
    pub fn new(
        nodes: Vec<Point3<f64>>,
        cells: Vec<[u32; 10]>,
        regions: Vec<Region>,
        surfaces: BTreeMap<String, Vec<[u32; 6]>>,
    ) -> Result<Self, MeshError> {
        let mesh = Self { nodes, cells, regions, surfaces };
        mesh.audit()?;
        Ok(mesh)
    }

    /// Node positions, mm.
    #[must_use]
    pub fn nodes(&self) -> &[Point3<f64>] {
        &self.nodes
    }

    /// Ten node numbers a cell, VTK order.
    #[must_use]
    pub fn cells(&self) -> &[[u32; 10]] {
        &self.cells
    }

    /// One region a cell.
    #[must_use]
    pub fn regions(&self) -> &[Region] {
        &self.regions
    }

    /// Six-node triangles of a named surface; empty if the mesh has none of that name.
    #[must_use]
    pub fn surface(&self, name: &str) -> &[[u32; 6]] {
        self.surfaces.get(name).map_or(&[], Vec::as_slice)
    }

    /// Names of the surfaces, sorted.
    pub fn surface_names(&self) -> impl Iterator<Item = &str> {
        self.surfaces.keys().map(String::as_str)
    }

    /// Positions of the ten nodes of a cell, mm.
    #[must_use]
    pub fn cell_nodes(&self, cell: usize) -> [Point3<f64>; 10] {
        self.cells[cell].map(|n| self.nodes[n as usize])
    }

    /// The cells of some regions as a mesh of their own, with the surfaces whose nodes all remain, and the
    /// old number of each new node.
    #[must_use]
    pub fn extract(&self, keep: &[Region]) -> (Self, Vec<u32>) {
        let mut new_number = vec![u32::MAX; self.nodes.len()];
        let mut old_number = Vec::new();
        let mut cells = Vec::new();
        let mut regions = Vec::new();
        for (cell, &region) in self.cells.iter().zip(&self.regions) {
            if !keep.contains(&region) {
                continue;
            }
            cells.push(cell.map(|n| {
                let slot = &mut new_number[n as usize];
                if *slot == u32::MAX {
                    *slot = old_number.len() as u32;
                    old_number.push(n);
                }
                *slot
            }));
            regions.push(region);
        }
        let nodes = old_number.iter().map(|&n| self.nodes[n as usize]).collect();
        let surfaces = self
            .surfaces
            .iter()
            .map(|(name, faces)| {
                let kept = faces
                    .iter()
                    .map(|face| face.map(|n| new_number[n as usize]))
                    .filter(|face| !face.contains(&u32::MAX))
                    .collect::<Vec<_>>();
                (name.clone(), kept)
            })
            .filter(|(_, faces)| !faces.is_empty())
            .collect();
        (Self { nodes, cells, regions, surfaces }, old_number)
    }

    fn audit(&self) -> Result<(), MeshError> {
        if self.regions.len() != self.cells.len() {
            return Err(MeshError::NotConforming {
                detail: format!("{} cells but {} regions", self.cells.len(), self.regions.len()),
            });
        }
        for (cell, numbers) in self.cells.iter().enumerate() {
            for &node in numbers {
                if node as usize >= self.nodes.len() {
                    return Err(MeshError::NodeIndex { cell, node: node as usize, nodes: self.nodes.len() });
                }
            }
        }
        let inverted = (0..self.cells.len()).into_par_iter().find_map_first(|cell| {
            let smallest = bernstein_ratio(&self.cell_nodes(cell));
            (smallest <= 0.0 || smallest.is_nan()).then_some(MeshError::Inverted { cell, smallest })
        });
        if let Some(error) = inverted {
            return Err(error);
        }
        self.audit_faces()
    }

    fn audit_faces(&self) -> Result<(), MeshError> {
        // Sorted corner triple, parity, and the sorted mid-side triple: neighbours must share all six nodes.
        let mut faces = Vec::with_capacity(4 * self.cells.len());
        for cell in &self.cells {
            for local in FACES {
                let (corners, even) = sorted3([cell[local[0]], cell[local[1]], cell[local[2]]]);
                let (mids, _) = sorted3([cell[local[3]], cell[local[4]], cell[local[5]]]);
                faces.push((corners, mids, even));
            }
        }
        faces.par_sort_unstable();
        for group in faces.chunk_by(|a, b| a.0 == b.0) {
            let fits = match group {
                [_] => true,
                [a, b] => a.2 != b.2 && a.1 == b.1,
                _ => false,
            };
            if !fits {
                return Err(MeshError::NotConforming {
                    detail: format!("face {:?} is shared by {} elements", group[0].0, group.len()),
                });
            }
        }
        for (name, triangles) in &self.surfaces {
            for triangle in triangles {
                let (corners, _) = sorted3([triangle[0], triangle[1], triangle[2]]);
                if faces.binary_search_by(|f| f.0.cmp(&corners)).is_err() {
                    return Err(MeshError::NotConforming {
                        detail: format!(
                            "surface {name} has a triangle {corners:?} that is no element's face"
                        ),
                    });
                }
            }
        }
        Ok(())
    }
}

/// Sorted triple, and whether the permutation that sorted it was even.
fn sorted3(mut t: [u32; 3]) -> ([u32; 3], bool) {
    let mut even = true;
    for (i, j) in [(0, 1), (1, 2), (0, 1)] {
        if t[i] > t[j] {
            t.swap(i, j);
            even = !even;
        }
    }
    (t, even)
}

/// Gradients of the ten quadratic shape functions to the local coordinates (r, s, t), at barycentric
/// coordinates `l` (`l[0] = 1 - r - s - t`). VTK order.
#[must_use]
pub fn shape_gradients(l: [f64; 4]) -> [Vector3<f64>; 10] {
    let dl = [
        Vector3::new(-1.0, -1.0, -1.0),
        Vector3::new(1.0, 0.0, 0.0),
        Vector3::new(0.0, 1.0, 0.0),
        Vector3::new(0.0, 0.0, 1.0),
    ];
    let mut g = [Vector3::zeros(); 10];
    for i in 0..4 {
        g[i] = dl[i] * (4.0 * l[i] - 1.0);
    }
    for (k, [i, j]) in EDGES.into_iter().enumerate() {
        g[4 + k] = (dl[j] * l[i] + dl[i] * l[j]) * 4.0;
    }
    g
}

/// Smallest Bernstein coefficient of det J of a curved ten-node tetrahedron, over the mean coefficient.
///
/// det J is a cubic; a positive smallest coefficient proves that the element is nowhere inverted
/// (Johnen, Remacle, Geuzaine, J Comput Phys 233, 2013; from memory). Straight elements give 1 or, if
/// inverted, a negative number.
#[must_use]
pub fn bernstein_ratio(nodes: &[Point3<f64>; 10]) -> f64 {
    ratio(bernstein(nodes))
}

/// Smallest over mean of the coefficients of [`bernstein`]; -1 if the element is inverted as a whole.
pub(crate) fn ratio((smallest, mean): (f64, f64)) -> f64 {
    if mean <= 0.0 || mean.is_nan() { -1.0 } else { smallest / mean }
}

/// Smallest and mean Bernstein coefficient of det J of a curved ten-node tetrahedron. All polynomials of the basis have
/// the same integral, so the volume is a sixth of the mean.
pub(crate) fn bernstein(nodes: &[Point3<f64>; 10]) -> (f64, f64) {
    // The columns of J are linear in the barycentric coordinates: column k at corner i is `c[k][i]`, so
    // det J = sum over i, j, m of l_i l_j l_m det(c[0][i], c[1][j], c[2][m]), and the Bernstein coefficient
    // of l^alpha (alpha! / 3! times the sum over the index triples that make alpha) follows exactly.
    // At corner a, from the derivatives of the shape functions: column k is q[k + 1] - q[0] with
    // q[a] = 3 x[a], and q[b] = 4 m[ab] - x[b] for the other corners b.
    let mut c = [[Vector3::zeros(); 4]; 3];
    for corner in 0..4 {
        let mut q = [0, 1, 2, 3].map(|b| -nodes[b].coords);
        q[corner] *= -3.0;
        for (k, [i, j]) in EDGES.into_iter().enumerate() {
            if i == corner {
                q[j] += nodes[4 + k].coords * 4.0;
            } else if j == corner {
                q[i] += nodes[4 + k].coords * 4.0;
            }
        }
        for k in 0..3 {
            c[k][corner] = q[k + 1] - q[0];
        }
    }
    let mut sums = [0.0; 20];
    let mut counts = [0u32; 20];
    for i in 0..4 {
        for j in 0..4 {
            let cross = c[0][i].cross(&c[1][j]);
            for m in 0..4 {
                let slot = MONOMIAL[i][j][m] as usize;
                sums[slot] += cross.dot(&c[2][m]);
                counts[slot] += 1;
            }
        }
    }
    let mut smallest = f64::INFINITY;
    let mut total = 0.0;
    for (sum, count) in sums.iter().zip(counts) {
        let coefficient = sum / f64::from(count);
        smallest = smallest.min(coefficient);
        total += coefficient;
    }
    (smallest, total / 20.0)
}

/// Number of the cubic monomial `l_i l_j l_m` among the twenty.
const MONOMIAL: [[[u8; 4]; 4]; 4] = monomials();

const fn monomials() -> [[[u8; 4]; 4]; 4] {
    let mut table = [[[0; 4]; 4]; 4];
    let mut next = 0;
    let mut i = 0;
    while i < 4 {
        let mut j = i;
        while j < 4 {
            let mut m = j;
            while m < 4 {
                let p = [[i, j, m], [i, m, j], [j, i, m], [j, m, i], [m, i, j], [m, j, i]];
                let mut k = 0;
                while k < 6 {
                    table[p[k][0]][p[k][1]][p[k][2]] = next;
                    k += 1;
                }
                next += 1;
                m += 1;
            }
            j += 1;
        }
        i += 1;
    }
    table
}

#[cfg(test)]
mod tests;
