//! KML 2.2 out; KML of any program in, with the tracks of its extension `gx` and of KML 2.3.
//!
//! Everything is a placemark; the role and what KML has no element for stand in `ExtendedData`. KML 2.2 keeps no times
//! along a line, so a walk written to it loses them (GPX and GeoJSON keep them).
//!
//! Why not the crate `kml` 0.15? Its errors name no line, and it writes `styleUrl` after the geometry and several holes
//! into one `innerBoundaryIs`, both against the schema.
//!
//! # Source
//! OGC 07-147r2, KML 2.2, and its schema ogckml22.xsd: order of elements; longitude, latitude, altitude; colours are
//! alpha, blue, green, red.

use super::drawing::{
    About, Drawing, Item, Role, Shape, Spot, accuracy_m, as_text, elevation_m, latitude, longitude, time,
    time_as_text,
};
use super::xml::{Xml, elements, leaf, leaf_of, text_of, written};
use super::{ExchangeError, Format, Mark};
use quick_xml::Writer;
use roxmltree::Node;
use serde_json::{Value, json};
use std::io;
use windfall_facts::{LatLon, Sentence};

const KML_2_2: &str = "http://www.opengis.net/kml/2.2";
/// Role, colour of its lines, colour of its areas.
const STYLES: [(Role, &str, &str); 5] = [
    (Role::Outline, "ff4a7d2c", "00ffffff"),
    (Role::Hazard, "ff2222cc", "402222cc"),
    (Role::Region, "ff0080e6", "400080e6"),
    (Role::Sweep, "ffb36b00", "00ffffff"),
    (Role::SightLine, "ff666666", "00ffffff"),
];

type Out = Writer<Vec<u8>>;

/// A drawing as KML 2.2.
///
/// # Errors
/// None that is known of; the writer could refuse.
pub fn write(drawing: &Drawing) -> Result<String, ExchangeError> {
    written(Format::Kml, |writer| {
        let root = writer.create_element("kml").with_attribute(("xmlns", KML_2_2));
        root.write_inner_content(|writer| {
            writer.create_element("Document").write_inner_content(|writer| {
                leaf_of(writer, "name", drawing.title.as_deref())?;
                leaf_of(writer, "description", drawing.note.as_deref())?;
                STYLES.iter().try_for_each(|style| write_style(writer, *style))?;
                drawing.items.iter().try_for_each(|item| placemark(writer, item))
            })?;
            Ok(())
        })?;
        Ok(())
    })
}

fn write_style(writer: &mut Out, (role, line, area): (Role, &str, &str)) -> io::Result<()> {
    writer.create_element("Style").with_attribute(("id", role.word())).write_inner_content(|writer| {
        writer.create_element("LineStyle").write_inner_content(|writer| {
            leaf(writer, "color", line)?;
            leaf(writer, "width", "2")
        })?;
        writer.create_element("PolyStyle").write_inner_content(|writer| leaf(writer, "color", area))?;
        Ok(())
    })?;
    Ok(())
}

fn placemark(writer: &mut Out, item: &Item) -> io::Result<()> {
    writer.create_element("Placemark").write_inner_content(|writer| {
        leaf_of(writer, "name", item.about.name.as_deref())?;
        leaf_of(writer, "description", item.about.note.as_deref())?;
        let mut properties = Vec::new();
        if let Shape::Place(spot) = &item.shape {
            if let Some(time) = spot.time {
                writer
                    .create_element("TimeStamp")
                    .write_inner_content(|writer| leaf(writer, "when", &time_as_text(time)))?;
            }
            properties.extend(spot.accuracy_m.map(|it| ("accuracy_m", it.into())));
        }
        if let Some(role) = item.role {
            if STYLES.iter().any(|(styled, ..)| *styled == role) {
                leaf(writer, "styleUrl", &format!("#{}", role.word()))?;
            }
            properties.push(("role", role.word().into()));
        }
        properties.extend(item.about.properties());
        if !properties.is_empty() {
            writer.create_element("ExtendedData").write_inner_content(|writer| {
                properties.iter().try_for_each(|(key, value)| data(writer, key, value))
            })?;
        }
        match &item.shape {
            Shape::Place(spot) => point(writer, &[coordinates(*spot)]),
            Shape::Path(path) => line(writer, &path.iter().copied().map(coordinates).collect::<Vec<_>>()),
            Shape::Ground(geometry) => ground(writer, geometry),
        }
    })?;
    Ok(())
}

