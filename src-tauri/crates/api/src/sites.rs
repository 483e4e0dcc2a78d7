//! Fields to fly from: the ground, pads, where the car stands, who gave permission, and which way somebody looked.

use crate::background::{Background, Carried};
use crate::fleet::Kept;
use crate::{Api, ApiError, Code, call::guarded, clock};
use geo::{BooleanOps, Coord, LineString, Polygon};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::json;
use windfall_facts::{Field, Hazard, HazardKind, LatLon, Look, Sentence};
use windfall_logbook::about;
use windfall_quantities::{LocalFrame, Offset, Position, turn_deg};

const FIELD: &str = "field";
const PAD: &str = "pad";
const BASE: &str = "base";
const PERMISSION: &str = "permission";
const LOOK: &str = "look";

/// A place with a name on a site.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spot {
    /// What people call it.
    pub name: String,
    /// Degrees north.
    pub lat: f64,
    /// Degrees east.
    pub lon: f64,
    /// Radius that holds it with 68 %, metres.
    #[serde(default)]
    pub accuracy_m: Option<f64>,
    /// Height of the ground above sea level, metres.
    #[serde(default)]
    pub elevation_m: Option<f64>,
}

/// Who allowed what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Permission {
    /// Who gave it.
    pub owner: String,
    /// On what terms.
    #[serde(default)]
    pub conditions: Option<String>,
    /// When, as in 2026-05-16.
    #[serde(default)]
    pub date: Option<String>,
}

/// What somebody saw looking one way from a pad.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Looked {
    /// From where.
    pub from: LatLon,
    /// Which way, degrees from true north.
    pub toward_deg: f64,
    /// What comes first.
    pub what: ComesFirst,
    /// How far off it is.
    pub how_far: HowFar,
}

/// What comes first, looking one way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ComesFirst {
    /// Open ground as far as one sees.
    Open,
    /// A road.
    Road,
    /// A railway.
    Railway,
    /// Houses.
    Houses,
    /// Water.
    Water,
    /// Trees.
    Trees,
    /// Wires overhead.
    Wires,
    /// Animals.
    Livestock,
    /// A crop.
    Crop,
    /// A playground.
    Playground,
    /// A fence.
    Fence,
}

/// How far off something is, by eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HowFar {
    /// A stone's throw.
    StonesThrow,
    /// A football pitch.
    FootballPitch,
    /// Further.
    Further,
}

impl HowFar {
    /// By eye, metres: a throw, from memory; the length of a pitch, 100 to 110 m by the laws of the game for
    /// international matches; further is a guess at three of them.
    fn metres(self) -> f64 {
        match self {
            Self::StonesThrow => 40.0,
            Self::FootballPitch => 105.0,
            Self::Further => 300.0,
        }
    }
}

impl ComesFirst {
    /// Kind, name if the kind does not say it, and how deep its ground is, metres; zero for a line. Judgement.
    fn hazard(self) -> Option<(HazardKind, Option<&'static str>, f64)> {
        Some(match self {
            Self::Open => return None,
            Self::Road => (HazardKind::Road, None, 0.0),
            Self::Railway => (HazardKind::Railway, None, 0.0),
            Self::Houses => (HazardKind::Buildings, None, 60.0),
            Self::Water => (HazardKind::Water, None, 40.0),
            Self::Trees => (HazardKind::Trees, None, 40.0),
            Self::Wires => (HazardKind::PowerLine, None, 0.0),
            Self::Livestock => (HazardKind::Livestock, None, 100.0),
            Self::Crop => (HazardKind::Crop, None, 100.0),
            Self::Playground => (HazardKind::Other, Some("playground"), 40.0),
            Self::Fence => (HazardKind::Other, Some("fence"), 0.0),
        })
    }
}

impl Looked {
    fn look(&self) -> Look {
        Look { from: self.from, toward_deg: self.toward_deg, as_far_m: self.how_far.metres() }
    }
}

/// Looks from places so near to one another are looks from one pad, m. Judgement.
const ONE_PAD_M: f64 = 30.0;

impl Site {
    /// Whether somebody looked this way from this pad, degrees from true north.
    pub(crate) fn is_looked(&self, pad: LatLon, toward_deg: f64) -> bool {
        self.looked.iter().any(|look| {
            let aside_deg = turn_deg(toward_deg, look.toward_deg).abs();
            let near = crate::pick_up::apart_m(look.from, pad).is_some_and(|far_m| far_m <= ONE_PAD_M);
            near && aside_deg <= Look::HALF_WIDTH_DEG
        })
    }

