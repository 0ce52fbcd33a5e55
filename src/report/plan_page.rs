//! The words and figures of a plan: finished strings that the template and the terminal lay out.

use super::figure::{Budget, Caption, Figure, Frontier, FrontierStep};
use super::number::{self, count, count_range, decimals, list, money, money_range, percent, whole};
use super::words;
use crate::model::intervention::Intervention;
use crate::reckon::plan::knowing::Knowing;
use crate::reckon::plan::order::Added;
use crate::reckon::plan::years::Year;
use crate::reckon::plan::{FarmPlan, NEXT_SUM, PlanRefusal, SetMeans};
use crate::reckon::{Estimate, Prepared, RankBy};
use serde::Serialize;
use std::collections::BTreeMap;

/// Steps of the frontier that a table shows, at most.
const STEPS_SHOWN: usize = 10;
/// Changes that are named before the rest are counted.
const CHANGES_NAMED: usize = 2;
/// Share of what the plan brings below which knowing more is not worth naming.
const WORTH_A_LOOK: f64 = 2e-3;
/// Things to look at next that are listed.
const LOOKS_SHOWN: usize = 6;

/// Everything the template of a plan may show.
#[derive(Clone, Debug, Serialize)]
pub struct PlanPage {
    /// Name of the farm.
    pub farm: String,
    /// Date of the walk in words.
    pub date: String,
    /// Cows in the herd.
    pub cows: String,
    /// "pasture" or "housed".
    pub system: String,
    /// The sum at hand, or "no limit".
    pub budget: String,
    /// What is made as large as can be, in words.
    pub best_by: &'static str,
    /// What the last column of the list of actions counts.
    pub so_far: &'static str,
    /// The plan in a few plain sentences.
    pub in_short: Vec<String>,
    /// What to do, each the one that adds most to those before it.
    pub actions: Vec<PlanAction>,
    /// How each kind of work is done, with its places.
    pub guides: Vec<GuideText>,
    /// What they bring and cost together, as pairs of name and figure.
    pub together: Vec<(String, String)>,
    /// What more money would buy.
    pub more_money: String,
    /// What the steps count.
    pub steps_count: &'static str,
    /// The best set of each sum, thinned for reading.
    pub steps: Vec<StepText>,
    /// Whether some steps are left out, in words.
    pub steps_note: String,
    /// Year by year.
    pub years: Vec<YearText>,
    /// What the table of years rests on.
    pub years_note: String,
    /// True where a sum to spend was given; else it is a short list that was chosen otherwise.
    pub has_budget: bool,
    /// True where what the things cost is known of one of them at least.
    pub has_prices: bool,
    /// Titles of the things whose cost is not known, which no sum holds; empty where there are none.
    pub unpriced: String,
    /// What to measure next.
    pub look: Vec<String>,
    /// What it takes for the first choice to change.
    pub sensitivity: Vec<String>,
    /// How sure it is that nothing better was missed.
    pub search: String,
    /// Options that can't be costed, and why.
    pub left_out: Vec<String>,
    /// True where money saved can be shown.
    pub has_savings: bool,
    /// Version of the checklist.
    pub version: String,
    /// Version of the program.
    pub program_version: &'static str,
}

/// One thing to do.
#[derive(Clone, Debug, Serialize)]
pub struct PlanAction {
    /// Title.
    pub title: String,
    /// Where, or empty for the farm.
    pub place: String,
    /// Spent once.
    pub capital: String,
    /// A year to run.
    pub running: String,
    /// Weeks until it takes effect.
    pub weeks: String,
    /// What it brings with those before it.
    pub so_far: String,
}

/// How a kind of work is done.
#[derive(Clone, Debug, Serialize)]
pub struct GuideText {
    /// Title.
    pub title: String,
    /// Where, or empty for the farm.
    pub places: String,
    /// What to do.
    pub how: String,
    /// Caution, or empty.
    pub caution: String,
}

/// One step of the frontier.
#[derive(Clone, Debug, Serialize)]
pub struct StepText {
    /// Spent once.
    pub capital: String,
    /// Lame cows, or days of lameness, fewer a year.
    pub brings: String,
    /// Net benefit a year.
    pub net_benefit: String,
    /// What changes against the row before.
    pub change: String,
    /// True for the plan itself.
    pub is_plan: bool,
}

