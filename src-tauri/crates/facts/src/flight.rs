//! The flight file: what the flyer knows. Everything not known is left out.

use crate::{Evidence, Figure, LatLon, North};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One flight as people tell it (`windfall-flight/1`).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Flight {
    /// Always `windfall-flight/1`.
    pub format: String,
    /// Identifier within a logbook or a field day.
    #[serde(default)]
    pub id: Option<String>,
    /// A line that tells this flight from others.
    #[serde(default)]
    pub title: Option<String>,
    /// Where it left the ground.
    pub pad: Pad,
    /// The ground around.
    #[serde(default)]
    pub field: Option<Field>,
    /// The air at the pad.
    #[serde(default)]
    pub air: Option<Air>,
    /// Wind readings, any number.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub wind: Vec<WindReading>,
    /// What flew.
    pub rocket: Rocket,
    /// How it was launched.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub launch: Launch,
    /// Everything seen, measured or found.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub evidence: Vec<Evidence>,
}

/// The launch pad.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Pad {
    /// Latitude, degrees north.
    pub lat: f64,
    /// Longitude, degrees east.
    pub lon: f64,
    /// Radius that holds the pad with 68 %, metres.
    #[serde(default)]
    pub accuracy_m: Option<f64>,
    /// Height of the ground above sea level, metres.
    #[serde(default)]
    pub elevation_m: Option<f64>,
}

/// The ground: cover, outline and what to keep away from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// Identifier of the field.
    #[serde(default)]
    pub id: Option<String>,
    /// Name of the field.
    #[serde(default)]
    pub name: Option<String>,
    /// What grows there, in words: short grass, high grass, crop, bushes, forest, ...
    #[serde(default)]
    pub cover: Option<String>,
    /// What something that comes down slides on: without it nothing is taken to be dragged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ground: Option<GroundKind>,
    /// Who comes by: without it nothing is taken to be carried away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceKind>,
    /// Outline, a GeoJSON Polygon or `MultiPolygon` geometry.
    #[serde(default)]
    #[schemars(schema_with = "crate::geometry::area_schema")]
    #[cfg_attr(feature = "typescript", ts(as = "Option<crate::geometry::Geometry>"))]
    pub outline: Option<serde_json::Value>,
    /// Roads, wires, water, trees and the like.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub hazards: Vec<Hazard>,
    /// Which ways somebody looked, and as far as they saw. All other ground is not checked.
    #[serde(default, skip_serializing_if = "Vec::is_empty", deserialize_with = "crate::null_is_default")]
    #[cfg_attr(feature = "typescript", ts(as = "Option<Vec<Look>>"))]
    pub looked: Vec<Look>,
}

/// What the ground is like to whatever an open parachute pulls over it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum GroundKind {
    /// Mown or grazed grass, stubble.
    ShortGrass,
    /// Paved, bare or frozen.
    Hard,
    /// High grass, a crop, heath: it holds what comes down in it.
    TallGrowth,
}

/// Who comes by a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum PlaceKind {
    /// Members of a club.
    ClubField,
    /// Whoever works the land, and walkers now and then.
    Farmland,
    /// Anybody: a park, a playing field, a beach.
    PublicPlace,
}

/// A look one way: ground within [`Look::HALF_WIDTH_DEG`] of it was seen as far as `as_far_m`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// From where.
    pub from: LatLon,
    /// Which way, degrees from true north.
    pub toward_deg: f64,
    /// To what comes first there, metres.
    pub as_far_m: f64,
}

impl Look {
    /// To either side of the way: half of one of eight.
    pub const HALF_WIDTH_DEG: f64 = 22.5;
}

/// What a hazard is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum HazardKind {
    /// A road with traffic.
    Road,
    /// A railway line.
    Railway,
    /// An overhead power line.
    PowerLine,
    /// A pond, lake or river.
    Water,
    /// Trees.
    Trees,
    /// Houses and other buildings.
    Buildings,
    /// A crop not to be trodden down.
    Crop,
    /// Animals.
    Livestock,
    /// Land whose owner has not been asked.
    PrivateLand,
    /// Anything else.
    Other,
}

