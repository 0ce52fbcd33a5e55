//! The words and figures of a return visit, and the list of what is overdue: finished strings that the
//! templates `revisit.md` and `overdue.md` lay out.

use super::figure::{
    Band, Bands, BeforeAfter, Caption, Change, Event, Figure, Moment as Point, PointInterval, Timeline,
};
use super::{revisit_words as said, words as plain};
use crate::model::Library;
use crate::model::actions::{Action, Actions, Standing, What};
use crate::model::intervention::Intervention;
use crate::model::walk::{Answer, Segment, Walk};
use crate::model::words::Words;
use crate::reckon::revisit::changes::{FactorChange, ItemChange, State};
use crate::reckon::revisit::judged::FEWEST_EFFECTIVE;
use crate::reckon::revisit::learning::{LearnedWeight, Weighed};
use crate::reckon::revisit::periods::Side;
use crate::reckon::revisit::signs::Sign;
use crate::reckon::revisit::{Moment, Rates, Revisit, Visit, compared};
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
    /// How many walks, where there are more than two; else empty.
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
    pub state: String,
}

/// One count.
#[derive(Clone, Debug, Serialize)]
pub struct CountText {
    /// Before or after.
    pub side: String,
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
    pub what: String,
    /// Its value.
    pub value: String,
    /// The reason.
    pub why: String,
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
    page.draws = builder.words().whole(first.settings.draws as f64);
    page.seed = first.settings.seed;
    Some(RevisitReport { figures: builder.figures(&page), page })
}

