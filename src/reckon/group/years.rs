//! A group over the years: each year's medians, and the change of the farms that have a card in both
//! of the last two years. Farms are linked by code and by nothing else.

use super::super::stats::quantile::student_t_quantile;
use super::super::stats::summary::{mean, standard_deviation};
use super::disclosure::{FEWEST, FEWEST_FOR_QUARTILES, Spread, quarters, rounded, rounded_to, spread};
use super::{EXPOSURE_PARTS, Named, RATE_STEP, SCORE_STEP, rate_spread, score_spread};
use crate::model::card::Card;
use std::collections::{BTreeMap, BTreeSet};

/// Parts of the unit of a ratio of rates.
const RATIO_PARTS: f64 = 20.0;
/// Level of the interval of the ratio (section 11 of the model: intervals of comparisons are 95 %).
const RATIO_LEVEL: f64 = 0.95;

/// The medians of one year's farms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearFigures {
    /// The year.
    pub year: i32,
    /// Cards of the year.
    pub farms: usize,
    /// Recorded rates, cases per 100 cow-years; `None` under five farms with records.
    pub rate: Option<Spread>,
    /// Scores; `None` under five farms.
    pub score: Option<Spread>,
}

/// The change from the year before to the last, over the farms with a card in both.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The year before: the last one with cards but the last.
    pub from: i32,
    /// Farms with a card in both.
    pub farms: usize,
    /// Change of a farm's recorded rate, cases per 100 cow-years.
    pub rate: Option<Spread>,
    /// Rate now over rate then: the farms' geometric mean with its 95 % t interval, each farm counting
    /// once; `None` under eight farms with records in both.
    pub rate_ratio: Option<(f64, (f64, f64))>,
    /// Change of a farm's score.
    pub score: Option<Spread>,
    /// Change of each exposure, the largest fall first.
    pub factors: Vec<Named>,
}

/// Every year's figures, first to last.
pub(super) fn figures(cards: &[Card]) -> Vec<YearFigures> {
    let mut by_year: BTreeMap<i32, Vec<&Card>> = BTreeMap::new();
    cards.iter().for_each(|card| by_year.entry(card.year).or_default().push(card));
    let figures = |(year, cards): (i32, Vec<&Card>)| {
        let rates = cards.iter().filter(|card| card.nominal_cases().is_some());
        let rates = rates.filter_map(|card| card.cases_per_100_cow_years).map(f64::from).collect();
        YearFigures { year, farms: cards.len(), rate: rate_spread(rates), score: score_spread(&cards) }
    };
    by_year.into_iter().map(figures).collect()
}

/// The change up to a year. `None` where it is the only one; the year before alone where too few farms
/// have a card in both.
pub(super) fn change(cards: &[Card], to: i32) -> Option<Result<Change, i32>> {
    let from = cards.iter().map(|card| card.year).filter(|year| *year < to).max()?;
    let earlier: BTreeMap<&str, &Card> =
        cards.iter().filter(|card| card.year == from).map(|card| (card.code.as_str(), card)).collect();
    let mut pairs: Vec<(&Card, &Card)> = cards
        .iter()
        .filter(|card| card.year == to)
        .filter_map(|card| Some((*earlier.get(card.code.as_str())?, card)))
        .collect();
    if pairs.len() < FEWEST {
        return Some(Err(from));
    }
    pairs.sort_by(|(a, b), (c, d)| {
        super::order(a).cmp(&super::order(c)).then(super::order(b).cmp(&super::order(d)))
    });
    let scores = pairs.iter().filter_map(|(before, after)| {
        let coarse = |score: u8| rounded_to(f64::from(score), SCORE_STEP);
        Some(coarse(after.score?) - coarse(before.score?))
    });
    Some(Ok(Change {
        from,
        farms: pairs.len(),
        rate: rate_change(&pairs),
        rate_ratio: rate_ratio(&pairs),
        score: spread(scores.collect(), 1.0 / SCORE_STEP),
        factors: exposure_changes(&pairs),
    }))
}

fn rate_change(pairs: &[(&Card, &Card)]) -> Option<Spread> {
    let both = pairs.iter().filter_map(|(before, after)| {
        Some((f64::from(before.cases_per_100_cow_years?), f64::from(after.cases_per_100_cow_years?)))
    });
    let both: Vec<(f64, f64)> = both.collect();
    let coarse = both.len() < FEWEST_FOR_QUARTILES;
    let step = |rate: f64| if coarse { rounded_to(rate, RATE_STEP) } else { rate };
    spread(both.into_iter().map(|(before, after)| step(after) - step(before)).collect(), 1.0)
}

/// The farm is the unit: what differs between farms in how they changed is in the interval. Half a case
/// is added to each count, so that a year without cases has a logarithm (Haldane 1956, Ann Hum Genet
/// 20:309).
fn rate_ratio(pairs: &[(&Card, &Card)]) -> Option<(f64, (f64, f64))> {
    let log_rate = |card: &Card| {
        let (cases, size) = card.nominal_cases()?;
        Some(libm::log((cases as f64 + 0.5) / size))
    };
    let logs: Vec<f64> =
        pairs.iter().filter_map(|(before, after)| Some(log_rate(after)? - log_rate(before)?)).collect();
    if logs.len() < FEWEST_FOR_QUARTILES {
        return None;
    }
    let n = logs.len() as f64;
    let half =
        student_t_quantile(0.5 * (1.0 + RATIO_LEVEL), n - 1.0) * standard_deviation(&logs) / libm::sqrt(n);
    let ratio = |log: f64| rounded(libm::exp(log), RATIO_PARTS);
    let middle = mean(&logs);
    Some((ratio(middle), (ratio(middle - half), ratio(middle + half))))
}

fn exposure_changes(pairs: &[(&Card, &Card)]) -> Vec<Named> {
    let ids: BTreeSet<&str> =
        pairs.iter().flat_map(|(_, after)| after.exposures.iter().map(|(id, _)| id.as_ref())).collect();
    let change = |id: &str| {
        let each = pairs.iter().filter_map(|(before, after)| {
            Some(quarters(after.exposure(id)?) - quarters(before.exposure(id)?))
        });
        Some(Named { id: id.to_owned(), spread: spread(each.collect(), EXPOSURE_PARTS)? })
    };
    let mut changes: Vec<Named> = ids.into_iter().filter_map(change).collect();
    changes.sort_by(|a, b| a.spread.median.total_cmp(&b.spread.median));
    changes
}
