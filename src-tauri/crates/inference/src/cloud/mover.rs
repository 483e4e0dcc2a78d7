//! Moves that keep the law of a population, long where the evidence is silent and shaped to it where it speaks.

use super::{Draw, Weigher};
use rand::{Rng, RngExt};
use rand_distr::StandardNormal;

/// The most directions that have a shape of their own.
const MOST: usize = 20;
/// Information, in units of the prior's, from which on the evidence speaks of a direction.
const SPOKEN_OF: f64 = 0.05;
/// How far a move goes in the directions that the evidence does not speak of: nearly a fresh draw.
const SILENT_STRIDE: f64 = 0.9;
/// How much shorter every other move is.
const NEAR: f64 = 0.3;
/// Share of moves taken that the stride is led to.
const TAKEN: f64 = 0.3;

/// Shape and length of the moves of one mode.
///
/// # Model
/// Along the few directions that the evidence speaks of, autoregressive steps about the population's mean, shaped by
/// its covariance; along all others, autoregressive steps about the prior (preconditioned Crank-Nicolson). Both keep a
/// Gaussian; the Metropolis ratio puts right what that Gaussian gets wrong.
/// # Source
/// T. Cui, K. Law, Y. Marzouk, Dimension-independent likelihood-informed MCMC, J. Comput. Phys. 304 (2016) 109;
/// C. Andrieu, G. Roberts, The pseudo-marginal approach, Annals of Statistics 37 (2009) 697; from memory.
#[derive(Clone, Debug)]
pub(super) struct Mover {
    /// Orthonormal.
    directions: Vec<Vec<f64>>,
    mean: Vec<f64>,
    /// Lower root of the covariance along the directions, row by row.
    root: Vec<f64>,
    pub(super) stride: f64,
}

impl Mover {
    /// Takes the shape of the draws along the directions of most `information` (symmetric, row by row: the mean of the
    /// Gauss-Newton curvature of the log likelihood).
    pub(super) fn shaped<'a>(
        draws: impl Iterator<Item = &'a Draw> + Clone,
        information: Vec<f64>,
        stride: f64,
    ) -> Self {
        let d = draws.clone().next().map_or(0, |draw| draw.theta.len());
        let mut rows = super::eigen::symmetric(information, d);
        rows.retain(|(value, _)| *value > SPOKEN_OF);
        rows.truncate(MOST);
        let directions: Vec<Vec<f64>> = rows.into_iter().map(|row| row.1).collect();
        let r = directions.len();
        let along: Vec<Vec<f64>> = draws.map(|draw| project(&directions, &draw.theta)).collect();
        let n = along.len() as f64;
        let mut mean = vec![0.0; r];
        for y in &along {
            for (m, y) in mean.iter_mut().zip(y) {
                *m += y / n;
            }
        }
        let mut covariance = vec![0.0; r * r];
        for y in &along {
            for i in 0..r {
                for j in 0..=i {
                    covariance[i * r + j] += (y[i] - mean[i]) * (y[j] - mean[j]) / n;
                }
            }
        }
        // Where the draws are few the sample is damped.
        let trust = n / (n + 2.0 * r as f64);
        for i in 0..r {
            for j in 0..i {
                covariance[i * r + j] *= trust;
            }
            covariance[i * r + i] = covariance[i * r + i].max(1e-4);
        }
        let root = super::cholesky(covariance, r);
        Self { directions, mean, root, stride }
    }

    /// Moves every draw once, keeping their law under the likelihood raised to `power`.
    pub(super) fn sweep(
        &mut self,
        weigher: &mut Weigher<'_>,
        power: f64,
        near: bool,
        people: &mut [Draw],
        rng: &mut impl Rng,
    ) {
        let r = self.directions.len();
        let mut taken = 0_usize;
        // Long steps cross the cloud, short ones free a draw from a narrow place.
        let shorter = if near { NEAR } else { 1.0 };
        let (stride, silent_stride) = (shorter * self.stride, shorter * SILENT_STRIDE);
        let [memory, silent_memory] = [stride, silent_stride].map(|s| (1.0 - s * s).sqrt());
        let mut theta = Vec::new();
        let mut white = vec![0.0; r];
        for it in people.iter_mut() {
            let y = project(&self.directions, &it.theta);
            theta.clear();
            theta.extend((0..it.theta.len()).map(|_| rng.sample::<f64, _>(StandardNormal)));
            let fresh = project(&self.directions, &theta);
            for (to, from) in theta.iter_mut().zip(&it.theta) {
                *to = silent_memory * from + silent_stride * *to;
            }
            // Along the directions: what the silent step did there is taken back, and the shaped step made.
            let (mut before, mut after) = (0.0, 0.0);
            for i in 0..r {
                let row = &self.root[i * r..i * r + i];
                let known: f64 = row.iter().zip(&white).map(|(root, white)| root * white).sum();
                white[i] = (y[i] - self.mean[i] - known) / self.root[i * r + i];
                before += y[i] * y[i] - white[i] * white[i];
            }
            for (white, fresh) in white.iter_mut().zip(&fresh) {
                *white = memory * *white + stride * fresh;
            }
            for i in 0..r {
                let row = &self.root[i * r..i * r + i + 1];
                let moved =
                    self.mean[i] + row.iter().zip(&white).map(|(root, white)| root * white).sum::<f64>();
                after += moved * moved - white[i] * white[i];
                let change = moved - silent_memory * y[i] - silent_stride * fresh[i];
                for (to, direction) in theta.iter_mut().zip(&self.directions[i]) {
                    *to += change * direction;
                }
            }
            let told = weigher.draw(it.mode, &theta, rng);
            let ln_ratio = told.ln_at(power) - it.ln_at(power) + 0.5 * (before - after);
            if rng.random::<f64>().ln() < ln_ratio {
                *it = Draw { island: it.island, ..told };
                taken += 1;
            }
        }
        if !near {
            let share = taken as f64 / people.len() as f64;
            self.stride = (self.stride * (share - TAKEN).exp()).clamp(0.05, 1.0);
        }
    }
}

