//! Average dimensions of the permanent teeth, and the defaults made from them.

use crate::spec::{
    AttachmentSpec, BoneSpec, CrownSpec, DEFAULT_ELEMENT_SIZE_MM, DEFAULT_GROWTH, Face, LigamentProfile,
    LigamentSpec, MeshSpec, RootPlan, RootSpec, ToothForm, ToothInSocket, ToothKind, ToothSpec,
};

/// One row of the table, mm: crown height, root length (of the longest root), mesio-distal width of crown and
/// cervix, bucco-lingual width of crown and cervix.
///
/// Source: Ash & Nelson, Wheeler's Dental Anatomy, Physiology and Occlusion, table "measurements of the
/// teeth" (values partly from memory).
#[rustfmt::skip]
const TABLE: [[f64; 6]; 16] = [
    // crown  root   MD    MD cervix  BL   BL cervix
    [10.5, 13.0,  8.5, 7.0,  7.0,  6.0],
    [ 9.0, 13.0,  6.5, 5.0,  6.0,  5.0],
    [10.0, 17.0,  7.5, 5.5,  8.0,  7.0],
    [ 8.5, 14.0,  7.0, 5.0,  9.0,  8.0],
    [ 8.5, 14.0,  7.0, 5.0,  9.0,  8.0],
    [ 7.5, 13.0, 10.0, 8.0, 11.0, 10.0],
    [ 7.0, 12.0,  9.0, 7.0, 11.0, 10.0],
    [ 6.5, 11.0,  8.5, 6.5, 10.0,  9.5],
    [ 9.0, 12.5,  5.0, 3.5,  6.0,  5.3],
    [ 9.5, 14.0,  5.5, 4.0,  6.5,  5.8],
    [11.0, 16.0,  7.0, 5.5,  7.5,  7.0],
    [ 8.5, 14.0,  7.0, 5.0,  7.5,  6.5],
    [ 8.0, 14.5,  7.0, 5.0,  8.0,  7.0],
    [ 7.5, 14.0, 11.0, 9.0, 10.5,  9.0],
    [ 7.0, 13.0, 10.5, 8.0, 10.0,  9.0],
    [ 7.0, 11.0, 10.0, 7.5,  9.5,  9.0],
];

fn row(kind: ToothKind) -> [f64; 6] {
    TABLE[if kind.is_upper() { 0 } else { 8 } + usize::from(kind.position()) - 1]
}

/// Root plan, furcation depth below the cemento-enamel junction (mm) and divergence (degrees).
///
/// Upper molars: furcation 3.6 mesial, 4.2 facial, 4.8 mm distal (20 first molars); 29 degrees between the
/// roots in the distal view. Lower molars: roots part 3.3 mm below the junction, at 16 degrees in the lingual
/// view (359 molars; buccal trunk 3.07, lingual 3.54 mm in 96 teeth). Upper first premolar: bifurcated in
/// its apical part; depth and divergence from memory (trunks of 100 two-rooted teeth were shorter: 6.0 mm without
/// and 7.4 mm with a ridge in the furcation; Dababneh and Rodan 2013, J Int Acad Periodontol 15:8-15).
fn roots(kind: ToothKind) -> (RootPlan, f64, f64) {
    match (kind.is_upper(), kind.position()) {
        (true, 4) => (RootPlan::BuccalLingual, 8.4, 14.0),
        (true, 6) => (RootPlan::Three, 4.2, 29.0),
        (true, 7) => (RootPlan::Three, 4.2, 22.0),
        (true, 8) => (RootPlan::Three, 4.2, 18.0),
        (false, 6) => (RootPlan::MesialDistal, 3.3, 16.0),
        (false, 7) => (RootPlan::MesialDistal, 3.3, 14.0),
        (false, 8) => (RootPlan::MesialDistal, 3.3, 12.0),
        _ => (RootPlan::Single, 0.0, 0.0),
    }
}

/// Thinnest bone buccal and lingual of the ligament, mm. Upper premolars: 1.41 and 1.72 at 1 mm below the
/// crest (J Oral Implantol 43, 2017, 261-265); upper front teeth: 0.96 mid-root (J Oral Maxillofac Res 10,
/// 2019, e4); the others: common practice, no source.
fn plates(kind: ToothKind) -> (f64, f64) {
    match (kind.is_upper(), kind.position()) {
        (true, 1..=3) => (1.0, 2.0),
        (true, 4) => (1.4, 1.8),
        (true, 5) => (1.7, 1.8),
        (true, _) => (2.0, 1.8),
        (false, 1..=2) => (1.0, 1.2),
        (false, 3) => (1.0, 1.8),
        (false, 4..=5) => (1.5, 2.0),
        (false, _) => (2.5, 2.0),
    }
}

/// Smallest radius of an apex by default, mm (from memory).
const TIP_RADIUS_MM: f64 = 0.6;

