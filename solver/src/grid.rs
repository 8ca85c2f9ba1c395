//! Grid convergence of one number over three meshes: observed order, extrapolated value and index.
//!
//! Procedure of Roache 1994 (J Fluids Eng 116:405-413) as laid down by Celik et al. 2008 (J Fluids Eng 130:078001) and ASME
//! V&V 20-2009 (from memory).

/// Safety factor of the index over three meshes that are in the asymptotic range, and over those that are not.
const SAFETY: f64 = 1.25;
const SAFETY_OUTSIDE: f64 = 3.0;

/// An order below this comes from chance, and is cut to it.
const LEAST_ORDER: f64 = 0.5;

/// Meshes count as in the asymptotic range while the observed order is within this factor of the one that the elements can
/// have, and the element sizes differ by [`LEAST_RATIO`] at least.
const RANGE: f64 = 2.0;

/// Least ratio of element sizes that ASME V&V 20-2009 recommends (from memory), less one percent for the counting.
const LEAST_RATIO: f64 = 1.287;

/// What three meshes say about a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GridConvergence {
    /// Observed order; `None` if the number goes back and forth or does not change.
    pub order: Option<f64>,
    /// The observed order is near the one that the elements can have, and the meshes differ enough.
    pub asymptotic: bool,
    /// The value extrapolated to infinitely fine elements.
    pub extrapolated: f64,
    /// Grid convergence index of the finest mesh, in the number's own unit.
    pub index: f64,
    /// Error of the coarsest mesh, in the number's own unit: its distance from the extrapolated value and the index.
    pub error_of_coarsest: f64,
}

impl GridConvergence {
    /// From the values on a fine, a middle and a coarse mesh; `ratios` are the element size of the middle over that of the
    /// fine mesh, and of the coarse over that of the middle mesh, both above 1; `formal` is the order that the elements can
    /// have: that of their functions, or less where a singularity rules.
    ///
    /// With `e21 = f2 - f1` and `e32 = f3 - f2` the order solves `p = |ln |e32 / e21| + q(p)| / ln r21`,
    /// `q(p) = ln ((r21^p - s) / (r32^p - s))`, `s` the sign of `e32 / e21`; the extrapolated value is
    /// `(r21^p f1 - f2) / (r21^p - 1)` and the index `1.25 |e21| / (r21^p - 1)`. An observed order above the formal one is
    /// chance and must not make the index small: the formal one is used. Outside the asymptotic range the factor is 3, as
    /// Roache asks where the order is not observed, and the larger of the two differences stands for both; where the
    /// values go back and forth, the finest also stands for the extrapolated one.
    #[must_use]
    pub fn new([fine, middle, coarse]: [f64; 3], ratios: [f64; 2], formal: f64) -> Self {
        let (e21, e32) = (middle - fine, coarse - middle);
        let order = if e32 / e21 > 0.0 { observed_order(e32 / e21, ratios) } else { None };
        let refined = ratios.iter().all(|ratio| *ratio >= LEAST_RATIO);
        let asymptotic = refined && order.is_some_and(|p| (formal / RANGE..=formal * RANGE).contains(&p));
        let used = order.map_or(formal, |p| p.clamp(LEAST_ORDER.min(formal), formal));
        let gain = ratios[0].powf(used) - 1.0;
        let extrapolated = if order.is_some() { fine - e21 / gain } else { fine };
        let index = if asymptotic {
            SAFETY * e21.abs() / gain
        } else {
            // What the coarser pair says of the finest mesh, were the order the used one.
            let from_coarse = e32.abs() / ((ratios[1].powf(used) - 1.0) * ratios[0].powf(used));
            SAFETY_OUTSIDE * (e21.abs() / gain).max(from_coarse)
        };
        Self {
            order,
            asymptotic,
            extrapolated,
            index,
            error_of_coarsest: (coarse - extrapolated).abs() + index,
        }
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
        let found = GridConvergence::new([6.063, 5.972, 5.863], [1.5, 1.333], 2.0);
        assert!(found.asymptotic);
        assert_relative_eq!(found.order.unwrap(), 1.53, epsilon = 0.01);
        assert_relative_eq!(found.extrapolated, 6.1685, epsilon = 0.001);
        assert_relative_eq!(100.0 * found.index / 6.063, 2.2, epsilon = 0.05);
    }

    /// A power law is found exactly.
    #[test]
    fn power_law() {
        let value = |h: f64| 2.0 - 0.3 * h.powi(3);
        let found = GridConvergence::new([value(0.5), value(0.65), value(0.845)], [1.3, 1.3], 4.0);
        assert_relative_eq!(found.order.unwrap(), 3.0, epsilon = 1e-8);
        assert_relative_eq!(found.extrapolated, 2.0, epsilon = 1e-12);
    }

    #[test]
    fn values_that_go_back_and_forth_have_no_order() {
        let found = GridConvergence::new([1.0, 1.02, 0.99], [1.3, 1.3], 1.0);
        assert_eq!(found.order, None);
        assert!(!found.asymptotic);
        assert_relative_eq!(found.index, 3.0 * 0.03 / (0.3 * 1.3), epsilon = 1e-12);
        assert!(found.error_of_coarsest >= found.index);
    }

    /// Values that settle too fast to be true: the index is that of the order the elements can have, not of the observed one.
    #[test]
    fn an_order_above_the_formal_one_does_not_shrink_the_index() {
        let value = |h: f64| 2.0 - 0.3 * h.powi(9);
        let values = [value(0.5), value(0.65), value(0.845)];
        let found = GridConvergence::new(values, [1.3, 1.3], 1.0);
        assert_relative_eq!(found.order.unwrap(), 9.0, epsilon = 1e-6);
        assert!(!found.asymptotic);
        assert!(found.index >= 3.0 * (values[1] - values[0]).abs() / 0.3 * (1.0 - 1e-12));
        assert!((found.extrapolated - 2.0).abs() <= found.index);
    }

    /// A singular edge: an error like h^0.67 is found, and bounded, with the singular order.
    #[test]
    fn the_singular_order_rules_where_it_is_observed() {
        let value = |h: f64| 2.0 - 0.3 * h.powf(0.67);
        let found = GridConvergence::new([value(0.6), value(0.8), value(1.2)], [0.8 / 0.6, 1.5], 1.2);
        assert!(found.asymptotic);
        assert_relative_eq!(found.order.unwrap(), 0.67, epsilon = 1e-6);
        assert_relative_eq!(found.extrapolated, 2.0, epsilon = 1e-9);
        assert!(found.error_of_coarsest >= 2.0 - value(1.2));
    }

    /// Meshes that hardly differ are in no range, whatever the order.
    #[test]
    fn meshes_that_hardly_differ_are_not_in_the_asymptotic_range() {
        let value = |h: f64| 2.0 - 0.3 * h;
        assert!(!GridConvergence::new([value(0.9), value(1.0), value(1.1)], [1.1, 1.1], 1.0).asymptotic);
        assert!(GridConvergence::new([value(0.6), value(0.8), value(1.2)], [0.8 / 0.6, 1.5], 1.0).asymptotic);
    }
}
