//! Resistance of a tooth in one plane of action: centre of resistance, sigma squared, and what follows from
//! the two for any height, force and torque.
//!
//! In the plane, with travel `u` along the force and tip `phi` (positive when the crown leads) at the crest:
//! `u = alpha F + beta m`, `phi = beta F + gamma m`. Everything below is these three numbers.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::compliance::Compliance;
use crate::movement::Movement;

/// A plane of action through the long axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Plane {
    /// Force along x, moment about y. Positive force is buccal; positive tip: crown to buccal.
    BuccoLingual,
    /// Force along y, moment about x. Positive force is mesial; positive tip: crown to mesial.
    MesioDistal,
}

/// A push in a plane of action.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlanarLoad {
    /// Height of the line of force above the crest, mm.
    pub height_mm: f64,
    /// Force, N; positive to buccal (mesial).
    pub force_n: f64,
    /// Torque T, N mm; positive drives the root to buccal (mesial), so it is a moment of -T on the tip.
    pub torque_nmm: f64,
}

/// The resistance of a tooth in a plane of action, from its compliance. Out-of-plane motion is left aside.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PlanarResistance {
    plane: Plane,
    /// Centre of resistance below the crest, mm.
    centre_depth_mm: f64,
    /// Translation of the centre of resistance for force, mm/N.
    centre_compliance: f64,
    /// Tip for moment, rad/(N mm).
    rotation_compliance: f64,
}

/// Rigid motion in a plane of action.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PlanarMotion {
    /// Travel of the centre of resistance, mm.
    pub centre_travel_mm: f64,
    /// Tip, radians; positive when the crown goes to the positive side of the force.
    pub tip_rad: f64,
    /// Depth of the centre of resistance below the crest, mm.
    pub centre_depth_mm: f64,
}

impl PlanarResistance {
    /// Reduces a compliance to a plane, on the long axis (x = y = 0, crest at z = 0).
    #[must_use]
    pub fn new(compliance: &Compliance, plane: Plane) -> Self {
        Self::from_coefficients(plane, Self::coefficients(compliance, plane))
    }

    /// The three numbers that a plane needs of a compliance, at the crest: `alpha` (travel for force, mm/N), `beta` (tip
    /// for force, 1/N) and `gamma` (tip for moment, rad/(N mm)). Linear in the compliance.
    #[must_use]
    pub fn coefficients(compliance: &Compliance, plane: Plane) -> [f64; 3] {
        let crest = compliance.at(Point3::origin()).matrix;
        // (row of the travel, row of the rotation, sign of the tip): a positive rotation about x carries the
        // crown to -y.
        let (u, r, sign) = match plane {
            Plane::BuccoLingual => (0, 4, 1.0),
            Plane::MesioDistal => (1, 3, -1.0),
        };
        [crest[(u, u)], sign * crest[(u, r)], crest[(r, r)]]
    }

    /// The resistance from its three coefficients.
    ///
    /// A couple turns the tooth about the depth `beta / gamma`; there
    /// `u = (alpha - beta^2 / gamma) F` without tip.
    #[must_use]
    pub fn from_coefficients(plane: Plane, [alpha, beta, gamma]: [f64; 3]) -> Self {
        Self {
            plane,
            centre_depth_mm: beta / gamma,
            centre_compliance: alpha - beta * beta / gamma,
            rotation_compliance: gamma,
        }
    }

    /// The plane.
    #[must_use]
    pub fn plane(&self) -> Plane {
        self.plane
    }

    /// Depth of the centre of resistance below the crest, mm.
    #[must_use]
    pub fn centre_depth_mm(&self) -> f64 {
        self.centre_depth_mm
    }

    /// Travel of the centre of resistance for force, mm/N, whatever the moment.
    #[must_use]
    pub fn centre_compliance_mm_per_n(&self) -> f64 {
        self.centre_compliance
    }

    /// Tip for moment, rad/(N mm).
    #[must_use]
    pub fn rotation_compliance(&self) -> f64 {
        self.rotation_compliance
    }

    /// Sigma squared, mm2: (force line to centre of resistance) x (centre of resistance to centre of
    /// rotation), a constant of tooth and plane (Burstone and Pryputniewicz 1980, AJO 77:396-409; Naegerl et
    /// al. 1991, AJODO 99:337-345; from memory).
    #[must_use]
    pub fn sigma_squared_mm2(&self) -> f64 {
        self.centre_compliance / self.rotation_compliance
    }

