//! Moves nodes so that the worst tetrahedra around them become better: local descent on the mean of
//! `eta^3`, eta = (sum of squared edges) / (12 (3 V)^(2/3)), which is 1 for a regular tetrahedron and
//! infinite for a flat one (the inverse mean ratio; Knupp 2001, from memory). Where a star holds a nearly
//! flat or reversed element the volume is regularised (Escobar et al. 2003, from memory). Surface nodes
//! slide on the tooth, and their rings of surface triangles enter the same sum.

use rayon::prelude::*;

use crate::lattice::fixed_axes;
use crate::lattice::snap::stars;
use crate::tooth::{ToothSolid, V3};

/// How a node may move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Freedom {
    Fixed,
    /// Anywhere, but for the axes of the mask.
    Free(u8),
    /// On the tooth's surface, but for the axes of the mask.
    Surface(u8),
}

/// Stars whose mean `eta^3` is below this are left alone.
const GOOD_ENOUGH: f64 = 1.35;

/// Share of the mean volume below which an element counts as flat.
const FLAT: f64 = 0.02;

/// The connectivity that a descent needs.
pub(crate) struct Smoother<'a> {
    solid: &'a ToothSolid,
    tets: &'a [[u32; 4]],
    start: Vec<usize>,
    star: Vec<u32>,
    triangles: &'a [[u32; 3]],
    ring_start: Vec<usize>,
    ring: Vec<u32>,
    freedom: &'a [Freedom],
    /// Nodes that may move, level by level: those of one level share no element, and every node comes after its
    /// neighbours of smaller number.
    levels: Vec<Vec<u32>>,
}

/// Nodes of a level that one thread takes at least.
const SHARE: usize = 8;

/// What a node sees from where it is: the opposite face of each tetrahedron, and the other corners of each surface
/// triangle.
#[derive(Default)]
struct View {
    faces: Vec<Opposite>,
    edges: Vec<[V3; 2]>,
}

/// A tetrahedron as a function of the step `y` of one corner.
struct Opposite {
    /// Six volumes at the start, and their loss with y: twice the area vector of the face.
    volume: f64,
    area: V3,
    /// Sum of the squared edges at the start, and minus half of its loss with y.
    squares: f64,
    middle: V3,
}

impl Opposite {
    fn new(x: &V3, face: [V3; 3]) -> Self {
        let [a, b, c] = face.map(|f| f - x);
        let area = (b - a).cross(&(c - a));
        let squares = a.norm_squared()
            + b.norm_squared()
            + c.norm_squared()
            + (a - b).norm_squared()
            + (b - c).norm_squared()
            + (c - a).norm_squared();
        Self { volume: a.dot(&area), area, squares, middle: a + b + c }
    }

    fn volume6(&self, y: &V3) -> f64 {
        self.volume - y.dot(&self.area)
    }

    fn squares(&self, y: &V3) -> f64 {
        self.squares + 3.0 * y.norm_squared() - 2.0 * y.dot(&self.middle)
    }
}

/// Even permutations that bring corner i to the front.
const FRONT: [[usize; 4]; 4] = [[0, 1, 2, 3], [1, 0, 3, 2], [2, 3, 0, 1], [3, 2, 1, 0]];

impl<'a> Smoother<'a> {
    /// `triangles`: outward triangles of the tooth's surface for [`Freedom::Surface`] nodes.
    pub(crate) fn new(
        solid: &'a ToothSolid,
        freedom: &'a [Freedom],
        tets: &'a [[u32; 4]],
        triangles: &'a [[u32; 3]],
    ) -> Self {
        let nodes = freedom.len();
        let (start, star) = stars(nodes, tets);
        let levels = levels(freedom, tets, (&start, &star));
        let mut ring_start = vec![0usize; nodes + 1];
        for t in triangles {
            for &n in t {
                ring_start[n as usize + 1] += 1;
            }
        }
        for i in 0..nodes {
            ring_start[i + 1] += ring_start[i];
        }
        let mut next = ring_start.clone();
        let mut ring = vec![0u32; 3 * triangles.len()];
        for (i, t) in triangles.iter().enumerate() {
            for &n in t {
                ring[next[n as usize]] = i as u32;
                next[n as usize] += 1;
            }
        }
        Self { solid, tets, start, star, triangles, ring_start, ring, freedom, levels }
    }

