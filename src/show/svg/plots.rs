//! Charts with a level and an upright axis.

use super::axis::{Plot, level_axis, level_ticks};
use super::canvas::{Anchor, Canvas, Frame, Marker, NOTE, Pen, Swatch, VALUE};
use super::palette::Colour;
use super::scale::{Scale, Unit, drawable};
use super::text::{clean, width};
use crate::report::figure::{ControlChart, Event, Frontier, FrontierStep, Funnel, Moment, Month, Timeline};

const CENTRE: Pen = Pen::new(Colour::Ink, 1.2);
/// The centre of a funnel, whose outer limits are drawn through.
const MEAN: Pen = Pen::new(Colour::Ink, 1.2).dashed("10 3 2 3");
const LIMIT: Pen = Pen::new(Colour::Soft, 1.2).dashed("5 3");
const OUTER: Pen = Pen::new(Colour::Soft, 1.6);
const CURVE: Pen = Pen::new(Colour::Main, 2.0);
const FLAG: Pen = Pen::new(Colour::Second, 2.0).dashed("2 3");

/// Shapes of signals, by the order in which their words first occur.
const SIGNALS: [Marker; 3] = [Marker::Diamond, Marker::Square, Marker::Triangle];

/// Cases month by month, with the farm's mean and each month's limits.
pub fn control_chart(figure: &ControlChart, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    if !figure.months.iter().any(|month| drawable(month.rate)) {
        return canvas.finish(&figure.caption);
    }
    let months = figure.months.iter().flat_map(|month| [month.rate, month.lower, month.upper]);
    let plot = Plot::new(&mut canvas, &figure.axis, months.chain([0.0, figure.centre]));
    let slot = (plot.right - plot.left) / figure.months.len() as f64;
    limits(&mut canvas, &plot, figure, slot);
    let middle = |n: usize| plot.left + slot * (n as f64 + 0.5);
    let rates = figure.months.iter().enumerate();
    runs(&mut canvas, rates.map(|(n, month)| place(middle(n), month.rate, &plot.y)), CURVE);
    let words = signal_words(&figure.months);
    for (n, month) in figure.months.iter().enumerate() {
        if let Some(at) = place(middle(n), month.rate, &plot.y) {
            match month.signal.as_deref() {
                Some(signal) => canvas.marker(at, signal_marker(&words, signal), 5.5, Colour::Second),
                None => canvas.marker(at, Marker::Dot, 3.5, Colour::Main),
            }
        }
    }
    month_labels(&mut canvas, &plot, &figure.months, slot);
    let lines = [
        (Swatch::Line(CENTRE), figure.centre_label.clone()),
        (Swatch::Line(LIMIT), figure.limits_label.clone()),
    ];
    let signals = words.iter().map(|word| {
        let months = figure.months.iter().filter(|month| month.signal.as_deref() == Some(*word));
        let months = months.map(|month| month.label.as_str()).collect::<Vec<_>>().join(", ");
        (Swatch::Marker(signal_marker(&words, word), Colour::Second), format!("{word}: {months}"))
    });
    canvas.legend(&lines.into_iter().chain(signals).collect::<Vec<_>>());
    canvas.finish(&figure.caption)
}

/// Centre line, and the limits as steps, since each month has its own.
fn limits(canvas: &mut Canvas, plot: &Plot, figure: &ControlChart, slot: f64) {
    for side in [|month: &Month| month.lower, |month: &Month| month.upper] {
        let steps = figure.months.iter().enumerate().flat_map(|(n, month)| {
            let (from, to) = (plot.left + slot * n as f64, plot.left + slot * (n as f64 + 1.0));
            [from, to].map(|x| place(x, side(month), &plot.y))
        });
        runs(canvas, steps, LIMIT);
    }
    if drawable(figure.centre) {
        let y = plot.y.at(figure.centre);
        canvas.line([plot.left, y], [plot.right, y], CENTRE);
    }
}

