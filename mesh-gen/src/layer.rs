//! Opens the interface between tooth and bone and fills it with layers of ligament: every root node gets a
//! partner on the wall of the socket and nodes between, every interface triangle a stack of prisms, every
//! prism three tetrahedra.

use rayon::prelude::*;

use crate::error::MeshError;
use crate::lattice::LinearMesh;
use crate::mesh::FACES;
use crate::socket::Socket;
use crate::tooth::V3;

/// Interface between tooth and bone before it is opened.
pub(crate) struct Interface {
    /// Triangles, outward from the tooth.
    pub(crate) triangles: Vec<[u32; 3]>,
    /// Free triangles of the tooth above the crest, outward.
    pub(crate) crown: Vec<[u32; 3]>,
}

/// Faces of tooth elements that another tooth element does not share, told apart by what lies beyond.
pub(crate) fn interface(mesh: &LinearMesh) -> Interface {
    let mut faces = Vec::with_capacity(4 * mesh.tets.len());
    for (t, body) in mesh.tets.iter().zip(&mesh.bodies) {
        for local in FACES {
            let tri = [t[local[0]], t[local[1]], t[local[2]]];
            let mut key = tri;
            key.sort_unstable();
            faces.push((key, !body.is_bone(), tri));
        }
    }
    faces.par_sort_unstable();
    let mut out = Interface { triangles: Vec::new(), crown: Vec::new() };
    for group in faces.chunk_by(|a, b| a.0 == b.0) {
        match group {
            [(_, true, tri)] => out.crown.push(*tri),
            [(_, false, _), (_, true, tri)] | [(_, true, tri), (_, false, _)] => out.triangles.push(*tri),
            _ => {}
        }
    }
    out
}

fn root(parent: &mut [usize], mut i: usize) -> usize {
    while parent[i] != i {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    i
}

/// Number of pieces that share no face.
pub(crate) fn pieces<'a>(tets: impl Iterator<Item = &'a [u32; 4]>) -> usize {
    let mut faces = Vec::new();
    let mut count = 0;
    for t in tets {
        for local in FACES {
            let mut key = [t[local[0]], t[local[1]], t[local[2]]];
            key.sort_unstable();
            faces.push((key, count));
        }
        count += 1;
    }
    faces.par_sort_unstable();
    let mut parent: Vec<usize> = (0..count).collect();
    for pair in faces.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
        let (a, b) = (root(&mut parent, pair[0].1), root(&mut parent, pair[1].1));
        parent[b] = a;
    }
    (0..count).filter(|&i| parent[i] == i).count()
}

/// Checks that the interface is a set of discs, each bounded by one crest line.
///
/// # Errors
/// [`MeshError::UnderResolved`] if the roots or the gaps between them are finer than the elements.
pub(crate) fn check_discs(interface: &Interface) -> Result<usize, MeshError> {
    let fail = |detail: &str| Err(MeshError::UnderResolved { detail: format!("the root surface {detail}") });
    let mut edges: Vec<[u32; 2]> = Vec::new();
    let mut vertices = Vec::new();
    for t in &interface.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            edges.push([a.min(b), a.max(b)]);
            vertices.push(a);
        }
    }
    edges.sort_unstable();
    vertices.sort_unstable();
    vertices.dedup();
    let mut unique = 0usize;
    for group in edges.chunk_by(|a, b| a == b) {
        if group.len() > 2 {
            return fail("touches itself along an edge");
        }
        unique += 1;
    }
    // Components by union of vertices.
    let index = |v: u32| {
        vertices.binary_search(&v).expect("the vertices are those of all triangles of the interface")
    };
    let mut parent: Vec<usize> = (0..vertices.len()).collect();
    for t in &interface.triangles {
        let a = root(&mut parent, index(t[0]));
        for &v in &t[1..] {
            let b = root(&mut parent, index(v));
            parent[b] = a;
        }
    }
    let components = (0..parent.len()).filter(|&i| parent[i] == i).count();
    // One umbrella a vertex: the edges opposite to it form one chain.
    let mut opposite: Vec<(u32, u32, u32)> = Vec::new();
    for t in &interface.triangles {
        for k in 0..3 {
            opposite.push((t[k], t[(k + 1) % 3], t[(k + 2) % 3]));
        }
    }
    opposite.sort_unstable();
    for group in opposite.chunk_by(|a, b| a.0 == b.0) {
        let starts = group.iter().filter(|x| !group.iter().any(|y| y.2 == x.1)).count();
        let mut seen = 1;
        let mut at = group.iter().find(|x| !group.iter().any(|y| y.2 == x.1)).unwrap_or(&group[0]).2;
        while let Some(next) = group.iter().find(|x| x.1 == at) {
            if seen == group.len() {
                break;
            }
            at = next.2;
            seen += 1;
        }
        if starts > 1 || seen != group.len() {
            return fail("touches itself at a point");
        }
    }
    // Euler characteristic of a disc: vertices - edges + faces = 1.
    if vertices.len() + interface.triangles.len() != unique + components {
        return fail("is not a disc under the crest: a gap between roots closes");
    }
    Ok(components)
}

/// Columns of the ligament: for column c the root node, the nodes of the layers and the wall node.
pub(crate) struct Ligament {
    /// Node numbers from root (first) to wall (last), layers + 1 a column.
    pub(crate) columns: Vec<Vec<u32>>,
    /// Interface triangles in column numbers, outward from the tooth.
    pub(crate) triangles: Vec<[u32; 3]>,
    /// Tetrahedra, in node numbers.
    pub(crate) tets: Vec<[u32; 4]>,
    /// Column and level of each ligament tetrahedron's corners are recovered from these: (column, level) of
    /// every node, or none.
    pub(crate) place: Vec<Option<(u32, u32)>>,
}

