//! What drives a result: Sobol' indices from Saltelli's design, rank correlation from any other sample, both with
//! intervals from the bootstrap; and the mean of a result among the lowest and the highest fifth of an input.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Samples of the bootstrap.
const RESAMPLES: usize = 1000;
/// Share of them that an interval holds.
const CONFIDENCE: f64 = 0.95;
/// Fewest samples that say anything.
pub(crate) const FEWEST: usize = 8;

/// A number with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Interval {
    /// From the sample itself.
    pub(crate) value: f64,
    /// Lower end.
    pub(crate) low: f64,
    /// Upper end.
    pub(crate) high: f64,
}

/// Sobol' indices of one input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SobolIndices {
    /// Share of the variance that the input explains alone.
    pub(crate) first: Interval,
    /// Share that would be left if every other input were known: its own and that of its company with others.
    pub(crate) total: Interval,
}

/// Sobol' indices from Saltelli's design: results of the samples A and B, and for each input of A with that input from B.
///
/// With `V` the variance of A and B together, `S_i = mean(f_B (f_ABi - f_A)) / V` (Saltelli et al. 2010, Comput Phys Commun
/// 181:259-270, table 2b; results centred first) and `T_i = mean((f_A - f_ABi)^2) / 2 V` (Jansen 1999, Comput Phys Commun
/// 117:35-43). The bootstrap draws samples with all their results together. Samples in which a result is no number are left
/// out. `None` with fewer than [`FEWEST`] samples, or if nothing varies.
pub(crate) fn sobol(a: &[f64], b: &[f64], mixed: &[Vec<f64>], seed: u64) -> Option<Vec<SobolIndices>> {
    let whole: Vec<usize> = (0..a.len())
        .filter(|&j| a[j].is_finite() && b[j].is_finite() && mixed.iter().all(|f| f[j].is_finite()))
        .collect();
    if whole.len() < FEWEST {
        return None;
    }
    let found = indices(a, b, mixed, &whole)?;
    let resampled = bootstrap(&whole, seed, |drawn| indices(a, b, mixed, drawn));
    Some(
        (0..mixed.len())
            .map(|i| SobolIndices {
                first: interval(found[i].0, resampled.iter().map(|r| r[i].0)),
                total: interval(found[i].1, resampled.iter().map(|r| r[i].1)),
            })
            .collect(),
    )
}

/// First-order and total index of each input from some samples.
fn indices(a: &[f64], b: &[f64], mixed: &[Vec<f64>], samples: &[usize]) -> Option<Vec<(f64, f64)>> {
    let n = samples.len() as f64;
    let mean = samples.iter().map(|&j| a[j] + b[j]).sum::<f64>() / (2.0 * n);
    let variance =
        samples.iter().map(|&j| (a[j] - mean).powi(2) + (b[j] - mean).powi(2)).sum::<f64>() / (2.0 * n);
    // Less than the rounding of the results is no variance.
    if variance <= (1e-12 * mean).powi(2) {
        return None;
    }
    let of = |f: &Vec<f64>| {
        let first = samples.iter().map(|&j| (b[j] - mean) * (f[j] - a[j])).sum::<f64>() / (n * variance);
        let total = samples.iter().map(|&j| (a[j] - f[j]).powi(2)).sum::<f64>() / (2.0 * n * variance);
        (first, total)
    };
    Some(mixed.iter().map(of).collect())
}

/// Spearman's rank correlation of an input and a result. `None` with fewer than [`FEWEST`] pairs of numbers, or if one of
/// the two does not vary.
pub(crate) fn rank_correlation(x: &[f64], y: &[f64], seed: u64) -> Option<Interval> {
    let pairs = pairs(x, y);
    if pairs.len() < FEWEST {
        return None;
    }
    let all: Vec<usize> = (0..pairs.len()).collect();
    let of = |drawn: &[usize]| {
        let (x, y): (Vec<f64>, Vec<f64>) = drawn.iter().map(|&j| pairs[j]).unzip();
        correlation(&ranks(&x), &ranks(&y))
    };
    let value = of(&all)?;
    let resampled = bootstrap(&all, seed, of);
    Some(interval(value, resampled.into_iter()))
}

