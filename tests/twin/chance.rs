//! Draws from the table of priors, by the family that each row names.

use rand::{Rng, RngExt};
use rand_distr::{StandardNormal, StudentT};
use std::collections::BTreeMap;
use windfall_inference::Priors;

/// The rows of the table: family and two parameters.
#[derive(Clone, Debug)]
pub(super) struct Chance {
    rows: BTreeMap<String, (String, f64, f64)>,
}

impl Chance {
    pub(super) fn of(priors: &Priors) -> Self {
        let rows = priors.rows().map(|(name, row)| (name.to_owned(), (row.family.clone(), row.a, row.b)));
        Self { rows: rows.collect() }
    }

    fn row(&self, name: &str) -> &(String, f64, f64) {
        self.rows.get(name).unwrap_or_else(|| panic!("the table of priors has no row {name}"))
    }

    pub(super) fn a(&self, name: &str) -> f64 {
        self.row(name).1
    }

    pub(super) fn b(&self, name: &str) -> f64 {
        self.row(name).2
    }

    /// One draw of a row. A log-normal is a factor; its deviations, and those of a normal, are `wider` times as large
    /// as the table says.
    pub(super) fn wide(&self, name: &str, wider: f64, rng: &mut impl Rng) -> f64 {
        let (family, a, b) = self.row(name);
        let z: f64 = rng.sample(StandardNormal);
        match family.as_str() {
            "normal" => a + wider * b * z,
            "lognormal" => (wider * a * z).exp(),
            "student_t" => {
                let t = StudentT::new(*b).map_or(z, |law| rng.sample(law));
                wider * a * t
            }
            "uniform" => rng.random_range(*a..*b),
            "loguniform" => rng.random_range(a.ln()..b.ln()).exp(),
            family => panic!("no draws from the family {family} of {name}"),
        }
    }

    pub(super) fn draw(&self, name: &str, rng: &mut impl Rng) -> f64 {
        self.wide(name, 1.0, rng)
    }

    /// Whether what has the chance of this row happens.
    pub(super) fn happens(&self, name: &str, rng: &mut impl Rng) -> bool {
        rng.random::<f64>() < self.a(name)
    }
}

/// A standard normal.
pub(super) fn normal(rng: &mut impl Rng) -> f64 {
    rng.sample(StandardNormal)
}

/// An index, with chances in proportion to `shares`.
pub(super) fn pick(shares: &[f64], rng: &mut impl Rng) -> usize {
    let mut left = rng.random::<f64>() * shares.iter().sum::<f64>();
    for (index, share) in shares.iter().enumerate() {
        left -= share;
        if left < 0.0 {
            return index;
        }
    }
    shares.len() - 1
}

/// A number that forgets: first-order autoregressive of unit variance on an even grid of times.
pub(super) fn forgetting(
    mut value: f64,
    step_s: f64,
    memory_s: f64,
    steps: usize,
    rng: &mut impl Rng,
) -> Vec<f64> {
    let keep = (-step_s / memory_s).exp();
    let fresh = (1.0 - keep * keep).sqrt();
    (0..steps)
        .map(|index| {
            if index > 0 {
                value = keep * value + fresh * normal(rng);
            }
            value
        })
        .collect()
}
