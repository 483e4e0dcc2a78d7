//! The mean wind with height, words and numbers of its strength, and the gusts as an ensemble.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use windfall_inference::Priors;
use windfall_physics::air::{Beaufort, Eddy, Profile, Terrain, gust_factor, shape_at, straying};
use windfall_tests::{ReferenceTable, Row, Worst};

/// The neutral mean wind of a row: its speed is right at the row's reference height, from the south-west.
fn neutral(row: &Row) -> Profile {
    let at_10_m = row["U_ref_ms"] / shape_at(row["z_ref_m"], row["z0_m"], 1.0, row["alpha"]);
    Profile {
        east10_mps: 0.6 * at_10_m,
        north10_mps: 0.8 * at_10_m,
        roughness_m: row["z0_m"],
        stability: 1.0,
        shear_exponent: row["alpha"],
        veer_radpm: 0.0,
    }
}

fn speed_mps(profile: &Profile, height_m: f64) -> f64 {
    let (east, north) = profile.at(height_m);
    east.hypot(north)
}

/// Source: `windpowerlib/wind_profile_cases.csv`, the 18 rows up to 80 m, where the log law holds.
#[test]
fn the_neutral_wind_follows_the_log_law_up_to_80_m() {
    let table = ReferenceTable::open("windpowerlib/wind_profile_cases.csv");
    let mut worst = table.worst("U_log_ms");
    for row in table.rows().iter().filter(|row| row["z_m"] <= 80.0) {
        worst.see(row, speed_mps(&neutral(row), row["z_m"]), row["U_log_ms"]);
    }
    worst.assert_within(18);
}

/// Source: `windpowerlib/wind_profile_cases.csv`, the 18 rows above 80 m, as growth from the row at 100 m: where
/// the power law begins, our speed is the log law's and not the table's.
#[test]
fn the_wind_above_80_m_grows_by_the_power_law() {
    let table = ReferenceTable::open("windpowerlib/wind_profile_cases.csv");
    let mut worst = table.worst("U_power_ms");
    let mut at_100_m = None;
    for row in table.rows().iter().filter(|row| row["z_m"] > 80.0) {
        if row.text("z_m") == "100" {
            at_100_m = Some(row);
        }
        let base = at_100_m.unwrap();
        assert_eq!((base.text("z0_m"), base.text("U_ref_ms")), (row.text("z0_m"), row.text("U_ref_ms")));
        let wind = neutral(row);
        let growth = speed_mps(&wind, row["z_m"]) / speed_mps(&wind, base["z_m"]);
        worst.see(row, base["U_power_ms"] * growth, row["U_power_ms"]);
    }
    worst.assert_within(18);
}

/// Source: `wmo/wind_roughness_davenport.csv`.
///
/// DIFFERENCE: below twice the roughness length we take the speed there, the table the bare log law: its last row, at
/// a height of one roughness length, has no wind.
#[test]
fn the_terrain_classes_have_the_roughness_of_davenport_and_its_log_law() {
    let table = ReferenceTable::open("wmo/wind_roughness_davenport.csv");
    let columns = ["z0_m", "alpha_10_50_from_loglaw", "U2_over_U10"];
    let mut worst = columns.map(|column| table.worst(column));
    for (row, terrain) in table.rows().iter().zip(Terrain::ALL) {
        assert_eq!(row.text("class"), terrain.name());
        let roughness_m = terrain.roughness_m();
        let shape = |height_m| shape_at(height_m, roughness_m, 1.0, 0.0);
        worst[0].see(row, roughness_m, row["z0_m"]);
        worst[1].see(row, shape(50.0).ln() / 5.0_f64.ln(), row["alpha_10_50_from_loglaw"]);
        if terrain == Terrain::Chaotic {
            assert!((shape(2.0) - shape(4.0)).abs() < 1e-12 && shape(2.0) > row["U2_over_U10"]);
        } else {
            worst[2].see(row, shape(2.0), row["U2_over_U10"]);
        }
    }
    for (worst, rows) in worst.iter().zip([8, 8, 7]) {
        worst.assert_within(rows);
    }
}

