//! What was seen, measured, searched and found.

use crate::{LatLon, North, TimedBy};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A moment of the flight that a flyer can point at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// The highest point.
    Apogee,
    /// The recovery device comes out.
    Deployment,
    /// On the way down.
    Descent,
    /// Last seen in the air.
    Lost,
    /// Seen to touch the ground.
    Landed,
}

/// What a direction was taken with.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum SightingMethod {
    /// A phone held on target.
    #[default]
    Phone,
    /// A hand compass.
    Compass,
    /// By eye, fists at arm's length.
    Eye,
    /// In line with a landmark on the map.
    Line,
}

/// How it came down: the modes a flight is a mixture of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// The recovery device opens as planned.
    Opens,
    /// It opens seconds late.
    OpensLate,
    /// It comes out tangled.
    Tangled,
    /// Nothing opens: streamlined fall.
    NoneOpened,
    /// The parts fall each their own way.
    CameApart,
    /// The cord broke: nose and parachute sail, the body falls.
    CordBroke,
    /// The motor was kicked out instead of the recovery device.
    MotorKickedOut,
    /// The second stage did not light.
    SecondStageUnlit,
    /// Something this model does not know.
    Unmodelled,
}

impl Mode {
    /// All modes, in the order of this program's tables.
    pub const ALL: [Self; 9] = [
        Self::Opens,
        Self::OpensLate,
        Self::Tangled,
        Self::NoneOpened,
        Self::CameApart,
        Self::CordBroke,
        Self::MotorKickedOut,
        Self::SecondStageUnlit,
        Self::Unmodelled,
    ];

    /// Name as files write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Opens => "opens",
            Self::OpensLate => "opens_late",
            Self::Tangled => "tangled",
            Self::NoneOpened => "none_opened",
            Self::CameApart => "came_apart",
            Self::CordBroke => "cord_broke",
            Self::MotorKickedOut => "motor_kicked_out",
            Self::SecondStageUnlit => "second_stage_unlit",
            Self::Unmodelled => "unmodelled",
        }
    }
}

/// What the flyer says it did. Strong evidence, not law.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum SawMode {
    /// [`Mode::Opens`]
    Opened,
    /// [`Mode::OpensLate`]
    OpenedLate,
    /// [`Mode::Tangled`]
    Tangled,
    /// [`Mode::NoneOpened`]
    NoneOpened,
    /// [`Mode::CameApart`]
    CameApart,
    /// [`Mode::CordBroke`]
    CordBroke,
    /// [`Mode::MotorKickedOut`]
    MotorKickedOut,
    /// [`Mode::SecondStageUnlit`]
    SecondStageUnlit,
}

impl SawMode {
    /// The mode that was seen.
    #[must_use]
    pub fn mode(self) -> Mode {
        match self {
            Self::Opened => Mode::Opens,
            Self::OpenedLate => Mode::OpensLate,
            Self::Tangled => Mode::Tangled,
            Self::NoneOpened => Mode::NoneOpened,
            Self::CameApart => Mode::CameApart,
            Self::CordBroke => Mode::CordBroke,
            Self::MotorKickedOut => Mode::MotorKickedOut,
            Self::SecondStageUnlit => Mode::SecondStageUnlit,
        }
    }
}

/// How sure a witness is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Sure {
    /// Saw it clearly.
    Sure,
    /// Thinks so.
    Think,
    /// Was told by someone.
    Told,
}

/// One piece of evidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Evidence {
    /// A direction, a height, a time: at least one of them.
    Sighting(Sighting),
    /// The phone held on target.
    Track(Track),
    /// What the altimeter said.
    Altimeter(Altimeter),
    /// A part found.
    Find(Find),
    /// What it did.
    Saw(Saw),
    /// Ground known to hold it, or not.
    Area(Area),
    /// Ground searched in vain.
    Sweep(Sweep),
    /// A sounding or radio beacon.
    Beacon(Beacon),
}

macro_rules! evidence_struct {
    ($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident : $ty:ty),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(optional_fields = nullable))]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$fdoc])* pub $field: $ty,)*
            /// Tells it from the flight's other pieces: one that comes again under the same identifier corrects it.
            #[serde(default)]
            pub id: Option<String>,
            /// Kept, but not used.
            #[serde(default, deserialize_with = "crate::null_is_default")]
            pub set_aside: bool,
        }
    };
}

