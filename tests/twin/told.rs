//! What a flyer tells of a flight, with the errors of the table.

use super::air::Air;
use super::chance::{Chance, forgetting, normal};
use super::flown::{Flown, Way};
use super::place::Field;
use rand::{Rng, RngExt};
use serde_json::{Value, json};

const EYE_M: f64 = 1.6;

/// Someone with a phone.
#[derive(Clone, Debug)]
pub(super) struct Observer {
    at_m: [f64; 2],
    heading_deg: f64,
    tilt_deg: f64,
    clock_s: f64,
}

/// A direction, degrees.
#[derive(Clone, Copy, Debug)]
pub(super) struct Direction {
    pub(super) bearing: f64,
    pub(super) elevation: f64,
}

/// One sighting, and whether it was of something else.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub(super) evidence: Value,
    pub(super) mistaken: bool,
}

impl Observer {
    pub(super) fn draw(chance: &Chance, rng: &mut impl Rng) -> Self {
        let away_m = if rng.random::<f64>() < 0.5 { 0.0 } else { rng.random_range(10.0..120.0) };
        let (sin, cos) = rng.random_range(0.0..core::f64::consts::TAU).sin_cos();
        Self {
            at_m: [away_m * sin, away_m * cos],
            heading_deg: chance.draw("heading_bias_phone_unchecked", rng),
            tilt_deg: chance.draw("elevation_offset_phone", rng),
            clock_s: chance.draw("reaction_delay", rng) + chance.draw("launch_time_tap", rng),
        }
    }

    /// Who says nothing of a place stands at the pad.
    pub(super) fn at_the_pad(&mut self) {
        self.at_m = [0.0; 2];
    }

    pub(super) fn misled(&mut self, heading_deg: f64, clock_s: f64) {
        self.heading_deg += heading_deg;
        self.clock_s += clock_s;
    }

    /// Where a place is seen, with an error across the line of sight and one upwards (degrees), both on the sphere; what
    /// the phone says of that way is off by its own two errors.
    fn sees(&self, at_m: [f64; 3], across_deg: f64, upwards_deg: f64) -> Direction {
        let [east, north, up] = [at_m[0] - self.at_m[0], at_m[1] - self.at_m[1], at_m[2] - EYE_M];
        let (bearing, elevation) = (east.atan2(north), up.atan2(east.hypot(north)));
        let ((sin_b, cos_b), (sin_e, cos_e)) = (bearing.sin_cos(), elevation.sin_cos());
        let (across, upwards) = (across_deg.to_radians(), upwards_deg.to_radians());
        // The line of sight, and the two directions at right angles to it.
        let seen = [
            cos_e * sin_b + across * cos_b - upwards * sin_e * sin_b,
            cos_e * cos_b - across * sin_b - upwards * sin_e * cos_b,
            sin_e + upwards * cos_e,
        ];
        let level = seen[0].hypot(seen[1]);
        Direction {
            bearing: seen[0].atan2(seen[1]).to_degrees() + self.heading_deg,
            elevation: seen[2].atan2(level).to_degrees() + self.tilt_deg,
        }
    }

    /// A direction at a moment.
    pub(super) fn points(
        &self,
        moment: &str,
        way: &Way,
        when_s: f64,
        field: &Field,
        chance: &Chance,
        rng: &mut impl Rng,
    ) -> Told {
        let mut seen = self.sees(
            way.at(when_s),
            chance.draw("pointing_bearing", rng),
            chance.draw("pointing_elevation", rng),
        );
        let mut t_s = when_s + self.clock_s + chance.draw("click_time", rng);
        let mistaken = chance.happens("mistaken_sighting", rng);
        if mistaken {
            seen = anywhere(rng);
            if moment != "lost" && moment != "descent" {
                t_s = rng.random_range(0.0..60.0);
            }
        }
        Told { evidence: self.sighting(moment, seen, Some(t_s), field), mistaken }
    }

    /// A sighting as the flight file has it.
    pub(super) fn sighting(&self, moment: &str, seen: Direction, t_s: Option<f64>, field: &Field) -> Value {
        let mut sighting = json!({
            "kind": "sighting",
            "moment": moment,
            "bearing_deg": round(wrapped(seen.bearing), 1),
            "elevation_deg": round(seen.elevation.clamp(-30.0, 90.0), 1),
            "from": field.place(self.at_m),
            "observer": "Ann",
            "phone": "Ann's phone",
        });
        if let Some(t_s) = t_s {
            sighting["t_s"] = json!(round(t_s.max(0.0), 2));
        }
        sighting
    }

