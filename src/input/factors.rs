//! `factors.yaml`: risk factors an observer can see.

use super::burden::SYSTEMS;
use super::field::{Listed, NOT_NEGATIVE, Refers, SHARE, Value, read_listed};
use crate::finding::{Findings, SourceText};
use crate::model::System;
use crate::model::factor::{Factor, JudgedSize};
use crate::model::lesion::PerLesion;

const SIZES: &[(&str, JudgedSize)] =
    &[("small", JudgedSize::Small), ("moderate", JudgedSize::Moderate), ("large", JudgedSize::Large)];

/// Reads the factors.
pub(crate) fn read_factors(text: &SourceText, findings: &mut Findings) -> Listed<Factor> {
    read_listed(text, "factors", findings, factor, |_, _| {})
}

pub(crate) fn factor(value: Value<'_>) -> Option<Factor> {
    value.block(|block| {
        let id = block.id("id");
        let title = block.text("title");
        let why = block.opt_text("why");
        let acts_on = block.req("acts_on").and_then(acts_on);
        let typical = block.req("typical").and_then(typical);
        let judgement = block.one_of("judgement", SIZES);
        let cluster = block.opt_id("cluster");
        let systems = block.opt("systems").map_or(Some(System::ALL.to_vec()), systems);
        let note = block.opt_text("note");
        block.explained(&["unused-factor"]);
        let (typical_mean, typical_sd) = typical?;
        Some(Factor {
            id: id?,
            title: title?,
            why,
            acts_on: acts_on?,
            typical_mean,
            typical_sd,
            judgement: judgement?,
            cluster,
            systems: systems?,
            note,
        })
    })
}

/// How strongly a factor acts on each lesion; a lesion left out is not acted on.
fn acts_on(value: Value<'_>) -> Option<PerLesion<f64>> {
    let errors = value.page.errors();
    let strengths = value.per_lesion(|strength| strength.number(&SHARE))?;
    let strengths = PerLesion(strengths.0.map(|strength| strength.unwrap_or(0.0)));
    if strengths.sum() > 0.0 {
        return Some(strengths);
    }
    if value.page.errors() == errors {
        let message = "this factor acts on no lesion, so it could never weigh anything".to_owned();
        value.error("weightless-factor", message, "give at least one lesion a strength above 0");
    }
    None
}

/// Mean and standard deviation of the exposure across farms. Within 0 to 1 no distribution of mean
/// `m` spreads more than `sqrt(m (1 - m))`.
pub(crate) fn typical(value: Value<'_>) -> Option<(f64, f64)> {
    value.block(|block| {
        let mean = block.number("mean", &SHARE);
        let sd = block.number("sd", &NOT_NEGATIVE);
        let (mean, sd) = (mean?, sd?);
        if sd * sd <= mean * (1.0 - mean) {
            return Some((mean, sd));
        }
        let most = libm::sqrt(mean * (1.0 - mean));
        let message = format!("`sd` is {sd}: a share with the mean {mean} can't spread that far");
        block.page().error("out-of-range", block.span("sd"), message, format!("at most {most:.3}"));
        None
    })
}

fn systems(value: Value<'_>) -> Option<Vec<System>> {
    let named = value.words()?;
    let mut systems: Vec<System> = named.into_iter().filter_map(|name| name.one_of(SYSTEMS)).collect();
    systems.sort();
    systems.dedup();
    if systems.is_empty() {
        value.error(
            "wrong-length",
            "`systems` names none".to_owned(),
            "pasture, housed or both; or leave it out",
        );
        return None;
    }
    Some(systems)
}

/// Ids with a share each, for factors: how far an option brings each.
pub(crate) fn factor_shares(value: Value<'_>) -> Option<Vec<(String, f64)>> {
    let pairs = value.pairs()?;
    let read = |(key, share): (Value<'_>, Value<'_>)| {
        let share = share.number(&SHARE);
        let id = key.mention_with(Refers::Factor, share);
        Some((id?, share?))
    };
    Some(pairs.into_iter().filter_map(read).collect())
}
