//! Charts of one row an item: label and value above, the drawing over the full width below, so that
//! a long name needs no gutter on a telephone.

use super::axis::{OVERHANG, ends, grid, level_axis};
use super::canvas::{Anchor, Canvas, Fill, Frame, Marker, NOTE, Pen, Swatch, VALUE};
use super::palette::Colour;
use super::scale::{Run, Scale, Unit, drawable};
use super::text::width;
use crate::report::figure::{
    BeforeAfter, IntervalBars, PointInterval, Remainder, SectionMeters, Shares, StackedBars,
};

/// Height of a bar.
const BAR: f64 = 16.0;
/// From the end of a row to the next one's label.
const GAP: f64 = 9.0;
/// Room for a bracket at the left.
const BRACKET: f64 = 12.0;
const EDGE: Pen = Pen::new(Colour::Main, 1.2);
const BOUND: Pen = Pen::new(Colour::Ink, 0.8);

/// Ranked options with their intervals.
pub fn interval_bars(figure: &IntervalBars, frame: &Frame) -> String {
    let tied = figure.rows.iter().rev().skip(1).any(|row| row.close_to_next);
    let mut canvas = Canvas::new(frame).with_gutter(if tied { BRACKET } else { 0.0 });
    let scale = interval_scale(&canvas, figure.rows.iter().map(|row| &row.value), Unit::Plain);
    let mut tied_from = None;
    for row in &figure.rows {
        canvas.heading(&row.label, &row.value_text);
        let middle = interval_row(&mut canvas, &scale, &row.value);
        if let Some(above) = tied_from {
            let x = canvas.left() - BRACKET;
            canvas.bracket(x, above + 2.0, middle - 2.0);
        }
        tied_from = row.close_to_next.then_some(middle);
    }
    if !figure.rows.is_empty() {
        level_axis(&mut canvas, &scale, &figure.axis);
        canvas.legend(&interval_legend(figure, tied));
    }
    canvas.finish(&figure.caption)
}

fn interval_legend(figure: &IntervalBars, tied: bool) -> Vec<(Swatch, String)> {
    let hatched = figure.rows.iter().any(|row| drawable(row.value.point) && row.value.spans_zero());
    let tie = tied.then(|| (Swatch::Bracket, figure.tie_note.clone()));
    let hatch = hatched.then(|| (Swatch::Bar(Fill::Hatch, EDGE), figure.spans_zero_note.clone()));
    tie.into_iter().chain(hatch).collect()
}

/// Shares of a whole with simultaneous intervals.
pub fn shares(figure: &Shares, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let scale = interval_scale(&canvas, figure.rows.iter().map(|row| &row.share), Unit::Percent);
    for row in &figure.rows {
        canvas.heading(&row.label, &row.value_text);
        interval_row(&mut canvas, &scale, &row.share);
    }
    if !figure.rows.is_empty() {
        level_axis(&mut canvas, &scale, &figure.axis);
    }
    canvas.finish(&figure.caption)
}

fn interval_scale<'a>(canvas: &Canvas, values: impl Iterator<Item = &'a PointInterval>, unit: Unit) -> Scale {
    let values = values.flat_map(|value| [value.point, value.low, value.high]);
    row_scale(canvas, values.chain([0.0]), unit)
}

fn row_scale(canvas: &Canvas, values: impl Iterator<Item = f64>, unit: Unit) -> Scale {
    let (start, end) = (canvas.left() + OVERHANG, canvas.right() - OVERHANG);
    Scale::linear(canvas.marks(), values, unit, Run::Level, start, end)
}

/// One bar from zero with its whisker; answers where its middle lies.
fn interval_row(canvas: &mut Canvas, scale: &Scale, value: &PointInterval) -> f64 {
    let top = begin_row(canvas, scale, BAR, 0.0);
    let middle = top + BAR / 2.0;
    if drawable(value.point) {
        let fill = if value.spans_zero() { Fill::Hatch } else { Fill::Solid(Colour::Main) };
        canvas.bar(scale.at(0.0), scale.at(value.point), top, BAR, fill, Some(EDGE));
    }
    if drawable(value.low) && drawable(value.high) && value.low <= value.high {
        canvas.whisker(scale.at(value.low), scale.at(value.high), middle);
    }
    middle
}

/// Grid and room of one row; answers where the drawing begins.
fn begin_row(canvas: &mut Canvas, scale: &Scale, height: f64, strong: f64) -> f64 {
    let top = canvas.y + 3.0;
    grid(canvas, scale, top - 3.0, top + height + 3.0, strong);
    canvas.y = top + height + GAP;
    top
}

/// Where the lameness comes from: one bar a factor, split by lesion group.
pub fn stacked_bars(figure: &StackedBars, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let ends = figure.bars.iter().flat_map(|bar| {
        let parts = || bar.parts.iter().copied().filter(|part| drawable(*part));
        [parts().filter(|part| *part < 0.0).sum::<f64>(), parts().filter(|part| *part > 0.0).sum()]
    });
    let rest = figure.remainder.iter().map(|rest| rest.value);
    let scale = row_scale(&canvas, ends.chain(rest).chain([0.0]), Unit::Plain);
    for bar in &figure.bars {
        canvas.heading(&bar.label, &bar.value_text);
        stack(&mut canvas, &scale, &bar.parts);
    }
    if let Some(rest) = &figure.remainder {
        outline(&mut canvas, &scale, rest);
    }
    if !figure.bars.is_empty() || figure.remainder.is_some() {
        level_axis(&mut canvas, &scale, &figure.axis);
        let groups = figure.groups.iter().enumerate();
        canvas.legend(&groups.map(|(n, group)| (Swatch::Group(n), group.clone())).collect::<Vec<_>>());
    }
    canvas.finish(&figure.caption)
}