/// Mean of a result among the lowest and the highest fifth of an input (at least two samples each).
pub(crate) fn fifths(x: &[f64], y: &[f64]) -> Option<[f64; 2]> {
    let mut pairs = pairs(x, y);
    if pairs.len() < FEWEST {
        return None;
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = (pairs.len() / 5).max(2);
    let mean = |part: &[(f64, f64)]| part.iter().map(|p| p.1).sum::<f64>() / part.len() as f64;
    Some([mean(&pairs[..count]), mean(&pairs[pairs.len() - count..])])
}

fn pairs(x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    x.iter().zip(y).filter(|(x, y)| x.is_finite() && y.is_finite()).map(|(x, y)| (*x, *y)).collect()
}

/// Ranks from 1; equal values share the mean of their ranks.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    let mut ranks = vec![0.0; values.len()];
    let mut first = 0;
    for equal in order.chunk_by(|&a, &b| values[a].total_cmp(&values[b]).is_eq()) {
        let rank = first as f64 + 0.5 * (equal.len() as f64 + 1.0);
        for &k in equal {
            ranks[k] = rank;
        }
        first += equal.len();
    }
    ranks
}

/// Pearson's correlation; `None` if one of the two does not vary.
fn correlation(x: &[f64], y: &[f64]) -> Option<f64> {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| x.iter().zip(y).map(|(x, y)| f(x - mx, y - my)).sum::<f64>();
    let (xx, yy, xy) = (sum(&|x, _| x * x), sum(&|_, y| y * y), sum(&|x, y| x * y));
    (xx > 0.0 && yy > 0.0).then(|| xy / (xx * yy).sqrt())
}

/// A statistic of samples drawn with replacement, as often as it has a value.
fn bootstrap<T>(samples: &[usize], seed: u64, statistic: impl Fn(&[usize]) -> Option<T>) -> Vec<T> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    (0..RESAMPLES)
        .filter_map(|_| {
            let drawn: Vec<usize> =
                samples.iter().map(|_| samples[random.random_range(0..samples.len())]).collect();
            statistic(&drawn)
        })
        .collect()
}

fn interval(value: f64, resampled: impl Iterator<Item = f64>) -> Interval {
    let mut sorted: Vec<f64> = resampled.filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let outside = 0.5 * (1.0 - CONFIDENCE);
    Interval { value, low: percentile(&sorted, outside), high: percentile(&sorted, 1.0 - outside) }
}

