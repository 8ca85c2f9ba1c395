//! What the crown of each kind of tooth looks like: its outlines from the side and from the front, and its cusps.
//!
//! Source of the shapes: Ash & Nelson, Wheeler's Dental Anatomy, Physiology and Occlusion, and Scheid & Weiss, Woelfel's
//! Dental Anatomy: which third holds the crests of curvature and the contacts, whether the incisal ridge stands to labial
//! or to lingual of the root's axis, which way the crown leans (statements looked up in teaching summaries of both books;
//! the numbers between are drawn by eye, from memory).

use super::crown::{Crown, Cusp, Outline, Ridges};
use crate::spec::{ToothInSocket, ToothKind};

/// Width of a crown at its base over that of the root, so that the fillet between the two makes no collar.
const INSIDE_ROOT: f64 = 0.88;

/// Most that the incisal ridges of a canine fall, over the crown's height.
const MOST_FALL: f64 = 0.35;

/// An outline from the cervix out to the crest of curvature and on to the occlusal end. `out`: (height fraction, share
/// of the way from the width of the cervix to the largest), the last one 1; `on`: (height fraction, share of the largest).
fn outline(cervix: f64, widest: f64, out: &[(f64, f64)], on: &[(f64, f64)]) -> Outline {
    let base = std::iter::once((0.0, INSIDE_ROOT * cervix));
    let rising = out.iter().map(|&(t, share)| (t, cervix + share * (widest - cervix)));
    let falling = on.iter().map(|&(t, share)| (t, share * widest));
    base.chain(rising).chain(falling).collect()
}

/// Half widths of a crown and of its cervix: across the arch and along it, mm.
struct Sizes {
    bl: f64,
    md: f64,
    bl_cervix: f64,
    md_cervix: f64,
    height: f64,
}

impl Sizes {
    fn across(&self, out: &[(f64, f64)], on: &[(f64, f64)]) -> Outline {
        outline(self.bl_cervix, self.bl, out, on)
    }

    fn along(&self, out: &[(f64, f64)], on: &[(f64, f64)]) -> Outline {
        outline(self.md_cervix, self.md, out, on)
    }
}

/// The crown of a kind of tooth with the sizes of a specification, on a junction at a height, mm.
pub(super) fn crown(spec: &ToothInSocket, kind: ToothKind, cej_z: f64) -> Crown {
    let (c, root) = (&spec.tooth.crown, &spec.tooth.root);
    let sizes = Sizes {
        bl: 0.5 * c.buccolingual_mm,
        md: 0.5 * c.mesiodistal_mm,
        bl_cervix: 0.5 * root.buccolingual_mm,
        md_cervix: 0.5 * root.mesiodistal_mm,
        height: c.height_mm,
    };
    let mut crown = match kind.position() {
        1 | 2 => incisor(&sizes, kind),
        3 => canine(&sizes, kind.is_upper()),
        4 | 5 => premolar(&sizes, kind),
        _ => molar(&sizes, kind.is_upper()),
    };
    crown.base_z = cej_z;
    crown
}

/// A crown between outlines, without cusps.
fn plain(
    sizes: &Sizes,
    [buccal, lingual, mesial, distal]: [Outline; 4],
    exponent: f64,
    edge_radius: f64,
) -> Crown {
    Crown {
        base_z: 0.0,
        height: sizes.height,
        buccal,
        lingual,
        mesial,
        distal,
        exponent,
        cusps: Vec::new(),
        ridges: Ridges::default(),
        edge_radius,
        overlap: 0.3,
    }
}