fn data(writer: &mut Out, key: &str, value: &Value) -> io::Result<()> {
    let data = writer.create_element("Data").with_attribute(("name", key));
    data.write_inner_content(|writer| leaf(writer, "value", &as_text(value)))?;
    Ok(())
}

fn coordinates(spot: Spot) -> String {
    let [lon, lat] = spot.at.to_position();
    spot.elevation_m.map_or_else(|| format!("{lon},{lat}"), |height| format!("{lon},{lat},{height}"))
}

fn point(writer: &mut Out, at: &[String]) -> io::Result<()> {
    writer
        .create_element("Point")
        .write_inner_content(|writer| leaf(writer, "coordinates", &at.join(" ")))?;
    Ok(())
}

fn line(writer: &mut Out, at: &[String]) -> io::Result<()> {
    writer.create_element("LineString").write_inner_content(|writer| {
        leaf(writer, "tessellate", "1")?;
        leaf(writer, "coordinates", &at.join(" "))
    })?;
    Ok(())
}

/// A GeoJSON geometry.
fn ground(writer: &mut Out, geometry: &Value) -> io::Result<()> {
    let coordinates = &geometry["coordinates"];
    let items = || coordinates.as_array().into_iter().flatten();
    match geometry["type"].as_str().unwrap_or_default() {
        "Point" => point(writer, &positions(&json!([coordinates]))),
        "LineString" => line(writer, &positions(coordinates)),
        "Polygon" => polygon(writer, coordinates),
        kind => {
            writer.create_element("MultiGeometry").write_inner_content(|writer| {
                items().try_for_each(|item| match kind {
                    "MultiPoint" => point(writer, &positions(&json!([item]))),
                    "MultiLineString" => line(writer, &positions(item)),
                    _ => polygon(writer, item),
                })
            })?;
            Ok(())
        }
    }
}

fn polygon(writer: &mut Out, rings: &Value) -> io::Result<()> {
    writer.create_element("Polygon").write_inner_content(|writer| {
        leaf(writer, "tessellate", "1")?;
        for (index, ring) in rings.as_array().into_iter().flatten().enumerate() {
            let boundary = if index == 0 { "outerBoundaryIs" } else { "innerBoundaryIs" };
            writer.create_element(boundary).write_inner_content(|writer| {
                writer
                    .create_element("LinearRing")
                    .write_inner_content(|writer| leaf(writer, "coordinates", &positions(ring).join(" ")))?;
                Ok(())
            })?;
        }
        Ok(())
    })?;
    Ok(())
}

/// GeoJSON positions, which have the same order.
fn positions(list: &Value) -> Vec<String> {
    let one = |position: &Value| {
        let numbers = position.as_array().into_iter().flatten().map(Value::to_string);
        numbers.collect::<Vec<_>>().join(",")
    };
    list.as_array().into_iter().flatten().map(one).collect()
}

/// The drawing in a KML file.
///
/// # Errors
/// Names the line and the field of the first thing that is not as the format says.
pub fn read(text: &str) -> Result<Drawing, ExchangeError> {
    let xml = Xml::parse(text, Format::Kml, "kml")?;
    let mut drawing = Drawing::default();
    let mut placemarks = 0;
    for node in xml.document.root_element().descendants().filter(Node::is_element) {
        match node.tag_name().name() {
            "Document" if drawing.title.is_none() => {
                let said = |name: &str| child(node, name).and_then(text_of);
                (drawing.title, drawing.note) = (said("name"), said("description"));
            }
            "Placemark" => {
                read_placemark(&xml, node, &format!("Placemark[{placemarks}]"), &mut drawing.items)?;
                placemarks += 1;
            }
            other @ ("NetworkLink" | "GroundOverlay" | "PhotoOverlay" | "ScreenOverlay" | "Model") => {
                xml.leave_out(other);
            }
            _ => {}
        }
    }
    drawing.not_understood = xml.left_out();
    Ok(drawing)
}

