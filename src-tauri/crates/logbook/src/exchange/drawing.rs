//! What a map file can hold: places, paths and areas, each with its role. GPX, KML, GeoJSON and CSV are four spellings
//! of it.

use super::error::{number, number_in};
use chrono::{DateTime, NaiveDateTime, SecondsFormat, Utc};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use windfall_facts::{HazardKind, LatLon, Sentence};

/// Heights that occur on Earth, metres: the Dead Sea and the stratosphere lie inside.
const HEIGHTS_M: [f64; 2] = [-1_000.0, 100_000.0];
const ACCURACIES_M: [f64; 2] = [0.01, 1_000_000.0];

/// A map file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// What it is called.
    pub title: Option<String>,
    /// What people should read first: the cautions.
    pub note: Option<String>,
    /// What it shows, in the order of the file.
    pub items: Vec<Item>,
    /// What the file also holds and this program does not read, in words.
    pub not_understood: Vec<String>,
}

/// One thing on the map.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// What it is, if the file says so in this program's words.
    pub role: Option<Role>,
    /// Where it is.
    pub shape: Shape,
    /// What is said about it.
    pub about: About,
}

/// What a thing on the map is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// The launch pad.
    Pad,
    /// A part found.
    Find,
    /// Where to start looking; computed.
    Aim,
    /// The last safe standing point on the way there; computed.
    Approach,
    /// A walked path from which nothing was found.
    Sweep,
    /// A planned way, not a walked one.
    Route,
    /// A direction that was sighted; computed.
    SightLine,
    /// The field.
    Outline,
    /// Ground to keep away from.
    Hazard,
    /// An area that holds a part with some chance; computed.
    Region,
    /// Ground said to hold a part, or not to.
    Area,
}

impl Role {
    /// As files write it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pad => "pad",
            Self::Find => "find",
            Self::Aim => "aim",
            Self::Approach => "approach",
            Self::Sweep => "sweep",
            Self::Route => "route",
            Self::SightLine => "sight_line",
            Self::Outline => "outline",
            Self::Hazard => "hazard",
            Self::Region => "region",
            Self::Area => "area",
        }
    }

    /// What a word means, if it is one of this program's.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::deserialize(serde::de::value::StrDeserializer::<serde::de::value::Error>::new(word.trim())).ok()
    }
}

/// Where a thing is.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A point.
    Place(Spot),
    /// Points in the order they were passed.
    Path(Vec<Spot>),
    /// A GeoJSON geometry, longitude first: an area, or a hazard of any shape.
    Ground(Value),
}

/// A place as an instrument gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where.
    pub at: LatLon,
    /// Height above sea level, metres.
    pub elevation_m: Option<f64>,
    /// When.
    pub time: Option<DateTime<Utc>>,
    /// Radius that holds the place with 68 %, metres.
    pub accuracy_m: Option<f64>,
}

impl Spot {
    /// A place of which nothing else is known.
    #[must_use]
    pub fn new(at: LatLon) -> Self {
        Self { at, elevation_m: None, time: None, accuracy_m: None }
    }
}

/// What is said about a thing on the map.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct About {
    /// Its name, for people.
    pub name: Option<String>,
    /// A sentence about it.
    pub note: Option<String>,
    /// The flight it belongs to.
    pub flight: Option<String>,
    /// The part or stage it is about.
    pub part: Option<String>,
    /// What kind of hazard it is.
    pub hazard: Option<HazardKind>,
    /// Chance that the part lies inside.
    pub probability: Option<f64>,
    /// Whether the part is said to lie inside.
    pub inside: Option<bool>,
    /// Chance that this is right.
    pub confidence: Option<f64>,
    /// From how far the part would be seen, metres.
    pub seen_from_m: Option<f64>,
    /// Effective sweep width, metres.
    pub sweep_width_m: Option<f64>,
}

