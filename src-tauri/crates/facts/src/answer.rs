//! The answer: where each part may be, and why (`windfall-answer/1`).

use crate::{HazardKind, LatLon, Mode, Sentence};
use serde::{Deserialize, Serialize};

/// Where every part may lie.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Answer {
    /// Always `windfall-answer/1`.
    pub format: String,
    /// Identifier or title of the flight.
    pub flight: Option<String>,
    /// The pad.
    pub pad: LatLon,
    /// Where the flyer stands.
    pub from: LatLon,
    /// Declination at the pad, degrees, east positive.
    pub declination_deg: f64,
    /// The usual cautions, most urgent first.
    pub cautions: Vec<String>,
    /// One entry a part, always the same list for a rocket.
    pub parts: Vec<PartAnswer>,
    /// Directions that were sighted, for drawing.
    pub sight_lines: Vec<SightLine>,
    /// A sentence that says why there.
    pub why: String,
    /// The missing fact that would shrink the area most, in words.
    pub would_help: Option<String>,
    /// Evidence that looks mistaken.
    pub surprises: Vec<Surprise>,
    /// What limits this answer.
    pub warnings: Vec<String>,
    /// Whether somebody may have taken what is still missing; null on the day of the flight, and where nobody said who comes
    /// by.
    #[serde(default)]
    pub gone: Option<Gone>,
    /// What earlier flights taught, in words.
    pub beliefs: Vec<String>,
    /// All these words again as the sentences they were made from, for a screen of another language or other units.
    #[serde(default)]
    pub said: Said,
    /// Seed of the random draws.
    pub seed: u32,
    /// Posterior variance over squared Monte Carlo error: the worst of east, north and mode chance.
    pub effective_draws: f64,
    /// Standard error of the landing mean, metres, the worst part.
    pub monte_carlo_error_m: f64,
    /// Version of model and priors.
    pub model_version: String,
    /// Time it took, milliseconds.
    pub elapsed_ms: f64,
}

/// The sentences behind the words of an answer, in the order of the words; none in answers of older programs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(default)]
pub struct Said {
    /// The usual cautions, most urgent first.
    pub cautions: Vec<Sentence>,
    /// Why there, and what that rests on.
    pub why: Vec<Sentence>,
    /// The missing fact that would shrink the area most.
    pub would_help: Option<Sentence>,
    /// What looks wrong with each piece of evidence that looks mistaken.
    pub surprises: Vec<Sentence>,
    /// What limits this answer.
    pub warnings: Vec<Sentence>,
    /// What earlier flights taught.
    pub beliefs: Vec<Sentence>,
}

impl Answer {
    /// Adds what limits this answer.
    pub fn warn(&mut self, words: String, said: Sentence) {
        self.warnings.push(words);
        self.said.warnings.push(said);
    }
}

/// Where one part may lie.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PartAnswer {
    /// Its name.
    pub part: String,
    /// Why all this is rough; null if it is not, or the part is found.
    #[serde(default)]
    pub rough: Option<Rough>,
    /// Why nobody should set out for it yet; null once one may, or the part is found.
    #[serde(default)]
    pub stay: Option<Sentence>,
    /// Chance that it fell on its own.
    pub p_apart: f64,
    /// Start here: centre of the disc of the sweep radius that holds most chance.
    pub aim: LatLon,
    /// The last safe standing point on the way.
    pub approach: Approach,
    /// Metres from `from` to the aim.
    pub distance_m: f64,
    /// Metres from the pad to the aim.
    pub distance_from_pad_m: f64,
    /// From `from` to the aim, degrees from true north.
    pub bearing_true_deg: f64,
    /// From `from` to the aim, degrees as a compass shows.
    pub bearing_magnetic_deg: f64,
    /// Seconds to walk.
    pub walk_s: f64,
    /// Smallest areas that hold it with the named chance.
    pub regions: Vec<Region>,
    /// How it may have come down, likeliest first.
    pub modes: Vec<ModeAnswer>,
    /// Chance that it lies inside the field; null without an outline.
    pub in_field: Option<f64>,
    /// Chance that it lies on each hazard.
    pub hazards: Vec<HazardChance>,
    /// Where it comes to rest, if that may not be where it touched: trees, roofs, an open parachute on short ground.
    #[serde(default)]
    pub rests: Rests,
    /// Equally weighted landing points, if asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub samples: Option<Vec<[f64; 2]>>,
}