    /// The phone held on target at 2 Hz.
    pub(super) fn follows(
        &self,
        way: &Way,
        (from_s, until_s): (f64, f64),
        field: &Field,
        chance: &Chance,
        rng: &mut impl Rng,
    ) -> Told {
        const STEP_S: f64 = 0.5;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "minutes at 2 Hz")]
        let count = ((until_s - from_s) / STEP_S).floor() as usize + 1;
        let error = |rng: &mut _| {
            forgetting(normal(rng), STEP_S, chance.a("track_correlation_time"), count, rng)
                .into_iter()
                .map(|it| chance.b("track_pointing") * it)
                .collect::<Vec<_>>()
        };
        let (across, upwards) = (error(rng), error(rng));
        let mistaken = chance.happens("mistaken_sighting", rng);
        // A bird, say: from anywhere, evenly across the sky.
        let bird = anywhere(rng);
        let flies = [rng.random_range(-6.0..6.0), rng.random_range(-2.0..2.0)];
        let samples: Vec<[f64; 3]> = (0..count)
            .map(|index| {
                let t_s = from_s + STEP_S * index as f64;
                let seen = if mistaken {
                    Direction {
                        bearing: bird.bearing + flies[0] * STEP_S * index as f64 + across[index],
                        elevation: bird.elevation + flies[1] * STEP_S * index as f64 + upwards[index] / 2.0,
                    }
                } else {
                    self.sees(way.at(t_s), across[index], upwards[index] / 2.0)
                };
                [
                    round((t_s + self.clock_s).max(0.0) + 0.001 * index as f64, 3),
                    round(wrapped(seen.bearing), 1),
                    round(seen.elevation.clamp(-30.0, 90.0), 1),
                ]
            })
            .collect();
        let evidence = json!({
            "kind": "track",
            "samples": samples,
            "from": field.place(self.at_m),
            "observer": "Ann",
            "phone": "Ann's phone",
        });
        Told { evidence, mistaken }
    }
}

/// Another thing in the sky.
pub(super) fn anywhere(rng: &mut impl Rng) -> Direction {
    Direction { bearing: rng.random_range(0.0..360.0), elevation: rng.random_range(0.0..90.0) }
}

/// The time when it was last seen: any on the way down, never after it landed.
pub(super) fn lost_s(flown: &Flown, rng: &mut impl Rng) -> f64 {
    let way = &flown.ways[flown.seen];
    let from_s = down_from_s(flown);
    from_s + (way.landed_s() - from_s) * rng.random::<f64>()
}

/// Since when it comes down: from the top, or from the ejection if that was before.
pub(super) fn down_from_s(flown: &Flown) -> f64 {
    let way = &flown.ways[flown.seen];
    way.top().0.min(flown.deployed_s.unwrap_or(f64::INFINITY)).min(way.landed_s())
}

/// A moment as a flight file has it, from minutes since the first of June.
pub(super) fn moment(minute: u32) -> String {
    let day = minute / 1440;
    format!(
        "2026-{:02}-{:02}T{:02}:{:02}:00+02:00",
        6 + day / 30,
        1 + day % 30,
        minute / 60 % 24,
        minute % 60
    )
}

/// A find with a 68 % radius of 4 m; and things bounce a pace or two.
pub(super) fn find(part: &str, [east, north]: [f64; 2], field: &Field, rng: &mut impl Rng) -> Value {
    let sigma_m = (4.0_f64 / 1.51).hypot(2.0);
    let at_m = [east + sigma_m * normal(rng), north + sigma_m * normal(rng)];
    json!({"kind": "find", "part": part, "at": field.place(at_m), "accuracy_m": 4})
}

/// A reading of the wind at 2 m some minutes before the launch.
pub(super) fn wind_reading(air: &Air, launched_min: u32, chance: &Chance, rng: &mut impl Rng) -> Value {
    let meter = rng.random::<f64>() < 0.7;
    let age_min = rng.random_range(1..20_u32);
    let [east, north] = air.mean_mps(2.0);
    let speed = east.hypot(north);
    // Rows of 10 and of 30 min in the table's source: 0.15 and 0.24, 10 and 17 degrees. Its rows by speed at 40 m have 28,
    // 16, 12 and 9 degrees, 0.34, 0.24, 0.19 and 0.17 at 3.2, 5, 7 and 9 m/s.
    let age = (f64::from(age_min) / 30.0).powf(0.43);
    let [high_east, high_north] = air.mean_mps(40.0);
    let light = 5.0 / high_east.hypot(high_north).clamp(2.5, 10.0);
    let ln = chance.draw("reading_to_flight_ln_speed_60s", rng)
        + age * light.powf(0.65) * chance.draw("reading_age_ln_speed_30min", rng)
        + chance.draw(if meter { "instrument_speed_meter" } else { "instrument_speed_feel" }, rng).ln();
    let turn = chance.draw("reading_to_flight_direction_60s_at_4mps", rng) * (4.0 / speed.max(0.5)).max(1.0)
        + age * light * chance.draw("reading_age_direction_30min", rng)
        + chance.draw(if meter { "instrument_direction_compass" } else { "instrument_direction_eye" }, rng);
    json!({
        "at": moment(launched_min - age_min),
        "height_m": 2,
        "averaged_s": 60,
        "speed_mps": round((speed * ln.exp()).min(39.0), 2),
        "from_deg": round(wrapped(east.atan2(north).to_degrees() + 180.0 + turn), 0),
        "method": if meter { "meter" } else { "feel" },
    })
}

pub(super) fn wrapped(degrees: f64) -> f64 {
    degrees.rem_euclid(360.0)
}

pub(super) fn round(value: f64, digits: i32) -> f64 {
    let unit = 10_f64.powi(digits);
    (value * unit).round() / unit
}
