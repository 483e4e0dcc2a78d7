//! GeoJSON (RFC 7946), the only format besides KML in which longitude comes first.
//!
//! A drawing is one `FeatureCollection`; role and all that is said stand in `properties`. A walk keeps its times and
//! accuracies as lists beside its coordinates (`times`, `accuracies_m`).
//!
//! # Source
//! RFC 7946, sections 3 (objects), 3.1.6 (the exterior ring counter-clockwise, holes clockwise), 6.1 (foreign members).

use super::drawing::{
    About, Drawing, Item, Role, Shape, Spot, accuracy_m, elevation_m, latitude, longitude, time, time_as_text,
};
use super::json::mark_of;
use super::{ExchangeError, Format};
use ::geojson::{Feature, FeatureCollection, GeoJson, Geometry, GeometryValue, JsonObject, Position};
use serde_json::{Value, json};
use windfall_facts::{LatLon, Sentence};

/// A drawing as one `FeatureCollection`.
///
/// # Errors
/// When an area is no GeoJSON geometry, or a line has fewer than 2 positions.
pub fn write(drawing: &Drawing) -> Result<String, ExchangeError> {
    let cannot = |message: String| ExchangeError::cannot_hold(Format::GeoJson, message);
    let features: Result<Vec<Feature>, String> = drawing.items.iter().map(feature).collect();
    let mut said = JsonObject::new();
    let heads = [("name", &drawing.title), ("description", &drawing.note)];
    said.extend(heads.into_iter().filter_map(|(key, it)| Some((key.into(), it.as_deref()?.into()))));
    let collection = FeatureCollection {
        bbox: None,
        features: features.map_err(cannot)?,
        foreign_members: (!said.is_empty()).then_some(said),
    };
    let mut text = serde_json::to_string(&collection).map_err(|error| cannot(error.to_string()))?;
    text.push('\n');
    Ok(text)
}

fn feature(item: &Item) -> Result<Feature, String> {
    let mut properties = JsonObject::new();
    let mut say = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            properties.insert(key.into(), value);
        }
    };
    say("role", item.role.map(|role| role.word().into()));
    say("name", item.about.name.as_deref().map(Value::from));
    say("note", item.about.note.as_deref().map(Value::from));
    for (key, value) in item.about.properties() {
        say(key, Some(value));
    }
    let geometry = match &item.shape {
        Shape::Place(spot) => {
            say("time", spot.time.map(time_as_text).map(Value::from));
            say("accuracy_m", spot.accuracy_m.map(Value::from));
            Geometry::new(GeometryValue::Point { coordinates: position(spot) })
        }
        // RFC 7946, section 3.1.4.
        Shape::Path(path) if path.len() < 2 => return Err("a line has at least 2 positions".into()),
        Shape::Path(path) => {
            let list = |of: &dyn Fn(&Spot) -> Option<Value>| {
                path.iter().any(|spot| of(spot).is_some()).then(|| path.iter().map(of).collect::<Value>())
            };
            say("times", list(&|spot| spot.time.map(time_as_text).map(Value::from)));
            say("accuracies_m", list(&|spot| spot.accuracy_m.map(Value::from)));
            // A height at every position or at none: readers of other makers refuse lines of both kinds.
            let high = path.iter().all(|spot| spot.elevation_m.is_some());
            let flat = |spot: &Spot| Spot { elevation_m: spot.elevation_m.filter(|_| high), ..*spot };
            let coordinates = path.iter().map(|spot| position(&flat(spot))).collect();
            Geometry::new(GeometryValue::LineString { coordinates })
        }
        Shape::Ground(geometry) => {
            serde_json::from_value(wound(geometry)).map_err(|error| error.to_string())?
        }
    };
    let properties = Some(properties);
    Ok(Feature { bbox: None, geometry: Some(geometry), id: None, properties, foreign_members: None })
}

fn position(spot: &Spot) -> Position {
    let [lon, lat] = spot.at.to_position();
    match spot.elevation_m {
        Some(elevation_m) => vec![lon, lat, elevation_m].into(),
        None => vec![lon, lat].into(),
    }
}

