//! Charts as SVG text: pure functions from a figure to one self-contained `<svg>`.
//!
//! A chart has a title and a description for those who do not see it, fills the width it is given,
//! carries its colours as plain attributes with classes beside them, and holds no script, style or
//! outside reference, so that it stands inline in a page of strict policy as well as in a file of
//! its own. The page adds [`CHART_CSS`]. Colours and class names are listed in `palette`.
//!
//! Numbers that can't be drawn (not finite, a billion or more, a ratio that is not above zero) are
//! left out; the label and the words of their row stay. A figure without anything to draw says
//! "nothing to show". Coordinates are tenths of a unit and come from the four operations and `libm`
//! alone: the same bytes on every machine.

mod axis;
mod canvas;
mod palette;
mod plots;
mod ratios;
mod rows;
mod scale;
mod text;

#[cfg(test)]
mod tests;

pub use canvas::Frame;
pub use palette::CHART_CSS;
pub use plots::{control_chart, frontier, funnel, timeline};
pub use ratios::{bands, forest};
pub use rows::{before_after, interval_bars, section_meters, shares, stacked_bars};

use crate::report::figure::Figure;

/// Draws any figure.
pub fn draw(figure: &Figure, frame: &Frame) -> String {
    match figure {
        Figure::IntervalBars(figure) => interval_bars(figure, frame),
        Figure::StackedBars(figure) => stacked_bars(figure, frame),
        Figure::SectionMeters(figure) => section_meters(figure, frame),
        Figure::Forest(figure) => forest(figure, frame),
        Figure::ControlChart(figure) => control_chart(figure, frame),
        Figure::Funnel(figure) => funnel(figure, frame),
        Figure::Frontier(figure) => frontier(figure, frame),
        Figure::BeforeAfter(figure) => before_after(figure, frame),
        Figure::Timeline(figure) => timeline(figure, frame),
        Figure::Shares(figure) => shares(figure, frame),
        Figure::Bands(figure) => bands(figure, frame),
    }
}
