//! The twin in full: flies, tells, judges, and prints one table. `cargo xtask twin` builds and starts it.

#![allow(clippy::print_stdout, reason = "a program for the terminal")]

use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;
use std::process::ExitCode;
use windfall_inference::{Priors, Settings};
use windfall_tests::twin::{
    LEVELS, Level, Outcome, SEEDS, TWIN, ended, folder_of, judge, kept, quantile, wilson,
};

const USAGE: &str = "\
twin [--flights N] [--levels a,b] [--fresh] [--json]
  --flights N   flights of each level, the three seeds together (default 3000)
  --levels a,b  some levels only; `right` and `wrong` stand for many
  --fresh       forget the flights that are kept";

/// Edges of the bins in which chances of modes are held against what happened.
const BINS: [f64; 8] = [0.0, 0.02, 0.1, 0.3, 0.7, 0.9, 0.98, 1.0];

struct Wanted {
    flights: usize,
    levels: Vec<Level>,
    fresh: bool,
    json: bool,
}

fn main() -> ExitCode {
    ended(wanted().and_then(|wanted| run(&wanted)))
}

fn wanted() -> Result<Wanted, String> {
    let mut wanted = Wanted { flights: 3000, levels: LEVELS.to_vec(), fresh: false, json: false };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or_else(|| format!("{word} needs a value\n{USAGE}"));
        match word.as_str() {
            "--flights" => {
                wanted.flights =
                    value()?.parse().map_err(|_| format!("--flights needs a number\n{USAGE}"))?;
            }
            "--levels" => {
                wanted.levels = Vec::new();
                for name in value()?.split(',') {
                    match (name, Level::named(name)) {
                        ("right" | "wrong", _) => {
                            let right = name == "right";
                            wanted.levels.extend(LEVELS.into_iter().filter(|it| it.is_right() == right));
                        }
                        (_, Some(level)) => wanted.levels.push(level),
                        (_, None) => {
                            let names: Vec<&str> = LEVELS.iter().map(|level| level.name).collect();
                            return Err(format!(
                                "{name} is no level: there are right, wrong, {}",
                                names.join(", ")
                            ));
                        }
                    }
                }
            }
            "--fresh" => wanted.fresh = true,
            "--json" => wanted.json = true,
            _ => return Err(USAGE.into()),
        }
    }
    Ok(wanted)
}

fn run(wanted: &Wanted) -> Result<(), String> {
    let folder = folder_of("twin", None)?;
    let priors = Priors::embedded();
    let model = judge(LEVELS[0], SEEDS[0], 0, &priors, &settings()).model;
    let mut rows = Vec::new();
    let mut all = Vec::new();
    for level in &wanted.levels {
        let outcomes = fly(*level, wanted, &model, &folder.join(format!("{}.jsonl", level.name)), &priors)?;
        rows.push((*level, Row::of(&outcomes)));
        if level.is_right() {
            all.extend(outcomes);
        }
    }
    let bins = reliability(&all);
    if wanted.json {
        let levels: Vec<Value> = rows.iter().map(|(level, row)| row.json(level)).collect();
        println!("{:#}", json!({"model": model, "twin": TWIN, "levels": levels, "modes": bins}));
    } else {
        println!("{model}, twin {TWIN}, seeds {SEEDS:?} pooled; shares in percent with their 95 % intervals");
        println!("{}", Row::TITLES);
        for (level, row) in &rows {
            println!("{}", row.line(level));
        }
        println!(
            "\nchances of modes, all levels on which the model is right\n  said      n    mean   happened"
        );
        for bin in &bins {
            let number = |key: &str| bin[key].as_f64().unwrap_or(f64::NAN);
            println!(
                "{:>4.0}-{:<3.0}{:>7.0} {:>7.2} {:>7.2} ({:.2}-{:.2})",
                100.0 * number("from"),
                100.0 * number("to"),
                number("n"),
                100.0 * number("mean"),
                100.0 * number("happened"),
                100.0 * number("low"),
                100.0 * number("high")
            );
        }
    }
    Ok(())
}

/// One thread an answer: flights are many.
fn settings() -> Settings {
    Settings { threads: 1, ..Settings::default() }
}

/// The outcomes of one level: those kept, and the rest flown now and kept.
fn fly(
    level: Level,
    wanted: &Wanted,
    model: &str,
    file: &Path,
    priors: &Priors,
) -> Result<Vec<Outcome>, String> {
    let plan: Vec<(u32, u32)> = (0..wanted.flights)
        .map(|index| (SEEDS[index % SEEDS.len()], u32::try_from(index / SEEDS.len()).unwrap_or(u32::MAX)))
        .collect();
    kept(
        (level.name, file, wanted.fresh),
        &plan,
        |it: &Outcome| (it.model == model && it.twin == TWIN).then_some((it.seed, it.flight)),
        |(seed, number)| judge(level, seed, number, priors, &settings()),
    )
}

/// A share and the interval around it.
#[derive(Clone, Copy)]
struct Share {
    k: f64,
    n: f64,
}

impl Share {
    fn percent(self) -> f64 {
        100.0 * self.k / self.n
    }

