//! Maximum of `|n x T n|` over the unit sphere.

use nalgebra::{Matrix3, Vector3};

/// Directions of the first sweep over the half sphere.
const SWEEP: u32 = 600;
/// Best directions of the sweep that are refined.
const STARTS: usize = 6;

/// `max |n x T n|` over unit `n`, by a sweep over a Fibonacci lattice and refinement of the best directions.
pub(super) fn largest_offset(t: &Matrix3<f64>) -> f64 {
    let offset = |n: &Vector3<f64>| n.cross(&(t * n)).norm();
    let golden = std::f64::consts::PI * (3.0 - 5.0_f64.sqrt());
    let mut found: Vec<(f64, Vector3<f64>)> = (0..SWEEP)
        .map(|k| {
            // n and -n give the same: the upper half is enough.
            let z = (f64::from(k) + 0.5) / f64::from(SWEEP);
            let (s, c) = (golden * f64::from(k)).sin_cos();
            let r = (1.0 - z * z).sqrt();
            let n = Vector3::new(r * c, r * s, z);
            (offset(&n), n)
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.iter().take(STARTS).map(|&(_, start)| climb(start, offset)).fold(0.0, f64::max)
}

/// Compass search on the sphere with a shrinking step.
fn climb(start: Vector3<f64>, offset: impl Fn(&Vector3<f64>) -> f64) -> f64 {
    let mut n = start;
    let mut best = offset(&n);
    let mut step = 0.1;
    while step > 1e-9 {
        let across = n.cross(&if n.x.abs() < 0.7 { Vector3::x() } else { Vector3::y() }).normalize();
        let other = n.cross(&across);
        let mut moved = false;
        for direction in [across, -across, other, -other] {
            let trial = (n + direction * step).normalize();
            let value = offset(&trial);
            if value > best {
                (n, best, moved) = (trial, value, true);
            }
        }
        if !moved {
            step *= 0.5;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn symmetric_matrix_gives_half_the_spread_of_its_eigenvalues() {
        // For symmetric T, |n x T n|^2 = n.T^2 n - (n.T n)^2, a variance of the eigenvalues with weights
        // n_i^2: at most ((largest - smallest) / 2)^2 (Popoviciu's inequality).
        let turn = nalgebra::Rotation3::from_euler_angles(0.3, -1.1, 2.0);
        let d = Matrix3::from_diagonal(&Vector3::new(0.4, -1.3, 0.1));
        let t = turn.matrix() * d * turn.matrix().transpose();
        approx::assert_relative_eq!(largest_offset(&t), 0.85, max_relative = 1e-9);
    }

    #[test]
    fn skew_matrix_gives_its_axial_length() {
        // T n = w x n: n x (w x n) = w - n (n.w), longest for n normal to w.
        let t = crate::motion::cross_matrix(&Vector3::new(2.0, -1.0, 2.0));
        approx::assert_relative_eq!(largest_offset(&t), 3.0, max_relative = 1e-9);
    }
}
