//! Figures as data: what a chart shows, before anyone draws it.
//!
//! Every number is a plain `f64` in the unit that the field names. A number that is not finite is
//! "not known": whoever draws skips it. Texts are finished (formatted, with units); the drawing adds
//! nothing but axes, so that no picture can know a number that the report lacks.

use serde::Serialize;

/// Any of the figures, so that a report can hold them in reading order.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Figure {
    /// Ranked options with their intervals.
    IntervalBars(IntervalBars),
    /// Where the lameness comes from, by factor and lesion.
    StackedBars(StackedBars),
    /// Scores of the sections of a walk.
    SectionMeters(SectionMeters),
    /// From published effects to a weight.
    Forest(Forest),
    /// Cases month by month.
    ControlChart(ControlChart),
    /// Farms of a group by size.
    Funnel(Funnel),
    /// What each sum of capital brings.
    Frontier(Frontier),
    /// Exposures on two walks.
    BeforeAfter(BeforeAfter),
    /// One figure of a farm over the years.
    Timeline(Timeline),
    /// Shares of a whole.
    Shares(Shares),
    /// Expected against seen.
    Bands(Bands),
}

impl Figure {
    /// Title and description.
    pub fn caption(&self) -> &Caption {
        match self {
            Figure::IntervalBars(figure) => &figure.caption,
            Figure::StackedBars(figure) => &figure.caption,
            Figure::SectionMeters(figure) => &figure.caption,
            Figure::Forest(figure) => &figure.caption,
            Figure::ControlChart(figure) => &figure.caption,
            Figure::Funnel(figure) => &figure.caption,
            Figure::Frontier(figure) => &figure.caption,
            Figure::BeforeAfter(figure) => &figure.caption,
            Figure::Timeline(figure) => &figure.caption,
            Figure::Shares(figure) => &figure.caption,
            Figure::Bands(figure) => &figure.caption,
        }
    }
}

/// What a figure is called and what it says, for those who do not see it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Caption {
    /// Short name of the figure.
    pub title: String,
    /// The figure's content in a sentence or two.
    pub description: String,
}

/// A point with the interval round it, in one unit. `low <= point <= high` is usual, not required.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PointInterval {
    /// The point estimate.
    pub point: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

impl PointInterval {
    /// Whether the interval reaches from at or below zero to at or above it.
    pub fn spans_zero(&self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }
}

/// Ranked options, each with its point and interval, on one linear axis that includes zero.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct IntervalBars {
    /// Name and content in words.
    pub caption: Caption,
    /// What the axis measures, with its unit.
    pub axis: String,
    /// Best first.
    pub rows: Vec<IntervalBar>,
    /// Words for a bracket between two neighbours, as in "too close to call".
    pub tie_note: String,
    /// Words for a hatched bar: the interval reaches zero.
    pub spans_zero_note: String,
}

/// One option of [`IntervalBars`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IntervalBar {
    /// What the option is called.
    pub label: String,
    /// On the figure's axis.
    pub value: PointInterval,
    /// The value in words, as in "8 to 21".
    pub value_text: String,
    /// Whether it can't be told apart from the next row.
    pub close_to_next: bool,
}

/// Shares of a whole with simultaneous intervals.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Shares {
    /// Name and content in words.
    pub caption: Caption,
    /// What the axis measures; its ticks are per cent.
    pub axis: String,
    /// In reading order.
    pub rows: Vec<Share>,
}

/// One part of [`Shares`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Share {
    /// What the part is called.
    pub label: String,
    /// Share of the whole, 0 to 1.
    pub share: PointInterval,
    /// The share in words, as in "9 of 31 cases".
    pub value_text: String,
}

/// One bar a factor, split by lesion group; parts may be negative.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct StackedBars {
    /// Name and content in words.
    pub caption: Caption,
    /// What the axis measures, with its unit.
    pub axis: String,
    /// Names of the groups, at most seven are told apart by pattern.
    pub groups: Vec<String>,
    /// In reading order.
    pub bars: Vec<StackedBar>,
    /// What the factors leave unexplained: drawn last, as an outline.
    pub remainder: Option<Remainder>,
}

