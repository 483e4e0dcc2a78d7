//! Air.

use windfall_physics::air::{moist_density_kgpm3, standard_atmosphere};
use windfall_tests::{ReferenceTable, Row};

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
