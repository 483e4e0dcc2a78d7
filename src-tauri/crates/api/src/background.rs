//! What lies under the map of a field: a picture of the flyer's own, or tiles of a map in one file. Both are files
//! beside the logbook; a fact says which one is the field's, and what was said to place it.

use crate::{Api, ApiError, Code, Site, WhichSite, call::guarded};
use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::{LatLon, Sentence};
use windfall_logbook::mbtiles::{Extent, Tile, TilesAbout};
use windfall_logbook::{Fact, Logbook, MapContent, MapFileError, MapFiles, about};
use windfall_quantities::{Dot, Lie, LocalFrame, NotPlaced, PictureFit, Position};

const BACKGROUND: &str = "background";

/// A part of a file that comes.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BringFile {
    /// What it is called on its way: letters, digits and hyphens.
    pub file: String,
    /// Bytes that came before it; 0 begins anew.
    pub at: u64,
    /// The part, base64 (RFC 4648).
    pub base64: String,
}

/// How much of a file has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct BroughtFile {
    /// Bytes.
    pub bytes: u64,
}

/// A dot of a picture, and the place that it shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KnownPoint {
    /// Dots to the right of the left edge.
    pub right_px: f64,
    /// Dots below the upper edge.
    pub down_px: f64,
    /// Where it is.
    pub at: LatLon,
    /// Radius that holds it with 68 %, metres; null if it was tapped on the map.
    #[serde(default)]
    pub accuracy_m: Option<f64>,
}

/// A picture and what is known of it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FitPicture {
    /// Dots across.
    pub width_px: u32,
    /// Dots down.
    pub height_px: u32,
    /// Points known in it.
    pub points: Vec<KnownPoint>,
}

/// Where a picture lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Laid {
    /// Its upper left corner.
    pub top_left: LatLon,
    /// Its upper right corner.
    pub top_right: LatLon,
    /// Its lower left corner.
    pub bottom_left: LatLon,
    /// Root mean square distance by which the points miss their places, metres.
    pub miss_m: f64,
    /// The same of each point.
    pub misses_m: Vec<f64>,
    /// Whether it had to be stretched more one way than the other.
    pub stretched: bool,
}

/// A file that came is to lie under the map of a field.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepBackground {
    /// Which field.
    pub site: String,
    /// What the file was called on its way.
    pub file: String,
    /// Of a picture: points known in it.
    #[serde(default)]
    pub points: Vec<KnownPoint>,
}

/// What a fact says of the background.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
enum Said {
    Picture { file: String, width_px: u32, height_px: u32, points: Vec<KnownPoint> },
    Tiles { file: String, about: TilesAbout },
}

/// The key under which the bytes of a file travel in an archive.
const DATA: &str = "data_base64";

/// The fact as it travels: what lies under the map in it, if it is there.
pub(crate) fn packed(book: &Logbook, mut fact: Fact) -> Fact {
    if let Some(name) = file_of(&fact)
        && let Ok(bytes) = book.map_files().picture(name)
    {
        fact.json[DATA] = BASE64.encode(bytes).into();
    }
    fact
}

/// The fact as it is kept, and its file beside the logbook. One that travelled without its file stays as it is.
pub(crate) fn unpacked(book: &Logbook, mut fact: Fact) -> Result<Fact, ApiError> {
    let Some(name) = file_of(&fact).map(str::to_owned) else { return Ok(fact) };
    let Some(said) = fact.json.as_object_mut().and_then(|said| said.remove(DATA)) else { return Ok(fact) };
    let files = book.map_files();
    if files.has(&name) {
        return Ok(fact);
    }
    let altered = || {
        let message = format!("fact {}: its map is not {name}; nothing of it is taken", fact.id);
        ApiError::new(Code::BadFlight, message).saying(Sentence::ArchiveAltered {})
    };
    let bytes = said.as_str().and_then(|text| BASE64.decode(text).ok()).ok_or_else(altered)?;
    files.bring("archive", 0, &bytes)?;
    if files.keep("archive")?.0 == name { Ok(fact) } else { Err(altered()) }
}

