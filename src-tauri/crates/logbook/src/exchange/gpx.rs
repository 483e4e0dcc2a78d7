//! GPX 1.1 out, GPX 1.0 and 1.1 of any device in.
//!
//! Places are waypoints, walks are tracks; the role stands in `type`. What GPX has no element for (the part, an accuracy
//! in metres) stands in `extensions`, in a namespace of our own. GPX has no areas: regions, hazards and the field are
//! left out, and the cautions stand in the description of the file.
//!
//! Why not the crate `gpx` 0.10? Its errors name no line, it refuses a file for one element it does not know (`magvar`
//! of its own standard is one), and it drops extensions, in which an accuracy in metres has its place.
//!
//! # Source
//! GPX 1.1 schema, topografix.com/GPX/1/1/gpx.xsd: order of elements; longitude below 180; times in UTC.

use super::drawing::{
    About, Drawing, Item, Role, Shape, Spot, accuracy_m, as_text, elevation_m, latitude, longitude, time,
    time_as_text,
};
use super::xml::{Xml, elements, leaf, leaf_of, text_of, written};
use super::{ExchangeError, Format};
use quick_xml::Writer;
use roxmltree::Node;
use serde_json::Value;
use std::io;
use windfall_facts::{LatLon, Sentence};

const GPX_1_1: &str = "http://www.topografix.com/GPX/1/1";
/// A name under .invalid (RFC 2606) leads nowhere, which is what a namespace needs.
const OURS: &str = "https://windfall.invalid/exchange/1";

/// A drawing as GPX 1.1.
///
/// # Errors
/// None that is known of; the writer could refuse.
pub fn write(drawing: &Drawing) -> Result<String, ExchangeError> {
    written(Format::Gpx, |writer| {
        let root =
            [("version", "1.1"), ("creator", "Windfall"), ("xmlns", GPX_1_1), ("xmlns:windfall", OURS)];
        writer.create_element("gpx").with_attributes(root).write_inner_content(|writer| {
            if drawing.title.is_some() || drawing.note.is_some() {
                writer.create_element("metadata").write_inner_content(|writer| {
                    leaf_of(writer, "name", drawing.title.as_deref())?;
                    leaf_of(writer, "desc", drawing.note.as_deref())
                })?;
            }
            for item in &drawing.items {
                if let Shape::Place(spot) = &item.shape {
                    point(writer, "wpt", spot, Some(item))?;
                }
            }
            for kind in ["rte", "trk"] {
                for item in &drawing.items {
                    match &item.shape {
                        Shape::Path(path) if (item.role == Some(Role::Route)) == (kind == "rte") => {
                            line(writer, kind, path, item)?;
                        }
                        _ => {}
                    }
                }
            }
            Ok(())
        })?;
        Ok(())
    })
}

fn point(writer: &mut Writer<Vec<u8>>, name: &str, spot: &Spot, item: Option<&Item>) -> io::Result<()> {
    let LatLon { lat, lon } = spot.at;
    // The same meridian, but the schema takes only one of its two names.
    let lon = if lon >= 180.0 { lon - 360.0 } else { lon };
    let (lat, lon) = (lat.to_string(), lon.to_string());
    let at = [("lat", lat.as_str()), ("lon", lon.as_str())];
    let element = writer.create_element(name).with_attributes(at);
    if item.is_none() && (spot.elevation_m, spot.time, spot.accuracy_m) == (None, None, None) {
        element.write_empty()?;
        return Ok(());
    }
    element.write_inner_content(|writer| {
        leaf_of(writer, "ele", spot.elevation_m.map(|it| it.to_string()).as_deref())?;
        leaf_of(writer, "time", spot.time.map(time_as_text).as_deref())?;
        let mut properties = Vec::new();
        if let Some(item) = item {
            leaf_of(writer, "name", item.about.name.as_deref())?;
            leaf_of(writer, "desc", item.about.note.as_deref())?;
            leaf_of(writer, "type", item.role.map(Role::word))?;
            properties = item.about.properties();
        }
        properties.extend(spot.accuracy_m.map(|it| ("accuracy_m", it.into())));
        extensions(writer, &properties)
    })?;
    Ok(())
}

