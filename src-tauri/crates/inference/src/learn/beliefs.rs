use super::{Learnable, Lesson, Message, Sounding, Thing, Trait, day, words};
use crate::{LocateError, Priors};
use std::collections::BTreeMap;
use windfall_facts::{Flight, Mode};

/// How a belief moves one coordinate: its mean and standard deviation, in standard deviations of the prior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Adjustment {
    pub(crate) mean: f64,
    pub(crate) sigma: f64,
}

impl Adjustment {
    pub(crate) const NONE: Self = Self { mean: 0.0, sigma: 1.0 };
}

/// What is known about one trait of one thing: mean and variance of what stays, and how many flights stand behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Lasting {
    mean: f64,
    variance: f64,
    flights: usize,
}

impl Lasting {
    const NOTHING: Self = Self { mean: 0.0, variance: 1.0, flights: 0 };
}

/// Flights to which the table's chances of the modes are worth: judgement, the table says "from the log after 20".
const TABLE_WORTH: f64 = 20.0;
/// A belief is said only if it is off the usual by more than this many of its own standard deviations.
const TELLING: f64 = 1.0;
/// A message this many standard deviations off what the others say counts the less the farther it is off.
const ODD: f64 = 2.5;
/// Spread of a message beyond its own, so that one that hardly says anything is never odd.
const SLACK: f64 = 0.3;
/// Part of the variance of the profile's slope, its shear and its turn that stays for an hour or two.
///
/// # Source
/// Autocorrelation of the shear exponent by day at 30 to 60 min, 0.68 and 0.60, of a mast (REFERENCES, measured tables).
const STAYS_ALL_DAY: f64 = 0.6;

/// What earlier flights say about one flight to come.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Beliefs {
    traits: BTreeMap<(Thing, Trait), Lasting>,
    /// Of the air, from flights of the same day at the same site.
    today: BTreeMap<(Thing, Trait), Lasting>,
    modes: BTreeMap<Thing, (Vec<(Mode, f64)>, usize)>,
    soundings: Vec<Sounding>,
}

