//! What past flights tell: the story of one, how far the wind took them, what a new season needs.

use crate::close_flight::{Search, searched};
use crate::{Api, ApiError, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::{
    Answer, Evidence, Flight, Known, LatLon, Motor, North, Recovery, Rocket, SawMode, Stage, WindReading,
};
use windfall_logbook::{Filter, Word, about};
use windfall_quantities::{LocalFrame, Offset, Position};

/// Which flight.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WhichFlight {
    /// Its identifier.
    pub flight: String,
}

/// A flight as a story.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Story {
    /// As the flight file has it.
    pub flight: Flight,
    /// What happened, in the order it did.
    pub lines: Vec<StoryLine>,
    /// The fact by which the whole flight is set aside; null if it is not in the logbook.
    pub word: Option<String>,
    /// Kept but not used: by this fact it was set aside, which can be undone.
    pub set_aside_by: Option<String>,
    /// Parts that somebody looked for and nobody found.
    pub searches: Vec<Search>,
    /// The answer as it was shown last; null if none was.
    pub shown: Option<Answer>,
    /// Readings that it flew with and that were set aside since. The flight is a word of its own: it keeps them, and its
    /// answer with them, until somebody tells it anew.
    pub winds_aside: Vec<WindReading>,
}

/// A line of the story.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct StoryLine {
    /// launched, apogee, deployment, descent, lost, landed, saw, altimeter, followed, searched, `ruled_out`, found.
    pub what: String,
    /// Seconds after first motion.
    pub t_s: Option<f64>,
    /// Which part.
    pub part: Option<String>,
    /// What it did, as it was seen.
    pub saw: Option<SawMode>,
    /// From the pad, m.
    pub distance_m: Option<f64>,
    /// From the pad, degrees from magnetic north, as the walk says it.
    pub bearing_magnetic_deg: Option<f64>,
    /// How high it came, m.
    pub height_m: Option<f64>,
    /// In what state; which motor.
    pub note: Option<String>,
    /// The fact that says it, by which it can be set aside; null of what is in no logbook.
    pub word: Option<String>,
    /// Kept but not used: by this fact it was set aside, which can be undone.
    pub set_aside_by: Option<String>,
}

/// A find against the wind of its flight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drift {
    /// Which flight.
    pub flight: String,
    /// A line that tells it from others.
    pub title: String,
    /// What it came down on.
    pub device: &'static str,
    /// Mean wind then, m/s, as it was read.
    pub wind_mps: f64,
    /// From the pad to the find, m.
    pub distance_m: f64,
}

/// How far one kind of recovery device goes with the wind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DriftRate {
    /// What they came down on.
    pub device: &'static str,
    /// How many finds.
    pub finds: usize,
    /// Metres for each metre a second of wind: the middle one of the finds.
    pub m_per_mps: f64,
}

/// How far rockets go on windy days.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DriftByWind {
    /// Every find whose wind is known.
    pub finds: Vec<Drift>,
    /// Of each device with at least three finds in more than a breath of wind.
    pub rates: Vec<DriftRate>,
}

/// What to see to before the first flight of a season.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SeasonStart {
    /// (rocket, what waits to be mended).
    pub to_repair: Vec<(String, String)>,
    /// Motors that rockets of the fleet fly on and of which none is in the box.
    pub motors_out: Vec<String>,
    /// Motors that flew within the last year.
    pub motors_flown: Vec<crate::FlownMotor>,
    /// Whether something in the fleet was flown with an altimeter, whose battery wants charging.
    pub altimeter: bool,
}

/// Weaker than this and the distance says nothing about the wind, m/s. Judgement.
const LEAST_MPS: f64 = 0.5;
/// Fewer finds are no rule. Judgement.
const LEAST_FINDS: usize = 3;

