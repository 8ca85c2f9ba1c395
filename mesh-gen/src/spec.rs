//! What a tooth in its socket is, in numbers: every dimension that the geometry and the mesh depend on,
//! complete (no option is left open) and checked. Defaults for each kind of tooth are in
//! [`ToothInSocket::handbook`].

mod advice;
pub(crate) mod check;
mod follow;
mod notation;
pub mod range;

use serde::{Deserialize, Serialize};

use crate::error::MeshError;
pub use notation::{Designation, Notation, Side};

/// A kind of permanent tooth: upper or lower, central incisor (1) to third molar (8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct ToothKind {
    upper: bool,
    position: u8,
}

const POSITION_NAMES: [&str; 8] = [
    "central incisor",
    "lateral incisor",
    "canine",
    "first premolar",
    "second premolar",
    "first molar",
    "second molar",
    "third molar",
];

impl ToothKind {
    /// The sixteen kinds, upper first, front to back.
    pub const ALL: [Self; 16] = {
        let mut all = [Self { upper: true, position: 1 }; 16];
        let mut i = 0;
        while i < 16 {
            all[i] = Self { upper: i < 8, position: (i % 8) as u8 + 1 };
            i += 1;
        }
        all
    };

    /// Upper jaw?
    #[must_use]
    pub const fn is_upper(self) -> bool {
        self.upper
    }

    /// 1 (central incisor) to 8 (third molar).
    #[must_use]
    pub const fn position(self) -> u8 {
        self.position
    }

    /// Name in words, for example `upper first premolar`.
    #[must_use]
    pub fn name(self) -> String {
        let jaw = if self.upper { "upper" } else { "lower" };
        format!("{jaw} {}", POSITION_NAMES[self.position as usize - 1])
    }

    /// Kind from its name in words or its number, as [`Designation::parse`] reads them (`14` and `24` are both the upper
    /// first premolar).
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Designation::parse(text).map(|found| found.kind)
    }
}

impl From<ToothKind> for String {
    fn from(kind: ToothKind) -> Self {
        kind.name()
    }
}

impl TryFrom<String> for ToothKind {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        Self::parse(&text).ok_or_else(|| format!("'{text}' is not the name of a permanent tooth"))
    }
}

/// The family of shapes a tooth is drawn from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ToothForm {
    /// A permanent tooth with crown, cervix and anatomical roots.
    Anatomical(ToothKind),
    /// Root rho = R sqrt(1 + z/h) below the crest, a plain stub above: the idealised root of the literature.
    /// R and h are `root.buccolingual_mm / 2` and `root.length_mm` (from crest to apex).
    Paraboloid,
    /// The same with different half axes across and along the arch.
    EllipticParaboloid,
}

/// How many roots, and how they are arranged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RootPlan {
    /// One root.
    Single,
    /// A buccal and a lingual root.
    BuccalLingual,
    /// A mesial and a distal root.
    MesialDistal,
    /// Two buccal roots (mesial and distal) and a palatal one.
    Three,
}

/// Crown dimensions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CrownSpec {
    /// From the cemento-enamel junction to the cusp tip or incisal edge, mm.
    pub height_mm: f64,
    /// Largest width along the arch, mm.
    pub mesiodistal_mm: f64,
    /// Largest width across the arch, mm.
    pub buccolingual_mm: f64,
}

/// Root dimensions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RootSpec {
    /// From the cemento-enamel junction (the crest for the idealised forms) to the deepest apex, mm.
    pub length_mm: f64,
    /// Width along the arch at the cervix, mm.
    pub mesiodistal_mm: f64,
    /// Width across the arch at the cervix, mm.
    pub buccolingual_mm: f64,
    /// Number and arrangement.
    pub plan: RootPlan,
    /// Depth of the furcation below the cemento-enamel junction, mm (unused for a single root).
    pub furcation_mm: f64,
    /// Angle between the axes of diverging roots, degrees (unused for a single root).
    pub divergence_deg: f64,
    /// How far the apex bends to distal, mm.
    pub curvature_mm: f64,
    /// Smallest radius of the rounded apex, mm.
    pub tip_radius_mm: f64,
}

