use crate::{Api, ApiError, Day, TakeText, call::guarded, clock};
use serde::{Deserialize, Serialize};
use windfall_facts::{Air, WindReading};
use windfall_inference::read_at_m;
use windfall_logbook::about;
use windfall_logbook::exchange::weather;

/// Kind of the fact that keeps it.
pub(crate) const WEATHER: &str = "weather";

/// What a file of the weather brought to today.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeatherTaken {
    /// Rows of wind.
    pub wind: usize,
    /// Whether it had the air at the pad.
    pub air: bool,
    /// Rows with air that are not used, for they are above the pad.
    pub unused_air: u32,
    /// Today with it.
    pub day: Day,
}

/// What files of the weather say of a day: one fact, so that it is taken away and brought back as a whole.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Weather {
    /// Winds, the lowest first.
    pub(crate) wind: Vec<WindReading>,
    /// The air at the pad.
    pub(crate) air: Option<Air>,
}

impl Api {
    /// Takes winds aloft and the air at the pad into today. A newer file takes the place of an earlier one, in what both
    /// of them have; nothing of a file takes the place of what somebody told.
    ///
    /// # Errors
    /// Names the line and the column, or the key, of the first thing that cannot be used; then nothing is taken.
    pub fn take_weather(&self, asked: &TakeText) -> Result<WeatherTaken, ApiError> {
        guarded(|| {
            let read = weather::read(&asked.text)?;
            let (date, now) = (clock::today().to_string(), clock::now());
            let taken = (read.wind.len(), read.air.is_some());
            let before = self.weather(&date)?.map(|(_, weather)| weather).unwrap_or_default();
            let mut wind = if read.wind.is_empty() { before.wind } else { read.wind };
            for row in &mut wind {
                row.at.get_or_insert_with(|| now.clone());
            }
            wind.sort_by(|a, b| read_at_m(a).total_cmp(&read_at_m(b)));
            let weather = Weather { wind, air: read.air.or(before.air) };
            self.note_now(about::DAY, &date, WEATHER, &weather)?;
            Ok(WeatherTaken { wind: taken.0, air: taken.1, unused_air: read.unused_air, day: self.day()? })
        })
    }

    /// The fact, and what it says of a day; none if no file was taken or it was set aside.
    pub(crate) fn weather(&self, day: &str) -> Result<Option<(String, Weather)>, ApiError> {
        Ok(self.each_of(about::DAY, day, WEATHER)?.pop())
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::json;

    fn table(rows: &str) -> serde_json::Value {
        json!({"text": format!("height_m,speed_mps,from_deg,pressure_hpa\n{rows}")})
    }

    #[test]
    fn a_newer_file_takes_the_place_of_an_earlier_one_and_a_bad_one_of_nothing() {
        let (_folder, api) = with_logbook();
        called(&api, "take_weather", table("600,9,260,\n300,7,250,\n2,3,240,955\n"));
        let taken = called(&api, "take_weather", table("300,9,250,\n2,3,240,\n"));
        assert_eq!((&taken["wind"], &taken["air"]), (&json!(2), &json!(false)));
        let day = &taken["day"];
        assert_eq!((&day["aloft"][0]["height_m"], &day["aloft"][1]["speed_mps"]), (&json!(2.0), &json!(9.0)));
        assert_eq!((day["aloft"].as_array().unwrap().len(), &day["wind"]), (2, &json!([])));
        assert_eq!(day["air"]["pressure_hpa"], 955.0, "which the newer file does not have");
        assert_eq!(day["force"], 2, "of the row near the ground, for nobody told another");
        let bad = api.call("take_weather", table("2,fast,240,955\n")).unwrap_err();
        assert!(bad.message.starts_with("CSV, line 2, speed_mps: \"fast\""), "{bad}");
        assert_eq!(called(&api, "day", json!({})), *day);
    }

    #[test]
    fn what_was_told_comes_before_a_file_near_the_ground_whichever_was_first() {
        let (_folder, api) = with_logbook();
        called(
            &api,
            "keep_site",
            json!({"field": {"name": "Sedge Meadow"}, "pad": {"name": "pad", "lat": 47.5, "lon": 17.3}}),
        );
        let site = called(&api, "sites", json!({}))[0]["id"].clone();
        let rocket =
            called(&api, "keep_rocket", json!({"told": {"name": "Linnet", "stages": [{"motor": "C6-5"}]}}));
        called(&api, "keep_day", json!({"plan": {"site": site, "load": [{"rocket": rocket["id"]}]}}));
        let heights = |api: &crate::Api| -> Vec<f64> {
            let ready = called(api, "ready_flights", json!({}));
            let rows = ready[0]["flight"]["wind"].as_array().unwrap();
            rows.iter()
                .map(|row| row["height_m"].as_f64().or(row["height_m"]["value"].as_f64()).unwrap())
                .collect()
        };
        let day = called(&api, "take_weather", table("10,3,90,955\n300,7,250,\n"))["day"].clone();
        assert_eq!((&day["unused_near"], heights(&api)), (&json!(0), vec![10.0, 300.0]));
        let day = called(&api, "tell_wind", json!({"toward_deg": 90, "force": 3}));
        assert_eq!((&day["unused_near"], &day["force"]), (&json!(1), &json!(3)));
        assert_eq!(heights(&api), [10.0, 300.0], "the 10 m of what was told, and the wind aloft");
        assert_eq!(
            called(&api, "ready_flights", json!({}))[0]["flight"]["wind"][0]["from_deg"]["value"],
            270.0
        );
        let day = called(&api, "take_weather", table("10,9,10,955\n"))["day"].clone();
        assert_eq!(
            (&day["unused_near"], &day["force"], &day["wind"][0]["from_deg"]["value"]),
            (&json!(1), &json!(3), &json!(270.0))
        );
        // "The same" is as what was told, not as a file has it.
        let day = called(&api, "tell_wind", json!({"change": "same"}));
        assert_eq!(day["wind"][1]["from_deg"]["value"], 270.0);
    }

    #[test]
    fn what_a_file_brought_is_taken_away_as_a_whole_and_brought_back() {
        let (_folder, api) = with_logbook();
        let day = called(&api, "take_weather", table("10,3,90,955\n300,7,250,\n"))["day"].clone();
        let aside = called(&api, "set_aside", json!({"id": day["weather"]}));
        let without = called(&api, "day", json!({}));
        assert_eq!(
            (&without["aloft"], &without["air"], &without["weather"]),
            (&json!([]), &json!(null), &json!(null))
        );
        called(&api, "undo", json!({"id": aside}));
        assert_eq!(called(&api, "day", json!({})), day);
    }
}
