//! What each flight teaches, and what all of them together say about the next.
//!
//! Every quantity that is learned is two coordinates: what stays with a thing (a rocket, its recovery device, a motor, a
//! phone, a site) and what is new each flight; the table of priors says how much of the variance stays. A closed flight
//! leaves a [`Lesson`]: what its own evidence said, its prior taken out again, so that lessons can be put together in any
//! order and one of them left out at once. [`Beliefs`] are lessons put together for one flight to come.

mod beliefs;
mod day;
mod gaussian;
mod message;
mod words;

pub(crate) use beliefs::{Adjustment, Moved};
pub use beliefs::{Beliefs, Subject};
pub use day::Sounding;
pub(crate) use day::site;
pub use message::{Message, Spoken};

use crate::cloud::{Cloud, Draw};
use serde::{Deserialize, Serialize};
use windfall_facts::Mode;

/// A thing that stays from flight to flight.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// A rocket, by its identifier or name, and one of its stages.
    Rocket(String, usize),
    /// A recovery device as it is rigged in that stage: rigged another way, it is another.
    Recovery(String, usize, String),
    /// A kind of motor, by its designation.
    Motor(String),
    /// A phone.
    Phone(String),
    /// Whoever watches.
    Observer(String),
    /// Where one flies.
    Site(String),
}

/// What is learned about a thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Trait {
    /// Drag area of the open recovery device.
    OpenDrag,
    /// Drag area of what tumbles.
    TumblingDrag,
    /// Mass without motor.
    Mass,
    /// Drag area on the way up.
    AscentDrag,
    /// How full the motors of the class are, and the impulse of this one.
    Fill,
    /// Impulse about that.
    Impulse,
    /// Mean thrust.
    Thrust,
    /// Time from burnout to ejection.
    Delay,
    /// Heading bias of the phone.
    Heading,
    /// Elevation offset of the phone.
    Tilt,
    /// How late the watch is started.
    Clock,
    /// Roughness of the ground.
    Roughness,
    /// Slope of the wind profile.
    Stability,
    /// Shear above 80 m.
    Shear,
    /// Turn of the wind with height.
    Veer,
}

impl Trait {
    /// Whether it belongs to the air, which changes from day to day more than within one.
    fn is_of_the_air(self) -> bool {
        matches!(self, Self::Stability | Self::Shear | Self::Veer)
    }
}

/// A coordinate of a flight's latent space of which some part stays.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Learnable {
    pub(crate) thing: Thing,
    pub(crate) what: Trait,
    /// Place among all standard normals.
    pub(crate) at: usize,
    /// Part of the variance that stays.
    pub(crate) lasting: f64,
    /// What one standard deviation of it does, for words: standard deviation of the logarithm, or degrees.
    pub(crate) scale: f64,
}

/// How often one way of coming down was likelier after the evidence than before.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ModeRatio {
    /// The way.
    pub mode: Mode,
    /// Chance after over chance before.
    pub ratio: f64,
}

/// What a closed flight teaches.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lesson {
    /// The flight, by its identifier or title.
    pub flight: Option<String>,
    /// When it was launched, RFC 3339.
    pub at: Option<String>,
    /// Model that read it.
    pub model_version: String,
    /// Whether any of its parts was found.
    pub found: bool,
    /// Rocket and recovery device whose ways of coming down these are.
    pub recovery: Option<Thing>,
    /// Ways it may have come down.
    pub modes: Vec<ModeRatio>,
    /// What it says of things, together.
    pub message: Message,
    /// The wind that it met.
    pub sounding: Option<Sounding>,
}

impl Lesson {
    /// A phone was pointed at something whose direction is known, but for a standard error of `place_deg`, and read this
    /// many degrees too much, clockwise.
    ///
    /// # Source
    /// Spread of such a check: `heading_bias_phone_checked` in the table of priors, over `heading_bias_phone_unchecked`.
    #[must_use]
    pub fn of_heading_check(phone: &str, too_much_deg: f64, place_deg: f64, priors: &crate::Priors) -> Self {
        let unit_deg = priors.b("heading_bias_phone_unchecked");
        let error = priors.b("heading_bias_phone_checked").hypot(place_deg) / unit_deg;
        let precision = error.powi(-2);
        Self {
            flight: None,
            at: None,
            model_version: crate::MODEL_VERSION.into(),
            found: false,
            recovery: None,
            modes: Vec::new(),
            message: Message {
                of: vec![Spoken {
                    thing: Thing::Phone(phone.into()),
                    what: Trait::Heading,
                    lasting: priors.lasting("heading_bias_phone_unchecked"),
                }],
                precision: vec![precision],
                shift: vec![precision * too_much_deg / unit_deg],
            },
            sounding: None,
        }
    }
}

impl Cloud {
    /// What this flight teaches.
    ///
    /// # Model
    /// Mean and covariance of what can be learned over all draws but those of a flight that no mode describes; a Gaussian
    /// message is what turns the prior into them. It is joint: a find speaks of a product of many traits, and one message a
    /// trait would blame each for all of it, flight after flight. Of what the evidence does not speak it is noise of both
    /// signs, which averages out. The cloud should have been worked out with [`Beliefs::to_learn_with`] of the other
    /// flights, so that the Gaussian is laid where the truth is.
    /// # Source
    /// Messages about one factor given what all others say: T. P. Minka, Expectation propagation for approximate Bayesian
    /// inference, Proc. 17th Conf. Uncertainty in Artificial Intelligence (2001) 362, from memory; one round, in order.
    #[must_use]
    pub fn lesson(&self) -> Lesson {
        let described: Vec<&Draw> =
            self.draws.iter().filter(|draw| draw.mode != Mode::Unmodelled && draw.weight > 0.0).collect();
        let total: f64 = described.iter().map(|draw| draw.weight).sum();
        let message = if total > 0.0 && !self.contradicted {
            Message::of(self, &described, total)
        } else {
            Message::default()
        };
        let modes = self
            .model
            .modes
            .iter()
            .map(|(mode, prior)| ModeRatio {
                mode: *mode,
                ratio: self
                    .draws
                    .iter()
                    .filter(|draw| draw.mode == *mode)
                    .map(|draw| draw.weight)
                    .sum::<f64>()
                    / prior,
            })
            .collect();
        Lesson {
            flight: self.flight.id.clone().or_else(|| self.flight.title.clone()),
            at: self.flight.launch.at.clone(),
            model_version: crate::MODEL_VERSION.into(),
            found: self
                .flight
                .evidence
                .iter()
                .any(|it| matches!(it, windfall_facts::Evidence::Find(_)) && !it.set_aside()),
            recovery: self.model.recovery(&self.flight),
            modes,
            message,
            sounding: day::sounding(self, &described, total),
        }
    }
}
