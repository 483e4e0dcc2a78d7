//! Motors leave the box when they fly: a fact about the motor that names the flight, set aside and used again with it.

use crate::read_motor::MotorRead;
use crate::{Api, ApiError, clock};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use windfall_facts::{Flight, Motor, Rocket};
use windfall_logbook::{Fact, SET_ASIDE, UNDO, Word, about};

const STOCK: &str = "stock";

/// Motors of one kind that flew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FlownMotor {
    /// Designation.
    pub motor: String,
    /// How many.
    pub flown: usize,
}

/// What a change of the box says if a flight made it.
#[derive(Serialize, Deserialize)]
struct Burnt {
    change: i64,
    flight: String,
    day: String,
}

/// Why a burnt motor is set aside, and by what that is known again.
const WITH_ITS_FLIGHT: &str = "the flight is set aside";

impl Api {
    /// Takes the motors of a flight out of the box. Only motors that are counted there, of a rocket of the fleet; of a
    /// flight that was known before only if its motors were taken out then.
    pub(crate) fn take_motors(&self, flight: &Flight, is_new: bool) -> Result<(), ApiError> {
        let (Some(name), true) = (&flight.id, self.has_logbook()) else { return Ok(()) };
        let today = clock::today().to_string();
        let is_today = flight.launch.at.as_ref().is_none_or(|at| at.starts_with(&today));
        let mut booked = self.burnt_by(name)?;
        booked.retain(|word| word.counts());
        if booked.is_empty() && !(is_new && is_today) {
            return Ok(());
        }
        let own = self.all_of::<Rocket>(about::ROCKET, "rocket")?;
        if flight.rocket.id.is_none() || !own.iter().any(|(_, rocket)| rocket.id == flight.rocket.id) {
            return Ok(());
        }
        let mut wanted: Vec<String> = flight
            .rocket
            .stages
            .iter()
            .filter_map(|stage| stage.motor.as_ref())
            .filter_map(|motor| Some(MotorRead::of(Motor::designation(motor)).ok()?.spelled))
            .collect();
        for word in booked {
            match wanted.iter().position(|motor| *motor == word.fact.name) {
                Some(at) => drop(wanted.swap_remove(at)),
                None => drop(self.follow(
                    word.fact,
                    SET_ASIDE,
                    serde_json::json!({"why": "another motor flew"}),
                )?),
            }
        }
        for motor in wanted {
            let counted = self.open_logbook()?.motors_on_hand()?;
            if counted.iter().any(|(name, on_hand)| *name == motor && *on_hand > 0) {
                let burnt = Burnt { change: -1, flight: name.clone(), day: today.clone() };
                self.note(about::MOTOR, &motor, STOCK, &burnt)?;
            }
        }
        Ok(())
    }

    /// After a whole flight was set aside, taken back or used again: its motors lie in the box, or do not.
    pub(crate) fn motors_follow(&self, about_what: &Fact) -> Result<(), ApiError> {
        if about_what.about != about::FLIGHT {
            return Ok(());
        }
        let words = self.open_logbook()?.words_of(about::FLIGHT, &about_what.name)?;
        let is_used = words.iter().any(|word| word.fact.kind == crate::keep::FLIGHT && word.counts());
        for word in self.burnt_by(&about_what.name)? {
            if !is_used && word.counts() {
                self.follow(word.fact, SET_ASIDE, serde_json::json!({ "why": WITH_ITS_FLIGHT }))?;
            } else if is_used && word.set_aside {
                let aside = word
                    .history
                    .into_iter()
                    .rfind(|fact| fact.kind == SET_ASIDE && fact.json["why"] == WITH_ITS_FLIGHT);
                if let Some(aside) = aside {
                    self.follow(aside, UNDO, serde_json::json!({}))?;
                }
            }
        }
        Ok(())
    }

    /// What was said of motors that a flight burnt, set aside or not.
    fn burnt_by(&self, flight: &str) -> Result<Vec<Word>, ApiError> {
        let logbook = self.open_logbook()?;
        let mut words = Vec::new();
        for (motor, _) in logbook.motors_on_hand()? {
            let of_motor = logbook.words_of(about::MOTOR, &motor)?;
            words.extend(of_motor.into_iter().filter(|word| word.fact.json["flight"] == flight));
        }
        Ok(words)
    }

