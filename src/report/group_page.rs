//! The words and figures of a group's page, and of a farm's own page within it.

use super::figure::{
    Caption, Figure, Funnel, FunnelLimit, FunnelPoint, IntervalBar, IntervalBars, Moment, PointInterval,
    Share, Shares, Timeline,
};
use super::number::{self, chance, decimals, percent, whole};
use super::words;
use crate::model::Library;
use crate::reckon::group::disclosure::{FEWEST, FEWEST_FOR_QUARTILES, Spread, Why};
use crate::reckon::group::{
    Change, FarmPoint, FunnelLimits, GroupOption, GroupOutcome, Mine, Named, What, Withheld, YearFigures,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// Most farms that are listed one by one on a page; the JSON lists all.
const MOST_LISTED: usize = 60;
/// How many options are told of at length.
const OPTIONS_AT_LENGTH: usize = 5;
/// From this median on most farms share a problem.
const SHARED_FROM: f64 = 0.5;

/// A group's words, and its figures by the name that the templates call them.
#[derive(Clone, Debug)]
pub struct GroupReport {
    /// Context of the templates.
    pub page: GroupPage,
    /// Figures by name.
    pub figures: BTreeMap<String, Figure>,
}

/// Everything a template of the group's page may show.
#[derive(Clone, Debug, Serialize)]
pub struct GroupPage {
    /// The last year.
    pub year: i32,
    /// "12 farms".
    pub farms: String,
    /// "pasture" or "housed".
    pub system: &'static str,
    /// Title of the checklist.
    pub checklist: String,
    /// Whether anything is given of the group at all.
    pub any: bool,
    /// What the rates say, in sentences.
    pub rates: Vec<String>,
    /// The farms by shrunken rate, lowest first.
    pub points: Vec<PointText>,
    /// Why farms are not listed, or empty.
    pub points_left_out: String,
    /// Limits of chance by size.
    pub limits: Vec<LimitText>,
    /// What the scores say.
    pub score: String,
    /// Sections of the checklist.
    pub sections: Vec<SpreadText>,
    /// Every factor, the largest median first.
    pub factors: Vec<SpreadText>,
    /// Factors that most farms share.
    pub shared: Vec<SharedText>,
    /// Lesions with their share of the group's cases.
    pub lesions: Vec<LesionText>,
    /// Options told of at length, best first.
    pub options: Vec<OptionText>,
    /// The other options.
    pub further_options: Vec<OptionText>,
    /// Every year.
    pub years: Vec<YearText>,
    /// Change since the year before.
    pub change: Option<ChangeText>,
    /// What is not given, and why.
    pub withheld: Vec<String>,
    /// The farm whose page this is.
    pub mine: Option<MineText>,
    /// Names of the figures there are.
    pub figures: Vec<String>,
    /// Draws.
    pub draws: String,
    /// Version of the program.
    pub program_version: &'static str,
}

/// One farm of the list.
#[derive(Clone, Debug, Serialize)]
pub struct PointText {
    /// Recorded rate.
    pub rate: String,
    /// Shrunken rate.
    pub shrunken: String,
    /// Its interval.
    pub interval: String,
    /// Chance of the best quarter.
    pub best: String,
    /// Chance of the worst quarter.
    pub worst: String,
}

/// Limits of chance at one size.
#[derive(Clone, Debug, Serialize)]
pub struct LimitText {
    /// Cow-years of records.
    pub cow_years: String,
    /// 95 % limits.
    pub inner: String,
    /// 99.8 % limits.
    pub outer: String,
}

/// Median and middle half of something.
#[derive(Clone, Debug, Serialize)]
pub struct SpreadText {
    /// What it is.
    pub title: String,
    /// Farms.
    pub farms: usize,
    /// Median.
    pub median: String,
    /// Quartiles, or a dash.
    pub quartiles: String,
    /// The farm's own value on its own page, or empty.
    pub own: String,
}

/// A problem most farms share.
#[derive(Clone, Debug, Serialize)]
pub struct SharedText {
    /// Title of the factor.
    pub title: String,
    /// How it lames a cow.
    pub why: String,
}

/// A lesion's share.
#[derive(Clone, Debug, Serialize)]
pub struct LesionText {
    /// Name.
    pub name: String,
    /// Share of the group's cases.
    pub share: String,
}

/// An option over the group.
#[derive(Clone, Debug, Serialize)]
pub struct OptionText {
    /// Title.
    pub title: String,
    /// Cases avoided, or empty.
    pub cases: String,
    /// Range, or empty.
    pub range: String,
    /// Share of a farm's cases on the farm in the middle.
    pub reduction: String,
    /// What to do.
    pub how: String,
    /// Caution, or empty.
    pub caution: String,
}

/// One year.
#[derive(Clone, Debug, Serialize)]
pub struct YearText {
    /// Year.
    pub year: i32,
    /// Farms.
    pub farms: usize,
    /// Median rate with quartiles.
    pub rate: String,
    /// Median score with quartiles.
    pub score: String,
}

/// Change since the year before.
#[derive(Clone, Debug, Serialize)]
pub struct ChangeText {
    /// The year before.
    pub from: i32,
    /// What changed, in sentences.
    pub says: Vec<String>,
    /// Change of each exposure that changed.
    pub factors: Vec<SpreadText>,
}

/// A farm's own page.
#[derive(Clone, Debug, Serialize)]
pub struct MineText {
    /// Where it lies, in sentences.
    pub says: Vec<String>,
}

/// The page and figures of an outcome.
pub fn group_page(library: &Library, outcome: &GroupOutcome, draws: usize) -> GroupReport {
    let writer = Writer { library, outcome };
    let figures = writer.figures();
    let (options, further_options) = outcome.options.split_at(outcome.options.len().min(OPTIONS_AT_LENGTH));
    let listed = outcome.farms_list.len() <= MOST_LISTED;
    let page = GroupPage {
        year: outcome.year,
        farms: number::plural(outcome.farms as u64, "farm", "farms"),
        system: words::system_words(outcome.system),
        checklist: library.checklist.title.clone(),
        any: outcome.farms >= FEWEST,
        rates: writer.rates(),
        points: if listed { outcome.farms_list.iter().map(point).collect() } else { Vec::new() },
        points_left_out: if listed {
            String::new()
        } else {
            "There are too many farms to list on a page; the JSON holds them all.".to_owned()
        },
        limits: outcome.limits.iter().map(limits).collect(),
        score: outcome
            .score
            .map_or(String::new(), |score| format!("The score of the walk is {}.", in_words(score, 0))),
        sections: outcome.sections.iter().map(|named| writer.section(named)).collect(),
        factors: outcome.factors.iter().map(|named| writer.factor(named)).collect(),
        shared: writer.shared(),
        lesions: outcome
            .lesions
            .iter()
            .map(|(lesion, share)| LesionText {
                name: words::lesion(library, *lesion),
                share: percent(*share),
            })
            .collect(),
        options: options.iter().map(|option| writer.option(option)).collect(),
        further_options: further_options.iter().map(|option| writer.option(option)).collect(),
        years: if outcome.years.len() > 1 { outcome.years.iter().map(year).collect() } else { Vec::new() },
        change: outcome.change.as_ref().map(|change| writer.change(change)),
        withheld: writer.withheld(),
        mine: outcome.mine.as_ref().map(|mine| writer.mine(mine)),
        figures: figures.keys().cloned().collect(),
        draws: whole(draws as f64),
        program_version: env!("CARGO_PKG_VERSION"),
    };
    GroupReport { page, figures }
}

struct Writer<'a> {
    library: &'a Library,
    outcome: &'a GroupOutcome,
}

