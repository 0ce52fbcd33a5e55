//! A farm's card from its walk.

use super::super::Outcome;
use crate::model::Library;
use crate::model::card::{Card, HerdBand, Tenths};
use crate::model::lesion::PerLesion;
use crate::model::walk::{CaseCounts, Walk};
use chrono::Datelike;

/// Days in a mean month.
const DAYS_A_MONTH: f64 = 30.4375;
/// Fewest cases of which the shares of lesions are told.
const FEWEST_CASES: u64 = 10;

/// The card of a walk: coarse, and nothing that could name the farm. `code` is the farm's own, made
/// once by [`crate::model::card::new_code`].
pub fn make_card(library: &Library, walk: &Walk, outcome: &Outcome, code: &str) -> Card {
    let records = walk.records.as_ref().and_then(|records| {
        let months = libm::round(records.days() as f64 / DAYS_A_MONTH);
        let rate = 100.0 * records.counts?.total() as f64 / records.cow_years();
        (months >= 1.0 && rate.is_finite()).then(|| (months as u32, libm::round(rate) as u32, records.counts))
    });
    let mut exposures: Vec<(Box<str>, Tenths)> = outcome
        .factors
        .iter()
        .filter_map(|factor| {
            let id = library.factors.get(factor.weight.factor)?.id.as_str();
            Some((Box::from(id), Tenths::nearest(factor.exposure?.mean)))
        })
        .collect();
    exposures.sort();
    Card {
        code: code.to_owned(),
        year: walk.date.year(),
        system: walk.system,
        checklist: library.checklist.id.clone(),
        version: library.checklist.version.clone(),
        herd_band: HerdBand::of(walk.cows),
        months_of_records: records.map_or(0, |(months, _, _)| months),
        cases_per_100_cow_years: records.map(|(_, rate, _)| rate),
        lesion_shares: records.and_then(|(_, _, counts)| lesion_shares(&counts?)),
        exposures,
        score: outcome.score.value.map(|score| libm::round(score).clamp(0.0, 100.0) as u8),
    }
}

fn lesion_shares(counts: &CaseCounts) -> Option<PerLesion<Tenths>> {
    let seen: u64 = counts.by_lesion.0.iter().sum();
    (seen >= FEWEST_CASES)
        .then(|| PerLesion::from_fn(|lesion| Tenths::nearest(counts.by_lesion[lesion] as f64 / seen as f64)))
}
