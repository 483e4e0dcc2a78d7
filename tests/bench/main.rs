//! What an answer costs, against a loop of `exp` in the same run: `cargo xtask bench`.
//!
//! Speeds are ratios, because machines differ; the absolute figures stand beside them with the processor's name. Each
//! figure is the median of repeated runs, interleaved with the loop it is compared with.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench prints, and a broken one should stop")]
#![expect(clippy::disallowed_methods, reason = "a bench reads the clock")]

use std::hint::black_box;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use windfall_facts::{Flight, read_flight};
use windfall_inference::{Beliefs, Live, Priors, Settings, locate};
use windfall_physics::air::{AirTable, Ground, Profile};
use windfall_physics::craft::Burn;
use windfall_physics::flight::{Boost, Path, Rail, State, Thrust, boost, coast, under_drag};

const EXPS: usize = 100_000;
/// Draws of the provisional cloud.
const LIVE_DRAWS: usize = 512;

/// Seconds for one `exp` of an f64, from a scalar loop over values it cannot know.
fn exp_s() -> f64 {
    let start = Instant::now();
    let mut sum = 0.0;
    for index in 0..EXPS {
        sum += black_box(-(index as f64) * 1e-5).exp();
    }
    black_box(sum);
    start.elapsed().as_secs_f64() / EXPS as f64
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Median seconds of `work` and of one `exp`, taken in turn.
fn against_exp(rounds: usize, mut work: impl FnMut()) -> (f64, f64) {
    let (mut own, mut exp) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        exp.push(exp_s());
        let start = Instant::now();
        work();
        own.push(start.elapsed().as_secs_f64());
    }
    (median(own), median(exp))
}

/// A single-stage flight to some 250 m and 60 s: boost, coast, deployment, parachute, in a sheared wind.
struct Nominal {
    burn: Burn,
    air: AirTable,
    path: Path,
}

impl Nominal {
    fn fly(&mut self, wind_mps: f64) {
        let profile = Profile {
            east10_mps: wind_mps,
            north10_mps: 1.0,
            roughness_m: 0.03,
            stability: 0.7,
            shear_exponent: 0.1,
            veer_radpm: 0.001,
        };
        self.air.fill(&profile, &[], Ground { temperature_k: 294.0, density_kgpm3: 1.17 }, 500.0);
        self.path.clear();
        let thrust = Thrust {
            burn: &self.burn,
            mean_n: 6.0,
            length_s: 1.5,
            propellant_kg: 0.0115,
            misaligned_rad: [0.01, 0.0],
        };
        let rail = Rail { length_m: 0.9, lean_rad: [0.05, 0.02] };
        let mut craft = Boost { mass_kg: 0.086, drag_area_m2: 3.5e-4, gust_mps: [0.3, -0.2] };
        let state = boost(State::default(), craft, thrust, Some(rail), &self.air, &mut self.path);
        craft.mass_kg -= 0.0115;
        let state = coast(state, craft, &self.air, &mut self.path, state.t_s + 5.0, &mut None);
        let _ = under_drag(state, craft.mass_kg, 0.052, 0.1, &self.air, &mut self.path);
    }
}

/// An invented flight seen from the pad: up to 250 m, then down at 4.5 m/s with a wind of 4.5 m/s from 240 degrees.
fn text(evidence: &str) -> String {
    format!(
        r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3, "accuracy_m": 4, "elevation_m": 120}},
        "air": {{"temperature_c": 21}},
        "wind": [{{"at": "2026-05-16T11:00:00+02:00", "height_m": 2, "averaged_s": 60, "speed_mps": 3.2,
                   "from_deg": 240, "north": "true", "method": "meter"}}],
        "rocket": {{"stages": [{{"dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "motor": "C6-5",
                   "recovery": {{"kind": "parachute", "diameter_mm": 300}}}}]}},
        "launch": {{"at": "2026-05-16T11:05:00+02:00", "rod": {{"length_m": 0.9, "tilt_deg": 4, "toward_deg": 240,
                   "north": "true"}}}},
        "evidence": [{evidence}]}}"#
    )
}

fn flight(evidence: &str) -> Flight {
    read_flight(&text(evidence)).unwrap()
}

