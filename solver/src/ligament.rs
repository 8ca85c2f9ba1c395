//! Stress in the ligament under any load: hydrostatic pressure and largest shear, per element and on the
//! root surface.

mod pressed;

use gomphosis_mesh_gen::{Region, TetMesh, surface};
use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};
use rayon::prelude::*;
use serde::Serialize;

use crate::assembly::Elements;
use crate::element::{NODES, Quadrature};
use crate::error::SolverError;
use crate::model::UnitSolutions;
use crate::motion::Wrench;
use crate::problem::ToothProblem;
use crate::strain::UnitStrain;
pub use pressed::PressedPart;
use pressed::RootArea;

/// A stress tensor `[xx, yy, zz, xy, yz, zx]`, MPa, tension positive.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Stress(pub [f64; 6]);

impl Stress {
    /// Mean stress with compression positive: `-(xx + yy + zz) / 3`, MPa.
    #[must_use]
    pub fn pressure(&self) -> f64 {
        -(self.0[0] + self.0[1] + self.0[2]) / 3.0
    }

    /// Largest shear stress: half the difference of the largest and smallest principal stresses, MPa.
    #[must_use]
    pub fn largest_shear(&self) -> f64 {
        let [xx, yy, zz, xy, yz, zx] = self.0;
        let e = SymmetricEigen::new(Matrix3::new(xx, xy, zx, xy, yy, yz, zx, yz, zz)).eigenvalues;
        0.5 * (e.max() - e.min())
    }

    /// Stress for a displacement gradient `h_ij = du_i / dx_j`: `lambda tr(e) I + 2 mu e`.
    #[must_use]
    pub fn from_gradient(h: &Matrix3<f64>, (lambda, mu): (f64, f64)) -> Self {
        let volume = lambda * h.trace();
        Self([
            volume + 2.0 * mu * h.m11,
            volume + 2.0 * mu * h.m22,
            volume + 2.0 * mu * h.m33,
            mu * (h.m12 + h.m21),
            mu * (h.m23 + h.m32),
            mu * (h.m13 + h.m31),
        ])
    }

    pub(crate) fn add(&mut self, other: &Self, weight: f64) {
        for (sum, value) in self.0.iter_mut().zip(other.0) {
            *sum += weight * value;
        }
    }

    fn combine(units: [&Self; 6], weights: &[f64; 6]) -> Self {
        let mut sum = Self::default();
        for (unit, weight) in units.into_iter().zip(weights) {
            sum.add(unit, *weight);
        }
        sum
    }
}

/// Largest principal strain at which the answer of a linear model counts as one: the strain
/// tensor of small displacements leaves out terms of the order of its square (limit: common practice, no source).
pub const LARGEST_LINEAR_STRAIN: f64 = 0.3;

/// The largest principal strain in size, elongation positive, and its place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StrainExtreme {
    /// The strain, without unit.
    pub strain: f64,
    /// The place, mm.
    pub at: Point3<f64>,
}

/// Stress of the ligament under each of the six unit loads.
#[derive(Debug, Clone)]
pub struct LigamentStress {
    /// Numbers of the ligament's elements in the mesh.
    pub cells: Vec<u32>,
    /// Their centroids, mm.
    pub centres: Vec<Point3<f64>>,
    /// Mean stress of each element for each unit load.
    pub unit_cells: [Vec<Stress>; 6],
    /// Numbers of the nodes on the root surface, growing.
    pub root_nodes: Vec<u32>,
    /// Their positions, mm.
    pub root_points: Vec<Point3<f64>>,
    /// Recovered stress at these nodes for each unit load: element fields carried to the node, averaged by
    /// volume.
    pub unit_root: [Vec<Stress>; 6],
    root_area: RootArea,
    /// Lamé constants of the ligament, MPa.
    lame: (f64, f64),
    /// Height of the places, one thickness of the ligament below the crest, above which the singular edge of the crest rules
    /// the strain, mm.
    pub edge_z: f64,
}