/// "14 on the farm in the middle; the middle half of the farms lies between 12 and 16".
fn in_words(spread: Spread, places: usize) -> String {
    let text = |value| decimals(value, places);
    match spread.quartiles {
        None => format!("about {} on the farm in the middle", text(spread.median)),
        Some((low, high)) if low == high => {
            format!(
                "{} on the farm in the middle and about the same on half of the farms",
                text(spread.median)
            )
        }
        Some((low, high)) => format!(
            "{} on the farm in the middle; the middle half of the farms lies between {} and {}",
            text(spread.median),
            text(low),
            text(high)
        ),
    }
}

/// "20 to 60", or "40 more to 80 fewer" where it may bring more cases.
fn fewer(interval: (f64, f64)) -> String {
    let (low, high) = interval;
    if low < 0.0 {
        format!("{} more to {} fewer", whole(-low), whole(high))
    } else {
        format!("{} to {}", whole(low), whole(high))
    }
}

fn quartiles(spread: Spread, places: usize) -> String {
    spread.quartiles.map_or("–".to_owned(), |(low, high)| {
        format!("{} to {}", decimals(low, places), decimals(high, places))
    })
}

fn pair(interval: (f64, f64), places: usize) -> String {
    format!("{} to {}", decimals(interval.0, places), decimals(interval.1, places))
}

