//! Seasons: many flights of one flyer, whose rocket, phone and site stay, and what learning from each of them brings.
//!
//! A flight is answered before anything of it is found, by several estimators with the same random numbers; then it is
//! found or lost, and its lesson joins the logbook.

mod day;

use super::chance::{Chance, Keeper};
use super::rocket::{Fleet, Rocket};
use super::told::find;
use super::{Level, PartOutcome, Site, Told, WIND_HEIGHTS_M, modes, tell_of};
use crate::twin::chance::pick;
use day::Day;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::Gamma;
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::{Flight, Known, Mode, Recovery, read_flight};
use windfall_inference::learn::{Sounding, Thing, Trait};
use windfall_inference::{Beliefs, Lesson, Priors, Settings, locate_knowing};

/// Changes when the seasons themselves do.
pub const SEASON: u32 = 5;

/// Who answers, in the order of the outcomes.
pub const ESTIMATORS: [&str; 7] =
    ["no learning", "things", "today's wind", "both", "told things", "told wind", "told both"];

/// Draws of a flight that is read for what it teaches, as the use cases have it.
const LESSON_DRAWS: usize = 512;
/// Points by which an answer is judged: nearly all of its draws, so that the choice of points adds hardly any luck.
const JUDGED_BY: usize = 1000;
const FLIGHTS_A_DAY: usize = 5;
const BETWEEN_MIN: usize = 20;
/// Part of the flights that are found.
const FOUND: f64 = 0.85;
const NAME: &str = "Reed";
const SITE: &str = "Long Acre";

/// One flight of a season.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct SeasonFlight {
    /// Number in its day.
    pub in_day: usize,
    /// How it truly came down.
    pub mode: Mode,
    /// Whether it was found.
    pub found: bool,
    /// By each of [`ESTIMATORS`].
    pub by: Vec<PartOutcome>,
}

/// One flyer's season.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Season {
    /// Which flyer.
    pub flyer: u32,
    /// [`SEASON`].
    pub season: u32,
    /// As the answers say it.
    pub model: String,
    /// Those judged, in order.
    pub flights: Vec<SeasonFlight>,
    /// What was believed of things before the last flight, in standard deviations of what stays: mean, standard deviation,
    /// and the truth.
    pub beliefs: Vec<(Trait, [f64; 3])>,
    /// Of each flight that says something of the wind it met: how far that is off the truth, in its own standard deviations,
    /// in the logarithm of the speed and in direction, and those (ln, rad).
    #[serde(default)]
    pub soundings: Vec<[[f64; 2]; 2]>,
}

/// A flyer with a rocket, a phone, a site, and a logbook.
#[derive(Debug)]
struct Flyer {
    seed: u64,
    site: Site,
    /// With the chances of this rocket.
    modes: Vec<(Mode, f64)>,
    logbook: Vec<Lesson>,
}

fn stream(seed: u64, stream: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(stream);
    rng
}

/// What a flyer says of things is the same in each flight, and so is the part of the truth that stays.
const THINGS: u64 = 1 << 62;

impl Flyer {
    fn draw(flyer: u32, priors: &Priors) -> Self {
        let seed = (1 << 40) + u64::from(flyer);
        let chance = Chance::of(priors).kept_by(Keeper::of(priors, (seed, THINGS + 1), [].into()));
        let rocket = Rocket::draw(Fleet::OneStage, 1.0, &chance, &mut stream(seed, THINGS));
        let rng = &mut stream(seed, THINGS + 2);
        let site = Site::draw(false, rng);
        // Of one rocket the chances are as they would be if the table's were known from 20 flights, as its row says.
        let last = &rocket.stages[rocket.stages.len() - 1];
        let mut modes = modes(last.device, !last.pieces.is_empty(), false, &chance);
        let total: f64 = modes.iter().map(|row| row.1).sum();
        for (mode, share) in &mut modes {
            if *mode != Mode::Unmodelled {
                *share = Gamma::new(20.0 * *share / total, 1.0).map_or(*share, |law| rng.sample(law)) / 20.0
                    * total;
            }
        }
        Self { seed, site, modes, logbook: Vec::new() }
    }
}

