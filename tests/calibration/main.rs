//! Simulation-based calibration: truths drawn from the estimator's own prior and told by its own model, and where they
//! stand among the draws of the answer. If the answer is right about its own doubt, every place is equally likely.
#![allow(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr, reason = "a command of the house")]

mod histograms;

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use windfall_facts::{Flight, read_flight};
use windfall_inference::calibration::simulate;
use windfall_inference::{Priors, Settings, locate};
use windfall_tests::twin::ended;

const USAGE: &str = "\
calibration [--flights N] [--kinds a,b] [--draws N] [--again N] [--json] [--svg FILE]
  --flights N   flights, the kinds in turn (default 1000); seeds from 0 on
  --kinds a,b   some kinds only
  --draws N     possible flights an answer (default as in use)
  --again N     answers each flight again with another seed and N times the draws: how much of that lies in the areas
                of the first answer
  --svg FILE    draws the histograms of the ranks";

/// Boxes of equal width into which the ranks fall.
pub(crate) const BOXES: usize = 20;
/// Turns a seed into one that no flight has.
const ANOTHER: u32 = 1 << 31;
/// The 99.9 % point of chi squared with 19 degrees of freedom (NIST/SEMATECH e-Handbook, section 1.3.6.7.4; from memory).
const CHI2_999: f64 = 43.82;

/// Flights of one kind: what is known of the rocket, and what is told of the flight.
struct Kind {
    name: &'static str,
    template: Flight,
    priors: Priors,
    /// A part that was found: where it lies is no longer a question.
    found: Option<&'static str>,
}

fn kind(name: &'static str, rocket: &str, evidence: &str, found: Option<&'static str>) -> Kind {
    let text = format!(
        r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3, "elevation_m": 120}},
        "wind": [{{"at": "2026-05-16T11:00:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 3, "from_deg": 240,
                  "method": "meter"}}],
        "rocket": {{"stages": [{rocket}]}}, "launch": {{"at": "2026-05-16T11:05:00+02:00"}}, "evidence": [{evidence}]}}"#
    );
    // A mistaken find or altimeter is told more often than flyers do, that the few flights hold some; a mistaken track
    // has no law by which it could be told, so none is.
    let mut table = String::from("name,family,a,b,unit,persistent_share,source\n");
    table += "mistaken_other,share,0.1,,,0,for this calibration\n";
    if name == "track" {
        table += "mistaken_sighting,share,0,,,0,for this calibration\n";
    }
    Kind { name, template: read_flight(&text).unwrap(), priors: Priors::replaced_by(&table).unwrap(), found }
}

