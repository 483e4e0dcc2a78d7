use super::mover::{Mover, curvature};
use super::population::{effective_share, ln_mass_ratio, ln_mean, resample};
use super::shape::Shape;
use super::{Draw, ISLANDS, Problem, Tell};
use crate::Settings;
use crate::evidence::Case;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A mode of which less than this is left by the evidence so far is given up.
pub(super) const GIVEN_UP: f64 = 1e-6;
/// A mode with less chance than this does not hold the others up, and is not worth many moves.
pub(super) const RARE: f64 = 0.03;
/// The fewest draws of a mode on each island: one in so many of those asked for, within bounds.
const FEWEST_IN: usize = 40;
const FEWEST: (usize, usize) = (24, 48);
/// A rare mode goes a part of the way by itself where a step would keep less than this of it effective; one with less
/// chance than `LOST_SIGHT_OF` goes with the others.
const RARE_KEPT: f64 = 0.25;
const LOST_SIGHT_OF: f64 = 1e-3;
/// The most steps that rare modes go by themselves, all together.
const BY_THEMSELVES: usize = 80;
/// Effective share of the populations that each step of the bridge keeps.
const KEPT: f64 = 0.5;
/// Draws of each mode by which the length of a step is found.
const SURVEYORS: usize = 150;
/// The first power looked at, and the factor from one to the next.
const LEAST_POWER: f64 = 5e-4;
const FINER: f64 = 1.5;
/// The first power is not looked for below this.
const LOWEST_POWER: f64 = 1e-9;
/// How many times as many draws a leading mode has in the end as on the way.
const IN_THE_END: usize = 2;
/// Sweeps of moves after each step; and for a rare mode.
pub(super) const SWEEPS: usize = 2;
const RARE_SWEEPS: usize = 2;
/// Squares of strides that draws go after the last step, and the fewest and most sweeps for it.
const LAST_WAY: f64 = 2.5;
const LAST_SWEEPS: (f64, f64) = (6.0, 20.0);
/// A bridge longer than this has met evidence that contradicts everything; its last step takes what is left.
const LONGEST: usize = 40;
/// Points at which the curvature of the likelihood is looked at before each step's moves.
const POINTS: usize = 4;
/// How much a look at the curvature counts beside all before it.
const NEW_LOOK: f64 = 0.5;
/// Length of the first moves.
const FIRST_STRIDE: f64 = 0.6;

/// Works out the cloud of one flight.
///
/// # Model
/// Sequential Monte Carlo by tempering: prior draws of every mode on every island; each step raises the power on the
/// evidence until a share of the leading populations remains effective, resamples within each island, and moves every
/// draw so that the tempered law is kept. All modes stand at one power after each step: their chances so far can be
/// compared, and each gets draws as the root of its own. Where a step is too long for a mode that does not lead, it goes
/// there in several: few draws that lose sight of where the evidence leads would make its chance too small. The linear
/// block is drawn afresh with each move; its estimate of the likelihood is unbiased, so the law at full power is exact.
/// Steps, sizes and shapes of the moves are read off all islands together; everything else is each island's own.
/// # Source
/// P. Del Moral, A. Doucet, A. Jasra, Sequential Monte Carlo samplers, J. R. Stat. Soc. B 68 (2006) 411, from memory.
pub(super) struct Survey<'a> {
    pub(super) problem: &'a dyn Problem,
    pub(super) settings: &'a Settings,
    /// Surveys of one flight have random streams of their own.
    pub(super) number: u64,
}

/// What a survey ends with.
#[derive(Clone, Default)]
pub(super) struct Surveyed {
    /// With weights that sum to one.
    pub(super) draws: Vec<Draw>,
    /// Whether the evidence left nothing of any of them.
    pub(super) contradicted: bool,
    /// Log of the evidence of all modes together.
    ln_evidence: f64,
}

impl Surveyed {
    /// As one case among others.
    pub(super) fn in_case(mut self, case: &Case) -> Self {
        for draw in &mut self.draws {
            draw.p_mistaken = case.p_mistaken(&draw.scales);
        }
        self.ln_evidence += case.ln_chance;
        self
    }

    /// Both cases, each by its evidence.
    pub(super) fn or(self, other: Self) -> Self {
        let (one, two) = (self.ln_evidence, other.ln_evidence);
        self.with(other, one, two, |it| it)
    }