/// Ground to keep away from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Hazard {
    /// What it is.
    pub kind: HazardKind,
    /// What people call it.
    #[serde(default)]
    pub name: Option<String>,
    /// A GeoJSON geometry: Point, `LineString`, Polygon or one of their Multi forms.
    #[schemars(schema_with = "crate::geometry::shape_schema")]
    #[cfg_attr(feature = "typescript", ts(as = "crate::geometry::Geometry"))]
    pub geometry: serde_json::Value,
    /// How high it stands above the ground, metres: trees and buildings only, which may hold what comes down on them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_m: Option<f64>,
}

impl HazardKind {
    /// Whether it stands so high that something may come to rest on it.
    #[must_use]
    pub fn stands(self) -> bool {
        matches!(self, Self::Trees | Self::Buildings)
    }
}

/// The air at the pad.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Air {
    /// Degrees Celsius.
    #[serde(default)]
    pub temperature_c: Option<Figure>,
    /// Pressure at the pad (not reduced to sea level), hectopascal.
    #[serde(default)]
    pub pressure_hpa: Option<Figure>,
    /// Relative humidity, percent.
    #[serde(default)]
    pub humidity_pct: Option<Figure>,
}

/// How a wind reading was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum WindMethod {
    /// An anemometer in the hand or on a pole.
    Meter,
    /// By feel: grass thrown, flags, faces.
    Feel,
}

/// One reading of the wind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct WindReading {
    /// When, RFC 3339.
    #[serde(default)]
    pub at: Option<String>,
    /// Height above ground, metres (default 2; above 80 a row of winds aloft).
    #[serde(default)]
    pub height_m: Option<Figure>,
    /// Averaging time, seconds.
    #[serde(default)]
    pub averaged_s: Option<Figure>,
    /// Mean speed, metres per second.
    #[serde(default)]
    pub speed_mps: Option<Figure>,
    /// Gust, metres per second.
    #[serde(default)]
    pub gust_mps: Option<Figure>,
    /// Where it blows from, degrees clockwise from `north`.
    #[serde(default)]
    pub from_deg: Option<Figure>,
    /// Which north `from_deg` counts from (default true).
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub north: North,
    /// How it was measured (default feel).
    #[serde(default)]
    pub method: Option<WindMethod>,
}

/// What flew.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Rocket {
    /// Identifier in the fleet.
    #[serde(default)]
    pub id: Option<String>,
    /// Its name.
    #[serde(default)]
    pub name: Option<String>,
    /// From the bottom up; at most two.
    pub stages: Vec<Stage>,
}

/// One stage, or the whole rocket if there is only one.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Stage {
    /// What the flyer calls it (default: rocket; booster and sustainer).
    #[serde(default)]
    pub name: Option<String>,
    /// Ready to fly without motor, grams.
    #[serde(default)]
    pub dry_mass_g: Option<Figure>,
    /// Largest body diameter, millimetres.
    #[serde(default)]
    pub diameter_mm: Option<Figure>,
    /// Length, millimetres.
    #[serde(default)]
    pub length_mm: Option<Figure>,
    /// Drag coefficient on the body's cross-section.
    #[serde(default)]
    pub drag_coefficient: Option<Figure>,
    /// The motor.
    #[serde(default)]
    pub motor: Option<Motor>,
    /// How it comes down (default: a parachute of unknown size; tumble for a booster).
    #[serde(default)]
    pub recovery: Option<Recovery>,
    /// The parts that fall on their own if the stage comes apart.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub splits_into: Vec<Part>,
}

/// A piece that can fall on its own.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// What the flyer calls it.
    pub name: String,
    /// Mass without motor, grams.
    #[serde(default)]
    pub mass_g: Option<Figure>,
    /// Length, millimetres.
    #[serde(default)]
    pub length_mm: Option<Figure>,
    /// The recovery device stays with this part.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub carries_recovery: bool,
    /// The spent motor case stays with this part.
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub carries_motor: bool,
}

/// A motor: a designation as people write it, or what is known of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(untagged)]
pub enum Motor {
    /// C6-5, c6 5, 1/2A3-4T, D12-0, C6, C.
    Designation(String),
    /// Designation with measured figures.
    Known(MotorData),
}

