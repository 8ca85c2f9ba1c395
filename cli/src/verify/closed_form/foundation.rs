//! A rigid root on a layer of springs, integrated over its surface, and the limits of slender roots.

use gomphosis_mesh_gen::TetMesh;
use gomphosis_mesh_gen::triangle;
use gomphosis_solver::{Compliance, SolverError};
use nalgebra::{Matrix3, Matrix6, Matrix6x3, Point3, Vector3, Vector6};

/// Stiffness of springs for each area, N/mm3, along and across the normal.
#[derive(Debug, Clone, Copy)]
pub struct Springs {
    /// Along the normal of the root.
    pub normal: f64,
    /// Across it.
    pub tangential: f64,
}

/// Compliance at the origin of a rigid root on springs: the integral over the named surface of
/// `W (k_t I + (k_n - k_t) n n^T) W^T`, where W takes a force at x to its wrench at the origin. `weight` multiplies
/// both springs.
///
/// # Errors
/// [`SolverError::Compliance`] if the springs do not hold the root.
pub fn compliance(
    mesh: &TetMesh,
    surface: &str,
    springs: Springs,
    weight: impl Fn(Point3<f64>) -> f64,
) -> Result<Compliance, SolverError> {
    let mut stiffness = Matrix6::zeros();
    for face in mesh.surface(surface) {
        let nodes = face.map(|n| mesh.nodes()[n as usize]);
        for at in triangle::integrate(&nodes) {
            let (point, normal) = (at.position.coords, at.normal);
            let mut w = Matrix6x3::zeros();
            for axis in 0..3 {
                let e = Vector3::ith(axis, 1.0);
                let m = point.cross(&e);
                w.set_column(axis, &Vector6::new(e.x, e.y, e.z, m.x, m.y, m.z));
            }
            let k = Matrix3::identity() * springs.tangential
                + normal * normal.transpose() * (springs.normal - springs.tangential);
            stiffness += w * k * w.transpose() * (at.weight * weight(at.position));
        }
    }
    let failed = SolverError::Compliance { smallest: f64::NAN };
    Compliance::new(Point3::origin(), stiffness.try_inverse().ok_or(failed)?)
}

/// Centre of resistance over length, and sigma squared over length squared, of a slender parabola whose lateral
/// load is weighted with the power `n` of its width: `2/(n+4)` and
/// `(n/2+1)/(n/2+3) - ((n/2+1)/(n/2+2))^2` (moments of s^(n+1) ds; n = 1 is the plane parabola of Burstone 1962,
/// 2/5 and 12/175, from memory).
#[must_use]
pub fn slender_parabola(n: f64) -> (f64, f64) {
    let m = n / 2.0 + 1.0;
    (2.0 / (n + 4.0), m / (m + 2.0) - (m / (m + 1.0)).powi(2))
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use gomphosis_mesh_gen::revolve::SphereShell;
    use gomphosis_mesh_gen::surface;

    use super::*;

    /// A sphere on springs: lateral `4 pi r^2 (k_n + 2 k_t)/3`, turning `8 pi r^4 k_t/3` (moments of the sphere).
    #[test]
    fn sphere_on_springs() {
        let mesh = SphereShell { inner_mm: 2.0, outer_mm: 3.0, divisions: 6, layers: 1 }.mesh().unwrap();
        let springs = Springs { normal: 5.0, tangential: 2.0 };
        let c = compliance(&mesh, surface::ROOT, springs, |_| 1.0).unwrap().matrix;
        let pi = std::f64::consts::PI;
        for axis in 0..3 {
            assert_relative_eq!(c[(axis, axis)], 1.0 / (4.0 * pi * 4.0 * 9.0 / 3.0), max_relative = 1e-4);
            assert_relative_eq!(
                c[(3 + axis, 3 + axis)],
                1.0 / (8.0 * pi * 16.0 * 2.0 / 3.0),
                max_relative = 1e-4
            );
        }
    }

    /// 2/5 and 12/175 for the plane parabola, 1/3 and 1/18 for the paraboloid's volume.
    #[test]
    fn slender_limits_are_the_textbook_fractions() {
        let (centre, sigma) = slender_parabola(1.0);
        assert_relative_eq!(centre, 0.4, max_relative = 1e-14);
        assert_relative_eq!(sigma, 12.0 / 175.0, max_relative = 1e-13);
        let (centre, sigma) = slender_parabola(2.0);
        assert_relative_eq!(centre, 1.0 / 3.0, max_relative = 1e-14);
        assert_relative_eq!(sigma, 1.0 / 18.0, max_relative = 1e-13);
    }
}
