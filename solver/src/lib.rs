//! Linear elasticity of a tooth in its ligament, and the mechanics of its rotation.
//!
//! The way through: a [`ToothProblem`] (mesh, materials, load place) goes into [`solve_unit_loads`], which
//! gives six displacement fields and the tooth's [`Compliance`]. Everything after that is superposition and
//! algebra: [`PlanarResistance`] for centres of resistance and rotation in a plane, [`Compliance`] for the
//! axes in space, [`ligament`] for stress.
//!
//! Units: mm, N, MPa, N mm, radians inside and degrees where a name says so. Tooth frame: origin on the long
//! axis at the crest, `x` buccal, `y` mesial, `z` occlusal.

pub mod assembly;
pub mod compliance;
pub mod discretisation;
pub mod element;
pub mod error;
pub mod export;
pub mod grid;
pub mod ligament;
pub mod linear;
pub mod material;
pub mod model;
pub mod motion;
pub mod movement;
pub mod problem;
pub mod resistance;
pub mod statics;
mod strain;

pub use compliance::{AxesOfResistance, Compliance};
pub use discretisation::{Discretisation, ErrorEstimate, PlanarDiscretisation};
pub use error::SolverError;
pub use grid::GridConvergence;
pub use ligament::{
    LARGEST_LINEAR_STRAIN, LigamentField, LigamentStress, PressedPart, StrainExtreme, Stress,
};
pub use material::{
    CONSTANTS, Constant, Material, Materials, PUBLISHED_LIGAMENTS, PublishedLigament, published_ligament,
};
pub use model::{ElasticTooth, UNIT_LOADS, UnitSolutions, solve_unit_loads};
pub use motion::{RigidMotion, ScrewAxis, Wrench};
pub use movement::Movement;
pub use problem::{Bodies, Footprint, Formulation, SolveOptions, ToothProblem};
pub use resistance::{PlanarLoad, PlanarMotion, PlanarResistance, Plane};
pub use statics::{SolveStatistics, Statics};
