//! What learning costs with a thousand flights in the logbook: `cargo xtask bench --learning`.
//!
//! Figures are medians of repeated runs, milliseconds; what is read anew is read once. An answer beside the logbook stands
//! next to the same answer without one. With `--folder DIR` the logbook stays there, and another run on it does not read its
//! flights anew: so the short figures can be taken when the machine is quiet.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench prints, and a broken one should stop")]

mod timing;

use chrono::{Days, NaiveDate, NaiveTime};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::hint::black_box;
use std::path::Path;
use timing::{median_ms, median_ms_after};
use windfall_api::{Api, AskBeliefs, Reply, Settings};
use windfall_facts::read_flight;
use windfall_inference::{Beliefs, Lesson, MODEL_VERSION, Priors};
use windfall_logbook::{Fact, Logbook};

const ROCKETS: [&str; 8] = ["Heron", "Egret", "Whimbrel", "Siskin", "Twite", "Dunlin", "Knot", "Reed"];
const MOTORS: [&str; 4] = ["A8-3", "B6-4", "C6-5", "C6-7"];
const FLIGHTS_A_DAY: u32 = 5;

fn name(number: u32) -> String {
    format!("flight-{number:05}")
}

/// A flight with a reading, a sighting and a find some way downwind.
fn flight(number: u32, rng: &mut ChaCha8Rng) -> Value {
    let day = NaiveDate::from_ymd_opt(2026, 1, 3).unwrap() + Days::new((number / FLIGHTS_A_DAY).into());
    let at = day.and_time(NaiveTime::from_hms_opt(10, 10 * (number % FLIGHTS_A_DAY), 0).unwrap());
    let from_deg: f64 = rng.random_range(0.0..360.0);
    let (speed, away_m) = (rng.random_range(1.5..6.0), rng.random_range(60.0..260.0));
    let towards = (from_deg + 180.0 + rng.random_range(-20.0..20.0)).to_radians();
    let [lat, lon] = [47.5 + away_m * towards.cos() / 111_200.0, 17.3 + away_m * towards.sin() / 75_200.0];
    let rocket = ROCKETS[number as usize % ROCKETS.len()];
    json!({
        "format": "windfall-flight/1", "id": name(number), "pad": {"lat": 47.5, "lon": 17.3, "elevation_m": 120},
        "field": {"name": "Long Acre"},
        "wind": [{"at": format!("{}+02:00", at.format("%Y-%m-%dT%H:%M:%S")), "height_m": 2, "averaged_s": 60,
            "speed_mps": speed, "from_deg": from_deg, "north": "true", "method": "meter"}],
        "rocket": {"name": rocket, "stages": [{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430,
            "motor": MOTORS[number as usize % 7 % MOTORS.len()],
            "recovery": {"kind": "parachute", "diameter_mm": 300}}]},
        "launch": {"at": format!("{}+02:00", at.format("%Y-%m-%dT%H:%M:%S"))},
        "evidence": [
            {"kind": "sighting", "moment": "lost", "bearing_deg": towards.to_degrees().rem_euclid(360.0),
                "north": "true", "elevation_deg": 10, "phone": "Ann's phone", "observer": "Ann"},
            {"kind": "find", "part": "rocket", "at": {"lat": lat, "lon": lon}}]
    })
}

/// The facts of a flight, by which the logbook holds it.
fn facts(number: u32, mut flight: Value) -> Vec<Fact> {
    let pieces = flight.as_object_mut().unwrap().remove("evidence").unwrap();
    let mut said = vec![("flight".to_owned(), flight)];
    for piece in pieces.as_array().unwrap() {
        let mut piece = piece.clone();
        let kind = piece.as_object_mut().unwrap().remove("kind").unwrap();
        said.push((kind.as_str().unwrap().to_owned(), piece));
    }
    let fact = |((kind, json), place): ((String, Value), u32)| Fact {
        id: id(number, place),
        about: "flight".into(),
        name: name(number),
        kind,
        version: 1,
        replaces: None,
        json,
    };
    said.into_iter().zip(0..).map(fact).collect()
}

