//! The sheets of a walk's workbook.

use super::{Cell, Kind, Lesion, Sheet, Table};
use crate::model::Library;
use crate::model::checklist::Item;
use crate::model::intervention::Each;
use crate::model::walk::{Answer, Given};
use crate::reckon::plan::{Plan, PlanRefusal, SetMeans};
use crate::reckon::prices::CaseCosts;
use crate::reckon::{FactorOutcome, OptionOutcome, Outcome, Prepared};
use crate::report::evidence::{EffectEvidence, FactorEvidence, cite_id, overview};
use crate::report::walk_page::ranked_by;
use crate::report::{plan_page, words};
use std::collections::BTreeMap;

/// Wide enough for a title.
const TITLE: u16 = 44;
/// Wide enough for an id or a place.
const ID: u16 = 22;
/// Track segments that get a column; a sheet has room for 16,384 columns.
const SEGMENTS: usize = 1_000;
/// Wide enough for a few sentences.
const SENTENCES: u16 = 70;

pub(super) struct Sheets<'a> {
    pub(super) prepared: &'a Prepared<'a>,
    pub(super) outcome: &'a Outcome,
    pub(super) inputs: &'a BTreeMap<String, String>,
}

/// An effect beside the factor and the outcome it is listed under.
struct EffectRow {
    factor: String,
    factor_id: String,
    outcome: String,
    effect: Option<EffectEvidence>,
    basis: String,
}

/// An item with one of its answers, or none.
struct AnswerRow<'a> {
    section: &'a str,
    item: &'a Item,
    given: Option<&'a Given>,
}

