//! The words and figures of a return visit, and the list of what is overdue: finished strings that the
//! templates `revisit.md` and `overdue.md` lay out.

use super::figure::{
    Band, Bands, BeforeAfter, Caption, Change, Event, Figure, Moment as Point, PointInterval, Timeline,
};
use super::number::{self, count_range, decimals, plural, whole};
use super::{revisit_words as words, words as plain};
use crate::model::Library;
use crate::model::actions::{Action, Actions, Standing, What};
use crate::model::intervention::Intervention;
use crate::model::walk::{Answer, Segment, Walk};
use crate::reckon::revisit::changes::{FactorChange, ItemChange, State};
use crate::reckon::revisit::judged::FEWEST_EFFECTIVE;
use crate::reckon::revisit::learning::Weighed;
use crate::reckon::revisit::periods::Side;
use crate::reckon::revisit::signs::Sign;
use crate::reckon::revisit::{ActionReview, Revisit, Visit, compared};
use chrono::{Datelike, NaiveDate};
use serde::Serialize;
use std::collections::BTreeMap;

/// A return visit's words, and its figures by the name that the template calls them.
#[derive(Clone, Debug)]
pub struct RevisitReport {
    /// Context of the template.
    pub page: RevisitPage,
    /// Figures by name.
    pub figures: BTreeMap<String, Figure>,
}

/// Everything that `revisit.md` may show.
#[derive(Clone, Debug, Serialize)]
pub struct RevisitPage {
    /// Name of the farm.
    pub farm: String,
    /// Date of the first walk, in words.
    pub before: String,
    /// Date of the last.
    pub after: String,
    /// Title of the checklist.
    pub checklist: String,
    /// What the counts bear.
    pub verdict: String,
    /// Expected against seen.
    pub expected: String,
    /// Whether drift could be behind it, or empty.
    pub drift: String,
    /// What to know beside it.
    pub cautions: Vec<String>,
    /// What was done, in a line, or empty without actions.
    pub done: String,
    /// Agreed actions.
    pub actions: Vec<ActionText>,
    /// How many things became what, in a line.
    pub changed: String,
    /// Things that changed or may have, in the order of the checklist.
    pub items: Vec<ItemText>,
    /// What was not looked at on one of the walks, or on both.
    pub unseen: Vec<ItemText>,
    /// The two counts; empty without them.
    pub counts: Vec<CountText>,
    /// Ratio with its interval and p value, or why there is none.
    pub ratio: String,
    /// Which months were compared, or empty.
    pub season: String,
    /// Weights after this farm's experience.
    pub learned: Vec<LearnedText>,
    /// What they rest on, or why there are none.
    pub learning: String,
    /// How long until the change can be seen.
    pub months_to_see: String,
    /// What to watch first.
    pub signs: Vec<SignText>,
    /// On the days from first sign to treatment, or empty.
    pub treatment: String,
    /// Every walk.
    pub line: Vec<MomentText>,
    /// How many walks, in words, where there are more than two; else empty.
    pub walks: String,
    /// What is judged, and why.
    pub judged: Vec<JudgedText>,
    /// Whether a figure of the scores can be drawn.
    pub has_scores: bool,
    /// Whether a figure of the rates can be drawn.
    pub has_rates: bool,
    /// Number of draws.
    pub draws: String,
    /// Seed.
    pub seed: u64,
    /// Version of the program.
    pub program_version: &'static str,
}

/// One agreed action.
#[derive(Clone, Debug, Serialize)]
pub struct ActionText {
    /// What, with its place.
    pub what: String,
    /// Who.
    pub who: String,
    /// By when.
    pub by: String,
    /// Agreed cost.
    pub agreed_cost: String,
    /// How it stands.
    pub standing: String,
    /// Real cost.
    pub real_cost: String,
    /// What the walk saw, or empty.
    pub seen: String,
    /// Remark, or empty.
    pub note: String,
}