fn id(number: u32, place: u32) -> String {
    format!("{number:06}-{place:02}")
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let json = words.iter().any(|word| word == "--json");
    let number = |word: &str, usual: u32| {
        words
            .iter()
            .position(|it| it == word)
            .map_or(usual, |at| words.get(at + 1).and_then(|it| it.parse().ok()).expect("a number is needed"))
    };
    let flights = number("--flights", 1000);
    let settings = Settings { threads: number("--threads", 2) as usize, ..Settings::default() };
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let scratch = tempfile::tempdir().unwrap();
    let asked_for =
        words.iter().position(|it| it == "--folder").map(|at| words.get(at + 1).expect("a folder"));
    let folder = asked_for.map_or(scratch.path(), Path::new);
    let mut book = Logbook::open(folder, NaiveDate::from_ymd_opt(2027, 1, 1).unwrap()).unwrap();
    let all: Vec<Fact> = (0..flights).flat_map(|number| facts(number, flight(number, &mut rng))).collect();
    let is_new = book.mark().unwrap() == 0;
    if is_new {
        book.add_all(&all).unwrap();
    }
    let mut figures = Vec::new();
    let mut figure = |what: &str, ms: f64| figures.push((what.to_owned(), ms));

    let open = || Api::new(settings).with_logbook(folder).unwrap();
    let api = open();
    let rebuild = AskBeliefs { rebuild: true, ..AskBeliefs::default() };
    if is_new {
        let mut steps = 0;
        figure(
            "read all flights anew",
            median_ms(1, |_| {
                let said = api
                    .beliefs(&rebuild, &mut |step| {
                        steps += 1;
                        if !json {
                            eprint!("\r{} of {} ", step.done, step.all);
                        }
                    })
                    .unwrap();
                assert_eq!((said.read, said.unread.len()), (flights as usize, 0));
            }),
        );
        assert_eq!(steps, flights + 1, "its progress was told");
    }

    let mut asked = flight(flights, &mut rng);
    asked["evidence"].as_array_mut().unwrap().pop();
    let facts = read_flight(&asked.to_string()).unwrap();
    let lessons: Vec<Lesson> = (0..flights)
        .map(|number| {
            let read = format!("{MODEL_VERSION} {} {} {}", id(number, 0), id(number, 1), id(number, 2));
            serde_json::from_str(&book.lesson(&name(number), &read).unwrap().unwrap()).unwrap()
        })
        .collect();
    let priors = Priors::embedded();
    figure(
        "put all their messages together",
        median_ms(11, |_| {
            black_box(Beliefs::about(&facts, &lessons, &priors).unwrap());
        }),
    );

    let answered = |api: &Api| api.call("answer_flight", json!({ "flight": asked })).unwrap();
    let density = |api: &Api| {
        let which = json!({"id": asked["id"], "part": "rocket"});
        black_box(api.call("landing_density", which).unwrap());
    };
    let api = open();
    figure("the first answer after opening", median_ms(1, |_| drop(answered(&api))));
    // The same again is at hand in both, so what is left is what the logbook costs.
    let alone = Api::new(settings);
    answered(&alone);
    let again = [&alone, &api].map(|api| median_ms(11, |_| drop(answered(api))));
    figure("an answer at hand without a logbook", again[0]);
    figure("an answer at hand", again[1]);
    // What the same answer costs when the messages must be put together for it: another phone that was checked makes the
    // lessons others, and says nothing of this flight.
    let anew = median_ms_after(
        11,
        |run| {
            let check = json!({"about": "phone", "name": "another", "kind": "heading_check", "json": {"too_much_deg": run % 9}});
            api.call("add_fact", check).unwrap();
        },
        || drop(answered(&api)),
    );
    figure("the same, messages put together for it", anew);
    let densities = [&alone, &api].map(|api| median_ms(11, |_| density(api)));
    figure("a density without a logbook", densities[0]);
    figure("a density", densities[1]);
    let mut asides = Vec::new();
    figure(
        "set a flight's evidence aside, and say the beliefs",
        median_ms(11, |run| {
            for place in [2, 1] {
                let aside = api.call("set_aside", json!({"id": id(run, place)})).unwrap();
                asides.push(aside);
            }
            black_box(api.call("beliefs", json!({"flight": name(flights - 1)})).unwrap());
        }),
    );
    // So that another run finds them as this one did.
    for aside in asides {
        if let Reply::Json(id) = aside {
            let id: String = serde_json::from_str(&id).unwrap();
            api.call("undo", json!({ "id": id })).unwrap();
        }
    }
    if json {
        let rows: Vec<Value> = figures.iter().map(|(what, ms)| json!({"what": what, "ms": ms})).collect();
        println!(
            "{}",
            json!({"flights": flights, "threads": settings.threads, "figures": rows,
            "at_hand_over_put_together": again[1] / anew})
        );
        return;
    }
    eprintln!();
    println!("{flights} flights, {} threads", settings.threads);
    for (what, ms) in figures {
        println!("{what:<52} {ms:>9.1} ms");
    }
    println!("{:<52} {:>9.2}", "an answer at hand, part of one put together", again[1] / anew);
}
