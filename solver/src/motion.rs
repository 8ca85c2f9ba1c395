//! Small rigid motions, wrenches and screws, and the rigid motion that fits a displacement field best.
//!
//! Rotations are small: displacements are linear in them, angles in radians.

use nalgebra::{Isometry3, Matrix3, Matrix6, Point3, Translation3, UnitQuaternion, Vector3, Vector6};
use serde::Serialize;

mod fit;
pub use fit::{FittedMotion, SurfaceFit};

/// The matrix `S(r)` with `S(r) v = r x v`.
#[must_use]
pub fn cross_matrix(r: &Vector3<f64>) -> Matrix3<f64> {
    Matrix3::new(0.0, -r.z, r.y, r.z, 0.0, -r.x, -r.y, r.x, 0.0)
}

/// A force and a moment at a stated point.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Wrench {
    /// Where the force acts, mm.
    pub point: Point3<f64>,
    /// Force, N.
    pub force: Vector3<f64>,
    /// Moment about `point`, N mm.
    pub moment: Vector3<f64>,
}

impl Wrench {
    /// A force at a point, without a couple.
    #[must_use]
    pub fn force(point: Point3<f64>, force: Vector3<f64>) -> Self {
        Self { point, force, moment: Vector3::zeros() }
    }

    /// The same load stated at another point: `M_Q = M_P + (P - Q) x F`.
    #[must_use]
    pub fn at(&self, point: Point3<f64>) -> Self {
        Self { point, force: self.force, moment: self.moment + (self.point - point).cross(&self.force) }
    }

    /// `(Fx Fy Fz Mx My Mz)`.
    #[must_use]
    pub fn as_vector(&self) -> Vector6<f64> {
        stack(&self.force, &self.moment)
    }
}

/// A small rigid motion: translation of a stated point and rotation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RigidMotion {
    /// The point that `translation` belongs to, mm.
    pub point: Point3<f64>,
    /// Displacement of `point`, mm.
    pub translation: Vector3<f64>,
    /// Rotation vector, radians.
    pub rotation: Vector3<f64>,
}

impl RigidMotion {
    /// The same motion stated at another point: `u_Q = u_P + theta x (Q - P)`.
    #[must_use]
    pub fn at(&self, point: Point3<f64>) -> Self {
        Self { point, translation: self.displacement_at(&point), rotation: self.rotation }
    }

    /// Displacement of a material point, mm.
    #[must_use]
    pub fn displacement_at(&self, x: &Point3<f64>) -> Vector3<f64> {
        self.translation + self.rotation.cross(&(x - self.point))
    }

    /// The finite motion of a body that goes on as it began, `factor` times as far: it turns by `factor` times the rotation
    /// about the screw axis and slides along it as far as that takes it (the exponential of the twist; Murray, Li & Sastry
    /// 1994, section 2.3, from memory). Lengths are kept, whatever the factor.
    #[must_use]
    pub fn carried_on(&self, factor: f64) -> Isometry3<f64> {
        let Some(axis) = self.screw() else {
            return Isometry3::from_parts(
                Translation3::from(self.translation * factor),
                UnitQuaternion::identity(),
            );
        };
        let turn = UnitQuaternion::from_scaled_axis(axis.direction * (axis.angle * factor));
        let slide = axis.direction * (axis.pitch_mm * axis.angle * factor);
        let base = axis.point.coords;
        Isometry3::from_parts(Translation3::from(base - turn * base + slide), turn)
    }

    /// The instantaneous screw axis, or `None` for a translation (an axis further than a kilometre away).
    ///
    /// Base point `p = P + theta x u / |theta|^2` (the point of the axis nearest to `P`), pitch
    /// `theta . u / |theta|^2`.
    #[must_use]
    pub fn screw(&self) -> Option<ScrewAxis> {
        let squared = self.rotation.norm_squared();
        let offset = self.rotation.cross(&self.translation) / squared;
        if !(squared > 0.0 && offset.norm() < 1e6) {
            return None;
        }
        Some(ScrewAxis {
            point: self.point + offset,
            direction: self.rotation / squared.sqrt(),
            angle: squared.sqrt(),
            pitch_mm: self.rotation.dot(&self.translation) / squared,
        })
    }

    /// `(ux uy uz rx ry rz)`.
    #[must_use]
    pub fn as_vector(&self) -> Vector6<f64> {
        stack(&self.translation, &self.rotation)
    }

    /// From `(ux uy uz rx ry rz)` at a point.
    #[must_use]
    pub fn from_vector(point: Point3<f64>, v: &Vector6<f64>) -> Self {
        Self {
            point,
            translation: v.fixed_rows::<3>(0).into_owned(),
            rotation: v.fixed_rows::<3>(3).into_owned(),
        }
    }
}

/// The axis that a small rigid motion turns about and slides along.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ScrewAxis {
    /// A point of the axis, mm.
    pub point: Point3<f64>,
    /// Unit vector along it; the rotation is positive about it.
    pub direction: Vector3<f64>,
    /// Rotation, radians.
    pub angle: f64,
    /// Travel along the axis for each radian, mm.
    pub pitch_mm: f64,
}

impl ScrewAxis {
    /// Shortest distance between two axes, mm.
    #[must_use]
    pub fn distance_to(&self, other: &Self) -> f64 {
        let between = other.point - self.point;
        let normal = self.direction.cross(&other.direction);
        let sine = normal.norm();
        if sine > 1e-12 { (between.dot(&normal) / sine).abs() } else { between.cross(&self.direction).norm() }
    }
}

pub(crate) fn stack(a: &Vector3<f64>, b: &Vector3<f64>) -> Vector6<f64> {
    Vector6::new(a.x, a.y, a.z, b.x, b.y, b.z)
}

/// `X` with `motion at P + r = X motion at P` and `wrench at P = X^T wrench at P + r`.
pub(crate) fn shift(r: &Vector3<f64>) -> Matrix6<f64> {
    let mut x = Matrix6::identity();
    x.fixed_view_mut::<3, 3>(0, 3).copy_from(&-cross_matrix(r));
    x
}

#[cfg(test)]
#[path = "motion/tests.rs"]
mod tests;
