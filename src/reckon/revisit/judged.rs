//! Every constant of a return visit that no source gives, in one place, and the one published figure that
//! it rests on. The report's methods name each with its reason.

/// Cases in both periods together below which no verdict is given: with fewer, one cow more or less turns
/// it round.
pub const FEWEST_CASES: u64 = 10;

/// Growth or shrinkage of the herd from which the two periods are no longer of one farm: other cows, the
/// same yard and track.
pub const HERD_CHANGE: f64 = 1.5;

/// Days of the later records that may lie before the earlier walk: books run by the month.
pub const DAYS_BEFORE_WALK: i64 = 31;

/// Change of exposure that counts as one: a tenth of the way from good practice to the bad end, about what
/// two people looking at the same thing differ by.
pub const CHANGE: f64 = 0.1;

/// Exposure up to which a thing is good: what most options aim at.
pub const GOOD: f64 = 0.1;

/// Share of the way to good practice from which a thing is put right.
pub const PUT_RIGHT: f64 = 0.75;

/// Share of the draws below which no learnt weight is reported: the rest would rest on a handful of draws.
pub const FEWEST_EFFECTIVE: f64 = 0.05;

/// Farms in the survey of [`super::drift`].
pub const DRIFT_FARMS: f64 = 120.0;

/// Lame cows and cows scored in it, in spring and again in summer.
pub const DRIFT_SCORED: [(f64, f64); 2] = [(2128.0, 60_007.0), (1868.0, 56_310.0)];

/// Middle half of the farms' change between the two, points of prevalence.
pub const DRIFT_POINTS: (f64, f64) = (-1.8, 1.0);
