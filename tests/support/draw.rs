//! Cases drawn at random over everything that a case file holds.
//!
//! Each number keeps the default of its tooth, or is the default times a factor, or lies anywhere in its range, so that
//! cases near real teeth and extreme ones both come up. Values that only make sense together (a cervix no wider than
//! the crown, an attachment on the crown, a furcation above the apex) are drawn as shares of what the others leave.
//! One case in eight is careless: it takes its numbers as they come, and most of those are refused.

use gomphosis_mesh_gen::{Face, LigamentProfile, RootPlan, ToothForm, ToothInSocket, ToothKind};
use gomphosis_solver::{Constant, Material, Materials};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, RngSeed, TestRng, TestRunner};

/// How often a property is tried: `GOMPHOSIS_CASES` times if that is set, else as often as the property can afford.
#[must_use]
pub fn cases(affordable: u32) -> u32 {
    std::env::var("GOMPHOSIS_CASES").ok().and_then(|text| text.parse().ok()).unwrap_or(affordable)
}

/// A runner that draws the same cases each time; `GOMPHOSIS_SEED` gives others.
#[must_use]
pub fn runner(affordable: u32) -> TestRunner {
    let seed: u64 = std::env::var("GOMPHOSIS_SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(0);
    let config = Config {
        cases: cases(affordable),
        failure_persistence: None,
        max_shrink_iters: 40,
        rng_seed: RngSeed::Fixed(seed),
        ..Config::default()
    };
    let mut bytes = [0; 32];
    bytes[..8].copy_from_slice(&seed.to_le_bytes());
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &bytes))
}

/// One number, relative to its default and its range.
#[derive(Debug, Clone, Copy)]
enum Amount {
    Default,
    Times(f64),
    Share(f64),
}

impl Amount {
    fn of(self, default: f64, low: f64, high: f64) -> f64 {
        match self {
            Self::Default => default.clamp(low, high),
            Self::Times(factor) => (default * factor).clamp(low, high),
            Self::Share(share) => low + (high - low) * share,
        }
    }
}

fn amount() -> impl Strategy<Value = Amount> {
    prop_oneof![
        3 => Just(Amount::Default),
        3 => (0.6..1.6).prop_map(Amount::Times),
        2 => (0.0..=1.0).prop_map(Amount::Share),
        // The ends of a range are where things break.
        1 => prop_oneof![Just(Amount::Share(0.0)), Just(Amount::Share(1.0))],
    ]
}

fn plan() -> impl Strategy<Value = Option<RootPlan>> {
    prop_oneof![
        4 => Just(None),
        1 => prop_oneof![
            Just(RootPlan::Single),
            Just(RootPlan::BuccalLingual),
            Just(RootPlan::MesialDistal),
            Just(RootPlan::Three),
        ]
        .prop_map(Some),
    ]
}

fn profile() -> impl Strategy<Value = LigamentProfile> {
    prop_oneof![
        2 => Just(LigamentProfile::Uniform),
        1 => Just(LigamentProfile::Hourglass),
        1 => Just(LigamentProfile::Stretched),
    ]
}

fn face() -> impl Strategy<Value = Face> {
    prop_oneof![3 => Just(Face::Buccal), 1 => Just(Face::Lingual), 1 => Just(Face::Mesial), 1 => Just(Face::Distal)]
}

/// The tooth with nothing changed: sixteen kinds and two idealised roots.
fn form() -> impl Strategy<Value = ToothInSocket> {
    (0_usize..18).prop_map(|k| match k {
        16 => ToothInSocket::paraboloid(),
        17 => ToothInSocket::elliptic_paraboloid(),
        k => ToothInSocket::handbook(ToothKind::ALL[k]),
    })
}