impl Api {
    /// One flight, told from beginning to end.
    ///
    /// # Errors
    /// When there is no such flight or it cannot be read.
    pub fn story(&self, asked: &WhichFlight) -> Result<Story, ApiError> {
        guarded(|| {
            let (mut word, mut set_aside_by) = (None, None);
            let (mut searches, mut shown) = (Vec::new(), None);
            let mut told: Vec<Told> = Vec::new();
            let mut kept: Option<Flight> = None;
            if self.has_logbook() {
                let words = self.open_logbook()?.words_of(about::FLIGHT, &asked.flight)?;
                searches = searched(&words);
                told = words.iter().filter_map(Told::of).collect();
                shown = crate::export_file::last_answer(&*self.open_logbook()?, &asked.flight)?;
                if let Some(ground) =
                    words.iter().rfind(|it| it.fact.kind == crate::keep::FLIGHT && !it.taken_back)
                {
                    word = Some(ground.fact.id.clone());
                    if let Some(aside) = ground.set_aside_by() {
                        set_aside_by = Some(aside.id.clone());
                        let mut json = ground.fact.json.clone();
                        json["id"] = asked.flight.clone().into();
                        json["evidence"] = serde_json::json!([]);
                        kept = windfall_facts::read_flight(&json.to_string()).ok();
                    }
                }
            }
            let flight = match kept {
                Some(flight) => flight,
                None => self.flight(&asked.flight)?,
            };
            let lines = lines(&flight, &told);
            let day = flight.launch.at.as_deref().and_then(|at| at.get(..10)).filter(|_| self.has_logbook());
            let mut winds_aside = day.map_or_else(|| Ok(Vec::new()), |day| self.told_winds(day))?;
            winds_aside.retain(|it| it.set_aside_by.is_some() && flight.wind.contains(&it.reading));
            let winds_aside = winds_aside.into_iter().map(|it| it.reading).collect();
            Ok(Story { lines, flight, word, set_aside_by, searches, shown, winds_aside })
        })
    }

    /// Every find of the logbook against the wind of its flight, and how far each device goes with it.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn drift_by_wind(&self) -> Result<DriftByWind, ApiError> {
        guarded(|| {
            let rows = self.open_logbook()?.flights(&Filter::default())?;
            let mut finds = Vec::new();
            for row in rows {
                // A flight that was set aside, or cannot be read, is left out.
                if let Ok(flight) = self.logged_flight(&row.name) {
                    finds.extend(drift(&row.name, &flight));
                }
            }
            let rates =
                ["parachute", "streamer", "tumble"].into_iter().filter_map(|device| rate(device, &finds));
            Ok(DriftByWind { rates: rates.collect(), finds })
        })
    }

    /// What to see to before the first flight of a season.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn season_start(&self) -> Result<SeasonStart, ApiError> {
        guarded(|| {
            let fleet = self.fleet()?;
            let has = |motor: &str| fleet.motors.iter().any(|it| it.motor == motor && it.on_hand > 0);
            let mut motors_out: Vec<String> = Vec::new();
            for stage in fleet.rockets.iter().filter(|it| !it.retired).flat_map(|it| &it.rocket.stages) {
                let motor = stage.motor.as_ref().map(Motor::designation).unwrap_or_default().to_owned();
                if !motor.is_empty() && !has(&motor) && !motors_out.contains(&motor) {
                    motors_out.push(motor);
                }
            }
            let to_repair = fleet.rockets.iter().filter(|it| !it.retired).flat_map(|it| {
                let name = it.rocket.name.clone().unwrap_or_default();
                it.to_repair.iter().map(move |note| (name.clone(), note.clone()))
            });
            let altimeter = !self.open_logbook()?.all_in_force(about::FLIGHT, "altimeter")?.is_empty();
            let a_year_ago = crate::clock::today() - chrono::Days::new(365);
            let motors_flown = self.flown_since(&a_year_ago.to_string())?;
            Ok(SeasonStart { to_repair: to_repair.collect(), motors_out, motors_flown, altimeter })
        })
    }
}

/// A piece of evidence as the logbook has it, set aside or not.
struct Told {
    piece: Evidence,
    word: String,
    set_aside_by: Option<String>,
}

impl Told {
    fn of(word: &Word) -> Option<Self> {
        let is_piece = crate::logged_flight::EVIDENCE.contains(&&*word.fact.kind) && !word.taken_back;
        let mut said = word.fact.json.clone();
        said["kind"] = word.fact.kind.clone().into();
        Some(Self {
            piece: serde_json::from_value(said).ok().filter(|_| is_piece)?,
            word: word.fact.id.clone(),
            set_aside_by: word.set_aside_by().map(|fact| fact.id.clone()),
        })
    }
}

