//! The one place that writes SVG: elements, colours, the frame round a chart.

use std::fmt;

use super::palette::{Colour, GROUPS, HATCH, Tile};
use super::text::{BODY, LEADING, Marks, SMALL, clean, shorten, width, wrap};
use crate::model::words::Words;
use crate::report::figure::Caption;

/// Room left and right of everything.
const MARGIN: f64 = 8.0;
/// Width and height of a swatch in a legend.
const SWATCH: (f64, f64) = (26.0, 14.0);

/// How a chart is set on the page.
#[derive(Debug, Clone)]
pub struct Frame {
    id: String,
    width: f64,
    class: &'static str,
    marks: Marks,
    /// What is said where there is nothing to draw.
    empty: String,
}

impl Frame {
    /// A chart for a telephone, 360 units wide. `id` begins the ids of all that is in the chart, and
    /// must differ between the charts of one page; anything but letters, digits, `-` and `_` is
    /// left out of it.
    pub fn phone(words: &Words, id: &str) -> Self {
        Frame::new(words, id, 360.0, "ch")
    }

    /// A chart for the full width of a printed page or a large screen, 640 units wide.
    pub fn wide(words: &Words, id: &str) -> Self {
        Frame::new(words, id, 640.0, "ch ch-wide")
    }

    fn new(words: &Words, id: &str, width: f64, class: &'static str) -> Self {
        Frame { id: safe_id(id), width, class, marks: Marks::of(words), empty: words.word("figure.empty") }
    }
}

fn safe_id(id: &str) -> String {
    let kept: String = id.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')).collect();
    if kept.starts_with(|c: char| c.is_ascii_alphabetic()) { kept } else { format!("chart{kept}") }
}

/// A coordinate, rounded to a tenth so that the bytes are the same on every machine.
struct N(f64);

impl fmt::Display for N {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", libm::round(self.0 * 10.0) / 10.0 + 0.0)
    }
}

/// What fills a surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fill {
    /// One colour.
    Solid(Colour),
    /// May be nothing: hatched.
    Hatch,
    /// The lesion group of this number, from 0.
    Group(usize),
}

/// Kinds of line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pen {
    pub(super) colour: Colour,
    pub(super) width: f64,
    pub(super) dash: Option<&'static str>,
}

impl Pen {
    pub(super) const fn new(colour: Colour, width: f64) -> Self {
        Pen { colour, width, dash: None }
    }

    pub(super) const fn dashed(self, dash: &'static str) -> Self {
        Pen { dash: Some(dash), ..self }
    }
}

/// Shapes of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marker {
    Dot,
    OpenDot,
    Diamond,
    Square,
    Triangle,
}

/// Where a text stands towards its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// Size and colour of a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Face {
    pub(super) size: f64,
    pub(super) colour: Colour,
}

/// Labels.
pub(super) const LABEL: Face = Face { size: BODY, colour: Colour::Ink };
/// Values beside labels.
pub(super) const VALUE: Face = Face { size: SMALL, colour: Colour::Ink };
/// Ticks, axes, notes.
pub(super) const NOTE: Face = Face { size: SMALL, colour: Colour::Soft };

/// What stands before the words of a legend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Swatch {
    Bar(Fill, Pen),
    /// A lesion group with its number.
    Group(usize),
    Line(Pen),
    Marker(Marker, Colour),
    Bracket,
}

/// A chart in the making, filled from the top down.
pub(super) struct Canvas {
    frame: Frame,
    /// Room kept free at the left.
    gutter: f64,
    /// How far down the picture is filled.
    pub(super) y: f64,
    hatch: bool,
    groups: [bool; GROUPS.len()],
    body: String,
}

impl Canvas {
    pub(super) fn new(frame: &Frame) -> Self {
        Canvas {
            frame: frame.clone(),
            gutter: 0.0,
            y: 10.0,
            hatch: false,
            groups: [false; GROUPS.len()],
            body: String::new(),
        }
    }

    /// Keeps room free at the left for brackets.
    pub(super) fn with_gutter(self, gutter: f64) -> Self {
        Canvas { gutter, ..self }
    }

    /// How numbers are written.
    pub(super) fn marks(&self) -> &Marks {
        &self.frame.marks
    }

    /// Left end of what may be drawn on.
    pub(super) fn left(&self) -> f64 {
        MARGIN + self.gutter
    }

