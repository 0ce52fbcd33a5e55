//! How many cows to look at.
//!
//! **Methods.** For a share: `n0 = z^2 p (1 - p)/e^2`, `n = n0/(1 + (n0 - 1)/N)` (Cochran 1977, Sampling
//! Techniques, 3rd ed., 4.4). To find at least one lame cow: Cannon & Roe (1982, Livestock Disease Surveys),
//! `n = (1 - (1 - C)^(1/D)) (N - (D - 1)/2)`, and exactly, the smallest `n` whose hypergeometric chance of
//! missing all `D` is `1 - C` or less.
//!
//! **Assumptions.** Cows are chosen at random, and a lame cow looked at is seen to be lame. **Every answer is
//! rounded up**, since a smaller number would miss the wanted precision; printed tables that round to the
//! nearest differ by one.

use super::discrete::hypergeometric_pmf;
use super::special::normal_quantile;

/// Rounds up, but for what rounding error alone lies above a whole number.
fn up(n: f64) -> u64 {
    (n * (1.0 - 1e-12)).ceil() as u64
}

fn is_inside(share: f64) -> bool {
    share > 0.0 && share < 1.0
}

/// Unrounded number for a share.
fn share_size(expected: f64, half_width: f64, z: f64, population: Option<u64>) -> f64 {
    let n0 = z * z * expected * (1.0 - expected) / (half_width * half_width);
    population.map_or(n0, |all| n0 / (1.0 + (n0 - 1.0) / all as f64))
}

/// Cows to score so that the share of lame cows is known to within `half_width` either way, when about
/// `expected` are lame. Rounded up, never more than the herd. None for shares or a level outside (0, 1) or
/// an empty herd.
pub fn proportion(expected: f64, half_width: f64, level: f64, population: Option<u64>) -> Option<u64> {
    if !is_inside(expected) || !is_inside(half_width) || !is_inside(level) || population == Some(0) {
        return None;
    }
    let z = normal_quantile(0.5 * (1.0 + level));
    let n = up(share_size(expected, half_width, z, population)).max(1);
    Some(population.map_or(n, |all| n.min(all)))
}

/// Cannon and Roe's formula, rounded up. None unless `1 <= diseased <= population` and the confidence is
/// inside (0, 1).
pub fn detection(population: u64, diseased: u64, confidence: f64) -> Option<u64> {
    if diseased == 0 || diseased > population || !is_inside(confidence) {
        return None;
    }
    Some(up(detection_size(population as f64, diseased as f64, confidence)).min(population))
}

fn detection_size(population: f64, diseased: f64, confidence: f64) -> f64 {
    -libm::expm1(libm::log1p(-confidence) / diseased) * (population - 0.5 * (diseased - 1.0))
}

/// The smallest number that finds at least one of `diseased` with this confidence, by the hypergeometric
/// distribution. None as in [`detection`].
pub fn detection_exact(population: u64, diseased: u64, confidence: f64) -> Option<u64> {
    if diseased == 0 || diseased > population || !is_inside(confidence) {
        return None;
    }
    let missed = |n: u64| hypergeometric_pmf(0, population, diseased, n);
    let allowed = (1.0 - confidence) * (1.0 + 1e-12);
    let (mut too_few, mut enough) = (0, population - diseased + 1);
    while enough - too_few > 1 {
        let middle = too_few + (enough - too_few) / 2;
        if missed(middle) <= allowed { enough = middle } else { too_few = middle }
    }
    Some(enough)
}

/// The same in a population so large that looking does not use it up: `ln(1 - C)/ln(1 - prevalence)`,
/// rounded up. None for a prevalence or confidence outside (0, 1).
pub fn detection_large(prevalence: f64, confidence: f64) -> Option<u64> {
    if !is_inside(prevalence) || !is_inside(confidence) {
        return None;
    }
    Some(up(libm::log1p(-confidence) / libm::log1p(-prevalence)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Unrounded by numpy at z = 1.96; rounded up one more than the nearest-rounded table of Krejcie & Morgan
    /// (1970; 44, 80, 217, 278, 370, recalled) at 50 and 500.
    #[test]
    fn share() {
        for (all, raw, rounded) in [
            (50, 44.3438914, 45),
            (100, 79.5098932, 80),
            (500, 217.4917342, 218),
            (1_000, 277.7408254, 278),
            (10_000, 369.9837044, 370),
        ] {
            assert!((share_size(0.5, 0.05, 1.96, Some(all)) / raw - 1.0).abs() < 5e-9);
            assert_eq!(proportion(0.5, 0.05, 0.95, Some(all)), Some(rounded));
        }
        assert_eq!(proportion(0.5, 0.05, 0.95, None), Some(385));
        assert_eq!(proportion(0.5, 0.05, 0.95, Some(1)), Some(1));
        assert_eq!(proportion(0.0, 0.05, 0.95, None), None);
        assert_eq!(proportion(0.5, 0.05, 0.95, Some(0)), None);
    }

    /// Formula and exact values by scipy 1.17.1 (hypergeom); the row N = 100 is Cannon & Roe's printed table
    /// (5, 13, 25, 45, 78, 95; recalled).
    #[test]
    fn detecting_one() {
        for (population, diseased, formula, exact) in [
            (50, 5, 21.63454696, 22),
            (100, 50, 4.390708473, 5),
            (100, 20, 12.58930483, 13),
            (100, 10, 24.72166011, 25),
            (100, 5, 44.17053338, 45),
            (100, 2, 77.25112362, 78),
            (100, 1, 95.0, 95),
            (200, 20, 26.5001389, 27),
            (200, 10, 50.6082152, 51),
            (500, 25, 55.10893476, 56),
            (500, 5, 224.4584247, 225),
            (1_000, 50, 56.73027968, 57),
            (1_000, 10, 257.7006559, 258),
        ] {
            let raw = detection_size(population as f64, diseased as f64, 0.95);
            assert!((raw / formula - 1.0).abs() < 1e-9, "{population} {diseased}");
            assert_eq!(detection(population, diseased, 0.95), Some(exact));
            assert_eq!(detection_exact(population, diseased, 0.95), Some(exact));
        }
        for (prevalence, n) in [(0.01, 299), (0.02, 149), (0.05, 59), (0.10, 29)] {
            assert_eq!(detection_large(prevalence, 0.95), Some(n));
        }
        assert_eq!(detection_exact(10, 10, 0.95), Some(1));
        assert_eq!((detection(10, 0, 0.95), detection_exact(10, 11, 0.95)), (None, None));
        assert_eq!(detection_large(0.0, 0.95), None);
    }
}
