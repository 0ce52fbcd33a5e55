//! What may be published of a small group whose members know one another.
//!
//! **Rules** (the statistical offices' handbooks on disclosure control; Hundepool et al. 2012,
//! *Statistical Disclosure Control*, ch. 4): a cell rests on at least [`FEWEST`] farms (threshold rule),
//! no farm holds more than half of it (dominance), and nobody can reckon the largest share to within
//! `P` of its size by taking the second largest away (p % rule, here the only one of the three that
//! stands against a second farm that knows its own share). Where a hidden cell could be got by
//! subtraction, another is hidden with it (complementary suppression).
//!
//! Thresholds that must stay secret to work can't be used in a program that anyone can read; these
//! hold when known. Five, not three: members of a group know one another, so a cell must survive
//! three who pool what they know.
//!
//! **Coarsening.** The median of an odd number of farms is the value of one of them, and what is
//! published with a farm and without it can be compared. So values are coarsened farm by farm before
//! any median is taken: whatever is published is the same for every value of a farm within one step,
//! and nobody can learn more than the step, whatever else they know. Sums are rounded to a step that
//! no single farm's part exceeds.

use crate::model::card::Tenths;
use crate::reckon::stats::summary::quantile_sorted;

/// Fewest farms that any figure rests on.
pub const FEWEST: usize = 5;
/// Fewest farms for quartiles, sums and the list of farms; below it there are medians alone.
pub const FEWEST_FOR_QUARTILES: usize = 8;
/// Largest share of a cell that one farm may hold.
const LARGEST_SHARE: f64 = 0.5;
/// How near the second largest may come to the largest, as a part of the largest.
const P: f64 = 0.1;

/// Why a figure is not given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// It would rest on fewer farms than the rules ask for.
    TooFew,
    /// One farm holds too much of it.
    Dominated,
    /// With it, a hidden figure could be got by subtraction.
    Subtraction,
}

/// Whether one of these contributions (0 or more) is more than half of their sum.
pub fn dominated(contributions: &[f64]) -> bool {
    let total: f64 = contributions.iter().sum();
    contributions.iter().any(|part| *part > LARGEST_SHARE * total)
}

/// Whether the p % rule finds the cell unsafe: what is left without the two largest contributions is
/// less than `p` times the largest.
pub fn p_percent_unsafe(contributions: &[f64], p: f64) -> bool {
    let (mut first, mut second) = (0.0_f64, 0.0_f64);
    let mut total = 0.0;
    for part in contributions {
        total += part;
        (first, second) = (first.max(*part), second.max(part.min(first)));
    }
    total - first - second < p * first
}

/// Why a cell with these contributions, one a farm, must be hidden, if it must.
pub fn judge(contributions: &[f64]) -> Option<Why> {
    if contributions.iter().filter(|part| **part > 0.0).count() < FEWEST {
        return Some(Why::TooFew);
    }
    (dominated(contributions) || p_percent_unsafe(contributions, P)).then_some(Why::Dominated)
}

/// Hides further cells of a line that adds up to a known total, smallest first, until at least two are
/// hidden and `passes` finds the hidden ones safe together. Nothing is done where none is hidden.
pub fn complement(sizes: &[f64], hidden: &mut [Option<Why>], passes: impl Fn(&[Option<Why>]) -> bool) {
    if hidden.iter().all(Option::is_none) {
        return;
    }
    while hidden.iter().flatten().count() < 2 || !passes(hidden) {
        let open = sizes.iter().zip(hidden.iter_mut()).filter(|(_, why)| why.is_none());
        let Some((_, why)) = open.min_by(|(a, _), (b, _)| a.total_cmp(b)) else { return };
        *why = Some(Why::Subtraction);
    }
}

