use super::*;
use crate::finding::{Findings, SourceText};
use crate::input::{FileSet, read_walk};
use crate::model::Library;
use crate::model::intervention::Intervention;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::walk::Walk;
use crate::reckon::exposure::Exposure;
use crate::reckon::interventions::{Act, FarmOption};
use crate::reckon::weights::WeightDraws;
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
    for weight in &mut prepared.drawn {
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
    let (mut binding, mut with_rules, mut few) = (0, 0, 0);
    for seed in 0..300 {
        let mut chance = Chance(seed);
        let n = 3 + chance.below(7);
        let library = random_library(&base, n, &mut chance);
        let rank_by = RankBy::ALL[seed as usize % 3];
        let mut prepared = prepare(&library, &walk, settings(rank_by)).unwrap();
        randomise(&mut prepared, &mut chance);
        let mut sets: Vec<SetMeans> =
            all_sets(&prepared).iter().map(|set| set_means(&prepared, set)).collect();
        let all = sets.len();
        let at_most = (chance.unit() < 0.5).then(|| 1 + chance.below(n));
        sets.retain(|set| at_most.is_none_or(|most| set.chosen.len() <= most));
        few += usize::from(sets.len() < all);
        let budget = 400.0 * n as f64 * chance.unit();
        let best = |budget: f64| {
            let brought = sets.iter().filter(|set| set.capital <= budget).map(|set| set.brings);
            brought.fold(f64::NEG_INFINITY, f64::max)
        };
        let request = PlanRequest { budget: Some(budget), at_most, ..Default::default() };
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
        with_rules += usize::from(all < 1 << n);
    }
    assert!(
        binding > 100 && with_rules > 100 && few > 75,
        "budget {binding}, rules {with_rules}, number {few} must be put to the test"
    );
}

/// Options that each work on a factor of their own, all of one weight, and take `profit / 10,000` of its
/// exposure: what a set takes off the log rate is the sum, so the best set is the knapsack's.
fn knapsack<'a>(base: &Prepared<'a>, weights: &[f64], profits: &[f64]) -> Prepared<'a> {
    let mut prepared = base.clone();
    let draws = prepared.settings.draws;
    let beta = vec![0.5; draws];
    prepared.options = (0..weights.len())
        .map(|factor| {
            let by_lesion = PerLesion::from_fn(|lesion| (lesion == Lesion::WhiteLine).then(|| beta.clone()));
            // A bag of more things than the herd has factors takes further factors like the first.
            if factor >= prepared.drawn.len() {
                prepared.drawn.push(base.drawn[0].clone());
                prepared.exposures.push(None);
                prepared.weights.push(base.weights[0].clone());
            }
            prepared.drawn[factor] = WeightDraws { by_lesion };
            let x = vec![1.0; draws];
            let exposure = Exposure { x, mean: 1.0, by_segment: None, looked_at: Vec::new() };
            prepared.exposures[factor] = Some(exposure);
            FarmOption {
                id: format!("item-{factor:02}"),
                intervention: 0,
                segment: None,
                acts: vec![Act { factor, segment: None, left: vec![1.0 - 1e-4 * profits[factor]; draws] }],
                duration_ratio: None,
                cost: known(draws, weights[factor], 0.0),
            }
        })
        .collect();
    prepared
}