fn line(writer: &mut Writer<Vec<u8>>, kind: &str, path: &[Spot], item: &Item) -> io::Result<()> {
    writer.create_element(kind).write_inner_content(|writer| {
        leaf_of(writer, "name", item.about.name.as_deref())?;
        leaf_of(writer, "desc", item.about.note.as_deref())?;
        leaf_of(writer, "type", item.role.map(Role::word))?;
        extensions(writer, &item.about.properties())?;
        if kind == "rte" {
            return path.iter().try_for_each(|spot| point(writer, "rtept", spot, None));
        }
        writer.create_element("trkseg").write_inner_content(|writer| {
            path.iter().try_for_each(|spot| point(writer, "trkpt", spot, None))
        })?;
        Ok(())
    })?;
    Ok(())
}

fn extensions(writer: &mut Writer<Vec<u8>>, properties: &[(&str, Value)]) -> io::Result<()> {
    if properties.is_empty() {
        return Ok(());
    }
    writer.create_element("extensions").write_inner_content(|writer| {
        properties
            .iter()
            .try_for_each(|(key, value)| leaf(writer, &format!("windfall:{key}"), &as_text(value)))
    })?;
    Ok(())
}

/// The drawing in a GPX file.
///
/// # Errors
/// Names the line, the column and the field of the first thing that is not as the format says.
pub fn read(text: &str) -> Result<Drawing, ExchangeError> {
    let xml = Xml::parse(text, Format::Gpx, "gpx")?;
    let root = xml.document.root_element();
    if let Some(version) = root.attribute_node("version")
        && !["1.0", "1.1"].contains(&version.value())
    {
        let why = Sentence::OneOfThese { written: version.value().into(), allowed: "1.0, 1.1".into() };
        return Err(xml.refusal(version.range_value().start, "gpx.version", why));
    }
    let mut drawing = Drawing::default();
    let [mut waypoints, mut routes, mut tracks] = [0; 3];
    let numbered = |count: &mut usize, name: &str| {
        *count += 1;
        format!("{name}[{}]", *count - 1)
    };
    for node in elements(root) {
        match own_name(node) {
            "metadata" => {
                for inner in elements(node) {
                    head(&xml, &mut drawing, inner);
                }
            }
            "wpt" => drawing.items.push(waypoint(&xml, node, &numbered(&mut waypoints, "wpt"))?),
            "rte" => line_items(&xml, node, &numbered(&mut routes, "rte"), &mut drawing.items)?,
            "trk" => line_items(&xml, node, &numbered(&mut tracks, "trk"), &mut drawing.items)?,
            _ => head(&xml, &mut drawing, node),
        }
    }
    drawing.not_understood = xml.left_out();
    Ok(drawing)
}

/// The name of an element of GPX itself; empty for those of other namespaces.
fn own_name<'a>(node: Node<'a, '_>) -> &'a str {
    let root = node.document().root_element().tag_name().namespace();
    if node.tag_name().namespace() == root { node.tag_name().name() } else { "" }
}

/// What the file says about itself; in GPX 1.0 without `metadata` around it.
fn head(xml: &Xml<'_>, drawing: &mut Drawing, node: Node<'_, '_>) {
    match own_name(node) {
        "name" => drawing.title = text_of(node),
        "desc" => drawing.note = text_of(node),
        _ => xml.leave_out(node.tag_name().name()),
    }
}

fn waypoint(xml: &Xml<'_>, node: Node<'_, '_>, field: &str) -> Result<Item, ExchangeError> {
    let mut item = Item { role: None, shape: Shape::Path(Vec::new()), about: About::default() };
    item.shape = Shape::Place(spot(xml, node, field, Some(&mut item))?);
    Ok(item)
}

