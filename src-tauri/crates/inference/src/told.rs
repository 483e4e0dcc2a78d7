//! What flyers say without a compass or a watch, in the terms that the evidence is weighed in.

use crate::model::Model;
use crate::{Beliefs, Cloud, LocateError, Priors, Settings, cloud};
use windfall_facts::{Evidence, Flight, LatLon, North, Sighting, TimedBy};
use windfall_quantities::{LocalFrame, Position};

/// The cloud of possible flights for what is known of `flight` (checked by `windfall_facts::read_flight`).
///
/// # Errors
/// When the facts lie outside the model's domain; evidence that contradicts everything is no error.
pub fn locate(flight: &Flight, priors: &Priors, settings: &Settings) -> Result<Cloud, LocateError> {
    locate_knowing(flight, priors, &Beliefs::default(), settings)
}

/// As [`locate`], with what earlier flights taught.
///
/// # Errors
/// As [`locate`].
pub fn locate_knowing(
    flight: &Flight,
    priors: &Priors,
    beliefs: &Beliefs,
    settings: &Settings,
) -> Result<Cloud, LocateError> {
    let priors = &timed(priors, flight.launch.timed_by);
    cloud::locate(&with_bearings(flight, priors)?, priors, beliefs, settings)
}

/// The table in which the launch was timed as it was.
fn timed(priors: &Priors, timed_by: Option<TimedBy>) -> Priors {
    match timed_by {
        None | Some(TimedBy::Tap) => priors.clone(),
        Some(by) => priors.timed_as(launch_row(by)),
    }
}

/// The row of the table that says how far off such a start of a watch is.
pub(crate) fn launch_row(by: TimedBy) -> &'static str {
    match by {
        TimedBy::Tap => "launch_time_tap",
        TimedBy::Countdown => "launch_time_countdown",
        TimedBy::Sound => "launch_time_sound",
        TimedBy::Recalled => "launch_time_recalled",
        TimedBy::OtherPhone => "launch_time_other_phone",
        TimedBy::Counted => "launch_time_counted",
        TimedBy::Video => "launch_time_video",
    }
}

/// The flight with a bearing for every direction that was told by the wind or by a place.
///
/// # Model
/// Straight downwind is where the readings say that it blows; their error widens the sighting. That the wind of the
/// same possible flight carries the rocket too is not used, so such a sighting says a little less than it could.
pub(crate) fn with_bearings(flight: &Flight, priors: &Priors) -> Result<Flight, LocateError> {
    let mut told = flight.clone();
    let by_wind = |it: &Evidence| matches!(it, Evidence::Sighting(it) if it.downwind_deg.is_some());
    let towards = if flight.evidence.iter().any(by_wind) {
        Model::of(flight, priors, (0, 0), &Beliefs::default())?.wind.towards()
    } else {
        None
    };
    for piece in &mut told.evidence {
        let Evidence::Sighting(it) = piece else { continue };
        if let (None, Some(turn_deg), Some((towards, error))) = (it.bearing_deg, it.downwind_deg, towards) {
            it.bearing_deg = Some((towards.to_degrees() + turn_deg).rem_euclid(360.0));
            it.north = North::True;
            let eye_deg = it.sigma_deg.unwrap_or_else(|| priors.b("instrument_direction_eye"));
            it.sigma_deg = Some(eye_deg.hypot(error.to_degrees()).min(90.0));
        } else if let (None, Some(place)) = (it.bearing_deg, it.in_line_with) {
            it.bearing_deg = bearing_to(it, place, flight);
            it.north = North::True;
        }
    }
    Ok(told)
}

/// Degrees from true north from the observer to `place`; none if they are the same.
fn bearing_to(it: &Sighting, place: LatLon, flight: &Flight) -> Option<f64> {
    let from = it.from.unwrap_or(LatLon { lat: flight.pad.lat, lon: flight.pad.lon });
    let eye = Position::new(from.lat, from.lon).ok()?;
    let way = LocalFrame::about(eye).offset_of(Position::new(place.lat, place.lon).ok()?);
    (way.length_m() > 1.0).then(|| way.bearing().degrees())
}

#[cfg(test)]
mod tests {
    use super::*;
    use windfall_facts::read_flight;

