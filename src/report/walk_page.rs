//! The words and figures of a walk's report: finished strings that the templates only lay out.

use super::evidence::{Methods, cite_id, methods};
use super::figure::{
    Caption, Figure, IntervalBar, IntervalBars, PointInterval, Remainder, SectionMeter, SectionMeters,
    StackedBar, StackedBars,
};
use super::number::{self, count, count_range, decimals, money, money_range, percent, whole};
use super::own_records_page::{OwnRecordsText, own_records_chapter, own_records_words};
use super::plan_page::{PlanPage, PlanReport, plan_page};
use super::words;
use crate::model::checklist::{Item, Section};
use crate::model::intervention::Each;
use crate::model::lesion::Lesion;
use crate::model::walk::{Answer, Walk};
use crate::model::{Library, factor::Factor};
use crate::reckon::interventions::Gain;
use crate::reckon::own_records::OwnRecords;
use crate::reckon::plan::FarmPlan;
use crate::reckon::prices::CaseCosts;
use crate::reckon::stats::power::fewest_months;
use crate::reckon::stats::summary::mean;
use crate::reckon::{Estimate, FactorOutcome, OptionOutcome, Outcome, Prepared, RankBy};
use serde::Serialize;
use std::collections::BTreeMap;

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
    /// Who walked, or empty.
    pub by: String,
    /// Cows in the herd.
    pub cows: String,
    /// "pasture" or "housed".
    pub system: &'static str,
    /// Title of the checklist.
    pub checklist: String,
    /// Its version.
    pub version: String,
    /// Remarks of the walk.
    pub notes: String,
    /// What the options are ranked by, in words.
    pub ranked_by: &'static str,
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
    /// What is not explained by what was looked at.
    pub unexplained: String,
    /// Lesions, most cases first.
    pub lesions: Vec<LesionText>,
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
    /// Items answered.
    pub answered: usize,
    /// Items asked.
    pub asked: usize,
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
    pub basis: &'static str,
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
    /// Where the threshold comes from.
    pub source: String,
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
    pub from: &'static str,
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
    }
}

