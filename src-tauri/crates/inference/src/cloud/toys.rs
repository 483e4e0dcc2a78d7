//! Toy problems whose posterior is known in closed form, put to the sampler as flights are.

use super::survey::Survey;
use super::{Draw, ISLANDS, Problem, Tell};
use crate::Settings;
use windfall_facts::Mode;

/// What was measured: `value = slopes . theta`, with a Gaussian error.
#[derive(Clone, Debug)]
struct Measured {
    slopes: Vec<f64>,
    value: f64,
    sigma: f64,
}

impl Measured {
    fn of(coordinates: usize, slopes: &[(usize, f64)], value: f64, sigma: f64) -> Self {
        let mut row = vec![0.0; coordinates];
        for (at, slope) in slopes {
            row[*at] = *slope;
        }
        Self { slopes: row, value, sigma }
    }

    fn residual(&self, theta: &[f64]) -> f64 {
        let expected: f64 = self.slopes.iter().zip(theta).map(|(slope, z)| slope * z).sum();
        (self.value - expected) / self.sigma
    }
}

/// Standard normal coordinates, and linear measurements that each mode sees in its own way; the likelihood is the mean
/// over alternatives, so that one mode may have two places.
struct Linear {
    coordinates: usize,
    modes: Vec<(Mode, f64)>,
    alternatives: Vec<Vec<Vec<Measured>>>,
}

impl Linear {
    fn of_one_mode(coordinates: usize, measured: Vec<Measured>) -> Self {
        Self { coordinates, modes: vec![(Mode::Opens, 1.0)], alternatives: vec![vec![measured]] }
    }

    fn alternatives_of(&self, mode: Mode) -> &[Vec<Measured>] {
        let place = self.modes.iter().position(|row| row.0 == mode).unwrap();
        &self.alternatives[place]
    }
}

impl Problem for Linear {
    fn modes(&self) -> &[(Mode, f64)] {
        &self.modes
    }

    fn coordinates(&self) -> usize {
        self.coordinates
    }

    fn has_evidence(&self) -> bool {
        true
    }

    fn teller(&self) -> Box<dyn Tell + '_> {
        Box::new(self)
    }
}

impl Tell for &Linear {
    fn tell(&mut self, draw: &mut Draw) {
        draw.empty();
        let alternatives = self.alternatives_of(draw.mode);
        let theta = &draw.theta;
        let ln = |rows: &Vec<Measured>| -> f64 {
            rows.iter().map(|row| crate::normal::ln_normal(row.residual(theta) * row.sigma, row.sigma)).sum()
        };
        let sum = alternatives.iter().map(ln).fold(f64::NEG_INFINITY, crate::evidence::ln_sum);
        draw.ln_likelihood = sum - (alternatives.len() as f64).ln();
        draw.landing_m.push([theta[0], theta[1]]);
    }

    fn residuals(&mut self, mode: Mode, theta: &[f64]) -> Vec<f64> {
        self.alternatives_of(mode)[0].iter().map(|row| row.residual(theta)).collect()
    }
}

