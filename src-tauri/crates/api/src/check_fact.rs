//! What a fact may say, by what it is about and its kind. Kinds this program does not know are taken as they are.

use crate::take_weather::{WEATHER, Weather};
use crate::{ApiError, Code, Permission, Repair};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use windfall_facts::{FORMAT, SawMode, read_flight};
use windfall_logbook::{PHOTO, about};

/// Refuses a fact that the program could not use later, naming the field and what is allowed.
///
/// `ground` is what is known of the flight that the fact is about, if it is about one; without it the part a piece of
/// evidence names cannot be checked.
///
/// Returns false for a kind that nothing in this program uses.
pub(crate) fn check(
    about: &str,
    name: &str,
    kind: &str,
    said: &Value,
    ground: Option<&Value>,
) -> Result<bool, ApiError> {
    if !said.is_object() {
        return Err(refused("json: an object is needed"));
    }
    match (about, kind) {
        (about::FLIGHT, "flight") => {
            let mut flight = said.clone();
            flight["id"] = name.into();
            flight["evidence"] = json!([]);
            readable("", &flight)
        }
        (
            about::FLIGHT,
            "sighting" | "track" | "altimeter" | "find" | "saw" | "area" | "sweep" | "beacon",
        ) => {
            let mut piece = said.clone();
            piece["kind"] = kind.into();
            let mut flight = ground.cloned().unwrap_or_else(bare);
            if ground.is_none() && piece["part"].is_string() {
                piece["part"] = "rocket".into();
            }
            flight["evidence"] = json!([piece]);
            readable("evidence[0]", &flight)
        }
        (about::FLIGHT, "outcome") => {
            one_of_modes(said)?;
            optional_text(said, "cause")
        }
        (about::FLIGHT, "search") => {
            needed(said["part"].is_string(), "json.part: a text is needed: the part or stage searched for")?;
            needed(said["open"].is_boolean(), "json.open: true or false is needed")?;
            optional_text(said, "note")
        }
        (about::ROCKET, "rocket") => readable("rocket", &with("rocket", said.clone())),
        (about::FIELD, "field") => readable("field", &with("field", said.clone())),
        (about::FIELD, "pad") => {
            needed(said["name"].is_string(), "json.name: a text is needed: what people call this pad")?;
            let mut pad = said.clone();
            pad.as_object_mut().map(|pad| pad.remove("name"));
            readable("pad", &with("pad", pad))
        }
        (about::DAY, "wind") => readable("wind[0]", &with("wind", json!([said]))),
        (about::DAY, WEATHER) => {
            typed::<Weather>(said)?;
            let mut flight = with("wind", said["wind"].clone());
            flight["air"] = said["air"].clone();
            readable("", &flight)
        }
        (about::DAY, "air") => readable("air", &with("air", said.clone())),
        (about::MOTOR, "stock") => {
            let change = said["change"].as_i64();
            needed(
                change.is_some_and(|change| (-1000..=1000).contains(&change)),
                "json.change: a whole number from -1000 to 1000 is needed: how many came (or went, below zero)",
            )
        }
        (about::PHONE, "heading_check") => {
            let too_much_deg = said["too_much_deg"].as_f64();
            needed(
                too_much_deg.is_some_and(|it| (-180.0..=180.0).contains(&it)),
                "json.too_much_deg: -180 to 180 degrees are needed: how many the phone shows too much, clockwise",
            )
        }
        (about::ROCKET | about::FIELD | about::FLIGHT, PHOTO) => needed(
            said["data"].is_string() || said["file"].is_string(),
            "json.data: a text is needed: the picture, as in data:image/jpeg;base64,...",
        ),
        (about::ROCKET, "retired") => {
            needed(said["retired"].is_boolean(), "json.retired: true or false is needed")
        }
        (about::ROCKET, "repair") => typed::<Repair>(said),
        (about::FIELD, "permission") => typed::<Permission>(said),
        (about::FLIGHT, "answer" | "samples")
        | (about::ROCKET, "told")
        | (about::FIELD, "base" | "look" | "background")
        | (about::PHONE, "phone")
        | (about::MOTOR, "motor")
        | (about::DAY, "day") => Ok(()),
        _ => return Ok(false),
    }?;
    Ok(true)
}

fn one_of_modes(said: &Value) -> Result<(), ApiError> {
    match &said["how"] {
        Value::Null => Ok(()),
        how => serde_json::from_value::<SawMode>(how.clone())
            .map(drop)
            .map_err(|error| refused(format!("json.how: {error}"))),
    }
}

fn typed<T: DeserializeOwned>(said: &Value) -> Result<(), ApiError> {
    serde_json::from_value::<T>(said.clone()).map(drop).map_err(|error| refused(format!("json: {error}")))
}

fn optional_text(said: &Value, key: &str) -> Result<(), ApiError> {
    needed(said[key].is_null() || said[key].is_string(), &format!("json.{key}: a text is needed, or nothing"))
}

/// The least that is a flight, to be read with what is to be checked in it.
fn bare() -> Value {
    json!({ "format": FORMAT, "pad": {"lat": 0, "lon": 0}, "rocket": {"stages": [{}]} })
}

fn with(key: &str, value: Value) -> Value {
    let mut flight = bare();
    flight[key] = value;
    flight
}

/// Reads the fact as the part of a flight at `place`; a refusal names the field from the fact's own JSON on.
fn readable(place: &str, flight: &Value) -> Result<(), ApiError> {
    read_flight(&flight.to_string()).map(drop).map_err(|error| {
        let said = error.to_string();
        let refusal = match said.strip_prefix(place) {
            Some(field) if field.starts_with(['.', ':', '[']) => refused(format!("json{field}")),
            _ => refused(format!("json.{said}")),
        };
        ApiError { field: Some(error.field), said: error.said, ..refusal }
    })
}

fn needed(given: bool, what: &str) -> Result<(), ApiError> {
    if given { Ok(()) } else { Err(refused(what)) }
}

fn refused(why: impl Into<String>) -> ApiError {
    ApiError::new(Code::BadRequest, why)
}