/// Judges a line of cells that adds up to a known total. `line[cell][farm]` is a farm's part of a cell.
pub fn judge_line(line: &[Vec<f64>]) -> Vec<Option<Why>> {
    let sizes: Vec<f64> = line.iter().map(|cell| cell.iter().sum()).collect();
    let mut hidden: Vec<Option<Why>> = line.iter().map(|cell| judge(cell)).collect();
    let farms = line.iter().map(Vec::len).max().unwrap_or(0);
    complement(&sizes, &mut hidden, |hidden| {
        let mut together = vec![0.0; farms];
        for (cell, _) in line.iter().zip(hidden).filter(|(_, why)| why.is_some()) {
            together.iter_mut().zip(cell).for_each(|(sum, part)| *sum += part);
        }
        judge(&together).is_none()
    });
    hidden
}

/// An exposure in quarters of the scale: 0 and 0.1 are 0, 0.2 and 0.3 a quarter, 0.4 to 0.6 a half, and
/// so on. Every quarter stands for at least two values that a card can hold.
pub fn quarters(exposure: Tenths) -> f64 {
    match exposure.tenths() {
        0..=1 => 0.0,
        2..=3 => 0.25,
        4..=6 => 0.5,
        7..=8 => 0.75,
        _ => 1.0,
    }
}

/// A value rounded to the nearest multiple of a step.
pub fn rounded_to(value: f64, step: f64) -> f64 {
    libm::round(value / step) * step + 0.0
}

/// A value rounded to so many parts of the unit, such as 10 for tenths.
pub fn rounded(value: f64, parts: f64) -> f64 {
    libm::round(value * parts) / parts + 0.0
}

/// The spread of one quantity over farms, as it may be published.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Farms it rests on.
    pub farms: usize,
    /// Median, rounded.
    pub median: f64,
    /// Lower and upper quartile, rounded; `None` under [`FEWEST_FOR_QUARTILES`] farms.
    pub quartiles: Option<(f64, f64)>,
}