/// A point; what is said about it goes into `item`, or is left out if there is none.
fn spot(
    xml: &Xml<'_>,
    node: Node<'_, '_>,
    field: &str,
    mut item: Option<&mut Item>,
) -> Result<Spot, ExchangeError> {
    let lat = xml.attribute(node, "lat", field, latitude)?;
    let lon = xml.attribute(node, "lon", field, longitude)?;
    let mut spot = Spot::new(LatLon { lat, lon });
    for inner in elements(node) {
        match own_name(inner) {
            "ele" => spot.elevation_m = xml.content(inner, field, elevation_m)?,
            "time" => spot.time = xml.content(inner, field, time)?,
            "extensions" => {
                for property in elements(inner) {
                    if is_ours(property, "accuracy_m") {
                        spot.accuracy_m = xml.content(property, field, |it| accuracy_m(&it.into()))?;
                    } else {
                        said_in_extension(xml, property, field, item.as_deref_mut())?;
                    }
                }
            }
            _ => said(xml, inner, item.as_deref_mut()),
        }
    }
    Ok(spot)
}

fn said(xml: &Xml<'_>, node: Node<'_, '_>, item: Option<&mut Item>) {
    let Some(item) = item else { return xml.leave_out(node.tag_name().name()) };
    match own_name(node) {
        "name" => item.about.name = text_of(node),
        "desc" => item.about.note = text_of(node),
        "cmt" if item.about.note.is_none() => item.about.note = text_of(node),
        "type" => item.role = text_of(node).as_deref().and_then(Role::of_word),
        _ => xml.leave_out(node.tag_name().name()),
    }
}

fn said_in_extension(
    xml: &Xml<'_>,
    node: Node<'_, '_>,
    field: &str,
    item: Option<&mut Item>,
) -> Result<(), ExchangeError> {
    let name = node.tag_name().name();
    match item {
        Some(item) if is_ours(node, name) => {
            let taken = xml.content(node, field, |it| item_take(&item.about, name, it))?;
            if let Some(about) = taken {
                item.about = about;
            }
        }
        _ => xml.leave_out(name),
    }
    Ok(())
}

fn item_take(about: &About, name: &str, text: &str) -> Result<About, Sentence> {
    let mut about = about.clone();
    about.take(name, &text.into())?;
    Ok(about)
}

fn is_ours(node: Node<'_, '_>, name: &str) -> bool {
    node.tag_name().namespace() == Some(OURS) && node.tag_name().name() == name
}

