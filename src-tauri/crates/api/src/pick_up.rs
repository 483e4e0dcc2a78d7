use crate::{Api, ApiError, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::{Answer, Flight, LatLon, Sentence};
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

/// A part that nobody should set out for: its answer says so.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NotYet {
    /// A line that tells its flight from others.
    pub title: String,
    /// Which part or stage.
    pub part: String,
    /// Why.
    pub stay: Sentence,
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
    /// Parts whose place is known and is none to set out for.
    pub not_yet: Vec<NotYet>,
}

/// Pads further off than this belong to another field. Judgement.
pub(crate) const ONE_FIELD_M: f64 = 5000.0;

pub(crate) fn apart_m(a: LatLon, b: LatLon) -> Option<f64> {
    let [a, b] = [a, b].map(|it| Position::new(it.lat, it.lon).ok());
    Some(LocalFrame::about(a?).offset_of(b?).length_m())
}

/// Where a missing part is looked for; an error says why nobody should set out for it.
fn place_of(flight: &Flight, answer: &Answer, part: &str) -> Option<Result<LatLon, Sentence>> {
    // A stage that splits is looked for where its part with the recovery device may be.
    let at = flight.part_index_for(Some(part)).and_then(|index| answer.parts.get(index))?;
    Some(at.stay.clone().map_or(Ok(at.aim), Err))
}

impl Api {
    /// All open parts on this field, own and friends', in one round that crosses as little as it can. An answer that was not
    /// computed yet is computed now.
    ///
    /// # Errors
    /// When a place is none or the flights cannot be read.
    pub fn pick_up(&self, asked: &PickUp) -> Result<PickUpWalk, ApiError> {
        guarded(|| {
            let (mut waiting, mut places, mut left_out, mut not_yet) =
                (Vec::new(), Vec::new(), Vec::new(), Vec::new());
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
                    let (title, part) = (open.title.clone(), part.clone());
                    match place_of(&flight, &answer, &part) {
                        Some(Ok(at)) => {
                            let (flight, is_friends) = (open.id.clone(), open.is_friends);
                            waiting.push(Waiting { flight, title, part, is_friends });
                            places.push(at);
                        }
                        Some(Err(stay)) => not_yet.push(NotYet { title, part, stay }),
                        None => {}
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
                return Ok(PickUpWalk { waiting, round, left_out, not_yet });
            };
            let from = asked.from.unwrap_or(LatLon { lat: ground.pad.lat, lon: ground.pad.lon });
            let round = round(&ground, &self.priors, from, &places)?;
            Ok(PickUpWalk { waiting, round, left_out, not_yet })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::place_of;
    use windfall_facts::{Sentence, read_flight};
    use windfall_inference::{Priors, Settings, locate};

    #[test]
    fn a_place_that_is_none_to_set_out_for_is_no_stop_of_the_round() {
        let text = r#"{"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3}, "rocket": {"stages": [{"motor": "A8-3"}]}}"#;
        let flight = read_flight(text).unwrap();
        let mut answer =
            locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None);
        let part = answer.parts[0].part.clone();
        assert_eq!(place_of(&flight, &answer, &part), Some(Ok(answer.parts[0].aim)));
        let stay = Sentence::TooFarToBe { distance_m: 44_500.0, reach_m: 5000.0 };
        answer.parts[0].stay = Some(stay.clone());
        assert_eq!(place_of(&flight, &answer, &part), Some(Err(stay)));
    }
}
