//! Tiles of a map in one SQLite file.
//!
//! # Source
//! `MBTiles` 1.3: tables `metadata` and `tiles`, rows counted from the south, the spherical Mercator profile.

use crate::map_files::MapFileError;
use core::f64::consts::PI;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use rusqlite::{Connection, OpenFlags, OptionalExtension};
use serde::{Deserialize, Serialize};
use std::path::Path;
use windfall_facts::{LatLon, Sentence};

/// What a file of tiles says of itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TilesAbout {
    /// What it is called.
    pub name: String,
    /// Whose it is, as plain text; what its licence wants to be shown.
    pub attribution: Option<String>,
    /// Coarsest zoom there is.
    pub least_zoom: u8,
    /// Finest zoom there is.
    pub most_zoom: u8,
}

/// Which tile: `row` counts from the north.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tile {
    /// Zoom: the world is `2^zoom` tiles wide.
    pub zoom: u8,
    /// From the meridian of 180 degrees eastwards.
    pub column: u32,
    /// From the north southwards.
    pub row: u32,
}

/// A rectangle along meridians and parallels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Extent {
    /// Its north-western corner.
    pub north_west: LatLon,
    /// Its south-eastern corner.
    pub south_east: LatLon,
}

/// An open file of tiles.
#[derive(Debug)]
pub struct Tiles {
    db: Connection,
}

const PATH: &AsciiSet = &NON_ALPHANUMERIC.remove(b'/').remove(b'.').remove(b'-').remove(b'_');
/// Finer than this no map is, and columns still fit their numbers.
const FINEST: u8 = 24;
/// Beyond this parallel spherical Mercator has no map, degrees.
const EDGE_DEG: f64 = 85.051_128_779_806_6;

impl Tile {
    /// The tile of a zoom that holds a place; the nearest one for places beyond the map.
    ///
    /// # Model
    /// Spherical Mercator: latitude and longitude of WGS 84 laid out as if on a sphere.
    #[must_use]
    pub fn holding(place: LatLon, zoom: u8) -> Self {
        let wide = f64::from(1_u32 << zoom.min(FINEST));
        let lat_rad = place.lat.clamp(-EDGE_DEG, EDGE_DEG).to_radians();
        let across = (place.lon + 180.0) / 360.0;
        let down = 0.5 - lat_rad.tan().asinh() / (2.0 * PI);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to the map")]
        let held = |share: f64| (share * wide).floor().clamp(0.0, wide - 1.0) as u32;
        Self { zoom, column: held(across), row: held(down) }
    }

    /// Where it lies.
    #[must_use]
    pub fn extent(self) -> Extent {
        let wide = f64::from(1_u32 << self.zoom.min(FINEST));
        let corner = |column: f64, row: f64| LatLon {
            lat: (PI * (1.0 - 2.0 * row / wide)).sinh().atan().to_degrees(),
            lon: 360.0 * column / wide - 180.0,
        };
        let (column, row) = (f64::from(self.column), f64::from(self.row));
        Extent { north_west: corner(column, row), south_east: corner(column + 1.0, row + 1.0) }
    }

    /// As the file counts: from the south.
    fn row_from_south(self) -> i64 {
        (1_i64 << self.zoom.min(FINEST)) - 1 - i64::from(self.row)
    }
}

fn bad(field: &str, why: impl Into<Sentence>) -> MapFileError {
    MapFileError::Unreadable { field: format!("MBTiles, {field}"), why: why.into().inside() }
}

fn sql(_: &rusqlite::Error) -> MapFileError {
    bad("file", Sentence::TableUnreadable {})
}

impl Tiles {
    pub(crate) fn open(path: &Path) -> Result<Self, MapFileError> {
        // Never written to, also not beside: no journal is looked for.
        let uri = format!("file:{}?immutable=1", utf8_percent_encode(&path.to_string_lossy(), PATH));
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
        let db = Connection::open_with_flags(uri, flags).map_err(|error| sql(&error))?;
        // The file may be anybody's: what its views call must be harmless.
        db.pragma_update(None, "trusted_schema", false).map_err(|error| sql(&error))?;
        Ok(Self { db })
    }

