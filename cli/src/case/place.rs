//! The place of the attachment on the crown. Three keys tell it, and whichever is given stays as it is when crest, crown or
//! bone loss change: above the crest it moves along the crown with the crest, the other two stay at one place of the crown.

use gomphosis_mesh_gen::ToothInSocket;

use super::Case;

/// Height above the crest.
pub(crate) const ABOVE_CREST: &str = "attachment.height_mm";
/// Height above the cemento-enamel junction.
pub(crate) const FROM_JUNCTION: &str = "attachment.height_from_cej_mm";
/// The same as a share of the crown.
pub(crate) const SHARE: &str = "attachment.height_share";
/// The three keys, of which one file gives at most one.
pub(crate) const KEYS: [&str; 3] = [ABOVE_CREST, FROM_JUNCTION, SHARE];

/// The place as a case says it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) enum Place {
    /// Nothing is said: the handbook's share of the crown.
    #[default]
    Handbook,
    /// Above the crest, as the specimen holds it.
    AboveCrest,
    /// Above the cemento-enamel junction, mm.
    FromJunction(f64),
    /// A share of the crown.
    Share(f64),
}

impl Place {
    /// The key that says it; none where nothing is said.
    pub(crate) fn key(self) -> Option<&'static str> {
        match self {
            Self::Handbook => None,
            Self::AboveCrest => Some(ABOVE_CREST),
            Self::FromJunction(_) => Some(FROM_JUNCTION),
            Self::Share(_) => Some(SHARE),
        }
    }

    /// A height above the crest in the terms of this place, to a thousandth, rounded to the inside of the crown.
    pub(super) fn advised(self, specimen: &ToothInSocket, above_crest_mm: f64) -> f64 {
        let mut there = *specimen;
        there.attachment.height_mm = above_crest_mm;
        let value = match self {
            Self::Handbook | Self::AboveCrest => above_crest_mm,
            Self::FromJunction(_) => there.attachment_from_cej_mm(),
            Self::Share(_) => there.attachment_share(),
        };
        // A value that is too high is advised to come down, and must not end a little above the bound.
        let thousandths = 1000.0 * value;
        let down = specimen.attachment.height_mm > above_crest_mm;
        if down { (thousandths + 1e-6).floor() / 1000.0 } else { (thousandths - 1e-6).ceil() / 1000.0 }
    }

    /// A specimen with its attachment at this place; `None` where nothing is said.
    pub(super) fn on(self, specimen: &ToothInSocket) -> Option<ToothInSocket> {
        match self {
            Self::Handbook => None,
            Self::AboveCrest => Some(*specimen),
            Self::FromJunction(mm) => Some(specimen.with_attachment_from_cej(mm)),
            Self::Share(share) => Some(specimen.with_attachment_share(share)),
        }
    }
}

/// The three heights of a case under the names of their keys: as it was given where it was given, so that a printed case
/// reads back to the same bits.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[expect(clippy::struct_field_names, reason = "they are the names of the keys")]
pub(crate) struct Heights {
    /// Above the crest, mm.
    pub(crate) height_mm: f64,
    /// Above the cemento-enamel junction, mm.
    pub(crate) height_from_cej_mm: f64,
    /// Share of the crown.
    pub(crate) height_share: f64,
}

impl Heights {
    /// Those of a case.
    pub(crate) fn of(case: &Case) -> Self {
        let specimen = &case.specimen;
        let mut heights = Self {
            height_mm: specimen.attachment.height_mm,
            height_from_cej_mm: specimen.attachment_from_cej_mm(),
            height_share: specimen.attachment_share(),
        };
        // A case that was made from another by code may have its attachment elsewhere than its file said.
        let stays = case.place.on(specimen).is_some_and(|placed| placed == *specimen);
        match case.place {
            Place::FromJunction(mm) if stays => heights.height_from_cej_mm = mm,
            Place::Share(share) if stays => heights.height_share = share,
            _ => {}
        }
        heights
    }

    /// In words, for tables: `5.75 mm above the crest, 4.25 above the junction, 0.50 of the crown`.
    pub(crate) fn words(&self) -> String {
        format!(
            "{:.2} mm above the crest, {:.2} above the junction, {:.2} of the crown",
            self.height_mm, self.height_from_cej_mm, self.height_share
        )
    }
}
