//! Which numbers make a tooth: ranges of single values (see `range`), and shapes that values make together. Each refusal
//! names a value that would do, rounded to the side that is allowed; to take it leads to an accepted tooth, in a few
//! steps where several values are at odds.

use super::range::{RANGES, Range};
use super::{LigamentProfile, RootPlan, ToothForm, ToothInSocket};
use crate::error::{MeshError, SuggestedValue, Suggestion};
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
/// furcation (found by meshing every tooth with several roots with the crest within 0.7 mm of the furcation).
const FURCATION_MM: f64 = 0.3;

/// Shortest of several roots below the furcation, beside twice the ligament, mm.
const SHORTEST_FREE_ROOT_MM: f64 = 2.5;

/// Thinnest root of several, mm.
const THINNEST_ROOT_MM: f64 = 1.0;

/// Lowest centre of an attachment above the crest, mm, and the least that it stays below the top of the crown.
const ATTACHMENT_ROOM_MM: [f64; 2] = [0.2, 0.5];

/// What the arithmetic of bounds may be off, mm: a bound that is a decimal number must not be refused because its sum is
/// not quite that number.
const ROUNDING_MM: f64 = 2e-9;

/// Steps in which a value is sought that would do, mm or degrees.
const SEEK_STEPS: [f64; 3] = [0.05, 0.5, 0.05];

pub(super) fn check(spec: &ToothInSocket) -> Result<(), MeshError> {
    RANGES.iter().try_for_each(|range| range.check(spec))?;
    idealised(spec)?;
    lengths(spec)?;
    widths(spec)?;
    several_roots(spec)?;
    attachment_height(spec)?;
    let solid = anatomy::build(spec);
    attachment_on_crown(spec, &solid)?;
    roots_thick(spec, &solid)?;
    roots_apart(spec, &solid)
}

/// The largest hundredth that is not above a bound, but for rounding.
fn at_most(bound: f64) -> f64 {
    (100.0 * bound + 1e-7).floor() / 100.0
}

/// The smallest hundredth that is not below a bound, but for rounding.
fn at_least(bound: f64) -> f64 {
    (100.0 * bound - 1e-7).ceil() / 100.0
}

/// A refusal that asks for a value.
fn ask(key: &'static str, value: f64, reason: String) -> Result<(), MeshError> {
    let suggestion = Some(Suggestion { key, value: SuggestedValue::Number(value) });
    Err(MeshError::Impossible { key, reason, suggestion })
}

/// A refusal that asks for a word.
fn ask_word(key: &'static str, word: &'static str, reason: String) -> Result<(), MeshError> {
    let suggestion = Some(Suggestion { key, value: SuggestedValue::Word(word) });
    Err(MeshError::Impossible { key, reason, suggestion })
}

fn is_anatomical(spec: &ToothInSocket) -> bool {
    matches!(spec.tooth.form, ToothForm::Anatomical(_))
}

/// Enough root must be left in the bone.
fn lengths(spec: &ToothInSocket) -> Result<(), MeshError> {
    let (bony, length) = (spec.bony_root_mm(), spec.tooth.root.length_mm);
    if bony >= LEAST_BONY_ROOT_MM - ROUNDING_MM {
        return Ok(());
    }
    let most = length - LEAST_BONY_ROOT_MM;
    let left = most - spec.bone.crest_below_cej_mm;
    let (key, value) = if left >= 0.0 {
        ("bone.loss_mm", at_most(left))
    } else {
        ("bone.crest_below_cej_mm", at_most((most - spec.bone.loss_mm).max(0.0)))
    };
    ask(
        key,
        value,
        format!(
            "the crest would leave {bony:.2} mm of root in the bone; bone.crest_below_cej_mm and bone.loss_mm together \
             must leave at least {LEAST_BONY_ROOT_MM} mm of the {length} mm root, so that {key} must be at most {value}"
        ),
    )
}

