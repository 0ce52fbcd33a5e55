//! The sets of options that may be chosen: prices, what must, what must not, what goes together.

use super::mask::Mask;
use super::{LeftOut, PlanRefusal, PlanRequest};
use crate::reckon::interventions::FarmOption;
use crate::reckon::prices::{OptionCost, Withheld};
use crate::reckon::{Prepared, RankBy};

/// Room for rounding in sums of capital: a set is affordable up to this share above the budget.
const MONEY_ROUNDING: f64 = 1e-9;

/// Options that can be costed, by id, so that their order in a file plays no part.
#[derive(Debug)]
pub(super) struct Space<'a> {
    pub(super) prepared: &'a Prepared<'a>,
    /// Positions in [`Prepared::options`], in the order of the ids.
    pub(super) options: Vec<usize>,
    /// Mean capital of each.
    pub(super) capital: Vec<f64>,
    /// Mean yearly cost of each, as far as it counts in the measure: 0 unless that is net benefit.
    pub(super) yearly: Vec<f64>,
    /// What each excludes.
    pub(super) excludes: Vec<Mask>,
    /// Each with all that it needs, directly or not.
    pub(super) with: Vec<Mask>,
    /// Each with all that needs it, directly or not.
    pub(super) dependants: Vec<Mask>,
    /// Options that exclude one another and may share a line in the bound.
    pub(super) cliques: Vec<Vec<usize>>,
    /// Options that act on the same exposure in the same place and may be chosen together.
    pub(super) neighbours: Vec<Mask>,
    /// What is always chosen.
    pub(super) base: Mask,
    /// What is never chosen.
    pub(super) closed: Mask,
    /// How many may be chosen.
    pub(super) at_most: usize,
}

/// Whether a sum of capital lies within a budget.
pub(super) fn affords(budget: f64, capital: f64) -> bool {
    capital <= budget + MONEY_ROUNDING * capital.max(1.0)
}

impl<'a> Space<'a> {
    /// The space of a request, with the options that can't be costed.
    pub(super) fn new(
        prepared: &'a Prepared<'a>,
        request: &PlanRequest,
    ) -> Result<(Space<'a>, Vec<LeftOut>), PlanRefusal> {
        let must = named(prepared, &request.must)?;
        let never = named(prepared, &request.never)?;
        let both = |option: &&usize| never.contains(option);
        if let Some(option) = must.iter().find(both) {
            return Err(PlanRefusal::MustAndNever(prepared.options[*option].id.clone()));
        }
        let left_out = left_out(prepared);
        if let Some(out) = left_out.iter().find(|out| must.contains(&out.option)) {
            return Err(PlanRefusal::MustWithoutPrice(out.clone()));
        }
        let mut options: Vec<usize> = (0..prepared.options.len())
            .filter(|option| left_out.iter().all(|out| out.option != *option))
            .collect();
        if options.is_empty() && !left_out.is_empty() {
            return Err(PlanRefusal::NoPrices(left_out));
        }
        if options.len() > Mask::ROOM {
            return Err(PlanRefusal::TooManyOptions { options: options.len(), most: Mask::ROOM });
        }
        options.sort_by(|&a, &b| prepared.options[a].id.cmp(&prepared.options[b].id));
        let mut space = Space::of(prepared, options)?;
        space.close(&must, &never)?;
        if let Some(at_most) = request.at_most {
            let needed = space.base.len();
            if needed > at_most {
                return Err(PlanRefusal::MoreMusts { needed, at_most });
            }
            space.at_most = at_most;
        }
        Ok((space, left_out))
    }

