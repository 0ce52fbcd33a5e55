//! The words and figures of a walk's report: finished strings that the templates only lay out.

use super::evidence::{Methods, cite_id, methods};
use super::figure::{
    Caption, Figure, IntervalBar, IntervalBars, PointInterval, Remainder, SectionMeter, SectionMeters,
    StackedBar, StackedBars,
};
use super::own_records_page::{OwnRecordsText, own_records_chapter, own_records_words};
use super::plan_page::{PlanPage, PlanReport, plan_page};
use super::words::{self, Directions};
use crate::model::checklist::{Item, Section};
use crate::model::intervention::Each;
use crate::model::lesion::Lesion;
use crate::model::money::Triangle;
use crate::model::walk::{Answer, Walk};
use crate::model::words::Words;
use crate::model::{Library, factor::Factor};
use crate::reckon::effects::Basis;
use crate::reckon::interventions::Gain;
use crate::reckon::own_records::OwnRecords;
use crate::reckon::plan::FarmPlan;
use crate::reckon::prices::CaseCosts;
use crate::reckon::score::SectionScore;
use crate::reckon::stats::power::fewest_months;
use crate::reckon::stats::summary::mean;
use crate::reckon::{Estimate, FactorOutcome, OptionOutcome, Outcome, Prepared, RankBy};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// How many actions the farmer is given: few, so that they are carried out.
pub const ACTIONS: usize = 3;

/// Rows of a chart: as many as fit a printed page in the size of its text.
const CHART_ROWS: usize = 10;

/// Days in a mean month.
const DAYS_A_MONTH: f64 = 30.4375;

/// A report's words, and its figures by the name that the templates call them.
#[derive(Clone, Debug)]
pub struct Report {
    /// Context of the templates.
    pub page: WalkPage,
    /// Context of the methods page.
    pub methods: Methods,
    /// Figures by name.
    pub figures: BTreeMap<String, Figure>,
    /// Words of the language that the report is in.
    pub words: Arc<Words>,
}

/// Everything a template of the walk's report may show.
#[derive(Clone, Debug, Serialize)]
pub struct WalkPage {
    /// Name of the farm.
    pub farm: String,
    /// Date in words.
    pub date: String,
    /// The same day a year on, in words.
    pub in_a_year: String,
    /// Who walked, in a word, or empty.
    pub by: String,
    /// Cows in the herd.
    pub cows: String,
    /// "pasture" or "housed".
    pub system: String,
    /// Title of the checklist.
    pub checklist: String,
    /// Its version.
    pub version: String,
    /// Remarks of the walk.
    pub notes: String,
    /// What the options are ranked by, in words.
    pub ranked_by: String,
    /// The farm's lameness.
    pub burden: BurdenText,
    /// The score.
    pub score: ScoreText,
    /// The first things to do.
    pub actions: Vec<ActionText>,
    /// What they bring together; `None` where nothing brings anything.
    pub together: Option<TogetherText>,
    /// Every option, best first.
    pub options: Vec<OptionText>,
    /// Answered factors, most attributed cases first.
    pub factors: Vec<FactorText>,
    /// What is not explained by what was looked at, mean and range.
    pub unexplained: MeanAndRange,
    /// Lesions, most cases first.
    pub lesions: Vec<LesionText>,
    /// Stretches of track: how long and wide, and who walks them.
    pub stretches: Vec<String>,
    /// Quantities that prices are multiplied by.
    pub quantities: Vec<String>,
    /// Sections of the checklist with what was found.
    pub sections: Vec<SectionText>,
    /// Items that were skipped, with the reason.
    pub skipped: Vec<SkipText>,
    /// Titles of factors with no answered item.
    pub unanswered: Vec<String>,
    /// Costs per case that were used.
    pub costs: Vec<CostText>,
    /// Where the costs per case come from.
    pub costs_from: String,
    /// True where the price of any option can be shown.
    pub has_prices: bool,
    /// True where what any option saves can be shown.
    pub has_savings: bool,
    /// Why money is withheld; empty where it is not.
    pub money_withheld: Vec<String>,
    /// The same in the farmer's words.
    pub money_missing: Vec<String>,
    /// The plan, or the first things told like one; `None` where only the words are wanted.
    pub plan: Option<PlanPage>,
    /// What to measure again.
    pub recheck: Vec<RecheckText>,
    /// How long until a change can be told from chance.
    pub months_to_see: String,
    /// Number of draws.
    pub draws: String,
    /// Seed.
    pub seed: u64,
    /// Version of the program.
    pub program_version: &'static str,
    /// What the farm's own records and scores say.
    pub records: OwnRecordsText,
    /// Files that were read, with their SHA-256.
    pub inputs: Vec<(String, String)>,
}

/// A mean and its range, apart.
#[derive(Clone, Debug, Serialize)]
pub struct MeanAndRange {
    /// Mean.
    pub mean: String,
    /// Range.
    pub range: String,
}

