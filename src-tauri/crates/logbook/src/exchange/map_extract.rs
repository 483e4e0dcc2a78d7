//! Extracts of an open map, as OSM XML or GeoJSON with the same tags: what on it could be a hazard.
//!
//! # Source
//! OSM XML 0.6 (`node`, `way`, `relation`, `nd`, `member`, `tag`) and the tags below, from memory of the project's
//! public documentation. A closed way is an area if its tag is one of an area; rings of a relation of type
//! multipolygon are put together from its ways.

use super::drawing::{latitude, longitude};
use super::xml::{Xml, elements};
use super::{ExchangeError, Format};
use ::geojson::GeoJson;
use roxmltree::Node;
use serde_json::{Value, json};
use std::collections::HashMap;
use windfall_facts::{Hazard, HazardKind, LatLon, Sentence};

/// What a map extract has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Extract {
    /// What could be a hazard.
    pub hazards: Vec<Hazard>,
    /// What could not be used.
    pub not_understood: Vec<Sentence>,
}

/// Reads OSM XML or GeoJSON, whichever the text is.
///
/// # Errors
/// Names the line and the field of the first thing that is not as the format says.
pub fn read(text: &str) -> Result<Extract, ExchangeError> {
    let text = super::text_in(Format::GeoJson, text.as_bytes())?;
    if text.trim_start().starts_with('<') { osm(text) } else { geojson(text) }
}

/// The kind of hazard that tags speak of, and whether a closed line of them is an area.
fn kind_of<'a>(tag: &impl Fn(&str) -> Option<&'a str>) -> Option<(HazardKind, bool)> {
    let is = |key: &str, values: &[&str]| tag(key).is_some_and(|value| values.contains(&value));
    // Where nobody drives fast: paths and tracks are how one walks to a rocket.
    const NO_TRAFFIC: &[&str] = &[
        "path",
        "footway",
        "track",
        "steps",
        "bridleway",
        "cycleway",
        "pedestrian",
        "corridor",
        "platform",
        "proposed",
        "construction",
        "abandoned",
        "razed",
    ];
    const RAILS: &[&str] =
        &["rail", "light_rail", "tram", "narrow_gauge", "subway", "preserved", "funicular"];
    if tag("highway").is_some_and(|value| !NO_TRAFFIC.contains(&value)) {
        return Some((HazardKind::Road, false));
    }
    if is("railway", RAILS) {
        return Some((HazardKind::Railway, false));
    }
    if is("power", &["line", "minor_line"]) {
        return Some((HazardKind::PowerLine, false));
    }
    if is("power", &["substation", "plant"]) {
        return Some((HazardKind::Other, true));
    }
    if is("waterway", &["river", "stream", "canal", "drain", "ditch"]) {
        return Some((HazardKind::Water, false));
    }
    if is("natural", &["water", "wetland"])
        || is("landuse", &["reservoir", "basin"])
        || is("waterway", &["riverbank"])
    {
        return Some((HazardKind::Water, true));
    }
    if is("natural", &["tree", "tree_row"]) {
        return Some((HazardKind::Trees, false));
    }
    if is("natural", &["wood", "scrub"]) || is("landuse", &["forest", "orchard", "vineyard"]) {
        return Some((HazardKind::Trees, true));
    }
    if tag("building").is_some_and(|value| value != "no") {
        return Some((HazardKind::Buildings, true));
    }
    if is("landuse", &["residential", "industrial", "commercial", "retail", "farmyard"]) {
        return Some((HazardKind::Buildings, true));
    }
    if is("landuse", &["farmland"]) {
        return Some((HazardKind::Crop, true));
    }
    (is("leisure", &["playground"]) || is("aeroway", &["aerodrome", "runway", "helipad"]))
        .then_some((HazardKind::Other, true))
}

/// What people call it; else what the tags call it, where the kind alone says too little.
fn name_of<'a>(kind: HazardKind, tag: &impl Fn(&str) -> Option<&'a str>) -> Option<String> {
    let called = tag("name").or_else(|| tag("ref"));
    let otherwise = || {
        let tagged = ["power", "leisure", "aeroway"].into_iter().find_map(tag);
        (kind == HazardKind::Other).then_some(tagged).flatten()
    };
    called.or_else(otherwise).map(str::to_owned)
}