/// One item in one place.
#[derive(Clone, Debug, Serialize)]
pub struct ItemText {
    /// What was asked.
    pub ask: String,
    /// Where, or empty.
    pub place: String,
    /// The answer on the first walk.
    pub before: String,
    /// The answer on the last.
    pub after: String,
    /// What became of it.
    pub state: &'static str,
}

/// One count.
#[derive(Clone, Debug, Serialize)]
pub struct CountText {
    /// Before or after.
    pub side: &'static str,
    /// Cases.
    pub cases: String,
    /// Cow-years.
    pub cow_years: String,
    /// Cases per 100 cow-years.
    pub rate: String,
}

/// One weight before and after: risk ratios of the whole step.
#[derive(Clone, Debug, Serialize)]
pub struct LearnedText {
    /// Title of the factor.
    pub factor: String,
    /// Before.
    pub before: String,
    /// After.
    pub after: String,
}

/// What to watch for one option.
#[derive(Clone, Debug, Serialize)]
pub struct SignText {
    /// The option with its place.
    pub option: String,
    /// What to measure again as soon as it is done.
    pub first: String,
    /// When there can be fewer cases.
    pub cases: String,
}

/// One thing that is judged.
#[derive(Clone, Debug, Serialize)]
pub struct JudgedText {
    /// What.
    pub what: &'static str,
    /// Its value.
    pub value: String,
    /// The reason.
    pub why: &'static str,
}

/// One walk of the line.
#[derive(Clone, Debug, Serialize)]
pub struct MomentText {
    /// Date.
    pub date: String,
    /// Score with its interval, or "none".
    pub score: String,
    /// Cases and cow-years, or "no records".
    pub records: String,
    /// Rate with its interval, or "–".
    pub rate: String,
}

struct Builder<'a> {
    revisit: &'a Revisit,
    library: &'a Library,
    first: &'a Walk,
    last: &'a Walk,
    actions: Option<&'a Actions>,
}

/// The report of a comparison; `None` without walks. `visits` and `actions` are those it was made of.
pub fn revisit_page(visits: &[Visit], revisit: &Revisit, actions: Option<&Actions>) -> Option<RevisitReport> {
    let (before, after) = compared(visits)?;
    let (first, last) = (before.prepared, after.prepared);
    let builder = Builder { revisit, library: first.library, first: first.walk, last: last.walk, actions };
    let mut page = builder.page();
    page.draws = whole(first.settings.draws as f64);
    page.seed = first.settings.seed;
    Some(RevisitReport { figures: builder.figures(&page), page })
}

