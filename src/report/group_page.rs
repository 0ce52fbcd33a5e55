//! The words and figures of a group's page, and of a farm's own page within it.

use super::figure::{
    Caption, Figure, Funnel, FunnelLimit, FunnelPoint, IntervalBar, IntervalBars, Moment, PointInterval,
    Share, Shares, Timeline,
};
use super::records_page::between;
use super::words;
use crate::model::Library;
use crate::model::lesion::Lesion;
use crate::model::words::Words;
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
    /// How many farms of which kind, and by which checklist.
    pub head: String,
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
    /// What the page was made with.
    pub made_with: String,
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
    let words = &library.words;
    let writer = Writer { library, outcome };
    let figures = writer.figures();
    let (options, further_options) = outcome.options.split_at(outcome.options.len().min(OPTIONS_AT_LENGTH));
    let listed = outcome.farms_list.len() <= MOST_LISTED;
    let points = if listed { outcome.farms_list.as_slice() } else { &[] };
    let years = if outcome.years.len() > 1 { outcome.years.as_slice() } else { &[] };
    let page = GroupPage {
        year: outcome.year,
        head: writer.head(),
        any: outcome.farms >= FEWEST,
        rates: writer.rates(),
        points: points.iter().map(|farm| point(words, farm)).collect(),
        points_left_out: if listed { String::new() } else { words.word("group.too-many-to-list") },
        limits: outcome.limits.iter().map(|it| limits(words, it)).collect(),
        score: outcome.score.map_or(String::new(), |score| {
            words.say("group.score-is", &[("spread", &in_words(words, score, 0))])
        }),
        sections: outcome.sections.iter().map(|named| writer.section(named)).collect(),
        factors: outcome.factors.iter().map(|named| writer.factor(named)).collect(),
        shared: writer.shared(),
        lesions: writer.lesions(),
        options: options.iter().map(|option| writer.option(option)).collect(),
        further_options: further_options.iter().map(|option| writer.option(option)).collect(),
        years: years.iter().map(|it| year(words, it)).collect(),
        change: outcome.change.as_ref().map(|change| writer.change(change)),
        withheld: writer.withheld(),
        mine: outcome.mine.as_ref().map(|mine| writer.mine(mine)),
        figures: figures.keys().cloned().collect(),
        made_with: words.say(
            "group.made-with",
            &[("version", env!("CARGO_PKG_VERSION")), ("draws", &words.whole(draws as f64))],
        ),
    };
    GroupReport { page, figures }
}

struct Writer<'a> {
    library: &'a Library,
    outcome: &'a GroupOutcome,
}

/// "14 on the farm in the middle; the middle half of the farms lies between 12 and 16".
fn in_words(words: &Words, spread: Spread, places: usize) -> String {
    let text = |value| words.decimals(value, places);
    let (low, high) = spread.quartiles.unwrap_or((f64::NAN, f64::NAN));
    let key = match spread.quartiles {
        None => "group.spread-about",
        Some((low, high)) if low == high => "group.spread-none",
        Some(_) => "group.spread",
    };
    words.say(key, &[("median", &text(spread.median)), ("low", &text(low)), ("high", &text(high))])
}

/// "20 to 60", or "40 more to 80 fewer" where it may bring more cases.
fn fewer(words: &Words, interval: (f64, f64)) -> String {
    let (low, high) = interval;
    if low < 0.0 {
        words.say("group.more-to-fewer", &[("more", &words.whole(-low)), ("fewer", &words.whole(high))])
    } else {
        between(words, interval, |cases| words.whole(cases))
    }
}

fn quartiles(words: &Words, spread: Spread, places: usize) -> String {
    spread.quartiles.map_or("–".to_owned(), |interval| pair(words, interval, places))
}

fn pair(words: &Words, interval: (f64, f64), places: usize) -> String {
    between(words, interval, |end| words.decimals(end, places))
}

