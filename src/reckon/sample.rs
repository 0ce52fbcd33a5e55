//! How much to look at: cows to score, squares to lay on a track.
//!
//! Numbers of cows are those of [`super::stats::sample_size`]. Where in the milking order the cows stand
//! matters as much: the last 30 % held 60 % of the lame cows in one study, and of three hundreds the
//! last, middle and first held 41, 26 and 14 % (see the handbook), so a sample of the first cows is no
//! sample.

use super::stats::quantile::gamma_quantile;
use super::stats::sample_size::{detection_exact, proportion};
use crate::model::{Library, System};

/// Level of every interval and confidence here.
pub const LEVEL: f64 = 0.95;
/// Area of the half-metre square that is laid on a track, square metres.
pub const SQUARE_M2: f64 = 0.25;

/// Which cows to take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// All of them.
    EveryCow,
    /// One in so many, through the whole milking, from first to last.
    OneIn(u64),
    /// From the last cow forward.
    FromTheLast,
}

/// How many cows to score and which.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScoringPlan {
    /// Cows in the herd.
    pub herd: u64,
    /// Cows that the arithmetic asks for.
    pub needed: u64,
    /// Which ones.
    pub which: Which,
    /// The wanted half-width is more than half of the expected prevalence: the answer could be half of
    /// it or one and a half times as much.
    pub is_coarse: bool,
}

/// Cows to score so that the prevalence is known to within `half_width` (0–1) either way, when about
/// `expected` (0–1) are lame. At pasture the plan is to score every cow, whatever the arithmetic says: few
/// are lame there, and a sample misses them. `None` for an empty herd or shares outside 0–1.
pub fn plan_for_precision(herd: u64, expected: f64, half_width: f64, system: System) -> Option<ScoringPlan> {
    let needed = proportion(expected, half_width, LEVEL, Some(herd))?;
    let one_in = herd / needed.max(1);
    let which = if system == System::Pasture || one_in < 2 { Which::EveryCow } else { Which::OneIn(one_in) };
    Some(ScoringPlan { herd, needed, which, is_coarse: half_width > expected / 2.0 })
}

/// Cows to score to find at least one lame cow in 95 of 100 such herds, if `lame` of the herd are (Cannon &
/// Roe 1982; exact). The number holds for cows taken at random; from the last cow forward it takes fewer.
/// `None` unless `1 <= lame <= herd`.
pub fn plan_to_find_one(herd: u64, lame: u64) -> Option<ScoringPlan> {
    let needed = detection_exact(herd, lame, LEVEL)?;
    let which = if needed == herd { Which::EveryCow } else { Which::FromTheLast };
    Some(ScoringPlan { herd, needed, which, is_coarse: false })
}

/// How many half-metre squares to lay down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SquaresPlan {
    /// Squares.
    pub squares: u64,
    /// Area they cover, square metres.
    pub area_m2: f64,
    /// Stones to expect on them.
    pub expected_stones: f64,
    /// The 95 % interval that such a count gives, stones per square metre.
    pub interval_per_m2: (f64, f64),
}

/// More squares than anybody lays down; beyond it there is no plan.
pub const MOST_SQUARES: u64 = 10_000;

/// The fewest squares whose count gives an interval no wider than `relative_half_width` of the
/// `stones_per_m2` to expect, either way. The interval is that of the model: density ~ Gamma(count + 1/2,
/// area). It takes stones to lie at random; where they lie in patches the same number of squares says
/// less, so they are spread over the whole stretch. `None` for a density or width that is not above 0, or
/// past 10,000 squares.
pub fn plan_squares(stones_per_m2: f64, relative_half_width: f64) -> Option<SquaresPlan> {
    if !(stones_per_m2 > 0.0 && stones_per_m2.is_finite() && relative_half_width > 0.0) {
        return None;
    }
    let plan = |squares: u64| {
        let area_m2 = squares as f64 * SQUARE_M2;
        let expected_stones = stones_per_m2 * area_m2;
        let limit = |at: f64| gamma_quantile(at, expected_stones + 0.5) / area_m2;
        let interval_per_m2 = (limit((1.0 - LEVEL) / 2.0), limit((1.0 + LEVEL) / 2.0));
        SquaresPlan { squares, area_m2, expected_stones, interval_per_m2 }
    };
    let is_enough = |plan: &SquaresPlan| {
        let (lower, upper) = plan.interval_per_m2;
        (upper - lower) / 2.0 <= relative_half_width * stones_per_m2
    };
    let (mut too_few, mut enough) = (0, MOST_SQUARES);
    if !is_enough(&plan(enough)) {
        return None;
    }
    while enough - too_few > 1 {
        let middle = too_few + (enough - too_few) / 2;
        if is_enough(&plan(middle)) { enough = middle } else { too_few = middle }
    }
    Some(plan(enough))
}

/// What is to be looked at, and how closely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SampleRequest {
    /// Cows that could be scored; `None` asks for the squares alone.
    pub cows: Option<u64>,
    /// System of the herd.
    pub system: System,
    /// Share of lame cows to expect, 0–1; `None` takes the mean of scored herds of the system.
    pub expected: Option<f64>,
    /// Wanted half-width of the prevalence, 0–1.
    pub half_width: f64,
    /// Stones to expect on a square metre, above 0.
    pub stones_per_m2: f64,
    /// Wanted half-width of the count of stones, as a share of it.
    pub relative_half_width: f64,
}

