//! The pressed part of the root: how much of its surface is under pressure, and the mean pressure there.

use gomphosis_mesh_gen::triangle::{RULE, integrate, shape};
use gomphosis_mesh_gen::{TetMesh, surface};
use serde::Serialize;

/// The part of the root's surface in the socket where the hydrostatic pressure is positive (compression).
///
/// With the pressure `p` (minus a third of the trace of the stress) on the surface `A` of the root inside the socket:
/// `area = integral of [p > 0] dA`, `share = area / A`, `mean = integral of max(p, 0) dA / area`. Under a push about half
/// of the root is pressed. On a sphere in a bonded shell `p` is a cosine, so the mean of the pressed half is exactly half
/// the largest value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PressedPart {
    /// Area mean of the pressure over the pressed part, kPa; 0 where nothing is pressed.
    pub mean_kpa: f64,
    /// Its area, mm2.
    pub area_mm2: f64,
    /// Its share of the root's surface in the socket, 0 to 1.
    pub share: f64,
}

/// The root's surface as an area rule: for each curved triangle its nodes and the areas its points stand for.
#[derive(Debug, Clone)]
pub(super) struct RootArea {
    faces: Vec<([u32; 6], [f64; 6])>,
}

impl RootArea {
    /// The surface of a mesh; nodes are counted in the sorted list `root_nodes`.
    pub(super) fn new(mesh: &TetMesh, root_nodes: &[u32]) -> Self {
        let faces = mesh.surface(surface::ROOT).iter().map(|face| {
            let nodes = face.map(|node| mesh.nodes()[node as usize]);
            let mut areas = [0.0; 6];
            for (area, point) in areas.iter_mut().zip(integrate(&nodes)) {
                *area = point.weight;
            }
            let place = |node: &u32| root_nodes.binary_search(node).expect("a node of the root's surface");
            (face.each_ref().map(|node| place(node) as u32), areas)
        });
        Self { faces: faces.collect() }
    }

    /// The pressed part under nodal pressures, in the order of the list of nodes.
    pub(super) fn pressed(&self, pressure_kpa: &[f64]) -> PressedPart {
        let shapes = RULE.map(|(place, _)| shape(place));
        let (mut whole, mut pressed, mut sum) = (0.0, 0.0, 0.0);
        for (nodes, areas) in &self.faces {
            let values = nodes.map(|node| pressure_kpa[node as usize]);
            for (shape, area) in shapes.iter().zip(areas) {
                let pressure: f64 = shape.iter().zip(values).map(|(n, p)| n * p).sum();
                whole += area;
                if pressure > 0.0 {
                    pressed += area;
                    sum += area * pressure;
                }
            }
        }
        let mean_kpa = if pressed > 0.0 { sum / pressed } else { 0.0 };
        PressedPart { mean_kpa, area_mm2: pressed, share: pressed / whole }
    }
}