/// What an idealised root cannot be, and what only it can.
fn idealised(spec: &ToothInSocket) -> Result<(), MeshError> {
    let root = &spec.tooth.root;
    if is_anatomical(spec) {
        if spec.ligament.profile == LigamentProfile::Stretched {
            let reason = "the stretched profile is for the idealised roots; a tooth takes \"uniform\" or \"hourglass\"";
            return ask_word("ligament.profile", "uniform", reason.into());
        }
        return Ok(());
    }
    if root.plan != RootPlan::Single {
        return ask_word("root.plan", "single", "an idealised root is single".into());
    }
    if root.curvature_mm != 0.0 {
        let reason = "an idealised root is straight: the value must be 0";
        return ask("root.curvature_mm", 0.0, reason.into());
    }
    if spec.bone.crest_below_cej_mm != 0.0 {
        let reason = "an idealised root is given from the crest down: the value must be 0 (bone.loss_mm lowers the crest)";
        return ask("bone.crest_below_cej_mm", 0.0, reason.into());
    }
    let (along, across) = (root.mesiodistal_mm, root.buccolingual_mm);
    if spec.tooth.form == ToothForm::Paraboloid && (along - across).abs() > ROUNDING_MM {
        return ask(
            "root.mesiodistal_mm",
            across,
            format!(
                "a paraboloid of revolution is as wide along the arch ({along} mm) as across it ({across} mm): the value \
                 must be {across}; use the elliptic paraboloid for different widths"
            ),
        );
    }
    let narrow = along.min(across);
    let longest = narrow * narrow / (8.0 * SHARPEST_APEX_MM);
    if root.length_mm > longest + ROUNDING_MM {
        let value = at_most(longest);
        return ask(
            "root.length_mm",
            value,
            format!(
                "a paraboloid {} mm deep and {narrow} mm wide ends in a needle; the radius of its apex, width^2 / (8 \
                 root.length_mm), must be at least {SHARPEST_APEX_MM} mm, the length at most {value}",
                root.length_mm
            ),
        );
    }
    Ok(())
}

/// The cervix within the crown, the root no blade, the apex no wider than the root.
fn widths(spec: &ToothInSocket) -> Result<(), MeshError> {
    let (root, crown) = (&spec.tooth.root, &spec.tooth.crown);
    if is_anatomical(spec) {
        for (key, cervix, widest, what) in [
            ("root.mesiodistal_mm", root.mesiodistal_mm, crown.mesiodistal_mm, "crown.mesiodistal_mm"),
            ("root.buccolingual_mm", root.buccolingual_mm, crown.buccolingual_mm, "crown.buccolingual_mm"),
        ] {
            // No root is wider than its range allows, however wide the crown is.
            if cervix > widest + ROUNDING_MM {
                return ask(
                    key,
                    widest,
                    format!(
                        "the cervix ({cervix} mm) is wider than the crown; it must be at most {what}, {widest} mm"
                    ),
                );
            }
        }
    }
    let along = ("root.mesiodistal_mm", root.mesiodistal_mm, crown.mesiodistal_mm);
    let across = ("root.buccolingual_mm", root.buccolingual_mm, crown.buccolingual_mm);
    let (narrow, wide) = if along.1 < across.1 { (along, across) } else { (across, along) };
    if wide.1 > FLATTEST_ROOT * narrow.1 + ROUNDING_MM {
        let widened = at_least(wide.1 / FLATTEST_ROOT);
        // The narrow way may have no room to grow under its crown.
        let (key, value) = if is_anatomical(spec) && widened > narrow.2 {
            (wide.0, at_most(FLATTEST_ROOT * narrow.1))
        } else {
            (narrow.0, widened)
        };
        return ask(
            key,
            value,
            format!(
                "a root {} mm wide one way and {} mm the other is a blade; root.mesiodistal_mm and \
                 root.buccolingual_mm may differ by a factor of {FLATTEST_ROOT} at most, as with {key} = {value}",
                wide.1, narrow.1
            ),
        );
    }
    let half = 0.5 * narrow.1;
    if is_anatomical(spec) && root.tip_radius_mm > half + ROUNDING_MM {
        let value = at_most(half);
        return ask(
            "root.tip_radius_mm",
            value,
            format!(
                "an apex of radius {} mm is wider than the root, which is {} mm across at the cervix; the radius must be \
                 at most {value}",
                root.tip_radius_mm, narrow.1
            ),
        );
    }
    Ok(())
}

/// Roots long enough to be told from the furcation between their ligaments, and no hooks.
fn several_roots(spec: &ToothInSocket) -> Result<(), MeshError> {
    let root = &spec.tooth.root;
    let several = root.plan != RootPlan::Single;
    let below = SHORTEST_FREE_ROOT_MM + 2.0 * spec.ligament.thickness_mm;
    let deepest = root.length_mm - below;
    if several && root.furcation_mm > deepest + ROUNDING_MM {
        let shallowest = Range::of("root.furcation_mm").expect("a key of the table").low;
        let (key, value, bound) = if deepest + ROUNDING_MM < shallowest {
            ("root.length_mm", at_least(shallowest + below), "at least")
        } else {
            ("root.furcation_mm", at_most(deepest), "at most")
        };
        return ask(
            key,
            value,
            format!(
                "a furcation {} mm below the cemento-enamel junction leaves no roots; with root.length_mm {} and this \
                 ligament {key} must be {bound} {value}",
                root.furcation_mm, root.length_mm
            ),
        );
    }
    let bendable = if several { root.length_mm - root.furcation_mm } else { root.length_mm };
    if root.curvature_mm > MOST_BEND * bendable + ROUNDING_MM {
        let value = at_most(MOST_BEND * bendable);
        return ask(
            "root.curvature_mm",
            value,
            format!(
                "an apex {} mm to distal makes a hook of a root that is free over {bendable:.2} mm; the value must be at \
                 most {value}",
                root.curvature_mm
            ),
        );
    }
    Ok(())
}

