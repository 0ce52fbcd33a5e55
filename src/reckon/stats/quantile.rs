//! Quantiles of the gamma, beta, chi-square, Student and triangular distributions.
//!
//! **Method.** Newton and Halley steps on the logarithm of the smaller tail, in `ln x` for the gamma and in
//! `logit x` for the beta distribution. On those scales both densities are log-concave, so both log tails
//! are concave and the steps converge from anywhere; nothing underflows on the way. Student's t by way of
//! the beta distribution (Abramowitz & Stegun 1964, 26.7.1).
//!
//! **Assumptions.** Shapes above 0 and finite, probabilities in [0, 1]; otherwise NaN. Relative error about
//! 1e-12 for shapes up to 1e5.

use super::special::{BetaShape, GammaShape, UnitPoint, digamma, normal_quantile, trigamma};

/// The answer is good once a step is this small against the distribution's own width: the steps are of
/// third order, so what is left is its cube.
const SETTLED: f64 = 3e-6;

/// Which tail is solved for, and the logarithm of its probability.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Target {
    pub(crate) lower: bool,
    pub(crate) ln_tail: f64,
}

impl Target {
    /// From both tails, so that neither has to be the other's complement. None if not a probability.
    fn new(p: f64, q: f64) -> Option<Self> {
        if !(p > 0.0 && q > 0.0) {
            return None;
        }
        Some(Self { lower: p <= q, ln_tail: libm::log(p.min(q)) })
    }
}

/// A distribution on a scale where its density is log-concave.
pub(crate) trait LogConcave {
    /// Log of the wanted tail at `u`.
    fn ln_tail(&self, u: f64, lower: bool) -> f64;
    /// Log density and its slope at `u`.
    fn density(&self, u: f64) -> (f64, f64);
    /// Standard deviation on this scale, about.
    fn width(&self) -> f64;
}

impl LogConcave for GammaShape {
    fn ln_tail(&self, u: f64, lower: bool) -> f64 {
        self.tail(libm::exp(u), u).ln(lower)
    }

    fn density(&self, u: f64) -> (f64, f64) {
        let x = libm::exp(u);
        (self.ln_density_of_log(x, u), self.a - x)
    }

    fn width(&self) -> f64 {
        (1.0 / self.a).sqrt().min(1.0 / self.a + 0.5)
    }
}

impl LogConcave for BetaShape {
    fn ln_tail(&self, v: f64, lower: bool) -> f64 {
        self.tail(UnitPoint::from_logit(v)).ln(lower)
    }

    fn density(&self, v: f64) -> (f64, f64) {
        let at = UnitPoint::from_logit(v);
        (self.ln_density_of_logit(at), self.a * at.y - self.b * at.x)
    }

    fn width(&self) -> f64 {
        (1.0 / self.a + 1.0 / self.b).sqrt()
    }
}

/// Solves for the point with the wanted tail, starting at `start`.
pub(crate) fn solve(distribution: &impl LogConcave, target: Target, start: f64) -> f64 {
    let mut u = start;
    let settled = SETTLED * distribution.width();
    for _ in 0..80 {
        let ln_tail = distribution.ln_tail(u, target.lower);
        let (ln_density, slope) = distribution.density(u);
        let hazard = libm::exp(ln_density - ln_tail);
        let miss = ln_tail - target.ln_tail;
        let sign = if target.lower { 1.0 } else { -1.0 };
        let newton = -sign * miss / hazard;
        // Halley's correction, held back where it would more than double the step.
        let bend = 1.0 + 0.5 * newton * (slope - sign * hazard);
        let step = if bend > 0.5 { newton / bend } else { newton };
        if !step.is_finite() {
            return f64::NAN;
        }
        u += step;
        if step.abs() <= settled {
            break;
        }
    }
    u
}

/// `ln` of the gamma quantile, from both tails; NaN if not a probability.
fn ln_gamma_quantile(p: f64, q: f64, gamma: &GammaShape) -> f64 {
    match Target::new(p, q) {
        Some(target) => solve(gamma, target, gamma_start(target, p, gamma.a)),
        None => f64::NAN,
    }
}