fn point(point: &FarmPoint) -> PointText {
    PointText {
        rate: whole(point.rate),
        shrunken: decimals(point.shrunken.mean, 1),
        interval: pair(point.shrunken.interval, 1),
        best: about(point.p_best_quarter),
        worst: about(point.p_worst_quarter),
    }
}

/// A chance that is known to a twentieth.
fn about(share: f64) -> String {
    match share {
        s if s < 0.025 => "under 5%".to_owned(),
        s if s > 0.975 => "over 95%".to_owned(),
        s => chance(s),
    }
}

fn limits(limits: &FunnelLimits) -> LimitText {
    LimitText {
        cow_years: whole(limits.cow_years),
        inner: pair(limits.inner, 1),
        outer: pair(limits.outer, 1),
    }
}

fn year(year: &YearFigures) -> YearText {
    let text = |spread: Option<Spread>| {
        spread.map_or("not given".to_owned(), |spread| match spread.quartiles {
            None => format!("about {}", whole(spread.median)),
            Some(quartiles) => format!("{} ({})", whole(spread.median), pair(quartiles, 0)),
        })
    };
    YearText { year: year.year, farms: year.farms, rate: text(year.rate), score: text(year.score) }
}

/// "fell by 2", "rose by 1", "did not change".
fn moved(change: f64, places: usize) -> String {
    match change {
        c if c < 0.0 => format!("fell by {}", decimals(-c, places)),
        c if c > 0.0 => format!("rose by {}", decimals(c, places)),
        _ => "did not change".to_owned(),
    }
}