    /// How likely each case is, beside the others.
    pub(super) fn shares(cases: &[Self]) -> Vec<f64> {
        let weighs = |it: &Self| if it.contradicted { f64::NEG_INFINITY } else { it.ln_evidence };
        let total = cases.iter().map(weighs).fold(f64::NEG_INFINITY, crate::evidence::ln_sum);
        cases.iter().map(|it| (weighs(it) - total).exp()).collect()
    }

    /// Both surveys of the same, each by its number of draws and its estimate of the evidence.
    pub(super) fn and(self, other: Self) -> Self {
        let mass = |it: &Self| it.ln_evidence + (it.draws.len() as f64).ln();
        let (one, two) = (mass(&self), mass(&other));
        let count = self.draws.len() + other.draws.len();
        self.with(other, one, two, |ln_mass| ln_mass - (count as f64).ln())
    }

    /// Both, by the logs of what they weigh; one that lost all its draws weighs nothing.
    fn with(mut self, other: Self, own_ln: f64, others_ln: f64, ln_evidence: impl Fn(f64) -> f64) -> Self {
        if other.contradicted {
            return self;
        }
        if self.contradicted {
            return other;
        }
        let total = crate::evidence::ln_sum(own_ln, others_ln);
        let [own, others] = [own_ln, others_ln].map(|ln| (ln - total).exp());
        for draw in &mut self.draws {
            draw.weight *= own;
        }
        self.draws.extend(other.draws.into_iter().map(|draw| Draw { weight: draw.weight * others, ..draw }));
        self.draws.retain(|draw| draw.weight > 0.0);
        self.ln_evidence = ln_evidence(total);
        self
    }
}

/// How one mode stands.
#[derive(Clone, Debug)]
pub(super) struct Front {
    prior: f64,
    pub(super) islands: Vec<Vec<Draw>>,
    /// Log evidence of each island so far.
    pub(super) ln_evidence: Vec<f64>,
    /// Mean Gauss-Newton curvature of the log likelihood, row by row.
    curvature: Vec<f64>,
    mover: Option<Mover>,
    /// How far it has come on the bridge.
    power: f64,
}

impl Front {
    fn of(prior: f64) -> Self {
        let (islands, ln_evidence) = (vec![Vec::new(); ISLANDS], vec![0.0; ISLANDS]);
        Self { prior, islands, ln_evidence, curvature: Vec::new(), mover: None, power: 0.0 }
    }

    pub(super) fn everyone(&self) -> impl Iterator<Item = &Draw> + Clone {
        self.islands.iter().flatten()
    }

    /// What is effective of some of its draws when the power rises.
    fn left<'a>(&self, draws: impl Iterator<Item = &'a Draw>, next: f64) -> f64 {
        effective_share(&draws.map(|it| it.rise(self.power, next)).collect::<Vec<_>>())
    }
}