    /// The field as a flight from it has it: with the looks.
    pub(crate) fn ground(&self) -> Field {
        Field { looked: self.looked.iter().map(Looked::look).collect(), ..self.field.clone() }
    }
}

/// A field with all that is known of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// By which the other calls know it.
    pub id: String,
    /// The ground as the flight file has it. What is not marked is not checked.
    pub field: Field,
    /// Pads: the first is the usual one.
    pub pads: Vec<Spot>,
    /// Where the car stands, or the base.
    #[serde(default)]
    pub base: Option<Spot>,
    /// Who allowed what, the latest last.
    #[serde(default)]
    pub permissions: Vec<Permission>,
    /// Which ways were looked.
    #[serde(default)]
    pub looked: Vec<Looked>,
    /// Ground about the pads that nobody looked over, a GeoJSON `MultiPolygon`; null if no look was noted.
    #[serde(default, deserialize_with = "passed_over")]
    pub unchecked: Option<serde_json::Value>,
    /// What lies under its map; null with nothing.
    #[serde(default, deserialize_with = "passed_over")]
    pub background: Option<Background>,
}

/// What follows from the rest is made anew where a file arrives.
fn passed_over<'de, D: Deserializer<'de>, T>(deserializer: D) -> Result<Option<T>, D::Error> {
    serde::de::IgnoredAny::deserialize(deserializer).map(|_| None)
}

/// A field to be kept, new or told anew.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepSite {
    /// Which field; a new one without it.
    #[serde(default)]
    pub id: Option<String>,
    /// Name, outline and hazards.
    pub field: Field,
    /// A pad to be kept as well; one of the same name is moved.
    #[serde(default)]
    pub pad: Option<Spot>,
    /// Where the car stands.
    #[serde(default)]
    pub base: Option<Spot>,
    /// A permission to be kept as well.
    #[serde(default)]
    pub permission: Option<Permission>,
}

/// A pad that is to be called otherwise.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RenamePad {
    /// Which field.
    pub site: String,
    /// What the pad is called.
    pub pad: String,
    /// What it is to be called.
    pub name: String,
}

/// A pad that nobody flies from any more.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DropPad {
    /// Which field.
    pub site: String,
    /// What the pad is called.
    pub pad: String,
}

/// One look from a pad.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LookDownwind {
    /// Which field.
    pub site: String,
    /// What was seen.
    pub look: Looked,
}

/// A field as one file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SiteFile {
    format: String,
    site: Site,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    picture: Option<Carried>,
}

const SITE_FORMAT: &str = "windfall-site/1";

/// Which field.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WhichSite {
    /// Its identifier.
    pub id: String,
}

/// Which field to write.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WriteSite {
    /// Its identifier.
    pub id: String,
    /// With the picture under its map; tiles stay, for they are large.
    #[serde(default)]
    pub with_picture: bool,
}

/// A text that another device wrote.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeText {
    /// The text.
    pub text: String,
}

