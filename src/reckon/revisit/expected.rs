//! What the changes of exposure that were really made should have done, against what was seen.
//!
//! The ratio that the model gives is the potential impact fraction of the changes (section 7 of the
//! model), draw by draw. Round it stands the counting noise of both periods: the first period's count
//! leaves the farm's own rate uncertain (its Gamma posterior), and the second's count is Poisson round
//! what that rate and the ratio give. The range is that of the mixture over the draws, reckoned exactly,
//! without a further drawing. A farm whose first count was high by luck is so expected to come down.
//!
//! A change counts from the day on which its cases can be fewer: the day it was done, where that is known,
//! and the weeks the option needs. Days counted before that bring down what is to be expected.

use super::{LEVEL, Rates};
use crate::reckon::Prepared;
use crate::reckon::interventions::gain;
use crate::reckon::stats::discrete::{poisson_cdf, poisson_pmf};
use crate::reckon::stats::summary::{central_interval, mean};
use crate::reckon::stats::table::QuantileTable;
use chrono::NaiveDate;

/// What was to be expected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// Mean ratio of the rate after to the rate before that the changes of exposure give over the
    /// days counted.
    pub mean: f64,
    /// The same once every change is in effect.
    pub in_full: f64,
    /// Central 95 % interval of the same.
    pub model: (f64, f64),
    /// Central 95 % range of the ratio to be seen, counting noise added; `None` where there is no
    /// case before.
    pub range: Option<(f64, f64)>,
    /// Where what was seen falls in it: chance of a smaller count, ties half; `None` without rates.
    pub place: Option<f64>,
    /// Whether what was seen lies within the range; `None` without rates.
    pub agrees: Option<bool>,
}

/// Ratio of the rate after to the rate before, by draw, for drops of exposure by factor.
pub fn ratio_draws(before: &Prepared, drops: &[(usize, Vec<f64>)]) -> Vec<f64> {
    let avoided = gain(drops, None, &before.drawn, &before.setting).cases;
    let all = &before.setting.rates.rate_per_100_cow_years;
    let ratio = |(avoided, rate): (&f64, &f64)| {
        let cases = before.setting.hundred_cows * rate;
        if cases > 0.0 { 1.0 - avoided / cases } else { 1.0 }
    };
    avoided.iter().zip(all).map(ratio).collect()
}

/// The drops of exposure with the day from which each counts, where that is known, by factor position.
pub(crate) struct Timed {
    pub(crate) drops: Vec<(usize, Vec<f64>)>,
    pub(crate) from: Vec<(usize, NaiveDate)>,
}

impl Timed {
    /// Ratio by draw over spans of days (the end of each excluded), each drop from its own day on.
    pub(crate) fn ratios(&self, before: &Prepared, spans: &[(NaiveDate, NaiveDate)]) -> Vec<f64> {
        let mut cuts: Vec<NaiveDate> = self.from.iter().map(|(_, day)| *day).collect();
        cuts.push(NaiveDate::MIN);
        cuts.sort_unstable();
        cuts.dedup();
        let total = days_within(spans, NaiveDate::MIN, NaiveDate::MAX) as f64;
        if total <= 0.0 {
            return ratio_draws(before, &self.drops);
        }
        let mut over_days = vec![0.0; before.settings.draws];
        for (at, start) in cuts.iter().enumerate() {
            let days = days_within(spans, *start, cuts.get(at + 1).copied().unwrap_or(NaiveDate::MAX));
            if days == 0 {
                continue;
            }
            let waits = |factor: usize| self.from.iter().any(|(of, day)| *of == factor && day > start);
            let active: Vec<(usize, Vec<f64>)> =
                self.drops.iter().filter(|(factor, _)| !waits(*factor)).cloned().collect();
            let ratios = ratio_draws(before, &active);
            let share = days as f64 / total;
            over_days.iter_mut().zip(ratios).for_each(|(sum, ratio)| *sum += share * ratio);
        }
        over_days
    }
}

/// Days of spans from `start` on and before `end`.
fn days_within(spans: &[(NaiveDate, NaiveDate)], start: NaiveDate, end: NaiveDate) -> i64 {
    spans.iter().map(|span| (span.1.min(end) - span.0.max(start)).num_days().max(0)).sum()
}

/// What was to be expected, given the ratios by draw over the days counted and with all in effect.
pub fn expected(before: &Prepared, ratios: &[f64], in_full: &[f64], rates: Option<&Rates>) -> Expected {
    let model = central_interval(&mut ratios.to_vec(), LEVEL).unwrap_or((f64::NAN, f64::NAN));
    let (mean_ratio, in_full) = (mean(ratios), mean(in_full));
    let mut expected = Expected { mean: mean_ratio, in_full, model, range: None, place: None, agrees: None };
    let Some(Rates { compared, .. }) = rates else { return expected };
    let (first, last) = (compared.before, compared.after);
    let to_count: Vec<f64> = rate_after(before, first.cases, first.cow_years)
        .iter()
        .zip(ratios)
        .map(|(per_cow_year, ratio)| per_cow_year * ratio * last.cow_years)
        .collect();
    let tail = 0.5 * (1.0 - LEVEL);
    let (low, high) = (quantile(&to_count, tail), quantile(&to_count, 1.0 - tail));
    let as_ratio = |count: u64| count as f64 / last.cow_years / (first.cases as f64 / first.cow_years);
    expected.range = (first.cases > 0).then(|| (as_ratio(low), as_ratio(high)));
    expected.agrees = Some((low..=high).contains(&last.cases));
    let at: Vec<f64> = to_count.iter().map(|mean| poisson_pmf(last.cases, *mean)).collect();
    expected.place = Some(below_or_at(&to_count, last.cases) - 0.5 * mean(&at));
    expected
}

/// The farm's own rate after its first count, cases per cow-year, by draw.
fn rate_after(before: &Prepared, cases: u64, cow_years: f64) -> Vec<f64> {
    let herd = &before.herd;
    let shape = herd.prior_shape + cases as f64;
    let rate = 100.0 * herd.prior_shape / herd.prior_mean_per_100_cow_years + cow_years;
    let table = QuantileTable::gamma(shape);
    before.draws.uniforms("core", 0).into_iter().map(|u| table.at(u) / rate).collect()
}

/// Chance of a count of `k` or fewer, over the draws of its mean.
fn below_or_at(means: &[f64], k: u64) -> f64 {
    mean(&means.iter().map(|mean| poisson_cdf(k, *mean)).collect::<Vec<_>>())
}

/// The smallest count whose chance of being reached or stayed below is at least `p`.
fn quantile(means: &[f64], p: f64) -> u64 {
    let most = means.iter().fold(0.0_f64, |most, mean| most.max(*mean));
    let (mut low, mut high) = (0_u64, (most + 12.0 * libm::sqrt(most) + 40.0) as u64);
    while low < high {
        let middle = low + (high - low) / 2;
        if below_or_at(means, middle) >= p { high = middle } else { low = middle + 1 }
    }
    low
}
