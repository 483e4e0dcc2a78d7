//! From the prior to the posterior in steps: a tempered population with moves shaped to it.

use super::{Draw, Weigher};
use crate::evidence::Witnesses;
use crate::model::Model;
use rand::{Rng, RngExt};
use rand_distr::StandardNormal;
use windfall_facts::Mode;

/// Possible flights of one mode on one island, equally weighted.
#[derive(Clone, Debug, Default)]
pub(super) struct Population {
    /// Log of the evidence for the mode; none for a population of nobody.
    pub(super) ln_evidence: Option<f64>,
    pub(super) draws: Vec<Draw>,
}

/// Effective share of the population that each step of the bridge keeps.
const KEPT: f64 = 0.5;
/// Sweeps of moves after each step, and after the last.
const SWEEPS: usize = 4;
const LAST_SWEEPS: usize = 10;
/// A bridge longer than this has met evidence that contradicts everything; its last step takes what is left.
const LONGEST: usize = 60;

/// Carries `size` possible flights of one mode from the prior to the posterior.
///
/// # Model
/// Sequential Monte Carlo by likelihood tempering: each step raises the power on the likelihood until half of the
/// population remains effective, resamples, and moves every particle by Metropolis steps that keep the tempered
/// law: autoregressive steps about the population's mean, shaped by its covariance, whose length follows their
/// acceptance. The linear block is drawn afresh with each proposal; its estimate of the likelihood is unbiased, so the
/// law at full power is exact.
/// # Source
/// P. Del Moral, A. Doucet, A. Jasra, Sequential Monte Carlo samplers, J. R. Stat. Soc. B 68 (2006) 411; C. Andrieu,
/// G. Roberts, The pseudo-marginal approach, Annals of Statistics 37 (2009) 697; from memory.
pub(super) fn bridge(
    model: &Model,
    witnesses: &Witnesses,
    mode: Mode,
    size: usize,
    rng: &mut impl Rng,
) -> Population {
    if size == 0 {
        return Population::default();
    }
    let mut weigher = Weigher::new(model, witnesses);
    let mut people: Vec<Draw> = (0..size)
        .map(|_| {
            let theta: Vec<f64> = (0..model.theta).map(|_| rng.sample(StandardNormal)).collect();
            weigher.draw(mode, &theta, rng)
        })
        .collect();
    let mut ln_evidence = 0.0;
    let mut power = 0.0;
    let mut mover = Mover::new(model);
    let outside = people.iter().any(|it| it.ln_likelihood == f64::NEG_INFINITY);
    if outside || !witnesses.pieces.is_empty() {
        for number in 0..LONGEST {
            if people.iter().all(|it| it.ln_likelihood == f64::NEG_INFINITY) {
                ln_evidence = f64::NEG_INFINITY;
                break;
            }
            // The last step goes all the way, whatever it costs the population: the evidence stays that of the whole.
            let step = if number + 1 < LONGEST { next_step(&people, 1.0 - power) } else { 1.0 - power };
            let ln_weights: Vec<f64> = people.iter().map(|it| step * it.ln_likelihood).collect();
            ln_evidence += ln_mean(&ln_weights);
            power = if step >= 1.0 - power { 1.0 } else { power + step };
            resample(&mut people, &ln_weights, rng);
            mover.shape_to(&people);
            for _ in 0..if power < 1.0 { SWEEPS } else { LAST_SWEEPS } {
                mover.sweep(&mut weigher, mode, power, &mut people, rng);
            }
            if power >= 1.0 {
                break;
            }
        }
    }
    Population { ln_evidence: Some(ln_evidence), draws: people }
}

/// The largest step of the power, at most `rest`, that keeps the effective share.
fn next_step(people: &[Draw], rest: f64) -> f64 {
    let high = people.iter().map(|it| it.ln_likelihood).fold(f64::NEG_INFINITY, f64::max);
    let effective = |step: f64| {
        let (mut sum, mut squares) = (0.0, 0.0);
        for it in people {
            let w = (step * (it.ln_likelihood - high)).exp();
            sum += w;
            squares += w * w;
        }
        sum * sum / squares / people.len() as f64
    };
    if effective(rest) >= KEPT {
        return rest;
    }
    let (mut low, mut top) = (0.0, rest);
    for _ in 0..40 {
        let middle = f64::midpoint(low, top);
        if effective(middle) >= KEPT { low = middle } else { top = middle }
    }
    low.max(rest * 1e-9)
}

