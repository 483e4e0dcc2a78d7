use crate::fleet::{FleetRocket, NoteRepair, Repair};
use crate::{Api, ApiError, Code};
use serde::Deserialize;
use serde_json::json;
use windfall_facts::{
    Answer, Area, Evidence, Figure, Find, Flight, Known, LatLon, Part, Saw, SawMode, Sentence, Sure,
};
use windfall_quantities::{LocalFrame, Offset, Position};

/// What may be missing when only part of a rocket is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Piece {
    /// The nose, with the recovery device tied to it.
    Nose,
    /// The lower body with the fins and the motor.
    FinCan,
    /// The parachute or streamer alone.
    Chute,
    /// The spent motor case.
    MotorCase,
    /// The altimeter and what carries it.
    Altimeter,
}

impl Piece {
    /// What the part is called in the flight.
    fn name(self) -> &'static str {
        match self {
            Self::Nose => "nose",
            Self::FinCan => "fin can",
            Self::Chute => "chute",
            Self::MotorCase => "motor case",
            Self::Altimeter => "altimeter",
        }
    }

    /// Its share of the rocket ready to fly without motor: judgement. Of a motor case the holder alone, for the case
    /// itself is counted with the motor.
    fn mass_share(self) -> f64 {
        match self {
            Self::Nose => 0.3,
            Self::FinCan => 0.5,
            Self::Chute => 0.08,
            Self::MotorCase => 0.02,
            Self::Altimeter => 0.1,
        }
    }
}

/// What was picked up, where, and what is still missing.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecordFind {
    /// As [`crate::FlightLine::id`].
    pub id: String,
    /// Which part or stage; with nothing missing, all that belongs to its stage.
    pub part: String,
    /// Where.
    pub at: LatLon,
    /// Radius that holds the place with 68 %, metres.
    #[serde(default)]
    pub accuracy_m: Option<f64>,
    /// In what state, and why it came down so.
    #[serde(default)]
    pub condition: Option<String>,
    /// Whether it wants mending in that state before the rocket flies again.
    #[serde(default)]
    pub to_mend: bool,
    /// What is still missing of a rocket whose parts were never declared.
    #[serde(default)]
    pub missing: Vec<Piece>,
    /// Whether only the named part was found.
    #[serde(default)]
    pub only_part: bool,
    /// Where the flyer stands; the pad if null.
    #[serde(default)]
    pub from: Option<LatLon>,
}

/// What a rocket is called of which a part is in the hand and a part is missing.
const IN_HAND: &str = "in hand";

impl Api {
    /// Notes a find. If only part was found of a rocket whose parts were never declared, it declares them: what is in
    /// the hand, and each missing piece, with guessed masses. The answer then leads to what is missing.
    ///
    /// # Errors
    /// When there is no such flight or part, or the find contradicts the rest.
    pub fn record_find(&self, asked: &RecordFind) -> Result<Answer, ApiError> {
        self.locate_today(&self.note_find(asked)?, asked.from, None)
    }

    /// The same, and computes nothing: whoever has it in the hand need not wait. The flight as it is known then.
    ///
    /// # Errors
    /// As [`Api::record_find`].
    pub fn note_find(&self, asked: &RecordFind) -> Result<Flight, ApiError> {
        let mut refusal = None;
        let before = if asked.condition.is_some() { self.flight(&asked.id).ok() } else { None };
        let was = before.as_ref().and_then(|flight| state_of(flight, &asked.part));
        let flight = self.retell(&asked.id, |flight| refusal = note(flight, asked).err());
        if let Some(refusal) = refusal {
            return Err(refusal);
        }
        let flight = flight?;
        self.mend(&flight, was.as_deref(), asked)?;
        Ok(flight)
    }

    /// What is damaged waits to be mended, of a rocket of the fleet. Another state told of the same find takes the place
    /// of the one before.
    fn mend(&self, flight: &Flight, was: Option<&str>, asked: &RecordFind) -> Result<(), ApiError> {
        let Some(state) = asked.condition.as_deref().filter(|state| was != Some(*state)) else {
            return Ok(());
        };
        if !self.has_logbook() {
            return Ok(());
        }
        let learned_as = flight.rocket.id.as_deref().and_then(|id| id.split('/').next());
        let is_it = |it: &&FleetRocket| match learned_as {
            Some(id) => it.id == id,
            None => flight.rocket.name.is_some() && it.rocket.name == flight.rocket.name,
        };
        let fleet = self.fleet()?;
        let Some(rocket) = fleet.rockets.iter().find(is_it) else { return Ok(()) };
        if let Some(was) = was {
            self.need_not_mend(&rocket.id, was)?;
        }
        if asked.to_mend && !rocket.to_repair.iter().any(|note| note == state) {
            let repair = Repair { note: state.to_owned(), done: false, rerigged: false };
            self.note_repair(&NoteRepair { rocket: rocket.id.clone(), repair })?;
        }
        Ok(())
    }
}