/// Parts side by side, the negative ones to the left of zero, each with its number where it has room.
fn stack(canvas: &mut Canvas, scale: &Scale, parts: &[f64]) {
    let height = BAR + 4.0;
    let top = begin_row(canvas, scale, height, 0.0);
    let (mut below, mut above) = (0.0, 0.0);
    for (n, part) in parts.iter().enumerate().filter(|(_, part)| drawable(**part) && **part != 0.0) {
        let from = if *part < 0.0 { &mut below } else { &mut above };
        let (x1, x2) = (scale.at(*from), scale.at(*from + part));
        *from += part;
        canvas.bar(x1, x2, top, height, Fill::Group(n), Some(BOUND));
        let key = format!("{}", n + 1);
        if libm::fabs(x2 - x1) > width(&key, VALUE.size) + 9.0 {
            canvas.boxed([(x1 + x2) / 2.0, top + height / 2.0 + 4.5], VALUE, &key);
        }
    }
}

fn outline(canvas: &mut Canvas, scale: &Scale, rest: &Remainder) {
    canvas.heading(&rest.label, &rest.value_text);
    let top = begin_row(canvas, scale, BAR + 4.0, 0.0);
    if drawable(rest.value) {
        let edge = Pen::new(Colour::Ink, 1.2).dashed("4 3");
        let paper = Fill::Solid(Colour::Paper);
        canvas.bar(scale.at(0.0), scale.at(rest.value), top, BAR + 4.0, paper, Some(edge));
    }
}

/// Scores of the sections of a walk. What was not looked at is an empty, broken outline: never the
/// empty bar of a good score.
pub fn section_meters(figure: &SectionMeters, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let scale = row_scale(&canvas, [0.0, 100.0].into_iter(), Unit::Plain);
    for row in &figure.rows {
        canvas.heading(&row.label, &row.value_text);
        match row.score.filter(|score| drawable(*score)) {
            Some(score) => meter(&mut canvas, &scale, score),
            None => unanswered(&mut canvas, &scale, &figure.unanswered_label),
        }
    }
    if !figure.rows.is_empty() {
        level_axis(&mut canvas, &scale, "");
        ends(&mut canvas, &figure.low_label, &figure.high_label);
    }
    canvas.finish(&figure.caption)
}

fn meter(canvas: &mut Canvas, scale: &Scale, score: f64) {
    let top = begin_row(canvas, scale, BAR, 0.0);
    let (x0, x1, x) = (scale.at(0.0), scale.at(100.0), scale.at(score));
    canvas.bar(x0, x1, top, BAR, Fill::Solid(Colour::Paper), Some(Pen::new(Colour::Axis, 1.2)));
    canvas.bar(x0, x, top + 3.0, BAR - 6.0, Fill::Solid(Colour::Main), None);
    canvas.line([x, top - 2.0], [x, top + BAR + 2.0], Pen::new(Colour::Ink, 2.5));
}

fn unanswered(canvas: &mut Canvas, scale: &Scale, words: &str) {
    let top = canvas.y + 3.0;
    let edge = Pen::new(Colour::Axis, 1.2).dashed("3 3");
    let paper = Fill::Solid(Colour::Paper);
    canvas.bar(scale.at(0.0), scale.at(100.0), top, BAR, paper, Some(edge));
    canvas.text([scale.at(50.0), top + 12.5], Anchor::Middle, NOTE, words);
    canvas.y = top + BAR + GAP;
}

/// Exposures on two walks: an open dot before, a filled one after.
pub fn before_after(figure: &BeforeAfter, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let scale = row_scale(&canvas, [0.0, 1.0].into_iter(), Unit::Plain);
    if !figure.rows.is_empty() {
        canvas.legend(&[
            (Swatch::Marker(Marker::OpenDot, Colour::Main), figure.before_label.clone()),
            (Swatch::Marker(Marker::Dot, Colour::Main), figure.after_label.clone()),
        ]);
        canvas.y += GAP;
    }
    for row in &figure.rows {
        canvas.heading(&row.label, &row.verdict);
        dumbbell(&mut canvas, &scale, row.before, row.after);
    }
    if !figure.rows.is_empty() {
        level_axis(&mut canvas, &scale, "");
        ends(&mut canvas, &figure.low_label, &figure.high_label);
    }
    canvas.finish(&figure.caption)
}

fn dumbbell(canvas: &mut Canvas, scale: &Scale, before: Option<f64>, after: Option<f64>) {
    let y = begin_row(canvas, scale, 14.0, 0.0) + 7.0;
    let place = |x: Option<f64>| x.filter(|x| drawable(*x)).map(|x| [scale.at(x), y]);
    let (before, after) = (place(before), place(after));
    if let (Some(from), Some(to)) = (before, after) {
        canvas.line(from, to, Pen::new(Colour::Main, 3.0));
    }
    // The filled dot is the smaller one, so that both show where nothing changed.
    if let Some(at) = before {
        canvas.marker(at, Marker::OpenDot, 7.0, Colour::Main);
    }
    if let Some(at) = after {
        canvas.marker(at, Marker::Dot, 5.0, Colour::Main);
    }
}
