//! Extracts of an open map, as OSM XML or GeoJSON with the same tags: what on it could be a hazard.
//!
//! # Source
//! OSM XML 0.6 (`node`, `way`, `relation`, `nd`, `member`, `tag`): wiki.openstreetmap.org, OSM XML. A deleted element has
//! `visible="false"`, or `action="delete"` where an editor saved it. Tags: the wiki's Map features, Highways,
//! `Tag:power=minor_line`, Waterways, Natural; those of `landuse`, `military`, `aeroway`, `aerialway`, `leisure` and
//! `amenity` from memory of the same. Relation:multipolygon: a closed way is an area if its tag is one of an area; outer
//! rings are put together from ways of role outer or of none; old ones have their tags on the outer way.

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
    // Roads with traffic: paths and tracks are how one walks to a rocket; lamps, crossings and stops are points on a road.
    const ROADS: &[&str] = &[
        "motorway",
        "trunk",
        "primary",
        "secondary",
        "tertiary",
        "unclassified",
        "residential",
        "motorway_link",
        "trunk_link",
        "primary_link",
        "secondary_link",
        "tertiary_link",
        "living_street",
        "service",
        "raceway",
        "busway",
        "bus_guideway",
        "escape",
        "road",
    ];
    const RAILS: &[&str] = &[
        "rail",
        "light_rail",
        "tram",
        "narrow_gauge",
        "subway",
        "preserved",
        "funicular",
        "monorail",
        "miniature",
    ];
    // What runs below the ground is not in the way.
    if tag("tunnel").is_some_and(|value| value != "no") {
        return None;
    }
    if is("highway", ROADS) {
        return Some((HazardKind::Road, tag("area") == Some("yes")));
    }
    if is("railway", RAILS) {
        return Some((HazardKind::Railway, false));
    }
    if is("power", &["line", "minor_line"]) {
        return Some((HazardKind::PowerLine, false));
    }
    // Wires that carry no current, or carriages: as bad for a cord, and as high.
    if is("communication", &["line"]) || tag("aerialway").is_some_and(|value| !is_support(value)) {
        return Some((HazardKind::Other, false));
    }
    if is("power", &["substation", "plant", "generator"]) {
        return Some((HazardKind::Other, true));
    }
    if is("waterway", &["river", "stream", "canal", "drain", "ditch", "tidal_channel"])
        || is("natural", &["coastline"])
    {
        return Some((HazardKind::Water, false));
    }
    if is("natural", &["water", "wetland", "bay"])
        || is("landuse", &["reservoir", "basin", "salt_pond", "aquaculture"])
        || is("waterway", &["riverbank", "dock"])
        || is("leisure", &["swimming_pool"])
    {
        return Some((HazardKind::Water, true));
    }
    if is("natural", &["tree", "tree_row"]) {
        return Some((HazardKind::Trees, false));
    }
    if is("natural", &["wood", "scrub"]) || is("landuse", &["forest", "orchard", "vineyard", "plant_nursery"])
    {
        return Some((HazardKind::Trees, true));
    }
    if tag("building").is_some_and(|value| value != "no") {
        return Some((HazardKind::Buildings, true));
    }
    if is(
        "landuse",
        &["residential", "industrial", "commercial", "retail", "farmyard", "construction", "education"],
    ) || is("amenity", &["school", "kindergarten", "hospital"])
    {
        return Some((HazardKind::Buildings, true));
    }
    if is("landuse", &["farmland"]) {
        return Some((HazardKind::Crop, true));
    }
    if is("landuse", &["animal_keeping"]) {
        return Some((HazardKind::Livestock, true));
    }
    (is("leisure", &["playground"])
        || is("aeroway", &["aerodrome", "runway", "taxiway", "helipad"])
        || is("landuse", &["military", "quarry", "railway"])
        || is("military", &["danger_area", "range"]))
    .then_some((HazardKind::Other, true))
}

/// What holds an aerialway up, or where one gets on.
fn is_support(aerialway: &str) -> bool {
    ["pylon", "station"].contains(&aerialway)
}

