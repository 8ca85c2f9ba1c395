//! Algebra of the 6x6 compliance of a tooth in its socket.
//!
//! At a point P, `u = a F + b M` and `theta = b^T F + c M`, with `a` (mm/N) and `c` (rad/(N mm)) symmetric.
//! Moving to `P + r`: `b' = b - S(r) c`, `c' = c`, where `S(r) v = r x v`.

use nalgebra::{Cholesky, Matrix3, Matrix6, Point3, Rotation3, SymmetricEigen, Vector3};
use serde::Serialize;

use crate::error::SolverError;
use crate::motion::{RigidMotion, ScrewAxis, Wrench, cross_matrix, shift};

mod radius;

/// Motion (ux uy uz, rx ry rz) for a wrench (Fx Fy Fz, Mx My Mz), both at `point`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compliance {
    /// The point that the matrix belongs to, mm.
    pub point: Point3<f64>,
    /// Symmetric positive definite; mm/N, 1/N and rad/(N mm).
    pub matrix: Matrix6<f64>,
}

/// The rotation axes of the unit couples about x, y and z (Viecilli, Budiman and Burstone 2013, AJODO
/// 143:163-172), and how far they miss each other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AxesOfResistance {
    /// Screw axes of the couples about x, y, z.
    pub axes: [ScrewAxis; 3],
    /// Shortest distances between the axes of (x, y), (y, z) and (z, x), mm.
    pub distances_mm: [f64; 3],
}

impl Compliance {
    /// A checked compliance; the matrix is made symmetric.
    ///
    /// # Errors
    /// [`SolverError::Compliance`] if its symmetric part is not positive definite.
    pub fn new(point: Point3<f64>, matrix: Matrix6<f64>) -> Result<Self, SolverError> {
        let matrix = (matrix + matrix.transpose()) * 0.5;
        let scale = matrix.diagonal().map(|d| if d > 0.0 { d.sqrt().recip() } else { f64::NAN });
        let scaled = Matrix6::from_fn(|i, j| matrix[(i, j)] * scale[i] * scale[j]);
        if scaled.iter().any(|v| !v.is_finite()) {
            return Err(SolverError::Compliance { smallest: f64::NAN });
        }
        let smallest = SymmetricEigen::new(scaled).eigenvalues.min();
        if smallest > 0.0 { Ok(Self { point, matrix }) } else { Err(SolverError::Compliance { smallest }) }
    }

    /// Translation for force, mm/N.
    #[must_use]
    pub fn a(&self) -> Matrix3<f64> {
        self.matrix.fixed_view::<3, 3>(0, 0).into_owned()
    }

    /// Translation for moment, 1/N; its transpose is rotation for force.
    #[must_use]
    pub fn b(&self) -> Matrix3<f64> {
        self.matrix.fixed_view::<3, 3>(0, 3).into_owned()
    }

    /// Rotation for moment, rad/(N mm).
    #[must_use]
    pub fn c(&self) -> Matrix3<f64> {
        self.matrix.fixed_view::<3, 3>(3, 3).into_owned()
    }

    /// The same body stated at another point.
    #[must_use]
    pub fn at(&self, point: Point3<f64>) -> Self {
        let x = shift(&(point - self.point));
        Self { point, matrix: x * self.matrix * x.transpose() }
    }

    /// The compliance of the body turned about the origin.
    #[must_use]
    pub fn rotated(&self, turn: &Rotation3<f64>) -> Self {
        let mut q = Matrix6::zeros();
        q.fixed_view_mut::<3, 3>(0, 0).copy_from(turn.matrix());
        q.fixed_view_mut::<3, 3>(3, 3).copy_from(turn.matrix());
        Self { point: turn * self.point, matrix: q * self.matrix * q.transpose() }
    }

    /// The motion, stated at `self.point`, under a wrench stated anywhere.
    #[must_use]
    pub fn motion(&self, wrench: &Wrench) -> RigidMotion {
        RigidMotion::from_vector(self.point, &(self.matrix * wrench.at(self.point).as_vector()))
    }

    /// The stiffness `C^-1` at `self.point`, N/mm, N and N mm/rad; `None` if the matrix is not positive definite.
    #[must_use]
    pub fn stiffness(&self) -> Option<Matrix6<f64>> {
        // Scaled first: the entries span the units of mm/N and rad/(N mm).
        let scale = self.matrix.diagonal().map(|d| d.sqrt().recip());
        let scaled = Matrix6::from_fn(|i, j| self.matrix[(i, j)] * scale[i] * scale[j]);
        let inverse = Cholesky::new(scaled)?.inverse();
        Some(Matrix6::from_fn(|i, j| inverse[(i, j)] * scale[i] * scale[j]))
    }

