//! Lessons of all flights of the logbook, held at hand: the logbook is asked only for what changed since.

use crate::check_heading::HEADING_CHECK;
use crate::logged_flight::{self, EVIDENCE, Logged, logged};
use crate::{Api, ApiError, Code, call::guarded, keep, locked};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, TryLockError, mpsc};
use std::thread;
use windfall_facts::Flight;
use windfall_inference::learn::Subject;
use windfall_inference::{Beliefs, Lesson, Settings, locate_knowing};
use windfall_logbook::{Counting, about};

/// Draws of a flight that is read for what it teaches; as for an answer, one for which they are too few gets more.
const DRAWS: usize = 512;
/// The most flights that are read side by side, with what those before them taught. It does not depend on the machine, so
/// that neither does what is learned.
const WAVE: usize = 32;

/// For so many flights it is kept what the others say about them.
const AT_HAND: usize = 8;

/// How far the reading of flights has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Progress {
    /// Flights read.
    pub done: usize,
    /// Flights to be read.
    pub all: usize,
}

/// What is known of the lessons, and how far the reading is.
#[derive(Debug, Default)]
pub(crate) struct Lessons {
    held: Mutex<Held>,
    /// The latest last.
    together: Mutex<Vec<Together>>,
    /// Held by whoever reads flights.
    reading: Mutex<()>,
    done: AtomicUsize,
    all: AtomicUsize,
}

impl Lessons {
    /// Another logbook is open: all of it is looked at anew.
    pub(crate) fn forget(&self) {
        *locked(&self.held) = Held::default();
        locked(&self.together).clear();
    }
}

/// Where a flight stands: those without a launch time last.
type Place = (bool, i64, String);

#[derive(Debug, Default)]
struct Held {
    /// Up to here the logbook was looked at; none: never.
    mark: Option<i64>,
    flights: BTreeMap<Place, Standing>,
    places: HashMap<String, Place>,
    checks: Vec<Arc<Lesson>>,
}

/// Lessons put together about a flight: as long as these are the lessons, this is what they say.
#[derive(Debug)]
struct Together {
    subject: Subject,
    lessons: Vec<Arc<Lesson>>,
    beliefs: Arc<Beliefs>,
}

impl Together {
    fn is_of(&self, subject: &Subject, lessons: &[Arc<Lesson>]) -> bool {
        // The very same lessons, not equal ones: what is read anew is another.
        let same = |(a, b): (&Arc<Lesson>, &Arc<Lesson>)| Arc::ptr_eq(a, b);
        self.lessons.len() == lessons.len()
            && self.lessons.iter().zip(lessons).all(same)
            && self.subject == *subject
    }
}

/// A flight with evidence.
#[derive(Clone, Debug, Default)]
struct Standing {
    /// Which facts count, and by which model they are read.
    read: String,
    lesson: Option<Arc<Lesson>>,
    /// Whether the lesson is of these facts, and not to be made anew.
    is_read: bool,
    /// Why it could not be read.
    unread: Option<String>,
}

impl Held {
    /// Takes in what changed in the logbook since the last look. The logbook is let go between one flight and the next: a
    /// tap that is to be kept does not wait for all of them.
    fn look(&mut self, api: &Api) -> Result<(), ApiError> {
        let kinds: Vec<&str> = EVIDENCE.into_iter().chain([keep::FLIGHT]).collect();
        // What was known of flights that changed: an answer that was noted changes nothing of what they teach.
        let mut gone = HashMap::new();
        let (mark, changed, heading_checks) = {
            let book = api.open_logbook()?;
            let mark = book.mark()?;
            let (changed, checks) = match self.mark {
                Some(seen) if seen == mark => return Ok(()),
                None => (book.counting(&kinds, None)?, true),
                Some(seen) => {
                    let mut changed = Vec::new();
                    let mut checks = false;
                    for (about, name) in book.changed_since(seen)? {
                        checks |= about == about::PHONE;
                        if about == about::FLIGHT {
                            gone.extend(self.forget(&name).map(|it| (name.clone(), it)));
                            changed.extend(book.counting(&kinds, Some(&name))?);
                        }
                    }
                    (changed, checks)
                }
            };
            let all = if checks { Some(book.all_in_force(about::PHONE, HEADING_CHECK)?) } else { None };
            (mark, changed, all)
        };
        for it in changed {
            let before = gone.remove(&it.flight);
            self.take(it, before, api)?;
        }
        if let Some(checks) = heading_checks {
            let of = |check: &windfall_logbook::Fact| {
                let too_much_deg = check.json["too_much_deg"].as_f64()?;
                let place_deg = check.json["place_deg"].as_f64().unwrap_or(0.0);
                let lesson = Lesson::of_heading_check(&check.name, too_much_deg, place_deg, &api.priors);
                Some(Arc::new(lesson))
            };
            self.checks = checks.iter().filter_map(of).collect();
        }
        self.mark = Some(mark);
        Ok(())
    }

