use super::*;
use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, read_walk};
use crate::model::Library;
use crate::model::intervention::Intervention;
use crate::model::walk::Walk;
use crate::reckon::interventions::{Act, FarmOption};
use crate::reckon::{Settings, prepare};
use proptest::prelude::*;

fn read_demo() -> (Library, Walk) {
    let mut findings = Findings::new();
    let text = SourceText::new("walk.yaml", include_str!("../../../examples/01-heronsway/walk.yaml"));
    read_walk(&text, &FileSet::builtin(), &mut findings).unwrap_or_else(|| panic!("{findings:?}"))
}

/// Numbers from a seed, for farms that no one thought of (SplitMix64, Steele, Lea & Flood 2014).
struct Chance(u64);

impl Chance {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((x ^ (x >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }

    fn vec(&mut self, n: usize, low: f64, high: f64) -> Vec<f64> {
        (0..n).map(|_| low + (high - low) * self.unit()).collect()
    }
}

fn known(draws: usize, capital: f64, yearly: f64) -> OptionCost {
    let (capital, running) = (vec![capital; draws], vec![yearly; draws]);
    OptionCost::Known { yearly_cost: running.clone(), capital, running, own: false }
}

/// A library with `n` options of the whole farm or of a segment, some of which exclude or need others.
fn random_library(base: &Library, n: usize, chance: &mut Chance) -> Library {
    let template = base.interventions[0].clone();
    let interventions = (0..n).map(|k| Intervention {
        id: format!("option-{:02}", (k * 7) % n),
        either: (chance.unit() < 0.35).then(|| format!("either-{}", chance.below(2))),
        needs: if chance.unit() < 0.15 { vec![format!("option-{:02}", chance.below(n))] } else { Vec::new() },
        ..template.clone()
    });
    Library { interventions: interventions.collect(), ..base.clone() }
}

/// Random options: up to three factors each, in every draw another effect, some of them harmful.
fn randomise(prepared: &mut Prepared, chance: &mut Chance) {
    let draws = prepared.settings.draws;
    let factors: Vec<usize> =
        (0..prepared.weights.len()).filter(|&f| prepared.exposures[f].is_some()).take(6).collect();
    for (_, weight) in prepared.drawn.iter_mut().enumerate() {
        for beta in weight.by_lesion.0.iter_mut().flatten() {
            let middle = 1.5 * (chance.unit() - 0.2);
            *beta = chance.vec(draws, middle - 0.6, middle + 0.6);
        }
    }
    prepared.options = (0..prepared.library.interventions.len())
        .map(|k| {
            let segment = (chance.unit() < 0.4).then(|| chance.below(prepared.walk.segments.len()));
            let mut acts: Vec<Act> = Vec::new();
            for _ in 0..1 + chance.below(3) {
                let factor = factors[chance.below(factors.len())];
                let by_segment = prepared.exposures[factor].as_ref().unwrap().by_segment.is_some();
                if (segment.is_none() || by_segment) && acts.iter().all(|act| act.factor != factor) {
                    let low = chance.unit();
                    acts.push(Act { factor, segment, left: chance.vec(draws, 0.6 * low, low) });
                }
            }
            let capital = if chance.unit() < 0.1 { 0.0 } else { libm::round(1000.0 * chance.unit()) };
            FarmOption {
                id: prepared.library.interventions[k].id.clone(),
                intervention: k,
                segment,
                acts,
                duration_ratio: (chance.unit() < 0.2).then(|| chance.vec(draws, 0.5, 1.1)),
                cost: known(draws, capital, 300.0 * chance.unit()),
            }
        })
        .collect();
}

/// Every set that may be chosen, by depth-first listing.
fn all_sets(prepared: &Prepared) -> Vec<Vec<usize>> {
    let mut sets = vec![Vec::new()];
    for option in 0..prepared.options.len() {
        let with: Vec<Vec<usize>> = sets
            .iter()
            .filter(|set| set.iter().all(|&other| !prepared.exclude(option, other)))
            .map(|set| set.iter().copied().chain([option]).collect())
            .collect();
        sets.extend(with);
    }
    sets.retain(|set| set.iter().all(|&k| prepared.needed_by(k).iter().all(|other| set.contains(other))));
    sets
}

fn settings(rank_by: RankBy) -> Settings {
    Settings { draws: 256, seed: 1, rank_by }
}

/// Brute force: 300 random farms of up to 9 options, all sets of each by the engine's own `set_gain`.
#[test]
fn brute_force_finds_nothing_better() {
    let (base, walk) = read_demo();
    let (mut binding, mut with_rules) = (0, 0);
    for seed in 0..300 {
        let mut chance = Chance(seed);
        let n = 3 + chance.below(7);
        let library = random_library(&base, n, &mut chance);
        let rank_by = RankBy::ALL[seed as usize % 3];
        let mut prepared = prepare(&library, &walk, settings(rank_by)).unwrap();
        randomise(&mut prepared, &mut chance);
        let sets: Vec<SetMeans> = all_sets(&prepared).iter().map(|set| set_means(&prepared, set)).collect();
        let budget = 400.0 * n as f64 * chance.unit();
        let best = |budget: f64| {
            let brought = sets.iter().filter(|set| set.capital <= budget).map(|set| set.brings);
            brought.fold(f64::NEG_INFINITY, f64::max)
        };
        let request = PlanRequest { budget: Some(budget), ..Default::default() };
        let plan = plan(&prepared, &request).unwrap();
        let scale = 1e-8 * (1.0 + best(f64::INFINITY).abs());
        assert!(plan.exact && plan.frontier_exact, "farm {seed}");
        assert!(plan.best.means.capital <= budget * (1.0 + 1e-9), "farm {seed}: over the budget");
        assert!(sets.iter().any(|set| set.chosen == plan.best.means.chosen), "farm {seed}: not allowed");
        let (found, want) = (plan.best.means.brings, best(budget));
        assert!((found - want).abs() <= scale, "farm {seed}: found {found}, brute force {want}");
        for sum in sets.iter().map(|set| set.capital) {
            let step = plan.frontier.iter().filter(|step| step.capital <= sum).map(|step| step.brings);
            let (found, want) = (step.fold(f64::NEG_INFINITY, f64::max), best(sum));
            assert!(
                (found - want).abs() <= scale,
                "farm {seed} at {sum}: frontier {found}, brute force {want}"
            );
        }
        binding += usize::from(best(budget) < best(f64::INFINITY) - scale);
        with_rules += usize::from(sets.len() < 1 << n);
    }
    assert!(binding > 100 && with_rules > 100, "the farms must put budget and rules to the test");
}