    /// The point where the coupling block is symmetric: the generalised centre of resistance ("centre of
    /// elasticity" of Dathe, Naegerl and Kubein-Meesenburg 2013, J Dent Biomech 4:1758736013499770).
    ///
    /// `r = 2 (tr(c) I - c)^-1 ax(skew b)` with `ax(W) = (W32, W13, W21)`. A true centre of resistance, about
    /// which every couple turns the tooth, exists only if the remaining symmetric block vanishes too.
    #[must_use]
    pub fn centre_of_compliance(&self) -> Point3<f64> {
        self.point + symmetrising_offset(&self.c(), &self.b())
    }

    /// The point where the coupling block of the stiffness is symmetric; differs from the centre of
    /// compliance unless the tooth is symmetric. `None` if the matrix is not positive definite.
    ///
    /// With `K = C^-1`, `A = K_uu`, `B = K_utheta`: `r = -2 (tr(A) I - A)^-1 ax(skew B)`.
    #[must_use]
    pub fn centre_of_stiffness(&self) -> Option<Point3<f64>> {
        let k = self.stiffness()?;
        let a = k.fixed_view::<3, 3>(0, 0).into_owned();
        let b = k.fixed_view::<3, 3>(0, 3).into_owned();
        Some(self.point - symmetrising_offset(&a, &b))
    }

    /// Screw axes of the unit couples about x, y and z, with their shortest distances. `None` if a couple
    /// does not turn the body.
    #[must_use]
    pub fn axes_of_resistance(&self) -> Option<AxesOfResistance> {
        let axis = |m: Vector3<f64>| {
            RigidMotion { point: self.point, translation: self.b() * m, rotation: self.c() * m }.screw()
        };
        let axes = [axis(Vector3::x())?, axis(Vector3::y())?, axis(Vector3::z())?];
        let distances_mm =
            [axes[0].distance_to(&axes[1]), axes[1].distance_to(&axes[2]), axes[2].distance_to(&axes[0])];
        Some(AxesOfResistance { axes, distances_mm })
    }

    /// Largest distance of a pure couple's rotation axis from the centre of compliance, mm: 0 where a true
    /// centre of resistance exists.
    ///
    /// `rho = max |n x T n|` over unit vectors n, `T = b' c^-1` at the centre of compliance. A working
    /// definition in the spirit of Dathe et al. 2013. `None` if `c` cannot be inverted.
    #[must_use]
    pub fn radius_of_resistance(&self) -> Option<f64> {
        let centred = self.at(self.centre_of_compliance());
        let t = centred.b() * centred.c().try_inverse()?;
        Some(radius::largest_offset(&t))
    }

    /// The moment about `self.point` that a force there needs so that the body does not turn, N mm:
    /// `M = -c^-1 b^T F`. `None` if `c` cannot be inverted.
    #[must_use]
    pub fn moment_for_translation(&self, force: &Vector3<f64>) -> Option<Vector3<f64>> {
        Some(-(self.c().try_inverse()? * self.b().transpose() * force))
    }
}

/// `2 (tr(c) I - c)^-1 ax(skew b)`: where `b - S(r) c` is symmetric.
fn symmetrising_offset(c: &Matrix3<f64>, b: &Matrix3<f64>) -> Vector3<f64> {
    let axial = Vector3::new(b.m32 - b.m23, b.m13 - b.m31, b.m21 - b.m12) * 0.5;
    let operator = Matrix3::identity() * c.trace() - c;
    // tr(c) I - c has the eigenvalues c1 + c2, c2 + c3, c3 + c1: positive for a positive definite c.
    operator.try_inverse().map_or_else(Vector3::zeros, |inverse| inverse * axial * 2.0)
}

/// The coupling block of a body whose couples all turn it about `centre`, seen from `point` (for tests and
/// closed forms): `b = S(r) c` with r from `point` to `centre`.
#[must_use]
pub fn coupling_about(point: &Point3<f64>, centre: &Point3<f64>, c: &Matrix3<f64>) -> Matrix3<f64> {
    cross_matrix(&(centre - point)) * c
}

#[cfg(test)]
#[path = "compliance/tests.rs"]
mod tests;
