//! A day on the field: where, what is loaded, the wind so far, and what is still out there.

use crate::close_flight::searched;
use crate::fleet::{Fleet, FleetRocket, OnHand};
use crate::flown_motors::FlownMotor;
use crate::read_motor::MotorRead;
use crate::sites::{Site, Spot};
use crate::sketch_rocket::{ComesDownOn, Doubt, doubts};
use crate::{Api, ApiError, Code, Standing, call::guarded, clock};
use serde::{Deserialize, Serialize};
use windfall_facts::{
    Air, FORMAT, Figure, Flight, Known, LatLon, Launch, Motor, North, Pad, Rocket, Rod, Sentence, Stage,
    WindReading,
};
use windfall_inference::is_aloft;
use windfall_logbook::{Filter, about};

const DAY: &str = "day";
pub(crate) const WIND: &str = "wind";
pub(crate) const AIR: &str = "air";

/// What is planned for a day.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Plan {
    /// Which field.
    pub site: Option<String>,
    /// Which of its pads; the first without it.
    pub pad: Option<String>,
    /// Rockets that are to fly, in this order, each perhaps with a motor of the day.
    pub load: Vec<Load>,
    /// Above this wind nobody flies today, m/s; the flyer's own limit.
    pub wind_limit_mps: Option<f64>,
    /// Whether there is water at hand.
    pub water: Option<bool>,
}

/// A rocket that is to fly.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Load {
    /// Identifier in the fleet.
    pub rocket: String,
    /// The motor for today, if it is not the rocket's usual one.
    pub motor: Option<String>,
    /// The motor of its lower stage for today, if it is not the usual one; says nothing of a rocket of one stage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_motor: Option<String>,
    /// What it comes down on today, if that is not the usual device.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub comes_down_on: Option<ComesDownOn>,
    /// How far its rod leans today, degrees from the vertical; upright as far as one sees without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tilt_deg: Option<f64>,
    /// Which way it leans, degrees from true north; against the wind without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lean_toward_deg: Option<f64>,
}

/// The model rocket safety code aims within 30 degrees of the vertical (National Association of Rocketry; NFPA 1122).
/// From memory.
pub(crate) const MOST_TILT_DEG: f64 = 30.0;

/// A plan to be kept.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepDay {
    /// The plan for today.
    pub plan: Plan,
}

/// Everything about today.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Day {
    /// Today, as in 2026-05-16.
    pub date: String,
    /// The plan: today's own, or that of the day before, as it would be again.
    pub plan: Plan,
    /// The day that the plan was made for, if that was not today; null with no plan at all.
    pub last_time: Option<String>,
    /// The field of the plan.
    pub site: Option<Site>,
    /// The pad of the plan.
    pub pad: Option<Spot>,
    /// The rockets of the plan.
    pub load: Vec<Loaded>,
    /// Readings of today that count, the latest last.
    pub wind: Vec<WindReading>,
    /// Every reading somebody told today, also those that were set aside, the latest last.
    pub readings: Vec<ToldWind>,
    /// Winds from a file, the lowest first.
    pub aloft: Vec<WindReading>,
    /// How many of them are near the ground and not used, because somebody told the wind there.
    pub unused_near: usize,
    /// The fact that brought winds and air from a file, to be set aside; null without one.
    pub weather: Option<String>,
    /// The air at the pad, from a file.
    pub air: Option<Air>,
    /// Motors that flew today and are out of the box.
    pub flown: Vec<FlownMotor>,
    /// Force of the latest on Beaufort's scale.
    pub force: Option<u8>,
    /// Where the wind goes, degrees from true north, if nobody looked that way from this pad yet.
    pub look_deg: Option<f64>,
    /// Whether the latest is above the flyer's own limit.
    pub above_limit: bool,
    /// What is still out there.
    pub open: Vec<OpenFlight>,
}

/// A reading of the wind, and whether it counts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ToldWind {
    /// The fact, by which it can be set aside.
    pub id: String,
    /// What was told.
    pub reading: WindReading,
    /// Its force on Beaufort's scale.
    pub force: Option<u8>,
    /// Kept but not used: by this fact it was set aside, which can be undone.
    pub set_aside_by: Option<String>,
}

