//! What a refused specification should hold instead, and how to take that advice.

use super::range::Range;
use super::{DEFAULT_ELEMENT_SIZE_MM, LigamentProfile, RootPlan, ToothInSocket};
use crate::error::{MeshError, SuggestedValue, Suggestion};

impl ToothInSocket {
    /// What this specification, which was refused, should hold instead: the value that the refusal names, or the nearest
    /// end of a range. `None` where the error asks for no value.
    #[must_use]
    pub fn advice(&self, error: &MeshError) -> Option<Suggestion> {
        match error {
            MeshError::Impossible { suggestion, .. } => *suggestion,
            MeshError::OutOfRange { key, value, .. } => {
                let range = Range::of(key)?;
                let nearest = if value.is_nan() { range.low } else { value.clamp(range.low, range.high) };
                Some(Suggestion { key: range.key, value: SuggestedValue::Number(nearest) })
            }
            MeshError::UnderResolved { .. } => {
                let range = Range::of("mesh.element_size_mm")?;
                let half = 0.5 * range.get(self);
                let finer = Suggestion { key: range.key, value: SuggestedValue::Number(half) };
                (half >= range.low).then_some(finer)
            }
            MeshError::NoRoom { .. } => {
                let default = DEFAULT_ELEMENT_SIZE_MM;
                let usual =
                    Suggestion { key: "mesh.element_size_mm", value: SuggestedValue::Number(default) };
                (self.mesh.element_size_mm < default).then_some(usual)
            }
            _ => None,
        }
    }

    /// Takes advice. Returns whether the key and the value exist.
    pub fn take(&mut self, suggestion: &Suggestion) -> bool {
        match (suggestion.key, suggestion.value) {
            (key, SuggestedValue::Number(number)) => {
                Range::of(key).map(|range| range.set(self, number)).is_some()
            }
            ("root.plan", SuggestedValue::Word("single")) => {
                self.tooth.root.plan = RootPlan::Single;
                true
            }
            ("ligament.profile", SuggestedValue::Word("uniform")) => {
                self.ligament.profile = LigamentProfile::Uniform;
                true
            }
            _ => false,
        }
    }
}