/// Pressure (compression positive) and largest shear of the ligament under one load, kPa.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LigamentField {
    /// One value an element, in the order of [`LigamentStress::cells`].
    pub cell_pressure_kpa: Vec<f64>,
    /// One value an element.
    pub cell_shear_kpa: Vec<f64>,
    /// One value a node of the root surface, in the order of [`LigamentStress::root_nodes`].
    pub root_pressure_kpa: Vec<f64>,
    /// One value a node of the root surface.
    pub root_shear_kpa: Vec<f64>,
    /// Extremes over the elements.
    pub cell_extremes: StressExtremes,
    /// Extremes over the nodes of the root surface.
    pub root_extremes: StressExtremes,
    /// Mean pressure over the pressed part of the root surface.
    pub root_pressed: PressedPart,
}

/// Where a value is largest or smallest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Extreme {
    /// The value, kPa.
    pub kpa: f64,
    /// The place, mm.
    pub at: Point3<f64>,
}

/// Extremes of pressure and shear.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StressExtremes {
    /// Largest pressure (compression).
    pub compression: Extreme,
    /// Smallest pressure (tension, negative).
    pub tension: Extreme,
    /// Largest shear.
    pub shear: Extreme,
}

/// What one element contributes.
pub(crate) struct CellStress {
    pub(crate) volume: f64,
    centre: Point3<f64>,
    mean: [Stress; 6],
    /// Stress carried from the quadrature points to the ten nodes.
    pub(crate) at_nodes: [[Stress; NODES]; 6],
}

impl LigamentStress {
    /// Stress of the ligament under the six unit loads.
    ///
    /// The stress is taken at the four points of the rule of degree 2, where it is most exact, and carried to
    /// the nodes by the linear function through the four.
    ///
    /// # Errors
    /// [`SolverError::NoElements`] or [`SolverError::NoSurface`].
    pub fn new(problem: &ToothProblem, solutions: &UnitSolutions) -> Result<Self, SolverError> {
        let mesh = problem.mesh;
        let rule = Quadrature::gauss();
        let elements =
            Elements::new(mesh, &[Region::Ligament], &problem.materials, problem.formulation, rule);
        if elements.is_empty() {
            return Err(SolverError::NoElements { body: "ligament" });
        }
        let mut root_nodes: Vec<u32> = mesh.surface(surface::ROOT).iter().flatten().copied().collect();
        if root_nodes.is_empty() {
            return Err(SolverError::NoSurface { name: surface::ROOT });
        }
        root_nodes.sort_unstable();
        root_nodes.dedup();
        let parts = cell_stresses(&elements, &solutions.motions);

        let mut weights = vec![0.0; root_nodes.len()];
        let mut unit_root: [Vec<Stress>; 6] =
            std::array::from_fn(|_| vec![Stress::default(); root_nodes.len()]);
        for (k, part) in parts.iter().enumerate() {
            for (local, node) in elements.nodes(k).iter().enumerate() {
                let Ok(at) = root_nodes.binary_search(node) else { continue };
                weights[at] += part.volume;
                for (sums, values) in unit_root.iter_mut().zip(&part.at_nodes) {
                    sums[at].add(&values[local], part.volume);
                }
            }
        }
        for sums in &mut unit_root {
            for (sum, weight) in sums.iter_mut().zip(&weights) {
                sum.0.iter_mut().for_each(|v| *v /= weight);
            }
        }
        Ok(Self {
            cells: elements.cells().to_vec(),
            centres: parts.iter().map(|p| p.centre).collect(),
            unit_cells: std::array::from_fn(|load| parts.iter().map(|p| p.mean[load]).collect()),
            root_points: root_nodes.iter().map(|&n| mesh.nodes()[n as usize]).collect(),
            root_area: RootArea::new(mesh, &root_nodes),
            root_nodes,
            unit_root,
            lame: elements.lame(0),
            edge_z: edge_height(mesh),
        })
    }

    /// Pressure and shear under a wrench, by superposition of the unit stresses.
    #[must_use]
    pub fn under(&self, solutions: &UnitSolutions, wrench: &Wrench) -> LigamentField {
        let weights = solutions.weights(wrench);
        let (cell_pressure_kpa, cell_shear_kpa) = combine(&self.unit_cells, &weights);
        let (root_pressure_kpa, root_shear_kpa) = combine(&self.unit_root, &weights);
        LigamentField {
            cell_extremes: extremes(&cell_pressure_kpa, &cell_shear_kpa, &self.centres),
            root_extremes: extremes(&root_pressure_kpa, &root_shear_kpa, &self.root_points),
            root_pressed: self.root_area.pressed(&root_pressure_kpa),
            cell_pressure_kpa,
            cell_shear_kpa,
            root_pressure_kpa,
            root_shear_kpa,
        }
    }
}