/// One factor of [`StackedBars`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StackedBar {
    /// What the factor is called.
    pub label: String,
    /// The total in words.
    pub value_text: String,
    /// One value a group, in the order of the groups.
    pub parts: Vec<f64>,
}

/// What the bars of [`StackedBars`] leave over.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remainder {
    /// As in "not explained by what was looked at".
    pub label: String,
    /// The amount in words.
    pub value_text: String,
    /// On the figure's axis.
    pub value: f64,
}

/// Scores of the sections of a walk, 0 (good practice) to 100 (the exposed end).
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct SectionMeters {
    /// Name and content in words.
    pub caption: Caption,
    /// What 0 means, as in "0 = good practice".
    pub low_label: String,
    /// What 100 means.
    pub high_label: String,
    /// Words for a section with no answer, as in "not looked at".
    pub unanswered_label: String,
    /// In the order of the walk.
    pub rows: Vec<SectionMeter>,
}

/// One section of [`SectionMeters`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SectionMeter {
    /// What the section is called.
    pub label: String,
    /// 0 to 100; absent where nothing was answered.
    pub score: Option<f64>,
    /// The score and the items answered in words, as in "46 (3 of 4 answered)".
    pub value_text: String,
}

/// Published ratios, what they pool to, and the weight that comes of it, on a log axis round 1.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Forest {
    /// Name and content in words.
    pub caption: Caption,
    /// What the axis measures.
    pub axis: String,
    /// What lies left of 1, as in "less lameness".
    pub below_one: String,
    /// What lies right of 1.
    pub above_one: String,
    /// Effects that are pooled, or listed beside.
    pub studies: Vec<Study>,
    /// Pooled estimate, prior, resulting weight: in the order of the reckoning.
    pub summaries: Vec<Summary>,
    /// Studies that give a direction and no usable size.
    pub directions: Vec<Direction>,
}

/// One published effect of [`Forest`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Study {
    /// Who and when, and the contrast.
    pub label: String,
    /// Ratio with its interval, above 0.
    pub ratio: PointInterval,
    /// Share of the pooled estimate, 0 to 1; 0 where it is listed and not pooled.
    pub weight: f64,
    /// The ratio in words.
    pub value_text: String,
}

/// Which line of the reckoning a [`Summary`] is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SummaryKind {
    /// What the studies pool to: a diamond.
    Pooled,
    /// What is believed before them: an open bar.
    Prior,
    /// The weight that is used: a filled bar.
    Weight,
}

/// One line of [`Forest`] below its studies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Which line it is.
    pub kind: SummaryKind,
    /// What it is called.
    pub label: String,
    /// Ratio with its interval, above 0.
    pub ratio: PointInterval,
    /// The ratio in words.
    pub value_text: String,
}

/// A study of [`Forest`] that gives no usable size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Direction {
    /// Who and when, and the contrast.
    pub label: String,
    /// `true`: more lameness; `false`: less; absent: no direction.
    pub harmful: Option<bool>,
    /// What it found, in words.
    pub words: String,
}

/// Cases month by month with limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct ControlChart {
    /// Name and content in words.
    pub caption: Caption,
    /// What the upright axis measures, with its unit.
    pub axis: String,
    /// In order of time.
    pub months: Vec<Month>,
    /// The farm's own mean, on the upright axis.
    pub centre: f64,
    /// Words for the centre line.
    pub centre_label: String,
    /// Words for the limits.
    pub limits_label: String,
}

/// One month of [`ControlChart`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Month {
    /// As in "Mar 25".
    pub label: String,
    /// On the upright axis.
    pub rate: f64,
    /// Lower limit of this month.
    pub lower: f64,
    /// Upper limit of this month.
    pub upper: f64,
    /// What is out of the ordinary, as in "above the limit".
    pub signal: Option<String>,
}