/// Lowest and highest centre of an attachment, mm above the crest.
fn attachment_heights(spec: &ToothInSocket) -> [f64; 2] {
    let cej = -spec.crest_z_from_cej_mm();
    let [above_crest, below_top] = ATTACHMENT_ROOM_MM;
    [cej.max(above_crest), cej + spec.tooth.crown.height_mm - below_top]
}

/// The attachment must stand on the crown.
fn attachment_height(spec: &ToothInSocket) -> Result<(), MeshError> {
    let [low, high] = attachment_heights(spec);
    let height = spec.attachment.height_mm;
    if (low - ROUNDING_MM..=high + ROUNDING_MM).contains(&height) {
        return Ok(());
    }
    let (lowest, highest) = (at_least(low), at_most(high));
    ask(
        "attachment.height_mm",
        height.clamp(lowest, highest),
        format!(
            "an attachment {height} mm above the crest is not on the crown, which takes it from {lowest} to {highest} mm \
             above the crest"
        ),
    )
}

/// The middle of the crown at the attachment's height must be inside the crown: between cusps it ends lower.
fn attachment_on_crown(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    let z = spec.attachment.height_mm;
    let outside = |z: f64| solid.value(&V3::new(solid.crown_axis_x(z), 0.0, z)) >= 0.0;
    if !outside(z) {
        return Ok(());
    }
    let lowest = attachment_heights(spec)[0];
    let (mut low, mut high) = (lowest, z);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if outside(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    // A ten-thousandth inside, so that the same height told from the junction or as a share is inside too.
    let value = at_most(low - 1e-4).max(lowest);
    ask(
        "attachment.height_mm",
        value,
        format!(
            "an attachment {z} mm above the crest is not on the crown, which ends {value} mm above it in the middle \
             between the cusps"
        ),
    )
}

/// Each of several roots must have a section.
fn roots_thick(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    if spec.tooth.root.plan == RootPlan::Single {
        return Ok(());
    }
    let (root, crown) = (&spec.tooth.root, &spec.tooth.crown);
    for canal in &solid.canals[1..] {
        for (key, half, width, widest) in [
            (
                "root.buccolingual_mm",
                canal.start / canal.scale.x,
                root.buccolingual_mm,
                crown.buccolingual_mm,
            ),
            ("root.mesiodistal_mm", canal.start / canal.scale.y, root.mesiodistal_mm, crown.mesiodistal_mm),
        ] {
            let thickness = 2.0 * half;
            if thickness >= THINNEST_ROOT_MM - ROUNDING_MM {
                continue;
            }
            // The sections of the roots are shares of the section of the tooth.
            let wanted = at_least(width * THINNEST_ROOT_MM / thickness);
            let thin = format!("one of the roots would be {thickness:.2} mm thick where they part");
            if wanted > widest {
                return ask_word(
                    "root.plan",
                    "single",
                    format!(
                        "{thin}, and a crown of {widest} mm has no room for thicker ones; the root must be single"
                    ),
                );
            }
            return ask(
                key,
                wanted,
                format!(
                    "{thin}; with {key} at least {wanted} it would have {THINNEST_ROOT_MM} mm, or the root may be single"
                ),
            );
        }
    }
    Ok(())
}

/// How far apart the apices of the two nearest roots are, less what two ligaments and a septum need; mm, with the
/// distance itself.
fn room_between_roots(spec: &ToothInSocket, solid: &ToothSolid) -> Option<[f64; 2]> {
    let t = spec.ligament.thickness_mm.max(spec.ligament.mid_thickness_mm);
    let least = 2.0 * t + 0.3;
    let roots = &solid.canals[1..];
    let mut nearest: Option<[f64; 2]> = None;
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
            if nearest.is_none_or(|[room, _]| gap - least < room) {
                nearest = Some([gap - least, gap]);
            }
        }
    }
    nearest
}

