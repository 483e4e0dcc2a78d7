//! The rockets of a flyer, and the motors in the box.

use crate::read_motor::MotorRead;
use crate::sketch_rocket::{Doubt, RocketTold, sketch};
use crate::{Api, ApiError, Code, SetAside, call::guarded, clock};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use windfall_facts::{Evidence, Rocket, SawMode, Sentence};
use windfall_logbook::{Filter, about};

/// Kind of a rocket as the flight file has it.
const ROCKET: &str = "rocket";
/// Kind of the fact that a rocket left the fleet, and its one key.
const RETIRED: &str = "retired";
/// Kind of the answers that a rocket was sketched from.
const TOLD: &str = "told";
/// Kind of a repair, wanted or done.
const REPAIR: &str = "repair";

/// A rocket to be kept.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepRocket {
    /// Which rocket of the fleet is told anew; a new one without it.
    #[serde(default)]
    pub id: Option<String>,
    /// What its flyer answered.
    pub told: RocketTold,
}

/// Something about a rocket that wants mending, or was mended.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repair {
    /// What, in words.
    pub note: String,
    /// Whether it is done.
    #[serde(default)]
    pub done: bool,
    /// Whether it flies differently since: what was learned of it before no longer speaks of it.
    #[serde(default)]
    pub rerigged: bool,
}

/// A repair to be noted.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteRepair {
    /// Which rocket of the fleet.
    pub rocket: String,
    /// What is to be mended or was.
    pub repair: Repair,
}

/// Motors that came into the box, or went.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangeStock {
    /// The motor, as people write it.
    pub motor: String,
    /// How many came; below zero, how many went.
    pub change: i64,
}

/// A rocket of the fleet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FleetRocket {
    /// By which the other calls know it.
    pub id: String,
    /// As the flight file has it.
    pub rocket: Rocket,
    /// What its flyer answered; null if it came in a file.
    pub told: Option<RocketTold>,
    /// What falls on its own.
    pub parts: Vec<String>,
    /// Said before it flies.
    pub doubts: Vec<Doubt>,
    /// What waits to be mended.
    pub to_repair: Vec<String>,
    /// Flights in the logbook.
    pub flights: usize,
    /// When it flew last, RFC 3339.
    pub last_flown: Option<String>,
    /// What went wrong on its last flight.
    pub last_failure: Option<SawMode>,
    /// Lost or given away: its flights stay, and it can come back.
    pub retired: bool,
}

/// A rocket that leaves the fleet, or comes back.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RetireRocket {
    /// Which.
    pub rocket: String,
    /// Whether it leaves.
    pub retired: bool,
}

/// Motors of one kind in the box.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OnHand {
    /// Designation.
    pub motor: String,
    /// How many.
    pub on_hand: i64,
}

/// What a flyer has.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fleet {
    /// Rockets: those flown last come first.
    pub rockets: Vec<FleetRocket>,
    /// Motors in the box.
    pub motors: Vec<OnHand>,
}

/// By which the other calls know a thing that was kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Kept {
    /// Identifier.
    pub id: String,
}

