//! The rigid motion that fits a displacement field best over a curved surface.

use nalgebra::{Cholesky, Matrix6, Point3, U6, Vector3, Vector6};

use super::{RigidMotion, cross_matrix, stack};
use gomphosis_mesh_gen::triangle;

/// Area-weighted least-squares fit of rigid motions over a surface of six-node triangles.
///
/// Minimises `integral |u - (t + theta x (x - P))|^2 dA`. The matrix of the normal equations depends on the
/// surface alone and is factored once.
#[derive(Debug, Clone)]
pub struct SurfaceFit {
    point: Point3<f64>,
    area: f64,
    centroid: Point3<f64>,
    samples: Vec<Sample>,
    normal: Cholesky<f64, U6>,
}

/// One quadrature point of the surface.
#[derive(Debug, Clone)]
struct Sample {
    nodes: [u32; 6],
    shape: [f64; 6],
    arm: Vector3<f64>,
    weight: f64,
}

/// A fitted motion and how well it fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedMotion {
    /// The rigid motion.
    pub motion: RigidMotion,
    /// Root mean square of what it leaves over, relative to the root mean square displacement.
    pub residual: f64,
}

impl SurfaceFit {
    /// Prepares the fit for motions stated at `point`. `None` if the surface is empty or too poor (a point, a
    /// line) to fix a rotation.
    #[must_use]
    pub fn new(nodes: &[Point3<f64>], faces: &[[u32; 6]], point: Point3<f64>) -> Option<Self> {
        let mut samples = Vec::with_capacity(faces.len() * triangle::RULE.len());
        let mut area = 0.0;
        let mut first = Vector3::zeros();
        let mut normal = Matrix6::zeros();
        for face in faces {
            let corners = face.map(|n| nodes[n as usize]);
            for q in triangle::integrate(&corners) {
                let arm = q.position - point;
                let mut rows = nalgebra::Matrix3x6::zeros();
                rows.fixed_view_mut::<3, 3>(0, 0).fill_with_identity();
                rows.fixed_view_mut::<3, 3>(0, 3).copy_from(&-cross_matrix(&arm));
                normal += rows.transpose() * rows * q.weight;
                area += q.weight;
                first += q.position.coords * q.weight;
                samples.push(Sample { nodes: *face, shape: q.shape, arm, weight: q.weight });
            }
        }
        let normal = Cholesky::new(normal)?;
        Some(Self { point, area, centroid: Point3::from(first / area), samples, normal })
    }

    /// Area of the surface, mm2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.area
    }

    /// Centroid of the surface, mm.
    #[must_use]
    pub fn centroid(&self) -> Point3<f64> {
        self.centroid
    }

    /// Fits a field given at the nodes of the mesh, mm.
    ///
    /// # Panics
    /// If the field has no value for a node of the surface.
    #[must_use]
    pub fn fit(&self, field: &[Vector3<f64>]) -> FittedMotion {
        let mut right = Vector6::zeros();
        for s in &self.samples {
            let u = s.value(field) * s.weight;
            right += stack(&u, &s.arm.cross(&u));
        }
        let motion = RigidMotion::from_vector(self.point, &self.normal.solve(&right));
        let (mut left_over, mut whole) = (0.0, 0.0);
        for s in &self.samples {
            let u = s.value(field);
            let rigid = motion.translation + motion.rotation.cross(&s.arm);
            left_over += s.weight * (u - rigid).norm_squared();
            whole += s.weight * u.norm_squared();
        }
        let residual = if whole > 0.0 { (left_over / whole).sqrt() } else { 0.0 };
        FittedMotion { motion, residual }
    }
}

impl Sample {
    fn value(&self, field: &[Vector3<f64>]) -> Vector3<f64> {
        self.nodes
            .iter()
            .zip(self.shape)
            .fold(Vector3::zeros(), |sum, (&n, shape)| sum + field[n as usize] * shape)
    }
}