    fn look(&self, nodes: &[V3], v: usize, with_ring: bool, view: &mut View) {
        view.faces.clear();
        view.edges.clear();
        for &t in self.star_of(v) {
            let tet = self.tets[t as usize];
            let i = tet.iter().position(|&n| n as usize == v).expect("a star holds its node");
            let order = FRONT[i];
            view.faces.push(Opposite::new(&nodes[v], [1, 2, 3].map(|k| nodes[tet[order[k]] as usize])));
        }
        if with_ring {
            for &t in &self.ring[self.ring_start[v]..self.ring_start[v + 1]] {
                let tri = self.triangles[t as usize];
                let i = tri.iter().position(|&n| n as usize == v).expect("a ring holds its node");
                view.edges.push([nodes[tri[(i + 1) % 3] as usize], nodes[tri[(i + 2) % 3] as usize]]);
            }
        }
    }

    /// Up to `sweeps` sweeps over all nodes, each as if in the order of their numbers. A node around which nothing has
    /// moved since it was last looked at would stay, and is left out.
    pub(crate) fn improve(&self, nodes: &mut [V3], sweeps: usize) {
        let mut stirred = vec![true; nodes.len()];
        for _ in 0..sweeps {
            let mut moved = 0;
            for level in &self.levels {
                let active: Vec<u32> = level.iter().copied().filter(|&v| stirred[v as usize]).collect();
                let places: Vec<Option<V3>> = active
                    .par_iter()
                    .with_min_len(SHARE)
                    .map_init(View::default, |view, &v| self.better(nodes, v as usize, view))
                    .collect();
                for (&v, place) in active.iter().zip(places) {
                    stirred[v as usize] = false;
                    let Some(x) = place else { continue };
                    nodes[v as usize] = x;
                    moved += 1;
                    for &t in self.star_of(v as usize) {
                        for n in self.tets[t as usize] {
                            stirred[n as usize] = true;
                        }
                    }
                }
            }
            if moved == 0 {
                break;
            }
        }
    }

    fn star_of(&self, v: usize) -> &[u32] {
        &self.star[self.start[v]..self.start[v + 1]]
    }

    /// A better place for a node, if there is one.
    fn better(&self, nodes: &[V3], v: usize, view: &mut View) -> Option<V3> {
        let (mask, surface) = match self.freedom[v] {
            Freedom::Fixed => return None,
            Freedom::Free(mask) => (mask, false),
            Freedom::Surface(mask) => (mask, true),
        };
        self.look(nodes, v, surface, view);
        if view.faces.is_empty() {
            return None;
        }
        self.descend(nodes[v], view, fixed_axes(mask), surface)
    }

    fn descend(&self, x: V3, view: &View, fixed: [bool; 3], surface: bool) -> Option<V3> {
        let volumes = view.faces.iter().map(|f| f.volume);
        let mean = volumes.clone().map(f64::abs).sum::<f64>() / view.faces.len() as f64;
        let smallest = volumes.fold(f64::INFINITY, f64::min);
        let delta = if smallest < FLAT * mean { 0.2 * mean } else { 0.0 };
        let normal = if surface { self.solid.sample(&x).gradient.normalize() } else { V3::zeros() };
        let reversed = view.edges.iter().any(|e| area2(&x, e, &normal) <= 0.0);
        let (energy, mut gradient) = energy_and_gradient(&x, view, &normal, delta, reversed);
        let count = (view.faces.len() + view.edges.len()) as f64;
        if delta == 0.0 && !reversed && energy < GOOD_ENOUGH * count {
            return None;
        }
        if surface {
            gradient -= normal * gradient.dot(&normal);
        }
        for axis in 0..3 {
            if fixed[axis] {
                gradient[axis] = 0.0;
            }
        }
        let length = gradient.norm();
        if length < 1e-12 {
            return None;
        }
        let mut step = 0.4 * mean.cbrt();
        for _ in 0..7 {
            let mut trial = x - gradient * (step / length);
            let mut at = normal;
            if surface {
                trial = self.solid.project(&trial, fixed);
                at = self.solid.sample(&trial).gradient.normalize();
            }
            if energy_only((&x, &trial), view, &at, delta, reversed) < energy * (1.0 - 1e-6) {
                return Some(trial);
            }
            step *= 0.4;
        }
        None
    }
}