/// What happened, from the flight as it is used; what it has from the logbook can be set aside, and what was is told too.
fn lines(flight: &Flight, told: &[Told]) -> Vec<StoryLine> {
    let motors: Vec<&str> = flight
        .rocket
        .stages
        .iter()
        .filter_map(|stage| stage.motor.as_ref())
        .map(Motor::designation)
        .collect();
    let launched = StoryLine {
        what: "launched".into(),
        t_s: Some(0.0),
        note: (!motors.is_empty()).then(|| motors.join(", ")),
        ..StoryLine::default()
    };
    let known =
        |piece: &Evidence| told.iter().find(|it| it.set_aside_by.is_none() && it.piece.says_what(piece));
    let used = flight.evidence.iter().filter(|it| !it.set_aside()).filter_map(|it| {
        let word = known(it).map(|it| it.word.clone());
        Some(StoryLine { word, ..line(it, flight)? })
    });
    let aside = told.iter().filter(|it| it.set_aside_by.is_some()).filter_map(|it| {
        let (word, set_aside_by) = (Some(it.word.clone()), it.set_aside_by.clone());
        Some(StoryLine { word, set_aside_by, ..line(&it.piece, flight)? })
    });
    let mut lines: Vec<StoryLine> = used.chain(aside).collect();
    // What has no time of the flight keeps its place behind what has one.
    lines.sort_by(|a, b| a.t_s.unwrap_or(f64::INFINITY).total_cmp(&b.t_s.unwrap_or(f64::INFINITY)));
    lines.insert(0, launched);
    lines
}

fn line(piece: &Evidence, flight: &Flight) -> Option<StoryLine> {
    let bare = |what: &str| StoryLine { what: what.into(), ..StoryLine::default() };
    Some(match piece {
        Evidence::Sighting(it) => {
            let what = serde_json::to_value(it.moment).ok()?.as_str()?.to_owned();
            StoryLine { t_s: it.t_s, part: it.part.clone(), ..bare(&what) }
        }
        Evidence::Track(it) => StoryLine {
            t_s: it.samples.last().map(|sample| sample[0]),
            part: it.part.clone(),
            ..bare("followed")
        },
        Evidence::Altimeter(it) => {
            StoryLine { t_s: it.time_to_apogee_s, height_m: it.apogee_m, ..bare("altimeter") }
        }
        Evidence::Saw(it) => StoryLine { saw: Some(it.mode), ..bare("saw") },
        Evidence::Sweep(it) => StoryLine { part: it.part.clone(), ..bare("searched") },
        Evidence::Find(it) => {
            let way = from_pad(flight, it.at)?;
            let declination = windfall_inference::declination_of(flight).ok()?;
            StoryLine {
                part: Some(it.part.clone()),
                distance_m: Some(way.length_m()),
                bearing_magnetic_deg: Some(way.bearing().to_magnetic(declination).degrees()),
                note: it.condition.clone(),
                ..bare("found")
            }
        }
        Evidence::Area(it) if !it.inside => StoryLine { part: it.part.clone(), ..bare("ruled_out") },
        Evidence::Area(_) | Evidence::Beacon(_) => return None,
    })
}

fn from_pad(flight: &Flight, at: LatLon) -> Option<Offset> {
    let pad = Position::new(flight.pad.lat, flight.pad.lon).ok()?;
    Some(LocalFrame::about(pad).offset_of(Position::new(at.lat, at.lon).ok()?))
}