fn prior(name: &str) -> (f64, f64) {
    let priors = Priors::embedded();
    priors.rows().find(|(it, _)| *it == name).map(|(_, row)| (row.a, row.b)).unwrap()
}

/// Source: `epa/wind_power_law_exponents.csv`: what others take for the growth of wind with height, by stability and
/// by terrain, against our prior above 80 m and our log law below.
#[test]
fn the_power_law_exponents_of_others_lie_where_ours_may() {
    let table = ReferenceTable::open("epa/wind_power_law_exponents.csv");
    let (centre, sigma) = prior("shear_exponent_above_80m_day");
    let mut by_day = table.worst("by_day_sigmas");
    let mut by_night = table.worst("by_night_sigmas");
    let mut of_roughness = table.worst("of_roughness");
    for row in table.rows() {
        let terrain = match row.text("condition") {
            night @ ("Pasquill E" | "Pasquill F") => {
                assert!(row["rural_p"] > 0.3, "{night}");
                by_night.see(row, (row["rural_p"] - centre) / sigma, 0.0);
                by_night.see(row, (row["urban_p"] - centre) / sigma, 0.0);
                continue;
            }
            day if day.starts_with("Pasquill") => {
                by_day.see(row, (row["rural_p"] - centre) / sigma, 0.0);
                by_day.see(row, (row["urban_p"] - centre) / sigma, 0.0);
                continue;
            }
            water if water.starts_with("open water") => Terrain::Sea,
            flat if flat.starts_with("flat open") => Terrain::Open,
            iec if iec.starts_with("IEC") => Terrain::RoughlyOpen,
            wood if wood.starts_with("suburb") => Terrain::Rough,
            _ => Terrain::Closed,
        };
        let alpha = shape_at(50.0, terrain.roughness_m(), 1.0, 0.0).ln() / 5.0_f64.ln();
        of_roughness.see(row, alpha, row["rural_p"]);
    }
    by_day.assert_within(8);
    by_night.assert_within(4);
    of_roughness.assert_within(5);
}

/// Source: `wmo/wind_gust_factors_wmo.csv`.
#[test]
fn gust_factors_are_those_of_the_wmo_guide() {
    let table = ReferenceTable::open("wmo/wind_gust_factors_wmo.csv");
    let mut of_table = table.worst("table_memory");
    let mut of_formula = table.worst("formula");
    for row in table.rows() {
        let ours = gust_factor(row["Iu"], row["tau_s"], row["T0_s"]);
        of_table.see(row, ours, row["table_memory"]);
        if row.text("tau_s") != row.text("T0_s") {
            of_formula.see(row, ours, row["formula"]);
        }
    }
    of_table.assert_within(76);
    of_formula.assert_within(60); // all but the 16 where the gust is the stretch, and ours one by definition
}

/// Source: `wmo/wind_beaufort.csv`, both ways.
#[test]
fn beaufort_turns_speeds_into_forces_and_back() {
    let table = ReferenceTable::open("wmo/wind_beaufort.csv");
    let mut worst = ["force", "min_ms", "max_ms", "v_formula_ms"].map(|column| table.worst(column));
    for row in table.rows() {
        let printed_mps = [row.text("min_ms"), row.text("max_ms")].map(|cell| cell.parse::<f64>().ok());
        for speed_mps in printed_mps.into_iter().flatten() {
            worst[0].see(row, f64::from(Beaufort::of_speed(speed_mps).force()), row["beaufort"]);
        }
        let force = Beaufort::of_speed(row["min_ms"]);
        assert_eq!(Beaufort::new(force.force()), Some(force));
        assert_eq!(force.name(), row.text("name"));
        assert!(!force.on_land().is_empty());
        let (least_mps, greatest_mps) = force.speeds_mps();
        worst[1].see(row, least_mps, row["min_ms"]);
        assert_eq!(greatest_mps.is_none(), printed_mps[1].is_none());
        if let (Some(greatest_mps), Some(printed_mps)) = (greatest_mps, printed_mps[1]) {
            worst[2].see(row, greatest_mps, printed_mps);
            worst[3].see_in_range(row, row["v_formula_ms"], least_mps, greatest_mps);
        }
    }
    for (worst, values) in worst.iter().zip([25, 13, 12, 12]) {
        worst.assert_within(values);
    }
    assert!(Beaufort::new(13).is_none());
    assert_eq!(Beaufort::of_speed(f64::NAN).force(), 0);
}

