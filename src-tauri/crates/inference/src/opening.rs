//! When the recovery device should be open.

use crate::evidence::Heads;
use crate::model::{Model, Story};
use crate::{Beliefs, LocateError, Priors, Settings};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use serde::Serialize;
use windfall_facts::{Flight, Mode, Sentence};

/// Possible flights drawn for the times: quantiles to about a tenth of their spread.
const DRAWS: usize = 400;

/// When the recovery device should be open, if all goes as planned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Opening {
    /// Expected, seconds after first motion: as likely earlier as later.
    pub expected_s: f64,
    /// By now 19 of 20 have opened, seconds after first motion.
    pub latest_s: f64,
    /// When 19 of 20 that never open are down, seconds after first motion.
    pub down_unopened_s: f64,
    /// 19 of 20 rise higher than this, m above the pad.
    pub apogee_low_m: f64,
    /// 19 of 20 stay lower than this, m above the pad.
    pub apogee_high_m: f64,
}

/// From the rocket, the motor, the air and what earlier flights taught; the evidence is not looked at.
///
/// # Errors
/// When the facts lie outside the model's domain.
pub fn expected_opening(
    flight: &Flight,
    priors: &Priors,
    beliefs: &Beliefs,
    settings: &Settings,
) -> Result<Opening, LocateError> {
    let model = Model::of(flight, priors, Heads::of(flight).coordinates(), beliefs)?;
    let mut rng = ChaCha8Rng::seed_from_u64(u64::from(settings.seed));
    let mut story = Story::default();
    let (mut open_s, mut down_s, mut apogee_m) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..DRAWS {
        let z: Vec<f64> = (0..model.latents).map(|_| rng.sample(StandardNormal)).collect();
        for (mode, times_s) in [(Mode::Opens, &mut open_s), (Mode::NoneOpened, &mut down_s)] {
            model.tell(mode, &z, &mut story);
            let Some(body) = story.seen_body.last().copied().filter(|_| story.is_finite()) else { continue };
            apogee_m.push(story.apogee(body).1[2]);
            let when_s = if mode == Mode::Opens { story.let_go_s(body) } else { Some(story.landed_s(body)) };
            times_s.extend(when_s);
        }
    }
    let outside = || LocateError::new("rocket", Sentence::OutsideTheModel {});
    Ok(Opening {
        expected_s: quantile(&mut open_s, 0.5).ok_or_else(outside)?,
        latest_s: quantile(&mut open_s, 0.95).ok_or_else(outside)?,
        down_unopened_s: quantile(&mut down_s, 0.95).ok_or_else(outside)?,
        apogee_low_m: quantile(&mut apogee_m, 0.05).ok_or_else(outside)?,
        apogee_high_m: quantile(&mut apogee_m, 0.95).ok_or_else(outside)?,
    })
}

/// None of nothing.
fn quantile(values: &mut [f64], share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the list")]
    let at = (share * values.len() as f64) as usize;
    values.get(at.min(values.len().saturating_sub(1))).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learn::{Thing, Trait};
    use windfall_facts::read_flight;

    fn opening(motor: &str, beliefs: &Beliefs) -> Opening {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "rocket": {{"stages": [{{"motor": "{motor}", "dry_mass_g": 60, "diameter_mm": 25}}]}}}}"#
        );
        let flight = read_flight(&text).unwrap();
        expected_opening(&flight, &Priors::embedded(), beliefs, &Settings::default()).unwrap()
    }

    #[test]
    fn it_opens_when_burn_and_delay_are_over() {
        // A C6 burns its 10 newton seconds (at most, NFPA 1122) at 6 N: about 1.6 s; then 5 s of delay.
        let c6_5 = opening("C6-5", &Beliefs::default());
        assert!((5.5..8.0).contains(&c6_5.expected_s), "{c6_5:?}");
        assert!(c6_5.latest_s > c6_5.expected_s && c6_5.latest_s < 10.0, "{c6_5:?}");
        assert!(c6_5.down_unopened_s > c6_5.latest_s, "{c6_5:?}");
        assert!(c6_5.apogee_low_m > 30.0 && c6_5.apogee_high_m > c6_5.apogee_low_m, "{c6_5:?}");
        let later_s = opening("C6-7", &Beliefs::default()).expected_s - c6_5.expected_s;
        assert!((later_s - 2.0).abs() < 0.3, "{later_s}");
    }

    #[test]
    fn a_motor_known_to_burn_its_delay_slowly_opens_as_much_later() {
        let (priors, motor) = (Priors::embedded(), Thing::Motor("C6-5".into()));
        let slow = Beliefs::default().told(motor, Trait::Delay, 2.0);
        // However it is written on the day.
        let later_s = opening("c6 5", &slow).expected_s - opening("C6-5", &Beliefs::default()).expected_s;
        // Two standard deviations of what stays of a delay of 5 s.
        let stays_s = 2.0 * priors.lasting("delay").sqrt() * priors.b("delay") * 5.0;
        assert!(stays_s > 0.4 && (later_s - stays_s).abs() < 0.15, "{later_s} s later, {stays_s} s stay");
    }
}
