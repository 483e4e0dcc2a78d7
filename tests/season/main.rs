//! Whole seasons: what learning from flights brings, beside what it could bring at most. `cargo xtask season` builds and
//! starts it.

#![allow(clippy::print_stdout, reason = "a program for the terminal")]

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::ExitCode;
use windfall_inference::{MODEL_VERSION, Priors, Settings};
use windfall_tests::twin::season::{ESTIMATORS, SEASON, Season, SeasonFlight, season};
use windfall_tests::twin::{Level, PartOutcome, ended, folder_of, kept, quantile, wilson};

const USAGE: &str = "\
season [--flyers N] [--flights N] [--judged N] [--level nothing|one] [--folder DIR] [--fresh] [--json]
  --flyers N    seasons (default 100)
  --flights N   flights of each, 5 a day (default 30, at most 300)
  --judged N    answers are judged of one flight in so many; all teach (default 1)
  --level       what is known before the find: `nothing` seen (default), or `one` last-seen sighting
  --folder DIR  where seasons are kept, so that a count that was stopped goes on (default target/season)
  --fresh       forget the seasons that are kept";

/// The row of gains that sums what things and today's wind bring.
const SUMMED: &str = "part of the summed gain";
/// Place of the estimator that learns all there is.
const LEARNED: usize = 3;

struct Wanted {
    flyers: u32,
    flights: usize,
    judged: usize,
    level: Level,
    folder: Option<PathBuf>,
    fresh: bool,
    json: bool,
}

fn main() -> ExitCode {
    ended(wanted().and_then(|wanted| run(&wanted)))
}

fn wanted() -> Result<Wanted, String> {
    let level = |name: &str| {
        let known = Level::named(name).filter(|it| ["nothing", "one"].contains(&it.name));
        known.ok_or_else(|| format!("--level {name}: there are nothing and one\n{USAGE}"))
    };
    let mut wanted = Wanted {
        flyers: 100,
        flights: 30,
        judged: 1,
        level: level("nothing")?,
        folder: None,
        fresh: false,
        json: false,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or_else(|| format!("{word} needs a value\n{USAGE}"));
        let number = |text: String, most: u32| {
            let number = text.parse().ok().filter(|it| (1..=most).contains(it));
            number.ok_or_else(|| format!("{word} needs a number from 1 to {most}\n{USAGE}"))
        };
        match word.as_str() {
            "--flyers" => wanted.flyers = number(value()?, 100_000)?,
            "--flights" => wanted.flights = number(value()?, 300)? as usize,
            "--judged" => wanted.judged = number(value()?, 300)? as usize,
            "--level" => wanted.level = level(&value()?)?,
            "--folder" => wanted.folder = Some(value()?.into()),
            "--fresh" => wanted.fresh = true,
            "--json" => wanted.json = true,
            _ => return Err(USAGE.into()),
        }
    }
    Ok(wanted)
}

