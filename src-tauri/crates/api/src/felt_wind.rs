//! The wind by feel: where grass goes, what it moves, and what became of it since.

use crate::day_plan::{TellWind, WindChange};
use crate::{ApiError, Code};
use windfall_facts::{Figure, Known, North, Sentence, WindMethod, WindReading};
use windfall_physics::air::Beaufort;

/// Height that the speeds of Beaufort's scale are meant for, m.
const HEIGHT_M: f64 = 10.0;
/// Stronger than this nobody tells by feel what it is, and nobody flies.
const MOST_FORCE: u8 = 8;

/// The middle of a force, m/s.
///
/// # Source
/// v = 0.836 B^1.5, WMO; held against the limits of the scale by a test. Calm is as good as nothing.
fn middle_mps(force: u8) -> f64 {
    if force == 0 { 0.1 } else { 0.836 * f64::from(force).powf(1.5) }
}

/// The reading of this minute: what is not said is as in the `last` one.
///
/// # Errors
/// When nothing is said and nothing was, or a number is out of range.
pub(crate) fn reading(
    told: &TellWind,
    last: Option<&WindReading>,
    now: &str,
) -> Result<WindReading, ApiError> {
    let at = Some(now.to_owned());
    let refused = |message: &str| Err(ApiError::new(Code::BadRequest, message));
    if told.force.is_some_and(|force| force > MOST_FORCE) {
        return refused("force: allowed is 0 to 8 on Beaufort's scale");
    }
    if told.toward_deg.is_some_and(|toward_deg| !(-360.0..=360.0).contains(&toward_deg)) {
        return refused("toward_deg: allowed is -360 to 360 degrees from true north");
    }
    let said_deg = told.toward_deg.map(|toward_deg| (toward_deg + 180.0).rem_euclid(360.0));
    if let Some(meter) = &told.meter {
        // A meter in the hand tells how strong; where it goes to is what the grass says.
        let (from_deg, north) = match (meter.from_deg, said_deg) {
            (None, Some(from_deg)) => (Some(Figure::from(from_deg)), North::True),
            _ => (meter.from_deg, meter.north),
        };
        return Ok(WindReading { at: meter.at.clone().or(at), from_deg, north, ..meter.clone() });
    }
    let guess = |value: f64| Some(Figure { value, known: Some(Known::Guessed) });
    let (from_deg, north) = match (said_deg, last) {
        (Some(from_deg), _) => (guess(from_deg), North::True),
        (None, Some(last)) => (last.from_deg, last.north),
        (None, None) => (None, North::True),
    };
    let last_force = last.and_then(|it| it.speed_mps).map(|it| Beaufort::of_speed(it.value).force());
    let force = match (told.force, told.change, last_force) {
        (Some(force), ..) => Some(force),
        (None, Some(WindChange::More), Some(force)) => Some((force + 1).min(MOST_FORCE)),
        (None, Some(WindChange::Less), Some(force)) => Some(force.saturating_sub(1)),
        _ => None,
    };
    // What did not change keeps its number and its height, also if a meter gave them.
    let (speed_mps, height_m, method) = match (force, last) {
        (Some(force), _) => (guess(middle_mps(force)), Some(Figure::from(HEIGHT_M)), WindMethod::Feel),
        (None, Some(last)) => (last.speed_mps, last.height_m, WindMethod::Feel),
        (None, None) => (None, Some(Figure::from(HEIGHT_M)), WindMethod::Feel),
    };
    if speed_mps.is_none() && from_deg.is_none() {
        let message = "toward_deg or force: one is needed, for there is no earlier reading today";
        return Err(ApiError::new(Code::BadRequest, message).saying(Sentence::WindNeeded {}));
    }
    // Coming and going is told as gusts of the next force: judgement.
    let gust = force.filter(|_| told.gusty == Some(true)).map(|force| middle_mps(force + 1));
    Ok(WindReading {
        at,
        height_m,
        averaged_s: None,
        speed_mps,
        gust_mps: gust.and_then(guess),
        from_deg,
        north,
        method: Some(method),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: &str = "2026-05-16T10:00:00+02:00";

    fn said(told: TellWind, last: Option<&WindReading>) -> WindReading {
        reading(&told, last, NOW).unwrap()
    }

    #[test]
    fn the_middle_of_each_force_lies_within_it() {
        for force in 0..=MOST_FORCE + 1 {
            assert_eq!(Beaufort::of_speed(middle_mps(force)).force(), force);
        }
    }

    #[test]
    fn more_and_less_are_a_force_and_turned_keeps_the_strength() {
        let first = said(
            TellWind { toward_deg: Some(90.0), force: Some(3), gusty: Some(true), ..TellWind::default() },
            None,
        );
        assert_eq!(first.from_deg.map(|it| it.value.to_string()).as_deref(), Some("270"));
        assert!(first.gust_mps.unwrap().value > first.speed_mps.unwrap().value);
        let more = said(TellWind { change: Some(WindChange::More), ..TellWind::default() }, Some(&first));
        assert_eq!(Beaufort::of_speed(more.speed_mps.unwrap().value).force(), 4);
        assert_eq!(more.from_deg, first.from_deg);
        let less = said(TellWind { change: Some(WindChange::Less), ..TellWind::default() }, Some(&more));
        assert_eq!(less.speed_mps, first.speed_mps);
        let same = said(TellWind { change: Some(WindChange::Same), ..TellWind::default() }, Some(&first));
        assert_eq!((same.speed_mps, same.from_deg), (first.speed_mps, first.from_deg));
        let turned = said(TellWind { toward_deg: Some(0.0), ..TellWind::default() }, Some(&first));
        assert_eq!(
            (turned.speed_mps, turned.from_deg.map(|it| it.value.to_string())),
            (first.speed_mps, Some("180".to_owned()))
        );
    }

    #[test]
    fn a_meter_tells_how_strong_and_the_grass_where_to() {
        let meter = WindReading { speed_mps: Some(4.2.into()), from_deg: None, ..first_of(270.0) };
        let told = TellWind { toward_deg: Some(90.0), meter: Some(meter), ..TellWind::default() };
        let read = said(told, None);
        assert_eq!((read.speed_mps, read.from_deg), (Some(4.2.into()), Some(270.0.into())));
        let meter = first_of(100.0);
        let told = TellWind { toward_deg: Some(90.0), meter: Some(meter.clone()), ..TellWind::default() };
        assert_eq!(said(told, None).from_deg, meter.from_deg);
    }

    fn first_of(from_deg: f64) -> WindReading {
        WindReading {
            at: None,
            height_m: Some(2.0.into()),
            averaged_s: None,
            speed_mps: Some(3.0.into()),
            gust_mps: None,
            from_deg: Some(from_deg.into()),
            north: North::True,
            method: Some(WindMethod::Meter),
        }
    }

    #[test]
    fn the_same_as_before_needs_a_before() {
        let same = TellWind { change: Some(WindChange::Same), ..TellWind::default() };
        assert!(reading(&same, None, NOW).unwrap_err().message.starts_with("toward_deg or force"));
        let storm = TellWind { force: Some(11), ..TellWind::default() };
        assert!(reading(&storm, None, NOW).unwrap_err().message.starts_with("force: "));
    }
}
