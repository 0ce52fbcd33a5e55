//! Random-effects pooling of published effects.
//!
//! **Method.** Between-study variance by the moments of DerSimonian & Laird (1986, Control Clin Trials
//! 7:177): `tau2 = max(0, (Q - (k-1)) / C)` with `Q = sum w (y - ybar)^2`, `C = sum w - sum w^2 / sum w`,
//! `w = 1/s2`. Weights `1/(s2 + tau2)`. Variance of the mean both as `1 / sum w` and after Hartung & Knapp
//! (2001, Stat Med 20:3875) and Sidik & Jonkman (2002, Stat Med 21:3153):
//! `sum w (y - mean)^2 / ((k-1) sum w)`; the larger goes on, since with few studies either may be too small.
//!
//! **Assumptions.** Effects on a scale where they are about normal (log ratios), independent of one another.
//! `tau2_floor` is a judged lower limit of the between-study variance, not part of the published method: 0
//! gives the published method.

use super::summary::sum;

/// A pooled effect.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooled {
    /// Pooled mean, on the scale of the effects.
    pub mean: f64,
    /// Variance of the mean that goes on: the larger of the two below.
    pub var_mean: f64,
    /// `1 / sum w`.
    pub var_ordinary: f64,
    /// Hartung-Knapp-Sidik-Jonkman; None for a single study.
    pub var_hksj: Option<f64>,
    /// Between-study variance of DerSimonian & Laird, 0 for a single study.
    pub tau2_dl: f64,
    /// The one used: never below the floor.
    pub tau2: f64,
    /// Cochran's Q, on `k - 1` degrees of freedom.
    pub q: f64,
    /// Share of the spread that is more than chance, `max(0, (Q - (k-1))/Q)` (Higgins & Thompson 2002).
    pub i2: f64,
    /// Weights as shares of 1, in the order of the effects.
    pub weights: Vec<f64>,
}

/// Pools effects `y` with sampling variances `s2 > 0`. None for no effects, lists of unlike length, a value
/// that is not finite, or a negative floor.
pub fn pool(y: &[f64], s2: &[f64], tau2_floor: f64) -> Option<Pooled> {
    let sound = y.iter().all(|v| v.is_finite()) && s2.iter().all(|&v| v > 0.0 && v.is_finite());
    if y.is_empty() || y.len() != s2.len() || !sound || !(tau2_floor >= 0.0 && tau2_floor.is_finite()) {
        return None;
    }
    let df = (y.len() - 1) as f64;
    let fixed: Vec<f64> = s2.iter().map(|v| 1.0 / v).collect();
    let q = spread(y, &fixed, weighted_mean(y, &fixed));
    let total = sum(&fixed);
    let c = total - sum(&fixed.iter().map(|w| w * w).collect::<Vec<_>>()) / total;
    let tau2_dl = if c > 0.0 { ((q - df) / c).max(0.0) } else { 0.0 };
    let tau2 = tau2_dl.max(tau2_floor);
    let weights: Vec<f64> = s2.iter().map(|v| 1.0 / (v + tau2)).collect();
    let (mean, total) = (weighted_mean(y, &weights), sum(&weights));
    let var_ordinary = 1.0 / total;
    let var_hksj = (df > 0.0).then(|| spread(y, &weights, mean) / (df * total));
    Some(Pooled {
        mean,
        var_mean: var_hksj.map_or(var_ordinary, |v| v.max(var_ordinary)),
        var_ordinary,
        var_hksj,
        tau2_dl,
        tau2,
        q,
        i2: if q > 0.0 { ((q - df) / q).max(0.0) } else { 0.0 },
        weights: weights.iter().map(|w| w / total).collect(),
    })
}

fn weighted_mean(y: &[f64], w: &[f64]) -> f64 {
    sum(&y.iter().zip(w).map(|(y, w)| y * w).collect::<Vec<_>>()) / sum(w)
}

