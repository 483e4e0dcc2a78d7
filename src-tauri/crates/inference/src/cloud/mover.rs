//! Moves that keep the law of a population, long where the evidence is silent and shaped to it where it speaks.

use super::shape::Shape;
use super::{Draw, Tell};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// How far a move goes in the directions that the evidence does not speak of: nearly a fresh draw.
const SILENT_STRIDE: f64 = 0.9;
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
    pub(super) shape: Shape,
    pub(super) stride: f64,
}

impl Mover {
    /// Moves every draw once, keeping their law under the likelihood raised to `power`.
    pub(super) fn sweep(
        &mut self,
        teller: &mut dyn Tell,
        power: f64,
        people: &mut [Draw],
        rng: &mut ChaCha8Rng,
    ) {
        let mut taken = 0_usize;
        let stride = self.stride;
        let [memory, silent_memory] = [stride, SILENT_STRIDE].map(|s| (1.0 - s * s).sqrt());
        let square = |v: &[f64]| v.iter().map(|v| v * v).sum::<f64>();
        let Some(mut told) = people.first().cloned() else { return };
        let [mut fresh, mut y, mut white, mut stepped, mut moved] = [const { Vec::new() }; 5];
        for it in people.iter_mut() {
            let theta = &mut told.theta;
            theta.fill_with(|| rng.sample(StandardNormal));
            self.shape.project(theta, &mut fresh);
            for (to, from) in theta.iter_mut().zip(&it.theta) {
                *to = silent_memory * from + SILENT_STRIDE * *to;
            }
            self.shape.project(&it.theta, &mut y);
            self.shape.whitened(&y, &mut white);
            stepped.clear();
            stepped.extend(white.iter().zip(&fresh).map(|(white, fresh)| memory * white + stride * fresh));
            self.shape.coloured(&stepped, &mut moved);
            // Along the directions the silent step gives way to the shaped one.
            for ((fresh, y), moved) in fresh.iter_mut().zip(&y).zip(&moved) {
                *fresh = moved - (silent_memory * y + SILENT_STRIDE * *fresh);
            }
            self.shape.shift(theta, &fresh);
            let before = square(&y) - square(&white);
            let after = square(&moved) - square(&stepped);
            told.luck = rng.random();
            teller.tell(&mut told);
            let ln_ratio = told.ln_at(power) - it.ln_at(power) + 0.5 * (before - after);
            if rng.random::<f64>().ln() < ln_ratio {
                told.island = it.island;
                core::mem::swap(it, &mut told);
                taken += 1;
            }
        }
        let share = taken as f64 / people.len().max(1) as f64;
        self.stride = (self.stride * (share - TAKEN).exp()).clamp(0.05, 1.0);
    }
}

/// Gauss-Newton curvature of the log likelihood at a draw: the square of the slopes of its residuals.
pub(super) fn curvature(teller: &mut dyn Tell, draw: &Draw) -> Vec<f64> {
    /// Wide enough to look past the corners of a told story, narrow against the prior.
    const STEP: f64 = 0.1;
    /// The steepest slope of a residual that counts, in standard deviations of the prior.
    const STEEPEST: f64 = 30.0;
    let d = draw.theta.len();
    let mut theta = draw.theta.clone();
    let here = teller.residuals(draw.mode, &theta);
    let mut slopes = vec![vec![0.0; here.len()]; d];
    for (at, slopes) in slopes.iter_mut().enumerate() {
        theta[at] += STEP;
        let there = teller.residuals(draw.mode, &theta);
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
