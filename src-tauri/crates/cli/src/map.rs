//! The answer as a picture to take along: pad, sight lines, regions, where to start, what to keep away from.

use crate::Failure;
use crate::words::{self, Units};
use resvg::{tiny_skia, usvg};
use serde_json::Value;
use std::fs;
use std::path::Path as File;
use std::sync::Arc;
use svg::node::element::{Circle, ClipPath, Definitions, Group, Line, Path, Polygon, Rectangle, Text};
use svg::{Document, Node};
use windfall_api::Located;
use windfall_facts::{Answer, Flight, HazardKind, LatLon, PartAnswer};
use windfall_quantities::{LocalFrame, Offset, Position};

/// What a map is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Format {
    /// Scalable, for the browser.
    Svg,
    /// Pixels, for sending around.
    Png,
}

impl Format {
    /// By the ending of the file name.
    pub(crate) fn of(file: &File) -> Result<Self, String> {
        match file.extension().and_then(|it| it.to_str()).map(str::to_ascii_lowercase).as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err("a name that ends in .svg or .png is needed".into()),
        }
    }
}

/// Draws the map into `file`.
pub(crate) fn write(file: &File, located: &Located, units: Units) -> Result<(), Failure> {
    let svg = draw(located, units)?.to_string();
    let bytes = match Format::of(file).map_err(Failure::Other)? {
        Format::Svg => svg.into_bytes(),
        Format::Png => {
            pixels(&svg).map_err(|error| Failure::Other(format!("{}: {error}", file.display())))?
        }
    };
    fs::write(file, bytes).map_err(|error| Failure::File(file.into(), error))
}

const FONT: &str = "DejaVu Sans";

fn pixels(svg: &str) -> Result<Vec<u8>, String> {
    let mut fonts = usvg::fontdb::Database::new();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.load_font_data(dejavu::sans::bold().to_vec());
    let options = usvg::Options { fontdb: Arc::new(fonts), font_family: FONT.into(), ..Default::default() };
    let tree = usvg::Tree::from_str(svg, &options).map_err(|error| error.to_string())?;
    let size = tree.size().to_int_size().scale_by(SHARPNESS).ok_or("the picture is too large")?;
    let mut pixels = tiny_skia::Pixmap::new(size.width(), size.height()).ok_or("the picture is too large")?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(SHARPNESS, SHARPNESS), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| error.to_string())
}

/// Pixels per unit of the drawing: a phone held close wants two.
const SHARPNESS: f32 = 2.0;

/// Width of the drawing; all lengths below are in its units.
const WIDTH: f64 = 1000.0;
const EDGE: f64 = 24.0;
const LINE: f64 = 24.0;
const INK: &str = "#1d2b2a";
const PALE_INK: &str = "#5b6866";
const DANGER: &str = "#b3261e";

/// Okabe and Ito's colours, told apart by colour-blind eyes too (from memory).
const PART_COLOURS: [&str; 4] = ["#0072b2", "#d55e00", "#8a3a86", "#00795c"];

/// The part of the field that is drawn, and where it lies on the paper.
struct View {
    frame: LocalFrame,
    west_m: f64,
    north_m: f64,
    per_m: f64,
    top: f64,
    height: f64,
}

impl View {
    /// Everything a walker needs in sight: the regions rather than the ends of sight lines.
    fn of(answer: &Answer, top: f64) -> Result<Self, Failure> {
        let pad = Position::new(answer.pad.lat, answer.pad.lon)
            .map_err(|error| Failure::Other(format!("pad: {error}")))?;
        let frame = LocalFrame::about(pad);
        let mut places = vec![answer.pad, answer.from];
        for part in &answer.parts {
            places.extend([part.aim, LatLon { lat: part.approach.lat, lon: part.approach.lon }]);
            let shapes = part.regions.iter().flat_map(|region| lines_of(&region.geometry));
            places.extend(shapes.flat_map(|shape| shape.places));
        }
        let offsets: Vec<Offset> = places.iter().filter_map(|&place| offset(&frame, place)).collect();
        let range = |of: fn(&Offset) -> f64| {
            let low = offsets.iter().map(of).fold(f64::INFINITY, f64::min);
            let high = offsets.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
            let margin = ((high - low) * 0.12).max(40.0);
            (low - margin, high + margin)
        };
        let ((west_m, east_m), (south_m, north_m)) = (range(|it| it.east_m), range(|it| it.north_m));
        let width = WIDTH - 2.0 * EDGE;
        let height = (width * (north_m - south_m) / (east_m - west_m)).clamp(560.0, 1150.0);
        let per_m = (width / (east_m - west_m)).min(height / (north_m - south_m));
        Ok(Self {
            frame,
            west_m: f64::midpoint(west_m, east_m) - width / per_m / 2.0,
            north_m: f64::midpoint(north_m, south_m) + height / per_m / 2.0,
            per_m,
            top,
            height,
        })
    }