fn file_of(fact: &Fact) -> Option<&str> {
    fact.json["file"].as_str().filter(|_| fact.about == about::FIELD && fact.kind == BACKGROUND)
}

/// What lies under the map of a field.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Background {
    /// A picture.
    Picture {
        /// Its file beside the logbook.
        file: String,
        /// Where it lies.
        laid: Laid,
    },
    /// Tiles of a map.
    Tiles {
        /// Their file beside the logbook.
        file: String,
        /// What the file says of itself.
        about: TilesAbout,
    },
    /// The file is no longer beside the logbook.
    Missing {
        /// Which file.
        file: String,
    },
}

/// Tiles over some ground.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TilesOver {
    /// Which field.
    pub id: String,
    /// The ground.
    pub extent: Extent,
}

/// A tile and where it lies.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TileLaid {
    /// Which.
    pub tile: Tile,
    /// Where.
    pub extent: Extent,
}

/// One tile.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OneTile {
    /// Which field.
    pub id: String,
    /// Which tile.
    pub tile: Tile,
}

/// A picture on its way to another device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Carried {
    base64: String,
    points: Vec<KnownPoint>,
}

/// As many as fill a screen and the ground around it.
const MOST_TILES: u32 = 80;

impl From<MapFileError> for ApiError {
    fn from(error: MapFileError) -> Self {
        let code = match &error {
            MapFileError::Disk(_) => Code::Storage,
            MapFileError::NotThere(_) => Code::NotFound,
            _ => Code::BadRequest,
        };
        let message = error.to_string();
        let said = match error {
            MapFileError::UnknownKind => Sentence::NoPictureNoTiles {},
            MapFileError::Unreadable { field: name, why } => Sentence::NotRead { name, why },
            MapFileError::TooLarge { got, what: "bytes", allowed } => {
                let mb = |bytes: u64| usize::try_from(bytes.div_ceil(1_000_000)).unwrap_or(usize::MAX);
                Sentence::FileTooLarge { mb: mb(got), most_mb: mb(allowed) }
            }
            _ => return Self::new(code, message),
        };
        Self::new(code, message).saying(said)
    }
}

impl Api {
    pub(crate) fn map_files(&self) -> Result<MapFiles, ApiError> {
        Ok(self.open_logbook()?.map_files())
    }

    /// Takes a part of a file that is to lie under a map.
    ///
    /// # Errors
    /// When it does not follow what came before, is no base64 or grows too large; when no logbook is open.
    pub fn bring_file(&self, asked: &BringFile) -> Result<BroughtFile, ApiError> {
        guarded(|| {
            let part = BASE64
                .decode(&asked.base64)
                .map_err(|error| ApiError::new(Code::BadRequest, format!("base64: {error}")))?;
            Ok(BroughtFile { bytes: self.map_files()?.bring(&asked.file, asked.at, &part)? })
        })
    }

    /// Where a picture would lie. Nothing is kept.
    ///
    /// # Errors
    /// When the points are too few, lie in one line, contradict each other or are no places.
    pub fn fit_picture(&self, asked: &FitPicture) -> Result<Laid, ApiError> {
        guarded(|| laid(asked.width_px, asked.height_px, &asked.points))
    }

    /// Lays a file that has come whole under the map of a field, in place of what was there.
    ///
    /// # Errors
    /// When there is no such field, the file is of no kind that is read, or a picture cannot be placed.
    pub fn keep_background(&self, asked: &KeepBackground) -> Result<Site, ApiError> {
        guarded(|| {
            self.site(&asked.site)?;
            let (file, content) = self.map_files()?.keep(&asked.file)?;
            let said = match content {
                MapContent::Picture { width_px, height_px } => {
                    laid(width_px, height_px, &asked.points)?;
                    Said::Picture { file, width_px, height_px, points: asked.points.clone() }
                }
                MapContent::Tiles(about) => Said::Tiles { file, about },
            };
            self.note_now(about::FIELD, &asked.site, BACKGROUND, &said)?;
            self.site(&asked.site)
        })
    }