/// Gust of a possible flight in units of its own standard deviation: a slow eddy that all parts share and a fast one
/// that each part has for itself after they come apart, as the core puts it together.
struct Gusts {
    slow_share: f64,
    slow_s: f64,
    fast_s: f64,
}

impl Gusts {
    fn of_priors() -> Self {
        Self {
            slow_share: prior("gust_slow_share").0,
            slow_s: prior("gust_time_slow").0,
            fast_s: prior("gust_time_fast").0,
        }
    }

    /// Shares and memories of the two.
    fn parts(&self) -> [(f64, f64); 2] {
        [(self.slow_share, self.slow_s), (1.0 - self.slow_share, self.fast_s)]
    }
}

fn normals<const N: usize>(random: &mut ChaCha8Rng) -> [f64; N] {
    core::array::from_fn(|_| StandardNormal.sample(random))
}

/// Velocity and distance along the wind of one eddy at each knot, from a stationary start or a given one.
fn walked(random: &mut ChaCha8Rng, start: f64, knots_s: &[f64], memory_s: f64) -> Vec<(f64, f64)> {
    let mut state = (start, 0.0);
    let mut states = vec![state];
    for pair in knots_s.windows(2) {
        let [first, second] = normals(random);
        state = Eddy::over(pair[1] - pair[0], memory_s).step(state, first, second);
        states.push(state);
    }
    states
}

const WALKS: usize = 40_000;
/// Knots as uneven as those of the core: one law, however far apart they stand.
const KNOTS_S: [f64; 8] = [0.0, 2.0, 5.0, 12.0, 24.0, 60.0, 61.0, 120.0];
const SIX_SIGMA: &str = "6 standard errors of 40000 walks with one seed";

/// In standard errors, so that one limit serves all moments.
fn ensemble(quantity: &str, source: &str) -> Worst {
    Worst::without_table(quantity, 6.0, SIX_SIGMA, source, "DERIVED")
}

/// Mean of products, and how many standard errors of a Gaussian pair it lies from its law.
fn errors_from(pairs: impl Iterator<Item = (f64, f64)>, law: f64, variances: (f64, f64)) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for (a, b) in pairs {
        sum += a * b;
        n += 1.0;
    }
    // Isserlis: the variance of a product of two normals of mean nought.
    let error = ((variances.0 * variances.1 + law * law) / n).sqrt();
    (sum / n - law) / error
}

/// Variance of the distance that one eddy of unit variance carries: G. I. Taylor, Diffusion by continuous movements,
/// Proc. London Math. Soc. 20 (1921) 196, from memory.
fn taylor_s2(t_s: f64, memory_s: f64) -> f64 {
    let r = t_s / memory_s;
    2.0 * memory_s * memory_s * (r - 1.0 + (-r).exp())
}