impl LigamentStress {
    /// Extremes and the pressed part of the root surface under the weights of the six unit loads: those of
    /// [`LigamentStress::under`], without the fields. The largest shear lies between `sqrt(3 J2) / 2` and `sqrt(J2)`
    /// (J2: second invariant of the deviator), so that few nodes need principal stresses.
    #[must_use]
    pub fn on_the_root(&self, weights: &[f64; 6]) -> (StressExtremes, PressedPart) {
        let stress = self.on_root(weights);
        let at = |k: usize, mpa: f64| Extreme { kpa: 1e3 * mpa, at: self.root_points[k] };
        let (mut most, mut least) = ((0, f64::NEG_INFINITY), (0, f64::INFINITY));
        let mut invariants = Vec::with_capacity(self.root_points.len());
        let mut pressures = Vec::with_capacity(self.root_points.len());
        for k in 0..self.root_points.len() {
            let s = stress(k);
            let pressure = s.pressure();
            pressures.push(1e3 * pressure);
            if pressure > most.1 {
                most = (k, pressure);
            }
            if pressure < least.1 {
                least = (k, pressure);
            }
            let [xx, yy, zz, xy, yz, zx] = s.0;
            let squares = (xx - yy).powi(2) + (yy - zz).powi(2) + (zz - xx).powi(2);
            invariants.push(squares / 6.0 + xy * xy + yz * yz + zx * zx);
        }
        let largest = invariants.iter().copied().fold(0.0, f64::max);
        let mut shear = (0, f64::NEG_INFINITY);
        for (k, j2) in invariants.iter().enumerate() {
            // A little less than three quarters, for the rounding.
            if *j2 >= 0.7499 * largest {
                let found = stress(k).largest_shear();
                if found > shear.1 {
                    shear = (k, found);
                }
            }
        }
        let extremes = StressExtremes {
            compression: at(most.0, most.1),
            tension: at(least.0, least.1),
            shear: at(shear.0, shear.1),
        };
        (extremes, self.root_area.pressed(&pressures))
    }
}

impl LigamentStress {
    /// Stress at the nodes of the root surface under the weights of the six unit loads.
    fn on_root(&self, weights: &[f64; 6]) -> impl Fn(usize) -> Stress {
        let loads: Vec<(usize, f64)> =
            weights.iter().copied().enumerate().filter(|(_, weight)| *weight != 0.0).collect();
        move |k| {
            let mut sum = Stress::default();
            for &(load, weight) in &loads {
                sum.add(&self.unit_root[load][k], weight);
            }
            sum
        }
    }

    /// The principal strain of largest size over the nodes of the root surface under the weights of the six unit loads,
    /// from the recovered stress: `e = dev s / 2 mu + tr s / 9 K`. Nodes above [`LigamentStress::edge_z`] are left out: at the
    /// singular edge of the crest the strain has no bound, and grows with finer elements.
    ///
    /// The size of the deviator's largest principal value lies between `sqrt(J2)` and `2 sqrt(J2 / 3)`, so that few nodes
    /// need principal values.
    #[must_use]
    pub fn largest_strain(&self, weights: &[f64; 6]) -> StrainExtreme {
        let (lambda, mu) = self.lame;
        let bulk = lambda + 2.0 * mu / 3.0;
        let stress = self.on_root(weights);
        let parts: Vec<(f64, f64)> = (0..self.root_points.len())
            .map(|k| {
                let [xx, yy, zz, xy, yz, zx] = stress(k).0;
                let squares = (xx - yy).powi(2) + (yy - zz).powi(2) + (zz - xx).powi(2);
                let j2: f64 = squares / 6.0 + xy * xy + yz * yz + zx * zx;
                (j2.sqrt() / (2.0 * mu), (xx + yy + zz) / (9.0 * bulk))
            })
            .collect();
        let counts = |k: usize| self.root_points[k].z <= self.edge_z;
        let surely = parts
            .iter()
            .enumerate()
            .filter(|(k, _)| counts(*k))
            .map(|(_, (shear, volume))| shear - volume.abs())
            .fold(0.0, f64::max);
        let mut largest = StrainExtreme { strain: 0.0, at: Point3::origin() };
        for (k, (shear, volume)) in parts.iter().enumerate() {
            if !counts(k) || 1.1548 * shear + volume.abs() < surely * (1.0 - 1e-9) {
                continue;
            }
            let [xx, yy, zz, xy, yz, zx] = stress(k).0;
            let mean = (xx + yy + zz) / 3.0;
            let deviator = Matrix3::new(xx - mean, xy, zx, xy, yy - mean, yz, zx, yz, zz - mean);
            for value in SymmetricEigen::new(deviator).eigenvalues.iter() {
                let strain = value / (2.0 * mu) + volume;
                if strain.abs() > largest.strain.abs() {
                    largest = StrainExtreme { strain, at: self.root_points[k] };
                }
            }
        }
        largest
    }
}

