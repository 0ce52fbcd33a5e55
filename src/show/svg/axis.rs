//! Axes: what stands along a scale.

use super::canvas::{Anchor, Canvas, NOTE, Pen};
use super::palette::Colour;
use super::scale::{Run, Scale, Unit};
use super::text::{LEADING, clean, width};

/// Room that a tick's label takes beyond the end of a level axis.
pub(super) const OVERHANG: f64 = 14.0;

const GRID: Pen = Pen::new(Colour::Grid, 1.0);
const AXIS: Pen = Pen::new(Colour::Axis, 1.2);

/// Upright grid lines behind one row, the one at `strong` darker.
pub(super) fn grid(canvas: &mut Canvas, scale: &Scale, top: f64, bottom: f64, strong: f64) {
    for tick in &scale.ticks {
        let x = scale.at(tick.value);
        canvas.line([x, top], [x, bottom], GRID);
    }
    if scale.holds(strong) {
        let x = scale.at(strong);
        canvas.line([x, top], [x, bottom], AXIS);
    }
}

/// Ticks, their labels and the axis' name, below what is there.
pub(super) fn level_axis(canvas: &mut Canvas, scale: &Scale, name: &str) {
    level_ticks(canvas, scale);
    canvas.paragraph(NOTE, name);
}

/// The line, ticks and labels of a level axis.
pub(super) fn level_ticks(canvas: &mut Canvas, scale: &Scale) {
    let y = canvas.y + 4.0;
    let (from, to) = scale.ends();
    canvas.line([scale.at(from), y], [scale.at(to), y], AXIS);
    for tick in &scale.ticks {
        let x = scale.at(tick.value);
        canvas.line([x, y], [x, y + 4.0], AXIS);
        canvas.text([x, y + 4.0 + NOTE.size], Anchor::Middle, NOTE, &tick.label);
    }
    canvas.y = y + 8.0 + NOTE.size;
}

/// What the two ends of an axis mean: on one line where both find room, else on two.
pub(super) fn ends(canvas: &mut Canvas, low: &str, high: &str) {
    let (low, high) = (clean(low), clean(high));
    if width(&low, NOTE.size) + width(&high, NOTE.size) + 16.0 <= canvas.room() {
        canvas.y += NOTE.size * LEADING;
        let y = canvas.y - NOTE.size * 0.3;
        canvas.text([canvas.left(), y], Anchor::Start, NOTE, &low);
        canvas.text([canvas.right(), y], Anchor::End, NOTE, &high);
    } else {
        canvas.paragraph(NOTE, &low);
        canvas.paragraph(NOTE, &high);
    }
}

/// A plot with an upright axis at its left, and the level one to come.
pub(super) struct Plot {
    pub(super) y: Scale,
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Plot {
    /// Names the upright axis, draws it with its grid, and leaves the canvas below the plot.
    pub(super) fn new(canvas: &mut Canvas, name: &str, values: impl IntoIterator<Item = f64>) -> Self {
        canvas.paragraph(NOTE, name);
        let top = canvas.y + 16.0;
        let bottom = top + 190.0;
        let y = Scale::linear(canvas.marks(), values, Unit::Plain, Run::Upright, bottom, top);
        let gutter = y.ticks.iter().map(|tick| width(&tick.label, NOTE.size)).fold(0.0, f64::max);
        let left = canvas.left() + gutter + 6.0;
        let right = canvas.right() - 6.0;
        for tick in &y.ticks {
            let at = y.at(tick.value);
            canvas.line([left, at], [right, at], GRID);
            canvas.text([left - 6.0, at + NOTE.size * 0.35], Anchor::End, NOTE, &tick.label);
        }
        canvas.y = bottom;
        Plot { y, left, right, top, bottom }
    }

    /// A level scale over the plot's width.
    pub(super) fn across(&self, canvas: &Canvas, values: impl IntoIterator<Item = f64>, unit: Unit) -> Scale {
        Scale::linear(canvas.marks(), values, unit, Run::Level, self.left, self.right)
    }
}
