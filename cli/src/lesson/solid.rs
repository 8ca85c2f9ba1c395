//! Surfaces for the view in space: root with the pressure of the six unit loads, crown, wall of the socket.

use std::collections::BTreeMap;

use gomphosis_mesh_gen::surface;
use serde::Serialize;

use super::Packed;
use crate::commands::Computed;

/// Surfaces that share one list of points.
#[derive(Debug, Serialize)]
pub(crate) struct Solid {
    /// Millimetres of one step of the coordinates.
    step_mm: f64,
    /// x, y, z of point after point in steps, 16 bits with a sign.
    points: Packed,
    /// How many of the points, the first ones, lie on the root.
    root_points: usize,
    /// Pressure of the six unit loads at these, kPa, point after point within each load, single precision.
    kpa: Packed,
    /// Bytes of the number of a point.
    index_bytes: usize,
    /// Triangles by their points, whole numbers without a sign.
    root: Packed,
    crown: Packed,
    socket: Packed,
}

/// The four flat triangles of a curved one on its own six nodes.
const QUARTERS: [[usize; 3]; 4] = [[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]];

impl Solid {
    /// Takes the surfaces of a computed case.
    pub(crate) fn new(done: &Computed, pressures: &[Vec<f64>; 6]) -> Self {
        let mesh = &done.tooth.mesh;
        let mut numbers: BTreeMap<u32, usize> =
            done.stress.root_nodes.iter().enumerate().map(|(k, &n)| (n, k)).collect();
        let mut points = done.stress.root_nodes.clone();
        let root_points = points.len();
        let mut triangles = |names: &[&str], parts: &[[usize; 3]]| {
            let mut found = Vec::new();
            for face in names.iter().flat_map(|name| mesh.surface(name)) {
                for corner in parts.iter().flatten().map(|&k| face[k]) {
                    let number = *numbers.entry(corner).or_insert_with(|| {
                        points.push(corner);
                        points.len() - 1
                    });
                    found.push(number);
                }
            }
            found
        };
        let root = triangles(&[surface::ROOT], &QUARTERS);
        let crown = triangles(&[surface::CROWN, surface::ATTACHMENT], &QUARTERS);
        let socket = triangles(&[surface::SOCKET_WALL], &[[0, 1, 2]]);
        let places: Vec<f64> =
            points.iter().flat_map(|&n| <[f64; 3]>::from(mesh.nodes()[n as usize].coords)).collect();
        let largest = places.iter().fold(1e-9_f64, |a, v| a.max(v.abs()));
        let step_mm = largest / f64::from(i16::MAX);
        let index_bytes = if u16::try_from(points.len()).is_ok() { 2 } else { 4 };
        let packed = |list: Vec<usize>| {
            Packed::bytes(
                list.into_iter().flat_map(|n| (n as u32).to_le_bytes().into_iter().take(index_bytes)),
            )
        };
        Self {
            step_mm,
            index_bytes,
            points: Packed::bytes(
                places.iter().flat_map(|v| ((v / step_mm).round() as i16).to_le_bytes()).collect::<Vec<_>>(),
            ),
            root_points,
            kpa: Packed::single(pressures.iter().flatten().copied()),
            root: packed(root),
            crown: packed(crown),
            socket: packed(socket),
        }
    }
}
