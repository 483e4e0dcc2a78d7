//! Pictures and tiles laid on the ground.

use windfall_facts::LatLon;
use windfall_logbook::mbtiles::{Extent, Tile};
use windfall_quantities::{Dot, Lie, Offset, PictureFit};
use windfall_tests::ReferenceTable;

/// Source: `numpy/picture_fit_12.csv`: numpy.linalg.lstsq on the system as it stands, without centring.
#[test]
fn a_picture_lies_where_a_general_least_squares_solver_lays_it() {
    let table = ReferenceTable::open("numpy/picture_fit_12.csv");
    let (mut probe, mut miss) = (table.worst("probe_m"), table.worst("miss_m"));
    let mut affine = 0;
    for row in table.rows() {
        let points: Vec<(Dot, Offset)> = (0..5)
            .map(|i| {
                let at = |what: &str| row[&*format!("{what}_{i}")];
                let dot = Dot { right_px: at("right_px"), down_px: at("down_px") };
                (dot, Offset { east_m: at("east_m"), north_m: at("north_m") })
            })
            .collect();
        let fit = PictureFit::of(&points).unwrap();
        assert_eq!(fit.lie == Lie::Affine, row["is_affine"] > 0.5, "{row:?}");
        affine += u8::from(fit.lie == Lie::Affine);
        let got = fit.place(Dot { right_px: row["probe_right_px"], down_px: row["probe_down_px"] });
        probe.see(row, got.east_m, row["probe_east_m"]);
        probe.see(row, got.north_m, row["probe_north_m"]);
        miss.see(row, fit.miss_m(), row["miss_m"]);
    }
    assert_eq!(affine, 6, "both laws are tried");
    probe.assert_within(24);
    miss.assert_within(12);
}

/// Source: `mercantile/tile_bounds_20.csv`: another library's spherical Mercator.
#[test]
fn a_tile_holds_the_places_and_has_the_corners_that_another_library_says() {
    let table = ReferenceTable::open("mercantile/tile_bounds_20.csv");
    let mut corner = table.worst("corner_deg");
    for row in table.rows() {
        let zoom: u8 = row.text("zoom").parse().unwrap();
        let tile = Tile::holding(LatLon { lat: row["lat"], lon: row["lon"] }, zoom);
        let expected = ["column", "row"].map(|name| row.text(name).parse::<u32>().unwrap());
        assert_eq!([tile.column, tile.row], expected, "{row:?}");
        let Extent { north_west, south_east } = tile.extent();
        corner.see(row, north_west.lat, row["north"]);
        corner.see(row, north_west.lon, row["west"]);
        corner.see(row, south_east.lat, row["south"]);
        corner.see(row, south_east.lon, row["east"]);
    }
    corner.assert_within(80);
}