fn kinds() -> Vec<Kind> {
    const ONE: &str = r#"{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "C6-5",
        "recovery": {"kind": "parachute", "diameter_mm": 300}}"#;
    const PARTED: &str = r#"{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "C6-5",
        "recovery": {"kind": "parachute", "diameter_mm": 300}, "splits_into": [
            {"name": "upper", "mass_g": 24, "carries_recovery": true},
            {"name": "lower", "mass_g": 38, "length_mm": 300, "carries_motor": true}]}"#;
    const TWO: &str = r#"{"name": "booster", "dry_mass_g": 30, "diameter_mm": 24.8, "length_mm": 200, "motor": "B6-0",
        "recovery": {"kind": "tumble"}}, {"name": "sustainer", "dry_mass_g": 45, "diameter_mm": 24.8, "length_mm": 300,
        "motor": "A8-5", "recovery": {"kind": "streamer", "length_mm": 700, "width_mm": 70}}"#;
    let sighting = |moment: &str| {
        format!(
            r#"{{"kind": "sighting", "moment": "{moment}", "t_s": 30, "bearing_deg": 0, "elevation_deg": 20}}"#
        )
    };
    let samples: Vec<String> =
        (0..120).map(|index| format!("[{}, 0, 20]", 8.0 + 0.5 * f64::from(index))).collect();
    let four = ["apogee", "deployment", "descent", "lost"].map(sighting).join(",");
    let track = format!(r#"{{"kind": "track", "samples": [{}]}}"#, samples.join(","));
    let parts = format!(
        r#"{{"kind": "saw", "mode": "came_apart", "sure": "sure"}},
        {{"kind": "find", "part": "lower", "at": {{"lat": 47.5, "lon": 17.3}}, "accuracy_m": 4}}, {}"#,
        sighting("lost")
    );
    let height = format!(r#"{{"kind": "altimeter", "apogee_m": 200}}, {}"#, sighting("lost"));
    vec![
        kind("nothing", PARTED, "", None),
        kind("one", ONE, &sighting("lost"), None),
        kind("four", ONE, &four, None),
        kind("track", ONE, &track, None),
        kind("part", PARTED, &parts, Some("lower")),
        kind("altimeter", ONE, &height, None),
        kind("stages", TWO, &sighting("lost"), None),
    ]
}

/// Ranks of one quantity.
#[derive(Default)]
struct Ranks(Vec<f64>);

impl Ranks {
    fn boxes(&self) -> [f64; BOXES] {
        let mut boxes = [0.0; BOXES];
        for rank in &self.0 {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a box of twenty")]
            let place = (rank * BOXES as f64) as usize;
            boxes[place.min(BOXES - 1)] += 1.0;
        }
        boxes
    }

    fn chi2(&self) -> f64 {
        let expected = self.0.len() as f64 / BOXES as f64;
        self.boxes().iter().map(|count| (count - expected).powi(2) / expected).sum()
    }

    fn within(&self, share: f64) -> f64 {
        let edge = (1.0 - share) / 2.0;
        self.0.iter().filter(|rank| (edge..1.0 - edge).contains(*rank)).count() as f64
            / self.0.len().max(1) as f64
    }
}

/// Ranks by kind of flight and quantity; those of all kinds together stand under "all".
type Table = BTreeMap<(String, String), Ranks>;

/// By kind of flight: how much of a second answer lay in the areas of the first, one row a flight.
type Held = BTreeMap<String, Vec<Vec<f64>>>;

fn fly(flights: usize, kinds: &[Kind], draws: usize, again: Option<usize>) -> (Table, Held) {
    let (next, table, held) = (AtomicUsize::new(0), Mutex::new(Table::new()), Mutex::new(Held::new()));
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= flights {
                        return;
                    }
                    let kind = &kinds[number % kinds.len()];
                    let (flight, truth) = simulate(&kind.template, &kind.priors, number as u64).unwrap();
                    let seed = u32::try_from(number).unwrap();
                    let answer = |seed, draws| {
                        let settings = Settings { seed, draws, threads: 1 };
                        locate(&flight, &kind.priors, &settings).unwrap()
                    };
                    let cloud = answer(seed, draws);
                    if let Some(times) = again {
                        let row = cloud.holds_of(&answer(seed ^ ANOTHER, times * draws));
                        held.lock().unwrap().entry(kind.name.into()).or_default().push(row);
                    }
                    let mut table = table.lock().unwrap();
                    for (name, rank) in cloud.ranks(&truth) {
                        let landing = name.rsplit_once(" landing ");
                        if landing.is_some_and(|(part, _)| kind.found == Some(part)) {
                            continue;
                        }
                        let name = landing.map_or_else(|| name.clone(), |(_, way)| format!("landing {way}"));
                        for of in ["all", kind.name] {
                            table.entry((of.into(), name.clone())).or_default().0.push(rank);
                        }
                    }
                    drop(table);
                    if (number + 1) % 50 == 0 {
                        eprintln!("{} of {flights}", number + 1);
                    }
                }
            });
        }
    });
    // Which worker came first must not matter.
    let mut table = table.into_inner().unwrap();
    for ranks in table.values_mut() {
        ranks.0.sort_by(f64::total_cmp);
    }
    (table, held.into_inner().unwrap())
}

/// Mean and its standard error.
fn mean(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt())
}

