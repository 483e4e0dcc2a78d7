//! Height by angles.

use windfall_physics::tracking::{
    Look, geodesic, heights_over_crossing_m, one_station_height_m, vertical_midpoint,
};
use windfall_tests::{ReferenceTable, Worst};

/// Source: `nar/altitude_two_station.csv`.
#[test]
fn two_stations_reduce_to_the_heights_and_closures_of_the_sporting_code() {
    let table = ReferenceTable::open("nar/altitude_two_station.csv");
    let columns = [
        "h1_m",
        "h2_m",
        "alt_vertical_midpoint_m",
        "closure_vertical_pct",
        "alt_geodesic_m",
        "closure_geodesic_pct",
    ];
    let mut worst = columns.map(|column| (column, table.worst(column)));
    let mut plain = table.worst("alt_skew_mid_relative");
    let mut gap = table.worst("gap_over_altitude_pct");
    for row in table.rows() {
        let look = |bearing: &str, elevation: &str| Look {
            from_baseline_rad: row[bearing].to_radians(),
            elevation_rad: row[elevation].to_radians(),
        };
        let (first, second) = (look("A1_deg", "E1_deg"), look("A2_deg", "E2_deg"));
        let baseline_m = row["B_m"];
        let [one, two] = heights_over_crossing_m(baseline_m, first, second).unwrap();
        let midpoint = vertical_midpoint(baseline_m, first, second).unwrap();
        let geodesic = geodesic(baseline_m, first, second).unwrap();
        let ours = [
            one,
            two,
            midpoint.height_m,
            100.0 * midpoint.closure,
            geodesic.height_m,
            100.0 * geodesic.closure,
        ];
        for ((column, worst), ours) in worst.iter_mut().zip(ours) {
            worst.see(row, ours, row[*column]);
        }
        plain.see_relative(row, geodesic.height_m, row["alt_skew_mid_m"]);
        gap.see(row, 100.0 * geodesic.closure, 100.0 * row["gap_m"] / row["alt_geodesic_m"]);
        for (reduced, column) in [(midpoint, "vertical_result"), (geodesic, "geodesic_result")] {
            assert_eq!(reduced.closed(), row.text(column) == "closed", "{column}");
        }
    }
    worst.iter().for_each(|(_, worst)| worst.assert_within(24));
    plain.assert_within(24);
    gap.assert_within(24);
}

/// Source: plane geometry. The special angles have tangents that everybody knows.
#[test]
fn one_station_finds_the_height_by_the_tangent() {
    let mut worst = Worst::without_table(
        "one_station_m",
        1e-9,
        "rounding of f64",
        "tangents of 30, 45 and 60 degrees",
        "DERIVED",
    );
    for (elevation_deg, tangent) in [(30.0_f64, 3.0_f64.sqrt() / 3.0), (45.0, 1.0), (60.0, 3.0_f64.sqrt())] {
        let height_m = one_station_height_m(150.0, elevation_deg.to_radians());
        worst.note(&format!("{elevation_deg} degrees"), height_m - 150.0 * tangent);
    }
    worst.assert_within(3);
}