impl Builder<'_> {
    fn page(&self) -> RevisitPage {
        let revisit = self.revisit;
        let list = self.list();
        let (unseen, seen): (Vec<&ItemChange>, Vec<&ItemChange>) =
            revisit.items.iter().partition(|item| is_unseen(item.state));
        let told = |item: &&&ItemChange| !matches!(item.state, State::AsBefore | State::StayedGood);
        let drift = words::drift_words(revisit, self.last.system);
        RevisitPage {
            farm: self.last.farm_name.clone(),
            before: number::date(self.first.date),
            after: number::date(self.last.date),
            checklist: self.library.checklist.title.clone(),
            verdict: words::verdict(revisit),
            expected: words::expected(revisit),
            drift,
            cautions: revisit
                .cautions
                .iter()
                .map(|it| words::caution(self.library, self.first, list, it))
                .collect(),
            done: self.done(),
            actions: revisit
                .actions
                .iter()
                .filter_map(|review| {
                    let seen = words::seen(self.library, &review.seen);
                    Some(self.action(list.get(review.action)?, review.standing, seen))
                })
                .collect(),
            changed: self.changed(),
            items: seen.iter().filter(told).map(|item| self.item(item)).collect(),
            unseen: unseen.iter().map(|item| self.item(item)).collect(),
            counts: self.counts(),
            ratio: self.ratio(),
            season: revisit
                .rates
                .as_ref()
                .map_or(String::new(), |rates| words::season_words(&rates.compared.season)),
            learned: self.learned(),
            learning: self.learning(),
            months_to_see: words::time_needed(revisit),
            signs: revisit.signs.iter().map(|sign| self.sign(sign)).collect(),
            treatment: words::treatment(revisit.days_to_treatment),
            line: revisit.line.iter().map(moment).collect(),
            walks: match revisit.line.len() {
                0..=2 => String::new(),
                walks => plural(walks as u64, "walk", "walks"),
            },
            judged: words::judged().map(|(what, value, why)| JudgedText { what, value, why }).into(),
            has_scores: revisit.line.iter().any(|moment| moment.score.is_some()),
            has_rates: revisit.line.iter().any(|moment| moment.rate.is_some()),
            draws: String::new(),
            seed: 0,
            program_version: env!("CARGO_PKG_VERSION"),
        }
    }

    fn list(&self) -> &[Action] {
        self.actions.map_or(&[], |actions| &actions.list)
    }

    fn action(&self, action: &Action, standing: Standing, seen: String) -> ActionText {
        let currency = self.actions.and_then(|actions| actions.currency.as_ref());
        ActionText {
            what: words::what(&self.library.interventions, &self.first.segments, &action.what),
            who: action.who.clone().unwrap_or_else(|| "nobody named".to_owned()),
            by: words::day_or_none(action.by),
            agreed_cost: words::cost(currency, action.agreed_cost),
            standing: words::standing(standing, action.done_share),
            real_cost: words::cost(currency, action.real_cost),
            seen,
            note: action.note.clone().unwrap_or_default(),
        }
    }

    fn done(&self) -> String {
        if self.list().is_empty() {
            return String::new();
        }
        let standing = |review: &&ActionReview| matches!(review.standing, Standing::Done(_));
        let done: Vec<&Action> = self
            .revisit
            .actions
            .iter()
            .filter(standing)
            .filter_map(|it| self.list().get(it.action))
            .collect();
        let whole_ones = done.iter().filter(|action| action.done_share >= 1.0).count();
        let late = |review: &&ActionReview| matches!(review.standing, Standing::Overdue(_));
        let late = self.revisit.actions.iter().filter(late).count();
        let mut parts = vec![format!("{whole_ones} of {} agreed actions done", self.list().len())];
        if done.len() > whole_ones {
            parts.push(format!("{} done in part", done.len() - whole_ones));
        }
        if late > 0 {
            parts.push(format!("{late} overdue"));
        }
        format!("{}.", number::list(&parts))
    }

    fn changed(&self) -> String {
        let count = |state: State| self.revisit.items.iter().filter(|item| item.state == state).count();
        let order = [
            State::PutRight,
            State::Partly,
            State::Worse,
            State::MayBeChance,
            State::AsBefore,
            State::StayedGood,
        ];
        let mut parts: Vec<String> = order
            .into_iter()
            .filter(|state| count(*state) > 0)
            .map(|state| format!("{} {}", count(state), words::state(state)))
            .collect();
        let unseen = self.revisit.items.iter().filter(|item| is_unseen(item.state)).count();
        if unseen > 0 {
            parts.push(format!("{unseen} not looked at on both walks"));
        }
        format!("Of {} things asked: {}.", self.revisit.items.len(), number::list(&parts))
    }

    fn item(&self, change: &ItemChange) -> ItemText {
        let item = self.library.checklist.item(&change.item);
        let says = |answer: &Option<Answer>| match (answer, item) {
            (Some(answer), Some(item)) => plain::answer(&self.library.words, item, answer, None),
            _ => "no answer".to_owned(),
        };
        let segments = || self.first.segments.iter().chain(&self.last.segments);
        let named = |id: &String| {
            segments().find(|segment| segment.id == *id).map_or(id.clone(), |segment| segment.name.clone())
        };
        ItemText {
            ask: item.map_or(change.item.clone(), |item| item.ask.clone()),
            place: change.segment.as_ref().map_or(String::new(), named),
            before: says(&change.before),
            after: says(&change.after),
            state: words::state(change.state),
        }
    }

    fn counts(&self) -> Vec<CountText> {
        let Ok(rates) = &self.revisit.rates else { return Vec::new() };
        let count = |side: &'static str, of: Side| CountText {
            side,
            cases: whole(of.cases as f64),
            cow_years: whole(of.cow_years),
            rate: decimals(100.0 * of.cases as f64 / of.cow_years, 1),
        };
        vec![count("before", rates.compared.before), count("after", rates.compared.after)]
    }

    fn ratio(&self) -> String {
        let rates = match &self.revisit.rates {
            Ok(rates) => rates,
            Err(reason) => return format!("No rates are compared: {}", words::no_rates(Some(reason))),
        };
        let ratio = &rates.ratio;
        let value = ratio.ratio.map_or("not known".to_owned(), |value| decimals(value, 2));
        let high = ratio.high.map_or("no limit".to_owned(), |high| decimals(high, 2));
        let p = match ratio.p_central {
            p if p < 0.001 => "under 0.001".to_owned(),
            p => decimals(p, 3),
        };
        format!(
            "Rate after over rate before: {value} (exact 95% interval {} to {high}; two-sided p {p}).",
            decimals(ratio.low, 2)
        )
    }

    fn learned(&self) -> Vec<LearnedText> {
        let Ok(learned) = &self.revisit.learned else { return Vec::new() };
        let risk_ratio = |weighed: Weighed| {
            let (low, high) = weighed.interval;
            format!(
                "{} ({} to {})",
                decimals(libm::exp(weighed.mean), 2),
                decimals(libm::exp(low), 2),
                decimals(libm::exp(high), 2)
            )
        };
        let text = |weight: &crate::reckon::revisit::learning::LearnedWeight| LearnedText {
            factor: self.library.factors[weight.factor].title.clone(),
            before: risk_ratio(weight.before),
            after: risk_ratio(weight.after),
        };
        learned.weights.iter().map(text).collect()
    }

    fn learning(&self) -> String {
        match &self.revisit.learned {
            Ok(learned) => format!(
                "Each draw of the weights counts by how well it foretells both counts, with room for the drift of a \
                 farm where nothing is done. Of {} draws, {} count in effect (under {} nothing would be shown). One \
                 farm's one change moves a weight little, and should.",
                whole(learned.draws as f64),
                whole(learned.effective_draws),
                whole(FEWEST_EFFECTIVE * learned.draws as f64)
            ),
            Err(reason) => words::not_learned(reason),
        }
    }

    fn sign(&self, sign: &Sign) -> SignText {
        let what = What::Option {
            id: self.library.interventions[sign.intervention].id.clone(),
            segment: sign.segment.clone(),
        };
        let mut first: Vec<String> = sign
            .factors
            .iter()
            .map(|index| self.library.factors[*index].title.clone())
            .filter(|title| !title.is_empty())
            .collect();
        if sign.treatment {
            first.push("days from first sign to treatment".to_owned());
        }
        SignText {
            option: words::what(&self.library.interventions, &self.first.segments, &what),
            first: first.join("; "),
            cases: cases_from(sign),
        }
    }

    fn figures(&self, page: &RevisitPage) -> BTreeMap<String, Figure> {
        let mut figures = BTreeMap::from([
            ("exposures".to_owned(), self.exposures_figure()),
            ("expected".to_owned(), self.expected_figure()),
        ]);
        if page.has_scores {
            figures.insert("scores".to_owned(), self.line_figure(true));
        }
        if page.has_rates {
            figures.insert("rates".to_owned(), self.line_figure(false));
        }
        figures
    }

    fn exposures_figure(&self) -> Figure {
        let looked = self.revisit.factors.iter().filter(|change| change.state != State::Neither);
        let row = |change: &FactorChange| Change {
            label: self.library.factors[change.factor].title.clone(),
            before: change.before,
            after: change.after,
            verdict: words::state(change.state).to_owned(),
        };
        Figure::BeforeAfter(BeforeAfter {
            caption: Caption {
                title: "What changed on the farm".to_owned(),
                description:
                    "Exposure to each risk factor on the first and the last walk, 0 to 1. The tables below \
                              say what was found."
                        .to_owned(),
            },
            low_label: "good practice".to_owned(),
            high_label: "the bad end".to_owned(),
            before_label: number::date(self.first.date),
            after_label: number::date(self.last.date),
            rows: looked.map(row).collect(),
        })
    }

    fn expected_figure(&self) -> Figure {
        let expected = &self.revisit.expected;
        let (low, high) = expected.range.unwrap_or(expected.model);
        let seen = self.revisit.rates.as_ref().ok().and_then(|rates| {
            let ratio = &rates.ratio;
            Some(PointInterval {
                point: ratio.ratio?,
                low: ratio.low,
                high: ratio.high.unwrap_or(f64::INFINITY),
            })
        });
        Figure::Bands(Bands {
            caption: Caption {
                title: "Expected against seen".to_owned(),
                description:
                    "Rate of new cases after the changes over the rate before: what was to be expected, \
                              counting luck included, and what was seen, with 95% intervals."
                        .to_owned(),
            },
            axis: "rate after over rate before".to_owned(),
            below_one: "fewer cases".to_owned(),
            above_one: "more cases".to_owned(),
            expected_label: "expected".to_owned(),
            seen_label: "seen".to_owned(),
            rows: vec![Band {
                label: "All cases".to_owned(),
                expected: PointInterval { point: expected.mean, low, high },
                seen,
                value_text: seen.map_or("not seen yet".to_owned(), |seen| words::ratio(seen.point)),
            }],
        })
    }

    fn line_figure(&self, scores: bool) -> Figure {
        let point = |moment: &crate::reckon::revisit::Moment| {
            let (point, (low, high)) = match scores {
                true => moment.score.map(|(value, interval)| (value, interval.unwrap_or((value, value))))?,
                false => moment.rate.map(|(_, _, rate, interval)| (rate, interval))?,
            };
            Some(Point {
                year: decimal_year(moment.date),
                value: PointInterval { point, low, high },
                value_text: number::count(point),
            })
        };
        let done = self.list().iter().filter_map(|action| {
            let day = action.done?;
            let what = words::what(&self.library.interventions, &self.first.segments, &action.what);
            Some((day, format!("{what} ({})", number::date(day))))
        });
        let mut done: Vec<(NaiveDate, String)> = done.collect();
        done.sort();
        let (title, axis, description) = match scores {
            true => ("Score of each walk", "score, 0 = good practice", "Score with its 90% interval."),
            false => (
                "New cases in the records of each walk",
                "cases per 100 cow-years",
                "Rate with its exact 95% interval, drawn at the day of the walk.",
            ),
        };
        Figure::Timeline(Timeline {
            caption: Caption { title: title.to_owned(), description: description.to_owned() },
            axis: axis.to_owned(),
            points: self.revisit.line.iter().filter_map(point).collect(),
            events: done.into_iter().map(|(day, label)| Event { year: decimal_year(day), label }).collect(),
        })
    }
}