impl Beliefs {
    /// What `lessons` say about `flight`.
    ///
    /// Lessons of another model version are left out: they speak of other coordinates.
    ///
    /// # Errors
    /// When the facts of the flight lie outside the model's domain.
    pub fn about(flight: &Flight, lessons: &[Lesson], priors: &Priors) -> Result<Self, LocateError> {
        let heads = crate::evidence::Heads::of(flight);
        let model = crate::model::Model::of(flight, priors, heads.coordinates(), &Self::default())?;
        let lessons: Vec<&Lesson> =
            lessons.iter().filter(|it| it.model_version == crate::MODEL_VERSION).collect();
        let site = day::site(flight);
        let is_today = |lesson: &Lesson| day::same_day(lesson.at.as_deref(), flight.launch.at.as_deref());
        let (mut traits, mut today) = (BTreeMap::new(), BTreeMap::new());
        for Learnable { thing, what, lasting, .. } in model.learnable(flight) {
            let messages = |wanted: &dyn Fn(&Lesson) -> bool| -> Vec<&Message> {
                let of_lesson = lessons.iter().filter(|lesson| wanted(lesson));
                of_lesson
                    .flat_map(|lesson| &lesson.messages)
                    .filter(|it| it.thing == thing && it.what == what)
                    .collect()
            };
            if what.is_of_the_air() {
                let of_the_day = messages(&|lesson| is_today(lesson));
                let before = together(Lasting::NOTHING, &messages(&|lesson| !is_today(lesson)), lasting);
                // Of what stays all day a part is the site's.
                let share = (lasting / STAYS_ALL_DAY).min(1.0);
                let start = Lasting {
                    mean: share.sqrt() * before.mean,
                    variance: share * before.variance + 1.0 - share,
                    flights: before.flights,
                };
                today.insert((thing, what), together(start, &of_the_day, STAYS_ALL_DAY));
            } else {
                let known = together(Lasting::NOTHING, &messages(&|_| true), lasting);
                traits.insert((thing, what), known);
            }
        }
        let mut modes = BTreeMap::new();
        if let Some(recovery) = model.recovery(flight) {
            let same: Vec<&Lesson> =
                lessons.iter().copied().filter(|it| it.recovery.as_ref() == Some(&recovery)).collect();
            if !same.is_empty() {
                modes.insert(recovery, (mode_chances(&model.modes, &same), same.len()));
            }
        }
        let soundings = lessons
            .iter()
            .filter(|lesson| is_today(lesson))
            .filter_map(|lesson| lesson.sounding.clone())
            .filter(|it| it.site == site)
            .collect();
        Ok(Self { traits, today, modes, soundings })
    }

    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.traits.is_empty() && self.today.is_empty() && self.modes.is_empty() && self.soundings.is_empty()
    }

    /// The same without the wind of today's flights.
    #[must_use]
    pub fn of_things_only(&self) -> Self {
        Self { soundings: Vec::new(), today: BTreeMap::new(), ..self.clone() }
    }

    /// The wind of today's flights, and nothing else.
    #[must_use]
    pub fn of_today_only(&self) -> Self {
        Self { traits: BTreeMap::new(), modes: BTreeMap::new(), ..self.clone() }
    }

    /// What to read a flight with of which a lesson is to be drawn: all but the winds that today's other flights met, which
    /// stand in lessons of their own and must not come back through this one.
    #[must_use]
    pub fn to_learn_with(&self) -> Self {
        Self { soundings: Vec::new(), ..self.clone() }
    }

    /// What is believed to stay of a trait of the rocket, the phone or the like, in standard deviations of the prior: mean
    /// and standard deviation.
    #[must_use]
    pub fn lasting(&self, thing: &Thing, what: Trait) -> Option<[f64; 2]> {
        self.traits.get(&(thing.clone(), what)).map(|it| [it.mean, it.variance.sqrt()])
    }

    /// Takes this for the value of what stays of a trait, in standard deviations of the prior: an estimator that is told.
    #[must_use]
    pub fn told(mut self, thing: Thing, what: Trait, value: f64) -> Self {
        self.traits.insert((thing, what), Lasting { mean: value, variance: 1e-6, flights: 0 });
        self
    }

    /// Takes this for the wind that an earlier flight of today met: an estimator that is told.
    #[must_use]
    pub fn told_wind(mut self, sounding: Sounding) -> Self {
        self.soundings.push(sounding);
        self
    }

    pub(crate) fn soundings(&self) -> &[Sounding] {
        &self.soundings
    }

    /// How the beliefs move a coordinate of a flight.
    pub(crate) fn adjusts(&self, learnable: &Learnable) -> Adjustment {
        let key = (learnable.thing.clone(), learnable.what);
        let (known, share) = match (self.today.get(&key), self.traits.get(&key)) {
            (Some(known), _) => (known, STAYS_ALL_DAY),
            (None, Some(known)) => (known, learnable.lasting),
            (None, None) => return Adjustment::NONE,
        };
        if known.flights == 0 && known.variance >= 1.0 {
            return Adjustment::NONE;
        }
        Adjustment {
            mean: share.sqrt() * known.mean,
            sigma: (share * known.variance + 1.0 - share).max(1e-4).sqrt(),
        }
    }

    /// The chances of the modes, those of the table changed by what was seen of the same rocket and recovery device.
    pub(crate) fn modes(&self, recovery: Option<&Thing>, table: Vec<(Mode, f64)>) -> Vec<(Mode, f64)> {
        recovery.and_then(|thing| self.modes.get(thing)).map_or(table, |(chances, _)| chances.clone())
    }

    /// Each belief as a sentence that a flyer understands, with the number of flights behind it, the most telling first.
    #[must_use]
    pub fn sentences(&self, flight: &Flight, priors: &Priors) -> Vec<String> {
        if self.is_empty() {
            return Vec::new();
        }
        let heads = crate::evidence::Heads::of(flight);
        let Ok(model) = crate::model::Model::of(flight, priors, heads.coordinates(), &Self::default()) else {
            return Vec::new();
        };
        let mut said: Vec<(f64, String)> = Vec::new();
        for learnable in model.learnable(flight) {
            let key = (learnable.thing.clone(), learnable.what);
            let Some(known) = self.traits.get(&key) else { continue };
            let change = known.mean * learnable.lasting.sqrt() * learnable.scale;
            let telling = known.mean.abs() / known.variance.sqrt();
            let rocket = flight.rocket.name.as_deref();
            if known.flights > 0
                && telling > TELLING
                && let Some(sentence) = words::of_trait(&learnable, rocket, change, known.flights)
            {
                said.push((telling, sentence));
            }
        }
        if !self.soundings.is_empty() {
            said.push((1e3, words::of_soundings(self.soundings.len())));
        }
        for (thing, (chances, flights)) in &self.modes {
            let Thing::Recovery(name, ..) = thing else { continue };
            let rocket = flight.rocket.name.as_deref().unwrap_or(name);
            said.extend(words::of_modes(rocket, chances, &model.modes, *flights).map(|it| (0.5, it)));
        }
        said.sort_by(|a, b| b.0.total_cmp(&a.0));
        said.into_iter().map(|row| row.1).collect()
    }
}