/// Wilson & Hilferty (1931), or the power law of the lower tail where the shape is small.
fn gamma_start(target: Target, p: f64, a: f64) -> f64 {
    let ln_power = (libm::log(p) + libm::lgamma(a + 1.0)) / a;
    if a < 1.0 && ln_power < -1.0 {
        return ln_power;
    }
    let tail = libm::exp(target.ln_tail);
    let z = if target.lower { normal_quantile(tail) } else { -normal_quantile(tail) };
    let root = 1.0 - 1.0 / (9.0 * a) + z / (3.0 * a.sqrt());
    if root > 0.1 { libm::log(a) + 3.0 * libm::log(root) } else { ln_power }
}

/// The `x` below which a gamma variable of this shape and scale 1 lies with probability `p`.
pub fn gamma_quantile(p: f64, shape: f64) -> f64 {
    gamma_quantile_tails(p, 1.0 - p, shape)
}

/// The same from both tails (`q` is the probability above), so that an upper tail of 1e-20 can be asked for.
pub fn gamma_quantile_tails(p: f64, q: f64, shape: f64) -> f64 {
    if !(shape > 0.0 && shape.is_finite()) || p.is_nan() || q.is_nan() || p < 0.0 || q < 0.0 {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    libm::exp(ln_gamma_quantile(p, q, &GammaShape::new(shape)))
}

/// The `x` below which a beta variable lies with probability `p`.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    beta_quantile_tails(p, 1.0 - p, a, b).0
}

/// The same from both tails, as `(x, 1 - x)`, each precise where it is small.
pub fn beta_quantile_tails(p: f64, q: f64, a: f64, b: f64) -> (f64, f64) {
    let shapes = a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite();
    if !shapes || p.is_nan() || q.is_nan() || p < 0.0 || q < 0.0 {
        return (f64::NAN, f64::NAN);
    }
    if p == 0.0 {
        return (0.0, 1.0);
    }
    if q == 0.0 {
        return (1.0, 0.0);
    }
    let at = UnitPoint::from_logit(logit_beta_quantile(p, q, a, b));
    (at.x, at.y)
}

/// Logit of the beta quantile; arguments already checked.
fn logit_beta_quantile(p: f64, q: f64, a: f64, b: f64) -> f64 {
    let Some(target) = Target::new(p, q) else { return f64::NAN };
    let beta = BetaShape::new(a, b);
    solve(&beta, target, beta_start(target, p, q, a, b))
}

/// A normal distribution of the logit, or the power law of the tail where that shape is small.
fn beta_start(target: Target, p: f64, q: f64, a: f64, b: f64) -> f64 {
    let ln_b = super::special::ln_beta(a, b);
    let ln_low = (libm::log(p * a) + ln_b) / a;
    if a < 1.0 && ln_low < -2.0 {
        return ln_low;
    }
    let ln_high = (libm::log(q * b) + ln_b) / b;
    if b < 1.0 && ln_high < -2.0 {
        return -ln_high;
    }
    let tail = libm::exp(target.ln_tail);
    let z = if target.lower { normal_quantile(tail) } else { -normal_quantile(tail) };
    digamma(a) - digamma(b) + z * (trigamma(a) + trigamma(b)).sqrt()
}

/// The `x` below which a chi-square variable with `df > 0` degrees of freedom lies with probability `p`.
pub fn chi2_quantile(p: f64, df: f64) -> f64 {
    2.0 * gamma_quantile(p, 0.5 * df)
}

/// The `t` below which a Student variable with `df > 0` degrees of freedom lies with probability `p`;
/// minus and plus infinity at 0 and 1.
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    if df.is_nan() || df <= 0.0 || !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if df > 1e7 {
        // First Cornish-Fisher term (Abramowitz & Stegun 1964, 26.7.5); the next is below 1e-13.
        let z = normal_quantile(p);
        return if z.is_finite() { z + (z * z * z + z) / (4.0 * df) } else { z };
    }
    let tail = p.min(1.0 - p);
    if tail == 0.0 {
        return if p < 0.5 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    // Both tails outside t together are I_x(df/2, 1/2) at x = df/(df + t^2).
    let inside = 2.0 * (p - 0.5).abs();
    if inside == 0.0 {
        return 0.0;
    }
    let logit = logit_beta_quantile(2.0 * tail, inside, 0.5 * df, 0.5);
    let t = df.sqrt() * libm::exp(-0.5 * logit);
    if p < 0.5 { -t } else { t }
}