    /// Motors that flew on a day or later (as in 2026-05-16).
    pub(crate) fn flown_since(&self, day: &str) -> Result<Vec<FlownMotor>, ApiError> {
        let mut flown: BTreeMap<String, usize> = BTreeMap::new();
        for (motor, burnt) in self.all_of::<Burnt>(about::MOTOR, STOCK)? {
            if burnt.day.as_str() >= day {
                *flown.entry(motor).or_default() += usize::try_from(-burnt.change).unwrap_or(0);
            }
        }
        Ok(flown.into_iter().map(|(motor, flown)| FlownMotor { motor, flown }).collect())
    }
}

#[cfg(test)]
mod tests {
    use crate::Api;
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

    fn left(api: &Api) -> Value {
        called(api, "fleet", json!({}))["motors"].clone()
    }

    /// A rocket on a C6-5; its identifier.
    fn linnet(api: &Api) -> Value {
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5"}]});
        called(api, "keep_rocket", json!({ "told": told }))["id"].clone()
    }

    #[test]
    fn a_motor_that_flew_is_not_in_the_box_and_lies_there_again_if_the_flight_is_set_aside() {
        let (_folder, api) = with_logbook();
        let rocket = linnet(&api);
        for motor in ["C6-5", "B6-4"] {
            called(&api, "change_stock", json!({"motor": motor, "change": 2}));
        }
        let box_of =
            |b: i64, c: i64| json!([{"motor": "B6-4", "on_hand": b}, {"motor": "C6-5", "on_hand": c}]);
        let now = crate::clock::now();
        let flight = |id: &Value, motor: &str, rocket: &Value| {
            json!({"flight": {"format": "windfall-flight/1", "id": id, "pad": {"lat": 47, "lon": 8},
                "rocket": {"id": rocket, "name": "Linnet", "stages": [{"motor": motor}]}, "launch": {"at": now}}})
        };
        let id = called(&api, "tell_flight", flight(&Value::Null, "c6 5", &rocket))["id"].clone();
        assert_eq!(left(&api), box_of(2, 1));
        // Told again, nothing more is gone; told with another motor, that one is.
        called(&api, "tell_flight", flight(&id, "c6 5", &rocket));
        assert_eq!(left(&api), box_of(2, 1));
        called(&api, "tell_flight", flight(&id, "B6-4", &rocket));
        assert_eq!(left(&api), box_of(1, 2));
        // A friend's rocket burns the friend's motors.
        called(&api, "tell_flight", flight(&Value::Null, "B6-4", &json!("somebody-else")));
        assert_eq!(left(&api), box_of(1, 2));
        assert_eq!(called(&api, "day", json!({}))["flown"], json!([{"motor": "B6-4", "flown": 1}]));
        let season = called(&api, "season_start", json!({}));
        assert_eq!(season["motors_flown"], json!([{"motor": "B6-4", "flown": 1}]));

        let word = called(&api, "story", json!({"flight": id}))["word"].clone();
        let aside = called(&api, "set_aside", json!({"id": word}));
        assert_eq!(left(&api), box_of(2, 2));
        called(&api, "undo", json!({"id": aside}));
        assert_eq!(left(&api), box_of(1, 2));
    }

    #[test]
    fn what_is_not_counted_stays_so_and_an_old_flight_burns_nothing() {
        let (_folder, api) = with_logbook();
        let rocket = linnet(&api);
        let flight = |at: &str| {
            json!({"flight": {"format": "windfall-flight/1", "pad": {"lat": 47, "lon": 8}, "launch": {"at": at},
                "rocket": {"id": rocket, "name": "Linnet", "stages": [{"motor": "C6-5"}]}}})
        };
        called(&api, "tell_flight", flight(&crate::clock::now()));
        assert_eq!(left(&api), json!([]));
        called(&api, "change_stock", json!({"motor": "C6-5", "change": 1}));
        called(&api, "tell_flight", flight("2020-05-02T10:00:00+02:00"));
        assert_eq!(left(&api), json!([{"motor": "C6-5", "on_hand": 1}]));
        // The box is never less than empty.
        for left_now in [0, 0] {
            called(&api, "tell_flight", flight(&crate::clock::now()));
            assert_eq!(left(&api), json!([{"motor": "C6-5", "on_hand": left_now}]));
        }
    }
}
