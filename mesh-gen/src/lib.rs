//! Parametric tooth, ligament and bone as one conforming mesh of curved ten-node tetrahedra.
//!
//! Data flows one way: a [`ToothInSocket`] (numbers only) becomes an implicit shape, the shape becomes a
//! lattice cut along the root, the ligament is inserted as true layers, and the result is a [`TetMesh`]
//! that is valid by construction (its constructor refuses anything else).
//!
//! Units: lengths in mm, angles in degrees in the specifications and in radians inside functions.
//! Tooth frame: right-handed, origin on the long axis at the level of the alveolar crest, `x` buccal,
//! `y` mesial, `z` occlusal; the apex is at negative `z`.

pub mod block;
mod crest;
pub mod error;
mod improve;
mod lattice;
mod layer;
pub mod mesh;
pub mod observer;
mod pipeline;
mod quadratic;
mod quality;
pub mod revolve;
mod socket;
pub mod spec;
pub mod specimen;
mod sweep;
mod tooth;
pub mod triangle;

pub use error::{MeshError, SuggestedValue, Suggestion};
pub use mesh::{Region, TetMesh, surface};
pub use observer::{Event, Observer, Silent, Stage};
pub use pipeline::{attachment_place, mesh_tooth, mesh_tooth_within, root_axes};
pub use spec::range::{RANGES, Range};
pub use spec::{
    AttachmentSpec, BoneSpec, CrownSpec, DEFAULT_ELEMENT_SIZE_MM, DEFAULT_GROWTH, Designation, Face,
    LigamentProfile, LigamentSpec, MeshSpec, Notation, RootPlan, RootSpec, Side, ToothForm, ToothInSocket,
    ToothKind, ToothSpec,
};
pub use specimen::{Landmarks, QualityReport, RegionQuality, ThicknessReport, ToothMesh};