/// Levels of the nodes that may move: one more than the highest of their neighbours of smaller number.
fn levels(freedom: &[Freedom], tets: &[[u32; 4]], (start, star): (&[usize], &[u32])) -> Vec<Vec<u32>> {
    let mut level = vec![0_usize; freedom.len()];
    let mut levels: Vec<Vec<u32>> = Vec::new();
    for v in (0..freedom.len()).filter(|&v| freedom[v] != Freedom::Fixed) {
        let before = star[start[v]..start[v + 1]]
            .iter()
            .flat_map(|&t| tets[t as usize])
            .filter(|&n| (n as usize) < v && freedom[n as usize] != Freedom::Fixed)
            .map(|n| level[n as usize] + 1)
            .max();
        level[v] = before.unwrap_or(0);
        if level[v] == levels.len() {
            levels.push(Vec::new());
        }
        levels[level[v]].push(v as u32);
    }
    levels
}

fn area2(x: &V3, e: &[V3; 2], n: &V3) -> f64 {
    n.dot(&(e[0] - x).cross(&(e[1] - x)))
}

/// A positive measure and its derivative factor: the value itself, or regularised around zero.
fn regular(v: f64, delta: f64) -> (f64, f64) {
    if delta == 0.0 {
        return (v, 1.0);
    }
    let root = (v * v + delta * delta).sqrt();
    (0.5 * (v + root), 0.5 * (1.0 + v / root))
}

fn energy_only((start, x): (&V3, &V3), view: &View, n: &V3, delta: f64, reversed: bool) -> f64 {
    let y = x - start;
    let mut total = 0.0;
    for f in &view.faces {
        let (v, _) = regular(f.volume6(&y), delta);
        if v <= 0.0 {
            return f64::INFINITY;
        }
        let s = f.squares(&y);
        // eta^3 = S^3 / (12^3 (3 V)^2) with 3V = v/2.
        total += s * s * s / (432.0 * v * v);
    }
    for e in &view.edges {
        let (a, _) = regular(area2(x, e, n), if reversed { 0.2 * edge_squares(x, e) / 3.0 } else { 0.0 });
        if a <= 0.0 {
            return f64::INFINITY;
        }
        let eta = edge_squares(x, e) / (2.0 * 3f64.sqrt() * a);
        total += eta * eta * eta;
    }
    total
}

fn edge_squares(x: &V3, e: &[V3; 2]) -> f64 {
    (x - e[0]).norm_squared() + (x - e[1]).norm_squared() + (e[0] - e[1]).norm_squared()
}

fn energy_and_gradient(x: &V3, view: &View, n: &V3, delta: f64, reversed: bool) -> (f64, V3) {
    let mut total = 0.0;
    let mut gradient = V3::zeros();
    for f in &view.faces {
        let (v, factor) = regular(f.volume, delta);
        let s = f.squares;
        let ds = f.middle * -2.0;
        let dv = -f.area * factor;
        let term = s * s * s / (432.0 * v * v);
        total += term;
        gradient += (ds * (3.0 / s) - dv * (2.0 / v)) * term;
    }
    for e in &view.edges {
        let (a, factor) =
            regular(area2(x, e, n), if reversed { 0.2 * edge_squares(x, e) / 3.0 } else { 0.0 });
        let s = edge_squares(x, e);
        let eta = s / (2.0 * 3f64.sqrt() * a);
        let ds = (x * 2.0 - e[0] - e[1]) * 2.0;
        let da = -n.cross(&(e[0] - e[1])) * factor;
        let term = eta * eta * eta;
        total += term;
        gradient += (ds / s - da / a) * (3.0 * term);
    }
    (total, gradient)
}
