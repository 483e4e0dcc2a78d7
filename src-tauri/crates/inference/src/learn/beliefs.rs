use super::gaussian::{Gaussian, Said};
use super::message::Before;
use super::{Learnable, Lesson, Sounding, Thing, Trait, day, words};
use crate::{LocateError, Priors};
use chrono::NaiveDate;
use std::collections::BTreeMap;
use windfall_facts::{Flight, Mode, Sentence};

/// How a belief moves one coordinate: its mean and standard deviation, in standard deviations of the prior.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Adjustment {
    pub(crate) mean: f64,
    pub(crate) sigma: f64,
}

impl Adjustment {
    pub(crate) const NONE: Self = Self { mean: 0.0, sigma: 1.0 };
}

/// How beliefs move coordinates that they know together: `mean + root z`, in standard deviations of the priors.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Moved {
    at: Vec<usize>,
    mean: Vec<f64>,
    /// Lower triangle in full rows.
    root: Vec<f64>,
}

impl Moved {
    pub(crate) fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// Moves the standard normals `z` of a flight.
    pub(crate) fn apply(&self, z: &[f64]) -> Vec<f64> {
        let k = self.at.len();
        let mut moved = z.to_vec();
        for (i, (at, mean)) in self.at.iter().zip(&self.mean).enumerate() {
            let row = self.root[i * k..=i * k + i].iter().zip(&self.at);
            moved[*at] = mean + row.map(|(root, at)| root * z[*at]).sum::<f64>();
        }
        moved
    }

    /// Writes itself where it belongs among all that can be learned.
    pub(super) fn fill(&self, learnable: &[Learnable], before: &mut Before) {
        let (k, d) = (self.at.len(), learnable.len());
        let place: Vec<Option<usize>> =
            self.at.iter().map(|at| learnable.iter().position(|it| it.at == *at)).collect();
        for (i, row) in place.iter().enumerate() {
            let Some(row) = row else { continue };
            before.mean[*row] = self.mean[i];
            for (j, column) in place.iter().enumerate() {
                if let Some(column) = column {
                    before.root[row * d + column] = self.root[i * k + j];
                }
            }
        }
    }
}

/// What is known about a trait of a thing, but for the law.
#[derive(Clone, Debug, PartialEq)]
struct Known {
    thing: Thing,
    what: Trait,
    /// How many flights speak of it.
    flights: usize,
    /// Of the air, from flights of the same day at the same site.
    today: bool,
}

/// Flights to which the table's chances of the modes are worth: judgement, the table says "from the log after 20".
const TABLE_WORTH: f64 = 20.0;
/// A belief is said only if it is off the usual by more than this many of its own standard deviations.
const TELLING: f64 = 1.0;
/// Traits of other things that are known along: those that most flights speak of.
const ALONG: usize = 32;
/// Part of the variance of the profile's slope, its shear and its turn that stays for an hour or two.
///
/// # Source
/// Autocorrelation of the shear exponent by day at 30 to 60 min, 0.68 and 0.60, of a mast (REFERENCES, measured tables).
const STAYS_ALL_DAY: f64 = 0.6;

/// What earlier flights say about one flight to come.
#[derive(Clone, Debug, PartialEq)]
pub struct Beliefs {
    known: Vec<Known>,
    /// Of what stays of them, in the same order.
    law: Gaussian,
    modes: BTreeMap<Thing, (Vec<(Mode, f64)>, usize)>,
    soundings: Vec<Sounding>,
}

impl Default for Beliefs {
    fn default() -> Self {
        Self { known: Vec::new(), law: Gaussian::standard(0), modes: BTreeMap::new(), soundings: Vec::new() }
    }
}

/// All of a flight that lessons can speak of: what they say of one, they say of every other that is equal in this.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    learnable: Vec<Learnable>,
    modes: Vec<(Mode, f64)>,
    recovery: Option<Thing>,
    site: String,
    day: Option<NaiveDate>,
}