impl Builder<'_> {
    fn words(&self) -> &Words {
        &self.library.words
    }

    fn page(&self) -> RevisitPage {
        let (words, revisit) = (self.words(), self.revisit);
        let list = self.list();
        let (unseen, seen): (Vec<&ItemChange>, Vec<&ItemChange>) =
            revisit.items.iter().partition(|item| is_unseen(item.state));
        let told = |item: &&&ItemChange| !matches!(item.state, State::AsBefore | State::StayedGood);
        let caution = |it| said::caution(self.library, self.first, list, it);
        let season = |rates: &Rates| said::season_words(words, &rates.compared.season);
        RevisitPage {
            farm: self.last.farm_name.clone(),
            before: words.date(self.first.date),
            after: words.date(self.last.date),
            checklist: self.library.checklist.title.clone(),
            verdict: said::verdict(words, revisit),
            expected: said::expected(words, revisit),
            drift: said::drift_words(words, revisit, self.last.system),
            cautions: revisit.cautions.iter().map(caution).collect(),
            done: self.done(),
            actions: revisit
                .actions
                .iter()
                .filter_map(|review| {
                    let seen = said::seen(self.library, &review.seen);
                    Some(self.action(list.get(review.action)?, review.standing, seen))
                })
                .collect(),
            changed: self.changed(),
            items: seen.iter().filter(told).map(|item| self.item(item)).collect(),
            unseen: unseen.iter().map(|item| self.item(item)).collect(),
            counts: self.counts(),
            ratio: self.ratio(),
            season: revisit.rates.as_ref().map_or(String::new(), season),
            learned: self.learned(),
            learning: self.learning(),
            months_to_see: said::time_needed(words, revisit),
            signs: revisit.signs.iter().map(|sign| self.sign(sign)).collect(),
            treatment: said::treatment(words, revisit.days_to_treatment),
            line: revisit.line.iter().map(|moment| moment_text(words, moment)).collect(),
            walks: match revisit.line.len() {
                0..=2 => String::new(),
                walks => words.whole(walks as f64),
            },
            judged: said::judged(words).map(|(what, value, why)| JudgedText { what, value, why }).into(),
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
        let words = self.words();
        let currency = self.actions.and_then(|actions| actions.currency.as_ref());
        let cost = |amount| said::cost(words, currency, amount).unwrap_or_else(|| NO_VALUE.to_owned());
        ActionText {
            what: self.what(&action.what),
            who: said::who(words, action),
            by: said::day_or_none(words, action.by),
            agreed_cost: cost(action.agreed_cost),
            standing: said::standing(words, standing, action.done_share),
            real_cost: cost(action.real_cost),
            seen,
            note: action.note.clone().unwrap_or_default(),
        }
    }

    fn what(&self, what: &What) -> String {
        said::what(&self.library.interventions, &self.first.segments, what)
    }

    fn done(&self) -> String {
        let list = self.list();
        if list.is_empty() {
            return String::new();
        }
        let reviews = || self.revisit.actions.iter();
        let done = reviews().filter(|review| matches!(review.standing, Standing::Done(_)));
        let in_full = |action: &&Action| action.done_share >= 1.0;
        let (done, part): (Vec<&Action>, Vec<&Action>) =
            done.filter_map(|review| list.get(review.action)).partition(in_full);
        let late = reviews().filter(|review| matches!(review.standing, Standing::Overdue(_))).count();
        let words = self.words();
        let [n, done, part, late] =
            [list.len(), done.len(), part.len(), late].map(|count| words.whole(count as f64));
        let counts = [("n", n.as_str()), ("done", &done), ("part", &part), ("late", &late)];
        let key = match (part.as_str(), late.as_str()) {
            ("0", "0") => "revisit.agreed.done",
            (_, "0") => "revisit.agreed.part",
            ("0", _) => "revisit.agreed.late",
            _ => "revisit.agreed.part-late",
        };
        words.say(key, &counts)
    }

    fn changed(&self) -> String {
        let words = self.words();
        let items = &self.revisit.items;
        let counted = |is: &dyn Fn(State) -> bool, key: &str| {
            let count = items.iter().filter(|item| is(item.state)).count() as f64;
            (count > 0.0).then(|| words.say_for(count, key, &[("n", &words.whole(count))]))
        };
        let became = [
            (State::PutRight, "revisit.changed.put-right"),
            (State::Partly, "revisit.changed.partly"),
            (State::Worse, "revisit.changed.worse"),
            (State::MayBeChance, "revisit.changed.may-be-chance"),
            (State::AsBefore, "revisit.changed.as-before"),
            (State::StayedGood, "revisit.changed.stayed-good"),
        ];
        let mut parts: Vec<String> =
            became.iter().filter_map(|(state, key)| counted(&|it| it == *state, key)).collect();
        parts.extend(counted(&is_unseen, "revisit.changed.unseen"));
        let (n, list) = (words.whole(items.len() as f64), words.list(&parts));
        words.say("revisit.changed.things", &[("n", &n), ("list", &list)])
    }

    fn item(&self, change: &ItemChange) -> ItemText {
        let words = self.words();
        let item = self.library.checklist.item(&change.item);
        let says = |answer: &Option<Answer>| match (answer, item) {
            (Some(answer), Some(item)) => plain::answer(words, item, answer, None),
            _ => words.word("no-answer"),
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
            state: said::state(words, change.state),
        }
    }

    fn counts(&self) -> Vec<CountText> {
        let Ok(rates) = &self.revisit.rates else { return Vec::new() };
        let words = self.words();
        let count = |side: &str, of: Side| CountText {
            side: words.word(side),
            cases: words.whole(of.cases as f64),
            cow_years: words.whole(of.cow_years),
            rate: words.decimals(100.0 * of.cases as f64 / of.cow_years, 1),
        };
        let compared = &rates.compared;
        vec![count("revisit.before", compared.before), count("revisit.after", compared.after)]
    }

    fn ratio(&self) -> String {
        let words = self.words();
        let ratio = match &self.revisit.rates {
            Ok(rates) => &rates.ratio,
            Err(reason) => {
                return words.say("revisit.no-rates", &[("reason", &said::no_rates(words, reason))]);
            }
        };
        let or = |value: Option<f64>, key: &str| {
            value.map_or_else(|| words.word(key), |value| words.decimals(value, 2))
        };
        let high = or(ratio.high, "revisit.rate-ratio.no-limit");
        let range = said::between(words, &words.decimals(ratio.low, 2), &high);
        let p = match ratio.p_central {
            p if p < 0.001 => words.say("revisit.rate-ratio.p-under", &[("n", &words.decimals(0.001, 3))]),
            p => words.decimals(p, 3),
        };
        let ratio = or(ratio.ratio, "number.not-known");
        words.say("revisit.rate-ratio", &[("ratio", &ratio), ("range", &range), ("p", &p)])
    }

    fn learned(&self) -> Vec<LearnedText> {
        let Ok(learned) = &self.revisit.learned else { return Vec::new() };
        let words = self.words();
        let risk_ratio = |weighed: Weighed| {
            let shown = |log: f64| words.decimals(libm::exp(log), 2);
            let (low, high) = weighed.interval;
            with_range(words, &shown(weighed.mean), &shown(low), &shown(high))
        };
        let text = |weight: &LearnedWeight| LearnedText {
            factor: self.library.factors[weight.factor].title.clone(),
            before: risk_ratio(weight.before),
            after: risk_ratio(weight.after),
        };
        learned.weights.iter().map(text).collect()
    }

    fn learning(&self) -> String {
        let words = self.words();
        match &self.revisit.learned {
            Ok(learned) => {
                let draws = learned.draws as f64;
                let fewest = words.whole(FEWEST_EFFECTIVE * draws);
                let (draws, effective) = (words.whole(draws), words.whole(learned.effective_draws));
                let values = [("draws", draws.as_str()), ("effective", &effective), ("fewest", &fewest)];
                words.say("revisit.teaches.draws", &values)
            }
            Err(reason) => said::not_learned(words, reason),
        }
    }

    fn sign(&self, sign: &Sign) -> SignText {
        let words = self.words();
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
            first.push(words.word("revisit.watch.treatment"));
        }
        SignText {
            option: self.what(&what),
            first: first.join(&words.word("list.semicolon")),
            cases: cases_from(words, sign),
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

    fn caption(&self, title: &str, description: &str) -> Caption {
        Caption { title: self.words().word(title), description: self.words().word(description) }
    }

    fn exposures_figure(&self) -> Figure {
        let words = self.words();
        let looked = self.revisit.factors.iter().filter(|change| change.state != State::Neither);
        let row = |change: &FactorChange| Change {
            label: self.library.factors[change.factor].title.clone(),
            before: change.before,
            after: change.after,
            verdict: said::state(words, change.state),
        };
        Figure::BeforeAfter(BeforeAfter {
            caption: self.caption("revisit.what-changed", "revisit.figure.exposures"),
            low_label: words.word("revisit.figure.good"),
            high_label: words.word("revisit.figure.bad"),
            before_label: words.date(self.first.date),
            after_label: words.date(self.last.date),
            rows: looked.map(row).collect(),
        })
    }

    fn expected_figure(&self) -> Figure {
        let words = self.words();
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
        let value_text = match seen {
            Some(seen) => said::ratio(words, seen.point),
            None => words.word("revisit.figure.not-seen"),
        };
        Figure::Bands(Bands {
            caption: self.caption("revisit.figure.expected-title", "revisit.figure.expected-description"),
            axis: words.word("revisit.figure.ratio"),
            below_one: words.word("revisit.figure.fewer"),
            above_one: words.word("revisit.figure.more"),
            expected_label: words.word("revisit.figure.expected"),
            seen_label: words.word("revisit.figure.seen"),
            rows: vec![Band {
                label: words.word("revisit.figure.all-cases"),
                expected: PointInterval { point: expected.mean, low, high },
                seen,
                value_text,
            }],
        })
    }

    fn line_figure(&self, scores: bool) -> Figure {
        let words = self.words();
        let point = |moment: &Moment| {
            let (point, (low, high)) = match scores {
                true => moment.score.map(|(value, interval)| (value, interval.unwrap_or((value, value))))?,
                false => moment.rate.map(|(_, _, rate, interval)| (rate, interval))?,
            };
            Some(Point {
                year: decimal_year(moment.date),
                value: PointInterval { point, low, high },
                value_text: words.count(point),
            })
        };
        let done = self.list().iter().filter_map(|action| {
            let day = action.done?;
            Some((day, format!("{} ({})", self.what(&action.what), words.date(day))))
        });
        let mut done: Vec<(NaiveDate, String)> = done.collect();
        done.sort();
        let (title, axis, description) = match scores {
            true => (
                "revisit.figure.scores-title",
                "revisit.figure.scores-axis",
                "revisit.figure.scores-description",
            ),
            false => (
                "revisit.figure.rates-title",
                "revisit.figure.rates-axis",
                "revisit.figure.rates-description",
            ),
        };
        Figure::Timeline(Timeline {
            caption: self.caption(title, description),
            axis: words.word(axis),
            points: self.revisit.line.iter().filter_map(point).collect(),
            events: done.into_iter().map(|(day, label)| Event { year: decimal_year(day), label }).collect(),
        })
    }
}

/// What stands where there is no value.
const NO_VALUE: &str = "–";

fn is_unseen(state: State) -> bool {
    matches!(state, State::OnlyBefore | State::OnlyAfter | State::Neither)
}

/// "46 (37 to 55)".
fn with_range(words: &Words, value: &str, low: &str, high: &str) -> String {
    format!("{value} ({})", said::between(words, low, high))
}

fn cases_from(words: &Words, sign: &Sign) -> String {
    let Some(weeks) = sign.weeks_to_cases else {
        return words.word(match sign.treatment {
            true => "revisit.watch.shorter-only",
            false => "number.not-known",
        });
    };
    let n = libm::round(weeks).max(0.0);
    let after = words.say_for(n, "weeks", &[("n", &words.whole(n))]);
    let shows = sign
        .from
        .and_then(|day| day.checked_add_signed(chrono::Duration::days((7.0 * weeks.min(5_200.0)) as i64)));
    let key = if sign.done { "revisit.watch.from-day" } else { "revisit.watch.not-before" };
    match shows {
        Some(day) => words.say(key, &[("day", &words.date(day)), ("weeks", &after)]),
        None => words.say("revisit.watch.from-weeks", &[("weeks", &after)]),
    }
}

fn decimal_year(date: NaiveDate) -> f64 {
    let days = if date.leap_year() { 366.0 } else { 365.0 };
    f64::from(date.year()) + f64::from(date.ordinal0()) / days
}

fn moment_text(words: &Words, moment: &Moment) -> MomentText {
    let score = |(value, interval): (f64, Option<(f64, f64)>)| match interval {
        Some((low, high)) => with_range(words, &words.whole(value), &words.whole(low), &words.whole(high)),
        None => words.whole(value),
    };
    let records = |cases: u64, cow_years: f64| {
        let (n, cow_years) = (words.whole(cases as f64), words.whole(cow_years));
        words.say_for(cases as f64, "revisit.line.cases", &[("n", &n), ("cow_years", &cow_years)])
    };
    MomentText {
        date: words.date(moment.date),
        score: moment.score.map_or_else(|| words.word("revisit.line.no-score"), score),
        records: match moment.rate {
            Some((cases, cow_years, ..)) => records(cases, cow_years),
            None => words.word("revisit.line.no-records"),
        },
        rate: match moment.rate {
            Some((_, _, rate, range)) => {
                format!("{} ({})", words.decimals(rate, 1), words.count_range(range))
            }
            None => NO_VALUE.to_owned(),
        },
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
    /// What is done, in a line, or empty.
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
    /// Agreed cost, or empty.
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
    words: &Words,
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
            what: said::what(options, segments, &action.what),
            who: said::who(words, action),
            by: said::day_or_none(words, action.by),
            standing: said::standing(words, action.standing(today), action.done_share),
            agreed_cost: said::cost(words, actions.currency.as_ref(), action.agreed_cost).unwrap_or_default(),
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
        .map(|action| said::what(options, segments, &action.what))
        .collect();
    OverduePage {
        farm: actions.farm.clone(),
        today: words.date(today),
        walk: words.date(actions.walk_date),
        overdue: actions.overdue(today).into_iter().map(|index| text(&actions.list[index])).collect(),
        open: open.into_iter().map(text).collect(),
        done: done.join(&words.word("list.semicolon")),
    }
}
