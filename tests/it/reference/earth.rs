//! Distances, the local frame, the magnetic field and the sun.

use windfall_physics::earth::{MagneticField, daylight, declination, magnetic_field, sun};
use windfall_quantities::{Bearing, LocalFrame, Offset, Position, TrueNorth};
use windfall_tests::{ReferenceTable, Row, Worst};

fn place(lat_deg: f64, lon_deg: f64) -> Position {
    Position::new(lat_deg, (lon_deg + 180.0).rem_euclid(360.0) - 180.0).unwrap()
}

fn field(row: &Row) -> MagneticField {
    let place = place(row["lat_deg"], row["lon_deg"]);
    magnetic_field(place, row["alt_km"] * 1000.0, row["decimal_year"]).unwrap()
}

/// Source: `noaa/`, the test values published with the model and those of its report: every element, every row.
#[test]
fn the_magnetic_field_matches_the_official_wmm2025_test_values() {
    for (name, rows) in [("noaa/wmm2025_official_100.csv", 100), ("noaa/wmm2025_official_12.csv", 12)] {
        let table = ReferenceTable::open(name);
        let angles = ["D_deg", "I_deg"];
        let elements = ["X_nT", "Y_nT", "Z_nT", "H_nT", "F_nT"];
        let mut angles = angles.map(|column| (column, table.worst(column)));
        let mut elements = elements.map(|column| (column, table.worst(column)));
        for row in table.rows() {
            let field = field(row);
            let ours = [field.declination().degrees(), field.inclination_deg()];
            for ((column, worst), ours) in angles.iter_mut().zip(ours) {
                worst.see_angle_deg(row, ours, row[*column]);
            }
            let MagneticField { north_nt, east_nt, down_nt } = field;
            let ours = [north_nt, east_nt, down_nt, field.horizontal_nt(), field.total_nt()];
            for ((column, worst), ours) in elements.iter_mut().zip(ours) {
                worst.see(row, ours, row[*column]);
            }
        }
        angles.iter().chain(&elements).for_each(|(_, worst)| worst.assert_within(rows));
    }
}

/// Source: `pygeomag/wmm2025_pygeomag_40.csv`: another program with the same coefficients, at the heights of rockets.
#[test]
fn the_magnetic_field_and_its_uncertainty_match_another_program_where_rockets_fly() {
    let table = ReferenceTable::open("pygeomag/wmm2025_pygeomag_40.csv");
    let mut worst =
        ["D_deg", "I_deg", "H_nT", "F_nT", "sigmaD_deg"].map(|column| (column, table.worst(column)));
    for row in table.rows() {
        let field = field(row);
        let ours = [
            field.declination().degrees(),
            field.inclination_deg(),
            field.horizontal_nt(),
            field.total_nt(),
            field.declination_sigma_deg(),
        ];
        for ((column, worst), ours) in worst.iter_mut().zip(ours) {
            if column.ends_with("deg") {
                worst.see_angle_deg(row, ours, row[*column]);
            } else {
                worst.see(row, ours, row[*column]);
            }
        }
    }
    worst.iter().for_each(|(_, worst)| worst.assert_within(40));
}

/// Source: `noaa/wmm2025_official_100.csv`, through the function that takes a day: a row in the middle of a year lies
/// between two days, the value changes by less than 0.01 degrees a day.
#[test]
fn declination_by_the_day_is_that_of_the_moment_the_day_begins() {
    let table = ReferenceTable::open("noaa/wmm2025_official_100.csv");
    let mut worst = table.worst("D_by_day_deg");
    for row in table.rows() {
        let (year, share) = row.text("decimal_year").split_once('.').unwrap();
        let year: i32 = year.parse().unwrap();
        let days = if year == 2028 { 366.0 } else { 365.0 };
        let since_new_year = format!("0.{share}").parse::<f64>().unwrap() * days;
        let day = (1..=366).rev().find(|day| f64::from(day - 1) <= since_new_year).unwrap();
        let place = place(row["lat_deg"], row["lon_deg"]);
        let ours = declination(place, row["alt_km"] * 1000.0, year, day).unwrap();
        worst.see_angle_deg(row, ours.degrees(), row["D_deg"]);
    }
    worst.assert_within(100);
}

/// Sun in a row's sky: bearing and elevation, degrees.
fn sun_deg(lat_deg: f64, lon_deg: f64, height_m: f64, utc: &str) -> (f64, f64) {
    let moment = chrono::DateTime::parse_from_rfc3339(utc).unwrap();
    let sun = sun(place(lat_deg, lon_deg), height_m, moment.timestamp() as f64).unwrap();
    if let Some(shadow) = sun.shadow() {
        assert!((shadow.turn_to(sun.bearing).abs().to_degrees() - 180.0).abs() < 1e-9);
    }
    (sun.bearing.degrees(), sun.elevation_rad.to_degrees())
}

