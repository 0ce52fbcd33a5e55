//! What a set of options leaves of a farm's lameness: exactly, over every draw; and from below, over
//! a few groups of draws.
//!
//! What is left under a set is a sum over lesions and draws of `weight * exp(-z)`, where `z` is the
//! sum of what each option takes off the log rate. For a group of draws the mean of `exp(-z)` is at
//! least `exp` of minus the mean of `z` (Jensen 1906, Acta Math 30:175), so a few groups bound what a
//! set can bring from above, for a fraction of the work.

use super::mask::Mask;
use super::space::Space;
use crate::model::lesion::Lesion;
use crate::reckon::RankBy;
use std::collections::BTreeMap;
use std::rc::Rc;

/// Draws that the search reckons with, at most: all of them by default.
const MOST_DRAWS: usize = 4096;
/// Groups of draws in the bound.
const GROUPS: usize = 16;
/// Options with more neighbours than this take a bound that does not look at them.
const MOST_NEIGHBOURS: usize = 4;
/// Sets of neighbours whose part in the bound is kept for one option, at most.
const MOST_CONTEXTS: usize = 1_024;
/// Options among neighbours that are kept over all draws, at most: 100 to 250 MB.
const MOST_LEAVES: usize = 512;
/// Sums run in this many lanes, always in the same order.
const LANES: usize = 8;

/// One lesion's part of the measure.
#[derive(Debug)]
struct Channel {
    lesion: Lesion,
    /// Whether the length of a case counts.
    with_duration: bool,
    /// What is lost in each draw without any option, over the number of draws.
    weight: Vec<f64>,
    /// The group of each draw.
    group: Vec<usize>,
}

/// What an option takes off the log rate, by channel and draw; `None` where it takes nothing.
type Logs = Vec<Option<Vec<f64>>>;

/// An option's part of the bound among given neighbours.
#[derive(Clone, Debug)]
pub(super) struct Coarse {
    /// Mean log by cell.
    pub(super) taken: Vec<f64>,
    /// The most that this can be among those neighbours and any more of them.
    pub(super) at_most: Vec<f64>,
}

/// Values and bounds of sets.
#[derive(Debug)]
pub(super) struct Levels<'a> {
    space: &'a Space<'a>,
    draws: usize,
    channels: Vec<Channel>,
    /// Weight of each cell: a channel's group of draws.
    pub(super) weights: Vec<f64>,
    coarse: Vec<BTreeMap<Mask, Coarse>>,
    alone: Vec<Logs>,
    leaves: BTreeMap<(usize, Mask), Rc<Logs>>,
    path: Vec<(usize, Vec<Left>)>,
    nothing: Vec<Left>,
    known: BTreeMap<Mask, f64>,
}

/// What is left of one channel under a set, by draw, with its sum.
#[derive(Clone, Debug)]
struct Left {
    by_draw: Rc<Vec<f64>>,
    sum: f64,
}

fn lanes_sum(lanes: [f64; LANES], rest: f64) -> f64 {
    lanes.iter().sum::<f64>() + rest
}

