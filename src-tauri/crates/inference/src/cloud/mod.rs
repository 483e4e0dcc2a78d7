//! The cloud: possible flights of every mode, weighted by the evidence.
//!
//! Each mode has its own populations on eight independent islands; each population is carried from the prior to the
//! posterior by a tempered bridge. Islands are the unit of threading and of the Monte Carlo error.

mod bridge;

use crate::evidence::{Heads, Witnesses};
use crate::model::Model;
use crate::reading::Surroundings;
use crate::{LocateError, Priors, Settings};
use bridge::{Population, bridge};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use windfall_facts::{Flight, Mode};

/// Independent repetitions whose spread measures the Monte Carlo error.
pub(crate) const ISLANDS: usize = 8;
/// Particles a mode gets on each island while its chance is not known yet.
const SCOUTS: usize = 32;
/// Modes with less chance than this are not worked out further.
const BEHIND: f64 = 2e-3;
/// The fewest particles a mode that counts gets on each island.
const FEWEST: usize = 32;

/// One possible flight, after all evidence.
#[derive(Clone, Debug)]
pub(crate) struct Draw {
    pub(crate) mode: Mode,
    pub(crate) island: usize,
    /// Sums to one over the cloud.
    pub(crate) weight: f64,
    /// Landing of every part, m east and north of the pad.
    pub(crate) landing_m: Vec<[f64; 2]>,
    pub(crate) apart: bool,
    pub(crate) capped: bool,
    /// Chance that each piece of evidence is mistaken.
    pub(crate) p_mistaken: Vec<f64>,
    /// The coordinates that move heights and times.
    pub(crate) theta: Vec<f64>,
    pub(crate) apogee_m: f64,
    pub(crate) landed_s: f64,
}

/// The cloud of possible flights after all evidence.
#[derive(Debug)]
pub struct Cloud {
    pub(crate) model: Model,
    pub(crate) witnesses: Witnesses,
    pub(crate) surroundings: Surroundings,
    pub(crate) flight: Flight,
    pub(crate) seed: u32,
    pub(crate) draws: Vec<Draw>,
    /// Standard error of the landing mean, the worst part, m.
    pub(crate) monte_carlo_error_m: f64,
    /// Posterior variance over squared error: the worst of east, north and mode chance.
    pub(crate) effective_draws: f64,
    /// Draws from the prior that some evidence made impossible altogether.
    pub(crate) contradicted: bool,
}

/// The cloud of possible flights for what is known of `flight` (checked by `windfall_facts::read_flight`).
///
/// # Errors
/// When the facts lie outside the model's domain; evidence that contradicts everything is no error.
pub fn locate(flight: &Flight, priors: &Priors, settings: &Settings) -> Result<Cloud, LocateError> {
    let heads = Heads::of(flight);
    let model = Model::of(flight, priors, heads.coordinates())?;
    let witnesses = Witnesses::of(flight, &model, &heads, priors)?;

    let scouts = vec![SCOUTS; model.modes.len()];
    let scouted = populations(&model, &witnesses, &scouts, 0, settings);
    let chances = mode_chances(&model, &scouted);
    let roots: Vec<f64> = chances.iter().map(|p| if *p > BEHIND { p.sqrt() } else { 0.0 }).collect();
    let total: f64 = roots.iter().sum();
    let per_island = (settings.draws.max(ISLANDS * FEWEST) / ISLANDS) as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of the draws asked for")]
    let sizes: Vec<usize> = roots
        .iter()
        .map(|root| if *root > 0.0 { ((per_island * root / total) as usize).max(FEWEST) } else { 0 })
        .collect();
    // A mode left behind keeps its scouts: a small chance, roughly known, is better than none.
    let mut grown = populations(&model, &witnesses, &sizes, 1, settings);
    for (slot, scout) in grown.iter_mut().zip(scouted) {
        if slot.ln_evidence.is_none() {
            *slot = scout;
        }
    }
    let contradicted = grown.iter().all(|population| population.ln_evidence == Some(f64::NEG_INFINITY));
    let draws = weighted(&model, grown);
    let (monte_carlo_error_m, effective_draws) = precision(&model, &draws);
    Ok(Cloud {
        surroundings: Surroundings::of(flight, &model),
        flight: flight.clone(),
        seed: settings.seed,
        model,
        witnesses,
        draws,
        monte_carlo_error_m,
        effective_draws,
        contradicted,
    })
}

