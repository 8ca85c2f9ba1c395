//! What follows what: the attachment keeps its place on the crown when the crest, the root or the crown change, and the
//! furcation its share of the root. Whoever changes one of these sizes goes through here, so that two teeth that differ in
//! one size are loaded at the same place.
//!
//! A place on the crown is told in three ways: above the crest ([`AttachmentSpec::height_mm`](super::AttachmentSpec), which
//! the mesher uses), above the cemento-enamel junction, and as a share of the crown. The last two do not move when bone is
//! lost. The idealised forms have no junction; their healthy crest stands for it.

use super::ToothInSocket;

impl ToothInSocket {
    /// Height of the attachment's centre above the cemento-enamel junction (above the healthy crest of the idealised
    /// forms), mm: its height above the crest less that of the junction.
    #[must_use]
    pub fn attachment_from_cej_mm(&self) -> f64 {
        self.attachment.height_mm + self.crest_z_from_cej_mm()
    }

    /// The same as a share of the crown's height: 0 at the cemento-enamel junction, 1 at the cusp tip or incisal edge.
    #[must_use]
    pub fn attachment_share(&self) -> f64 {
        self.attachment_from_cej_mm() / self.tooth.crown.height_mm
    }

    /// The attachment at a height above the cemento-enamel junction, mm.
    #[must_use]
    pub fn with_attachment_from_cej(mut self, from_cej_mm: f64) -> Self {
        self.attachment.height_mm = from_cej_mm - self.crest_z_from_cej_mm();
        self
    }

    /// The attachment at a share of the crown's height: 0 at the cemento-enamel junction, 1 at the cusp tip or incisal edge.
    #[must_use]
    pub fn with_attachment_share(self, share: f64) -> Self {
        let from_cej_mm = share * self.tooth.crown.height_mm;
        self.with_attachment_from_cej(from_cej_mm)
    }

    /// Another loss of bone, mm; the attachment keeps its place on the crown.
    #[must_use]
    pub fn with_bone_loss(mut self, loss_mm: f64) -> Self {
        let share = self.attachment_share();
        self.bone.loss_mm = loss_mm;
        self.with_attachment_share(share)
    }

    /// Another level of the healthy crest below the cemento-enamel junction, mm; the attachment keeps its place on the
    /// crown. The idealised forms have their crest where the junction would be: for them the level is 0.
    #[must_use]
    pub fn with_crest(mut self, below_cej_mm: f64) -> Self {
        let share = self.attachment_share();
        self.bone.crest_below_cej_mm = below_cej_mm;
        self.with_attachment_share(share)
    }

    /// Another height of the crown, mm; the attachment keeps its share of it.
    #[must_use]
    pub fn with_crown_height(mut self, height_mm: f64) -> Self {
        let share = self.attachment_share();
        self.tooth.crown.height_mm = height_mm;
        self.with_attachment_share(share)
    }

    /// Another length of the root, mm; the furcation keeps its share of it. Crest and attachment stay where they are.
    #[must_use]
    pub fn with_root_length(mut self, length_mm: f64) -> Self {
        let longer = length_mm / self.tooth.root.length_mm;
        self.tooth.root.length_mm = length_mm;
        self.tooth.root.furcation_mm *= longer;
        self
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::super::{ToothInSocket, ToothKind};

    #[test]
    fn the_three_ways_to_tell_a_height_agree() {
        for kind in ToothKind::ALL {
            let spec = ToothInSocket::handbook(kind).with_bone_loss(2.5);
            let crown = spec.tooth.crown.height_mm;
            // Crest 1.5 + 2.5 mm below the junction, attachment at mid-crown.
            assert_relative_eq!(spec.attachment.height_mm, 4.0 + 0.5 * crown, epsilon = 1e-12);
            assert_relative_eq!(spec.attachment_from_cej_mm(), 0.5 * crown, epsilon = 1e-12);
            assert_relative_eq!(spec.attachment_share(), 0.5, epsilon = 1e-12);
            let moved = spec.with_attachment_from_cej(2.0);
            assert_relative_eq!(moved.attachment.height_mm, 6.0, epsilon = 1e-12);
            let moved = spec.with_attachment_share(0.25);
            assert_relative_eq!(moved.attachment.height_mm, 4.0 + 0.25 * crown, epsilon = 1e-12);
        }
    }

    #[test]
    fn an_idealised_root_counts_from_its_healthy_crest() {
        let spec = ToothInSocket::paraboloid();
        assert_relative_eq!(spec.attachment_from_cej_mm(), spec.attachment.height_mm, epsilon = 1e-12);
        let lost = spec.with_bone_loss(3.0);
        assert_relative_eq!(lost.attachment.height_mm, spec.attachment.height_mm + 3.0, epsilon = 1e-12);
        assert_relative_eq!(lost.attachment_share(), spec.attachment_share(), epsilon = 1e-12);
    }

    #[test]
    fn a_change_of_size_leaves_the_place_on_the_crown_and_the_share_of_the_root() {
        let molar = ToothInSocket::handbook(ToothKind::ALL[5]);
        let changed = molar.with_crest(3.0).with_bone_loss(1.0).with_crown_height(9.0).with_root_length(10.0);
        assert_relative_eq!(changed.attachment_share(), 0.5, epsilon = 1e-12);
        assert_relative_eq!(changed.attachment.height_mm, 4.0 + 4.5, epsilon = 1e-12);
        let share = |s: &ToothInSocket| s.tooth.root.furcation_mm / s.tooth.root.length_mm;
        assert_relative_eq!(share(&changed), share(&molar), epsilon = 1e-12);
    }
}