    /// Takes away what lies under the map of a field. The file stays beside the logbook, and the fact can be used again.
    ///
    /// # Errors
    /// When there is no such field or nothing lies under its map.
    pub fn drop_background(&self, asked: &WhichSite) -> Result<Site, ApiError> {
        guarded(|| {
            let fact = self.open_logbook()?.last_in_force(about::FIELD, &asked.id, BACKGROUND)?;
            let fact = fact.ok_or_else(|| none_there(&asked.id))?;
            self.follow(fact, windfall_logbook::SET_ASIDE, json!({}))?;
            self.site(&asked.id)
        })
    }

    /// What lies under the map of a field; null with nothing, with no such field and without a logbook.
    ///
    /// # Errors
    /// When the logbook cannot be read.
    pub fn background_of(&self, asked: &WhichSite) -> Result<Option<Background>, ApiError> {
        if self.has_logbook() { guarded(|| self.background(&asked.id)) } else { Ok(None) }
    }

    /// The bytes of the picture under a field's map.
    ///
    /// # Errors
    /// When there is none or it cannot be read.
    pub fn background_picture(&self, asked: &WhichSite) -> Result<Vec<u8>, ApiError> {
        match self.said_of(&asked.id)? {
            Some(Said::Picture { file, .. }) => Ok(self.map_files()?.picture(&file)?),
            _ => Err(none_there(&asked.id)),
        }
    }

    /// Which tiles under a field's map lie over some ground.
    ///
    /// # Errors
    /// When there are none or they cannot be read.
    pub fn tiles_over(&self, asked: &TilesOver) -> Result<Vec<TileLaid>, ApiError> {
        guarded(|| match self.said_of(&asked.id)? {
            Some(Said::Tiles { file, about }) => {
                let found = self.map_files()?.tiles(&file)?.over(&asked.extent, &about, MOST_TILES)?;
                Ok(found.into_iter().map(|tile| TileLaid { tile, extent: tile.extent() }).collect())
            }
            _ => Err(none_there(&asked.id)),
        })
    }

    /// The picture of one tile; empty where the map has a hole.
    ///
    /// # Errors
    /// When there are no tiles or they cannot be read.
    pub fn background_tile(&self, asked: &OneTile) -> Result<Vec<u8>, ApiError> {
        match self.said_of(&asked.id)? {
            Some(Said::Tiles { file, .. }) => {
                Ok(self.map_files()?.tiles(&file)?.tile(asked.tile)?.unwrap_or_default())
            }
            _ => Err(none_there(&asked.id)),
        }
    }

    fn said_of(&self, site: &str) -> Result<Option<Said>, ApiError> {
        self.last_of(about::FIELD, site, BACKGROUND)
    }

    /// What lies under the map of a field.
    pub(crate) fn background(&self, site: &str) -> Result<Option<Background>, ApiError> {
        let Some(said) = self.said_of(site)? else { return Ok(None) };
        let (Said::Picture { file, .. } | Said::Tiles { file, .. }) = &said;
        if !self.map_files()?.has(file) {
            return Ok(Some(Background::Missing { file: file.clone() }));
        }
        Ok(match said {
            // Points that came from elsewhere and do not fit leave the map plain.
            Said::Picture { file, width_px, height_px, points } => {
                laid(width_px, height_px, &points).ok().map(|laid| Background::Picture { file, laid })
            }
            Said::Tiles { file, about } => Some(Background::Tiles { file, about }),
        })
    }

    /// The picture of a field, to go with it to another device.
    pub(crate) fn carried(&self, site: &str) -> Result<Option<Carried>, ApiError> {
        match self.said_of(site)? {
            Some(Said::Picture { file, points, .. }) => {
                let bytes = self.map_files()?.picture(&file)?;
                Ok(Some(Carried { base64: BASE64.encode(bytes), points }))
            }
            _ => Ok(None),
        }
    }