/// The same area with its exterior rings counter-clockwise and its holes clockwise.
fn wound(geometry: &Value) -> Value {
    fn polygon(rings: &mut Value) {
        for (index, ring) in rings.as_array_mut().into_iter().flatten().enumerate() {
            let Some(ring) = ring.as_array_mut() else { continue };
            // Twice the area, positive if counter-clockwise with longitude to the right.
            let number = |at: &Value, axis: usize| at[axis].as_f64().unwrap_or_default();
            let twice: f64 = ring
                .windows(2)
                .map(|pair| {
                    number(&pair[0], 0) * number(&pair[1], 1) - number(&pair[1], 0) * number(&pair[0], 1)
                })
                .sum();
            if (twice > 0.0) != (index == 0) {
                ring.reverse();
            }
        }
    }
    let mut geometry = geometry.clone();
    match geometry["type"].as_str() {
        Some("Polygon") => polygon(&mut geometry["coordinates"]),
        Some("MultiPolygon") => {
            geometry["coordinates"].as_array_mut().into_iter().flatten().for_each(polygon);
        }
        _ => {}
    }
    geometry
}

/// The drawing in a GeoJSON text: a geometry, a feature, or a collection of features.
///
/// # Errors
/// Names the line and the field of the first thing that is not as the format says.
pub fn read(text: &str) -> Result<Drawing, ExchangeError> {
    // First the grammar of JSON, for its line; then that of GeoJSON.
    serde_json::from_str::<serde::de::IgnoredAny>(text)
        .map_err(|error| super::flight_file::grammar(Format::GeoJson, &error))?;
    let whole: GeoJson = text.parse().map_err(|error| match error {
        ::geojson::Error::MalformedGeoJson(error) if error.line() > 0 => {
            super::flight_file::grammar(Format::GeoJson, &error)
        }
        other => ExchangeError::field(Format::GeoJson, None, "file", other.to_string()),
    })?;
    let mut reader = Reader { text, drawing: Drawing::default() };
    match whole {
        GeoJson::Geometry(geometry) => reader.geometry(&geometry, "", &Said::default())?,
        GeoJson::Feature(feature) => reader.feature(&feature, "")?,
        GeoJson::FeatureCollection(collection) => {
            let said = collection.foreign_members.unwrap_or_default();
            let text = |key: &str| said.get(key).and_then(Value::as_str).map(str::to_owned);
            (reader.drawing.title, reader.drawing.note) = (text("name"), text("description"));
            for (index, feature) in collection.features.iter().enumerate() {
                reader.feature(feature, &format!("features[{index}]."))?;
            }
        }
    }
    Ok(reader.drawing)
}

/// What the properties of a feature say.
#[derive(Default)]
struct Said {
    properties: String,
    role: Option<Role>,
    about: About,
    accuracy_m: Option<f64>,
    times: Vec<Option<String>>,
    accuracies_m: Vec<Value>,
}

impl Said {
    fn field(&self, key: &str) -> String {
        format!("{}.{key}", self.properties)
    }
}

struct Reader<'a> {
    text: &'a str,
    drawing: Drawing,
}

