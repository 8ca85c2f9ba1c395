//! Whether the mesh of a tooth is what it claims to be, found out anew: nothing here uses the checks of the mesher.
//!
//! Checked: indices; det J sampled inside every element; each face shared by one or two elements that agree on its
//! mid-side nodes; the boundary of each body made of exactly the named surfaces; the outside closed; volumes below
//! the crest that fill the block to rounding.

use std::collections::{BTreeMap, BTreeSet};

use gomphosis_mesh_gen::{Region, ToothMesh, surface};
use nalgebra::{Matrix3, Point3, Vector3};

/// What an audit measured.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    /// Smallest det J over the mean one of its element, over all samples.
    pub smallest_jacobian: f64,
    /// Volume of the tooth against the one that the mesher's own quadrature of the exact shape gives.
    pub tooth_volume_error: f64,
    /// Volume below the crest against the box between its outer faces.
    pub block_volume_error: f64,
}

/// Corners of the four faces, outward, and the local mid-side nodes of their edges, from the VTK drawing of the
/// quadratic tetrahedron (File Formats for VTK, figure of cell type 24).
const FACES: [[usize; 6]; 4] =
    [[0, 2, 1, 6, 5, 4], [0, 1, 3, 4, 8, 7], [1, 2, 3, 5, 9, 8], [2, 0, 3, 6, 7, 9]];

/// Ends of the edges of nodes 4 to 9.
const EDGES: [[usize; 2]; 6] = [[0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]];

/// d position / d (r, s, t) of the quadratic tetrahedron `sum N_a x_a`, `N_i = l_i (2 l_i - 1)`, `N_ij = 4 l_i l_j`.
fn jacobian(nodes: &[Point3<f64>; 10], l: [f64; 4]) -> f64 {
    // d/d l_k at independent l; then d/dr = d/dl_1 - d/dl_0 and so on.
    let mut by_l = [Vector3::zeros(); 4];
    for k in 0..4 {
        by_l[k] += nodes[k].coords * (4.0 * l[k] - 1.0);
    }
    for (m, [i, j]) in EDGES.into_iter().enumerate() {
        by_l[i] += nodes[4 + m].coords * (4.0 * l[j]);
        by_l[j] += nodes[4 + m].coords * (4.0 * l[i]);
    }
    Matrix3::from_columns(&[by_l[1] - by_l[0], by_l[2] - by_l[0], by_l[3] - by_l[0]]).determinant()
}

/// Barycentric points: a grid of fifths, corners and edges included.
fn samples() -> Vec<[f64; 4]> {
    const N: i32 = 5;
    let mut points = Vec::new();
    for i in 0..=N {
        for j in 0..=N - i {
            for k in 0..=N - i - j {
                let n = f64::from(N);
                let (a, b, c) = (f64::from(i) / n, f64::from(j) / n, f64::from(k) / n);
                points.push([1.0 - a - b - c, a, b, c]);
            }
        }
    }
    points
}

/// Volume by the divergence theorem over the element's own four curved faces: `3 V = sum of x . n dA`.
fn volume(nodes: &[Point3<f64>; 10], origin: &Point3<f64>) -> f64 {
    FACES.iter().map(|face| flux(&face.map(|n| nodes[n] - origin), Vector3::dot)).sum::<f64>() / 3.0
}

/// Integral over a quadratic triangle of a function of the position and of `n dA`, bilinear in both: of degree 6 in
/// the parameters, so that the 12-point rule of Dunavant 1985 is exact.
fn flux(x: &[Vector3<f64>; 6], integrand: impl Fn(&Vector3<f64>, &Vector3<f64>) -> f64) -> f64 {
    const A: [(f64, f64); 2] =
        [(0.249_286_745_170_910, 0.116_786_275_726_379), (0.063_089_014_491_502, 0.050_844_906_370_207)];
    const B: (f64, f64, f64) = (0.310_352_451_033_785, 0.053_145_049_844_816, 0.082_851_075_618_374);
    let mut rule = Vec::with_capacity(12);
    for (a, w) in A {
        for l in [[a, a, 1.0 - 2.0 * a], [a, 1.0 - 2.0 * a, a], [1.0 - 2.0 * a, a, a]] {
            rule.push((l, w));
        }
    }
    let (p, q, w) = B;
    let r = 1.0 - p - q;
    for l in [[p, q, r], [p, r, q], [q, p, r], [q, r, p], [r, p, q], [r, q, p]] {
        rule.push((l, w));
    }
    let mut sum = 0.0;
    for (l, w) in rule {
        let mut position = Vector3::zeros();
        let mut by_l = [Vector3::zeros(); 3];
        for k in 0..3 {
            position += x[k] * (l[k] * (2.0 * l[k] - 1.0));
            by_l[k] += x[k] * (4.0 * l[k] - 1.0);
            let n = (k + 1) % 3;
            position += x[3 + k] * (4.0 * l[k] * l[n]);
            by_l[k] += x[3 + k] * (4.0 * l[n]);
            by_l[n] += x[3 + k] * (4.0 * l[k]);
        }
        sum += 0.5 * w * integrand(&position, &(by_l[1] - by_l[0]).cross(&(by_l[2] - by_l[0])));
    }
    sum
}

