//! What one flight says of all that can be learned from it, together.

use super::gaussian::{Said, forward, identity, times, transposed_times};
use super::{Learnable, Thing, Trait};
use crate::cloud::{Cloud, Draw, eigen};
use serde::{Deserialize, Serialize};

/// A trait that a message speaks of.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spoken {
    /// Of what.
    pub thing: Thing,
    /// What of it.
    pub what: Trait,
    /// Part of its variance that stays from flight to flight.
    pub lasting: f64,
}

/// What one flight says of the traits of its things, in standard deviations of their priors: the logarithm of its
/// likelihood is `shift z - z precision z / 2`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Message {
    /// Of what.
    pub of: Vec<Spoken>,
    /// Posterior precision less that of the prior: the lower triangle, row by row.
    pub precision: Vec<f64>,
    /// Posterior precision times mean, less that of the prior.
    pub shift: Vec<f64>,
}

/// A prior that beliefs have moved: `mean + root z`, the root a lower triangle in full rows.
pub(super) struct Before {
    pub(super) mean: Vec<f64>,
    pub(super) root: Vec<f64>,
}

impl Message {
    /// What the draws of a cloud say, `total` the sum of their weights.
    pub(super) fn of(cloud: &Cloud, described: &[&Draw], total: f64) -> Self {
        let learnable = cloud.model.learnable(&cloud.flight);
        let d = learnable.len();
        let value = |draw: &Draw, at: usize| {
            draw.theta.get(at).or_else(|| draw.phones.get(at - draw.theta.len())).copied().unwrap_or(0.0)
        };
        let mut mean = vec![0.0; d];
        for draw in described {
            for (mean, it) in mean.iter_mut().zip(&learnable) {
                *mean += draw.weight / total * value(draw, it.at);
            }
        }
        let mut covariance = vec![0.0; d * d];
        let mut off = vec![0.0; d];
        for draw in described {
            for ((off, it), mean) in off.iter_mut().zip(&learnable).zip(&mean) {
                *off = value(draw, it.at) - mean;
            }
            for i in 0..d {
                (0..d).for_each(|j| covariance[i * d + j] += draw.weight / total * off[i] * off[j]);
            }
        }
        let mut before = Before { mean: vec![0.0; d], root: identity(d) };
        for (i, it) in learnable.iter().enumerate() {
            let own = cloud.model.adjustment(it.at);
            (before.mean[i], before.root[i * d + i]) = (own.mean, own.sigma);
        }
        cloud.model.moved().fill(&learnable, &mut before);
        let draws = cloud.effective_draws.min(described.len() as f64);
        Self::between(learnable.into_iter().map(spoken).collect(), &before, (&mean, covariance), draws)
    }

    /// What turns a prior into a posterior whose mean and covariance, measured on so many effective `draws`, are in
    /// standard deviations of that prior, about its mean.
    ///
    /// # Source
    /// The inverse of a covariance measured on n draws of d coordinates is too great by n / (n - d - 1), about: the mean of
    /// the inverse Wishart law, any handbook of multivariate statistics; from memory.
    pub(super) fn between(
        of: Vec<Spoken>,
        before: &Before,
        (mean, covariance): (&[f64], Vec<f64>),
        draws: f64,
    ) -> Self {
        const LEAST_VARIANCE: f64 = 1e-4;
        let d = of.len();
        let too_great = 1.0 - (d as f64 + 1.0) / draws;
        if d == 0 || too_great < 0.5 {
            return Self::default();
        }
        // In the prior's own coordinates it has precision one and mean zero.
        let mut inner = vec![0.0; d * d];
        for (value, way) in eigen::symmetric(covariance, d) {
            let precision = too_great / value.max(LEAST_VARIANCE);
            (0..d * d).for_each(|at| inner[at] += precision * way[at / d] * way[at % d]);
        }
        let pull = times(&inner, mean);
        (0..d).for_each(|i| inner[i * d + i] -= 1.0);
        // Columns of the inverse root, which turns them back.
        let mut back = vec![0.0; d * d];
        for j in 0..d {
            let mut column = vec![0.0; d];
            column[j] = 1.0;
            forward(&before.root, &mut column);
            (0..d).for_each(|i| back[i * d + j] = column[i]);
        }
        let precision = super::gaussian::congruent(&back, &inner, d);
        let from_mean = times(&precision, &before.mean);
        let shift = transposed_times(&back, &pull).iter().zip(from_mean).map(|(a, b)| a + b).collect();
        let lower = (0..d).flat_map(|i| (0..=i).map(move |j| i * d + j)).map(|at| precision[at]).collect();
        Self { of, precision: lower, shift }
    }