/// Source: an exponential correlation with the shares and memories of `priors.csv`, and Taylor's distance.
#[test]
fn gusts_have_their_variance_their_memory_and_their_reach() {
    let gusts = Gusts::of_priors();
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let walks: Vec<Vec<(f64, f64)>> = (0..WALKS)
        .map(|_| {
            let parts = gusts.parts().map(|(share, memory_s)| {
                let [start] = normals(&mut random);
                (share.sqrt(), walked(&mut random, start, &KNOTS_S, memory_s))
            });
            (0..KNOTS_S.len())
                .map(|knot| {
                    parts.iter().fold((0.0, 0.0), |sum, (scale, states)| {
                        (sum.0 + scale * states[knot].0, sum.1 + scale * states[knot].1)
                    })
                })
                .collect()
        })
        .collect();
    let mut variance = ensemble("gust_variance_errors", "a stationary process keeps its variance");
    let mut memory = ensemble("gust_correlation_errors", "sum of share times exp(-t / memory)");
    let mut reach = ensemble("gust_distance_errors", "G. I. Taylor (1921): 2 T^2 (r - 1 + exp(-r))");
    for (knot, t_s) in KNOTS_S.into_iter().enumerate() {
        let what = format!("{t_s} s");
        let velocity = |knot: usize| walks.iter().map(move |walk| walk[knot].0);
        variance.note(&what, errors_from(velocity(knot).zip(velocity(knot)), 1.0, (1.0, 1.0)));
        let law = gusts.parts().iter().map(|(share, memory_s)| share * (-t_s / memory_s).exp()).sum();
        memory.note(&what, errors_from(velocity(0).zip(velocity(knot)), law, (1.0, 1.0)));
        if knot > 0 {
            let law =
                gusts.parts().iter().map(|(share, memory_s)| share * taylor_s2(t_s, *memory_s)).sum::<f64>();
            let distance = || walks.iter().map(|walk| walk[knot].1);
            reach.note(&what, errors_from(distance().zip(distance()), law, (law, law)));
        }
    }
    variance.assert_within(8);
    memory.assert_within(8);
    reach.assert_within(7);
}

/// Source: the closed form of two walks that start as one and go on independently. What two parts of one rocket share
/// after they come apart is the slow eddy and the fading memory of the fast one.
#[test]
fn two_parts_that_come_apart_keep_the_slow_gust_in_common_and_lose_the_fast_one() {
    let Gusts { slow_share, slow_s, fast_s } = Gusts::of_priors();
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let pairs: Vec<Vec<[(f64, f64); 2]>> = (0..WALKS)
        .map(|_| {
            let [slow_start, fast_start] = normals(&mut random);
            let slow = walked(&mut random, slow_start, &KNOTS_S, slow_s);
            let fast = [(); 2].map(|()| walked(&mut random, fast_start, &KNOTS_S, fast_s));
            (0..KNOTS_S.len())
                .map(|knot| {
                    [0, 1].map(|part: usize| {
                        let (slow_scale, fast_scale) = (slow_share.sqrt(), (1.0 - slow_share).sqrt());
                        (
                            slow_scale * slow[knot].0 + fast_scale * fast[part][knot].0,
                            slow_scale * slow[knot].1 + fast_scale * fast[part][knot].1,
                        )
                    })
                })
                .collect()
        })
        .collect();
    let mut in_common =
        ensemble("parts_correlation_errors", "slow share + fast share times exp(-2 t / memory of the fast)");
    let mut apart =
        ensemble("parts_distance_errors", "twice T^2 (2 r - 3 + 4 exp(-r) - exp(-2 r)) of the fast");
    for (knot, t_s) in KNOTS_S.into_iter().enumerate() {
        let r = t_s / fast_s;
        let law = slow_share + (1.0 - slow_share) * (-2.0 * r).exp();
        let velocities = pairs.iter().map(|pair| (pair[knot][0].0, pair[knot][1].0));
        in_common.note(&format!("{t_s} s"), errors_from(velocities, law, (1.0, 1.0)));
        if knot > 0 {
            let own = fast_s * fast_s * (2.0 * r - 3.0 + 4.0 * (-r).exp() - (-2.0 * r).exp());
            let law = 2.0 * (1.0 - slow_share) * own;
            let distances = || pairs.iter().map(|pair| pair[knot][0].1 - pair[knot][1].1);
            apart.note(&format!("{t_s} s"), errors_from(distances().zip(distances()), law, (law, law)));
        }
    }
    in_common.assert_within(8);
    apart.assert_within(7);
}

