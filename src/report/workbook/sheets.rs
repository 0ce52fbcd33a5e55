//! The sheets of a walk's workbook.

use super::{Cell, Kind, Lesion, Sheet, Table};
use crate::model::Library;
use crate::model::checklist::Item;
use crate::model::intervention::{Each, Intervention};
use crate::model::walk::{Answer, Given};
use crate::model::words::Words;
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

/// Keys of the sheets' names.
pub(super) const TABS: [&str; 8] = [
    "book.options",
    "book.factors",
    "book.evidence",
    "book.plan",
    "book.lesions",
    "book.walk",
    "book.how",
    "book.notes",
];

pub(super) struct Sheets<'a> {
    pub(super) prepared: &'a Prepared<'a>,
    pub(super) outcome: &'a Outcome,
    pub(super) inputs: &'a BTreeMap<String, String>,
    /// Names of the sheets, in the order of [`TABS`].
    pub(super) tabs: Vec<String>,
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

    fn words(&self) -> &'a Words {
        &self.library().words
    }

    /// The name of a sheet, by its key.
    fn tab(&self, key: &str) -> String {
        let at = TABS.iter().position(|tab| *tab == key);
        at.and_then(|at| self.tabs.get(at)).cloned().unwrap_or_default()
    }

    /// A heading with its currency, "EUR" or that the walk names none.
    fn in_currency(&self, key: &str) -> String {
        let currency = self.prepared.walk.currency.clone();
        let currency = currency.unwrap_or_else(|| self.words().word("book.no-currency"));
        self.words().say(key, &[("currency", &currency)])
    }

    /// The heading of a mean.
    fn mean(&self, figure: &str) -> String {
        self.words().say("book.mean", &[("figure", figure)])
    }

    fn place(&self, segment: Option<usize>, each: Each) -> String {
        let place = words::place(self.prepared.walk, segment, each);
        place.unwrap_or_else(|| self.words().word("book.whole-farm"))
    }

    /// Every option, best first.
    pub(super) fn options(&self) -> Sheet {
        let t = |key: &str| self.words().word(key);
        let intervention = |option: &&OptionOutcome| &self.library().interventions[option.intervention];
        let money = |option: &&'a OptionOutcome| option.money.as_ref().ok();
        Table::<&'a OptionOutcome>::new(self.words())
            .number(t("book.place"), Kind::Whole, |option| option.rank as f64)
            .text(t("book.option"), TITLE, move |option| intervention(option).title.clone())
            .text(t("book.where"), ID, move |option| self.place(option.segment, intervention(option).each))
            .column(t("book.tie"), Kind::Text(12), |option| Cell::mark(self.words(), option.close_to_next))
            .interval(t("book.fewer-cases"), Kind::Decimals(1), |option| option.cases_avoided)
            .number(t("book.fewer-cases-share"), Kind::Percent, |option| option.reduction)
            .interval(t("book.fewer-days"), Kind::Whole, |option| option.lame_days_avoided)
            .number(t("book.best"), Kind::Percent, |option| option.chances.best)
            .number(t("book.best-three"), Kind::Percent, |option| option.chances.top3)
            .interval(self.in_currency("book.spent-once"), Kind::Money, move |option| {
                money(option).map(|money| money.capital)
            })
            .interval(self.in_currency("book.yearly-cost"), Kind::Money, move |option| {
                money(option).map(|money| money.yearly_cost)
            })
            .interval(self.in_currency("book.saved"), Kind::Money, |option| option.saved)
            .interval(self.in_currency("book.net"), Kind::Money, move |option| {
                money(option).and_then(|money| money.net_benefit)
            })
            .number(t("book.pays-back"), Kind::Decimals(1), move |option| {
                money(option).and_then(|money| money.payback_years)
            })
            .number(t("book.pays"), Kind::Percent, move |option| money(option).and_then(|money| money.p_pays))
            .text(t("book.prices"), 14, move |option| {
                self.words().word(match money(option) {
                    Some(money) if money.own => "book.prices-own",
                    Some(_) => "book.prices-shipped",
                    None => "number.not-known",
                })
            })
            .number(t("book.published-share"), Kind::Percent, |option| option.published_share)
            .text(t("book.id"), ID, |option| option.id.clone())
            .sheet(self.tab("book.options"), 2, &self.outcome.options)
    }

    /// Every factor of the system, answered ones by the cases put down to them.
    pub(super) fn factors(&self) -> Sheet {
        let t = |key: &str| self.words().word(key);
        let log_ratio = t("book.log-ratio");
        let factor = |of: &&FactorOutcome| &self.library().factors[of.weight.factor];
        let mix = &self.library().burden.system(self.prepared.walk.system).lesion_mix;
        let cases = |of: &FactorOutcome| of.attributed.as_ref().map(|attributed| attributed.cases);
        let mut table = Table::<&'a FactorOutcome>::new(self.words())
            .text(t("evidence.factor"), TITLE, move |of| factor(of).title.clone())
            .column(t("book.looked-at"), Kind::Text(10), |of| Cell::mark(self.words(), of.exposure.is_some()))
            .interval(t("book.exposure"), Kind::Decimals(2), |of| of.exposure)
            .interval(t("book.attributed"), Kind::Decimals(1), move |of| cases(of))
            .number(t("book.ratio"), Kind::Decimals(2), move |of| {
                let overlapped = of.weight.overlapped();
                libm::exp(crate::reckon::weights::all_lameness(mix, |lesion| overlapped[lesion]))
            })
            .text(t("book.weight-basis"), 32, |of| words::basis(self.words(), of.weight.basis))
            .number(self.mean(&log_ratio), Kind::Decimals(3), |of| of.weight.log_rr)
            .number(self.words().say("book.sd", &[("figure", &log_ratio)]), Kind::Decimals(3), |of| {
                of.log_rr_sd
            })
            .number(t("book.left"), Kind::Percent, |of| of.weight.overlap);
        for lesion in Lesion::ALL {
            let name = words::lesion(self.library(), lesion);
            let heading = self.words().say("book.cases-of", &[("lesion", &name)]);
            table = table.number(heading, Kind::Decimals(1), move |of| {
                of.attributed.as_ref().map(|attributed| attributed.by_lesion[lesion])
            });
        }
        for (at, segment) in self.prepared.walk.segments.iter().take(SEGMENTS).enumerate() {
            let heading = self.words().say("book.exposure-on", &[("place", &segment.name)]);
            table = table.number(heading, Kind::Decimals(2), move |of| {
                of.exposure_by_segment.as_ref().and_then(|by_segment| by_segment.get(at).copied())
            });
        }
        let mut rows: Vec<&FactorOutcome> = self.outcome.factors.iter().collect();
        let order = |of: &FactorOutcome| cases(of).map_or(f64::NEG_INFINITY, |cases| cases.mean);
        rows.sort_by(|a, b| order(b).total_cmp(&order(a)));
        table.text(t("book.id"), ID, move |of| factor(of).id.clone()).sheet(self.tab("book.factors"), 1, rows)
    }

    fn effect_rows(&self) -> Vec<EffectRow> {
        let evidence = overview(self.library(), &self.prepared.weights, self.prepared.walk.system);
        evidence.factors.into_iter().flat_map(|factor| effect_rows(self.words(), factor)).collect()
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
        let said = move |row: &EffectRow, said: fn(EffectEvidence) -> String| {
            effect(row).map_or(String::new(), said)
        };
        let word = move |row: &EffectRow, key: fn(&EffectEvidence) -> &'static str| {
            effect(row).map_or(String::new(), |effect| self.words().word(key(&effect)))
        };
        let t = |key: &str| self.words().word(key);
        let published = t("book.interval");
        let end = |key: &str| self.words().say(key, &[("figure", &published)]);
        Table::<EffectRow>::new(self.words())
            .text(t("evidence.factor"), TITLE, |row| row.factor.clone())
            .text(t("book.outcome"), 20, |row| row.outcome.clone())
            .text(t("book.source"), 24, move |row| said(row, |effect| effect.source.cite))
            .text(t("book.contrast"), 50, move |row| said(row, |effect| effect.contrast))
            .text(t("book.measure"), 16, move |row| word(row, measure))
            .number(t("book.estimate"), Kind::Decimals(2), move |row| {
                effect(row).and_then(|effect| effect.estimate)
            })
            .number(end("book.low-end"), Kind::Decimals(2), move |row| interval(row, 0))
            .number(end("book.high-end"), Kind::Decimals(2), move |row| interval(row, 1))
            .number(t("book.level"), Kind::Percent, level)
            .number(t("book.p"), Kind::Decimals(3), move |row| effect(row).and_then(|effect| effect.p_value))
            .text(t("book.design"), 28, move |row| said(row, |effect| effect.design_words))
            .text(t("book.animals"), 28, move |row| said(row, |effect| effect.animals))
            .text(t("book.certainty"), 20, move |row| said(row, |effect| effect.certainty))
            .text(t("evidence.used"), 12, move |row| word(row, role))
            .text(t("book.why-so"), 44, move |row| said(row, |effect| effect.role_words))
            .number(t("book.ratio-used"), Kind::Decimals(2), move |row| {
                used(row).map(|numbers| libm::exp(numbers.log_rr))
            })
            .number(t("book.se"), Kind::Decimals(3), move |row| used(row).map(|numbers| numbers.se))
            .number(t("book.se-allowed"), Kind::Decimals(3), move |row| {
                used(row).map(|numbers| numbers.se_allowed)
            })
            .number(t("book.share"), Kind::Percent, move |row| used(row).map(|numbers| numbers.share))
            .text(t("book.factor-basis"), 44, |row| row.basis.clone())
            .text(t("book.doi"), 28, move |row| said(row, |effect| effect.source.doi.unwrap_or_default()))
            .text(t("book.read"), 20, move |row| said(row, |effect| effect.source.read))
            .text(t("page.note"), 50, move |row| said(row, |effect| effect.note.unwrap_or_default()))
            .text(t("book.effect-id"), ID, move |row| said(row, |effect| effect.id))
            .text(t("book.factor-id"), ID, |row| row.factor_id.clone())
            .sheet(self.tab("book.evidence"), 1, self.effect_rows())
    }

    fn titles(&self, set: &SetMeans) -> Vec<String> {
        let title = |&option: &usize| {
            let option = &self.prepared.options[option];
            let intervention = &self.library().interventions[option.intervention];
            match words::place(self.prepared.walk, option.segment, intervention.each) {
                Some(place) => {
                    let said = [("option", intervention.title.as_str()), ("place", &place)];
                    self.words().say("book.title-at", &said)
                }
                None => intervention.title.clone(),
            }
        };
        set.chosen.iter().map(title).collect()
    }

    /// The best set of changes for every sum of money, reckoned as sets. No rows where there is no plan.
    pub(super) fn plan(&self, plan: Option<&Plan>) -> Sheet {
        let t = |key: &str| self.words().word(key);
        let semicolon = t("list.semicolon");
        let joined = |titles: Vec<String>| titles.join(&semicolon);
        let steps = plan.map_or(&[][..], |plan| &plan.frontier);
        let before = |at: usize| at.checked_sub(1).and_then(|before| steps.get(before));
        let differs = |of: &SetMeans, other: Option<&SetMeans>| {
            let with = self.titles(of).into_iter();
            let without = other.map(|other| self.titles(other)).unwrap_or_default();
            joined(with.filter(|title| !without.contains(title)).collect())
        };
        Table::<(usize, &SetMeans)>::new(self.words())
            .number(self.mean(&self.in_currency("book.spent-once")), Kind::Money, |(_, set)| set.capital)
            .number(t("book.changes"), Kind::Whole, |(_, set)| set.chosen.len() as f64)
            .number(self.mean(&t("book.fewer-cases")), Kind::Decimals(1), |(_, set)| set.cases_avoided)
            .number(self.mean(&t("book.fewer-days")), Kind::Whole, |(_, set)| set.lame_days_avoided)
            .number(self.mean(&self.in_currency("book.net")), Kind::Money, |(_, set)| set.net_benefit)
            .text(t("book.new-in"), SENTENCES, |(at, set)| differs(set, before(*at)))
            .text(t("book.gone"), 44, |(at, set)| {
                before(*at).map_or(String::new(), |before| differs(before, Some(set)))
            })
            .text(t("book.set"), SENTENCES, |(_, set)| joined(self.titles(set)))
            .text(t("book.set-ids"), SENTENCES, |(_, set)| {
                let ids = set.chosen.iter().map(|&option| self.prepared.options[option].id.as_str());
                ids.collect::<Vec<_>>().join(" ")
            })
            .sheet(self.tab("book.plan"), 1, steps.iter().enumerate())
    }

    /// The farm's lameness by lesion.
    pub(super) fn lesions(&self) -> Sheet {
        let t = |key: &str| self.words().word(key);
        let burden = &self.outcome.burden;
        let (shares, reference) =
            (burden.herd.mean_mix(), &self.library().burden.system(self.prepared.walk.system).lesion_mix);
        let counts = self.prepared.walk.records.as_ref().and_then(|records| records.counts);
        let cost = |lesion: Lesion| match &self.outcome.case_costs {
            CaseCosts::Known { triangles, .. } => Some(triangles[lesion]),
            _ => None,
        };
        Table::<Lesion>::new(self.words())
            .text(t("evidence.lesion"), 40, |lesion| words::lesion(self.library(), *lesion))
            .interval(t("book.cases"), Kind::Decimals(1), |lesion| burden.by_lesion[*lesion])
            .number(t("book.cases-share"), Kind::Percent, move |lesion| shares[*lesion])
            .number(t("book.herds-share"), Kind::Percent, |lesion| reference[*lesion])
            .number(t("book.recorded"), Kind::Whole, move |lesion| {
                counts.map(|counts| counts.by_lesion[*lesion] as f64)
            })
            .number(self.in_currency("book.cost-low"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.low)
            })
            .number(self.in_currency("book.cost-likely"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.likely)
            })
            .number(self.in_currency("book.cost-high"), Kind::Money, move |lesion| {
                cost(*lesion).map(|cost| cost.high)
            })
            .text(t("book.id"), ID, |lesion| lesion.id())
            .sheet(self.tab("book.lesions"), 1, Lesion::ALL)
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
        let t = |key: &str| self.words().word(key);
        Table::<AnswerRow<'a>>::new(self.words())
            .text(t("book.section"), 26, |row| row.section)
            .text(t("book.asked"), 50, |row| row.item.ask.clone())
            .text(t("book.where"), ID, |row| {
                let segment = row.given.and_then(|given| walk.segments.get(given.segment?));
                segment.map_or_else(|| t("book.whole-farm"), |segment| segment.name.clone())
            })
            .column(t("book.answered"), Kind::Text(10), |row| {
                let answered = row.given.is_some_and(|given| !matches!(given.answer, Answer::Skip(_)));
                Cell::mark(self.words(), answered)
            })
            .text(t("book.found"), 44, |row| match row.given {
                Some(given) => words::answer(self.words(), row.item, &given.answer, given.as_given),
                None => t("no-answer"),
            })
            .text(t("page.note"), 40, |row| {
                row.given.and_then(|given| given.note.clone()).unwrap_or_default()
            })
            .text(t("book.threshold"), 26, |row| cite_id(self.library(), row.item.source.as_deref()))
            .text(t("evidence.factor"), TITLE, |row| {
                self.library().factor(&row.item.factor).map_or(String::new(), |factor| factor.title.clone())
            })
            .text(t("book.id"), ID, |row| row.item.id.clone())
            .sheet(self.tab("book.walk"), 2, rows)
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
        let t = |key: &str| self.words().word(key);
        Table::<&Intervention>::new(self.words())
            .text(t("book.option"), TITLE, |option| option.title.clone())
            .number(t("book.weeks"), Kind::Whole, |option| option.weeks_to_effect)
            .number(t("book.life"), Kind::Whole, |option| option.life_years)
            .text(t("book.how"), SENTENCES, |option| option.how.trim().to_owned())
            .text(t("book.take-care"), SENTENCES, |option| {
                option.caution.as_deref().unwrap_or("").trim().to_owned()
            })
            .text(t("book.id"), ID, |option| option.id.clone())
            .sheet(self.tab("book.how"), 1, rows)
    }

    /// How all this was made, and how to read it.
    pub(super) fn notes(&self, plan: &Result<Plan, PlanRefusal>) -> Sheet {
        let t = |key: &str| self.words().word(key);
        let mut rows = self.about();
        let mut note = |name: &str, text: String| rows.push((t(name), text));
        let sheets = [("plan", self.tab("book.plan")), ("how", self.tab("book.how"))];
        let sheets = sheets.each_ref().map(|(name, tab)| (*name, tab.as_str()));
        for text in HOW_TO_READ {
            note("book.how-to-read", self.words().say(text, &sheets));
        }
        match plan {
            Err(refused) => note("book.no-plan", plan_page::refusal(self.prepared, refused)),
            Ok(plan) if !plan.frontier_exact => note("book.plan", t("book.sought")),
            Ok(_) => {}
        }
        for reason in words::all_withheld(self.library(), &self.prepared.money_withheld()) {
            note("book.withheld", reason);
        }
        for text in CAUTIONS {
            note("book.take-care", self.words().say(text, &sheets));
        }
        Table::new(self.words())
            .text(t("book.what"), 18, |row: &(String, String)| row.0.clone())
            .text(t("page.note"), 110, |row| row.1.clone())
            .sheet(self.tab("book.notes"), 0, rows)
    }

    /// What this is of, and what it was made from.
    fn about(&self) -> Vec<(String, String)> {
        let (walk, settings, words) = (self.prepared.walk, &self.outcome.settings, self.words());
        let (checklist, system) = (&self.library().checklist, words::system_words(words, walk.system));
        let (date, cows) = (walk.date.to_string(), walk.cows as f64);
        let of = [("date", date.as_str()), ("n", &walk.cows.to_string()), ("system", &system)];
        let (draws, seed) = (settings.draws.to_string(), settings.seed.to_string());
        let currency = walk.currency.clone().unwrap_or_else(|| words.word("book.currency-none"));
        let rows = [
            ("page.farm", walk.farm_name.clone()),
            ("book.walk", words.say_for(cows, "book.walk-of", &of)),
            ("book.checklist", format!("{} {}", checklist.id, checklist.version)),
            ("book.program", format!("underfoot {}", env!("CARGO_PKG_VERSION"))),
            ("book.draws", words.say("book.draws-and-seed", &[("draws", &draws), ("seed", &seed)])),
            ("book.ranked-by", words.word(ranked_by(settings.rank_by))),
            ("book.currency", currency),
        ];
        let read = self.inputs.iter().map(|(file, sum)| {
            ("book.read-from", words.say("book.read-file", &[("file", file), ("sum", sum)]))
        });
        rows.into_iter().chain(read).map(|(name, text)| (words.word(name), text)).collect()
    }
}

const HOW_TO_READ: &[&str] = &[
    "book.read-ends",
    "book.read-empty",
    "book.read-alone",
    "book.read-tie",
    "book.read-below",
    "book.read-ratio",
    "book.read-digits",
    "book.read-prices",
];

const CAUTIONS: &[&str] = &["book.care-averages", "book.care-causes", "book.care-work"];

/// The key of a measure by its id.
fn measure(effect: &EffectEvidence) -> &'static str {
    match effect.measure {
        "odds-ratio" => "book.odds-ratio",
        "risk-ratio" => "book.risk-ratio",
        "prevalence-ratio" => "book.prevalence-ratio",
        "rate-ratio" => "book.rate-ratio",
        _ => "book.hazard-ratio",
    }
}

/// The key of how an effect was used, by its id.
fn role(effect: &EffectEvidence) -> &'static str {
    match effect.role {
        "pooled" => "book.role-pooled",
        "direction" => "book.role-direction",
        _ => "book.role-listed",
    }
}

fn effect_rows(words: &Words, factor: FactorEvidence) -> Vec<EffectRow> {
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
        rows.push(row(&words.word("book.no-effect"), None));
    }
    rows
}