/// The farm's lameness in words.
#[derive(Clone, Debug, Serialize)]
pub struct BurdenText {
    /// Mean new cases a year.
    pub cases: String,
    /// Range of the same.
    pub cases_range: String,
    /// New cases per 100 cow-years, mean and range.
    pub rate: String,
    /// Mean rate across herds of the system.
    pub herds_rate: String,
    /// Rate from the walk alone.
    pub prior_rate: String,
    /// Lame cow-days a year, range.
    pub lame_days: String,
    /// Money lost a year, range, or empty.
    pub cost: String,
    /// What the figures rest on: records or none.
    pub rests_on: String,
    /// True where the farm has records.
    pub has_records: bool,
}

/// The score in words.
#[derive(Clone, Debug, Serialize)]
pub struct ScoreText {
    /// 0–100, or "none".
    pub value: String,
    /// Interval.
    pub interval: String,
    /// Bounds.
    pub bounds: String,
    /// Items answered: "36 of 38".
    pub answered: String,
    /// Plausibility limit.
    pub kappa: String,
}

/// One thing to do.
#[derive(Clone, Debug, Serialize)]
pub struct ActionText {
    /// Option id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Where, or empty for the farm.
    pub place: String,
    /// What was found there.
    pub found: Vec<String>,
    /// How that lames a cow.
    pub why: Vec<String>,
    /// What to do.
    pub how: String,
    /// What it should bring alone.
    pub brings: String,
    /// Lame days, where it shortens cases.
    pub brings_days: String,
    /// What it costs, or why that isn't shown.
    pub cost: String,
    /// Whether it pays, or empty.
    pub pays: String,
    /// Weeks until it takes effect, or empty.
    pub weeks: String,
    /// Caution, or empty.
    pub caution: String,
    /// What it rests on.
    pub rests_on: String,
}

/// What the first things bring together.
#[derive(Clone, Debug, Serialize)]
pub struct TogetherText {
    /// Fewer lame cows.
    pub brings: String,
    /// Share of all cases.
    pub reduction: String,
    /// Capital and yearly cost, or empty.
    pub cost: String,
    /// Saved a year, or empty.
    pub saved: String,
}

/// One row of the ranking.
#[derive(Clone, Debug, Serialize)]
pub struct OptionText {
    /// Place.
    pub rank: usize,
    /// Title with its place.
    pub title: String,
    /// Cases avoided, mean.
    pub cases: String,
    /// Range.
    pub cases_range: String,
    /// Share of all cases.
    pub reduction: String,
    /// Lame days avoided, range.
    pub lame_days: String,
    /// Chance of being among the best three.
    pub p_top3: String,
    /// Chance of being the best.
    pub p_best: String,
    /// Capital, range.
    pub capital: String,
    /// Yearly cost, range.
    pub yearly_cost: String,
    /// Saved, range.
    pub saved: String,
    /// Net benefit, range.
    pub net_benefit: String,
    /// Payback.
    pub payback: String,
    /// Chance that it pays.
    pub p_pays: String,
    /// What it rests on.
    pub rests_on: String,
    /// True where it brings something and can't be told from the next.
    pub close_to_next: bool,
    /// True where it brings nothing that could be shown, neither fewer cases nor fewer lame days.
    pub brings_nothing: bool,
    /// What to do.
    pub how: String,
    /// Caution, or empty.
    pub caution: String,
    /// Weeks until it takes effect, or empty.
    pub weeks: String,
}

/// One answered factor.
#[derive(Clone, Debug, Serialize)]
pub struct FactorText {
    /// Id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Exposure, mean and range.
    pub exposure: String,
    /// By segment, where asked so.
    pub by_segment: Vec<String>,
    /// Cases attributed, mean.
    pub cases: String,
    /// Range.
    pub cases_range: String,
    /// Main lesions, in words.
    pub lesions: String,
    /// What its weight rests on.
    pub basis: String,
    /// Risk ratio of the whole step, after overlap.
    pub risk_ratio: String,
}

/// One lesion group.
#[derive(Clone, Debug, Serialize)]
pub struct LesionText {
    /// Name.
    pub name: String,
    /// Share of cases.
    pub share: String,
    /// Cases a year, mean and range.
    pub cases: String,
    /// Share in the reference mix.
    pub reference: String,
    /// Cases in the records, or "–".
    pub recorded: String,
}

/// One section of the walk.
#[derive(Clone, Debug, Serialize)]
pub struct SectionText {
    /// Title.
    pub title: String,
    /// Score, or "not looked at".
    pub score: String,
    /// True where it has a score.
    pub looked_at: bool,
    /// "5 of 7".
    pub answered: String,
    /// Items with their answers.
    pub items: Vec<ItemText>,
}

