//! The range of every number of a specification, as data: the check, the manual and the advice of a refusal read the
//! same table. Ranges hold every value measured in human teeth with room around it (handbook extremes; common practice,
//! no source).

use super::{RootPlan, ToothForm, ToothInSocket};
use crate::error::MeshError;

/// The allowed values of one number, both ends included.
#[derive(Debug, Clone, Copy)]
pub struct Range {
    /// Dotted key of the case file.
    pub key: &'static str,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    get: fn(&ToothInSocket) -> f64,
    set: fn(&mut ToothInSocket, f64),
    used: fn(&ToothInSocket) -> bool,
}

impl Range {
    /// The range of a key; `None` for keys that hold no number of a specification.
    #[must_use]
    pub fn of(key: &str) -> Option<&'static Self> {
        RANGES.iter().find(|range| range.key == key)
    }

    /// The value in a specification.
    #[must_use]
    pub fn get(&self, spec: &ToothInSocket) -> f64 {
        (self.get)(spec)
    }

    /// Puts a value into a specification.
    pub fn set(&self, spec: &mut ToothInSocket, value: f64) {
        (self.set)(spec, value);
    }

    /// Does the value matter in this specification?
    #[must_use]
    pub fn is_used(&self, spec: &ToothInSocket) -> bool {
        (self.used)(spec)
    }

    /// Checks the value in a specification.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`]; not-a-number is in no range.
    pub fn check(&self, spec: &ToothInSocket) -> Result<(), MeshError> {
        let (value, Self { key, low, high, .. }) = (self.get(spec), *self);
        if !self.is_used(spec) || (low..=high).contains(&value) {
            return Ok(());
        }
        Err(MeshError::OutOfRange { key, value, allowed: format!("it must lie between {low} and {high}") })
    }
}

const fn always(_: &ToothInSocket) -> bool {
    true
}

fn is_anatomical(spec: &ToothInSocket) -> bool {
    matches!(spec.tooth.form, ToothForm::Anatomical(_))
}

fn has_several_roots(spec: &ToothInSocket) -> bool {
    spec.tooth.root.plan != RootPlan::Single
}

macro_rules! range {
    ($key:literal, $low:expr, $high:expr, $($field:ident).+) => {
        range!($key, $low, $high, $($field).+, always)
    };
    ($key:literal, $low:expr, $high:expr, $($field:ident).+, $used:expr) => {
        Range {
            key: $key,
            low: $low,
            high: $high,
            get: |spec| spec.$($field).+,
            set: |spec, value| spec.$($field).+ = value,
            used: $used,
        }
    };
}

/// The ranges, in the order in which they are checked.
pub static RANGES: &[Range] = &[
    range!("crown.height_mm", 3.0, 20.0, tooth.crown.height_mm),
    range!("crown.mesiodistal_mm", 2.0, 20.0, tooth.crown.mesiodistal_mm),
    range!("crown.buccolingual_mm", 2.0, 20.0, tooth.crown.buccolingual_mm),
    range!("root.length_mm", 5.0, 35.0, tooth.root.length_mm),
    range!("root.mesiodistal_mm", 2.0, 18.0, tooth.root.mesiodistal_mm),
    range!("root.buccolingual_mm", 2.0, 18.0, tooth.root.buccolingual_mm),
    range!("root.curvature_mm", 0.0, 4.0, tooth.root.curvature_mm),
    range!("root.tip_radius_mm", 0.3, 2.5, tooth.root.tip_radius_mm, is_anatomical),
    range!("root.furcation_mm", 1.5, 20.0, tooth.root.furcation_mm, has_several_roots),
    range!("root.divergence_deg", 0.0, 60.0, tooth.root.divergence_deg, has_several_roots),
    range!("ligament.thickness_mm", 0.05, 0.6, ligament.thickness_mm),
    range!("ligament.mid_thickness_mm", 0.05, 0.6, ligament.mid_thickness_mm),
    Range {
        key: "ligament.layers",
        low: 1.0,
        high: 8.0,
        get: |spec| f64::from(spec.ligament.layers),
        set: |spec, value| spec.ligament.layers = value as u32,
        used: always,
    },
    range!("bone.crest_below_cej_mm", 0.0, 8.0, bone.crest_below_cej_mm),
    range!("bone.loss_mm", 0.0, 30.0, bone.loss_mm),
    range!("bone.buccal_plate_mm", 0.3, 15.0, bone.buccal_plate_mm),
    range!("bone.lingual_plate_mm", 0.3, 15.0, bone.lingual_plate_mm),
    range!("bone.interdental_mm", 0.3, 15.0, bone.interdental_mm),
    range!("bone.below_apex_mm", 0.5, 25.0, bone.below_apex_mm),
    range!("bone.cortical_mm", 0.2, 5.0, bone.cortical_mm),
    range!("attachment.height_mm", 0.0, 50.0, attachment.height_mm),
    range!("attachment.footprint_height_mm", 0.3, 10.0, attachment.footprint_height_mm),
    range!("attachment.footprint_width_mm", 0.3, 10.0, attachment.footprint_width_mm),
    range!("mesh.element_size_mm", 0.1, 3.0, mesh.element_size_mm),
];