impl<'a> Sheets<'a> {
    fn library(&self) -> &'a Library {
        self.prepared.library
    }

    /// "EUR", or that the walk names none.
    fn currency(&self) -> &'a str {
        self.prepared.walk.currency.as_deref().unwrap_or("no currency named")
    }

    fn place(&self, segment: Option<usize>, each: Each) -> String {
        words::place(self.prepared.walk, segment, each).unwrap_or_else(|| "whole farm".to_owned())
    }

    /// Every option, best first.
    pub(super) fn options(&self) -> Sheet {
        let currency = self.currency();
        let intervention = |option: &&OptionOutcome| &self.library().interventions[option.intervention];
        let money = |option: &&'a OptionOutcome| option.money.as_ref().ok();
        Table::<&'a OptionOutcome>::new()
            .number("Place", Kind::Whole, |option| option.rank as f64)
            .text("Option", TITLE, move |option| intervention(option).title.clone())
            .text("Where", ID, move |option| self.place(option.segment, intervention(option).each))
            .column("Can't be told from the next", Kind::Text(12), |option| Cell::mark(option.close_to_next))
            .interval("Fewer new cases of lameness a year", Kind::Decimals(1), |option| option.cases_avoided)
            .number("Fewer new cases, share of all (%)", Kind::Percent, |option| option.reduction)
            .interval("Fewer days of a lame cow a year", Kind::Whole, |option| option.lame_days_avoided)
            .number("Chance of being the best option (%)", Kind::Percent, |option| option.chances.best)
            .number("Chance of being among the best three (%)", Kind::Percent, |option| option.chances.top3)
            .interval(&format!("Spent once ({currency})"), Kind::Money, move |option| {
                money(option).map(|money| money.capital)
            })
            .interval(&format!("Capital over its life and running, a year ({currency})"), Kind::Money, {
                move |option| money(option).map(|money| money.yearly_cost)
            })
            .interval(&format!("Saved a year ({currency})"), Kind::Money, |option| option.saved)
            .interval(&format!("Saved less cost, a year ({currency})"), Kind::Money, move |option| {
                money(option).and_then(|money| money.net_benefit)
            })
            .number("Pays back in (years; empty: never, or not known)", Kind::Decimals(1), move |option| {
                money(option).and_then(|money| money.payback_years)
            })
            .number("Chance that it pays (%)", Kind::Percent, move |option| {
                money(option).and_then(|money| money.p_pays)
            })
            .text("Prices are", 14, move |option| match money(option) {
                Some(money) if money.own => "the farm's own",
                Some(_) => "shipped, invented",
                None => "not known",
            })
            .number("Share of the fewer cases that rests on published sizes (%)", Kind::Percent, |option| {
                option.published_share
            })
            .text("Id", ID, |option| option.id.clone())
            .sheet("Ranked list", 2, &self.outcome.options)
    }

    /// Every factor of the system, answered ones by the cases put down to them.
    pub(super) fn factors(&self) -> Sheet {
        let factor = |of: &&FactorOutcome| &self.library().factors[of.weight.factor];
        let mix = &self.library().burden.system(self.prepared.walk.system).lesion_mix;
        let cases = |of: &FactorOutcome| of.attributed.as_ref().map(|attributed| attributed.cases);
        let mut table = Table::<&'a FactorOutcome>::new()
            .text("Factor", TITLE, move |of| factor(of).title.clone())
            .column("Looked at", Kind::Text(10), |of| Cell::mark(of.exposure.is_some()))
            .interval("Exposure (0 = good practice, 1 = worst)", Kind::Decimals(2), |of| of.exposure)
            .interval("New cases a year put down to it", Kind::Decimals(1), move |of| cases(of))
            .number("Risk ratio of the whole step, after overlap", Kind::Decimals(2), move |of| {
                let overlapped = of.weight.overlapped();
                libm::exp(crate::reckon::weights::all_lameness(mix, |lesion| overlapped[lesion]))
            })
            .text("Weight rests on", 32, |of| words::basis(of.weight.basis))
            .number("Log risk ratio before overlap: mean", Kind::Decimals(3), |of| of.weight.log_rr)
            .number("Log risk ratio before overlap: standard deviation", Kind::Decimals(3), |of| of.log_rr_sd)
            .number("Left of the weight after overlap (%)", Kind::Percent, |of| of.weight.overlap);
        for lesion in Lesion::ALL {
            let name = words::lesion(self.library(), lesion);
            table = table.number(format!("New cases a year: {name}"), Kind::Decimals(1), move |of| {
                of.attributed.as_ref().map(|attributed| attributed.by_lesion[lesion])
            });
        }
        for (at, segment) in self.prepared.walk.segments.iter().take(SEGMENTS).enumerate() {
            let heading = format!("Exposure (0 to 1), {}", segment.name);
            table = table.number(heading, Kind::Decimals(2), move |of| {
                of.exposure_by_segment.as_ref().and_then(|by_segment| by_segment.get(at).copied())
            });
        }
        let mut rows: Vec<&FactorOutcome> = self.outcome.factors.iter().collect();
        let order = |of: &FactorOutcome| cases(of).map_or(f64::NEG_INFINITY, |cases| cases.mean);
        rows.sort_by(|a, b| order(b).total_cmp(&order(a)));
        table.text("Id", ID, move |of| factor(of).id.clone()).sheet("Factors", 1, rows)
    }

    fn effect_rows(&self) -> Vec<EffectRow> {
        let evidence = overview(self.library(), &self.prepared.weights, self.prepared.walk.system);
        evidence.factors.into_iter().flat_map(effect_rows).collect()
    }

    /// Every published comparison, as printed and as used.
    pub(super) fn evidence(&self) -> Sheet {
        let effect = |row: &EffectRow| row.effect.clone();
        let interval = |row: &EffectRow, end: usize| {
            effect(row).and_then(|effect| effect.interval).and_then(|interval| interval.get(end).copied())
        };
        let used = |row: &EffectRow| effect(row).and_then(|effect| effect.numbers);
        let level = move |row: &EffectRow| {
            let id = effect(row)?.id;
            let listed = self.library().effects.iter().find(|listed| listed.id == id)?;
            listed.interval.map(|_| listed.level)
        };
        let words = move |row: &EffectRow, words: fn(EffectEvidence) -> String| {
            effect(row).map_or(String::new(), words)
        };
        Table::<EffectRow>::new()
            .text("Factor", TITLE, |row| row.factor.clone())
            .text("Lameness or lesion", 20, |row| row.outcome.clone())
            .text("Source", 24, move |row| words(row, |effect| effect.source.cite))
            .text("What was compared", 50, move |row| words(row, |effect| effect.contrast))
            .text("Measure", 16, move |row| words(row, |effect| effect.measure.to_owned()))
            .number("Published estimate", Kind::Decimals(2), move |row| {
                effect(row).and_then(|effect| effect.estimate)
            })
            .number("Published interval: low end", Kind::Decimals(2), move |row| interval(row, 0))
            .number("Published interval: high end", Kind::Decimals(2), move |row| interval(row, 1))
            .number("Level of that interval (%)", Kind::Percent, level)
            .number("Published p value", Kind::Decimals(3), move |row| {
                effect(row).and_then(|effect| effect.p_value)
            })
            .text("Design", 28, move |row| words(row, |effect| effect.design_words))
            .text("Herds and cows", 28, move |row| words(row, |effect| effect.animals))
            .text("How sure the figure is", 20, move |row| words(row, |effect| effect.certainty.to_owned()))
            .text("Used", 12, move |row| words(row, |effect| effect.role.to_owned()))
            .text("Why so", 44, move |row| words(row, |effect| effect.role_words))
            .number("Risk ratio as used, whole step", Kind::Decimals(2), move |row| {
                used(row).map(|numbers| libm::exp(numbers.log_rr))
            })
            .number("Standard error of its logarithm", Kind::Decimals(3), move |row| {
                used(row).map(|numbers| numbers.se)
            })
            .number("The same with allowances for bias", Kind::Decimals(3), move |row| {
                used(row).map(|numbers| numbers.se_allowed)
            })
            .number("Share of the pooled size (%)", Kind::Percent, move |row| {
                used(row).map(|numbers| numbers.share)
            })
            .text("Weight of the factor rests on", 44, |row| row.basis.clone())
            .text("DOI", 28, move |row| words(row, |effect| effect.source.doi.unwrap_or_default()))
            .text("How much was read", 20, move |row| words(row, |effect| effect.source.read.to_owned()))
            .text("Note", 50, move |row| words(row, |effect| effect.note.unwrap_or_default()))
            .text("Id of the effect", ID, move |row| words(row, |effect| effect.id))
            .text("Id of the factor", ID, |row| row.factor_id.clone())
            .sheet("Evidence", 1, self.effect_rows())
    }

    fn titles(&self, set: &SetMeans) -> Vec<String> {
        let title = |&option: &usize| {
            let option = &self.prepared.options[option];
            let intervention = &self.library().interventions[option.intervention];
            match words::place(self.prepared.walk, option.segment, intervention.each) {
                Some(place) => format!("{} ({place})", intervention.title),
                None => intervention.title.clone(),
            }
        };
        set.chosen.iter().map(title).collect()
    }

    /// The best set of changes for every sum of money, reckoned as sets. No rows where there is no plan.
    pub(super) fn plan(&self, plan: Option<&Plan>) -> Sheet {
        let currency = self.currency();
        let steps = plan.map_or(&[][..], |plan| &plan.frontier);
        let before = |at: usize| at.checked_sub(1).and_then(|before| steps.get(before));
        let differs = move |of: &SetMeans, other: Option<&SetMeans>| {
            let with = self.titles(of).into_iter();
            let without = other.map(|other| self.titles(other)).unwrap_or_default();
            with.filter(|title| !without.contains(title)).collect::<Vec<_>>().join("; ")
        };
        Table::<(usize, &SetMeans)>::new()
            .number(format!("Spent once ({currency}): mean"), Kind::Money, |(_, set)| set.capital)
            .number("Changes in the set", Kind::Whole, |(_, set)| set.chosen.len() as f64)
            .number("Fewer new cases of lameness a year: mean", Kind::Decimals(1), |(_, set)| {
                set.cases_avoided
            })
            .number("Fewer days of a lame cow a year: mean", Kind::Whole, |(_, set)| set.lame_days_avoided)
            .number(format!("Saved less cost, a year ({currency}): mean"), Kind::Money, |(_, set)| {
                set.net_benefit
            })
            .text("New against the row above", SENTENCES, move |(at, set)| differs(set, before(*at)))
            .text("No more against the row above", 44, move |(at, set)| {
                before(*at).map_or(String::new(), |before| differs(before, Some(set)))
            })
            .text("The whole set", SENTENCES, move |(_, set)| self.titles(set).join("; "))
            .text("Ids of the whole set, as --must takes them", SENTENCES, move |(_, set)| {
                let ids = set.chosen.iter().map(|&option| self.prepared.options[option].id.as_str());
                ids.collect::<Vec<_>>().join(" ")
            })
            .sheet("Plan", 1, steps.iter().enumerate())
    }

    /// The farm's lameness by lesion.
    pub(super) fn lesions(&self) -> Sheet {
        let currency = self.currency();
        let burden = &self.outcome.burden;
        let (shares, reference) =
            (burden.herd.mean_mix(), &self.library().burden.system(self.prepared.walk.system).lesion_mix);
        let counts = self.prepared.walk.records.as_ref().and_then(|records| records.counts);
        let cost = |lesion: Lesion| match &self.outcome.case_costs {
            CaseCosts::Known { triangles, .. } => Some(triangles[lesion]),
            _ => None,
        };
        Table::<Lesion>::new()
            .text("Lesion", 40, |lesion| words::lesion(self.library(), *lesion))
            .interval("New cases a year", Kind::Decimals(1), |lesion| burden.by_lesion[*lesion])
            .number("Share of all cases (%)", Kind::Percent, move |lesion| shares[*lesion])
            .number("Share across herds (%)", Kind::Percent, |lesion| reference[*lesion])
            .number("In the farm's records (cases)", Kind::Whole, move |lesion| {
                counts.map(|counts| counts.by_lesion[*lesion] as f64)
            })
            .number(format!("Cost of a case ({currency}): low"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.low)
            })
            .number(format!("Cost of a case ({currency}): likely"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.likely)
            })
            .number(format!("Cost of a case ({currency}): high"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.high)
            })
            .text("Id", ID, |lesion| lesion.id())
            .sheet("Lesions", 1, Lesion::ALL)
    }

    /// Every item with every answer.
    pub(super) fn answers(&self) -> Sheet {
        let walk = self.prepared.walk;
        let row = |section: &'a str, item: &'a Item| {
            let given = walk.answers_to(&item.id);
            let none = given.is_empty().then_some(AnswerRow { section, item, given: None });
            given.iter().map(move |given| AnswerRow { section, item, given: Some(given) }).chain(none)
        };
        let sections = &self.library().checklist.sections;
        let rows = sections
            .iter()
            .flat_map(|section| section.items.iter().flat_map(move |item| row(&section.title, item)));
        Table::<AnswerRow<'a>>::new()
            .text("Part of the walk", 26, |row| row.section)
            .text("Asked", 50, |row| row.item.ask.clone())
            .text("Where", ID, |row| {
                let segment = row.given.and_then(|given| walk.segments.get(given.segment?));
                segment.map_or_else(|| "whole farm".to_owned(), |segment| segment.name.clone())
            })
            .column("Answered", Kind::Text(10), |row| {
                Cell::mark(row.given.is_some_and(|given| !matches!(given.answer, Answer::Skip(_))))
            })
            .text("Found, or why not", 44, |row| match row.given {
                Some(given) => words::answer(row.item, &given.answer),
                None => "no answer".to_owned(),
            })
            .text("Note", 40, |row| row.given.and_then(|given| given.note.clone()).unwrap_or_default())
            .text("Threshold from", 26, |row| cite_id(self.library(), row.item.source.as_deref()))
            .text("Factor", TITLE, |row| {
                self.library().factor(&row.item.factor).map_or(String::new(), |factor| factor.title.clone())
            })
            .text("Id", ID, |row| row.item.id.clone())
            .sheet("Walk", 2, rows)
    }

    /// How each option is done, once.
    pub(super) fn how(&self) -> Sheet {
        let mut seen = Vec::new();
        let mut rows = Vec::new();
        for option in self.outcome.options.iter().map(|option| option.intervention) {
            if !seen.contains(&option) {
                seen.push(option);
                rows.push(&self.library().interventions[option]);
            }
        }
        Table::new()
            .text("Option", TITLE, |option: &&crate::model::intervention::Intervention| option.title.clone())
            .number("Takes effect after (weeks)", Kind::Whole, |option| option.weeks_to_effect)
            .number("Lasts (years)", Kind::Whole, |option| option.life_years)
            .text("How it is done", SENTENCES, |option| option.how.trim().to_owned())
            .text("Take care", SENTENCES, |option| option.caution.as_deref().unwrap_or("").trim().to_owned())
            .text("Id", ID, |option| option.id.clone())
            .sheet("How it is done", 1, rows)
    }

    /// How all this was made, and how to read it.
    pub(super) fn notes(&self, plan: &Result<Plan, PlanRefusal>) -> Sheet {
        let (walk, outcome) = (self.prepared.walk, self.outcome);
        let mut rows: Vec<(String, String)> = Vec::new();
        let mut note = |name: &str, text: String| rows.push((name.to_owned(), text));
        note("Farm", walk.farm_name.clone());
        note("Walk", format!("{}, {} cows, {} herd", walk.date, walk.cows, words::system_words(walk.system)));
        note("Checklist", format!("{} {}", self.library().checklist.id, self.library().checklist.version));
        note("Program", format!("underfoot {}", env!("CARGO_PKG_VERSION")));
        note("Draws", format!("{}, seed {}", outcome.settings.draws, outcome.settings.seed));
        note("Ranked by", ranked_by(outcome.settings.rank_by).to_owned());
        note(
            "Currency",
            walk.currency.clone().unwrap_or_else(|| "none named, so no money is shown".to_owned()),
        );
        for (name, hash) in self.inputs {
            note("Read", format!("{name}, SHA-256 {hash}"));
        }
        for text in HOW_TO_READ {
            note("How to read it", (*text).to_owned());
        }
        match plan {
            Err(refused) => note("No plan", plan_page::refusal(self.prepared, refused)),
            Ok(plan) if !plan.frontier_exact => note("Plan", SOUGHT.to_owned()),
            Ok(_) => {}
        }
        for reason in words::all_withheld(self.library(), &self.prepared.money_withheld()) {
            note("Money withheld", reason);
        }
        for text in CAUTIONS {
            note("Take care", (*text).to_owned());
        }
        Table::new()
            .text("What", 18, |row: &(String, String)| row.0.clone())
            .text("Note", 110, |row| row.1.clone())
            .sheet("Notes", 0, rows)
    }
}