/// One year.
#[derive(Clone, Debug, Serialize)]
pub struct YearText {
    /// "now", "1", "2", …
    pub year: String,
    /// Capital.
    pub capital: String,
    /// Running costs.
    pub running: String,
    /// Saved.
    pub saved: String,
    /// Saved less costs.
    pub cash: String,
    /// The same added up and discounted.
    pub discounted: String,
    /// New lame cows to expect.
    pub cases: String,
}

/// A plan's words and figures.
#[derive(Clone, Debug)]
pub struct PlanReport {
    /// Context of the template.
    pub page: PlanPage,
    /// Figures by the name that the template calls them.
    pub figures: BTreeMap<String, Figure>,
}

struct Builder<'a> {
    prepared: &'a Prepared<'a>,
    farm: &'a FarmPlan,
    currency: &'a str,
}

/// The page of a plan.
pub fn plan_page(prepared: &Prepared, farm: &FarmPlan) -> PlanReport {
    let currency = prepared.walk.currency.as_deref().unwrap_or("");
    let builder = Builder { prepared, farm, currency };
    let figure = Figure::Frontier(builder.figure());
    PlanReport { page: builder.page(), figures: BTreeMap::from([("frontier".to_owned(), figure)]) }
}

/// Weeks in words, or a dash where nobody gave them.
fn weeks(option: &Intervention) -> String {
    match option.weeks_to_effect {
        None => "not given".to_owned(),
        Some(weeks) if weeks < 0.5 => "at once".to_owned(),
        Some(weeks) => number::plural(libm::round(weeks) as u64, "week", "weeks"),
    }
}