    fn of(prepared: &'a Prepared<'a>, options: Vec<usize>) -> Result<Space<'a>, PlanRefusal> {
        let all = 0..options.len();
        let pairs = |meets: &dyn Fn(usize, usize) -> bool| -> Vec<Mask> {
            let row = |a: usize| mask(all.clone().filter(|&b| b != a && meets(options[a], options[b])));
            all.clone().map(row).collect()
        };
        let excludes = pairs(&|a, b| prepared.exclude(a, b));
        let neighbours =
            pairs(&|a, b| overlap(&prepared.options[a], &prepared.options[b]) && !prepared.exclude(a, b));
        let with = closures(&pairs(&|a, b| prepared.needed_by(a).contains(&b)));
        let dependants = all.clone().map(|a| mask(all.clone().filter(|&b| with[b].has(a)))).collect();
        let mut capital = Vec::with_capacity(options.len());
        let mut yearly = Vec::with_capacity(options.len());
        for &option in &options {
            let FarmOption { id, cost, .. } = &prepared.options[option];
            let (once, year) = (cost.mean_capital().unwrap_or(0.0), cost.mean_yearly_cost().unwrap_or(0.0));
            if !(once >= 0.0 && once.is_finite() && year.is_finite()) {
                return Err(PlanRefusal::Price { option: id.clone() });
            }
            capital.push(once);
            yearly.push(if prepared.settings.rank_by == RankBy::NetBenefit { year } else { 0.0 });
        }
        let cliques = cliques(&excludes, &capital);
        let (base, closed) = (Mask::default(), Mask::default());
        let space = Space {
            prepared,
            options,
            capital,
            yearly,
            excludes,
            with,
            dependants,
            cliques,
            neighbours,
            base,
            closed,
            at_most: usize::MAX,
        };
        Ok(space)
    }

    /// Puts in what must be chosen and shuts out what can't.
    fn close(&mut self, must: &[usize], never: &[usize]) -> Result<(), PlanRefusal> {
        let place = |option: &usize| self.options.iter().position(|other| other == option);
        let base = must.iter().filter_map(place).fold(Mask::default(), |base, k| base.union(self.with[k]));
        let shut =
            never.iter().filter_map(place).fold(Mask::default(), |shut, k| shut.union(self.dependants[k]));
        // An option whose own needs exclude one another can't be chosen.
        let torn = mask((0..self.options.len()).filter(|&k| self.quarrel(self.with[k]).is_some()));
        if let Some(k) = base.iter().find(|&k| shut.has(k)) {
            return Err(PlanRefusal::MustNeedsNever(self.id(k).to_owned()));
        }
        if let Some((a, b)) = self.quarrel(base) {
            return Err(PlanRefusal::MustExclude(self.id(a).to_owned(), self.id(b).to_owned()));
        }
        self.closed = shut.union(torn);
        self.base = base;
        Ok(())
    }

    /// Two options of a set that exclude each other.
    fn quarrel(&self, set: Mask) -> Option<(usize, usize)> {
        set.iter().find_map(|a| Some((a, self.excludes[a].common(set).iter().next()?)))
    }

    pub(super) fn id(&self, k: usize) -> &str {
        &self.prepared.options[self.options[k]].id
    }

    pub(super) fn capital_of(&self, set: Mask) -> f64 {
        set.iter().map(|k| self.capital[k]).sum()
    }

    pub(super) fn yearly_of(&self, set: Mask) -> f64 {
        set.iter().map(|k| self.yearly[k]).sum()
    }

    /// All that can't come with a set.
    pub(super) fn excluded_by(&self, set: Mask) -> Mask {
        let direct = set.iter().fold(Mask::default(), |out, k| out.union(self.excludes[k]));
        direct.iter().fold(direct, |out, k| out.union(self.dependants[k]))
    }

    /// Positions in [`Prepared::options`], lowest first.
    pub(super) fn chosen(&self, set: Mask) -> Vec<usize> {
        let mut chosen: Vec<usize> = set.iter().map(|k| self.options[k]).collect();
        chosen.sort_unstable();
        chosen
    }
}

fn mask(positions: impl Iterator<Item = usize>) -> Mask {
    positions.fold(Mask::default(), |mut mask, position| {
        mask.insert(position);
        mask
    })
}

/// The options that an id names: one option, or an intervention in all its places.
fn named(prepared: &Prepared, ids: &[String]) -> Result<Vec<usize>, PlanRefusal> {
    let mut all = Vec::new();
    for id in ids {
        let is = |option: &FarmOption| {
            option.id == *id || prepared.library.interventions[option.intervention].id == *id
        };
        let found: Vec<usize> = (0..prepared.options.len()).filter(|&k| is(&prepared.options[k])).collect();
        if found.is_empty() {
            let known = prepared.options.iter().map(|option| option.id.clone()).collect();
            let base = id.split(':').next().unwrap_or(id);
            return Err(match prepared.library.intervention(base) {
                Some(_) if base == id => PlanRefusal::NotOnList(id.clone()),
                _ => PlanRefusal::Unknown { id: id.clone(), known },
            });
        }
        all.extend(found);
    }
    Ok(all)
}

/// Options that can't be costed: no price of their own, or none for what they need.
fn left_out(prepared: &Prepared) -> Vec<LeftOut> {
    let mut why: Vec<Option<Withheld>> = prepared
        .options
        .iter()
        .map(|option| match &option.cost {
            OptionCost::Withheld(withheld) => Some(withheld.clone()),
            OptionCost::Known { .. } => None,
        })
        .collect();
    // As often as there are options: a chain of needs is no longer.
    for _ in 0..why.len() {
        let unpriced = |k: usize| prepared.needed_by(k).into_iter().find_map(|other| why[other].clone());
        let more: Vec<Option<Withheld>> =
            (0..why.len()).map(|k| why[k].clone().or_else(|| unpriced(k))).collect();
        if more == why {
            break;
        }
        why = more;
    }
    let out = why.into_iter().enumerate();
    out.filter_map(|(option, why)| Some(LeftOut { option, why: why? })).collect()
}

/// Whether two options lower the same exposure in the same place.
fn overlap(a: &FarmOption, b: &FarmOption) -> bool {
    a.acts.iter().any(|a| {
        let same_place = |place: Option<usize>| a.segment == place || a.segment.is_none() || place.is_none();
        b.acts.iter().any(|b| a.factor == b.factor && same_place(b.segment))
    })
}

/// Each option with all that it needs, directly or not. A circle of needs comes as a whole.
fn closures(needs: &[Mask]) -> Vec<Mask> {
    let grown = |set: Mask| set.iter().fold(set, |set, k| set.union(needs[k]));
    let closure = |k: usize| {
        let mut set = Mask::of(k);
        loop {
            let more = grown(set);
            if more == set {
                return set;
            }
            set = more;
        }
    };
    (0..needs.len()).map(closure).collect()
}

/// Splits options into sets of which at most one can be chosen, each by rising capital.
fn cliques(excludes: &[Mask], capital: &[f64]) -> Vec<Vec<usize>> {
    let mut cliques: Vec<Vec<usize>> = Vec::new();
    for (k, excludes) in excludes.iter().enumerate() {
        match cliques.iter_mut().find(|clique| clique.iter().all(|&other| excludes.has(other))) {
            Some(clique) => clique.push(k),
            None => cliques.push(vec![k]),
        }
    }
    cliques.iter_mut().for_each(|clique| clique.sort_by(|&a, &b| capital[a].total_cmp(&capital[b])));
    cliques
}