/// Martello & Toth 1990, Knapsack Problems (recalled);
/// Kreher & Stinson 1999, Combinatorial Algorithms, P01, P02 and P07 (recalled); the hiker's bag of Rosetta Code,
/// 22 things (recalled), more than are searched to the end as a matter of course. All optima, and that each is the
/// only one, were had again outside the project: by full enumeration, the last (1,030 in 396) by dynamic programming
/// that counts the sets.
#[test]
fn published_knapsacks_are_solved() {
    let (mut library, walk) = read_demo();
    library.interventions.iter_mut().for_each(|option| (option.either, option.needs) = (None, Vec::new()));
    let base = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    type Instance<'a> = (f64, &'a [f64], &'a [f64], &'a [usize]);
    let instances: [Instance; 5] = [
        (50.0, &[31., 10., 20., 19., 4., 3., 6.], &[70., 20., 39., 37., 7., 5., 10.], &[0, 3]),
        (
            165.0,
            &[23., 31., 29., 44., 53., 38., 63., 85., 89., 82.],
            &[92., 57., 49., 68., 60., 43., 67., 84., 87., 72.],
            &[0, 1, 2, 3, 5],
        ),
        (26.0, &[12., 7., 11., 8., 9.], &[24., 13., 23., 15., 16.], &[1, 2, 3]),
        (
            750.0,
            &[70., 73., 77., 80., 82., 87., 90., 94., 98., 106., 110., 113., 115., 118., 120.],
            &[135., 139., 149., 150., 156., 163., 173., 184., 192., 201., 210., 214., 221., 229., 240.],
            &[0, 2, 4, 6, 7, 8, 13, 14],
        ),
        (
            400.0,
            &[
                9., 13., 153., 50., 15., 68., 27., 39., 23., 52., 11., 32., 24., 48., 73., 42., 43., 22., 7.,
                18., 4., 30.,
            ],
            &[
                150., 35., 200., 160., 60., 45., 60., 40., 30., 10., 70., 30., 15., 10., 40., 70., 75., 80.,
                20., 12., 50., 10.,
            ],
            &[0, 1, 2, 3, 4, 6, 10, 15, 16, 17, 18, 20],
        ),
    ];
    for (capacity, weights, profits, optimum) in instances {
        let prepared = knapsack(&base, weights, profits);
        let request = PlanRequest { budget: Some(capacity), ..Default::default() };
        let plan = plan(&prepared, &request).unwrap();
        assert_eq!(plan.best.means.chosen, optimum, "capacity {capacity}");
        assert!(plan.exact);
    }
}

fn refused(request: PlanRequest, change: impl FnOnce(&mut Prepared)) -> PlanRefusal {
    let (library, walk) = read_demo();
    let mut prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    change(&mut prepared);
    plan(&prepared, &request).unwrap_err()
}

fn asked(budget: f64, must: &[&str], never: &[&str]) -> PlanRequest {
    let ids = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect();
    PlanRequest { budget: Some(budget), must: ids(must), never: ids(never), at_most: None }
}

#[test]
fn what_cannot_be_planned_is_refused_with_the_reason() {
    let unchanged = |_: &mut Prepared| ();
    for budget in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(refused(asked(budget, &[], &[]), unchanged), PlanRefusal::Budget(_)));
    }
    let both = asked(1e6, &["build-apron"], &["build-apron"]);
    assert_eq!(refused(both, unchanged), PlanRefusal::MustAndNever("build-apron".into()));
    let below = refused(asked(10.0, &["build-apron"], &[]), unchanged);
    assert!(matches!(below, PlanRefusal::BelowMusts { needed, budget: 10.0 } if needed > 1_000.0));
    let unknown = refused(asked(1e6, &["biuld-apron"], &[]), unchanged);
    assert!(matches!(unknown, PlanRefusal::Unknown { known, .. } if known.contains(&"build-apron".into())));
    let many = PlanRequest { at_most: Some(1), ..asked(1e6, &["build-apron", "herd-patiently"], &[]) };
    assert_eq!(refused(many, unchanged), PlanRefusal::MoreMusts { needed: 2, at_most: 1 });
    let torn = refused(asked(1e6, &["groove-concrete", "rubber-yard"], &[]), unchanged);
    assert!(matches!(torn, PlanRefusal::MustExclude(..)));
    let no_price = refused(asked(1e6, &[], &[]), |prepared| {
        prepared.options.iter_mut().for_each(|o| o.cost = OptionCost::Withheld(Withheld::NoCurrency));
    });
    assert!(matches!(no_price, PlanRefusal::NoPrices(all) if !all.is_empty()));
    let negative = refused(asked(1e6, &[], &[]), |prepared| prepared.options[0].cost = known(256, -5.0, 0.0));
    assert!(matches!(negative, PlanRefusal::Price { .. }));
}

#[test]
fn a_discount_rate_of_600_percent_is_refused() {
    let (library, mut walk) = read_demo();
    walk.discount_rate = Some(6.0);
    let prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let refusal = plan(&prepared, &PlanRequest::default()).unwrap_err();
    assert_eq!(refusal, PlanRefusal::DiscountRate(6.0));
}