fn spread(y: &[f64], w: &[f64], mean: f64) -> f64 {
    sum(&y.iter().zip(w).map(|(y, w)| w * (y - mean) * (y - mean)).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reckon::stats::quantile::student_t_quantile;

    /// 13 BCG trials (Colditz et al. 1994; Berkey et al. 1995), as in R metadat::dat.bcg: vaccinated with
    /// and without tuberculosis, then controls.
    const BCG: [[f64; 4]; 13] = [
        [4.0, 119.0, 11.0, 128.0],
        [6.0, 300.0, 29.0, 274.0],
        [3.0, 228.0, 11.0, 209.0],
        [62.0, 13536.0, 248.0, 12619.0],
        [33.0, 5036.0, 47.0, 5761.0],
        [180.0, 1361.0, 372.0, 1079.0],
        [8.0, 2537.0, 10.0, 619.0],
        [505.0, 87886.0, 499.0, 87892.0],
        [29.0, 7470.0, 45.0, 7232.0],
        [17.0, 1699.0, 65.0, 1600.0],
        [186.0, 50448.0, 141.0, 27197.0],
        [5.0, 2493.0, 3.0, 2338.0],
        [27.0, 16886.0, 29.0, 17825.0],
    ];

    fn bcg() -> (Vec<f64>, Vec<f64>) {
        BCG.iter()
            .map(|[tp, tn, cp, cn]| {
                let ratio = (tp / (tp + tn)) / (cp / (cp + cn));
                (libm::log(ratio), 1.0 / tp - 1.0 / (tp + tn) + 1.0 / cp - 1.0 / (cp + cn))
            })
            .unzip()
    }

    fn close(got: f64, want: f64) {
        assert!((got / want - 1.0).abs() < 1e-9, "got {got}, want {want}");
    }

    /// R 4.2.2 metafor (method DL, test z and knha) and numpy agree on all of these. Colditz et al. 1994
    /// printed a pooled risk ratio of 0.49 (recalled, not seen).
    #[test]
    fn meets_metafor_on_bcg() {
        let (y, s2) = bcg();
        let pooled = pool(&y, &s2, 0.0).unwrap();
        close(pooled.q, 152.2330081);
        close(pooled.tau2_dl, 0.3087602629);
        close(pooled.i2, 0.9211734685);
        close(pooled.mean, -0.7141172221);
        close(pooled.var_ordinary.sqrt(), 0.1787420895);
        close(pooled.var_hksj.unwrap().sqrt(), 0.1806966283);
        let half = student_t_quantile(0.975, 12.0) * pooled.var_hksj.unwrap().sqrt();
        close(pooled.mean - half, -1.107821354);
        close(pooled.mean + half, -0.32041309);
        assert_eq!(pooled.var_mean, pooled.var_hksj.unwrap());
        assert_eq!(pooled.tau2, pooled.tau2_dl);
        assert!((sum(&pooled.weights) - 1.0).abs() < 1e-15);
        assert!((libm::exp(pooled.mean) - 0.49).abs() < 0.005);
    }

    #[test]
    fn the_floor_holds_and_one_study_stands_alone() {
        let one = pool(&[0.4], &[0.09], 0.04).unwrap();
        assert_eq!((one.mean, one.var_hksj, one.tau2_dl, one.tau2), (0.4, None, 0.0, 0.04));
        close(one.var_mean, 0.13);
        // Two studies that agree to the digit: HKSJ alone would claim to know the mean exactly.
        let two = pool(&[0.4, 0.4], &[0.09, 0.04], 0.04).unwrap();
        assert!(two.var_hksj.unwrap() < 1e-30);
        assert_eq!(two.var_mean, two.var_ordinary);
        let (y, s2) = bcg();
        assert_eq!(pool(&y, &s2, 0.5).unwrap().tau2, 0.5);
    }

    #[test]
    fn faults_give_none() {
        assert_eq!(pool(&[], &[], 0.0), None);
        assert_eq!(pool(&[0.1], &[0.1, 0.2], 0.0), None);
        assert_eq!(pool(&[0.1], &[0.0], 0.0), None);
        assert_eq!(pool(&[f64::NAN], &[0.1], 0.0), None);
        assert_eq!(pool(&[0.1], &[0.1], -1.0), None);
    }
}