    /// The motion under a load.
    #[must_use]
    pub fn motion(&self, load: &PlanarLoad) -> PlanarMotion {
        let moment = load.force_n * (load.height_mm + self.centre_depth_mm) - load.torque_nmm;
        PlanarMotion {
            centre_travel_mm: self.centre_compliance * load.force_n,
            tip_rad: self.rotation_compliance * moment,
            centre_depth_mm: self.centre_depth_mm,
        }
    }

    /// The torque to force ratio T/F at a height above the crest that makes the tip zero, mm.
    #[must_use]
    pub fn torque_for_translation_mm(&self, height_mm: f64) -> f64 {
        height_mm + self.centre_depth_mm
    }

    /// Tip for each millimetre that the axis travels at `reference_height_mm`, under a push at `height_mm` with
    /// the torque to force ratio `ratio_mm`, degrees/mm. Infinite where the reference does not move.
    #[must_use]
    pub fn tip_deg_per_mm(&self, height_mm: f64, ratio_mm: f64, reference_height_mm: f64) -> f64 {
        self.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio_mm })
            .tip_deg_per_mm(reference_height_mm)
    }

    /// Degrees of root torque for each millimetre of planned travel of the reference that cancel the tip of
    /// a push without torque: that tip itself, degrees/mm.
    #[must_use]
    pub fn compensation_deg_per_mm(&self, height_mm: f64, reference_height_mm: f64) -> f64 {
        self.tip_deg_per_mm(height_mm, 0.0, reference_height_mm)
    }

    /// What is left of the travel of the axis at the height of the push when a torque stops the tip, as a share of its
    /// travel under the same push without torque.
    ///
    /// With the distance `D` from push to centre of resistance, a push alone moves its own line by
    /// `c F + g D (F D)` (`c`: travel of the centre for force, `g`: tip for moment) and with the torque `F D` by `c F`:
    /// the share is `c / (c + g D^2) = sigma^2 / (sigma^2 + D^2)`. One over it is how many times the push has to grow for
    /// the same travel without tip.
    #[must_use]
    pub fn travel_left(&self, height_mm: f64) -> f64 {
        let lever = self.torque_for_translation_mm(height_mm);
        let sigma2 = self.sigma_squared_mm2();
        sigma2 / (sigma2 + lever * lever)
    }

    /// Travel of the axis at the height of the push under a push with the torque to force ratio `ratio_mm`, as a share of
    /// its travel under the same push without torque: `1 - ratio D / (sigma^2 + D^2)`, with the distance `D` from push to
    /// centre of resistance. Linear in the torque; negative where the torque overpowers the push.
    #[must_use]
    pub fn share_of_plain_push(&self, height_mm: f64, ratio_mm: f64) -> f64 {
        let lever = self.torque_for_translation_mm(height_mm);
        1.0 - ratio_mm * lever / (self.sigma_squared_mm2() + lever * lever)
    }

    /// The kind of movement under a load; `apex_depth_mm` is the depth of the apex below the crest.
    #[must_use]
    pub fn movement(&self, load: &PlanarLoad, apex_depth_mm: f64) -> Movement {
        let motion = self.motion(load);
        let sense = if load.force_n < 0.0 { -1.0 } else { 1.0 };
        Movement::classify(
            sense * motion.tip_rad,
            sense * motion.travel_mm(load.height_mm),
            sense * motion.travel_mm(-apex_depth_mm),
        )
    }
}

impl PlanarMotion {
    /// Travel of the long axis at a height above the crest, mm.
    #[must_use]
    pub fn travel_mm(&self, height_mm: f64) -> f64 {
        self.centre_travel_mm + self.tip_rad * (height_mm + self.centre_depth_mm)
    }

    /// Tip, degrees.
    #[must_use]
    pub fn tip_deg(&self) -> f64 {
        self.tip_rad.to_degrees()
    }

    /// Depth of the centre of rotation below the crest, mm; negative above the crest. `None` for a
    /// translation, where it is at infinity (further than a kilometre).
    #[must_use]
    pub fn centre_of_rotation_depth_mm(&self) -> Option<f64> {
        let below = self.centre_travel_mm / self.tip_rad;
        (below.abs() < 1e6).then_some(self.centre_depth_mm + below)
    }

    /// Tip for each millimetre of travel at a height above the crest, degrees/mm; 0 for a translation,
    /// infinite where that height does not move.
    #[must_use]
    pub fn tip_deg_per_mm(&self, height_mm: f64) -> f64 {
        self.tip_deg() / self.travel_mm(height_mm)
    }
}

#[cfg(test)]
#[path = "resistance/tests.rs"]
mod tests;