/// One item with its answers.
#[derive(Clone, Debug, Serialize)]
pub struct ItemText {
    /// What was asked.
    pub ask: String,
    /// Answers by place.
    pub answers: Vec<String>,
    /// Where the threshold comes from; `None` where it is common practice.
    pub source: Option<String>,
}

/// A skipped item.
#[derive(Clone, Debug, Serialize)]
pub struct SkipText {
    /// What was asked.
    pub ask: String,
    /// Why not.
    pub reason: String,
}

/// Cost of a case.
#[derive(Clone, Debug, Serialize)]
pub struct CostText {
    /// Lesion.
    pub lesion: String,
    /// Low, likely, high.
    pub cost: String,
    /// Whose it is.
    pub from: String,
}

/// Something to measure again.
#[derive(Clone, Debug, Serialize)]
pub struct RecheckText {
    /// What.
    pub ask: String,
    /// What was found now.
    pub now: String,
}

struct Builder<'a> {
    prepared: &'a Prepared<'a>,
    outcome: &'a Outcome,
    library: &'a Library,
    walk: &'a Walk,
}

/// The words alone, without the methods page and the figures: what the terminal shows.
pub fn page(
    prepared: &Prepared,
    outcome: &Outcome,
    own: &OwnRecords,
    inputs: &BTreeMap<String, String>,
) -> WalkPage {
    let first = prepared.first_actions(&outcome.alone(prepared), ACTIONS);
    let records = own_records_words(prepared, outcome, own);
    Builder { prepared, outcome, library: prepared.library, walk: prepared.walk }.page(records, inputs, first)
}

/// The report of a walk, with a plan: its first things are the ones told at length.
pub fn report(
    prepared: &Prepared,
    outcome: &Outcome,
    own: &OwnRecords,
    inputs: &BTreeMap<String, String>,
    plan: &FarmPlan,
) -> Report {
    let (records, mut figures) = own_records_chapter(prepared, outcome, own);
    let builder = Builder { prepared, outcome, library: prepared.library, walk: prepared.walk };
    let PlanReport { page: told, figures: drawn } = plan_page(prepared, plan);
    let told_at_length = if told.has_budget { ACTIONS } else { plan.order.len() };
    let first = plan.order.iter().take(told_at_length).map(|added| added.option).collect();
    figures.extend(builder.figures());
    figures.extend(drawn.into_iter().filter(|_| told.has_budget));
    Report {
        page: WalkPage { plan: Some(told), ..builder.page(records, inputs, first) },
        methods: methods(
            prepared.library,
            &prepared.weights,
            prepared.walk.system,
            Some(prepared.plausibility),
        ),
        figures,
        words: Arc::clone(&prepared.library.words),
    }
}

pub(super) fn ranked_by(rank_by: RankBy) -> &'static str {
    match rank_by {
        RankBy::Cases => "ranked-by.cases",
        RankBy::LameDays => "ranked-by.lame-days",
        RankBy::NetBenefit => "ranked-by.net-benefit",
    }
}

/// Whether all that an option brings is nought as it is written.
fn brings_nothing(outcome: &OptionOutcome) -> bool {
    let nought = |estimate: Estimate| {
        let (low, high) = estimate.interval;
        [estimate.mean, low, high].into_iter().all(|value| value.abs() < 0.05)
    };
    nought(outcome.cases_avoided) && nought(outcome.lame_days_avoided)
}

/// "46 (3 of 4 answered)".
fn section_in_words(words: &Words, score: &SectionScore) -> String {
    let (count, of) = (score.answered.to_string(), score.asked.to_string());
    match score.value {
        Some(value) => {
            let value = words.whole(value);
            words.say("figure.sections.score", &[("score", &value), ("count", &count), ("of", &of)])
        }
        None => words.say("figure.sections.no-score", &[("count", &count), ("of", &of)]),
    }
}