evidence_struct! {
    /// Which way and how high, when.
    Sighting {
        /// Part or stage seen; null for the rocket.
        #[serde(default)] part: Option<String>,
        /// What was seen.
        moment: Moment,
        /// Seconds after first motion.
        #[serde(default)] t_s: Option<f64>,
        /// What this observer's seconds count from, if not from what started the flight's.
        #[serde(default)] timed_by: Option<TimedBy>,
        /// Degrees clockwise from `north`.
        #[serde(default)] bearing_deg: Option<f64>,
        /// Which north (default true).
        #[serde(default, deserialize_with = "crate::null_is_default")] north: North,
        /// Without a bearing: degrees clockwise from straight downwind.
        #[serde(default)] downwind_deg: Option<f64>,
        /// Without a bearing: a place that it was in line with, seen from where the observer stood.
        #[serde(default)] in_line_with: Option<LatLon>,
        /// Whether it was on the far side of that place (true) or on this side of it (false).
        #[serde(default)] beyond: Option<bool>,
        /// Degrees above the horizon.
        #[serde(default)] elevation_deg: Option<f64>,
        /// Where the observer stood (default the pad).
        #[serde(default)] from: Option<LatLon>,
        /// Who.
        #[serde(default)] observer: Option<String>,
        /// Which phone.
        #[serde(default)] phone: Option<String>,
        /// With what.
        #[serde(default, deserialize_with = "crate::null_is_default")] method: SightingMethod,
        /// Standard deviation of the pointing across the line of sight, degrees.
        #[serde(default)] sigma_deg: Option<f64>,
    }
}
evidence_struct! {
    /// A phone held on target.
    Track {
        /// Part or stage followed; null for the rocket.
        #[serde(default)] part: Option<String>,
        /// Seconds after first motion, bearing and elevation in degrees; times rising.
        samples: Vec<[f64; 3]>,
        /// Which north (default true).
        #[serde(default, deserialize_with = "crate::null_is_default")] north: North,
        /// Where the observer stood (default the pad).
        #[serde(default)] from: Option<LatLon>,
        /// Who.
        #[serde(default)] observer: Option<String>,
        /// Which phone.
        #[serde(default)] phone: Option<String>,
        /// What this observer's seconds count from, if not from what started the flight's.
        #[serde(default)] timed_by: Option<TimedBy>,
    }
}
evidence_struct! {
    /// What the altimeter said.
    Altimeter {
        /// Part that carries it; null for the one with the recovery device.
        #[serde(default)] part: Option<String>,
        /// Indicated height above the pad, metres.
        #[serde(default)] apogee_m: Option<f64>,
        /// Seconds from first motion.
        #[serde(default)] time_to_apogee_s: Option<f64>,
        /// Metres per second, positive down.
        #[serde(default)] descent_rate_mps: Option<f64>,
        /// Seconds from first motion to landing.
        #[serde(default)] duration_s: Option<f64>,
        /// The unit corrects for air temperature.
        #[serde(default, deserialize_with = "crate::null_is_default")] temperature_corrected: bool,
    }
}
evidence_struct! {
    /// A part found.
    Find {
        /// Which.
        part: String,
        /// Where.
        at: LatLon,
        /// Radius that holds the place with 68 %, metres.
        #[serde(default)] accuracy_m: Option<f64>,
        /// In what state.
        #[serde(default)] condition: Option<String>,
    }
}
evidence_struct! {
    /// What it did, as far as someone could see.
    Saw {
        /// What.
        mode: SawMode,
        /// How sure.
        sure: Sure,
    }
}
evidence_struct! {
    /// "In that field", "not behind the barn".
    Area {
        /// Which part; null for the rocket.
        #[serde(default)] part: Option<String>,
        /// A GeoJSON Polygon or `MultiPolygon` geometry.
        #[schemars(schema_with = "crate::geometry::area_schema")]
        #[cfg_attr(feature = "typescript", ts(as = "crate::geometry::Geometry"))]
        geometry: serde_json::Value,
        /// In it, or not in it.
        inside: bool,
        /// Chance that this is right, between 0.5 and 1.
        confidence: f64,
    }
}
evidence_struct! {
    /// A walked path from which nothing was found.
    Sweep {
        /// Which part was looked for; null for any.
        #[serde(default)] part: Option<String>,
        /// Seconds (or null), latitude, longitude, accuracy in metres (or null).
        path: Vec<(Option<f64>, f64, f64, Option<f64>)>,
        /// From how far this part would be seen, metres.
        #[serde(default)] seen_from_m: Option<f64>,
        /// Effective sweep width, metres.
        #[serde(default)] sweep_width_m: Option<f64>,
    }
}
evidence_struct! {
    /// Bearing to a beacon, or listening in vain.
    Beacon {
        /// Which part carries it; null for the one with the recovery device.
        #[serde(default)] part: Option<String>,
        /// Degrees clockwise from `north`; null if nothing was heard.
        #[serde(default)] bearing_deg: Option<f64>,
        /// Which north (default true).
        #[serde(default, deserialize_with = "crate::null_is_default")] north: North,
        /// Where the listener stood (default the pad).
        #[serde(default)] from: Option<LatLon>,
        /// Whether it was heard.
        heard: bool,
    }
}

/// The same of whatever kind of piece.
macro_rules! of_any {
    ($piece:expr, $it:ident => $what:expr) => {
        match $piece {
            Evidence::Sighting($it) => $what,
            Evidence::Track($it) => $what,
            Evidence::Altimeter($it) => $what,
            Evidence::Find($it) => $what,
            Evidence::Saw($it) => $what,
            Evidence::Area($it) => $what,
            Evidence::Sweep($it) => $what,
            Evidence::Beacon($it) => $what,
        }
    };
}

impl Evidence {
    /// Whether the flyer set this piece aside.
    #[must_use]
    pub fn set_aside(&self) -> bool {
        of_any!(self, it => it.set_aside)
    }

    /// Its identifier.
    #[must_use]
    pub fn id(&self) -> Option<&str> {
        of_any!(self, it => it.id.as_deref())
    }

    /// The same under another identifier, or under none.
    #[must_use]
    pub fn called(mut self, id: Option<String>) -> Self {
        of_any!(&mut self, it => it.id = id);
        self
    }

    /// Whether both say the same, under whatever identifiers.
    #[must_use]
    pub fn says_what(&self, other: &Self) -> bool {
        let bare = |piece: &Self| piece.clone().called(None);
        self == other || bare(self) == bare(other)
    }
}