impl Api {
    /// All fields of the logbook, the one kept last first.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn sites(&self) -> Result<Vec<Site>, ApiError> {
        guarded(|| {
            let mut sites = Vec::new();
            for (id, field) in self.all_of::<Field>(about::FIELD, FIELD)? {
                sites.push(self.whole_site(id, field)?);
            }
            sites.sort_by(|a, b| b.id.cmp(&a.id));
            Ok(sites)
        })
    }

    pub(crate) fn site(&self, id: &str) -> Result<Site, ApiError> {
        let field = self.last_of(about::FIELD, id, FIELD)?;
        let field = field
            .ok_or_else(|| ApiError::said(Code::NotFound, Sentence::NoFieldInLogbook { site: id.into() }))?;
        self.whole_site(id.to_owned(), field)
    }

    fn whole_site(&self, id: String, field: Field) -> Result<Site, ApiError> {
        fn bare<T>(all: Vec<(String, T)>) -> Vec<T> {
            all.into_iter().map(|(_, it)| it).collect()
        }
        let pads: Vec<Spot> = bare(self.each_of(about::FIELD, &id, PAD)?);
        let looked: Vec<Looked> = bare(self.each_of(about::FIELD, &id, LOOK)?);
        Ok(Site {
            base: self.last_of(about::FIELD, &id, BASE)?,
            permissions: bare(self.each_of(about::FIELD, &id, PERMISSION)?),
            unchecked: unchecked(&pads, &looked),
            background: self.background(&id)?,
            pads,
            looked,
            id,
            field,
        })
    }

    /// Keeps a field, new or told anew.
    ///
    /// # Errors
    /// Names what cannot be used; when no logbook is open or it cannot be written.
    pub fn keep_site(&self, asked: &KeepSite) -> Result<Kept, ApiError> {
        guarded(|| {
            if asked.field.name.as_deref().is_none_or(|name| name.trim().is_empty()) {
                return Err(ApiError::said(Code::BadRequest, Sentence::NameNeeded {}).of("field.name"));
            }
            let id = asked.id.clone().unwrap_or_else(clock::next_id);
            let field = Field { id: Some(id.clone()), ..asked.field.clone() };
            self.note_now(about::FIELD, &id, FIELD, &field)?;
            if let Some(pad) = &asked.pad {
                self.keep_pad(&id, pad)?;
            }
            if let Some(base) = &asked.base {
                self.note_now(about::FIELD, &id, BASE, base)?;
            }
            if let Some(permission) = &asked.permission {
                self.note(about::FIELD, &id, PERMISSION, permission)?;
            }
            Ok(Kept { id })
        })
    }

    fn keep_pad(&self, id: &str, pad: &Spot) -> Result<(), ApiError> {
        let known = self.each_of::<Spot>(about::FIELD, id, PAD)?;
        match known.into_iter().find(|(_, it)| it.name == pad.name) {
            Some((_, before)) if before == *pad => {}
            Some((fact, _)) => drop(self.follow(self.fact(&fact)?, PAD, json!(pad))?),
            None => drop(self.note(about::FIELD, id, PAD, pad)?),
        }
        Ok(())
    }

    /// The fact that a pad is known by, and the pad.
    fn pad_fact(&self, site: &str, name: &str) -> Result<(String, Spot), ApiError> {
        self.site(site)?;
        let mut pads = self.each_of::<Spot>(about::FIELD, site, PAD)?.into_iter();
        pads.find(|(_, pad)| pad.name == name).ok_or_else(|| {
            ApiError::said(Code::NotFound, Sentence::NoSuchPad { name: name.into() }).of("pad")
        })
    }

    /// Calls a pad otherwise, also in the plan of today.
    ///
    /// # Errors
    /// When there is no such field or pad, the name is empty or that of another pad, or the logbook cannot be written.
    pub fn rename_pad(&self, asked: &RenamePad) -> Result<Site, ApiError> {
        guarded(|| {
            let name = asked.name.trim();
            if name.is_empty() {
                return Err(ApiError::said(Code::BadRequest, Sentence::NameNeeded {}).of("name"));
            }
            let (fact, pad) = self.pad_fact(&asked.site, &asked.pad)?;
            if name != pad.name {
                if self.pad_fact(&asked.site, name).is_ok() {
                    let twice = Sentence::PadTwice { name: name.into() };
                    return Err(ApiError::said(Code::BadRequest, twice).of("name"));
                }
                self.follow(self.fact(&fact)?, PAD, json!(Spot { name: name.into(), ..pad }))?;
                let mut plan = self.day()?.plan;
                if plan.site.as_ref() == Some(&asked.site) && plan.pad.as_ref() == Some(&asked.pad) {
                    plan.pad = Some(name.into());
                    self.keep_day(&crate::KeepDay { plan })?;
                }
            }
            self.site(&asked.site)
        })
    }

    /// Sets a pad aside: kept, not used. The setting aside, which can be undone.
    ///
    /// # Errors
    /// When there is no such field or pad, or the logbook cannot be written.
    pub fn drop_pad(&self, asked: &DropPad) -> Result<String, ApiError> {
        guarded(|| {
            let (fact, _) = self.pad_fact(&asked.site, &asked.pad)?;
            self.set_aside(&crate::SetAside { id: fact, why: None })
        })
    }

    /// Notes what comes first, looking one way from a pad: a hazard across that way, as far off as it looked, twice as
    /// wide as it is far. It is meant to be drawn better later.
    ///
    /// # Errors
    /// When there is no such field, the place is none, or the logbook cannot be written.
    pub fn look_downwind(&self, asked: &LookDownwind) -> Result<Site, ApiError> {
        guarded(|| {
            let LookDownwind { site: id, look } = asked;
            let site = self.site(id)?;
            if let Some(hazard) = seen(look)? {
                let mut field = site.field;
                field.hazards.push(hazard);
                self.note_now(about::FIELD, id, FIELD, &field)?;
            }
            self.note(about::FIELD, id, LOOK, look)?;
            self.site(id)
        })
    }

    /// A look that was mistaken is set aside, and what it marked is taken off the field, unless that was drawn better since.
    /// The same look again brings both back.
    ///
    /// # Errors
    /// When there is no such field or look, or the logbook cannot be written.
    pub fn drop_look(&self, asked: &LookDownwind) -> Result<Site, ApiError> {
        guarded(|| {
            let LookDownwind { site: id, look } = asked;
            let mut field = self.site(id)?.field;
            let noted =
                self.each_of::<Looked>(about::FIELD, id, LOOK)?.into_iter().rfind(|(_, it)| it == look);
            let (fact, _) = noted.ok_or_else(|| {
                ApiError::new(Code::NotFound, "look: nobody noted that on this field").of("look")
            })?;
            self.set_aside(&crate::SetAside { id: fact, why: None })?;
            let marked = seen(look)?;
            if let Some(at) = field.hazards.iter().rposition(|it| Some(it) == marked.as_ref()) {
                field.hazards.remove(at);
                self.note_now(about::FIELD, id, FIELD, &field)?;
            }
            self.site(id)
        })
    }

    /// A field as the text of one file, for another device.
    ///
    /// # Errors
    /// When there is no such field or the logbook cannot be read.
    pub fn write_site(&self, asked: &WriteSite) -> Result<String, ApiError> {
        guarded(|| {
            let site = Site { unchecked: None, background: None, ..self.site(&asked.id)? };
            let picture = if asked.with_picture { self.carried(&asked.id)? } else { None };
            let file = SiteFile { format: SITE_FORMAT.into(), site, picture };
            serde_json::to_string(&file).map_err(|error| ApiError::new(Code::Defect, error.to_string()))
        })
    }

    /// Takes a field that another device wrote; twice changes nothing.
    ///
    /// # Errors
    /// Names the line and what is wrong with it; then nothing is taken.
    pub fn take_site(&self, asked: &TakeText) -> Result<Kept, ApiError> {
        guarded(|| {
            let bad = |message: String| ApiError::new(Code::BadRequest, message).of("field file");
            let file: SiteFile = serde_json::from_str(&asked.text)
                .map_err(|error| bad(error.to_string()).saying(windfall_facts::unreadable(&error)))?;
            if file.format != SITE_FORMAT {
                let other = Sentence::OfAnotherFormat { wanted: SITE_FORMAT.into() };
                return Err(bad(format!("format: {:?}; allowed is {SITE_FORMAT}", file.format)).saying(other));
            }
            let Site { id, field, pads, base, permissions, looked, .. } = file.site;
            // All of it is looked at before the first word is kept.
            for (kind, said) in
                std::iter::once((FIELD, json!(field))).chain(pads.iter().map(|pad| (PAD, json!(pad))))
            {
                crate::check_fact::check(about::FIELD, &id, kind, &said, None)?;
            }
            self.note_now(about::FIELD, &id, FIELD, &field)?;
            for pad in &pads {
                self.keep_pad(&id, pad)?;
            }
            if let Some(base) = &base {
                self.note_now(about::FIELD, &id, BASE, base)?;
            }
            let known = self.site(&id)?;
            for permission in permissions.iter().filter(|it| !known.permissions.contains(it)) {
                self.note(about::FIELD, &id, PERMISSION, permission)?;
            }
            for look in looked.iter().filter(|it| !known.looked.contains(it)) {
                self.note(about::FIELD, &id, LOOK, look)?;
            }
            if let Some(picture) = file.picture {
                self.take_carried(&id, picture)?;
            }
            Ok(Kept { id })
        })
    }
}