/// A rocket of the load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Loaded {
    /// The rocket.
    pub rocket: FleetRocket,
    /// Its motor for today.
    pub motor: Option<String>,
    /// The motor of its lower stage for today; null of a rocket of one stage, or if nobody told it.
    pub lower_motor: Option<String>,
    /// What it comes down on today.
    pub comes_down_on: ComesDownOn,
    /// How far its rod leans, degrees; null if nobody said.
    pub tilt_deg: Option<f64>,
    /// Which way, degrees from true north; null if against the wind.
    pub lean_toward_deg: Option<f64>,
    /// Said of it with that motor and that device, before it flies.
    pub doubts: Vec<Doubt>,
    /// How many of that motor are in the box; null if they are not counted.
    pub on_hand: Option<i64>,
    /// The same of the motor of its lower stage.
    pub lower_on_hand: Option<i64>,
}

/// A flight of which something is still missing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenFlight {
    /// Identifier.
    pub id: String,
    /// A line that tells it from others.
    pub title: String,
    /// What is missing.
    pub missing: Vec<String>,
    /// The day it flew, if that was not today.
    pub since: Option<String>,
    /// That somebody may have taken it since.
    pub gone: Option<Sentence>,
    /// Whether its rocket is none of this fleet.
    pub is_friends: bool,
}

/// So long what was not found waits for its flyer, days. Judgement.
const WAITS_D: u64 = 365;

/// A flight as it would start now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReadyFlight {
    /// Identifier of the rocket in the fleet.
    pub rocket: String,
    /// Its name.
    pub name: String,
    /// Site, pad, wind and rocket as they are known now.
    pub flight: Flight,
    /// Whether the pad of `flight` is known. If not it stands for wherever the flyer will be.
    pub has_pad: bool,
    /// As it is loaded today, or as it usually flies if nothing is.
    pub loaded: Loaded,
}

/// Stands where a flight needs a pad and nobody knows one, beside `has_pad: false`. Wider than a told pad may be
/// (1000 m), so that a flight told without putting the flyer's place here is refused, and never kept in the Gulf of Guinea.
const NO_PAD: Pad = Pad { lat: 0.0, lon: 0.0, accuracy_m: Some(1e6), elevation_m: None };