fn point(words: &Words, point: &FarmPoint) -> PointText {
    PointText {
        rate: words.whole(point.rate),
        shrunken: words.decimals(point.shrunken.mean, 1),
        interval: pair(words, point.shrunken.interval, 1),
        best: about(words, point.p_best_quarter),
        worst: about(words, point.p_worst_quarter),
    }
}

/// A chance that is known to a twentieth.
fn about(words: &Words, share: f64) -> String {
    match share {
        s if s < 0.025 => words.say("number.under", &[("n", &words.percent(0.05))]),
        s if s > 0.975 => words.say("number.over", &[("n", &words.percent(0.95))]),
        s => words.chance(s),
    }
}

fn limits(words: &Words, limits: &FunnelLimits) -> LimitText {
    LimitText {
        cow_years: words.whole(limits.cow_years),
        inner: pair(words, limits.inner, 1),
        outer: pair(words, limits.outer, 1),
    }
}

fn year(words: &Words, year: &YearFigures) -> YearText {
    let middle = |spread: Spread| match spread.quartiles {
        None => words.say("group.about", &[("n", &words.whole(spread.median))]),
        Some(quartiles) => format!("{} ({})", words.whole(spread.median), pair(words, quartiles, 0)),
    };
    let text = |spread: Option<Spread>| spread.map_or_else(|| words.word("group.not-given"), middle);
    YearText { year: year.year, farms: year.farms, rate: text(year.rate), score: text(year.score) }
}

/// What is said of something that fell, rose or stayed.
fn moved(words: &Words, change: f64, places: usize, [fell, rose, stayed]: [&str; 3]) -> String {
    let key = match change {
        c if c < 0.0 => fell,
        c if c > 0.0 => rose,
        _ => stayed,
    };
    words.say(key, &[("by", &words.decimals(change.abs(), places))])
}

