//! The words and figures of a plan: finished strings that the template and the terminal lay out.

use super::figure::{Budget, Caption, Figure, Frontier, FrontierStep};
use super::words;
use crate::model::intervention::Intervention;
use crate::model::words::Words;
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
    /// The walk's currency; empty where it names none.
    pub currency: String,
    /// The sum at hand, or "no limit".
    pub budget: String,
    /// What is made as large as can be, in words.
    pub best_by: String,
    /// What the last column of the list of actions counts.
    pub so_far: String,
    /// The same as a sentence, for a column with a short head.
    pub so_far_note: String,
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
    pub steps_count: String,
    /// The same as a sentence, for a column with a short head.
    pub steps_legend: String,
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

impl Builder<'_> {
    fn words(&self) -> &Words {
        &self.prepared.library.words
    }

    /// The key of the measure that the plan makes as large as can be.
    fn by_measure(&self, [cases, lame_days, net_benefit]: [&'static str; 3]) -> &'static str {
        match self.farm.plan.rank_by {
            RankBy::Cases => cases,
            RankBy::LameDays => lame_days,
            RankBy::NetBenefit => net_benefit,
        }
    }

    fn page(&self) -> PlanPage {
        let (plan, walk, words) = (&self.farm.plan, self.prepared.walk, self.words());
        let measured = |keys| words.word(self.by_measure(keys));
        let budget = plan.request.budget;
        PlanPage {
            farm: walk.farm_name.clone(),
            date: words.date(walk.date),
            cows: words.whole(walk.cows as f64),
            system: words::system_words(words, walk.system),
            currency: self.currency.to_owned(),
            budget: self.within(budget),
            best_by: measured(["plan.best-by.cases", "plan.best-by.lame-days", "plan.best-by.net-benefit"]),
            so_far: measured(["plan.so-far.cases", "plan.so-far.lame-days", "plan.so-far.net-benefit"]),
            so_far_note: measured([
                "plan.so-far-note.cases",
                "plan.so-far-note.lame-days",
                "plan.so-far-note.net-benefit",
            ]),
            in_short: self.in_short(),
            actions: self.farm.order.iter().map(|added| self.action(added)).collect(),
            guides: self.guides(),
            together: self.together(),
            more_money: self.more_money(),
            steps_count: measured(["plan.steps.cases", "plan.steps.lame-days", "plan.steps.cases"]),
            steps_legend: measured([
                "plan.steps-legend.cases",
                "plan.steps-legend.lame-days",
                "plan.steps-legend.cases",
            ]),
            steps: self.steps(),
            steps_note: self.steps_note(),
            years: self.farm.years.years.iter().map(|year| self.year(year)).collect(),
            years_note: self.years_note(),
            has_budget: budget.is_some(),
            has_prices: self.has_prices(),
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

    /// The money there is, and how many changes there may be.
    fn within(&self, budget: Option<f64>) -> String {
        let words = self.words();
        let money = budget.map_or_else(|| words.word("plan.no-limit"), |budget| self.exact_money(budget));
        match self.at_most() {
            None => money,
            Some((at_most, n)) => {
                words.say_for(at_most, "plan.within-number", &[("money", &money), ("n", &n)])
            }
        }
    }

    /// How many changes there may be, as a number and in words.
    fn at_most(&self) -> Option<(f64, String)> {
        let at_most = self.farm.plan.request.at_most? as f64;
        Some((at_most, self.words().whole(at_most)))
    }

    fn money(&self, value: f64) -> String {
        self.words().money(self.currency, value)
    }

    fn exact_money(&self, value: f64) -> String {
        exact_money(self.words(), self.currency, value)
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

    /// "12 (8 to 21)".
    fn estimate(&self, estimate: Estimate) -> String {
        let words = self.words();
        format!("{} ({})", words.count(estimate.mean), words.count_range(estimate.interval))
    }

    /// A number of the measure, as a bare figure of a table or a sentence.
    fn figure_of(&self, value: f64) -> String {
        match self.farm.plan.rank_by {
            RankBy::Cases => self.words().count(value),
            RankBy::LameDays => self.words().whole(value),
            RankBy::NetBenefit => self.money(value),
        }
    }

    fn is_priced(&self, added: &Added) -> bool {
        self.prepared.options[added.option].cost.capital_draws().is_some()
    }

    fn has_prices(&self) -> bool {
        self.farm.order.iter().any(|added| self.is_priced(added))
    }

    fn unpriced(&self) -> String {
        let unpriced = self.farm.order.iter().filter(|added| !self.is_priced(added));
        self.words().list(&unpriced.map(|added| self.title(added.option)).collect::<Vec<_>>())
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
        let mark = self.words().word("list.semicolon");
        let guide = |(kind, places): (usize, Vec<String>)| {
            let intervention = &self.prepared.library.interventions[kind];
            GuideText {
                title: intervention.title.clone(),
                places: places.join(&mark),
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
        let words = self.words();
        let sum = |draws: Option<&Vec<f64>>| match draws {
            None => words.word("number.not-known"),
            Some(draws) => match Estimate::of(draws.clone()) {
                Estimate { interval: (_, high), .. } if high <= 0.0 => words.word("plan.costs-nothing"),
                estimate => words.money_range(self.currency, estimate.interval),
            },
        };
        PlanAction {
            title: intervention.title.clone(),
            place: self.place(option).unwrap_or_default(),
            capital: sum(cost.capital_draws()),
            running: sum(cost.running_draws()),
            weeks: weeks(words, intervention),
            so_far: self.figure_of(added.brings_so_far),
        }
    }

    fn in_short(&self) -> Vec<String> {
        let (words, best) = (self.words(), &self.farm.plan.best);
        let budget = self.farm.plan.request.budget.map(|budget| self.exact_money(budget));
        let chosen = best.means.chosen.len() as f64;
        if chosen == 0.0 {
            return vec![match budget {
                Some(budget) => words.say("plan.nothing.budget", &[("budget", &budget)]),
                None => words.word("plan.nothing.no-limit"),
            }];
        }
        let n = words.whole(chosen);
        let things = match budget {
            Some(budget) => words.say_for(chosen, "plan.things.budget", &[("budget", &budget), ("n", &n)]),
            None => words.say_for(chosen, "plan.things.no-limit", &[("n", &n)]),
        };
        let expect = words.say(
            "plan.expect",
            &[
                ("capital", &self.money(best.means.capital)),
                ("running", &self.money(best.running.mean)),
                ("brings", &words::fewer_lame_cows(words, best.cases_avoided)),
                ("reduction", &words.percent(best.reduction)),
            ],
        );
        let mut paragraphs = vec![format!("{things} {expect}")];
        paragraphs.extend(self.savings());
        paragraphs.extend(self.few());
        paragraphs.extend(self.if_money_counts());
        paragraphs.push(words.word("plan.overlap"));
        paragraphs
    }

    /// What it saves and leaves; nothing where money is withheld.
    fn savings(&self) -> Option<String> {
        let (words, best) = (self.words(), &self.farm.plan.best);
        let (saved, net, chance) = (best.saved?, best.net_benefit?.mean, words.chance(best.p_pays?));
        let saves = words.say("plan.saves", &[("saved", &words.money_range(self.currency, saved.interval))]);
        let leaves = if net < 0.0 {
            words.say("plan.costs-more", &[("loss", &self.money(-net)), ("chance", &chance)])
        } else {
            words.say("plan.leaves", &[("net", &self.money(net)), ("chance", &chance)])
        };
        Some(format!("{saves} {leaves}"))
    }

    /// The best few, where the plan is longer than most farms would carry out.
    fn few(&self) -> Option<String> {
        let (words, few) = (self.words(), self.farm.few.as_ref()?);
        let titles: Vec<String> = few.chosen.iter().map(|&option| self.title(option)).collect();
        let n = words.whole(few.chosen.len() as f64);
        let fewer = words.count(few.cases_avoided);
        let all = words.count(self.farm.plan.best.means.cases_avoided);
        let values = [("n", n), ("fewer", fewer), ("all", all), ("titles", words.list(&titles))];
        Some(words.say("plan.few", &values.each_ref().map(|(name, value)| (*name, value.as_str()))))
    }

    /// What the best plan by net benefit would be, where this one leaves less.
    fn if_money_counts(&self) -> Option<String> {
        let (best, by_money) = (&self.farm.plan.best.means, self.farm.by_net_benefit.as_ref()?);
        let (net, net_by_money) = (best.net_benefit?, by_money.net_benefit?);
        if net_by_money <= net || by_money.chosen == best.chosen {
            return None;
        }
        let words = self.words();
        let things = by_money.chosen.len() as f64;
        if things == 0.0 {
            return Some(words.word("plan.by-money.nothing"));
        }
        let values = [
            ("n", words.whole(things)),
            ("net", self.money(net_by_money)),
            ("fewer", words.count(by_money.cases_avoided)),
        ];
        let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
        Some(words.say_for(things, "plan.by-money.other", &values))
    }

    fn together(&self) -> Vec<(String, String)> {
        let (words, best) = (self.words(), &self.farm.plan.best);
        let money = |estimate: Estimate| words.money_range(self.currency, estimate.interval);
        let mut rows = vec![
            (words.word("plan.together.cases"), self.estimate(best.cases_avoided)),
            (words.word("plan.together.lame-days"), self.estimate(best.lame_days_avoided)),
            (words.word("plan.spent-once"), money(best.capital)),
            (words.word("plan.to-run"), money(best.running)),
            (words.word("plan.together.yearly"), money(best.yearly_cost)),
        ];
        if let (Some(saved), Some(net)) = (best.saved, best.net_benefit) {
            rows.push((words.word("plan.together.saved"), money(saved)));
            rows.push((words.word("plan.left-over"), money(net)));
        }
        if let Some(p_pays) = best.p_pays {
            rows.push((words.word("plan.together.pays"), words.chance(p_pays)));
        }
        rows
    }

    fn more_money(&self) -> String {
        let (words, plan) = (self.words(), &self.farm.plan);
        let here = &plan.best.means;
        let Some(with_sum) = &plan.with_next_sum else { return String::new() };
        let sum = self.exact_money(NEXT_SUM);
        let more = |step: &SetMeans| self.more(step.brings - here.brings);
        let change = |step: &SetMeans| self.change(&here.chosen, &step.chosen);
        let noticeable = 0.005 * here.brings.abs();
        if with_sum.brings - here.brings > noticeable {
            let values = [("sum", sum.as_str()), ("more", &more(with_sum)), ("change", &change(with_sum))];
            return words.say("plan.next.brings", &values);
        }
        match &plan.next_step {
            None => match self.at_most() {
                None => words.say("plan.next.nothing", &[("sum", &sum)]),
                Some((_, n)) => words.say("plan.next.nothing-number", &[("sum", &sum), ("n", &n)]),
            },
            Some(step) => words.say(
                "plan.next.step",
                &[
                    ("sum", &sum),
                    ("capital", &self.money(step.capital)),
                    ("more", &more(step)),
                    ("change", &change(step)),
                ],
            ),
        }
    }

    /// A difference in the measure, in words.
    fn more(&self, difference: f64) -> String {
        let key = self.by_measure(["plan.more.cases", "plan.more.lame-days", "plan.more.net-benefit"]);
        self.words().say(key, &[("n", &self.figure_of(difference))])
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
        let words = self.words();
        let name = |(_, of_kind): &(usize, Vec<usize>)| match of_kind.as_slice() {
            [one] => self.title(*one),
            several => {
                let (title, n) = (&self.intervention(several[0]).title, several.len().to_string());
                words.say("plan.places", &[("title", title), ("n", &n)])
            }
        };
        let named: Vec<String> = kinds.iter().take(most).map(name).collect();
        let names = named.join(&words.word("list.semicolon"));
        match kinds.len() - named.len() {
            0 => names,
            left => words.say("plan.and-more", &[("names", &names), ("n", &left.to_string())]),
        }
    }

    /// What goes in and out between two sets.
    fn change(&self, from: &[usize], to: &[usize]) -> String {
        let names = |these: &[usize], others: &[usize]| {
            let only: Vec<usize> = these.iter().copied().filter(|k| !others.contains(k)).collect();
            self.names(&only, CHANGES_NAMED)
        };
        let (added, dropped) = (names(to, from), names(from, to));
        match (added.is_empty(), dropped.is_empty()) {
            (_, true) => added,
            (true, false) => self.words().say("plan.without", &[("dropped", &dropped)]),
            (false, false) => self.words().say("plan.in-place", &[("added", &added), ("dropped", &dropped)]),
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
        let words = self.words();
        let mut before: &[usize] = &[];
        let mut rows = Vec::new();
        for step in self.shown() {
            rows.push(StepText {
                capital: self.money(step.capital),
                brings: match self.farm.plan.rank_by {
                    RankBy::Cases | RankBy::NetBenefit => words.count(step.cases_avoided),
                    RankBy::LameDays => words.whole(step.lame_days_avoided),
                },
                net_benefit: self.known(step.net_benefit, |net| self.money(net)),
                change: self.change(before, &step.chosen),
                is_plan: step.chosen == self.farm.plan.best.means.chosen,
            });
            before = &step.chosen;
        }
        rows
    }

    /// A sum as it is written, or that it is not shown.
    fn known(&self, value: Option<f64>, written: impl Fn(f64) -> String) -> String {
        value.map_or_else(|| self.words().word("not-shown"), written)
    }

    fn steps_note(&self) -> String {
        let words = self.words();
        let best = match (self.farm.plan.frontier_exact, self.at_most()) {
            (false, _) => "plan.sought",
            (true, None) => "plan.each-best",
            (true, Some(_)) => "plan.each-best-number",
        };
        let left = self.farm.plan.frontier.len().saturating_sub(self.shown().len()) as f64;
        let mut sentences = vec![words.word(best)];
        if left > 0.0 {
            sentences.push(words.say_for(left, "plan.between", &[("n", &words.whole(left))]));
        }
        sentences.join(" ")
    }

    fn figure(&self) -> Frontier {
        let (words, plan) = (self.words(), &self.farm.plan);
        let shown = self.shown();
        let mut before: &[usize] = &[];
        let steps = plan.frontier.iter().map(|step| {
            let listed = shown.iter().any(|shown| shown.chosen == step.chosen);
            let label = if listed {
                let added: Vec<usize> = step.chosen.iter().copied().filter(|k| !before.contains(k)).collect();
                format!("{}: {}", words.whole(step.capital), self.names(&added, 1))
            } else {
                String::new()
            };
            if listed {
                before = &step.chosen;
            }
            FrontierStep { capital: step.capital, brings: step.brings, label }
        });
        let budget = |capital: f64| Budget {
            capital,
            label: words.say("plan.to-spend", &[("sum", &words.whole(capital))]),
        };
        let axis = |key: &str| words.say(key, &[("currency", self.currency)]);
        Frontier {
            caption: Caption {
                title: words.word("figure.frontier.title"),
                description: self.figure_description(),
            },
            x_axis: axis("figure.frontier.spent"),
            y_axis: axis(self.by_measure([
                "figure.frontier.cases",
                "figure.frontier.lame-days",
                "figure.frontier.net-benefit",
            ])),
            steps: steps.collect(),
            budget: plan.request.budget.map(budget),
        }
    }

    fn figure_description(&self) -> String {
        let words = self.words();
        let Some(last) = self.farm.plan.frontier.last() else {
            return words.word("figure.frontier.nothing");
        };
        let key = self.by_measure([
            "figure.frontier.brings.cases",
            "figure.frontier.brings.lame-days",
            "figure.frontier.brings.net-benefit",
        ]);
        let brings = words.say(key, &[("n", &self.figure_of(last.brings))]);
        let capital = self.money(last.capital);
        words.say("figure.frontier.description", &[("brings", &brings), ("capital", &capital)])
    }

    fn year(&self, year: &Year) -> YearText {
        let words = self.words();
        let sum = |value: f64| if value.abs() < 0.5 { "–".to_owned() } else { self.money(value) };
        YearText {
            year: if year.year == 0 { words.word("plan.year.now") } else { year.year.to_string() },
            capital: sum(year.capital),
            running: sum(year.running),
            saved: self.known(year.saved, sum),
            cash: self.known(year.cash, sum),
            discounted: self.known(year.discounted_to_date, sum),
            cases: year.cases.map_or("–".to_owned(), |cases| self.estimate(cases)),
        }
    }

    fn years_note(&self) -> String {
        let (words, years) = (self.words(), &self.farm.years);
        let without = self.estimate(years.cases_without);
        let mut sentences = vec![words.say("plan.years-note", &[("cases", &without)])];
        let priced = self.has_prices();
        if priced {
            sentences.push(words.word("plan.wears-out"));
        }
        if priced && self.farm.plan.best.saved.is_some() {
            let rate = percent_fine(words, years.discount_rate);
            sentences.push(words.say("plan.added-up", &[("rate", &rate)]));
        }
        sentences.push(words.word(if priced { "plan.stays" } else { "plan.herd-stays" }));
        let unknown: Vec<String> = years.weeks_unknown.iter().map(|&option| self.title(option)).collect();
        if !unknown.is_empty() {
            sentences.push(words.say("plan.weeks-unknown", &[("titles", &words.list(&unknown))]));
        }
        sentences.join(" ")
    }

    /// What is worth a second look; one sentence where nothing is.
    fn looks(&self) -> Vec<String> {
        let least = WORTH_A_LOOK * self.farm.plan.best.means.brings.abs();
        let worth = self.farm.look.iter().filter(|knowing| knowing.worth > least);
        let lines: Vec<String> = worth.take(LOOKS_SHOWN).map(|knowing| self.look(knowing)).collect();
        if lines.is_empty() { vec![self.words().word("plan.look.nothing")] } else { lines }
    }

    fn look(&self, knowing: &Knowing) -> String {
        let (words, library) = (self.words(), self.prepared.library);
        let factor = &library.factors[self.prepared.weights[knowing.factor].factor];
        let segment = knowing.segment.and_then(|at| self.prepared.walk.segments.get(at));
        let item = library.checklist.items().find(|item| item.factor == factor.id);
        let asked = item.map_or(factor.title.clone(), |item| words::without_marks(words, &item.ask));
        let what = segment.map_or(asked.clone(), |segment| format!("{asked} ({})", segment.name));
        words.say(
            if knowing.measured { "plan.look.more" } else { "plan.look.new" },
            &[
                ("what", &what),
                ("more", &self.more(knowing.worth)),
                ("share", &words.percent(knowing.changes)),
            ],
        )
    }

    fn sensitivity(&self) -> Vec<String> {
        let Some(found) = &self.farm.sensitivity else { return Vec::new() };
        let words = self.words();
        let first = self.title(found.first);
        let mut sentences = vec![match found.falls_at {
            None => words.say("plan.first.always", &[("first", &first)]),
            Some((by, then)) => words.say(
                "plan.first.until",
                &[("first", &first), ("share", &words.percent(by)), ("then", &self.title(then))],
            ),
        }];
        sentences.extend(found.rivals.iter().filter_map(|rival| {
            let by = rival.overtakes_at?;
            let times = words.decimals(by, if by < 2.0 { 2 } else { 1 });
            Some(words.say("plan.first.rival", &[("rival", &self.title(rival.option)), ("times", &times)]))
        }));
        sentences
    }

    fn search(&self) -> String {
        let (words, plan) = (self.words(), &self.farm.plan);
        let all = plan.search_draws == self.prepared.settings.draws;
        let draws = words.whole(plan.search_draws as f64);
        let gap = percent_fine(words, plan.gap / (1.0 - plan.gap).max(f64::EPSILON));
        match (plan.exact, all) {
            (true, _) if plan.request.at_most.is_some() => {
                let n = self.at_most().map_or(String::new(), |(_, n)| n);
                words.say("plan.search.exact-number", &[("n", &n), ("draws", &draws)])
            }
            (true, true) => words.word("plan.search.exact"),
            (true, false) => words.say("plan.search.exact-first", &[("draws", &draws)]),
            (false, true) => words.say("plan.search.ended", &[("gap", &gap)]),
            (false, false) => words.say("plan.search.ended-first", &[("gap", &gap), ("draws", &draws)]),
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

/// Weeks in words, or that nobody gave them.
fn weeks(words: &Words, option: &Intervention) -> String {
    match option.weeks_to_effect.map(libm::round) {
        None => words.word("plan.weeks.not-given"),
        Some(0.0) => words.word("plan.weeks.at-once"),
        Some(weeks) => words.say_for(weeks, "weeks", &[("n", &words.whole(weeks))]),
    }
}

/// A sum that the reader gave: never rounded to fewer figures than it has.
fn exact_money(words: &Words, currency: &str, value: f64) -> String {
    let sum = words.say("number.money", &[("currency", currency), ("amount", &words.whole(value))]);
    sum.trim().to_owned()
}

/// A share as a percentage, with a decimal where it is small.
fn percent_fine(words: &Words, share: f64) -> String {
    let percent = 100.0 * share;
    let places = if percent >= 10.0 || percent == libm::round(percent) { 0 } else { 1 };
    words.say("number.percent", &[("n", &words.decimals(percent, places))])
}

/// Why there is no plan, and what would help. For an unknown id the caller adds the nearest known one.
pub fn refusal(prepared: &Prepared, refusal: &PlanRefusal) -> String {
    let library = prepared.library;
    let words = &library.words;
    let currency = prepared.walk.currency.as_deref().unwrap_or("");
    let sum = |value: f64| exact_money(words, currency, value);
    let of = |key: &str, id: &str| words.say(key, &[("id", id)]);
    let because = |key: &str, why: &str| words.say(key, &[("why", why)]);
    match refusal {
        PlanRefusal::Budget(budget) => words.say("plan.refused.budget", &[("budget", &budget.to_string())]),
        PlanRefusal::DiscountRate(rate) => {
            words.say("plan.refused.discount-rate", &[("rate", &percent_fine(words, *rate))])
        }
        PlanRefusal::Unknown { id, .. } => of("plan.refused.unknown", id),
        PlanRefusal::NotOnList(id) => of("plan.refused.not-on-list", id),
        PlanRefusal::MustAndNever(id) => of("plan.refused.must-and-never", id),
        PlanRefusal::MustNeedsNever(id) => of("plan.refused.must-needs-never", id),
        PlanRefusal::Price { option } => of("plan.refused.price", option),
        PlanRefusal::MustExclude(a, b) => words.say("plan.refused.must-exclude", &[("a", a), ("b", b)]),
        PlanRefusal::BelowMusts { needed, budget } => {
            words.say("plan.refused.below-musts", &[("needed", &sum(*needed)), ("budget", &sum(*budget))])
        }
        PlanRefusal::MustWithoutPrice(out) => {
            let id = &prepared.options[out.option].id;
            let why = words::withheld(library, &out.why);
            words.say("plan.refused.must-without-price", &[("id", id), ("why", &why)])
        }
        PlanRefusal::MoreMusts { needed, at_most } => words.say(
            "plan.refused.more-musts",
            &[("needed", &needed.to_string()), ("at_most", &at_most.to_string())],
        ),
        PlanRefusal::NoPrices(left_out) => {
            let reasons: Vec<_> = left_out.iter().map(|out| out.why.clone()).collect();
            let mut reasons = words::all_withheld(library, &reasons);
            reasons.dedup();
            because("plan.refused.no-prices", &reasons.join(" "))
        }
        PlanRefusal::Money(reasons) => {
            because("plan.refused.money", &words::all_withheld(library, reasons).join(" "))
        }
        PlanRefusal::TooManyOptions { options, most } => {
            words.say("plan.refused.too-many", &[("n", &options.to_string()), ("most", &most.to_string())])
        }
    }
}

#[cfg(test)]
mod tests;