impl Api {
    /// Today: its plan or the last one, the wind so far, and what is still out there.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn day(&self) -> Result<Day, ApiError> {
        guarded(|| self.day_of(&self.fleet()?))
    }

    fn day_of(&self, fleet: &Fleet) -> Result<Day, ApiError> {
        let date = clock::today().to_string();
        let (made_for, plan) = self.plan(&date)?;
        let site = plan.site.as_deref().and_then(|id| self.site(id).ok());
        let loaded = plan.load.iter().filter_map(|load| {
            let rocket = fleet.rockets.iter().find(|it| it.id == load.rocket)?.clone();
            let loaded = Loaded::of(rocket, load);
            let on_hand = |motor: Option<&String>| {
                let counted = |it: &&OnHand| Some(&it.motor) == motor;
                fleet.motors.iter().find(counted).map(|it| it.on_hand)
            };
            let (upper, lower) = (on_hand(loaded.motor.as_ref()), on_hand(loaded.lower_motor.as_ref()));
            Some(Loaded { on_hand: upper, lower_on_hand: lower, ..loaded })
        });
        let load = loaded.collect();
        // Older programs kept winds aloft as readings.
        let (above, readings): (Vec<_>, Vec<_>) =
            self.told_winds(&date)?.into_iter().partition(|it| is_aloft(&it.reading));
        let wind = in_use(&readings);
        let mut aloft = in_use(&above);
        let (fact, weather) = self.weather(&date)?.unzip();
        let weather = weather.unwrap_or_default();
        aloft.splice(0..0, weather.wind);
        let near = || aloft.iter().filter(|row| !is_aloft(row));
        let unused_near = if wind.is_empty() { 0 } else { near().count() };
        let latest = wind.last().or_else(|| near().next());
        let latest_mps = latest.and_then(|it| it.speed_mps).map(|figure| figure.value);
        let pad = site.as_ref().and_then(|site| pad_of(site, &plan));
        let look_deg = wind.last().and_then(crate::past::toward_deg).filter(|toward_deg| {
            let (Some(site), Some(pad)) = (&site, &pad) else { return false };
            !site.is_looked(LatLon { lat: pad.lat, lon: pad.lon }, *toward_deg)
        });
        Ok(Day {
            look_deg,
            last_time: made_for.filter(|made_for| *made_for != date),
            pad,
            force: latest.and_then(force),
            above_limit: latest_mps.zip(plan.wind_limit_mps).is_some_and(|(mps, limit)| mps > limit),
            open: self.open_flights()?,
            air: if weather.air.is_some() { weather.air } else { self.last_of(about::DAY, &date, AIR)? },
            weather: fact,
            unused_near,
            flown: self.flown_since(&date)?,
            aloft,
            date,
            plan,
            site,
            load,
            wind,
            readings,
        })
    }

    /// The day it was made for, and the plan: today's, or the latest before.
    fn plan(&self, today: &str) -> Result<(Option<String>, Plan), ApiError> {
        let mut plans = self.all_of::<Plan>(about::DAY, DAY)?;
        plans.retain(|(day, _)| day.as_str() <= today);
        plans.sort_by(|a, b| a.0.cmp(&b.0));
        Ok(plans.pop().map_or_else(Default::default, |(day, plan)| (Some(day), plan)))
    }

    /// What was told of the wind on a day in the order it was told, also what was set aside since.
    pub(crate) fn told_winds(&self, day: &str) -> Result<Vec<ToldWind>, ApiError> {
        let words = self.open_logbook()?.words_of(about::DAY, day)?;
        let told = words.into_iter().filter(|it| it.fact.kind == WIND && !it.taken_back).filter_map(|it| {
            let set_aside_by = it.set_aside_by().map(|fact| fact.id.clone());
            let reading: WindReading = serde_json::from_value(it.fact.json).ok()?;
            let force = force(&reading);
            Some(ToldWind { id: it.fact.id, reading, force, set_aside_by })
        });
        Ok(told.collect())
    }

    /// Keeps the plan for today.
    ///
    /// # Errors
    /// When it names a field or a rocket that is not there, or a limit that is none; when no logbook is open.
    pub fn keep_day(&self, asked: &KeepDay) -> Result<Day, ApiError> {
        guarded(|| {
            let mut plan = asked.plan.clone();
            if let Some(site) = &plan.site {
                self.site(site)?;
            }
            for load in &mut plan.load {
                self.rocket(&load.rocket)?;
                let motors = [("motor", &mut load.motor), ("lower_motor", &mut load.lower_motor)];
                for (field, motor) in motors.into_iter().filter_map(|(field, it)| Some((field, it.as_mut()?)))
                {
                    let read =
                        MotorRead::of(motor).map_err(|error| error.of(&format!("plan.load.{field}")))?;
                    *motor = read.spelled;
                }
                if let Some(tilt_deg) = load.tilt_deg {
                    within(tilt_deg, (0.0, MOST_TILT_DEG), "degrees")
                        .map_err(|error| error.of("plan.load.tilt_deg"))?;
                }
                if let Some(toward_deg) = load.lean_toward_deg {
                    a_way(toward_deg).map_err(|error| error.of("plan.load.lean_toward_deg"))?;
                }
            }
            if let Some(limit_mps) = plan.wind_limit_mps {
                within(limit_mps, (0.5, 40.0), "m/s").map_err(|error| error.of("plan.wind_limit_mps"))?;
            }
            self.note_now(about::DAY, &clock::today().to_string(), DAY, &plan)?;
            self.day()
        })
    }

    /// Every rocket of today's load as it would start now; of the whole fleet if nothing is loaded, for that is what
    /// a flyer has who plans nothing. None without a logbook; without a field they start wherever the flyer stands.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub fn ready_flights(&self) -> Result<Vec<ReadyFlight>, ApiError> {
        guarded(|| {
            if !self.has_logbook() {
                return Ok(Vec::new());
            }
            let fleet = self.fleet()?;
            let day = self.day_of(&fleet)?;
            let pad = day.pad.as_ref().map_or(NO_PAD, |pad| Pad {
                lat: pad.lat,
                lon: pad.lon,
                accuracy_m: pad.accuracy_m,
                elevation_m: pad.elevation_m,
            });
            let unplanned = |rocket| Loaded::of(rocket, &Load::default());
            let load = if day.load.is_empty() {
                fleet.rockets.into_iter().filter(|it| !it.retired).map(unplanned).collect()
            } else {
                day.load.clone()
            };
            let ready = load.into_iter().map(|loaded| {
                let rocket = loaded.as_it_flies();
                let rod = loaded.tilt_deg.map(|tilt_deg| day.rod(tilt_deg, loaded.lean_toward_deg));
                ReadyFlight {
                    rocket: loaded.rocket.id.clone(),
                    name: rocket.name.clone().unwrap_or_default(),
                    flight: Flight {
                        format: FORMAT.into(),
                        id: None,
                        title: None,
                        pad,
                        field: day.site.as_ref().map(Site::ground),
                        air: day.air,
                        wind: day.winds().cloned().collect(),
                        rocket,
                        launch: Launch { rod, ..Launch::default() },
                        evidence: Vec::new(),
                    },
                    has_pad: day.pad.is_some(),
                    loaded,
                }
            });
            Ok(ready.collect())
        })
    }

    /// Flights of which something is still missing: those told and those of the open folder, own and friends'.
    pub(crate) fn open_flights(&self) -> Result<Vec<OpenFlight>, ApiError> {
        // Without a folder and with nothing told there is nothing out there.
        let lines = match self.list_flights() {
            Err(error) if error.code == Code::NotFound => Vec::new(),
            other => other?,
        };
        let today = clock::today().to_string();
        let own = self.own_rockets()?;
        let mut open = Vec::new();
        for line in lines {
            // Of a file without a time nobody knows the day; what was told without one was told just now.
            let is_of_today = match &line.launched_at {
                Some(at) => at.starts_with(&today),
                None => self.told(&line.id).is_some(),
            };
            let is_open = matches!(line.standing, Some(Standing::Lost | Standing::PartlyFound));
            if !is_of_today || !is_open || line.error.is_some() {
                continue;
            }
            let flight = self.flight(&line.id)?;
            let missing = self.not_given_up(&line.id, &flight)?;
            if !missing.is_empty() {
                let is_friends = is_friends(&flight, &own);
                let (title, since, gone) = (line.title, None, None);
                open.push(OpenFlight { id: line.id, title, missing, since, gone, is_friends });
            }
        }
        open.extend(self.open_before(clock::today(), &own)?);
        Ok(open)
    }

    /// Flights of earlier days in the logbook of which something was neither found nor given up.
    fn open_before(&self, today: chrono::NaiveDate, own: &[String]) -> Result<Vec<OpenFlight>, ApiError> {
        if !self.has_logbook() {
            return Ok(Vec::new());
        }
        let (from, until) = (Some(today - chrono::Days::new(WAITS_D)), today.pred_opt());
        let rows = self.open_logbook()?.flights(&Filter { from, until, ..Filter::default() })?;
        let mut open = Vec::new();
        for row in rows {
            // What cannot be read is said by the list of flights.
            let Ok(flight) = self.flight(&row.name) else { continue };
            let missing = self.not_given_up(&row.name, &flight)?;
            if missing.is_empty() {
                continue;
            }
            let gone = self.gone_by(&flight, today).map(|it| it.said);
            let is_friends = is_friends(&flight, own);
            let title = flight.title.or(flight.rocket.name).unwrap_or_else(|| row.name.clone());
            let since = row.launched_at.and_then(|at| at.get(..10).map(str::to_owned));
            open.push(OpenFlight { id: row.name, title, missing, since, gone, is_friends });
        }
        Ok(open)
    }

    /// Identifiers of the fleet's rockets; none without a logbook.
    fn own_rockets(&self) -> Result<Vec<String>, ApiError> {
        if !self.has_logbook() {
            return Ok(Vec::new());
        }
        Ok(self.all_of::<Rocket>(about::ROCKET, "rocket")?.into_iter().map(|(id, _)| id).collect())
    }

    /// What of a flight is missing and still looked for.
    fn not_given_up(&self, id: &str, flight: &Flight) -> Result<Vec<String>, ApiError> {
        let mut missing = crate::list_flights::missing(flight);
        if !missing.is_empty() && self.has_logbook() {
            let searches = searched(&self.open_logbook()?.words_of(about::FLIGHT, id)?);
            missing.retain(|part| searches.iter().all(|it| it.open || it.part != *part));
        }
        Ok(missing)
    }
}

