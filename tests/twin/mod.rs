//! The twin: simulated flights whose truth is known, told as a flyer would tell them, and how the answer did.
//!
//! Truths are drawn from the same table of priors as the estimator's, but flown by an integrator of their own through
//! gusts of their own. No code is shared with the estimator except the types and the reader of the flight file, the
//! table's text, and the typical motors that stand for what a letter alone says.

mod air;
mod chance;
mod fall;
mod flown;
mod kept;
mod place;
mod program;
mod rest;
mod rocket;
mod score;
pub mod season;
mod told;

pub use fall::{Followed, followed};
pub use kept::kept;
pub use program::{ended, folder_of};
pub use score::{energy_score, log_score, quantile, wilson};

use air::{Air, Unusual};
use chance::{Chance, normal, pick};
use flown::{Device, Flown, Launch};
use geo::{Contains, LineString, MultiPolygon, Point, Polygon};
use place::Field;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rest::{Ground, Lies, STRONG_MPS};
use rocket::{Fleet, Rocket};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use told::{Observer, anywhere, down_from_s, find, lost_s, moment, round, wind_reading, wrapped};
use windfall_facts::{Mode, PartAnswer, read_flight};
use windfall_inference::{Cloud, Priors, Settings, locate};

/// Changes when the twin itself does: flights kept from an older one are not mixed with new ones.
pub const TWIN: u32 = 3;

/// Fixed before anything was run, and pooled.
pub const SEEDS: [u32; 3] = [1, 2, 3];

/// What the flyer knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Knows {
    Nothing,
    Letter,
    One,
    Four,
    Track,
    Part,
    Altimeter,
    AltimeterAndOne,
}

/// In what the flight is not as the model has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Wrong {
    Nothing,
    Shear,
    Gusts,
    Heading,
    OtherRocket,
    Clock,
    Parachute,
    Unit,
}

/// A kind of flight, by what is known of it.
#[derive(Clone, Copy, Debug)]
pub struct Level {
    /// As the command line has it.
    pub name: &'static str,
    /// In words.
    pub says: &'static str,
    knows: Knows,
    wrong: Wrong,
    ground: Ground,
}

const fn level(name: &'static str, says: &'static str, knows: Knows, wrong: Wrong) -> Level {
    Level { name, says, knows, wrong, ground: Ground::Plain }
}

/// The levels: those on which the shares must hold, those on which the model is wrong on purpose, and those on which it does
/// not lie where it touched.
pub const LEVELS: [Level; 16] = [
    level("nothing", "a reading of the wind, and nothing seen", Knows::Nothing, Wrong::Nothing),
    level("letter", "motor letter, pad and one direction only", Knows::Letter, Wrong::Nothing),
    level("one", "one last-seen sighting", Knows::One, Wrong::Nothing),
    level("four", "apogee, ejection, descent and last seen", Knows::Four, Wrong::Nothing),
    level("track", "2 Hz from the ejection till last seen", Knows::Track, Wrong::Nothing),
    level("part", "seen to come apart, and the lower part found", Knows::Part, Wrong::Nothing),
    level("altimeter", "the altimeter's apogee", Knows::Altimeter, Wrong::Nothing),
    level("wrong-shear", "shear exponent 0.6 more than drawn", Knows::Four, Wrong::Shear),
    level("wrong-gusts", "gusts twice as strong", Knows::Four, Wrong::Gusts),
    level("wrong-heading", "the phone 20 degrees off", Knows::Four, Wrong::Heading),
    level("wrong-rocket", "one of four sightings of another rocket", Knows::Four, Wrong::OtherRocket),
    level("wrong-clock", "the clock 3 s off", Knows::Four, Wrong::Clock),
    level("wrong-parachute", "the parachute a third smaller across", Knows::Four, Wrong::Parachute),
    level("wrong-unit", "the altimeter read in feet, and last seen", Knows::AltimeterAndOne, Wrong::Unit),
    Level {
        ground: Ground::Standing,
        ..level(
            "standing",
            "one last-seen sighting; a wood and a building downwind",
            Knows::One,
            Wrong::Nothing,
        )
    },
    Level {
        ground: Ground::Short,
        ..level("dragged", "one last-seen sighting; short grass in a wind", Knows::One, Wrong::Nothing)
    },
];