    fn point(&self, place: LatLon) -> Option<(f64, f64)> {
        let Offset { east_m, north_m } = offset(&self.frame, place)?;
        Some((EDGE + (east_m - self.west_m) * self.per_m, self.top + (self.north_m - north_m) * self.per_m))
    }

    fn shows(&self, (x, y): (f64, f64)) -> bool {
        (EDGE..=WIDTH - EDGE).contains(&x) && (self.top..=self.top + self.height).contains(&y)
    }

    fn path(&self, geometry: &Value) -> Path {
        let mut data = String::new();
        for line in lines_of(geometry) {
            let mut letter = 'M';
            for (x, y) in line.places.iter().filter_map(|&place| self.point(place)) {
                data.push_str(&format!("{letter}{x:.1} {y:.1}"));
                letter = 'L';
            }
            if line.closed {
                data.push('Z');
            }
        }
        Path::new().set("d", data).set("fill-rule", "evenodd").set("stroke-linejoin", "round")
    }

    /// Where on the paper the name of a shape may stand, best first: from the middle of what is seen of it outwards.
    fn spots(&self, geometry: &Value) -> Vec<(f64, f64)> {
        let outlines = lines_of(geometry);
        let is_area = outlines.iter().any(|line| line.closed);
        let lines: Vec<Vec<(f64, f64)>> = outlines
            .iter()
            .map(|line| line.places.iter().filter_map(|&place| self.point(place)).collect())
            .collect();
        let mut spots: Vec<(f64, f64)> = if is_area {
            let width = WIDTH - 2.0 * EDGE;
            let grid = (1..40_u32).flat_map(|column| (1..40_u32).map(move |row| (column, row)));
            grid.map(|(column, row)| {
                (EDGE + width * f64::from(column) / 40.0, self.top + self.height * f64::from(row) / 40.0)
            })
            .filter(|&spot| is_inside(&lines, spot))
            .collect()
        } else {
            let steps = |ends: &[(f64, f64)]| {
                let (a, b) = (ends[0], ends[ends.len() - 1]);
                (0..=40).map(move |step| between(a, b, f64::from(step) / 40.0))
            };
            lines
                .iter()
                .flat_map(|line| line.windows(line.len().clamp(1, 2)))
                .flat_map(steps)
                .filter(|&spot| self.shows(spot))
                .collect()
        };
        let count = rows(spots.len()).max(1.0);
        let (x, y) = spots.iter().fold((0.0, 0.0), |sum, it| (sum.0 + it.0 / count, sum.1 + it.1 / count));
        spots.sort_by(|a, b| (a.0 - x).hypot(a.1 - y).total_cmp(&(b.0 - x).hypot(b.1 - y)));
        spots
    }
}

/// Even-odd rule over all rings.
fn is_inside(rings: &[Vec<(f64, f64)>], (x, y): (f64, f64)) -> bool {
    let crossings = rings
        .iter()
        .flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)))
        .filter(|((ax, ay), (bx, by))| (*ay > y) != (*by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax));
    crossings.count() % 2 == 1
}

fn offset(frame: &LocalFrame, place: LatLon) -> Option<Offset> {
    Position::new(place.lat, place.lon).ok().map(|place| frame.offset_of(place))
}

fn between((ax, ay): (f64, f64), (bx, by): (f64, f64), share: f64) -> (f64, f64) {
    (ax + (bx - ax) * share, ay + (by - ay) * share)
}

/// A line or ring of a geometry.
struct Outline {
    places: Vec<LatLon>,
    closed: bool,
}