    /// What the file says of itself.
    ///
    /// # Errors
    /// When a table is missing, its tiles are no pictures, or there is none.
    pub fn about(&self) -> Result<TilesAbout, MapFileError> {
        let said = |key: &str| -> Result<Option<String>, MapFileError> {
            self.db
                .query_row("SELECT CAST(value AS TEXT) FROM metadata WHERE name = ?1", [key], |row| {
                    row.get(0)
                })
                .optional()
                .map(Option::flatten)
                .map_err(|_| bad("metadata", Sentence::TableUnreadable {}))
        };
        let format = said("format")?.unwrap_or_default();
        if !["png", "jpg", "jpeg", "webp"].contains(&format.trim_start_matches("image/")) {
            return Err(bad(
                "format",
                Sentence::OneOfThese { written: format, allowed: "png, jpg, webp".into() },
            ));
        }
        let zooms = self
            .db
            .query_row("SELECT min(zoom_level), max(zoom_level) FROM tiles", [], |row| {
                Ok((row.get::<_, Option<i64>>(0)?, row.get::<_, Option<i64>>(1)?))
            })
            .map_err(|_| bad("tiles", Sentence::TableUnreadable {}))?;
        let (Some(least), Some(most)) = zooms else { return Err(bad("tiles", Sentence::NoTiles {})) };
        let held = |zoom: i64| {
            let held = u8::try_from(zoom).ok().filter(|zoom| *zoom <= FINEST);
            held.ok_or_else(|| {
                bad("tiles.zoom_level", Sentence::ZoomBeyond { zoom: zoom as f64, most: f64::from(FINEST) })
            })
        };
        let plain = |text: String| Some(plain_text(&text)).filter(|text| !text.is_empty());
        Ok(TilesAbout {
            name: said("name")?.and_then(plain).unwrap_or_default(),
            attribution: said("attribution")?.and_then(plain),
            least_zoom: held(least)?,
            most_zoom: held(most)?,
        })
    }

    /// The picture of a tile; none where the map has a hole.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn tile(&self, tile: Tile) -> Result<Option<Vec<u8>>, MapFileError> {
        self.db
            .query_row(
                "SELECT tile_data FROM tiles WHERE zoom_level = ?1 AND tile_column = ?2 AND tile_row = ?3",
                (tile.zoom, tile.column, tile.row_from_south()),
                |row| row.get(0),
            )
            .optional()
            .map_err(|error| sql(&error))
    }

    /// The tiles over an extent that are there, at the finest zoom at which it takes no more than `most`; coarser where
    /// there is none so fine.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn over(&self, extent: &Extent, about: &TilesAbout, most: u32) -> Result<Vec<Tile>, MapFileError> {
        let mut there = self
            .db
            .prepare_cached(
                "SELECT tile_column, tile_row FROM tiles
                 WHERE zoom_level = ?1 AND tile_column BETWEEN ?2 AND ?3 AND tile_row BETWEEN ?4 AND ?5 LIMIT ?6",
            )
            .map_err(|error| sql(&error))?;
        for zoom in (about.least_zoom..=about.most_zoom).rev() {
            let (first, last) =
                (Tile::holding(extent.north_west, zoom), Tile::holding(extent.south_east, zoom));
            let count = u64::from(last.column.saturating_sub(first.column) + 1)
                * u64::from(last.row.saturating_sub(first.row) + 1);
            if count > u64::from(most) {
                continue;
            }
            let last_row = (1_i64 << zoom) - 1;
            let found = there
                .query_map(
                    (zoom, first.column, last.column, last.row_from_south(), first.row_from_south(), most),
                    |row| Ok((row.get::<_, u32>(0)?, row.get::<_, i64>(1)?)),
                )
                .and_then(Iterator::collect::<Result<Vec<_>, _>>)
                .map_err(|error| sql(&error))?;
            let tiles: Vec<Tile> = found
                .into_iter()
                .filter_map(|(column, row)| {
                    Some(Tile { zoom, column, row: u32::try_from(last_row - row).ok()? })
                })
                .collect();
            if !tiles.is_empty() {
                return Ok(tiles);
            }
        }
        Ok(Vec::new())
    }
}