/// The spread of values, one a farm, that were coarsened before; `None` under [`FEWEST`] farms. The
/// results are rounded to so many parts of the unit.
pub fn spread(mut values: Vec<f64>, parts: f64) -> Option<Spread> {
    let farms = values.len();
    if farms < FEWEST {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let at = |p: f64| rounded(quantile_sorted(&values, p), parts);
    let quartiles = (farms >= FEWEST_FOR_QUARTILES).then(|| (at(0.25), at(0.75)));
    Some(Spread { farms, median: at(0.5), quartiles })
}

/// The smallest of 1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, … that is no smaller than a farm's part of a sum.
pub fn step_over(part: f64) -> f64 {
    let mut decade = 1.0;
    while decade < 1e15 {
        for step in [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0].map(|step| libm::ceil(step * decade)) {
            if step >= part {
                return step;
            }
        }
        decade *= 10.0;
    }
    decade
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// Worked example of the handbook of the ESSnet on disclosure control (2010, section 4.2.2): total
    /// 100,000, largest 50,000, second 49,000. One may hold up to 90 %, so dominance passes it; the
    /// second can reckon the first to within 2 %, and the p % rule with p = 10 finds 1,000 < 5,000.
    #[test]
    fn dominance_passes_what_the_p_percent_rule_stops() {
        let cell = [50_000.0, 49_000.0, 400.0, 300.0, 200.0, 100.0];
        assert!(!dominated(&cell));
        assert!(p_percent_unsafe(&cell, 0.1));
        assert_eq!(judge(&cell), Some(Why::Dominated));
        // With p = 2 % the bound is 1,000 and is not undercut: unsafe means strictly less.
        assert!(!p_percent_unsafe(&cell, 0.02));
    }

    /// The same handbook: the matching two-farm rule of p = 10 has k = 100·100/110 = 90.909 %. With a second
    /// farm next to nothing the two rules part cells at the same size of the first.
    #[test]
    fn p_percent_matches_its_two_farm_rule() {
        let cell = |first: f64| {
            let rest = vec![(100.0 - first) / 100_000.0; 100_000];
            [first].into_iter().chain(rest).collect::<Vec<f64>>()
        };
        assert!(p_percent_unsafe(&cell(90.91), 0.1));
        assert!(!p_percent_unsafe(&cell(90.908), 0.1));
    }

    /// Worked example of complementary suppression: 20 = 2 + 7 + 11. With the 2 alone hidden it is 20 - 7 -
    /// 11; the 7 is hidden with it, and the two together pass.
    #[test]
    fn the_two_is_hidden_with_the_seven() {
        let mut hidden = [Some(Why::TooFew), None, None];
        complement(&[2.0, 7.0, 11.0], &mut hidden, |_| true);
        assert_eq!(hidden, [Some(Why::TooFew), Some(Why::Subtraction), None]);
        let mut none = [None; 3];
        complement(&[2.0, 7.0, 11.0], &mut none, |_| false);
        assert_eq!(none, [None; 3]);
    }

    #[test]
    fn hidden_cells_must_pass_together() {
        // Two cells that rest on one farm each still rest on two together: a third is hidden.
        let line = [
            vec![1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
            vec![0.0, 1.0, 0.0, 0.0, 0.0, 0.0],
            vec![3.0; 6],
            vec![9.0; 6],
        ];
        let hidden = judge_line(&line);
        assert_eq!(hidden, [Some(Why::TooFew), Some(Why::TooFew), Some(Why::Subtraction), None]);
    }

    #[test]
    fn thresholds_are_five_and_a_half() {
        assert_eq!(judge(&[1.0; 4]), Some(Why::TooFew));
        assert_eq!(judge(&[1.0, 1.0, 1.0, 1.0, 0.0]), Some(Why::TooFew));
        assert_eq!(judge(&[1.0; 5]), None);
        assert_eq!(judge(&[4.0, 1.0, 1.0, 1.0, 1.0]), None);
        assert_eq!(judge(&[4.1, 1.0, 1.0, 1.0, 1.0]), Some(Why::Dominated));
        assert_eq!(spread(vec![0.5; 4], 10.0), None);
        assert_eq!(spread(vec![0.5; 7], 10.0).and_then(|spread| spread.quartiles), None);
        assert!(spread(vec![0.5; 8], 10.0).is_some_and(|spread| spread.quartiles.is_some()));
    }

    #[test]
    fn steps_rise_over_any_part() {
        assert_eq!(
            [0.0, 1.0, 1.1, 4.9, 6.1, 11.0, 37.0, 90.0].map(step_over),
            [1.0, 1.0, 2.0, 5.0, 8.0, 15.0, 40.0, 100.0]
        );
    }

    type Published = (i64, Option<(i64, i64)>);

    fn published(values: &[u8]) -> Option<Published> {
        let shares = values.iter().map(|tenths| quarters(Tenths::new(*tenths).unwrap_or_default())).collect();
        let whole = |x: f64| libm::round(10.0 * x) as i64;
        spread(shares, 10.0).map(|s| (whole(s.median), s.quartiles.map(|(a, b)| (whole(a), whole(b)))))
    }

    /// Every multiset of `n` exposures on the card's grid, each sorted.
    fn groups(n: usize) -> Vec<Vec<u8>> {
        let mut all: Vec<Vec<u8>> = vec![Vec::new()];
        for _ in 0..n {
            let longer = |group: &Vec<u8>| {
                let from = group.last().copied().unwrap_or(0);
                (from..=10).map(|next| group.iter().copied().chain([next]).collect()).collect::<Vec<_>>()
            };
            all = all.iter().flat_map(longer).collect();
        }
        all
    }

    /// The attack: whoever has what is published of a factor with a farm and without it, and nothing
    /// else, tries every group that fits both. Over all groups of 4 to 8 others, no farm's exposure is
    /// ever pinned to one value of the card's eleven.
    #[test]
    fn no_exposure_can_be_had_by_taking_one_publication_from_another() {
        for others in 4..=8 {
            let mut fits: BTreeMap<(Option<Published>, Option<Published>), u16> = BTreeMap::new();
            for group in groups(others) {
                let without = published(&group);
                for value in 0..=10_u8 {
                    let mut with = group.clone();
                    with.push(value);
                    *fits.entry((without, published(&with))).or_default() |= 1 << value;
                }
            }
            let fewest = fits.values().map(|values| values.count_ones()).min();
            assert!(
                fewest >= Some(2),
                "{others} others: {:?}",
                fits.iter().find(|(_, v)| v.count_ones() < 2)
            );
        }
    }
}
