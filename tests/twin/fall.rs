//! A flight followed from the rod to the ground, in the way that is asked for: for the call to look up.

use super::chance::Chance;
use super::flown::Device;
use super::rocket::{Fleet, Rocket};
use super::told::Observer;
use super::{Level, Site, tell_of};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use windfall_facts::Mode;
use windfall_inference::Priors;

/// A stream that no level has.
const STREAM: u64 = 1 << 20;

/// A flight with one track, and what is true of it.
#[derive(Clone, Debug)]
pub struct Followed {
    /// The flight file.
    pub flight: Value,
    /// Time of its highest point, s.
    pub apogee_s: f64,
    /// When its parachute came out, if it did in the air, s.
    pub deployed_s: Option<f64>,
    /// When it touched the ground, s.
    pub landed_s: f64,
    /// Whether something else was followed.
    pub mistaken: bool,
}

/// Flies a rocket of one stage with a parachute, and follows it at 2 Hz from the rod to the ground.
#[must_use]
pub fn followed(mode: Mode, seed: u32, number: u32, priors: &Priors) -> Followed {
    let chance = &Chance::of(priors);
    let mut rng = ChaCha8Rng::seed_from_u64((u64::from(seed) << 32) | u64::from(number));
    rng.set_stream(STREAM);
    let rocket = loop {
        let rocket = Rocket::draw(Fleet::OneStage, 1.0, chance, &mut rng);
        if rocket.stages[0].device == Device::Parachute {
            break rocket;
        }
    };
    let site = Site::draw(false, &mut rng);
    let nothing = super::LEVELS[0];
    let told = tell_of(Level { ..nothing }, (mode, 1.0), &rocket, &site, 13 * 1440 + 720, chance, &mut rng);
    let way = &told.flown.ways[told.flown.seen];
    let seen =
        Observer::draw(chance, &mut rng).follows(way, (0.5, way.landed_s()), &told.field, chance, &mut rng);
    let mut flight = told.flight;
    flight["evidence"] = json!([seen.evidence]);
    Followed {
        flight,
        apogee_s: way.top().0,
        deployed_s: told.flown.deployed_s,
        landed_s: way.landed_s(),
        mistaken: seen.mistaken,
    }
}