/// A tooth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ToothSpec {
    /// Family of shapes.
    pub form: ToothForm,
    /// Crown.
    pub crown: CrownSpec,
    /// Root or roots.
    pub root: RootSpec,
}

/// How the ligament's thickness runs along the root.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LigamentProfile {
    /// The same normal to the root everywhere.
    Uniform,
    /// `thickness_mm` at crest and apex, `mid_thickness_mm` half-way, parabolic between.
    Hourglass,
    /// The socket is the root stretched about the crest's centre by `thickness_mm` at crest and apex
    /// (idealised forms only): about 0.7 of it normal to the root half-way.
    Stretched,
}

/// The periodontal ligament.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LigamentSpec {
    /// Thickness at crest and apex, mm.
    pub thickness_mm: f64,
    /// Thickness half-way, mm (hourglass only).
    pub mid_thickness_mm: f64,
    /// Law along the root.
    pub profile: LigamentProfile,
    /// Element layers through the thickness, 1 to 8.
    pub layers: u32,
}

/// The alveolar bone around the socket: a block of the ridge with a cortical shell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BoneSpec {
    /// Healthy crest below the cemento-enamel junction, mm (0 for the idealised forms).
    pub crest_below_cej_mm: f64,
    /// Horizontal bone loss: how much further down the crest lies, mm.
    pub loss_mm: f64,
    /// Bone between ligament and buccal face at the thinnest place, mm.
    pub buccal_plate_mm: f64,
    /// Bone between ligament and lingual face at the thinnest place, mm.
    pub lingual_plate_mm: f64,
    /// Bone between ligament and the mesial and distal cuts at the thinnest place, mm.
    pub interdental_mm: f64,
    /// Bone below the apex, mm.
    pub below_apex_mm: f64,
    /// Thickness of the cortical shell on buccal, lingual and crestal faces, mm.
    pub cortical_mm: f64,
}

/// A face of the crown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Face {
    /// Toward the cheek or lip (+x).
    Buccal,
    /// Toward the tongue or palate (-x).
    Lingual,
    /// Toward the midline along the arch (+y).
    Mesial,
    /// Away from it (-y).
    Distal,
}

/// Where the crown is pushed: the footprint of an attachment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AttachmentSpec {
    /// Face of the crown that carries it.
    pub face: Face,
    /// Height of its centre above the crest, mm.
    pub height_mm: f64,
    /// Size of the footprint along the occluso-gingival direction, mm.
    pub footprint_height_mm: f64,
    /// Size of the footprint across, mm.
    pub footprint_width_mm: f64,
}

/// Default element size, mm: the error estimated from it stays near one percent for every kind of tooth. Larger sizes
/// leave the root as it is and make only the crown coarser.
pub const DEFAULT_ELEMENT_SIZE_MM: f64 = 1.2;

/// Default growth of the edge length with the distance from the root, mm per mm.
pub const DEFAULT_GROWTH: f64 = 1.0;

/// Resolution.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeshSpec {
    /// Target edge length on the root surface, mm.
    pub element_size_mm: f64,
    /// What each millimetre away from the root and its socket adds to the edge length, mm.
    pub growth: f64,
}

/// Everything the mesh of a tooth in its socket depends on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ToothInSocket {
    /// The tooth.
    pub tooth: ToothSpec,
    /// Its ligament.
    pub ligament: LigamentSpec,
    /// The bone around it.
    pub bone: BoneSpec,
    /// Where the crown is pushed.
    pub attachment: AttachmentSpec,
    /// Resolution.
    pub mesh: MeshSpec,
}

impl ToothInSocket {
    /// Height of the crest in the frame whose origin is the cemento-enamel junction, mm (negative).
    #[must_use]
    pub fn crest_z_from_cej_mm(&self) -> f64 {
        -(self.bone.crest_below_cej_mm + self.bone.loss_mm)
    }

    /// Root inside the bone, crest to deepest apex, mm.
    #[must_use]
    pub fn bony_root_mm(&self) -> f64 {
        self.tooth.root.length_mm + self.crest_z_from_cej_mm()
    }

    /// Checks every value and the shape they make together.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] or [`MeshError::Impossible`], naming the case key.
    pub fn check(&self) -> Result<(), MeshError> {
        check::check(self)
    }
}