/// True bearing and elevation (degrees) of the invented flight.
fn seen(t_s: f64) -> (f64, f64) {
    let down_s = (t_s - 7.0).max(0.0);
    let up_m = (250.0 - 4.5 * down_s).max(0.0);
    let drift_m = 4.5 * down_s - 12.0;
    let (sin, cos) = 60.0_f64.to_radians().sin_cos();
    let (east, north) = (drift_m * sin, drift_m * cos);
    (east.atan2(north).to_degrees().rem_euclid(360.0), (up_m - 1.6).atan2(east.hypot(north)).to_degrees())
}

fn four_sightings() -> String {
    let rows: Vec<String> = [("apogee", 6.8, 2.0, 1.0), ("deployment", 7.6, -3.0, -1.5), ("descent", 25.0, 3.5, 1.0),
        ("lost", 45.0, -2.0, -0.5)]
    .into_iter()
    .map(|(moment, t_s, turn, rise)| {
        let (bearing, elevation) = seen(t_s);
        format!(
            r#"{{"kind": "sighting", "moment": "{moment}", "t_s": {t_s}, "bearing_deg": {:.1}, "north": "true",
               "elevation_deg": {:.1}}}"#,
            (bearing + turn).rem_euclid(360.0),
            (elevation + rise).min(89.5)
        )
    })
    .collect();
    rows.join(",")
}

