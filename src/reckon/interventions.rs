//! What an intervention is expected to do: cases and lame cow-days avoided, money saved and spent.
//!
//! The share of cases that a change of exposure avoids is a potential impact fraction (Morgenstern
//! & Bursic 1982, J Community Health 7:292). Capital is spread over its life by the annuity factor
//! (any textbook of engineering economy). A set of options acts by what each leaves of an exposure,
//! so that the order plays no part and two options on one factor overlap instead of adding up.

use std::ops::Range;

use super::attribution::add_product;
use super::effects::Basis;
use super::exposure::Exposure;
use super::herd_rate::RateDraws;
use super::prices::{CaseCosts, OptionCost, option_cost};
use super::stats::draws::Draws;
use super::stats::exponential::exp_minus_one;
use super::stats::quantile::triangular_quantile;
use super::stats::special::normal_quantile;
use super::stats::table::QuantileTable;
use super::weights::{FactorWeight, WeightDraws};
use crate::model::intervention::{Each, Intervention, ShortensCases};
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::Walk;
use crate::model::{Library, money::Triangle};

/// What one option does to one factor.
#[derive(Clone, Debug)]
pub struct Act {
    /// Position of the factor beside the weights.
    pub factor: usize,
    /// The segment it acts on; `None` for the farm as a whole.
    pub segment: Option<usize>,
    /// What is left of the exposure (of the segment's, or the farm's), by draw, 0–1.
    pub left: Vec<f64>,
}

/// One option as it stands on this farm, in draws.
#[derive(Clone, Debug)]
pub struct FarmOption {
    /// Id, with `:segment` where per segment.
    pub id: String,
    /// Index in [`Library::interventions`].
    pub intervention: usize,
    /// Index in [`Walk::segments`].
    pub segment: Option<usize>,
    /// What it does to each factor that was answered.
    pub acts: Vec<Act>,
    /// Duration of a case with the option over without, by draw.
    pub duration_ratio: Option<Vec<f64>>,
    /// What it costs, or why that can't be said.
    pub cost: OptionCost,
}

/// Everything that is common to all options of a farm.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The herd in hundreds of cows.
    pub hundred_cows: f64,
    /// Plausibility limit of all weights.
    pub kappa: f64,
    /// Share of the herd's traffic on each segment.
    pub traffic_shares: Vec<f64>,
    /// Rates by lesion.
    pub rates: RateDraws,
    /// Duration of a case, days, by lesion and draw.
    pub duration_days: PerLesion<Vec<f64>>,
    /// Cost of a case, by lesion and draw, or why it can't be said.
    pub case_costs: CaseCosts,
    /// Share of the cost that grows with the length of a case.
    pub growing_share: f64,
}

/// What an option, or a set of them, brings a year, by draw.
#[derive(Clone, Debug)]
pub struct Gain {
    /// Cases avoided.
    pub cases: Vec<f64>,
    /// Lame cow-days avoided.
    pub lame_days: Vec<f64>,
    /// Money saved; `None` where costs per case are not known.
    pub saved: Option<Vec<f64>>,
}

/// Draws of a triangular quantity on one dimension.
pub(super) fn triangle_draws(draws: &Draws, stream: &str, dimension: usize, triangle: Triangle) -> Vec<f64> {
    let Triangle { low, likely, high } = triangle;
    let uniforms = draws.uniforms(stream, dimension);
    uniforms.into_iter().map(|u| triangular_quantile(u, low, likely, high)).collect()
}

/// Beta distribution of the share achieved, from its mean and standard deviation (method of
/// moments); the mean itself where the spread is 0, or too wide for a Beta.
fn achieved_draws(option: &Intervention, draws: &Draws, stream: &str) -> Vec<f64> {
    let (mean, variance) = (option.achieved_mean, option.achieved_sd * option.achieved_sd);
    let concentration = mean * (1.0 - mean) / variance - 1.0;
    if !concentration.is_finite() || concentration <= 0.0 {
        return vec![mean; draws.count()];
    }
    let table = QuantileTable::beta(mean * concentration, (1.0 - mean) * concentration);
    draws.uniforms(stream, 0).into_iter().map(|u| table.at(u)).collect()
}

/// Log-normal duration ratio from its published interval.
fn ratio_draws(shortens: &ShortensCases, draws: &Draws, stream: &str) -> Vec<f64> {
    let z = normal_quantile((1.0 + shortens.level) / 2.0);
    let sd = (libm::log(shortens.interval.1) - libm::log(shortens.interval.0)) / (2.0 * z);
    let middle = libm::log(shortens.ratio);
    draws.normals(stream, 1).into_iter().map(|z| libm::exp(middle + sd * z)).collect()
}

/// What is left of an exposure `x` when a share of the way to `target` is gone.
fn left(x: &[f64], target: f64, achieved: &[f64]) -> Vec<f64> {
    let one = |(x, q): (&f64, &f64)| if *x > 0.0 { 1.0 - q * (x - target).max(0.0) / x } else { 1.0 };
    x.iter().zip(achieved).map(one).collect()
}