/// A circle of needs comes whole or not at all; what needs one that must not, or has no price, stays
/// out with it.
#[test]
fn needs_are_kept_also_in_a_circle() {
    let (mut library, walk) = read_demo();
    let set_needs = |library: &mut Library, id: &str, needs: &str| {
        library.interventions.iter_mut().find(|option| option.id == id).unwrap().needs = vec![needs.into()];
    };
    set_needs(&mut library, "build-apron", "sweep-stones");
    set_needs(&mut library, "sweep-stones", "ease-turns");
    set_needs(&mut library, "ease-turns", "build-apron");
    let prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let ring = ["build-apron", "sweep-stones", "ease-turns"];
    let of_ring = |plan: &Plan| {
        let ids = plan.best.means.chosen.iter().map(|&k| prepared.options[k].id.as_str());
        ids.filter(|id| ring.contains(id)).count()
    };
    assert_eq!(of_ring(&plan(&prepared, &asked(1e6, &["ease-turns"], &[])).unwrap()), 3);
    assert_eq!(of_ring(&plan(&prepared, &asked(1e6, &[], &["sweep-stones"])).unwrap()), 0);
    let refusal = plan(&prepared, &asked(1e6, &["ease-turns"], &["build-apron"])).unwrap_err();
    assert!(matches!(refusal, PlanRefusal::MustNeedsNever(_)));
    let mut unpriced = prepared.clone();
    let place = unpriced.options.iter().position(|option| option.id == "sweep-stones").unwrap();
    unpriced.options[place].cost = OptionCost::Withheld(Withheld::NoCurrency);
    let without = plan(&unpriced, &asked(1e6, &[], &[])).unwrap();
    assert_eq!((of_ring(&without), without.left_out.len()), (0, 3));
}

/// Many options on one and the same exposure have no bounds of their own for every set of neighbours:
/// still the best is found, in little room.
#[test]
fn many_options_on_one_factor_are_still_planned_exactly() {
    let (mut library, walk) = read_demo();
    library.interventions.iter_mut().for_each(|option| (option.either, option.needs) = (None, Vec::new()));
    let base = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let mut chance = Chance(5);
    let n = 9;
    let mut prepared = knapsack(&base, &chance.vec(n, 100.0, 900.0), &vec![0.0; n]);
    for option in &mut prepared.options {
        option.acts = vec![Act { factor: 0, segment: None, left: chance.vec(256, 0.2, 1.0) }];
    }
    let best = |budget: f64| {
        let sets = all_sets(&prepared).into_iter().map(|set| set_means(&prepared, &set));
        sets.filter(|set| set.capital <= budget).map(|set| set.brings).fold(0.0, f64::max)
    };
    for budget in [600.0, 1_500.0, 3_000.0] {
        let plan = plan(&prepared, &asked(budget, &[], &[])).unwrap();
        assert!(plan.exact && (plan.best.means.brings - best(budget)).abs() < 1e-9);
    }
}

/// A search that is cut short says how far from the best it may be, and is right about it.
#[test]
fn a_search_cut_short_is_honest_about_its_gap() {
    let (library, walk) = read_demo();
    let prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let request = asked(12_000.0, &[], &[]);
    let (space, _) = Space::new(&prepared, &request).unwrap();
    let whole = Search::new(&space).best(12_000.0, None).unwrap();
    assert!(whole.bound <= whole.found.value);
    let mut gaps = Vec::new();
    for steps in [1, 5, 20, 100] {
        let cut = Search::new(&space).best(12_000.0, Some(steps)).unwrap();
        assert!(cut.found.value <= whole.found.value * (1.0 + 1e-9) && cut.bound >= whole.found.value);
        gaps.push(gap(&cut));
    }
    assert!(gaps[0] > 0.0 && gaps.iter().all(|gap| (0.0..=1.0).contains(gap)));
}

