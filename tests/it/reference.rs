//! The pure crates against tables from outside. What each table is, and how far it is to be trusted, stands in
//! `tests/reference/SOURCES.md` and in the table's own header; tolerances are there too.

use windfall_physics::air::{Profile, moist_density_kgpm3, shape_at, standard_atmosphere};
use windfall_physics::craft::{Outline, canopy_area_m2, spill_hole_area_m2, terminal_speed_mps};
use windfall_physics::earth::declination;
use windfall_quantities::{Bearing, LocalFrame, Offset, Position, TrueNorth};
use windfall_tests::{ReferenceTable, Row};

/// Declination of a row of NOAA's tables, degrees.
///
/// The program asks by the day. Half a year of 365 days ends at noon: the value half way between two days.
fn declination_deg(row: &Row) -> f64 {
    let (year, share) = row.text("decimal_year").split_once('.').unwrap();
    let year: i32 = year.parse().unwrap();
    let days = if year == 2028 { 366.0 } else { 365.0 };
    let since_new_year = format!("0.{share}").parse::<f64>().unwrap() * days;
    let lon_deg = (row["lon_deg"] + 180.0).rem_euclid(360.0) - 180.0;
    let place = Position::new(row["lat_deg"], lon_deg).unwrap();
    let on = |day: u16| declination(place, row["alt_km"] * 1000.0, year, day).unwrap().degrees();
    let day = (1..=366).rev().find(|day| f64::from(day - 1) <= since_new_year).unwrap();
    let part = since_new_year - f64::from(day - 1);
    if part > 0.0 { on(day) + part * (on(day + 1) - on(day)) } else { on(day) }
}

/// Source: `noaa/`, the test values published with the model and those of its report.
#[test]
fn declination_matches_the_official_wmm2025_test_values() {
    for (name, rows) in [("noaa/wmm2025_official_100.csv", 100), ("noaa/wmm2025_official_12.csv", 12)] {
        let table = ReferenceTable::open(name);
        let mut worst = table.worst("D_deg");
        for row in table.rows() {
            worst.see_angle_deg(row, declination_deg(row), row["D_deg"]);
        }
        worst.assert_within(rows);
    }
}

/// Temperature, pressure and density at a row's height; the crate takes the geopotential one.
///
/// Source: US Standard Atmosphere 1976, equation 18 (its number from memory), with its Earth radius.
fn standard_air(row: &Row) -> [f64; 3] {
    let (radius_m, height_m) = (6_356_766.0, row["z_geometric_m"]);
    standard_atmosphere(radius_m * height_m / (radius_m + height_m)).into()
}

/// Source: `icao/isa_table.csv`, columns computed by another library.
#[test]
fn the_standard_atmosphere_matches_another_library_at_every_height() {
    let table = ReferenceTable::open("icao/isa_table.csv");
    let columns = ["T_K", "p_Pa", "rho_kgm3"];
    let mut worst = columns.map(|column| table.worst(column));
    let mut below_sea_level = table.worst("below_sea_level_relative");
    for row in table.rows() {
        for ((ours, column), worst) in standard_air(row).into_iter().zip(columns).zip(&mut worst) {
            if row["z_geometric_m"] < 0.0 {
                below_sea_level.see_relative(row, ours, row[column]);
            } else {
                worst.see(row, ours, row[column]);
            }
        }
    }
    worst.iter().for_each(|worst| worst.assert_within(17));
    below_sea_level.assert_within(3);
}

/// Source: `icao/isa_table.csv`, columns as printed by ICAO, at the three heights they are printed for.
#[test]
fn the_standard_atmosphere_matches_icao_as_printed() {
    let table = ReferenceTable::open("icao/isa_table.csv");
    let columns = ["pub_T_K", "pub_p_Pa", "pub_rho"];
    let mut worst = columns.map(|column| table.worst(column));
    for row in table.rows().iter().filter(|row| !row.text("pub_T_K").is_empty()) {
        for ((ours, column), worst) in standard_air(row).into_iter().zip(columns).zip(&mut worst) {
            worst.see(row, ours, row[column]);
        }
    }
    worst.iter().for_each(|worst| worst.assert_within(3));
}

