use super::mover::{Mover, curvature};
use super::population::{effective_share, next_step, resample};
use super::{Draw, ISLANDS, Weigher};
use crate::Settings;
use crate::evidence::Witnesses;
use crate::model::Model;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use windfall_facts::Mode;

/// Draws from the prior on each island by which the chance of a mode is first told.
const SCOUTS: usize = 40;
/// Modes with less chance than this are not worked out further.
const BEHIND: f64 = 3e-4;
/// A chance told by fewer effective draws than this may be far too low.
const FEW: f64 = 10.0;
/// The fewest draws of a mode that counts, on each island.
const FEWEST: usize = 24;
/// Effective share of the populations that each step of the bridge keeps.
const KEPT: f64 = 0.35;
/// Sweeps of moves after each step, and after the last.
const SWEEPS: usize = 3;
const LAST_SWEEPS: usize = 6;
/// The same, for a rare mode.
const RARE_SWEEPS: usize = 1;
/// A bridge longer than this has met evidence that contradicts everything; its last step takes what is left.
const LONGEST: usize = 40;
/// Points at which the curvature of the likelihood is looked at before each step's moves.
const POINTS: usize = 8;
/// Length of the first moves.
const FIRST_STRIDE: f64 = 0.6;

/// Works out the cloud of one flight.
///
/// # Model
/// Sequential Monte Carlo by likelihood tempering, each mode by itself: prior draws on every island; each step raises
/// the power on the likelihood until a share of the populations remains effective, resamples within each island, and
/// moves every draw so that the tempered law is kept. The linear block is drawn afresh with each move; its estimate of
/// the likelihood is unbiased, so the law at full power is exact. Steps and shapes of the moves are read off all
/// islands together; everything else is each island's own.
/// # Source
/// P. Del Moral, A. Doucet, A. Jasra, Sequential Monte Carlo samplers, J. R. Stat. Soc. B 68 (2006) 411, from memory.
pub(super) struct Survey<'a> {
    pub(super) model: &'a Model,
    pub(super) witnesses: &'a Witnesses,
    pub(super) settings: &'a Settings,
}

/// How one mode stands.
struct Front {
    mode: Mode,
    prior: f64,
    islands: Vec<Vec<Draw>>,
    /// Log evidence of each island so far.
    ln_evidence: Vec<f64>,
    power: f64,
    mover: Option<Mover>,
}

impl Front {
    fn everyone(&self) -> impl Iterator<Item = &Draw> + Clone {
        self.islands.iter().flatten()
    }
}