impl Level {
    /// By its name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        LEVELS.into_iter().find(|level| level.name == name)
    }

    /// Whether the model is right on it, so that the shares must hold.
    #[must_use]
    pub fn is_right(&self) -> bool {
        self.wrong == Wrong::Nothing
    }
}

/// How the answer did for one part.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PartOutcome {
    /// Its name.
    pub part: String,
    /// Whether it lay inside the 50 % and the 90 % region.
    pub inside: [bool; 2],
    /// Areas of the regions, m2.
    pub area_m2: [f64; 2],
    /// From the aim to where it lay, m.
    #[serde(default)]
    pub miss_m: f64,
    /// Energy score, m.
    pub energy_m: f64,
    /// Minus the log of the density per square metre.
    pub log_score: f64,
}

impl PartOutcome {
    fn of(cloud: &Cloud, part: &PartAnswer, truth_m: [f64; 2], field: &Field) -> Self {
        let [lat, lon] = field.lat_lon(truth_m);
        let inside = |at: usize| {
            part.regions
                .get(at)
                .is_some_and(|region| polygons(&region.geometry).contains(&Point::new(lon, lat)))
        };
        let area = |at: usize| part.regions.get(at).map_or(0.0, |region| round(region.area_m2, 0));
        let samples: Vec<[f64; 2]> =
            part.samples.iter().flatten().map(|place| field.metres(*place)).collect();
        let density = cloud.density(&part.part, None).map(|it| it.bytes).unwrap_or_default();
        let [east, north] = field.metres([part.aim.lat, part.aim.lon]);
        Self {
            part: part.part.clone(),
            inside: [inside(0), inside(1)],
            area_m2: [area(0), area(1)],
            miss_m: round((east - truth_m[0]).hypot(north - truth_m[1]), 2),
            energy_m: round(energy_score(&samples, truth_m), 2),
            log_score: round(log_score(&density, truth_m).unwrap_or(f64::MAX), 3),
        }
    }
}

/// How the answer did for one flight.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Outcome {
    /// Of the truths.
    pub seed: u32,
    /// Number within the seed.
    pub flight: u32,
    /// As the answer says it.
    pub model: String,
    /// [`TWIN`].
    pub twin: u32,
    /// How it truly came down.
    pub mode: Mode,
    /// Height of its highest point, m, and its time in the air, s.
    pub truly: [f64; 2],
    /// Each part that was looked for.
    pub parts: Vec<PartOutcome>,
    /// Chances of the modes.
    pub modes: Vec<(Mode, f64)>,
    /// Sightings and tracks told, those that were of something else, and those that the answer took for mistaken.
    pub sightings: [usize; 3],
    /// Sightings of something else that the answer took for mistaken.
    pub caught: usize,
    /// Whether the flyer was told in words that something does not fit.
    pub warned: bool,
    /// As the answer says it.
    pub effective_draws: f64,
    /// Time for the answer on one thread, ms.
    pub took_ms: f64,
    /// Why there was no answer.
    pub refused: Option<String>,
}

/// Heights at which the true wind of a flight is kept, m: those at which lessons speak of it.
const WIND_HEIGHTS_M: [f64; 4] = [2.0, 10.0, 30.0, 80.0];

/// A flight as told, and what is true of it.
#[derive(Clone, Debug)]
struct Told {
    flight: Value,
    field: Field,
    flown: Flown,
    mode: Mode,
    /// Mean wind at each of [`WIND_HEIGHTS_M`], towards east and north, m/s.
    winds_mps: [[f64; 2]; 4],
    /// Places in the evidence of the sightings and tracks, and whether each was of something else.
    sightings: Vec<(usize, bool)>,
    found: Option<usize>,
}