    /// In full rows, each coordinate at its own place.
    pub(super) fn said(&self) -> Said {
        let d = self.of.len();
        let at = |i: usize, j: usize| i.max(j) * (i.max(j) + 1) / 2 + i.min(j);
        Said {
            at: (0..d).collect(),
            precision: (0..d * d)
                .map(|it| self.precision.get(at(it / d, it % d)).copied().unwrap_or(0.0))
                .collect(),
            shift: self.shift.clone(),
        }
    }
}

fn spoken(it: Learnable) -> Spoken {
    Spoken { thing: it.thing, what: it.what, lasting: it.lasting }
}

#[cfg(test)]
mod tests {
    use super::super::gaussian::{Gaussian, congruent, transposed};
    use super::*;

    #[test]
    fn a_message_does_not_depend_on_what_was_believed_before() {
        // A Gaussian likelihood of two traits, read with two priors: the message is the likelihood, both times.
        let of = || {
            [Trait::Mass, Trait::OpenDrag]
                .map(|what| Spoken { thing: Thing::Site("a".into()), what, lasting: 1.0 })
                .to_vec()
        };
        let (gain, seen, error2) = ([1.0, 0.8], 1.5, 0.7);
        let likelihood: Vec<f64> = (0..4).map(|at| gain[at / 2] * gain[at % 2] / error2).collect();
        for (mean, root) in [([0.0, 0.0], [1.0, 0.0, 0.0, 1.0]), ([0.7, -0.3], [0.8, 0.0, -0.4, 0.5])] {
            // Exact posterior in the prior's own coordinates: x = mean + root z.
            let inner = congruent(&root, &likelihood, 2);
            let off = seen - gain[0] * mean[0] - gain[1] * mean[1];
            let pull = transposed_times(&root, &gain.map(|it| it * off / error2));
            let [a, b, c] = [1.0 + inner[0], inner[1], 1.0 + inner[3]];
            let det = a * c - b * b;
            let covariance = vec![c / det, -b / det, -b / det, a / det];
            let middle = times(&covariance, &pull);
            let before = Before { mean: mean.to_vec(), root: root.to_vec() };
            let message = Message::between(of(), &before, (&middle, covariance), 1e12);
            let said = message.said();
            for (precision, exact) in said.precision.iter().zip(&likelihood) {
                assert!((precision - exact).abs() < 1e-9, "{message:?}");
            }
            for (shift, gain) in said.shift.iter().zip(gain) {
                assert!((shift - gain * seen / error2).abs() < 1e-9, "{message:?}");
            }
        }
    }

    #[test]
    fn draws_of_the_prior_say_nothing_on_the_whole() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
        let (d, draws) = (12, 400);
        let names: Vec<Spoken> = (0..d)
            .map(|it| Spoken { thing: Thing::Rocket("a".into(), it), what: Trait::Mass, lasting: 1.0 })
            .collect();
        // Each flight draws with what those before it taught, as they do in a logbook.
        let mut said = Vec::new();
        for _ in 0..30 {
            let known = Gaussian::standard(d).after(&said);
            let before = Before { mean: known.mean.clone(), root: known.root() };
            let z: Vec<Vec<f64>> = (0..draws)
                .map(|_| (0..d).map(|_| rng.sample(rand_distr::StandardNormal)).collect())
                .collect();
            let n = draws as f64;
            let mean: Vec<f64> = (0..d).map(|i| z.iter().map(|row| row[i]).sum::<f64>() / n).collect();
            let covariance = (0..d * d)
                .map(|at| {
                    let (i, j) = (at / d, at % d);
                    z.iter().map(|row| (row[i] - mean[i]) * (row[j] - mean[j])).sum::<f64>() / n
                })
                .collect();
            said.push(Message::between(names.clone(), &before, (&mean, covariance), n).said());
        }
        let known = Gaussian::standard(d).after(&said);
        let variance = (0..d).map(|i| known.variance(i)).sum::<f64>() / d as f64;
        let off = (known.mean.iter().map(|it| it * it).sum::<f64>() / d as f64).sqrt();
        // Noise adds up to thirty times 12 / 400 of the prior's precision if its bias is left in.
        assert!((0.75..=1.0).contains(&variance) && off < 0.4, "{variance} {off}");
        let covariance = congruent(&transposed(&known.root(), d), &identity(d), d);
        assert!(covariance.iter().zip(&known.covariance).all(|(a, b)| (a - b).abs() < 1e-6));
    }
}
