//! The colours, patterns and class names of all charts, in one place.
//!
//! Every element carries its colour as a plain attribute (`fill="#.."`), which any SVG reader
//! understands, and a class by which the style sheet of a page may replace it: `ch-f-NAME` for a
//! fill, `ch-s-NAME` for a stroke, NAME as in [`Colour::name`]. Text has at least 4.5:1 of contrast
//! with the paper and marks at least 3:1, by day and by night (a test reckons it). Blue and brown
//! stay apart for every kind of colour vision, and nothing is told by colour alone: shape, pattern
//! or words say it too, so that a chart survives a black-and-white printer.

/// A colour by its job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Colour {
    /// What the chart lies on.
    Paper,
    /// Labels and thin marks.
    Ink,
    /// Ticks and notes.
    Soft,
    /// Axes, the line at zero or one.
    Axis,
    /// Lines of a grid: there to be overlooked.
    Grid,
    /// Bars and points.
    Main,
    /// What stands out: the own farm, a signal, a budget.
    Second,
    /// Third of the lesion groups.
    Plum,
    /// Fifth of the lesion groups.
    Teal,
    /// Sixth of the lesion groups.
    Olive,
}

impl Colour {
    /// As it stands in the class names.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Colour::Paper => "paper",
            Colour::Ink => "ink",
            Colour::Soft => "soft",
            Colour::Axis => "axis",
            Colour::Grid => "grid",
            Colour::Main => "main",
            Colour::Second => "second",
            Colour::Plum => "plum",
            Colour::Teal => "teal",
            Colour::Olive => "olive",
        }
    }

    /// By day and on paper.
    pub(super) const fn hex(self) -> &'static str {
        match self {
            Colour::Paper => "#ffffff",
            Colour::Ink => "#1b1f24",
            Colour::Soft => "#4a5058",
            Colour::Axis => "#767d87",
            Colour::Grid => "#d5d9df",
            Colour::Main => "#2b5c8a",
            Colour::Second => "#8a4b0f",
            Colour::Plum => "#6d3f6f",
            Colour::Teal => "#1f6b6b",
            Colour::Olive => "#5b5a2c",
        }
    }
}

/// Style rules for a page with charts in it: width, dark screens, print. On paper the charts keep
/// the plain colours that they carry.
pub const CHART_CSS: &str = "\
.ch{display:block;width:100%;max-width:30rem;height:auto}
.ch-wide{max-width:48rem}
@media screen and (prefers-color-scheme:dark){
.ch-f-paper{fill:#14181d}.ch-s-paper{stroke:#14181d}
.ch-f-ink{fill:#e9ecef}.ch-s-ink{stroke:#e9ecef}
.ch-f-soft{fill:#b6bdc6}.ch-s-soft{stroke:#b6bdc6}
.ch-f-axis{fill:#8b939d}.ch-s-axis{stroke:#8b939d}
.ch-f-grid{fill:#353c45}.ch-s-grid{stroke:#353c45}
.ch-f-main{fill:#7fb2e0}.ch-s-main{stroke:#7fb2e0}
.ch-f-second{fill:#e0a566}.ch-s-second{stroke:#e0a566}
.ch-f-plum{fill:#cf9fd0}.ch-s-plum{stroke:#cf9fd0}
.ch-f-teal{fill:#6fc0bd}.ch-s-teal{stroke:#6fc0bd}
.ch-f-olive{fill:#bdbb7c}.ch-s-olive{stroke:#bdbb7c}
}
@media print{
.ch{max-width:105mm;max-height:235mm;break-inside:avoid;print-color-adjust:exact;-webkit-print-color-adjust:exact}
.ch-wide{max-width:100%}
}
";

/// A tile that fills a surface: its size, a turn in degrees, its colour and its drawing.
pub(super) struct Tile {
    pub(super) size: u8,
    pub(super) turn: u8,
    pub(super) colour: Colour,
    pub(super) line: u8,
    pub(super) path: &'static str,
}

/// The hatching of what may be nothing: [`Fill::Hatch`](super::canvas::Fill).
pub(super) const HATCH: Tile = Tile { size: 6, turn: 45, colour: Colour::Main, line: 2, path: "M3 0V6" };

/// Fills of the lesion groups, in order, told apart in black and white too. The first is solid and
/// the last, as any further one, an empty outline.
pub(super) const GROUPS: [Option<Tile>; 7] = [
    None,
    Some(Tile { size: 6, turn: 45, colour: Colour::Second, line: 3, path: "M3 0V6" }),
    Some(Tile { size: 4, turn: 0, colour: Colour::Plum, line: 2, path: "M2 0V4" }),
    Some(Tile { size: 5, turn: 0, colour: Colour::Soft, line: 3, path: "M1 2.5H4" }),
    Some(Tile { size: 5, turn: 0, colour: Colour::Teal, line: 3, path: "M0 2.5H5" }),
    Some(Tile { size: 6, turn: 45, colour: Colour::Olive, line: 2, path: "M0 3H6M3 0V6" }),
    None,
];