/// The flight file of one flight and where its parts truly landed: latitude and longitude, stages from the bottom up.
#[must_use]
pub fn flight(level: Level, seed: u32, number: u32, priors: &Priors) -> (Value, Vec<[f64; 2]>) {
    let told = tell(level, seed, number, &Chance::of(priors));
    let truths = told.flown.part_way.iter().map(|way| told.field.lat_lon(told.flown.ways[*way].landing_m()));
    let truths = truths.collect();
    (told.flight, truths)
}

/// Flies one flight, tells it to the estimator and judges the answer.
#[must_use]
pub fn judge(level: Level, seed: u32, number: u32, priors: &Priors, settings: &Settings) -> Outcome {
    let told = tell(level, seed, number, &Chance::of(priors));
    let seen = &told.flown.ways[told.flown.seen];
    let mut outcome = Outcome {
        seed,
        flight: number,
        model: String::new(),
        twin: TWIN,
        mode: told.mode,
        truly: [round(seen.top().1, 1), round(seen.landed_s(), 2)],
        parts: Vec::new(),
        modes: Vec::new(),
        sightings: [told.sightings.len(), told.sightings.iter().filter(|it| it.1).count(), 0],
        caught: 0,
        warned: false,
        effective_draws: 0.0,
        took_ms: 0.0,
        refused: None,
    };
    #[allow(clippy::disallowed_methods, reason = "how long it took is reported, and nothing depends on it")]
    let since = std::time::Instant::now();
    let cloud = match read_flight(&told.flight.to_string()) {
        Ok(flight) => {
            locate(&flight, priors, &Settings { seed: number, ..*settings }).map_err(|it| it.to_string())
        }
        Err(error) => Err(error.to_string()),
    };
    let cloud = match cloud {
        Ok(cloud) => cloud,
        Err(why) => {
            outcome.refused = Some(why);
            return outcome;
        }
    };
    let answer = cloud.answer(None, Some(500));
    outcome.took_ms = round(since.elapsed().as_secs_f64() * 1e3, 1);
    for (index, (part, way)) in answer.parts.iter().zip(&told.flown.part_way).enumerate() {
        if told.found != Some(index) {
            outcome.parts.push(PartOutcome::of(&cloud, part, told.flown.ways[*way].landing_m(), &told.field));
        }
    }
    if let Some(part) = answer.parts.last() {
        outcome.modes = part.modes.iter().map(|it| (it.mode, round(it.probability, 4))).collect();
    }
    let suspects = |place: usize| answer.surprises.iter().any(|it| it.evidence == place);
    outcome.sightings[2] = told.sightings.iter().filter(|it| suspects(it.0)).count();
    outcome.caught = told.sightings.iter().filter(|it| it.1 && suspects(it.0)).count();
    // Other warnings speak of the computation or of what is missing, not of what does not fit.
    outcome.warned =
        !answer.surprises.is_empty() || answer.warnings.iter().any(|it| it.contains("contradict"));
    outcome.effective_draws = round(answer.effective_draws, 0);
    outcome.model = answer.model_version;
    outcome
}

/// The polygons of a GeoJSON `MultiPolygon`.
fn polygons(geometry: &Value) -> MultiPolygon {
    let ring = |ring: &Value| {
        let points = ring.as_array().into_iter().flatten();
        LineString::from_iter(
            points.filter_map(|at| Some((at.get(0)?.as_f64()?, at.get(1)?.as_f64()?))).collect::<Vec<_>>(),
        )
    };
    let polygon = |rings: &Value| {
        let mut rings = rings.as_array().into_iter().flatten().map(ring);
        Some(Polygon::new(rings.next()?, rings.collect()))
    };
    geometry["coordinates"].as_array().into_iter().flatten().filter_map(polygon).collect()
}