/// The readings that count.
fn in_use(told: &[ToldWind]) -> Vec<WindReading> {
    told.iter().filter(|it| it.set_aside_by.is_none()).map(|it| it.reading.clone()).collect()
}

/// Force of a reading on Beaufort's scale, if its speed is known.
fn force(reading: &WindReading) -> Option<u8> {
    reading.speed_mps.map(|figure| windfall_physics::air::Beaufort::of_speed(figure.value).force())
}

/// Whether a flight names a rocket that is none of `own`; one that names none may be anybody's. A rocket that was rigged
/// anew bears the name of its first rigging before a stroke.
fn is_friends(flight: &Flight, own: &[String]) -> bool {
    let first = flight.rocket.id.as_deref().and_then(|id| id.split('/').next());
    first.is_some_and(|first| own.iter().all(|id| id != first))
}

impl Day {
    /// A rod that leans so far towards the way that the flyer chose, degrees from true north, or into the wind that was
    /// read last. Which way the wind is stays open until somebody says where it comes from.
    pub(crate) fn rod(&self, tilt_deg: f64, toward_deg: Option<f64>) -> Rod {
        let near = self.wind.iter().rev().chain(self.aloft.iter());
        let row = near.into_iter().find(|row| row.from_deg.is_some());
        let into_wind = || row.map_or_else(Default::default, |row| (row.from_deg, row.north));
        let chosen = |value| (Some(Figure { value, known: None }), North::True);
        let (toward_deg, north) = toward_deg.map_or_else(into_wind, chosen);
        // A rod is set by eye: it may lean as far off that as one that nobody spoke of.
        let tilt_deg = Some(Figure { value: tilt_deg, known: Some(Known::Guessed) });
        Rod { tilt_deg, toward_deg, north, length_m: None }
    }

