//! The rule of five degrees put to the test: how much root torque undoes the tip of a push, tooth by tooth, with the spread
//! that anatomy, crest, ligament and attachment bring.
//!
//! The centre value is computed with elastic bodies, the spread with rigid ones, whose tip per millimetre differs by less
//! than is printed (each tooth says by how much).

mod report;
mod run;
mod spread;

pub(crate) use report::{chart, csv, json, text};
pub(crate) use run::{Options, Work};

use crate::case::Case;
use crate::study::missing::Lost;

/// The rule of thumb: degrees of buccal root torque for each millimetre of expansion (common practice, no source). It does not
/// say whose millimetre; here it is that of one tooth, a side of the arch.
pub(crate) const RULE_DEG_PER_MM: f64 = crate::study::charts::RULE_DEG_PER_MM;

/// Which millimetre, in plain words.
pub(crate) const WHOSE_MM: &str = "Millimetres are those of one tooth, per side: an arch that widens by 1 mm moves each side by half of it, \
    so five degrees per mm of arch width would be ten per mm per side.";

/// What is taken for granted, in plain words; printed wherever a number of degrees is.
pub(crate) const ASSUMPTION: &str = "Assumed: the appliance delivers the push but not the couple, and the aligner's own stiffness is not in the model.";

/// The numbers of one tooth under a push without torque.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Numbers {
    /// Degrees of tip, and so of root torque that undoes it, for each millimetre that the axis travels at the attachment's
    /// height, at the cusp tip and at the crest.
    pub(crate) tip_rates: [f64; 3],
    /// Torque over force that makes the tooth translate, at the attachment, mm.
    pub(crate) translation_mm: f64,
    /// Travel at the attachment with that torque, of that under the push alone, percent.
    pub(crate) travel_left_percent: f64,
    /// Centre of rotation below the crest, mm.
    pub(crate) rotation_depth_mm: f64,
    /// Centre of resistance below the crest, mm.
    pub(crate) resistance_depth_mm: f64,
    /// Height of the attachment and of the cusp tip above the crest, mm.
    pub(crate) heights_mm: [f64; 2],
}

/// Spread of the numbers that have one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spread {
    /// Lower and upper end for each place of [`Numbers::tip_rates`].
    pub(crate) tip_rates: [[f64; 2]; 3],
    /// Lower and upper end of the torque over force.
    pub(crate) translation_mm: [f64; 2],
    /// Lower and upper end of the travel that is left.
    pub(crate) travel_left_percent: [f64; 2],
    /// Teeth it comes from, each a mesh of its own.
    pub(crate) teeth: usize,
    /// Cases it comes from: each tooth with its ligaments and heights of the attachment.
    pub(crate) cases: usize,
}

/// Where spread comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    /// All together.
    All,
    /// Sizes of crown and root.
    Anatomy,
    /// Level of the crest.
    Crest,
    /// Published constants of the ligament.
    Ligament,
    /// Height of the attachment.
    Attachment,
}

impl Source {
    /// All of them, in the order in which they are shown.
    pub(crate) const ALL: [Self; 5] =
        [Self::All, Self::Anatomy, Self::Crest, Self::Ligament, Self::Attachment];

    /// What it is called in JSON and CSV.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Anatomy => "anatomy",
            Self::Crest => "crest",
            Self::Ligament => "ligament",
            Self::Attachment => "attachment",
        }
    }
}

/// What the figure of a compensation is about, and all that tells it from another.
pub(crate) fn about_teeth<'a>(names: impl Iterator<Item = &'a str>) -> [String; 2] {
    let names: Vec<&str> = names.collect();
    let subject = match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first, rest @ ..] => format!("{first} and {} more", rest.len()),
    };
    [subject, names.join(", ")]
}

/// The same from the document of a finished compensation.
pub(crate) fn about(document: &serde_json::Value) -> [String; 2] {
    let teeth = document["teeth"].as_array().map(Vec::as_slice).unwrap_or_default();
    about_teeth(teeth.iter().filter_map(|tooth| tooth["tooth"].as_str()))
}

/// What was found for one tooth.
#[derive(Debug, Clone)]
pub(crate) struct Finding {
    /// The case.
    pub(crate) case: Case,
    /// Elastic bodies, as the case is.
    pub(crate) centre: Numbers,
    /// Error of the mesh of the three values of [`Numbers::tip_rates`], of the torque over force and of the travel that is
    /// left, percent.
    pub(crate) error_percent: [Option<f64>; 5],
    /// Largest difference of the rigid tier to the centre value over the three places, percent.
    pub(crate) rigid_percent: f64,
    /// Spread from each source, in the order of [`Source::ALL`].
    pub(crate) spreads: [Spread; 5],
    /// Bone loss in mm beyond the case's own, with the numbers; what cannot be meshed is left out.
    pub(crate) losses: Vec<(f64, Numbers)>,
    /// A root a fifth shorter; none if it cannot be meshed.
    pub(crate) short_root: Option<Numbers>,
    /// Draws that make no tooth, by cause, and which side of what was drawn is missing.
    pub(crate) dropped: Vec<Lost>,
}

impl Finding {
    /// Spread from all sources together.
    pub(crate) fn spread(&self) -> &Spread {
        &self.spreads[0]
    }

    /// Upper jaw?
    pub(crate) fn is_upper(&self) -> bool {
        match self.case.specimen.tooth.form {
            gomphosis_mesh_gen::ToothForm::Anatomical(kind) => kind.is_upper(),
            _ => true,
        }
    }
}

#[cfg(test)]
#[path = "compensate/tests.rs"]
mod tests;
