use crate::{Api, ApiError, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::{Flight, LatLon};
use windfall_inference::{Round, round};
use windfall_quantities::{LocalFrame, Position};

/// A walk past everything that is still out there.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PickUp {
    /// Where it starts and ends; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
}

/// What waits at one place of the walk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Waiting {
    /// Which flight.
    pub flight: String,
    /// A line that tells it from others.
    pub title: String,
    /// Which part or stage.
    pub part: String,
    /// Whether its rocket is none of this fleet.
    pub is_friends: bool,
}

/// A flight that no answer could be made for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Its title.
    pub title: String,
    /// Why.
    pub error: ApiError,
}

/// One round past all open parts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PickUpWalk {
    /// What waits, in the order asked for by [`windfall_inference::RoundLeg::place`].
    pub waiting: Vec<Waiting>,
    /// The way.
    pub round: Round,
    /// Flights that could not be placed, and why.
    pub left_out: Vec<LeftOut>,
}

/// Pads further off than this belong to another field. Judgement.
pub(crate) const ONE_FIELD_M: f64 = 5000.0;

pub(crate) fn apart_m(a: LatLon, b: LatLon) -> Option<f64> {
    let [a, b] = [a, b].map(|it| Position::new(it.lat, it.lon).ok());
    Some(LocalFrame::about(a?).offset_of(b?).length_m())
}

impl Api {
    /// All open parts on this field, own and friends', in one round that crosses as little as it can. An answer that was not
    /// computed yet is computed now.
    ///
    /// # Errors
    /// When a place is none or the flights cannot be read.
    pub fn pick_up(&self, asked: &PickUp) -> Result<PickUpWalk, ApiError> {
        guarded(|| {
            let (mut waiting, mut places, mut left_out) = (Vec::new(), Vec::new(), Vec::new());
            let mut ground: Option<Flight> = None;
            let mut start = asked.from;
            for open in self.open_flights()? {
                let flight = self.flight(&open.id)?;
                let pad = LatLon { lat: flight.pad.lat, lon: flight.pad.lon };
                if apart_m(*start.get_or_insert(pad), pad).is_none_or(|far_m| far_m > ONE_FIELD_M) {
                    continue;
                }
                let answer = match self.locate(&flight, None, None, &self.settings) {
                    Ok(answer) => answer,
                    Err(error) => {
                        left_out.push(LeftOut { title: open.title, error });
                        continue;
                    }
                };
                for part in &open.missing {
                    // A stage that splits is looked for where its part with the recovery device may be.
                    let at = flight.part_index_for(Some(part)).and_then(|index| answer.parts.get(index));
                    if let Some(at) = at {
                        let (flight, title) = (open.id.clone(), open.title.clone());
                        waiting.push(Waiting {
                            flight,
                            title,
                            part: part.clone(),
                            is_friends: open.is_friends,
                        });
                        places.push(at.aim);
                    }
                }
                // The ground with the most marked on it.
                let marked = |flight: &Flight| flight.field.as_ref().map_or(0, |field| field.hazards.len());
                if ground.as_ref().is_none_or(|known| marked(known) < marked(&flight)) {
                    ground = Some(flight);
                }
            }
            let Some(ground) = ground else {
                let round = Round { legs: Vec::new(), back_m: 0.0, any_marked: false };
                return Ok(PickUpWalk { waiting, round, left_out });
            };
            let from = asked.from.unwrap_or(LatLon { lat: ground.pad.lat, lon: ground.pad.lon });
            let round = round(&ground, &self.priors, from, &places)?;
            Ok(PickUpWalk { waiting, round, left_out })
        })
    }
}