    fn flight(wind: &str, sighting: &str) -> Flight {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}}, "wind": [{wind}],
                "rocket": {{"stages": [{{"motor": "C6-5"}}]}}, "evidence": [{{"kind": "sighting", "moment": "lost", {sighting}}}]}}"#
        );
        read_flight(&text).unwrap()
    }

    fn sighting(wind: &str, told: &str) -> Sighting {
        let told = with_bearings(&flight(wind, told), &Priors::embedded()).unwrap();
        match &told.evidence[0] {
            Evidence::Sighting(it) => it.clone(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn left_of_downwind_is_left_of_where_the_wind_blows() {
        // From the west at 270 degrees it blows towards 090; thirty degrees left of that is 060.
        let it = sighting(r#"{"speed_mps": 3, "from_deg": 270}"#, r#""downwind_deg": -30, "method": "eye""#);
        assert!((it.bearing_deg.unwrap() - 60.0).abs() < 1e-6, "{it:?}");
        assert!(it.sigma_deg.unwrap() > 15.0, "the doubt of the wind is added: {it:?}");
    }

    #[test]
    fn without_a_wind_downwind_is_no_direction() {
        assert_eq!(sighting("", r#""downwind_deg": -30"#).bearing_deg, None);
        let cloud = locate(&flight("", r#""downwind_deg": -30"#), &Priors::embedded(), &Settings::default());
        let answer = cloud.unwrap().answer(None, None);
        assert!(answer.warnings.iter().any(|it| it.contains("downwind")), "{:?}", answer.warnings);
    }

    #[test]
    fn in_line_with_a_place_due_east_is_due_east() {
        let it = sighting("", r#""in_line_with": {"lat": 47.5, "lon": 17.31}, "method": "line""#);
        // The parallel leaves the geodesic by half of 0.01 degrees times the sine of the latitude: 0.004 degrees.
        assert!((it.bearing_deg.unwrap() - 90.0).abs() < 0.005, "{it:?}");
    }

    #[test]
    fn a_time_that_does_not_fit_is_forgiven_if_the_launch_was_counted_back_from_memory() {
        let p_mistaken = |timed_by: &str| {
            // A C6-5 is highest after about 6 s; 22 s is off by more than a tap, not by more than a memory.
            let text = format!(
                r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "rocket": {{"stages": [{{"motor": "C6-5", "dry_mass_g": 60}}]}}, "launch": {{"timed_by": "{timed_by}"}},
                "evidence": [{{"kind": "sighting", "moment": "apogee", "t_s": 22}}]}}"#
            );
            let flight = read_flight(&text).unwrap();
            let answer =
                locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None);
            answer.surprises.first().map_or(0.0, |surprise| surprise.p_mistaken)
        };
        assert!(p_mistaken("tap") > 0.9);
        assert!(p_mistaken("recalled") < 0.5);
    }

    /// Two on one watch saw it land at 55 s; how likely is a mistake, if a third says another time by a watch of their own?
    fn mistaken(t_s: u32, timed_by: &str) -> f64 {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "rocket": {{"stages": [{{"motor": "C6-5", "dry_mass_g": 60}}]}},
                "evidence": [{{"kind": "sighting", "moment": "landed", "t_s": 55}},
                    {{"kind": "sighting", "moment": "landed", "t_s": 55.3, "observer": "Robin"}},
                    {{"kind": "sighting", "moment": "landed", "t_s": {t_s}, "observer": "Wren", "timed_by": {timed_by}}}]}}"#
        );
        let flight = read_flight(&text).unwrap();
        let answer = locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None);
        answer.surprises.iter().map(|it| it.p_mistaken).fold(0.0, f64::max)
    }

    #[test]
    fn another_phone_has_a_watch_of_its_own_and_what_it_says_is_weighed_so() {
        // 6 s later: six times what taps on one watch are apart, less than three times what two watches are.
        let (one, two) = (mistaken(61, "null"), mistaken(61, r#""other_phone""#));
        assert!(one > 0.5, "one watch: {one}");
        assert!(two < 0.5, "two watches: {two}");
    }

    #[test]
    fn seconds_counted_aloud_are_held_loosely_and_those_of_a_film_closely() {
        // 4 s off are two standard deviations of a count, and more than seven of a film and a click.
        let (counted, film) = (mistaken(59, r#""counted""#), mistaken(59, r#""video""#));
        assert!(counted < 0.5, "{counted}");
        assert!(film > 0.5, "{film}");
    }

    #[test]
    fn without_a_wind_the_wind_is_what_would_help() {
        let answer = locate(&flight("", r#""elevation_deg": 20"#), &Priors::embedded(), &Settings::default());
        let would_help = answer.unwrap().answer(None, None).would_help.unwrap_or_default();
        assert!(would_help.contains("wind"), "{would_help}");
    }

    #[test]
    fn a_flight_without_a_motor_has_an_answer_that_asks_for_it() {
        let text = r#"{"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3},
            "wind": [{"speed_mps": 4, "from_deg": 270}], "rocket": {"stages": [{}]},
            "launch": {"rod": {"tilt_deg": 2, "toward_deg": 270}},
            "evidence": [{"kind": "sighting", "moment": "lost", "bearing_deg": 90}]}"#;
        let flight = read_flight(text).unwrap();
        let answer = locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None);
        assert!(answer.warnings.iter().any(|it| it.contains("motor is not known")), "{:?}", answer.warnings);
        assert!(answer.parts[0].regions.last().unwrap().area_m2 > 1000.0);
    }
}