/// Flies one season of so many `flights` and judges the answers of one in `judged` of them. Which ones goes round from
/// flyer to flyer, so that every place in a day and in a season has its turn; all of them teach.
///
/// # Panics
/// When a flight of the twin is none of the flight file's, which is a defect of the twin.
#[must_use]
pub fn season(
    level: Level,
    flyer: u32,
    (flights, judged): (usize, usize),
    priors: &Priors,
    settings: &Settings,
) -> Season {
    let small = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let number = flyer;
    let mut flyer = Flyer::draw(number, priors);
    let mut season = Season {
        flyer: number,
        season: SEASON,
        model: String::new(),
        flights: Vec::new(),
        beliefs: Vec::new(),
        soundings: Vec::new(),
    };
    let mut day = None;
    let mut last_of_day: Option<Sounding> = None;
    for index in 0..flights {
        let (date, in_day) = (index / FLIGHTS_A_DAY, index % FLIGHTS_A_DAY);
        let rng = &mut stream(flyer.seed, index as u64);
        if in_day == 0 {
            day = Some(Day::draw(BETWEEN_MIN * FLIGHTS_A_DAY, rng));
            last_of_day = None;
        }
        let Some(day) = &day else { continue };
        let keeper = Keeper::of(priors, (flyer.seed, (1 << 61) + index as u64), day.at(BETWEEN_MIN * in_day));
        let chance = Chance::of(priors).kept_by(keeper.clone());
        let mode = flyer.modes[pick(&flyer.modes.iter().map(|row| row.1).collect::<Vec<_>>(), rng)].0;
        let wider = if mode == Mode::Unmodelled { rng.random_range(3.0..5.0) } else { 1.0 };
        let rocket = Rocket::draw(Fleet::OneStage, wider, &chance, &mut stream(flyer.seed, THINGS));
        let launched_min = small(1440 * date + 660 + BETWEEN_MIN * in_day);
        let mut told = tell_of(level, (mode, wider), &rocket, &flyer.site, launched_min, &chance, rng);
        told.flight["rocket"]["name"] = json!(NAME);
        told.flight["field"]["name"] = json!(SITE);
        let read = |told: &Told| {
            read_flight(&told.flight.to_string()).unwrap_or_else(|error| panic!("{error}\n{}", told.flight))
        };
        let flight = read(&told);

        let both = Beliefs::about(&flight, &flyer.logbook, priors).unwrap_or_default();
        let before = both.to_learn_with();
        let truths = truths(&flight, &keeper);
        season.beliefs = truths
            .iter()
            .filter_map(|(thing, what, truth)| {
                let [mean, sigma] = both.lasting(thing, *what)?;
                Some((*what, [mean, sigma, *truth]))
            })
            .collect();
        let things = truths
            .into_iter()
            .fold(Beliefs::default(), |beliefs, (thing, what, value)| beliefs.told(thing, what, value));
        let with_wind = |beliefs: Beliefs| match &last_of_day {
            Some(sounding) => beliefs.told_wind(sounding.clone()),
            None => beliefs,
        };
        let estimators = [
            Beliefs::default(),
            both.of_things_only(),
            both.of_today_only(),
            both,
            things.clone(),
            with_wind(Beliefs::default()),
            with_wind(things),
        ];
        let settings = &Settings { seed: small(index + 1), ..*settings };
        let is_judged = (index + number as usize).is_multiple_of(judged);
        let mut by: Vec<PartOutcome> = Vec::new();
        for (at, beliefs) in estimators.iter().enumerate().filter(|_| is_judged) {
            // Who knows the same says the same: before the first flight of all, and before the first of a day.
            if let Some(same) = estimators[..at].iter().position(|it| it == beliefs) {
                by.push(by[same].clone());
                continue;
            }
            let cloud = locate_knowing(&flight, priors, beliefs, settings)
                .unwrap_or_else(|error| panic!("{error}\n{}", told.flight));
            let answer = cloud.answer(None, Some(JUDGED_BY));
            season.model.clone_from(&answer.model_version);
            let last = told.flown.part_way.len() - 1;
            let truth_m = told.flown.ways[told.flown.part_way[last]].landing_m();
            by.push(PartOutcome::of(&cloud, &answer.parts[last], truth_m, &told.field));
        }

        let found = rng.random::<f64>() < FOUND;
        if found {
            let names = flight.rocket.part_names();
            let finds = names
                .iter()
                .zip(&told.flown.part_way)
                .map(|(part, way)| find(part, told.flown.ways[*way].landing_m(), &told.field, rng));
            let finds: Vec<_> = finds.collect();
            told.flight["evidence"].as_array_mut().into_iter().for_each(|it| it.extend(finds.clone()));
        }
        let settings = &Settings { draws: settings.draws.min(LESSON_DRAWS), ..*settings };
        let cloud = locate_knowing(&read(&told), priors, &before, settings);
        let lesson = cloud.unwrap_or_else(|error| panic!("{error}\n{}", told.flight)).lesson();
        season.soundings.extend(lesson.sounding.as_ref().and_then(|it| scores(it, &told)));
        flyer.logbook.push(lesson);
        let [east, north] = told.winds_mps[2];
        last_of_day = flight.launch.at.clone().map(|at| Sounding {
            at,
            site: SITE.into(),
            height_m: WIND_HEIGHTS_M[2],
            ln_speed: [east.hypot(north).ln(), 0.01],
            towards_rad: [east.atan2(north), 0.01],
            readings: Vec::new(),
        });
        if is_judged {
            season.flights.push(SeasonFlight { in_day, mode, found, by });
        }
    }
    season
}