/// What stays, by all messages together.
///
/// # Model
/// A message about the whole speaks of what stays through what is new, which is integrated out. One that is far off what
/// the others say counts less (Huber's weights), so that one odd flight does not swing a belief.
/// # Source
/// P. J. Huber, Robust estimation of a location parameter, Ann. Math. Statist. 35 (1964) 73, from memory.
fn together(start: Lasting, messages: &[&Message], lasting: f64) -> Lasting {
    let speaking: Vec<[f64; 2]> = messages
        .iter()
        .map(|it| {
            let dims = (1.0 + (1.0 - lasting) * it.precision).max(0.05);
            [lasting * it.precision / dims, lasting.sqrt() * it.shift / dims]
        })
        .collect();
    let mut weights = vec![1.0; speaking.len()];
    let mut known = start;
    for _ in 0..8 {
        let sum = |at: usize| -> f64 { speaking.iter().zip(&weights).map(|(row, w)| w * row[at]).sum() };
        // Noise alone cannot make it less certain than before.
        let precision = (1.0 / start.variance + sum(0)).max(1.0 / start.variance);
        let mean = (start.mean / start.variance + sum(1)) / precision;
        known = Lasting { mean, variance: 1.0 / precision, flights: start.flights + speaking.len() };
        for (weight, [precision, shift]) in weights.iter_mut().zip(&speaking) {
            let spread =
                (precision.max(0.0) * (1.0 + precision.max(0.0) * known.variance) + SLACK * SLACK).sqrt();
            let off = (shift - precision * known.mean).abs() / spread;
            *weight = if off > ODD { ODD / off } else { 1.0 };
        }
    }
    known
}