/// Modes that a rocket can have, with their shares.
fn modes(device: Device, parts: bool, two_stages: bool, chance: &Chance) -> Vec<(Mode, f64)> {
    let has_device = device != Device::Tumble;
    [
        (Mode::Opens, "p_opens", true),
        (Mode::OpensLate, "p_opens_late", true),
        (Mode::Tangled, "p_tangled", has_device),
        (Mode::NoneOpened, "p_none_opened", true),
        (Mode::CameApart, "p_comes_apart", parts),
        (Mode::CordBroke, "p_cord_broke", has_device),
        (Mode::MotorKickedOut, "p_motor_kicked_out", has_device),
        (Mode::SecondStageUnlit, "p_second_stage_unlit", two_stages),
        (Mode::Unmodelled, "p_unmodelled", true),
    ]
    .into_iter()
    .filter(|row| row.2)
    .map(|(mode, row, _)| (mode, chance.a(row)))
    .collect()
}

fn tell(level: Level, seed: u32, number: u32, chance: &Chance) -> Told {
    let place = LEVELS.iter().position(|it| it.name == level.name).unwrap_or(0) as u64;
    let stream = |of: u64| {
        let mut rng = ChaCha8Rng::seed_from_u64((u64::from(seed) << 32) | u64::from(number));
        rng.set_stream(2 * place + of);
        rng
    };
    let rng = &mut stream(0);
    let fleet = match level.knows {
        Knows::Letter => Fleet::Letter,
        Knows::Part => Fleet::TwoParts,
        _ => Fleet::Told,
    };
    // How much wider than usual: of no matter unless it is a flight that no mode describes.
    let wider = rng.random_range(3.0..5.0);
    let mut rocket = Rocket::draw(fleet, 1.0, chance, &mut stream(1));
    let last = &rocket.stages[rocket.stages.len() - 1];
    let mut shares = modes(last.device, !last.pieces.is_empty(), rocket.stages.len() > 1, chance);
    if level.knows == Knows::Part {
        // A witness said for sure that it came apart: the table's odds.
        let odds = chance.a("saw_odds_sure");
        for (mode, share) in &mut shares {
            *share *= match mode {
                Mode::CameApart => odds,
                Mode::CordBroke | Mode::Unmodelled => odds.sqrt(),
                _ => 1.0,
            };
        }
    }
    let mode = shares[pick(&shares.iter().map(|row| row.1).collect::<Vec<_>>(), rng)].0;
    let wider = if mode == Mode::Unmodelled { wider } else { 1.0 };
    if mode == Mode::Unmodelled {
        rocket = Rocket::draw(fleet, wider, chance, &mut stream(1));
    }
    if level.wrong == Wrong::Parachute {
        for stage in &mut rocket.stages {
            stage.open_drag_m2 *= 4.0 / 9.0;
        }
    }

    let letter = level.knows == Knows::Letter;
    let site = Site::draw(letter, rng);
    // Noon of the 14th.
    tell_of(level, (mode, wider), &rocket, &site, 13 * 1440 + 720, chance, rng)
}

/// Where it is flown, as told.
#[derive(Clone, Copy, Debug)]
struct Site {
    field: Field,
    celsius: f64,
    elevation_m: f64,
    short_grass: bool,
}

impl Site {
    fn draw(letter: bool, rng: &mut ChaCha8Rng) -> Self {
        let field = Field {
            lat: round(rng.random_range(40.0..55.0), 5),
            lon: round(rng.random_range(-5.0..25.0), 5),
        };
        let (celsius, elevation_m) = if letter {
            (15.0, 0.0)
        } else {
            (rng.random_range(8.0_f64..30.0).round(), rng.random_range(0.0_f64..700.0).round())
        };
        Self { field, celsius, elevation_m, short_grass: !letter && rng.random::<f64>() < 0.5 }
    }
}