fn run(wanted: &Wanted) -> Result<(), String> {
    let folder = folder_of("season", wanted.folder.clone())?;
    let priors = Priors::embedded();
    let settings = Settings { threads: 1, draws: 1024, ..Settings::default() };
    let plan: Vec<u32> = (0..wanted.flyers).collect();
    let mut seasons = kept(
        (
            wanted.level.name,
            &folder.join(format!("{}-{}-{}.jsonl", wanted.level.name, wanted.flights, wanted.judged)),
            wanted.fresh,
        ),
        &plan,
        |it: &Season| (it.season == SEASON && it.model == MODEL_VERSION).then_some(it.flyer),
        |flyer| season(wanted.level, flyer, (wanted.flights, wanted.judged), &priors, &settings),
    )?;
    seasons.sort_by_key(|it| it.flyer);
    let seasons: Vec<&Season> = seasons.iter().collect();
    let (rows, gains, beliefs) = (estimators(&seasons), gains(&seasons), beliefs(&seasons));
    let soundings = soundings(&seasons);
    let verdicts = verdicts(&seasons, &gains);
    if wanted.json {
        println!(
            "{:#}",
            json!({"model": MODEL_VERSION, "season": SEASON, "level": wanted.level.name, "flyers": seasons.len(),
                   "flights_each": wanted.flights, "judged_one_in": wanted.judged, "estimators": rows, "gains": gains, "beliefs": beliefs,
                   "soundings": soundings, "verdicts": verdicts})
        );
        return Ok(());
    }
    println!(
        "{MODEL_VERSION}, season {SEASON}: {} flyers with {} flights each, one in {} judged; {}; shares in percent with their 95 % intervals",
        seasons.len(),
        wanted.flights,
        wanted.judged,
        wanted.level.says
    );
    println!("estimator          miss m: median   mean  energy m    log  in 50 % region     in 90 % region");
    let number = |row: &Value, key: &str| row[key].as_f64().unwrap_or(f64::NAN);
    for row in &rows {
        let share = |key: &str| {
            let [low, high] = [0, 1].map(|at| row[key]["interval"][at].as_f64().unwrap_or(f64::NAN));
            format!("{:5.1} ({low:4.1}-{high:4.1})", number(&row[key], "percent"))
        };
        println!(
            "{:<20}{:>12.1} {:>6.1}  {:>8.2} {:>6.3}  {}  {}",
            row["estimator"].as_str().unwrap_or_default(),
            number(row, "median_miss_m"),
            number(row, "mean_miss_m"),
            number(row, "energy_m"),
            number(row, "log_score"),
            share("inside_50"),
            share("inside_90"),
        );
    }
    println!("\ngain over no learning, percent, with its 95 % interval over flyers");
    print!("{:<26}", "what");
    SCORES.iter().for_each(|score| print!("{:<26}", score.says));
    println!();
    for row in &gains {
        print!("{:<26}", row["what"].as_str().unwrap_or_default());
        for Score { key, .. } in &SCORES {
            let [percent, low, high] = ["percent", "low", "high"].map(|at| number(&row[*key], at));
            print!("{:<26}", format!("{percent:5.1} ({low:5.1} to {high:5.1})"));
        }
        println!();
    }
    println!(
        "\nwhat is believed of things before the last flight, in standard deviations of what stays of them"
    );
    println!("trait              n  off the truth   said to be off by   off over said");
    for row in &beliefs {
        println!(
            "{:<15}{:>5}{:>15.2}{:>20.2}{:>16.2}",
            row["trait"].as_str().unwrap_or_default(),
            number(row, "n"),
            number(row, "off"),
            number(row, "said"),
            number(row, "off_over_said")
        );
    }
    println!("\nwhat flights say of the wind they met, {} of them", soundings["n"]);
    println!("               said to be off by   off over said   within 0.67 of it   within 1.64");
    for what in ["ln_speed", "direction_rad"] {
        let of = |key: &str| number(&soundings[what], key);
        println!(
            "{what:<15}{:>17.3}{:>16.2}{:>20.1}{:>14.1}",
            of("said"),
            of("off_over_said"),
            of("inside_50"),
            of("inside_90")
        );
    }
    println!();
    for it in &verdicts {
        println!(
            "{:<8}{}: {:.1} ({:.1} to {:.1})",
            if it["held"] == true { "held" } else { "MISSED" },
            it["asks"].as_str().unwrap_or_default(),
            number(it, "percent"),
            number(it, "low"),
            number(it, "high")
        );
    }
    Ok(())
}