/// Chances of the modes: the table's as so many flights, and each lesson's share of one, found by expectation and
/// maximisation.
fn mode_chances(table: &[(Mode, f64)], lessons: &[&Lesson]) -> Vec<(Mode, f64)> {
    let mut chances = table.to_vec();
    for _ in 0..20 {
        let mut counts: Vec<f64> = table.iter().map(|row| TABLE_WORTH * row.1).collect();
        for lesson in lessons {
            let ratio = |mode: Mode| {
                lesson.modes.iter().find(|it| it.mode == mode).map_or(1.0, |it| it.ratio.max(0.0))
            };
            let shares: Vec<f64> = chances.iter().map(|(mode, chance)| chance * ratio(*mode)).collect();
            let total: f64 = shares.iter().sum();
            if total > 0.0 {
                for (count, share) in counts.iter_mut().zip(shares) {
                    *count += share / total;
                }
            }
        }
        let total: f64 = counts.iter().sum();
        for (chance, count) in chances.iter_mut().zip(counts) {
            chance.1 = count / total;
        }
    }
    chances
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(precision: f64, value: f64) -> Message {
        Message {
            thing: Thing::Phone("Ann's".into()),
            what: Trait::Heading,
            precision,
            shift: precision * value,
        }
    }

    #[test]
    fn messages_about_the_whole_teach_what_stays_as_the_closed_form_says() {
        // z = sqrt(s) u + sqrt(1 - s) e, seen as y with error variance 1 / p: y is sqrt(s) u with variance 1 - s + 1 / p.
        let (share, precision, seen) = (0.45, 4.0, [0.8, 1.2, 0.9]);
        let messages: Vec<Message> = seen.iter().map(|value| message(precision, *value)).collect();
        let known = together(Lasting::NOTHING, &messages.iter().collect::<Vec<_>>(), share);
        let error2 = 1.0 - share + 1.0 / precision;
        let exact = 1.0 + 3.0 * share / error2;
        let mean = share.sqrt() * seen.iter().sum::<f64>() / error2 / exact;
        assert!((known.variance - 1.0 / exact).abs() < 1e-12, "{known:?}");
        assert!((known.mean - mean).abs() < 1e-12, "{known:?} {mean}");
    }

    #[test]
    fn traits_that_a_find_speaks_of_together_share_what_it_says() {
        // Each flight sees a u + b v, with an error of its own; u and v both stay. The sum is 1.5 in truth, and two
        // separate beliefs must not say it twice.
        let (a, b, error2, seen) = (1.0, 0.8, 4.0, 1.5);
        let names = [Trait::OpenDrag, Trait::Mass];
        let learned = |knowing: bool| {
            let mut heard: [Vec<Message>; 2] = Default::default();
            let belief =
                |heard: &[Message]| together(Lasting::NOTHING, &heard.iter().collect::<Vec<_>>(), 1.0);
            for _ in 0..30 {
                let priors = [0, 1].map(|at| {
                    let known = if knowing { belief(&heard[at]) } else { Lasting::NOTHING };
                    Adjustment { mean: known.mean, sigma: known.variance.sqrt() }
                });
                let spread2 = (a * priors[0].sigma).powi(2) + (b * priors[1].sigma).powi(2) + error2;
                let off = seen - a * priors[0].mean - b * priors[1].mean;
                for ((heard, prior), (by, what)) in
                    heard.iter_mut().zip(priors).zip([a, b].into_iter().zip(names))
                {
                    // Kalman's step for one coordinate, in standard deviations of its prior.
                    let gain = by * prior.sigma / spread2;
                    let posterior = (gain * off, 1.0 - gain * by * prior.sigma);
                    heard.push(Message::between(prior, posterior, Thing::Site("a".into()), what));
                }
            }
            a * belief(&heard[0]).mean + b * belief(&heard[1]).mean
        };
        // Exactly: the sum has variance a^2 + b^2 before, and thirty errors of 4 / 30.
        let exact = seen * 1.64 / (1.64 + error2 / 30.0);
        let (knowing, alone) = (learned(true), learned(false));
        assert!((knowing - exact).abs() < 0.15, "{knowing}, exactly {exact}");
        assert!(alone > 1.5 * exact, "each by itself: {alone}, exactly {exact}");
    }

    #[test]
    fn one_odd_flight_does_not_swing_a_belief() {
        let mut messages: Vec<Message> = [0.9, 1.1, 1.0, 0.8].map(|value| message(25.0, value)).into();
        let of =
            |messages: &[Message]| together(Lasting::NOTHING, &messages.iter().collect::<Vec<_>>(), 0.7).mean;
        let before = of(&messages);
        messages.push(message(25.0, -9.0));
        let after = of(&messages);
        let plain: f64 = {
            let dims = 1.0 + 0.3 * 25.0;
            let (p, h): (f64, f64) = messages
                .iter()
                .map(|it| (0.7 * it.precision / dims, 0.7_f64.sqrt() * it.shift / dims))
                .fold((1.0, 0.0), |sum, row| (sum.0 + row.0, sum.1 + row.1));
            h / p
        };
        assert!(plain < -0.5, "without the guard it would swing to {plain}");
        assert!((after - before).abs() < 0.5, "{before} to {after}");
    }

    #[test]
    fn what_hardly_says_anything_changes_nothing_however_often_it_is_said() {
        // Noise of both signs about no information.
        let messages: Vec<Message> =
            (0..400).map(|index| message(if index % 2 == 0 { 0.04 } else { -0.04 }, 0.1)).collect();
        let known = together(Lasting::NOTHING, &messages.iter().collect::<Vec<_>>(), 0.7);
        assert!(known.mean.abs() < 0.05 && known.variance > 0.9, "{known:?}");
    }

    #[test]
    fn ways_of_coming_down_are_counted_beside_the_table() {
        let table = [(Mode::Opens, 0.9), (Mode::Tangled, 0.1)];
        let lesson = |ratios: [f64; 2]| Lesson {
            flight: None,
            at: None,
            model_version: crate::MODEL_VERSION.into(),
            found: true,
            recovery: None,
            modes: [Mode::Opens, Mode::Tangled]
                .into_iter()
                .zip(ratios)
                .map(|(mode, ratio)| super::super::ModeRatio { mode, ratio })
                .collect(),
            messages: Vec::new(),
            sounding: None,
        };
        // Ten flights that tangled for sure: (20 x 0.1 + 10) / 30.
        let sure = vec![lesson([0.0, 10.0]); 10];
        let chances = mode_chances(&table, &sure.iter().collect::<Vec<_>>());
        assert!((chances[1].1 - 0.4).abs() < 1e-9, "{chances:?}");
        // Ten of which nothing is known change nothing.
        let unknown = vec![lesson([1.0, 1.0]); 10];
        let chances = mode_chances(&table, &unknown.iter().collect::<Vec<_>>());
        assert!((chances[1].1 - 0.1).abs() < 1e-9, "{chances:?}");
    }
}