/// Source: `hesseflux/wind_frhes_sigma_ratios.csv` and `sonic/wind_sonic_blocks.csv`. Panofsky and Dutton's ratios, which
/// the priors take, are for open level ground; over forest and orchard the measured ones are smaller, near neutral by a
/// fifth.
#[test]
fn the_priors_turbulence_ratios_are_a_third_or_two_fifths_off_measured_ones_at_most() {
    let names = ["gust_sigma_u", "gust_sigma_v", "gust_sigma_w"];
    let ours = names.map(|name| prior(name).0);
    let forest = ReferenceTable::open("hesseflux/wind_frhes_sigma_ratios.csv");
    let blocks = ReferenceTable::open("sonic/wind_sonic_blocks.csv");
    for (at, name) in names.into_iter().enumerate() {
        let mut worst = forest.worst(name);
        let column = ["su_us", "sv_us", "sw_us"][at];
        for row in forest.rows() {
            let printed = row[format!("{column}_med").as_str()];
            worst.see_relative(row, ours[at], printed);
        }
        worst.assert_within(6);
        let mut worst = blocks.worst(name);
        let column = ["sdu_ustar", "sdv_ustar", "sdw_ustar"][at];
        for row in blocks.rows() {
            worst.see_relative(row, ours[at], row[column]);
        }
        worst.assert_within(14);
    }
}

/// Source: `brightwind/wind_mast_distributions.csv`, by day, 2 to 10 m/s and its parts: what a mast saw of shear,
/// turbulence and gusts lies where the priors and formulas have it.
#[test]
fn a_real_mast_by_day_sees_what_the_priors_expect() {
    let table = ReferenceTable::open("brightwind/wind_mast_distributions.csv");
    let (shear, shear_sigma) = prior("shear_exponent_above_80m_day");
    let roughness_m = prior("roughness_unknown");
    let gust_sigma_u = prior("gust_sigma_u").0;
    let mut centre = table.worst("shear_median_sigmas");
    let mut width = table.worst("shear_width_relative");
    let mut turbulence = table.worst("turbulence_intensity");
    let mut gust = table.worst("gust_factor");
    for row in table.rows().iter().filter(|row| row.text("subset").starts_with("day")) {
        match row.text("variable") {
            "a4080" => {
                centre.see(row, (row["p50"] - shear) / shear_sigma, 0.0);
                width.see_relative(row, shear_sigma, row["sd"]);
            }
            "TI40" => {
                // Neutral log law: sigma_u over U is 2.4 k / ln(z / z0), k = 0.4.
                for roughness_m in [roughness_m.0, roughness_m.1] {
                    let ours = gust_sigma_u * 0.4 / (40.0 / roughness_m).ln();
                    turbulence.see_in_range(row, ours, row["p05"], row["p95"]);
                }
            }
            "GF40" => {
                let intensity = table
                    .rows()
                    .iter()
                    .find(|it| it.text("subset") == row.text("subset") && it.text("variable") == "TI40");
                let ours = gust_factor(intensity.unwrap()["p50"], 3.0, 600.0);
                gust.see(row, ours, row["p50"]);
            }
            _ => {} // other heights, and directions with an alignment that is not known
        }
    }
    centre.assert_within(6);
    width.assert_within(6);
    turbulence.assert_within(12);
    gust.assert_within(6);
}

