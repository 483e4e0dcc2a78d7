//! The cloud against a general-purpose library: the same posterior of a reduced model, worked out by
//! `tests/oracle/posterior.py`.

use windfall_facts::{Mode, read_flight};
use windfall_inference::{Priors, Settings, locate};
use windfall_tests::ReferenceTable;

const SEEDS: u32 = 8;
/// How far the kernel's path may be off: its own bound against a high-order solver, m.
const PATH_M: f64 = 0.5;
/// What that is worth in a chance.
const CHANCE: f64 = 0.005;

fn text(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("oracle/posterior").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Mean and standard error of each column.
fn pooled<const N: usize>(rows: &[[f64; N]]) -> [(f64, f64); N] {
    let n = rows.len() as f64;
    core::array::from_fn(|column| {
        let mean = rows.iter().map(|row| row[column]).sum::<f64>() / n;
        let variance = rows.iter().map(|row| (row[column] - mean).powi(2)).sum::<f64>() / (n - 1.0);
        (mean, (variance / n).sqrt())
    })
}

/// Mean and spread of the landing towards east and north (m), and the chance that the parachute opened.
fn ours(case: &str, priors: &Priors, seed: u32) -> [f64; 5] {
    let flight = read_flight(&text(&format!("{case}.json"))).unwrap();
    let settings = Settings { seed, ..Settings::default() };
    let answer = locate(&flight, priors, &settings).unwrap().answer(None, Some(2000));
    let part = &answer.parts[0];
    let frame = windfall_quantities::LocalFrame::about(
        windfall_quantities::Position::new(flight.pad.lat, flight.pad.lon).unwrap(),
    );
    let landings: Vec<[f64; 2]> = part
        .samples
        .as_ref()
        .unwrap()
        .iter()
        .map(|[lat, lon]| {
            let offset = frame.offset_of(windfall_quantities::Position::new(*lat, *lon).unwrap());
            [offset.east_m, offset.north_m]
        })
        .collect();
    let n = landings.len() as f64;
    let mean = [0, 1].map(|axis| landings.iter().map(|at| at[axis]).sum::<f64>() / n);
    let spread = [0, 1]
        .map(|axis| (landings.iter().map(|at| (at[axis] - mean[axis]).powi(2)).sum::<f64>() / n).sqrt());
    let opened = part.modes.iter().find(|it| it.mode == Mode::Opens).map_or(0.0, |it| it.probability);
    [mean[0], mean[1], spread[0], spread[1], opened]
}

#[test]
fn means_spreads_and_chances_are_those_of_a_general_purpose_library() {
    let table = ReferenceTable::open("particles/posterior.csv");
    let priors = Priors::replaced_by(&text("priors.csv")).unwrap();
    let (mut place, mut chance) = (table.worst("place"), table.worst("chance"));
    for row in table.rows() {
        let runs: Vec<[f64; 5]> = (1..=SEEDS).map(|seed| ours(row.text("case"), &priors, seed)).collect();
        let pooled = pooled(&runs);
        let columns = ["mean_east_m", "mean_north_m", "spread_east_m", "spread_north_m", "p_opens"];
        for (column, (ours, error)) in columns.into_iter().zip(pooled) {
            let (theirs, their_error) = (row[column], row[format!("{column}_error").as_str()]);
            let (worst, least) =
                if column == "p_opens" { (&mut chance, CHANCE) } else { (&mut place, PATH_M) };
            let apart = (ours - theirs) / error.hypot(their_error).hypot(least / 6.0);
            println!(
                "{} {column}: {ours:.3} +- {error:.3}, theirs {theirs:.3} +- {their_error:.3}",
                row.text("case")
            );
            worst.see(row, apart, 0.0);
        }
    }
    place.assert_within(4 * table.rows().len());
    chance.assert_within(table.rows().len());
}
