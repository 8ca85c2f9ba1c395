//! Grid convergence of one number over three meshes: observed order, extrapolated value and index.
//!
//! Procedure of Roache 1994 (J Fluids Eng 116:405-413) as laid down by Celik et al. 2008 (J Fluids Eng 130:078001) and ASME
//! V&V 20-2009 (from memory).

/// Safety factor of the index over three meshes.
const SAFETY: f64 = 1.25;

/// Orders outside this range come from chance, and are cut to it.
const ORDERS: (f64, f64) = (0.5, 4.0);

/// What three meshes say about a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridConvergence {
    /// Observed order; `None` if the number goes back and forth or does not change.
    pub order: Option<f64>,
    /// The value extrapolated to infinitely fine elements.
    pub extrapolated: f64,
    /// Grid convergence index of the finest mesh, in the number's own unit.
    pub index: f64,
    /// Error of the coarsest mesh, in the number's own unit: its distance from the extrapolated value and the index.
    pub error_of_coarsest: f64,
}

impl GridConvergence {
    /// From the values on a fine, a middle and a coarse mesh; `ratios` are the element size of the middle over that of the
    /// fine mesh, and of the coarse over that of the middle mesh, both above 1.
    ///
    /// With `e21 = f2 - f1` and `e32 = f3 - f2` the order solves `p = |ln |e32 / e21| + q(p)| / ln r21`,
    /// `q(p) = ln ((r21^p - s) / (r32^p - s))`, `s` the sign of `e32 / e21`; the extrapolated value is
    /// `(r21^p f1 - f2) / (r21^p - 1)` and the index `1.25 |e21| / (r21^p - 1)`. Where the values go back and forth, the
    /// finest stands for the extrapolated one, and the index is the safety factor times the largest difference.
    #[must_use]
    pub fn new([fine, middle, coarse]: [f64; 3], ratios: [f64; 2]) -> Self {
        let (e21, e32) = (middle - fine, coarse - middle);
        let order = if e32 / e21 > 0.0 { observed_order(e32 / e21, ratios) } else { None };
        let (extrapolated, index) = match order {
            Some(p) => {
                let p = p.clamp(ORDERS.0, ORDERS.1);
                let gain = ratios[0].powf(p) - 1.0;
                (fine - e21 / gain, SAFETY * e21.abs() / gain)
            }
            None => (fine, SAFETY * e21.abs().max(e32.abs())),
        };
        Self { order, extrapolated, index, error_of_coarsest: (coarse - extrapolated).abs() + index }
    }
}

/// Fixed point of the equation for the order, for differences of the same sign.
fn observed_order(quotient: f64, [r21, r32]: [f64; 2]) -> Option<f64> {
    let mut p = 1.0;
    for _ in 0..200 {
        let q = ((r21.powf(p) - 1.0) / (r32.powf(p) - 1.0)).ln();
        let next = ((quotient.ln() + q) / r21.ln()).abs();
        if !next.is_finite() || next < 1e-6 {
            return None;
        }
        if (next - p).abs() < 1e-10 {
            return Some(next);
        }
        p = next;
    }
    Some(p)
}

#[cfg(test)]
mod tests {
    use super::GridConvergence;
    use approx::assert_relative_eq;

    /// Source: Celik et al. 2008, J Fluids Eng 130:078001, sample calculation (reattachment length; from memory): order
    /// 1.53, extrapolated 6.1685, index 2.2 % of the fine value.
    #[test]
    fn published_sample_calculation() {
        let found = GridConvergence::new([6.063, 5.972, 5.863], [1.5, 1.333]);
        assert_relative_eq!(found.order.unwrap(), 1.53, epsilon = 0.01);
        assert_relative_eq!(found.extrapolated, 6.1685, epsilon = 0.001);
        assert_relative_eq!(100.0 * found.index / 6.063, 2.2, epsilon = 0.05);
    }

    /// A power law is found exactly.
    #[test]
    fn power_law() {
        let value = |h: f64| 2.0 - 0.3 * h.powi(3);
        let found = GridConvergence::new([value(0.5), value(0.65), value(0.845)], [1.3, 1.3]);
        assert_relative_eq!(found.order.unwrap(), 3.0, epsilon = 1e-8);
        assert_relative_eq!(found.extrapolated, 2.0, epsilon = 1e-12);
    }

    #[test]
    fn values_that_go_back_and_forth_have_no_order() {
        let found = GridConvergence::new([1.0, 1.02, 0.99], [1.3, 1.3]);
        assert_eq!(found.order, None);
        assert_relative_eq!(found.index, 1.25 * 0.03, epsilon = 1e-12);
        assert!(found.error_of_coarsest >= found.index);
    }
}
