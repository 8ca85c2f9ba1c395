//! A row of a verification table: expected, got, error, tolerance, order of convergence, verdict.

use serde::Serialize;

/// What a value is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Target {
    /// A value; the error is relative to it.
    Relative {
        /// The value.
        expected: f64,
        /// Largest relative error.
        tolerance: f64,
    },
    /// A value; the error is in its own unit.
    Absolute {
        /// The value.
        expected: f64,
        /// Largest error.
        tolerance: f64,
    },
    /// The relative error furthest from zero of several values; the value is that error.
    Worst {
        /// Largest relative error.
        tolerance: f64,
    },
    /// Zero up to rounding, so that only the size means anything.
    Rounding {
        /// Largest size.
        tolerance: f64,
    },
    /// A band, both ends included.
    Band {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

/// The value on one mesh of a series.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Level {
    /// Size of the elements, relative to each other within the series.
    pub size: f64,
    /// The value.
    pub got: f64,
}

/// A comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// What is compared, with its unit.
    pub quantity: String,
    /// Source, where it is not that of the case.
    pub source: Option<&'static str>,
    /// What it is compared with.
    pub target: Target,
    /// The computed value; on the finest mesh of a series.
    pub got: f64,
    /// The meshes of a series, finest last; empty where there is one mesh.
    pub series: Vec<Level>,
    /// Observed order of convergence of the series.
    pub order: Option<f64>,
}

impl Row {
    fn new(quantity: impl Into<String>, target: Target, got: f64) -> Self {
        Self { quantity: quantity.into(), source: None, target, got, series: Vec::new(), order: None }
    }

    /// A value known up to a relative tolerance.
    pub fn relative(quantity: impl Into<String>, expected: f64, got: f64, tolerance: f64) -> Self {
        Self::new(quantity, Target::Relative { expected, tolerance }, got)
    }

    /// A value known up to a tolerance in its own unit.
    pub fn absolute(quantity: impl Into<String>, expected: f64, got: f64, tolerance: f64) -> Self {
        Self::new(quantity, Target::Absolute { expected, tolerance }, got)
    }

    /// Something that is zero up to rounding.
    pub fn rounding(quantity: impl Into<String>, got: f64, tolerance: f64) -> Self {
        Self::new(quantity, Target::Rounding { tolerance }, got)
    }

    /// A value that must lie in a band.
    pub fn band(quantity: impl Into<String>, (low, high): (f64, f64), got: f64) -> Self {
        Self::new(quantity, Target::Band { low, high }, got)
    }

    /// Of several pairs (expected, got), the relative error furthest from zero; not a number if one of them is not, or if
    /// there are none.
    pub fn worst(
        quantity: impl Into<String>,
        pairs: impl IntoIterator<Item = (f64, f64)>,
        tolerance: f64,
    ) -> Self {
        let errors = pairs.into_iter().map(|(expected, got)| (got - expected) / expected);
        Self::new(quantity, Target::Worst { tolerance }, furthest(errors))
    }

    /// States another source than that of the case.
    #[must_use]
    pub fn from(mut self, source: &'static str) -> Self {
        self.source = Some(source);
        self
    }

    /// Adds the meshes behind the value, coarse to fine, with the order at which the error against the expected value
    /// falls from the last but one to the last.
    #[must_use]
    pub fn against(mut self, series: &[(f64, f64)]) -> Self {
        self.series = levels(series);
        if let (Some(expected), [.., (h1, v1), (h2, v2)]) = (self.expected(), series) {
            let rate = ((v1 - expected) / (v2 - expected)).abs().ln() / (h1 / h2).ln();
            self.order = rate.is_finite().then_some(rate);
        }
        self
    }

    /// Adds the meshes behind the value, coarse to fine, without an order.
    #[must_use]
    pub fn over(mut self, series: &[(f64, f64)]) -> Self {
        self.series = levels(series);
        self
    }

    /// Adds the meshes behind the value, coarse to fine, with the order at which the last three approach a limit
    /// that is not known.
    #[must_use]
    pub fn settling(mut self, series: &[(f64, f64)]) -> Self {
        self.series = levels(series);
        if let [.., a, b, c] = *series {
            self.order = settling_order([a, b, c]);
        }
        self
    }

    /// The expected value, if it is a single one.
    #[must_use]
    pub fn expected(&self) -> Option<f64> {
        match self.target {
            Target::Relative { expected, .. } | Target::Absolute { expected, .. } => Some(expected),
            Target::Worst { .. } | Target::Rounding { .. } => Some(0.0),
            Target::Band { .. } => None,
        }
    }

    /// The error as the target counts it; none for a band.
    #[must_use]
    pub fn error(&self) -> Option<f64> {
        match self.target {
            Target::Relative { expected, .. } => Some((self.got - expected) / expected),
            Target::Absolute { expected, .. } => Some(self.got - expected),
            Target::Worst { .. } | Target::Rounding { .. } => Some(self.got),
            Target::Band { .. } => None,
        }
    }

    /// Is the value close enough? Nothing that is not a number passes.
    #[must_use]
    pub fn passed(&self) -> bool {
        match self.target {
            Target::Relative { tolerance, .. }
            | Target::Absolute { tolerance, .. }
            | Target::Worst { tolerance }
            | Target::Rounding { tolerance } => {
                tolerance.is_finite() && self.error().is_some_and(|error| error.abs() <= tolerance)
            }
            Target::Band { low, high } => (low..=high).contains(&self.got),
        }
    }

