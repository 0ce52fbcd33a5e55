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

/// The three largest of the values above 0, largest first; 0 where there are fewer.
fn three_largest(values: &[f64]) -> [f64; 3] {
    let mut top = [0.0; 3];
    for &value in values {
        if value > top[2] {
            top[2] = value;
            if value > top[1] {
                top.swap(1, 2);
            }
            if value > top[0] {
                top.swap(0, 1);
            }
        }
    }
    top
}

/// Splits places among the values of one draw: those above `last` have one each, those equal to it
/// share what is left of `places`.
fn share_places(values: &[f64], last: f64, places: f64, mut give: impl FnMut(usize, f64)) {
    let above = values.iter().filter(|value| **value > last).count() as f64;
    let equal = values.iter().filter(|value| **value == last && last > 0.0).count() as f64;
    let share = (places - above) / equal;
    for (option, &value) in values.iter().enumerate() {
        if value > last {
            give(option, 1.0);
        } else if value == last && last > 0.0 {
            give(option, share.min(1.0));
        }
    }
}

/// The chances of each option, from what it brings by draw.
pub fn chances(brings: &[&[f64]]) -> Vec<Chances> {
    let draws = brings.first().map_or(0, |first| first.len());
    let mut chances = vec![Chances::default(); brings.len()];
    let mut values = vec![0.0; brings.len()];
    for draw in 0..draws {
        values.iter_mut().zip(brings).for_each(|(value, brings)| *value = brings[draw]);
        let top = three_largest(&values);
        share_places(&values, top[0], 1.0, |option, share| chances[option].best += share);
        share_places(&values, top[2], 3.0, |option, share| chances[option].top3 += share);
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ties_share_a_win_and_nothing_never_wins() {
        // Three draws, four options, worked by hand.
        let brings: [&[f64]; 4] = [&[2.0, 0.0, 1.0], &[2.0, 0.0, 1.0], &[1.0, -1.0, 1.0], &[1.0, 0.0, 1.0]];
        let chances = chances(&brings);
        let best: Vec<f64> = chances.iter().map(|chance| chance.best * 3.0).collect();
        let top3: Vec<f64> = chances.iter().map(|chance| chance.top3 * 3.0).collect();
        assert_eq!(best, [0.75, 0.75, 0.25, 0.25]);
        assert_eq!(top3, [1.75, 1.75, 1.25, 1.25]);
        assert_eq!(wins(&[1.0, 2.0], &[1.0, 1.0]), 0.75);
    }
}
