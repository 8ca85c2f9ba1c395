//! Which numbers make a tooth: ranges of single values, and shapes that values make together. Ranges hold every
//! value measured in human teeth with room around it (handbook extremes; common practice, no source).

use super::{LigamentProfile, RootPlan, ToothForm, ToothInSocket};
use crate::error::MeshError;
use crate::tooth::{ToothSolid, V3, anatomy};

/// Least root in the bone, mm.
const LEAST_BONY_ROOT_MM: f64 = 2.0;

/// Widest root, as one width at the cervix over the other; 1.6 is the widest of the handbook.
const FLATTEST_ROOT: f64 = 3.0;

/// Most that an apex may stand to distal, over the length that bends.
const MOST_BEND: f64 = 0.4;

/// Sharpest apex of an idealised root, mm.
const SHARPEST_APEX_MM: f64 = 0.1;

/// How far above the crest roots part, mm, or below it, where it is also twice the ligament, if the crest is clear of the
/// furcation (found by meshing molars and premolars with the crest within 2.5 mm of the furcation).
const FURCATION_MM: f64 = 0.3;

/// Shortest of several roots below the furcation, beside twice the ligament, mm.
const SHORTEST_FREE_ROOT_MM: f64 = 2.5;

/// Thinnest root of several, mm.
const THINNEST_ROOT_MM: f64 = 1.0;

pub(super) fn check(spec: &ToothInSocket) -> Result<(), MeshError> {
    ranges(spec)?;
    together(spec)?;
    let solid = anatomy::build(spec);
    attachment_on_crown(spec, &solid)?;
    roots_thick(spec, &solid)?;
    roots_apart(spec, &solid)
}

fn within(key: &'static str, value: f64, low: f64, high: f64) -> Result<(), MeshError> {
    // NaN is in no range.
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(MeshError::OutOfRange { key, value, allowed: format!("it must lie between {low} and {high}") })
}

fn ranges(spec: &ToothInSocket) -> Result<(), MeshError> {
    let ToothInSocket { tooth, ligament, bone, attachment, mesh } = spec;
    let several = tooth.root.plan != RootPlan::Single;
    within("crown.height_mm", tooth.crown.height_mm, 3.0, 20.0)?;
    within("crown.mesiodistal_mm", tooth.crown.mesiodistal_mm, 2.0, 20.0)?;
    within("crown.buccolingual_mm", tooth.crown.buccolingual_mm, 2.0, 20.0)?;
    within("root.length_mm", tooth.root.length_mm, 5.0, 35.0)?;
    within("root.mesiodistal_mm", tooth.root.mesiodistal_mm, 2.0, 18.0)?;
    within("root.buccolingual_mm", tooth.root.buccolingual_mm, 2.0, 18.0)?;
    within("root.curvature_mm", tooth.root.curvature_mm, 0.0, 4.0)?;
    if matches!(tooth.form, ToothForm::Anatomical(_)) {
        within("root.tip_radius_mm", tooth.root.tip_radius_mm, 0.3, 2.5)?;
    }
    if several {
        within("root.furcation_mm", tooth.root.furcation_mm, 1.5, 20.0)?;
        within("root.divergence_deg", tooth.root.divergence_deg, 0.0, 60.0)?;
    }
    within("ligament.thickness_mm", ligament.thickness_mm, 0.05, 0.6)?;
    within("ligament.mid_thickness_mm", ligament.mid_thickness_mm, 0.05, 0.6)?;
    within("ligament.layers", f64::from(ligament.layers), 1.0, 4.0)?;
    within("bone.crest_below_cej_mm", bone.crest_below_cej_mm, 0.0, 8.0)?;
    within("bone.loss_mm", bone.loss_mm, 0.0, 30.0)?;
    within("bone.buccal_plate_mm", bone.buccal_plate_mm, 0.3, 15.0)?;
    within("bone.lingual_plate_mm", bone.lingual_plate_mm, 0.3, 15.0)?;
    within("bone.interdental_mm", bone.interdental_mm, 0.3, 15.0)?;
    within("bone.below_apex_mm", bone.below_apex_mm, 0.5, 25.0)?;
    within("bone.cortical_mm", bone.cortical_mm, 0.2, 5.0)?;
    within("attachment.height_mm", attachment.height_mm, 0.0, 50.0)?;
    within("attachment.footprint_height_mm", attachment.footprint_height_mm, 0.3, 10.0)?;
    within("attachment.footprint_width_mm", attachment.footprint_width_mm, 0.3, 10.0)?;
    within("mesh.element_size_mm", mesh.element_size_mm, 0.1, 3.0)
}

