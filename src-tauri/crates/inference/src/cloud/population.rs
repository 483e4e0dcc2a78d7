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

/// Log of the ratio of the masses of two laws, from draws of both: the log of the weight of the second over the first at
/// the draws of each. From one side alone, if there are no draws of the other.
///
/// # Model
/// The acceptance ratio estimator: of all that use a bridge between two laws it has the least variance; looked for by
/// Newton's steps, for both sides of its equation are monotonic, or by halves where one would lead out.
/// # Source
/// C. H. Bennett, Efficient estimation of free energy differences from Monte Carlo data, J. Comput. Phys. 22 (1976) 245,
/// equation 12, from memory.
pub(super) fn ln_mass_ratio(of_first: &[f64], of_second: &[f64]) -> f64 {
    let one_sided = ln_mean(of_first);
    if of_second.is_empty() || one_sided == f64::NEG_INFINITY {
        return one_sided;
    }
    let (n, m) = (of_first.len() as f64, of_second.len() as f64);
    let fermi = |x: f64| 1.0 / (1.0 + x.exp());
    // How much the first side is more than the second, and how fast that shrinks.
    let excess = |ln_ratio: f64| {
        let shift = ln_ratio + (n / m).ln();
        let sides =
            of_first.iter().map(|ln| (shift - ln, 1.0)).chain(of_second.iter().map(|ln| (ln - shift, -1.0)));
        sides.fold((0.0, 0.0), |(excess, slope), (x, sign)| {
            let share = fermi(x);
            (excess + sign * share, slope + share * (1.0 - share))
        })
    };
    let (mut low, mut high, mut at) = (one_sided - 30.0, one_sided + 30.0, one_sided);
    for _ in 0..60 {
        let (excess, slope) = excess(at);
        if excess > 0.0 {
            low = at
        } else {
            high = at
        }
        let step = excess / slope;
        if step.abs() < 1e-9 {
            break;
        }
        let next = at + step;
        at = if next > low && next < high { next } else { f64::midpoint(low, high) };
    }
    at
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

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::StandardNormal;

    #[test]
    fn the_ratio_of_two_gaussian_masses_comes_out_better_from_both_sides_than_from_one() {
        // exp(-z^2 / 2) against exp(-(z - 1.5)^2 / (2 x 0.4^2)): masses in the ratio of their widths.
        let (far, width) = (1.5, 0.4);
        let weight = |z: f64| 0.5 * z * z - 0.5 * ((z - far) / width).powi(2);
        let truth = f64::ln(width);
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(12);
        let (mut both2, mut one2, mut mean) = (0.0, 0.0, 0.0);
        const TIMES: f64 = 200.0;
        for _ in 0..200 {
            let mut draws = |m: f64, s: f64| -> Vec<f64> {
                (0..100).map(|_| weight(m + s * rng.sample::<f64, _>(StandardNormal))).collect()
            };
            let (first, second) = (draws(0.0, 1.0), draws(far, width));
            let (both, one) = (ln_mass_ratio(&first, &second) - truth, ln_mean(&first) - truth);
            both2 += both * both / TIMES;
            one2 += one * one / TIMES;
            mean += both / TIMES;
        }
        assert!(mean.abs() < 0.03 && both2 < 0.8 * one2, "{mean}, {both2} against {one2}");
    }
}