/// A chisel from the side, labially convex and lingually hollow above the cingulum; the edge stands a little labial of the
/// root's axis in upper, lingual of it in lower incisors. From the front widest near the edge: mesially in the incisal
/// third, distally a little lower and rounder; lower central incisors are alike on both sides.
fn incisor(sizes: &Sizes, kind: ToothKind) -> Crown {
    let central = kind.position() == 1;
    let (buccal, lingual) = if kind.is_upper() {
        (
            sizes.across(&[(0.2, 1.0)], &[(0.5, 0.84), (0.75, 0.58), (1.0, 0.29)]),
            sizes.across(&[(0.17, 1.0)], &[(0.36, 0.79), (0.55, 0.43), (0.75, 0.23), (1.0, 0.15)]),
        )
    } else {
        (
            sizes.across(&[(0.2, 1.0)], &[(0.5, 0.73), (0.75, 0.42), (1.0, 0.13)]),
            sizes.across(&[(0.18, 1.0)], &[(0.4, 0.77), (0.6, 0.53), (0.8, 0.42), (1.0, 0.36)]),
        )
    };
    let (mesial, distal) = match (kind.is_upper(), central) {
        (true, true) => (
            sizes.along(&[(0.3, 0.45), (0.85, 1.0)], &[(1.0, 0.96)]),
            sizes.along(&[(0.3, 0.55), (0.7, 1.0)], &[(0.9, 0.95), (1.0, 0.86)]),
        ),
        (true, false) => (
            sizes.along(&[(0.3, 0.45), (0.8, 1.0)], &[(1.0, 0.9)]),
            sizes.along(&[(0.3, 0.55), (0.62, 1.0)], &[(0.85, 0.91), (1.0, 0.76)]),
        ),
        (false, true) => {
            let side = || sizes.along(&[(0.3, 0.3), (0.65, 0.8), (0.9, 1.0)], &[(1.0, 0.97)]);
            (side(), side())
        }
        (false, false) => (
            sizes.along(&[(0.3, 0.3), (0.65, 0.8), (0.9, 1.0)], &[(1.0, 0.97)]),
            sizes.along(&[(0.3, 0.4), (0.6, 0.85), (0.82, 1.0)], &[(1.0, 0.91)]),
        ),
    };
    plain(sizes, [buccal, lingual, mesial, distal], 2.6, 0.5)
}

/// A stout wedge from the side, five-sided from the front: one cusp with a shorter mesial and a longer distal ridge, the
/// distal contact nearer to the cervix. The tip stands labial of the root's axis in the upper, lingual in the lower canine.
fn canine(sizes: &Sizes, upper: bool) -> Crown {
    let (buccal, lingual) = if upper {
        (
            sizes.across(&[(0.25, 1.0)], &[(0.5, 0.9), (0.75, 0.63), (1.0, 0.27)]),
            sizes.across(&[(0.2, 1.0)], &[(0.4, 0.89), (0.6, 0.63), (0.8, 0.37), (1.0, 0.17)]),
        )
    } else {
        (
            sizes.across(&[(0.2, 1.0)], &[(0.5, 0.81), (0.75, 0.5), (1.0, 0.15)]),
            sizes.across(&[(0.2, 1.0)], &[(0.4, 0.87), (0.6, 0.65), (0.8, 0.47), (1.0, 0.34)]),
        )
    };
    let (mesial, distal) = if upper {
        (
            sizes.along(&[(0.3, 0.45), (0.66, 1.0)], &[(0.82, 0.93), (1.0, 0.72)]),
            sizes.along(&[(0.27, 0.5), (0.52, 1.0)], &[(0.75, 0.92), (1.0, 0.66)]),
        )
    } else {
        (
            sizes.along(&[(0.3, 0.4), (0.76, 1.0)], &[(0.88, 0.95), (1.0, 0.8)]),
            sizes.along(&[(0.3, 0.5), (0.64, 1.0)], &[(0.82, 0.92), (1.0, 0.7)]),
        )
    };
    let mut crown = plain(sizes, [buccal, lingual, mesial, distal], 2.4, 0.5);
    let steepest = MOST_FALL * sizes.height / sizes.md;
    let (short, long) = if upper { (0.62, 0.8) } else { (0.45, 0.7) };
    crown.ridges = Ridges { mesial: steepest.min(short), distal: steepest.min(long), blunt: 0.6 };
    crown
}