/// One flight of a rocket from a site, launched so many minutes after the first of June.
fn tell_of(
    level: Level,
    (mode, wider): (Mode, f64),
    rocket: &Rocket,
    site: &Site,
    launched_min: u32,
    chance: &Chance,
    rng: &mut ChaCha8Rng,
) -> Told {
    let Site { field, celsius, elevation_m, short_grass } = *site;
    let letter = level.knows == Knows::Letter;
    let unusual = Unusual {
        wider,
        gusts: if level.wrong == Wrong::Gusts { 2.0 } else { 1.0 },
        shear_more: if level.wrong == Wrong::Shear { 0.6 } else { 0.0 },
    };
    let draw = |rng: &mut ChaCha8Rng| {
        Air::draw(chance, short_grass.then_some(0.03), (celsius + 273.15, elevation_m), unusual, rng)
    };
    let mut air = draw(rng);
    // Ground that matters is laid out by the reading, which comes first there.
    let mut read = None;
    while level.ground != Ground::Plain && read.is_none() {
        let reading = wind_reading(&air, launched_min, chance, rng);
        let calm = reading["speed_mps"].as_f64().is_none_or(|it| it < STRONG_MPS);
        if level.ground == Ground::Short && calm {
            air = draw(rng);
        } else {
            read = Some(reading);
        }
    }

    let (rod, launch) = stand(mode, wider, letter, chance, rng);
    let mut flown = flown::fly(&rocket.stages, &launch, &mut air, rng);
    let lies = read.as_ref().map(|reading| Lies::of(level.ground, reading, chance, rng));
    if let Some(lies) = &lies {
        lies.receive(&mut flown, mode, &rocket.stages, &air, chance, rng);
    }
    let (evidence, sightings, found) = witness(level, &flown, &air, &field, chance, rng);

    let mut flight = json!({
        "format": "windfall-flight/1",
        "pad": {"lat": field.lat, "lon": field.lon},
        "rocket": {"stages": rocket.told},
        "launch": {"at": moment(launched_min)},
        "evidence": evidence,
    });
    if !letter {
        flight["pad"]["elevation_m"] = json!(elevation_m);
        flight["air"] = json!({"temperature_c": celsius});
        flight["wind"] = json!([read.unwrap_or_else(|| wind_reading(&air, launched_min, chance, rng))]);
        if let Some(lies) = &lies {
            flight["field"] = lies.told(&field);
        }
        if short_grass {
            flight["field"]["cover"] = json!("short grass");
        }
        flight["launch"]["rod"] = rod;
    }
    Told {
        flight,
        field,
        flown,
        mode,
        winds_mps: WIND_HEIGHTS_M.map(|height_m| air.mean_mps(height_m)),
        sightings,
        found,
    }
}

/// How it stood on the pad, as told, and how it truly left.
fn stand(mode: Mode, wider: f64, letter: bool, chance: &Chance, rng: &mut impl Rng) -> (Value, Launch) {
    let rail_m = if letter || rng.random::<f64>() < 0.6 { 0.9 } else { 1.2 };
    let mut rod = json!({"length_m": rail_m});
    let mut lean_deg = [0.0; 2];
    let measured = !letter && rng.random::<f64>() < 0.5;
    if measured {
        let (tilt, toward) =
            (rng.random_range(0.0_f64..7.0).round(), rng.random_range(0.0_f64..360.0).round());
        rod["tilt_deg"] = json!(tilt);
        rod["toward_deg"] = json!(toward);
        let (sin, cos) = toward.to_radians().sin_cos();
        lean_deg = [tilt * sin, tilt * cos];
    }
    let row = if measured { "rod_lean_measured" } else { "rod_lean_words" };
    let launch = Launch {
        mode,
        rail_m,
        lean_rad: lean_deg.map(|deg| (deg + chance.wide(row, wider, rng)).to_radians()),
        misaligned_rad: [0, 1].map(|_| chance.wide("thrust_misalignment", wider, rng).to_radians()),
        opening_s: chance.draw("opening_lag", rng),
        late_s: if mode == Mode::OpensLate { chance.draw("late_opening_extra", rng) } else { 0.0 },
        tangled: chance.draw("tangled_drag_factor", rng),
    };
    (rod, launch)
}