fn track(seconds: f64, hertz: f64) -> Flight {
    let samples: Vec<String> = (0..)
        .map(|index| 8.0 + f64::from(index) / hertz)
        .take_while(|t_s| *t_s < 8.0 + seconds)
        .map(|t_s| {
            let (bearing, elevation) = seen(t_s);
            // A hand that sways a few degrees, slowly.
            let (turn, rise) = (2.0 * (t_s / 2.7).sin() + 3.0, 0.8 * (t_s / 1.9).cos());
            format!(
                "[{t_s:.2}, {:.2}, {:.2}]",
                (bearing + turn).rem_euclid(360.0),
                (elevation + rise).min(89.5)
            )
        })
        .collect();
    flight(&format!(r#"{{"kind": "track", "north": "true", "samples": [{}]}}"#, samples.join(",")))
}

fn processor() -> String {
    let text = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let name = text.lines().find_map(|line| line.strip_prefix("model name")?.split_once(':'));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    format!("{}, {cores} cores", name.map_or("a processor without a name", |row| row.1.trim()))
}

/// One line of the table.
struct Figure {
    what: String,
    ms: f64,
    exps: f64,
    effective: Option<f64>,
    /// Of the whole process, at its most.
    peak_mib: Option<f64>,
}

impl Figure {
    fn of(what: &str, own_s: f64, exp_s: f64) -> Self {
        Self { what: what.into(), ms: own_s * 1e3, exps: own_s / exp_s, effective: None, peak_mib: None }
    }
}

fn answered(what: &str, flight: &Flight, draws: usize, threads: usize, rounds: usize) -> Figure {
    let priors = Priors::embedded();
    let mut seed = 0;
    let mut effective = Vec::new();
    let (own_s, exp_s) = against_exp(rounds, || {
        seed += 1;
        let cloud = locate(flight, &priors, &Settings { seed, draws, threads }).unwrap();
        effective.push(cloud.answer(None, None).effective_draws);
    });
    Figure { effective: Some(median(effective)), ..Figure::of(what, own_s, exp_s) }
}

/// A phone held on target: two samples more every 200 ms, each batch a provisional cloud. Median and 95th percentile.
fn live(batches: usize) -> Vec<Figure> {
    let priors = Priors::embedded();
    let settings = Settings { seed: 1, draws: LIVE_DRAWS, threads: 2 };
    let batches: Vec<Flight> = (5..).map(|batch| track(0.2 * f64::from(batch), 10.0)).take(batches).collect();
    let (mut cloud, _) = Live::begin(&batches[0], &priors, &Beliefs::default(), &settings).unwrap();
    let (mut own, mut exp, mut effective) = (Vec::new(), Vec::new(), Vec::new());
    for flight in &batches[1..] {
        exp.push(exp_s());
        let start = Instant::now();
        let ahead = cloud.goes_on(flight).unwrap();
        own.push(start.elapsed().as_secs_f64());
        effective.push(ahead.answer(None, None).effective_draws);
    }
    own.sort_by(f64::total_cmp);
    let exp_s = median(exp);
    let effective = median(effective);
    [("median", own.len() / 2), ("95th percentile", own.len() * 19 / 20)]
        .map(|(name, place)| {
            let own_s = own[place];
            let what = format!("live, a batch of 200 ms, {name}");
            Figure { effective: Some(effective), ..Figure::of(&what, own_s, exp_s) }
        })
        .into()
}

/// The program itself, from its start to its end, on four sightings.
fn process(program: &str, what: &str, draws: usize, rounds: usize) -> Figure {
    let file = std::env::temp_dir().join(format!("windfall-bench-{}.json", std::process::id()));
    std::fs::write(&file, text(&four_sightings())).unwrap();
    let draws = draws.to_string();
    let mut peak_mib: Option<f64> = None;
    let (own_s, exp_s) = against_exp(rounds, || {
        let mut child = Command::new(program)
            .arg("locate")
            .arg(&file)
            .args(["--draws", &draws, "--threads", "2", "--json"])
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        // The system forgets a process's peak with the process: it is read while it runs, and only grows.
        let status = loop {
            peak_mib = resident_peak_mib(&child).into_iter().chain(peak_mib).reduce(f64::max);
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            std::thread::sleep(Duration::from_millis(1));
        };
        assert!(status.success(), "{status}");
    });
    std::fs::remove_file(&file).unwrap();
    Figure { peak_mib, ..Figure::of(what, own_s, exp_s) }
}

/// Most memory that a process has held at once, where the system tells.
fn resident_peak_mib(child: &Child) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{}/status", child.id())).ok()?;
    let kib = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(kib.trim().trim_end_matches(" kB").parse::<f64>().ok()? / 1024.0)
}

/// What the house hands over: where the program as shipped lies.
fn program() -> Option<String> {
    std::env::args().skip_while(|word| word != "--program").nth(1)
}

fn main() {
    let json = std::env::args().any(|word| word == "--json");
    let mut nominal = Nominal { burn: Burn::constant(), air: AirTable::default(), path: Path::default() };
    nominal.fly(3.0);
    let (landed_s, apogee_m) = (nominal.path.end().t_s, nominal.path.top().at_m[2]);
    let mut figures = Vec::new();
    const FLIGHTS: usize = 2000;
    let (own_s, exp_s) = against_exp(41, || {
        for index in 0..FLIGHTS {
            nominal.fly(black_box(2.0 + index as f64 * 1e-3));
            black_box(nominal.path.end());
        }
    });
    let each_s = own_s / FLIGHTS as f64;
    let what = format!("one story ({apogee_m:.0} m, {landed_s:.0} s), one core");
    figures.push(Figure::of(&what, each_s, exp_s));
    let whole = !std::env::args().any(|word| word == "--story");
    let draws = Settings::default().draws;
    let (four, long) = (flight(&four_sightings()), track(40.0, 10.0));
    if whole {
        figures.push(answered("nothing seen", &flight(""), draws, 2, 15));
        figures.push(answered("four sightings", &four, draws, 2, 15));
        figures.push(answered("four sightings, one thread", &four, draws, 1, 9));
        figures.push(answered("four sightings, half the draws", &four, draws / 2, 2, 9));
        figures.push(answered("four sightings, twice the draws", &four, draws * 2, 2, 9));
        figures.push(answered("a track of 40 s at 10 Hz", &long, draws, 2, 9));
        figures.push(answered("a track of 20 s at 10 Hz", &track(20.0, 10.0), draws, 2, 9));
        figures.extend(live(195));
    }
    if let Some(program) = program() {
        figures.push(process(&program, "the program, start to end, four sightings", draws, 9));
        figures.push(process(&program, "the same with 50,000 draws", 50_000, 3));
    }
    if json {
        let rows: Vec<serde_json::Value> = figures
            .iter()
            .map(|it| serde_json::json!({"what": it.what, "ms": it.ms, "exps": it.exps, "effective_draws": it.effective,
                                         "peak_mib": it.peak_mib}))
            .collect();
        println!("{}", serde_json::json!({"processor": processor(), "exp_ns": exp_s * 1e9, "figures": rows}));
        return;
    }
    println!("{}; one exp takes {:.2} ns", processor(), exp_s * 1e9);
    println!("{:<42} {:>10} {:>14} {:>16} {:>10}", "", "ms", "in exps", "effective draws", "peak MiB");
    for it in &figures {
        let [effective, peak] =
            [it.effective, it.peak_mib].map(|it| it.map_or_else(String::new, |it| format!("{it:.0}")));
        println!("{:<42} {:>10.4} {:>14.0} {effective:>16} {peak:>10}", it.what, it.ms, it.exps);
    }
}