/// What is asked of learning, and whether it holds: at least 70 % of what knowing would gain; no part of it ever worse, by
/// a bound that 95 % of the draws of flyers stay above; and areas that hold what they say, within the middle 99.9 % of them.
fn verdicts(seasons: &[&Season], gains: &[Value]) -> Vec<Value> {
    let mut verdicts = Vec::new();
    let mut say = |asks: String, figure: &Value, held: bool| {
        let mut verdict = figure.clone();
        (verdict["asks"], verdict["held"]) = (json!(asks), json!(held));
        verdicts.push(verdict);
    };
    let number = |it: &Value, key: &str| it[key].as_f64().unwrap_or(f64::NAN);
    for score in SCORES.iter().filter(|it| ["mean_miss", "energy"].contains(&it.key)) {
        for row in gains.iter().filter(|it| it["what"] == SUMMED) {
            let part = &row[score.key];
            say(
                format!("{}: 70 % of the summed gain and more", score.says),
                part,
                number(part, "percent") >= 70.0,
            );
        }
        for at in [1, 2, 3] {
            let bound = within(seasons, (0.05, 0.95), |seasons| gain(seasons, at, score));
            let held = number(&bound, "low") >= 0.0;
            say(
                format!("{}: {} never worse, 90 % interval of its gain", score.says, ESTIMATORS[at]),
                &bound,
                held,
            );
        }
    }
    for (region, percent) in [(0, 50.0), (1, 90.0)] {
        let share = |seasons: &[&Season]| {
            100.0 * mean(flights(seasons).map(|it| f64::from(u8::from(it.by[LEARNED].inside[region]))))
        };
        let band = within(seasons, (0.0005, 0.9995), share);
        let held = (number(&band, "low")..=number(&band, "high")).contains(&percent);
        say(format!("{percent} % areas with learning, 99.9 % interval"), &band, held);
    }
    verdicts
}

/// Of speed and direction: how far soundings say that they may be off, how far they are off over that (root mean squares), and
/// how often the truth is within the middle 50 and 90 % of a normal law.
fn soundings(seasons: &[&Season]) -> Value {
    let all: Vec<[[f64; 2]; 2]> = seasons.iter().flat_map(|it| it.soundings.iter().copied()).collect();
    let of = |axis: usize| {
        let of = || all.iter().map(move |it| it[axis]);
        let inside = |most: f64| 100.0 * mean(of().map(|[off, _]| f64::from(u8::from(off.abs() < most))));
        json!({
            "said": mean(of().map(|[_, sigma]| sigma * sigma)).sqrt(),
            "off_over_said": mean(of().map(|[off, _]| off * off)).sqrt(),
            "inside_50": inside(0.674_49),
            "inside_90": inside(1.644_85),
        })
    };
    json!({"n": all.len(), "ln_speed": of(0), "direction_rad": of(1)})
}

/// Of each trait: how far the beliefs are off the truth, how far they say they may be, and the one over the other; root
/// mean squares.
fn beliefs(seasons: &[&Season]) -> Vec<Value> {
    let mut traits: Vec<_> = seasons.iter().flat_map(|it| &it.beliefs).map(|it| it.0).collect();
    traits.sort_unstable();
    traits.dedup();
    let row = |what| {
        let of = || seasons.iter().flat_map(|it| &it.beliefs).filter(move |it| it.0 == what).map(|it| it.1);
        let root = |square: fn([f64; 3]) -> f64| mean(of().map(square)).sqrt();
        json!({
            "trait": what,
            "n": of().count(),
            "off": root(|[mean, _, truth]| (mean - truth).powi(2)),
            "said": root(|[_, sigma, _]| sigma * sigma),
            "off_over_said": root(|[mean, sigma, truth]| ((mean - truth) / sigma).powi(2)),
        })
    };
    traits.into_iter().map(row).collect()
}

fn flights<'a>(seasons: &'a [&Season]) -> impl Iterator<Item = &'a SeasonFlight> + Clone {
    seasons.iter().flat_map(|it| &it.flights)
}

fn mean(numbers: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = numbers.fold((0.0, 0.0), |(sum, n), it| (sum + it, n + 1.0));
    sum / n
}

fn estimators(seasons: &[&Season]) -> Vec<Value> {
    let row = |(at, name): (usize, &&str)| {
        let of = || flights(seasons).map(|it| &it.by[at]);
        let share = |region: usize| {
            let (k, n) = (of().filter(|it| it.inside[region]).count() as f64, of().count() as f64);
            let (low, high) = wilson(k, n);
            json!({"percent": 100.0 * k / n, "interval": [100.0 * low, 100.0 * high], "n": n})
        };
        json!({
            "estimator": name,
            "median_miss_m": quantile(&of().map(|it| it.miss_m).collect::<Vec<_>>(), 0.5),
            "mean_miss_m": mean(of().map(|it| it.miss_m)),
            "energy_m": mean(of().map(|it| it.energy_m)),
            "log_score": mean(of().map(|it| it.log_score)),
            "inside_50": share(0),
            "inside_90": share(1),
        })
    };
    ESTIMATORS.iter().enumerate().map(row).collect()
}

