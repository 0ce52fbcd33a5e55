//! How wrong the weights would have to be for another option to come first.
//!
//! All weights that an option works through are multiplied by one number, over all draws; the weights
//! of everything else, the farm's rate and the plausibility limit stay. An option that works through
//! the same factors moves with it.

use super::super::interventions;
use super::Prepared;

/// How far weights are turned up, at most.
const MOST: f64 = 10.0;
/// Steps of the scan down to nothing, and up.
const DOWN: [f64; 10] = [0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0];
const UP: [f64; 8] = [1.1, 1.25, 1.5, 2.0, 3.0, 5.0, 7.0, MOST];
/// Halvings after the scan: a factor to about 1 in 1,000.
const HALVINGS: usize = 8;

/// What it takes for the first choice to change.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensitivity {
    /// Position of the first choice in [`Prepared::options`].
    pub first: usize,
    /// Its weights times this (below 1) put another first, and which; `None` where it stays first
    /// even without any weight.
    pub falls_at: Option<(f64, usize)>,
    /// The next ones, best first.
    pub rivals: Vec<Rival>,
}

/// One option behind the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rival {
    /// Position in [`Prepared::options`].
    pub option: usize,
    /// Its weights times this (above 1) put it before the first choice; `None` where not even ten
    /// times as much does.
    pub overtakes_at: Option<f64>,
}

struct Scale<'a> {
    prepared: &'a Prepared<'a>,
    drops: Vec<Vec<(usize, Vec<f64>)>>,
}

impl Scale<'_> {
    /// What `option` brings when the weights of all factors that `scaled` works through are times `by`.
    fn brings(&self, option: usize, scaled: usize, by: f64) -> f64 {
        // A weight counts only times its drop, so turning the drop turns the weight.
        let turned: Vec<(usize, Vec<f64>)> = self.drops[option]
            .iter()
            .map(|(factor, drop)| {
                let here = self.drops[scaled].iter().any(|(other, _)| other == factor);
                (*factor, if here { drop.iter().map(|drop| by * drop).collect() } else { drop.clone() })
            })
            .collect();
        let ratio = self.prepared.options[option].duration_ratio.as_deref();
        let gain = interventions::gain(&turned, ratio, &self.prepared.drawn, &self.prepared.setting);
        self.prepared.measure(&gain, &[option])
    }
}

/// Where a condition that fails at 1 first holds along the steps, narrowed down.
fn first_where(steps: &[f64], mut holds: impl FnMut(f64) -> bool) -> Option<f64> {
    let mut before = 1.0;
    for &step in steps {
        if !holds(step) {
            before = step;
            continue;
        }
        let mut at = step;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (before + at);
            if holds(middle) { at = middle } else { before = middle }
        }
        return Some(at);
    }
    None
}

/// Sensitivity of the first choice among options on their own. `alone` is what each brings, beside
/// [`Prepared::options`]. `None` where no option brings anything.
pub fn sensitivity(prepared: &Prepared, alone: &[f64], rivals: usize) -> Option<Sensitivity> {
    let mut order: Vec<usize> = (0..prepared.options.len()).filter(|&option| alone[option] > 0.0).collect();
    order.sort_by(|&a, &b| alone[b].total_cmp(&alone[a]));
    let (&first, behind) = order.split_first()?;
    let behind = &behind[..behind.len().min(rivals)];
    let drops = prepared
        .options
        .iter()
        .map(|option| interventions::drops(option, &prepared.exposures, &prepared.setting))
        .collect();
    let scale = Scale { prepared, drops };
    let ahead = |by: f64| {
        let of_first = scale.brings(first, first, by);
        behind.iter().copied().find(|&rival| scale.brings(rival, first, by) > of_first)
    };
    let falls_at = first_where(&DOWN, |by| ahead(by).is_some()).and_then(|by| Some((by, ahead(by)?)));
    let overtakes = |&option: &usize| Rival {
        option,
        overtakes_at: first_where(&UP, |by| {
            scale.brings(option, option, by) > scale.brings(first, option, by)
        }),
    };
    Some(Sensitivity { first, falls_at, rivals: behind.iter().map(overtakes).collect() })
}
