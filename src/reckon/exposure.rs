//! From an observation to an exposure between 0 (good practice) and 1 (the published exposed group,
//! or worse).
//!
//! A count over an area has a Gamma posterior and a share a Beta posterior, both with Jeffreys'
//! prior (Jeffreys 1961, Theory of Probability, 3rd ed.; Brown, Cai & DasGupta 2001, Stat Sci
//! 16:101), then pass through the item's scale, so that a longer look narrows them. Items asked per
//! track segment are weighed by traffic (metres × passes a day × share of the herd).

use super::stats::draws::Draws;
use super::stats::summary::mean;
use super::stats::table::QuantileTable;
use crate::model::checklist::{Checklist, Item, Kind};
use crate::model::intervention::Each;
use crate::model::walk::{Answer, Given, Walk};

/// The exposure of a factor that was answered, in draws.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// By draw, over the farm.
    pub x: Vec<f64>,
    /// The mean of the draws: "at the mean".
    pub mean: f64,
    /// Where any item of the factor is asked per segment: by segment and draw.
    pub by_segment: Option<Vec<Vec<f64>>>,
    /// For each segment, whether anyone looked there; empty where not asked per segment.
    pub looked_at: Vec<bool>,
}

impl Exposure {
    fn new(x: Vec<f64>, by_segment: Option<Vec<Vec<f64>>>, looked_at: Vec<bool>) -> Exposure {
        Exposure { mean: mean(&x), x, by_segment, looked_at }
    }
}

/// Traffic of each segment over that of all; equal parts where no segment bears any.
pub fn traffic_shares(walk: &Walk) -> Vec<f64> {
    let traffic: Vec<f64> = walk.segments.iter().map(|segment| segment.traffic()).collect();
    let total: f64 = traffic.iter().sum();
    if total > 0.0 {
        traffic.iter().map(|t| t / total).collect()
    } else {
        vec![1.0 / traffic.len().max(1) as f64; traffic.len()]
    }
}

/// Draws of one answer's exposure; `None` where it was skipped or the kinds don't match. The stream
/// goes by the names of the item and the segment, so that the order of a file moves no draw.
fn answer_draws(item: &Item, given: &Given, walk: &Walk, draws: &Draws) -> Option<Vec<f64>> {
    let uniforms = || match given.segment.and_then(|segment| walk.segments.get(segment)) {
        Some(segment) => draws.uniforms(&format!("item:{}:{}", item.id, segment.id), 0),
        None => draws.uniforms(&format!("item:{}", item.id), 0),
    };
    match (&item.kind, &given.answer) {
        (Kind::Choice(options), Answer::Choose(chosen)) => Some(vec![options.get(*chosen)?.x; draws.count()]),
        (Kind::Number(scale), Answer::Value(value)) => Some(vec![scale.exposure(*value); draws.count()]),
        (Kind::Count(scale), Answer::Count { count, over }) => {
            let density = QuantileTable::gamma(*count as f64 + 0.5);
            Some(uniforms().into_iter().map(|u| scale.exposure(density.at(u) / over)).collect())
        }
        (Kind::Share(scale), Answer::Share { count, of }) => {
            let share = QuantileTable::beta(*count as f64 + 0.5, (of - count.min(of)) as f64 + 0.5);
            Some(uniforms().into_iter().map(|u| scale.exposure(share.at(u))).collect())
        }
        _ => None,
    }
}

/// Whether an item was answered anywhere.
pub fn is_answered(walk: &Walk, item: &Item) -> bool {
    walk.answers_to(&item.id).iter().any(|given| counts(item, given, walk))
}

/// Whether a given answer says anything: not a skip, and in a place the item is asked of.
fn counts(item: &Item, given: &Given, walk: &Walk) -> bool {
    let placed = match item.each {
        Each::Farm => given.segment.is_none(),
        Each::Segment => given.segment.is_some_and(|segment| segment < walk.segments.len()),
    };
    placed && !matches!(given.answer, Answer::Skip(_))
}

fn take_larger(into: &mut Option<Vec<f64>>, from: &[f64]) {
    match into {
        None => *into = Some(from.to_vec()),
        Some(x) => x.iter_mut().zip(from).for_each(|(x, from)| *x = x.max(*from)),
    }
}

/// The exposure of a factor; `None` where no item of it was answered. Two items of one factor: the
/// larger, draw by draw, per segment where either is per segment. A segment that an item left out
/// takes that item's mean over the others first, so that what nobody looked at is never the better.
pub fn exposure(checklist: &Checklist, walk: &Walk, factor: &str, draws: &Draws) -> Option<Exposure> {
    let shares = traffic_shares(walk);
    let mut farm: Option<Vec<f64>> = None;
    let mut segments: Vec<Option<Vec<f64>>> = vec![None; walk.segments.len()];
    let mut looked_at = vec![false; walk.segments.len()];
    let mut per_segment = false;
    for item in checklist.items().filter(|item| item.factor == factor) {
        per_segment |= item.each == Each::Segment && !walk.segments.is_empty();
        let mut seen: Vec<Option<Vec<f64>>> = vec![None; walk.segments.len()];
        for given in walk.answers_to(&item.id).iter().filter(|given| counts(item, given, walk)) {
            let Some(x) = answer_draws(item, given, walk, draws) else { continue };
            match given.segment {
                None => take_larger(&mut farm, &x),
                Some(segment) => (seen[segment], looked_at[segment]) = (Some(x), true),
            }
        }
        if seen.iter().any(Option::is_some) {
            let mean = traffic_mean(&seen, &shares, draws.count());
            for (segment, x) in segments.iter_mut().zip(&seen) {
                take_larger(segment, x.as_ref().unwrap_or(&mean));
            }
        }
    }
    if !per_segment {
        return Some(Exposure::new(farm?, None, Vec::new()));
    }
    if let Some(farm) = &farm {
        // Where nobody looked at a single segment, what is known of the farm holds for each of them.
        segments.iter_mut().for_each(|segment| take_larger(segment, farm));
    }
    let x = traffic_mean(&segments, &shares, draws.count());
    let by_segment: Option<Vec<Vec<f64>>> = segments.into_iter().collect();
    Some(Exposure::new(x, Some(by_segment?), looked_at))
}

/// The traffic-weighted mean over the segments that have a value, draw by draw.
fn traffic_mean(segments: &[Option<Vec<f64>>], shares: &[f64], count: usize) -> Vec<f64> {
    let known = || segments.iter().zip(shares).filter_map(|(x, share)| x.as_ref().map(|x| (x, *share)));
    let borne: f64 = known().map(|(_, share)| share).sum();
    let alike = 1.0 / known().count().max(1) as f64;
    let mut mean = vec![0.0; count];
    for (x, share) in known() {
        let weight = if borne > 0.0 { share / borne } else { alike };
        mean.iter_mut().zip(x).for_each(|(mean, x)| *mean += weight * x);
    }
    mean
}