    fn forget(&mut self, name: &str) -> Option<Standing> {
        self.flights.remove(&self.places.remove(name)?)
    }

    fn take(&mut self, it: Counting, before: Option<Standing>, api: &Api) -> Result<(), ApiError> {
        // Without evidence a flight teaches nothing, and without a first word of itself it is none.
        let Some(read) = logged_flight::read(&it.facts) else { return Ok(()) };
        let standing = match before.filter(|it| it.read == read) {
            Some(standing) => standing,
            None => {
                // Lessons that are kept are of the usual priors.
                let kept =
                    if api.has_own_priors { None } else { api.open_logbook()?.lesson(&it.flight, &read)? };
                // What an older program kept in another form is read anew.
                let lesson: Option<Lesson> = kept.and_then(|text| serde_json::from_str(&text).ok());
                Standing { read, is_read: lesson.is_some(), lesson: lesson.map(Arc::new), unread: None }
            }
        };
        let place = (it.launched_s.is_none(), it.launched_s.unwrap_or(0), it.flight.clone());
        self.places.insert(it.flight, place.clone());
        self.flights.insert(place, standing);
        Ok(())
    }

    /// The lessons that were read, of all flights but one.
    fn lessons(&self, but: Option<&str>, fresh_only: bool) -> Vec<Arc<Lesson>> {
        let flights = self.flights.iter().filter(|(place, _)| Some(&*place.2) != but);
        let flights = flights.filter(|(_, it)| it.is_read || !fresh_only);
        flights.filter_map(|(_, it)| it.lesson.clone()).chain(self.checks.iter().cloned()).collect()
    }

    fn to_be_read(&self, but: Option<&str>) -> Vec<String> {
        let flights = self.flights.iter().filter(|(place, _)| Some(&*place.2) != but);
        flights
            .filter(|(_, it)| !it.is_read && it.unread.is_none())
            .map(|(place, _)| place.2.clone())
            .collect()
    }

    /// Puts down what came of reading a flight, if its facts are still those that were read.
    fn put(&mut self, name: &str, read: &str, came: Result<Arc<Lesson>, String>) {
        let standing = self.places.get(name).and_then(|place| self.flights.get_mut(place));
        let Some(standing) = standing.filter(|it| it.read == read) else { return };
        match came {
            Ok(lesson) => (standing.lesson, standing.is_read) = (Some(lesson), true),
            Err(why) => (standing.lesson, standing.unread) = (None, Some(why)),
        }
    }
}

impl Api {
    /// How far [`Api::beliefs`] has come, for another thread; what is done is all there is when nothing is read now.
    #[must_use]
    pub fn beliefs_progress(&self) -> Progress {
        let of = |number: &AtomicUsize| number.load(Ordering::Relaxed);
        Progress { done: of(&self.lessons.done), all: of(&self.lessons.all) }
    }

    /// The lessons of all flights but one, by launch, and why flights could not be read.
    pub(crate) fn lessons_but(&self, but: Option<&str>) -> Result<(Vec<Arc<Lesson>>, Vec<String>), ApiError> {
        let mut held = locked(&self.lessons.held);
        held.look(self)?;
        let why = |(place, it): (&Place, &Standing)| Some(format!("{}: {}", place.2, it.unread.as_ref()?));
        let unread = held.flights.iter().filter_map(why).collect();
        Ok((held.lessons(but, false), unread))
    }

