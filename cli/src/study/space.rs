//! What a varied key runs over: lists, ranges and distributions, each a map from a share between 0 and 1, or from the
//! number of a step, to a value. Knows nothing of files and cases.

use statrs::distribution::{ContinuousCDF, Normal};

/// A value of a varied key.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    /// A number.
    Number(f64),
    /// A word, for example a tooth's name.
    Word(String),
}

impl Cell {
    /// The value as tables hold it: numbers in the shortest form that reads back to the same bits.
    pub(crate) fn text(&self) -> String {
        match self {
            Self::Number(value) => number_text(*value),
            Self::Word(word) => word.clone(),
        }
    }

    /// The number, if it is one.
    pub(crate) fn number(&self) -> Option<f64> {
        match self {
            Self::Number(value) => Some(*value),
            Self::Word(_) => None,
        }
    }
}

/// A number in the shortest form that reads back to the same bits.
pub(crate) fn number_text(value: f64) -> String {
    format!("{value:?}")
}

/// A continuous distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Distribution {
    /// Evenly between two ends.
    Uniform { from: f64, to: f64 },
    /// The logarithm evenly between two ends, both positive.
    LogUniform { from: f64, to: f64 },
    /// Normal.
    Normal { mean: f64, sd: f64 },
    /// Normal, cut off at both ends (and raised between them).
    TruncatedNormal { mean: f64, sd: f64, from: f64, to: f64 },
}

impl Distribution {
    /// The value below which a share of the distribution lies (0 < share < 1).
    pub(crate) fn quantile(&self, share: f64) -> f64 {
        match *self {
            Self::Uniform { from, to } => from + (to - from) * share,
            Self::LogUniform { from, to } => (from.ln() + (to / from).ln() * share).exp().clamp(from, to),
            Self::Normal { mean, sd } => mean + sd * standard_quantile(share),
            Self::TruncatedNormal { mean, sd, from, to } => {
                // On the side of the mean where shares are small, and so exact.
                let (a, b) = ((from - mean) / sd, (to - mean) / sd);
                let at = if a > 0.0 {
                    let (upper, lower) = (standard_share(-a), standard_share(-b));
                    -standard_quantile(upper + (lower - upper) * share)
                } else {
                    let (lower, upper) = (standard_share(a), standard_share(b));
                    standard_quantile(lower + (upper - lower) * share)
                };
                (mean + sd * at).clamp(from, to)
            }
        }
    }
}

fn standard() -> Normal {
    Normal::standard()
}

/// Share of the standard normal distribution below a value.
fn standard_share(value: f64) -> f64 {
    standard().cdf(value)
}

fn standard_quantile(share: f64) -> f64 {
    standard().inverse_cdf(share.clamp(0.0, 1.0))
}

/// What a key runs over.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Values {
    /// These, one after the other; drawn with weights that add up to 1 where a design draws.
    List { cells: Vec<Cell>, weights: Vec<f64> },
    /// A distribution.
    Drawn(Distribution),
}

impl Values {
    /// Values that are equally likely.
    pub(crate) fn list(cells: Vec<Cell>) -> Self {
        let weights = vec![1.0 / cells.len() as f64; cells.len()];
        Self::List { cells, weights }
    }

    /// Evenly spaced numbers, both ends among them.
    pub(crate) fn range(from: f64, to: f64, steps: usize) -> Self {
        let at = |k: usize| from + (to - from) * k as f64 / (steps - 1) as f64;
        Self::list((0..steps).map(|k| Cell::Number(tidy(at(k)))).collect())
    }

    /// Number of values of a list.
    pub(crate) fn count(&self) -> Option<usize> {
        match self {
            Self::List { cells, .. } => Some(cells.len()),
            Self::Drawn(_) => None,
        }
    }

    /// A value of a list.
    pub(crate) fn step(&self, k: usize) -> Option<&Cell> {
        match self {
            Self::List { cells, .. } => cells.get(k),
            Self::Drawn(_) => None,
        }
    }

    /// The value that belongs to a share (0 < share < 1).
    pub(crate) fn at(&self, share: f64) -> Cell {
        match self {
            Self::Drawn(distribution) => Cell::Number(distribution.quantile(share)),
            Self::List { cells, weights } => {
                let mut below = 0.0;
                for (cell, weight) in cells.iter().zip(weights) {
                    below += weight;
                    if share < below {
                        return cell.clone();
                    }
                }
                // Weights add up to 1 but for their rounding; lists are not empty.
                cells[cells.len() - 1].clone()
            }
        }
    }
}

/// A step without the noise of binary fractions: 0.3 and not 0.30000000000000004.
fn tidy(value: f64) -> f64 {
    format!("{value:.12e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn quantiles_of_the_normal_distribution_are_those_of_the_tables() {
        // Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.5.
        let normal = Distribution::Normal { mean: 14.0, sd: 2.0 };
        for (share, z) in [(0.5, 0.0), (0.975, 1.959_964), (0.95, 1.644_854), (0.01, -2.326_348)] {
            assert_relative_eq!(normal.quantile(share), 14.0 + 2.0 * z, epsilon = 2e-6);
        }
    }

    #[test]
    fn a_truncated_normal_stays_inside_and_keeps_its_shape() {
        let cut = Distribution::TruncatedNormal { mean: 0.0, sd: 1.0, from: -1.0, to: 1.0 };
        assert_relative_eq!(cut.quantile(0.5), 0.0, epsilon = 1e-9);
        assert_relative_eq!(cut.quantile(1e-12), -1.0, epsilon = 1e-6);
        assert_relative_eq!(cut.quantile(1.0 - 1e-12), 1.0, epsilon = 1e-6);
        // A quarter of what lies within one standard deviation (0.682689) below: the share 0.158655 + 0.170672.
        assert_relative_eq!(cut.quantile(0.25), -0.441_75, epsilon = 1e-4);
        // Far in a tail: the mean of the exponential law that a normal tail is there, about 8 + 1/8.
        let tail = Distribution::TruncatedNormal { mean: 0.0, sd: 1.0, from: 8.0, to: 20.0 };
        let median = tail.quantile(0.5);
        assert!((8.08..8.09).contains(&median), "{median}");
    }

    #[test]
    fn the_logarithm_of_a_log_uniform_value_is_uniform() {
        let law = Distribution::LogUniform { from: 0.01, to: 1.0 };
        assert_relative_eq!(law.quantile(0.5), 0.1, max_relative = 1e-12);
        assert_relative_eq!(law.quantile(0.25), 10_f64.powf(-1.5), max_relative = 1e-12);
    }

    #[test]
    fn lists_are_drawn_by_weight_and_ranges_are_tidy() {
        let list = Values::List {
            cells: ["a", "b"].map(|w| Cell::Word(w.to_owned())).to_vec(),
            weights: vec![0.75, 0.25],
        };
        assert_eq!(list.at(0.7), Cell::Word("a".to_owned()));
        assert_eq!(list.at(0.76), Cell::Word("b".to_owned()));
        assert_eq!(list.at(1.0 - 1e-17), Cell::Word("b".to_owned()));
        let range = Values::range(0.0, 1.0, 11);
        assert_eq!(range.step(3), Some(&Cell::Number(0.3)));
        assert_eq!(range.step(10), Some(&Cell::Number(1.0)));
    }
}
