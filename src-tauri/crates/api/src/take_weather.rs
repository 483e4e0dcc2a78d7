use crate::day_plan::{AIR, WIND};
use crate::{Api, ApiError, Day, TakeText, call::guarded, clock};
use serde::Serialize;
use serde_json::json;
use windfall_facts::WindReading;
use windfall_logbook::about;
use windfall_logbook::exchange::weather;

/// What a file of the weather brought to today.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeatherTaken {
    /// Rows of wind.
    pub wind: usize,
    /// Whether it had the air at the pad.
    pub air: bool,
    /// What was not used, in words.
    pub not_used: Vec<String>,
    /// Today with it.
    pub day: Day,
}

impl Api {
    /// Takes winds aloft and the air at the pad into today's readings. A row of winds aloft takes the place of an earlier
    /// one of the same height.
    ///
    /// # Errors
    /// Names the line and the column, or the key, of the first thing that cannot be used; then nothing is taken.
    pub fn take_weather(&self, asked: &TakeText) -> Result<WeatherTaken, ApiError> {
        guarded(|| {
            let weather = weather::read(&asked.text)?;
            let (date, now) = (clock::today().to_string(), clock::now());
            let known = self.each_of::<WindReading>(about::DAY, &date, WIND)?;
            for row in &weather.wind {
                let row = WindReading { at: row.at.clone().or_else(|| Some(now.clone())), ..row.clone() };
                let same = known.iter().find(|(_, it)| is_aloft(&row) && height_of(it) == height_of(&row));
                match same {
                    Some((fact, _)) => drop(self.follow(self.fact(fact)?, WIND, json!(row))?),
                    None => drop(self.note(about::DAY, &date, WIND, &row)?),
                }
            }
            if let Some(air) = &weather.air {
                self.note_now(about::DAY, &date, AIR, air)?;
            }
            let (wind, air) = (weather.wind.len(), weather.air.is_some());
            Ok(WeatherTaken { wind, air, not_used: weather.not_used, day: self.day()? })
        })
    }
}

/// As the core tells winds aloft from readings near the ground.
const ALOFT_ABOVE_M: f64 = 80.0;

/// Whether a row is one of winds aloft.
pub(crate) fn is_aloft(row: &WindReading) -> bool {
    row.height_m.is_some_and(|height| height.value > ALOFT_ABOVE_M)
}

fn height_of(row: &WindReading) -> Option<u64> {
    row.height_m.map(|height| height.value.to_bits())
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::json;

    #[test]
    fn winds_aloft_go_into_the_day_beside_what_was_felt_and_a_newer_forecast_takes_their_place() {
        let (_folder, api) = with_logbook();
        called(&api, "tell_wind", json!({"toward_deg": 90, "force": 3}));
        let table = |speed: &str| json!({"text": format!("height_m,speed_mps,from_deg,pressure_hpa\n300,{speed},250,\n2,3,240,955\n")});
        called(&api, "take_weather", table("7"));
        let taken = called(&api, "take_weather", table("9"));
        assert_eq!((&taken["wind"], &taken["air"]), (&json!(2), &json!(true)));
        let day = &taken["day"];
        assert_eq!(day["aloft"].as_array().unwrap().len(), 1);
        assert_eq!(day["aloft"][0]["speed_mps"], 9.0);
        assert_eq!(day["air"]["pressure_hpa"], 955.0);
        assert_eq!(day["wind"].as_array().unwrap().len(), 3, "felt, and twice a reading at 2 m");
        // What is "the same" later is what was felt last, not what blows at 300 m.
        let day = called(&api, "tell_wind", json!({"change": "same"}));
        assert_eq!(day["wind"][3]["height_m"], 2.0);
        let bad = api.call("take_weather", table("fast")).unwrap_err();
        assert!(bad.message.starts_with("CSV, line 2, speed_mps: \"fast\""), "{bad}");
        assert_eq!(called(&api, "day", json!({})), day);
    }
}