/// Source: `cipm/air_density_moist.csv`: the same formula written a second time, and another model of moist air.
#[test]
fn the_density_of_moist_air_matches_cipm_2007_and_another_model() {
    let table = ReferenceTable::open("cipm/air_density_moist.csv");
    let mut formula = table.worst("rho_cipm_kgm3");
    let mut model = table.worst("rho_coolprop_relative");
    let mut model_in_frost = table.worst("rho_coolprop_frost_relative");
    for row in table.rows() {
        let density = moist_density_kgpm3(row["t_C"], row["p_Pa"], row["RH"]);
        formula.see(row, density, row["rho_cipm_kgm3"]);
        let model = if row["t_C"] < 0.0 { &mut model_in_frost } else { &mut model };
        model.see_relative(row, density, row["rho_coolprop"]);
    }
    formula.assert_within(63);
    model.assert_within(54);
    model_in_frost.assert_within(9);
}

fn ends(row: &Row) -> (LocalFrame, Position) {
    let from = Position::new(row["lat1_deg"], row["lon1_deg"]).unwrap();
    (LocalFrame::about(from), Position::new(row["lat2_deg"], row["lon2_deg"]).unwrap())
}

fn towards(azimuth_deg: f64, distance_m: f64) -> Offset {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    Offset { east_m: distance_m * sin, north_m: distance_m * cos }
}

/// Source: `karney/geodesic_short_long.csv`: 50 lines of 10 m to 5 km, 10 long ones.
#[test]
fn distance_and_bearing_from_the_origin_are_those_of_the_geodesic() {
    let table = ReferenceTable::open("karney/geodesic_short_long.csv");
    let mut worst = ["s12_m", "azi1_deg", "place_m"].map(|quantity| table.worst(quantity));
    for row in table.rows() {
        let (frame, place) = ends(row);
        let offset = frame.offset_of(place);
        let bearing = Bearing::<TrueNorth>::of_vector(offset.east_m, offset.north_m);
        let there = frame.place_at(towards(row["azi1_deg"], row["s12_m"]));
        worst[0].see(row, offset.length_m(), row["s12_m"]);
        worst[1].see_angle_deg(row, bearing.degrees(), row["azi1_deg"]);
        worst[2].see(row, LocalFrame::about(place).offset_of(there).length_m(), 0.0);
    }
    worst.iter().for_each(|worst| worst.assert_within(60));
}

/// Source: `karney/geodtest_100.csv`, computed by its author to 1e-18 degrees.
#[test]
fn the_frame_stays_exact_across_the_whole_earth() {
    let table = ReferenceTable::open("karney/geodtest_100.csv");
    let mut worst = ["s12_m", "place_m"].map(|quantity| table.worst(quantity));
    for row in table.rows() {
        let (frame, place) = ends(row);
        let there = frame.place_at(towards(row["azi1_deg"], row["s12_m"]));
        worst[0].see(row, frame.offset_of(place).length_m(), row["s12_m"]);
        worst[1].see(row, LocalFrame::about(place).offset_of(there).length_m(), 0.0);
    }
    worst.iter().for_each(|worst| worst.assert_within(100));
}

/// Source: `pymap3d/enu_cases.csv`: east, north, up of the plane that touches the Earth at the origin.
///
/// DIFFERENCE: that plane is the frame of a theodolite, ours the ellipsoid laid flat. A length at height h is
/// longer by h over the Earth's radius, some 0.03 % at 2 km above the sea.
#[test]
fn the_frame_differs_from_the_tangent_plane_by_the_height_over_the_radius() {
    let table = ReferenceTable::open("pymap3d/enu_cases.csv");
    let mut worst = ["raw_m", "level_m", "az_deg"].map(|quantity| table.worst(quantity));
    for row in table.rows() {
        let frame = LocalFrame::about(Position::new(row["lat0_deg"], row["lon0_deg"]).unwrap());
        let offset = frame.offset_of(Position::new(row["lat_deg"], row["lon_deg"]).unwrap());
        let raised = 1.0 + row["h_m"] / 6_371_008.8; // mean radius, IUGG
        let apart_m =
            |scale: f64| (offset.east_m * scale - row["e_m"]).hypot(offset.north_m * scale - row["n_m"]);
        let bearing = Bearing::<TrueNorth>::of_vector(offset.east_m, offset.north_m);
        worst[0].see(row, apart_m(1.0), 0.0);
        worst[1].see(row, apart_m(raised), 0.0);
        worst[2].see_angle_deg(row, bearing.degrees(), row["az_deg"]);
    }
    worst.iter().for_each(|worst| worst.assert_within(30));
}