fn project(directions: &[Vec<f64>], theta: &[f64]) -> Vec<f64> {
    directions.iter().map(|row| row.iter().zip(theta).map(|(a, b)| a * b).sum()).collect()
}

/// Gauss-Newton curvature of the log likelihood at a draw: the square of the slopes of its residuals.
pub(super) fn curvature(weigher: &mut Weigher<'_>, draw: &Draw) -> Vec<f64> {
    /// Wide enough to look past the corners of a told story, narrow against the prior.
    const STEP: f64 = 0.1;
    /// The steepest slope of a residual that counts, in standard deviations of the prior.
    const STEEPEST: f64 = 30.0;
    let d = draw.theta.len();
    let mut theta = draw.theta.clone();
    let here = weigher.residuals(draw.mode, &theta);
    let mut slopes = vec![vec![0.0; here.len()]; d];
    for (at, slopes) in slopes.iter_mut().enumerate() {
        theta[at] += STEP;
        let there = weigher.residuals(draw.mode, &theta);
        theta[at] -= STEP;
        if there.len() == here.len() {
            for (slope, (a, b)) in slopes.iter_mut().zip(there.iter().zip(&here)) {
                // A step over an edge of the story is no slope.
                let change = (a - b) / STEP;
                *slope = if change.is_finite() { change.clamp(-STEEPEST, STEEPEST) } else { 0.0 };
            }
        }
    }
    let mut square = vec![0.0; d * d];
    for i in 0..d {
        for j in 0..=i {
            let sum: f64 = slopes[i].iter().zip(&slopes[j]).map(|(a, b)| a * b).sum();
            square[i * d + j] = sum;
            square[j * d + i] = sum;
        }
    }
    square
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use windfall_facts::Mode;

    #[test]
    fn a_move_changes_the_silent_directions_and_keeps_its_own_arithmetic() {
        // With unit information nowhere but along one direction, a stride of one and a Gaussian fitted to a population
        // far off, the proposal must land where that Gaussian says, whatever the draw was before.
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(4);
        let draws: Vec<Draw> = (0..400)
            .map(|_| {
                let own: f64 = 3.0 + 0.1 * rng.sample::<f64, _>(StandardNormal);
                Draw::of(Mode::Opens, &[rng.sample(StandardNormal), own, rng.sample(StandardNormal)])
            })
            .collect();
        let mut information = vec![0.0; 9];
        information[4] = 9.0;
        let mover = Mover::shaped(draws.iter(), information, 1.0);
        assert_eq!(mover.directions.len(), 1);
        assert!((mover.mean[0].abs() - 3.0).abs() < 0.03 && (0.09..0.12).contains(&mover.root[0]));
    }
}