/// The apices of different roots must be two ligaments and a septum apart.
fn roots_apart(spec: &ToothInSocket, solid: &ToothSolid) -> Result<(), MeshError> {
    if spec.tooth.root.plan == RootPlan::Single {
        return Ok(());
    }
    let Some([room, gap]) = room_between_roots(spec, solid) else { return Ok(()) };
    if room >= -ROUNDING_MM {
        return Ok(());
    }
    let collide = format!(
        "the roots collide: their apices are {gap:.2} mm apart and need {:.2} mm for two ligaments and the bone between",
        gap - room
    );
    let fits = |spec: &ToothInSocket| {
        room_between_roots(spec, &anatomy::build(spec)).is_some_and(|[room, _]| room >= 0.0)
    };
    let [_, degrees, radius] = SEEK_STEPS;
    let divergence = |tip_radius_mm: f64| {
        let mut trial = *spec;
        trial.tooth.root.tip_radius_mm = tip_radius_mm;
        let range = Range::of("root.divergence_deg").expect("a key of the table");
        let from = (spec.tooth.root.divergence_deg / degrees).ceil() as u32;
        (from..=(range.high / degrees) as u32).map(|k| degrees * f64::from(k)).find(|&angle| {
            trial.tooth.root.divergence_deg = angle;
            fits(&trial)
        })
    };
    if let Some(angle) = divergence(spec.tooth.root.tip_radius_mm) {
        return ask(
            "root.divergence_deg",
            angle,
            format!(
                "{collide}; root.divergence_deg {angle}, a wider cervix or a smaller root.tip_radius_mm would part them"
            ),
        );
    }
    let range = Range::of("root.tip_radius_mm").expect("a key of the table");
    let steps = ((spec.tooth.root.tip_radius_mm - range.low) / radius).ceil().max(0.0) as u32;
    let smaller = (1..=steps)
        .map(|k| (spec.tooth.root.tip_radius_mm - radius * f64::from(k)).max(range.low))
        .map(at_least)
        .find(|&tip| divergence(tip).is_some());
    match smaller {
        Some(tip) => ask(
            "root.tip_radius_mm",
            tip,
            format!(
                "{collide}; root.tip_radius_mm {tip} with more root.divergence_deg, or a wider cervix, would part them"
            ),
        ),
        None => ask_word(
            "root.plan",
            "single",
            format!(
                "{collide}; no root.divergence_deg parts them, so that the root must be single or the cervix wider"
            ),
        ),
    }
}

/// Where the furcation lies just at the crest its roof runs level with the crest, and a layer of ligament may find no edge
/// to end on. Many such crests mesh; this is what to say of those that do not, none where the crest is clear of it.
pub(crate) fn crest_at_furcation(spec: &ToothInSocket, solid: &ToothSolid) -> Option<MeshError> {
    if is_clear_of_furcation(spec, solid) {
        return None;
    }
    let (below, above) = furcation_room(spec);
    let at = format!(
        "the crest lies at the furcation: roots must part at least {below:.2} mm below it or {above:.2} mm above it, so \
         that the ligament has an edge there"
    );
    let [step, ..] = SEEK_STEPS;
    let most = Range::of("bone.loss_mm").expect("a key of the table").high;
    let nearest = (1..=200)
        .flat_map(|k| [1.0, -1.0].map(|side| spec.bone.loss_mm + side * step * f64::from(k)))
        .map(|loss| (100.0 * loss).round() / 100.0)
        .filter(|loss| (0.0..=most).contains(loss))
        .find(|&loss| {
            let mut trial = *spec;
            trial.bone.loss_mm = loss;
            lengths(&trial).is_ok() && is_clear_of_furcation(&trial, &anatomy::build(&trial))
        });
    let asked = match nearest {
        Some(loss) => ask(
            "bone.loss_mm",
            loss,
            format!("{at}; bone.loss_mm {loss} or another root.furcation_mm would do"),
        ),
        None => {
            ask_word("root.plan", "single", format!("{at}; no bone.loss_mm does, but a single root would"))
        }
    };
    asked.err()
}

/// How far below and above the crest roots may not part, mm.
fn furcation_room(spec: &ToothInSocket) -> (f64, f64) {
    (FURCATION_MM.max(2.0 * spec.ligament.thickness_mm), FURCATION_MM)
}

fn is_clear_of_furcation(spec: &ToothInSocket, solid: &ToothSolid) -> bool {
    const STEPS: i32 = 60;
    if spec.tooth.root.plan == RootPlan::Single {
        return true;
    }
    let (below, above) = furcation_room(spec);
    let roots = &solid.canals[1..];
    let pairs = roots.iter().enumerate().flat_map(|(i, a)| roots[i + 1..].iter().map(move |b| (a, b)));
    pairs.into_iter().all(|(a, b)| {
        let parted = |z: f64| {
            let (p, q) = (a.centre_at(z), b.centre_at(z));
            (0..=STEPS).any(|k| solid.value(&(p + (q - p) * (f64::from(k) / f64::from(STEPS)))) > 0.0)
        };
        !parted(-below) || parted(above)
    })
}