/// The lines and rings of a GeoJSON geometry; a point is a line of one place. The swap from [lon, lat] is here.
fn lines_of(geometry: &Value) -> Vec<Outline> {
    fn place(position: &Value) -> Option<LatLon> {
        Some(LatLon { lat: position.get(1)?.as_f64()?, lon: position.get(0)?.as_f64()? })
    }
    fn gather(coordinates: &Value, closed: bool, into: &mut Vec<Outline>) {
        let Some(list) = coordinates.as_array() else { return };
        let places: Vec<LatLon> = list.iter().filter_map(place).collect();
        if places.is_empty() {
            list.iter().for_each(|inner| gather(inner, closed, into));
        } else {
            into.push(Outline { places, closed });
        }
    }
    let mut outlines = Vec::new();
    let (Some(kind), Some(coordinates)) = (geometry["type"].as_str(), geometry.get("coordinates")) else {
        return outlines;
    };
    match place(coordinates) {
        Some(point) => outlines.push(Outline { places: vec![point], closed: false }),
        None => gather(coordinates, kind.ends_with("Polygon"), &mut outlines),
    }
    outlines
}

/// Names on the map, each where it covers no other.
struct Labels {
    taken: Vec<[f64; 4]>,
    ink: Group,
}

impl Labels {
    fn new() -> Self {
        Self { taken: Vec::new(), ink: Group::new() }
    }

    /// Keeps names off a rectangle: left, top, right, bottom.
    fn keep_off(&mut self, area: [f64; 4]) {
        self.taken.push(area);
    }

    /// Keeps names off a mark.
    fn keep_clear(&mut self, (x, y): (f64, f64), radius: f64) {
        self.taken.push([x - radius, y - radius, x + radius, y + radius]);
    }

    /// Writes `words` beside a mark of radius `gap`, on the first side that is free.
    fn name(
        &mut self,
        view: &View,
        (x, y): (f64, f64),
        gap: f64,
        words: &str,
        colour: &str,
        size: f64,
    ) -> bool {
        let wide = breadth(words, size) + 4.0;
        let high = size * 1.2;
        let sides = [
            (gap, -high / 2.0),
            (-gap - wide, -high / 2.0),
            (-wide / 2.0, -gap - high),
            (-wide / 2.0, gap),
            (gap * 0.7, gap * 0.7),
            (gap * 0.7, -gap * 0.7 - high),
            (-gap * 0.7 - wide, gap * 0.7),
            (-gap * 0.7 - wide, -gap * 0.7 - high),
        ];
        let boxes = sides.map(|(dx, dy)| [x + dx, y + dy, x + dx + wide, y + dy + high]);
        let is_free = |it: &&[f64; 4]| {
            let [left, top, right, bottom] = **it;
            view.shows((left, top))
                && view.shows((right, bottom))
                && !self.taken.iter().any(|no| left < no[2] && no[0] < right && top < no[3] && no[1] < bottom)
        };
        // A name for which there is no room is left out: the words say it too.
        // On an area (a negative gap) there is only the middle.
        let allowed = if gap < 0.0 { 1 } else { boxes.len() };
        let Some(&spot) = boxes.iter().take(allowed).find(is_free) else { return false };
        self.taken.push(spot);
        let label = text(f64::midpoint(spot[0], spot[2]), spot[1] + size, words, size, colour)
            .set("text-anchor", "middle")
            .set("font-weight", "bold")
            .set("stroke", "#ffffff")
            .set("stroke-width", 4)
            .set("stroke-linejoin", "round")
            .set("paint-order", "stroke");
        self.ink.append(label);
        true
    }
}

/// About how wide bold words are: six tenths of the size a letter.
fn breadth(words: &str, size: f64) -> f64 {
    f64::from(u32::try_from(words.chars().count()).unwrap_or(u32::MAX)) * size * 0.6
}

fn text(x: f64, y: f64, words: &str, size: f64, colour: &str) -> Text {
    Text::new(words)
        .set("x", format!("{x:.1}"))
        .set("y", format!("{y:.1}"))
        .set("font-size", size)
        .set("font-family", format!("{FONT}, Verdana, sans-serif"))
        .set("fill", colour)
}

