//! A set of options in the order of what each adds: what to start with.

use super::Prepared;

/// One option of a plan in the order of what each adds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Added {
    /// Position in [`Prepared::options`].
    pub option: usize,
    /// Mean of what it brings together with those before it, in the measure.
    pub brings_so_far: f64,
}

/// The options of a set, each the one that adds most to those before it, after what it needs.
///
/// What an option added to fewer before it is taken as a bound for what it adds now (lazy greedy,
/// Minoux 1978, Lect Notes Control Inf Sci 7:234); where options help one another the order may be
/// off by a place, the sums never.
pub(super) fn in_order(prepared: &Prepared, chosen: &[usize]) -> Vec<Added> {
    let brings = |set: &[usize]| prepared.measure(&prepared.set_gain(set), set);
    let mut waiting: Vec<(usize, f64)> = chosen.iter().map(|&k| (k, brings(&[k]))).collect();
    let (mut set, mut order) = (Vec::new(), Vec::new());
    let mut so_far = 0.0;
    while !waiting.is_empty() {
        waiting.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut best: Option<(usize, f64)> = None;
        for (option, added) in &mut waiting {
            if best.is_some_and(|(_, most)| most >= *added) {
                break;
            }
            set.push(*option);
            *added = brings(&set) - so_far;
            set.pop();
            let waits = |k: &usize| k != option && chosen.contains(k) && !set.contains(k);
            let ready = !prepared.needed_by(*option).iter().any(waits);
            if ready && best.is_none_or(|(_, most)| *added > most) {
                best = Some((*option, *added));
            }
        }
        // In a circle of needs all wait for one another: then the first goes first.
        let (option, added) = best.unwrap_or(waiting[0]);
        waiting.retain(|(other, _)| *other != option);
        set.push(option);
        so_far += added;
        order.push(Added { option, brings_so_far: so_far });
    }
    order
}
