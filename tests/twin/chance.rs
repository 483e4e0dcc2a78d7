//! Draws from the table of priors, by the family that each row names.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{StandardNormal, StudentT};
use std::cell::RefCell;
use std::collections::BTreeMap;
use windfall_inference::Priors;

/// The rows of the table: family and two parameters.
#[derive(Clone, Debug)]
pub(super) struct Chance {
    rows: BTreeMap<String, (String, f64, f64)>,
    keeper: Option<Keeper>,
}

/// What stays with the things of one flyer. The n-th draw of a row within a flight is about the n-th thing of its kind:
/// a part of its variance, as the table says, is the same in each flight, and the rest is new.
#[derive(Clone, Debug)]
pub(super) struct Keeper {
    lasting: BTreeMap<String, f64>,
    flyer: u64,
    /// What is new, where it is not drawn by itself: row, number of the draw, and a standard normal.
    today: BTreeMap<(&'static str, u64), f64>,
    drawn: RefCell<(BTreeMap<String, u64>, ChaCha8Rng)>,
}

impl Keeper {
    /// For flight number `flight`; both numbers are seeds.
    pub(super) fn of(
        priors: &Priors,
        (flyer, flight): (u64, u64),
        today: BTreeMap<(&'static str, u64), f64>,
    ) -> Self {
        let mut anew = ChaCha8Rng::seed_from_u64(flyer);
        anew.set_stream(flight);
        let lasting = priors.rows().map(|(name, row)| (name.to_owned(), row.persistent_share)).collect();
        Self { lasting, flyer, today, drawn: RefCell::new((BTreeMap::new(), anew)) }
    }

    pub(super) fn lasting(&self, name: &str) -> f64 {
        self.lasting.get(name).copied().unwrap_or(0.0)
    }

    /// What stays of the n-th thing of a row, a standard normal.
    pub(super) fn stays(&self, name: &str, number: u64) -> f64 {
        let row = self.lasting.keys().take_while(|row| row.as_str() != name).count() as u64;
        let mut rng = ChaCha8Rng::seed_from_u64(self.flyer);
        rng.set_stream((1 << 32) + (row << 8) + number);
        normal(&mut rng)
    }

    fn draw(&self, name: &'static str) -> f64 {
        let (drawn, anew) = &mut *self.drawn.borrow_mut();
        let count = drawn.entry(name.to_owned()).or_default();
        let (number, lasting) = (*count, self.lasting(name));
        *count += 1;
        let new = self.today.get(&(name, number)).copied().unwrap_or_else(|| normal(anew));
        lasting.sqrt() * self.stays(name, number) + (1.0 - lasting).sqrt() * new
    }
}

impl Chance {
    pub(super) fn of(priors: &Priors) -> Self {
        let rows = priors.rows().map(|(name, row)| (name.to_owned(), (row.family.clone(), row.a, row.b)));
        Self { rows: rows.collect(), keeper: None }
    }

    /// The same for a flyer whose things stay.
    pub(super) fn kept_by(self, keeper: Keeper) -> Self {
        Self { keeper: Some(keeper), ..self }
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
    pub(super) fn wide(&self, name: &'static str, wider: f64, rng: &mut impl Rng) -> f64 {
        let (family, a, b) = self.row(name);
        let z = self.normal(name, rng);
        match family.as_str() {
            "normal" => a + wider * b * z,
            "lognormal" => (wider * a * z).exp(),
            "student_t" => {
                let t = StudentT::new(*b).map_or(z, |law| rng.sample(law));
                wider * a * t
            }
            "uniform" if self.keeper.is_some() => a + (b - a) * below(z),
            "loguniform" if self.keeper.is_some() => (a.ln() + (b / a).ln() * below(z)).exp(),
            "uniform" => rng.random_range(*a..*b),
            "loguniform" => rng.random_range(a.ln()..b.ln()).exp(),
            family => panic!("no draws from the family {family} of {name}"),
        }
    }

    /// The standard normal behind a draw of a row.
    pub(super) fn normal(&self, name: &'static str, rng: &mut impl Rng) -> f64 {
        let z = normal(rng);
        self.keeper.as_ref().map_or(z, |keeper| keeper.draw(name))
    }

    pub(super) fn draw(&self, name: &'static str, rng: &mut impl Rng) -> f64 {
        self.wide(name, 1.0, rng)
    }

    /// Whether what has the chance of this row happens.
    pub(super) fn happens(&self, name: &str, rng: &mut impl Rng) -> bool {
        rng.random::<f64>() < self.a(name)
    }
}

/// The chance that a standard normal is less.
fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / core::f64::consts::SQRT_2)
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