impl Builder<'_> {
    fn words(&self) -> &Words {
        &self.library.words
    }

    /// "12 (8 to 21)".
    fn mean_and_range(&self, estimate: Estimate) -> String {
        let MeanAndRange { mean, range } = self.apart(estimate);
        format!("{mean} ({range})")
    }

    fn apart(&self, estimate: Estimate) -> MeanAndRange {
        let words = self.words();
        MeanAndRange { mean: words.count(estimate.mean), range: words.count_range(estimate.interval) }
    }

    /// "36 of 38".
    fn share(&self, count: usize, of: usize) -> String {
        self.words().say("answer.share", &[("count", &count.to_string()), ("of", &of.to_string())])
    }

    fn page(
        &self,
        records: OwnRecordsText,
        inputs: &BTreeMap<String, String>,
        chosen: Vec<usize>,
    ) -> WalkPage {
        let gain = (!chosen.is_empty()).then(|| self.prepared.set_gain(&chosen));
        let walk = self.walk;
        let withheld = self.prepared.money_withheld();
        let words = self.words();
        WalkPage {
            farm: walk.farm_name.clone(),
            date: words.date(walk.date),
            in_a_year: words.date(walk.date.checked_add_months(chrono::Months::new(12)).unwrap_or(walk.date)),
            by: walk.by.map_or(String::new(), |by| words::observer(words, by)),
            cows: words.whole(walk.cows as f64),
            system: words::system_words(words, walk.system),
            checklist: self.library.checklist.title.clone(),
            version: self.library.checklist.version.clone(),
            notes: walk.notes.clone().unwrap_or_default(),
            ranked_by: words.word(ranked_by(self.outcome.settings.rank_by)),
            burden: self.burden(),
            score: self.score(),
            together: gain.as_ref().map(|gain| self.together(&chosen, gain)),
            months_to_see: gain.as_ref().map_or(String::new(), |gain| self.months_to_see(gain)),
            recheck: self.recheck(&chosen),
            actions: chosen.iter().filter_map(|&option| self.action(option)).collect(),
            options: self.outcome.options.iter().map(|option| self.option(option)).collect(),
            factors: self.factors(),
            unexplained: self.apart(self.outcome.burden.unexplained),
            lesions: self.lesions(),
            stretches: walk.segments.iter().map(|segment| words::stretch(words, segment)).collect(),
            quantities: walk.quantities.iter().map(|it| words::quantity(words, it)).collect(),
            sections: self.library.checklist.sections.iter().map(|section| self.section(section)).collect(),
            skipped: self.skipped(),
            unanswered: self.unanswered(),
            costs: self.costs(),
            costs_from: self.costs_from(),
            has_prices: self.outcome.options.iter().any(|option| option.money.is_ok()),
            has_savings: self.outcome.options.iter().any(|option| option.saved.is_some()),
            money_withheld: words::all_withheld(self.library, &withheld),
            money_missing: words::all_withheld_for_farmer(self.library, &withheld),
            plan: None,
            draws: words.whole(self.outcome.settings.draws as f64),
            seed: self.outcome.settings.seed,
            program_version: env!("CARGO_PKG_VERSION"),
            records,
            inputs: inputs.iter().map(|(name, hash)| (name.clone(), hash.clone())).collect(),
        }
    }

    fn currency(&self) -> &str {
        self.walk.currency.as_deref().unwrap_or("")
    }

    fn burden(&self) -> BurdenText {
        let burden = &self.outcome.burden;
        let herds = self.library.burden.system(self.walk.system);
        let words = self.words();
        let rests_on = match burden.herd.records {
            Some((cases, cow_years)) => {
                let (n, cow_years) = (words.whole(cases as f64), words.whole(cow_years));
                words.say_for(cases as f64, "rests-on.records", &[("n", &n), ("cow_years", &cow_years)])
            }
            None => words.word("rests-on.no-records"),
        };
        BurdenText {
            cases: words.count(burden.cases_per_year.mean),
            cases_range: words.count_range(burden.cases_per_year.interval),
            rate: self.mean_and_range(burden.rate_per_100_cow_years),
            herds_rate: words.decimals(herds.incidence_mean_per_100_cow_years, 1),
            prior_rate: words.decimals(burden.herd.prior_mean_per_100_cow_years, 1),
            lame_days: words.count_range(burden.lame_days_per_year.interval),
            cost: burden
                .cost_per_year
                .map_or(String::new(), |cost| words.money_range(self.currency(), cost.interval)),
            rests_on,
            has_records: burden.herd.records.is_some(),
        }
    }

    fn score(&self) -> ScoreText {
        let (score, words) = (&self.outcome.score, self.words());
        let range = |range: Option<(f64, f64)>| {
            range.map_or(words.word("none"), |(low, high)| {
                words.say("number.range", &[("low", &words.whole(low)), ("high", &words.whole(high))])
            })
        };
        ScoreText {
            value: score.value.map_or(words.word("none"), |value| words.whole(value)),
            interval: range(score.interval),
            bounds: range(score.bounds),
            answered: self.share(score.answered, score.asked),
            kappa: words.decimals(self.outcome.plausibility.kappa, 2),
        }
    }

    fn title(&self, intervention: usize, segment: Option<usize>) -> String {
        let option = &self.library.interventions[intervention];
        match words::place(self.walk, segment, option.each) {
            Some(place) => format!("{} – {place}", option.title),
            None => option.title.clone(),
        }
    }

    fn outcome_of(&self, option: usize) -> Option<&OptionOutcome> {
        let id = &self.prepared.options[option].id;
        self.outcome.options.iter().find(|outcome| outcome.id == *id)
    }

    fn factor(&self, position: usize) -> &Factor {
        &self.library.factors[self.prepared.weights[position].factor]
    }

    fn action(&self, option: usize) -> Option<ActionText> {
        let farm_option = &self.prepared.options[option];
        let outcome = self.outcome_of(option)?;
        let intervention = &self.library.interventions[farm_option.intervention];
        let acts = || farm_option.acts.iter().map(|act| self.factor(act.factor));
        let found = acts()
            .flat_map(|factor| words::found(self.library, self.walk, &factor.id, farm_option.segment))
            .map(|found| format!("{}: {}", found.ask, found.now));
        let words = self.words();
        let shortens = intervention.shortens_cases.is_some();
        Some(ActionText {
            id: farm_option.id.clone(),
            title: intervention.title.clone(),
            place: words::place(self.walk, farm_option.segment, intervention.each).unwrap_or_default(),
            found: found.collect(),
            why: acts().filter_map(|factor| factor.why.clone()).collect(),
            how: intervention.how.trim().to_owned(),
            brings: words::fewer_lame_cows(words, outcome.cases_avoided),
            brings_days: if shortens {
                words::fewer_lame_days(words, outcome.lame_days_avoided)
            } else {
                String::new()
            },
            cost: self.action_cost(outcome),
            pays: self.pays(outcome),
            weeks: self.weeks(intervention.weeks_to_effect),
            caution: intervention.caution.as_deref().unwrap_or("").trim().to_owned(),
            rests_on: self.rests_on(option, outcome),
        })
    }

    /// What an option's effect rests on.
    fn rests_on(&self, option: usize, outcome: &OptionOutcome) -> String {
        let acts = self.prepared.options[option].acts.iter();
        let weights = acts.map(|act| &self.prepared.weights[act.factor].basis_by_lesion);
        let judged: Vec<Basis> = weights
            .flat_map(|weight| weight.iter().filter_map(|(_, basis)| *basis))
            .filter(|basis| *basis != Basis::Published)
            .collect();
        let directed = judged.iter().filter(|basis| **basis == Basis::Direction).count();
        let directions = match directed {
            0 => Directions::None,
            all if all == judged.len() => Directions::All,
            _ => Directions::Some,
        };
        words::published_share(self.words(), outcome.published_share, directions)
    }

    fn action_cost(&self, outcome: &OptionOutcome) -> String {
        let words = self.words();
        let costs = match &outcome.money {
            Err(withheld) => return words::withheld_short(words, withheld),
            Ok(costs) => costs,
        };
        let mut parts = Vec::new();
        for (key, cost) in [("cost.once", costs.capital), ("cost.yearly", costs.running)] {
            if cost.mean > 0.0 {
                let sum = words.money_range(self.currency(), cost.interval);
                parts.push(words.say(key, &[("sum", &sum)]));
            }
        }
        if parts.is_empty() {
            return words.word("cost.nothing");
        }
        let whose = words.word(if costs.own { "cost.own" } else { "cost.invented" });
        format!("{} ({whose})", words.list(&parts))
    }

    fn pays(&self, outcome: &OptionOutcome) -> String {
        let words = self.words();
        let Ok(costs) = &outcome.money else { return String::new() };
        let Some(p_pays) = costs.p_pays else { return String::new() };
        let pays = words.say("pays", &[("chance", &words.chance(p_pays))]);
        match costs.payback_years {
            Some(years) if costs.capital.mean > 0.0 => {
                format!("{pays}; {}", words.say("payback", &[("years", &self.years(years.max(0.1)))]))
            }
            _ => pays,
        }
    }

    /// "1 year", "2.5 years".
    fn years(&self, years: f64) -> String {
        let tenths = libm::round(10.0 * years) / 10.0;
        let words = self.words();
        words.say_for(tenths, "years", &[("n", &words.trimmed(tenths, 1))])
    }

    fn weeks(&self, weeks_to_effect: Option<f64>) -> String {
        let words = self.words();
        weeks_to_effect.map_or(String::new(), |weeks| {
            let weeks = libm::round(weeks).max(0.0);
            words.say_for(weeks, "weeks", &[("n", &words.whole(weeks))])
        })
    }

    fn together(&self, chosen: &[usize], gain: &Gain) -> TogetherText {
        let cases = Estimate::of(gain.cases.clone());
        let all = self.outcome.burden.cases_per_year.mean;
        TogetherText {
            brings: words::fewer_lame_cows(self.words(), cases),
            reduction: self.words().percent(if all > 0.0 { cases.mean / all } else { 0.0 }),
            cost: self.together_cost(chosen),
            saved: self.together_saved(gain),
        }
    }

    fn together_cost(&self, chosen: &[usize]) -> String {
        let costs = chosen.iter().map(|&option| {
            let money = self.outcome_of(option)?.money.as_ref().ok()?;
            Some((money.capital.mean, money.running.mean))
        });
        let Some(costs) = costs.collect::<Option<Vec<(f64, f64)>>>() else { return String::new() };
        let capital: f64 = costs.iter().map(|(capital, _)| capital).sum();
        let running: f64 = costs.iter().map(|(_, running)| running).sum();
        let sum = |value: f64| self.words().money(self.currency(), value);
        self.words().say("cost.together", &[("once", &sum(capital)), ("yearly", &sum(running))])
    }

    fn together_saved(&self, gain: &Gain) -> String {
        let saved = gain.saved.as_ref().map(|saved| Estimate::of(saved.clone()));
        saved.map_or(String::new(), |saved| self.words().money_range(self.currency(), saved.interval))
    }

    /// How many months of records it takes until the expected change stands out from chance.
    fn months_to_see(&self, gain: &Gain) -> String {
        let cases = &self.outcome.burden.cases_per_year;
        if cases.mean <= 0.0 {
            return String::new();
        }
        let ratio = 1.0 - mean(&gain.cases) / cases.mean;
        let Some(records) = self.walk.records.as_ref().filter(|records| records.counts.is_some()) else {
            return self.words().word("months-to-see.no-records");
        };
        let words = self.words();
        let baseline_months = records.days() as f64 / DAYS_A_MONTH;
        let before = words.whole(baseline_months);
        match fewest_months(cases.mean / 12.0, baseline_months, ratio) {
            Some(months) => {
                words.say("months-to-see.enough", &[("before", &before), ("months", &months.to_string())])
            }
            None => words.say("months-to-see.never", &[("before", &before)]),
        }
    }

    fn recheck(&self, chosen: &[usize]) -> Vec<RecheckText> {
        let mut rows: Vec<RecheckText> = Vec::new();
        for &option in chosen {
            let option = &self.prepared.options[option];
            for factor in option.acts.iter().map(|act| &self.factor(act.factor).id) {
                for found in words::found(self.library, self.walk, factor, option.segment) {
                    let ask = match words::place(self.walk, option.segment, Each::Segment) {
                        Some(place) => format!("{place}: {}", found.ask),
                        None => found.ask,
                    };
                    if rows.iter().all(|row| row.ask != ask) {
                        rows.push(RecheckText { ask, now: found.now });
                    }
                }
            }
        }
        rows
    }

    fn option(&self, outcome: &OptionOutcome) -> OptionText {
        let intervention = &self.library.interventions[outcome.intervention];
        let currency = self.walk.currency.as_ref();
        let costs = outcome.money.as_ref().ok();
        let words = self.words();
        let range = |estimate: Option<Estimate>| words::money_or_none(words, currency, estimate);
        let farm_option = self.prepared.options.iter().position(|option| option.id == outcome.id);
        OptionText {
            rank: outcome.rank,
            title: self.title(outcome.intervention, outcome.segment),
            cases: words.decimals(outcome.cases_avoided.mean, 1),
            cases_range: words.count_range(outcome.cases_avoided.interval),
            reduction: words.percent(outcome.reduction),
            lame_days: words.count_range(outcome.lame_days_avoided.interval),
            p_top3: words.chance(outcome.chances.top3),
            p_best: words.chance(outcome.chances.best),
            capital: range(costs.map(|costs| costs.capital)),
            yearly_cost: range(costs.map(|costs| costs.yearly_cost)),
            saved: range(outcome.saved),
            net_benefit: range(costs.and_then(|costs| costs.net_benefit)),
            payback: match costs {
                None => words.word("not-shown"),
                Some(costs) => costs.payback_years.map_or(words.word("never"), |years| {
                    if years > 50.0 { words.word("years.over-50") } else { self.years(years) }
                }),
            },
            p_pays: costs
                .and_then(|costs| costs.p_pays)
                .map_or(words.word("not-shown"), |share| words.chance(share)),
            rests_on: farm_option.map_or(String::new(), |option| self.rests_on(option, outcome)),
            close_to_next: outcome.close_to_next && !brings_nothing(outcome),
            brings_nothing: brings_nothing(outcome),
            how: intervention.how.trim().to_owned(),
            caution: intervention.caution.as_deref().unwrap_or("").trim().to_owned(),
            weeks: self.weeks(intervention.weeks_to_effect),
        }
    }

    fn factors(&self) -> Vec<FactorText> {
        let mut answered: Vec<(&FactorOutcome, f64)> = self
            .outcome
            .factors
            .iter()
            .filter_map(|factor| Some((factor, factor.attributed.as_ref()?.cases.mean)))
            .collect();
        answered.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        answered.into_iter().filter_map(|(factor, _)| self.factor_text(factor)).collect()
    }

    fn factor_text(&self, outcome: &FactorOutcome) -> Option<FactorText> {
        let factor = &self.library.factors[outcome.weight.factor];
        let attributed = outcome.attributed.as_ref()?;
        let exposure = outcome.exposure?;
        let words = self.words();
        let by_segment = outcome.exposure_by_segment.iter().flatten().zip(&self.walk.segments).enumerate();
        let by_segment = by_segment.map(|(at, (x, segment))| {
            let looked = outcome.looked_at.get(at).copied().unwrap_or(false);
            let said = format!("{} {}", segment.name, words.decimals(*x, 2));
            if looked { said } else { format!("{said} ({})", words.word("segment.not-looked-at")) }
        });
        let total: f64 = attributed.by_lesion.sum();
        let mut parts: Vec<(Lesion, f64)> = attributed.by_lesion.iter().map(|(l, v)| (l, *v)).collect();
        parts.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        let main: Vec<String> = parts
            .into_iter()
            .take(3)
            .filter(|(_, value)| total > 0.0 && *value > 0.1 * total)
            .map(|(lesion, _)| words::lesion_in_list(self.library, lesion))
            .collect();
        let mix = &self.library.burden.system(self.walk.system).lesion_mix;
        let overlapped = outcome.weight.overlapped();
        let log_rr = crate::reckon::weights::all_lameness(mix, |lesion| overlapped[lesion]);
        Some(FactorText {
            id: factor.id.clone(),
            title: factor.title.clone(),
            exposure: format!(
                "{} ({})",
                words.decimals(exposure.mean, 2),
                words.say(
                    "number.range",
                    &[
                        ("low", &words.decimals(exposure.interval.0, 2)),
                        ("high", &words.decimals(exposure.interval.1, 2)),
                    ]
                )
            ),
            by_segment: by_segment.collect(),
            cases: words.decimals(attributed.cases.mean, 1),
            cases_range: words.count_range(attributed.cases.interval),
            lesions: words.list(&main),
            basis: words::basis(words, outcome.weight.basis),
            risk_ratio: words.decimals(libm::exp(log_rr), 2),
        })
    }

    fn lesions(&self) -> Vec<LesionText> {
        let herd = &self.outcome.burden.herd;
        let shares = herd.mean_mix();
        let reference = &self.library.burden.system(self.walk.system).lesion_mix;
        let counts = self.walk.records.as_ref().and_then(|records| records.counts);
        let mut order = Lesion::ALL;
        order.sort_by(|a, b| shares[*b].total_cmp(&shares[*a]));
        let row = |lesion: Lesion| LesionText {
            name: words::lesion(self.library, lesion),
            share: self.words().percent(shares[lesion]),
            cases: self.mean_and_range(self.outcome.burden.by_lesion[lesion]),
            reference: self.words().percent(reference[lesion]),
            recorded: counts.map_or("–".to_owned(), |counts| counts.by_lesion[lesion].to_string()),
        };
        order.into_iter().map(row).collect()
    }

    fn section(&self, section: &Section) -> SectionText {
        let score = self.outcome.score.sections.iter().find(|score| score.id == section.id);
        let value = score.and_then(|score| score.value);
        let words = self.words();
        SectionText {
            title: section.title.clone(),
            score: value.map_or(words.word("not-looked-at"), |value| words.whole(value)),
            looked_at: value.is_some(),
            answered: score.map_or(String::new(), |score| self.share(score.answered, score.asked)),
            items: section.items.iter().map(|item| self.item(item)).collect(),
        }
    }

    fn item(&self, item: &Item) -> ItemText {
        let answers = self.walk.answers_to(&item.id).iter().map(|given| {
            let place = given.segment.and_then(|at| self.walk.segments.get(at));
            let place = place.map_or(String::new(), |segment| format!("{}: ", segment.name));
            let note = given.note.as_ref().map_or(String::new(), |note| format!(" ({note})"));
            format!("{place}{}{note}", words::answer(self.words(), item, &given.answer, given.as_given))
        });
        ItemText {
            ask: item.ask.clone(),
            answers: answers.collect(),
            source: item.source.as_deref().map(|id| cite_id(self.library, Some(id))),
        }
    }

    fn skipped(&self) -> Vec<SkipText> {
        let mut skipped = Vec::new();
        for item in self.library.checklist.items() {
            let given = self.walk.answers_to(&item.id);
            if given.is_empty() {
                skipped.push(SkipText { ask: item.ask.clone(), reason: self.words().word("no-answer") });
            }
            for given in given {
                if let Answer::Skip(reason) = &given.answer {
                    let place = given.segment.and_then(|at| self.walk.segments.get(at));
                    let place = place.map_or(String::new(), |segment| format!(" ({})", segment.name));
                    skipped.push(SkipText { ask: format!("{}{place}", item.ask), reason: reason.clone() });
                }
            }
        }
        skipped
    }

    fn unanswered(&self) -> Vec<String> {
        let unanswered = self.outcome.factors.iter().filter(|factor| factor.exposure.is_none());
        unanswered.map(|factor| self.library.factors[factor.weight.factor].title.clone()).collect()
    }

    fn costs(&self) -> Vec<CostText> {
        let CaseCosts::Known { triangles, own, .. } = &self.outcome.case_costs else { return Vec::new() };
        let shipped = self.library.burden.cost_row(self.currency(), self.walk.system);
        let listed = |lesion: Lesion| shipped.is_some_and(|row| row.listed[lesion]);
        let words = self.words();
        let sums = |cost: &Triangle| {
            [cost.low, cost.likely, cost.high].map(|sum| words.whole(sum)).join(&words.word("list.comma"))
        };
        let row = |lesion: Lesion| CostText {
            lesion: words::lesion(self.library, lesion),
            cost: words
                .say("number.money", &[("currency", self.currency()), ("amount", &sums(&triangles[lesion]))]),
            from: words.word(match (own[lesion], listed(lesion)) {
                (true, _) => "case-cost.own",
                (false, true) => "case-cost.published",
                (false, false) => "case-cost.judged",
            }),
        };
        Lesion::ALL.into_iter().map(row).collect()
    }

    fn costs_from(&self) -> String {
        let Some(row) = self.library.burden.cost_row(self.currency(), self.walk.system) else {
            return String::new();
        };
        let words = self.words();
        let source = row.source.as_deref();
        let source = source.map_or(words.word("no-source"), |id| cite_id(self.library, Some(id)));
        let note = row.note.as_ref().map_or(String::new(), |note| format!("; {note}"));
        let year = row.price_year.to_string();
        words.say("case-cost.source", &[("source", &source), ("year", &year), ("note", &note)])
    }

    fn figures(&self) -> BTreeMap<String, Figure> {
        BTreeMap::from([
            ("ranking".to_owned(), self.ranking_figure()),
            ("causes".to_owned(), self.causes_figure()),
            ("sections".to_owned(), self.sections_figure()),
        ])
    }

    fn caption(&self, name: &str) -> Caption {
        Caption {
            title: self.words().word(&format!("figure.{name}.title")),
            description: self.words().word(&format!("figure.{name}.description")),
        }
    }

    fn ranking_figure(&self) -> Figure {
        let words = self.words();
        let rows =
            self.outcome.options.iter().filter(|option| option.cases_avoided.mean > 0.0).take(CHART_ROWS);
        let rows = rows.map(|option| IntervalBar {
            label: format!("{}. {}", option.rank, self.title(option.intervention, option.segment)),
            value: PointInterval {
                point: option.cases_avoided.mean,
                low: option.cases_avoided.interval.0,
                high: option.cases_avoided.interval.1,
            },
            value_text: words.count_range(option.cases_avoided.interval),
            close_to_next: option.close_to_next,
        });
        Figure::IntervalBars(IntervalBars {
            caption: self.caption("ranking"),
            axis: words.word("figure.ranking.axis"),
            rows: rows.collect(),
            tie_note: words.word("figure.ranking.tie"),
            spans_zero_note: words.word("figure.ranking.spans-zero"),
        })
    }

    fn causes_figure(&self) -> Figure {
        let words = self.words();
        let a_year = |cases: f64| words.say("a-year", &[("n", &words.decimals(cases, 1))]);
        let mut factors: Vec<_> = self
            .outcome
            .factors
            .iter()
            .filter_map(|factor| Some((factor, factor.attributed.as_ref()?)))
            .collect();
        factors.sort_by(|(_, a), (_, b)| b.cases.mean.total_cmp(&a.cases.mean));
        let bars = factors.into_iter().take(CHART_ROWS).map(|(factor, attributed)| StackedBar {
            label: self.library.factors[factor.weight.factor].title.clone(),
            value_text: a_year(attributed.cases.mean),
            parts: attributed.by_lesion.0.to_vec(),
        });
        let unexplained = self.outcome.burden.unexplained.mean;
        Figure::StackedBars(StackedBars {
            caption: self.caption("causes"),
            axis: words.word("figure.causes.axis"),
            groups: Lesion::ALL.into_iter().map(|lesion| words::lesion(self.library, lesion)).collect(),
            bars: bars.collect(),
            remainder: Some(Remainder {
                label: words.word("score.unexplained"),
                value_text: a_year(unexplained),
                value: unexplained,
            }),
        })
    }

    fn sections_figure(&self) -> Figure {
        let words = self.words();
        let rows = self.library.checklist.sections.iter().zip(&self.outcome.score.sections);
        let rows = rows.map(|(section, score)| SectionMeter {
            label: section.title.clone(),
            score: score.value,
            value_text: section_in_words(words, score),
        });
        Figure::SectionMeters(SectionMeters {
            caption: self.caption("sections"),
            low_label: words.word("figure.sections.low"),
            high_label: words.word("figure.sections.high"),
            unanswered_label: words.word("not-looked-at"),
            rows: rows.collect(),
        })
    }
}