fn child<'a, 'input>(node: Node<'a, 'input>, name: &str) -> Option<Node<'a, 'input>> {
    elements(node).find(|inner| inner.tag_name().name() == name)
}

fn read_placemark(
    xml: &Xml<'_>,
    node: Node<'_, '_>,
    field: &str,
    items: &mut Vec<Item>,
) -> Result<(), ExchangeError> {
    let mut about = About::default();
    let (mut role, mut when, mut accuracy) = (None, None, None);
    about.name = child(node, "name").and_then(text_of);
    about.note = child(node, "description").and_then(text_of);
    if let Some(stamp) = child(node, "TimeStamp").and_then(|stamp| child(stamp, "when")) {
        // KML also allows a bare date, which says nothing of use here.
        when = text_of(stamp).and_then(|written| time(&written).ok());
    }
    let properties = || child(node, "ExtendedData").into_iter().flat_map(elements);
    let value_of = |data: Node<'_, '_>| child(data, "value").and_then(text_of).unwrap_or_default();
    for data in properties().filter(|data| data.attribute("name") == Some("role")) {
        role = Role::of_word(&value_of(data));
    }
    for data in properties() {
        // In another program's file the same key may mean something else.
        let Some(key) = data.attribute("name").filter(|_| role.is_some()) else {
            xml.leave_out(data.tag_name().name());
            continue;
        };
        let value = Value::from(value_of(data));
        let taken = match key {
            "role" => Ok(true),
            "accuracy_m" => accuracy_m(&value).map(|it| accuracy = Some(it)).map(|()| true),
            _ => about.take(key, &value),
        };
        match taken {
            Ok(true) => {}
            Ok(false) => xml.leave_out(key),
            Err(message) => {
                return Err(xml.refusal(data.range().start, &format!("{field}.{key}"), message));
            }
        }
    }
    let mut shapes = Vec::new();
    let mut pending: Vec<Node<'_, '_>> = elements(node).collect();
    pending.reverse();
    while let Some(inner) = pending.pop() {
        let shape = match inner.tag_name().name() {
            "Point" => {
                let at = read_coordinates(xml, inner, field)?;
                let [spot] = at[..] else {
                    let why = Sentence::OnePosition { positions: at.len() };
                    return Err(xml.refusal(inner.range().start, &format!("{field}.Point"), why));
                };
                Shape::Place(Spot { time: when, accuracy_m: accuracy, ..spot })
            }
            "LineString" => Shape::Path(read_coordinates(xml, inner, field)?),
            "Polygon" => Shape::Ground(read_polygon(xml, inner, field)?),
            "Track" => Shape::Path(read_track(xml, inner, field)?),
            "MultiGeometry" | "MultiTrack" => {
                let first = pending.len();
                pending.extend(elements(inner));
                pending[first..].reverse();
                continue;
            }
            _ => continue,
        };
        shapes.push(shape);
    }
    if shapes.is_empty() {
        xml.leave_out("Placemark without a geometry");
    }
    let several = child(node, "MultiGeometry").is_some();
    if matches!(role, Some(Role::Outline | Role::Hazard | Role::Region | Role::Area))
        && let Some(geometry) = one_geometry(&shapes, several)
    {
        shapes = vec![Shape::Ground(geometry)];
    }
    items.extend(shapes.into_iter().map(|shape| Item { role, shape, about: about.clone() }));
    Ok(())
}

/// The shapes of one placemark as one GeoJSON geometry, if they are of one kind.
fn one_geometry(shapes: &[Shape], several: bool) -> Option<Value> {
    let position = |spot: &Spot| {
        let [lon, lat] = spot.at.to_position();
        json!([lon, lat])
    };
    let mut kinds = Vec::new();
    let mut coordinates = Vec::new();
    for shape in shapes {
        let (kind, at) = match shape {
            Shape::Place(spot) => ("Point", position(spot)),
            Shape::Path(path) => ("LineString", path.iter().map(position).collect()),
            Shape::Ground(polygon) => ("Polygon", polygon["coordinates"].clone()),
        };
        kinds.push(kind);
        coordinates.push(at);
    }
    let kind = *kinds.first()?;
    if kinds.iter().any(|other| *other != kind) {
        return None;
    }
    Some(match (several, coordinates.len()) {
        (false, 1) => json!({"type": kind, "coordinates": coordinates[0]}),
        _ => json!({"type": format!("Multi{kind}"), "coordinates": coordinates}),
    })
}