impl Writer<'_> {
    fn rates(&self) -> Vec<String> {
        let outcome = self.outcome;
        let mut says = Vec::new();
        if let Some(rate) = outcome.rate {
            says.push(format!(
                "{} of the {} have records. New cases of lameness for every 100 cows in a year: {}.",
                whole(rate.farms as f64),
                number::plural(outcome.farms as u64, "farm", "farms"),
                in_words(rate, 0)
            ));
        }
        if let Some(fit) = outcome.fit {
            says.push(format!(
                "Over all farms the rate is {} for every 100 cows in a year.",
                decimals(fit.mean, 1)
            ));
            says.push(match fit.shape {
                Some(shape) => format!(
                    "The farms differ by more than chance would make them: from their records, farms like these \
                     vary round that rate by about {} of it (shape {}).",
                    percent(1.0 / libm::sqrt(shape)),
                    words::trimmed(shape)
                ),
                None => "The farms differ no more than chance alone would make them (an infinite shape): nothing in \
                         these records tells one farm's rate from another's, so each is given the common rate."
                    .to_owned(),
            });
        }
        says
    }

    fn own(&self, factor: &str) -> String {
        let mine = self.outcome.mine.as_ref();
        let own = mine.and_then(|mine| mine.exposures.iter().find(|(id, _)| id == factor));
        own.map_or(String::new(), |(_, x)| decimals(*x, 1))
    }

    fn section(&self, named: &Named) -> SpreadText {
        let section = self.library.checklist.sections.iter().find(|section| section.id == named.id);
        SpreadText {
            title: section.map_or(named.id.clone(), |section| section.title.clone()),
            farms: named.spread.farms,
            median: whole(named.spread.median),
            quartiles: quartiles(named.spread, 0),
            own: String::new(),
        }
    }

    fn title(&self, factor: &str) -> String {
        self.library.factor(factor).map_or(factor.to_owned(), |factor| factor.title.clone())
    }

    fn factor(&self, named: &Named) -> SpreadText {
        SpreadText {
            title: self.title(&named.id),
            farms: named.spread.farms,
            median: words::trimmed(named.spread.median),
            quartiles: named.spread.quartiles.map_or("–".to_owned(), |(low, high)| {
                format!("{} to {}", words::trimmed(low), words::trimmed(high))
            }),
            own: self.own(&named.id),
        }
    }

    fn shared(&self) -> Vec<SharedText> {
        let shared = self.outcome.factors.iter().filter(|named| named.spread.median >= SHARED_FROM);
        let text = |named: &Named| SharedText {
            title: self.title(&named.id),
            why: self.library.factor(&named.id).and_then(|factor| factor.why.clone()).unwrap_or_default(),
        };
        shared.map(text).collect()
    }

    fn option_title(&self, id: &str) -> String {
        self.library.intervention(id).map_or(id.to_owned(), |option| option.title.clone())
    }

    fn option(&self, option: &GroupOption) -> OptionText {
        let shipped = self.library.intervention(&option.id);
        let cases = option.cases_avoided;
        let range = cases.and_then(|cases| cases.interval);
        OptionText {
            title: self.option_title(&option.id),
            cases: cases.map_or(String::new(), |cases| format!("about {}", whole(cases.mean))),
            range: range.map_or(String::new(), fewer),
            reduction: percent(option.median_reduction),
            how: shipped.map_or(String::new(), |option| option.how.clone()),
            caution: shipped.and_then(|option| option.caution.clone()).unwrap_or_default(),
        }
    }

    fn change(&self, change: &Change) -> ChangeText {
        let to = self.outcome.year;
        let mut says = vec![format!(
            "{} have a card of {} and of {to}. What follows is about them alone.",
            number::plural(change.farms as u64, "farm", "farms"),
            change.from
        )];
        if let Some(rate) = change.rate {
            says.push(format!(
                "On the farm in the middle, new cases for every 100 cows in a year {}.",
                moved(rate.median, 0)
            ));
        }
        if let Some((value, interval)) = change.rate_ratio {
            let (low, high) = interval;
            let verdict = if low > 1.0 || high < 1.0 {
                "more than chance and the farms' own ups and downs would make it"
            } else {
                "no more than chance and the farms' own ups and downs can make it"
            };
            says.push(format!(
                "Each farm against itself, the rate is {} of what it was (95% interval {}): {verdict}.",
                decimals(value, 2),
                pair(interval, 2)
            ));
        }
        if let Some(score) = change.score {
            says.push(format!("The score on the farm in the middle {}.", moved(score.median, 0)));
        }
        let factors = change.factors.iter().filter(|named| named.spread.median != 0.0);
        ChangeText {
            from: change.from,
            says,
            factors: factors.map(|named| self.factor_change(named)).collect(),
        }
    }

    fn factor_change(&self, named: &Named) -> SpreadText {
        SpreadText { median: moved(named.spread.median, 2), own: String::new(), ..self.factor(named) }
    }

    fn withheld(&self) -> Vec<String> {
        let mut says: Vec<String> = self
            .outcome
            .withheld
            .iter()
            .filter(|withheld| !is_option(withheld))
            .map(|it| self.says(it))
            .collect();
        for (why, reason) in [
            (Why::TooFew, format!("fewer than {FEWEST} farms would gain by it")),
            (Why::Dominated, "one farm holds too much of what it would bring".to_owned()),
        ] {
            let options: Vec<String> = self
                .outcome
                .withheld
                .iter()
                .filter(|withheld| withheld.why == why)
                .filter_map(|withheld| match &withheld.what {
                    What::Option(id) => Some(format!("\"{}\"", self.option_title(id))),
                    _ => None,
                })
                .collect();
            if !options.is_empty() {
                says.push(format!(
                    "What these would bring to the group: {reason}: {}.",
                    number::list(&options)
                ));
            }
        }
        says
    }

    fn says(&self, withheld: &Withheld) -> String {
        let what = match &withheld.what {
            What::Everything => {
                return format!(
                    "No figure of the group is given: {} is fewer than {FEWEST}.",
                    number::plural(self.outcome.farms as u64, "farm", "farms")
                );
            }
            What::AllButMedians => {
                return format!(
                    "With fewer than {FEWEST_FOR_QUARTILES} farms only rounded medians are given: no quartiles, mean, \
                     list of farms, limits of chance, lesions or sums."
                );
            }
            What::RateSpread => {
                return format!(
                    "Mean, list of farms and limits of chance: fewer than {FEWEST_FOR_QUARTILES} farms have records."
                );
            }
            What::Lesions => {
                return format!(
                    "Lesions: fewer than {FEWEST_FOR_QUARTILES} farms have a card that tells of them."
                );
            }
            What::Rates => "Rates".to_owned(),
            What::Score => "Score".to_owned(),
            What::Section(id) => {
                let section = self.library.checklist.sections.iter().find(|section| section.id == *id);
                format!("Section \"{}\"", section.map_or(id.as_str(), |section| section.title.as_str()))
            }
            What::Factor(id) => format!("\"{}\"", self.title(id)),
            What::Lesion(lesion) => words::lesion(self.library, *lesion),
            What::Option(id) => format!("\"{}\"", self.option_title(id)),
            What::Change(year) => format!("Change since {year}"),
        };
        match withheld.why {
            Why::TooFew => format!("{what}: fewer than {FEWEST} farms."),
            Why::Dominated => format!("{what}: one farm holds too much of it."),
            Why::Subtraction => format!("{what}: with it another could be got by subtraction."),
        }
    }

    fn mine(&self, mine: &Mine) -> MineText {
        let mut says = Vec::new();
        match (mine.rate, mine.point, mine.place) {
            (Some(rate), Some(point), Some((place, of))) => {
                says.push(format!(
                    "Your records give {rate} new cases for every 100 cows in a year. Set against the group, your rate is \
                     most likely {} ({}): with few cows or few months, chance moves a record a long way, so it counts \
                     for less.",
                    decimals(point.shrunken.mean, 1),
                    pair(point.shrunken.interval, 1)
                ));
                says.push(format!(
                    "By that rate you lie at place {place} of {of}, the lowest rate being the first. The chance that you \
                     are truly among the best quarter is {}; among the worst quarter, {}.",
                    about(point.p_best_quarter),
                    about(point.p_worst_quarter)
                ));
            }
            (Some(rate), _, _) => says.push(format!(
                "Your records give {rate} new cases for every 100 cows in a year. The group has too few farms with records \
                 to say where that lies."
            )),
            (None, _, _) => says.push("Your card has no records of cases, so no rate.".to_owned()),
        }
        if let (Some(limits), Some(point)) = (mine.limits, mine.point) {
            says.push(within(&limits, point.rate));
        }
        if let Some(score) = mine.score {
            let group = self
                .outcome
                .score
                .map_or(String::new(), |spread| format!(" The group's is {}.", in_words(spread, 0)));
            says.push(format!("Your score is {score}.{group}"));
        }
        MineText { says }
    }

    fn figures(&self) -> BTreeMap<String, Figure> {
        let figures = [
            ("farms", self.farms_figure()),
            ("funnel", self.funnel_figure()),
            ("factors", self.factors_figure()),
            ("options", self.options_figure()),
            ("lesions", self.lesions_figure()),
            ("years", self.years_figure()),
        ];
        figures.into_iter().filter_map(|(name, figure)| Some((name.to_owned(), figure?))).collect()
    }

    /// Every farm's shrunken rate. Farms carry no label but their place.
    fn farms_figure(&self) -> Option<Figure> {
        let farms = &self.outcome.farms_list;
        if farms.is_empty() || farms.len() > MOST_LISTED {
            return None;
        }
        let row = |(place, farm): (usize, &FarmPoint)| IntervalBar {
            label: format!("{place}."),
            value: point_interval(farm.shrunken.mean, Some(farm.shrunken.interval)),
            value_text: format!("{} (recorded {})", decimals(farm.shrunken.mean, 1), whole(farm.rate)),
            close_to_next: false,
        };
        Some(Figure::IntervalBars(IntervalBars {
            caption: caption(
                "The farms' rates",
                "Every farm's rate, shrunken towards the group's, lowest first, with its 90% interval. The table beside it \
                 holds the same figures.",
            ),
            axis: "new cases for every 100 cows in a year".to_owned(),
            rows: (1..).zip(farms).map(row).collect(),
            tie_note: String::new(),
            spans_zero_note: String::new(),
        }))
    }

    /// The limits of chance with the reader's own farm. Other farms are not drawn: by its size a
    /// neighbour would know whose point it is.
    fn funnel_figure(&self) -> Option<Figure> {
        let (mine, fit) = (self.outcome.mine.as_ref()?, self.outcome.fit?);
        let (cow_years, point) = (mine.cow_years?, mine.point?);
        let mut limits: Vec<FunnelLimits> = self.outcome.limits.iter().copied().chain(mine.limits).collect();
        limits.sort_by(|a, b| a.cow_years.total_cmp(&b.cow_years));
        let limit = |limits: FunnelLimits| FunnelLimit {
            cow_years: limits.cow_years,
            inner: [limits.inner.0, limits.inner.1],
            outer: [limits.outer.0, limits.outer.1],
        };
        Some(Figure::Funnel(Funnel {
            caption: caption(
                "Your rate and the limits of chance",
                "How far chance alone moves a farm's recorded rate from the group's, by the cow-years of its records, and \
                 where yours lies. The other farms are not drawn, so that none is known by its size.",
            ),
            x_axis: "cow-years of records (the middle of your herd's band)".to_owned(),
            y_axis: "new cases for every 100 cows in a year".to_owned(),
            centre: fit.mean,
            centre_label: format!("the group's rate, {}", decimals(fit.mean, 1)),
            points: vec![FunnelPoint { cow_years, rate: point.rate, own: true }],
            limits: limits.into_iter().map(limit).collect(),
            inner_label: "19 farms in 20 by chance".to_owned(),
            outer_label: "998 farms in 1,000 by chance".to_owned(),
            own_label: "your farm".to_owned(),
            others_label: String::new(),
        }))
    }

    fn factors_figure(&self) -> Option<Figure> {
        let spread = self.outcome.factors.iter().filter(|named| named.spread.quartiles.is_some());
        let rows: Vec<IntervalBar> = spread
            .map(|named| IntervalBar {
                label: self.title(&named.id),
                value: point_interval(named.spread.median, named.spread.quartiles),
                value_text: self.factor(named).quartiles,
                close_to_next: false,
            })
            .collect();
        (!rows.is_empty()).then(|| {
            Figure::IntervalBars(IntervalBars {
                caption: caption(
                    "What the walks found",
                    "Each risk factor over the farms, 0 for good practice and 1 for the bad end: the farm in the middle and \
                     the middle half of the farms. The table beside it holds the same figures.",
                ),
                axis: "0 = good practice, 1 = the bad end".to_owned(),
                rows,
                tie_note: String::new(),
                spans_zero_note: "good practice on a quarter of the farms or more".to_owned(),
            })
        })
    }

    fn options_figure(&self) -> Option<Figure> {
        let row = |(place, option): (usize, &GroupOption)| {
            let cases = option.cases_avoided?;
            Some(IntervalBar {
                label: format!("{place}. {}", self.option_title(&option.id)),
                value: point_interval(cases.mean, cases.interval),
                value_text: format!("about {}", whole(cases.mean)),
                close_to_next: false,
            })
        };
        let rows: Vec<IntervalBar> =
            (1..).zip(self.outcome.options.iter().take(12)).filter_map(row).collect();
        (!rows.is_empty()).then(|| {
            Figure::IntervalBars(IntervalBars {
                caption: caption(
                    "What the group could do",
                    "Fewer new cases a year over all farms if every farm did it, each change on its own, rounded: mean and 90% \
                     interval. The table beside it holds the same figures.",
                ),
                axis: "fewer lame cows a year over the group".to_owned(),
                rows,
                tie_note: String::new(),
                spans_zero_note: "may bring nothing".to_owned(),
            })
        })
    }

    fn lesions_figure(&self) -> Option<Figure> {
        let row = |(lesion, share): &(_, f64)| Share {
            label: words::lesion(self.library, *lesion),
            share: point_interval(*share, None),
            value_text: percent(*share),
        };
        let rows: Vec<Share> = self.outcome.lesions.iter().map(row).collect();
        (!rows.is_empty()).then(|| {
            Figure::Shares(Shares {
                caption: caption(
                    "Which lesions",
                    "Share of the group's recorded cases by lesion, to the nearest 5%. The table beside it holds the same.",
                ),
                axis: "share of the group's cases".to_owned(),
                rows,
            })
        })
    }

    fn years_figure(&self) -> Option<Figure> {
        let moment = |year: &YearFigures| {
            let rate = year.rate?;
            Some(Moment {
                year: f64::from(year.year),
                value: point_interval(rate.median, rate.quartiles),
                value_text: whole(rate.median),
            })
        };
        let points: Vec<Moment> = self.outcome.years.iter().filter_map(moment).collect();
        (points.len() > 1).then(|| {
            Figure::Timeline(Timeline {
                caption: caption(
                    "The group over the years",
                    "Recorded rate on the farm in the middle, with the middle half of the farms, year by year.",
                ),
                axis: "new cases for every 100 cows in a year".to_owned(),
                points,
                events: Vec::new(),
            })
        })
    }
}