impl Api {
    /// The rockets of the logbook and the motors in the box.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn fleet(&self) -> Result<Fleet, ApiError> {
        guarded(|| {
            let mut rockets = Vec::new();
            for (id, rocket) in self.all_of::<Rocket>(about::ROCKET, ROCKET)? {
                rockets.push(self.fleet_rocket(id, rocket)?);
            }
            rockets.sort_by(|a, b| b.last_flown.cmp(&a.last_flown).then_with(|| b.id.cmp(&a.id)));
            let motors = self.open_logbook()?.motors_on_hand()?;
            let motors = motors.into_iter().map(|(motor, on_hand)| OnHand { motor, on_hand }).collect();
            Ok(Fleet { rockets, motors })
        })
    }

    fn fleet_rocket(&self, id: String, rocket: Rocket) -> Result<FleetRocket, ApiError> {
        let told: Option<RocketTold> = self.last_of(about::ROCKET, &id, TOLD)?;
        let doubts = told.as_ref().and_then(|told| sketch(told, None).ok()).map(|it| it.doubts);
        let repairs = self.each_of::<Repair>(about::ROCKET, &id, REPAIR)?;
        let flown = match &rocket.name {
            Some(name) => {
                self.open_logbook()?.flights(&Filter { rocket: Some(name.clone()), ..Filter::default() })?
            }
            None => Vec::new(),
        };
        // Those without a time come last in the list.
        let last = flown.iter().rfind(|row| row.launched_at.is_some()).or_else(|| flown.last());
        Ok(FleetRocket {
            parts: rocket.part_names(),
            doubts: doubts.unwrap_or_default(),
            to_repair: repairs
                .into_iter()
                .map(|(_, it)| it)
                .filter(|it| !it.done)
                .map(|it| it.note)
                .collect(),
            flights: flown.len(),
            last_flown: last.and_then(|row| row.launched_at.clone()),
            last_failure: last.and_then(|row| self.failure_of(&row.name)),
            retired: self
                .last_of::<Value>(about::ROCKET, &id, RETIRED)?
                .is_some_and(|it| it[RETIRED] == true),
            id,
            rocket,
            told,
        })
    }

    /// What the flyer saw go wrong on a flight.
    fn failure_of(&self, flight: &str) -> Option<SawMode> {
        let flight = self.logged_flight(flight).ok()?;
        let saw = flight.evidence.iter().rev().find_map(|piece| match piece {
            Evidence::Saw(saw) if !saw.set_aside => Some(saw.mode),
            _ => None,
        })?;
        (saw != SawMode::Opened).then_some(saw)
    }

    /// Keeps a rocket, new or told anew.
    ///
    /// # Errors
    /// Names the answer that cannot be used; when no logbook is open or it cannot be written.
    pub fn keep_rocket(&self, asked: &KeepRocket) -> Result<Kept, ApiError> {
        guarded(|| {
            let before: Option<Rocket> = match &asked.id {
                Some(id) => Some(self.rocket(id)?),
                None => None,
            };
            let id = asked.id.clone().unwrap_or_else(clock::next_id);
            let learned_as = before.and_then(|rocket| rocket.id).unwrap_or_else(|| id.clone());
            let rocket = sketch(&asked.told, Some(&learned_as))?.rocket;
            self.note_now(about::ROCKET, &id, TOLD, &asked.told)?;
            self.note_now(about::ROCKET, &id, ROCKET, &rocket)?;
            Ok(Kept { id })
        })
    }

    /// The rocket `id` of the fleet, as the flight file has it.
    pub(crate) fn rocket(&self, id: &str) -> Result<Rocket, ApiError> {
        self.last_of(about::ROCKET, id, ROCKET)?
            .ok_or_else(|| ApiError::said(Code::NotFound, Sentence::NoRocketInLogbook { rocket: id.into() }))
    }

    /// Notes what is to be mended, or that it was. Done, it takes the same wish off the list; a re-rigged rocket starts
    /// its learning afresh.
    ///
    /// # Errors
    /// When there is no such rocket, or the logbook cannot be written.
    pub fn note_repair(&self, asked: &NoteRepair) -> Result<Fleet, ApiError> {
        guarded(|| {
            let NoteRepair { rocket: id, repair } = asked;
            let mut rocket = self.rocket(id)?;
            let same = |(_, it): &(String, Repair)| it.note == repair.note && !it.done;
            let wish = self.each_of::<Repair>(about::ROCKET, id, REPAIR)?.into_iter().find(same);
            match wish {
                Some((wish, _)) => {
                    let fact = self.fact(&wish)?;
                    self.follow(fact, REPAIR, json!(repair))?;
                }
                None => drop(self.note(about::ROCKET, id, REPAIR, repair)?),
            }
            if repair.rerigged {
                rocket.id = Some(next_rig(rocket.id.as_deref().unwrap_or(id)));
                self.note_now(about::ROCKET, id, ROCKET, &rocket)?;
            }
            self.fleet()
        })
    }

    /// A rocket leaves the fleet, and the load of today, or comes back. Its flights stay where they are.
    ///
    /// # Errors
    /// When there is no such rocket, or the logbook cannot be written.
    pub fn retire_rocket(&self, asked: &RetireRocket) -> Result<Fleet, ApiError> {
        guarded(|| {
            let RetireRocket { rocket: id, retired } = asked;
            self.rocket(id)?;
            self.note_now(about::ROCKET, id, RETIRED, &json!({ RETIRED: retired }))?;
            let mut plan = self.day()?.plan;
            let before = plan.load.len();
            plan.load.retain(|load| !retired || load.rocket != *id);
            if plan.load.len() < before {
                self.keep_day(&crate::KeepDay { plan })?;
            }
            self.fleet()
        })
    }

    /// Sets a wish aside that something be mended: it was said by mistake.
    pub(crate) fn need_not_mend(&self, rocket: &str, note: &str) -> Result<(), ApiError> {
        let wishes = self.each_of::<Repair>(about::ROCKET, rocket, REPAIR)?;
        if let Some((id, _)) = wishes.into_iter().find(|(_, it)| it.note == note && !it.done) {
            self.set_aside(&SetAside { id, why: None })?;
        }
        Ok(())
    }

    /// Motors that came into the box, or went; what is there now.
    ///
    /// # Errors
    /// When the motor cannot be read, or the logbook cannot be written.
    pub fn change_stock(&self, asked: &ChangeStock) -> Result<Fleet, ApiError> {
        guarded(|| {
            let motor = MotorRead::of(&asked.motor).map_err(|error| error.of("motor"))?;
            self.note(about::MOTOR, &motor.spelled, "stock", &json!({"change": asked.change}))?;
            self.fleet()
        })
    }
}