fn together(spec: &ToothInSocket) -> Result<(), MeshError> {
    let impossible = |key, reason| Err(MeshError::Impossible { key, reason });
    let root = &spec.tooth.root;
    let crown = &spec.tooth.crown;
    let anatomical = matches!(spec.tooth.form, ToothForm::Anatomical(_));
    let bony = spec.bony_root_mm();
    if bony < LEAST_BONY_ROOT_MM {
        return impossible(
            "bone.loss_mm",
            format!(
                "the crest would leave {bony:.2} mm of root in the bone; bone.crest_below_cej_mm and bone.loss_mm \
                 together must leave at least {LEAST_BONY_ROOT_MM} mm of the {} mm root",
                root.length_mm
            ),
        );
    }
    if !anatomical && root.plan != RootPlan::Single {
        return impossible("root.plan", "an idealised root is single".into());
    }
    if !anatomical && root.curvature_mm != 0.0 {
        return impossible("root.curvature_mm", "an idealised root is straight: the value must be 0".into());
    }
    if matches!(spec.tooth.form, ToothForm::Paraboloid)
        && (root.mesiodistal_mm - root.buccolingual_mm).abs() > 1e-9
    {
        return impossible(
            "root.mesiodistal_mm",
            format!(
                "a paraboloid of revolution is as wide along the arch ({} mm) as across it ({} mm); use the \
                 elliptic paraboloid for different widths",
                root.mesiodistal_mm, root.buccolingual_mm
            ),
        );
    }
    if anatomical && spec.ligament.profile == LigamentProfile::Stretched {
        return impossible(
            "ligament.profile",
            "the stretched profile is for the idealised roots; a tooth takes \"uniform\" or \"hourglass\""
                .into(),
        );
    }
    let (narrow, wide) =
        (root.mesiodistal_mm.min(root.buccolingual_mm), root.mesiodistal_mm.max(root.buccolingual_mm));
    if wide > FLATTEST_ROOT * narrow {
        let key = if root.mesiodistal_mm < root.buccolingual_mm {
            "root.mesiodistal_mm"
        } else {
            "root.buccolingual_mm"
        };
        return impossible(
            key,
            format!(
                "a root {wide} mm wide one way and {narrow} mm the other is a blade; root.mesiodistal_mm and \
                 root.buccolingual_mm may differ by a factor of {FLATTEST_ROOT} at most"
            ),
        );
    }
    let half = 0.5 * narrow;
    if !anatomical && half * half / (2.0 * root.length_mm) < SHARPEST_APEX_MM {
        return impossible(
            "root.length_mm",
            format!(
                "a paraboloid {} mm deep and {narrow} mm wide ends in a needle; the radius of its apex, width^2 / (8 \
                 root.length_mm), must be at least {SHARPEST_APEX_MM} mm",
                root.length_mm
            ),
        );
    }
    if anatomical && root.tip_radius_mm > half {
        return impossible(
            "root.tip_radius_mm",
            format!(
                "an apex of radius {} mm is wider than the root, which is {:.2} mm across at the cervix; the \
                 radius must be at most {half:.2}",
                root.tip_radius_mm,
                2.0 * half
            ),
        );
    }
    for (key, cervix, widest, what) in [
        ("root.mesiodistal_mm", root.mesiodistal_mm, crown.mesiodistal_mm, "crown.mesiodistal_mm"),
        ("root.buccolingual_mm", root.buccolingual_mm, crown.buccolingual_mm, "crown.buccolingual_mm"),
    ] {
        if anatomical && cervix > widest {
            return impossible(
                key,
                format!(
                    "the cervix ({cervix} mm) is wider than the crown; it must be at most {what}, {widest} mm"
                ),
            );
        }
    }
    // Roots long enough to be told from the furcation between their ligaments.
    let deepest = root.length_mm - SHORTEST_FREE_ROOT_MM - 2.0 * spec.ligament.thickness_mm;
    if root.plan != RootPlan::Single && root.furcation_mm > deepest {
        return impossible(
            "root.furcation_mm",
            format!(
                "a furcation {} mm below the cemento-enamel junction leaves no roots; with root.length_mm {} and this \
                 ligament it must be at most {deepest:.1}",
                root.furcation_mm, root.length_mm
            ),
        );
    }
    let several = root.plan != RootPlan::Single;
    let bendable = if several { root.length_mm - root.furcation_mm } else { root.length_mm };
    if root.curvature_mm > MOST_BEND * bendable {
        return impossible(
            "root.curvature_mm",
            format!(
                "an apex {} mm to distal makes a hook of a root that is free over {bendable:.2} mm; the value must be at \
                 most {:.2}",
                root.curvature_mm,
                MOST_BEND * bendable
            ),
        );
    }
    let (low, high) = {
        let cej = -spec.crest_z_from_cej_mm();
        (cej.max(0.2), cej + crown.height_mm - 0.5)
    };
    if !(low..=high).contains(&spec.attachment.height_mm) {
        return impossible(
            "attachment.height_mm",
            format!(
                "an attachment {} mm above the crest is not on the crown, which reaches from {low:.1} to \
                 {high:.1} mm above it",
                spec.attachment.height_mm
            ),
        );
    }
    Ok(())
}