/// What the frame promises of itself, against the geodesic between the two places. On a sphere the worst is
/// `a^3 2 / (9 sqrt(3) R^2)`, 0.4 mm, by the law of cosines.
#[test]
fn between_two_places_5_km_out_the_flat_length_is_the_geodesic_within_2_mm() {
    let mut worst_m: f64 = 0.0;
    for lat_deg in [-78.0, -34.0, 0.0, 17.0, 47.0, 69.0, 89.9] {
        let frame = LocalFrame::about(Position::new(lat_deg, 179.99).unwrap());
        for (first, second) in (0..24).flat_map(|first| (0..first).map(move |second| (first, second))) {
            let [from, to] = [first, second].map(|bearing| towards(15.0 * f64::from(bearing), 5000.0));
            let flat_m = (from.east_m - to.east_m).hypot(from.north_m - to.north_m);
            let geodesic_m = LocalFrame::about(frame.place_at(from)).offset_of(frame.place_at(to)).length_m();
            worst_m = worst_m.max((flat_m - geodesic_m).abs());
        }
    }
    // Above a fifth of a millimetre too: were it exact, something else would be compared.
    assert!((2e-4..2e-3).contains(&worst_m), "{worst_m:e} m");
}

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

/// Source: `definition/parachute_terminal_cases.csv`: arithmetic of the definition.
#[test]
fn a_canopy_sinks_at_the_speed_where_drag_is_weight() {
    let table = ReferenceTable::open("definition/parachute_terminal_cases.csv");
    let mut worst = ["S_m2", "v_ms"].map(|column| table.worst(column));
    for row in table.rows() {
        let area_m2 = canopy_area_m2(Outline::Round, row["diameter_m"]) - spill_hole_area_m2(row["hole_m"]);
        worst[0].see(row, area_m2, row["S_m2"]);
        worst[1].see(row, terminal_speed_mps(row["mass_kg"], area_m2 * row["cd"], row["rho"]), row["v_ms"]);
    }
    worst.iter().for_each(|worst| worst.assert_within(8));
}

const SMALL: &str =
    "# Source: none\n# Mark: GEN\n# Rows: 2\n# Tolerance: a 0.1, why not\na,b\n1,x\n359.95,\n";

fn refused(what: impl FnOnce() + std::panic::UnwindSafe) -> bool {
    std::panic::catch_unwind(what).is_err()
}

#[test]
fn a_table_without_its_header_or_with_a_line_too_few_is_refused() {
    assert_eq!(ReferenceTable::parse("small", SMALL).rows().len(), 2);
    for (there, instead) in [
        ("# Source: none\n", ""),
        ("# Mark: GEN\n", ""),
        ("# Rows: 2\n", ""),
        ("# Rows: 2", "# Rows: 3"),
        ("# Tolerance: a 0.1, why not\n", ""),
        (", why not", ""),
        ("a,b\n", ""),
        ("1,x", "1"),
        ("1,x", "\"1\",x"),
    ] {
        let text = SMALL.replace(there, instead);
        assert!(refused(move || drop(ReferenceTable::parse("small", &text))), "{there:?} as {instead:?}");
    }
}

#[test]
fn a_residual_that_is_no_number_or_a_row_left_out_fails_the_comparison() {
    let see = |ours: [f64; 2], rows: usize| {
        refused(move || {
            let table = ReferenceTable::parse("small", SMALL);
            let mut worst = table.worst("a");
            for (row, ours) in table.rows().iter().zip(ours) {
                worst.see_angle_deg(row, ours, row["a"]);
            }
            worst.assert_within(rows);
        })
    };
    assert!(!see([361.05, 0.01], 2), "angles are compared on the circle");
    assert!(see([1.0, 0.1], 2));
    assert!(see([f64::NAN, 0.0], 2) && see([1.0, f64::NAN], 2));
    assert!(see([1.0, 0.0], 3) && see([1.0, 0.0], 1));
    let table = ReferenceTable::parse("small", SMALL);
    assert!(refused(move || assert!(table.rows()[1]["b"] > 0.0)), "an empty cell is no number");
}
