//! How many days what is missing has lain out there, and whether it may be gone.

use crate::{Api, ApiError, clock};
use chrono::NaiveDate;
use windfall_facts::{Answer, Flight, Gone, LatLon};
use windfall_inference::may_be_gone;

/// Days from the launch to a day; none of a flight that says no time. Before the launch is the day itself.
fn days_until(flight: &Flight, day: NaiveDate) -> Option<usize> {
    let launched: NaiveDate = flight.launch.at.as_deref()?.get(..10)?.parse().ok()?;
    Some(usize::try_from((day - launched).num_days()).unwrap_or(0))
}

impl Api {
    /// Whether what of a flight is still missing may have been taken by a day; none if all of it is found.
    pub(crate) fn gone_by(&self, flight: &Flight, day: NaiveDate) -> Option<Gone> {
        if crate::list_flights::missing(flight).is_empty() {
            return None;
        }
        may_be_gone(flight, days_until(flight, day)?, &self.priors)
    }

    /// Where every part may lie, as it stands today: see [`Api::locate`].
    pub(crate) fn locate_today(
        &self,
        flight: &Flight,
        from: Option<LatLon>,
        samples: Option<usize>,
    ) -> Result<Answer, ApiError> {
        let answer = self.locate(flight, from, samples, &self.settings)?;
        Ok(Answer { gone: self.gone_by(flight, clock::today()), ..answer })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, LocateText, Settings};
    use serde_json::{Value, json};

    fn flight(launched: &str, evidence: &Value) -> Value {
        json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.5, "lon": 17.3},
            "field": {"place": "public_place"}, "launch": {"at": format!("{launched}T11:00:00+02:00")},
            "rocket": {"stages": [{"motor": "A8-3"}]}, "evidence": evidence})
    }

    #[test]
    fn an_answer_for_a_later_day_says_that_it_may_be_gone() {
        let said = |on: Option<&str>, evidence: &Value| {
            let how = LocateText { on: on.map(|day| day.parse().unwrap()), ..LocateText::default() };
            let text = flight("2026-05-16", evidence).to_string();
            Api::new(Settings::default()).locate_text(&text, &how).unwrap().answer.gone.map(|it| it.text)
        };
        let after_three = Some("It may be gone: after 3 days in a public place, about 2 of 10.".to_owned());
        assert_eq!(said(Some("2026-05-19"), &json!([])), after_three);
        assert_eq!(said(None, &json!([])), None, "no day was named, and no clock is read");
        assert_eq!(said(Some("2026-05-16"), &json!([])), None);
        assert_eq!(said(Some("2026-05-01"), &json!([])), None);
        let found = json!([{"kind": "find", "part": "rocket", "at": {"lat": 47.5, "lon": 17.301}}]);
        assert_eq!(said(Some("2026-05-19"), &found), None, "it is in hand");
    }

    #[test]
    fn in_the_hand_it_is_today_that_counts() {
        let api = Api::new(Settings::default());
        let days_ago = |days: u64| (crate::clock::today() - chrono::Days::new(days)).to_string();
        let gone = |launched: &str| {
            called(&api, "answer_flight", json!({"flight": flight(launched, &json!([]))}))["gone"].clone()
        };
        assert_eq!(gone(&days_ago(0)), Value::Null);
        assert_eq!(gone(&days_ago(5))["days"], 5);
        assert_eq!(called(&api, "locate_flight", json!({"id": "f"}))["gone"]["days"], 5);
    }
}