/// The same rocket rigged anew: another thing to learn about.
fn next_rig(learned_as: &str) -> String {
    let (rocket, rig) = learned_as.rsplit_once('/').unwrap_or((learned_as, "1"));
    format!("{rocket}/{}", rig.parse::<u32>().unwrap_or(1) + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::call::tests::{called, with_logbook};

    fn linnet(motor: &str) -> serde_json::Value {
        json!({"name": "Linnet", "stages": [{"motor": motor}]})
    }

    #[test]
    fn a_rocket_that_is_lost_leaves_the_fleet_and_its_flights_stay_and_it_comes_back() {
        let (_folder, api) = with_logbook();
        let id = called(&api, "keep_rocket", json!({"told": linnet("C6-5")}))["id"].clone();
        called(&api, "keep_rocket", json!({"told": {"name": "Bunting", "stages": [{"motor": "A8-3"}]}}));
        called(&api, "keep_day", json!({"plan": {"load": [{"rocket": id}]}}));
        let flight = called(&api, "ready_flights", json!({}))[0]["flight"].clone();
        let mut flight = flight;
        flight["pad"] = json!({"lat": 47.53, "lon": 17.28});
        called(&api, "tell_flight", json!({ "flight": flight }));
        let fleet = called(&api, "retire_rocket", json!({"rocket": id, "retired": true}));
        let retired = |fleet: &Value| -> Vec<bool> {
            fleet["rockets"].as_array().unwrap().iter().map(|it| it["retired"] == true).collect()
        };
        assert_eq!(retired(&fleet).iter().filter(|it| **it).count(), 1);
        assert_eq!(called(&api, "day", json!({}))["load"], json!([]));
        let ready = called(&api, "ready_flights", json!({}));
        assert_eq!((ready.as_array().map(Vec::len), &ready[0]["name"]), (Some(1), &json!("Bunting")));
        assert_eq!(called(&api, "list_log", json!({})).as_array().map(Vec::len), Some(1), "its flight stays");
        assert_eq!(
            called(&api, "season_start", json!({}))["motors_out"],
            json!(["A8-3"]),
            "nothing is bought for it"
        );
        let fleet = called(&api, "retire_rocket", json!({"rocket": id, "retired": false}));
        assert_eq!(retired(&fleet), [false, false]);
        assert!(api.call("retire_rocket", json!({"rocket": "nobody", "retired": true})).is_err());
    }

    #[test]
    fn a_rocket_told_anew_is_the_same_rocket() {
        let (_folder, api) = with_logbook();
        let id = called(&api, "keep_rocket", json!({"told": linnet("c6 5")}))["id"].clone();
        called(&api, "keep_rocket", json!({"id": id, "told": linnet("C6-3")}));
        let fleet = called(&api, "fleet", json!({}));
        assert_eq!(fleet["rockets"].as_array().unwrap().len(), 1);
        let rocket = &fleet["rockets"][0]["rocket"];
        assert_eq!((&rocket["id"], &rocket["stages"][0]["motor"]), (&id, &json!("C6-3")));
        assert_eq!(fleet["rockets"][0]["told"]["stages"][0]["motor"], "C6-3");
    }

    #[test]
    fn a_wish_to_mend_stays_until_it_is_done_and_a_new_rig_is_learned_afresh() {
        let (_folder, api) = with_logbook();
        let id = called(&api, "keep_rocket", json!({"told": linnet("C6-5")}))["id"].clone();
        let repair = |done: bool, rerigged: bool| {
            let repair = json!({"note": "fin loose", "done": done, "rerigged": rerigged});
            called(&api, "note_repair", json!({"rocket": id, "repair": repair}))["rockets"][0].clone()
        };
        assert_eq!(repair(false, false)["to_repair"], json!(["fin loose"]));
        let mended = repair(true, true);
        assert_eq!(mended["to_repair"], json!([]));
        assert_eq!(mended["rocket"]["id"], format!("{}/2", id.as_str().unwrap()));
        // Told anew it is still the new rig.
        called(&api, "keep_rocket", json!({"id": id, "told": linnet("B6-4")}));
        let again = called(&api, "fleet", json!({}))["rockets"][0]["rocket"]["id"].clone();
        assert_eq!(again, mended["rocket"]["id"]);
        assert_eq!(next_rig(again.as_str().unwrap()), format!("{}/3", id.as_str().unwrap()));
    }

    #[test]
    fn one_motor_written_in_two_ways_is_one_line_of_the_box() {
        let (_folder, api) = with_logbook();
        for (motor, change) in [("c6 5", 3), ("C6-5W", 2), ("C6-5", -1)] {
            called(&api, "change_stock", json!({"motor": motor, "change": change}));
        }
        assert_eq!(api.fleet().unwrap().motors, [OnHand { motor: "C6-5".into(), on_hand: 4 }]);
        let refused = api.call("change_stock", json!({"motor": "Q", "change": 1})).unwrap_err();
        assert!(refused.message.starts_with("motor: "), "{refused}");
    }

    #[test]
    fn a_rocket_knows_its_flights_and_what_went_wrong_on_the_last() {
        let (_folder, api) = with_logbook();
        called(&api, "keep_rocket", json!({"told": linnet("C6-5")}));
        for (day, mode) in [(1, "tangled"), (3, "none_opened"), (2, "opened")] {
            let flight = json!({"format": "windfall-flight/1", "pad": {"lat": 47, "lon": 8},
                "rocket": {"name": "Linnet", "stages": [{"motor": "C6-5"}]},
                "launch": {"at": format!("2026-06-0{day}T10:00:00+02:00")},
                "evidence": [{"kind": "saw", "mode": mode, "sure": "sure"}]});
            called(&api, "tell_flight", json!({ "flight": flight }));
        }
        let linnet = &api.fleet().unwrap().rockets[0];
        assert_eq!((linnet.flights, linnet.last_failure), (3, Some(SawMode::NoneOpened)));
        assert_eq!(linnet.last_flown.as_deref(), Some("2026-06-03T10:00:00+02:00"));
    }
}