/// In what state a part was found, as it was told.
fn state_of(flight: &Flight, part: &str) -> Option<String> {
    flight.evidence.iter().rev().find_map(|piece| match piece {
        Evidence::Find(it) if it.part == part && !it.set_aside => it.condition.clone(),
        _ => None,
    })
}

fn note(flight: &mut Flight, asked: &RecordFind) -> Result<(), ApiError> {
    let part = asked.part.clone();
    let unknown = || ApiError::said(Code::BadRequest, Sentence::NoSuchPart { part }).of("part");
    let stage = stage_of(flight, &asked.part).ok_or_else(unknown)?;
    let find = |part: &str| {
        Evidence::Find(Find {
            part: part.to_owned(),
            at: asked.at,
            accuracy_m: asked.accuracy_m,
            condition: asked.condition.clone(),
            id: None,
            set_aside: false,
        })
    };
    if !asked.missing.is_empty() && flight.rocket.stages[stage].splits_into.is_empty() {
        declare(flight, stage, &asked.missing);
        flight.evidence.push(find(IN_HAND));
        return apart(flight, stage, asked);
    }
    let parts: Vec<String> =
        flight.rocket.stages[stage].splits_into.iter().map(|part| part.name.clone()).collect();
    let named: Vec<String> = match (asked.only_part, parts.contains(&asked.part), parts.is_empty()) {
        (false, _, false) => parts,
        (true, false, false) => {
            let which = Sentence::WhichPart { part: asked.part.clone(), parts };
            return Err(ApiError::said(Code::BadRequest, which).of("part"));
        }
        _ => vec![asked.part.clone()],
    };
    for name in named {
        let known = flight.evidence.iter_mut().find_map(|piece| match piece {
            Evidence::Find(it) if it.part == name && !it.set_aside => Some(it),
            _ => None,
        });
        match known {
            // Told again: its place stands, what is said of it is added.
            Some(known) if asked.condition.is_some() => known.condition.clone_from(&asked.condition),
            Some(_) => {}
            None => {
                flight.evidence.push(find(&name));
                if asked.only_part {
                    apart(flight, stage, asked)?;
                }
            }
        }
    }
    Ok(())
}

/// Who holds one part and says so has looked for the others at their feet.
const LOOKED_M: f64 = 15.0;
/// Chance that a part within [`LOOKED_M`] would have been seen: judgement.
const WOULD_BE_SEEN: f64 = 0.99;

/// Notes that the parts did not come down together, and for every part of the stage that nobody has, that it does not
/// lie beside the one in the hand. Without it the flights on which they stayed together would keep the rest there.
fn apart(flight: &mut Flight, stage: usize, asked: &RecordFind) -> Result<(), ApiError> {
    let saw = Evidence::Saw(Saw { mode: SawMode::CameApart, sure: Sure::Sure, id: None, set_aside: false });
    if !flight.evidence.iter().any(|it| it.says_what(&saw)) {
        flight.evidence.push(saw);
    }
    let place = Position::new(asked.at.lat, asked.at.lon)
        .map_err(|error| ApiError::said(Code::BadRequest, error).of("at"))?;
    let frame = LocalFrame::about(place);
    let ring: Vec<[f64; 2]> = (0..=12)
        .map(|corner| {
            let (sin, cos) = (f64::from(corner % 12) * core::f64::consts::TAU / 12.0).sin_cos();
            let at = frame.place_at(Offset { east_m: LOOKED_M * cos, north_m: LOOKED_M * sin });
            [at.lon_deg(), at.lat_deg()]
        })
        .collect();
    let is_found = |flight: &Flight, name: &str| {
        flight.evidence.iter().any(|it| matches!(it, Evidence::Find(it) if !it.set_aside && it.part == name))
    };
    let parts: Vec<String> =
        flight.rocket.stages[stage].splits_into.iter().map(|part| part.name.clone()).collect();
    for name in parts {
        if !is_found(flight, &name) {
            flight.evidence.push(Evidence::Area(Area {
                part: Some(name),
                geometry: json!({"type": "Polygon", "coordinates": [ring]}),
                inside: false,
                confidence: WOULD_BE_SEEN,
                id: None,
                set_aside: false,
            }));
        }
    }
    Ok(())
}