/// That somebody may have taken it since it came down.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Gone {
    /// Days since the flight.
    pub days: usize,
    /// Chance that it is gone.
    pub probability: f64,
    /// Chance that a search of the whole nine-in-ten area that misses nothing finds it.
    pub search_finds_at_most: f64,
    /// In words.
    pub text: String,
    /// The same as a sentence.
    pub said: Sentence,
}

/// Where it comes to rest, if that is not where it touched.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Rests {
    /// Chance that it hangs in a tree.
    pub in_a_tree: f64,
    /// Chance that it lies on a roof.
    pub on_a_roof: f64,
    /// How an open parachute dragged it; null where it did not.
    pub dragged: Option<Dragged>,
    /// In words, besides the cautions, which speak of trees and roofs.
    pub text: Vec<String>,
    /// The same as sentences.
    pub said: Vec<Sentence>,
}

/// How far an open parachute dragged it over the ground.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Dragged {
    /// Chance that it went farther than a few paces.
    pub probability: f64,
    /// Of those flights the middle eight of ten went from so far, metres.
    pub least_m: f64,
    /// To so far, metres.
    pub most_m: f64,
    /// Which way on the whole, degrees from true north.
    pub toward_deg: f64,
}

/// Why an answer is rough, and what to do about it first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Rough {
    /// Why.
    pub why: Sentence,
    /// What would mend it most.
    pub next: Sentence,
    /// Who can.
    pub by: Mend,
}

/// Who can mend a rough answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Mend {
    /// The flyer, by telling more or correcting.
    Tell,
    /// Whoever else saw it.
    Ask,
}

/// The last safe standing point short of any hazard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Approach {
    /// Latitude, degrees.
    pub lat: f64,
    /// Longitude, degrees.
    pub lon: f64,
    /// Why to stop there; null if the way is clear as far as is known.
    pub caution: Option<String>,
    /// The same as a sentence.
    #[serde(default)]
    pub said: Option<Sentence>,
}

/// An area with its chance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Region {
    /// Chance that it lies inside.
    pub probability: f64,
    /// Square metres.
    pub area_m2: f64,
    /// A GeoJSON `MultiPolygon` geometry.
    #[cfg_attr(feature = "typescript", ts(as = "crate::geometry::Geometry"))]
    pub geometry: serde_json::Value,
}

/// One way it may have come down.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct ModeAnswer {
    /// Which.
    pub mode: Mode,
    /// Its chance.
    pub probability: f64,
    /// Start here, if this is what happened.
    pub aim: LatLon,
    /// The last safe standing point on the way there; null in answers of older programs.
    #[serde(default)]
    pub approach: Option<Approach>,
    /// Why nobody should set out for there yet; null once one may.
    #[serde(default)]
    pub stay: Option<Sentence>,
    /// Areas, if this is what happened.
    pub regions: Vec<Region>,
}

/// Chance on one hazard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct HazardChance {
    /// What it is.
    pub kind: HazardKind,
    /// What people call it.
    pub name: Option<String>,
    /// Chance that the part lies on it or within its margin.
    pub probability: f64,
    /// Chance that it hangs there above the ground, in a tree or on a roof.
    #[serde(default)]
    pub held: f64,
    /// Whether that is so likely that one looks up there.
    #[serde(default)]
    pub look_up: bool,
}

/// A direction that was sighted, turned to true north by the core.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct SightLine {
    /// Index of the piece in the flight's evidence.
    pub evidence: usize,
    /// Where the observer stood.
    pub from: LatLon,
    /// A point along the direction, for drawing.
    pub to: LatLon,
    /// Degrees from true north.
    pub bearing_true_deg: f64,
    /// What was seen, as a message key: apogee, deployment, descent, lost, landed, track.
    pub moment: String,
}

/// A piece of evidence that looks mistaken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Surprise {
    /// Index of the piece in the flight's evidence.
    pub evidence: usize,
    /// Chance that the piece is mistaken.
    pub p_mistaken: f64,
    /// In words.
    pub text: String,
}
