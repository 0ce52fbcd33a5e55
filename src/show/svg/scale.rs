//! From a value to a place on the picture, and the ticks between.

use super::text::{Marks, SMALL, width};

/// A number this large or larger is not drawn: no axis could be labelled with it on a phone.
const LARGEST: f64 = 1e9;
/// Values closer together than this are one value: the axis then runs on by one.
const SHORTEST: f64 = 1e-4;
/// What a ratio axis can show; an interval beyond is cut off with an arrow.
const RATIOS: [f64; 9] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];

/// Whether a number can be drawn at all.
pub(super) fn drawable(value: f64) -> bool {
    value.is_finite() && value.abs() < LARGEST
}

/// Whether a ratio can be drawn on a log axis.
pub(super) fn drawable_ratio(value: f64) -> bool {
    drawable(value) && value > 0.0
}

/// How ticks are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    /// As numbers.
    Plain,
    /// A share of 0 to 1 as per cent.
    Percent,
    /// Calendar years: whole, and without a comma.
    Year,
}

impl Unit {
    fn label(self, marks: &Marks, value: f64, decimals: usize) -> String {
        match self {
            Unit::Plain => marks.number(value, decimals),
            Unit::Percent => format!("{} %", marks.number(value * 100.0, decimals.saturating_sub(2))),
            Unit::Year => format!("{value:.0}"),
        }
    }
}

/// A labelled place on a scale.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    pub(super) value: f64,
    pub(super) label: String,
}

/// Which way a scale runs on the picture, which decides how many labels find room.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Run {
    /// Left to right.
    Level,
    /// Bottom to top.
    Upright,
}

/// A scale: from a span of values to a span of the picture.
#[derive(Debug, Clone)]
pub(super) struct Scale {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
    log: bool,
    pub(super) ticks: Vec<Tick>,
}

impl Scale {
    /// A linear scale over the drawable ones of `values`, rounded outwards to its ticks.
    pub(super) fn linear(
        marks: &Marks,
        values: impl IntoIterator<Item = f64>,
        unit: Unit,
        run: Run,
        start: f64,
        end: f64,
    ) -> Self {
        let (low, high) = span(values).unwrap_or((0.0, 1.0));
        let (low, high) = if unit == Unit::Year { year_span(low, high) } else { (low, high) };
        let mut ticks = Vec::new();
        for count in [6.0, 5.0, 4.0, 3.0, 2.0, 1.0] {
            let step = nice_step((high - low) / count);
            let step = if unit == Unit::Year { step.max(1.0) } else { step };
            ticks = ticks_between(marks, low, high, step, unit);
            if fits(&ticks, run, (end - start).abs()) {
                break;
            }
        }
        let from = ticks.first().map_or(low, |tick| tick.value);
        let to = ticks.last().map_or(high, |tick| tick.value);
        Scale { from, to, start, end, log: false, ticks }
    }

    /// A log scale of ratios that holds 0.5 to 2 and, within what it can show, all of `values`.
    pub(super) fn ratio(marks: &Marks, values: impl IntoIterator<Item = f64>, start: f64, end: f64) -> Self {
        let (low, high) = span(values.into_iter().filter(|v| *v > 0.0)).unwrap_or((0.5, 2.0));
        let (low, high) = (low.min(0.5), high.max(2.0));
        let from = RATIOS.iter().copied().rfind(|tick| *tick <= low).unwrap_or(RATIOS[0]);
        let to = RATIOS.iter().copied().find(|tick| *tick >= high).unwrap_or(RATIOS[RATIOS.len() - 1]);
        let ticks = RATIOS
            .iter()
            .filter(|tick| (from..=to).contains(*tick))
            .map(|tick| Tick { value: *tick, label: marks.ratio(*tick) })
            .collect();
        Scale { from, to, start, end, log: true, ticks }
    }

    /// Whether the value lies on the scale.
    pub(super) fn holds(&self, value: f64) -> bool {
        self.from <= value && value <= self.to
    }

    /// Where the value lies on the picture, held within the scale.
    pub(super) fn at(&self, value: f64) -> f64 {
        let value = value.max(self.from).min(self.to);
        let place = |v: f64| if self.log { libm::log(v) } else { v };
        let share = (place(value) - place(self.from)) / (place(self.to) - place(self.from));
        self.start + share * (self.end - self.start)
    }

    /// Lowest and highest value of the scale.
    pub(super) fn ends(&self) -> (f64, f64) {
        (self.from, self.to)
    }
}

fn span(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    let (low, high) = values
        .into_iter()
        .filter(|v| drawable(*v))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
    if low > high {
        None
    } else if high - low < SHORTEST {
        Some((low, low + 1.0))
    } else {
        Some((low, high))
    }
}

fn year_span(low: f64, high: f64) -> (f64, f64) {
    let from = libm::floor(low);
    (from, libm::ceil(high).max(from + 1.0))
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `raw`.
fn nice_step(raw: f64) -> f64 {
    let power = libm::pow(10.0, libm::floor(libm::log10(raw)));
    [1.0, 2.0, 5.0].iter().map(|n| n * power).find(|step| *step >= raw * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

fn ticks_between(marks: &Marks, low: f64, high: f64, step: f64, unit: Unit) -> Vec<Tick> {
    let decimals = libm::ceil(-libm::log10(step) - 1e-9).max(0.0) as usize;
    let first = libm::floor(low / step + 1e-9);
    let last = libm::ceil(high / step - 1e-9);
    let count = (last - first).clamp(1.0, 12.0) as usize;
    (0..=count)
        .map(|n| (first + n as f64) * step)
        .map(|value| Tick { value, label: unit.label(marks, value, decimals) })
        .collect()
}

fn fits(ticks: &[Tick], run: Run, length: f64) -> bool {
    let apart = length / (ticks.len().max(2) - 1) as f64;
    let need = match run {
        Run::Level => ticks.iter().map(|tick| width(&tick.label, SMALL)).fold(0.0, f64::max) + 10.0,
        Run::Upright => 2.0 * SMALL,
    };
    apart >= need
}