fn sorted<const N: usize>(mut numbers: [u32; N]) -> [u32; N] {
    numbers.sort_unstable();
    numbers
}

/// A face of an element: its six nodes and the element.
type Facing = ([u32; 6], usize);

/// Elements on either side of each face, faces told apart by their corners.
fn faces(cells: &[[u32; 10]]) -> BTreeMap<[u32; 3], Vec<Facing>> {
    let mut faces: BTreeMap<[u32; 3], Vec<Facing>> = BTreeMap::new();
    for (c, cell) in cells.iter().enumerate() {
        for local in FACES {
            let face = local.map(|n| cell[n]);
            faces.entry(sorted([face[0], face[1], face[2]])).or_default().push((face, c));
        }
    }
    faces
}

fn body(region: Region) -> u8 {
    match region {
        Region::Tooth => 0,
        Region::Ligament => 1,
        Region::CancellousBone | Region::CorticalBone => 2,
    }
}

/// Audits the mesh of a tooth in its socket.
///
/// # Errors
/// One sentence about the first thing that is wrong.
pub fn audit(made: &ToothMesh) -> Result<Measured, String> {
    let mesh = &made.mesh;
    let (nodes, cells) = (mesh.nodes(), mesh.cells());
    if nodes.iter().any(|p| !p.coords.iter().all(|x| x.is_finite())) {
        return Err("a node is nowhere".into());
    }
    let mut used = vec![false; nodes.len()];
    for &n in cells.iter().flatten() {
        *used.get_mut(n as usize).ok_or("a cell names a node that is not there")? = true;
    }
    if let Some(n) = used.iter().position(|used| !used) {
        return Err(format!("node {n} belongs to no element"));
    }
    let mut middle: BTreeMap<[u32; 2], u32> = BTreeMap::new();
    for cell in cells {
        for (m, [i, j]) in EDGES.into_iter().enumerate() {
            let key = sorted([cell[i], cell[j]]);
            if *middle.entry(key).or_insert(cell[4 + m]) != cell[4 + m] {
                return Err(format!("edge {key:?} has two mid-side nodes"));
            }
        }
    }
    let samples = samples();
    let mut smallest_jacobian = f64::INFINITY;
    let mut volumes = Vec::with_capacity(cells.len());
    for c in 0..cells.len() {
        let p = mesh.cell_nodes(c);
        let v = volume(&p, &p[0]);
        let least = samples.iter().map(|&l| jacobian(&p, l)).fold(f64::INFINITY, f64::min);
        if least.is_nan() || least <= 0.0 || v <= 0.0 {
            return Err(format!("element {c} ({:?}) has det J {least:e}, volume {v:e}", mesh.regions()[c]));
        }
        smallest_jacobian = smallest_jacobian.min(least / (6.0 * v));
        volumes.push(v);
    }
    let faces = faces(cells);
    for sides in faces.values() {
        match sides.as_slice() {
            [_] => {}
            [(a, _), (b, _)] => {
                // The other way round: b starts at one of a's corners and runs backwards.
                let turned =
                    [[0, 2, 1, 5, 4, 3], [1, 0, 2, 3, 5, 4], [2, 1, 0, 4, 3, 5]].map(|o| o.map(|k| b[k]));
                if !turned.contains(a) {
                    return Err(format!("two elements disagree on the face {a:?} {b:?}"));
                }
            }
            more => return Err(format!("{} elements share the face {:?}", more.len(), more[0].0)),
        }
    }
    boundaries(made, &faces)?;
    let tooth: f64 = of(made, Region::Tooth, &volumes);
    let exact = made
        .quality
        .regions
        .iter()
        .find_map(|q| q.exact_volume_mm3)
        .ok_or("no exact volume of the tooth is stated")?;
    Ok(Measured {
        smallest_jacobian,
        tooth_volume_error: tooth / exact - 1.0,
        block_volume_error: block(made, &volumes)?,
    })
}

fn of(made: &ToothMesh, region: Region, volumes: &[f64]) -> f64 {
    made.mesh.regions().iter().zip(volumes).filter(|(r, _)| **r == region).map(|(_, v)| v).sum()
}