/// First-year cases lie between none and all of the effect; capital comes again when a life is over.
#[test]
fn years_phase_effects_in_and_renew_what_wears_out() {
    let (mut library, walk) = read_demo();
    let apron = library.interventions.iter_mut().find(|option| option.id == "build-apron").unwrap();
    (apron.life_years, apron.weeks_to_effect) = (5.0, Some(26.0));
    let prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let option = prepared.options.iter().position(|option| option.id == "build-apron").unwrap();
    let set = set_outcome(&prepared, &[option]);
    let table = super::years::years(&prepared, &[option], 10);
    let paid: Vec<f64> = table.years.iter().map(|year| year.capital / set.means.capital).collect();
    assert_eq!(
        paid,
        [1., 0., 0., 0., 0., 1., 0., 0., 0., 0., 0.],
        "new after 5 years, not as the table ends"
    );
    let fewer = |year: usize| table.cases_without.mean - table.years[year].cases.unwrap().mean;
    let share = 1.0 - 26.0 * 7.0 / 365.25;
    assert!((fewer(1) / set.means.cases_avoided - share).abs() < 1e-9);
    assert!((fewer(2) / set.means.cases_avoided - 1.0).abs() < 1e-9);
    let flows: Vec<f64> = table.years.iter().map(|year| year.cash.unwrap()).collect();
    let present: f64 = flows.iter().zip(0..).map(|(cash, year)| cash / 1.05_f64.powi(year)).sum();
    assert!((table.years[10].discounted_to_date.unwrap() / present - 1.0).abs() < 1e-9);
}

/// Where the weights are multiplied by what is said, the two options do bring the same.
#[test]
fn sensitivity_finds_the_point_of_change() {
    let (library, walk) = read_demo();
    let prepared = prepare(&library, &walk, settings(RankBy::Cases)).unwrap();
    let brings = |farm: &Prepared, option: usize| set_means(farm, &[option]).cases_avoided;
    let alone: Vec<f64> = (0..prepared.options.len()).map(|option| brings(&prepared, option)).collect();
    let found = super::sensitivity::sensitivity(&prepared, &alone, 4).unwrap();
    assert!(alone.iter().all(|other| *other <= alone[found.first]));
    let turned = |option: usize, by: f64| {
        let mut farm = prepared.clone();
        let factors: Vec<usize> = farm.options[option].acts.iter().map(|act| act.factor).collect();
        for factor in factors {
            farm.drawn[factor].by_lesion.0.iter_mut().flatten().flatten().for_each(|beta| *beta *= by);
        }
        farm
    };
    let (by, then) = found.falls_at.unwrap();
    let farm = turned(found.first, by);
    assert!((brings(&farm, found.first) / brings(&farm, then) - 1.0).abs() < 5e-3);
    let rival = found.rivals.iter().find(|rival| rival.overtakes_at.is_some()).unwrap();
    let farm = turned(rival.option, rival.overtakes_at.unwrap());
    assert!((brings(&farm, rival.option) / brings(&farm, found.first) - 1.0).abs() < 5e-3);
}

/// The worth of knowing, where it can be had by hand: two options of which the exposure decides, one
/// worth 1 for sure, the other uniform on 0 to 2. Best now 1; knowing, the mean of max(1, x) = 1.25.
#[test]
fn worth_of_knowing_is_that_of_the_textbook() {
    let (library, walk) = read_demo();
    let prepared = prepare(&library, &walk, Settings { draws: 4096, ..settings(RankBy::Cases) }).unwrap();
    let x: Vec<f64> = prepared.draws.uniforms("item:test", 0).iter().map(|u| 2.0 * u).collect();
    let noise = prepared.draws.uniforms("item:noise", 0);
    let sure = vec![1.0; x.len()];
    let unsure: Vec<f64> = x.iter().zip(&noise).map(|(x, noise)| x + noise - 0.5).collect();
    let (worth, changes) = super::knowing::worth(&x, &[sure.clone(), unsure.clone()]);
    assert!((worth - 0.25).abs() < 0.01, "{worth}");
    assert!((changes - 0.5).abs() < 0.04, "{changes}");
    // Knowing something that plays no part is worth nothing.
    let (idle, _) = super::knowing::worth(&noise, &[vec![1.2; x.len()], sure, x]);
    assert!(idle < 1e-12, "{idle}");
}

