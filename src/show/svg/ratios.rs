//! Charts of ratios on a log axis round 1.

use super::axis::{OVERHANG, ends, grid, level_axis};
use super::canvas::{Canvas, Fill, Frame, Marker, NOTE, Pen, Swatch, VALUE};
use super::palette::Colour;
use super::scale::{Scale, drawable, drawable_ratio};
use crate::report::figure::{Band, Bands, Direction, Forest, PointInterval, Summary, SummaryKind};

/// Height of one row's drawing.
const ROW: f64 = 20.0;
const GAP: f64 = 7.0;
const INTERVAL: Pen = Pen::new(Colour::Ink, 1.5);
const EDGE: Pen = Pen::new(Colour::Main, 1.5);
/// Round what was believed or expected before anyone looked.
const BEFOREHAND: Pen = EDGE.dashed("4 3");

/// Published effects, what they pool to, and the weight that comes of it.
pub fn forest(figure: &Forest, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let ratios = figure.studies.iter().map(|study| &study.ratio);
    let scale = ratio_scale(&canvas, ratios.chain(figure.summaries.iter().map(|line| &line.ratio)));
    for study in &figure.studies {
        canvas.heading(&study.label, &study.value_text);
        let y = begin_row(&mut canvas, &scale);
        interval(&mut canvas, &scale, &study.ratio, y);
        if drawable_ratio(study.ratio.point) && scale.holds(study.ratio.point) {
            let place = [scale.at(study.ratio.point), y];
            let weight = if drawable(study.weight) { study.weight.clamp(0.0, 1.0) } else { 0.0 };
            match weight > 0.0 {
                true => canvas.marker(place, Marker::Square, 4.0 + 5.0 * libm::sqrt(weight), Colour::Main),
                false => canvas.marker(place, Marker::OpenDot, 4.5, Colour::Main),
            }
        }
    }
    canvas.y += if figure.studies.is_empty() { 0.0 } else { GAP };
    for line in &figure.summaries {
        summary(&mut canvas, &scale, line);
    }
    if !figure.studies.is_empty() || !figure.summaries.is_empty() {
        level_axis(&mut canvas, &scale, "");
        ends(&mut canvas, &format!("← {}", figure.below_one), &format!("{} →", figure.above_one));
        canvas.paragraph(NOTE, &figure.axis);
    }
    for study in &figure.directions {
        direction(&mut canvas, study);
    }
    canvas.finish(&figure.caption)
}

fn ratio_scale<'a>(canvas: &Canvas, ratios: impl Iterator<Item = &'a PointInterval>) -> Scale {
    let values = ratios.flat_map(|ratio| [ratio.point, ratio.low, ratio.high]);
    Scale::ratio(canvas.marks(), values, canvas.left() + OVERHANG, canvas.right() - OVERHANG)
}

/// Grid and room of one row; answers where its middle lies.
fn begin_row(canvas: &mut Canvas, scale: &Scale) -> f64 {
    let top = canvas.y;
    grid(canvas, scale, top, top + ROW, 1.0);
    canvas.y = top + ROW + GAP;
    top + ROW / 2.0
}

fn drawable_interval(ratio: &PointInterval) -> bool {
    drawable_ratio(ratio.low) && drawable_ratio(ratio.high) && ratio.low <= ratio.high
}

/// A line from end to end; an end beyond the axis is an arrow head.
fn interval(canvas: &mut Canvas, scale: &Scale, ratio: &PointInterval, y: f64) {
    if !drawable_interval(ratio) {
        return;
    }
    canvas.line([scale.at(ratio.low), y], [scale.at(ratio.high), y], INTERVAL);
    for (end, inwards) in [(ratio.low, 6.0), (ratio.high, -6.0)] {
        if !scale.holds(end) {
            let x = scale.at(end);
            let head = [[x, y], [x + inwards, y - 4.0], [x + inwards, y + 4.0]];
            canvas.polygon(&head, Fill::Solid(Colour::Ink), None);
        }
    }
}

fn summary(canvas: &mut Canvas, scale: &Scale, line: &Summary) {
    canvas.heading(&line.label, &line.value_text);
    let y = begin_row(canvas, scale);
    let ratio = &line.ratio;
    if !drawable_interval(ratio) {
        return;
    }
    let (low, point, high) = (scale.at(ratio.low), scale.at(ratio.point), scale.at(ratio.high));
    let paper = Fill::Solid(Colour::Paper);
    let main = Fill::Solid(Colour::Main);
    match line.kind {
        SummaryKind::Pooled if drawable_ratio(ratio.point) => {
            canvas.polygon(&[[low, y], [point, y - 8.0], [high, y], [point, y + 8.0]], main, Some(EDGE));
        }
        SummaryKind::Prior => canvas.bar(low, high, y - 5.0, 10.0, paper, Some(BEFOREHAND)),
        SummaryKind::Pooled | SummaryKind::Weight => {
            canvas.bar(low, high, y - 5.0, 10.0, main, Some(EDGE));
        }
    }
    if line.kind != SummaryKind::Pooled && drawable_ratio(ratio.point) {
        canvas.line([point, y - 8.0], [point, y + 8.0], Pen::new(Colour::Paper, 4.0));
        canvas.line([point, y - 8.0], [point, y + 8.0], Pen::new(Colour::Ink, 2.0));
    }
}

fn direction(canvas: &mut Canvas, study: &Direction) {
    canvas.y += 6.0;
    let arrow = match study.harmful {
        Some(true) => "→",
        Some(false) => "←",
        None => "–",
    };
    canvas.heading(&study.label, "");
    canvas.block(canvas.left(), canvas.room(), VALUE, &format!("{arrow} {}", study.words), 4);
}

/// What was expected against what was seen.
pub fn bands(figure: &Bands, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let seen = figure.rows.iter().filter_map(|row| row.seen.as_ref());
    let scale = ratio_scale(&canvas, figure.rows.iter().map(|row| &row.expected).chain(seen));
    for row in &figure.rows {
        canvas.heading(&row.label, &row.value_text);
        band(&mut canvas, &scale, row);
    }
    if !figure.rows.is_empty() {
        level_axis(&mut canvas, &scale, "");
        ends(&mut canvas, &format!("← {}", figure.below_one), &format!("{} →", figure.above_one));
        canvas.paragraph(NOTE, &figure.axis);
        canvas.legend(&[
            (Swatch::Bar(Fill::Solid(Colour::Paper), BEFOREHAND), figure.expected_label.clone()),
            (Swatch::Marker(Marker::Diamond, Colour::Second), figure.seen_label.clone()),
        ]);
    }
    canvas.finish(&figure.caption)
}

/// The expected range as a broken outline above, what was seen as a line with a diamond below.
fn band(canvas: &mut Canvas, scale: &Scale, row: &Band) {
    let top = canvas.y;
    let height = 34.0;
    grid(canvas, scale, top, top + height, 1.0);
    canvas.y = top + height + GAP;
    if drawable_interval(&row.expected) {
        let (low, high) = (scale.at(row.expected.low), scale.at(row.expected.high));
        canvas.bar(low, high, top + 2.0, 13.0, Fill::Solid(Colour::Paper), Some(BEFOREHAND));
    }
    if let Some(seen) = &row.seen {
        let y = top + 25.0;
        interval(canvas, scale, seen, y);
        if drawable_ratio(seen.point) && scale.holds(seen.point) {
            canvas.marker([scale.at(seen.point), y], Marker::Diamond, 5.5, Colour::Second);
        }
    }
}
