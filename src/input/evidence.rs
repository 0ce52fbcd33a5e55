//! `evidence/sources.yaml` and `evidence/effects.yaml`: what was published.

use super::field::{Block, INNER_SHARE, Listed, POSITIVE, Page, Refers, SHARE, Value, read_listed};
use crate::finding::{Findings, SourceText};
use crate::model::System;
use crate::model::evidence::{Certainty, Design, Effect, Measure, Read, Source};
use crate::model::lesion::Lesion;
use std::collections::BTreeMap;
use std::ops::Range;

const READ: &[(&str, Read)] = &[
    ("full-text", Read::FullText),
    ("abstract", Read::Abstract),
    ("second-hand", Read::SecondHand),
    ("memory", Read::Memory),
];

const MEASURES: &[(&str, Measure)] = &[
    ("odds-ratio", Measure::OddsRatio),
    ("risk-ratio", Measure::RiskRatio),
    ("prevalence-ratio", Measure::PrevalenceRatio),
    ("rate-ratio", Measure::RateRatio),
    ("hazard-ratio", Measure::HazardRatio),
];

const DESIGNS: &[(&str, Design)] = &[
    ("trial", Design::Trial),
    ("cohort", Design::Cohort),
    ("case-control", Design::CaseControl),
    ("cross-sectional", Design::CrossSectional),
];

const CERTAINTY: &[(&str, Certainty)] = &[("seen", Certainty::Seen), ("memory", Certainty::Memory)];

const SYSTEMS: &[(&str, Option<System>)] =
    &[("pasture", Some(System::Pasture)), ("housed", Some(System::Housed)), ("mixed", None)];

const OUTCOMES: &[(&str, Option<Lesion>)] = &[
    ("lameness", None),
    ("white-line", Some(Lesion::WhiteLine)),
    ("sole-penetration", Some(Lesion::SolePenetration)),
    ("axial-fissure", Some(Lesion::AxialFissure)),
    ("foot-rot", Some(Lesion::FootRot)),
    ("digital-dermatitis", Some(Lesion::DigitalDermatitis)),
    ("sole-ulcer", Some(Lesion::SoleUlcer)),
    ("other", Some(Lesion::Other)),
];

/// Fields of an effect that `judged` can name.
const JUDGED: &[(&str, &str)] = &[
    ("exposed", "exposed"),
    ("reference", "reference"),
    ("estimate", "estimate"),
    ("interval", "interval"),
    ("level", "level"),
    ("p_value", "p_value"),
    ("reference_risk", "reference_risk"),
    ("study_risk", "study_risk"),
    ("design", "design"),
    ("adjusted", "adjusted"),
    ("herds", "herds"),
    ("cows", "cows"),
    ("country", "country"),
    ("system", "system"),
];

/// Most herds or cows a study is taken to have.
const MOST_ANIMALS: u64 = 1_000_000_000;

/// Reads the sources.
pub(crate) fn read_sources(text: &SourceText, findings: &mut Findings) -> Listed<Source> {
    read_listed(text, "sources", findings, source, |_, _| {})
}

pub(crate) fn source(value: Value<'_>) -> Option<Source> {
    value.block(|block| {
        let id = block.id("id");
        let authors = block.opt_text("authors");
        let year = block.req("year").and_then(Value::year);
        let title = block.text("title");
        let journal = block.opt_text("journal");
        let doi = block.opt("doi").and_then(doi);
        let read = block.one_of("read", READ);
        block.explained(&["no-doi", "from-memory", "unused-source"]);
        Some(Source { id: id?, authors, year: year?, title: title?, journal, doi, read: read? })
    })
}

fn doi(value: Value<'_>) -> Option<String> {
    let text = value.text()?;
    let right = text.starts_with("10.") && text.contains('/') && !text.contains(char::is_whitespace);
    if !right {
        let message = format!("`doi` is {}, which is no DOI", value.quoted());
        value.error(
            "bad-doi",
            message,
            "it begins with `10.` and holds a `/`: leave out the address before it",
        );
    }
    right.then_some(text)
}

/// Reads the effects.
pub(crate) fn read_effects(text: &SourceText, findings: &mut Findings) -> Listed<Effect> {
    read_listed(text, "effects", findings, effect, judge_pooling)
}