fn geojson(text: &str) -> Result<Extract, ExchangeError> {
    // First the grammar of JSON, for its line; then places that are none, by the reader of all GeoJSON.
    let drawing = super::geojson::read(text)?;
    let mut left_out = drawing.not_understood.len();
    let mut extract = Extract::default();
    let whole: GeoJson = text.parse().map_err(|error: ::geojson::Error| {
        ExchangeError::field(Format::GeoJson, None, "file", error.to_string())
    })?;
    let features = match whole {
        GeoJson::FeatureCollection(collection) => collection.features,
        GeoJson::Feature(feature) => vec![feature],
        GeoJson::Geometry(_) => Vec::new(),
    };
    for feature in features {
        let properties = feature.properties.unwrap_or_default();
        // Some programs put the tags into an object of their own.
        let tags = properties.get("tags").and_then(Value::as_object).unwrap_or(&properties);
        let tag = |key: &str| tags.get(key).and_then(Value::as_str);
        let (Some((kind, _)), Some(geometry)) = (kind_of(&tag), feature.geometry) else { continue };
        let geometry = serde_json::to_value(&geometry).unwrap_or_default();
        if geometry["type"] == "GeometryCollection" {
            left_out += 1;
            continue;
        }
        let geometry = json!({"type": geometry["type"], "coordinates": flat(&geometry["coordinates"])});
        extract.hazards.push(Hazard { kind, name: name_of(kind, &tag), geometry });
    }
    if left_out > 0 {
        extract.not_understood.push(Sentence::ShapesLeftOut { count: left_out });
    }
    Ok(extract)
}

/// Positions without their heights.
fn flat(coordinates: &Value) -> Value {
    match coordinates.as_array() {
        Some(all) if all.first().is_some_and(Value::is_number) => json!([all[0], all.get(1)]),
        Some(all) => all.iter().map(flat).collect(),
        None => Value::Null,
    }
}

type Line = Vec<[f64; 2]>;

fn osm(text: &str) -> Result<Extract, ExchangeError> {
    let xml = Xml::parse(text, Format::OsmXml, "osm")?;
    let root = xml.document.root_element();
    let mut nodes: HashMap<&str, [f64; 2]> = HashMap::new();
    let mut ways: HashMap<&str, Line> = HashMap::new();
    let mut extract = Extract::default();
    let mut missing = 0_usize;
    for (index, node) in elements(root).filter(|it| it.has_tag_name("node")).enumerate() {
        let field = format!("node[{index}]");
        let lat = xml.attribute(node, "lat", &field, latitude)?;
        let lon = xml.attribute(node, "lon", &field, longitude)?;
        let at = LatLon { lat, lon }.to_position();
        if let Some(id) = node.attribute("id") {
            nodes.insert(id, at);
        }
        let json = |_: bool| json!({"type": "Point", "coordinates": at});
        extract.take(node, json);
    }
    for way in elements(root).filter(|it| it.has_tag_name("way")) {
        let refs = elements(way).filter(|it| it.has_tag_name("nd")).filter_map(|it| it.attribute("ref"));
        let mut line = Line::new();
        for id in refs {
            // An extract cuts ways at its edge: what lies beyond is not in the file.
            match nodes.get(id) {
                Some(at) => line.push(*at),
                None => missing += 1,
            }
        }
        if line.len() < 2 {
            continue;
        }
        let json = |is_area: bool| {
            if is_area && is_ring(&line) {
                json!({"type": "Polygon", "coordinates": [line]})
            } else {
                json!({"type": "LineString", "coordinates": line})
            }
        };
        extract.take(way, json);
        if let Some(id) = way.attribute("id") {
            ways.insert(id, line);
        }
    }
    for relation in elements(root).filter(|it| it.has_tag_name("relation")) {
        let tag = |key: &str| tag_of(relation, key);
        if tag("type") != Some("multipolygon") || kind_of(&tag).is_none() {
            continue;
        }
        let of_role = |inner: bool| {
            elements(relation)
                .filter(|it| it.has_tag_name("member") && it.attribute("type") == Some("way"))
                .filter(|it| (it.attribute("role") == Some("inner")) == inner)
                .filter_map(|it| ways.get(it.attribute("ref")?).cloned())
                .collect::<Vec<Line>>()
        };
        let (outer, open) = rings(of_role(false));
        missing += open;
        // A hole would say that the ground there is clear, which nobody has checked: it is left out.
        if !outer.is_empty() {
            let polygons: Vec<Vec<Line>> = outer.into_iter().map(|ring| vec![ring]).collect();
            extract.take(relation, |_| json!({"type": "MultiPolygon", "coordinates": polygons}));
        }
    }
    if missing > 0 {
        extract.not_understood.push(Sentence::PointsCutOff { count: missing });
    }
    Ok(extract)
}

fn tag_of<'a>(node: Node<'a, '_>, key: &str) -> Option<&'a str> {
    elements(node)
        .find(|it| it.has_tag_name("tag") && it.attribute("k") == Some(key))
        .and_then(|it| it.attribute("v"))
}

impl Extract {
    fn take(&mut self, node: Node<'_, '_>, geometry: impl FnOnce(bool) -> Value) {
        let tag = |key: &str| tag_of(node, key);
        if let Some((kind, is_area)) = kind_of(&tag) {
            self.hazards.push(Hazard { kind, name: name_of(kind, &tag), geometry: geometry(is_area) });
        }
    }
}

fn is_ring(line: &Line) -> bool {
    line.len() >= 4 && line.first() == line.last()
}