/// Ground about the pads that nobody looked over; none where no look was noted.
fn unchecked(pads: &[Spot], looked: &[Looked]) -> Option<serde_json::Value> {
    let place = |lat, lon| Position::new(lat, lon).ok();
    let first = pads.first().and_then(|pad| place(pad.lat, pad.lon))?;
    let frame = LocalFrame::about(first);
    // A fan about a place, from one bearing to another in steps of five degrees.
    let fan = |at: Position, radius_m: f64, from_deg: f64, width_deg: f64| {
        let middle = frame.offset_of(at);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 72")]
        let steps = (width_deg / 5.0).round() as u32;
        let mut ring: Vec<Coord> = (0..=steps)
            .map(|step| {
                let bearing = from_deg + width_deg * f64::from(step) / f64::from(steps);
                let (sin, cos) = bearing.to_radians().sin_cos();
                Coord { x: middle.east_m + radius_m * sin, y: middle.north_m + radius_m * cos }
            })
            .collect();
        if width_deg < 360.0 {
            ring.push(Coord { x: middle.east_m, y: middle.north_m });
        }
        Polygon::new(LineString::new(ring), Vec::new())
    };
    let seen: Vec<Polygon> = looked
        .iter()
        .map(Looked::look)
        .filter_map(|look| {
            let half = Look::HALF_WIDTH_DEG;
            Some(fan(place(look.from.lat, look.from.lon)?, look.as_far_m, look.toward_deg - half, 2.0 * half))
        })
        .collect();
    if seen.is_empty() {
        return None;
    }
    let about_pads: Vec<Polygon> = pads
        .iter()
        .filter_map(|pad| Some(fan(place(pad.lat, pad.lon)?, HowFar::Further.metres(), 0.0, 360.0)))
        .collect();
    let left = geo::unary_union(&about_pads).difference(&geo::unary_union(&seen));
    let ring = |line: &LineString| -> Vec<[f64; 2]> {
        line.coords()
            .map(|at| {
                let place = frame.place_at(Offset { east_m: at.x, north_m: at.y });
                LatLon { lat: place.lat_deg(), lon: place.lon_deg() }.to_position()
            })
            .collect()
    };
    let polygons: Vec<Vec<Vec<[f64; 2]>>> = left
        .iter()
        .map(|it| std::iter::once(it.exterior()).chain(it.interiors()).map(ring).collect())
        .collect();
    Some(json!({"type": "MultiPolygon", "coordinates": polygons}))
}