/// One thickness of the layer below the highest place of the root's surface, mm. Faces of root and wall correspond.
fn edge_height(mesh: &TetMesh) -> f64 {
    let node = |n: u32| mesh.nodes()[n as usize];
    let (root, wall) = (mesh.surface(surface::ROOT), mesh.surface(surface::SOCKET_WALL));
    let top = root.iter().flatten().map(|&n| node(n).z).fold(f64::NEG_INFINITY, f64::max);
    let thickness: f64 = root.iter().zip(wall).map(|(r, w)| (node(r[0]) - node(w[0])).norm()).sum();
    top - thickness / root.len().min(wall.len()).max(1) as f64
}

/// Stress of all elements under the six unit loads, in their order.
pub(crate) fn cell_stresses(elements: &Elements, motions: &[Vec<Vector3<f64>>; 6]) -> Vec<CellStress> {
    elements
        .units()
        .par_iter()
        .flat_map_iter(|unit| {
            let strain = UnitStrain::new(elements, unit, motions);
            strain.cells().map(|k| cell_stress(elements, k, &strain)).collect::<Vec<_>>()
        })
        .collect()
}

/// Stress of one element.
fn cell_stress(elements: &Elements, k: usize, strain: &UnitStrain) -> CellStress {
    let mut part = CellStress {
        volume: 0.0,
        centre: strain.place(k, [0.25; 4]),
        mean: [Stress::default(); 6],
        at_nodes: [[Stress::default(); NODES]; 6],
    };
    for (corner, point) in elements.rule().points().enumerate() {
        let (gradients, determinant) = strain.at(k, point.barycentric);
        let weight = point.weight * determinant;
        part.volume += weight;
        for (load, h) in gradients.iter().enumerate() {
            let stress = Stress::from_gradient(h, elements.lame(k));
            part.mean[load].add(&stress, weight);
            for (local, sum) in part.at_nodes[load].iter_mut().enumerate() {
                sum.add(&stress, Quadrature::gauss_to_node(corner, local));
            }
        }
    }
    for mean in &mut part.mean {
        mean.0.iter_mut().for_each(|v| *v /= part.volume);
    }
    part
}

fn combine(units: &[Vec<Stress>; 6], weights: &[f64; 6]) -> (Vec<f64>, Vec<f64>) {
    (0..units[0].len())
        .map(|k| {
            let stress = Stress::combine(std::array::from_fn(|load| &units[load][k]), weights);
            (1e3 * stress.pressure(), 1e3 * stress.largest_shear())
        })
        .unzip()
}

fn extremes(pressure: &[f64], shear: &[f64], places: &[Point3<f64>]) -> StressExtremes {
    let pick = |values: &[f64], better: fn(f64, f64) -> bool| {
        let mut best = Extreme { kpa: 0.0, at: Point3::origin() };
        for (k, (&kpa, &at)) in values.iter().zip(places).enumerate() {
            if k == 0 || better(kpa, best.kpa) {
                best = Extreme { kpa, at };
            }
        }
        best
    };
    StressExtremes {
        compression: pick(pressure, |a, b| a > b),
        tension: pick(pressure, |a, b| a < b),
        shear: pick(shear, |a, b| a > b),
    }
}

#[cfg(test)]
#[path = "ligament/tests.rs"]
mod tests;