impl Reader<'_> {
    fn refusal(&self, field: &str, why: impl Into<Sentence>) -> ExchangeError {
        ExchangeError::field(Format::GeoJson, mark_of(self.text, field), field, why)
    }

    fn feature(&mut self, feature: &Feature, field: &str) -> Result<(), ExchangeError> {
        let said = self.properties(feature.properties.as_ref(), &format!("{field}properties"))?;
        match &feature.geometry {
            Some(geometry) => self.geometry(geometry, &format!("{field}geometry."), &said),
            None => {
                self.drawing.not_understood.push(format!("{field}geometry is null"));
                Ok(())
            }
        }
    }

    fn properties(&self, properties: Option<&JsonObject>, field: &str) -> Result<Said, ExchangeError> {
        let mut said = Said { properties: field.to_owned(), ..Said::default() };
        let Some(keys) = properties else { return Ok(said) };
        let text = |names: &[&str]| {
            names.iter().find_map(|name| keys.get(*name)).and_then(Value::as_str).map(str::to_owned)
        };
        said.about.name = text(&["name", "title"]);
        said.about.note = text(&["note", "description", "desc"]);
        said.role = text(&["role"]).as_deref().and_then(Role::of_word);
        if said.role.is_none() {
            // In another program's file the same key may mean something else.
            return Ok(said);
        }
        for (key, value) in keys.iter().filter(|(_, value)| !value.is_null()) {
            let field = format!("{field}.{key}");
            let refused = |why: Sentence| self.refusal(&field, why);
            match key.as_str() {
                "accuracy_m" => said.accuracy_m = Some(accuracy_m(value).map_err(refused)?),
                "time" => said.times = vec![value.as_str().map(str::to_owned)],
                "times" => {
                    let list = value.as_array().ok_or_else(|| refused(Sentence::ListNeeded {}))?;
                    said.times = list.iter().map(|it| it.as_str().map(str::to_owned)).collect();
                }
                "accuracies_m" => {
                    let list = value.as_array().ok_or_else(|| refused(Sentence::ListNeeded {}))?;
                    said.accuracies_m.clone_from(list);
                }
                _ => {
                    said.about.take(key, value).map_err(refused)?;
                }
            }
        }
        Ok(said)
    }

    fn geometry(&mut self, geometry: &Geometry, field: &str, said: &Said) -> Result<(), ExchangeError> {
        let at = format!("{field}coordinates");
        let whole = matches!(said.role, Some(Role::Outline | Role::Hazard | Role::Region | Role::Area));
        match &geometry.value {
            GeometryValue::GeometryCollection { geometries } => {
                for (index, inner) in geometries.iter().enumerate() {
                    self.geometry(inner, &format!("{field}geometries[{index}]."), said)?;
                }
                Ok(())
            }
            value if whole => self.ground(geometry, value, &at, said),
            GeometryValue::Point { coordinates } => {
                let spot = self.spot(coordinates, &at)?;
                let time = self.times(said, 1)?.remove(0);
                self.push(Shape::Place(Spot { time, accuracy_m: said.accuracy_m, ..spot }), said);
                Ok(())
            }
            GeometryValue::MultiPoint { coordinates } => {
                for (index, position) in coordinates.iter().enumerate() {
                    let spot = self.spot(position, &format!("{at}[{index}]"))?;
                    self.push(Shape::Place(Spot { accuracy_m: said.accuracy_m, ..spot }), said);
                }
                Ok(())
            }
            GeometryValue::LineString { coordinates } => {
                let mut path = self.path(coordinates, &at)?;
                let times = self.times(said, path.len())?;
                for (spot, time) in path.iter_mut().zip(times) {
                    spot.time = time;
                }
                if !said.accuracies_m.is_empty() && said.accuracies_m.len() != path.len() {
                    return Err(self.refusal(&said.field("accuracies_m"), Sentence::AsManyAsPlaces {}));
                }
                for (spot, value) in path.iter_mut().zip(&said.accuracies_m).filter(|(_, it)| !it.is_null()) {
                    let refused = |why: Sentence| self.refusal(&said.field("accuracies_m"), why);
                    spot.accuracy_m = Some(accuracy_m(value).map_err(refused)?);
                }
                self.push(Shape::Path(path), said);
                Ok(())
            }
            GeometryValue::MultiLineString { coordinates } => {
                for (index, line) in coordinates.iter().enumerate() {
                    let path = self.path(line, &format!("{at}[{index}]"))?;
                    self.push(Shape::Path(path), said);
                }
                Ok(())
            }
            value => self.ground(geometry, value, &at, said),
        }
    }

    fn push(&mut self, shape: Shape, said: &Said) {
        self.drawing.items.push(Item { role: said.role, shape, about: said.about.clone() });
    }

    fn times(
        &self,
        said: &Said,
        count: usize,
    ) -> Result<Vec<Option<chrono::DateTime<chrono::Utc>>>, ExchangeError> {
        if said.times.is_empty() {
            return Ok(vec![None; count]);
        }
        if said.times.len() != count {
            let why = Sentence::NotAsMany { times: said.times.len(), places: count };
            return Err(self.refusal(&said.field("times"), why));
        }
        let one = |it: &Option<String>| it.as_deref().map(time).transpose();
        said.times
            .iter()
            .map(one)
            .collect::<Result<_, _>>()
            .map_err(|message| self.refusal(&said.field("times"), message))
    }

    fn path(&self, positions: &[Position], field: &str) -> Result<Vec<Spot>, ExchangeError> {
        if positions.len() < 2 {
            return Err(self.refusal(field, Sentence::LineTooShort {}));
        }
        let spot = |(index, it): (usize, &Position)| self.spot(it, &format!("{field}[{index}]"));
        positions.iter().enumerate().map(spot).collect()
    }

    fn spot(&self, position: &Position, field: &str) -> Result<Spot, ExchangeError> {
        let numbers = position.as_slice();
        let within = |index: usize, read: fn(&str) -> Result<f64, Sentence>| {
            read(&numbers[index].to_string())
                .map_err(|message| self.refusal(&format!("{field}[{index}]"), message))
        };
        if !(2..=3).contains(&numbers.len()) {
            // A decimal comma makes two numbers of one: [102,5, 0,5].
            return Err(self.refusal(field, Sentence::PositionNumbers { numbers: numbers.len() }));
        }
        let at = LatLon::of_position([within(0, longitude)?, within(1, latitude)?]);
        let elevation_m = if numbers.len() > 2 { Some(within(2, elevation_m)?) } else { None };
        Ok(Spot { elevation_m, ..Spot::new(at) })
    }

    /// An area, or a hazard of any shape: every position is looked at, the geometry is kept as it is.
    fn ground(
        &mut self,
        geometry: &Geometry,
        value: &GeometryValue,
        field: &str,
        said: &Said,
    ) -> Result<(), ExchangeError> {
        let ring = |ring: &Vec<Position>, field: &str| {
            if ring.len() < 4 || ring.first() != ring.last() {
                return Err(self.refusal(field, Sentence::RingNotClosed {}));
            }
            self.path(ring, field).map(drop)
        };
        let polygon = |rings: &[Vec<Position>], field: &str| {
            let each = |(index, it): (usize, &Vec<Position>)| ring(it, &format!("{field}[{index}]"));
            rings.iter().enumerate().try_for_each(each)
        };
        match value {
            GeometryValue::Point { coordinates } => self.spot(coordinates, field).map(drop)?,
            GeometryValue::MultiPoint { coordinates } => {
                for (index, position) in coordinates.iter().enumerate() {
                    self.spot(position, &format!("{field}[{index}]"))?;
                }
            }
            GeometryValue::LineString { coordinates } => self.path(coordinates, field).map(drop)?,
            GeometryValue::MultiLineString { coordinates } => {
                for (index, line) in coordinates.iter().enumerate() {
                    self.path(line, &format!("{field}[{index}]"))?;
                }
            }
            GeometryValue::Polygon { coordinates } => polygon(coordinates, field)?,
            GeometryValue::MultiPolygon { coordinates } => {
                for (index, rings) in coordinates.iter().enumerate() {
                    polygon(rings, &format!("{field}[{index}]"))?;
                }
            }
            GeometryValue::GeometryCollection { .. } => {}
        }
        let kept = json!({ "type": geometry.value.type_name(), "coordinates": coordinates(value) });
        self.push(Shape::Ground(kept), said);
        Ok(())
    }
}

fn coordinates(value: &GeometryValue) -> Value {
    match value {
        GeometryValue::Point { coordinates } => json!(coordinates),
        GeometryValue::MultiPoint { coordinates } | GeometryValue::LineString { coordinates } => {
            json!(coordinates)
        }
        GeometryValue::MultiLineString { coordinates } | GeometryValue::Polygon { coordinates } => {
            json!(coordinates)
        }
        GeometryValue::MultiPolygon { coordinates } => json!(coordinates),
        GeometryValue::GeometryCollection { .. } => Value::Null,
    }
}
