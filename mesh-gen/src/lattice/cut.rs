//! Cuts the snapped lattice along the tooth's surface by a fixed table, and keeps tooth and bone.
//!
//! Cut nodes lie on lattice edges. Quadrilaterals left by a cut are split by the diagonal that starts at the
//! lattice node with the larger number, so that both cells at a face split it alike. Orientation is settled
//! in the parent's barycentric coordinates, with every cut at the middle of its edge, and never by the sign
//! of a volume.

use super::snap::Signs;
use super::tets::{Lattice, Place};
use super::{Body, LinearMesh, SHELL};
use crate::tooth::ToothSolid;

/// A corner of a piece: a corner of the parent, or the cut on the edge between two of them.
#[derive(Clone, Copy)]
enum Corner {
    Own(usize),
    Cut(usize, usize),
}

use Corner::{Cut, Own};

fn barycentric(c: Corner) -> [f64; 4] {
    let mut l = [0.0; 4];
    match c {
        Own(i) => l[i] = 1.0,
        Cut(i, j) => {
            l[i] = 0.5;
            l[j] = 0.5;
        }
    }
    l
}

/// Sign of the volume of a piece in the parent's own coordinates.
fn parity(piece: [Corner; 4]) -> f64 {
    let l = piece.map(barycentric);
    let d = |k: usize, axis: usize| l[k][axis + 1] - l[0][axis + 1];
    d(1, 0) * (d(2, 1) * d(3, 2) - d(2, 2) * d(3, 1)) - d(1, 1) * (d(2, 0) * d(3, 2) - d(2, 2) * d(3, 0))
        + d(1, 2) * (d(2, 0) * d(3, 1) - d(2, 1) * d(3, 0))
}

struct Cutter<'a> {
    lattice: &'a Lattice,
    signs: &'a Signs,
    solid: &'a ToothSolid,
    out: LinearMesh,
}

/// `near`: distance from the tooth within which nodes leave the planes of the cortical shell, mm.
pub(crate) fn cut(lattice: &Lattice, signs: &Signs, solid: &ToothSolid, near: f64) -> LinearMesh {
    let base = lattice.nodes.len();
    let mut nodes = lattice.nodes.clone();
    let mut masks = lattice.masks.clone();
    let mut on_surface: Vec<bool> = signs.sign.iter().map(|&s| s == 0).collect();
    for &([a, b], place) in &signs.cuts {
        nodes.push(place);
        masks.push(lattice.masks[a as usize] & lattice.masks[b as usize]);
        on_surface.push(true);
    }
    debug_assert_eq!(nodes.len(), base + signs.cuts.len());
    let mut cutter = Cutter {
        lattice,
        signs,
        solid,
        out: LinearMesh { nodes, masks, on_surface, tets: Vec::new(), bodies: Vec::new(), above: Vec::new() },
    };
    for i in 0..lattice.tets.len() {
        cutter.tet(i);
    }
    compact(cutter.out, solid, near)
}