/// A motor with the figures on its data sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct MotorData {
    /// As people write it.
    pub designation: String,
    /// Case diameter, millimetres.
    #[serde(default)]
    pub diameter_mm: Option<Figure>,
    /// Mass before firing, grams.
    #[serde(default)]
    pub loaded_mass_g: Option<Figure>,
    /// Propellant mass, grams.
    #[serde(default)]
    pub propellant_g: Option<Figure>,
    /// (seconds, newtons), times rising, from first motion to burnout.
    #[serde(default)]
    pub thrust_curve: Option<Vec<[f64; 2]>>,
}

/// Outline of a canopy.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum CanopyShape {
    /// Flat circle.
    #[default]
    Round,
    /// Across flats.
    Hexagon,
    /// Across flats.
    Octagon,
    /// Side length.
    Square,
    /// Overall width; arms a third as wide.
    Cross,
}

/// How a stage comes down.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Recovery {
    /// A parachute.
    Parachute {
        /// Diameter (round), across flats (hexagon, octagon), side (square), overall width (cross), millimetres.
        #[serde(default)]
        #[cfg_attr(feature = "typescript", ts(optional = nullable))]
        diameter_mm: Option<Figure>,
        /// Outline.
        #[serde(default, deserialize_with = "crate::null_is_default")]
        shape: CanopyShape,
        /// Diameter of the spill hole, millimetres; zero for none.
        #[serde(default)]
        #[cfg_attr(feature = "typescript", ts(optional = nullable))]
        spill_hole_mm: Option<Figure>,
    },
    /// A streamer.
    Streamer {
        /// Length, millimetres.
        #[serde(default)]
        #[cfg_attr(feature = "typescript", ts(optional = nullable))]
        length_mm: Option<Figure>,
        /// Width, millimetres.
        #[serde(default)]
        #[cfg_attr(feature = "typescript", ts(optional = nullable))]
        width_mm: Option<Figure>,
    },
    /// It tumbles down with nothing opened.
    Tumble {},
}

impl Recovery {
    /// The device by its sizes alone: whether they were measured or guessed makes it no other device.
    #[must_use]
    pub fn as_sized(&self) -> Self {
        let sized = |it: &Option<Figure>| it.map(|it| Figure::from(it.value));
        match self {
            Self::Parachute { diameter_mm, shape, spill_hole_mm } => Self::Parachute {
                diameter_mm: sized(diameter_mm),
                shape: *shape,
                spill_hole_mm: sized(spill_hole_mm),
            },
            Self::Streamer { length_mm, width_mm } => {
                Self::Streamer { length_mm: sized(length_mm), width_mm: sized(width_mm) }
            }
            Self::Tumble {} => Self::Tumble {},
        }
    }
}

/// What first motion was timed by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum TimedBy {
    /// Zero of the countdown.
    Countdown,
    /// The sound of the ignition.
    Sound,
    /// A tap at the moment.
    Tap,
    /// Counted back from memory.
    Recalled,
    /// Seconds counted aloud from first motion.
    Counted,
    /// A film on which first motion is seen.
    Video,
    /// Somebody else's phone, whose watch was not set together with this one.
    OtherPhone,
}

/// How it was launched.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Launch {
    /// First motion, RFC 3339.
    #[serde(default)]
    pub at: Option<String>,
    /// What first motion was timed by (default tap): how far off the times of the flight may be.
    #[serde(default)]
    pub timed_by: Option<TimedBy>,
    /// The launch rod or rail.
    #[serde(default)]
    pub rod: Option<Rod>,
}

/// The launch rod or rail.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
#[serde(deny_unknown_fields)]
pub struct Rod {
    /// Guided length, metres.
    #[serde(default)]
    pub length_m: Option<Figure>,
    /// Lean from the vertical, degrees.
    #[serde(default)]
    pub tilt_deg: Option<Figure>,
    /// Direction it leans towards, degrees clockwise from `north`.
    #[serde(default)]
    pub toward_deg: Option<Figure>,
    /// Which north `toward_deg` counts from (default true).
    #[serde(default, deserialize_with = "crate::null_is_default")]
    pub north: North,
}