/// Value below which a share of sorted numbers lies, by linear interpolation; not a number if there are none.
pub(crate) fn percentile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let at = share.clamp(0.0, 1.0) * last as f64;
    let below = at.floor() as usize;
    let above = (below + 1).min(last);
    sorted[below] + (at - below as f64) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::super::sample::{Design, Sample};
    use super::*;

    /// Results of a function on the unit cube over Saltelli's design.
    fn study(keys: usize, samples: usize, f: impl Fn(&[f64]) -> f64) -> Vec<SobolIndices> {
        let sample = Sample::new(Design::Saltelli, keys, samples, 5);
        let of = |block: usize| -> Vec<f64> {
            (0..samples)
                .map(|j| {
                    f(&(0..keys).map(|key| sample.share(j * (keys + 2) + block, key)).collect::<Vec<_>>())
                })
                .collect()
        };
        let mixed: Vec<Vec<f64>> = (0..keys).map(|key| of(key + 2)).collect();
        sobol(&of(0), &of(1), &mixed, 1).expect("indices")
    }

    #[test]
    fn indices_of_the_ishigami_function_are_those_of_its_closed_form() {
        // sin x1 + a sin^2 x2 + b x3^4 sin x1 on (-pi, pi), a = 7, b = 0.1 (Ishigami and Homma 1990; closed form in Saltelli et
        // al. 2008, Global Sensitivity Analysis: The Primer).
        let pi = std::f64::consts::PI;
        let (a, b) = (7.0, 0.1);
        let found = study(3, 4096, |u| {
            let x: Vec<f64> = u.iter().map(|u| pi * (2.0 * u - 1.0)).collect();
            x[0].sin() + a * x[1].sin().powi(2) + b * x[2].powi(4) * x[0].sin()
        });
        let v1 = 0.5 * (1.0 + b * pi.powi(4) / 5.0).powi(2);
        let v2 = a * a / 8.0;
        let v13 = b * b * pi.powi(8) * 8.0 / 225.0;
        let v = v1 + v2 + v13;
        let first = [v1 / v, v2 / v, 0.0];
        let total = [(v1 + v13) / v, v2 / v, v13 / v];
        for key in 0..3 {
            assert!((found[key].first.value - first[key]).abs() < 0.02, "{key}: {found:?}");
            assert!((found[key].total.value - total[key]).abs() < 0.02, "{key}: {found:?}");
            for (interval, exact) in [(found[key].first, first[key]), (found[key].total, total[key])] {
                assert!(interval.low < interval.high && interval.high - interval.low < 0.15);
                assert!(interval.low - 0.02 < exact && exact < interval.high + 0.02, "{interval:?} {exact}");
            }
        }
    }

    #[test]
    fn indices_of_the_g_function_are_those_of_its_closed_form() {
        // prod (|4 u - 2| + a) / (1 + a), a = 0, 1, 4.5, 9, 99 (Sobol' 1993; Saltelli and Sobol' 1995).
        let a = [0.0, 1.0, 4.5, 9.0, 99.0];
        let found = study(5, 4096, |u| {
            u.iter().zip(a).map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a)).product()
        });
        let v = a.map(|a: f64| 1.0 / (3.0 * (1.0 + a).powi(2)));
        let all: f64 = v.iter().map(|v| 1.0 + v).product();
        for key in 0..5 {
            let others = all / (1.0 + v[key]);
            assert!((found[key].first.value - v[key] / (all - 1.0)).abs() < 0.02, "{key}: {found:?}");
            assert!(
                (found[key].total.value - v[key] * others / (all - 1.0)).abs() < 0.02,
                "{key}: {found:?}"
            );
        }
    }

    #[test]
    fn rank_correlation_of_a_worked_example() {
        // Ten pairs of intelligence quotient and hours of television a week with rho = -29/165 (a worked example that
        // encyclopaedias give for Spearman's coefficient).
        let x = [106.0, 100.0, 86.0, 101.0, 99.0, 103.0, 97.0, 113.0, 112.0, 110.0];
        let y = [7.0, 27.0, 2.0, 50.0, 28.0, 29.0, 20.0, 12.0, 6.0, 17.0];
        let found = rank_correlation(&x, &y, 1).expect("a correlation");
        assert_relative_eq!(found.value, -29.0 / 165.0, epsilon = 1e-12);
        assert!(found.low < found.value && found.value < found.high);
    }

    #[test]
    fn intervals_of_the_rank_correlation_hold_the_true_value_as_often_as_they_say() {
        // Two normal variables with Pearson correlation r have Spearman's rho = 6 / pi asin(r / 2) (Pearson 1907).
        use super::super::space::Distribution;
        let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
        let r: f64 = 0.6;
        let rho = 6.0 / std::f64::consts::PI * (r / 2.0).asin();
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let mut draw = || normal.quantile(random.random::<f64>().clamp(1e-12, 1.0 - 1e-12));
        let trials = 200;
        let held = (0..trials)
            .filter(|trial| {
                let pairs: Vec<(f64, f64)> = (0..60)
                    .map(|_| {
                        let (p, q) = (draw(), draw());
                        (p, r * p + (1.0 - r * r).sqrt() * q)
                    })
                    .collect();
                let (x, y): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
                let found = rank_correlation(&x, &y, *trial).expect("a correlation");
                found.low <= rho && rho <= found.high
            })
            .count();
        // 95 of 100 are promised; a bootstrap of 60 pairs keeps a little less. Four standard deviations below: 0.88.
        assert!(held as f64 / f64::from(trials as u32) > 0.88, "{held} of {trials}");
    }

    #[test]
    fn what_does_not_vary_or_is_too_little_has_no_index() {
        assert_eq!(rank_correlation(&[1.0; 20], &[2.0; 20], 1), None);
        assert_eq!(rank_correlation(&[1.0, 2.0], &[2.0, 3.0], 1), None);
        assert_eq!(sobol(&[1.0; 20], &[1.0; 20], &[vec![1.0; 20]], 1), None);
        assert_eq!(ranks(&[3.0, 1.0, 3.0, 2.0]), [3.5, 1.0, 3.5, 2.0]);
        let x: Vec<f64> = (0..10).map(f64::from).collect();
        let y: Vec<f64> = x.iter().map(|x| 2.0 * x).collect();
        assert_eq!(fifths(&x, &y), Some([1.0, 17.0]));
    }
}