fn draw(located: &Located, units: Units) -> Result<Document, Failure> {
    let Located { flight, answer } = located;
    let title = flight.title.as_deref().or(flight.rocket.name.as_deref()).unwrap_or("Where it may lie");
    let cautions: Vec<String> =
        answer.cautions.iter().flat_map(|it| wrapped(&format!("! {it}"), 15.0)).collect();
    let top = 58.0 + rows(cautions.len()) * LINE;
    let title_size = (WIDTH - 2.0 * EDGE) / breadth(title, 1.0);
    let title_size = title_size.min(26.0);
    let view = View::of(answer, top)?;
    let groups = words::together(flight, &answer.parts);
    let bottom = top + view.height;
    let height = bottom + 34.0 + rows(groups.len() + 1) * LINE * 1.15 + 10.0;

    let mut paper = Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {height:.0}"))
        .set("width", WIDTH)
        .set("height", format!("{height:.0}"))
        .add(svg::node::element::Title::new(title))
        .add(rectangle(0.0, 0.0, WIDTH, height).set("fill", "#ffffff"))
        .add(text(EDGE, 40.0, title, title_size, INK).set("font-weight", "bold"));
    for (caution, row) in cautions.iter().zip(1_u32..) {
        let y = 44.0 + f64::from(row) * LINE;
        paper = paper.add(text(EDGE, y, caution, 15.0, DANGER).set("font-weight", "bold"));
    }
    let window = rectangle(EDGE, top, WIDTH - 2.0 * EDGE, view.height);
    Ok(paper
        .add(Definitions::new().add(ClipPath::new().set("id", "map").add(window.clone())))
        .add(window.clone().set("fill", "#f3f1e7"))
        .add(map(&view, flight, answer, &groups))
        .add(window.set("fill", "none").set("stroke", INK).set("stroke-width", 1.5))
        .add(north(&view, answer.declination_deg))
        .add(scale(&view, units))
        .add(legend(flight, answer, &groups, bottom + 34.0, units)))
}

fn map(view: &View, flight: &Flight, answer: &Answer, groups: &[Vec<&PartAnswer>]) -> Group {
    let field = flight.field.as_ref();
    let mut ink = Group::new().set("clip-path", "url(#map)");
    let mut labels = Labels::new();
    // Room for the arrow and the scale bar.
    labels.keep_clear((WIDTH - EDGE - 50.0, view.top + 60.0), 60.0);
    let bottom = view.top + view.height;
    labels.keep_off([EDGE, bottom - 62.0, EDGE + 240.0, bottom]);
    let marks = marks(view, flight, answer, groups, &mut labels);
    if let Some(outline) = field.and_then(|field| field.outline.as_ref()) {
        let ground = view.path(outline).set("fill", "#e4ecd2").set("stroke", "#7d9455");
        ink.append(ground.set("stroke-width", 2).set("stroke-dasharray", "10 5"));
    }
    // Areas below lines: a power line through trees must be seen.
    let (areas, lines): (Vec<_>, Vec<_>) =
        field.into_iter().flat_map(|field| &field.hazards).partition(|hazard| is_area(&hazard.geometry));
    for hazard in areas.into_iter().chain(lines) {
        for stroke in hazard_ink(view, hazard.kind, &hazard.geometry) {
            ink.append(stroke);
        }
    }
    for (group, colour) in groups.iter().zip(PART_COLOURS.iter().cycle()) {
        let Some(part) = group.first() else { continue };
        let mut regions: Vec<_> = part.regions.iter().collect();
        regions.sort_by(|a, b| b.probability.total_cmp(&a.probability)); // the smallest on top
        for region in regions {
            let shape = view.path(&region.geometry).set("fill", *colour).set("fill-opacity", 0.2);
            ink.append(shape.set("stroke", *colour).set("stroke-width", 1.6));
        }
    }
    for sight in &answer.sight_lines {
        let (Some((x1, y1)), Some((x2, y2))) = (view.point(sight.from), view.point(sight.to)) else {
            continue;
        };
        let is_track = sight.moment == "track";
        let line = Line::new().set("x1", x1).set("y1", y1).set("x2", x2).set("y2", y2).set("stroke", INK);
        let line = line.set("stroke-width", if is_track { 0.8 } else { 2.0 });
        ink.append(line.set("stroke-dasharray", "2 7").set("stroke-linecap", "round"));
        let seen: Vec<_> = (0..=60)
            .map(|step| between((x1, y1), (x2, y2), f64::from(step) / 60.0))
            .filter(|&point| view.shows(point))
            .collect();
        if let (Some(&spot), false) = (seen.get(seen.len() * 4 / 5), is_track) {
            labels.name(view, spot, 8.0, moment(&sight.moment), INK, 14.0);
        }
    }
    // No name stands across a road or a line, where it might be taken for the name of that.
    for hazard in field.into_iter().flat_map(|field| &field.hazards).filter(|it| !is_area(&it.geometry)) {
        view.spots(&hazard.geometry).into_iter().for_each(|spot| labels.keep_clear(spot, 5.0));
    }
    for hazard in field.into_iter().flat_map(|field| &field.hazards) {
        let kind = words::hazard(hazard.kind);
        let name = hazard.name.as_ref().map_or_else(|| kind.to_owned(), |name| format!("{name} ({kind})"));
        // On an area, beside a line.
        let gap = if is_area(&hazard.geometry) { -breadth(&name, 14.0) / 2.0 } else { 9.0 };
        view.spots(&hazard.geometry).into_iter().any(|at| labels.name(view, at, gap, &name, DANGER, 14.0));
    }
    ink.add(marks).add(labels.ink)
}