    /// A sentence if it is not.
    #[must_use]
    pub fn complaint(&self) -> Option<String> {
        if self.passed() {
            return None;
        }
        let Self { quantity, got, .. } = self;
        Some(match self.target {
            Target::Relative { expected, tolerance } => {
                let error = 100.0 * (got - expected) / expected;
                format!(
                    "{quantity}: expected {expected}, got {got}, {error:+.3} % off where {} % is allowed",
                    100.0 * tolerance
                )
            }
            Target::Absolute { expected, tolerance } => {
                format!("{quantity}: expected {expected}, got {got}, off by more than {tolerance}")
            }
            Target::Worst { tolerance } => {
                format!("{quantity}: {:+.4} % where {} % is allowed", 100.0 * got, 100.0 * tolerance)
            }
            Target::Rounding { tolerance } => {
                format!("{quantity}: expected nothing but rounding, got {got:e}, more than {tolerance:e}")
            }
            Target::Band { low, high } => format!("{quantity}: expected {low} to {high}, got {got}"),
        })
    }
}

/// The value furthest from zero; not a number if one is not, or if there are none.
pub fn furthest(values: impl IntoIterator<Item = f64>) -> f64 {
    let further = |a: f64, b: f64| {
        if a.is_nan() || b.is_nan() {
            f64::NAN
        } else if b.abs() > a.abs() {
            b
        } else {
            a
        }
    };
    values.into_iter().reduce(further).unwrap_or(f64::NAN)
}

/// Least-squares slope of `log(error)` over `log(size)`; not a number unless there are two pairs or more, all
/// positive.
#[must_use]
pub fn slope(pairs: &[(f64, f64)]) -> f64 {
    let count = pairs.len() as f64;
    let logs = || pairs.iter().map(|(h, e)| (h.ln(), e.ln()));
    let (x, y) = logs().fold((0.0, 0.0), |(x, y), (h, e)| (x + h / count, y + e / count));
    let product = logs().map(|(h, e)| (h - x) * (e - y)).sum::<f64>();
    let square = logs().map(|(h, _)| (h - x) * (h - x)).sum::<f64>();
    product / square
}

fn levels(series: &[(f64, f64)]) -> Vec<Level> {
    series.iter().map(|&(size, got)| Level { size, got }).collect()
}

/// Order p of `v = limit + c h^p` through three meshes: `(v1 - v2) / (v2 - v3) = (h1^p - h2^p) / (h2^p - h3^p)`, by
/// bisection; none if the values do not settle at an order of 0.1 to 12 (Roache 1994, from memory).
#[must_use]
pub fn settling_order([(h1, v1), (h2, v2), (h3, v3)]: [(f64, f64); 3]) -> Option<f64> {
    let wanted = (v1 - v2) / (v2 - v3);
    let ratio = |p: f64| ((h1 / h2).powf(p) - 1.0) / (1.0 - (h3 / h2).powf(p));
    let (mut low, mut high) = (0.1, 12.0);
    if !(ratio(low)..=ratio(high)).contains(&wanted) {
        return None;
    }
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if ratio(middle) < wanted { low = middle } else { high = middle }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_a_number_never_passes() {
        let nan = f64::NAN;
        for row in [
            Row::relative("a", 1.0, nan, 1.0),
            Row::relative("a", nan, 1.0, 1.0),
            Row::relative("a", 0.0, 0.0, 1.0),
            Row::relative("a", 1.0, 1.0, nan),
            Row::relative("a", 1.0, 1.0, f64::INFINITY),
            Row::absolute("a", 0.0, nan, 1.0),
            Row::absolute("a", 0.0, f64::INFINITY, 1.0),
            Row::rounding("a", nan, 1.0),
            Row::band("a", (0.0, 1.0), nan),
            Row::band("a", (0.0, nan), 0.5),
            Row::worst("a", [(1.0, 1.0), (1.0, nan)], 1.0),
            Row::worst("a", [(1.0, nan), (1.0, 1.0)], 1.0),
            Row::worst("a", [], 1.0),
        ] {
            assert!(!row.passed(), "{row:?}");
            assert!(row.complaint().is_some());
        }
    }

    #[test]
    fn both_signs_of_an_error_count() {
        assert!(Row::relative("a", -2.0, -2.1, 0.051).passed());
        assert!(!Row::relative("a", -2.0, -2.1, 0.049).passed());
        assert!(!Row::relative("a", -2.0, -1.9, 0.049).passed());
        assert!(!Row::absolute("a", 1.0, 0.8, 0.1).passed());
        assert!(!Row::worst("a", [(1.0, 1.01), (1.0, 0.9)], 0.05).passed());
        assert!(Row::band("a", (1.0, 2.0), 2.0).passed() && !Row::band("a", (1.0, 2.0), 2.001).passed());
    }

    #[test]
    fn orders_of_powers_are_their_exponents() {
        let series = [1.0, 0.6, 0.25].map(|h: f64| (h, 3.0 - 7.0 * h.powf(2.5)));
        let close = |found: Option<f64>| (found.unwrap() - 2.5).abs() < 1e-10;
        assert!(close(settling_order(series)));
        assert!(close(Row::absolute("a", 3.0, series[2].1, 1.0).against(&series).order));
        assert!((slope(&series.map(|(h, v)| (h, 3.0 - v))) - 2.5).abs() < 1e-12);
        assert_eq!(settling_order([(1.0, 1.0), (0.5, 2.0), (0.25, 1.5)]), None, "to and fro");
        assert!(slope(&[(1.0, 0.0), (0.5, 0.0)]).is_nan() && slope(&[]).is_nan());
    }
}