    /// What `lessons` say about `flight`, put together now or at hand.
    pub(crate) fn together(
        &self,
        flight: &Flight,
        lessons: Vec<Arc<Lesson>>,
    ) -> Result<Arc<Beliefs>, ApiError> {
        let subject = Subject::of(flight, &self.priors)?;
        let at_hand = |all: &[Together]| {
            all.iter().rev().find(|it| it.is_of(&subject, &lessons)).map(|it| Arc::clone(&it.beliefs))
        };
        if let Some(beliefs) = at_hand(&locked(&self.lessons.together)) {
            return Ok(beliefs);
        }
        let beliefs = Arc::new(Beliefs::on(&subject, lessons.iter().map(|it| &**it)));
        let mut all = locked(&self.lessons.together);
        // What was said of the same with other lessons will hardly be asked for again.
        match all.iter().position(|it| it.subject == subject) {
            Some(at) => drop(all.remove(at)),
            None if all.len() == AT_HAND => drop(all.remove(0)),
            None => {}
        }
        all.push(Together { subject, lessons, beliefs: Arc::clone(&beliefs) });
        Ok(beliefs)
    }

    /// Reads at most so many flights that were not read before, or (to `rebuild`) all of them; how many. The logbook is free
    /// while flights are worked out, and answers go on with the lessons there are.
    pub(crate) fn read_lessons(
        &self,
        but: Option<&str>,
        most: usize,
        rebuild: bool,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<usize, ApiError> {
        let _reading = match self.lessons.reading.try_lock() {
            Ok(reading) => reading,
            Err(TryLockError::Poisoned(reading)) => reading.into_inner(),
            // An answer does not wait.
            Err(TryLockError::WouldBlock) if most < usize::MAX => return Ok(0),
            Err(TryLockError::WouldBlock) => {
                let message = "beliefs: flights are being read already; wait for them";
                return Err(ApiError::new(Code::BadRequest, message));
            }
        };
        let mut names = {
            let mut held = locked(&self.lessons.held);
            held.look(self)?;
            if rebuild {
                held.flights.values_mut().for_each(|it| (it.is_read, it.unread) = (false, None));
            }
            held.to_be_read(but)
        };
        names.truncate(most);
        let all = names.len();
        self.lessons.all.store(all, Ordering::Relaxed);
        self.lessons.done.store(0, Ordering::Relaxed);
        let _ended = Ended(&self.lessons);
        let mut done = 0;
        let mut step = |done: usize| {
            self.lessons.done.store(done, Ordering::Relaxed);
            progress(Progress { done, all });
        };
        step(0);
        while done < all {
            let before = locked(&self.lessons.held).lessons(but, true);
            let wave = &names[done..all.min(done + before.len().clamp(1, WAVE))];
            let (send, receive) = mpsc::channel();
            let next = AtomicUsize::new(0);
            thread::scope(|scope| -> Result<(), ApiError> {
                for _ in 0..self.settings.threads.clamp(1, wave.len()) {
                    let (send, next, before) = (send.clone(), &next, &before);
                    scope.spawn(move || {
                        while let Some(name) = wave.get(next.fetch_add(1, Ordering::Relaxed)) {
                            let _ = send.send((name, self.read_flight(name, before)));
                        }
                    });
                }
                drop(send);
                for (name, came) in &receive {
                    done += 1;
                    self.keep_lesson(name, came?)?;
                    step(done);
                }
                Ok(())
            })?;
        }
        Ok(done)
    }

    /// What a flight teaches beside the lessons `before` it, or why it cannot be read; none if it has no evidence any more.
    fn read_flight(&self, name: &str, before: &[Arc<Lesson>]) -> Result<Option<Came>, ApiError> {
        let Logged { flight, read, .. } = match logged(&*self.open_logbook()?, name) {
            Ok(Some(logged)) => logged,
            Ok(None) => return Ok(None),
            Err(error) => return Ok(Some(Came { read: None, lesson: Err(error.to_string()) })),
        };
        if flight.evidence.iter().all(windfall_facts::Evidence::set_aside) {
            return Ok(None);
        }
        // One flight that ends in a defect does not keep the others from being read.
        let lesson = guarded(|| self.lesson_of(&flight, before)).map_err(|error| error.to_string());
        Ok(Some(Came { read: Some(read), lesson }))
    }

    fn lesson_of(&self, flight: &Flight, before: &[Arc<Lesson>]) -> Result<Lesson, ApiError> {
        let before = Beliefs::about(flight, before.iter().map(|it| &**it), &self.priors)?.to_learn_with();
        let settings = Settings { threads: 1, draws: self.settings.draws.min(DRAWS), ..self.settings };
        Ok(locate_knowing(flight, &self.priors, &before, &settings)?.lesson())
    }

    fn keep_lesson(&self, name: &str, came: Option<Came>) -> Result<(), ApiError> {
        let mut held = locked(&self.lessons.held);
        let Some(Came { read, lesson }) = came else {
            held.forget(name);
            return Ok(());
        };
        let at_hand = held.places.get(name).and_then(|place| held.flights.get(place));
        let Some(read) = read.or_else(|| at_hand.map(|it| it.read.clone())) else { return Ok(()) };
        if let (Ok(lesson), false) = (&lesson, self.has_own_priors) {
            let json = serde_json::to_string(lesson)
                .map_err(|error| ApiError::new(Code::Defect, error.to_string()))?;
            self.open_logbook()?.keep_lesson(name, &read, &json)?;
        }
        held.put(name, &read, lesson.map(Arc::new));
        Ok(())
    }
}

/// However the reading ends, its progress says so.
struct Ended<'a>(&'a Lessons);

