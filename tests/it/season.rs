//! Seasons in their short form: what was learned from flights must not make the next answer worse. In full they are
//! `cargo xtask season`.

use crate::twin::band;
use windfall_inference::{Priors, Settings};
use windfall_tests::twin::Level;
use windfall_tests::twin::season::{ESTIMATORS, Season, season};

const SETTINGS: Settings = Settings { seed: 1, draws: 512, threads: 1 };

#[test]
fn learning_from_flights_does_not_make_the_next_answer_worse() {
    const FLIGHTS: usize = 10;
    let priors = Priors::embedded();
    let seasons: Vec<Season> = std::thread::scope(|scope| {
        let workers = [0, 2].map(|first| {
            let priors = &priors;
            scope.spawn(move || {
                let level = Level::named("nothing").unwrap();
                [first, first + 1].map(|flyer| season(level, flyer, (FLIGHTS, 1), priors, &SETTINGS))
            })
        });
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    let both = ESTIMATORS.iter().position(|it| *it == "both").unwrap();
    for season in &seasons {
        // Who knows nothing yet answers as who never learns, draw by draw.
        let first = &season.flights[0].by;
        assert!(first[1..=both].iter().all(|it| it.energy_m.to_bits() == first[0].energy_m.to_bits()));
    }
    let flights: Vec<_> = seasons.iter().flat_map(|it| &it.flights).collect();
    let n = flights.len() as f64;
    let more: Vec<f64> = flights.iter().map(|it| it.by[both].energy_m / it.by[0].energy_m - 1.0).collect();
    assert!(more.iter().filter(|it| it.abs() > 0.01).count() > flights.len() / 2, "it learned nothing");
    let mean = more.iter().sum::<f64>() / n;
    let error = (more.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt();
    println!("energy score {:.1} % more, standard error {:.1} %", 100.0 * mean, 100.0 * error);
    assert!(mean < 6.0 * error, "{mean} more, standard error {error}");
    for (region, p) in [0.5, 0.9].into_iter().enumerate() {
        let hits = flights.iter().filter(|it| it.by[both].inside[region]).count() as f64;
        let (low, high) = band(40, p);
        println!("{hits} of {n} inside the {p} region");
        assert!((low..=high).contains(&hits), "{hits} of {n} inside the {p} region");
    }
}

#[test]
fn a_season_is_always_the_same() {
    let priors = Priors::embedded();
    let fly = || season(Level::named("one").unwrap(), 7, (2, 1), &priors, &SETTINGS);
    assert_eq!(serde_json::to_string(&fly()).unwrap(), serde_json::to_string(&fly()).unwrap());
}