/// The `x` below which a triangular variable lies with probability `u`; `low <= mode <= high`, all finite,
/// otherwise NaN. All three alike give that value.
pub fn triangular_quantile(u: f64, low: f64, mode: f64, high: f64) -> f64 {
    let ordered = low <= mode && mode <= high && (high - low).is_finite();
    if !ordered || !(0.0..=1.0).contains(&u) {
        return f64::NAN;
    }
    let width = high - low;
    if width == 0.0 {
        return mode;
    }
    if u * width <= mode - low {
        low + (u * width * (mode - low)).sqrt()
    } else {
        high - ((1.0 - u) * width * (high - mode)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reckon::stats::special::{beta_both, gamma_p, gamma_q};

    fn close(got: f64, want: f64, relative: f64, what: &str) {
        assert!((got - want).abs() <= relative * want.abs(), "{what}: got {got:e}, want {want:e}");
    }

    /// mpmath 1.3, 25 to 40 digits: probability, shape, quantile.
    #[test]
    fn gamma_meets_mpmath() {
        const P_HIGH: f64 = 1.0 - 1.0 / 1_073_741_824.0;
        for (p, shape, want) in [
            (0.001, 0.02, 5.706812442247299e-151),
            (0.5, 0.02, 5.068667656480183e-16),
            (0.99, 0.02, 0.5588857841636861),
            (P_HIGH, 0.02, 14.22864984549212),
            (1e-09, 0.5, 7.853981633974484e-19),
            (0.001, 0.5, 7.85398574631245e-07),
            (0.5, 0.5, 0.2274682115597864),
            (0.99, 0.5, 3.317448300510607),
            (P_HIGH, 0.5, 18.731828756132515),
            (1e-09, 1.37, 3.113628638457642e-07),
            (0.5, 1.37, 1.0548316240231919),
            (P_HIGH, 1.37, 22.072813430996373),
            (1e-09, 46.5, 16.432223034326196),
            (0.001, 46.5, 28.23581162309719),
            (0.99, 46.5, 63.81645645052793),
            (P_HIGH, 46.5, 99.79506350298114),
            (1e-09, 1000.0, 821.8327535831709),
            (0.5, 1000.0, 999.6666864269652),
            (P_HIGH, 1000.0, 1201.8852090171147),
            (1e-09, 100000.0, 98114.96946713948),
            (0.5, 100000.0, 99999.6666668642),
            (0.99, 100000.0, 100737.12609678283),
            (P_HIGH, 100000.0, 101912.04387966695),
        ] {
            close(gamma_quantile(p, shape), want, 2e-13, &format!("gamma {p} {shape}"));
        }
    }

    /// scipy 1.17.1 (gamma.ppf, beta.ppf, t.ppf, chi2.ppf), ten figures.
    #[test]
    fn quantiles_meet_scipy() {
        for (shape, low, middle, high) in [
            (0.1, 5.791710246e-17, 0.0005933911045, 0.9779047994),
            (0.5, 0.0004910345586, 0.2274682116, 2.511943094),
            (1.0, 0.02531780798, std::f64::consts::LN_2, 3.688879454),
            (2.5, 0.4156058067, 2.175730096, 6.416250997),
            (10.0, 4.795388696, 9.668714615, 17.08480345),
            (100.0, 81.36399125, 99.66686492, 120.5289478),
        ] {
            for (p, want) in [(0.025, low), (0.5, middle), (0.975, high)] {
                close(gamma_quantile(p, shape), want, 6e-10, "gamma");
            }
        }
        for (a, b, low, middle, high) in [
            (2.0, 3.0, 0.06758598649, 0.3857275681, 0.8058795503),
            (0.5, 0.5, 0.001541333133, 0.5, 0.9984586669),
            (1.0, 20.0, 0.001265089498, 0.03406367108, 0.168433471),
            (16.0, 134.0, 0.06263685357, 0.1049185305, 0.1606024457),
            (0.1, 5.0, 1.270390389e-17, 0.0001301495524, 0.1927527362),
        ] {
            for (p, want) in [(0.025, low), (0.5, middle), (0.975, high)] {
                close(beta_quantile(p, a, b), want, 6e-10, "beta");
            }
        }
        for (df, want) in [(1.0, 12.70620474), (5.0, 2.570581836), (12.0, 2.17881283), (30.0, 2.042272456)] {
            close(student_t_quantile(0.975, df), want, 6e-10, "t");
            close(student_t_quantile(0.025, df), -want, 6e-10, "t");
        }
        for (df, want) in [(1.0, 3.841458821), (5.0, 11.07049769), (12.0, 21.02606982), (30.0, 43.77297183)] {
            close(chi2_quantile(0.95, df), want, 6e-10, "chi-square");
        }
    }

    /// Each quantile goes back to its probability, deep in both tails.
    #[test]
    fn quantiles_go_back() {
        let tails = [1e-20, 1e-9, 1e-4, 0.03, 0.3, 0.5];
        for a in [0.5, 1.0, 3.3, 46.5, 2_000.0, 1e5] {
            for tail in tails {
                close(gamma_p(a, gamma_quantile(tail, a)), tail, 1e-9, "gamma below");
                close(gamma_q(a, gamma_quantile_tails(1.0 - tail, tail, a)), tail, 1e-9, "gamma above");
                for b in [0.5, 5.0, 20.5, 1e4] {
                    close(beta_both(a, b, beta_quantile(tail, a, b)).0, tail, 1e-9, "beta below");
                    let (_, y) = beta_quantile_tails(1.0 - tail, tail, a, b);
                    close(beta_both(b, a, y).0, tail, 1e-9, "beta above");
                }
            }
        }
    }

    /// Cauchy's closed form, t = tan(pi (p - 1/2)); two degrees of freedom, t = (2p-1)/sqrt(2p(1-p));
    /// and the triangular distribution by hand.
    #[test]
    fn closed_forms() {
        for p in [1e-12, 0.01, 0.4, 0.499999] {
            let cauchy = -1.0 / (std::f64::consts::PI * p).tan();
            close(student_t_quantile(p, 1.0), cauchy, 2e-10, "Cauchy");
            let two = (2.0 * p - 1.0) / (2.0 * p * (1.0 - p)).sqrt();
            close(student_t_quantile(p, 2.0), two, 1e-12, "two degrees");
        }
        assert_eq!(student_t_quantile(0.5, 7.0), 0.0);
        close(student_t_quantile(0.975, 1e7), student_t_quantile(0.975, 1.0001e7), 1e-9, "joins the normal");
        assert_eq!(triangular_quantile(0.5, 0.0, 2.0, 4.0), 2.0);
        assert_eq!(triangular_quantile(0.125, 0.0, 2.0, 4.0), 1.0);
        assert_eq!(triangular_quantile(0.75, 1.0, 1.0, 3.0), 2.0);
        assert_eq!(triangular_quantile(0.3, 5.0, 5.0, 5.0), 5.0);
        assert_eq!(triangular_quantile(1.0, 0.0, 1.0, 1.0), 1.0);
    }

    #[test]
    fn outside_the_domain_is_nan_or_a_limit() {
        assert!(gamma_quantile(1.1, 2.0).is_nan() && gamma_quantile(f64::NAN, 2.0).is_nan());
        assert!(gamma_quantile(0.5, 0.0).is_nan() && beta_quantile(0.5, 1.0, f64::NAN).is_nan());
        assert!(student_t_quantile(0.5, -1.0).is_nan() && triangular_quantile(0.5, 2.0, 1.0, 3.0).is_nan());
        assert_eq!((gamma_quantile(0.0, 2.0), gamma_quantile(1.0, 2.0)), (0.0, f64::INFINITY));
        assert_eq!((beta_quantile(0.0, 2.0, 2.0), beta_quantile(1.0, 2.0, 2.0)), (0.0, 1.0));
    }
}
