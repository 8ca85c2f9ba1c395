//! Which way the load of a case goes, in words.

use gomphosis_solver::Plane;

use super::{Case, LoadSpec};

impl Case {
    /// Where the push goes in the two planes.
    pub(crate) fn directions(&self) -> [&'static str; 2] {
        let words = self.words();
        if self.load.force_n < 0.0 { [words.inward, "distal"] } else { [words.outward, "mesial"] }
    }

    /// Which way force and torque go in a plane. The numbers of the load are the same in both planes: across the arch they are
    /// the case's own, along it those of another load, since a torque across the arch has no part there.
    pub(crate) fn applied(&self, plane: Plane) -> String {
        let words = self.words();
        let [outward, inward] = match plane {
            Plane::BuccoLingual => [words.outward, words.inward],
            Plane::MesioDistal => ["mesial", "distal"],
        };
        let toward = |value: f64| if value < 0.0 { inward } else { outward };
        let LoadSpec { force_n, torque_nmm } = self.load;
        let push = format!("a push of {} N to {}", force_n.abs(), toward(force_n));
        let turn = format!(
            "torque of {} N\u{b7}mm that drives the root to {}",
            torque_nmm.abs(),
            toward(torque_nmm)
        );
        match (force_n == 0.0, torque_nmm == 0.0) {
            (true, _) => format!("a {turn}"),
            (false, true) => push,
            (false, false) => format!("{push} with a {turn}"),
        }
    }
}
