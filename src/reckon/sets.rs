//! Sets of options: what several changes bring together, and which go together.
//!
//! Never the sum of single effects: what each option leaves of an exposure is multiplied, so that two
//! options on one factor overlap, and the order plays no part.

use super::interventions::{self, Act, Gain};
use super::stats::summary::mean;
use super::{Prepared, RankBy};
use crate::model::intervention::Intervention;

impl Prepared<'_> {
    fn intervention(&self, option: usize) -> &Intervention {
        &self.library.interventions[self.options[option].intervention]
    }

    /// Whether two options exclude each other: the same `either` name in the same place. Two options
    /// of different segments don't; an option of the whole farm meets every segment.
    pub fn exclude(&self, a: usize, b: usize) -> bool {
        let same_name = match (&self.intervention(a).either, &self.intervention(b).either) {
            (Some(a), Some(b)) => a == b,
            _ => false,
        };
        let (a, b) = (self.options[a].segment, self.options[b].segment);
        same_name && (a == b || a.is_none() || b.is_none())
    }

    /// The options that must come with this one: by id, in the same segment where they are per
    /// segment. A need that isn't on this farm's list (nobody looked at what it works on) is left out.
    pub fn needed_by(&self, option: usize) -> Vec<usize> {
        let place = self.options[option].segment;
        let meets = |other: usize, id: &str| {
            let other_place = self.options[other].segment;
            self.intervention(other).id == id
                && (other_place == place || other_place.is_none() || place.is_none())
        };
        let needs = &self.intervention(option).needs;
        (0..self.options.len()).filter(|&other| needs.iter().any(|id| meets(other, id))).collect()
    }

    /// What is left of the exposure to a factor under a set of acts, and the drop, by draw.
    fn drop_under(&self, factor: usize, acts: &[&Act]) -> Vec<f64> {
        let Some(exposure) = &self.exposures[factor] else { return vec![0.0; self.settings.draws] };
        let on_farm = acts.iter().filter(|act| act.segment.is_none());
        let mut after = match &exposure.by_segment {
            None => exposure.x.clone(),
            Some(by_segment) => {
                let mut after = vec![0.0; self.settings.draws];
                for (segment, x) in by_segment.iter().enumerate() {
                    let mut left = x.clone();
                    for act in acts.iter().filter(|act| act.segment == Some(segment)) {
                        multiply(&mut left, &act.left);
                    }
                    let share = self.setting.traffic_shares[segment];
                    after.iter_mut().zip(&left).for_each(|(after, left)| *after += share * left);
                }
                after
            }
        };
        on_farm.for_each(|act| multiply(&mut after, &act.left));
        exposure.x.iter().zip(&after).map(|(x, after)| x - after).collect()
    }

    /// The drop in the exposure to one factor under a set of options, by draw.
    pub fn factor_drop(&self, factor: usize, chosen: &[usize]) -> Vec<f64> {
        let acts = chosen.iter().flat_map(|&option| &self.options[option].acts);
        self.drop_under(factor, &acts.filter(|act| act.factor == factor).collect::<Vec<_>>())
    }

    /// The drops in exposure under a set of options: `(factor, drop by draw)`.
    pub fn set_drops(&self, chosen: &[usize]) -> Vec<(usize, Vec<f64>)> {
        let touches = |&factor: &usize| {
            chosen.iter().any(|&option| self.options[option].acts.iter().any(|act| act.factor == factor))
        };
        let touched = (0..self.weights.len()).filter(touches);
        touched.map(|factor| (factor, self.factor_drop(factor, chosen))).collect()
    }

    /// What a set of options brings a year, by draw.
    pub fn set_gain(&self, chosen: &[usize]) -> Gain {
        let ratios = chosen.iter().filter_map(|&option| self.options[option].duration_ratio.as_ref());
        let ratio = ratios.fold(None, |together: Option<Vec<f64>>, ratio| {
            let mut together = together.unwrap_or_else(|| vec![1.0; self.settings.draws]);
            multiply(&mut together, ratio);
            Some(together)
        });
        interventions::gain(&self.set_drops(chosen), ratio.as_deref(), &self.drawn, &self.setting)
    }

    /// The mean of what a gain brings in the measure of the ranking, yearly costs of `chosen` taken
    /// off where that is net benefit.
    pub fn measure(&self, gain: &Gain, chosen: &[usize]) -> f64 {
        match (self.settings.rank_by, &gain.saved) {
            (RankBy::LameDays, _) => mean(&gain.lame_days),
            (RankBy::NetBenefit, Some(saved)) => {
                let cost = |&option: &usize| self.options[option].cost.mean_yearly_cost().unwrap_or(0.0);
                mean(saved) - chosen.iter().map(cost).sum::<f64>()
            }
            (RankBy::Cases, _) | (RankBy::NetBenefit, None) => mean(&gain.cases),
        }
    }

    /// The first `count` options that go together, best first: each the one that adds most to those
    /// before it, with what it needs. Fewer where nothing more brings anything.
    ///
    /// `alone` is what each option brings on its own, a bound on what it can add to others: options
    /// are tried from the largest on until none left can beat the best found (lazy greedy, Minoux
    /// 1978, Lect Notes Control Inf Sci 7:234). The bound holds where weights are harmful at the
    /// mean; an option that needs another is bounded by both together.
    pub fn first_actions(&self, alone: &[f64], count: usize) -> Vec<usize> {
        let bound = |option: usize| {
            alone[option]
                + self.needed_by(option).into_iter().map(|needed| alone[needed].max(0.0)).sum::<f64>()
        };
        let mut order: Vec<(usize, f64)> =
            (0..self.options.len()).map(|option| (option, bound(option))).collect();
        order.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        let mut chosen: Vec<usize> = Vec::new();
        let mut reached = 0.0;
        while chosen.len() < count {
            let free = |option: &usize| {
                !chosen.contains(option) && !chosen.iter().any(|&other| self.exclude(*option, other))
            };
            let mut best: Option<(Vec<usize>, f64)> = None;
            for &(option, bound) in order.iter().filter(|(option, _)| free(option)) {
                let to_beat = best.as_ref().map_or(reached, |(_, brought)| *brought);
                if reached + bound <= to_beat {
                    break;
                }
                let mut set = chosen.clone();
                set.extend(self.needed_by(option).into_iter().filter(free));
                set.push(option);
                let brought = self.measure(&self.set_gain(&set), &set);
                if brought > to_beat {
                    best = Some((set, brought));
                }
            }
            match best {
                Some((set, brought)) => (chosen, reached) = (set, brought),
                None => break,
            }
        }
        chosen
    }
}

fn multiply(into: &mut [f64], by: &[f64]) {
    into.iter_mut().zip(by).for_each(|(into, by)| *into *= by);
}
