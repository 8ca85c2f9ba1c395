//! Orders of convergence from a series of meshes.

/// Least-squares slope of `log(error)` over `log(size)`.
///
/// # Panics
/// Unless there are at least two pairs, all positive.
#[must_use]
pub fn slope(sizes: &[f64], errors: &[f64]) -> f64 {
    assert!(sizes.len() == errors.len() && sizes.len() > 1, "{} sizes, {} errors", sizes.len(), errors.len());
    assert!(sizes.iter().chain(errors).all(|v| *v > 0.0), "{sizes:?} {errors:?}");
    let mean = |v: &[f64]| v.iter().map(|v| v.ln()).sum::<f64>() / v.len() as f64;
    let (x, y) = (mean(sizes), mean(errors));
    let pairs = || sizes.iter().zip(errors).map(|(s, e)| (s.ln() - x, e.ln() - y));
    pairs().map(|(s, e)| s * e).sum::<f64>() / pairs().map(|(s, _)| s * s).sum::<f64>()
}

#[cfg(test)]
mod tests {
    #[test]
    fn slope_of_a_power_is_its_exponent() {
        let sizes = [1.0, 0.5, 0.25];
        let errors = sizes.map(|h: f64| 7.0 * h.powf(2.5));
        approx::assert_relative_eq!(super::slope(&sizes, &errors), 2.5, max_relative = 1e-12);
    }
}
