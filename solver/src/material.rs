//! Linear elastic materials and published values. Knows nothing of meshes but the regions' names.

use gomphosis_mesh_gen::Region;
use serde::{Deserialize, Serialize};

use crate::error::SolverError;

/// An isotropic linear elastic material.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Young's modulus, MPa.
    pub modulus_mpa: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
}

impl Material {
    /// A checked material.
    ///
    /// # Errors
    /// [`SolverError::OutOfRange`] unless both are in the widest ranges of [`CONSTANTS`].
    pub fn new(modulus_mpa: f64, poisson_ratio: f64) -> Result<Self, SolverError> {
        let material = Self { modulus_mpa, poisson_ratio };
        material.check("material")?;
        Ok(material)
    }

    /// Checks both values; `key` is the dotted case key of the material.
    ///
    /// # Errors
    /// [`SolverError::OutOfRange`].
    pub fn check(&self, key: &str) -> Result<(), SolverError> {
        for (name, value, widest) in [
            ("modulus_mpa", self.modulus_mpa, &ANY_MODULUS),
            ("poisson_ratio", self.poisson_ratio, &ANY_RATIO),
        ] {
            let key = format!("{key}.{name}");
            let range = Constant::of(&key).unwrap_or(widest);
            // NaN is in no range.
            if !(range.low..=range.high).contains(&value) {
                return Err(SolverError::OutOfRange { key, value, allowed: range.allowed });
            }
        }
        Ok(())
    }

    /// Lamé constants `(lambda, mu)`, MPa: `lambda = E nu / ((1 + nu)(1 - 2 nu))`, `mu = E / (2 (1 + nu))`.
    #[must_use]
    pub fn lame(&self) -> (f64, f64) {
        let Self { modulus_mpa: e, poisson_ratio: nu } = *self;
        (e * nu / ((1.0 + nu) * (1.0 - 2.0 * nu)), e / (2.0 * (1.0 + nu)))
    }

    /// Bulk modulus `K = E / (3 (1 - 2 nu))`, MPa.
    #[must_use]
    pub fn bulk_modulus(&self) -> f64 {
        self.modulus_mpa / (3.0 * (1.0 - 2.0 * self.poisson_ratio))
    }
}

/// The allowed values of one elastic constant, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constant {
    /// Dotted key of the case file.
    pub key: &'static str,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// The range as a sentence without a full stop.
    pub allowed: &'static str,
}

impl Constant {
    /// The range of a key; `None` for keys that hold no elastic constant.
    #[must_use]
    pub fn of(key: &str) -> Option<&'static Self> {
        CONSTANTS.iter().find(|range| range.key == key)
    }
}

macro_rules! constant {
    ($key:literal, $low:literal, $high:literal $(, $unit:literal)?) => {
        Constant {
            key: $key,
            low: $low,
            high: $high,
            allowed: concat!("it must lie between ", $low, " and ", $high $(, " ", $unit)?),
        }
    };
}

#[allow(clippy::unreadable_literal, reason = "messages show the digits as they stand")]
const ANY_MODULUS: Constant = constant!("modulus_mpa", 0.001, 1000000.0, "MPa");
const ANY_RATIO: Constant = constant!("poisson_ratio", -0.9, 0.4999);

/// The ranges of the elastic constants. Published ligaments lie between 0.01 and 1,750 MPa (from memory); steel has 200,000
/// MPa, and ten times that is rigid in all but name. Softer ligaments in harder bodies would leave double precision too few digits, and so would a Poisson ratio
/// nearer 0.5: the ligament's own element does not lock at 0.4999, those of tooth and bone are plain ones. Below -0.9 shear
/// is so much stiffer than the change of volume that nothing is known to behave so.
#[allow(clippy::unreadable_literal, reason = "messages show the digits as they stand")]
pub static CONSTANTS: &[Constant] = &[
    constant!("materials.ligament.modulus_mpa", 0.01, 10000.0, "MPa"),
    constant!("materials.ligament.poisson_ratio", -0.9, 0.4999),
    constant!("materials.tooth.modulus_mpa", 100.0, 2000000.0, "MPa"),
    constant!("materials.tooth.poisson_ratio", -0.9, 0.49),
    constant!("materials.cancellous_bone.modulus_mpa", 1.0, 2000000.0, "MPa"),
    constant!("materials.cancellous_bone.poisson_ratio", -0.9, 0.49),
    constant!("materials.cortical_bone.modulus_mpa", 1.0, 2000000.0, "MPa"),
    constant!("materials.cortical_bone.poisson_ratio", -0.9, 0.49),
];

/// One material a body.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Materials {
    /// The tooth: dentine throughout.
    pub tooth: Material,
    /// The periodontal ligament.
    pub ligament: Material,
    /// Cancellous bone.
    pub cancellous_bone: Material,
    /// Cortical bone.
    pub cortical_bone: Material,
}