fn signal_words(months: &[Month]) -> Vec<&str> {
    let mut words = Vec::new();
    for word in months.iter().filter_map(|month| month.signal.as_deref()) {
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words
}

fn signal_marker(words: &[&str], word: &str) -> Marker {
    let n = words.iter().position(|known| *known == word).unwrap_or(0);
    SIGNALS.get(n).copied().unwrap_or(Marker::Triangle)
}

/// As many month labels as find room.
fn month_labels(canvas: &mut Canvas, plot: &Plot, months: &[Month], slot: f64) {
    let y = plot.bottom + 4.0;
    canvas.line([plot.left, plot.bottom], [plot.right, plot.bottom], CENTRE);
    let widest = months.iter().map(|month| width(&clean(&month.label), NOTE.size)).fold(1.0, f64::max);
    let every = libm::ceil((widest + 8.0) / slot).clamp(1.0, 1e6) as usize;
    for (n, month) in months.iter().enumerate().step_by(every) {
        let x = plot.left + slot * (n as f64 + 0.5);
        canvas.line([x, plot.bottom], [x, y], CENTRE);
        canvas.text([x, y + NOTE.size], Anchor::Middle, NOTE, &month.label);
    }
    canvas.y = y + NOTE.size + 4.0;
}

/// Where a value lies on the picture, if it can be drawn.
fn place(x: f64, value: f64, scale: &Scale) -> Option<[f64; 2]> {
    drawable(value).then(|| [x, scale.at(value)])
}

/// A line through the places, broken where one is missing.
fn runs(canvas: &mut Canvas, places: impl Iterator<Item = Option<[f64; 2]>>, pen: Pen) {
    let mut run = Vec::new();
    for place in places.chain([None]) {
        match place {
            Some(at) => run.push(at),
            None => canvas.polyline(&std::mem::take(&mut run), pen),
        }
    }
}

/// Farms of a group by their cow-years, with the limits that chance alone would give.
pub fn funnel(figure: &Funnel, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let points: Vec<_> =
        figure.points.iter().filter(|point| drawable(point.cow_years) && drawable(point.rate)).collect();
    if points.is_empty() {
        return canvas.finish(&figure.caption);
    }
    let limits = figure.limits.iter().flat_map(|limit| limit.inner.into_iter().chain(limit.outer));
    let rates = points.iter().map(|point| point.rate);
    let plot = Plot::new(&mut canvas, &figure.y_axis, rates.chain(limits).chain([0.0, figure.centre]));
    let sizes = points.iter().map(|point| point.cow_years);
    let sizes = sizes.chain(figure.limits.iter().map(|limit| limit.cow_years)).chain([0.0]);
    let across = plot.across(&canvas, sizes, Unit::Plain);
    funnel_limits(&mut canvas, &plot, &across, figure);
    for point in points.iter().filter(|point| !point.own) {
        let at = [across.at(point.cow_years), plot.y.at(point.rate)];
        canvas.marker(at, Marker::Dot, 4.0, Colour::Main);
    }
    for point in points.iter().filter(|point| point.own) {
        let at = [across.at(point.cow_years), plot.y.at(point.rate)];
        canvas.marker(at, Marker::Diamond, 6.5, Colour::Second);
    }
    level_axis(&mut canvas, &across, &figure.x_axis);
    let own = points.iter().any(|point| point.own);
    let own = own.then(|| (Swatch::Marker(Marker::Diamond, Colour::Second), figure.own_label.clone()));
    let others = points.iter().any(|point| !point.own);
    let others = others.then(|| (Swatch::Marker(Marker::Dot, Colour::Main), figure.others_label.clone()));
    let lines = [
        (Swatch::Line(MEAN), figure.centre_label.clone()),
        (Swatch::Line(LIMIT), figure.inner_label.clone()),
        (Swatch::Line(OUTER), figure.outer_label.clone()),
    ];
    canvas.legend(&own.into_iter().chain(others).chain(lines).collect::<Vec<_>>());
    canvas.finish(&figure.caption)
}

fn funnel_limits(canvas: &mut Canvas, plot: &Plot, across: &Scale, figure: &Funnel) {
    if drawable(figure.centre) {
        let y = plot.y.at(figure.centre);
        canvas.line([plot.left, y], [plot.right, y], MEAN);
    }
    for side in 0..2 {
        for (pen, outer) in [(LIMIT, false), (OUTER, true)] {
            let curve = figure.limits.iter().map(|limit| {
                let pair = if outer { limit.outer } else { limit.inner };
                let value = pair.get(side).copied().filter(|_| drawable(limit.cow_years))?;
                place(across.at(limit.cow_years), value, &plot.y)
            });
            runs(canvas, curve, pen);
        }
    }
}

/// What each sum of capital brings, as steps; what changes at each step is listed below.
pub fn frontier(figure: &Frontier, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let steps: Vec<&FrontierStep> =
        figure.steps.iter().filter(|step| drawable(step.capital) && drawable(step.brings)).collect();
    if steps.is_empty() {
        return canvas.finish(&figure.caption);
    }
    let plot = Plot::new(&mut canvas, &figure.y_axis, steps.iter().map(|step| step.brings).chain([0.0]));
    let budget = figure.budget.as_ref().filter(|budget| drawable(budget.capital));
    let sums = steps.iter().map(|step| step.capital).chain(budget.map(|budget| budget.capital));
    let across = plot.across(&canvas, sums.chain([0.0]), Unit::Plain);
    step_line(&mut canvas, &plot, &across, &steps);
    if let Some(budget) = budget {
        let x = across.at(budget.capital);
        canvas.line([x, plot.top], [x, plot.bottom], FLAG);
    }
    let keys = step_keys(&mut canvas, &plot, &across, &steps);
    level_axis(&mut canvas, &across, &figure.x_axis);
    if let Some(budget) = budget {
        canvas.legend(&[(Swatch::Line(FLAG), budget.label.clone())]);
    }
    canvas.y += 4.0;
    for (key, label) in keys {
        keyed(&mut canvas, &key, &label);
    }
    canvas.finish(&figure.caption)
}

fn step_line(canvas: &mut Canvas, plot: &Plot, across: &Scale, steps: &[&FrontierStep]) {
    let mut line: Vec<[f64; 2]> = Vec::new();
    for step in steps {
        let (x, y) = (across.at(step.capital), plot.y.at(step.brings));
        if let Some([_, before]) = line.last().copied() {
            line.push([x, before]);
        }
        line.push([x, y]);
    }
    if let Some([_, y]) = line.last().copied() {
        line.push([plot.right, y]);
    }
    canvas.polyline(&line, CURVE);
}

/// Marks the labelled steps, numbers those whose number stands clear of the others, and answers the
/// list of all of them.
fn step_keys(
    canvas: &mut Canvas,
    plot: &Plot,
    across: &Scale,
    steps: &[&FrontierStep],
) -> Vec<(String, String)> {
    let mut taken: Vec<[f64; 2]> = Vec::new();
    let mut keys = Vec::new();
    for step in steps.iter().filter(|step| !clean(&step.label).is_empty()) {
        let key = format!("{}", keys.len() + 1);
        let [x, y] = [across.at(step.capital), plot.y.at(step.brings)];
        canvas.marker([x, y], Marker::Dot, 4.0, Colour::Main);
        // Right below a step there is neither its own line nor the one before.
        let at = [x + 6.0, y + 15.0];
        let clear = |[x, y]: &[f64; 2]| libm::fabs(x - at[0]) > 20.0 || libm::fabs(y - at[1]) > VALUE.size;
        if at[1] < plot.bottom && taken.iter().all(clear) {
            canvas.text(at, Anchor::Start, VALUE, &key);
            taken.push(at);
        }
        keys.push((key, step.label.clone()));
    }
    keys
}

/// One line of a list: its key, and the words beside.
fn keyed(canvas: &mut Canvas, key: &str, words: &str) {
    let indent = 24.0;
    let before = canvas.y;
    let (x, room) = (canvas.left() + indent, canvas.room() - indent);
    canvas.block(x, room, VALUE, words, 3);
    if canvas.y > before {
        canvas.text([canvas.left() + indent - 6.0, before + VALUE.size], Anchor::End, VALUE, key);
        canvas.y += 2.0;
    }
}

/// One figure of a farm over the years, with its intervals and what happened meanwhile.
pub fn timeline(figure: &Timeline, frame: &Frame) -> String {
    let mut canvas = Canvas::new(frame);
    let points = figure.points.iter().filter(|point| drawable(point.year) && drawable(point.value.point));
    let points: Vec<&Moment> = points.collect();
    if points.is_empty() {
        return canvas.finish(&figure.caption);
    }
    let values = points.iter().flat_map(|point| [point.value.point, point.value.low, point.value.high]);
    let plot = Plot::new(&mut canvas, &figure.axis, values.chain([0.0]));
    let events: Vec<&Event> = figure.events.iter().filter(|event| drawable(event.year)).collect();
    let years = points.iter().map(|point| point.year).chain(events.iter().map(|event| event.year));
    let across = plot.across(&canvas, years, Unit::Year);
    event_lines(&mut canvas, &plot, &across, &events);
    moments(&mut canvas, &plot, &across, &points);
    moment_texts(&mut canvas, &plot, &across, &points);
    level_ticks(&mut canvas, &across);
    for (n, event) in events.iter().enumerate() {
        keyed(&mut canvas, &event_key(n), &event.label);
    }
    canvas.finish(&figure.caption)
}

/// A line an event, lettered where the letter stands clear of the one before.
fn event_lines(canvas: &mut Canvas, plot: &Plot, across: &Scale, events: &[&Event]) {
    let mut last = f64::NEG_INFINITY;
    for (n, event) in events.iter().enumerate() {
        let x = across.at(event.year);
        canvas.line([x, plot.top], [x, plot.bottom], FLAG);
        if libm::fabs(x - last) > 16.0 {
            canvas.boxed([x, plot.bottom - 4.0], VALUE, &event_key(n));
            last = x;
        }
    }
}

fn moments(canvas: &mut Canvas, plot: &Plot, across: &Scale, points: &[&Moment]) {
    let line = points.iter().map(|point| place(across.at(point.year), point.value.point, &plot.y));
    runs(canvas, line, CURVE);
    for point in points {
        let x = across.at(point.year);
        if drawable(point.value.low) && drawable(point.value.high) {
            let (low, high) = (plot.y.at(point.value.low), plot.y.at(point.value.high));
            canvas.line([x, low], [x, high], Pen::new(Colour::Ink, 1.5));
        }
        canvas.marker([x, plot.y.at(point.value.point)], Marker::Dot, 4.5, Colour::Main);
    }
}

/// Values above their points: the newest always, earlier ones where they have room.
fn moment_texts(canvas: &mut Canvas, plot: &Plot, across: &Scale, points: &[&Moment]) {
    let mut last = f64::INFINITY;
    for point in points.iter().rev() {
        let wide = width(&clean(&point.value_text), VALUE.size);
        let x = (across.at(point.year) - wide / 2.0).min(plot.right - wide).max(plot.left);
        if x + wide + 4.0 < last {
            let top = [point.value.high, point.value.point].into_iter().filter(|value| drawable(*value));
            let y = plot.y.at(top.fold(f64::NEG_INFINITY, f64::max));
            canvas.boxed([x + wide / 2.0, y - 6.0], VALUE, &point.value_text);
            last = x;
        }
    }
}

/// a, b, c ...; numbers after z.
fn event_key(n: usize) -> String {
    match u8::try_from(n) {
        Ok(n) if n < 26 => char::from(b'a' + n).to_string(),
        _ => format!("{}", n + 1),
    }
}