    /// Every wind that a flight of today starts with: near the ground what was told comes before what a file has.
    pub(crate) fn winds(&self) -> impl Iterator<Item = &WindReading> {
        let is_used = |row: &&WindReading| self.wind.is_empty() || is_aloft(row);
        self.wind.iter().chain(self.aloft.iter().filter(is_used))
    }
}

/// A way that is none is refused, as a rod in a flight file is.
pub(crate) fn a_way(value: f64) -> Result<f64, ApiError> {
    within(value, (-360.0, 360.0), "degrees")
}

fn within(value: f64, (low, high): (f64, f64), unit: &str) -> Result<f64, ApiError> {
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    let said = Sentence::OutOfRange { value, low, high, unit: unit.into() };
    Err(ApiError::said(Code::BadRequest, said))
}

impl Loaded {
    fn of(rocket: FleetRocket, load: &Load) -> Self {
        let stages = &rocket.rocket.stages;
        let named = |stage: &Stage| Some(stage.motor.as_ref()?.designation().to_owned());
        let motor = load.motor.clone().or_else(|| stages.last().and_then(named));
        let lower = stages.first().filter(|_| stages.len() > 1);
        let lower_motor = lower.and_then(|stage| load.lower_motor.clone().or_else(|| named(stage)));
        let usual = rocket.rocket.stages.last().and_then(|stage| stage.recovery.as_ref());
        let comes_down_on = load.comes_down_on.unwrap_or(ComesDownOn::of(usual));
        let (tilt_deg, lean_toward_deg) = (load.tilt_deg, load.lean_toward_deg);
        let mut loaded = Self {
            rocket,
            motor,
            lower_motor,
            comes_down_on,
            tilt_deg,
            lean_toward_deg,
            doubts: Vec::new(),
            on_hand: None,
            lower_on_hand: None,
        };
        loaded.doubts = doubts(&loaded.as_it_flies());
        loaded
    }

    /// With the motors and the device of today. Another device than the usual one has no size that anybody told.
    pub(crate) fn as_it_flies(&self) -> Rocket {
        let mut rocket = self.rocket.rocket.clone();
        // What a file says of the usual motor stays known.
        let load = |stage: &mut Stage, motor: &Option<String>| {
            let usual = stage.motor.as_ref().map(Motor::designation);
            if let Some(motor) = motor.as_ref().filter(|motor| usual != Some(motor.as_str())) {
                stage.motor = Some(Motor::Designation(motor.clone()));
            }
        };
        if rocket.stages.len() > 1 {
            load(&mut rocket.stages[0], &self.lower_motor);
        }
        if let Some(last) = rocket.stages.last_mut() {
            load(last, &self.motor);
            if ComesDownOn::of(last.recovery.as_ref()) != self.comes_down_on {
                last.recovery = Some(self.comes_down_on.untold());
            }
        }
        rocket
    }
}

fn pad_of(site: &Site, plan: &Plan) -> Option<Spot> {
    let named = plan.pad.as_ref().and_then(|name| site.pads.iter().find(|pad| pad.name == *name));
    named.or_else(|| site.pads.first()).cloned()
}

/// A reading of the wind, in words or with a meter.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TellWind {
    /// Where thrown grass goes, degrees from true north; as in the last reading of today without it.
    pub toward_deg: Option<f64>,
    /// Force by what the wind moves, on Beaufort's scale; as in the last reading without it.
    pub force: Option<u8>,
    /// It comes and goes.
    pub gusty: Option<bool>,
    /// Against the last reading.
    pub change: Option<WindChange>,
    /// What a meter says; it takes the place of words.
    pub meter: Option<WindReading>,
}

/// What became of the wind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WindChange {
    /// As before.
    Same,
    /// Stronger: a force more.
    More,
    /// Weaker: a force less.
    Less,
}