/// The find of the part with the recovery device of the last stage, against the mean of the readings.
fn drift(name: &str, flight: &Flight) -> Option<Drift> {
    let speeds: Vec<f64> =
        flight.wind.iter().filter_map(|row| row.speed_mps).map(|figure| figure.value).collect();
    if speeds.is_empty() {
        return None;
    }
    let wanted = flight.part_index_for(None)?;
    let find = flight.evidence.iter().rev().find_map(|piece| match piece {
        Evidence::Find(find)
            if !find.set_aside && flight.part_index_for(Some(&find.part)) == Some(wanted) =>
        {
            Some(find)
        }
        _ => None,
    })?;
    let distance_m = from_pad(flight, find.at)?.length_m();
    let device = match &flight.rocket.stages.last()?.recovery {
        None | Some(Recovery::Parachute { .. }) => "parachute",
        Some(Recovery::Streamer { .. }) => "streamer",
        Some(Recovery::Tumble {}) => "tumble",
    };
    let title =
        flight.title.clone().or_else(|| flight.rocket.name.clone()).unwrap_or_else(|| name.to_owned());
    let wind_mps = speeds.iter().sum::<f64>() / speeds.len() as f64;
    Some(Drift { flight: name.to_owned(), title, device, wind_mps, distance_m })
}

fn rate(device: &'static str, finds: &[Drift]) -> Option<DriftRate> {
    let mut rates: Vec<f64> = finds
        .iter()
        .filter(|it| it.device == device && it.wind_mps >= LEAST_MPS)
        .map(|it| it.distance_m / it.wind_mps)
        .collect();
    if rates.len() < LEAST_FINDS {
        return None;
    }
    rates.sort_by(f64::total_cmp);
    let middle = rates.len() / 2;
    let m_per_mps =
        if rates.len() % 2 == 1 { rates[middle] } else { f64::midpoint(rates[middle - 1], rates[middle]) };
    Some(DriftRate { device, finds: rates.len(), m_per_mps })
}

impl Api {
    /// What may be shown to a ranger or a neighbour: only what was entered for today.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn show_someone(&self) -> Result<Shown, ApiError> {
        guarded(|| {
            let mut day = self.day()?;
            if day.last_time.is_some() {
                // The plan of another day was not entered for today.
                (day.plan, day.site, day.load) = Default::default();
            }
            let (mut heaviest, mut heaviest_is_guessed) = (None::<(String, f64)>, false);
            let mut heaviest_lifts_off = None;
            let mut weights_unknown = Vec::new();
            let mut biggest: Option<(String, f64)> = None;
            for loaded in &day.load {
                let rocket = loaded.as_it_flies();
                let name = rocket.name.clone().unwrap_or_default();
                let masses: Option<f64> =
                    rocket.stages.iter().map(|it| it.dry_mass_g.map(|figure| figure.value)).sum();
                match masses {
                    None => weights_unknown.push(name),
                    Some(mass_g) if heaviest.as_ref().is_none_or(|(_, most)| mass_g > *most) => {
                        heaviest = Some((name, mass_g));
                        heaviest_lifts_off = lift_off(&rocket);
                        let guessed =
                            |it: &Stage| it.dry_mass_g.and_then(|it| it.known) == Some(Known::Guessed);
                        heaviest_is_guessed = rocket.stages.iter().any(guessed);
                    }
                    Some(_) => {}
                }
                for motor in rocket.stages.iter().filter_map(|it| it.motor.as_ref()).map(Motor::designation) {
                    let Ok(read) = windfall_facts::Designation::parse(motor) else { continue };
                    let most_ns = read.class.impulse_limits_ns().1;
                    if biggest.as_ref().is_none_or(|(_, most)| most_ns > *most) {
                        biggest = Some((crate::read_motor::MotorRead::of(motor)?.spelled, most_ns));
                    }
                }
            }
            Ok(Shown {
                date: day.date,
                field: day.site.as_ref().and_then(|site| site.field.name.clone()),
                rockets: day.load.iter().filter_map(|it| it.rocket.rocket.name.clone()).collect(),
                heaviest_g: heaviest,
                heaviest_is_guessed,
                heaviest_lifts_off,
                weights_unknown,
                biggest_motor: biggest.map(|(motor, _)| motor),
                force: day.force,
                wind_toward_deg: day.wind.last().and_then(toward_deg),
                wind_mps: day.wind.last().and_then(|it| it.speed_mps).map(|figure| figure.value),
                wind_limit_mps: day.plan.wind_limit_mps,
                permission: day.site.and_then(|site| site.permissions.last().cloned()),
                water: day.plan.water,
                labelled: !day.load.is_empty()
                    && day.load.iter().all(|it| {
                        it.rocket.told.as_ref().is_some_and(|told| told.all_labelled(&it.rocket.parts))
                    }),
            })
        })
    }
}

