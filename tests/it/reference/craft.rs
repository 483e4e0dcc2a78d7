//! Craft.

use windfall_physics::craft::{Outline, canopy_area_m2, spill_hole_area_m2, terminal_speed_mps};
use windfall_tests::ReferenceTable;

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