/// A route as one path; a track as one path a segment, for between them nobody knows where it went.
fn line_items(
    xml: &Xml<'_>,
    node: Node<'_, '_>,
    field: &str,
    items: &mut Vec<Item>,
) -> Result<(), ExchangeError> {
    let route = own_name(node) == "rte";
    let mut line =
        Item { role: route.then_some(Role::Route), shape: Shape::Path(Vec::new()), about: About::default() };
    let mut paths = Vec::new();
    let mut points = Vec::new();
    for inner in elements(node) {
        match own_name(inner) {
            "rtept" if route => {
                points.push(spot(xml, inner, &format!("{field}.rtept[{}]", points.len()), None)?)
            }
            "trkseg" if !route => {
                let segment = format!("{field}.trkseg[{}]", paths.len());
                let mut path = Vec::new();
                for point in elements(inner) {
                    match own_name(point) {
                        "trkpt" => {
                            path.push(spot(xml, point, &format!("{segment}.trkpt[{}]", path.len()), None)?)
                        }
                        _ => xml.leave_out(point.tag_name().name()),
                    }
                }
                paths.push(path);
            }
            "extensions" => {
                for property in elements(inner) {
                    said_in_extension(xml, property, field, Some(&mut line))?;
                }
            }
            _ => said(xml, inner, Some(&mut line)),
        }
    }
    if route {
        line.role = Some(Role::Route);
        paths.push(points);
    }
    items.extend(paths.into_iter().map(|path| Item { shape: Shape::Path(path), ..line.clone() }));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(drawing: &Drawing) -> Vec<(Option<&str>, Spot)> {
        let place = |item: &'_ Item| match item.shape {
            Shape::Place(spot) => Some(spot),
            _ => None,
        };
        drawing.items.iter().filter_map(|it| Some((it.about.name.as_deref(), place(it)?))).collect()
    }

    fn paths(drawing: &Drawing) -> Vec<&[Spot]> {
        let path = |item: &'_ Item| match &item.shape {
            Shape::Path(path) => Some(path.len()),
            _ => None,
        };
        let long = drawing.items.iter().filter(|it| path(it).is_some());
        long.map(|it| if let Shape::Path(path) = &it.shape { path.as_slice() } else { &[] }).collect()
    }

    fn refusal(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    /// Written by hand from the schema of GPX 1.1: what a watch or a phone adds in `extensions`.
    const WATCH: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx creator="a watch" version="1.1" xmlns="http://www.topografix.com/GPX/1/1"
     xmlns:x="http://example.invalid/pulse/v2">
  <metadata><name>Evening walk</name><link href="http://example.invalid"/><time>2026-05-16T09:20:00Z</time></metadata>
  <wpt lat="47.531" lon="17.2838"><ele>128.4</ele><magvar>355.2</magvar><name>lower</name><cmt>in the grass</cmt><sym>Flag, Blue</sym></wpt>
  <trk><name>Walk</name><extensions><x:mood>good</x:mood></extensions>
    <trkseg>
      <trkpt lat="47.5310" lon="17.2838"><ele>128</ele><time>2026-05-16T09:30:00.000Z</time>
        <hdop>1.1</hdop><extensions><x:pulse><x:rate>101</x:rate></x:pulse></extensions></trkpt>
      <trkpt lat="47.5311" lon="17.2839"><ele/><time>2026-05-16T11:30:01+02:00</time></trkpt>
    </trkseg>
    <trkseg><trkpt lat="47.5320" lon="17.2850"/></trkseg>
    <trkseg/>
  </trk>
</gpx>"#;

    #[test]
    fn a_watch_with_its_extensions_comes_in() {
        let drawing = read(WATCH).unwrap();
        assert_eq!(drawing.title.as_deref(), Some("Evening walk"));
        let (name, spot) = places(&drawing)[0];
        assert_eq!((name, spot.at.lat, spot.elevation_m), (Some("lower"), 47.531, Some(128.4)));
        assert_eq!(drawing.items[0].about.note.as_deref(), Some("in the grass"));
        let paths = paths(&drawing);
        assert_eq!(paths.iter().map(|path| path.len()).collect::<Vec<_>>(), [2, 1, 0]);
        // Another zone, the same second later.
        let since = paths[0][1].time.unwrap() - paths[0][0].time.unwrap();
        assert_eq!(since.num_milliseconds(), 1000);
        assert_eq!(paths[0][1].elevation_m, None);
        for left_out in ["<magvar>", "<sym>", "<hdop>", "<pulse>", "<mood>", "<link>"] {
            assert!(drawing.not_understood.iter().any(|it| it.contains(left_out)), "{left_out}");
        }
    }

    #[test]
    fn a_prefix_windows_line_ends_and_a_byte_order_mark_change_nothing() {
        let prefixed = WATCH
            .replace("xmlns=", "xmlns:g=")
            .replace("</", "</g:")
            .replace("</g:x:", "</x:")
            .split('<')
            .map(|tag| match tag.chars().next() {
                Some(first) if first.is_ascii_lowercase() && !tag.starts_with("x:") => format!("g:{tag}"),
                _ => tag.to_owned(),
            })
            .collect::<Vec<_>>()
            .join("<");
        assert!(prefixed.contains("<g:trkpt") && prefixed.contains("<x:rate"));
        assert_eq!(read(&prefixed).unwrap(), read(WATCH).unwrap());
        let windows = format!("\u{feff}{}", WATCH.replace('\n', "\r\n"));
        let text = super::super::text_in(Format::Gpx, windows.as_bytes()).unwrap();
        assert_eq!(read(text).unwrap(), read(WATCH).unwrap());
    }

    /// Written by hand from the schema of GPX 1.0: no metadata element, speed and course in the points.
    #[test]
    fn gpx_1_0_and_no_namespace_at_all_come_in() {
        let old = r#"<gpx version="1.0" creator="old"><name>Day</name><time>2026-05-16T09:00:00Z</time>
            <wpt lat="1.5" lon="-180"><name>pad</name></wpt>
            <rte><name>to the car</name><rtept lat="1" lon="2"/><rtept lat="1" lon="3"/></rte>
            <trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-16T09:00:00</time><course>12</course><speed>1.2</speed></trkpt>
            </trkseg></trk></gpx>"#;
        let drawing = read(old).unwrap();
        assert_eq!(drawing.title.as_deref(), Some("Day"));
        assert_eq!(drawing.items.len(), 3);
        assert_eq!(drawing.items[1].role, Some(Role::Route));
        // Without a zone a time of GPX is UTC.
        assert_eq!(time_as_text(paths(&drawing)[1][0].time.unwrap()), "2026-05-16T09:00:00Z");
    }

    #[test]
    fn a_bad_file_is_refused_with_line_and_field() {
        for (good, bad, said) in [
            (
                r#"lat="47.5311" lon="#,
                r#"lat="47,5311" lon="#,
                "GPX, line 10, column 19, trk[0].trkseg[0].trkpt[1].lat: \"47,5311\" is no number; \
                 allowed is -90 to 90, with a decimal point",
            ),
            (
                r#"lon="17.2850""#,
                r#"lon="217.2850""#,
                "GPX, line 12, column 39, trk[0].trkseg[1].trkpt[0].lon: 217.285 is out of range; \
                 allowed is -180 to 180, with a decimal point",
            ),
            (
                r#" lon="17.2850""#,
                "",
                "GPX, line 12, column 13, trk[0].trkseg[1].trkpt[0].lon: missing, but it is needed",
            ),
            (
                "2026-05-16T11:30:01+02:00",
                "11:30",
                "GPX, line 10, column 48, trk[0].trkseg[0].trkpt[1].time: \"11:30\" is no time; \
                 allowed is one as in 2026-05-16T09:22:10Z",
            ),
            (
                "<ele>128.4<",
                "<ele>NaN<",
                "GPX, line 5, column 35, wpt[0].ele: NaN is out of range; \
                 allowed is -1000 to 100000, with a decimal point",
            ),
            (
                r#"version="1.1""#,
                r#"version="2.0""#,
                "GPX, line 2, column 33, gpx.version: \"2.0\"; allowed: 1.0, 1.1",
            ),
            ("</metadata>", "", "GPX, line 15, column 1: expected 'metadata' tag, not 'gpx' at 15:1"),
            (
                "<metadata>",
                "<!DOCTYPE x [<!ENTITY a 'b'>]><metadata>",
                "GPX, line 4, column 3: unknown token at 4:3",
            ),
        ] {
            assert!(WATCH.contains(good), "{good}");
            assert_eq!(refusal(&WATCH.replacen(good, bad, 1)), said);
        }
        let entities = format!("<!DOCTYPE gpx [<!ENTITY a 'b'>]>{}", &WATCH[WATCH.find("<gpx").unwrap()..]);
        assert!(refusal(&entities).contains("DTD"), "{}", refusal(&entities));
        assert_eq!(
            refusal("<kml/>"),
            "GPX, line 1, column 1, kml: the outermost element is <kml>; allowed is <gpx>"
        );
        assert!(refusal("").starts_with("GPX, line 1, column 1: "));
        let deep = format!("<gpx>{}", "<a>".repeat(200_000));
        assert!(refusal(&deep).starts_with("GPX, line 1"));
    }
}