/// An unanswered factor is listed as not looked at, and is worth something where an option waits for it.
#[test]
fn what_nobody_looked_at_is_worth_looking_at() {
    let (library, mut walk) = read_demo();
    let of_turns =
        |item: &str| library.checklist.item(item).is_some_and(|item| item.factor == "yard-turning");
    walk.answers.retain(|answer| !of_turns(&answer.item));
    let prepared = prepare(&library, &walk, Settings { draws: 1024, ..settings(RankBy::Cases) }).unwrap();
    let plan = plan(&prepared, &asked(20_000.0, &[], &[])).unwrap();
    let look = super::knowing::where_to_look(&prepared, &plan);
    let id = |position: usize| library.factors[prepared.weights[position].factor].id.as_str();
    let turns = look.iter().find(|knowing| id(knowing.factor) == "yard-turning").unwrap();
    assert!(!turns.measured && turns.worth > 0.0 && turns.changes > 0.0, "{turns:?}");
    assert!(look.iter().all(|knowing| knowing.worth >= 0.0 && (0.0..=1.0).contains(&knowing.changes)));
    assert!(look.windows(2).all(|pair| pair[0].worth >= pair[1].worth));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// More money never brings less, and the order of the options in their file never matters.
    #[test]
    fn more_money_brings_no_less_and_order_does_not_matter(seed in 1000_u64..9_000, turn in 1_usize..7) {
        let (base, walk) = read_demo();
        let mut chance = Chance(seed);
        let library = random_library(&base, 7, &mut chance);
        let rank_by = RankBy::ALL[seed as usize % 3];
        let mut prepared = prepare(&library, &walk, settings(rank_by)).unwrap();
        randomise(&mut prepared, &mut chance);
        let found = |farm: &Prepared, budget: f64| {
            plan(farm, &PlanRequest { budget: Some(budget), ..Default::default() }).unwrap()
        };
        let mut last = f64::NEG_INFINITY;
        for budget in [0.0, 300.0, 700.0, 1_500.0, 1e5] {
            let brings = found(&prepared, budget).best.means.brings;
            prop_assert!(brings >= last - 1e-9 * (1.0 + last.abs()));
            last = brings;
        }
        let ids = |farm: &Prepared, plan: &Plan| {
            let mut ids: Vec<String> =
                plan.best.means.chosen.iter().map(|&k| farm.options[k].id.clone()).collect();
            ids.sort();
            ids
        };
        let mut turned = prepared.clone();
        turned.options.rotate_left(turn);
        prop_assert_eq!(ids(&prepared, &found(&prepared, 900.0)), ids(&turned, &found(&turned, 900.0)));
    }

    /// What costs nothing, does no harm and keeps nothing else out is always in.
    #[test]
    fn a_free_harmless_option_is_always_taken(seed in 1000_u64..9_000, budget in 0.0..3_000.0_f64) {
        let (base, walk) = read_demo();
        let mut chance = Chance(seed);
        let mut library = random_library(&base, 7, &mut chance);
        (library.interventions[3].either, library.interventions[3].needs) = (None, Vec::new());
        let rank_by = RankBy::ALL[seed as usize % 3];
        let mut prepared = prepare(&library, &walk, settings(rank_by)).unwrap();
        randomise(&mut prepared, &mut chance);
        let draws = prepared.settings.draws;
        // On a factor that nothing else acts on, so that it is worth something beside any other.
        let factor = (0..prepared.weights.len())
            .rfind(|&f| prepared.exposures[f].as_ref().is_some_and(|exposure| exposure.mean > 0.0))
            .unwrap();
        prepared.drawn[factor].by_lesion.0.iter_mut().flatten().flatten().for_each(|beta| *beta = beta.abs());
        prepared.options[3] = FarmOption {
            id: prepared.options[3].id.clone(),
            intervention: 3,
            segment: None,
            acts: vec![Act { factor, segment: None, left: vec![0.7; draws] }],
            duration_ratio: None,
            cost: known(draws, 0.0, 0.0),
        };
        let request = PlanRequest { budget: Some(budget), ..Default::default() };
        let plan = plan(&prepared, &request).unwrap();
        prop_assert!(plan.best.means.chosen.contains(&3));
        prop_assert!(plan.frontier.iter().all(|step| step.chosen.contains(&3)));
    }
}