impl Builder<'_> {
    fn page(&self) -> PlanPage {
        let (plan, walk) = (&self.farm.plan, self.prepared.walk);
        PlanPage {
            farm: walk.farm_name.clone(),
            date: number::date(walk.date),
            cows: whole(walk.cows as f64),
            system: words::system_words(&self.prepared.library.words, walk.system),
            budget: plan.request.budget.map_or("no limit".to_owned(), |budget| self.exact_money(budget)),
            so_far: match plan.rank_by {
                RankBy::Cases => "Fewer lame cows, with those above",
                RankBy::LameDays => "Fewer days of lameness, with those above",
                RankBy::NetBenefit => "Left over a year, with those above",
            },
            best_by: match plan.rank_by {
                RankBy::Cases => "the fewest lame cows",
                RankBy::LameDays => "the fewest days of lameness",
                RankBy::NetBenefit => "the most money left over",
            },
            in_short: self.in_short(),
            actions: self.farm.order.iter().map(|added| self.action(added)).collect(),
            guides: self.guides(),
            together: self.together(),
            more_money: self.more_money(),
            steps_count: match plan.rank_by {
                RankBy::Cases | RankBy::NetBenefit => "Fewer lame cows a year",
                RankBy::LameDays => "Fewer days of lameness a year",
            },
            steps: self.steps(),
            steps_note: self.steps_note(),
            years: self.farm.years.years.iter().map(|year| self.year(year)).collect(),
            years_note: self.years_note(),
            has_budget: plan.request.budget.is_some(),
            has_prices: self.farm.order.iter().any(|added| self.is_priced(added)),
            unpriced: self.unpriced(),
            look: self.looks(),
            sensitivity: self.sensitivity(),
            search: self.search(),
            left_out: self.left_out(),
            has_savings: plan.best.saved.is_some(),
            version: self.prepared.library.checklist.version.clone(),
            program_version: env!("CARGO_PKG_VERSION"),
        }
    }

    fn money(&self, value: f64) -> String {
        money(self.currency, value)
    }

    /// A sum that the reader gave: never rounded to fewer figures than it has.
    fn exact_money(&self, value: f64) -> String {
        format!("{} {}", self.currency, whole(value)).trim_start().to_owned()
    }

    fn intervention(&self, option: usize) -> &Intervention {
        &self.prepared.library.interventions[self.prepared.options[option].intervention]
    }

    fn place(&self, option: usize) -> Option<String> {
        let segment = self.prepared.options[option].segment;
        words::place(self.prepared.walk, segment, self.intervention(option).each)
    }

    fn title(&self, option: usize) -> String {
        let title = &self.intervention(option).title;
        self.place(option).map_or(title.clone(), |place| format!("{title} – {place}"))
    }

    /// What a set brings, as a bare figure of the table.
    fn figure_of(&self, value: f64) -> String {
        match self.farm.plan.rank_by {
            RankBy::Cases => count(value),
            RankBy::LameDays => whole(value),
            RankBy::NetBenefit => self.money(value),
        }
    }

    fn is_priced(&self, added: &Added) -> bool {
        self.prepared.options[added.option].cost.capital_draws().is_some()
    }

    fn unpriced(&self) -> String {
        let unpriced = self.farm.order.iter().filter(|added| !self.is_priced(added));
        list(&unpriced.map(|added| self.title(added.option)).collect::<Vec<_>>())
    }

    fn guides(&self) -> Vec<GuideText> {
        let mut kinds: Vec<(usize, Vec<String>)> = Vec::new();
        for added in &self.farm.order {
            let kind = self.prepared.options[added.option].intervention;
            let place = self.place(added.option);
            match kinds.iter_mut().find(|(other, _)| *other == kind) {
                Some((_, places)) => places.extend(place),
                None => kinds.push((kind, place.into_iter().collect())),
            }
        }
        let guide = |(kind, places): (usize, Vec<String>)| {
            let intervention = &self.prepared.library.interventions[kind];
            GuideText {
                title: intervention.title.clone(),
                places: places.join("; "),
                how: intervention.how.trim().to_owned(),
                caution: intervention.caution.as_deref().unwrap_or("").trim().to_owned(),
            }
        };
        kinds.into_iter().map(guide).collect()
    }

    fn action(&self, added: &Added) -> PlanAction {
        let option = added.option;
        let intervention = self.intervention(option);
        let cost = &self.prepared.options[option].cost;
        let sum = |draws: Option<&Vec<f64>>| match draws {
            None => "not known".to_owned(),
            Some(draws) => match Estimate::of(draws.clone()) {
                Estimate { interval: (_, high), .. } if high <= 0.0 => "nothing".to_owned(),
                estimate => money_range(self.currency, estimate.interval),
            },
        };
        PlanAction {
            title: intervention.title.clone(),
            place: self.place(option).unwrap_or_default(),
            capital: sum(cost.capital_draws()),
            running: sum(cost.running_draws()),
            weeks: weeks(intervention),
            so_far: self.figure_of(added.brings_so_far),
        }
    }

    /// What a set brings, in words, from its mean.
    fn brings(&self, value: f64) -> String {
        match self.farm.plan.rank_by {
            RankBy::Cases => format!("{} fewer lame cows a year", count(value)),
            RankBy::LameDays => format!("{} fewer days of lameness a year", whole(value)),
            RankBy::NetBenefit => format!("{} a year left over", self.money(value)),
        }
    }

    fn in_short(&self) -> Vec<String> {
        let best = &self.farm.plan.best;
        let chosen = best.means.chosen.len() as u64;
        let money = match self.farm.plan.request.budget {
            Some(budget) => format!("With {} to spend once", self.exact_money(budget)),
            None => "With no limit to what is spent".to_owned(),
        };
        if chosen == 0 {
            let nothing = "nothing on the list is expected to bring more than it costs or does";
            return vec![format!("{money}, {nothing}. Keep the money, and look at what was not looked at.")];
        }
        let things = number::plural(chosen, "thing", "things together");
        let mut sentences = vec![format!(
            "{money}, do the {things} below. {} is spent at the start, and {} every year to keep it up. Expect \
             {}, about {} of them all.",
            self.money(best.means.capital),
            self.money(best.running.mean),
            words::fewer_lame_cows(&self.prepared.library.words, best.cases_avoided),
            percent(best.reduction),
        )];
        if let (Some(saved), Some(net)) = (best.saved, best.net_benefit) {
            let net = match net {
                Estimate { mean, .. } if mean < 0.0 => {
                    format!("It costs {} a year more than it saves", self.money(-mean))
                }
                Estimate { mean, .. } => format!("It leaves {} a year after its costs", self.money(mean)),
            };
            let chance = best.p_pays.map_or(String::new(), |p| {
                format!("; the chance that it pays for itself is {}", number::chance(p))
            });
            sentences.push(format!(
                "It should save {} a year once all of it works. {net}{chance}.",
                money_range(self.currency, saved.interval)
            ));
        }
        sentences.extend(self.if_money_counts());
        sentences.push(
            "The things overlap: together they bring less than the sum of each alone. The figures here are \
             for all of them at once. Those at the top of the list bring most; the last ones add little."
                .to_owned(),
        );
        sentences
    }

    /// What the best plan by net benefit would be, where this one leaves less.
    fn if_money_counts(&self) -> Option<String> {
        let (best, by_money) = (&self.farm.plan.best.means, self.farm.by_net_benefit.as_ref()?);
        let (net, net_by_money) = (best.net_benefit?, by_money.net_benefit?);
        if net_by_money <= net || by_money.chosen == best.chosen {
            return None;
        }
        let ask = "ask for the plan by net benefit";
        Some(match by_money.chosen.len() as u64 {
            0 => format!(
                "If only money counts, none of it pays: this plan is worth it for the cows, not for the \
                 money (to see that plan, {ask})."
            ),
            things => format!(
                "If only money counts, another plan is better: {} that leave {} a year, with {} fewer lame \
                 cows (to see it, {ask}).",
                number::plural(things, "thing", "things"),
                self.money(net_by_money),
                count(by_money.cases_avoided)
            ),
        })
    }

    fn together(&self) -> Vec<(String, String)> {
        let best = &self.farm.plan.best;
        let money = |estimate: Estimate| money_range(self.currency, estimate.interval);
        let mut rows = vec![
            ("Fewer new lame cows a year".to_owned(), words_of(best.cases_avoided)),
            ("Fewer days of a lame cow a year".to_owned(), words_of(best.lame_days_avoided)),
            ("Spent once".to_owned(), money(best.capital)),
            ("To run, a year".to_owned(), money(best.running)),
            ("Capital over its life and running, a year".to_owned(), money(best.yearly_cost)),
        ];
        if let (Some(saved), Some(net)) = (best.saved, best.net_benefit) {
            rows.push(("Saved a year".to_owned(), money(saved)));
            rows.push(("Left over a year".to_owned(), money(net)));
        }
        if let Some(p_pays) = best.p_pays {
            rows.push(("Chance that it pays for itself".to_owned(), number::chance(p_pays)));
        }
        rows
    }

    fn more_money(&self) -> String {
        let plan = &self.farm.plan;
        let here = &plan.best.means;
        let Some(with_sum) = &plan.with_next_sum else { return String::new() };
        let sum = self.exact_money(NEXT_SUM);
        let noticeable = 0.005 * here.brings.abs();
        if with_sum.brings - here.brings > noticeable {
            return format!(
                "{sum} more would bring {}: {}.",
                self.more(with_sum.brings - here.brings),
                self.change(&here.chosen, &with_sum.chosen, CHANGES_NAMED)
            );
        }
        match &plan.next_step {
            None => format!("{sum} more would bring nothing more: the rest of the list adds nothing."),
            Some(step) => format!(
                "{sum} more would bring next to nothing. The next step starts at {} in all: {}, for {}.",
                self.money(step.capital),
                self.more(step.brings - here.brings),
                self.change(&here.chosen, &step.chosen, CHANGES_NAMED)
            ),
        }
    }

    /// A difference in the measure, in words.
    fn more(&self, difference: f64) -> String {
        match self.farm.plan.rank_by {
            RankBy::Cases => format!("{} fewer lame cows a year on top", count(difference)),
            RankBy::LameDays => format!("{} fewer days of lameness a year on top", whole(difference)),
            RankBy::NetBenefit => format!("{} a year on top", self.money(difference)),
        }
    }

    /// Names of options, those of one kind in several places together, cut after so many.
    fn names(&self, options: &[usize], most: usize) -> String {
        let mut kinds: Vec<(usize, Vec<usize>)> = Vec::new();
        for &option in options {
            let kind = self.prepared.options[option].intervention;
            match kinds.iter_mut().find(|(other, _)| *other == kind) {
                Some((_, of_kind)) => of_kind.push(option),
                None => kinds.push((kind, vec![option])),
            }
        }
        let name = |(_, of_kind): &(usize, Vec<usize>)| match of_kind.as_slice() {
            [one] => self.title(*one),
            several => {
                let title = &self.intervention(several[0]).title;
                format!("{title} ({} places)", several.len())
            }
        };
        let named: Vec<String> = kinds.iter().take(most).map(name).collect();
        match kinds.len() - named.len() {
            0 => named.join("; "),
            left => format!("{}; and {left} more", named.join("; ")),
        }
    }

    /// What goes in and out between two sets.
    fn change(&self, from: &[usize], to: &[usize], most: usize) -> String {
        let names = |these: &[usize], others: &[usize]| {
            let only: Vec<usize> = these.iter().copied().filter(|k| !others.contains(k)).collect();
            self.names(&only, most)
        };
        match (names(to, from), names(from, to)) {
            (added, dropped) if dropped.is_empty() => added,
            (added, dropped) if added.is_empty() => format!("without {dropped}"),
            (added, dropped) => format!("{added}, in place of {dropped}"),
        }
    }

    /// The steps that a reader needs: the first to reach each tenth of the whole, and the plan's own.
    fn shown(&self) -> Vec<&SetMeans> {
        let plan = &self.farm.plan;
        let (Some(first), Some(last)) = (plan.frontier.first(), plan.frontier.last()) else {
            return Vec::new();
        };
        let span = last.brings - first.brings;
        let tenth = |step: &SetMeans| {
            if span > 0.0 { (STEPS_SHOWN as f64 * (step.brings - first.brings) / span) as usize } else { 0 }
        };
        let mut reached = None;
        let needed = |step: &&SetMeans| {
            let new = reached.is_none_or(|before| tenth(step) > before);
            let shown = new || step.chosen == plan.best.means.chosen;
            if shown {
                reached = Some(tenth(step));
            }
            shown
        };
        plan.frontier.iter().filter(needed).collect()
    }

    fn steps(&self) -> Vec<StepText> {
        let mut before: &[usize] = &[];
        let mut rows = Vec::new();
        for step in self.shown() {
            rows.push(StepText {
                capital: self.money(step.capital),
                brings: match self.farm.plan.rank_by {
                    RankBy::Cases | RankBy::NetBenefit => count(step.cases_avoided),
                    RankBy::LameDays => whole(step.lame_days_avoided),
                },
                net_benefit: step.net_benefit.map_or("not shown".to_owned(), |net| self.money(net)),
                change: self.change(before, &step.chosen, CHANGES_NAMED),
                is_plan: step.chosen == self.farm.plan.best.means.chosen,
            });
            before = &step.chosen;
        }
        rows
    }

    fn steps_note(&self) -> String {
        let all = self.farm.plan.frontier.len();
        let shown = self.shown().len();
        let between = match all - shown.min(all) {
            0 => String::new(),
            left => {
                format!(" {} in between are left out here.", number::plural(left as u64, "step", "steps"))
            }
        };
        if self.farm.plan.frontier_exact {
            format!("Every row is the best set for its money.{between}")
        } else {
            format!(
                "With so many options the best set was sought at a few sums only, each within a limit of \
                 work.{between}"
            )
        }
    }

    fn axis(&self) -> &'static str {
        match self.farm.plan.rank_by {
            RankBy::Cases => "fewer lame cows a year",
            RankBy::LameDays => "fewer days of lameness a year",
            RankBy::NetBenefit => "left over a year",
        }
    }

    fn figure(&self) -> Frontier {
        let plan = &self.farm.plan;
        let shown = self.shown();
        let mut before: &[usize] = &[];
        let steps = plan.frontier.iter().map(|step| {
            let listed = shown.iter().any(|shown| shown.chosen == step.chosen);
            let label = if listed {
                let added: Vec<usize> = step.chosen.iter().copied().filter(|k| !before.contains(k)).collect();
                format!("{}: {}", whole(step.capital), self.names(&added, 1))
            } else {
                String::new()
            };
            if listed {
                before = &step.chosen;
            }
            FrontierStep { capital: step.capital, brings: step.brings, label }
        });
        let steps: Vec<FrontierStep> = steps.collect();
        let description = match plan.frontier.last() {
            None => "No option can be costed.".to_owned(),
            Some(last) => format!(
                "What the best set brings for each sum, up to {} for {}. The first sums bring most; the \
                 curve flattens.",
                self.brings(last.brings),
                self.money(last.capital)
            ),
        };
        Frontier {
            caption: Caption { title: "What each sum of money brings".to_owned(), description },
            x_axis: format!("spent once, {}", self.currency),
            y_axis: match plan.rank_by {
                RankBy::NetBenefit => format!("{}, {}", self.axis(), self.currency),
                RankBy::Cases | RankBy::LameDays => self.axis().to_owned(),
            },
            steps,
            budget: plan
                .request
                .budget
                .map(|budget| Budget { capital: budget, label: format!("to spend: {}", whole(budget)) }),
        }
    }

    fn year(&self, year: &Year) -> YearText {
        let sum = |value: f64| if value.abs() < 0.5 { "–".to_owned() } else { self.money(value) };
        let known = |value: Option<f64>| value.map_or("not shown".to_owned(), sum);
        YearText {
            year: if year.year == 0 { "now".to_owned() } else { year.year.to_string() },
            capital: sum(year.capital),
            running: sum(year.running),
            saved: known(year.saved),
            cash: known(year.cash),
            discounted: known(year.discounted_to_date),
            cases: year.cases.map_or("–".to_owned(), words_of),
        }
    }

    fn years_note(&self) -> String {
        let years = &self.farm.years;
        let unknown: Vec<String> = years.weeks_unknown.iter().map(|&option| self.title(option)).collect();
        let unknown = match unknown.len() {
            0 => String::new(),
            _ => format!(" Counted from the first day because nobody gave its weeks: {}.", list(&unknown)),
        };
        let priced = self.farm.order.iter().any(|added| self.is_priced(added));
        let worn = if priced { " What wears out is paid for again." } else { "" };
        let added_up = match priced && self.farm.plan.best.saved.is_some() {
            true => format!(
                " \"All so far\" adds the years up with {} a year taken off later money.",
                percent_fine(years.discount_rate)
            ),
            false => String::new(),
        };
        let stays = if priced { "Prices and herd stay as they are" } else { "The herd stays as it is" };
        format!(
            "Without the plan: {} new lame cows a year. Each change counts from the week it takes effect, \
             so the first year brings less.{worn}{added_up} {stays} now.{unknown}",
            words_of(years.cases_without),
        )
    }

    /// What is worth a second look; one sentence where nothing is.
    fn looks(&self) -> Vec<String> {
        let least = WORTH_A_LOOK * self.farm.plan.best.means.brings.abs();
        let worth = self.farm.look.iter().filter(|knowing| knowing.worth > least);
        let lines: Vec<String> = worth.take(LOOKS_SHOWN).map(|knowing| self.look(knowing)).collect();
        if lines.is_empty() {
            let none = "No single thing, measured better, would be likely to change this plan.";
            return vec![none.to_owned()];
        }
        lines
    }

    fn look(&self, knowing: &Knowing) -> String {
        let library = self.prepared.library;
        let factor = &library.factors[self.prepared.weights[knowing.factor].factor];
        let segment = knowing.segment.and_then(|at| self.prepared.walk.segments.get(at));
        let ask = library.checklist.items().find(|item| item.factor == factor.id);
        let what = ask.map_or(factor.title.as_str(), |item| item.ask.trim_end_matches('?'));
        let place = segment.map_or(String::new(), |segment| format!(" ({})", segment.name));
        let verb = if knowing.measured { "Measure more of" } else { "Not looked at yet" };
        format!(
            "{verb}: {what}{place}. Knowing it would bring {} on average; another plan would be chosen in \
             about {} of cases.",
            self.more(knowing.worth),
            percent(knowing.changes)
        )
    }

    fn sensitivity(&self) -> Vec<String> {
        let Some(found) = &self.farm.sensitivity else { return Vec::new() };
        let quoted = |option: usize| format!("“{}”", self.title(option));
        let first = quoted(found.first);
        let mut sentences = vec![match found.falls_at {
            None => format!("{first} is the best single change however small its effect on new cases is."),
            Some((by, then)) => format!(
                "{first} is the best single change. If its effect were {} of what was reckoned, {} would \
                 come first.",
                percent(by),
                quoted(then)
            ),
        }];
        sentences.extend(found.rivals.iter().filter_map(|rival| {
            let by = rival.overtakes_at?;
            Some(format!(
                "{} would come first if its effect were {} times what was reckoned.",
                quoted(rival.option),
                decimals(by, if by < 2.0 { 2 } else { 1 })
            ))
        }));
        sentences
    }

    fn search(&self) -> String {
        let plan = &self.farm.plan;
        let draws = if plan.search_draws == self.prepared.settings.draws {
            "all".to_owned()
        } else {
            format!("the first {}", whole(plan.search_draws as f64))
        };
        match plan.exact {
            true => format!(
                "No other set of these options within the money brings more, on the mean over {draws} draws: \
                 every other set is ruled out."
            ),
            false => format!(
                "With so many options the search was ended early: another set may bring up to {} more \
                 (on the mean over {draws} draws).",
                percent_fine(plan.gap / (1.0 - plan.gap).max(f64::EPSILON))
            ),
        }
    }

    fn left_out(&self) -> Vec<String> {
        let mut reasons = Vec::new();
        for out in &self.farm.plan.left_out {
            if !reasons.contains(&out.why) {
                reasons.push(out.why.clone());
            }
        }
        words::all_withheld(self.prepared.library, &reasons)
    }
}