/// An attribution is HTML: what of it a reader sees.
fn plain_text(html: &str) -> String {
    let mut text = String::new();
    let mut is_inside = false;
    for letter in html.chars() {
        match letter {
            '<' => is_inside = true,
            '>' if is_inside => is_inside = false,
            _ if !is_inside => text.push(letter),
            _ => {}
        }
    }
    for (entity, letter) in [
        ("&copy;", "©"),
        ("&#169;", "©"),
        ("&nbsp;", " "),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&amp;", "&"),
    ] {
        text = text.replace(entity, letter);
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    words.join(" ").chars().take(200).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file with these rows of metadata and these tiles (zoom, column, row from the south).
    fn made(
        metadata: &[(&str, &str)],
        tiles: &[(u8, u32, u32)],
    ) -> (tempfile::TempDir, Result<Tiles, MapFileError>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a map?.mbtiles");
        let db = Connection::open(&path).unwrap();
        db.execute_batch(
            "CREATE TABLE metadata (name text, value text);
             CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob);",
        )
        .unwrap();
        for row in metadata {
            db.execute("INSERT INTO metadata VALUES (?1, ?2)", *row).unwrap();
        }
        for (zoom, column, row) in tiles {
            let data = format!("{zoom}/{column}/{row}").into_bytes();
            db.execute("INSERT INTO tiles VALUES (?1, ?2, ?3, ?4)", (zoom, column, row, data)).unwrap();
        }
        drop(db);
        let tiles = Tiles::open(&path);
        (folder, tiles)
    }

    const ABOUT: [(&str, &str); 3] = [
        ("name", "Sedge Meadow from above"),
        ("format", "jpg"),
        ("attribution", "&copy; <a href=\"https://example.org\">R. Alder</a>, 2026"),
    ];

    #[test]
    fn rows_are_counted_from_the_south_as_the_example_of_the_standard() {
        // MBTiles 1.3, section Tiles: 11/327/791 is row 1256.
        let (_folder, tiles) = made(&ABOUT, &[(11, 327, 1256)]);
        let tiles = tiles.unwrap();
        let tile = Tile { zoom: 11, column: 327, row: 791 };
        assert_eq!(tiles.tile(tile).unwrap().unwrap(), b"11/327/1256");
        assert_eq!(tiles.tile(Tile { row: 790, ..tile }).unwrap(), None);
    }

    #[test]
    fn what_the_file_says_of_itself_is_plain_text() {
        let (_folder, tiles) = made(&ABOUT, &[(15, 1, 1), (17, 3, 3)]);
        let about = tiles.unwrap().about().unwrap();
        assert_eq!(about.attribution.as_deref(), Some("© R. Alder, 2026"));
        assert_eq!((about.least_zoom, about.most_zoom), (15, 17));
    }

    #[test]
    fn the_finest_zoom_that_is_not_too_many_is_taken() {
        let place = LatLon { lat: 47.53, lon: 17.28 };
        let (fine, coarse) = (Tile::holding(place, 16), Tile::holding(place, 14));
        let stored = |tile: Tile| (tile.zoom, tile.column, (1_u32 << tile.zoom) - 1 - tile.row);
        let (_folder, tiles) = made(&ABOUT, &[stored(fine), stored(coarse)]);
        let tiles = tiles.unwrap();
        let about = tiles.about().unwrap();
        let over = |by: f64, most: u32| {
            let extent = Extent {
                north_west: LatLon { lat: place.lat + by, lon: place.lon - by },
                south_east: LatLon { lat: place.lat - by, lon: place.lon + by },
            };
            tiles.over(&extent, &about, most).unwrap()
        };
        assert_eq!(over(0.0001, 9), [fine]);
        assert_eq!(over(0.02, 16), [coarse]);
        assert_eq!(over(5.0, 9), [], "the whole country is too much at any zoom that is there");
    }

    #[test]
    fn vectors_an_empty_file_and_another_database_are_refused_by_their_field() {
        let vectors = [("name", "v"), ("format", "pbf")];
        for (metadata, tiles, said) in [
            (&vectors[..], &[(1, 0, 0)][..], "MBTiles, format: \"pbf\"; allowed: png, jpg, webp"),
            (&ABOUT[..], &[], "MBTiles, tiles: there is none"),
            (&ABOUT[..], &[(31, 0, 0)], "MBTiles, tiles.zoom_level: 31; allowed are 0 to 24"),
        ] {
            let (_folder, tiles_of) = made(metadata, tiles);
            assert_eq!(tiles_of.unwrap().about().unwrap_err().to_string(), said);
        }
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("other.mbtiles");
        Connection::open(&path).unwrap().execute_batch("CREATE TABLE other (a)").unwrap();
        let error = Tiles::open(&path).unwrap().about().unwrap_err().to_string();
        assert!(error.starts_with("MBTiles, metadata: "), "{error}");
    }
}
