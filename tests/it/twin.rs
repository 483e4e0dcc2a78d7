//! The twin in its short form: simulated flights whose truth is known, and whether the answer's regions hold it. In
//! full it is `cargo xtask twin`.

use windfall_facts::read_flight;
use windfall_inference::{Priors, Settings};
use windfall_tests::ReferenceTable;
use windfall_tests::twin::{LEVELS, Level, SEEDS, energy_score, flight, judge, log_score, wilson};

/// Least and greatest number of hits among `n` that a share `p` gives but once in a million times.
pub(crate) fn band(n: u32, p: f64) -> (f64, f64) {
    let mut ln_choose = 0.0;
    let chances: Vec<f64> = (0..=n)
        .map(|k| {
            if k > 0 {
                ln_choose += f64::from(n - k + 1).ln() - f64::from(k).ln();
            }
            (ln_choose + f64::from(k) * p.ln() + f64::from(n - k) * (1.0 - p).ln()).exp()
        })
        .collect();
    let beyond = |chances: &mut dyn Iterator<Item = &f64>| {
        let mut sum = 0.0;
        let inside = chances.take_while(|chance| {
            sum += **chance;
            sum < 5e-7
        });
        inside.count() as f64
    };
    (beyond(&mut chances.iter()), f64::from(n) - beyond(&mut chances.iter().rev()))
}

#[test]
fn the_band_of_the_far_tail_is_that_of_the_binomial() {
    // Sums of binomial coefficients over 2^40, by hand: up to 4 hits 9.3e-8, up to 5 hits 6.9e-7.
    assert_eq!(band(40, 0.5), (5.0, 35.0));
    let (low, high) = band(40, 0.9);
    assert!(low > 20.0 && high > 39.5, "{low} to {high}");
}

#[test]
fn regions_hold_what_the_twin_flew_far_more_often_than_chance_would_miss() {
    // Level and flights: fewer where an answer takes longer.
    const LEVELS: [(&str, u32); 9] = [
        ("nothing", 40),
        ("letter", 40),
        ("one", 40),
        ("four", 40),
        ("standing", 40),
        ("dragged", 40),
        ("altimeter", 30),
        ("part", 24),
        ("track", 16),
    ];
    let priors = Priors::embedded();
    let hits = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..2_u32)
            .map(|worker| {
                let priors = &priors;
                scope.spawn(move || {
                    let mut hits = [[0.0; 2]; LEVELS.len()];
                    let settings = Settings { threads: 1, ..Settings::default() };
                    for (hits, (name, flights)) in hits.iter_mut().zip(LEVELS) {
                        let level = Level::named(name).unwrap();
                        for number in (0..flights).filter(|number| number % 2 == worker) {
                            let outcome = judge(level, SEEDS[0], number, priors, &settings);
                            assert_eq!(outcome.refused, None, "{name} {number}");
                            let parts = outcome.parts.len() as f64;
                            for part in &outcome.parts {
                                assert!(part.energy_m.is_finite() && part.log_score.is_finite());
                                for (hits, inside) in hits.iter_mut().zip(part.inside) {
                                    *hits += f64::from(u8::from(inside)) / parts;
                                }
                            }
                        }
                    }
                    hits
                })
            })
            .collect();
        workers.into_iter().map(|worker| worker.join().unwrap()).collect::<Vec<_>>()
    });
    for (at, (name, flights)) in LEVELS.into_iter().enumerate() {
        for (region, p) in [0.5, 0.9].into_iter().enumerate() {
            let sum: f64 = hits.iter().map(|it| it[at][region]).sum();
            let (low, high) = band(flights, p);
            println!("{name}: {sum:.1} of {flights} inside the {p} region");
            assert!((low..=high).contains(&sum), "{name}: {sum} of {flights} inside the {p} region");
        }
    }
}

