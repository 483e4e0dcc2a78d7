//! Density, pressure and height.

use windfall_physics::GRAVITY_MPS2;
use windfall_physics::air::{
    Ground, density_height_m, indicated_height_m, moist_density_kgpm3, pressure_height_m, standard_atmosphere,
};
use windfall_tests::{ReferenceTable, Row, Worst};

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

/// Source: `definition/density_altitude.csv`. It takes damp air by its virtual temperature, we by CIPM-2007.
#[test]
fn density_altitude_is_the_height_where_standard_air_is_as_thin() {
    const FOOT_M: f64 = 0.3048;
    let table = ReferenceTable::open("definition/density_altitude.csv");
    let columns = ["PA_m", "DA_of_printed_density_m", "DA_exact_m", "DA_NWS_ft", "DA_rule118_8_ft"];
    let mut worst = columns.map(|column| table.worst(column));
    for row in table.rows() {
        let pressure_pa = 100.0 * row["station_p_hPa"];
        worst[0].see(row, pressure_height_m(pressure_pa), row["PA_m"]);
        worst[1].see(row, density_height_m(row["rho_kgm3"]), row["DA_exact_m"]);
        let ours_m = density_height_m(moist_density_kgpm3(row["t_C"], pressure_pa, row["RH"]));
        worst[2].see(row, ours_m, row["DA_exact_m"]);
        worst[3].see(row, ours_m / FOOT_M, row["DA_NWS_ft"]);
        worst[4].see(row, ours_m / FOOT_M, row["DA_rule118_8_ft"]);
    }
    worst.iter().for_each(|worst| worst.assert_within(9));
}

/// Air over a pad, of which an altimeter reads the pressure.
#[derive(Clone, Copy)]
struct Column {
    /// Pressure at the pad over the standard one.
    pressure_ratio: f64,
    /// Warmer than standard by this, K.
    warmer_k: f64,
    lapse_kpm: f64,
    relative_humidity: f64,
}

/// What an altimeter set to zero on the pad shows `height_m` up: the hydrostatic equation in steps of a metre by the
/// midpoint rule, which is right to a millionth of a metre here.
fn shown_m(column: Column, elevation_m: f64, height_m: u32) -> f64 {
    let (standard_k, standard_pa, _) = standard_atmosphere(elevation_m);
    let at_pad = standard_pa * column.pressure_ratio;
    let mut pressure = at_pad;
    for metre in 0..height_m {
        let kelvin = standard_k + column.warmer_k - column.lapse_kpm * (f64::from(metre) + 0.5);
        // Vapour has 0.622 of the mass of dry air; Magnus form for its pressure (WMO-No. 8, from memory).
        let t = kelvin - 273.15;
        let vapour = column.relative_humidity * 611.2 * (17.62 * t / (243.12 + t)).exp();
        let virtual_k = kelvin / (1.0 - vapour / pressure * (1.0 - 0.622));
        pressure *= (-GRAVITY_MPS2 / (287.052_87 * virtual_k)).exp();
    }
    pressure_height_m(pressure) - pressure_height_m(at_pad)
}

/// Source: the hydrostatic equation, integrated in steps. On a warm day an altimeter shows too little; what our
/// formula leaves out stays within the 1 % that `priors.csv` gives the altimeter.
#[test]
fn an_altimeter_in_warm_air_shows_what_the_hydrostatic_equation_says() {
    let warm = Column { pressure_ratio: 1.0, warmer_k: 15.0, lapse_kpm: 0.0065, relative_humidity: 0.0 };
    let source = "hydrostatic equation dp/dz = -p g / (R T), integrated by the midpoint rule";
    let worst = |quantity, limit, why| Worst::without_table(quantity, limit, why, source, "DERIVED");
    let mut dry_m = worst("indicated_dry_m", 1e-6, "the formula is exact there; the rule errs by less");
    let less = "left out of the formula, within the 1 % of an altimeter";
    let mut others = [
        (worst("indicated_mixed_air_relative", 0.004, less), Column { lapse_kpm: 0.0098, ..warm }),
        (worst("indicated_damp_air_relative", 0.009, less), Column { relative_humidity: 0.5, ..warm }),
        (worst("indicated_low_pressure_relative", 0.005, less), Column { pressure_ratio: 0.98, ..warm }),
    ];
    let heights_m = [50, 100, 250, 500];
    for elevation_m in [0.0, 560.0, 1600.0] {
        let ground = Ground { temperature_k: standard_atmosphere(elevation_m).0 + 15.0, density_kgpm3: 1.0 };
        for height_m in heights_m {
            let ours_m = indicated_height_m(f64::from(height_m), ground, elevation_m);
            let what = format!("{height_m} m above {elevation_m} m");
            dry_m.note(&what, ours_m - shown_m(warm, elevation_m, height_m));
            for (worst, column) in &mut others {
                worst.note(&what, ours_m / shown_m(*column, elevation_m, height_m) - 1.0);
            }
            // Fifteen kelvin are a twentieth of the height.
            assert!((0.94..0.96).contains(&(ours_m / f64::from(height_m))), "{ours_m}");
        }
    }
    dry_m.assert_within(12);
    others.iter().for_each(|(worst, _)| worst.assert_within(12));
}