impl Drop for Ended<'_> {
    fn drop(&mut self) {
        self.0.all.store(self.0.done.load(Ordering::Relaxed), Ordering::Relaxed);
    }
}

/// What came of reading a flight.
struct Came {
    /// Which facts were read; none if they could not even be put together.
    read: Option<String>,
    lesson: Result<Lesson, String>,
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, AskBeliefs, Settings};
    use serde_json::{Value, json};
    use std::path::Path;
    use std::sync::Arc;
    use windfall_inference::Beliefs;

    const QUICK: Settings = Settings { seed: 1, draws: 256, threads: 2 };

    fn flight(number: u32) -> Value {
        json!({"format": "windfall-flight/1", "id": format!("f{number}"), "pad": {"lat": 47.5, "lon": 17.3},
            "wind": [{"height_m": 2, "speed_mps": 3, "from_deg": 240, "averaged_s": 60, "method": "meter"}],
            "rocket": {"name": "Siskin", "stages": [{"motor": "C6-5", "dry_mass_g": 60, "diameter_mm": 25,
                "recovery": {"kind": "parachute", "diameter_mm": 300}}]},
            "launch": {"at": format!("2026-05-{:02}T10:00:00+02:00", number + 1)},
            "evidence": [{"kind": "find", "part": "rocket", "at": {"lat": 47.5016, "lon": 17.3030}}]})
    }

    fn open(folder: &Path) -> Api {
        Api::new(QUICK).with_logbook(folder).unwrap()
    }

    #[test]
    fn what_another_program_notes_is_seen_in_the_next_answer() {
        let folder = tempfile::tempdir().unwrap();
        let (here, there) = (open(folder.path()), open(folder.path()));
        let mut asked = flight(0);
        asked["evidence"] = json!([]);
        let answered = || called(&here, "answer_flight", json!({"flight": asked}))["beliefs"].clone();
        assert_eq!(answered(), json!([]));
        for number in 1..9 {
            called(&there, "tell_flight", json!({"flight": flight(number)}));
        }
        let known = here.lessons_but(Some("f0")).unwrap().0.len();
        assert_eq!(known, 0, "told there, and not read yet");
        answered();
        let of = |but| here.lessons_but(but).unwrap().0;
        assert_eq!(of(Some("f0")).len(), 8);
        // Setting a find aside there acts at once here.
        let id = there.open_logbook().unwrap().in_force("flight", "f3", "find").unwrap().swap_remove(0).id;
        let aside = called(&there, "set_aside", json!({"id": id}));
        assert_eq!(of(Some("f0")).len(), 7);
        called(&there, "undo", json!({"id": aside}));
        assert_eq!(of(Some("f0")).len(), 8, "its lesson was kept");
        // A heading check as well.
        called(
            &there,
            "add_fact",
            json!({"about": "phone", "name": "Ann's", "kind": "heading_check", "json": {"too_much_deg": 4}}),
        );
        assert_eq!(of(Some("f0")).len(), 9);
        assert_eq!(of(Some("f1")).len(), 8);
    }

    #[test]
    fn what_flights_say_together_is_at_hand_until_one_of_them_changes_and_then_the_same_as_put_together_anew()
    {
        let folder = tempfile::tempdir().unwrap();
        let api = open(folder.path());
        for number in 1..9 {
            called(&api, "tell_flight", json!({"flight": flight(number)}));
        }
        called(&api, "tell_flight", json!({"flight": flight(0)}));
        api.beliefs(&AskBeliefs::default(), &mut |_| {}).unwrap();
        let asked = windfall_facts::read_flight(&flight(0).to_string()).unwrap();
        let said = || {
            let at_hand = api.beliefs_about(&asked).unwrap();
            let lessons = api.lessons_but(Some("f0")).unwrap().0;
            let anew = Beliefs::about(&asked, lessons.iter().map(|it| &**it), &api.priors).unwrap();
            // Every bit of every figure, as it is printed.
            assert_eq!(format!("{at_hand:?}"), format!("{anew:?}"));
            at_hand
        };
        let first = said();
        assert!(Arc::ptr_eq(&first, &said()), "nothing changed");
        // An answer is a fact about a flight, but nothing is learned from it; nor from what is noted of the flight itself.
        called(&api, "locate_flight", json!({"id": "f4"}));
        let moment = json!([{"kind": "sighting", "moment": "lost", "bearing_deg": 70}]);
        called(&api, "add_evidence", json!({"id": "f0", "evidence": moment}));
        assert!(Arc::ptr_eq(&first, &said()), "nothing that matters changed");
        let id = api.open_logbook().unwrap().in_force("flight", "f3", "find").unwrap().swap_remove(0).id;
        let aside = called(&api, "set_aside", json!({"id": id}));
        let without = said();
        assert_ne!(without, first);
        called(&api, "undo", json!({"id": aside}));
        let again = said();
        assert_eq!(format!("{again:?}"), format!("{first:?}"));
        // A new flight.
        called(&api, "tell_flight", json!({"flight": flight(9)}));
        assert_ne!(said(), first);
        // A thing that the flight was not known to be about.
        let mut other = flight(0);
        other["rocket"]["name"] = "Knot".into();
        let other = windfall_facts::read_flight(&other.to_string()).unwrap();
        assert_ne!(api.beliefs_about(&other).unwrap(), said());
    }

    #[test]
    fn all_flights_are_read_anew_with_progress_and_the_same_comes_of_it_on_any_number_of_threads() {
        let folder = tempfile::tempdir().unwrap();
        let rebuilt = |threads: usize| {
            let api = Api::new(Settings { threads, ..QUICK }).with_logbook(folder.path()).unwrap();
            (1..6).for_each(|number| {
                called(&api, "tell_flight", json!({"flight": flight(number)}));
            });
            let mut seen = Vec::new();
            let asked = AskBeliefs { rebuild: true, ..AskBeliefs::default() };
            let said = api.beliefs(&asked, &mut |progress| seen.push((progress.done, progress.all))).unwrap();
            assert_eq!(seen, [(0, 5), (1, 5), (2, 5), (3, 5), (4, 5), (5, 5)]);
            assert_eq!((said.flights, said.read), (5, 5));
            assert_eq!(called(&api, "beliefs_progress", json!({})), json!({"done": 5, "all": 5}));
            let again = api.beliefs(&AskBeliefs::default(), &mut |_| {}).unwrap();
            assert_eq!((again.read, again.sentences), (0, said.sentences));
            let lessons = api.lessons_but(None).unwrap().0;
            lessons.iter().map(|it| serde_json::to_string(&**it).unwrap()).collect::<Vec<_>>()
        };
        assert_eq!(rebuilt(1), rebuilt(2));
    }
}