fn is_option(withheld: &Withheld) -> bool {
    matches!(withheld.what, What::Option(_))
}

fn caption(title: &str, description: &str) -> Caption {
    Caption { title: title.to_owned(), description: description.to_owned() }
}

fn point_interval(point: f64, interval: Option<(f64, f64)>) -> PointInterval {
    let (low, high) = interval.unwrap_or((point, point));
    PointInterval { point, low, high }
}

/// Where a recorded rate lies between the limits of chance.
fn within(limits: &FunnelLimits, rate: f64) -> String {
    let outside = |(low, high): (f64, f64)| rate < low || rate > high;
    let side = if rate > limits.inner.1 { "above" } else { "below" };
    if outside(limits.outer) {
        format!(
            "Your recorded rate lies {side} what chance alone would give 998 of 1,000 farms of your size with the group's \
             rate ({}): something other than chance is behind it.",
            pair(limits.outer, 1)
        )
    } else if outside(limits.inner) {
        format!(
            "Your recorded rate lies {side} what chance alone would give 19 of 20 farms of your size with the group's rate \
             ({}). Chance is not ruled out: of twenty farms one lies there without a reason.",
            pair(limits.inner, 1)
        )
    } else {
        format!(
            "Your recorded rate lies within what chance alone would give 19 of 20 farms of your size with the group's rate \
             ({}).",
            pair(limits.inner, 1)
        )
    }
}