/// `a * b` by draw, with its sum.
fn product(a: &[f64], b: &[f64]) -> Left {
    let mut by_draw = Vec::with_capacity(a.len());
    let mut lanes = [0.0; LANES];
    let (a, b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let (rest_a, rest_b) = (a.remainder(), b.remainder());
    for (a, b) in a.zip(b) {
        let value: [f64; LANES] = std::array::from_fn(|lane| a[lane] * b[lane]);
        lanes.iter_mut().zip(value).for_each(|(lane, value)| *lane += value);
        by_draw.extend_from_slice(&value);
    }
    by_draw.extend(rest_a.iter().zip(rest_b).map(|(a, b)| a * b));
    let rest = by_draw[by_draw.len() - rest_a.len()..].iter().sum();
    Left { by_draw: Rc::new(by_draw), sum: lanes_sum(lanes, rest) }
}

/// The sum of `a * b`.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; LANES];
    let (a, b) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let rest = a.remainder().iter().zip(b.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in a.zip(b) {
        lanes.iter_mut().zip(a.iter().zip(b)).for_each(|(lane, (a, b))| *lane += a * b);
    }
    lanes_sum(lanes, rest)
}

impl<'a> Levels<'a> {
    pub(super) fn new(space: &'a Space<'a>) -> Levels<'a> {
        let draws = space.prepared.settings.draws.min(MOST_DRAWS);
        let mut levels = Levels {
            space,
            draws,
            channels: channels(space, draws),
            weights: Vec::new(),
            coarse: Vec::new(),
            alone: Vec::new(),
            leaves: BTreeMap::new(),
            path: Vec::new(),
            nothing: Vec::new(),
            known: BTreeMap::new(),
        };
        levels.alone = (0..space.options.len()).map(|k| levels.logs(k, Mask::default())).collect();
        levels.group();
        levels.coarse = (0..space.options.len()).map(|k| levels.contexts(k)).collect();
        levels.nothing = levels
            .channels
            .iter()
            .map(|channel| Left {
                sum: channel.weight.iter().sum(),
                by_draw: Rc::new(channel.weight.clone()),
            })
            .collect();
        levels
    }

    /// Draws that values are means of.
    pub(super) fn draws(&self) -> usize {
        self.draws
    }

    /// Puts the draws of each channel into groups that are alike in what all options together take.
    fn group(&mut self) {
        let mut weights = Vec::with_capacity(self.channels.len() * GROUPS);
        for (place, channel) in self.channels.iter_mut().enumerate() {
            let mut total = vec![0.0; self.draws];
            for taken in self.alone.iter().filter_map(|logs| logs[place].as_ref()) {
                total.iter_mut().zip(taken).for_each(|(total, taken)| *total += taken);
            }
            let mut order: Vec<usize> = (0..self.draws).collect();
            order.sort_by(|&a, &b| total[a].total_cmp(&total[b]));
            let mut cells = [0.0; GROUPS];
            channel.group = vec![0; self.draws];
            for (rank, draw) in order.into_iter().enumerate() {
                let group = rank * GROUPS / self.draws;
                channel.group[draw] = group;
                cells[group] += channel.weight[draw];
            }
            weights.extend_from_slice(&cells);
        }
        self.weights = weights;
    }

    /// What option `k` takes off the logs when those of `context` are there.
    fn logs(&self, k: usize, context: Mask) -> Logs {
        let prepared = self.space.prepared;
        let before = self.space.chosen(context);
        let option = &prepared.options[self.space.options[k]];
        let mut set = before.clone();
        set.push(self.space.options[k]);
        let drops: Vec<(usize, Vec<f64>)> = option
            .acts
            .iter()
            .map(|act| {
                let mut drop = prepared.factor_drop(act.factor, &set);
                if !before.is_empty() {
                    let already = prepared.factor_drop(act.factor, &before);
                    drop.iter_mut().zip(already).for_each(|(drop, already)| *drop -= already);
                }
                (act.factor, drop)
            })
            .collect();
        let one = |channel: &Channel| {
            let mut taken = None;
            for (factor, drop) in &drops {
                let Some(beta) = &prepared.drawn[*factor].by_lesion[channel.lesion] else { continue };
                let taken = taken.get_or_insert_with(|| vec![0.0; self.draws]);
                for ((taken, beta), drop) in taken.iter_mut().zip(beta).zip(drop) {
                    *taken += prepared.setting.kappa * beta * drop;
                }
            }
            if let (true, Some(ratio)) = (channel.with_duration, &option.duration_ratio) {
                let taken = taken.get_or_insert_with(|| vec![0.0; self.draws]);
                taken.iter_mut().zip(ratio).for_each(|(taken, ratio)| *taken -= libm::log(*ratio));
            }
            taken
        };
        self.channels.iter().map(one).collect()
    }

    /// Weighted means by cell.
    fn cells(&self, logs: &Logs) -> Vec<f64> {
        let mut cells = vec![0.0; self.weights.len()];
        for (place, (channel, taken)) in self.channels.iter().zip(logs).enumerate() {
            let Some(taken) = taken else { continue };
            let here = place * GROUPS..(place + 1) * GROUPS;
            let cells = &mut cells[here.clone()];
            for ((taken, weight), group) in taken.iter().zip(&channel.weight).zip(&channel.group) {
                cells[*group] += taken * weight;
            }
            for (cell, weight) in cells.iter_mut().zip(&self.weights[here]) {
                *cell = if *weight > 0.0 { *cell / weight } else { 0.0 };
            }
        }
        cells
    }

    /// The bound's part of option `k` among every set of its neighbours; among none where there are
    /// too many of them.
    fn contexts(&self, k: usize) -> BTreeMap<Mask, Coarse> {
        let neighbours: Vec<usize> = self.space.neighbours[k].iter().collect();
        let taken = self.cells(&self.alone[k]);
        if neighbours.len() > MOST_NEIGHBOURS {
            let at_most = self.cells(&self.harmful_only(k));
            return BTreeMap::from([(Mask::default(), Coarse { taken, at_most })]);
        }
        let mut all: Vec<(Mask, Coarse)> = Vec::new();
        for bits in 0..1_usize << neighbours.len() {
            let inside = (0..neighbours.len()).filter(|place| bits >> place & 1 == 1);
            let context = inside.fold(Mask::default(), |mask, place| mask.union(Mask::of(neighbours[place])));
            let taken = if bits == 0 { taken.clone() } else { self.cells(&self.logs(k, context)) };
            all.push((context, Coarse { at_most: taken.clone(), taken }));
        }
        // The largest over each context and every larger one, one neighbour at a time.
        for place in 0..neighbours.len() {
            for bits in (0..all.len()).filter(|bits| bits >> place & 1 == 0) {
                let more = all[bits | 1 << place].1.at_most.clone();
                all[bits].1.at_most.iter_mut().zip(more).for_each(|(most, more)| *most = most.max(more));
            }
        }
        all.into_iter().collect()
    }

    /// The logs of option `k` alone, where only those draws count in which a factor does harm:
    /// neighbours leave no more than that to take.
    fn harmful_only(&self, k: usize) -> Logs {
        let prepared = self.space.prepared;
        let option = &prepared.options[self.space.options[k]];
        let mut logs = self.alone[k].clone();
        for act in &option.acts {
            let drop = prepared.factor_drop(act.factor, &[self.space.options[k]]);
            for (channel, taken) in self.channels.iter().zip(&mut logs) {
                let Some(beta) = &prepared.drawn[act.factor].by_lesion[channel.lesion] else { continue };
                let Some(taken) = taken else { continue };
                for ((taken, beta), drop) in taken.iter_mut().zip(beta).zip(&drop) {
                    *taken -= prepared.setting.kappa * beta.min(0.0) * drop;
                }
            }
        }
        logs
    }

    /// The bound's part of option `k` within a set.
    pub(super) fn coarse(&mut self, k: usize, set: Mask) -> &Coarse {
        let context = set.common(self.space.neighbours[k]);
        if !self.coarse[k].contains_key(&context) {
            let taken = self.cells(&self.logs(k, context));
            let at_most =
                self.coarse[k].get(&Mask::default()).map_or(taken.clone(), |alone| alone.at_most.clone());
            if self.coarse[k].len() >= MOST_CONTEXTS {
                self.coarse[k].retain(|context, _| context.is_empty());
            }
            self.coarse[k].insert(context, Coarse { taken, at_most });
        }
        &self.coarse[k][&context]
    }

    /// What option `k` leaves among those of a set, by channel and draw.
    fn leaves(&mut self, k: usize, set: Mask) -> Rc<Logs> {
        let context = set.common(self.space.neighbours[k]);
        if let Some(leaves) = self.leaves.get(&(k, context)) {
            return leaves.clone();
        }
        let mut logs = if context.is_empty() { self.alone[k].clone() } else { self.logs(k, context) };
        logs.iter_mut().flatten().flatten().for_each(|taken| *taken = libm::exp(-*taken));
        if self.leaves.len() >= MOST_LEAVES {
            self.leaves.clear();
        }
        let leaves = Rc::new(logs);
        self.leaves.insert((k, context), leaves.clone());
        leaves
    }

    /// The mean over the draws of what a set brings in the measure, options taken in the order of
    /// `path`: neighbouring branches of the search share its beginning.
    pub(super) fn value(&mut self, path: &[usize]) -> f64 {
        let set = path.iter().fold(Mask::default(), |set, &k| set.union(Mask::of(k)));
        if let Some(value) = self.known.get(&set) {
            return *value;
        }
        let same = self.path.iter().zip(path).take_while(|((there, _), k)| there == *k).count();
        self.path.truncate(same);
        let mut before = path[..same].iter().fold(Mask::default(), |set, &k| set.union(Mask::of(k)));
        for &k in &path[same..] {
            let leaves = self.leaves(k, before);
            let last = self.path.last().map_or(&self.nothing, |(_, left)| left);
            let left = last.iter().zip(leaves.iter()).map(|(left, leaves)| match leaves {
                Some(leaves) => product(&left.by_draw, leaves),
                None => left.clone(),
            });
            let left = left.collect();
            self.path.push((k, left));
            before.insert(k);
        }
        let left = self.path.last().map_or(&self.nothing, |(_, left)| left);
        let brought: f64 = self.nothing.iter().zip(left).map(|(before, after)| before.sum - after.sum).sum();
        let value = brought - self.space.yearly_of(set);
        self.known.insert(set, value);
        value
    }
}