fn acts(
    library: &Library,
    option: &Intervention,
    segment: Option<usize>,
    weights: &[FactorWeight],
    exposures: &[Option<Exposure>],
    achieved: &[f64],
) -> Vec<Act> {
    let act = |(factor, target): &(String, f64)| {
        let position = weights.iter().position(|w| library.factors[w.factor].id == *factor)?;
        let exposure = exposures[position].as_ref()?;
        let x = match segment {
            Some(segment) => exposure.by_segment.as_ref()?.get(segment)?,
            None => &exposure.x,
        };
        Some(Act { factor: position, segment, left: left(x, *target, achieved) })
    };
    option.to.iter().filter_map(act).collect()
}

/// The options that can be said anything of on this farm: at least one of their factors was
/// answered (per segment, where the option is), or they shorten cases.
pub fn farm_options(
    library: &Library,
    walk: &Walk,
    weights: &[FactorWeight],
    exposures: &[Option<Exposure>],
    draws: &Draws,
) -> Vec<FarmOption> {
    let mut options = Vec::new();
    for (index, option) in library.interventions.iter().enumerate() {
        let places: Vec<Option<usize>> = match option.each {
            Each::Farm => vec![None],
            Each::Segment => (0..walk.segments.len()).map(Some).collect(),
        };
        for segment in places {
            let id = match segment {
                Some(segment) => format!("{}:{}", option.id, walk.segments[segment].id),
                None => option.id.clone(),
            };
            let stream = format!("option:{id}");
            let achieved = achieved_draws(option, draws, &stream);
            let acts = acts(library, option, segment, weights, exposures, &achieved);
            if acts.is_empty() && option.shortens_cases.is_none() {
                continue;
            }
            let duration_ratio = option.shortens_cases.as_ref().map(|s| ratio_draws(s, draws, &stream));
            let cost = option_cost(library, walk, option, segment, draws, &stream);
            options.push(FarmOption { id, intervention: index, segment, acts, duration_ratio, cost });
        }
    }
    options
}

impl Act {
    /// The drop in the farm's exposure if this act alone is done, by draw.
    pub fn drop(&self, exposures: &[Option<Exposure>], traffic_shares: &[f64]) -> Vec<f64> {
        let Some(exposure) = &exposures[self.factor] else { return vec![0.0; self.left.len()] };
        let (x, share) = match (self.segment, &exposure.by_segment) {
            (Some(segment), Some(by_segment)) => (&by_segment[segment], traffic_shares[segment]),
            _ => (&exposure.x, 1.0),
        };
        x.iter().zip(&self.left).map(|(x, left)| share * x * (1.0 - left)).collect()
    }
}

/// The exposure-drop of each factor under one option: `(factor, drop by draw)`.
pub fn drops(
    option: &FarmOption,
    exposures: &[Option<Exposure>],
    setting: &Setting,
) -> Vec<(usize, Vec<f64>)> {
    option.acts.iter().map(|act| (act.factor, act.drop(exposures, &setting.traffic_shares))).collect()
}

/// Draws reckoned at a time, over all lesions: what a block needs of the drops and of the rates stays
/// near the processor, so that only the weights come from memory. Each draw's sum keeps its order.
const BLOCK: usize = 512;

/// What is multiplied and summed for one lesion: weight and drop in exposure, by draw.
type Pairs<'a> = Vec<(&'a [f64], &'a [f64])>;

/// The pairs of each lesion, in the order of the drops.
fn weighted_drops<'a>(drops: &'a [(usize, Vec<f64>)], drawn: &'a [WeightDraws]) -> PerLesion<Pairs<'a>> {
    PerLesion::from_fn(|lesion| {
        let mut pairs = Vec::with_capacity(drops.len());
        for (factor, drop) in drops {
            pairs.extend(drawn[*factor].by_lesion[lesion].as_deref().map(|beta| (beta, drop.as_slice())));
        }
        pairs
    })
}

/// Adds `beta * drop` of each pair to the sums of a block of draws, pair after pair. Four pairs a
/// time, so that a sum is fetched and stored once for the four; the order of the additions is the same.
fn add_products(sums: &mut [f64], pairs: &[(&[f64], &[f64])], block: &Range<usize>) {
    let (fours, rest) = pairs.as_chunks::<4>();
    for four in fours {
        let [(a, da), (b, db), (c, dc), (d, dd)] =
            four.map(|(beta, drop)| (&beta[block.clone()], &drop[block.clone()]));
        let first = a.iter().zip(da).zip(b.iter().zip(db));
        let second = c.iter().zip(dc).zip(d.iter().zip(dd));
        for ((sum, ((a, da), (b, db))), ((c, dc), (d, dd))) in sums.iter_mut().zip(first).zip(second) {
            *sum = *sum + a * da + b * db + c * dc + d * dd;
        }
    }
    for (beta, drop) in rest {
        add_product(sums, &beta[block.clone()], &drop[block.clone()], 1.0);
    }
}

