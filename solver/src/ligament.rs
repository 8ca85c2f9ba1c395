//! Stress in the ligament under any load: hydrostatic pressure and largest shear, per element and on the
//! root surface.

use nalgebra::{Matrix3, Point3, SymmetricEigen};
use serde::Serialize;

use crate::model::UnitSolutions;
use crate::motion::Wrench;

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

    fn combine(units: [&Self; 6], weights: &[f64; 6]) -> Self {
        let mut sum = [0.0; 6];
        for (unit, weight) in units.into_iter().zip(weights) {
            for (s, v) in sum.iter_mut().zip(unit.0) {
                *s += v * weight;
            }
        }
        Self(sum)
    }
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

impl LigamentStress {
    /// Pressure and shear under a wrench, by superposition of the unit stresses.
    #[must_use]
    pub fn under(&self, solutions: &UnitSolutions, wrench: &Wrench) -> LigamentField {
        let weights = solutions.weights(wrench);
        let (cell_pressure_kpa, cell_shear_kpa) = combine(&self.unit_cells, &weights);
        let (root_pressure_kpa, root_shear_kpa) = combine(&self.unit_root, &weights);
        LigamentField {
            cell_extremes: extremes(&cell_pressure_kpa, &cell_shear_kpa, &self.centres),
            root_extremes: extremes(&root_pressure_kpa, &root_shear_kpa, &self.root_points),
            cell_pressure_kpa,
            cell_shear_kpa,
            root_pressure_kpa,
            root_shear_kpa,
        }
    }
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