fn moment(moment: &str) -> &str {
    match moment {
        "apogee" => "highest point",
        "deployment" => "opening",
        "descent" => "coming down",
        "lost" => "last seen",
        "landed" => "seen to land",
        other => other,
    }
}

fn is_area(geometry: &Value) -> bool {
    geometry["type"].as_str().is_some_and(|kind| kind.ends_with("Polygon"))
}

fn hazard_ink(view: &View, kind: HazardKind, geometry: &Value) -> Vec<Path> {
    let (colour, fill) = match kind {
        HazardKind::Road => ("#77716a", "#cfcac1"),
        HazardKind::Railway | HazardKind::PowerLine => ("#4a4540", "#d8d4cc"),
        HazardKind::Water => ("#3a86b8", "#b5d8ec"),
        HazardKind::Trees => ("#3f7a46", "#b9d7a8"),
        HazardKind::Buildings => ("#6e625a", "#c9bcb0"),
        HazardKind::Crop => ("#a8862b", "#efdf9f"),
        HazardKind::Livestock | HazardKind::PrivateLand | HazardKind::Other => (DANGER, "#f1d6cf"),
    };
    let stroke = |colour: &str, width: f64| {
        let path = view.path(geometry).set("fill", "none").set("stroke", colour);
        path.set("stroke-width", width).set("stroke-linecap", "round")
    };
    if is_area(geometry) {
        return vec![view.path(geometry).set("fill", fill).set("stroke", colour).set("stroke-width", 1.5)];
    }
    match kind {
        HazardKind::Road => vec![stroke(colour, 9.0), stroke("#fbfaf7", 6.0)],
        HazardKind::Railway => {
            vec![
                stroke(colour, 6.0),
                stroke("#ffffff", 3.5).set("stroke-dasharray", "9 9").set("stroke-linecap", "butt"),
            ]
        }
        HazardKind::PowerLine => {
            vec![stroke(colour, 1.6), stroke(DANGER, 6.0).set("stroke-dasharray", "0.1 26")]
        }
        _ => vec![stroke(colour, 5.0)],
    }
}

