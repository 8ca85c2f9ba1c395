//! The finished mesh of a tooth in its socket, with what a reader of results must know beside it.

use nalgebra::Point3;
use serde::Serialize;

use crate::mesh::{Region, TetMesh};

/// Mesh, landmarks and quality of one tooth in its socket.
#[derive(Debug, Clone)]
pub struct ToothMesh {
    /// The mesh, in the tooth frame.
    pub mesh: TetMesh,
    /// Points that results refer to.
    pub landmarks: Landmarks,
    /// What the mesh is like.
    pub quality: QualityReport,
    /// Ligament thickness asked less thickness achieved, mm, for each face of the socket's wall, in their order, at the
    /// points of [`crate::triangle::RULE`].
    pub thickness_shortfall: Vec<[f64; 6]>,
}

/// Points that results refer to, tooth frame, mm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Landmarks {
    /// The deepest apex.
    pub apex: Point3<f64>,
    /// Root inside the bone, crest to deepest apex, mm.
    pub bony_root_mm: f64,
    /// Height of the cemento-enamel junction above the crest, mm.
    pub cej_z: f64,
    /// Tip of the buccal cusp, or the middle of the incisal edge.
    pub cusp_tip: Point3<f64>,
    /// Centre of the attachment's footprint on the crown's surface.
    pub attachment: Point3<f64>,
}

/// What a mesh is like, and how far it is from the shape that was asked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct QualityReport {
    /// Nodes in all.
    pub nodes: usize,
    /// Elements in all.
    pub tetrahedra: usize,
    /// By region, in the order of the region numbers; regions without elements are left out.
    pub regions: Vec<RegionQuality>,
    /// Ligament thickness normal to the root.
    pub ligament_thickness: ThicknessReport,
    /// Largest distance of the curved root surface from the exact one, mm.
    pub root_deviation_mm: f64,
    /// Sentences about compromises the mesher made (curvature relaxed, roots merged); empty if none.
    pub remarks: Vec<String>,
}

/// Quality of the elements of one region.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RegionQuality {
    /// The region.
    pub region: Region,
    /// Elements.
    pub tetrahedra: usize,
    /// Volume of the curved elements, mm3.
    pub volume_mm3: f64,
    /// Volume of the exact shape by an independent quadrature, mm3, where it is known.
    pub exact_volume_mm3: Option<f64>,
    /// Smallest dihedral angle between the corner planes, degrees.
    pub smallest_dihedral_deg: f64,
    /// Largest dihedral angle, degrees.
    pub largest_dihedral_deg: f64,
    /// Smallest scaled Jacobian over the curved elements (smallest Bernstein coefficient of det J over the
    /// mean one: 1 for straight edges, above 0 for a valid element).
    pub smallest_scaled_jacobian: f64,
}

/// Ligament thickness achieved against asked, sampled over the root surface by area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ThicknessReport {
    /// Area mean of the asked thickness, mm.
    pub asked_mean_mm: f64,
    /// Area mean of the achieved thickness, mm.
    pub achieved_mean_mm: f64,
    /// Area mean of |achieved - asked| / asked, percent.
    pub mean_error_percent: f64,
    /// Largest |achieved - asked| / asked, percent.
    pub worst_error_percent: f64,
    /// Where the largest error is, tooth frame, mm.
    pub worst_at: Point3<f64>,
}