/// What was seen, on the map; none of open ground.
fn seen(look: &Looked) -> Result<Option<Hazard>, ApiError> {
    let Some((kind, name, deep_m)) = look.what.hazard() else { return Ok(None) };
    let from = Position::new(look.from.lat, look.from.lon)
        .map_err(|error| ApiError::said(Code::BadRequest, error).of("look.from"))?;
    if !look.toward_deg.is_finite() {
        return Err(ApiError::new(Code::BadRequest, "look.toward_deg: degrees from true north are needed"));
    }
    let frame = LocalFrame::about(from);
    let (sin, cos) = look.toward_deg.to_radians().sin_cos();
    let far_m = look.how_far.metres();
    let at = |along_m: f64, right_m: f64| {
        let place = frame.place_at(Offset {
            east_m: along_m * sin + right_m * cos,
            north_m: along_m * cos - right_m * sin,
        });
        let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
        LatLon { lat: rounded(place.lat_deg()), lon: rounded(place.lon_deg()) }.to_position()
    };
    let geometry = if deep_m > 0.0 {
        let (near, far) = (far_m, far_m + deep_m);
        let corner = at(near, -far_m);
        json!({"type": "Polygon", "coordinates": [[corner, at(near, far_m), at(far, far_m), at(far, -far_m), corner]]})
    } else {
        json!({"type": "LineString", "coordinates": [at(far_m, -far_m), at(far_m, far_m)]})
    };
    Ok(Some(Hazard { kind, name: name.map(str::to_owned), geometry, height_m: None }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::call::tests::{called, with_logbook};
    use serde_json::Value;

    fn kept(api: &Api) -> Value {
        let pad = json!({"name": "north pad", "lat": 47.53, "lon": 17.28, "accuracy_m": 3});
        let permission =
            json!({"owner": "R. Alder", "conditions": "not over the oats", "date": "2026-05-02"});
        let asked = json!({"field": {"name": "Sedge Meadow"}, "pad": pad, "permission": permission});
        called(api, "keep_site", asked)["id"].clone()
    }

    #[test]
    fn a_pad_is_called_otherwise_and_set_aside_and_comes_back() {
        let (_folder, api) = with_logbook();
        let pad = |name: &str| json!({"name": name, "lat": 47.53, "lon": 17.28});
        let kept = called(&api, "keep_site", json!({"field": {"name": "Sedge Meadow"}, "pad": pad("pad")}));
        let id = kept["id"].clone();
        called(&api, "keep_site", json!({"id": id, "field": {"name": "Sedge Meadow"}, "pad": pad("south")}));
        called(&api, "keep_day", json!({"plan": {"site": id, "pad": "south"}}));
        let names = || -> Vec<String> {
            let sites = called(&api, "sites", json!({}));
            sites[0]["pads"]
                .as_array()
                .unwrap()
                .iter()
                .map(|it| it["name"].as_str().unwrap().into())
                .collect()
        };
        called(&api, "rename_pad", json!({"site": id, "pad": "south", "name": " oak "}));
        assert_eq!(names(), ["pad", "oak"]);
        assert_eq!(called(&api, "day", json!({}))["pad"]["name"], "oak");
        for (pad, name) in [("oak", "pad"), ("oak", " "), ("south", "x")] {
            assert!(api.call("rename_pad", json!({"site": id, "pad": pad, "name": name})).is_err(), "{pad}");
        }
        let aside = called(&api, "drop_pad", json!({"site": id, "pad": "oak"}));
        assert_eq!(names(), ["pad"]);
        assert_eq!(called(&api, "day", json!({}))["pad"]["name"], "pad");
        called(&api, "undo", json!({ "id": aside }));
        assert_eq!(names(), ["pad", "oak"]);
    }

    #[test]
    fn a_field_told_anew_keeps_its_pads_and_a_pad_of_the_same_name_moves() {
        let (_folder, api) = with_logbook();
        let id = kept(&api);
        let moved = json!({"name": "north pad", "lat": 47.54, "lon": 17.28});
        called(
            &api,
            "keep_site",
            json!({"id": id, "field": {"name": "Sedge Meadow", "cover": "short grass"}, "pad": moved}),
        );
        let other = json!({"name": "south pad", "lat": 47.52, "lon": 17.28});
        called(
            &api,
            "keep_site",
            json!({"id": id, "field": {"name": "Sedge Meadow", "cover": "short grass"}, "pad": other}),
        );
        let sites = api.sites().unwrap();
        assert_eq!(sites.len(), 1);
        let pads: Vec<_> = sites[0].pads.iter().map(|pad| (pad.name.as_str(), pad.lat)).collect();
        assert_eq!(pads, [("north pad", 47.54), ("south pad", 47.52)]);
        assert_eq!(sites[0].permissions[0].owner, "R. Alder");
        let refused = api.call("keep_site", json!({"field": {"name": ""}})).unwrap_err();
        assert!(refused.message.starts_with("field.name: "));
        let nowhere = json!({"name": "p", "lat": 147.0, "lon": 17.0});
        let refused = api.call("keep_site", json!({"field": {"name": "A"}, "pad": nowhere})).unwrap_err();
        assert!(refused.message.contains("lat: 147 is out of range"), "{refused}");
    }

    #[test]
    fn what_comes_first_downwind_lies_across_that_way_as_far_as_it_looked() {
        let (_folder, api) = with_logbook();
        let id = kept(&api);
        let from = json!({"lat": 47.53, "lon": 17.28});
        let look = json!({"from": from, "toward_deg": 90.0, "what": "road", "how_far": "football_pitch"});
        let site = called(&api, "look_downwind", json!({"site": id, "look": look}));
        let hazard = &site["field"]["hazards"][0];
        assert_eq!((&hazard["kind"], &hazard["geometry"]["type"]), (&json!("road"), &json!("LineString")));
        let frame = LocalFrame::about(Position::new(47.53, 17.28).unwrap());
        for (end, north_m) in [(0, 105.0), (1, -105.0)] {
            let place = &hazard["geometry"]["coordinates"][end];
            let place = Position::new(place[1].as_f64().unwrap(), place[0].as_f64().unwrap()).unwrap();
            let offset = frame.offset_of(place);
            // Seven decimals of a degree are a centimetre.
            assert!(
                (offset.east_m - 105.0).abs() < 0.02 && (offset.north_m - north_m).abs() < 0.02,
                "{offset:?}"
            );
        }
        let open = json!({"from": from, "toward_deg": 0.0, "what": "open", "how_far": "further"});
        let site = called(&api, "look_downwind", json!({"site": id, "look": open}));
        assert_eq!(site["field"]["hazards"].as_array().unwrap().len(), 1, "open ground is no hazard");
        assert_eq!(site["looked"].as_array().unwrap().len(), 2);
        // A sixteenth of a circle to either side, 105 m to the east and 300 m to the north.
        let area = |value: &Value| -> f64 {
            let ring = |ring: &Value| -> f64 {
                let at = |it: &Value| {
                    frame.offset_of(Position::new(it[1].as_f64().unwrap(), it[0].as_f64().unwrap()).unwrap())
                };
                let corners: Vec<_> = ring.as_array().unwrap().iter().map(at).collect();
                corners
                    .windows(2)
                    .map(|it| it[0].east_m * it[1].north_m - it[1].east_m * it[0].north_m)
                    .sum::<f64>()
                    .abs()
                    / 2.0
            };
            value["coordinates"]
                .as_array()
                .unwrap()
                .iter()
                .map(|polygon| {
                    let rings = polygon.as_array().unwrap();
                    ring(&rings[0]) - rings[1..].iter().map(ring).sum::<f64>()
                })
                .sum()
        };
        let circle_m2 = core::f64::consts::PI * 300.0 * 300.0;
        let expected_m2 = circle_m2 - (circle_m2 + core::f64::consts::PI * 105.0 * 105.0) / 8.0;
        // Straight edges of five degrees cut a thousandth off a circle.
        let share = area(&site["unchecked"]) / expected_m2;
        assert!((share - 1.0).abs() < 0.003, "{share}");
        assert_eq!(api.site(id.as_str().unwrap()).unwrap().ground().looked.len(), 2);
    }

    #[test]
    fn a_look_that_was_mistaken_goes_with_what_it_marked_and_comes_back_when_it_is_told_again() {
        let (_folder, api) = with_logbook();
        let id = kept(&api);
        let look = |what: &str| json!({"from": {"lat": 47.53, "lon": 17.28}, "toward_deg": 90.0, "what": what, "how_far": "football_pitch"});
        called(&api, "look_downwind", json!({"site": id, "look": look("trees")}));
        called(&api, "look_downwind", json!({"site": id, "look": look("road")}));
        let kinds = |site: &Value| -> Vec<String> {
            let hazards = site["field"]["hazards"].as_array().unwrap();
            hazards.iter().map(|it| it["kind"].as_str().unwrap().into()).collect()
        };
        let site = called(&api, "drop_look", json!({"site": id, "look": look("road")}));
        assert_eq!((kinds(&site), site["looked"].as_array().map(Vec::len)), (vec!["trees".into()], Some(1)));
        assert!(api.call("drop_look", json!({"site": id, "look": look("road")})).is_err(), "it is gone");
        let site = called(&api, "look_downwind", json!({"site": id, "look": look("road")}));
        assert_eq!(kinds(&site), ["trees", "road"]);
        // What was drawn better since stays, and only the look goes.
        let mut field = site["field"].clone();
        field["hazards"][1]["name"] = "Sedge Lane".into();
        called(&api, "keep_site", json!({"id": id, "field": field}));
        let site = called(&api, "drop_look", json!({"site": id, "look": look("road")}));
        assert_eq!((kinds(&site).len(), site["looked"].as_array().map(Vec::len)), (2, Some(1)));
    }

    #[test]
    fn a_field_goes_to_another_device_in_one_file_and_twice_changes_nothing() {
        let ((_here, api), (_there, other)) = (with_logbook(), with_logbook());
        let id = kept(&api);
        let look = json!({"from": {"lat": 47.53, "lon": 17.28}, "toward_deg": 90.0, "what": "trees", "how_far": "stones_throw"});
        called(&api, "look_downwind", json!({"site": id, "look": look}));
        let text = called(&api, "write_site", json!({ "id": id }));
        for _ in 0..2 {
            called(&other, "take_site", json!({ "text": text }));
            assert_eq!(other.sites().unwrap(), api.sites().unwrap());
        }
        let facts = other.open_logbook().unwrap().all_facts().unwrap().len();
        assert_eq!(facts, 4, "field, pad, permission, look");
        for bad in ["{}", "not JSON", &text.as_str().unwrap().replace("site/1", "site/9")] {
            assert_eq!(other.call("take_site", json!({ "text": bad })).unwrap_err().code, Code::BadRequest);
        }
    }
}