fn channels(space: &Space, draws: usize) -> Vec<Channel> {
    let setting = &space.prepared.setting;
    let options = || space.options.iter().map(|&option| &space.prepared.options[option]);
    let shortened = options().any(|option| option.duration_ratio.is_some());
    let acted_on = |lesion: Lesion| {
        let acts = |factor: usize| space.prepared.drawn[factor].by_lesion[lesion].is_some();
        options().any(|option| option.acts.iter().any(|act| acts(act.factor)))
    };
    let scale = setting.hundred_cows / draws as f64;
    let growing = if shortened { setting.growing_share } else { 0.0 };
    let each = |per_case: Option<&Vec<f64>>, lesion: Lesion, share: f64, with_duration: bool| {
        let matters = share > 0.0 && (acted_on(lesion) || (with_duration && shortened));
        let lambda = setting.rates.by_lesion[lesion].iter().take(draws);
        let weight = |(draw, lambda): (usize, &f64)| {
            scale * share * lambda * per_case.and_then(|per_case| per_case.get(draw)).unwrap_or(&1.0)
        };
        matters.then(|| Channel {
            lesion,
            with_duration,
            weight: lambda.enumerate().map(weight).collect(),
            group: Vec::new(),
        })
    };
    let of_lesion = |lesion: Lesion| -> Vec<Channel> {
        let parts = match (space.prepared.settings.rank_by, setting.case_costs.draws()) {
            (RankBy::LameDays, _) => [each(Some(&setting.duration_days[lesion]), lesion, 1.0, true), None],
            (RankBy::NetBenefit, Some(costs)) => [
                each(Some(&costs[lesion]), lesion, 1.0 - growing, false),
                each(Some(&costs[lesion]), lesion, growing, true),
            ],
            (RankBy::Cases, _) | (RankBy::NetBenefit, None) => [each(None, lesion, 1.0, false), None],
        };
        parts.into_iter().flatten().collect()
    };
    Lesion::ALL.into_iter().flat_map(of_lesion).collect()
}
