//! Shells and solids of revolution for verification: ring, sphere, bonded disc and the paraboloid root of the
//! literature, with element sides on the exact surfaces, the axis included.
//!
//! Surfaces carry the names of a tooth in its socket ([`crate::mesh::surface`]): the inner face of a layer is the
//! root, the outer one the socket wall. Not for anatomical teeth.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};

use crate::error::MeshError;
use crate::mesh::{Region, TetMesh, surface};
use crate::sweep::{Swept, between, check_count, check_length, check_size, grid};

mod disc;
mod paraboloid;
mod sphere;
#[cfg(test)]
mod tests;

pub use paraboloid::{CrestEdge, ParaboloidBodies, ParaboloidRoot, ThicknessLaw};

/// Name of the plane face at the lower end of an annulus.
pub const LOWER_END: &str = "lower_end";
/// Name of the plane face at the upper end of an annulus.
pub const UPPER_END: &str = "upper_end";

/// A layer between two coaxial cylinders, from z = 0 to `height_mm`.
///
/// Surfaces: `root` (inner), `socket_wall` (outer), [`LOWER_END`], [`UPPER_END`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Annulus {
    /// Inner radius, mm.
    pub inner_mm: f64,
    /// Outer radius, mm.
    pub outer_mm: f64,
    /// Length along the axis, mm.
    pub height_mm: f64,
    /// Elements around.
    pub around: usize,
    /// Elements along.
    pub along: usize,
    /// Elements through the thickness.
    pub layers: usize,
}

impl Annulus {
    /// The mesh, all ligament.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] or [`MeshError::Impossible`] for numbers that make no ring.
    pub fn mesh(&self) -> Result<TetMesh, MeshError> {
        check_length("annulus.inner_mm", self.inner_mm)?;
        check_length("annulus.height_mm", self.height_mm)?;
        check_wider("annulus.outer_mm", self.inner_mm, self.outer_mm)?;
        check_count("annulus.around", self.around, 6, 100_000)?;
        check_count("annulus.along", self.along, 1, 100_000)?;
        check_count("annulus.layers", self.layers, 1, 100_000)?;
        check_size("annulus.around", &[2 * self.around, 2 * self.along + 1, 2 * self.layers + 1])?;
        let turn = std::f64::consts::TAU / self.around as f64;
        let rise = self.height_mm / self.along as f64;
        let sheet = grid([self.around, self.along], true, |i, j| {
            let (sine, cosine) = (i * turn).sin_cos();
            Point3::new(cosine, sine, j * rise)
        });
        let swept = Swept::new(&sheet, self.layers);
        let nodes = swept.positions(|p, half| {
            let radius = mix(self.inner_mm, self.outer_mm, half, self.layers);
            Point3::new(radius * p.x, radius * p.y, p.z)
        });
        let lower = self.around as u32;
        let surfaces = BTreeMap::from([
            (surface::ROOT.to_owned(), swept.level(0, false)),
            (surface::SOCKET_WALL.to_owned(), swept.level(self.layers, false)),
            (LOWER_END.to_owned(), swept.side(0..self.layers, |edge| edge[0] < lower)),
            (UPPER_END.to_owned(), swept.side(0..self.layers, |edge| edge[0] >= lower)),
        ]);
        all_ligament(nodes, swept.cells, surfaces)
    }
}

/// A layer between two concentric spheres.
///
/// Surfaces: `root` (inner), `socket_wall` (outer).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SphereShell {
    /// Inner radius, mm.
    pub inner_mm: f64,
    /// Outer radius, mm.
    pub outer_mm: f64,
    /// Each face of an icosahedron is divided into the square of this many triangles.
    pub divisions: usize,
    /// Elements through the thickness.
    pub layers: usize,
}

impl SphereShell {
    /// The mesh, all ligament, centred at the origin.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] or [`MeshError::Impossible`] for numbers that make no shell.
    pub fn mesh(&self) -> Result<TetMesh, MeshError> {
        check_length("sphere.inner_mm", self.inner_mm)?;
        check_wider("sphere.outer_mm", self.inner_mm, self.outer_mm)?;
        check_count("sphere.divisions", self.divisions, 1, 1000)?;
        check_count("sphere.layers", self.layers, 1, 100_000)?;
        check_size("sphere.divisions", &[40, self.divisions, self.divisions, 2 * self.layers + 1])?;
        let sheet = sphere::icosphere(self.divisions);
        let swept = Swept::new(&sheet, self.layers);
        let nodes = swept.positions(|p, half| p * mix(self.inner_mm, self.outer_mm, half, self.layers));
        let surfaces = BTreeMap::from([
            (surface::ROOT.to_owned(), swept.level(0, false)),
            (surface::SOCKET_WALL.to_owned(), swept.level(self.layers, false)),
        ]);
        all_ligament(nodes, swept.cells, surfaces)
    }
}

