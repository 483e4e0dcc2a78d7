use super::population::{effective_share, resample};
use super::survey::{Front, GIVEN_UP, RARE, SWEEPS, Survey, chances, ln_mean_weight, weighted};
use super::weigher::Flown;
use super::{Cloud, Draw, ISLANDS, prepared};
use crate::evidence::{Case, Witnesses};
use crate::{Beliefs, LocateError, Priors, Settings};
use windfall_facts::Flight;

/// A population of which less than this share is effective has lost its way and starts anew.
const LOST: f64 = 0.02;
/// A leading population of which less than this is effective is chosen anew and moved. One batch of samples alone costs a
/// half, for with the evidence changes what the luck of a draw is worth; what comes after costs little.
const KEPT: f64 = 0.3;

/// A cloud that runs ahead while evidence still comes in: a phone held on target, say.
///
/// # Model
/// The draws of the last answer, told again with the same luck under all evidence there is by now and weighed by the
/// ratio of the two likelihoods; where too few are left effective they are chosen anew and moved, and where hardly any is,
/// the cloud is worked out from the start. A track is taken at its word as long as it grows. It is provisional: the answer that is kept comes from [`crate::locate`].
/// # Source
/// N. Chopin, A sequential particle filter method for static models, Biometrika 89 (2002) 539, from memory.
#[derive(Debug)]
pub struct Live {
    priors: Priors,
    beliefs: Beliefs,
    settings: Settings,
    fronts: Vec<Front>,
    /// Coordinates of the last flight.
    coordinates: (usize, usize),
    /// How many times it went on.
    round: u64,
}

impl Live {
    /// The cloud for what is known so far, earlier flights' lessons included, and what goes on from there.
    ///
    /// # Errors
    /// As [`crate::locate`].
    pub fn begin(
        flight: &Flight,
        priors: &Priors,
        beliefs: &Beliefs,
        settings: &Settings,
    ) -> Result<(Self, Cloud), LocateError> {
        let (model, witnesses) = prepared(flight, priors, beliefs)?;
        let case = at_its_word(&witnesses);
        let problem = &Flown { model: &model, witnesses: &case.witnesses };
        let (fronts, contradicted) = Survey { problem, settings, number: 0 }.fronts();
        let surveyed = weighted(fronts.clone(), contradicted).in_case(&case);
        let coordinates = (model.theta, model.latents);
        let live = Self {
            priors: priors.clone(),
            beliefs: beliefs.clone(),
            settings: *settings,
            fronts,
            coordinates,
            round: 0,
        };
        Ok((live, Cloud::of(flight, settings, model, witnesses, surveyed)))
    }

    /// The cloud for the same flight, of which more is known now.
    ///
    /// # Errors
    /// As [`crate::locate`].
    pub fn goes_on(&mut self, flight: &Flight) -> Result<Cloud, LocateError> {
        let (model, witnesses) = prepared(flight, &self.priors, &self.beliefs)?;
        let same = self.coordinates == (model.theta, model.latents) && self.fronts.len() == model.modes.len();
        self.round += 1;
        let case = at_its_word(&witnesses);
        if !same || !self.tell_again(&Flown { model: &model, witnesses: &case.witnesses }) {
            let (fresh, cloud) = Self::begin(flight, &self.priors, &self.beliefs, &self.settings)?;
            *self = Self { round: self.round, ..fresh };
            return Ok(cloud);
        }
        let surveyed = weighted(self.fronts.clone(), false).in_case(&case);
        Ok(Cloud::of(flight, &self.settings, model, witnesses, surveyed))
    }

    /// Takes all draws over to the evidence there is now; whether enough of them were left.
    fn tell_again(&mut self, problem: &Flown<'_>) -> bool {
        let survey = Survey { problem, settings: &self.settings, number: 1 + self.round };
        let fronts = &self.fronts;
        let told: Vec<Vec<Draw>> = survey.share_out(fronts.len() * ISLANDS, |job, teller| {
            let again = |then: &Draw| {
                let now = teller.draw(then.mode, &then.theta, then.luck);
                let ln_weight = then.ln_weight + now.ln_likelihood - then.ln_likelihood;
                // Nothing then and nothing now.
                let ln_weight = if ln_weight.is_nan() { f64::NEG_INFINITY } else { ln_weight };
                Draw { island: then.island, ln_weight, ..now }
            };
            fronts[job / ISLANDS].islands[job % ISLANDS].iter().map(again).collect()
        });
        for (job, told) in told.into_iter().enumerate() {
            let (island, front) = (job % ISLANDS, &mut self.fronts[job / ISLANDS]);
            if !told.is_empty() {
                front.ln_evidence[island] += ln_mean_weight(&told) - ln_mean_weight(&front.islands[island]);
            }
            front.islands[island] = told;
        }
        let chances = chances(&self.fronts);
        let share = |front: &Front| {
            let islands = front.islands.iter().zip(&front.ln_evidence);
            let all = islands.flat_map(|(people, evidence)| {
                let level = ln_mean_weight(people);
                people.iter().map(move |draw| draw.ln_weight - level + evidence)
            });
            effective_share(&all.collect::<Vec<_>>())
        };
        let leading = self.fronts.iter().zip(&chances).filter(|(_, chance)| **chance >= RARE);
        let least = leading.map(|(front, _)| share(front)).fold(1.0, f64::min);
        if least < LOST || !least.is_finite() {
            return false;
        }
        for (front, chance) in self.fronts.iter_mut().zip(chances) {
            if chance < GIVEN_UP {
                front.islands.iter_mut().for_each(Vec::clear);
            }
        }
        if least < KEPT {
            for (mode, front) in self.fronts.iter_mut().enumerate() {
                for (island, people) in front.islands.iter_mut().enumerate() {
                    let ln_weights: Vec<f64> = people.iter().map(|draw| draw.ln_weight).collect();
                    *people =
                        resample(people, &ln_weights, people.len(), &mut survey.stream(0, island, mode));
                    for draw in people {
                        draw.ln_weight = 0.0;
                    }
                }
            }
            let all: Vec<usize> = (0..self.fronts.len()).collect();
            survey.shift(&mut self.fronts, &all, 1.0, 1, |_| 2 * SWEEPS);
        }
        true
    }
}

/// The evidence, a track taken for what it says.
fn at_its_word(witnesses: &Witnesses) -> Case {
    witnesses.cases().swap_remove(0)
}