    /// Lays a picture that came with a field under its map.
    pub(crate) fn take_carried(&self, site: &str, carried: Carried) -> Result<(), ApiError> {
        let file = "carried".to_owned();
        self.bring_file(&BringFile { file: file.clone(), at: 0, base64: carried.base64 })?;
        self.keep_background(&KeepBackground { site: site.into(), file, points: carried.points }).map(drop)
    }
}

fn none_there(site: &str) -> ApiError {
    ApiError::new(Code::NotFound, format!("nothing of that kind lies under the map of field \"{site}\""))
}

fn laid(width_px: u32, height_px: u32, points: &[KnownPoint]) -> Result<Laid, ApiError> {
    let bad = |message: String| ApiError::new(Code::BadRequest, message);
    let place = |index: usize, at: LatLon| {
        Position::new(at.lat, at.lon).map_err(|error| bad(format!("points[{index}].at: {error}")))
    };
    let Some(first) = points.first() else {
        return Err(bad(NotPlaced::TooFew { given: 0 }.to_string()));
    };
    let frame = LocalFrame::about(place(0, first.at)?);
    let mut pairs = Vec::new();
    for (index, point) in points.iter().enumerate() {
        let dot = Dot { right_px: point.right_px, down_px: point.down_px };
        pairs.push((dot, frame.offset_of(place(index, point.at)?)));
    }
    let fit = PictureFit::of(&pairs).map_err(|error| {
        let said = match error {
            NotPlaced::TooFew { .. } => None,
            NotPlaced::InLine => Some(Sentence::PictureInLine {}),
            NotPlaced::Mirrored => Some(Sentence::PictureMirrored {}),
            NotPlaced::Contradicting { miss_m, spread_m } => {
                Some(Sentence::PictureContradicts { miss_m, spread_m })
            }
        };
        let refused = bad(error.to_string());
        said.into_iter().fold(refused, ApiError::saying)
    })?;
    let corner = |right_px: u32, down_px: u32| {
        let dot = Dot { right_px: f64::from(right_px), down_px: f64::from(down_px) };
        let place = frame.place_at(fit.place(dot));
        LatLon { lat: place.lat_deg(), lon: place.lon_deg() }
    };
    Ok(Laid {
        top_left: corner(0, 0),
        top_right: corner(width_px, 0),
        bottom_left: corner(0, height_px),
        miss_m: fit.miss_m(),
        stretched: fit.lie == Lie::Affine,
        misses_m: fit.misses_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Reply;
    use crate::call::tests::{called, with_logbook};
    use serde_json::Value;

    /// The head of a PNG of 300 by 200 dots; nobody unpacks it here.
    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x01\x2c\0\0\0\xc8\x08\x02\0\0\0";

    fn meadow(api: &Api) -> Value {
        called(
            api,
            "keep_site",
            json!({"field": {"name": "Sedge Meadow"}, "pad": {"name": "pad", "lat": 47.53, "lon": 17.28}}),
        )["id"]
            .clone()
    }

    /// Three corners of a picture of a metre a dot, north up, its upper left corner at the pad.
    fn corners() -> Value {
        let frame = LocalFrame::about(Position::new(47.53, 17.28).unwrap());
        let point = |right_px: f64, down_px: f64| {
            let place = frame.place_at(windfall_quantities::Offset { east_m: right_px, north_m: -down_px });
            json!({"right_px": right_px, "down_px": down_px, "at": {"lat": place.lat_deg(), "lon": place.lon_deg()}})
        };
        json!([point(0.0, 0.0), point(300.0, 0.0), point(300.0, 200.0)])
    }

    fn bring(api: &Api, file: &str, bytes: &[u8]) {
        called(api, "bring_file", json!({"file": file, "at": 0, "base64": BASE64.encode(bytes)}));
    }

    #[test]
    fn what_lies_under_a_map_travels_in_the_archive_unless_it_is_left_out() {
        let (_here, api) = with_logbook();
        let id = meadow(&api);
        bring(&api, "p", PNG);
        called(&api, "keep_background", json!({"site": id, "file": "p", "points": corners()}));
        let bytes = |reply| match reply {
            Ok(Reply::Bytes(bytes)) => bytes,
            other => panic!("{other:?}"),
        };
        let out = |without: bool| {
            bytes(api.call("take_out", json!({"format": "archive", "without_maps": without})))
        };
        let (_there, other) = with_logbook();
        for _ in 0..2 {
            other.import_archive(&out(false)).unwrap();
            assert_eq!(bytes(other.call("background_picture", json!({"id": id}))), PNG);
        }
        assert_eq!(
            other.open_logbook().unwrap().all_facts().unwrap(),
            api.open_logbook().unwrap().all_facts().unwrap()
        );
        assert_eq!(other.sites().unwrap(), api.sites().unwrap());
        let (_bare, bare) = with_logbook();
        assert!(out(true).len() < out(false).len());
        bare.import_archive(&out(true)).unwrap();
        assert_eq!(called(&bare, "sites", json!({}))[0]["background"]["kind"], "missing");
        // What was left out comes with another file.
        bare.import_archive(&out(false)).unwrap();
        assert_eq!(bytes(bare.call("background_picture", json!({"id": id}))), PNG);
    }

    #[test]
    fn a_picture_lies_where_its_points_say_goes_with_the_field_and_is_taken_away() {
        let ((_here, api), (_there, other)) = (with_logbook(), with_logbook());
        let id = meadow(&api);
        bring(&api, "p", PNG);
        let site = called(&api, "keep_background", json!({"site": id, "file": "p", "points": corners()}));
        let laid = &site["background"]["laid"];
        assert!(laid["miss_m"].as_f64().unwrap() < 1e-3 && laid["stretched"] == false, "{site}");
        let frame = LocalFrame::about(Position::new(47.53, 17.28).unwrap());
        let at = |corner: &str| {
            let [lat, lon] = ["lat", "lon"].map(|key| laid[corner][key].as_f64().unwrap());
            frame.offset_of(Position::new(lat, lon).unwrap())
        };
        assert!((at("bottom_left").north_m + 200.0).abs() < 0.01 && at("bottom_left").east_m.abs() < 0.01);
        let picture = |api: &Api| match api.call("background_picture", json!({"id": id})).unwrap() {
            Reply::Bytes(bytes) => bytes,
            Reply::Json(text) => panic!("{text}"),
        };
        assert_eq!(picture(&api), PNG);

        let text = called(&api, "write_site", json!({"id": id, "with_picture": true}));
        called(&other, "take_site", json!({ "text": text }));
        assert_eq!(other.sites().unwrap(), api.sites().unwrap());
        assert_eq!(picture(&other), PNG);

        let plain = called(&api, "drop_background", json!({"id": id}));
        assert_eq!(plain["background"], Value::Null);
        assert_eq!(api.call("background_picture", json!({"id": id})).unwrap_err().code, Code::NotFound);
    }

    #[test]
    fn a_picture_that_cannot_be_placed_changes_nothing_and_a_lost_file_is_said() {
        let (folder, api) = with_logbook();
        let id = meadow(&api);
        bring(&api, "p", PNG);
        called(&api, "keep_background", json!({"site": id, "file": "p", "points": corners()}));
        let before = api.sites().unwrap();
        for (points, said) in [
            (json!([]), "points: 0; at least 3"),
            (json!([{"right_px": 1, "down_px": 1, "at": {"lat": 147, "lon": 1}}]), "points[0].at: "),
        ] {
            bring(&api, "q", PNG);
            let asked = json!({"site": id, "file": "q", "points": points});
            let error = api.call("keep_background", asked).unwrap_err();
            assert!(error.message.starts_with(said) && error.code == Code::BadRequest, "{error}");
        }
        bring(&api, "q", b"a poem");
        let error = api.call("keep_background", json!({"site": id, "file": "q"})).unwrap_err();
        assert!(error.message.contains("no JPEG, no PNG and no MBTiles"), "{error}");
        assert_eq!(api.sites().unwrap(), before);
        std::fs::remove_dir_all(folder.path().join("maps")).unwrap();
        assert!(matches!(api.sites().unwrap()[0].background, Some(Background::Missing { .. })));
    }
}