/// A population for every mode on every island, island by island; the threads share them out.
fn populations(
    model: &Model,
    witnesses: &Witnesses,
    sizes: &[usize],
    round: u64,
    settings: &Settings,
) -> Vec<Population> {
    let modes = model.modes.len();
    let jobs: Vec<usize> = (0..ISLANDS * modes).collect();
    let work = |job: usize| {
        let (island, mode) = (job / modes, job % modes);
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(settings.seed));
        rng.set_stream((round * 64 + island as u64) * 64 + mode as u64);
        bridge(model, witnesses, model.modes[mode].0, sizes[mode], &mut rng)
    };
    let threads = settings.threads.clamp(1, 64);
    let next = core::sync::atomic::AtomicUsize::new(0);
    let mut done: Vec<(usize, Population)> = std::thread::scope(|scope| {
        let worker = || {
            let mut mine = Vec::new();
            loop {
                let index = next.fetch_add(1, core::sync::atomic::Ordering::Relaxed);
                let Some(job) = jobs.get(index) else { return mine };
                mine.push((*job, work(*job)));
            }
        };
        let handles: Vec<_> = (1..threads).map(|_| scope.spawn(worker)).collect();
        let mut all = worker();
        for handle in handles {
            match handle.join() {
                Ok(mine) => all.extend(mine),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        all
    });
    done.sort_by_key(|(job, _)| *job);
    done.into_iter().map(|(_, population)| population).collect()
}

/// Posterior chance of each mode from all islands together.
fn mode_chances(model: &Model, populations: &[Population]) -> Vec<f64> {
    let ln: Vec<f64> = (0..model.modes.len())
        .map(|mode| {
            let islands: Vec<f64> = populations
                .iter()
                .skip(mode)
                .step_by(model.modes.len())
                .map(|population| population.ln_evidence.unwrap_or(f64::NEG_INFINITY))
                .collect();
            let high = islands.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if high == f64::NEG_INFINITY {
                return high;
            }
            model.modes[mode].1.ln() + high + islands.iter().map(|ln| (ln - high).exp()).sum::<f64>().ln()
        })
        .collect();
    let high = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return model.modes.iter().map(|row| row.1).collect();
    }
    let total: f64 = ln.iter().map(|l| (l - high).exp()).sum();
    ln.iter().map(|l| (l - high).exp() / total).collect()
}

/// All particles with weights that sum to one: prior chance of the mode, times the evidence of its island.
fn weighted(model: &Model, populations: Vec<Population>) -> Vec<Draw> {
    let modes = model.modes.len();
    let ln_weight = |index: usize, population: &Population| {
        model.modes[index % modes].1.ln() + population.ln_evidence.unwrap_or(f64::NEG_INFINITY)
    };
    let high = populations.iter().enumerate().map(|(i, p)| ln_weight(i, p)).fold(f64::NEG_INFINITY, f64::max);
    let share = |index: usize, population: &Population| {
        if high == f64::NEG_INFINITY {
            model.modes[index % modes].1 // everything is contradicted: the prior is what is left
        } else {
            (ln_weight(index, population) - high).exp()
        }
    };
    let total: f64 = populations.iter().enumerate().map(|(i, p)| share(i, p)).sum();
    let mut draws = Vec::new();
    for (index, population) in populations.into_iter().enumerate() {
        let each = share(index, &population) / total / population.draws.len().max(1) as f64;
        if each > 0.0 {
            draws.extend(population.draws.into_iter().map(|mut draw| {
                draw.island = index / modes;
                draw.weight = each;
                draw
            }));
        }
    }
    let total: f64 = draws.iter().map(|draw| draw.weight).sum();
    for draw in &mut draws {
        draw.weight /= total;
    }
    draws
}

/// Standard error of the landing mean (m) and effective draws, from the spread between islands.
///
/// # Model
/// Each island is one ratio estimate; the error of their weighted mean is the jackknife's. Effective draws are the
/// posterior variance over the squared error, the worst of east and north of every part and the chance of the
/// likeliest mode.
fn precision(model: &Model, draws: &[Draw]) -> (f64, f64) {
    let likeliest = model
        .modes
        .iter()
        .map(|(mode, _)| (*mode, draws.iter().filter(|draw| draw.mode == *mode).map(|draw| draw.weight).sum::<f64>()))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(Mode::Opens, |row| row.0);
    let error_of = |value: &dyn Fn(&Draw) -> f64| {
        let mut mass = [0.0; ISLANDS];
        let mut sum = [0.0; ISLANDS];
        let mut square = 0.0;
        for draw in draws {
            let v = value(draw);
            mass[draw.island] += draw.weight;
            sum[draw.island] += draw.weight * v;
            square += draw.weight * v * v;
        }
        let mean: f64 = sum.iter().sum();
        let error2 = (0..ISLANDS).map(|i| (sum[i] - mass[i] * mean).powi(2)).sum::<f64>() * ISLANDS as f64
            / (ISLANDS as f64 - 1.0);
        (error2, (square - mean * mean).max(0.0))
    };
    let mut worst_m: f64 = 0.0;
    let mut fewest = draws.len() as f64;
    let mut see = |error2: f64, variance: f64| {
        if variance > 1e-12 && error2 > 0.0 {
            fewest = fewest.min(variance / error2);
        }
    };
    for part in 0..model.part_names.len() {
        let (east2, east) = error_of(&|draw| draw.landing_m[part][0]);
        let (north2, north) = error_of(&|draw| draw.landing_m[part][1]);
        see(east2, east);
        see(north2, north);
        worst_m = worst_m.max((east2 + north2).sqrt());
    }
    let (mode2, mode) = error_of(&|draw| f64::from(u8::from(draw.mode == likeliest)));
    see(mode2, mode);
    (worst_m, fewest)
}