impl Subject {
    /// What of `flight` can be learned.
    ///
    /// # Errors
    /// When the facts of the flight lie outside the model's domain.
    pub fn of(flight: &Flight, priors: &Priors) -> Result<Self, LocateError> {
        let heads = crate::evidence::Heads::of(flight);
        let model = crate::model::Model::of(flight, priors, heads.coordinates(), &Beliefs::default())?;
        Ok(Self {
            learnable: model.learnable(flight),
            recovery: model.recovery(flight),
            modes: model.modes,
            site: day::site(flight),
            day: day::day_of(flight.launch.at.as_deref()),
        })
    }
}

impl Beliefs {
    /// What `lessons` say about `flight`.
    ///
    /// # Errors
    /// When the facts of the flight lie outside the model's domain.
    pub fn about<'a>(
        flight: &Flight,
        lessons: impl IntoIterator<Item = &'a Lesson>,
        priors: &Priors,
    ) -> Result<Self, LocateError> {
        Ok(Self::on(&Subject::of(flight, priors)?, lessons))
    }

    /// What `lessons` say about a flight.
    ///
    /// Lessons of another model version are left out: they speak of other coordinates.
    ///
    /// # Model
    /// What stays of all traits of its things is one Gaussian law, and with it what stays of things that flew with them: a
    /// motor that two rockets share is blamed for no more than is left of both. Of the air, what stays at the site is
    /// learned from other days, what stays today from today's flights.
    pub fn on<'a>(subject: &Subject, lessons: impl IntoIterator<Item = &'a Lesson>) -> Self {
        let lessons: Vec<&Lesson> =
            lessons.into_iter().filter(|it| it.model_version == crate::MODEL_VERSION).collect();
        let is_today =
            |lesson: &Lesson| subject.day.is_some() && day::day_of(lesson.at.as_deref()) == subject.day;
        let (known, law) = together(&subject.learnable, &lessons, &is_today);
        let mut modes = BTreeMap::new();
        if let Some(recovery) = &subject.recovery {
            let same: Vec<&Lesson> =
                lessons.iter().copied().filter(|it| it.recovery.as_ref() == Some(recovery)).collect();
            if !same.is_empty() {
                modes.insert(recovery.clone(), (mode_chances(&subject.modes, &same), same.len()));
            }
        }
        let soundings = lessons
            .iter()
            .filter(|lesson| is_today(lesson))
            .filter_map(|lesson| lesson.sounding.clone())
            .filter(|it| it.site == subject.site)
            .collect();
        let all = Self { known, law, modes: BTreeMap::new(), soundings: Vec::new() };
        Self { modes, soundings, ..all.of(|it| it.flights > 0) }
    }

    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.known.is_empty() && self.modes.is_empty() && self.soundings.is_empty()
    }

    /// The same without the wind of today's flights.
    #[must_use]
    pub fn of_things_only(&self) -> Self {
        Self { soundings: Vec::new(), modes: self.modes.clone(), ..self.of(|it| !it.today) }
    }

    /// The wind of today's flights, and nothing else.
    #[must_use]
    pub fn of_today_only(&self) -> Self {
        Self { soundings: self.soundings.clone(), ..self.of(|it| it.today) }
    }

    /// What is known of some traits, and nothing else.
    fn of(&self, wanted: impl Fn(&Known) -> bool) -> Self {
        let places: Vec<usize> = (0..self.known.len()).filter(|at| wanted(&self.known[*at])).collect();
        Self {
            known: places.iter().map(|at| self.known[*at].clone()).collect(),
            law: self.law.of(&places),
            ..Self::default()
        }
    }

    /// What to read a flight with of which a lesson is to be drawn: all but the winds that today's other flights met, which
    /// stand in lessons of their own and must not come back through this one.
    #[must_use]
    pub fn to_learn_with(&self) -> Self {
        Self { soundings: Vec::new(), ..self.clone() }
    }

    fn place(&self, thing: &Thing, what: Trait) -> Option<usize> {
        self.known.iter().position(|it| it.thing == *thing && it.what == what)
    }

    /// What is believed to stay of a trait of the rocket, the phone or the like, in standard deviations of the prior: mean
    /// and standard deviation.
    #[must_use]
    pub fn lasting(&self, thing: &Thing, what: Trait) -> Option<[f64; 2]> {
        let at = self.place(thing, what).filter(|at| !self.known[*at].today)?;
        Some([self.law.mean[at], self.law.variance(at).sqrt()])
    }

    /// Takes this for the value of what stays of a trait, in standard deviations of the prior: an estimator that is told.
    #[must_use]
    pub fn told(self, thing: Thing, what: Trait, value: f64) -> Self {
        let kept = self.of(|it| it.thing != thing || it.what != what);
        let Self { mut known, law, .. } = kept;
        known.push(Known { thing, what, flights: 0, today: false });
        let law = law.with(value, 1e-6);
        Self { known, law, ..self }
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

    /// The law of a flight's coordinates: what stays, and what is new.
    fn of_whole(&self, learnable: &[&Learnable]) -> (Vec<usize>, Gaussian) {
        let of: Vec<(&Learnable, usize)> =
            learnable.iter().filter_map(|it| Some((*it, self.place(&it.thing, it.what)?))).collect();
        let share = |(it, at): &(&Learnable, usize)| {
            if self.known[*at].today { STAYS_ALL_DAY } else { it.lasting }
        };
        let factors: Vec<f64> = of.iter().map(|it| share(it).sqrt()).collect();
        // A coordinate that is certain would be none.
        let noise: Vec<f64> = of.iter().map(|it| (1.0 - share(it)).max(1e-4)).collect();
        let law = self.law.of(&of.iter().map(|it| it.1).collect::<Vec<_>>()).diluted(&factors, &noise);
        (of.iter().map(|it| it.0.at).collect(), law)
    }

    /// How the beliefs move those coordinates of a flight that the model moves together.
    pub(crate) fn moves(&self, learnable: &[&Learnable]) -> Moved {
        let (at, law) = self.of_whole(learnable);
        Moved { at, root: law.root(), mean: law.mean }
    }

    /// How the beliefs move a coordinate of a flight by itself.
    pub(crate) fn adjusts(&self, learnable: &Learnable) -> Adjustment {
        let (at, law) = self.of_whole(&[learnable]);
        if at.is_empty() {
            return Adjustment::NONE;
        }
        Adjustment { mean: law.mean[0], sigma: law.variance(0).sqrt() }
    }

    /// The chances of the modes, those of the table changed by what was seen of the same rocket and recovery device.
    pub(crate) fn modes(&self, recovery: Option<&Thing>, table: Vec<(Mode, f64)>) -> Vec<(Mode, f64)> {
        recovery.and_then(|thing| self.modes.get(thing)).map_or(table, |(chances, _)| chances.clone())
    }

    /// Each belief as a sentence that a flyer understands, with the number of flights behind it, the most telling first.
    #[must_use]
    pub fn sentences(&self, flight: &Flight, priors: &Priors) -> Vec<Sentence> {
        if self.is_empty() {
            return Vec::new();
        }
        let heads = crate::evidence::Heads::of(flight);
        let Ok(model) = crate::model::Model::of(flight, priors, heads.coordinates(), &Self::default()) else {
            return Vec::new();
        };
        let mut said: Vec<(f64, Sentence)> = Vec::new();
        for learnable in model.learnable(flight) {
            let Some(at) = self.place(&learnable.thing, learnable.what) else { continue };
            let Known { flights, today, .. } = self.known[at];
            let mean = self.law.mean[at];
            let change = mean * learnable.lasting.sqrt() * learnable.scale;
            let telling = mean.abs() / self.law.variance(at).sqrt();
            let rocket = flight.rocket.name.as_deref();
            if flights > 0
                && !today
                && telling > TELLING
                && let Some(sentence) = words::of_trait(&learnable, rocket, change, flights)
            {
                said.push((telling, sentence));
            }
        }
        if !self.soundings.is_empty() {
            said.push((1e3, Sentence::WindOfToday { count: self.soundings.len() }));
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

/// What stays of what can be learned of a flight, by all lessons together; its own coordinates first.
fn together(
    learnable: &[Learnable],
    lessons: &[&Lesson],
    is_today: &dyn Fn(&Lesson) -> bool,
) -> (Vec<Known>, Gaussian) {
    let mut known: Vec<Known> = learnable
        .iter()
        .map(|it| Known {
            thing: it.thing.clone(),
            what: it.what,
            flights: 0,
            today: it.what.is_of_the_air(),
        })
        .collect();
    known.extend(along(&known, lessons));
    let mut places: BTreeMap<(&Thing, Trait), usize> = BTreeMap::new();
    for (at, it) in known.iter().enumerate() {
        places.insert((&it.thing, it.what), at);
    }
    let mut flights = vec![0; known.len()];
    let (mut before, mut today) = (Vec::new(), Vec::new());
    for lesson in lessons {
        let of_today = is_today(lesson);
        let of = &lesson.message.of;
        let kept: Vec<Option<usize>> =
            of.iter().map(|it| places.get(&(&it.thing, it.what)).copied()).collect();
        if kept.iter().all(Option::is_none) {
            continue;
        }
        // Of a thing that is not asked about all is new.
        let share: Vec<f64> = of
            .iter()
            .zip(&kept)
            .map(|(it, at)| match at {
                None => 0.0,
                Some(_) if of_today && it.what.is_of_the_air() => STAYS_ALL_DAY,
                Some(_) => it.lasting,
            })
            .collect();
        kept.iter().flatten().for_each(|at| flights[*at] += 1);
        let scale: Vec<f64> = share.iter().map(|it| it.sqrt()).collect();
        let noise: Vec<f64> = share.iter().map(|it| 1.0 - it).collect();
        let said: Said = lesson.message.said().through(&scale, &noise).placed(&kept);
        if of_today { today.push(said) } else { before.push(said) }
    }
    let law = Gaussian::standard(known.len()).after(&before);
    // Of what stays all day a part is the site's.
    let share: Vec<f64> = known
        .iter()
        .zip((0..).map(|at| learnable.get(at)))
        .map(|(it, learnable)| match learnable {
            Some(learnable) if it.today => (learnable.lasting / STAYS_ALL_DAY).min(1.0),
            _ => 1.0,
        })
        .collect();
    let (factors, fresh): (Vec<f64>, Vec<f64>) = share.iter().map(|it| (it.sqrt(), 1.0 - it)).unzip();
    let law = law.diluted(&factors, &fresh).after(&today);
    drop(places);
    for (it, flights) in known.iter_mut().zip(flights) {
        it.flights = flights;
    }
    (known, law)
}

/// Traits of things that flew together with the rocket, the motor or the phone of `known`, those of most flights first.
fn along(known: &[Known], lessons: &[&Lesson]) -> Vec<Known> {
    let joins = |thing: &Thing| !matches!(thing, Thing::Site(_) | Thing::Observer(_));
    let mut counts: BTreeMap<(&Thing, Trait), usize> = BTreeMap::new();
    for lesson in lessons {
        let of = &lesson.message.of;
        if of.iter().any(|it| joins(&it.thing) && known.iter().any(|known| known.thing == it.thing)) {
            for it in of.iter().filter(|it| joins(&it.thing)) {
                *counts.entry((&it.thing, it.what)).or_default() += 1;
            }
        }
    }
    let mut others: Vec<_> = counts
        .into_iter()
        .filter(|((thing, what), _)| !known.iter().any(|it| it.thing == **thing && it.what == *what))
        .collect();
    others.sort_by_key(|row| core::cmp::Reverse(row.1));
    others.truncate(ALONG);
    others
        .into_iter()
        .map(|((thing, what), _)| Known { thing: thing.clone(), what, flights: 0, today: false })
        .collect()
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
            message: super::super::Message::default(),
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
