//! Which option comes first, and how sure that is.
//!
//! Options share the draws, so that differences between them carry no extra noise. Ties share a win,
//! and an option that brings nothing in a draw never wins it.

/// How often an option is the best one, and among the best three.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Chances {
    /// Chance of being the best.
    pub best: f64,
    /// Chance of being among the best three.
    pub top3: f64,
}

/// Splits `places` among the values of one draw, largest first; equal values share.
fn share_places(values: &[f64], order: &mut Vec<usize>, places: usize, mut give: impl FnMut(usize, f64)) {
    order.clear();
    order.extend((0..values.len()).filter(|&option| values[option] > 0.0));
    order.sort_by(|&a, &b| values[b].total_cmp(&values[a]));
    let (mut start, mut free) = (0, places as f64);
    while start < order.len() && free > 0.0 {
        let tied = order[start..].iter().take_while(|&&o| values[o] == values[order[start]]).count();
        let each = (free / tied as f64).min(1.0);
        order[start..start + tied].iter().for_each(|&option| give(option, each));
        free -= tied as f64;
        start += tied;
    }
}

/// The chances of each option, from what it brings by draw.
pub fn chances(brings: &[&[f64]]) -> Vec<Chances> {
    let draws = brings.first().map_or(0, |first| first.len());
    let mut chances = vec![Chances::default(); brings.len()];
    let mut order = Vec::with_capacity(brings.len());
    let mut values = vec![0.0; brings.len()];
    for draw in 0..draws {
        values.iter_mut().zip(brings).for_each(|(value, brings)| *value = brings[draw]);
        share_places(&values, &mut order, 1, |option, share| chances[option].best += share);
        share_places(&values, &mut order, 3, |option, share| chances[option].top3 += share);
    }
    for chance in &mut chances {
        chance.best /= draws.max(1) as f64;
        chance.top3 /= draws.max(1) as f64;
    }
    chances
}

/// The share of draws in which `ahead` brings more than `behind`; ties count half.
pub fn wins(ahead: &[f64], behind: &[f64]) -> f64 {
    let one = |(a, b): (&f64, &f64)| match a.total_cmp(b) {
        std::cmp::Ordering::Greater => 1.0,
        std::cmp::Ordering::Equal => 0.5,
        std::cmp::Ordering::Less => 0.0,
    };
    ahead.iter().zip(behind).map(one).sum::<f64>() / ahead.len().max(1) as f64
}
