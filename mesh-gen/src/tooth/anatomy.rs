//! From dimensions to a solid: where trunk, roots, crown and cusps go for each kind of tooth.

use super::canal::Canal;
use super::ideal::Paraboloid;
use super::{ToothSolid, V3, outlines};
use crate::spec::{RootPlan, RootSpec, ToothForm, ToothInSocket};

/// Vertical half axis of the rounded end of a trunk, mm.
const TRUNK_END: f64 = 0.8;

/// How far root and trunk reach above the cemento-enamel junction into the crown, mm.
const INTO_CROWN: f64 = 1.0;

/// Two and three roots side by side taper nearly like cones (from memory).
const CONE: f64 = 0.2;

/// The mesial and the distal root of a lower molar are blades that keep their width longer, as a single root does: of the
/// root's area 48.7 % lie in its first 6 mm (20 extracted teeth; 52 % with this shape).
const BLADE: f64 = 1.0;

/// One root of a multi-rooted tooth. Half axes as fractions of the tooth's at the cervix; `side` says where
/// the root leaves the trunk (x, y, each -1 to 1: how far out toward the trunk's edge); `spread` how it
/// shares the angle of divergence; `length` its length over the longest.
struct Branch {
    half_x: f64,
    half_y: f64,
    side: (f64, f64),
    spread: (f64, f64),
    length: f64,
    /// Shape of the taper, as of a [`Canal`].
    bulge: f64,
}

/// Proportions of the roots: sections drawn from the furcation and separation measurements quoted in
/// `handbook.rs`; mesial to distal area ratio 1 : 0.88 in lower molars (20 teeth); the rest from memory.
fn branches(plan: RootPlan) -> Vec<Branch> {
    match plan {
        RootPlan::Single => Vec::new(),
        RootPlan::BuccalLingual => vec![
            Branch {
                half_x: 0.36,
                half_y: 0.70,
                side: (1.0, 0.0),
                spread: (0.5, 0.0),
                length: 1.0,
                bulge: CONE,
            },
            Branch {
                half_x: 0.34,
                half_y: 0.68,
                side: (-1.0, 0.0),
                spread: (-0.5, 0.0),
                length: 0.97,
                bulge: CONE,
            },
        ],
        RootPlan::MesialDistal => vec![
            Branch {
                half_x: 0.93,
                half_y: 0.36,
                side: (0.0, 1.0),
                spread: (0.0, 0.5),
                length: 1.0,
                bulge: BLADE,
            },
            Branch {
                half_x: 0.85,
                half_y: 0.36,
                side: (0.0, -1.0),
                spread: (0.0, -0.5),
                length: 0.95,
                bulge: BLADE,
            },
        ],
        RootPlan::Three => vec![
            Branch {
                half_x: 0.37,
                half_y: 0.32,
                side: (1.0, 1.0),
                spread: (0.3, 0.2),
                length: 12.0 / 13.0,
                bulge: CONE,
            },
            Branch {
                half_x: 0.32,
                half_y: 0.31,
                side: (1.0, -1.0),
                spread: (0.25, -0.25),
                length: 12.0 / 13.0,
                bulge: CONE,
            },
            Branch {
                half_x: 0.33,
                half_y: 0.50,
                side: (-1.0, 0.0),
                spread: (-0.7, 0.0),
                length: 1.0,
                bulge: CONE,
            },
        ],
    }
}

fn canal(half_x: f64, half_y: f64, axis: [V3; 3], tip: f64, bulge: f64) -> Canal {
    let start = half_x.min(half_y);
    Canal {
        axis,
        scale: V3::new(start / half_x, start / half_y, 1.0),
        start,
        tip: tip.min(0.8 * start),
        bulge,
    }
}