impl Cutter<'_> {
    fn tet(&mut self, index: usize) {
        let t = self.lattice.tets[index];
        let place = self.lattice.places[index];
        let of =
            |wanted: i8| (0..4).filter(|&k| self.signs.sign[t[k] as usize] == wanted).collect::<Vec<_>>();
        // Larger node number first.
        let by_key = |mut v: Vec<usize>| {
            v.sort_unstable_by_key(|&k| std::cmp::Reverse(t[k]));
            v
        };
        let (neg, zero, pos) = (by_key(of(-1)), by_key(of(0)), by_key(of(1)));
        let whole = [Own(0), Own(1), Own(2), Own(3)];
        let (n, p, z) = (&neg, &pos, &zero);
        match (n.len(), z.len(), p.len()) {
            (0, 4, 0) => {
                let centroid =
                    t.iter().map(|&k| self.lattice.nodes[k as usize]).sum::<crate::tooth::V3>() / 4.0;
                self.emit(t, place, self.solid.value(&centroid) < 0.0, whole);
            }
            (_, _, 0) => self.emit(t, place, true, whole),
            (0, _, _) => self.emit(t, place, false, whole),
            (1, 2, 1) => {
                let c = Cut(n[0], p[0]);
                self.emit(t, place, true, [Own(n[0]), Own(z[0]), Own(z[1]), c]);
                self.emit(t, place, false, [Own(p[0]), Own(z[0]), Own(z[1]), c]);
            }
            (1, 1, 2) => self.one_and_two(t, place, true, n[0], z[0], [p[0], p[1]]),
            (2, 1, 1) => self.one_and_two(t, place, false, p[0], z[0], [n[0], n[1]]),
            (1, 0, 3) => self.one_and_three(t, place, true, n[0], [p[0], p[1], p[2]]),
            (3, 0, 1) => self.one_and_three(t, place, false, p[0], [n[0], n[1], n[2]]),
            _ => self.two_and_two(t, place, [n[0], n[1]], [p[0], p[1]]),
        }
    }

    fn one_and_two(
        &mut self,
        t: [u32; 4],
        place: Place,
        tooth: bool,
        lone: usize,
        z: usize,
        pair: [usize; 2],
    ) {
        let (c1, c2) = (Cut(lone, pair[0]), Cut(lone, pair[1]));
        self.emit(t, place, tooth, [Own(lone), c1, c2, Own(z)]);
        // pair[0] has the larger key: the diagonal of the trapezoid starts there.
        self.emit(t, place, !tooth, [Own(pair[0]), Own(pair[1]), c2, Own(z)]);
        self.emit(t, place, !tooth, [Own(pair[0]), c2, c1, Own(z)]);
    }

    fn one_and_three(&mut self, t: [u32; 4], place: Place, tooth: bool, lone: usize, a: [usize; 3]) {
        let b = a.map(|k| Cut(lone, k));
        self.emit(t, place, tooth, [Own(lone), b[0], b[1], b[2]]);
        self.emit(t, place, !tooth, [Own(a[0]), b[0], b[1], b[2]]);
        self.emit(t, place, !tooth, [Own(a[0]), Own(a[1]), b[1], b[2]]);
        self.emit(t, place, !tooth, [Own(a[0]), Own(a[1]), Own(a[2]), b[2]]);
    }

    fn two_and_two(&mut self, t: [u32; 4], place: Place, v: [usize; 2], p: [usize; 2]) {
        let c = |i: usize, j: usize| Cut(v[i], p[j]);
        // The quadrilateral on the surface is free: take its shorter diagonal.
        let d = |x: Corner, y: Corner| (self.position(t, x) - self.position(t, y)).norm();
        let quads = if d(c(0, 0), c(1, 1)) <= d(c(0, 1), c(1, 0)) {
            [[c(0, 0), c(0, 1), c(1, 1)], [c(0, 0), c(1, 1), c(1, 0)]]
        } else {
            [[c(0, 0), c(0, 1), c(1, 0)], [c(0, 1), c(1, 1), c(1, 0)]]
        };
        for [x, y, w] in quads {
            self.emit(t, place, true, [Own(v[0]), x, y, w]);
            self.emit(t, place, false, [Own(p[0]), x, y, w]);
        }
        self.emit(t, place, true, [Own(v[0]), Own(v[1]), c(1, 0), c(1, 1)]);
        self.emit(t, place, false, [Own(p[0]), Own(p[1]), c(0, 1), c(1, 1)]);
    }

    fn number(&self, t: [u32; 4], c: Corner) -> u32 {
        match c {
            Own(k) => t[k],
            Cut(i, j) => {
                let key = [t[i].min(t[j]), t[i].max(t[j])];
                let found = self.signs.cuts.binary_search_by(|probe| probe.0.cmp(&key));
                let at = found.expect("every edge with a sign change that was not snapped has its cut");
                (self.lattice.nodes.len() + at) as u32
            }
        }
    }

    fn position(&self, t: [u32; 4], c: Corner) -> crate::tooth::V3 {
        self.out.nodes[self.number(t, c) as usize]
    }

    fn emit(&mut self, t: [u32; 4], place: Place, tooth: bool, piece: [Corner; 4]) {
        let body = match (tooth, place) {
            (true, _) => Body::Tooth,
            (false, Place::AboveCrest) => return,
            (false, Place::Cancellous) => Body::Cancellous,
            (false, Place::Cortical) => Body::Cortical,
        };
        let mut numbers = piece.map(|c| self.number(t, c));
        if parity(piece) < 0.0 {
            numbers.swap(2, 3);
        }
        self.out.tets.push(numbers);
        self.out.bodies.push(body);
        self.out.above.push(place == Place::AboveCrest);
    }
}

/// Drops unused nodes, releases from the planes of the bone the nodes that no bone uses, and from those of the
/// cortical shell the nodes near the tooth.
fn compact(mesh: LinearMesh, solid: &ToothSolid, near: f64) -> LinearMesh {
    let mut in_bone = vec![false; mesh.nodes.len()];
    let mut number = vec![u32::MAX; mesh.nodes.len()];
    for (t, body) in mesh.tets.iter().zip(&mesh.bodies) {
        for &n in t {
            number[n as usize] = 0;
            in_bone[n as usize] |= body.is_bone();
        }
    }
    let mut out = LinearMesh {
        nodes: Vec::new(),
        masks: Vec::new(),
        on_surface: Vec::new(),
        tets: Vec::new(),
        bodies: mesh.bodies,
        above: mesh.above,
    };
    for (i, slot) in number.iter_mut().enumerate() {
        if *slot == u32::MAX {
            continue;
        }
        *slot = out.nodes.len() as u32;
        out.nodes.push(mesh.nodes[i]);
        let mut mask = if in_bone[i] { mesh.masks[i] } else { 0 };
        if mask >= SHELL && solid.value(&mesh.nodes[i]) > near {
            mask |= mask / SHELL;
        }
        out.masks.push(mask % SHELL);
        out.on_surface.push(mesh.on_surface[i]);
    }
    out.tets = mesh.tets.into_iter().map(|t| t.map(|n| number[n as usize])).collect();
    out
}