fn marks(
    view: &View,
    flight: &Flight,
    answer: &Answer,
    groups: &[Vec<&PartAnswer>],
    labels: &mut Labels,
) -> Group {
    let mut ink = Group::new();
    let mut named = Vec::new();
    if let Some((x, y)) = view.point(answer.pad) {
        let corners =
            format!("{x:.1},{:.1} {:.1},{:.1} {:.1},{:.1}", y - 13.0, x + 11.0, y + 8.0, x - 11.0, y + 8.0);
        let mark = Polygon::new().set("points", corners).set("fill", INK).set("stroke", "#ffffff");
        ink.append(mark.set("stroke-width", 2).set("stroke-linejoin", "round"));
        named.push(((x, y), 14.0, "pad".to_owned(), INK));
    }
    if let (true, Some((x, y))) = (answer.from != answer.pad, view.point(answer.from)) {
        ink.append(disc(x, y, 9.0).set("fill", "#2a6df4").set("stroke", "#ffffff").set("stroke-width", 3));
        named.push(((x, y), 14.0, "you".to_owned(), "#1b4fb8"));
    }
    for (group, colour) in groups.iter().zip(PART_COLOURS.iter().cycle()) {
        let Some(part) = group.first() else { continue };
        let Some((x, y)) = view.point(part.aim) else { continue };
        let stop = view.point(LatLon { lat: part.approach.lat, lon: part.approach.lon });
        if let (Some((x, y)), true) = (stop, part.approach.caution.is_some()) {
            ink.append(disc(x, y, 8.0).set("fill", "#ffffff").set("stroke", DANGER).set("stroke-width", 4));
            named.push(((x, y), 13.0, "stop here first".to_owned(), DANGER));
        }
        ink.append(disc(x, y, 13.0).set("fill", "#ffffff").set("stroke", *colour).set("stroke-width", 4));
        ink.append(disc(x, y, 5.0).set("fill", *colour));
        let name = if words::is_found(flight, part) {
            format!("{} (found)", words::names(group))
        } else {
            format!("start here: {}", words::names(group))
        };
        named.push(((x, y), 20.0, name, *colour));
    }
    for (point, radius, ..) in &named {
        labels.keep_clear(*point, radius * 0.8);
    }
    for (point, radius, name, colour) in named.iter().rev() {
        labels.name(view, *point, *radius, name, colour, 17.0);
    }
    ink
}

fn disc(x: f64, y: f64, radius: f64) -> Circle {
    Circle::new().set("cx", format!("{x:.1}")).set("cy", format!("{y:.1}")).set("r", radius)
}

fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Rectangle {
    Rectangle::new().set("x", x).set("y", y).set("width", width).set("height", height)
}

/// True north is up; a second, thin needle shows where a compass points.
fn north(view: &View, declination_deg: f64) -> Group {
    let (x, y) = (WIDTH - EDGE - 50.0, view.top + 54.0);
    let needle = |points: &str, colour: &str| Polygon::new().set("points", points).set("fill", colour);
    let compass = Line::new().set("x1", 0).set("y1", 24).set("x2", 0).set("y2", -34).set("stroke", DANGER);
    let side = if declination_deg < 0.0 { "W" } else { "E" };
    Group::new()
        .set("transform", format!("translate({x} {y})"))
        .add(disc(0.0, 0.0, 40.0).set("fill", "#ffffff").set("fill-opacity", 0.85).set("stroke", INK))
        .add(needle("0,-26 8,22 0,15", INK))
        .add(needle("0,-26 -8,22 0,15", PALE_INK))
        .add(compass.set("stroke-width", 1.5).set("transform", format!("rotate({declination_deg:.1})")))
        .add(text(0.0, -28.0, "N", 13.0, INK).set("text-anchor", "middle").set("font-weight", "bold"))
        .add(
            text(0.0, 58.0, &format!("compass {:.0}° {side}", declination_deg.abs()), 12.0, DANGER)
                .set("text-anchor", "middle")
                .set("stroke", "#ffffff")
                .set("stroke-width", 3)
                .set("paint-order", "stroke"),
        )
}

fn scale(view: &View, units: Units) -> Group {
    let unit_m = if units == Units::Metric { 1.0 } else { 0.9144 };
    let longest = 190.0 / view.per_m / unit_m;
    let ten = 10_f64.powf(longest.log10().floor());
    let length = [5.0, 2.0, 1.0].into_iter().map(|step| step * ten).find(|&it| it <= longest).unwrap_or(ten);
    let (x, y, wide) = (EDGE + 26.0, view.top + view.height - 26.0, length * unit_m * view.per_m);
    let words = match units {
        Units::Metric if length >= 1000.0 => format!("{:.0} km", length / 1000.0),
        Units::Metric => format!("{length:.0} m"),
        Units::Imperial => format!("{length:.0} yd"),
    };
    Group::new()
        .add(
            rectangle(x - 12.0, y - 30.0, wide + 24.0, 46.0)
                .set("fill", "#ffffff")
                .set("fill-opacity", 0.85)
                .set("rx", 6),
        )
        .add(rectangle(x, y, wide, 7.0).set("fill", "#ffffff").set("stroke", INK).set("stroke-width", 1.5))
        .add(rectangle(x, y, wide / 2.0, 7.0).set("fill", INK))
        .add(
            text(x + wide / 2.0, y - 8.0, &words, 15.0, INK)
                .set("text-anchor", "middle")
                .set("font-weight", "bold"),
        )
}