    fn interval(self) -> [f64; 2] {
        let (low, high) = wilson(self.k, self.n);
        [100.0 * low, 100.0 * high]
    }

    fn text(self) -> String {
        let [low, high] = self.interval();
        format!("{:5.1} ({low:4.1}-{high:4.1})", self.percent())
    }

    fn json(self) -> Value {
        json!({"percent": self.percent(), "interval": self.interval(), "n": self.n})
    }
}

/// One level of the table.
struct Row {
    inside: [Share; 2],
    area_m2: [f64; 2],
    energy_m: f64,
    log_score: f64,
    draws_p10: f64,
    took_ms: f64,
    caught: Share,
    false_alarms: Share,
    warned: Share,
    refused: usize,
}

impl Row {
    const TITLES: &'static str = "level                n  in 50 % region     in 90 % region     50 % m2   90 % m2  energy m    log  \
draws p10     ms  mistaken: caught    false alarms       told in words      refused";

    /// Parts of one flight share its luck: a flight counts once, by the mean over its parts.
    fn of(outcomes: &[Outcome]) -> Self {
        let n = outcomes.len() as f64;
        let parts = || outcomes.iter().flat_map(|it| &it.parts);
        let count = parts().count() as f64;
        let inside = |at: usize| Share {
            k: outcomes
                .iter()
                .filter(|it| !it.parts.is_empty())
                .map(|it| {
                    it.parts.iter().filter(|part| part.inside[at]).count() as f64 / it.parts.len() as f64
                })
                .sum(),
            n,
        };
        let of = |numbers: Vec<f64>, p: f64| quantile(&numbers, p).unwrap_or(f64::NAN);
        let sum = |count: &dyn Fn(&Outcome) -> usize| outcomes.iter().map(count).sum::<usize>() as f64;
        let (mistaken, caught) = (sum(&|it| it.sightings[1]), sum(&|it| it.caught));
        Self {
            inside: [inside(0), inside(1)],
            area_m2: [0, 1].map(|at| of(parts().map(|it| it.area_m2[at]).collect(), 0.5)),
            energy_m: parts().map(|it| it.energy_m).sum::<f64>() / count,
            log_score: parts().map(|it| it.log_score).sum::<f64>() / count,
            draws_p10: of(outcomes.iter().map(|it| it.effective_draws).collect(), 0.1),
            took_ms: of(outcomes.iter().map(|it| it.took_ms).collect(), 0.5),
            caught: Share { k: caught, n: mistaken },
            false_alarms: Share {
                k: sum(&|it| it.sightings[2]) - caught,
                n: sum(&|it| it.sightings[0]) - mistaken,
            },
            warned: Share { k: sum(&|it| usize::from(it.warned)), n },
            refused: outcomes.iter().filter(|it| it.refused.is_some()).count(),
        }
    }

    fn line(&self, level: &Level) -> String {
        let mut line = format!("{:<16} {:>5}", level.name, self.warned.n);
        let _ = write!(line, "  {}  {}", self.inside[0].text(), self.inside[1].text());
        let _ = write!(line, "  {:>8.0}  {:>8.0}", self.area_m2[0], self.area_m2[1]);
        let _ = write!(line, "  {:>8.1} {:>6.2}", self.energy_m, self.log_score);
        let _ = write!(line, "  {:>9.0} {:>6.0}", self.draws_p10, self.took_ms);
        for share in [self.caught, self.false_alarms, self.warned] {
            let text = if share.n > 0.0 { share.text() } else { "-".into() };
            let _ = write!(line, "  {text:<17}");
        }
        let _ = write!(line, "  {}", self.refused);
        line
    }

    fn json(&self, level: &Level) -> Value {
        json!({
            "level": level.name,
            "says": level.says,
            "n": self.warned.n,
            "inside_50": self.inside[0].json(),
            "inside_90": self.inside[1].json(),
            "median_area_m2": self.area_m2,
            "energy_score_m": self.energy_m,
            "log_score": self.log_score,
            "effective_draws_p10": self.draws_p10,
            "median_ms": self.took_ms,
            "mistaken_caught": self.caught.json(),
            "false_alarms": self.false_alarms.json(),
            "told_in_words": self.warned.json(),
            "refused": self.refused,
        })
    }
}

/// What was said of the modes against what happened, by bins of chance.
fn reliability(outcomes: &[Outcome]) -> Vec<Value> {
    BINS.windows(2)
        .filter_map(|edges| {
            let last = edges[1] >= 1.0;
            let said: Vec<(f64, bool)> = outcomes
                .iter()
                .flat_map(|it| it.modes.iter().map(|(mode, p)| (*p, *mode == it.mode)))
                .filter(|(p, _)| *p >= edges[0] && (*p < edges[1] || last))
                .collect();
            let n = said.len() as f64;
            let k = said.iter().filter(|it| it.1).count() as f64;
            let (low, high) = wilson(k, n);
            (n > 0.0).then(|| {
                json!({"from": edges[0], "to": edges[1], "n": n, "happened": k / n, "low": low, "high": high,
                       "mean": said.iter().map(|it| it.0).sum::<f64>() / n})
            })
        })
        .collect()
}