/// Source: `nrel/sun_spa_example.csv`, its result; its other rows are steps on the way to it.
#[test]
fn the_sun_stands_where_the_worked_example_has_it() {
    let table = ReferenceTable::open("nrel/sun_spa_example.csv");
    let (azimuth, elevation) = sun_deg(39.742_476, -105.1786, 1830.14, "2003-10-17T12:30:30-07:00");
    let row = |name: &str| table.rows().iter().find(|row| row.text("quantity") == name).unwrap();
    let mut worst = ["azimuth_deg", "elevation_deg"].map(|quantity| table.worst(quantity));
    worst[0].see_angle_deg(row("azimuth_from_N"), azimuth, row("azimuth_from_N")["value"]);
    worst[1].see(row("zenith"), elevation + row("refraction")["value"], 90.0 - row("zenith")["value"]);
    let bare = row("e0_elevation_no_refraction");
    worst[1].see(bare, elevation, bare["value"]);
    worst[0].assert_within(1);
    worst[1].assert_within(2);
}

/// Source: `pvlib/sun_pvlib_30.csv`, 2025 to 2030, from the equator to Svalbard, by day and by night.
#[test]
fn the_sun_stands_where_another_library_has_it() {
    let table = ReferenceTable::open("pvlib/sun_pvlib_30.csv");
    let mut worst =
        ["azimuth_deg", "elevation_deg", "refraction_deg", "refraction_high_deg"].map(|it| table.worst(it));
    for row in table.rows() {
        let (azimuth, elevation) = sun_deg(row["lat_deg"], row["lon_deg"], row["alt_m"], row.text("utc"));
        worst[0].see_angle_deg(row, azimuth, row["azimuth_deg"]);
        worst[1].see(row, elevation, row["elevation_deg"]);
        let refraction = if elevation < 10.0 { &mut worst[2] } else { &mut worst[3] };
        refraction.see(row, elevation, row["apparent_elevation_deg"]);
    }
    for (worst, rows) in worst.iter().zip([30, 30, 6, 24]) {
        worst.assert_within(rows);
    }
}

/// Source: `usno/sunset_dusk_48.csv`: Anchorage, Auckland, Brasilia and Singapore through a year.
#[test]
fn the_sun_sets_and_it_gets_dark_when_the_almanac_says() {
    let table = ReferenceTable::open("usno/sunset_dusk_48.csv");
    let mut worst = ["sunset_min", "dusk_min"].map(|it| table.worst(it));
    for row in table.rows() {
        let midnight =
            chrono::DateTime::parse_from_rfc3339(&format!("{}T00:00:00Z", row.text("day"))).unwrap();
        let left = daylight(place(row["lat_deg"], row["lon_deg"]), midnight.timestamp() as f64).unwrap();
        let (at, ours_s) =
            if row.text("what") == "sunset" { (0, left.sunset_in_s) } else { (1, left.dark_in_s) };
        worst[at].see(row, ours_s.unwrap() / 60.0, row["minutes_after_midnight"]);
    }
    for worst in worst {
        worst.assert_within(24);
    }
}

fn ends(row: &Row) -> (LocalFrame, Position) {
    let from = place(row["lat1_deg"], row["lon1_deg"]);
    (LocalFrame::about(from), place(row["lat2_deg"], row["lon2_deg"]))
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

/// Source: `karney/geodtest_py20.csv`, the author's own test cases.
#[test]
fn the_frame_matches_the_cases_of_the_authors_own_tests() {
    let table = ReferenceTable::open("karney/geodtest_py20.csv");
    let mut worst = ["s12_m", "place_m", "azi1_deg"].map(|quantity| table.worst(quantity));
    for row in table.rows() {
        let (frame, place) = ends(row);
        let offset = frame.offset_of(place);
        let there = frame.place_at(towards(row["azi1_deg"], row["s12_m"]));
        worst[0].see(row, offset.length_m(), row["s12_m"]);
        worst[1].see(row, LocalFrame::about(place).offset_of(there).length_m(), 0.0);
        let bearing = Bearing::<TrueNorth>::of_vector(offset.east_m, offset.north_m);
        worst[2].see_angle_deg(row, bearing.degrees(), row["azi1_deg"]);
    }
    worst.iter().for_each(|worst| worst.assert_within(20));
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
    let mut worst = Worst::without_table(
        "flat_length_m",
        2e-3,
        "what the frame promises within 5 km; on a sphere 0.4 mm, on the ellipsoid more near the poles",
        "law of cosines on a sphere, a^3 2 / (9 sqrt(3) R^2)",
        "DERIVED",
    );
    let mut worst_m: f64 = 0.0;
    for lat_deg in [-78.0, -34.0, 0.0, 17.0, 47.0, 69.0, 89.9] {
        let frame = LocalFrame::about(Position::new(lat_deg, 179.99).unwrap());
        for (first, second) in (0..24).flat_map(|first| (0..first).map(move |second| (first, second))) {
            let [from, to] = [first, second].map(|bearing| towards(15.0 * f64::from(bearing), 5000.0));
            let flat_m = (from.east_m - to.east_m).hypot(from.north_m - to.north_m);
            let geodesic_m = LocalFrame::about(frame.place_at(from)).offset_of(frame.place_at(to)).length_m();
            worst.note(&format!("{lat_deg} {first} {second}"), flat_m - geodesic_m);
            worst_m = worst_m.max((flat_m - geodesic_m).abs());
        }
    }
    worst.assert_within(7 * 276);
    // Above a fifth of a millimetre too: were it exact, something else would be compared.
    assert!(worst_m > 2e-4, "{worst_m:e} m");
}