/// How far what a flight says of its wind is off the truth, as [`Season::soundings`] has it; none of another height.
fn scores(said: &Sounding, told: &Told) -> Option<[[f64; 2]; 2]> {
    let at = WIND_HEIGHTS_M.iter().position(|it| (it - said.height_m).abs() < 0.1)?;
    let [east, north] = told.winds_mps[at];
    let turn = east.atan2(north) - said.towards_rad[0];
    let turn = turn.sin().atan2(turn.cos());
    let ln = east.hypot(north).ln() - said.ln_speed[0];
    Some([[ln / said.ln_speed[1], said.ln_speed[1]], [turn / said.towards_rad[1], said.towards_rad[1]]])
}

/// What truly stays of everything that is learned, in standard deviations.
fn truths(flight: &Flight, keeper: &Keeper) -> Vec<(Thing, Trait, f64)> {
    let stage = &flight.rocket.stages[0];
    // Rows of which it is made: the row, which of its draws, and its standard deviation.
    let of = |rows: &[(&str, u64, f64)]| {
        let stays = |row: &(&str, u64, f64)| row.2 * keeper.lasting(row.0).sqrt();
        let all = rows.iter().map(|row| stays(row).powi(2)).sum::<f64>().sqrt();
        rows.iter().map(|row| stays(row) * keeper.stays(row.0, row.1)).sum::<f64>() / all
    };
    let one = |row: &str| of(&[(row, 0, 1.0)]);
    // The size of the device is drawn before that of the body.
    let (device, sizes) = match stage.recovery {
        Some(Recovery::Parachute { .. }) => {
            (Some(of(&[("parachute_drag_area", 0, 0.15), ("size_stated", 0, 0.06)])), 1)
        }
        Some(Recovery::Streamer { .. }) => (
            Some(of(&[("streamer_drag_area", 0, 0.3), ("size_stated", 0, 0.03), ("size_stated", 1, 0.03)])),
            2,
        ),
        _ => (None, 0),
    };
    let weighed = stage.dry_mass_g.and_then(|it| it.known) == Some(Known::Weighed);
    let mut ascent = vec![("ascent_drag", 0, 0.12), ("size_stated", sizes, 0.06)];
    if stage.drag_coefficient.is_none() {
        ascent.push(("drag_coefficient_unknown", 0, 0.2));
    }
    let rocket = || Thing::Rocket(NAME.into(), 0);
    let motor = || Thing::Motor(stage.motor.as_ref().map_or_else(String::new, |motor| motor.spelled()));
    let phone = || Thing::Phone("Ann's phone".into());
    let site = || Thing::Site(SITE.into());
    let known_cover = flight.field.as_ref().is_some_and(|it| it.cover.is_some());
    let mut truths = vec![
        (rocket(), Trait::Mass, one(if weighed { "mass_weighed" } else { "mass_stated" })),
        (rocket(), Trait::AscentDrag, of(&ascent)),
        (rocket(), Trait::TumblingDrag, one("tumble_drag_area")),
        (motor(), Trait::Fill, one("class_fill")),
        (motor(), Trait::Impulse, one("impulse_full_designation")),
        (motor(), Trait::Thrust, one("mean_thrust_designated")),
        (motor(), Trait::Delay, one("delay")),
        (phone(), Trait::Heading, one("heading_bias_phone_unchecked")),
        (phone(), Trait::Tilt, one("elevation_offset_phone")),
        (Thing::Observer("Ann".into()), Trait::Clock, one("reaction_delay")),
        (
            site(),
            Trait::Roughness,
            one(if known_cover { "roughness_known_cover" } else { "roughness_unknown" }),
        ),
        (site(), Trait::Stability, one("stability_slope_day")),
        (site(), Trait::Shear, one("shear_exponent_above_80m_day")),
        (site(), Trait::Veer, one("veer_per_100m")),
    ];
    if let Some(device) = device {
        let rigged =
            serde_json::to_string(&stage.recovery.as_ref().map(Recovery::as_sized)).unwrap_or_default();
        truths.push((Thing::Recovery(NAME.into(), 0, rigged), Trait::OpenDrag, device));
    }
    truths
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_as_lasting_is_what_the_rockets_have_in_common() {
        // Drag area of the device: z = sqrt(s) u + sqrt(1 - s) e, so that z and u correlate by sqrt(s), and two flights
        // of one rocket by s.
        let priors = Priors::embedded();
        let (mut sums, mut n) = ([0.0; 4], 0.0);
        for number in 0..1500 {
            let flyer = Flyer::draw(number, &priors);
            let flight = |flight: u64| {
                let keeper = Keeper::of(&priors, (flyer.seed, (1 << 61) + flight), [].into());
                let chance = Chance::of(&priors).kept_by(keeper.clone());
                let rocket = Rocket::draw(Fleet::OneStage, 1.0, &chance, &mut stream(flyer.seed, THINGS));
                (rocket, keeper)
            };
            let [(a, keeper), (b, _)] = [0, 1].map(flight);
            assert_eq!(a.told, b.told);
            let across = a.told[0]["recovery"]["diameter_mm"].as_f64();
            let Some(across_m) = across.map(|it| it / 1000.0) else { continue };
            let median_m2 = 0.75 * core::f64::consts::PI * across_m * across_m / 4.0;
            let told = json!({"format": "windfall-flight/1", "pad": {"lat": 50.0, "lon": 8.0},
                              "rocket": {"name": NAME, "stages": a.told}});
            let facts = read_flight(&told.to_string()).unwrap_or_else(|error| panic!("{error}"));
            let truth = truths(&facts, &keeper);
            let [u] = [truth.iter().find(|it| it.1 == Trait::OpenDrag).map_or(f64::NAN, |it| it.2)];
            let [x, y] =
                [&a, &b].map(|it| (it.stages[0].open_drag_m2 / median_m2).ln() / 0.15_f64.hypot(0.06));
            n += 1.0;
            for (sum, term) in sums.iter_mut().zip([u * u, x * x, x * u, x * y]) {
                *sum += term;
            }
        }
        // 0.7 of 0.15^2 and all of 0.06^2.
        let lasting: f64 = (0.7 * 0.0225 + 0.0036) / (0.0225 + 0.0036);
        let expected = [1.0, 1.0, lasting.sqrt(), lasting];
        // Standard errors near 0.04: five of them.
        for (sum, expected) in sums.iter().zip(expected) {
            assert!(
                n > 700.0 && (sum / n - expected).abs() < 0.2,
                "{:?} of {n}, not {expected:?}",
                sums.map(|it| it / n)
            );
        }
        println!("{:?} of {n}", sums.map(|it| it / n));
    }
}