/// Mean and covariance of the exact posterior under one set of measurements, and the log of its evidence: taken in one at a
/// time (R. E. Kalman, J. Basic Eng. 82 (1960) 35; the textbook update).
fn exact(coordinates: usize, measured: &[Measured]) -> (Vec<f64>, Vec<Vec<f64>>, f64) {
    let mut mean = vec![0.0; coordinates];
    let mut covariance: Vec<Vec<f64>> =
        (0..coordinates).map(|i| (0..coordinates).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    let mut ln_evidence = 0.0;
    for row in measured {
        let gain: Vec<f64> =
            covariance.iter().map(|c| c.iter().zip(&row.slopes).map(|(c, h)| c * h).sum()).collect();
        let variance = row.sigma * row.sigma + gain.iter().zip(&row.slopes).map(|(g, h)| g * h).sum::<f64>();
        let off = row.residual(&mean) * row.sigma;
        ln_evidence += crate::normal::ln_normal(off, variance.sqrt());
        for (i, gain_i) in gain.iter().enumerate() {
            mean[i] += gain_i * off / variance;
            for (j, gain_j) in gain.iter().enumerate() {
                covariance[i][j] -= gain_i * gain_j / variance;
            }
        }
    }
    (mean, covariance, ln_evidence)
}

/// Surveys of one problem, whose islands together make errors that can be trusted.
const SURVEYS: u32 = 8;

fn surveyed(problem: &Linear, seed: u32) -> Vec<Draw> {
    let settings = Settings { seed, draws: 2048, threads: 2 };
    let surveyed = Survey { problem, settings: &settings, number: 0 }.surveyed();
    assert!(!surveyed.contradicted);
    surveyed.draws
}

fn surveys(problem: &Linear) -> Vec<Vec<Draw>> {
    (1..=SURVEYS).map(|seed| surveyed(problem, seed)).collect()
}

/// Mean of a value over the draws of all surveys, and its standard error from the spread between them and their islands.
fn mean_of(surveys: &[Vec<Draw>], value: impl Fn(&Draw) -> f64) -> (f64, f64) {
    let n = surveys.len() as f64;
    let mean = surveys.iter().flatten().map(|draw| draw.weight * value(draw)).sum::<f64>() / n;
    let mut error2 = 0.0;
    for draws in surveys {
        let mut off = [0.0; ISLANDS];
        for draw in draws {
            off[draw.island] += draw.weight * (value(draw) - mean);
        }
        error2 += off.iter().map(|off| off * off).sum::<f64>() / (n * n);
    }
    (mean, error2.sqrt())
}

/// Means and variances of all coordinates against the closed form, within five standard errors from 64 islands.
fn agrees(problem: &Linear) {
    let draws = surveys(problem);
    let (mean, covariance, _) = exact(problem.coordinates, &problem.alternatives[0][0]);
    for at in 0..problem.coordinates {
        let (ours, error) = mean_of(&draws, |draw| draw.theta[at]);
        assert!((ours - mean[at]).abs() < 5.0 * error, "{at}: {ours} +- {error}, exactly {}", mean[at]);
        let (square, error) = mean_of(&draws, |draw| (draw.theta[at] - mean[at]).powi(2));
        let truth = covariance[at][at];
        assert!((square - truth).abs() < 5.0 * error, "{at}: {square} +- {error}, exactly {truth}");
        assert!(error < 0.3 * truth, "{at}: {error} says little about {truth}");
    }
}

#[test]
fn linear_measurements_give_the_posterior_of_the_textbook() {
    let row = |slopes: &[(usize, f64)], value, sigma| Measured::of(12, slopes, value, sigma);
    let measured = vec![
        row(&[(0, 1.0), (2, 0.5), (5, -0.7)], 1.3, 0.2),
        row(&[(1, 1.0), (3, 0.8)], -0.9, 0.1),
        row(&[(0, 0.4), (1, 0.4), (4, 1.0), (7, 0.3)], 0.6, 0.5),
        row(&[(6, 1.0), (8, -1.0)], 2.0, 0.3),
    ];
    agrees(&Linear::of_one_mode(12, measured));
}

#[test]
fn a_find_inside_a_broad_cloud_is_found() {
    // A cloud of 100 m and a find good to 2.6 m, two and a half standard deviations out.
    let measured = vec![
        Measured::of(10, &[(0, 1.0)], 2.5, 0.026),
        Measured::of(10, &[(1, 0.9), (4, 0.436)], -1.1, 0.026),
    ];
    agrees(&Linear::of_one_mode(10, measured));
}

#[test]
fn a_dense_track_is_followed() {
    // A line through 80 points whose errors remember nothing: place, speed, and a bias that cannot be told from the place.
    let measured = (0..80)
        .map(|index| {
            let t = f64::from(index) / 40.0 - 1.0;
            let wobble = 0.05 * (12.9898 * f64::from(index)).sin();
            Measured::of(9, &[(0, 1.0), (1, t), (2, 0.3)], 0.8 - 0.4 * t + wobble, 0.05)
        })
        .collect();
    agrees(&Linear::of_one_mode(9, measured));
}

#[test]
fn two_modes_have_the_chances_of_their_evidence() {
    let row = |slopes: &[(usize, f64)], value, sigma| Measured::of(8, slopes, value, sigma);
    for far in [0.7, 1.6, 2.4] {
        let first = vec![row(&[(0, 1.0), (1, 0.5)], far, 0.1), row(&[(2, 1.0)], 0.3, 0.2)];
        let second = vec![row(&[(0, 2.0), (3, -1.0)], 0.2, 0.3), row(&[(4, 0.7)], far, 0.15)];
        let problem = Linear {
            coordinates: 8,
            modes: vec![(Mode::Opens, 0.8), (Mode::CameApart, 0.2)],
            alternatives: vec![vec![first.clone()], vec![second.clone()]],
        };
        let [a, b] = [(0.8, &first), (0.2, &second)].map(|(prior, rows)| prior * exact(8, rows).2.exp());
        let draws = surveys(&problem);
        let (ours, error) = mean_of(&draws, |draw| f64::from(u8::from(draw.mode == Mode::Opens)));
        assert!((ours - a / (a + b)).abs() < 5.0 * error, "{ours} +- {error}, exactly {}", a / (a + b));
        assert!(error < 0.05, "{error}");
    }
}

#[test]
fn both_places_of_one_mode_are_kept() {
    // Either 1.8 to the right or 1.8 to the left, each a tenth wide and a little skewed in evidence.
    let row = |value, sigma| {
        vec![Measured::of(8, &[(0, 1.0)], value, 0.1), Measured::of(8, &[(1, 1.0)], 0.5, sigma)]
    };
    let places = vec![row(1.8, 0.3), row(-1.8, 0.6)];
    let weights: Vec<f64> = places.iter().map(|rows| exact(8, rows).2.exp()).collect();
    let truth = weights[0] / (weights[0] + weights[1]);
    let problem = Linear { coordinates: 8, modes: vec![(Mode::Opens, 1.0)], alternatives: vec![places] };
    let draws = surveys(&problem);
    let (ours, error) = mean_of(&draws, |draw| f64::from(u8::from(draw.theta[0] > 0.0)));
    assert!((ours - truth).abs() < 5.0 * error && error < 0.08, "{ours} +- {error}, exactly {truth}");
}
