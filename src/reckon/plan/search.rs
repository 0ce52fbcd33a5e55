//! The best set under a budget, by branch and bound.
//!
//! **Method.** Depth first, the most promising option first (Land & Doig 1960, Econometrica 28:497).
//! What is left under a set is convex in the sum of the options' logs, so its tangent at any point
//! lies below it: with the tangent, what more options can bring is at most a sum of one number each,
//! and the most that fits into the money left is the relaxed multiple-choice knapsack (Sinha &
//! Zoltners 1979, Oper Res 27:503); where few options may be chosen, also the largest of these numbers,
//! as many as there is room for. Each branch moves its tangent to where its own relaxed best lies.
//! Nothing in this needs gains that shrink: options that act together, or that do harm in some of the
//! draws, are bounded as they are. A set is reckoned over every draw as soon as its own bound (see
//! [`super::levels`]) reaches the best set so far, so what is found is the best over the draws.

use super::levels::{Levels, dot};
use super::mask::Mask;
use super::space::{Space, affords};

/// Two values closer than this share of all that is lost are a tie.
const TIE: f64 = 1e-9;
/// How often the first tangent is moved.
const ROOT_PASSES: usize = 6;

/// A set with what it brings and costs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    pub(super) set: Mask,
    pub(super) value: f64,
    pub(super) capital: f64,
}

/// The end of a search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Best {
    pub(super) found: Found,
    /// No set brings more than this; `found.value` where the search was finished.
    pub(super) bound: f64,
    /// Sets that the search looked into.
    pub(super) steps: u64,
}

/// A set on the way, with the sum of its logs.
struct Node {
    path: Vec<usize>,
    set: Mask,
    capital: f64,
    yearly: f64,
    logs: Vec<f64>,
}

/// A plane above what sets bring: a constant, a slope for the logs, and so a number for each option.
#[derive(Clone)]
struct Tangent {
    constant: f64,
    slope: Vec<f64>,
    profit: Vec<f64>,
}

/// The relaxed best of the money left.
struct Fill {
    value: f64,
    /// Options with the share taken of each.
    taken: Vec<(usize, f64)>,
    first: Option<usize>,
}

/// The steps of the search under one budget.
struct Run {
    budget: f64,
    steps: u64,
    most_steps: Option<u64>,
    best: Option<Found>,
    open: f64,
}

impl Run {
    /// False where a bound shows that nothing better or as good can come.
    fn hopeful(&self, bound: f64, tie: f64) -> bool {
        self.best.is_none_or(|best| bound >= best.value - tie)
    }

    fn is_spent(&self) -> bool {
        self.most_steps.is_some_and(|most| self.steps >= most)
    }

    fn offer(&mut self, found: Found, tie: f64) {
        let better = |best: &Found| {
            if (found.value - best.value).abs() > tie {
                return found.value > best.value;
            }
            let places = |set: Mask| set.iter().collect::<Vec<_>>();
            let order = found.capital.total_cmp(&best.capital);
            let order = order.then(found.set.len().cmp(&best.set.len()));
            order.then_with(|| places(found.set).cmp(&places(best.set))).is_lt()
        };
        if self.best.as_ref().is_none_or(better) {
            self.best = Some(found);
        }
    }
}

/// The search with all that it has learned; one serves every budget.
pub(super) struct Search<'a> {
    space: &'a Space<'a>,
    levels: Levels<'a>,
    tie: f64,
    /// All that is lost without any option.
    lost: f64,
    /// Options worth a branch of their own: those that change anything.
    active: Mask,
}