pub(crate) fn effect(value: Value<'_>) -> Option<Effect> {
    value.block(|block| {
        let errors = block.page().errors();
        let id = block.id("id");
        let source = block.req("source").and_then(|source| source.mention(Refers::Source));
        let factor = block.req("factor").and_then(|factor| factor.mention(Refers::Factor));
        let outcome = block.one_of("outcome", OUTCOMES);
        let contrast = block.text("contrast");
        let exposed = block.number_or("exposed", &SHARE, 1.0);
        let reference = block.number_or("reference", &SHARE, 0.0);
        let measure = block.one_of("measure", MEASURES);
        let estimate = block.opt_number("estimate", &POSITIVE);
        let interval = block.opt("interval").and_then(|interval| interval.interval(&POSITIVE));
        let level = block.number_or("level", &INNER_SHARE, 0.95);
        let p_value = block.opt_number("p_value", &INNER_SHARE);
        let reference_risk = block.opt_number("reference_risk", &INNER_SHARE);
        let study_risk = block.opt_number("study_risk", &INNER_SHARE);
        let design = block.one_of("design", DESIGNS);
        let adjusted = block.req("adjusted").and_then(Value::flag);
        let herds = block.opt_whole("herds", 1, MOST_ANIMALS);
        let cows = block.opt_whole("cows", 1, MOST_ANIMALS);
        let country = block.opt("country").and_then(country);
        let system = block.one_of("system", SYSTEMS);
        let certainty = block.one_of("certainty", CERTAINTY);
        let pool = block.flag_or("pool", true);
        let lends_direction = block.flag_or("lends_direction", true);
        let p_is_bound = block.flag_or("p_is_bound", false);
        let null_result = block.flag_or("null_result", false);
        let surrogate = block.flag_or("surrogate", false);
        let judged = block.opt("judged").and_then(Value::words).unwrap_or_default();
        let judged = judged.into_iter().filter_map(|name| name.one_of(JUDGED)).map(str::to_owned).collect();
        let note = block.opt_text("note");
        block.explained(&["estimate-outside", "interval-alone", "case-control-risk"]);
        let effect = Effect {
            id: id?,
            source: source?,
            factor: factor?,
            outcome: outcome?,
            contrast: contrast?,
            exposed,
            reference,
            measure: measure?,
            estimate,
            interval,
            level,
            p_value,
            reference_risk,
            study_risk,
            design: design?,
            adjusted: adjusted?,
            herds,
            cows,
            country,
            system: system?,
            certainty: certainty?,
            pool,
            lends_direction,
            p_is_bound,
            null_result,
            surrogate,
            judged,
            note,
        };
        if block.page().errors() == errors {
            judge_effect(block, &effect);
        }
        Some(effect)
    })
}

fn country(value: Value<'_>) -> Option<String> {
    let text = value.text()?;
    let right = text.len() == 2 && text.bytes().all(|byte| byte.is_ascii_uppercase());
    if !right {
        let message = format!("`country` is {}, which is no country code", value.quoted());
        value.error("bad-country", message, "two capital letters of ISO 3166, such as NO or NZ");
    }
    right.then_some(text)
}

/// Faults that lie between two fields of one effect.
fn judge_effect(block: &Block<'_>, effect: &Effect) {
    let page = block.page();
    if effect.exposed == effect.reference {
        let message = format!("`exposed` and `reference` are both {}: nothing is compared", effect.exposed);
        page.error(
            "no-contrast",
            block.span("reference"),
            message,
            "the two groups need different exposures",
        );
    }
    if effect.null_result && effect.estimate.is_some() {
        let message = "a null result without a printed size has an estimate".to_owned();
        page.error(
            "null-result-size",
            block.span("estimate"),
            message,
            "take out the estimate or `null_result`",
        );
    }
    if effect.p_is_bound && effect.p_value.is_none() {
        let message = "`p_is_bound` is true, but there is no `p_value`".to_owned();
        page.error("bound-without-p", block.span("p_is_bound"), message, "add the bound as `p_value`");
    }
    match (effect.estimate, effect.interval) {
        (Some(_), Some((low, high))) if low == high => {
            let message = format!("the interval [{low}, {high}] has no width");
            page.error(
                "reversed",
                block.span("interval"),
                message,
                "write null where no interval was printed",
            );
        }
        (Some(estimate), Some((low, high))) if !(low..=high).contains(&estimate) => {
            let message = format!("the interval [{low}, {high}] doesn't hold the estimate {estimate}");
            page.warning("estimate-outside", block.span("interval"), message, "look at the source again");
        }
        (None, Some(_)) => {
            let message = "there is an interval but no estimate: it lends a direction only".to_owned();
            page.warning(
                "interval-alone",
                block.span("interval"),
                message,
                "add the estimate where it was printed",
            );
        }
        (Some(estimate), None) if estimate == 1.0 && effect.p_value.is_some() => {
            let message = "an estimate of 1 with a p value says nothing of its size's uncertainty".to_owned();
            let help = "give the interval, or null for the estimate and `null_result: true`";
            page.error("null-estimate", block.span("estimate"), message, help);
        }
        _ => {}
    }
    let odds_of_cases = effect.measure == Measure::OddsRatio && effect.design == Design::CaseControl;
    if odds_of_cases && effect.study_risk.is_some() && effect.reference_risk.is_none() {
        let message =
            "the share of cases in a case-control study is its makers' choice, not a risk".to_owned();
        let help = "give `reference_risk` from the population; without it the odds ratio is not converted";
        page.warning("case-control-risk", block.span("study_risk"), message, help);
    }
}

/// Whether the effect has a size that is pooled.
fn is_pooled(effect: &Effect) -> bool {
    let sized = effect.estimate.is_some() && (effect.interval.is_some() || effect.p_value.is_some());
    effect.pool && effect.certainty == Certainty::Seen && (sized || effect.null_result)
}

/// Two pooled effects from the same animals would count them twice.
fn judge_pooling(page: &Page<'_>, effects: &[(Effect, Range<usize>)]) {
    let mut pooled: BTreeMap<(&str, &str, Option<Lesion>), &Effect> = BTreeMap::new();
    for (effect, span) in effects.iter().filter(|(effect, _)| is_pooled(effect)) {
        match pooled.get(&(effect.source.as_str(), effect.factor.as_str(), effect.outcome)) {
            Some(first) => {
                let message = format!(
                    "`{}` and `{}` of the same source, factor and outcome are both pooled",
                    first.id, effect.id
                );
                page.error(
                    "pooled-twice",
                    span,
                    message,
                    "write `pool: false` on the one that is listed only",
                );
            }
            None => {
                pooled.insert((&effect.source, &effect.factor, effect.outcome), effect);
            }
        }
    }
}