/// Below the crest tooth, ligament and bone fill a box.
fn block(made: &ToothMesh, volumes: &[f64]) -> Result<f64, String> {
    let mesh = &made.mesh;
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = Vector3::repeat(f64::NEG_INFINITY);
    for (cell, region) in mesh.cells().iter().zip(mesh.regions()) {
        if body(*region) == 2 {
            for &n in cell {
                low = low.inf(&mesh.nodes()[n as usize].coords);
                high = high.sup(&mesh.nodes()[n as usize].coords);
            }
        }
    }
    if high.z.abs() > 1e-9 {
        return Err(format!("the bone reaches to {} mm above the crest", high.z));
    }
    // The root's rim lies in the plane of the crest, so the flux of (0, 0, z) through the root is the tooth's volume
    // below it.
    let root: f64 = mesh
        .surface(surface::ROOT)
        .iter()
        .map(|f| flux(&f.map(|n| mesh.nodes()[n as usize].coords), |x, n| x.z * n.z))
        .sum();
    let size = high - low;
    let filled: f64 =
        root + mesh.regions().iter().zip(volumes).filter(|(r, _)| body(**r) > 0).map(|(_, v)| v).sum::<f64>();
    Ok(filled / (size.x * size.y * size.z) - 1.0)
}

/// The faces of each body that it does not share with itself are the named surfaces, each face once.
fn boundaries(made: &ToothMesh, faces: &BTreeMap<[u32; 3], Vec<Facing>>) -> Result<(), String> {
    let mesh = &made.mesh;
    let named = |names: &[&str]| -> Result<BTreeSet<[u32; 3]>, String> {
        let mut all = BTreeSet::new();
        for name in names {
            if mesh.surface(name).is_empty() {
                return Err(format!("the surface {name} has no faces"));
            }
            for f in mesh.surface(name) {
                if !all.insert(sorted([f[0], f[1], f[2]])) {
                    return Err(format!("a face of {name} is named twice"));
                }
            }
        }
        Ok(all)
    };
    let bone = [
        surface::SOCKET_WALL,
        surface::FIXED,
        surface::BUCCAL_PLATE,
        surface::LINGUAL_PLATE,
        surface::BONE_CREST,
    ];
    let expected = [
        ("tooth", named(&[surface::ROOT, surface::CROWN])?),
        ("ligament", named(&[surface::ROOT, surface::SOCKET_WALL, surface::LIGAMENT_CREST])?),
        ("bone", named(&bone)?),
    ];
    for (number, (name, expected)) in (0_u8..).zip(&expected) {
        let mut found = BTreeSet::new();
        let mut edges: BTreeMap<[u32; 2], i32> = BTreeMap::new();
        for (key, sides) in faces {
            let mine = sides.iter().filter(|(_, c)| body(mesh.regions()[*c]) == number).collect::<Vec<_>>();
            if let [(face, _)] = mine.as_slice() {
                found.insert(*key);
                for k in 0..3 {
                    let (from, to) = (face[k], face[(k + 1) % 3]);
                    *edges.entry(sorted([from, to])).or_default() += if from < to { 1 } else { -1 };
                }
            }
        }
        if edges.values().any(|sum| *sum != 0) {
            return Err(format!("the boundary of the {name} is not closed"));
        }
        if found != *expected {
            let missing = found.difference(expected).count();
            let alien = expected.difference(&found).count();
            let first =
                found.symmetric_difference(expected).next().map(|f| f.map(|n| mesh.nodes()[n as usize]));
            return Err(format!(
                "{missing} faces of the {name} belong to no named surface, {alien} named ones are not its own; one at \
                 {first:?}"
            ));
        }
    }
    // Orientation: a named face is seen from outside by an element of the body it bounds.
    for (name, inside) in
        [(surface::ROOT, 0), (surface::CROWN, 0), (surface::SOCKET_WALL, 1), (surface::LIGAMENT_CREST, 1)]
            .into_iter()
            .chain(bone[1..].iter().map(|name| (*name, 2)))
    {
        for f in mesh.surface(name) {
            let sides = faces
                .get(&sorted([f[0], f[1], f[2]]))
                .ok_or_else(|| format!("a face of {name} is no element's"))?;
            let turns = [[0, 1, 2, 3, 4, 5], [1, 2, 0, 4, 5, 3], [2, 0, 1, 5, 3, 4]].map(|o| o.map(|k| f[k]));
            if !sides.iter().any(|(face, c)| body(mesh.regions()[*c]) == inside && turns.contains(face)) {
                return Err(format!("a face of {name} is turned the wrong way or has other mid-side nodes"));
            }
        }
    }
    let crown = named(&[surface::CROWN])?;
    let attachment = mesh.surface(surface::ATTACHMENT);
    if attachment.is_empty() || !attachment.iter().all(|f| crown.contains(&sorted([f[0], f[1], f[2]]))) {
        return Err("the attachment is not a part of the crown".into());
    }
    Ok(())
}
