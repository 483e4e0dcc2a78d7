use super::population::{effective_share, ln_mean, resample};
use super::survey::{Front, GIVEN_UP, KEPT, RARE, SWEEPS, Survey, chances, weighted};
use super::weigher::Flown;
use super::{Cloud, Draw, ISLANDS, prepared};
use crate::{LocateError, Priors, Settings};
use windfall_facts::Flight;

/// A population of which less than this share is effective has lost its way and starts anew.
const LOST: f64 = 0.02;

/// A cloud that runs ahead while evidence still comes in: a phone held on target, say.
///
/// # Model
/// The draws of the last answer, told again with the same luck under all evidence there is by now and weighed by the
/// ratio of the two likelihoods; where too few are left effective they are chosen anew and moved, and where hardly any is, the cloud is
/// worked out from the start. It is provisional: the answer that is kept comes from [`crate::locate`].
/// # Source
/// N. Chopin, A sequential particle filter method for static models, Biometrika 89 (2002) 539, from memory.
#[derive(Debug)]
pub struct Live {
    priors: Priors,
    settings: Settings,
    fronts: Vec<Front>,
    /// Log of each draw's weight within its island.
    ln_weights: Vec<Vec<Vec<f64>>>,
    /// Coordinates of the last flight.
    coordinates: (usize, usize),
    /// How many times it went on.
    round: u64,
}

impl Live {
    /// The cloud for what is known so far, and what goes on from there.
    ///
    /// # Errors
    /// As [`crate::locate`].
    pub fn begin(
        flight: &Flight,
        priors: &Priors,
        settings: &Settings,
    ) -> Result<(Self, Cloud), LocateError> {
        let (model, witnesses) = prepared(flight, priors)?;
        let problem = &Flown { model: &model, witnesses: &witnesses };
        let (fronts, contradicted) = Survey { problem, settings, number: 0 }.fronts();
        let ln_weights = level(&fronts);
        let surveyed = weighted(fronts.clone(), contradicted);
        let coordinates = (model.theta, model.latents);
        let live =
            Self { priors: priors.clone(), settings: *settings, fronts, ln_weights, coordinates, round: 0 };
        Ok((live, Cloud::of(flight, settings, model, witnesses, surveyed)))
    }

    /// The cloud for the same flight, of which more is known now.
    ///
    /// # Errors
    /// As [`crate::locate`].
    pub fn goes_on(&mut self, flight: &Flight) -> Result<Cloud, LocateError> {
        let (model, witnesses) = prepared(flight, &self.priors)?;
        let same = self.coordinates == (model.theta, model.latents) && self.fronts.len() == model.modes.len();
        self.round += 1;
        if !same || !self.tell_again(&Flown { model: &model, witnesses: &witnesses }) {
            let (fresh, cloud) = Self::begin(flight, &self.priors, &self.settings)?;
            *self = Self { round: self.round, ..fresh };
            return Ok(cloud);
        }
        let mut surveyed = weighted(self.fronts.clone(), false);
        // Within each island the draws have weights of their own.
        let shares = self.ln_weights.iter().flatten().flat_map(|ln| {
            let mean = ln_mean(ln);
            ln.iter().map(move |ln| (ln - mean).exp())
        });
        // Draws without a place were left out; their weight is nothing.
        let placed = self.fronts.iter().flat_map(Front::everyone).map(|draw| !draw.landing_m.is_empty());
        let mut shares = shares.zip(placed).filter(|(_, placed)| *placed).map(|(share, _)| share);
        let mut total = 0.0;
        for draw in &mut surveyed.draws {
            draw.weight *= shares.next().unwrap_or(0.0);
            total += draw.weight;
        }
        for draw in &mut surveyed.draws {
            draw.weight /= total;
        }
        Ok(Cloud::of(flight, &self.settings, model, witnesses, surveyed))
    }

    /// Takes all draws over to the evidence there is now; whether enough of them were left.
    fn tell_again(&mut self, problem: &Flown<'_>) -> bool {
        let survey = Survey { problem, settings: &self.settings, number: 1 + self.round };
        let fronts = &self.fronts;
        let told: Vec<Vec<Draw>> = survey.share_out(fronts.len() * ISLANDS, |job, teller| {
            let (island, mode) = (job % ISLANDS, job / ISLANDS);
            let again = |draw: &Draw| Draw { island, ..teller.draw(draw.mode, &draw.theta, draw.luck) };
            fronts[mode].islands[island].iter().map(again).collect()
        });
        for (job, told) in told.into_iter().enumerate() {
            let (island, mode) = (job % ISLANDS, job / ISLANDS);
            let (front, ln_weights) = (&mut self.fronts[mode], &mut self.ln_weights[mode][island]);
            let before = ln_mean(ln_weights);
            for (ln, (now, then)) in ln_weights.iter_mut().zip(told.iter().zip(&front.islands[island])) {
                *ln += now.ln_likelihood - then.ln_likelihood;
                if ln.is_nan() {
                    *ln = f64::NEG_INFINITY;
                }
            }
            if !told.is_empty() {
                front.ln_evidence[island] += ln_mean(ln_weights) - before;
            }
            front.islands[island] = told;
        }
        let chances = chances(&self.fronts);
        let share = |mode: usize| {
            let all: Vec<f64> = self.ln_weights[mode]
                .iter()
                .zip(&self.fronts[mode].ln_evidence)
                .flat_map(|(ln, evidence)| {
                    let mean = ln_mean(ln);
                    ln.iter().map(move |ln| ln - mean + evidence)
                })
                .collect();
            effective_share(&all)
        };
        let shares: Vec<f64> = (0..self.fronts.len()).map(share).collect();
        let leading = |mode: &usize| chances[*mode] >= RARE;
        let least = (0..shares.len()).filter(leading).map(|mode| shares[mode]).fold(1.0, f64::min);
        if least < LOST || !least.is_finite() {
            return false;
        }
        for ((front, ln_weights), chance) in self.fronts.iter_mut().zip(&mut self.ln_weights).zip(chances) {
            if chance < GIVEN_UP {
                front.islands.iter_mut().for_each(Vec::clear);
                ln_weights.iter_mut().for_each(Vec::clear);
            }
        }
        if least < KEPT {
            for mode in 0..self.fronts.len() {
                for island in 0..ISLANDS {
                    let people = &self.fronts[mode].islands[island];
                    let mut rng = survey.stream(0, island, mode);
                    let chosen = resample(people, &self.ln_weights[mode][island], people.len(), &mut rng);
                    self.fronts[mode].islands[island] = chosen;
                }
            }
            self.ln_weights = level(&self.fronts);
            survey.shift(&mut self.fronts, 1.0, 1, 2 * SWEEPS);
        }
        true
    }
}

/// No draw has more weight than another.
fn level(fronts: &[Front]) -> Vec<Vec<Vec<f64>>> {
    fronts.iter().map(|front| front.islands.iter().map(|people| vec![0.0; people.len()]).collect()).collect()
}