/// Index of the stage that a name means, or that the named part belongs to.
fn stage_of(flight: &Flight, name: &str) -> Option<usize> {
    let rocket = &flight.rocket;
    (0..rocket.stages.len()).find(|&index| {
        rocket.stage_name(index) == name || rocket.stages[index].splits_into.iter().any(|it| it.name == name)
    })
}

/// Splits a stage into what is in the hand and what is missing. The recovery device is with the chute, else with the
/// nose, if one of them is missing; the motor with the fin can or the case.
fn declare(flight: &mut Flight, stage: usize, missing: &[Piece]) {
    let stage = &mut flight.rocket.stages[stage];
    let mut pieces: Vec<Piece> = Vec::new();
    for piece in missing {
        if !pieces.contains(piece) {
            pieces.push(*piece);
        }
    }
    let with_recovery = [Piece::Chute, Piece::Nose].into_iter().find(|piece| pieces.contains(piece));
    let with_motor = [Piece::MotorCase, Piece::FinCan].into_iter().find(|piece| pieces.contains(piece));
    let share_of = |share: f64| {
        stage
            .dry_mass_g
            .map(|mass| Figure { value: (mass.value * share).max(0.5), known: Some(Known::Guessed) })
    };
    let gone: f64 = pieces.iter().map(|piece| piece.mass_share()).sum();
    let mut parts = vec![Part {
        name: IN_HAND.into(),
        mass_g: share_of(1.0 - gone),
        length_mm: None,
        carries_recovery: with_recovery.is_none(),
        carries_motor: with_motor.is_none(),
    }];
    parts.extend(pieces.iter().map(|piece| Part {
        name: piece.name().into(),
        mass_g: share_of(piece.mass_share()),
        length_mm: None,
        carries_recovery: with_recovery == Some(*piece),
        carries_motor: with_motor == Some(*piece),
    }));
    stage.splits_into = parts;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Settings;
    use crate::call::tests::{called, with_logbook};
    use serde_json::Value;

    fn told(stage: Value) -> Api {
        let api = Api::new(Settings::default());
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [stage]}});
        called(&api, "answer_flight", json!({"flight": flight}));
        api
    }

    fn at() -> Value {
        json!({"lat": 47.5003, "lon": 17.3003})
    }

    #[test]
    fn the_state_of_a_find_can_be_told_after_it() {
        let api = told(json!({"motor": "C6-5"}));
        let find = json!({"id": "f", "part": "rocket", "at": at()});
        called(&api, "record_find", find.clone());
        let mut again = find;
        again["condition"] = "fin broken off".into();
        called(&api, "record_find", again);
        let evidence = called(&api, "show_flight", json!({"id": "f"}))["evidence"].clone();
        assert_eq!(evidence.as_array().map(Vec::len), Some(1));
        assert_eq!(evidence[0]["condition"], "fin broken off");
    }

    #[test]
    fn a_find_is_noted_at_once_and_answered_as_if_it_had_been_recorded() {
        let find = json!({"id": "f", "part": "rocket", "at": at(), "accuracy_m": 4, "missing": ["nose"], "only_part": true});
        let recorded = told(json!({"motor": "C6-5", "dry_mass_g": 60}));
        let noted = told(json!({"motor": "C6-5", "dry_mass_g": 60}));
        let flight = called(&noted, "note_find", find.clone());
        assert_eq!(flight["evidence"][0]["part"], "in hand");
        let mut answers =
            [called(&recorded, "record_find", find), called(&noted, "locate_flight", json!({"id": "f"}))];
        for answer in &mut answers {
            answer["elapsed_ms"] = json!(0);
        }
        assert_eq!(answers[0], answers[1]);
    }

    #[test]
    fn what_broke_waits_to_be_mended_until_it_is_told_mended_or_was_another_thing() {
        let (_folder, api) = with_logbook();
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5"}]});
        let id = called(&api, "keep_rocket", json!({ "told": told }))["id"].clone();
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"id": format!("{}/2", id.as_str().unwrap()), "name": "Linnet", "stages": [{"motor": "C6-5"}]}});
        called(&api, "tell_flight", json!({ "flight": flight }));
        let find = |state: &str, to_mend: bool| {
            let find =
                json!({"id": "f", "part": "rocket", "at": at(), "condition": state, "to_mend": to_mend});
            called(&api, "record_find", find);
            called(&api, "fleet", json!({}))["rockets"][0]["to_repair"].clone()
        };
        assert_eq!(find("fin broken off", true), json!(["fin broken off"]));
        assert_eq!(find("tube bent", true), json!(["tube bent"]), "a slip of the finger");
        assert_eq!(find("undamaged", false), json!([]));
        assert_eq!(find("fin broken off", true), json!(["fin broken off"]));
        let mended = json!({"note": "fin broken off", "done": true});
        called(&api, "note_repair", json!({"rocket": id, "repair": mended}));
        assert_eq!(find("fin broken off", true), json!([]), "said once more of the same find");
    }

    #[test]
    fn a_rocket_picked_up_whole_is_found_in_all_its_parts() {
        let api = told(json!({"motor": "C6-5", "splits_into": [
            {"name": "upper", "carries_recovery": true}, {"name": "lower", "carries_motor": true}]}));
        called(&api, "record_find", json!({"id": "f", "part": "upper", "at": at(), "accuracy_m": 4}));
        let flights = called(&api, "list_flights", json!({}));
        assert_eq!(flights[0]["standing"], "found", "{flights}");
    }

    #[test]
    fn the_missing_part_of_an_undeclared_rocket_gets_its_own_search() {
        let api = told(json!({"motor": "C6-5", "dry_mass_g": 60}));
        let answer = called(
            &api,
            "record_find",
            json!({"id": "f", "part": "rocket", "at": at(), "missing": ["nose"], "only_part": true}),
        );
        let parts: Vec<_> = answer["parts"].as_array().unwrap().iter().map(|it| it["part"].clone()).collect();
        assert_eq!(parts, ["in hand", "nose"]);
        let apart = answer["parts"][1]["modes"].as_array().unwrap().iter().map(|it| it["mode"].clone());
        assert!(apart.take(2).any(|mode| mode == "came_apart" || mode == "cord_broke"), "{answer}");
        let flights = called(&api, "list_flights", json!({}));
        assert_eq!(flights[0]["standing"], "partly_found", "{flights}");
    }

    #[test]
    fn what_is_missing_is_not_looked_for_beside_the_part_in_the_hand() {
        let api = told(json!({"motor": "C6-5", "dry_mass_g": 60, "splits_into": [
            {"name": "upper", "carries_recovery": true}, {"name": "lower", "carries_motor": true}]}));
        let answer = called(
            &api,
            "record_find",
            json!({"id": "f", "part": "lower", "at": at(), "accuracy_m": 4, "only_part": true}),
        );
        let upper = &answer["parts"][0];
        // A degree of the meridian is 111 176 m, one of the parallel 75 300 m at 47.5 degrees (WGS 84).
        let north_m = 111_176.0 * (upper["aim"]["lat"].as_f64().unwrap() - 47.5003);
        let east_m = 75_300.0 * (upper["aim"]["lon"].as_f64().unwrap() - 17.3003);
        assert!(north_m.hypot(east_m) > LOOKED_M, "{upper}");
    }

    #[test]
    fn with_declared_parts_only_the_named_one_is_found() {
        let api = told(json!({"motor": "C6-5", "splits_into": [
            {"name": "upper", "carries_recovery": true}, {"name": "lower", "carries_motor": true}]}));
        called(&api, "record_find", json!({"id": "f", "part": "lower", "at": at(), "only_part": true}));
        assert_eq!(called(&api, "list_flights", json!({}))[0]["found"], json!(["lower"]));
        let evidence = called(&api, "show_flight", json!({"id": "f"}))["evidence"].clone();
        assert!(evidence[1]["mode"] == "came_apart" && evidence[2]["part"] == "upper", "{evidence}");
        let error = api
            .call("record_find", json!({"id": "f", "part": "fins", "at": at(), "only_part": true}))
            .unwrap_err();
        assert!(error.message.contains("fins"), "{}", error.message);
    }
}