/// "12 (8 to 21)".
fn words_of(estimate: Estimate) -> String {
    format!("{} ({})", count(estimate.mean), count_range(estimate.interval))
}

/// A share as a percentage, with a decimal where it is small.
fn percent_fine(share: f64) -> String {
    let percent = 100.0 * share;
    let places = if percent >= 10.0 || percent == libm::round(percent) { 0 } else { 1 };
    format!("{}%", decimals(percent, places))
}

/// Why there is no plan, and what would help. For an unknown id the caller adds the nearest known one.
pub fn refusal(prepared: &Prepared, refusal: &PlanRefusal) -> String {
    let library = prepared.library;
    let currency = prepared.walk.currency.as_deref().unwrap_or("");
    let sum = |value: f64| format!("{currency} {}", whole(value)).trim_start().to_owned();
    match refusal {
        PlanRefusal::Budget(budget) => {
            format!("a budget of {budget} can't be spent: give a sum of 0 or more")
        }
        PlanRefusal::DiscountRate(rate) => format!(
            "a discount rate of {} a year is outside 0 to 100%: correct `discount_rate` under `herd`",
            percent_fine(*rate)
        ),
        PlanRefusal::Unknown { id, .. } => format!("`{id}` is no option of this farm"),
        PlanRefusal::NotOnList(id) => format!(
            "`{id}` can't be in a plan: nothing that it works on was looked at on this walk. Answer those \
             items first."
        ),
        PlanRefusal::MustAndNever(id) => format!("`{id}` must be in the plan and must not: drop one of them"),
        PlanRefusal::MustNeedsNever(id) => format!(
            "`{id}` must be in the plan, or comes with what must be, and it is ruled out or needs what is"
        ),
        PlanRefusal::MustExclude(a, b) => {
            format!("`{a}` and `{b}` must both be in the plan, but only one of them can be done")
        }
        PlanRefusal::BelowMusts { needed, budget } => format!(
            "what must be done costs {} at the start, more than the {} there is",
            sum(*needed),
            sum(*budget)
        ),
        PlanRefusal::MoreMusts { needed, at_most } => format!(
            "what must be in the plan, with all that it needs, is {needed} changes, and there may be {at_most}"
        ),
        PlanRefusal::MustWithoutPrice(out) => format!(
            "`{}` must be in the plan, but it can't be costed. {}",
            prepared.options[out.option].id,
            words::withheld(library, &out.why)
        ),
        PlanRefusal::NoPrices(left_out) => {
            let reasons: Vec<_> = left_out.iter().map(|out| out.why.clone()).collect();
            let mut reasons = words::all_withheld(library, &reasons);
            reasons.dedup();
            format!("none of the options can be costed. {}", reasons.join(" "))
        }
        PlanRefusal::Price { option } => {
            format!("the price of `{option}` is below nought or no number: correct it")
        }
        PlanRefusal::Money(reasons) => format!(
            "the best net benefit can't be sought. {}",
            words::all_withheld(library, reasons).join(" ")
        ),
        PlanRefusal::TooManyOptions { options, most } => format!(
            "there are {options} options with all segments, and a plan can hold {most}: join segments"
        ),
    }
}

#[cfg(test)]
mod tests;
