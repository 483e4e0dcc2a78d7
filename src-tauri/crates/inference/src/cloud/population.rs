//! Possible flights of one mode on one island, equally weighted, and how they are chosen anew.

use super::Draw;
use rand::{Rng, RngExt};

/// Effective share of the populations that is left when their likelihood is raised by `step` more.
pub(super) fn effective_share<'a>(islands: impl Iterator<Item = &'a Draw> + Clone, step: f64) -> f64 {
    let high = islands.clone().map(|it| it.ln_likelihood).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut squares, mut count) = (0.0, 0.0, 0.0);
    for it in islands {
        let w = (step * (it.ln_likelihood - high)).exp();
        sum += w;
        squares += w * w;
        count += 1.0;
    }
    sum * sum / squares / count
}

/// The largest step of the power, at most `rest`, that keeps the effective share.
pub(super) fn next_step<'a>(islands: impl Iterator<Item = &'a Draw> + Clone, rest: f64, kept: f64) -> f64 {
    if effective_share(islands.clone(), rest) >= kept {
        return rest;
    }
    let (mut low, mut top) = (0.0, rest);
    for _ in 0..30 {
        let middle = f64::midpoint(low, top);
        if effective_share(islands.clone(), middle) >= kept { low = middle } else { top = middle }
    }
    low.max(rest * 1e-6)
}

/// Raises the power on the likelihood by `step`: systematic resampling. Returns the log of the mean weight.
pub(super) fn resample(people: &mut [Draw], step: f64, rng: &mut impl Rng) -> f64 {
    let high = people.iter().map(|it| step * it.ln_likelihood).fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return high;
    }
    let weights: Vec<f64> = people.iter().map(|it| (step * it.ln_likelihood - high).exp()).collect();
    let total: f64 = weights.iter().sum();
    let stride = total / people.len() as f64;
    let start: f64 = rng.random();
    let mut copies = vec![0_usize; people.len()];
    let (mut reached, mut index) = (weights[0], 0);
    for k in 0..people.len() {
        let mark = (k as f64 + start) * stride;
        while reached < mark && index + 1 < people.len() {
            index += 1;
            reached += weights[index];
        }
        copies[index] += 1;
    }
    // Survivors stay where they are; the places of the others are refilled with copies.
    let mut spare: Vec<usize> = (0..people.len()).filter(|i| copies[*i] == 0).collect();
    for index in 0..people.len() {
        for _ in 1..copies[index] {
            if let Some(place) = spare.pop() {
                people[place] = people[index].clone();
            }
        }
    }
    high + stride.ln()
}
