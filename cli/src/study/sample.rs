//! Which combinations of values a study runs: every one, or a sample. A design gives each case a share between 0 and 1
//! for each key (or the number of a step); it depends on its seed and on nothing else.

use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Most keys that a sampled study may vary: Sobol' points have 256 dimensions, and Saltelli's design takes two a key.
pub(crate) const MOST_KEYS: usize = 64;
/// Most samples: the length of the Sobol' sequence.
pub(crate) const MOST_SAMPLES: usize = 1 << 16;

/// How combinations are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Design {
    /// Every combination, the last key fastest.
    Grid,
    /// Latin hypercube: each key has one value in each of as many equal shares as there are samples (`McKay`, Beckman and
    /// Conover 1979, Technometrics 21:239-245).
    LatinHypercube,
    /// Points of a scrambled Sobol' sequence, which fill the space more evenly than chance.
    Sobol,
    /// Saltelli's design for Sobol' indices: two independent samples A and B, and for each key a copy of A with that key's
    /// values from B (Saltelli et al. 2010, Comput Phys Commun 181:259-270).
    Saltelli,
}

impl Design {
    /// Names of the designs as the key `design` takes them.
    pub(crate) const NAMES: [&str; 4] = ["grid", "latin_hypercube", "sobol", "saltelli"];

    /// The design of a name.
    pub(crate) fn named(name: &str) -> Option<Self> {
        let all = [Self::Grid, Self::LatinHypercube, Self::Sobol, Self::Saltelli];
        Self::NAMES.iter().position(|n| *n == name).map(|k| all[k])
    }

    /// Its name.
    pub(crate) fn name(self) -> &'static str {
        Self::NAMES[self as usize]
    }
}

/// A sample: shares for each case and key.
#[derive(Debug, Clone)]
pub(crate) struct Sample {
    design: Design,
    keys: usize,
    samples: usize,
    seed: u64,
    /// Latin hypercube only: for each key the shares of all samples.
    latin: Vec<Vec<f64>>,
}

impl Sample {
    /// Draws a sample for some keys.
    pub(crate) fn new(design: Design, keys: usize, samples: usize, seed: u64) -> Self {
        let latin = match design {
            Design::LatinHypercube => (0..keys).map(|key| latin_shares(samples, seed, key)).collect(),
            _ => Vec::new(),
        };
        Self { design, keys, samples, seed, latin }
    }

    /// Number of samples and seed.
    pub(crate) fn key(&self) -> (usize, u64) {
        (self.samples, self.seed)
    }

    /// Number of cases.
    pub(crate) fn len(&self) -> usize {
        match self.design {
            Design::Saltelli => self.samples * (self.keys + 2),
            _ => self.samples,
        }
    }

    /// The share (0 < share < 1) of a key in a case.
    pub(crate) fn share(&self, case: usize, key: usize) -> f64 {
        match self.design {
            Design::LatinHypercube => self.latin[key][case],
            Design::Grid | Design::Sobol => sobol(case, key, self.seed),
            Design::Saltelli => {
                let (sample, block) = (case / (self.keys + 2), case % (self.keys + 2));
                // Blocks of a sample: A, B, then A with one key from B.
                let from_b = block == 1 || block == key + 2;
                sobol(sample, if from_b { self.keys + key } else { key }, self.seed)
            }
        }
    }
}

/// A point of the scrambled Sobol' sequence (24 bits), moved off 0 by half a step.
fn sobol(index: usize, dimension: usize, seed: u64) -> f64 {
    let seed = (seed ^ (seed >> 32)) as u32;
    f64::from(sobol_burley::sample(index as u32, dimension as u32, seed)) + 2f64.powi(-25)
}

/// One share in each of `samples` equal parts, in random order.
fn latin_shares(samples: usize, seed: u64, key: usize) -> Vec<f64> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(key as u64);
    let mut order: Vec<usize> = (0..samples).collect();
    order.shuffle(&mut random);
    let least = f64::EPSILON;
    order
        .into_iter()
        .map(|part| {
            let within: f64 = random.random();
            ((part as f64 + within) / samples as f64).clamp(least, 1.0 - least)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_latin_hypercube_has_one_value_in_each_part_of_each_key() {
        let sample = Sample::new(Design::LatinHypercube, 3, 50, 7);
        for key in 0..3 {
            let mut parts: Vec<usize> = (0..50).map(|k| (sample.share(k, key) * 50.0) as usize).collect();
            parts.sort_unstable();
            assert_eq!(parts, (0..50).collect::<Vec<_>>());
        }
        let other = Sample::new(Design::LatinHypercube, 3, 50, 8);
        assert!(
            (0..50).any(|k| sample.share(k, 0).to_bits() != other.share(k, 0).to_bits()),
            "the seed counts"
        );
        assert!((0..50).any(|k| sample.share(k, 0).to_bits() != sample.share(k, 1).to_bits()), "keys differ");
    }

    #[test]
    fn sobol_points_integrate_better_than_chance() {
        // Mean of x y z over the unit cube is 1/8; chance would be off by about sqrt(1/27 - 1/64) / sqrt(4096) = 0.0023.
        let sample = Sample::new(Design::Sobol, 3, 4096, 1);
        let sum: f64 = (0..4096).map(|k| (0..3).map(|key| sample.share(k, key)).product::<f64>()).sum();
        assert!((sum / 4096.0 - 0.125).abs() < 1e-4, "{}", sum / 4096.0);
        assert!((0..4096).all(|k| (0..3).all(|key| (1e-9..1.0).contains(&sample.share(k, key)))));
    }

    #[test]
    fn saltelli_copies_one_key_from_the_other_sample() {
        let sample = Sample::new(Design::Saltelli, 3, 8, 3);
        assert_eq!(sample.len(), 8 * 5);
        for j in 0..8 {
            let row =
                |block: usize| -> Vec<f64> { (0..3).map(|key| sample.share(5 * j + block, key)).collect() };
            let (a, b) = (row(0), row(1));
            for key in 0..3 {
                let mut mixed = a.clone();
                mixed[key] = b[key];
                assert_eq!(row(2 + key), mixed);
            }
        }
    }
}