    /// Right end of what may be drawn on.
    pub(super) fn right(&self) -> f64 {
        self.frame.width - MARGIN
    }

    /// Width of what may be drawn on.
    pub(super) fn room(&self) -> f64 {
        self.right() - self.left()
    }

    pub(super) fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], pen: Pen) {
        let stroke = stroke(Some(pen));
        self.body += &format!(
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" class=\"{}\"{}/>\n",
            N(x1),
            N(y1),
            N(x2),
            N(y2),
            stroke.0,
            stroke.1
        );
    }

    /// A line through all points, each `[x, y]`.
    pub(super) fn polyline(&mut self, points: &[[f64; 2]], pen: Pen) {
        if points.len() > 1 {
            let (class, attributes) = stroke(Some(pen));
            let points = points_list(points);
            self.body +=
                &format!("<polyline points=\"{points}\" fill=\"none\" class=\"{class}\"{attributes}/>\n");
        }
    }

    pub(super) fn polygon(&mut self, points: &[[f64; 2]], fill: Fill, edge: Option<Pen>) {
        let paint = self.paint(fill, edge);
        let points = points_list(points);
        self.body += &format!("<polygon points=\"{points}\"{paint}/>\n");
    }

    /// A rectangle between two values of x, in either order.
    pub(super) fn bar(&mut self, x1: f64, x2: f64, y: f64, height: f64, fill: Fill, edge: Option<Pen>) {
        let paint = self.paint(fill, edge);
        let (left, right) = (x1.min(x2), x1.max(x2));
        self.body += &format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{paint}/>\n",
            N(left),
            N(y),
            N(right - left),
            N(height)
        );
    }

    /// A point of about the given radius, ringed with paper so that it stands out on lines.
    pub(super) fn marker(&mut self, [x, y]: [f64; 2], marker: Marker, radius: f64, colour: Colour) {
        let ring = Some(Pen::new(Colour::Paper, 1.0));
        let solid = Fill::Solid(colour);
        match marker {
            Marker::Dot => self.circle(x, y, radius, solid, ring),
            Marker::OpenDot => {
                let edge = Some(Pen::new(colour, 2.0));
                self.circle(x, y, radius - 0.5, Fill::Solid(Colour::Paper), edge);
            }
            Marker::Diamond => {
                let r = radius * 1.3;
                self.polygon(&[[x, y - r], [x + r, y], [x, y + r], [x - r, y]], solid, ring);
            }
            Marker::Square => {
                let r = radius * 0.9;
                self.polygon(&[[x - r, y - r], [x + r, y - r], [x + r, y + r], [x - r, y + r]], solid, ring);
            }
            Marker::Triangle => {
                let r = radius * 1.2;
                self.polygon(&[[x, y - r], [x + r, y + r * 0.8], [x - r, y + r * 0.8]], solid, ring);
            }
        }
    }

    fn circle(&mut self, x: f64, y: f64, radius: f64, fill: Fill, edge: Option<Pen>) {
        let paint = self.paint(fill, edge);
        self.body += &format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{paint}/>\n", N(x), N(y), N(radius));
    }

    /// A line with end strokes, haloed with paper so that it shows on a bar too.
    pub(super) fn whisker(&mut self, x1: f64, x2: f64, y: f64) {
        let ends = [[x1, x2], [x1, x1], [x2, x2]];
        let rise = [0.0, 4.0, 4.0];
        for pen in [Pen::new(Colour::Paper, 4.0), Pen::new(Colour::Ink, 1.5)] {
            for ([from, to], rise) in ends.into_iter().zip(rise) {
                self.line([from, y - rise], [to, y + rise], pen);
            }
        }
    }

    /// Text on its base line. Cut where it is wider than the chart, moved where it would stick out.
    pub(super) fn text(&mut self, [x, y]: [f64; 2], anchor: Anchor, face: Face, text: &str) {
        let edge = 2.0;
        let room = self.frame.width - 2.0 * edge;
        let text = shorten(&clean(text), face.size, room);
        if text.is_empty() {
            return;
        }
        let wide = width(&text, face.size);
        let (before, word) = match anchor {
            Anchor::Start => (0.0, ""),
            Anchor::Middle => (wide / 2.0, " text-anchor=\"middle\""),
            Anchor::End => (wide, " text-anchor=\"end\""),
        };
        let x = x.min(self.frame.width - edge - (wide - before)).max(edge + before);
        self.body += &format!(
            "<text x=\"{}\" y=\"{}\"{word} font-size=\"{}\" class=\"ch-f-{}\" fill=\"{}\">{}</text>\n",
            N(x),
            N(y),
            N(face.size),
            face.colour.name(),
            face.colour.hex(),
            escape(&text)
        );
    }

    /// Text in a box of paper, for a place where lines run.
    pub(super) fn boxed(&mut self, [x, y]: [f64; 2], face: Face, text: &str) {
        let text = shorten(&clean(text), face.size, self.room() - 6.0);
        let half = width(&text, face.size) / 2.0 + 3.0;
        let x = x.min(self.right() - half).max(self.left() + half);
        let paper = Fill::Solid(Colour::Paper);
        self.bar(x - half, x + half, y - face.size * 0.86, face.size, paper, None);
        self.text([x, y], Anchor::Middle, face, &text);
    }

    /// Wrapped text over the full width.
    pub(super) fn paragraph(&mut self, face: Face, text: &str) {
        self.block(self.left(), self.room(), face, text, 4);
    }

    /// Wrapped text from `x` on, below what is there.
    pub(super) fn block(&mut self, x: f64, room: f64, face: Face, text: &str, most: usize) {
        for line in wrap(&clean(text), face.size, room, most) {
            self.y += face.size * LEADING;
            self.text([x, self.y - face.size * 0.3], Anchor::Start, face, &line);
        }
    }

    /// A label with its value to the right, or below where both have no room on a line.
    pub(super) fn heading(&mut self, label: &str, value: &str) {
        let value = clean(value);
        let beside = width(&value, VALUE.size) + 12.0;
        let fits = beside < self.room() * 0.5 && !clean(label).is_empty();
        let room = if fits { self.room() - beside } else { self.room() };
        self.block(self.left(), room, LABEL, label, 3);
        if fits {
            let place = [self.right(), self.y - LABEL.size * 0.3];
            self.text(place, Anchor::End, VALUE, &value);
        } else {
            self.block(self.left(), self.room(), VALUE, &value, 3);
        }
        self.y += 2.0;
    }

    /// What shapes, lines and patterns mean, in as many columns as there is room for.
    pub(super) fn legend(&mut self, entries: &[(Swatch, String)]) {
        let gap = 8.0;
        let entries: Vec<(Swatch, String)> = entries
            .iter()
            .map(|(swatch, words)| (*swatch, clean(words)))
            .filter(|(_, words)| !words.is_empty())
            .collect();
        let widest = entries.iter().map(|(_, words)| width(words, NOTE.size)).fold(0.0, f64::max);
        let columns = libm::floor((self.room() + gap) / (widest + SWATCH.0 + 3.0 * gap)).clamp(1.0, 3.0);
        let column = (self.room() + gap) / columns;
        for row in entries.chunks(columns as usize) {
            let top = self.y + 5.0;
            let mut bottom = top;
            for (n, (swatch, words)) in row.iter().enumerate() {
                let x = self.left() + column * n as f64;
                self.swatch(x, top + 2.0, *swatch);
                self.y = top;
                self.block(x + SWATCH.0 + gap, column - SWATCH.0 - 2.0 * gap, NOTE, words, 3);
                bottom = bottom.max(self.y);
            }
            self.y = bottom;
        }
    }

    fn swatch(&mut self, x: f64, y: f64, swatch: Swatch) {
        let (wide, high) = SWATCH;
        let middle = [x + wide / 2.0, y + high / 2.0];
        match swatch {
            Swatch::Bar(fill, edge) => self.bar(x, x + wide, y, high, fill, Some(edge)),
            Swatch::Group(n) => {
                self.bar(x, x + wide, y, high, Fill::Group(n), Some(Pen::new(Colour::Ink, 0.8)));
                self.boxed([middle[0], y + high - 2.5], VALUE, &format!("{}", n + 1));
            }
            Swatch::Line(pen) => self.line([x, middle[1]], [x + wide, middle[1]], pen),
            Swatch::Marker(marker, colour) => self.marker(middle, marker, 5.0, colour),
            Swatch::Bracket => self.bracket(x + 10.0, y, y + high),
        }
    }

    /// An upright bracket that opens to the right.
    pub(super) fn bracket(&mut self, x: f64, y1: f64, y2: f64) {
        let points = [[x + 5.0, y1], [x, y1], [x, y2], [x + 5.0, y2]];
        self.polyline(&points, Pen::new(Colour::Ink, 1.5));
    }

    /// The chart as text. With nothing drawn it says so.
    pub(super) fn finish(mut self, caption: &Caption) -> String {
        if self.body.is_empty() {
            self.y += 12.0;
            self.paragraph(NOTE, &self.frame.empty.clone());
            self.y += 12.0;
        }
        let (id, class) = (&self.frame.id, self.frame.class);
        let defs = self.defs();
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{class}\" viewBox=\"0 0 {} {}\" \
             width=\"100%\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" \
             font-family=\"system-ui, 'Segoe UI', 'Liberation Sans', Arial, sans-serif\">\n\
             <title id=\"{id}-t\">{}</title>\n<desc id=\"{id}-d\">{}</desc>\n{defs}{}</svg>\n",
            N(self.frame.width),
            N(self.y + 6.0),
            escape(&clean(&caption.title)),
            escape(&clean(&caption.description)),
            self.body
        )
    }

    fn defs(&self) -> String {
        let mut defs = String::new();
        if self.hatch {
            defs += &self.tile("h", &HATCH);
        }
        for (n, (used, tile)) in self.groups.iter().zip(&GROUPS).enumerate() {
            if let (true, Some(tile)) = (used, tile) {
                defs += &self.tile(&format!("{}", n + 1), tile);
            }
        }
        if defs.is_empty() { defs } else { format!("<defs>\n{defs}</defs>\n") }
    }

    fn tile(&self, name: &str, tile: &Tile) -> String {
        let paper = Colour::Paper;
        let (size, turn, path) = (tile.size, tile.turn, tile.path);
        let (class, line) = stroke(Some(Pen::new(tile.colour, f64::from(tile.line))));
        format!(
            "<pattern id=\"{}-p{name}\" width=\"{size}\" height=\"{size}\" patternUnits=\"userSpaceOnUse\" \
             patternTransform=\"rotate({turn})\"><rect width=\"{size}\" height=\"{size}\" \
             class=\"ch-f-{}\" fill=\"{}\"/><path d=\"{path}\" class=\"{class}\"{line}/></pattern>\n",
            self.frame.id,
            paper.name(),
            paper.hex()
        )
    }

    /// Class and colours of a surface, beginning with a blank.
    fn paint(&mut self, fill: Fill, edge: Option<Pen>) -> String {
        let (stroke_class, stroke) = stroke(edge);
        let (class, fill) = self.fill(fill);
        let class = format!("{class} {stroke_class}");
        let class = class.trim();
        let class = if class.is_empty() { String::new() } else { format!(" class=\"{class}\"") };
        format!("{class} fill=\"{fill}\"{stroke}")
    }

    /// Class and value of a fill. A pattern has no class, and is defined in the chart once used.
    fn fill(&mut self, fill: Fill) -> (String, String) {
        let solid = |colour: Colour| (format!("ch-f-{}", colour.name()), colour.hex().to_string());
        let id = &self.frame.id;
        match fill {
            Fill::Solid(colour) => solid(colour),
            Fill::Hatch => {
                self.hatch = true;
                (String::new(), format!("url(#{id}-ph)"))
            }
            Fill::Group(0) => solid(Colour::Main),
            Fill::Group(n) => match (GROUPS.get(n), self.groups.get_mut(n)) {
                (Some(Some(_)), Some(used)) => {
                    *used = true;
                    (String::new(), format!("url(#{id}-p{})", n + 1))
                }
                _ => solid(Colour::Paper),
            },
        }
    }
}

/// Class and attributes of a line, the attributes beginning with a blank.
fn stroke(pen: Option<Pen>) -> (String, String) {
    let Some(pen) = pen else { return (String::new(), String::new()) };
    let dash = pen.dash.map_or(String::new(), |dash| format!(" stroke-dasharray=\"{dash}\""));
    (
        format!("ch-s-{}", pen.colour.name()),
        format!(" stroke=\"{}\" stroke-width=\"{}\"{dash}", pen.colour.hex(), N(pen.width)),
    )
}

fn points_list(points: &[[f64; 2]]) -> String {
    points.iter().map(|[x, y]| format!("{},{}", N(*x), N(*y))).collect::<Vec<_>>().join(" ")
}

/// Makes text safe within elements and attributes.
fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