/// Closed rings put together from pieces that share their ends, and how many pieces are left over.
fn rings(mut pieces: Vec<Line>) -> (Vec<Line>, usize) {
    let (mut closed, mut left_over) = (Vec::new(), 0);
    while let Some(mut ring) = pieces.pop() {
        while !is_ring(&ring) {
            let end = ring.last().copied();
            let Some(next) =
                pieces.iter().position(|it| it.first().copied() == end || it.last().copied() == end)
            else {
                break;
            };
            let mut piece = pieces.swap_remove(next);
            if piece.first().copied() != end {
                piece.reverse();
            }
            ring.extend(piece.into_iter().skip(1));
        }
        if is_ring(&ring) {
            closed.push(ring);
        } else {
            left_over += 1;
        }
    }
    (closed, left_over)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OSM: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<osm version="0.6">
 <node id="1" lat="47.0" lon="17.0"/>
 <node id="2" lat="47.0" lon="17.1"/>
 <node id="3" lat="47.1" lon="17.1"/>
 <node id="4" lat="47.1" lon="17.0"><tag k="natural" v="tree"/></node>
 <way id="10"><nd ref="1"/><nd ref="2"/><tag k="highway" v="tertiary"/><tag k="name" v="Mill Lane"/></way>
 <way id="11"><nd ref="1"/><nd ref="2"/><tag k="highway" v="footway"/></way>
 <way id="12"><nd ref="1"/><nd ref="2"/><nd ref="3"/><nd ref="1"/><tag k="building" v="yes"/></way>
 <way id="13"><nd ref="1"/><nd ref="2"/><nd ref="3"/></way>
 <way id="14"><nd ref="1"/><nd ref="4"/><nd ref="3"/></way>
 <way id="15"><nd ref="3"/><nd ref="99"/><nd ref="4"/><tag k="power" v="line"/></way>
 <relation id="20"><member type="way" ref="13" role="outer"/><member type="way" ref="14" role="outer"/>
  <tag k="type" v="multipolygon"/><tag k="landuse" v="forest"/></relation>
</osm>"#;

    #[test]
    fn tags_become_kinds_and_a_footway_is_no_road() {
        let extract = read(OSM).unwrap();
        let got: Vec<_> = extract
            .hazards
            .iter()
            .map(|it| (it.kind, it.name.as_deref(), it.geometry["type"].as_str().unwrap()))
            .collect();
        assert_eq!(
            got,
            [
                (HazardKind::Trees, None, "Point"),
                (HazardKind::Road, Some("Mill Lane"), "LineString"),
                (HazardKind::Buildings, None, "Polygon"),
                (HazardKind::PowerLine, None, "LineString"),
                (HazardKind::Trees, None, "MultiPolygon"),
            ]
        );
        assert_eq!(extract.hazards[1].geometry["coordinates"], json!([[17.0, 47.0], [17.1, 47.0]]));
        let ring = extract.hazards[4].geometry["coordinates"][0][0].as_array().unwrap();
        assert!(ring.len() == 5 && ring.first() == ring.last(), "{ring:?}");
        assert_eq!(extract.not_understood.len(), 1, "the node beyond the edge is counted");
    }

    #[test]
    fn geojson_with_the_same_tags_says_the_same() {
        let feature = |properties: Value| {
            json!({"type": "Feature", "properties": properties,
                "geometry": {"type": "LineString", "coordinates": [[17.0, 47.0, 210.0], [17.1, 47.0]]}})
        };
        let text = json!({"type": "FeatureCollection", "features": [
            feature(json!({"railway": "rail"})), feature(json!({"tags": {"waterway": "stream", "name": "Sedge"}})),
            feature(json!({"highway": "path"})), feature(json!({"aeroway": "runway"}))]});
        let extract = read(&text.to_string()).unwrap();
        let got: Vec<_> = extract.hazards.iter().map(|it| (it.kind, it.name.as_deref())).collect();
        assert_eq!(
            got,
            [
                (HazardKind::Railway, None),
                (HazardKind::Water, Some("Sedge")),
                (HazardKind::Other, Some("runway"))
            ]
        );
        assert_eq!(extract.hazards[0].geometry["coordinates"], json!([[17.0, 47.0], [17.1, 47.0]]));
    }

    #[test]
    fn a_bad_file_is_refused_with_its_line() {
        for (bad, said) in [
            (
                OSM.replace("lat=\"47.1\" lon=\"17.1\"", "lat=\"97.1\" lon=\"17.1\""),
                "OSM XML, line 5, column 20, node[2].lat: 97.1",
            ),
            (OSM.replace("</osm>", ""), "OSM XML, line "),
            ("<gpx/>".into(), "allowed is <osm>"),
            ("{\n \"type\": }".into(), "GeoJSON, line 2"),
            (r#"{"type": "Point", "coordinates": [17.0, 147.0]}"#.into(), "147"),
        ] {
            let error = read(&bad).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
    }
}
