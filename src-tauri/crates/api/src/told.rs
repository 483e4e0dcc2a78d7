//! Flights told in the hand, kept at hand until the program ends; the logbook, if one is open, keeps their facts.

use crate::{Api, ApiError, Code, clock, locked};
use serde_json::Value;
use windfall_facts::{Flight, read_flight};
use windfall_logbook::{Fact, about};

impl Api {
    /// Reads and checks a flight as the flight file has it, gives it an identifier if it has none, and keeps it in
    /// place of what was told of it before.
    pub(crate) fn tell(&self, flight: &Value) -> Result<Flight, ApiError> {
        let mut flight = read_flight(&flight.to_string())?;
        let id = flight.id.get_or_insert_with(clock::next_id).clone();
        let is_new = self.has_logbook() && self.open_logbook()?.words_of(about::FLIGHT, &id)?.is_empty();
        self.keep_facts(&flight)?;
        self.take_motors(&flight, is_new)?;
        self.hold(flight.clone());
        Ok(flight)
    }

    /// What was told of the flight `id`.
    pub(crate) fn told(&self, id: &str) -> Option<Flight> {
        locked(&self.told).iter().find(|flight| flight.id.as_deref() == Some(id)).cloned()
    }

    /// All flights told, in the order they were first told.
    pub(crate) fn all_told(&self) -> Vec<Flight> {
        locked(&self.told).clone()
    }

    /// Changes what is known of the flight `id`, told or of the day, and checks that it still agrees with itself.
    pub(crate) fn retell(&self, id: &str, change: impl FnOnce(&mut Flight)) -> Result<Flight, ApiError> {
        let flight = self.changed(id, change)?;
        self.keep_facts(&flight)?;
        self.take_motors(&flight, false)?;
        self.hold(flight.clone());
        Ok(flight)
    }

    /// What the flight `id` would be after a change, checked; kept nowhere.
    pub(crate) fn changed(&self, id: &str, change: impl FnOnce(&mut Flight)) -> Result<Flight, ApiError> {
        let mut flight = self.flight(id)?;
        flight.id.get_or_insert_with(|| id.to_owned());
        change(&mut flight);
        let value =
            serde_json::to_value(&flight).map_err(|error| ApiError::new(Code::Defect, error.to_string()))?;
        Ok(read_flight(&value.to_string())?)
    }

    /// What is at hand of a flight follows the logbook, after a fact about it was set aside or used again.
    pub(crate) fn hold_as_logged(&self, fact: &Fact) {
        if fact.about != about::FLIGHT || self.told(&fact.name).is_none() {
            return;
        }
        match self.logged_flight(&fact.name) {
            Ok(flight) => self.hold(flight),
            // The whole flight is set aside.
            Err(_) => locked(&self.told).retain(|flight| flight.id.as_ref() != Some(&fact.name)),
        }
    }

    /// Puts a flight in the place of what was told of it before.
    pub(crate) fn hold(&self, flight: Flight) {
        let mut told = locked(&self.told);
        match told.iter_mut().find(|known| known.id == flight.id) {
            Some(known) => *known = flight,
            None => told.push(flight),
        }
    }
}