/// Farms' rates by their cow-years, with limits round the group's mean.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Funnel {
    /// Name and content in words.
    pub caption: Caption,
    /// What the level axis measures.
    pub x_axis: String,
    /// What the upright axis measures.
    pub y_axis: String,
    /// The group's mean, on the upright axis.
    pub centre: f64,
    /// Words for the centre line.
    pub centre_label: String,
    /// One a farm.
    pub points: Vec<FunnelPoint>,
    /// In order of `cow_years`.
    pub limits: Vec<FunnelLimit>,
    /// Words for the inner limits, as in "95 % of farms by chance".
    pub inner_label: String,
    /// Words for the outer limits.
    pub outer_label: String,
    /// Words for the farm's own point.
    pub own_label: String,
    /// Words for the other points.
    pub others_label: String,
}

/// One farm of [`Funnel`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FunnelPoint {
    /// Cow-years of records.
    pub cow_years: f64,
    /// On the upright axis.
    pub rate: f64,
    /// The reader's own farm.
    pub own: bool,
}

/// The limits of [`Funnel`] at one size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FunnelLimit {
    /// Cow-years of records.
    pub cow_years: f64,
    /// 95 % limits, lower and upper.
    pub inner: [f64; 2],
    /// 99.8 % limits, lower and upper.
    pub outer: [f64; 2],
}

/// The best that each sum of capital brings.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Frontier {
    /// Name and content in words.
    pub caption: Caption,
    /// What the level axis measures, with the currency.
    pub x_axis: String,
    /// What the upright axis measures.
    pub y_axis: String,
    /// In order of capital.
    pub steps: Vec<FrontierStep>,
    /// The sum at hand.
    pub budget: Option<Budget>,
}

/// One best set of [`Frontier`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrontierStep {
    /// What the set costs to set up.
    pub capital: f64,
    /// What it brings, on the upright axis.
    pub brings: f64,
    /// What changes at this step; empty: the step is drawn, not listed.
    pub label: String,
}

/// The sum at hand in [`Frontier`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Budget {
    /// On the level axis.
    pub capital: f64,
    /// As in "budget 20,000".
    pub label: String,
}

/// Exposures on two walks, each on 0 (good practice) to 1 (the exposed end).
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct BeforeAfter {
    /// Name and content in words.
    pub caption: Caption,
    /// What 0 means.
    pub low_label: String,
    /// What 1 means.
    pub high_label: String,
    /// Words for the first walk.
    pub before_label: String,
    /// Words for the second.
    pub after_label: String,
    /// In reading order.
    pub rows: Vec<Change>,
}

/// One factor of [`BeforeAfter`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// What the factor is called.
    pub label: String,
    /// Exposure on the first walk, 0 to 1; absent where not answered.
    pub before: Option<f64>,
    /// Exposure on the second.
    pub after: Option<f64>,
    /// What came of it, in words.
    pub verdict: String,
}

/// One figure of a farm over the years, with what happened meanwhile.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Timeline {
    /// Name and content in words.
    pub caption: Caption,
    /// What the upright axis measures.
    pub axis: String,
    /// In order of time.
    pub points: Vec<Moment>,
    /// In order of time.
    pub events: Vec<Event>,
}

/// One value of [`Timeline`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// As a decimal year: 2026.5 is the start of July 2026.
    pub year: f64,
    /// On the upright axis.
    pub value: PointInterval,
    /// The value in words, short.
    pub value_text: String,
}

/// Something that was done or happened, in [`Timeline`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// As a decimal year.
    pub year: f64,
    /// What, with its date.
    pub label: String,
}

/// What was expected against what was seen: ratios on a log axis round 1.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Bands {
    /// Name and content in words.
    pub caption: Caption,
    /// What the axis measures.
    pub axis: String,
    /// What lies left of 1, as in "fewer cases".
    pub below_one: String,
    /// What lies right of 1.
    pub above_one: String,
    /// Words for the expected range.
    pub expected_label: String,
    /// Words for what was seen.
    pub seen_label: String,
    /// In reading order.
    pub rows: Vec<Band>,
}

/// One comparison of [`Bands`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Band {
    /// What is compared.
    pub label: String,
    /// The ratio that was expected, above 0.
    pub expected: PointInterval,
    /// The ratio that was seen; absent where there is none yet.
    pub seen: Option<PointInterval>,
    /// The outcome in words.
    pub value_text: String,
}