fn single_root(root: &RootSpec, cej_z: f64) -> Canal {
    let (half_x, half_y) = (0.5 * root.buccolingual_mm, 0.5 * root.mesiodistal_mm);
    let tip = root.tip_radius_mm.min(0.8 * half_x.min(half_y));
    let top = V3::new(0.0, 0.0, cej_z + INTO_CROWN);
    let end = V3::new(0.0, -root.curvature_mm, cej_z - root.length_mm + tip);
    canal(half_x, half_y, [top, V3::new(0.0, 0.0, 0.5 * (top.z + end.z)), end], tip, 1.0)
}

fn trunk_and_roots(root: &RootSpec, cej_z: f64) -> Vec<Canal> {
    let (half_x, half_y) = (0.5 * root.buccolingual_mm, 0.5 * root.mesiodistal_mm);
    let start = half_x.min(half_y);
    let roof = cej_z - root.furcation_mm;
    // The trunk narrows toward the furcation as much as a single root would over the same depth.
    let taper = 1.0 - 0.6 * (root.furcation_mm / root.length_mm).powi(2);
    let end = V3::new(0.0, 0.0, roof + TRUNK_END);
    let top = V3::new(0.0, 0.0, cej_z + INTO_CROWN);
    let end_rho = taper * start;
    let mut canals = vec![Canal {
        axis: [top, 0.5 * (top + end), end],
        scale: V3::new(start / half_x, start / half_y, end_rho / TRUNK_END),
        start,
        tip: end_rho,
        bulge: 1.0,
    }];
    for branch in branches(root.plan) {
        let (sx, sy) = (branch.half_x * half_x, branch.half_y * half_y);
        let offset = V3::new(
            branch.side.0 * (taper * half_x - sx),
            branch.side.1 * (taper * half_y - sy),
            roof + TRUNK_END,
        );
        let tip = root.tip_radius_mm.min(0.8 * sx.min(sy));
        let end_z = cej_z - branch.length * root.length_mm + tip;
        let depth = offset.z - end_z;
        let angle = root.divergence_deg.to_radians();
        let out = V3::new((branch.spread.0 * angle).tan(), (branch.spread.1 * angle).tan(), 0.0) * depth;
        let bend = V3::new(0.0, -root.curvature_mm, 0.0);
        let end = V3::new(offset.x, offset.y, end_z) + out + bend;
        let middle = V3::new(offset.x, offset.y, 0.5 * (offset.z + end_z)) + out * 0.5;
        canals.push(canal(sx, sy, [offset, middle, end], tip, branch.bulge));
    }
    canals
}

/// The solid of a specification, in the tooth frame.
pub(crate) fn build(spec: &ToothInSocket) -> ToothSolid {
    let root = &spec.tooth.root;
    let fillet = 0.8_f64.max(2.5 * spec.ligament.thickness_mm);
    let cej_z = -spec.crest_z_from_cej_mm();
    let ToothForm::Anatomical(kind) = spec.tooth.form else {
        return ideal(spec, fillet);
    };
    let trunk = root.plan != RootPlan::Single;
    ToothSolid {
        canals: if trunk { trunk_and_roots(root, cej_z) } else { vec![single_root(root, cej_z)] },
        trunk,
        root: None,
        crown: Some(outlines::crown(spec, kind, cej_z)),
        furcation_fillet: fillet,
        cervix_fillet: 0.5,
        cej_z,
    }
}

fn ideal(spec: &ToothInSocket, fillet: f64) -> ToothSolid {
    let root = &spec.tooth.root;
    let crown = &spec.tooth.crown;
    let (a, b, h) = (0.5 * root.buccolingual_mm, 0.5 * root.mesiodistal_mm, root.length_mm);
    // The crest of an idealised root is where its section is given; bone loss moves the crest down the root.
    let loss = spec.bone.loss_mm;
    ToothSolid {
        canals: Vec::new(),
        trunk: false,
        root: Some(Paraboloid { a, b, h, crest_z: loss, top_z: loss + crown.height_mm }),
        crown: None,
        furcation_fillet: fillet,
        cervix_fillet: 0.5,
        cej_z: loss,
    }
}