/// A disc bonded to two plates, from z = 0 to `thickness_mm`.
///
/// Surfaces: `socket_wall` (z = 0), `root` (the upper face, its triangles turned into the disc as those of a root
/// are), `ligament_crest` (the free rim).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BondedDisc {
    /// Radius, mm.
    pub radius_mm: f64,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Elements around, a multiple of six.
    pub around: usize,
    /// Rings of elements from the axis to the rim, more than `around / 6`.
    pub rings: usize,
    /// Elements through the thickness.
    pub layers: usize,
    /// How much finer the rings are near the rim: 0 (even) to 0.95.
    pub rim_grading: f64,
}

impl BondedDisc {
    /// The mesh, all ligament.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] or [`MeshError::Impossible`] for numbers that make no disc.
    pub fn mesh(&self) -> Result<TetMesh, MeshError> {
        check_length("disc.radius_mm", self.radius_mm)?;
        check_length("disc.thickness_mm", self.thickness_mm)?;
        check_count("disc.layers", self.layers, 1, 100_000)?;
        disc::check_rings(self.around, self.rings, self.rim_grading)?;
        check_size("disc.rings", &[2 * self.around, 2 * self.rings + 1, 2 * self.layers + 1])?;
        let rings = disc::Rings::new(self.around, self.rings, self.rim_grading);
        let sheet = rings.sheet();
        let swept = Swept::new(&sheet, self.layers);
        let nodes = swept.positions(|p, half| {
            let z = mix(0.0, self.thickness_mm, half, self.layers);
            Point3::new(self.radius_mm * p.x, self.radius_mm * p.y, z)
        });
        let surfaces = BTreeMap::from([
            (surface::SOCKET_WALL.to_owned(), swept.level(0, true)),
            (surface::ROOT.to_owned(), swept.level(self.layers, true)),
            (surface::LIGAMENT_CREST.to_owned(), swept.side(0..self.layers, |_| true)),
        ]);
        all_ligament(nodes, swept.cells, surfaces)
    }
}

/// Several meshes as one, each moved by its own shift (mm); surfaces of one name are joined. The bodies stay apart:
/// no nodes are merged.
///
/// # Errors
/// [`MeshError::OutOfRange`] for more nodes than a mesh can number.
pub fn side_by_side(parts: &[(&TetMesh, Vector3<f64>)]) -> Result<TetMesh, MeshError> {
    check_size("side_by_side", &[parts.iter().map(|(mesh, _)| mesh.nodes().len()).sum()])?;
    let mut nodes = Vec::new();
    let mut cells = Vec::new();
    let mut regions = Vec::new();
    let mut surfaces = BTreeMap::<String, Vec<[u32; 6]>>::new();
    for (mesh, shift) in parts {
        let first = nodes.len() as u32;
        nodes.extend(mesh.nodes().iter().map(|p| p + shift));
        cells.extend(mesh.cells().iter().map(|cell| cell.map(|n| first + n)));
        regions.extend_from_slice(mesh.regions());
        for name in mesh.surface_names() {
            let moved = mesh.surface(name).iter().map(|face| face.map(|n| first + n));
            surfaces.entry(name.to_owned()).or_default().extend(moved);
        }
    }
    TetMesh::new(nodes, cells, regions, surfaces)
}

/// A mesh whose nodes are moved by `map`, which must keep orientation; cells, regions and surfaces stay.
///
/// # Errors
/// [`MeshError::Inverted`] if the map turns an element over.
pub fn mapped(mesh: &TetMesh, map: impl Fn(Point3<f64>) -> Point3<f64>) -> Result<TetMesh, MeshError> {
    let nodes = mesh.nodes().iter().map(|&p| map(p)).collect();
    let surfaces = mesh.surface_names().map(|name| (name.to_owned(), mesh.surface(name).to_vec())).collect();
    TetMesh::new(nodes, mesh.cells().to_vec(), mesh.regions().to_vec(), surfaces)
}

fn all_ligament(
    nodes: Vec<Point3<f64>>,
    cells: Vec<[u32; 10]>,
    surfaces: BTreeMap<String, Vec<[u32; 6]>>,
) -> Result<TetMesh, MeshError> {
    let regions = vec![Region::Ligament; cells.len()];
    TetMesh::new(nodes, cells, regions, surfaces)
}

/// The value at a half-level of `layers` even layers.
fn mix(first: f64, last: f64, half: usize, layers: usize) -> f64 {
    first + (last - first) * half as f64 / (2 * layers) as f64
}

fn check_wider(key: &'static str, inner: f64, outer: f64) -> Result<(), MeshError> {
    check_length(key, outer)?;
    if outer > inner {
        return Ok(());
    }
    Err(MeshError::OutOfRange {
        key,
        value: outer,
        allowed: format!("must be larger than the inner radius {inner}"),
    })
}
