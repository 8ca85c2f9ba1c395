//! The kinds of tooth movement, and where one ends and the next begins.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Tip per millimetre at the point of load below which a movement counts as translation, degrees/mm: a
/// tenth of the rule of thumb of 5 degrees for each millimetre of expansion. Common practice knows no figure.
pub const TRANSLATION_TOLERANCE_DEG_PER_MM: f64 = 0.5;

/// Kind of movement in a plane, named as the trade does.
///
/// All borders follow from three numbers of the motion, taken in the direction of the force: the travel
/// `u` of the long axis at the height of the load, the travel `a` of the axis at the level of the apex, and
/// the tip (positive when the crown leads). A load without force counts as pushing to the positive side.
/// With growing counter-moment the kinds follow one another in this order:
///
/// | kind | border | centre of rotation |
/// |---|---|---|
/// | uncontrolled tipping | crown leads, `a < 0` (the apex goes the other way) | between centre of resistance and apex |
/// | controlled tipping | crown leads, `a >= 0` | at the apex or apical of it |
/// | translation | tip at most 0.5 degrees for each mm of `u` ([`TRANSLATION_TOLERANCE_DEG_PER_MM`]) | far away, on either side |
/// | root movement | root leads, `u > 0` | occlusal of the load |
/// | crown tipping reversed | `u <= 0`: the torque overpowers the push | between load and centre of resistance |
///
/// Translation wins over its neighbours; `u <= 0` wins over everything. Every load with a motion has exactly
/// one kind. The order and the names are those taught with the moment-to-force ratio (Smith and Burstone
/// 1984, AJO 85:294-307; from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Movement {
    /// The crown goes with the force, the apex against it.
    #[serde(rename = "uncontrolled tipping")]
    UncontrolledTipping,
    /// The crown goes with the force, the apex stays or follows.
    #[serde(rename = "controlled tipping")]
    ControlledTipping,
    /// The whole tooth goes with the force and hardly tips.
    #[serde(rename = "translation")]
    Translation,
    /// The root goes further than the crown.
    #[serde(rename = "root movement")]
    RootMovement,
    /// Torque overpowers the push: the crown goes against the force.
    #[serde(rename = "crown tipping reversed")]
    CrownTippingReversed,
}

impl Movement {
    /// All kinds, in the order of growing counter-moment.
    pub const ALL: [Self; 5] = [
        Self::UncontrolledTipping,
        Self::ControlledTipping,
        Self::Translation,
        Self::RootMovement,
        Self::CrownTippingReversed,
    ];

    /// The kind of a motion: `tip` in radians, `load_travel` and `apex_travel` in mm, all in the direction of
    /// the force. Two nested comparisons; see the type for the borders.
    #[must_use]
    pub fn classify(tip: f64, load_travel: f64, apex_travel: f64) -> Self {
        let tolerance = TRANSLATION_TOLERANCE_DEG_PER_MM.to_radians();
        if load_travel <= 0.0 {
            Self::CrownTippingReversed
        } else if tip.abs() <= tolerance * load_travel {
            Self::Translation
        } else if tip < 0.0 {
            Self::RootMovement
        } else if apex_travel < 0.0 {
            Self::UncontrolledTipping
        } else {
            Self::ControlledTipping
        }
    }

    /// The name in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::UncontrolledTipping => "uncontrolled tipping",
            Self::ControlledTipping => "controlled tipping",
            Self::Translation => "translation",
            Self::RootMovement => "root movement",
            Self::CrownTippingReversed => "crown tipping reversed",
        }
    }
}

impl fmt::Display for Movement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}