/// Its motors and what it weighs with them, grams, if all of that was told.
fn lift_off(rocket: &Rocket) -> Option<(String, f64)> {
    let (mut motors, mut mass_g) = (Vec::new(), 0.0);
    for stage in &rocket.stages {
        let Some(Motor::Known(motor)) = &stage.motor else { return None };
        mass_g += stage.dry_mass_g?.value + motor.loaded_mass_g?.value;
        motors.push(motor.designation.clone());
    }
    Some((motors.join(", "), mass_g))
}

/// Where the wind of a reading goes; null if it was read off a compass, whose north is another.
pub(crate) fn toward_deg(reading: &WindReading) -> Option<f64> {
    let from_deg = reading.from_deg.filter(|_| reading.north == North::True)?.value;
    Some((from_deg + 180.0).rem_euclid(360.0))
}

/// For the ranger or the neighbour. Whatever was not entered is null and is not claimed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// Today.
    pub date: String,
    /// Name of the field.
    pub field: Option<String>,
    /// What flies today.
    pub rockets: Vec<String>,
    /// Name and grams of the heaviest, ready to fly without motor, of those whose weight was told.
    pub heaviest_g: Option<(String, f64)>,
    /// Whether that weight was only guessed.
    pub heaviest_is_guessed: bool,
    /// With which motors it lifts off, and what it weighs then, grams; null if the mass of one of them is not known.
    pub heaviest_lifts_off: Option<(String, f64)>,
    /// Rockets whose weight nobody told: one of them may be the heaviest.
    pub weights_unknown: Vec<String>,
    /// The motor of the highest class.
    pub biggest_motor: Option<String>,
    /// Force of the wind on Beaufort's scale.
    pub force: Option<u8>,
    /// Where it goes, degrees from true north.
    pub wind_toward_deg: Option<f64>,
    /// The wind as it was read last, m/s.
    pub wind_mps: Option<f64>,
    /// Above this nobody flies, m/s.
    pub wind_limit_mps: Option<f64>,
    /// Who allowed it.
    pub permission: Option<crate::Permission>,
    /// Whether water is at hand.
    pub water: Option<bool>,
    /// Whether every rocket bears a telephone number.
    pub labelled: bool,
}