const HOW_TO_READ: &[&str] = &[
    "Low and high end hold nine chances in ten, unless a heading says otherwise.",
    "An empty cell is a figure that is not known, or money that is withheld; it is never nought.",
    "Each option's figures are for that option alone. Options overlap: never add them up. The sheet Plan \
     reckons whole sets.",
    "Neighbours in the ranking that can't be told apart: the one ahead wins in too few of the draws.",
    "A change below nought is an option or a factor that may do harm, or nothing, on this farm.",
    "A risk ratio is for the whole step of exposure, from good practice (0) to the exposed end (1).",
    "Cells hold every digit that was reckoned; far fewer mean anything.",
    "Prices shipped with the program are invented: put the farm's own quotes in the walk record.",
];

const SOUGHT: &str = "With so many options the best set was sought at a few sums only, each within a limit of \
                      work: a better set may lie between two rows.";

const CAUTIONS: &[&str] = &[
    "Weights are averages of other farms. This ranks risks; it diagnoses nothing and does not replace the \
     veterinarian.",
    "Associations are not causes, and a factor nobody looked at takes no part: it is never scored as good.",
    "Work with knives, chemicals, medicines, stock, vehicles or earth follows local codes, the label and the \
     veterinarian; the sheet How it is done says what each option needs.",
];

fn effect_rows(factor: FactorEvidence) -> Vec<EffectRow> {
    let row = |outcome: &str, effect: Option<EffectEvidence>| EffectRow {
        factor: factor.title.clone(),
        factor_id: factor.id.clone(),
        outcome: outcome.to_owned(),
        effect,
        basis: factor.basis_words.clone(),
    };
    let of_outcomes = factor
        .outcomes
        .iter()
        .flat_map(|outcome| outcome.effects.iter().map(|effect| row(&outcome.name, Some(effect.clone()))));
    let others = factor.other_effects.iter().map(|effect| row("", Some(effect.clone())));
    let mut rows: Vec<EffectRow> = of_outcomes.chain(others).collect();
    if rows.is_empty() {
        rows.push(row("no published effect is listed", None));
    }
    rows
}