fn is_unseen(state: State) -> bool {
    matches!(state, State::OnlyBefore | State::OnlyAfter | State::Neither)
}

fn cases_from(sign: &Sign) -> String {
    let Some(weeks) = sign.weeks_to_cases else {
        return match sign.treatment {
            true => "no fewer cases; shorter ones, from the next case on".to_owned(),
            false => "not known".to_owned(),
        };
    };
    let after = plural(libm::round(weeks).max(0.0) as u64, "week", "weeks");
    let shows = sign
        .from
        .and_then(|day| day.checked_add_signed(chrono::Duration::days((7.0 * weeks.min(5_200.0)) as i64)));
    match (shows, sign.done) {
        (Some(day), true) => format!("from {} on ({after} after it was done)", number::date(day)),
        (Some(day), false) => format!("not before {}, if done on time ({after} after)", number::date(day)),
        (None, _) => format!("from {after} after it is done"),
    }
}

fn decimal_year(date: NaiveDate) -> f64 {
    let days = if date.leap_year() { 366.0 } else { 365.0 };
    f64::from(date.year()) + f64::from(date.ordinal0()) / days
}

fn moment(moment: &crate::reckon::revisit::Moment) -> MomentText {
    MomentText {
        date: number::date(moment.date),
        score: moment.score.map_or("none".to_owned(), |(value, interval)| match interval {
            Some((low, high)) => format!("{} ({} to {})", whole(value), whole(low), whole(high)),
            None => whole(value),
        }),
        records: moment.rate.map_or("no records".to_owned(), |(cases, cow_years, ..)| {
            format!("{} in {} cow-years", plural(cases, "case", "cases"), whole(cow_years))
        }),
        rate: moment.rate.map_or("–".to_owned(), |(_, _, rate, interval)| {
            format!("{} ({})", decimals(rate, 1), count_range(interval))
        }),
    }
}

