//! What each option would avoid over the whole group: a farm's cases times the share of them that the
//! option takes away, at the means, summed over the farms.
//!
//! An option done segment by segment acts on the farm's exposure as if its tracks were one segment,
//! since a card knows no more. Exposures count in quarters of the scale, like everywhere in a group's
//! figures, so that no sum tells more of a farm than its quarter; over several farms the steps average
//! out. The interval is that of the weights, which all farms share; what each farm achieves and its own
//! rate average out as well.

use super::super::stats::draws::Draws;
use super::super::stats::summary::{central_interval, sum};
use super::super::weights::WeightDraws;
use super::super::{FACTOR_DIMENSION, LEVEL};
use super::Group;
use super::disclosure::{FEWEST_FOR_QUARTILES, Why, judge, quarters, rounded_to, spread, step_over};
use crate::model::card::{Card, Tenths};
use crate::model::intervention::Intervention;
use crate::model::lesion::{Lesion, PerLesion};

/// Parts of the unit of the share of a farm's cases that an option avoids.
const REDUCTION_PARTS: f64 = 100.0;
/// Draws of the interval; the weights are drawn farm by farm in none of them.
const DRAWS: usize = 512;
/// Above so many farms the interval is not reckoned.
const MOST_FARMS_DRAWN: usize = 250;

/// An option over the group.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupOption {
    /// Id of the option.
    pub id: String,
    /// New cases avoided a year over all farms; `None` in groups of medians alone.
    pub cases_avoided: Option<RoundedSum>,
    /// Median over the farms of the share of a farm's cases that it avoids, to a hundredth.
    pub median_reduction: f64,
}

/// A sum over farms, rounded so that no farm's part shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundedSum {
    /// Mean, rounded to [`RoundedSum::step`].
    pub mean: f64,
    /// No farm's own part is larger.
    pub step: f64,
    /// 90 % interval, rounded likewise to a step of its own; `None` above 250 farms.
    pub interval: Option<(f64, f64)>,
}

impl RoundedSum {
    /// A total with its interval, of which `largest` is the largest part of one farm at the mean.
    fn new(total: f64, interval: Option<(f64, f64)>, largest: f64) -> RoundedSum {
        let step = step_over(largest);
        let rounded = |(low, high): (f64, f64)| {
            // At the upper end a farm's part is larger in about the same ratio as the total.
            let step = step_over(largest * (high / total).max(1.0));
            (rounded_to(low, step), rounded_to(high, step))
        };
        RoundedSum { mean: rounded_to(total, step), step, interval: interval.map(rounded) }
    }
}

/// One option on the farms: positions of its factors, with what each farm's exposure drops by.
struct Acts {
    /// Position beside the weights, drop by farm.
    drops: Vec<(usize, Vec<f64>)>,
}

impl Acts {
    /// `None` where no factor of the option is looked at in the system.
    fn of(group: &Group<'_>, option: &Intervention) -> Option<Acts> {
        let act = |(factor, target): &(String, f64)| {
            let at = group.weights.iter().position(|w| group.library.factors[w.factor].id == *factor)?;
            let drop = |row: &Vec<Option<Tenths>>| {
                row.get(at)
                    .copied()
                    .flatten()
                    .map_or(0.0, |x| option.achieved_mean * (quarters(x) - target).max(0.0))
            };
            Some((at, group.exposures.iter().map(drop).collect()))
        };
        let drops: Vec<(usize, Vec<f64>)> = option.to.iter().filter_map(act).collect();
        (!drops.is_empty()).then_some(Acts { drops })
    }

    /// Whether any factor of the option was answered on a farm.
    fn answered(&self, group: &Group<'_>, farm: usize) -> bool {
        self.drops.iter().any(|(at, _)| group.exposures[farm][*at].is_some())
    }
}

/// Cases a year of each farm by lesion.
fn cases(group: &Group<'_>, shrunken: &[f64]) -> Vec<PerLesion<f64>> {
    let reference = &group.library.burden.system(group.system).lesion_mix;
    let concentration = group.library.burden.constants.mix_concentration;
    let farm = |(card, rate): (&&Card, &f64)| {
        let seen = card.nominal_cases().map_or(0.0, |(cases, _)| cases as f64);
        let shares = card.lesion_shares.map(|shares| PerLesion(shares.0.map(|share| share.share())));
        let seen = if shares.is_some() { seen } else { 0.0 };
        let mix = PerLesion::from_fn(|lesion| {
            concentration * reference[lesion] + shares.map_or(0.0, |shares| seen * shares[lesion])
        });
        let per_year = card.herd_band.nominal_cows() / 100.0 * rate / mix.sum();
        PerLesion::from_fn(|lesion| per_year * mix[lesion])
    };
    group.cards.iter().zip(shrunken).map(farm).collect()
}