impl Survey<'_> {
    /// All draws with weights that sum to one, and whether the evidence left nothing of any of them.
    pub(super) fn draws(&self) -> (Vec<Draw>, bool) {
        let modes = &self.model.modes;
        let scouts = vec![SCOUTS; modes.len()];
        let mut fronts: Vec<Front> = modes
            .iter()
            .map(|(mode, prior)| Front {
                mode: *mode,
                prior: *prior,
                islands: vec![Vec::new(); ISLANDS],
                ln_evidence: vec![0.0; ISLANDS],
                power: 0.0,
                mover: None,
            })
            .collect();
        self.call_up(&mut fronts, &scouts, 0);
        let sizes = self.sizes(&fronts);
        self.call_up(&mut fronts, &sizes, 1);
        for step in 0..LONGEST {
            let open: Vec<usize> =
                (0..fronts.len()).filter(|mode| sizes[*mode] > 0 && fronts[*mode].power < 1.0).collect();
            if open.is_empty() {
                break;
            }
            self.step(&mut fronts, &open, step);
        }
        weighted(fronts)
    }

    /// Fills the islands of each mode up to `sizes` with draws from the prior.
    fn call_up(&self, fronts: &mut [Front], sizes: &[usize], round: u64) {
        let jobs: Vec<(usize, usize, usize)> = fronts
            .iter()
            .enumerate()
            .flat_map(|(mode, front)| {
                front.islands.iter().enumerate().map(move |(island, people)| (mode, island, people.len()))
            })
            .filter(|(mode, _, there)| sizes[*mode] > *there)
            .collect();
        let names: Vec<Mode> = fronts.iter().map(|front| front.mode).collect();
        let called = self.share_out(jobs.len(), |job, weigher| {
            let (mode, island, there) = jobs[job];
            let mut rng = self.stream(round, island, mode);
            let mut theta = vec![0.0; self.model.theta];
            let mut called = Vec::with_capacity(sizes[mode] - there);
            for _ in there..sizes[mode] {
                theta.fill_with(|| rng.sample(StandardNormal));
                let mut draw = weigher.draw(names[mode], &theta, &mut rng);
                draw.island = island;
                called.push(draw);
            }
            called
        });
        for ((mode, island, _), called) in jobs.into_iter().zip(called) {
            fronts[mode].islands[island].extend(called);
        }
    }

    /// How many draws each mode gets on each island: as the root of its chance, none for one left behind, which keeps
    /// its scouts: a small chance, roughly known, is better than none.
    fn sizes(&self, fronts: &[Front]) -> Vec<usize> {
        let ln: Vec<f64> = fronts
            .iter()
            .map(|front| {
                let n = front.everyone().count() as f64;
                front.prior.ln() + ln_sum(front.everyone().map(|draw| draw.ln_likelihood)) - n.ln()
            })
            .collect();
        let total = ln_sum(ln.iter().copied());
        let roots: Vec<f64> = fronts
            .iter()
            .zip(&ln)
            .map(|(front, ln)| {
                let chance = (ln - total).exp();
                let effective = effective_share(front.everyone(), 1.0) * front.everyone().count() as f64;
                let least = if effective < FEW { BEHIND * BEHIND } else { BEHIND };
                if chance >= least { chance.sqrt() } else { 0.0 }
            })
            .collect();
        let sum: f64 = roots.iter().sum();
        let each = (self.settings.draws / ISLANDS) as f64;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of the draws asked for"
        )]
        roots
            .iter()
            .map(|root| if *root > 0.0 { ((each * root / sum) as usize).max(FEWEST) } else { 0 })
            .collect()
    }

    /// One step of the bridge for all modes still on their way.
    fn step(&self, fronts: &mut [Front], open: &[usize], number: usize) {
        let round = 2 + 2 * number as u64;
        let mut last = vec![false; fronts.len()];
        for mode in open {
            let front = &mut fronts[*mode];
            let rest = 1.0 - front.power;
            let step = if number + 1 < LONGEST { next_step(front.everyone(), rest, KEPT) } else { rest };
            last[*mode] = step >= rest;
            front.power = if last[*mode] { 1.0 } else { front.power + step };
            for (island, people) in front.islands.iter_mut().enumerate() {
                let mut rng = self.stream(round, island, *mode);
                front.ln_evidence[island] += resample(people, step, &mut rng);
            }
        }
        self.shape(fronts, open, round);
        let shaped: &[Front] = fronts;
        let moved = self.share_out(open.len() * ISLANDS, |job, weigher| {
            let (island, mode) = (job % ISLANDS, open[job / ISLANDS]);
            let front = &shaped[mode];
            let mut rng = self.stream(round + 1, island, mode);
            let mut people = front.islands[island].clone();
            let Some(mut mover) = front.mover.clone() else { return (people, FIRST_STRIDE) };
            // A mode so rare that its scouts are all it has is not worth more.
            let sweeps = match (last[mode], people.len() > SCOUTS) {
                (_, false) => RARE_SWEEPS,
                (false, true) => SWEEPS,
                (true, true) => LAST_SWEEPS,
            };
            for sweep in 0..sweeps {
                mover.sweep(weigher, front.power, sweep % 2 == 1, &mut people, &mut rng);
            }
            for draw in &mut people {
                draw.island = island;
            }
            (people, mover.stride)
        });
        for (job, (people, stride)) in moved.into_iter().enumerate() {
            let (island, mode) = (job % ISLANDS, open[job / ISLANDS]);
            let front = &mut fronts[mode];
            front.islands[island] = people;
            if let Some(mover) = &mut front.mover {
                // The mean over the islands, bit by bit.
                mover.stride = if island == 0 { stride } else { mover.stride + stride };
                if island + 1 == ISLANDS {
                    mover.stride /= ISLANDS as f64;
                }
            }
        }
    }

    /// Shapes the moves of the modes to their populations as they stand.
    fn shape(&self, fronts: &mut [Front], open: &[usize], round: u64) {
        let view: &[Front] = fronts;
        let curvatures = self.share_out(open.len() * POINTS, |job, weigher| {
            let (point, mode) = (job % POINTS, open[job / POINTS]);
            let front = &view[mode];
            let mut rng = self.stream(round, ISLANDS + point, mode);
            let people = &front.islands[point % ISLANDS];
            let chosen = people.get(rng.random_range(0..people.len().max(1)));
            chosen.map(|draw| curvature(weigher, draw)).unwrap_or_default()
        });
        for (slot, mode) in open.iter().enumerate() {
            let front = &mut fronts[*mode];
            let d = self.model.theta;
            let mut information = vec![0.0; d * d];
            for own in &curvatures[slot * POINTS..(slot + 1) * POINTS] {
                for (sum, value) in information.iter_mut().zip(own) {
                    *sum += front.power * value / POINTS as f64;
                }
            }
            let stride = front.mover.as_ref().map_or(FIRST_STRIDE, |mover| mover.stride);
            front.mover = Some(Mover::shaped(front.everyone(), information, stride));
        }
    }

    fn stream(&self, round: u64, island: usize, mode: usize) -> ChaCha8Rng {
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(self.settings.seed));
        rng.set_stream((round * 64 + island as u64) * 64 + mode as u64);
        rng
    }

    /// Does jobs on all threads; the results come back in the order of the jobs.
    fn share_out<T: Send>(&self, jobs: usize, work: impl Fn(usize, &mut Weigher<'_>) -> T + Sync) -> Vec<T> {
        let next = core::sync::atomic::AtomicUsize::new(0);
        let worker = || {
            let mut weigher = Weigher::new(self.model, self.witnesses);
            let mut mine = Vec::new();
            loop {
                let job = next.fetch_add(1, core::sync::atomic::Ordering::Relaxed);
                if job >= jobs {
                    return mine;
                }
                mine.push((job, work(job, &mut weigher)));
            }
        };
        let mut done: Vec<(usize, T)> = std::thread::scope(|scope| {
            let handles: Vec<_> =
                (1..self.settings.threads.clamp(1, 64)).map(|_| scope.spawn(worker)).collect();
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
        done.into_iter().map(|(_, result)| result).collect()
    }
}

fn ln_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let high = values.clone().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY { high } else { high + values.map(|ln| (ln - high).exp()).sum::<f64>().ln() }
}

/// All draws with weights that sum to one, and whether the evidence left nothing of any of them: then they have the
/// weights of the prior.
fn weighted(fronts: Vec<Front>) -> (Vec<Draw>, bool) {
    // What the bridge has not yet taken of the likelihood is weight still: all of it, for a mode left behind.
    let ln_weight = |front: &Front, island: usize, draw: &Draw| {
        let rest = if front.power < 1.0 { (1.0 - front.power) * draw.ln_likelihood } else { 0.0 };
        front.prior.ln() + front.ln_evidence[island] + rest
    };
    let high = fronts
        .iter()
        .flat_map(|front| front.everyone().map(|draw| ln_weight(front, draw.island, draw)))
        .fold(f64::NEG_INFINITY, f64::max);
    let contradicted = high == f64::NEG_INFINITY;
    let mut draws = Vec::new();
    for front in &fronts {
        let count = front.everyone().count() as f64;
        for draw in front.everyone() {
            let weight = if contradicted {
                front.prior / count
            } else {
                (ln_weight(front, draw.island, draw) - high).exp() / count
            };
            if weight > 0.0 && !draw.landing_m.is_empty() {
                draws.push(Draw { weight, ..draw.clone() });
            }
        }
    }
    let total: f64 = draws.iter().map(|draw| draw.weight).sum();
    for draw in &mut draws {
        draw.weight /= total;
    }
    (draws, contradicted)
}