/// The evidence; the places in it of sightings, with whether each was of something else; and the part found.
fn witness(
    level: Level,
    flown: &Flown,
    air: &Air,
    field: &Field,
    chance: &Chance,
    rng: &mut impl Rng,
) -> (Vec<Value>, Vec<(usize, bool)>, Option<usize>) {
    let mut observer = Observer::draw(chance, rng);
    let side = if rng.random::<f64>() < 0.5 { -1.0 } else { 1.0 };
    observer.misled(
        if level.wrong == Wrong::Heading { 20.0 * side } else { 0.0 },
        if level.wrong == Wrong::Clock { 3.0 * side } else { 0.0 },
    );
    let way = &flown.ways[flown.seen];
    let (mut evidence, mut sightings, mut found) = (Vec::new(), Vec::new(), None);
    let mut say = |told: told::Told| {
        sightings.push((evidence.len(), told.mistaken));
        evidence.push(told.evidence);
    };
    let altimeter = |rng: &mut _| {
        let shown_m = air.shown_m(way.top().1);
        // The table: relative plus 1 m.
        let said_m = shown_m + normal(rng) * (chance.b("altimeter_apogee") * shown_m + 1.0);
        let other = chance.happens("mistaken_other", rng);
        let said_m = if other { said_m * normal(rng).exp() } else { said_m };
        let unit = if level.wrong == Wrong::Unit { 0.3048 } else { 1.0 };
        json!({"kind": "altimeter", "apogee_m": round((said_m / unit).clamp(0.0, 5000.0), 1)})
    };
    match level.knows {
        Knows::Nothing => {}
        Knows::Letter => {
            // A direction alone; half of the flyers say how high, too.
            observer.at_the_pad();
            let mut told = observer.points("lost", way, lost_s(flown, rng), field, chance, rng);
            if let Some(keys) = told.evidence.as_object_mut() {
                keys.remove("t_s");
                keys.remove("from");
                if rng.random::<f64>() < 0.5 {
                    keys.remove("elevation_deg");
                }
            }
            say(told);
        }
        Knows::One => say(observer.points("lost", way, lost_s(flown, rng), field, chance, rng)),
        Knows::Four => {
            let other = (level.wrong == Wrong::OtherRocket).then(|| rng.random_range(0..4));
            let from_s = down_from_s(flown);
            let mut times = [0, 1].map(|_| from_s + (way.landed_s() - from_s) * rng.random::<f64>());
            times.sort_by(f64::total_cmp);
            let moments = [
                ("apogee", Some(way.top().0)),
                ("deployment", flown.deployed_s),
                ("descent", Some(times[0])),
            ]
            .into_iter()
            .chain([("lost", Some(times[1]))]);
            for (index, (moment, when_s)) in moments.enumerate() {
                let Some(when_s) = when_s else { continue };
                let mut told = observer.points(moment, way, when_s, field, chance, rng);
                if other == Some(index) {
                    let seen = anywhere(rng);
                    told.evidence["bearing_deg"] = json!(round(wrapped(seen.bearing), 1));
                    told.evidence["elevation_deg"] = json!(round(seen.elevation, 1));
                    told.mistaken = true;
                }
                say(told);
            }
        }
        Knows::Track => {
            let until_s = lost_s(flown, rng);
            let from_s = flown.deployed_s.unwrap_or(way.top().0).min(until_s);
            say(observer.follows(way, (from_s, until_s), field, chance, rng));
        }
        Knows::Part => {
            evidence.push(json!({"kind": "saw", "mode": "came_apart", "sure": "sure"}));
            let lower = flown.part_way.len() - 1;
            evidence.push(find("lower", flown.ways[flown.part_way[lower]].landing_m(), field, rng));
            found = Some(lower);
        }
        Knows::Altimeter => evidence.push(altimeter(rng)),
        Knows::AltimeterAndOne => {
            say(observer.points("lost", way, lost_s(flown, rng), field, chance, rng));
            evidence.push(altimeter(rng));
        }
    }
    (evidence, sightings, found)
}