impl Survey<'_> {
    /// All draws with their weights.
    pub(super) fn surveyed(&self) -> Surveyed {
        let (fronts, contradicted) = self.fronts();
        weighted(fronts, contradicted)
    }

    /// How all modes stand at the end, and whether the evidence left nothing of any of them.
    pub(super) fn fronts(&self) -> (Vec<Front>, bool) {
        let mut fronts: Vec<Front> = self.problem.modes().iter().map(|row| Front::of(row.1)).collect();
        self.call_up(&mut fronts);
        let all: Vec<usize> = (0..fronts.len()).collect();
        let (mut power, mut steps) = (0.0, 0);
        for number in 0..LONGEST {
            let Some(next) = next_power(&fronts, power, number) else {
                return (fronts, true);
            };
            steps = self.catch_up(&mut fronts, next, steps, number);
            self.step(&mut fronts, &all, next, steps);
            steps += 1;
            power = next;
            if power >= 1.0 {
                break;
            }
        }
        (fronts, false)
    }

    /// Takes rare modes so far that a step to `next` keeps enough of each; returns how many steps there were.
    fn catch_up(&self, fronts: &mut [Front], next: f64, mut steps: usize, number: usize) -> usize {
        for (mode, chance) in chances(fronts).into_iter().enumerate() {
            if !(LOST_SIGHT_OF..RARE).contains(&chance) {
                continue;
            }
            while steps < BY_THEMSELVES + number {
                let front = &fronts[mode];
                let share = |to: f64| front.left(front.everyone(), to);
                if share(next) >= RARE_KEPT {
                    break;
                }
                let to = farthest(front.power, RARE_KEPT, share);
                if to >= next {
                    break;
                }
                self.step(fronts, &[mode], to, steps);
                steps += 1;
            }
        }
        steps
    }

    /// Fills the islands with draws from the prior.
    fn call_up(&self, fronts: &mut [Front]) {
        let sizes = self.sizes(&chances(fronts));
        let modes = self.problem.modes();
        let called = self.share_out(modes.len() * ISLANDS, |job, teller| {
            let (island, mode) = (job % ISLANDS, job / ISLANDS);
            let mut rng = self.stream(0, island, mode);
            let mut theta = vec![0.0; self.problem.coordinates()];
            let mut called = Vec::with_capacity(sizes[mode]);
            for _ in 0..sizes[mode] {
                theta.fill_with(|| rng.sample(StandardNormal));
                called.push(Draw { island, ..teller.draw(modes[mode].0, &theta, rng.random()) });
            }
            called
        });
        for (job, called) in called.into_iter().enumerate() {
            fronts[job / ISLANDS].islands[job % ISLANDS] = called;
        }
    }

    /// Where nothing is moved, draws that are doubled stay double.
    fn times_in_the_end(&self) -> usize {
        if self.problem.has_evidence() { IN_THE_END } else { 1 }
    }

    /// How many draws each mode gets on each island: as the root of its chance, none for one given up.
    fn sizes(&self, chances: &[f64]) -> Vec<usize> {
        let roots: Vec<f64> = chances.iter().map(|p| if *p >= GIVEN_UP { p.sqrt() } else { 0.0 }).collect();
        let sum: f64 = roots.iter().sum();
        let each = (self.settings.draws / ISLANDS / self.times_in_the_end()) as f64;
        let fewest = (self.settings.draws / FEWEST_IN).clamp(FEWEST.0, FEWEST.1);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of the draws asked for"
        )]
        roots
            .iter()
            .map(|root| if *root > 0.0 { ((each * root / sum) as usize).max(fewest) } else { 0 })
            .collect()
    }

    /// One step of the bridge for some modes; if for all of them, each gets draws by its chance.
    fn step(&self, fronts: &mut [Front], which: &[usize], next: f64, number: usize) {
        let round = 1 + 2 * number as u64;
        let rise = |front: &Front| -> Vec<Vec<f64>> {
            let of = |people: &Vec<Draw>| people.iter().map(|it| it.rise(front.power, next)).collect();
            front.islands.iter().map(of).collect()
        };
        let rises: Vec<Vec<Vec<f64>>> = which.iter().map(|mode| rise(&fronts[*mode])).collect();
        let before: Vec<Vec<f64>> = which.iter().map(|mode| fronts[*mode].ln_evidence.clone()).collect();
        for (mode, rises) in which.iter().zip(&rises) {
            for (ln_evidence, rise) in fronts[*mode].ln_evidence.iter_mut().zip(rises) {
                *ln_evidence += ln_mean(rise);
            }
        }
        let sizes = if which.len() == fronts.len() {
            let chances = chances(fronts);
            let mut sizes = self.sizes(&chances);
            if next >= 1.0 {
                for (size, chance) in sizes.iter_mut().zip(&chances) {
                    *size *= if *chance >= RARE { self.times_in_the_end() } else { 1 };
                }
            }
            sizes
        } else {
            which.iter().map(|mode| fronts[*mode].islands[0].len()).collect()
        };
        for ((mode, rises), size) in which.iter().zip(&rises).zip(sizes) {
            for (island, (people, rise)) in fronts[*mode].islands.iter_mut().zip(rises).enumerate() {
                let mut rng = self.stream(round, island, *mode);
                *people = resample(people, rise, size, &mut rng);
                for draw in people {
                    draw.island = island;
                }
            }
        }
        if !self.problem.has_evidence() {
            return; // nothing to move for
        }
        let sweeps = |stride: f64| {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to a few")]
            if next >= 1.0 {
                (LAST_WAY / (stride * stride)).clamp(LAST_SWEEPS.0, LAST_SWEEPS.1) as usize
            } else {
                SWEEPS
            }
        };
        self.shift(fronts, which, next, round, sweeps);
        // The draws on the far side of the step know of its length, too.
        for ((mode, rises), before) in which.iter().zip(&rises).zip(before) {
            let front = &mut fronts[*mode];
            for (island, far) in rise(front).into_iter().enumerate() {
                front.ln_evidence[island] = before[island] + ln_mass_ratio(&rises[island], &far);
            }
            front.power = next;
        }
    }

    /// Moves the draws of some modes so that their law at `power` is kept, those of a rare mode less often.
    pub(super) fn shift(
        &self,
        fronts: &mut [Front],
        which: &[usize],
        power: f64,
        round: u64,
        sweeps: impl Fn(f64) -> usize + Sync,
    ) {
        let open: Vec<usize> =
            which.iter().copied().filter(|mode| fronts[*mode].everyone().next().is_some()).collect();
        let chances = chances(fronts);
        self.shape(fronts, &open, &chances, power, round);
        let shaped: &[Front] = fronts;
        let moved = self.share_out(open.len() * ISLANDS, |job, teller| {
            let (island, mode) = (job % ISLANDS, open[job / ISLANDS]);
            let front = &shaped[mode];
            let mut rng = self.stream(round + 1, island, mode);
            let mut people = front.islands[island].clone();
            let Some(mut mover) = front.mover.clone() else { return (people, FIRST_STRIDE) };
            for _ in 0..if chances[mode] < RARE { RARE_SWEEPS } else { sweeps(mover.stride) } {
                mover.sweep(teller, power, &mut people, &mut rng);
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

    /// Shapes the moves of the modes to their populations as they stand. At the curvature of a rare mode one look is
    /// enough.
    fn shape(&self, fronts: &mut [Front], open: &[usize], chances: &[f64], power: f64, round: u64) {
        let view: &[Front] = fronts;
        let curvatures = self.share_out(open.len() * POINTS, |job, teller| {
            let (point, mode) = (job % POINTS, open[job / POINTS]);
            let front = &view[mode];
            if chances[mode] < RARE && !front.curvature.is_empty() {
                return Vec::new();
            }
            let mut rng = self.stream(round, ISLANDS + point, mode);
            let people = &front.islands[(point * ISLANDS / POINTS) % ISLANDS];
            let chosen = people.get(rng.random_range(0..people.len().max(1)));
            chosen.map(|draw| curvature(teller, draw)).unwrap_or_default()
        });
        for (slot, mode) in open.iter().enumerate() {
            let front = &mut fronts[*mode];
            let d = self.problem.coordinates();
            let looks =
                || curvatures[slot * POINTS..(slot + 1) * POINTS].iter().filter(|look| !look.is_empty());
            let counts = match (looks().count(), front.curvature.len()) {
                (0, _) => 0.0,
                (_, 0) => 1.0,
                _ => NEW_LOOK,
            };
            front.curvature.resize(d * d, 0.0);
            for sum in &mut front.curvature {
                *sum *= 1.0 - counts;
            }
            for own in looks() {
                for (sum, value) in front.curvature.iter_mut().zip(own) {
                    *sum += counts * value / POINTS as f64;
                }
            }
            let information = front.curvature.iter().map(|value| power * value).collect();
            let mut shape = Shape::along(information, d);
            shape.fit(front.everyone());
            let stride = front.mover.as_ref().map_or(FIRST_STRIDE, |mover| mover.stride);
            front.mover = Some(Mover { shape, stride });
        }
    }

    pub(super) fn stream(&self, round: u64, island: usize, mode: usize) -> ChaCha8Rng {
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(self.settings.seed));
        rng.set_stream(((self.number * 256 + round) * 64 + island as u64) * 64 + mode as u64);
        rng
    }

    /// Does jobs on all threads; the results come back in the order of the jobs.
    pub(super) fn share_out<T: Send>(
        &self,
        jobs: usize,
        work: impl Fn(usize, &mut dyn Tell) -> T + Sync,
    ) -> Vec<T> {
        let next = core::sync::atomic::AtomicUsize::new(0);
        let worker = || {
            let mut teller = self.problem.teller();
            let mut mine = Vec::new();
            loop {
                let job = next.fetch_add(1, core::sync::atomic::Ordering::Relaxed);
                if job >= jobs {
                    return mine;
                }
                mine.push((job, work(job, &mut *teller)));
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

/// The largest power at which enough of every leading population is effective still; none if nothing is left.
fn next_power(fronts: &[Front], power: f64, number: usize) -> Option<f64> {
    let chances = chances(fronts);
    let leading: Vec<(&Front, usize)> = fronts
        .iter()
        .zip(&chances)
        .filter(|(front, chance)| **chance >= RARE && front.everyone().next().is_some())
        .map(|(front, _)| (front, (front.everyone().count() / SURVEYORS).max(1)))
        .collect();
    let possible = |draw: &Draw| draw.ln_likelihood > f64::NEG_INFINITY;
    if !fronts.iter().any(|front| front.everyone().any(possible)) {
        return None;
    }
    if number + 1 == LONGEST {
        return Some(1.0);
    }
    let share = |next: f64| {
        let left = |(front, every): &(&Front, usize)| front.left(front.everyone().step_by(*every), next);
        leading.iter().map(left).fold(1.0, f64::min)
    };
    Some(farthest(power, KEPT, share))
}

/// The largest power beyond `power` that keeps so much of a population effective; a little farther if there is none.
fn farthest(power: f64, kept: f64, share: impl Fn(f64) -> f64) -> f64 {
    // The first power at which too few are left, looked for from below: far above, where a piece is mistaken for
    // all of them, they may all be alike again.
    let mut low = power.max(LEAST_POWER / FINER);
    while power == 0.0 && low > LOWEST_POWER && share(low) < kept {
        low /= FINER;
    }
    let mut top = low * FINER;
    while top < 1.0 && share(top) >= kept {
        (low, top) = (top, top * FINER);
    }
    if top >= 1.0 && share(1.0) >= kept {
        return 1.0;
    }
    let mut top = top.min(1.0);
    for _ in 0..5 {
        let middle = f64::midpoint(low, top);
        if share(middle) >= kept { low = middle } else { top = middle }
    }
    if low > power { low } else { top }
}

/// Log of the mean weight of draws among their own.
pub(super) fn ln_mean_weight(people: &[Draw]) -> f64 {
    ln_mean(&people.iter().map(|draw| draw.ln_weight).collect::<Vec<_>>())
}

/// Chance of each mode by the evidence so far.
pub(super) fn chances(fronts: &[Front]) -> Vec<f64> {
    let ln: Vec<f64> = fronts.iter().map(|front| front.prior.ln() + ln_mean(&front.ln_evidence)).collect();
    let high = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if high == f64::NEG_INFINITY {
        return fronts.iter().map(|front| front.prior).collect();
    }
    let total: f64 = ln.iter().map(|l| (l - high).exp()).sum();
    ln.iter().map(|l| (l - high).exp() / total).collect()
}

/// All draws with their weights: chance of the mode before, times the evidence of the island; when the
/// evidence leaves nothing, the former alone.
pub(super) fn weighted(fronts: Vec<Front>, contradicted: bool) -> Surveyed {
    let ln: Vec<f64> = fronts
        .iter()
        .flat_map(|front| front.ln_evidence.iter().map(|ln| (front.prior.ln(), *ln)))
        .map(|(prior, ln)| if contradicted { prior } else { prior + ln })
        .collect();
    let high = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = ln.iter().map(|ln| (ln - high).exp()).sum();
    let ln_evidence = high + (total / ISLANDS as f64).ln();
    let mut draws = Vec::new();
    for (slot, people) in fronts.into_iter().flat_map(|front| front.islands).enumerate() {
        let each = (ln[slot] - high).exp() / total / people.len().max(1) as f64;
        let level = ln_mean_weight(&people);
        let placed = people.into_iter().filter(|draw| each > 0.0 && !draw.landing_m.is_empty());
        draws.extend(placed.map(|draw| Draw { weight: each * (draw.ln_weight - level).exp(), ..draw }));
    }
    let total: f64 = draws.iter().map(|draw| draw.weight).sum();
    for draw in &mut draws {
        draw.weight /= total;
    }
    Surveyed { draws, contradicted, ln_evidence }
}