impl ToothInSocket {
    /// The average tooth of a kind in healthy bone, with the attachment at mid-crown on the buccal face.
    #[must_use]
    pub fn handbook(kind: ToothKind) -> Self {
        let [crown_height, root_length, md, md_cervix, bl, bl_cervix] = row(kind);
        let (plan, furcation_mm, divergence_deg) = roots(kind);
        let (buccal_plate_mm, lingual_plate_mm) = plates(kind);
        // Between 0.4 and 1.9 mm, the 95 % limits of bite-wings of sites without loss of attachment (Hausmann, Allen and
        // Clerehugh 1991, J Periodontol 62:570-572).
        let crest_below_cej_mm = 1.5;
        Self {
            tooth: ToothSpec {
                form: ToothForm::Anatomical(kind),
                crown: CrownSpec { height_mm: crown_height, mesiodistal_mm: md, buccolingual_mm: bl },
                root: RootSpec {
                    length_mm: root_length,
                    mesiodistal_mm: md_cervix,
                    buccolingual_mm: bl_cervix,
                    plan,
                    furcation_mm,
                    divergence_deg,
                    curvature_mm: if plan == RootPlan::Single { 0.5 } else { 0.0 },
                    tip_radius_mm: TIP_RADIUS_MM,
                },
            },
            ligament: default_ligament(),
            bone: BoneSpec {
                crest_below_cej_mm,
                loss_mm: 0.0,
                buccal_plate_mm,
                lingual_plate_mm,
                ..default_bone()
            },
            attachment: AttachmentSpec {
                height_mm: crest_below_cej_mm + 0.5 * crown_height,
                ..default_attachment()
            },
            mesh: MeshSpec { element_size_mm: DEFAULT_ELEMENT_SIZE_MM, growth: DEFAULT_GROWTH },
        }
    }

    /// The paraboloid root of revolution used by several authors: 13 mm deep, radius 3.9 mm at the crest,
    /// ligament 0.229 mm (Haack & Haft 1972; Provatidis 1999-2001; from memory), in a wide block of bone.
    #[must_use]
    pub fn paraboloid() -> Self {
        Self::ideal(ToothForm::Paraboloid, 7.8, 7.8)
    }

    /// An elliptic paraboloid root: as [`Self::paraboloid`], 7.8 mm across and 5.2 mm along the arch (our own
    /// ratio of axes).
    #[must_use]
    pub fn elliptic_paraboloid() -> Self {
        Self::ideal(ToothForm::EllipticParaboloid, 7.8, 5.2)
    }

    fn ideal(form: ToothForm, buccolingual_mm: f64, mesiodistal_mm: f64) -> Self {
        Self {
            tooth: ToothSpec {
                form,
                crown: CrownSpec { height_mm: 9.0, mesiodistal_mm, buccolingual_mm },
                root: RootSpec {
                    length_mm: 13.0,
                    mesiodistal_mm,
                    buccolingual_mm,
                    plan: RootPlan::Single,
                    furcation_mm: 0.0,
                    divergence_deg: 0.0,
                    curvature_mm: 0.0,
                    tip_radius_mm: mesiodistal_mm * mesiodistal_mm / 4.0 / 26.0,
                },
            },
            ligament: LigamentSpec { thickness_mm: 0.229, mid_thickness_mm: 0.16, ..default_ligament() },
            bone: BoneSpec { buccal_plate_mm: 3.0, lingual_plate_mm: 3.0, ..default_bone() },
            attachment: AttachmentSpec { height_mm: 5.0, ..default_attachment() },
            mesh: MeshSpec { element_size_mm: DEFAULT_ELEMENT_SIZE_MM, growth: DEFAULT_GROWTH },
        }
    }
}

/// Thickness 0.2 mm, the middle of the 0.15 to 0.38 mm found in man (Orban, second-hand); 0.15 mm half-way
/// where the hourglass profile is asked (from memory).
fn default_ligament() -> LigamentSpec {
    LigamentSpec { thickness_mm: 0.2, mid_thickness_mm: 0.15, profile: LigamentProfile::Uniform, layers: 2 }
}

/// Block of ridge: common practice, no source.
fn default_bone() -> BoneSpec {
    BoneSpec {
        crest_below_cej_mm: 0.0,
        loss_mm: 0.0,
        buccal_plate_mm: 2.0,
        lingual_plate_mm: 2.0,
        interdental_mm: 2.5,
        below_apex_mm: 4.0,
        cortical_mm: 1.5,
    }
}

/// A rectangular attachment 3 mm wide (Angle Orthod 89, 2019, 679) and 2 mm high (from memory).
fn default_attachment() -> AttachmentSpec {
    AttachmentSpec { face: Face::Buccal, height_mm: 5.0, footprint_height_mm: 2.0, footprint_width_mm: 3.0 }
}