impl Writer<'_> {
    /// A sentence of so many farms.
    fn of_farms(&self, farms: usize, key: &str, values: &[(&str, &str)]) -> String {
        let words = &self.library.words;
        let n = words.whole(farms as f64);
        let values: Vec<(&str, &str)> =
            [("n", n.as_str())].into_iter().chain(values.iter().copied()).collect();
        words.say_for(farms as f64, key, &values)
    }

    fn head(&self) -> String {
        let system = words::system_words(&self.library.words, self.outcome.system);
        let values = [("system", system.as_str()), ("checklist", &self.library.checklist.title)];
        self.of_farms(self.outcome.farms, "group.head", &values)
    }

    fn rates(&self) -> Vec<String> {
        let (words, outcome) = (&self.library.words, self.outcome);
        let mut says = Vec::new();
        if let Some(rate) = outcome.rate {
            let spread = in_words(words, rate, 0);
            let values = [("with", words.whole(rate.farms as f64)), ("spread", spread)];
            let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
            says.push(self.of_farms(outcome.farms, "group.have-records", &values));
        }
        if let Some(fit) = outcome.fit {
            says.push(words.say("group.common-rate", &[("rate", &words.decimals(fit.mean, 1))]));
            says.push(match fit.shape {
                Some(shape) => words.say(
                    "group.farms-differ",
                    &[
                        ("share", &words.percent(1.0 / libm::sqrt(shape))),
                        ("shape", &words.trimmed(shape, 3)),
                    ],
                ),
                None => words.word("group.farms-alike"),
            });
        }
        says
    }

    fn lesions(&self) -> Vec<LesionText> {
        let shares = self.outcome.lesions.iter();
        let text = |(lesion, share): &(Lesion, f64)| LesionText {
            name: words::lesion(self.library, *lesion),
            share: self.library.words.percent(*share),
        };
        shares.map(text).collect()
    }

    fn own(&self, factor: &str) -> String {
        let mine = self.outcome.mine.as_ref();
        let own = mine.and_then(|mine| mine.exposures.iter().find(|(id, _)| id == factor));
        own.map_or(String::new(), |(_, x)| self.library.words.decimals(*x, 1))
    }

    fn section_title(&self, id: &str) -> String {
        let section = self.library.checklist.sections.iter().find(|section| section.id == id);
        section.map_or(id.to_owned(), |section| section.title.clone())
    }

    fn section(&self, named: &Named) -> SpreadText {
        let words = &self.library.words;
        SpreadText {
            title: self.section_title(&named.id),
            farms: named.spread.farms,
            median: words.whole(named.spread.median),
            quartiles: quartiles(words, named.spread, 0),
            own: String::new(),
        }
    }

    fn title(&self, factor: &str) -> String {
        self.library.factor(factor).map_or(factor.to_owned(), |factor| factor.title.clone())
    }

    fn factor(&self, named: &Named) -> SpreadText {
        let words = &self.library.words;
        let trimmed = |value| words.trimmed(value, 3);
        SpreadText {
            title: self.title(&named.id),
            farms: named.spread.farms,
            median: trimmed(named.spread.median),
            quartiles: named
                .spread
                .quartiles
                .map_or("–".to_owned(), |interval| between(words, interval, trimmed)),
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

    /// A title in quotation marks.
    fn quoted(&self, title: &str) -> String {
        self.library.words.say("group.quoted", &[("title", title)])
    }

    fn option(&self, option: &GroupOption) -> OptionText {
        let words = &self.library.words;
        let shipped = self.library.intervention(&option.id);
        let cases = option.cases_avoided;
        let range = cases.and_then(|cases| cases.interval);
        OptionText {
            title: self.option_title(&option.id),
            cases: cases.map_or(String::new(), |cases| self.about(cases.mean)),
            range: range.map_or(String::new(), |range| fewer(words, range)),
            reduction: words.percent(option.median_reduction),
            how: shipped.map_or(String::new(), |option| option.how.clone()),
            caution: shipped.and_then(|option| option.caution.clone()).unwrap_or_default(),
        }
    }

    fn about(&self, count: f64) -> String {
        let words = &self.library.words;
        words.say("group.about", &[("n", &words.whole(count))])
    }

    fn change(&self, change: &Change) -> ChangeText {
        let words = &self.library.words;
        let (from, to) = (change.from.to_string(), self.outcome.year.to_string());
        let mut says =
            vec![self.of_farms(change.farms, "group.change-of", &[("from", from.as_str()), ("to", &to)])];
        if let Some(rate) = change.rate {
            says.push(moved(
                words,
                rate.median,
                0,
                ["group.rate-fell", "group.rate-rose", "group.rate-stayed"],
            ));
        }
        if let Some((value, interval)) = change.rate_ratio {
            let beyond_chance = interval.0 > 1.0 || interval.1 < 1.0;
            let key = if beyond_chance { "group.ratio-beyond-chance" } else { "group.ratio-by-chance" };
            let range = pair(words, interval, 2);
            says.push(words.say(key, &[("ratio", &words.decimals(value, 2)), ("range", &range)]));
        }
        if let Some(score) = change.score {
            says.push(moved(
                words,
                score.median,
                0,
                ["group.score-fell", "group.score-rose", "group.score-stayed"],
            ));
        }
        let factors = change.factors.iter().filter(|named| named.spread.median != 0.0);
        ChangeText {
            from: change.from,
            says,
            factors: factors.map(|named| self.factor_change(named)).collect(),
        }
    }

    fn factor_change(&self, named: &Named) -> SpreadText {
        let keys = ["group.fell", "group.rose", "group.stayed"];
        let median = moved(&self.library.words, named.spread.median, 2, keys);
        SpreadText { median, own: String::new(), ..self.factor(named) }
    }

    fn withheld(&self) -> Vec<String> {
        let withheld = &self.outcome.withheld;
        let mut says: Vec<String> =
            withheld.iter().filter(|withheld| !is_option(withheld)).map(|it| self.says(it)).collect();
        for (why, key) in
            [(Why::TooFew, "group.options-too-few"), (Why::Dominated, "group.options-dominated")]
        {
            let options = withheld.iter().filter_map(|withheld| match &withheld.what {
                What::Option(id) if withheld.why == why => Some(self.quoted(&self.option_title(id))),
                _ => None,
            });
            let options: Vec<String> = options.collect();
            if !options.is_empty() {
                let list = self.library.words.list(&options);
                says.push(
                    self.library.words.say(key, &[("fewest", &FEWEST.to_string()), ("options", &list)]),
                );
            }
        }
        says
    }

    fn says(&self, withheld: &Withheld) -> String {
        let words = &self.library.words;
        let quartiles = FEWEST_FOR_QUARTILES.to_string();
        let of_quartiles = |key: &str| words.say(key, &[("fewest", &quartiles)]);
        let fewest = FEWEST.to_string();
        let what = match &withheld.what {
            What::Everything => {
                return self.of_farms(
                    self.outcome.farms,
                    "group.withheld-everything",
                    &[("fewest", &fewest)],
                );
            }
            What::AllButMedians => return of_quartiles("group.withheld-all-but-medians"),
            What::RateSpread => return of_quartiles("group.withheld-rate-spread"),
            What::Lesions => return of_quartiles("group.withheld-lesions"),
            What::Rates => words.word("group.rates"),
            What::Score => words.word("group.score"),
            What::Section(id) => words.say("group.section-named", &[("title", &self.section_title(id))]),
            What::Factor(id) => self.quoted(&self.title(id)),
            What::Lesion(lesion) => words::lesion(self.library, *lesion),
            What::Option(id) => self.quoted(&self.option_title(id)),
            What::Change(year) => words.say("group.change-since", &[("year", &year.to_string())]),
        };
        match withheld.why {
            Why::TooFew => words.say("group.too-few", &[("what", &what), ("fewest", &fewest)]),
            Why::Dominated => words.say("group.dominated", &[("what", &what)]),
            Why::Subtraction => words.say("group.subtraction", &[("what", &what)]),
        }
    }

    fn mine(&self, mine: &Mine) -> MineText {
        let words = &self.library.words;
        let mut says = Vec::new();
        match (mine.rate, mine.point, mine.place) {
            (Some(rate), Some(point), Some(place)) => {
                says.extend(self.my_place(rate, &point, place));
            }
            (Some(rate), _, _) => {
                says.push(words.say("group.my-rate-alone", &[("rate", &rate.to_string())]));
            }
            (None, _, _) => says.push(words.word("group.no-rate-of-mine")),
        }
        if let (Some(limits), Some(point)) = (mine.limits, mine.point) {
            says.push(within(words, &limits, point.rate));
        }
        if let Some(score) = mine.score {
            let mine = words.say("group.my-score", &[("score", &score.to_string())]);
            says.push(match self.outcome.score {
                Some(spread) => {
                    let group = words.say("group.score-of-group", &[("spread", &in_words(words, spread, 0))]);
                    format!("{mine} {group}")
                }
                None => mine,
            });
        }
        MineText { says }
    }

    fn my_place(&self, rate: u32, point: &FarmPoint, (place, of): (usize, usize)) -> [String; 2] {
        let words = &self.library.words;
        let likely = words.say(
            "group.my-rate",
            &[
                ("rate", &rate.to_string()),
                ("likely", &words.decimals(point.shrunken.mean, 1)),
                ("range", &pair(words, point.shrunken.interval, 1)),
            ],
        );
        let place = words.say(
            "group.my-place",
            &[
                ("place", &place.to_string()),
                ("of", &of.to_string()),
                ("best", &about(words, point.p_best_quarter)),
                ("worst", &about(words, point.p_worst_quarter)),
            ],
        );
        [likely, place]
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
        let words = &self.library.words;
        let row = |(place, farm): (usize, &FarmPoint)| IntervalBar {
            label: format!("{place}."),
            value: point_interval(farm.shrunken.mean, Some(farm.shrunken.interval)),
            value_text: words.say(
                "group.rate-recorded",
                &[("rate", &words.decimals(farm.shrunken.mean, 1)), ("recorded", &words.whole(farm.rate))],
            ),
            close_to_next: false,
        };
        Some(Figure::IntervalBars(IntervalBars {
            caption: self.caption("group.farms-figure", "group.farms-figure-says"),
            axis: words.word("group.new-cases"),
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
        let words = &self.library.words;
        Some(Figure::Funnel(Funnel {
            caption: self.caption("group.funnel-figure", "group.funnel-figure-says"),
            x_axis: words.word("group.funnel-axis"),
            y_axis: words.word("group.new-cases"),
            centre: fit.mean,
            centre_label: words.say("group.rate-of-group", &[("rate", &words.decimals(fit.mean, 1))]),
            points: vec![FunnelPoint { cow_years, rate: point.rate, own: true }],
            limits: limits.into_iter().map(limit).collect(),
            inner_label: words.word("group.inner-by-chance"),
            outer_label: words.word("group.outer-by-chance"),
            own_label: words.word("group.your-farm"),
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
                caption: self.caption("group.factors-figure", "group.factors-figure-says"),
                axis: self.library.words.word("group.factors-axis"),
                rows,
                tie_note: String::new(),
                spans_zero_note: self.library.words.word("group.good-on-a-quarter"),
            })
        })
    }

    fn options_figure(&self) -> Option<Figure> {
        let row = |(place, option): (usize, &GroupOption)| {
            let cases = option.cases_avoided?;
            Some(IntervalBar {
                label: format!("{place}. {}", self.option_title(&option.id)),
                value: point_interval(cases.mean, cases.interval),
                value_text: self.about(cases.mean),
                close_to_next: false,
            })
        };
        let rows: Vec<IntervalBar> =
            (1..).zip(self.outcome.options.iter().take(12)).filter_map(row).collect();
        (!rows.is_empty()).then(|| {
            Figure::IntervalBars(IntervalBars {
                caption: self.caption("group.options-figure", "group.options-figure-says"),
                axis: self.library.words.word("group.options-axis"),
                rows,
                tie_note: String::new(),
                spans_zero_note: self.library.words.word("figure.ranking.spans-zero"),
            })
        })
    }

    fn lesions_figure(&self) -> Option<Figure> {
        let row = |(lesion, share): &(_, f64)| Share {
            label: words::lesion(self.library, *lesion),
            share: point_interval(*share, None),
            value_text: self.library.words.percent(*share),
        };
        let rows: Vec<Share> = self.outcome.lesions.iter().map(row).collect();
        (!rows.is_empty()).then(|| {
            Figure::Shares(Shares {
                caption: self.caption("cases.which-lesions", "group.lesions-figure-says"),
                axis: self.library.words.word("group.share-of-cases"),
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
                value_text: self.library.words.whole(rate.median),
            })
        };
        let points: Vec<Moment> = self.outcome.years.iter().filter_map(moment).collect();
        (points.len() > 1).then(|| {
            Figure::Timeline(Timeline {
                caption: self.caption("group.years-figure", "group.years-figure-says"),
                axis: self.library.words.word("group.new-cases"),
                points,
                events: Vec::new(),
            })
        })
    }

    fn caption(&self, title: &str, description: &str) -> Caption {
        let words = &self.library.words;
        Caption { title: words.word(title), description: words.word(description) }
    }
}

fn is_option(withheld: &Withheld) -> bool {
    matches!(withheld.what, What::Option(_))
}

fn point_interval(point: f64, interval: Option<(f64, f64)>) -> PointInterval {
    let (low, high) = interval.unwrap_or((point, point));
    PointInterval { point, low, high }
}

/// Where a recorded rate lies between the limits of chance.
fn within(words: &Words, limits: &FunnelLimits, rate: f64) -> String {
    let outside = |(low, high): (f64, f64)| rate < low || rate > high;
    let above = rate > limits.inner.1;
    let (key, of) = match (outside(limits.outer), outside(limits.inner)) {
        (true, _) if above => ("group.above-outer", limits.outer),
        (true, _) => ("group.below-outer", limits.outer),
        (_, true) if above => ("group.above-inner", limits.inner),
        (_, true) => ("group.below-inner", limits.inner),
        _ => ("group.within-inner", limits.inner),
    };
    words.say(key, &[("range", &pair(words, of, 1))])
}