fn legend(flight: &Flight, answer: &Answer, groups: &[Vec<&PartAnswer>], y: f64, units: Units) -> Group {
    let mut ink = Group::new();
    for ((group, colour), row) in groups.iter().zip(PART_COLOURS.iter().cycle()).zip(0_u32..) {
        let Some(part) = group.first() else { continue };
        let y = y + f64::from(row) * LINE * 1.15;
        ink.append(
            disc(EDGE + 12.0, y - 5.0, 7.0)
                .set("fill", "#ffffff")
                .set("stroke", *colour)
                .set("stroke-width", 4),
        );
        let words = format!(
            "{}{}: {} at {} on the compass ({} true) from {}",
            words::names(group),
            if words::is_found(flight, part) { ", found" } else { "" },
            units.length(part.distance_m),
            words::bearing(part.bearing_magnetic_deg),
            words::bearing(part.bearing_true_deg),
            if answer.from == answer.pad { "the pad" } else { "where you stand" },
        );
        ink.append(text(EDGE + 32.0, y, &words, 16.0, INK).set("font-weight", "bold"));
    }
    let levels: Vec<String> = answer.parts.first().map_or_else(Vec::new, |part| {
        let mut levels: Vec<f64> = part.regions.iter().map(|region| region.probability).collect();
        levels.sort_by(f64::total_cmp);
        levels.into_iter().map(windfall_facts::chance).collect()
    });
    if levels.is_empty() {
        return ink;
    }
    let y = y + rows(groups.len()) * LINE * 1.15;
    let words =
        format!("Shaded, from dark to light: the smallest areas that hold it with {}.", levels.join(" and "));
    ink.add(text(EDGE, y, &words, 14.0, PALE_INK))
}

fn wrapped(words: &str, size: f64) -> Vec<String> {
    let columns = (0..).take_while(|&count| f64::from(count) * size * 0.66 < WIDTH - 2.0 * EDGE).count();
    textwrap::wrap(words, columns).into_iter().map(|line| line.into_owned()).collect()
}

fn rows(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn rings_with_holes_are_read_in_the_order_of_geojson() {
        // RFC 7946 section 3.1.1: a position is longitude, latitude.
        let square = json!({"type": "Polygon", "coordinates": [
            [[8.0, 47.0], [8.1, 47.0], [8.1, 47.1], [8.0, 47.0]], [[8.01, 47.01], [8.02, 47.01], [8.02, 47.02], [8.01, 47.01]]]});
        let rings = lines_of(&square);
        assert!(rings.len() == 2 && rings.iter().all(|ring| ring.closed));
        assert_eq!(rings[0].places[1], LatLon { lat: 47.0, lon: 8.1 });
        assert_eq!(lines_of(&json!({"type": "Point", "coordinates": [8.0, 47.0]})).len(), 1);
        assert!(lines_of(&Value::Null).is_empty());
    }

    #[test]
    fn a_hole_is_outside() {
        let square = |low: f64, high: f64| vec![(low, low), (high, low), (high, high), (low, high)];
        let rings = [square(0.0, 9.0), square(3.0, 6.0)];
        assert!(
            is_inside(&rings, (1.0, 1.0))
                && !is_inside(&rings, (4.0, 4.0))
                && !is_inside(&rings, (10.0, 4.0))
        );
    }

    #[test]
    fn labels_are_drawn_without_any_font_of_the_machine() {
        let paper = Document::new().set("width", 100).set("height", 40);
        let blank = pixels(&paper.clone().to_string()).unwrap();
        let named = pixels(&paper.add(text(5.0, 30.0, "pad", 24.0, INK)).to_string()).unwrap();
        let ink = |png: &[u8]| {
            tiny_skia::Pixmap::decode_png(png).unwrap().pixels().iter().filter(|it| it.alpha() > 0).count()
        };
        assert_eq!(ink(&blank), 0);
        assert!(ink(&named) > 200);
    }
}