/// Source: `brightwind/wind_mast_persistence.csv`, all days, summer days and days by their wind, 10 min to 4 h. The core
/// lets the error of a reading grow with its age, the more the lighter the wind, from what the priors give for half an hour.
#[test]
fn an_old_reading_is_off_as_far_as_the_wind_of_a_mast_has_changed() {
    let table = ReferenceTable::open("brightwind/wind_mast_persistence.csv");
    let (speed, turn_deg) = (prior("reading_age_ln_speed_30min").1, prior("reading_age_direction_30min").1);
    let names =
        ["age_ln_speed_ln_ratio", "age_turn_ln_ratio", "class_ln_speed_ln_ratio", "class_turn_ln_ratio"];
    let mut worst = names.map(|it| table.worst(it));
    for row in table.rows().iter().filter(|row| row.text("subset").starts_with("day")) {
        // Its mean over the class, about; all of 2 to 10 m/s together are the usual wind.
        let (first, mps) = match row.text("subset").split(' ').next_back() {
            Some("2-4") => (2, 3.2),
            Some("4-6") => (2, 5.0),
            Some("6-8") => (2, 7.0),
            Some("8-10") => (2, 9.0),
            _ => (0, 5.0),
        };
        let [ln, turn] = straying(row["lag_min"], mps);
        worst[first].see(row, (speed * ln).ln(), row["sd_dlnU"].ln());
        worst[first + 1].see(row, (turn_deg * turn).ln(), row["sd_ddir_deg"].ln());
    }
    worst[..2].iter().for_each(|worst| worst.assert_within(16));
    worst[2..].iter().for_each(|worst| worst.assert_within(32));
}

