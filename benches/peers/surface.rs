//! The closed surface of the tooth as plain triangles, for a mesher of another kind.

use std::collections::HashMap;
use std::fs::File;
use std::io::{BufWriter, Error, Write};
use std::path::Path;

use gomphosis_mesh_gen::mesh::FACES;
use gomphosis_mesh_gen::{Region, TetMesh};

/// Writes the boundary of the tooth's elements in the Object File Format; gives the number of triangles.
pub(crate) fn write_tooth(mesh: &TetMesh, path: &Path) -> Result<usize, Error> {
    let mut owners: HashMap<[u32; 3], usize> = HashMap::new();
    let corners = |cell: &[u32; 10], face: &[usize; 6]| [cell[face[0]], cell[face[1]], cell[face[2]]];
    let tooth = || mesh.cells().iter().zip(mesh.regions()).filter(|(_, r)| **r == Region::Tooth);
    let sorted = |mut corners: [u32; 3]| {
        corners.sort_unstable();
        corners
    };
    for (cell, _) in tooth() {
        for face in &FACES {
            *owners.entry(sorted(corners(cell, face))).or_default() += 1;
        }
    }
    let triangles: Vec<[u32; 3]> = tooth()
        .flat_map(|(cell, _)| FACES.iter().map(move |face| corners(cell, face)))
        .filter(|triangle| owners[&sorted(*triangle)] == 1)
        .collect();
    let mut used: Vec<u32> = triangles.iter().flatten().copied().collect();
    used.sort_unstable();
    used.dedup();
    let mut out = BufWriter::new(File::create(path)?);
    writeln!(out, "OFF\n{} {} 0", used.len(), triangles.len())?;
    for &node in &used {
        let x = mesh.nodes()[node as usize];
        writeln!(out, "{} {} {}", x.x, x.y, x.z)?;
    }
    for triangle in &triangles {
        let [a, b, c] = triangle.map(|n| used.partition_point(|&u| u < n));
        writeln!(out, "3 {a} {b} {c}")?;
    }
    out.flush()?;
    Ok(triangles.len())
}