impl Default for Materials {
    /// Values in wide use in finite-element work on teeth: dentine 18,600 MPa / 0.31 and cancellous bone 1,370 / 0.30 as in
    /// Moga et al. 2023, Int J Environ Res Public Health 20:1889, table 1; cortical bone 13,700 / 0.30 as in table 3 of
    /// PMC4946000. Ligament 0.10 / 0.45
    /// (Vollmer et al. 1999, the pair from memory): of the published linear sets it is one that reproduces the
    /// in-vivo mobility measured by Jones et al. 2001 (0.39 N moved the crowns of ten volunteers by 0.012
    /// to 0.133 mm) with a ligament of ordinary thickness.
    fn default() -> Self {
        let of = |modulus_mpa, poisson_ratio| Material { modulus_mpa, poisson_ratio };
        Self {
            tooth: of(18_600.0, 0.31),
            ligament: of(0.10, 0.45),
            cancellous_bone: of(1_370.0, 0.30),
            cortical_bone: of(13_700.0, 0.30),
        }
    }
}

impl Materials {
    /// The material of a region.
    #[must_use]
    pub fn of(&self, region: Region) -> Material {
        match region {
            Region::Tooth => self.tooth,
            Region::Ligament => self.ligament,
            Region::CancellousBone => self.cancellous_bone,
            Region::CorticalBone => self.cortical_bone,
        }
    }

    /// Checks all four materials.
    ///
    /// # Errors
    /// [`SolverError::OutOfRange`] with the key `materials.<body>.<value>`.
    pub fn check(&self) -> Result<(), SolverError> {
        self.tooth.check("materials.tooth")?;
        self.ligament.check("materials.ligament")?;
        self.cancellous_bone.check("materials.cancellous_bone")?;
        self.cortical_bone.check("materials.cortical_bone")
    }
}

/// A published pair of ligament constants.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PublishedLigament {
    /// Short name: first author and year.
    pub name: &'static str,
    /// The constants.
    pub material: Material,
    /// Where they come from.
    pub source: &'static str,
}

const fn published(
    name: &'static str,
    modulus_mpa: f64,
    poisson_ratio: f64,
    source: &'static str,
) -> PublishedLigament {
    PublishedLigament { name, material: Material { modulus_mpa, poisson_ratio }, source }
}

/// Linear ligament constants from the literature. They span three orders of magnitude: a pair belongs to
/// the thickness and the experiment of its own paper.
pub const PUBLISHED_LIGAMENTS: [PublishedLigament; 8] = [
    published(
        "vollmer_1999",
        0.10,
        0.45,
        "Vollmer et al. 1999, Eur J Orthod 21:633-648, idealised and real canines (the pair from memory)",
    ),
    published("jones_2001", 1.0, 0.45, "Jones et al. 2001, J Orthod 28:29-38, doi 10.1093/ortho/28.1.29"),
    published(
        "tanne_1987",
        0.67,
        0.49,
        "Tanne et al. 1987, Am J Orthod Dentofacial Orthop 92:499-505 (from memory)",
    ),
    published("provatidis_2000", 0.68, 0.49, "Provatidis 2000 (from memory)"),
    published(
        "kojima_2005",
        0.13,
        0.45,
        "Kojima and Fukui 2005, Am J Orthod Dentofacial Orthop 127:542-551 (the pair from memory)",
    ),
    published("andersen_1991", 0.07, 0.49, "Andersen et al. 1991 (from memory)"),
    published(
        "poppe_2002",
        0.05,
        0.30,
        "Poppe, Bourauel and Jäger 2002, J Orofac Orthop 63:358-370, doi 10.1007/s00056-002-0067-8: first branch of a bilinear law fitted to eight human jaw specimens",
    ),
    published("yettram_1977", 0.18, 0.49, "Yettram et al. 1977 (from memory)"),
];

/// Finds a published pair by its name.
#[must_use]
pub fn published_ligament(name: &str) -> Option<&'static PublishedLigament> {
    PUBLISHED_LIGAMENTS.iter().find(|set| set.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lame_constants_agree_with_shear_and_oedometric_moduli() {
        // Handbook identities: M = lambda + 2 mu = E (1 - nu) / ((1 + nu)(1 - 2 nu)), K = lambda + 2 mu / 3.
        let steel = Material::new(210_000.0, 0.3).expect("steel is admissible");
        let (lambda, mu) = steel.lame();
        approx::assert_relative_eq!(lambda + 2.0 * mu, 210_000.0 * 0.7 / (1.3 * 0.4), max_relative = 1e-14);
        approx::assert_relative_eq!(lambda + 2.0 * mu / 3.0, steel.bulk_modulus(), max_relative = 1e-14);
    }

    #[test]
    fn inadmissible_values_are_refused_by_key() {
        for (e, nu, key) in [
            (0.0, 0.3, "material.modulus_mpa"),
            (f64::NAN, 0.3, "material.modulus_mpa"),
            (1.0, 0.5, "material.poisson_ratio"),
            (1.0, f64::NAN, "material.poisson_ratio"),
        ] {
            match Material::new(e, nu) {
                Err(SolverError::OutOfRange { key: found, .. }) => assert_eq!(found, key),
                other => panic!("{e} {nu} gave {other:?}"),
            }
        }
    }

    #[test]
    fn published_sets_are_admissible_and_named_once() {
        for set in PUBLISHED_LIGAMENTS {
            set.material.check(set.name).expect("published values are admissible");
            assert_eq!(published_ligament(set.name), Some(&set));
        }
    }
}