fn run() -> Result<(), String> {
    let (mut flights, mut as_json, mut svg, mut kinds) = (1000, false, None, kinds());
    let (mut draws, mut again) = (Settings::default().draws, None);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or_else(|| format!("{word} needs a value\n{USAGE}"));
        match word.as_str() {
            "--flights" => {
                flights = value()?.parse().map_err(|_| format!("--flights needs a number\n{USAGE}"))?;
            }
            "--draws" => draws = value()?.parse().map_err(|_| format!("--draws needs a number\n{USAGE}"))?,
            "--again" => {
                let times: usize =
                    value()?.parse().map_err(|_| format!("--again needs a number\n{USAGE}"))?;
                again = Some(times.max(1));
            }
            "--kinds" => {
                let wanted = value()?;
                let wanted: Vec<&str> = wanted.split(',').collect();
                if let Some(name) = wanted.iter().find(|name| kinds.iter().all(|kind| kind.name != **name)) {
                    let known: Vec<&str> = kinds.iter().map(|kind| kind.name).collect();
                    return Err(format!("--kinds: no kind `{name}`; there are {}", known.join(", ")));
                }
                kinds.retain(|kind| wanted.contains(&kind.name));
            }
            "--svg" => svg = Some(value()?),
            "--json" => as_json = true,
            _ => return Err(USAGE.into()),
        }
    }
    let (table, held) = fly(flights, &kinds, draws, again);
    let held: Vec<(&String, [(f64, f64); 2])> = held
        .iter()
        .map(|(kind, rows)| {
            (kind, [0, 1].map(|at| mean(&rows.iter().map(|row| row[at]).collect::<Vec<_>>())))
        })
        .collect();
    if let Some(file) = svg {
        let all: Vec<(String, [f64; BOXES])> = table
            .iter()
            .filter(|((kind, _), _)| kind == "all")
            .map(|((_, name), ranks)| (name.clone(), ranks.boxes()))
            .collect();
        svg::save(&file, &histograms::draw(&all, flights)).map_err(|error| format!("{file}: {error}"))?;
    }
    if as_json {
        let rows: Vec<Value> = table
            .iter()
            .map(|((kind, name), ranks)| {
                json!({"kind": kind, "quantity": name, "n": ranks.0.len(), "chi2": ranks.chi2(), "chi2_999": CHI2_999,
                       "within_50": ranks.within(0.5), "within_90": ranks.within(0.9), "boxes": ranks.boxes()})
            })
            .collect();
        let held: Vec<Value> = held
            .iter()
            .map(|(kind, [half, nine])| {
                json!({"kind": kind, "of_second_in_50": half.0, "error_50": half.1, "of_second_in_90": nine.0, "error_90": nine.1})
            })
            .collect();
        let seeds = [0, flights.saturating_sub(1)];
        println!(
            "{:#}",
            json!({"flights": flights, "seeds": seeds, "draws": draws, "ranks": rows, "held": held})
        );
        return Ok(());
    }
    println!("{flights} flights; chi squared of {BOXES} boxes: one quantity in 1000 exceeds {CHI2_999}");
    println!("{:<12}{:<18}{:>6}{:>10}{:>16}{:>16}", "", "", "n", "chi2", "in middle 50 %", "in middle 90 %");
    for ((kind, name), ranks) in &table {
        println!(
            "{kind:<12}{name:<18}{:>6}{:>10.1}{:>16.1}{:>16.1}",
            ranks.0.len(),
            ranks.chi2(),
            100.0 * ranks.within(0.5),
            100.0 * ranks.within(0.9)
        );
    }
    for (kind, [half, nine]) in held {
        println!(
            "{kind:<12}of a second answer in the areas: {:.1} +- {:.1} % and {:.1} +- {:.1} %",
            100.0 * half.0,
            100.0 * half.1,
            100.0 * nine.0,
            100.0 * nine.1
        );
    }
    Ok(())
}

fn main() -> ExitCode {
    ended(run())
}