fn ln_mean(ln: &[f64]) -> f64 {
    let high = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high + (ln.iter().map(|l| (l - high).exp()).sum::<f64>() / ln.len() as f64).ln()
}

/// Systematic resampling.
fn resample(people: &mut [Draw], ln_weights: &[f64], rng: &mut impl Rng) {
    let high = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = ln_weights.iter().map(|l| (l - high).exp()).collect();
    let stride = weights.iter().sum::<f64>() / people.len() as f64;
    let start: f64 = rng.random::<f64>();
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
}

/// Metropolis moves and their step lengths.
struct Mover {
    theta: usize,
    mean: Vec<f64>,
    /// Lower triangle, row by row, of the root of the population's covariance.
    root: Vec<f64>,
    stride: f64,
    proposal: Vec<f64>,
    whitened: Vec<f64>,
}

impl Mover {
    fn new(model: &Model) -> Self {
        Self {
            theta: model.theta,
            mean: vec![0.0; model.theta],
            root: Vec::new(),
            stride: 0.6,
            proposal: vec![0.0; model.theta],
            whitened: vec![0.0; model.theta],
        }
    }

    /// Takes the shape of the population, leaning on the prior's unit covariance where it is small.
    fn shape_to(&mut self, people: &[Draw]) {
        let (d, n) = (self.theta, people.len() as f64);
        let mut mean = vec![0.0; d];
        for it in people {
            for (m, z) in mean.iter_mut().zip(&it.theta) {
                *m += z / n;
            }
        }
        let trust = n / (n + d as f64);
        let mut cov = vec![0.0; d * d];
        for it in people {
            for i in 0..d {
                let a = it.theta[i] - mean[i];
                for j in 0..=i {
                    cov[i * d + j] += a * (it.theta[j] - mean[j]) / n;
                }
            }
        }
        for i in 0..d {
            // Off the diagonal the sample is damped; on it a floor keeps every direction moving.
            for j in 0..i {
                cov[i * d + j] *= trust;
            }
            // A little wider than the population: proposals must reach its tails.
            cov[i * d + i] = (1.1 * cov[i * d + i]).max(1e-4);
        }
        self.root = cholesky(cov, d);
        self.mean = mean;
    }

    fn sweep(
        &mut self,
        weigher: &mut Weigher<'_>,
        mode: Mode,
        power: f64,
        people: &mut [Draw],
        rng: &mut impl Rng,
    ) {
        let d = self.theta;
        let mut taken = 0_usize;
        for it in people.iter_mut() {
            // In whitened coordinates the proposal is a standard normal that remembers where it was; it keeps the
            // Gaussian of the population, and the ratio puts right what that Gaussian gets wrong.
            let (mut before, mut after) = (0.0, 0.0);
            let memory = (1.0 - self.stride * self.stride).sqrt();
            for i in 0..d {
                let row = &self.root[i * d..i * d + i];
                let known: f64 = row.iter().zip(&self.whitened).map(|(root, white)| root * white).sum();
                let white = (it.theta[i] - self.mean[i] - known) / self.root[i * d + i];
                self.whitened[i] = white;
                before += it.theta[i] * it.theta[i] - white * white;
            }
            for white in &mut self.whitened {
                *white = memory * *white + self.stride * rng.sample::<f64, _>(StandardNormal);
            }
            for i in 0..d {
                let row = &self.root[i * d..i * d + i + 1];
                let push: f64 = row.iter().zip(&self.whitened).map(|(root, white)| root * white).sum();
                self.proposal[i] = self.mean[i] + push;
                after += self.proposal[i] * self.proposal[i] - self.whitened[i] * self.whitened[i];
            }
            let told = weigher.draw(mode, &self.proposal, rng);
            let ln_ratio = power * (told.ln_likelihood - it.ln_likelihood) + 0.5 * (before - after);
            if rng.random::<f64>().ln() < ln_ratio {
                *it = told;
                taken += 1;
            }
        }
        let n = people.len() as f64;
        self.stride = (self.stride * (taken as f64 / n - 0.25).exp()).clamp(0.02, 1.0);
    }
}

/// Lower triangle of the root of a symmetric matrix given by its lower triangle; a pivot that is not positive is
/// raised to a small one.
fn cholesky(mut a: Vec<f64>, d: usize) -> Vec<f64> {
    for i in 0..d {
        for j in 0..=i {
            let mut sum = a[i * d + j];
            for k in 0..j {
                sum -= a[i * d + k] * a[j * d + k];
            }
            a[i * d + j] = if i == j { sum.max(1e-8).sqrt() } else { sum / a[j * d + j] };
        }
    }
    a
}
