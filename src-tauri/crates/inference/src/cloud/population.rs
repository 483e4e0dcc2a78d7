//! Possible flights of one mode on one island, equally weighted, and how they are chosen anew.

use super::Draw;
use rand::{Rng, RngExt};

/// Effective share of weights given by their logarithms.
pub(super) fn effective_share(ln_weights: &[f64]) -> f64 {
    let high = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return 0.0;
    }
    let (mut sum, mut squares) = (0.0, 0.0);
    for ln in ln_weights {
        let w = (ln - high).exp();
        sum += w;
        squares += w * w;
    }
    sum * sum / squares / ln_weights.len() as f64
}

/// Log of the mean of weights given by their logarithms.
pub(super) fn ln_mean(ln_weights: &[f64]) -> f64 {
    let high = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return high;
    }
    high + (ln_weights.iter().map(|ln| (ln - high).exp()).sum::<f64>() / ln_weights.len() as f64).ln()
}

/// Systematic resampling to `size` draws; nobody, if all weights are zero.
pub(super) fn resample(people: &[Draw], ln_weights: &[f64], size: usize, rng: &mut impl Rng) -> Vec<Draw> {
    let high = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return Vec::new();
    }
    let weights: Vec<f64> = ln_weights.iter().map(|ln| (ln - high).exp()).collect();
    let stride = weights.iter().sum::<f64>() / size.max(1) as f64;
    let start: f64 = rng.random();
    let (mut reached, mut index) = (weights[0], 0);
    (0..size)
        .map(|k| {
            let mark = (k as f64 + start) * stride;
            while reached < mark && index + 1 < people.len() {
                index += 1;
                reached += weights[index];
            }
            people[index].clone()
        })
        .collect()
}
