//! Clouds at hand, so that a density or a new standing point needs no second run.

use crate::{Api, ApiError, clock, locked};
use std::sync::Arc;
use windfall_facts::Flight;
use windfall_inference::{Beliefs, Cloud, Settings, locate_knowing};

/// How many clouds are kept.
const AT_HAND: usize = 8;

/// A cloud and what it was made from: an answer is a pure function of it, so an equal flight has the same cloud.
#[derive(Clone, Debug)]
pub(crate) struct Held {
    flight: Arc<Flight>,
    beliefs: Arc<Beliefs>,
    /// The cloud.
    pub(crate) cloud: Arc<Cloud>,
    /// How long it took to make, milliseconds.
    pub(crate) made_in_ms: f64,
}

impl Api {
    /// The cloud of `flight`, made now or at hand.
    pub(crate) fn cloud(&self, flight: &Flight, settings: &Settings) -> Result<Held, ApiError> {
        let beliefs = self.beliefs_about(flight)?;
        // The flyers of a day look at few flights in turn: the latest is last.
        let at_hand = locked(&self.clouds)
            .iter()
            .rev()
            .find(|held| *held.flight == *flight && held.beliefs == beliefs)
            .cloned();
        if let Some(held) = at_hand {
            return Ok(held);
        }
        let (cloud, made_in_ms) = clock::timed(|| locate_knowing(flight, &self.priors, &beliefs, settings));
        let held = Held { flight: Arc::new(flight.clone()), beliefs, cloud: Arc::new(cloud?), made_in_ms };
        let mut clouds = locked(&self.clouds);
        if clouds.len() == AT_HAND {
            clouds.remove(0);
        }
        clouds.push(held.clone());
        Ok(held)
    }
}
