//! What the altimeter said, and what the flyer says it did.

use super::Target;
use crate::Priors;
use crate::model::{Model, Story};
use crate::normal::ln_normal;
use windfall_facts::{Altimeter, Mode, Saw, Sure};
use windfall_physics::air::indicated_height_m;

/// One figure of an altimeter.
#[derive(Clone, Copy, Debug)]
pub(super) struct Instrument {
    target: Target,
    figure: Figure,
    said: f64,
    sigma: f64,
    /// Indicated over true height.
    indicated: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Figure {
    Apogee,
    TimeToApogee,
    FallSpeed,
    Duration,
}

impl Instrument {
    /// The figures given, each with the log density it has if the altimeter is mistaken (another flight, another
    /// unit): log-normal about itself, a factor of `e` wide.
    pub(super) fn all_of(it: &Altimeter, target: Target, model: &Model, priors: &Priors) -> Vec<(Self, f64)> {
        let indicated = if it.temperature_corrected {
            1.0
        } else {
            indicated_height_m(1.0, model.ground, model.elevation_m)
        };
        let rows = [
            (Figure::Apogee, it.apogee_m, it.apogee_m.map(|m| priors.b("altimeter_apogee") * m + 1.0)),
            // Times are read off a log of some samples a second; a fall speed is a mean over gusts: judgement.
            (Figure::TimeToApogee, it.time_to_apogee_s, Some(0.3)),
            (Figure::FallSpeed, it.descent_rate_mps, it.descent_rate_mps.map(|v| 0.08 * v + 0.2)),
            (Figure::Duration, it.duration_s, Some(1.5)),
        ];
        rows.into_iter()
            .filter_map(|(figure, said, sigma)| {
                let said = said?;
                let ln_wide = ln_normal(1.0, 1.0) - said.abs().max(0.1).ln();
                Some((Self { target, figure, said, sigma: sigma?, indicated }, ln_wide))
            })
            .collect()
    }

    /// What was said less what was to be expected, over its error.
    pub(super) fn residual(&self, story: &Story) -> f64 {
        (self.said - self.expected(story)) / self.sigma
    }

    fn expected(&self, story: &Story) -> f64 {
        let body = self.target.body(story);
        match self.figure {
            Figure::Apogee => story.apogee(body).1[2] * self.indicated,
            Figure::TimeToApogee => story.apogee(body).0,
            Figure::FallSpeed => story.fall_mps(body) * self.indicated,
            Figure::Duration => story.landed_s(body),
        }
    }

    pub(super) fn ln_likelihood(&self, story: &Story) -> f64 {
        ln_normal(self.said - self.expected(story), self.sigma)
    }
}

/// What it did, in a witness's words: odds on modes, never law.
#[derive(Clone, Copy, Debug)]
pub(super) struct Word {
    said: Mode,
    ln_odds: f64,
}

impl Word {
    pub(super) fn of(it: &Saw, model: &Model, priors: &Priors) -> Self {
        let odds = match it.sure {
            Sure::Sure => priors.a("saw_odds_sure"),
            Sure::Think => priors.a("saw_odds_think"),
            Sure::Told => priors.a("saw_odds_told"),
        };
        let has = |mode: Mode| model.modes.iter().any(|row| row.0 == mode);
        let said = it.mode.mode();
        // A rocket with no parts named that "came apart" is one whose cord broke.
        let said = if said == Mode::CameApart && !has(said) { Mode::CordBroke } else { said };
        Self { said, ln_odds: odds.ln() }
    }

    /// Whether this mode is neither what was said nor looks like it.
    pub(super) fn denies(&self, mode: Mode) -> bool {
        self.ln_likelihood(mode) <= 0.0
    }

    /// Modes that look alike from the ground share half of the log odds: the confusion table.
    pub(super) fn ln_likelihood(&self, mode: Mode) -> f64 {
        const ALIKE: [(Mode, Mode); 6] = [
            (Mode::Opens, Mode::OpensLate),
            (Mode::Opens, Mode::Tangled),
            (Mode::CameApart, Mode::CordBroke),
            (Mode::NoneOpened, Mode::SecondStageUnlit),
            (Mode::NoneOpened, Mode::MotorKickedOut),
            (Mode::Tangled, Mode::MotorKickedOut),
        ];
        let alike = ALIKE.contains(&(self.said, mode)) || ALIKE.contains(&(mode, self.said));
        if mode == self.said {
            self.ln_odds
        } else if alike || mode == Mode::Unmodelled {
            0.5 * self.ln_odds
        } else {
            0.0
        }
    }
}