/// Precisions that are set beside the one asked for.
const HALF_WIDTHS: [f64; 4] = [0.02, 0.03, 0.05, 0.10];
/// Shares of the herd for which the number of cows that finds a lame one is given.
const LAME_SHARES: [f64; 4] = [0.01, 0.02, 0.05, 0.10];
/// Densities of stones that are set beside the one asked for, per square metre.
const DENSITIES_PER_M2: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 12.0];

/// How many cows to score.
#[derive(Clone, Debug, PartialEq)]
pub struct ScoringPlans {
    /// Share of lame cows that was expected, 0–1.
    pub expected: f64,
    /// True where that is the mean of scored herds.
    pub expected_of_herds: bool,
    /// The precision asked for, with its plan.
    pub asked: (f64, ScoringPlan),
    /// The same at other precisions, finest first, the one asked for among them.
    pub by_half_width: Vec<(f64, ScoringPlan)>,
    /// Lame cows in the herd, with the plan that finds one.
    pub to_find_one: Vec<(u64, ScoringPlan)>,
}

/// How much to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct SamplePlans {
    /// What was asked.
    pub request: SampleRequest,
    /// Cows; `None` where their number was not given, or no share can be expected.
    pub cows: Option<ScoringPlans>,
    /// Squares at the density asked for; `None` past the most that anybody lays down.
    pub squares: Option<SquaresPlan>,
    /// The same at other densities, thinnest first.
    pub by_density: Vec<(f64, Option<SquaresPlan>)>,
}

/// How many cows to score, and how many squares to lay down.
pub fn plan_sample(library: &Library, request: &SampleRequest) -> SamplePlans {
    let squares = |density: f64| plan_squares(density, request.relative_half_width);
    SamplePlans {
        request: *request,
        cows: request.cows.and_then(|cows| plan_scoring(library, request, cows)),
        squares: squares(request.stones_per_m2),
        by_density: with_asked(&DENSITIES_PER_M2, request.stones_per_m2)
            .into_iter()
            .map(|density| (density, squares(density)))
            .collect(),
    }
}

fn plan_scoring(library: &Library, request: &SampleRequest, cows: u64) -> Option<ScoringPlans> {
    let of_herds = || {
        let (a, b) = library.burden.system(request.system).prevalence_beta?;
        Some(a / (a + b))
    };
    let expected = request.expected.or_else(of_herds)?;
    let plan =
        |half_width: f64| Some((half_width, plan_for_precision(cows, expected, half_width, request.system)?));
    let find = |share: f64| {
        let lame = (share * cows as f64).ceil() as u64;
        Some((lame, plan_to_find_one(cows, lame)?))
    };
    let mut to_find_one: Vec<(u64, ScoringPlan)> = LAME_SHARES.into_iter().filter_map(find).collect();
    to_find_one.dedup_by_key(|(lame, _)| *lame);
    Some(ScoringPlans {
        expected,
        expected_of_herds: request.expected.is_none(),
        asked: plan(request.half_width)?,
        by_half_width: with_asked(&HALF_WIDTHS, request.half_width).into_iter().filter_map(plan).collect(),
        to_find_one,
    })
}

/// Values in order, the one asked for among them.
fn with_asked(values: &[f64], asked: f64) -> Vec<f64> {
    let mut all = values.to_vec();
    if !all.contains(&asked) {
        all.push(asked);
        all.sort_by(f64::total_cmp);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cannon & Roe 1982, row N = 100 of the printed table (recalled; scipy 1.17.1 agrees): 13 find one
    /// of 20. Krejcie & Morgan 1970 for a herd of 500: 217.49, rounded up.
    #[test]
    fn cows_to_score() {
        let one = plan_to_find_one(100, 20).expect("a plan");
        assert_eq!((one.needed, one.which), (13, Which::FromTheLast));
        assert_eq!(plan_to_find_one(100, 0), None);
        let housed = plan_for_precision(500, 0.5, 0.05, System::Housed).expect("a plan");
        assert_eq!((housed.needed, housed.which, housed.is_coarse), (218, Which::OneIn(2), false));
        let pasture = plan_for_precision(500, 0.05, 0.04, System::Pasture).expect("a plan");
        assert_eq!((pasture.which, pasture.is_coarse), (Which::EveryCow, true));
        assert_eq!(
            plan_for_precision(50, 0.5, 0.05, System::Housed).map(|plan| plan.which),
            Some(Which::EveryCow)
        );
    }

    /// By the normal approximation a count of `(1.96 / 0.25)^2 = 61.5` gives a quarter either way; the
    /// Gamma interval (scipy 1.17.1, `gamma.ppf`) needs 62 squares at 4 stones a square metre.
    #[test]
    fn squares_to_lay() {
        let plan = plan_squares(4.0, 0.25).expect("a plan");
        assert_eq!((plan.squares, plan.area_m2, plan.expected_stones), (62, 15.5, 62.0));
        assert!((plan.interval_per_m2.0 - 3.0950234).abs() < 1e-6);
        assert!((plan.interval_per_m2.1 - 5.09156461).abs() < 1e-6);
        assert_eq!(plan_squares(0.001, 0.1), None);
        assert_eq!(plan_squares(0.0, 0.1), None);
    }
}