pub(super) fn ranked_by(rank_by: RankBy) -> &'static str {
    match rank_by {
        RankBy::Cases => "cases of lameness avoided",
        RankBy::LameDays => "days of lameness avoided",
        RankBy::NetBenefit => "net benefit",
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

/// "12 (8 to 21)".
fn mean_and_range(estimate: Estimate) -> String {
    format!("{} ({})", count(estimate.mean), count_range(estimate.interval))
}

impl Builder<'_> {
    fn page(
        &self,
        records: OwnRecordsText,
        inputs: &BTreeMap<String, String>,
        chosen: Vec<usize>,
    ) -> WalkPage {
        let gain = (!chosen.is_empty()).then(|| self.prepared.set_gain(&chosen));
        let walk = self.walk;
        let withheld = self.prepared.money_withheld();
        WalkPage {
            farm: walk.farm_name.clone(),
            date: number::date(walk.date),
            in_a_year: number::date(
                walk.date.checked_add_months(chrono::Months::new(12)).unwrap_or(walk.date),
            ),
            by: walk.by.map_or(String::new(), |by| by.id().to_owned()),
            cows: whole(walk.cows as f64),
            system: words::system_words(walk.system),
            checklist: self.library.checklist.title.clone(),
            version: self.library.checklist.version.clone(),
            notes: walk.notes.clone().unwrap_or_default(),
            ranked_by: ranked_by(self.outcome.settings.rank_by),
            burden: self.burden(),
            score: self.score(),
            together: gain.as_ref().map(|gain| self.together(&chosen, gain)),
            months_to_see: gain.as_ref().map_or(String::new(), |gain| self.months_to_see(gain)),
            recheck: self.recheck(&chosen),
            actions: chosen.iter().filter_map(|&option| self.action(option)).collect(),
            options: self.outcome.options.iter().map(|option| self.option(option)).collect(),
            factors: self.factors(),
            unexplained: mean_and_range(self.outcome.burden.unexplained),
            lesions: self.lesions(),
            sections: self.library.checklist.sections.iter().map(|section| self.section(section)).collect(),
            skipped: self.skipped(),
            unanswered: self.unanswered(),
            costs: self.costs(),
            costs_from: self.costs_from(),
            has_prices: self.outcome.options.iter().any(|option| option.money.is_ok()),
            has_savings: self.outcome.options.iter().any(|option| option.saved.is_some()),
            money_withheld: words::all_withheld(self.library, &withheld),
            plan: None,
            draws: whole(self.outcome.settings.draws as f64),
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
        let rests_on = match burden.herd.records {
            Some((cases, cow_years)) => format!(
                "These figures rest on your own {} in {} cow-years of records, on what the walk found, and on herds \
                 at large.",
                number::plural(cases, "recorded case", "recorded cases"),
                whole(cow_years)
            ),
            None => "There are no records of lame cows, so it rests on what the walk found and on herds at \
                     large: a wide range. A record of every lame cow is the cheapest way to know."
                .to_owned(),
        };
        BurdenText {
            cases: count(burden.cases_per_year.mean),
            cases_range: count_range(burden.cases_per_year.interval),
            rate: mean_and_range(burden.rate_per_100_cow_years),
            herds_rate: decimals(herds.incidence_mean_per_100_cow_years, 1),
            prior_rate: decimals(burden.herd.prior_mean_per_100_cow_years, 1),
            lame_days: count_range(burden.lame_days_per_year.interval),
            cost: burden
                .cost_per_year
                .map_or(String::new(), |cost| money_range(self.currency(), cost.interval)),
            rests_on,
            has_records: burden.herd.records.is_some(),
        }
    }

    fn score(&self) -> ScoreText {
        let score = &self.outcome.score;
        let range = |range: Option<(f64, f64)>| {
            range.map_or("none".to_owned(), |(low, high)| format!("{} to {}", whole(low), whole(high)))
        };
        ScoreText {
            value: score.value.map_or("none".to_owned(), whole),
            interval: range(score.interval),
            bounds: range(score.bounds),
            answered: score.answered,
            asked: score.asked,
            kappa: decimals(self.outcome.plausibility.kappa, 2),
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
        let found: Vec<String> = acts()
            .flat_map(|factor| words::found(self.library, self.walk, &factor.id, farm_option.segment))
            .collect();
        let shortens = intervention.shortens_cases.is_some();
        Some(ActionText {
            id: farm_option.id.clone(),
            title: intervention.title.clone(),
            place: words::place(self.walk, farm_option.segment, intervention.each).unwrap_or_default(),
            found,
            why: acts().filter_map(|factor| factor.why.clone()).collect(),
            how: intervention.how.trim().to_owned(),
            brings: words::fewer_lame_cows(outcome.cases_avoided),
            brings_days: if shortens {
                words::fewer_lame_days(outcome.lame_days_avoided)
            } else {
                String::new()
            },
            cost: self.action_cost(outcome),
            pays: self.pays(outcome),
            weeks: weeks(intervention.weeks_to_effect),
            caution: intervention.caution.as_deref().unwrap_or("").trim().to_owned(),
            rests_on: words::published_share(outcome.published_share),
        })
    }

    fn action_cost(&self, outcome: &OptionOutcome) -> String {
        let costs = match &outcome.money {
            Err(withheld) => return words::withheld_short(withheld),
            Ok(costs) => costs,
        };
        let currency = self.currency();
        let mut parts = Vec::new();
        if costs.capital.mean > 0.0 {
            parts.push(format!("{} to do it", money_range(currency, costs.capital.interval)));
        }
        if costs.running.mean > 0.0 {
            parts.push(format!("{} a year to keep it up", money_range(currency, costs.running.interval)));
        }
        let whose = if costs.own { "your own price" } else { "an invented price: put in your own quote" };
        match parts.is_empty() {
            true => "nothing to buy".to_owned(),
            false => format!("{} ({whose})", number::list(&parts)),
        }
    }

    fn pays(&self, outcome: &OptionOutcome) -> String {
        let Ok(costs) = &outcome.money else { return String::new() };
        let Some(p_pays) = costs.p_pays else { return String::new() };
        let payback = match costs.payback_years {
            Some(years) if costs.capital.mean > 0.0 => {
                format!("; the outlay comes back in about {} years", decimals(years.max(0.1), 1))
            }
            _ => String::new(),
        };
        format!("chance that it saves more than it costs: {}{payback}", number::chance(p_pays))
    }

    fn together(&self, chosen: &[usize], gain: &Gain) -> TogetherText {
        let cases = Estimate::of(gain.cases.clone());
        let all = self.outcome.burden.cases_per_year.mean;
        TogetherText {
            brings: words::fewer_lame_cows(cases),
            reduction: percent(if all > 0.0 { cases.mean / all } else { 0.0 }),
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
        let currency = self.currency();
        format!("about {} to do and {} a year to keep up", money(currency, capital), money(currency, running))
    }

    fn together_saved(&self, gain: &Gain) -> String {
        let saved = gain.saved.as_ref().map(|saved| Estimate::of(saved.clone()));
        saved.map_or(String::new(), |saved| money_range(self.currency(), saved.interval))
    }

    /// How many months of records it takes until the expected change stands out from chance.
    fn months_to_see(&self, gain: &Gain) -> String {
        let cases = &self.outcome.burden.cases_per_year;
        if cases.mean <= 0.0 {
            return String::new();
        }
        let ratio = 1.0 - mean(&gain.cases) / cases.mean;
        let Some(records) = self.walk.records.as_ref().filter(|records| records.counts.is_some()) else {
            return "There are no records from before, so no change can be told from chance until there are: \
                    start a record of every lame cow today."
                .to_owned();
        };
        let baseline_months = records.days() as f64 / DAYS_A_MONTH;
        match fewest_months(cases.mean / 12.0, baseline_months, ratio) {
            Some(months) => format!(
                "With {} months of records before and the change expected, it takes about {months} months of \
                 records after to tell it from chance (four times in five).",
                whole(baseline_months)
            ),
            None => format!(
                "Set against {} months of records, the change expected is too small to be told from chance by \
                 counting lame cows, however long you count: go by what you measure again.",
                whole(baseline_months)
            ),
        }
    }

    fn recheck(&self, chosen: &[usize]) -> Vec<RecheckText> {
        let mut rows: Vec<RecheckText> = Vec::new();
        for &option in chosen {
            let option = &self.prepared.options[option];
            for factor in option.acts.iter().map(|act| &self.factor(act.factor).id) {
                for found in words::found(self.library, self.walk, factor, option.segment) {
                    let (ask, now) = found.rsplit_once(": ").unwrap_or((&found, ""));
                    let ask = match words::place(self.walk, option.segment, Each::Segment) {
                        Some(place) => format!("{place}: {ask}"),
                        None => ask.to_owned(),
                    };
                    if rows.iter().all(|row| row.ask != ask) {
                        rows.push(RecheckText { ask, now: now.to_owned() });
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
        let range = |estimate: Option<Estimate>| words::money_or_dash(currency, estimate);
        OptionText {
            rank: outcome.rank,
            title: self.title(outcome.intervention, outcome.segment),
            cases: decimals(outcome.cases_avoided.mean, 1),
            cases_range: count_range(outcome.cases_avoided.interval),
            reduction: percent(outcome.reduction),
            lame_days: count_range(outcome.lame_days_avoided.interval),
            p_top3: number::chance(outcome.chances.top3),
            p_best: number::chance(outcome.chances.best),
            capital: range(costs.map(|costs| costs.capital)),
            yearly_cost: range(costs.map(|costs| costs.yearly_cost)),
            saved: range(outcome.saved),
            net_benefit: range(costs.and_then(|costs| costs.net_benefit)),
            payback: match costs {
                None => "not shown".to_owned(),
                Some(costs) => costs.payback_years.map_or("never".to_owned(), |years| {
                    if years > 50.0 {
                        "over 50 years".to_owned()
                    } else {
                        format!("{} years", decimals(years, 1))
                    }
                }),
            },
            p_pays: costs.and_then(|costs| costs.p_pays).map_or("not shown".to_owned(), number::chance),
            rests_on: words::published_share(outcome.published_share),
            close_to_next: outcome.close_to_next && !brings_nothing(outcome),
            brings_nothing: brings_nothing(outcome),
            how: intervention.how.trim().to_owned(),
            caution: intervention.caution.as_deref().unwrap_or("").trim().to_owned(),
            weeks: weeks(intervention.weeks_to_effect),
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
        let by_segment = outcome.exposure_by_segment.iter().flatten().zip(&self.walk.segments).enumerate();
        let by_segment = by_segment.map(|(at, (x, segment))| {
            let looked = outcome.looked_at.get(at).copied().unwrap_or(false);
            let note = if looked { "" } else { " (not looked at: taken as the rest)" };
            format!("{} {}{note}", segment.name, decimals(*x, 2))
        });
        let total: f64 = attributed.by_lesion.sum();
        let mut parts: Vec<(Lesion, f64)> = attributed.by_lesion.iter().map(|(l, v)| (l, *v)).collect();
        parts.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        let main: Vec<String> = parts
            .into_iter()
            .take(3)
            .filter(|(_, value)| total > 0.0 && *value > 0.1 * total)
            .map(|(lesion, _)| words::lesion(self.library, lesion).to_lowercase())
            .collect();
        let mix = &self.library.burden.system(self.walk.system).lesion_mix;
        let overlapped = outcome.weight.overlapped();
        let log_rr = crate::reckon::weights::all_lameness(mix, |lesion| overlapped[lesion]);
        Some(FactorText {
            id: factor.id.clone(),
            title: factor.title.clone(),
            exposure: format!(
                "{} ({} to {})",
                decimals(exposure.mean, 2),
                decimals(exposure.interval.0, 2),
                decimals(exposure.interval.1, 2)
            ),
            by_segment: by_segment.collect(),
            cases: decimals(attributed.cases.mean, 1),
            cases_range: count_range(attributed.cases.interval),
            lesions: number::list(&main),
            basis: words::basis(outcome.weight.basis),
            risk_ratio: decimals(libm::exp(log_rr), 2),
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
            share: percent(shares[lesion]),
            cases: mean_and_range(self.outcome.burden.by_lesion[lesion]),
            reference: percent(reference[lesion]),
            recorded: counts.map_or("–".to_owned(), |counts| counts.by_lesion[lesion].to_string()),
        };
        order.into_iter().map(row).collect()
    }

    fn section(&self, section: &Section) -> SectionText {
        let score = self.outcome.score.sections.iter().find(|score| score.id == section.id);
        let value = score.and_then(|score| score.value);
        SectionText {
            title: section.title.clone(),
            score: value.map_or("not looked at".to_owned(), whole),
            answered: score.map_or(String::new(), |score| format!("{} of {}", score.answered, score.asked)),
            items: section.items.iter().map(|item| self.item(item)).collect(),
        }
    }

    fn item(&self, item: &Item) -> ItemText {
        let answers = self.walk.answers_to(&item.id).iter().map(|given| {
            let place = given.segment.and_then(|at| self.walk.segments.get(at));
            let place = place.map_or(String::new(), |segment| format!("{}: ", segment.name));
            let note = given.note.as_ref().map_or(String::new(), |note| format!(" ({note})"));
            format!("{place}{}{note}", words::answer(item, &given.answer))
        });
        ItemText {
            ask: item.ask.clone(),
            answers: answers.collect(),
            source: cite_id(self.library, item.source.as_deref()),
        }
    }

    fn skipped(&self) -> Vec<SkipText> {
        let mut skipped = Vec::new();
        for item in self.library.checklist.items() {
            let given = self.walk.answers_to(&item.id);
            if given.is_empty() {
                skipped.push(SkipText { ask: item.ask.clone(), reason: "no answer".to_owned() });
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
        let row = |lesion: Lesion| CostText {
            lesion: words::lesion(self.library, lesion),
            cost: format!(
                "{} {}, {}, {}",
                self.currency(),
                whole(triangles[lesion].low),
                whole(triangles[lesion].likely),
                whole(triangles[lesion].high)
            ),
            from: match (own[lesion], listed(lesion)) {
                (true, _) => "the farm's own",
                (false, true) => "published",
                (false, false) => "judged: no published cost of this lesion",
            },
        };
        Lesion::ALL.into_iter().map(row).collect()
    }

    fn costs_from(&self) -> String {
        let Some(row) = self.library.burden.cost_row(self.currency(), self.walk.system) else {
            return String::new();
        };
        let source = row.source.as_deref();
        let source = source.map_or("no source".to_owned(), |id| cite_id(self.library, Some(id)));
        let note = row.note.as_ref().map_or(String::new(), |note| format!("; {note}"));
        format!("Published costs: {source}, prices of {}{note}.", row.price_year)
    }

    fn figures(&self) -> BTreeMap<String, Figure> {
        BTreeMap::from([
            ("ranking".to_owned(), self.ranking_figure()),
            ("causes".to_owned(), self.causes_figure()),
            ("sections".to_owned(), self.sections_figure()),
        ])
    }

    fn ranking_figure(&self) -> Figure {
        let rows =
            self.outcome.options.iter().filter(|option| option.cases_avoided.mean > 0.0).take(CHART_ROWS);
        let rows = rows.map(|option| IntervalBar {
            label: format!("{}. {}", option.rank, self.title(option.intervention, option.segment)),
            value: PointInterval {
                point: option.cases_avoided.mean,
                low: option.cases_avoided.interval.0,
                high: option.cases_avoided.interval.1,
            },
            value_text: count_range(option.cases_avoided.interval),
            close_to_next: option.close_to_next,
        });
        Figure::IntervalBars(IntervalBars {
            caption: Caption {
                title: "What each change alone should bring".to_owned(),
                description: "Fewer new cases of lameness a year, each change on its own: mean and 90% \
                              interval. The table beside it holds the same figures."
                    .to_owned(),
            },
            axis: "fewer lame cows a year".to_owned(),
            rows: rows.collect(),
            tie_note: "can't be told apart".to_owned(),
            spans_zero_note: "may bring nothing".to_owned(),
        })
    }

    fn causes_figure(&self) -> Figure {
        let mut factors: Vec<_> = self
            .outcome
            .factors
            .iter()
            .filter_map(|factor| Some((factor, factor.attributed.as_ref()?)))
            .collect();
        factors.sort_by(|(_, a), (_, b)| b.cases.mean.total_cmp(&a.cases.mean));
        let bars = factors.into_iter().take(CHART_ROWS).map(|(factor, attributed)| StackedBar {
            label: self.library.factors[factor.weight.factor].title.clone(),
            value_text: format!("{} a year", decimals(attributed.cases.mean, 1)),
            parts: attributed.by_lesion.0.to_vec(),
        });
        let unexplained = self.outcome.burden.unexplained.mean;
        Figure::StackedBars(StackedBars {
            caption: Caption {
                title: "Where the lameness comes from".to_owned(),
                description: "New cases a year above good practice, by risk factor and lesion. The table \
                              beside it holds the same figures."
                    .to_owned(),
            },
            axis: "lame cows a year".to_owned(),
            groups: Lesion::ALL.into_iter().map(|lesion| words::lesion(self.library, lesion)).collect(),
            bars: bars.collect(),
            remainder: Some(Remainder {
                label: "Not explained by what was looked at".to_owned(),
                value_text: format!("{} a year", decimals(unexplained, 1)),
                value: unexplained,
            }),
        })
    }

    fn sections_figure(&self) -> Figure {
        let rows = self.library.checklist.sections.iter().zip(&self.outcome.score.sections);
        let rows = rows.map(|(section, score)| SectionMeter {
            label: section.title.clone(),
            score: score.value,
            answered: score.answered,
            asked: score.asked,
        });
        Figure::SectionMeters(SectionMeters {
            caption: Caption {
                title: "What the walk found, section by section".to_owned(),
                description: "Score of each section, 0 to 100, with how many items were answered.".to_owned(),
            },
            low_label: "0 = good practice".to_owned(),
            high_label: "100 = worst".to_owned(),
            unanswered_label: "not looked at".to_owned(),
            rows: rows.collect(),
        })
    }
}

fn weeks(weeks_to_effect: Option<f64>) -> String {
    weeks_to_effect
        .map_or(String::new(), |weeks| number::plural(libm::round(weeks).max(0.0) as u64, "week", "weeks"))
}
