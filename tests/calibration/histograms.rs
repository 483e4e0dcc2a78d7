//! The histograms of the ranks as a picture: level within the band is right.

use super::BOXES;
use svg::Document;
use svg::node::element::{Group, Line, Rectangle, Style, Text, Title};

const ACROSS: usize = 4;
const WIDTH: f64 = 230.0;
const HEIGHT: f64 = 150.0;
const MARGIN: f64 = 24.0;
const TOP: f64 = 56.0;
/// Tallest column, in units of what is expected.
const TALLEST: f64 = 2.2;

const STYLE: &str = "
text { font: 13px sans-serif; fill: #22302b } .title { font-size: 15px; font-weight: 600 } .small { font-size: 11px }
.paper { fill: #fbfaf6 } .column { fill: #7a8f86 } .band { fill: #22302b; fill-opacity: .13 } .level { stroke: #22302b }
@media (prefers-color-scheme: dark) {
text { fill: #e6ebe8 } .paper { fill: #16201c } .column { fill: #8fa69b } .band { fill: #e6ebe8 } .level { stroke: #e6ebe8 }
}";

fn text(words: &str, class: &str, x: f64, y: f64) -> Text {
    Text::new(words).set("class", class).set("x", x).set("y", y)
}

/// One histogram, its corner at the origin: the columns, the band in which each stays 99 times in 100 by chance alone, and
/// the level expected.
fn histogram(name: &str, boxes: &[f64; BOXES]) -> Group {
    let (width, height) = (WIDTH - MARGIN, HEIGHT - 40.0);
    let n: f64 = boxes.iter().sum();
    let expected = n / BOXES as f64;
    let y = |count: f64| height * (1.0 - (count / expected / TALLEST).min(1.0));
    // Normal approximation of the binomial, 2.576 standard deviations.
    let reach = 2.576 * (expected * (1.0 - 1.0 / BOXES as f64)).sqrt();
    let band = Rectangle::new()
        .set("class", "band")
        .set("width", width)
        .set("y", y(expected + reach))
        .set("height", y((expected - reach).max(0.0)) - y(expected + reach));
    let level =
        Line::new().set("class", "level").set("x2", width).set("y1", y(expected)).set("y2", y(expected));
    let column = width / BOXES as f64;
    let columns = boxes.iter().enumerate().map(|(at, count)| {
        Rectangle::new()
            .set("class", "column")
            .set("x", (at as f64).mul_add(column, 1.0))
            .set("width", column - 2.0)
            .set("y", y(*count))
            .set("height", height - y(*count))
    });
    let group = columns.fold(Group::new(), Group::add).add(band).add(level);
    group
        .add(text(name, "title", 0.0, -6.0).set("style", "font-size: 13px"))
        .add(text("low", "small", 0.0, height + 14.0))
        .add(text("high", "small", width, height + 14.0).set("text-anchor", "end"))
}

/// All quantities in a grid.
pub(crate) fn draw(quantities: &[(String, [f64; BOXES])], flights: usize) -> Document {
    let rows = quantities.len().div_ceil(ACROSS) as f64;
    let (width, height) = (MARGIN + WIDTH * ACROSS as f64, TOP + HEIGHT * rows + 10.0);
    let title = format!("Where the truth stood among the draws, {flights} simulated flights");
    let paper = Document::new()
        .set("viewBox", (0.0, 0.0, width, height))
        .set("width", width)
        .set("height", height)
        .add(Title::new(title.as_str()))
        .add(Style::new(STYLE))
        .add(Rectangle::new().set("class", "paper").set("width", width).set("height", height))
        .add(text(&title, "title", MARGIN, 24.0))
        .add(text(
            "Level is right; humps are doubt overstated, hollows doubt understated. Grey band: 99 in 100 columns by chance.",
            "small",
            MARGIN,
            42.0,
        ));
    quantities.iter().enumerate().fold(paper, |paper, (at, (name, boxes))| {
        let (column, row) = ((at % ACROSS) as f64, (at / ACROSS) as f64);
        let (x, y) = (WIDTH.mul_add(column, MARGIN), HEIGHT.mul_add(row, TOP + 24.0));
        paper.add(histogram(name, boxes).set("transform", format!("translate({x} {y})")))
    })
}