/// The middle of the crown at the attachment's height must be inside the crown: between cusps it ends lower.
fn attachment_on_crown(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    let z = spec.attachment.height_mm;
    let outside = |z: f64| solid.value(&V3::new(solid.crown_axis_x(z), 0.0, z)) >= 0.0;
    if !outside(z) {
        return Ok(());
    }
    let cej = -spec.crest_z_from_cej_mm();
    let (mut low, mut high) = (cej.max(0.2), z);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if outside(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Err(MeshError::Impossible {
        key: "attachment.height_mm",
        reason: format!(
            "an attachment {z} mm above the crest is not on the crown, which ends {low:.2} mm above it in the middle \
             between the cusps"
        ),
    })
}

/// Each of several roots must have a section.
fn roots_thick(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    if spec.tooth.root.plan == RootPlan::Single {
        return Ok(());
    }
    for root in &solid.canals[1..] {
        for (key, half) in [
            ("root.buccolingual_mm", root.start / root.scale.x),
            ("root.mesiodistal_mm", root.start / root.scale.y),
        ] {
            if 2.0 * half < THINNEST_ROOT_MM {
                return Err(MeshError::Impossible {
                    key,
                    reason: format!(
                        "one of the roots would be {:.2} mm thick where they part; a wider {key} or a single root would \
                         give it at least {THINNEST_ROOT_MM} mm",
                        2.0 * half
                    ),
                });
            }
        }
    }
    Ok(())
}

/// The apices of different roots must be two ligaments and a septum apart.
fn roots_apart(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    if spec.tooth.root.plan == RootPlan::Single {
        return Ok(());
    }
    let t = spec.ligament.thickness_mm.max(spec.ligament.mid_thickness_mm);
    let least = 2.0 * t + 0.3;
    let roots = &solid.canals[1..];
    for (i, a) in roots.iter().enumerate() {
        for b in &roots[i + 1..] {
            let between = b.axis[2] - a.axis[2];
            let (dx, dy) = (between.x, between.y);
            let distance = dx.hypot(dy);
            // Half width of an elliptic section along a direction.
            let width = |c: &crate::tooth::canal::Canal| {
                c.tip / (c.scale.x * dx / distance).hypot(c.scale.y * dy / distance)
            };
            let gap = if distance > 1e-9 { distance - width(a) - width(b) } else { -1.0 };
            if gap.is_nan() || gap < least {
                return Err(MeshError::Impossible {
                    key: "root.divergence_deg",
                    reason: format!(
                        "the roots collide: their apices are {gap:.2} mm apart and need {least:.2} mm for two \
                         ligaments and the bone between; more root.divergence_deg, a wider cervix or a smaller \
                         root.tip_radius_mm would part them"
                    ),
                });
            }
        }
    }
    Ok(())
}

/// Does the furcation lie at the crest? There its roof runs level with the crest, and a layer of ligament may find no edge
/// to end on. What to say if such a case does not mesh.
pub(crate) fn crest_at_furcation(spec: &ToothInSocket, solid: &ToothSolid) -> Option<MeshError> {
    const STEPS: i32 = 60;
    if spec.tooth.root.plan == RootPlan::Single {
        return None;
    }
    let (below, above) = (FURCATION_MM.max(2.0 * spec.ligament.thickness_mm), FURCATION_MM);
    let roots = &solid.canals[1..];
    for (i, a) in roots.iter().enumerate() {
        for b in &roots[i + 1..] {
            let parted = |z: f64| {
                let (p, q) = (a.centre_at(z), b.centre_at(z));
                (0..=STEPS).any(|k| solid.value(&(p + (q - p) * (f64::from(k) / f64::from(STEPS)))) > 0.0)
            };
            if parted(-below) && !parted(above) {
                return Some(MeshError::Impossible {
                    key: "bone.loss_mm",
                    reason: format!(
                        "the crest lies at the furcation: roots must part at least {below:.2} mm below it or \
                         {above:.2} mm above it, so that the ligament has an edge there; another bone.loss_mm or \
                         root.furcation_mm would do"
                    ),
                });
            }
        }
    }
    None
}