/// A tooth in its socket, with element sizes from `finest_mm` to 3 mm.
///
/// Most of them pass [`ToothInSocket::check`]; the others are there to be refused.
pub fn tooth(finest_mm: f64) -> impl Strategy<Value = ToothInSocket> {
    let amounts = proptest::collection::vec(amount(), 22);
    let choices = (plan(), profile(), 1_u32..=4, face(), 0_u32..8);
    let size = (finest_mm.ln()..=3.0_f64.ln()).prop_map(f64::exp);
    (form(), amounts, choices, size).prop_map(|(start, a, (plan, profile, layers, face, care), size)| {
        let mut s = start;
        let ideal = !matches!(s.tooth.form, ToothForm::Anatomical(_));
        let careless = care == 0;
        let root = &mut s.tooth.root;
        root.length_mm = a[0].of(root.length_mm, 5.0, 35.0);
        root.mesiodistal_mm = a[1].of(root.mesiodistal_mm, 2.0, 18.0);
        root.buccolingual_mm = a[2].of(root.buccolingual_mm, 2.0, 18.0);
        if let Some(plan) = plan.filter(|_| careless || !ideal) {
            root.plan = plan;
        }
        if careless || !ideal {
            root.curvature_mm = a[3].of(root.curvature_mm, 0.0, 4.0);
        }
        if matches!(s.tooth.form, ToothForm::Paraboloid) && !careless {
            root.mesiodistal_mm = root.buccolingual_mm;
        }
        if !careless {
            root.mesiodistal_mm = root
                .mesiodistal_mm
                .clamp(root.buccolingual_mm / 3.0, 3.0 * root.buccolingual_mm)
                .clamp(2.0, 18.0);
            let half = 0.5 * root.mesiodistal_mm.min(root.buccolingual_mm);
            if ideal {
                root.length_mm = root.length_mm.min(half * half / 0.2).max(5.0);
            }
        }
        let half = 0.5 * root.mesiodistal_mm.min(root.buccolingual_mm);
        root.tip_radius_mm = a[4].of(root.tip_radius_mm, 0.3, if careless { 2.5 } else { half.min(2.5) });
        let furcation = if root.furcation_mm > 0.0 { root.furcation_mm } else { 0.35 * root.length_mm };
        root.furcation_mm =
            a[5].of(furcation, 1.5, if careless { 20.0 } else { (root.length_mm - 3.7).clamp(1.5, 20.0) });
        if !careless {
            let several = root.plan != RootPlan::Single;
            let bends = root.length_mm - if several { root.furcation_mm } else { 0.0 };
            root.curvature_mm = root.curvature_mm.min(0.4 * bends);
        }
        root.divergence_deg = a[6].of(root.divergence_deg, 0.0, 60.0);
        let (least_md, least_bl) =
            if careless { (2.0, 2.0) } else { (root.mesiodistal_mm, root.buccolingual_mm) };
        let crown = &mut s.tooth.crown;
        crown.height_mm = a[7].of(crown.height_mm, 3.0, 20.0);
        crown.mesiodistal_mm = a[8].of(crown.mesiodistal_mm, least_md, 20.0);
        crown.buccolingual_mm = a[9].of(crown.buccolingual_mm, least_bl, 20.0);
        let height = crown.height_mm;
        let ligament = &mut s.ligament;
        ligament.thickness_mm = a[10].of(ligament.thickness_mm, 0.05, 0.6);
        ligament.mid_thickness_mm = a[11].of(ligament.mid_thickness_mm, 0.05, 0.6);
        ligament.layers = layers;
        if careless || ideal || profile != LigamentProfile::Stretched {
            ligament.profile = profile;
        }
        let bone = &mut s.bone;
        if careless || !ideal {
            bone.crest_below_cej_mm = a[12].of(bone.crest_below_cej_mm, 0.0, 8.0);
        }
        let left = s.tooth.root.length_mm - bone.crest_below_cej_mm - 2.0;
        bone.loss_mm = a[13].of(0.0, 0.0, if careless { 30.0 } else { left.clamp(0.0, 30.0) });
        bone.buccal_plate_mm = a[14].of(bone.buccal_plate_mm, 0.3, 15.0);
        bone.lingual_plate_mm = a[15].of(bone.lingual_plate_mm, 0.3, 15.0);
        bone.interdental_mm = a[16].of(bone.interdental_mm, 0.3, 15.0);
        bone.below_apex_mm = a[17].of(bone.below_apex_mm, 0.5, 25.0);
        bone.cortical_mm = a[18].of(bone.cortical_mm, 0.2, 5.0);
        let cej = bone.crest_below_cej_mm + bone.loss_mm;
        let attachment = &mut s.attachment;
        let (low, high) = (cej.max(0.2), cej + height - 0.5);
        attachment.height_mm = match a[19] {
            Amount::Default => 0.5 * (low + high),
            _ if careless => a[19].of(attachment.height_mm, 0.0, 50.0),
            other => other.of(0.5 * (low + high), low, high),
        };
        attachment.footprint_height_mm = a[20].of(attachment.footprint_height_mm, 0.3, 10.0);
        attachment.footprint_width_mm = a[21].of(attachment.footprint_width_mm, 0.3, 10.0);
        attachment.face = face;
        s.mesh.element_size_mm = size;
        s
    })
}

/// A material: a modulus over six orders of magnitude, a Poisson ratio from strongly auxetic to nearly incompressible.
pub fn material() -> impl Strategy<Value = Material> {
    let ratio = prop_oneof![
        4 => 0.0..0.49,
        2 => (1e-4..1e-2_f64).prop_map(|left| 0.5 - left),
        1 => Just(0.4999),
        1 => -0.9..0.0,
    ];
    (-2.0..4.0_f64, ratio)
        .prop_map(|(power, poisson_ratio)| Material { modulus_mpa: 10.0_f64.powf(power), poisson_ratio })
}

/// Materials: the defaults with another ligament, or every body drawn.
///
/// # Panics
/// If an elastic constant has no range.
pub fn materials() -> impl Strategy<Value = Materials> {
    let defaults = Materials::default();
    prop_oneof![
        material().prop_map(move |ligament| Materials { ligament, ..defaults }),
        (material(), material(), material(), material()).prop_map(
            move |(tooth, ligament, cancellous, cortical)| {
                // A tooth or bone as soft as a ligament is no tooth or bone: each has a range of its own.
                let hard = |material: Material, body: &str| {
                    let within = |name: &str, value: f64| {
                        let key = format!("materials.{body}.{name}");
                        let range = Constant::of(&key).expect("a key of the table");
                        value.clamp(range.low, range.high)
                    };
                    Material {
                        modulus_mpa: within("modulus_mpa", (100.0 * material.modulus_mpa).min(2e5)),
                        poisson_ratio: within("poisson_ratio", material.poisson_ratio),
                    }
                };
                Materials {
                    tooth: hard(tooth, "tooth"),
                    ligament,
                    cancellous_bone: hard(cancellous, "cancellous_bone"),
                    cortical_bone: hard(cortical, "cortical_bone"),
                }
            }
        ),
    ]
}