/// Two cusps. Upper premolars stand upright with cusps of about one height; lower ones lean to the tongue, their buccal
/// cusp near the root's axis and far higher than the lingual one, most of all in the first.
fn premolar(sizes: &Sizes, kind: ToothKind) -> Crown {
    let (buccal, lingual) = if kind.is_upper() {
        (
            sizes.across(&[(0.32, 1.0)], &[(0.65, 0.92), (0.85, 0.77), (1.0, 0.62)]),
            sizes.across(&[(0.42, 1.0)], &[(0.7, 0.93), (0.87, 0.8), (1.0, 0.64)]),
        )
    } else {
        (
            sizes.across(&[(0.3, 1.0)], &[(0.6, 0.9), (0.85, 0.66), (1.0, 0.5)]),
            sizes.across(&[(0.3, 0.6), (0.55, 1.0)], &[(0.8, 0.95), (1.0, 0.78)]),
        )
    };
    let side = || sizes.along(&[(0.35, 0.5), (0.65, 1.0)], &[(1.0, 0.86)]);
    let mut crown = plain(sizes, [buccal, lingual, side(), side()], 2.5, 0.9);
    let [buccal_at, lingual_at, lower] = match (kind.is_upper(), kind.position()) {
        (true, 4) => [0.42, -0.45, 1.6],
        (true, _) => [0.42, -0.45, 1.9],
        (false, 4) => [0.12, -0.55, 0.9],
        (false, _) => [0.2, -0.52, 1.4],
    };
    let (width_x, width_y) = (0.36 * sizes.bl, 0.75 * sizes.md);
    crown.cusps = [(buccal_at, 2.2), (lingual_at, lower)]
        .map(|(at, height)| Cusp { x: at * sizes.bl, y: 0.0, height, width_x, width_y })
        .to_vec();
    crown
}

/// Four cusps. Upper molars stand upright, their mesial cusps higher; lower ones lean to the tongue: the crest of curvature
/// is in the cervical third of the buccal, in the middle third of the lingual side, and the lingual cusps are higher.
fn molar(sizes: &Sizes, upper: bool) -> Crown {
    let (buccal, lingual) = if upper {
        (
            sizes.across(&[(0.32, 1.0)], &[(0.65, 0.94), (0.85, 0.82), (1.0, 0.7)]),
            sizes.across(&[(0.42, 1.0)], &[(0.7, 0.94), (0.87, 0.82), (1.0, 0.7)]),
        )
    } else {
        (
            sizes.across(&[(0.3, 1.0)], &[(0.6, 0.92), (0.85, 0.76), (1.0, 0.63)]),
            sizes.across(&[(0.28, 0.6), (0.52, 1.0)], &[(0.8, 0.94), (1.0, 0.77)]),
        )
    };
    let mesial = sizes.along(&[(0.35, 0.5), (0.7, 1.0)], &[(1.0, 0.9)]);
    let distal = sizes.along(&[(0.32, 0.55), (0.6, 1.0)], &[(1.0, 0.87)]);
    let mut crown = plain(sizes, [buccal, lingual, mesial, distal], 3.0, 0.9);
    // Place across and along the arch over the half widths, and height, mm.
    let cusps = if upper {
        [(0.45, 0.45, 1.6), (0.45, -0.45, 1.4), (-0.45, 0.42, 1.5), (-0.48, -0.45, 1.1)]
    } else {
        [(0.34, 0.45, 1.4), (0.34, -0.45, 1.3), (-0.5, 0.45, 1.6), (-0.5, -0.45, 1.5)]
    };
    let (width_x, width_y) = (0.34 * sizes.bl, 0.38 * sizes.md);
    crown.cusps = cusps
        .map(|(x, y, height)| Cusp { x: x * sizes.bl, y: y * sizes.md, height, width_x, width_y })
        .to_vec();
    crown
}