impl<'a> Search<'a> {
    pub(super) fn new(space: &'a Space<'a>) -> Search<'a> {
        let mut levels = Levels::new(space);
        let lost: f64 = levels.weights.iter().sum();
        let mut active = Mask::default();
        for k in 0..space.options.len() {
            let idle = levels.coarse(k, Mask::default()).at_most.iter().all(|log| *log == 0.0);
            if !idle || space.yearly[k] < 0.0 {
                active.insert(k);
            }
        }
        Search { space, levels, tie: TIE * lost, lost, active }
    }

    /// Draws that the search reckons with.
    pub(super) fn draws(&self) -> usize {
        self.levels.draws()
    }

    /// Options that may be chosen freely.
    pub(super) fn free(&self) -> Mask {
        let out = self.space.closed.union(self.space.base).union(self.space.excluded_by(self.space.base));
        self.active.minus(out)
    }

    /// The best set whose capital lies within the budget; `None` where not even what must be does.
    /// With `steps`, the search ends after so many and says how far it may be from the best.
    pub(super) fn best(&mut self, budget: f64, steps: Option<u64>) -> Option<Best> {
        let space = self.space;
        let cells = self.levels.weights.len();
        let nothing = Node {
            path: Vec::new(),
            set: Mask::default(),
            capital: 0.0,
            yearly: 0.0,
            logs: vec![0.0; cells],
        };
        let root = self.with(&nothing, space.base);
        if !affords(budget, root.capital) {
            return None;
        }
        let banned = space.closed.union(space.excluded_by(space.base));
        let mut tangent = self.tangent(&root, root.logs.clone());
        for _ in 0..ROOT_PASSES {
            let fill = self.fill(&tangent, &root, self.allowed(&root, banned, budget), budget);
            tangent = self.moved(&root, &fill);
        }
        let mut run = Run { budget, steps: 0, most_steps: steps, best: None, open: f64::NEG_INFINITY };
        self.visit(&mut run, &root, banned, &tangent);
        let found = run.best?;
        Some(Best { found, bound: found.value.max(run.open), steps: run.steps })
    }

    /// A node with more options.
    fn with(&mut self, node: &Node, more: Mask) -> Node {
        let mut next = Node {
            path: node.path.clone(),
            set: node.set,
            capital: node.capital + self.space.capital_of(more),
            yearly: node.yearly + self.space.yearly_of(more),
            logs: node.logs.clone(),
        };
        for k in more.iter() {
            let taken = &self.levels.coarse(k, next.set).taken;
            next.logs.iter_mut().zip(taken).for_each(|(log, taken)| *log += taken);
            next.set.insert(k);
            next.path.push(k);
        }
        next
    }

    /// Options that may still be added: with all they need they fit into the money and the number left.
    fn allowed(&self, node: &Node, banned: Mask, budget: f64) -> Mask {
        let fits = |k: &usize| {
            let more = self.space.with[*k].minus(node.set);
            !more.meets(banned)
                && node.set.len() + more.len() <= self.space.at_most
                && affords(budget, node.capital + self.space.capital_of(more))
        };
        let mut allowed = Mask::default();
        self.active.minus(node.set).iter().filter(fits).for_each(|k| allowed.insert(k));
        allowed
    }

    /// The tangent that touches at these sums of logs.
    fn tangent(&mut self, node: &Node, at: Vec<f64>) -> Tangent {
        let touch = self.levels.weights.iter().zip(&at).map(|(weight, log)| weight * libm::exp(-log));
        let slope: Vec<f64> = touch.collect();
        let constant = self.lost - slope.iter().zip(&at).map(|(slope, log)| slope * (1.0 + log)).sum::<f64>();
        let profit = (0..self.space.options.len())
            .map(|k| dot(&slope, &self.levels.coarse(k, node.set).at_most) - self.space.yearly[k]);
        Tangent { constant, profit: profit.collect(), slope }
    }

    /// The tangent that touches where the relaxed best lies.
    fn moved(&mut self, node: &Node, fill: &Fill) -> Tangent {
        let mut at = node.logs.clone();
        for (k, share) in &fill.taken {
            let taken = &self.levels.coarse(*k, node.set).at_most;
            at.iter_mut().zip(taken).for_each(|(at, taken)| *at += share * taken);
        }
        self.tangent(node, at)
    }

    /// The most that the money left can buy, or the number left can hold, whichever is less.
    fn fill(&self, tangent: &Tangent, node: &Node, allowed: Mask, budget: f64) -> Fill {
        let by_money = self.fill_money(tangent, allowed, budget - node.capital);
        let room = self.space.at_most - node.set.len();
        if by_money.taken.len() <= room {
            return by_money;
        }
        let by_number = self.fill_number(tangent, allowed, room);
        if by_number.value < by_money.value { by_number } else { by_money }
    }

    /// The best of each clique, as many as there is room for, whatever they cost.
    fn fill_number(&self, tangent: &Tangent, allowed: Mask, room: usize) -> Fill {
        let best_of = |clique: &Vec<usize>| {
            let profits = clique.iter().filter(|&&k| allowed.has(k)).map(|&k| (tangent.profit[k], k));
            profits.filter(|(profit, _)| *profit > 0.0).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        };
        let mut best: Vec<(f64, usize)> = self.space.cliques.iter().filter_map(best_of).collect();
        best.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        best.truncate(room);
        Fill {
            value: best.iter().map(|(profit, _)| profit).sum(),
            taken: best.iter().map(|(_, k)| (*k, 1.0)).collect(),
            first: best.first().map(|(_, k)| *k),
        }
    }

    /// The relaxed multiple-choice knapsack: along the upper hull of each clique, steepest step first.
    fn fill_money(&self, tangent: &Tangent, allowed: Mask, money: f64) -> Fill {
        let mut steps: Vec<(f64, f64, f64, usize, Option<usize>)> = Vec::new();
        let mut hull: Vec<(f64, f64, Option<usize>)> = Vec::new();
        for clique in &self.space.cliques {
            hull.clear();
            hull.push((0.0, 0.0, None));
            for &k in clique.iter().filter(|&&k| allowed.has(k)) {
                let (capital, profit) = (self.space.capital[k], tangent.profit[k]);
                while let [.., last] = hull.as_slice() {
                    if profit <= last.1 {
                        break;
                    }
                    let below = hull.len().checked_sub(2).map(|at| hull[at]);
                    let flat = below.is_some_and(|below| {
                        (profit - last.1) * (last.0 - below.0) >= (last.1 - below.1) * (capital - last.0)
                    });
                    if flat {
                        hull.pop();
                        continue;
                    }
                    hull.push((capital, profit, Some(k)));
                    break;
                }
            }
            for pair in hull.windows(2) {
                let (capital, profit) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
                let slope = if capital > 0.0 { profit / capital } else { f64::INFINITY };
                if let Some(k) = pair[1].2 {
                    steps.push((slope, capital, profit, k, pair[0].2));
                }
            }
        }
        steps.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.3.cmp(&b.3)));
        let mut fill = Fill { value: 0.0, taken: Vec::new(), first: steps.first().map(|step| step.3) };
        let mut money = money.max(0.0);
        for (_, capital, profit, to, from) in steps {
            let share = if capital <= money { 1.0 } else { money / capital };
            fill.value += share * profit;
            fill.taken.push((to, share));
            fill.taken.extend(from.map(|from| (from, -share)));
            money -= share * capital;
            if share < 1.0 {
                break;
            }
        }
        fill
    }

    /// What a node brings at most by itself.
    fn own_bound(&self, node: &Node) -> f64 {
        let left = self.levels.weights.iter().zip(&node.logs);
        self.lost - left.map(|(weight, log)| weight * libm::exp(-log)).sum::<f64>() - node.yearly
    }

    fn visit(&mut self, run: &mut Run, node: &Node, mut banned: Mask, tangent: &Tangent) {
        let under = |tangent: &Tangent| tangent.constant + dot(&tangent.slope, &node.logs) - node.yearly;
        let mut allowed = self.allowed(node, banned, run.budget);
        let mut fill = self.fill(tangent, node, allowed, run.budget);
        let inherited = under(tangent) + fill.value;
        if !run.hopeful(inherited, self.tie) {
            return;
        }
        if run.is_spent() {
            run.open = run.open.max(inherited);
            return;
        }
        run.steps += 1;
        if run.hopeful(self.own_bound(node), self.tie) {
            let value = self.levels.value(&node.path);
            run.offer(Found { set: node.set, value, capital: node.capital }, self.tie);
        }
        if allowed.is_empty() {
            return;
        }
        let tangent = self.moved(node, &fill);
        let base = under(&tangent);
        loop {
            fill = self.fill(&tangent, node, allowed, run.budget);
            let bound = (base + fill.value).min(inherited);
            if allowed.is_empty() || !run.hopeful(bound, self.tie) {
                return;
            }
            if run.is_spent() {
                run.open = run.open.max(bound);
                return;
            }
            let Some(k) = fill.first.or_else(|| allowed.iter().next()) else { return };
            let more = self.space.with[k].minus(node.set);
            let child = self.with(node, more);
            self.visit(run, &child, banned.union(self.space.excluded_by(more)), &tangent);
            banned = banned.union(self.space.dependants[k]);
            allowed = allowed.minus(self.space.dependants[k]);
        }
    }
}