fn read_polygon(xml: &Xml<'_>, node: Node<'_, '_>, field: &str) -> Result<Value, ExchangeError> {
    let mut rings = Vec::new();
    for boundary in ["outerBoundaryIs", "innerBoundaryIs"] {
        for ring in elements(node).filter(|it| it.tag_name().name() == boundary).flat_map(elements) {
            let at = read_coordinates(xml, ring, field)?;
            if at.len() < 4 || at.first().map(|it| it.at) != at.last().map(|it| it.at) {
                let why = Sentence::RingNotClosed {};
                return Err(xml.refusal(ring.range().start, &format!("{field}.{boundary}"), why));
            }
            rings.push(at.iter().map(|spot| spot.at.to_position()).collect::<Vec<_>>());
        }
    }
    if rings.is_empty() {
        return Err(xml.refusal(node.range().start, &format!("{field}.Polygon"), Sentence::NoOuterEdge {}));
    }
    Ok(json!({"type": "Polygon", "coordinates": rings}))
}

/// `longitude,latitude[,altitude]`, separated by white space.
fn read_coordinates(xml: &Xml<'_>, node: Node<'_, '_>, field: &str) -> Result<Vec<Spot>, ExchangeError> {
    let field = format!("{field}.{}.coordinates", node.tag_name().name());
    let Some(inner) = child(node, "coordinates") else {
        return Err(xml.refusal(node.range().start, &field, Sentence::MissingHere {}));
    };
    let text = inner.text().unwrap_or_default();
    text.split_whitespace()
        .enumerate()
        .map(|(index, tuple)| {
            read_position(tuple.split(',')).map_err(|message| {
                let start = Mark::at(xml.document.input_text(), inner.range().start).line;
                let offset = (tuple.as_ptr() as usize).saturating_sub(text.as_ptr() as usize);
                let line = start + text[..offset].matches('\n').count();
                let mark = Mark { line, column: None };
                ExchangeError::field(Format::Kml, Some(mark), format!("{field}[{index}]"), message)
            })
        })
        .collect()
}

fn read_position<'a>(numbers: impl Iterator<Item = &'a str>) -> Result<Spot, Sentence> {
    let numbers: Vec<&str> = numbers.filter(|it| !it.is_empty()).collect();
    if !(2..=3).contains(&numbers.len()) {
        return Err(Sentence::PositionNumbers { numbers: numbers.len() });
    }
    let (lon, lat) = (longitude(numbers[0])?, latitude(numbers[1])?);
    let elevation = numbers.get(2).map(|it| elevation_m(it)).transpose()?;
    Ok(Spot { elevation_m: elevation, ..Spot::new(LatLon { lat, lon }) })
}

/// A `Track`: first all times, then all places, or in turns.
fn read_track(xml: &Xml<'_>, node: Node<'_, '_>, field: &str) -> Result<Vec<Spot>, ExchangeError> {
    let (mut times, mut path) = (Vec::new(), Vec::new());
    for inner in elements(node) {
        let field = format!("{field}.Track[{}]", path.len());
        match inner.tag_name().name() {
            "when" => times.push(xml.content(inner, &field, time)?),
            "coord" => path.extend(xml.content(inner, &field, |it| read_position(it.split_whitespace()))?),
            other => xml.leave_out(other),
        }
    }
    if times.len() == path.len() {
        for (spot, time) in path.iter_mut().zip(times) {
            spot.time = time;
        }
    } else if !times.is_empty() {
        let why = Sentence::NotAsMany { times: times.len(), places: path.len() };
        return Err(xml.refusal(node.range().start, &format!("{field}.Track"), why));
    }
    Ok(path)
}