impl Api {
    /// Notes the wind of this minute; what is not said is as in the last reading of today.
    ///
    /// # Errors
    /// When nothing was said and there is no earlier reading; when a number is out of range.
    pub fn tell_wind(&self, asked: &TellWind) -> Result<Day, ApiError> {
        guarded(|| {
            let date = clock::today().to_string();
            let last = in_use(&self.told_winds(&date)?).into_iter().rfind(|row| !is_aloft(row));
            let reading = crate::felt_wind::reading(asked, last.as_ref(), &clock::now())?;
            self.note(about::DAY, &date, WIND, &reading)?;
            self.day()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Settings;
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

    fn meadow_and_linnet(api: &Api) -> (Value, Value) {
        let pad = json!({"name": "pad", "lat": 47.53, "lon": 17.28, "accuracy_m": 3});
        let site =
            called(api, "keep_site", json!({"field": {"name": "Sedge Meadow"}, "pad": pad}))["id"].clone();
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5"}]});
        (site, called(api, "keep_rocket", json!({ "told": told }))["id"].clone())
    }

    #[test]
    fn a_new_day_is_as_the_last_one_until_it_has_a_plan_of_its_own() {
        let (_folder, api) = with_logbook();
        assert_eq!(called(&api, "day", json!({}))["plan"]["load"], json!([]));
        let (site, linnet) = meadow_and_linnet(&api);
        let plan = json!({"site": site, "load": [{"rocket": linnet}], "wind_limit_mps": 6});
        api.note(about::DAY, "2026-05-02", DAY, &plan).unwrap();
        let day = called(&api, "day", json!({}));
        assert_eq!(
            (&day["last_time"], &day["site"]["field"]["name"]),
            (&json!("2026-05-02"), &json!("Sedge Meadow"))
        );
        assert_eq!((&day["load"][0]["motor"], &day["load"][0]["on_hand"]), (&json!("C6-5"), &Value::Null));
        called(&api, "change_stock", json!({"motor": "c6-5", "change": 2}));
        let day = called(&api, "keep_day", json!({"plan": day["plan"]}));
        assert_eq!((&day["last_time"], &day["load"][0]["on_hand"]), (&Value::Null, &json!(2)));
        let refused = api.call("keep_day", json!({"plan": {"load": [{"rocket": "nobody"}]}})).unwrap_err();
        assert!(refused.message.contains("no rocket \"nobody\""));
    }

    #[test]
    fn what_should_be_said_goes_by_the_motor_and_the_device_of_today() {
        let (_folder, api) = with_logbook();
        let (site, linnet) = meadow_and_linnet(&api);
        let doubts = |load: Value| {
            let day = called(&api, "keep_day", json!({"plan": {"site": site, "load": [load]}}));
            day["load"][0]["doubts"].clone()
        };
        assert_eq!(doubts(json!({"rocket": linnet})), json!([]));
        assert_eq!(doubts(json!({"rocket": linnet, "motor": "D12-0"})), json!(["booster_alone"]));
        assert_eq!(doubts(json!({"rocket": linnet, "motor": "C6-P"})), json!(["plugged_motor"]));
        assert_eq!(doubts(json!({"rocket": linnet, "motor": "C6-P", "comes_down_on": "tumble"})), json!([]));
    }

    #[test]
    fn the_lower_motor_of_two_stages_is_chosen_for_today_too() {
        let (_folder, api) = with_logbook();
        let stages = json!([{"motor": "D12-0", "comes_down_on": "tumble"}, {"motor": "C6-5"}]);
        let heron =
            called(&api, "keep_rocket", json!({"told": {"name": "Heron", "stages": stages}}))["id"].clone();
        called(&api, "change_stock", json!({"motor": "C11-0", "change": 3}));
        let day =
            |load: Value| called(&api, "keep_day", json!({"plan": {"load": [load]}}))["load"][0].clone();
        let usual = day(json!({"rocket": heron}));
        assert_eq!(
            (&usual["motor"], &usual["lower_motor"], &usual["doubts"]),
            (&json!("C6-5"), &json!("D12-0"), &json!([]))
        );
        let today = day(json!({"rocket": heron, "lower_motor": "c11 0"}));
        assert_eq!(
            (&today["lower_motor"], &today["lower_on_hand"], &today["on_hand"]),
            (&json!("C11-0"), &json!(3), &Value::Null)
        );
        let motors = called(&api, "ready_flights", json!({}))[0]["flight"]["rocket"]["stages"].clone();
        assert_eq!((&motors[0]["motor"], &motors[1]["motor"]), (&json!("C11-0"), &json!("C6-5")));
        // One with a delay does not light the upper one, which is said before it flies.
        assert_eq!(
            day(json!({"rocket": heron, "lower_motor": "C11-3"}))["doubts"],
            json!(["delayed_booster"])
        );
        let wrong = json!({"plan": {"load": [{"rocket": heron, "lower_motor": "Q9"}]}});
        let refused = api.call("keep_day", wrong).unwrap_err();
        assert!(refused.message.contains("plan.load.lower_motor"), "{}", refused.message);
        // Of one stage it says nothing.
        let (_, linnet) = meadow_and_linnet(&api);
        let one = day(json!({"rocket": linnet, "lower_motor": "C11-0"}));
        assert_eq!((&one["motor"], &one["lower_motor"]), (&json!("C6-5"), &Value::Null));
    }

    #[test]
    fn without_a_logbook_nothing_is_ready() {
        assert_eq!(Api::new(Settings::default()).ready_flights().unwrap(), []);
    }

    #[test]
    fn without_a_field_every_rocket_is_ready_wherever_the_flyer_stands() {
        let (_folder, api) = with_logbook();
        called(&api, "keep_rocket", json!({"told": {"name": "Linnet", "stages": [{"motor": "C6-5"}]}}));
        let ready = api.ready_flights().unwrap();
        assert_eq!(ready.iter().map(|it| (&*it.name, it.has_pad)).collect::<Vec<_>>(), [("Linnet", false)]);
        assert_eq!(&ready[0].flight.field, &None);
        // Told before the flyer's place stands where the pad goes, it is refused.
        let refused = api.call("tell_flight", json!({"flight": ready[0].flight})).unwrap_err();
        assert!(refused.message.contains("pad.accuracy_m"), "{}", refused.message);
    }

    #[test]
    fn a_ready_flight_has_the_pad_the_wind_and_the_motor_of_today_and_can_be_told() {
        let (_folder, api) = with_logbook();
        let (site, linnet) = meadow_and_linnet(&api);
        called(
            &api,
            "keep_day",
            json!({"plan": {"site": site, "load": [{"rocket": linnet, "motor": "b6-4"}], "wind_limit_mps": 3.0}}),
        );
        let day = called(&api, "tell_wind", json!({"toward_deg": 90, "force": 3}));
        assert_eq!((&day["force"], &day["above_limit"]), (&json!(3), &json!(true)));
        let ready = called(&api, "ready_flights", json!({}));
        let flight = &ready[0]["flight"];
        assert_eq!(flight["rocket"]["stages"][0]["motor"], "B6-4");
        assert_eq!(
            (&flight["pad"]["lat"], &flight["wind"][0]["from_deg"]["value"]),
            (&json!(47.53), &json!(270.0))
        );
        let id = called(&api, "tell_flight", json!({ "flight": flight }))["id"].clone();
        let day = called(&api, "day", json!({}));
        assert_eq!(
            day["open"],
            json!([{"id": id, "title": "Linnet", "missing": ["rocket"], "since": null, "gone": null, "is_friends": false}])
        );
        let mut theirs = flight.clone();
        theirs["rocket"] = json!({"id": "wrens", "name": "Wren", "stages": [{"motor": "A8-3"}]});
        called(&api, "tell_flight", json!({ "flight": theirs }));
        let open = called(&api, "day", json!({}))["open"].clone();
        let friends: Vec<_> =
            open.as_array().unwrap().iter().map(|it| (&it["title"], &it["is_friends"])).collect();
        assert!(friends.contains(&(&json!("Wren"), &json!(true))), "{open}");
        let walk = called(&api, "pick_up", json!({}));
        assert!(walk["waiting"].as_array().unwrap().iter().any(|it| it["is_friends"] == true), "{walk}");
    }

    #[test]
    fn a_reading_of_the_day_that_was_mistaken_is_set_aside_and_used_again() {
        let (_folder, api) = with_logbook();
        let (site, linnet) = meadow_and_linnet(&api);
        called(
            &api,
            "keep_day",
            json!({"plan": {"site": site, "load": [{"rocket": linnet}], "wind_limit_mps": 6}}),
        );
        called(&api, "tell_wind", json!({"toward_deg": 90, "force": 2}));
        let day = called(&api, "tell_wind", json!({"toward_deg": 270, "force": 5}));
        assert_eq!((&day["force"], &day["above_limit"]), (&json!(5), &json!(true)));
        let wrong = day["readings"][1]["id"].clone();
        let aside = called(&api, "set_aside", json!({ "id": wrong }));
        let day = called(&api, "day", json!({}));
        assert_eq!((&day["force"], &day["above_limit"]), (&json!(2), &json!(false)));
        assert_eq!(
            (day["wind"].as_array().unwrap().len(), &day["wind"][0]["from_deg"]["value"]),
            (1, &json!(270.0))
        );
        assert_eq!(
            (&day["readings"][0]["set_aside_by"], &day["readings"][1]["set_aside_by"]),
            (&Value::Null, &aside)
        );
        let started = called(&api, "ready_flights", json!({}));
        assert_eq!(
            started[0]["flight"]["wind"].as_array().map(Vec::len),
            Some(1),
            "no flight starts with it"
        );
        // What is the same as before is the same as what counts.
        let same = called(&api, "tell_wind", json!({"change": "same"}));
        assert_eq!(same["wind"][1]["from_deg"]["value"], 270.0);
        called(&api, "undo", json!({ "id": aside }));
        let day = called(&api, "day", json!({}));
        assert_eq!(
            (day["wind"].as_array().unwrap().len(), &day["readings"][1]["set_aside_by"]),
            (3, &Value::Null)
        );
    }

    #[test]
    fn the_way_downwind_is_to_be_looked_at_until_somebody_has_and_again_when_the_wind_turns() {
        let (_folder, api) = with_logbook();
        let (site, linnet) = meadow_and_linnet(&api);
        called(&api, "keep_day", json!({"plan": {"site": site, "load": [{"rocket": linnet}]}}));
        let day = called(&api, "tell_wind", json!({"toward_deg": 90, "force": 3}));
        assert_eq!(day["look_deg"], 90.0);
        let from = json!({"lat": day["pad"]["lat"], "lon": day["pad"]["lon"]});
        let look = |what: &str| json!({"site": site, "look": {"from": from, "toward_deg": 90, "what": what, "how_far": "further"}});
        called(&api, "look_downwind", look("open"));
        assert_eq!(called(&api, "day", json!({}))["look_deg"], Value::Null);
        assert_eq!(called(&api, "tell_wind", json!({"toward_deg": 70}))["look_deg"], Value::Null);
        assert_eq!(called(&api, "tell_wind", json!({"toward_deg": 45}))["look_deg"], 45.0);
        let meter = json!({"speed_mps": 3, "from_deg": 270, "north": "magnetic", "method": "meter"});
        assert_eq!(called(&api, "tell_wind", json!({ "meter": meter }))["look_deg"], Value::Null);
    }

    #[test]
    fn what_was_lost_on_an_earlier_day_waits_until_it_is_found_or_given_up() {
        let (_folder, api) = with_logbook();
        let yesterday = clock::today().pred_opt().unwrap().to_string();
        let told = |name: &str, lat: f64| {
            let flight = json!({"format": "windfall-flight/1", "title": name, "pad": {"lat": lat, "lon": 17.28},
                "rocket": {"name": name, "stages": [{"motor": "A8-3"}]},
                "launch": {"at": format!("{yesterday}T10:00:00+00:00")},
                "evidence": [{"kind": "sighting", "moment": "landed", "bearing_deg": 80}]});
            called(&api, "tell_flight", json!({ "flight": flight }))["id"].clone()
        };
        let (linnet, bunting, far) = (told("Linnet", 47.53), told("Bunting", 47.53), told("Heron", 48.53));
        let open = || -> Vec<Value> {
            let day = called(&api, "day", json!({}));
            day["open"].as_array().unwrap().iter().map(|it| it["id"].clone()).collect()
        };
        assert_eq!(called(&api, "day", json!({}))["open"][0]["since"], json!(yesterday));
        assert_eq!(open().len(), 3);
        // A walk goes round one field.
        let walk = called(&api, "pick_up", json!({"from": {"lat": 47.53, "lon": 17.28}}));
        let waiting: Vec<_> = walk["waiting"].as_array().unwrap().iter().map(|it| &it["title"]).collect();
        assert_eq!((waiting.len(), waiting.contains(&&json!("Heron"))), (2, false));
        called(&api, "close_flight", json!({"id": bunting, "given_up": ["rocket"]}));
        called(
            &api,
            "record_find",
            json!({"id": linnet, "part": "rocket", "at": {"lat": 47.5301, "lon": 17.2801}}),
        );
        assert_eq!(open(), [far]);
        called(&api, "search_again", json!({"id": bunting, "part": "rocket"}));
        assert_eq!(open().len(), 2);
    }
}