/// Opens the interface. Adds the wall and layer nodes to `mesh`, gives bone elements the wall nodes, moves
/// the bone's inner nodes along, and returns the ligament.
pub(crate) fn insert(mesh: &mut LinearMesh, interface: &Interface, socket: &Socket, layers: u32) -> Ligament {
    let mut roots: Vec<u32> = interface.triangles.iter().flatten().copied().collect();
    roots.sort_unstable();
    roots.dedup();
    let before = mesh.nodes.len();
    let walls: Vec<V3> = roots.par_iter().map(|&r| socket.wall(&mesh.nodes[r as usize])).collect();
    let mut wall_of = vec![u32::MAX; before];
    let mut columns = Vec::with_capacity(roots.len());
    for (&r, w) in roots.iter().zip(&walls) {
        let p = mesh.nodes[r as usize];
        let mut column = vec![r];
        for k in 1..=layers {
            column.push(mesh.nodes.len() as u32);
            mesh.nodes.push(p + (w - p) * (f64::from(k) / f64::from(layers)));
            mesh.masks.push(mesh.masks[r as usize]);
            mesh.on_surface.push(false);
        }
        wall_of[r as usize] = *column.last().expect("a column holds its root node");
        columns.push(column);
    }
    let column_of =
        |n: u32| roots.binary_search(&n).expect("the roots are the nodes of all triangles") as u32;
    let triangles: Vec<[u32; 3]> = interface.triangles.iter().map(|t| t.map(column_of)).collect();
    let mut tets = Vec::with_capacity(triangles.len() * 3 * layers as usize);
    for t in &triangles {
        for level in 0..layers as usize {
            prism(t, level, &columns, &mut tets);
        }
    }
    let mut place = vec![None; mesh.nodes.len()];
    for (c, column) in columns.iter().enumerate() {
        for (k, &n) in column.iter().enumerate() {
            place[n as usize] = Some((c as u32, k as u32));
        }
    }
    for (t, body) in mesh.tets.iter_mut().zip(&mesh.bodies) {
        if body.is_bone() {
            for n in t {
                if wall_of[*n as usize] != u32::MAX {
                    *n = wall_of[*n as usize];
                }
            }
        }
    }
    follow(mesh, &roots, &walls, &wall_of, before);
    Ligament { columns, triangles, tets, place }
}

/// Three tetrahedra of the prism over a triangle between two levels, split by column number so that
/// neighbours agree (Dompierre et al. 1999, from memory). Positive if the triangle is outward from the tooth.
fn prism(t: &[u32; 3], level: usize, columns: &[Vec<u32>], out: &mut Vec<[u32; 4]>) {
    // Rotate so that the smallest column comes first; this keeps the orientation.
    let s = (0..3).min_by_key(|&k| t[k]).expect("a triangle has three corners");
    let [a, b, c] = [0, 1, 2].map(|k| t[(s + k) % 3] as usize);
    let low = |i: usize| columns[i][level];
    let high = |i: usize| columns[i][level + 1];
    if b < c {
        out.push([low(a), low(b), low(c), high(c)]);
        out.push([low(a), low(b), high(c), high(b)]);
    } else {
        out.push([low(a), low(b), low(c), high(b)]);
        out.push([low(a), high(b), low(c), high(c)]);
    }
    out.push([low(a), high(b), high(c), high(a)]);
}

/// Lets the bone's nodes follow the wall: a graph Laplacian weighted by 1/length^2, with the wall's
/// displacement given and no motion across the planes of the block.
fn follow(mesh: &mut LinearMesh, roots: &[u32], walls: &[V3], wall_of: &[u32], before: usize) {
    let mut displacement = vec![V3::zeros(); mesh.nodes.len()];
    let mut given = vec![false; mesh.nodes.len()];
    let mut rest = mesh.nodes.clone();
    for (&r, w) in roots.iter().zip(walls) {
        let n = wall_of[r as usize] as usize;
        displacement[n] = w - mesh.nodes[r as usize];
        rest[n] = mesh.nodes[r as usize];
        given[n] = true;
    }
    let mut edges: Vec<[u32; 2]> = Vec::new();
    for (t, body) in mesh.tets.iter().zip(&mesh.bodies) {
        if body.is_bone() {
            for [a, b] in crate::mesh::EDGES {
                edges.push([t[a], t[b]]);
                edges.push([t[b], t[a]]);
            }
        }
    }
    edges.par_sort_unstable();
    edges.dedup();
    let stars: Vec<&[[u32; 2]]> = edges.chunk_by(|a, b| a[0] == b[0]).collect();
    for round in 0..40 {
        let relax = |star: &&[[u32; 2]], displacement: &mut Vec<V3>| {
            let v = star[0][0] as usize;
            if given[v] {
                return;
            }
            let mut sum = V3::zeros();
            let mut total = 0.0;
            for e in *star {
                let u = e[1] as usize;
                let weight = 1.0 / (rest[u] - rest[v]).norm_squared().max(1e-6);
                sum += displacement[u] * weight;
                total += weight;
            }
            let mut d = sum / total;
            for (axis, fixed) in crate::lattice::fixed_axes(mesh.masks[v]).into_iter().enumerate() {
                if fixed {
                    d[axis] = 0.0;
                }
            }
            displacement[v] = d;
        };
        if round % 2 == 0 {
            for star in &stars {
                relax(star, &mut displacement);
            }
        } else {
            for star in stars.iter().rev() {
                relax(star, &mut displacement);
            }
        }
    }
    for v in 0..before {
        if !given[v] && wall_of[v] == u32::MAX {
            mesh.nodes[v] += displacement[v];
        }
    }
}