#[test]
fn every_flight_that_the_twin_tells_is_a_flight_file_and_always_the_same() {
    let priors = Priors::embedded();
    for level in LEVELS {
        for number in 0..40 {
            let (told, truths) = flight(level, SEEDS[1], number, &priors);
            let read = read_flight(&told.to_string()).unwrap_or_else(|error| panic!("{error}\n{told}"));
            assert_eq!(read.rocket.part_names().len(), truths.len(), "{}", level.name);
            assert_eq!(flight(level, SEEDS[1], number, &priors), (told, truths));
        }
    }
}

#[test]
fn energy_scores_are_those_of_the_reference() {
    let table = ReferenceTable::open("scoringrules/stats_energy_score.csv");
    let mut worst = table.worst("energy_score");
    let ensemble = [[0.0, 0.0], [10.0, 5.0], [-4.0, 8.0], [3.0, -6.0], [7.0, 2.0]];
    for row in table.rows() {
        worst.see(row, energy_score(&ensemble, [2.0, 3.0]), row["energy_score"]);
    }
    worst.assert_within(1);
}

#[test]
fn along_a_line_the_energy_score_is_the_crps_of_the_reference() {
    let table = ReferenceTable::open("scoringrules/stats_crps.csv");
    let mut worst = table.worst("crps_relative");
    let quantiles = normal_quantiles(4000);
    for row in table.rows() {
        let points: Vec<[f64; 2]> = quantiles.iter().map(|z| [row["mu"] + row["sigma"] * z, 0.0]).collect();
        worst.see_relative(row, energy_score(&points, [row["y"], 0.0]), row["crps"]);
    }
    worst.assert_within(5);
}

/// Quantiles of the standard normal in the middle of `count` equal shares, by bisection.
fn normal_quantiles(count: u32) -> Vec<f64> {
    // The distribution function by its series: z / sqrt(2 pi) e^(-z^2 / 2) (1 + z^2 / 3 + z^4 / 15 + ...).
    let below = |z: f64| {
        let (mut term, mut sum) = (z, z);
        for k in 1..120 {
            term *= z * z / (2.0 * f64::from(k) + 1.0);
            sum += term;
        }
        0.5 + sum * (-0.5 * z * z).exp() / core::f64::consts::TAU.sqrt()
    };
    let quantile = |p: f64| {
        let (mut low, mut high) = (-6.0, 6.0);
        for _ in 0..50 {
            let middle = f64::midpoint(low, high);
            if below(middle) < p { low = middle } else { high = middle }
        }
        low
    };
    (0..count).map(|k| quantile((f64::from(k) + 0.5) / f64::from(count))).collect()
}

#[test]
fn intervals_of_shares_are_those_of_the_reference() {
    let table = ReferenceTable::open("scoringrules/stats_wilson.csv");
    let mut worst = table.worst("wilson");
    for row in table.rows() {
        let (low, high) = wilson(row["k"], row["n"]);
        worst.see(row, low, row["wilson_lo"]);
        worst.see(row, high, row["wilson_hi"]);
    }
    worst.assert_within(20);
}

#[test]
fn the_log_score_is_read_off_the_drawing_of_a_density() {
    // Two rows of two cells of 5 m, the bytes 255, 0 in the north and 51, 0 in the south: chances 25 to 1.
    let mut bytes = Vec::new();
    for word in [2_u16, 2] {
        bytes.extend(word.to_le_bytes());
    }
    for real in [5.0_f32, -5.0, -5.0] {
        bytes.extend(real.to_le_bytes());
    }
    bytes.extend([255, 0, 51, 0]);
    let score = |at: [f64; 2]| log_score(&bytes, at).unwrap();
    assert!((score([-2.0, 2.0]) + (25.0 / 26.0 / 25.0_f64).ln()).abs() < 1e-12);
    assert!((score([-2.0, -2.0]) + (1.0 / 26.0 / 25.0_f64).ln()).abs() < 1e-12);
    assert!(score([50.0, 0.0]).is_finite() && score([50.0, 0.0]) > score([-2.0, -2.0]));
    assert_eq!(log_score(&bytes[..10], [0.0, 0.0]), None);
}