/// What a set of exposure-drops and a duration ratio bring. The drops of one factor are already
/// those of the whole set.
pub fn gain(
    drops: &[(usize, Vec<f64>)],
    duration_ratio: Option<&[f64]>,
    drawn: &[WeightDraws],
    setting: &Setting,
) -> Gain {
    let count = setting.rates.rate_per_100_cow_years.len();
    let mut gain = Gain {
        cases: vec![0.0; count],
        lame_days: vec![0.0; count],
        saved: setting.case_costs.draws().map(|_| vec![0.0; count]),
    };
    let pairs = weighted_drops(drops, drawn);
    let mut avoided = [0.0; BLOCK];
    for start in (0..count).step_by(BLOCK) {
        let block = start..(start + BLOCK).min(count);
        let avoided = &mut avoided[..block.len()];
        for lesion in Lesion::ALL {
            avoided.fill(0.0);
            if !pairs[lesion].is_empty() {
                add_products(avoided, &pairs[lesion], &block);
                avoided.iter_mut().for_each(|s| *s = -exp_minus_one(-setting.kappa * *s));
            } else if duration_ratio.is_none() {
                continue;
            }
            gain.add(lesion, avoided, &block, duration_ratio, setting);
        }
    }
    gain
}

impl Gain {
    /// Adds one lesion over a block of draws, of whose new cases the share `avoided` is avoided.
    fn add(
        &mut self,
        lesion: Lesion,
        avoided: &[f64],
        block: &Range<usize>,
        duration_ratio: Option<&[f64]>,
        setting: &Setting,
    ) {
        let lambda = &setting.rates.by_lesion[lesion][block.clone()];
        let ratios = duration_ratio.map(|ratios| &ratios[block.clone()]);
        let before = |lambda: f64| setting.hundred_cows * lambda;
        for ((cases, avoided), lambda) in self.cases[block.clone()].iter_mut().zip(avoided).zip(lambda) {
            *cases += before(*lambda) * avoided;
        }
        // What is left of a case's days, or cost, where the cases left are `ratio` times as long.
        let spared = |into: &mut [f64], per_case: &[f64], growing_share: f64| {
            let left_of_case = |ratio: f64| 1.0 - growing_share + growing_share * ratio;
            let one = |into: &mut f64, per_case: f64, avoided: f64, lambda: f64, left_of_case: f64| {
                let before = before(lambda);
                *into += per_case * (before - (before - before * avoided) * left_of_case);
            };
            let draws = into[block.clone()].iter_mut().zip(&per_case[block.clone()]).zip(avoided).zip(lambda);
            match ratios {
                None => {
                    let left = left_of_case(1.0);
                    draws.for_each(|(((into, per_case), avoided), lambda)| {
                        one(into, *per_case, *avoided, *lambda, left);
                    });
                }
                Some(ratios) => {
                    draws.zip(ratios).for_each(|((((into, per_case), avoided), lambda), ratio)| {
                        one(into, *per_case, *avoided, *lambda, left_of_case(*ratio));
                    })
                }
            }
        };
        spared(&mut self.lame_days, &setting.duration_days[lesion], 1.0);
        if let (Some(saved), Some(costs)) = (&mut self.saved, setting.case_costs.draws()) {
            spared(saved, &costs[lesion], setting.growing_share);
        }
    }
}

/// The share of an option's expected cases avoided that rests on published weights, for an option
/// that avoids any; `None` where it acts on nothing.
pub fn published_share(
    drops: &[(usize, Vec<f64>)],
    weights: &[FactorWeight],
    drawn: &[WeightDraws],
    setting: &Setting,
) -> Option<f64> {
    let count = setting.rates.rate_per_100_cow_years.len();
    let is_published = move |factor: usize, lesion: Lesion| {
        weights[factor].basis_by_lesion[lesion] == Some(Basis::Published)
    };
    let on_published: Vec<bool> = drops
        .iter()
        .flat_map(|(factor, _)| Lesion::ALL.map(|lesion| (*factor, lesion)))
        .filter(|(factor, lesion)| drawn[*factor].by_lesion[*lesion].is_some())
        .map(|(factor, lesion)| is_published(factor, lesion))
        .collect();
    // All or nothing needs no reckoning.
    if let [first, rest @ ..] = on_published.as_slice()
        && rest.iter().all(|published| published == first)
    {
        return Some(if *first { 1.0 } else { 0.0 });
    }
    let (mut published, mut total) = (0.0, 0.0);
    let pairs = weighted_drops(drops, drawn);
    for lesion in Lesion::ALL.into_iter().filter(|lesion| !pairs[*lesion].is_empty()) {
        let mut all = vec![0.0; count];
        add_products(&mut all, &pairs[lesion], &(0..count));
        let mut from_published = vec![0.0; count];
        for (factor, drop) in drops.iter().filter(|(factor, _)| is_published(*factor, lesion)) {
            if let Some(beta) = &drawn[*factor].by_lesion[lesion] {
                add_product(&mut from_published, beta, drop, 1.0);
            }
        }
        for draw in 0..count {
            let s = setting.kappa * all[draw];
            let per_log = setting.rates.by_lesion[lesion][draw] * super::attribution::share_per_log(s);
            published += per_log * from_published[draw];
            total += per_log * all[draw];
        }
    }
    (total > 0.0).then(|| published / total)
}