/// How answers to the same flights are held against each other.
struct Score {
    key: &'static str,
    says: &'static str,
    of: fn(&PartOutcome) -> f64,
    /// What is left of a score, of pairs without learning and with it: 1 if nothing was gained.
    left: fn(&[[f64; 2]]) -> f64,
}

/// The first is what a walk is; the last two weigh every flight alike, so that a few that drifted far do not drown the rest.
const SCORES: [Score; 5] = [
    Score { key: "mean_miss", says: "mean miss", of: |it| it.miss_m, left: ratio_of_means },
    Score { key: "median_miss", says: "median miss", of: |it| it.miss_m, left: ratio_of_medians },
    Score { key: "energy", says: "energy score", of: |it| it.energy_m, left: ratio_of_means },
    Score {
        key: "ln_energy",
        says: "energy, flight by flight",
        of: |it| it.energy_m.max(0.01).ln(),
        left: exp_of_mean_difference,
    },
    Score { key: "log", says: "log score, as an area", of: |it| it.log_score, left: exp_of_mean_difference },
];

fn column(pairs: &[[f64; 2]], at: usize) -> impl Iterator<Item = f64> {
    pairs.iter().map(move |it| it[at])
}

fn ratio_of_means(pairs: &[[f64; 2]]) -> f64 {
    mean(column(pairs, 1)) / mean(column(pairs, 0))
}

fn ratio_of_medians(pairs: &[[f64; 2]]) -> f64 {
    let [without, with] =
        [0, 1].map(|at| quantile(&column(pairs, at).collect::<Vec<_>>(), 0.5).unwrap_or(f64::NAN));
    with / without
}

fn exp_of_mean_difference(pairs: &[[f64; 2]]) -> f64 {
    mean(pairs.iter().map(|it| it[1] - it[0])).exp()
}

/// What an estimator gains on the first, percent.
fn gain(seasons: &[&Season], at: usize, score: &Score) -> f64 {
    let pairs: Vec<[f64; 2]> = flights(seasons).map(|it| [0, at].map(|at| (score.of)(&it.by[at]))).collect();
    100.0 * (1.0 - (score.left)(&pairs))
}

/// What each estimator gains on the first, and which part of what can be gained.
fn gains(seasons: &[&Season]) -> Vec<Value> {
    let mut rows = Vec::new();
    for at in [1, 4, 2, 5, 3, 6] {
        let mut row = json!({"what": ESTIMATORS[at]});
        for score in &SCORES {
            row[score.key] = with_interval(seasons, |seasons| gain(seasons, at, score));
        }
        rows.push(row);
    }
    let parts = [(SUMMED, [&[1, 2][..], &[4, 5]]), ("both, part of told both", [&[3], &[6]])];
    for (what, [learned, told]) in parts {
        let mut row = json!({ "what": what });
        for score in &SCORES {
            row[score.key] = with_interval(seasons, |seasons| {
                let sum = |of: &[usize]| of.iter().map(|at| gain(seasons, *at, score)).sum::<f64>();
                100.0 * sum(learned) / sum(told)
            });
        }
        rows.push(row);
    }
    rows
}

/// A figure, and its 95 % interval by drawing the flyers anew: flights of one flyer share his things.
///
/// # Source
/// B. Efron, Bootstrap methods: another look at the jackknife, Ann. Stat. 7 (1979) 1, by percentiles; from memory.
fn with_interval(seasons: &[&Season], figure: impl Fn(&[&Season]) -> f64) -> Value {
    within(seasons, (0.025, 0.975), figure)
}

/// A figure between two quantiles of what it is when the flyers are drawn anew.
fn within(seasons: &[&Season], (low, high): (f64, f64), figure: impl Fn(&[&Season]) -> f64) -> Value {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let figures: Vec<f64> = (0..4000)
        .map(|_| {
            let drawn: Vec<&Season> =
                seasons.iter().map(|_| seasons[rng.random_range(0..seasons.len())]).collect();
            figure(&drawn)
        })
        .collect();
    json!({"percent": figure(seasons), "low": quantile(&figures, low), "high": quantile(&figures, high)})
}
