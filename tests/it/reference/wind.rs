//! Wind.

use windfall_physics::air::{Profile, shape_at};
use windfall_tests::{ReferenceTable, Row};

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