/// What people call it; else what the tags call it, where the kind alone says too little.
fn name_of<'a>(kind: HazardKind, tag: &impl Fn(&str) -> Option<&'a str>) -> Option<String> {
    let called = tag("name").or_else(|| tag("ref"));
    let otherwise = || {
        let tagged = ["power", "communication", "aerialway", "leisure", "aeroway", "military", "landuse"]
            .into_iter()
            .find_map(tag);
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
        extract.hazards.push(Hazard { kind, name: name_of(kind, &tag), geometry, height_m: None });
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

/// Stretches of a way, each of at least two points. Where points between are missing nothing is drawn across, unless a
/// single point stands there: a mast between two others is no reason to lose a wire.
fn stretches(runs: Vec<Line>) -> Vec<Line> {
    let mut stretches: Vec<Line> = Vec::new();
    for run in runs.into_iter().filter(|run| !run.is_empty()) {
        match stretches.last_mut() {
            Some(last) if last.len() < 2 || run.len() < 2 => last.extend(run),
            _ => stretches.push(run),
        }
    }
    stretches.retain(|line| line.len() >= 2);
    stretches
}

fn is_there(element: &Node<'_, '_>) -> bool {
    element.attribute("visible") != Some("false") && element.attribute("action") != Some("delete")
}

fn osm(text: &str) -> Result<Extract, ExchangeError> {
    let xml = Xml::parse(text, Format::OsmXml, "osm")?;
    let root = xml.document.root_element();
    let all = |name: &'static str| elements(root).filter(move |it| it.has_tag_name(name)).enumerate();
    let mut nodes: HashMap<&str, [f64; 2]> = HashMap::new();
    let mut ways: HashMap<&str, Vec<Line>> = HashMap::new();
    let mut extract = Extract::default();
    let mut missing = 0_usize;
    let place = |it: Node<'_, '_>, field: String| -> Result<[f64; 2], ExchangeError> {
        let lat = xml.attribute(it, "lat", &field, latitude)?;
        let lon = xml.attribute(it, "lon", &field, longitude)?;
        Ok(LatLon { lat, lon }.to_position())
    };
    for (index, node) in all("node").filter(|(_, it)| is_there(it)) {
        // A list of names alone has no places.
        if node.attribute("lat").is_none() && node.attribute("lon").is_none() {
            continue;
        }
        let at = place(node, format!("node[{index}]"))?;
        if let Some(id) = node.attribute("id") {
            nodes.insert(id, at);
        }
        // Of a road or a line a single point is a lamp, a stop, a mast.
        extract.take(node, |_, kind| {
            let is_a_thing = matches!(kind, HazardKind::Trees | HazardKind::Buildings | HazardKind::Other);
            is_a_thing.then(|| json!({"type": "Point", "coordinates": at}))
        });
    }
    for (index, way) in all("way").filter(|(_, it)| is_there(it)) {
        let mut runs = vec![Line::new()];
        for nd in elements(way).filter(|it| it.has_tag_name("nd")) {
            // Some programs write the place where it is used.
            let at = if nd.attribute("lat").is_some() {
                Some(place(nd, format!("way[{index}].nd"))?)
            } else {
                nd.attribute("ref").and_then(|id| nodes.get(id).copied())
            };
            match (at, runs.last_mut()) {
                (Some(at), Some(last)) => last.push(at),
                // An extract cuts ways at its edge: what lies beyond is not in the file.
                _ => {
                    missing += 1;
                    runs.push(Line::new());
                }
            }
        }
        let joined: Line = runs.concat();
        let stretches = stretches(runs);
        if stretches.is_empty() {
            continue;
        }
        extract.take(way, |is_area, _| {
            Some(match &stretches[..] {
                // An area that is cut is closed along the edge of the file.
                _ if is_area && is_ring(&joined) => json!({"type": "Polygon", "coordinates": [joined]}),
                [line] => json!({"type": "LineString", "coordinates": line}),
                several => json!({"type": "MultiLineString", "coordinates": several}),
            })
        });
        if let Some(id) = way.attribute("id") {
            ways.insert(id, stretches);
        }
    }
    for (_, relation) in all("relation").filter(|(_, it)| is_there(it)) {
        let tag = |key: &str| tag_of(relation, key);
        if tag("type") != Some("multipolygon") || kind_of(&tag).is_none() {
            continue;
        }
        // A hole would say that the ground there is clear, which nobody has checked: it is left out.
        let members = elements(relation)
            .filter(|it| it.has_tag_name("member") && it.attribute("type") == Some("way"))
            .filter(|it| it.attribute("role") != Some("inner"));
        let mut pieces: Vec<Line> = Vec::new();
        for member in members {
            match member.attribute("ref").and_then(|id| ways.get(id)) {
                Some(stretches) => pieces.extend(stretches.iter().cloned()),
                None => missing += 1,
            }
        }
        let (outer, open) = rings(pieces);
        if !outer.is_empty() {
            let polygons: Vec<Vec<&Line>> = outer.iter().map(|ring| vec![ring]).collect();
            extract.take(relation, |_, _| Some(json!({"type": "MultiPolygon", "coordinates": polygons})));
        }
        // Of an area that is cut there is at least its edge to be seen.
        missing += open.len();
        if !open.is_empty() {
            extract.take(relation, |_, _| Some(json!({"type": "MultiLineString", "coordinates": open})));
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
    fn take(&mut self, node: Node<'_, '_>, geometry: impl FnOnce(bool, HazardKind) -> Option<Value>) {
        let tag = |key: &str| tag_of(node, key);
        if let Some((kind, is_area)) = kind_of(&tag)
            && let Some(geometry) = geometry(is_area, kind)
        {
            self.hazards.push(Hazard { kind, name: name_of(kind, &tag), geometry, height_m: None });
        }
    }
}

fn is_ring(line: &Line) -> bool {
    line.len() >= 4 && line.first() == line.last()
}

/// Closed rings put together from pieces that share their ends, and what is left open.
fn rings(mut pieces: Vec<Line>) -> (Vec<Line>, Vec<Line>) {
    let (mut closed, mut open) = (Vec::new(), Vec::new());
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
            open.push(ring);
        }
    }
    (closed, open)
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

    /// A hand-made file with what real ones have: see its own comments.
    const COUNTRY: &str = include_str!("../../../../../tests/reference/osm/country.osm");

    #[test]
    fn a_whole_country_lane_with_its_lamps_culverts_islands_and_cut_edges() {
        let extract = read(COUNTRY).unwrap();
        let got: Vec<String> = extract
            .hazards
            .iter()
            .map(|it| {
                let kind = serde_json::to_value(it.kind).unwrap();
                let name = it.name.as_deref().unwrap_or("-");
                format!("{} {name} {}", kind.as_str().unwrap(), it.geometry["type"].as_str().unwrap())
            })
            .collect();
        assert_eq!(
            got,
            [
                "trees old oak Point",
                "road Sedge Lane LineString",
                "road L 7 LineString",
                "railway - LineString",
                "power_line - LineString",
                "power_line - MultiLineString",
                "other line LineString",
                "water Sedge Brook LineString",
                "water - Polygon",
                "trees - LineString",
                "trees Alder Wood Polygon",
                "crop - Polygon",
                "buildings - Polygon",
                "buildings Alder Farm Polygon",
                "other playground Polygon",
                "water Mill Pond MultiPolygon",
                "trees Long Wood MultiLineString",
                "buildings - MultiPolygon",
            ]
        );
        let of = |name: &str| {
            let found = extract.hazards.iter().find(|it| it.name.as_deref() == Some(name)).unwrap();
            found.geometry["coordinates"].clone()
        };
        // Two ways put together, the island left out.
        assert_eq!(of("Mill Pond").as_array().unwrap().len(), 1);
        assert_eq!(of("Mill Pond")[0].as_array().unwrap().len(), 1);
        assert_eq!(of("Mill Pond")[0][0].as_array().unwrap().len(), 5);
        // A ring that the edge of the file cuts is at least a line.
        assert_eq!(of("Long Wood").as_array().unwrap().len(), 1);
        assert_eq!(extract.not_understood.len(), 1);
        assert_eq!(extract.not_understood[0], Sentence::PointsCutOff { count: 4 });
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
