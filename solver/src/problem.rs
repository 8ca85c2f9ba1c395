//! What is asked: mesh, materials, bodies, load place and options. No computation here.

use gomphosis_mesh_gen::{AttachmentSpec, Face, Landmarks, TetMesh};
use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use crate::error::SolverError;
use crate::linear::Linear;
use crate::material::Materials;

/// Which bodies deform.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Bodies {
    /// Tooth, ligament and bone: the reference.
    #[default]
    Elastic,
    /// The ligament alone, between a rigid tooth and rigid bone: fast, stiffer by up to a tenth.
    Rigid,
}

/// How the elements of the ligament treat the change of volume. Tooth and bone always use the plain
/// displacement element.
///
/// Measured on thin bonded layers against exact solutions (example `layers`: inner radius 3 mm, 0.25 mm thick, two
/// layers of elements 0.8 mm long, 4-point rule), percent off the lateral stiffness of the annulus and the sphere:
///
/// | nu | displacement | projected dilatation | mean dilatation of each element (not offered) |
/// |---|---|---|---|
/// | 0.30 | 0.001, -0.001 | 0.001, -0.001 | -0.20, -0.32 |
/// | 0.45 | 0.004, 0.006 | 0.002, 0.000 | -0.61, -1.09 |
/// | 0.49 | 0.07, 0.13 | 0.006, 0.010 | -2.3, -4.2 |
/// | 0.499 | 2.8, 4.0 | 0.05, 0.10 | -14, -22 |
///
/// The plain element controls the volume with twelve functions a prism and locks; one constant an element cannot
/// carry the pressure gradients along the layer and leaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Formulation {
    /// The plain isoparametric element.
    Displacement,
    /// The change of volume is projected on linear functions over each prism of a layer (three elements).
    #[default]
    ProjectedDilatation,
}

impl Formulation {
    /// The name used in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Displacement => "displacement",
            Self::ProjectedDilatation => "projected_dilatation",
        }
    }
}

/// A rectangle on a face of the crown that carries the load.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Footprint {
    /// Its centre, mm.
    pub centre: Point3<f64>,
    /// The face of the crown.
    pub face: Face,
    /// Size across, horizontally, mm.
    pub width_mm: f64,
    /// Size along z, mm.
    pub height_mm: f64,
}

impl Footprint {
    /// The footprint of a specified attachment on a meshed tooth.
    #[must_use]
    pub fn of(attachment: &AttachmentSpec, landmarks: &Landmarks) -> Self {
        Self {
            centre: landmarks.attachment,
            face: attachment.face,
            width_mm: attachment.footprint_width_mm,
            height_mm: attachment.footprint_height_mm,
        }
    }

    /// Outward direction of the face.
    #[must_use]
    pub fn outward(&self) -> Vector3<f64> {
        match self.face {
            Face::Buccal => Vector3::x(),
            Face::Lingual => -Vector3::x(),
            Face::Mesial => Vector3::y(),
            Face::Distal => -Vector3::y(),
        }
    }

    /// Horizontal direction along the face.
    #[must_use]
    pub fn across(&self) -> Vector3<f64> {
        match self.face {
            Face::Buccal | Face::Lingual => Vector3::y(),
            Face::Mesial | Face::Distal => Vector3::x(),
        }
    }
}

/// How to solve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SolveOptions {
    /// Points of the volume quadrature: 4 (degree 2), 11 (degree 4) or 15 (degree 5).
    pub quadrature_points: usize,
    /// Refuse to factor above this, bytes; `None` for no limit.
    pub memory_limit_bytes: Option<u64>,
    /// How the linear system of elastic bodies is solved (the ligament alone is always factored).
    pub linear: Linear,
}

impl Default for SolveOptions {
    fn default() -> Self {
        Self { quadrature_points: 4, memory_limit_bytes: None, linear: Linear::Auto }
    }
}

/// A tooth in its socket with everything that its six unit loads depend on.
#[derive(Debug, Clone, Copy)]
pub struct ToothProblem<'a> {
    /// The mesh, tooth frame.
    pub mesh: &'a TetMesh,
    /// Materials of the bodies.
    pub materials: Materials,
    /// Which bodies deform.
    pub bodies: Bodies,
    /// Ligament element.
    pub formulation: Formulation,
    /// The point that unit loads and compliance are stated at, mm.
    pub reference_point: Point3<f64>,
    /// Where the crown is loaded (elastic bodies only).
    pub footprint: Footprint,
    /// How to solve.
    pub options: SolveOptions,
}

impl ToothProblem<'_> {
    /// Checks the numbers.
    ///
    /// # Errors
    /// [`SolverError::OutOfRange`].
    pub fn check(&self) -> Result<(), SolverError> {
        self.materials.check()?;
        let positive = |key: &str, value: f64| {
            if value > 0.0 && value.is_finite() {
                return Ok(());
            }
            Err(SolverError::OutOfRange {
                key: key.to_owned(),
                value,
                allowed: "a positive number of mm is wanted",
            })
        };
        positive("attachment.footprint_width_mm", self.footprint.width_mm)?;
        positive("attachment.footprint_height_mm", self.footprint.height_mm)?;
        if !matches!(self.options.quadrature_points, 4 | 11 | 15) {
            return Err(SolverError::OutOfRange {
                key: "solver.quadrature_points".to_owned(),
                value: self.options.quadrature_points as f64,
                allowed: "there are rules of 4, 11 and 15 points",
            });
        }
        Ok(())
    }
}