#[cfg(test)]
mod tests {
    use crate::Api;
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};
    use windfall_logbook::about;

    /// A find so many degrees north of the pad in such a wind.
    fn flown(api: &Api, device: &str, wind_mps: f64, north_deg: f64) -> Value {
        let flight = json!({"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3},
            "wind": [{"speed_mps": wind_mps, "from_deg": 180}],
            "rocket": {"name": "Linnet", "stages": [{"motor": "C6-5", "recovery": {"kind": device}}]},
            "evidence": [{"kind": "find", "part": "rocket", "at": {"lat": 47.5 + north_deg, "lon": 17.3}, "condition": "fin broken"},
                {"kind": "sighting", "moment": "lost", "t_s": 41.0},
                {"kind": "saw", "mode": "opened", "sure": "sure"}]});
        called(api, "tell_flight", json!({ "flight": flight }))["id"].clone()
    }

    #[test]
    fn a_find_ground_ruled_out_and_a_reading_that_were_mistaken_are_set_aside_and_used_again() {
        let (_folder, api) = with_logbook();
        let at = format!("{}T10:00:00+02:00", crate::clock::today());
        let ring = json!([[17.281, 47.53], [17.282, 47.53], [17.282, 47.531], [17.281, 47.53]]);
        let flight = json!({"format": "windfall-flight/1", "id": "f", "pad": {"lat": 47.53, "lon": 17.28},
            "rocket": {"stages": [{"motor": "C6-5"}]}, "launch": {"at": at}, "evidence": [
                {"kind": "altimeter", "apogee_m": 2140},
                {"kind": "area", "geometry": {"type": "Polygon", "coordinates": [ring]}, "inside": false, "confidence": 0.9},
                {"kind": "find", "part": "rocket", "at": {"lat": 47.531, "lon": 17.28}}]});
        called(&api, "tell_flight", json!({ "flight": flight }));
        let lines = || called(&api, "story", json!({"flight": "f"}))["lines"].as_array().unwrap().clone();
        let used = || called(&api, "show_flight", json!({"id": "f"}))["evidence"].as_array().unwrap().len();
        for what in ["altimeter", "ruled_out", "found"] {
            let line = |is_aside: bool| {
                let of_it = |it: &&Value| it["what"] == what && it["set_aside_by"].is_string() == is_aside;
                lines().iter().find(of_it).cloned()
            };
            let word = line(false).unwrap()["word"].clone();
            let aside = called(&api, "set_aside", json!({ "id": word }));
            assert_eq!((used(), line(true).unwrap()["set_aside_by"].clone()), (2, aside.clone()), "{what}");
            assert_eq!(line(false), None);
            // Told again with what else is known, it stays aside.
            let told = called(&api, "show_flight", json!({"id": "f"}));
            called(&api, "tell_flight", json!({ "flight": told }));
            assert_eq!(used(), 2, "{what}");
            called(&api, "undo", json!({ "id": aside }));
            assert_eq!((used(), line(true)), (3, None), "{what}");
        }
        assert_eq!(called(&api, "day", json!({}))["open"], json!([]));
        let word = lines().iter().find(|it| it["what"] == "found").unwrap()["word"].clone();
        called(&api, "set_aside", json!({ "id": word }));
        assert_eq!(
            called(&api, "day", json!({}))["open"][0]["missing"],
            json!(["rocket"]),
            "it is out there again"
        );
    }

    #[test]
    fn a_story_says_that_a_wind_it_flew_with_was_set_aside_since() {
        let (_folder, api) = with_logbook();
        called(&api, "keep_rocket", json!({"told": {"name": "Linnet", "stages": [{"motor": "C6-5"}]}}));
        called(&api, "tell_wind", json!({"toward_deg": 90, "force": 2}));
        let day = called(&api, "tell_wind", json!({"toward_deg": 270, "force": 4}));
        let mut flight = called(&api, "ready_flights", json!({}))[0]["flight"].clone();
        flight["pad"] = json!({"lat": 47.53, "lon": 17.28, "accuracy_m": 4});
        flight["launch"]["at"] = format!("{}T10:00:00+00:00", crate::clock::today()).into();
        let id = called(&api, "tell_flight", json!({ "flight": flight }))["id"].clone();
        let aside = || called(&api, "story", json!({ "flight": id }))["winds_aside"].clone();
        assert_eq!(aside(), json!([]));
        let wrong = &day["readings"][1];
        let word = called(&api, "set_aside", json!({"id": wrong["id"]}));
        assert_eq!(aside(), json!([wrong["reading"]]));
        called(&api, "undo", json!({ "id": word }));
        assert_eq!(aside(), json!([]));
    }

    #[test]
    fn a_story_has_its_lines_in_order_and_a_find_its_distance() {
        let (_folder, api) = with_logbook();
        let id = flown(&api, "parachute", 3.0, 0.001);
        let story = called(&api, "story", json!({ "flight": id }));
        let what: Vec<_> = story["lines"].as_array().unwrap().iter().map(|it| it["what"].clone()).collect();
        assert_eq!(what, ["launched", "lost", "found", "saw"]);
        let find = &story["lines"][2];
        // A thousandth of a degree of the meridian at 47.5 degrees is 111.18 m (WGS 84).
        assert!((find["distance_m"].as_f64().unwrap() - 111.18).abs() < 0.02, "{find}");
        // Due north, which a compass shows less the declination: 5.3 degrees east in western Hungary in 2026 (WMM2025,
        // from memory), and the very number by which the walk turns its own bearings.
        let from_pad = called(
            &api,
            "walk_to",
            json!({"id": id, "from": {"lat": 47.5, "lon": 17.3}, "accuracy_m": 0, "to": {"lat": 47.501, "lon": 17.3}}),
        );
        let shown_deg = find["bearing_magnetic_deg"].as_f64().unwrap();
        assert!((shown_deg - (360.0 - 5.3)).abs() < 0.6, "{find}");
        let declination_deg = from_pad["declination_deg"].as_f64().unwrap();
        assert!((shown_deg - (360.0 - declination_deg)).abs() < 1e-6, "{find} {from_pad}");
        assert_eq!((&find["note"], &story["lines"][0]["note"]), (&json!("fin broken"), &json!("C6-5")));
    }

    #[test]
    fn a_flight_set_aside_is_shown_but_not_counted_and_undone_it_counts_again() {
        let (_folder, api) = with_logbook();
        let ids: Vec<_> = [(2.0, 0.001), (4.0, 0.002), (3.0, 0.003)]
            .into_iter()
            .map(|(mps, deg)| flown(&api, "streamer", mps, deg))
            .collect();
        let drifts = || called(&api, "drift_by_wind", json!({}));
        let rate = drifts()["rates"][0].clone();
        assert_eq!((&rate["device"], &rate["finds"]), (&json!("streamer"), &json!(3)));
        // 111.18/2, 222.36/4 and 333.5/3 m for each m/s: the middle one.
        assert!((rate["m_per_mps"].as_f64().unwrap() - 55.59).abs() < 0.02, "{rate}");
        let story = called(&api, "story", json!({ "flight": ids[0] }));
        called(&api, "set_aside", json!({"id": story["word"]}));
        assert_eq!((drifts()["finds"].as_array().unwrap().len(), &drifts()["rates"]), (2, &json!([])));
        let story = called(&api, "story", json!({ "flight": ids[0] }));
        assert_eq!(story["lines"][0]["what"], "launched");
        called(&api, "undo", json!({"id": story["set_aside_by"]}));
        assert_eq!(drifts()["finds"].as_array().unwrap().len(), 3);
    }

    #[test]
    fn nothing_is_shown_to_anybody_that_was_not_entered() {
        let (_folder, api) = with_logbook();
        let shown = called(&api, "show_someone", json!({}));
        for (key, value) in shown.as_object().unwrap() {
            let is_empty = value.is_null() || *value == json!([]) || *value == json!(false);
            assert!(is_empty || key == "date", "{key}: {value}");
        }
        let told = |name: &str, motor: &str, grams: f64| {
            let told = json!({"name": name, "labelled": true, "stages": [{"motor": motor, "weight": {"grams": grams}}]});
            called(&api, "keep_rocket", json!({ "told": told }))["id"].clone()
        };
        let (light, heavy) = (told("Linnet", "D12-5", 40.0), told("Bunting", "B6-4", 90.0));
        let permission = json!({"owner": "R. Alder"});
        let site = called(
            &api,
            "keep_site",
            json!({"field": {"name": "Sedge Meadow"}, "permission": permission}),
        )["id"]
            .clone();
        called(
            &api,
            "keep_day",
            json!({"plan": {"site": site, "load": [{"rocket": light}, {"rocket": heavy}], "water": true}}),
        );
        let shown = called(&api, "show_someone", json!({}));
        assert_eq!(shown["heaviest_g"], json!(["Bunting", 90.0]));
        assert_eq!((&shown["heaviest_is_guessed"], &shown["wind_toward_deg"]), (&json!(false), &Value::Null));
        assert_eq!(
            (&shown["biggest_motor"], &shown["permission"]["owner"]),
            (&json!("D12-5"), &json!("R. Alder"))
        );
        assert_eq!(
            (&shown["water"], &shown["labelled"], &shown["wind_limit_mps"]),
            (&json!(true), &json!(true), &Value::Null)
        );
        // Light as an apple is a guess, and is shown as one.
        let guess = json!({"name": "Bunting", "stages": [{"motor": "B6-4", "weight": "apple"}]});
        called(&api, "keep_rocket", json!({"id": heavy, "told": guess}));
        called(&api, "tell_wind", json!({"toward_deg": 45, "force": 2}));
        let shown = called(&api, "show_someone", json!({}));
        assert_eq!((&shown["heaviest_g"][1], &shown["heaviest_is_guessed"]), (&json!(150.0), &json!(true)));
        assert_eq!(shown["wind_toward_deg"], 45.0);
        let season = called(&api, "season_start", json!({}));
        assert_eq!(season["motors_out"], json!(["B6-4", "D12-5"]));
    }

    #[test]
    fn the_plan_of_another_day_is_not_claimed_for_today() {
        let (_folder, api) = with_logbook();
        let linnet = called(
            &api,
            "keep_rocket",
            json!({"told": {"name": "Linnet", "labelled": true,
            "stages": [{"motor": "C6-5", "weight": {"grams": 62}}]}}),
        );
        let site = called(
            &api,
            "keep_site",
            json!({"field": {"name": "Sedge Meadow"}, "permission": {"owner": "R. Alder"}}),
        );
        let plan = json!({"site": site["id"], "load": [{"rocket": linnet["id"]}], "water": true, "wind_limit_mps": 6});
        api.note(about::DAY, "2026-05-02", "day", &plan).unwrap();
        let shown = called(&api, "show_someone", json!({}));
        for (key, value) in shown.as_object().unwrap() {
            let is_empty = value.is_null() || *value == json!([]) || *value == json!(false);
            assert!(is_empty || key == "date", "{key}: {value}");
        }
        called(&api, "keep_day", json!({ "plan": plan }));
        let shown = called(&api, "show_someone", json!({}));
        assert_eq!((&shown["rockets"], &shown["water"]), (&json!(["Linnet"]), &json!(true)));
    }

    #[test]
    fn the_heaviest_is_told_with_its_motor_where_that_is_known_and_weights_nobody_told_are_named() {
        let (_folder, api) = with_logbook();
        let untold =
            called(&api, "keep_rocket", json!({"told": {"name": "Bunting", "stages": [{"motor": "B6-4"}]}}));
        let linnet = called(
            &api,
            "keep_rocket",
            json!({"told": {"name": "Linnet", "stages": [{"motor": "C6-5", "weight": {"grams": 62}}]}}),
        );
        let load = json!([{"rocket": untold["id"]}, {"rocket": linnet["id"]}]);
        let shown = |load: &Value| {
            called(&api, "keep_day", json!({"plan": {"load": load}}));
            called(&api, "show_someone", json!({}))
        };
        let without = shown(&load);
        assert_eq!(
            (&without["heaviest_g"], &without["heaviest_lifts_off"], &without["weights_unknown"]),
            (&json!(["Linnet", 62.0]), &Value::Null, &json!(["Bunting"]))
        );
        let known = json!({"id": linnet["id"], "name": "Linnet", "stages": [
            {"motor": {"designation": "C6-5", "loaded_mass_g": 24.0}, "dry_mass_g": 62}]});
        api.note_now(about::ROCKET, linnet["id"].as_str().unwrap(), "rocket", &known).unwrap();
        assert_eq!(shown(&load)["heaviest_lifts_off"], json!(["C6-5", 86.0]));
        // Of another motor for today nobody told the mass.
        let load = json!([{"rocket": linnet["id"], "motor": "B6-4"}]);
        assert_eq!(shown(&load)["heaviest_lifts_off"], Value::Null);
    }

    #[test]
    fn all_that_is_out_there_is_one_round() {
        let (_folder, api) = with_logbook();
        for (name, bearing_deg) in [("Linnet", 10.0), ("Bunting", 170.0)] {
            let flight = json!({"format": "windfall-flight/1", "title": name, "pad": {"lat": 47.5, "lon": 17.3},
                "rocket": {"name": name, "stages": [{"motor": "A8-3"}]},
                "evidence": [{"kind": "sighting", "moment": "landed", "bearing_deg": bearing_deg}]});
            called(&api, "tell_flight", json!({ "flight": flight }));
        }
        let walk = called(&api, "pick_up", json!({}));
        assert_eq!(walk["waiting"].as_array().unwrap().len(), 2);
        let mut places: Vec<_> = walk["round"]["legs"]
            .as_array()
            .unwrap()
            .iter()
            .map(|it| it["place"].as_u64().unwrap())
            .collect();
        places.sort_unstable();
        assert_eq!((places, &walk["left_out"]), (vec![0, 1], &json!([])));
    }
}