/// The options that avoid cases, best first, and those that may not be told of, in file order.
pub(super) fn options(group: &Group<'_>, shrunken: &[f64]) -> (Vec<GroupOption>, Vec<(String, Why)>) {
    let cases = cases(group, shrunken);
    let betas: Vec<PerLesion<f64>> = group.weights.iter().map(|weight| weight.overlapped()).collect();
    let drawn = weight_draws(group);
    let (mut listed, mut withheld) = (Vec::new(), Vec::new());
    for option in &group.library.interventions {
        let Some(acts) = Acts::of(group, option) else { continue };
        let parts: Vec<f64> =
            (0..cases.len()).map(|farm| avoided(group, &acts, &cases[farm], &betas, farm)).collect();
        // An option that lowers no farm's cases (one that only shortens them, or a weight of nothing or
        // less) is not among those that avoid most.
        if parts.iter().all(|part| *part <= 0.0) {
            continue;
        }
        if let Some(why) = judge(&parts) {
            withheld.push((option.id.clone(), why));
            continue;
        }
        let draws = drawn.as_ref().map(|drawn| total_draws(group, &acts, &cases, drawn));
        let interval = draws.and_then(|mut draws| central_interval(&mut draws, LEVEL));
        let total = sum(&parts);
        let largest = parts.iter().fold(0.0_f64, |largest, part| largest.max(*part));
        let in_full = group.cards.len() >= FEWEST_FOR_QUARTILES;
        let Some(median_reduction) = median_reduction(group, &acts, &parts, &cases) else { continue };
        let cases_avoided = in_full.then(|| RoundedSum::new(total, interval, largest));
        let id = option.id.clone();
        listed.push((
            if in_full { total } else { median_reduction },
            GroupOption { id, cases_avoided, median_reduction },
        ));
    }
    // Stable: equal ones stay in the order of the file.
    listed.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    let shows =
        |option: &GroupOption| option.cases_avoided.map_or(option.median_reduction, |cases| cases.mean) > 0.0;
    (listed.into_iter().map(|(_, option)| option).filter(shows).collect(), withheld)
}

/// Median over the farms on which a factor of the option was answered.
fn median_reduction(group: &Group<'_>, acts: &Acts, parts: &[f64], cases: &[PerLesion<f64>]) -> Option<f64> {
    let answered = (0..parts.len()).filter(|farm| acts.answered(group, *farm));
    let reductions = answered.map(|farm| parts[farm] / cases[farm].sum());
    // Where a group has no cases at all there is nothing to avoid.
    let reductions = reductions.map(|share| if share.is_finite() { share } else { 0.0 });
    Some(spread(reductions.collect(), REDUCTION_PARTS)?.median)
}

/// Cases a year that an option avoids on one farm, at the means.
fn avoided(
    group: &Group<'_>,
    acts: &Acts,
    cases: &PerLesion<f64>,
    betas: &[PerLesion<f64>],
    farm: usize,
) -> f64 {
    if acts.drops.iter().all(|(_, drops)| drops[farm] == 0.0) {
        return 0.0;
    }
    let by_lesion = |lesion: Lesion| {
        let log: f64 = acts.drops.iter().map(|(at, drops)| betas[*at][lesion] * drops[farm]).sum();
        cases[lesion] * -libm::expm1(-group.kappa * log)
    };
    Lesion::ALL.into_iter().map(by_lesion).sum()
}

/// The weights in draws, where the group is small enough for an interval.
fn weight_draws(group: &Group<'_>) -> Option<Vec<WeightDraws>> {
    if group.cards.len() > MOST_FARMS_DRAWN {
        return None;
    }
    let draws = Draws::new(DRAWS, group.draws.seed())?;
    let one = |w: &super::FactorWeight| {
        WeightDraws::new(w, &group.library.factors[w.factor].id, &draws, FACTOR_DIMENSION + w.factor)
    };
    Some(group.weights.iter().map(one).collect())
}

/// Cases a year that an option avoids over all farms, by draw of the weights.
fn total_draws(group: &Group<'_>, acts: &Acts, cases: &[PerLesion<f64>], drawn: &[WeightDraws]) -> Vec<f64> {
    let mut total = vec![0.0; DRAWS];
    for lesion in Lesion::ALL {
        let betas: Vec<(&Vec<f64>, &Vec<f64>)> = acts
            .drops
            .iter()
            .filter_map(|(at, drops)| Some((drawn.get(*at)?.by_lesion[lesion].as_ref()?, drops)))
            .collect();
        for (farm, cases) in cases.iter().enumerate() {
            if betas.iter().all(|(_, drops)| drops[farm] == 0.0) {
                continue;
            }
            for (draw, total) in total.iter_mut().enumerate() {
                let log: f64 = betas.iter().map(|(beta, drops)| beta[draw] * drops[farm]).sum();
                *total += cases[lesion] * -libm::expm1(-group.kappa * log);
            }
        }
    }
    total
}