impl About {
    /// What the formats have no element of their own for.
    pub(super) fn properties(&self) -> Vec<(&'static str, Value)> {
        let text = |it: &Option<String>| it.as_deref().map(Value::from);
        let hazard = self.hazard.and_then(|kind| serde_json::to_value(kind).ok());
        [
            ("flight", text(&self.flight)),
            ("part", text(&self.part)),
            ("hazard", hazard),
            ("probability", self.probability.map(Value::from)),
            ("inside", self.inside.map(Value::from)),
            ("confidence", self.confidence.map(Value::from)),
            ("seen_from_m", self.seen_from_m.map(Value::from)),
            ("sweep_width_m", self.sweep_width_m.map(Value::from)),
        ]
        .into_iter()
        .filter_map(|(key, value)| Some((key, value?)))
        .collect()
    }

    /// Takes in one of [`Self::properties`]; false for a key that is none of them.
    ///
    /// # Errors
    /// What is wrong and what is allowed.
    pub(super) fn take(&mut self, key: &str, value: &Value) -> Result<bool, Sentence> {
        match key {
            "flight" => self.flight = Some(text_in(value)?),
            "part" => self.part = Some(text_in(value)?),
            "hazard" => {
                let kind = HazardKind::deserialize(value)
                    .map_err(|_| Sentence::OneOfThese { written: as_text(value), allowed: HAZARDS.into() })?;
                self.hazard = Some(kind);
            }
            "probability" => self.probability = Some(number_in(value, 0.0, 1.0)?),
            "inside" => {
                self.inside = Some(match text_in(value)?.as_str() {
                    "true" => true,
                    "false" => false,
                    other => {
                        let allowed = "true, false".into();
                        return Err(Sentence::OneOfThese { written: other.into(), allowed });
                    }
                });
            }
            "confidence" => self.confidence = Some(number_in(value, 0.5, 1.0)?),
            "seen_from_m" => self.seen_from_m = Some(number_in(value, 0.1, 500.0)?),
            "sweep_width_m" => self.sweep_width_m = Some(number_in(value, 0.1, 1000.0)?),
            _ => return Ok(false),
        }
        Ok(true)
    }
}

/// As the flight file has them.
const HAZARDS: &str =
    "road, railway, power_line, water, trees, buildings, crop, livestock, private_land, other";

/// A text, also where it reads like a number or a truth.
fn text_in(value: &Value) -> Result<String, Sentence> {
    match value {
        Value::String(text) => Ok(text.clone()),
        Value::Number(_) | Value::Bool(_) => Ok(value.to_string()),
        _ => Err(Sentence::TextNeeded { written: value.to_string() }),
    }
}

/// A property as text formats write it.
pub(super) fn as_text(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

pub(super) fn latitude(written: &str) -> Result<f64, Sentence> {
    number(written, -90.0, 90.0)
}

pub(super) fn longitude(written: &str) -> Result<f64, Sentence> {
    number(written, -180.0, 180.0)
}

pub(super) fn elevation_m(written: &str) -> Result<f64, Sentence> {
    number(written, HEIGHTS_M[0], HEIGHTS_M[1])
}

pub(super) fn accuracy_m(value: &Value) -> Result<f64, Sentence> {
    number_in(value, ACCURACIES_M[0], ACCURACIES_M[1])
}

/// A moment as map files write it: with a zone, or without one in UTC.
pub(super) fn time(written: &str) -> Result<DateTime<Utc>, Sentence> {
    let written = written.trim();
    if let Ok(moment) = DateTime::parse_from_rfc3339(written) {
        return Ok(moment.to_utc());
    }
    NaiveDateTime::parse_from_str(written, "%Y-%m-%dT%H:%M:%S%.f")
        .map(|moment| moment.and_utc())
        .map_err(|_| Sentence::NotATime { written: written.into() })
}

pub(super) fn time_as_text(moment: DateTime<Utc>) -> String {
    moment.to_rfc3339_opts(SecondsFormat::AutoSi, true)
}