/// Everything that `overdue.md` may show.
#[derive(Clone, Debug, Serialize)]
pub struct OverduePage {
    /// Name of the farm.
    pub farm: String,
    /// The day on which the list was made.
    pub today: String,
    /// Date of the walk after which the actions were agreed.
    pub walk: String,
    /// What is overdue, the longest first.
    pub overdue: Vec<OverdueText>,
    /// What is still to come, the soonest first, then what has no date.
    pub open: Vec<OverdueText>,
    /// What is done, in a line.
    pub done: String,
}

/// One action that is not done.
#[derive(Clone, Debug, Serialize)]
pub struct OverdueText {
    /// What, with its place.
    pub what: String,
    /// Who.
    pub who: String,
    /// By when.
    pub by: String,
    /// How it stands.
    pub standing: String,
    /// Agreed cost.
    pub agreed_cost: String,
    /// How to do it, or empty.
    pub how: String,
    /// What can go wrong, or empty.
    pub caution: String,
    /// Remark, or empty.
    pub note: String,
}

/// What is overdue and what is still to come on a day, with the options and the segments that the actions
/// name.
pub fn overdue_page(
    options: &[Intervention],
    segments: &[Segment],
    actions: &Actions,
    today: NaiveDate,
) -> OverduePage {
    let text = |action: &Action| {
        let option = match &action.what {
            What::Option { id, .. } => options.iter().find(|option| option.id == *id),
            What::Words(_) => None,
        };
        OverdueText {
            what: words::what(options, segments, &action.what),
            who: action.who.clone().unwrap_or_else(|| "nobody named".to_owned()),
            by: words::day_or_none(action.by),
            standing: words::standing(action.standing(today), action.done_share),
            agreed_cost: words::cost(actions.currency.as_ref(), action.agreed_cost),
            how: option.map_or(String::new(), |option| option.how.trim().to_owned()),
            caution: option.and_then(|it| it.caution.as_deref()).unwrap_or("").trim().to_owned(),
            note: action.note.clone().unwrap_or_default(),
        }
    };
    let mut open: Vec<&Action> = actions
        .list
        .iter()
        .filter(|action| matches!(action.standing(today), Standing::Due(_) | Standing::NoDate))
        .collect();
    open.sort_by_key(|action| action.by.unwrap_or(NaiveDate::MAX));
    let done: Vec<String> = actions
        .list
        .iter()
        .filter(|action| matches!(action.standing(today), Standing::Done(_)))
        .map(|action| words::what(options, segments, &action.what))
        .collect();
    OverduePage {
        farm: actions.farm.clone(),
        today: number::date(today),
        walk: number::date(actions.walk_date),
        overdue: actions.overdue(today).into_iter().map(|index| text(&actions.list[index])).collect(),
        open: open.into_iter().map(text).collect(),
        done: if done.is_empty() { "nothing yet".to_owned() } else { done.join("; ") },
    }
}