/// Spread of a reading against a flight: standard deviations of the logarithm of the ratio of speeds, and of the turn
/// in degrees, between the vector mean over `reading_s` and that over `flight_s`, `wait_s` later.
fn reading_to_flight(
    random: &mut ChaCha8Rng,
    mean_mps: f64,
    eddies: &[(f64, f64, f64)], // sigma along, sigma across (m/s), memory (s)
    [reading_s, wait_s, flight_s]: [f64; 3],
) -> (f64, f64) {
    const FLIGHTS: usize = 2000;
    let knots_s = [0.0, reading_s, reading_s + wait_s, reading_s + wait_s + flight_s];
    let (mut ratios, mut turns) = (Vec::new(), Vec::new());
    for _ in 0..FLIGHTS {
        let mut means = [[mean_mps, 0.0]; 2];
        for (along_mps, across_mps, memory_s) in eddies {
            for (axis, sigma_mps) in [along_mps, across_mps].into_iter().enumerate() {
                let [start] = normals(random);
                let walk = walked(random, start, &knots_s, *memory_s);
                for (mean, (from, to)) in means.iter_mut().zip([(0, 1), (2, 3)]) {
                    mean[axis] += sigma_mps * (walk[to].1 - walk[from].1) / (knots_s[to] - knots_s[from]);
                }
            }
        }
        let [read, flown] = means;
        ratios.push((flown[0].hypot(flown[1]) / read[0].hypot(read[1])).ln());
        let turn = (flown[1].atan2(flown[0]) - read[1].atan2(read[0])).to_degrees();
        turns.push((turn + 180.0).rem_euclid(360.0) - 180.0);
    }
    let spread = |values: &[f64]| {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (values.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt()
    };
    (spread(&ratios), spread(&turns))
}

/// Means over the blocks of one recording: wind, sigma along and across (m/s), memory along and across (s).
fn recording(blocks: &ReferenceTable, run: &str) -> [f64; 5] {
    let rows: Vec<&Row> = blocks.rows().iter().filter(|row| row.text("run") == run).collect();
    ["U", "sd_u", "sd_v", "Tint_u_s", "Tint_v_s"]
        .map(|column| rows.iter().map(|row| row[column]).sum::<f64>() / rows.len() as f64)
}

/// Source: `sonic/wind_sonic_spot_vs_flight.csv`, how far a reading is off the wind of the flight that follows.
///
/// Two questions. Is the generator right: given the sigma and the memory of the recording itself, does it bring the
/// spread that was measured? It does within a fifth or two by night, where an hour was recorded; a quarter of an hour
/// by day is too short to say more than the order. And are the priors right near the ground? There they spread
/// nearly twice too much by night: their memories of 60 and 12 s are for the height of a flight, a sonic a few metres
/// up sees 4 to 18 s. One table of two eddies for all heights cannot do both, and the flight is what matters.
#[test]
fn simulated_readings_miss_simulated_flights_as_far_as_measured_ones() {
    let blocks = ReferenceTable::open("sonic/wind_sonic_blocks.csv");
    let spot = ReferenceTable::open("sonic/wind_sonic_spot_vs_flight.csv");
    let gusts = Gusts::of_priors();
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let worst = |name: &str| ["ln_speed", "turn"].map(|what| spot.worst(&format!("{name}_{what}_ln_ratio")));
    let (mut by_night, mut by_day) = (worst("hour_by_night"), worst("quarter_by_day"));
    let (mut minute, mut of_priors) = (worst("minute_to_minute"), worst("priors_minute_to_minute"));
    for row in spot.rows() {
        let run = row.text("run");
        let [mean, along, across, along_s, across_s] = recording(&blocks, run);
        let times_s = [row["reading_s"], row["wait_s"], row["flight_s"]];
        let measured = [row["sd_dln_speed"], row["sd_ddir_deg"]];
        let own = [(along, 0.0, along_s), (0.0, across, across_s)];
        let ours = reading_to_flight(&mut random, mean, &own, times_s);
        let keep = |worst: &mut [Worst; 2], ours: (f64, f64)| {
            worst[0].see(row, ours.0.ln(), measured[0].ln());
            worst[1].see(row, ours.1.ln(), measured[1].ln());
        };
        keep(if run.contains("night") { &mut by_night } else { &mut by_day }, ours);
        if times_s.iter().all(|it| (it - 60.0).abs() < 1e-9) {
            keep(&mut minute, ours);
            let eddies = gusts.parts().map(|(share, s)| (along * share.sqrt(), across * share.sqrt(), s));
            keep(&mut of_priors, reading_to_flight(&mut random, mean, &eddies, times_s));
        }
    }
    for (worst, rows) in [(by_night, 168), (by_day, 168), (minute, 4), (of_priors, 4)] {
        worst.iter().for_each(|worst| worst.assert_within(rows));
    }
}

/// Source: `sonic/wind_sonic_spot_vs_flight.csv`: the two priors that say how far a reading of a minute is off.
#[test]
fn the_prior_of_a_reading_is_as_wide_as_what_was_measured_by_night_and_too_narrow_in_a_light_wind() {
    let spot = ReferenceTable::open("sonic/wind_sonic_spot_vs_flight.csv");
    // Student's t with 4 degrees of freedom has twice the variance of its scale squared.
    let speed = prior("reading_to_flight_ln_speed_60s").0 * 2.0_f64.sqrt();
    let turn_deg = prior("reading_to_flight_direction_60s_at_4mps").0 * 2.0_f64.sqrt();
    let worst = |name: &str| ["ln_speed", "turn"].map(|what| spot.worst(&format!("{name}_{what}_ln_ratio")));
    let (mut by_night, mut light) = (worst("prior_by_night"), worst("prior_in_a_light_wind"));
    let minutes = |row: &&Row| {
        row.text("reading_s") == "60"
            && row.text("flight_s") == "60"
            && ["60", "300"].contains(&row.text("wait_s"))
    };
    for row in spot.rows().iter().filter(minutes) {
        let slow = (4.0 / row["mean_ms"]).max(1.0);
        let worst = if row.text("run").contains("night") { &mut by_night } else { &mut light };
        worst[0].see(row, speed.ln(), row["sd_dln_speed"].ln());
        worst[1].see(row, (turn_deg * slow).ln(), row["sd_ddir_deg"].ln());
    }
    by_night.iter().chain(&light).for_each(|worst| worst.assert_within(4));
}
