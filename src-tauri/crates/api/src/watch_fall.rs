use crate::{Api, ApiError, Settings, locked};
use serde::{Deserialize, Serialize};
use windfall_facts::{Evidence, Flight};
use windfall_inference::{Cloud, HeadsUp, Live};

/// Possible flights of the cloud that runs ahead: a quarter of an answer's, to be done before the next samples come.
const DRAWS: usize = 512;

/// Of which flight.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WatchFall {
    /// As [`crate::FlightLine::id`].
    pub id: String,
}

/// How it comes down, as far as its tracks tell until now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Fall {
    /// Chance that it falls with nothing open.
    pub p_unopened: f64,
    /// Whether to call out to look up.
    pub heads_up: bool,
}

/// The flight that is in the air.
#[derive(Debug)]
pub(crate) struct Watched {
    pub(crate) id: String,
    live: Live,
    /// What it said last.
    pub(crate) cloud: Cloud,
    call: HeadsUp,
}

impl Api {
    /// What the samples held so far say of a fall with nothing open, at the time of the last one. To be asked again
    /// as samples come; one flight at a time is watched.
    ///
    /// # Errors
    /// When there is no such flight, or it lies outside the model's domain.
    pub fn watch_fall(&self, asked: &WatchFall) -> Result<Fall, ApiError> {
        let flight = self.flight(&asked.id)?;
        let Some(t_s) = last_sample_s(&flight) else { return Ok(Fall::default()) };
        let mut watched = locked(&self.watched);
        let before = watched.take().filter(|it| it.id == asked.id);
        let mut now = match before {
            Some(mut it) => {
                it.cloud = it.live.goes_on(&flight)?;
                it
            }
            None => {
                let settings = Settings { draws: DRAWS, ..self.settings };
                let beliefs = self.beliefs_about(&flight)?;
                let (live, cloud) = Live::begin(&flight, &self.priors, &beliefs, &settings)?;
                Watched { id: asked.id.clone(), live, cloud, call: HeadsUp::default() }
            }
        };
        let p_unopened = now.cloud.p_falls_unopened(t_s);
        let heads_up = now.call.hears(p_unopened);
        *watched = Some(now);
        Ok(Fall { p_unopened, heads_up })
    }
}

fn last_sample_s(flight: &Flight) -> Option<f64> {
    let last = |piece: &Evidence| match piece {
        Evidence::Track(track) => track.samples.last().map(|sample| sample[0]),
        _ => None,
    };
    flight.evidence.iter().filter_map(last).reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::{Value, json};

    /// The calls for a phone that follows heights over the pad from 60 m aside, five samples a second.
    fn calls(up_m: impl Fn(f64) -> f64, until_s: u32) -> Vec<bool> {
        let api = Api::new(Settings::default());
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "wind": [{"height_m": 2, "averaged_s": 60, "speed_mps": 1, "from_deg": 240, "method": "meter"}],
            "rocket": {"stages": [{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "C6-5",
                "recovery": {"kind": "parachute", "diameter_mm": 300}}]}});
        called(&api, "tell_flight", json!({"flight": flight}));
        assert_eq!(called(&api, "watch_fall", json!({"id": "f"}))["heads_up"], false);
        let sample = |t_s: f64| json!([t_s, 0.0, up_m(t_s).atan2(60.0).to_degrees().max(0.0)]);
        (0..until_s)
            .map(|second| {
                let samples: Vec<Value> =
                    (1..=5).map(|fifth| sample(f64::from(second) + 0.2 * f64::from(fifth))).collect();
                let from = json!({"lat": 47.5 - 60.0 / 111_176.0, "lon": 17.3});
                let sent = json!({"id": "f", "track": 0, "north": "true", "samples": samples, "from": from});
                called(&api, "append_track", sent);
                called(&api, "watch_fall", json!({"id": "f"}))["heads_up"] == true
            })
            .collect()
    }

    #[test]
    fn a_stone_is_called_out_and_a_parachute_is_not() {
        // Up to 230 m in 7 s, roughly; then with the acceleration of gravity, or at 4.5 m/s.
        let up = |t_s: f64| 230.0 * (1.0 - ((7.0 - t_s) / 7.0).powi(2));
        let stone = calls(|t_s| if t_s < 7.0 { up(t_s) } else { 230.0 - 4.9 * (t_s - 7.0).powi(2) }, 13);
        assert!(stone[..7].iter().all(|it| !it) && stone[12], "{stone:?}");
        let floats = calls(|t_s| if t_s < 7.0 { up(t_s) } else { 230.0 - 4.5 * (t_s - 7.0) }, 20);
        assert!(floats.iter().all(|it| !it), "{floats:?}");
    }
}
