//! Locomotion scores: how many cows are lame, and how many more than the records say.

use super::stats::interval;
use crate::model::case_record::{Scale, Scoring};
use crate::model::lesion::PerLesion;

/// Level of every interval here.
pub const LEVEL: f64 = 0.95;

/// A share of the cows scored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The lowest score that counts.
    pub from_score: u8,
    /// Cows with that score or a higher one.
    pub cows: u64,
    /// Cows scored.
    pub of: u64,
    /// Prevalence, 0–1.
    pub prevalence: f64,
    /// Wilson 95 % interval, narrowed where the cows scored are a large part of the herd; it allows for
    /// the cows that were not scored, not for a scorer's errors.
    pub interval: (f64, f64),
}

/// How well a score finds the cows that are lame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestQuality {
    /// Sensitivity, 0–1.
    pub sensitivity: f64,
    /// Specificity, 0–1.
    pub specificity: f64,
}

/// Prevalence corrected for a score that errs (Rogan & Gladen 1978, Am J Epidemiol 107:71).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Corrected {
    /// The corrected prevalence, with its interval held within 0–1.
    Prevalence {
        /// Prevalence, 0–1.
        prevalence: f64,
        /// 95 % interval, from the limits of the apparent prevalence.
        interval: (f64, f64),
    },
    /// The formula gives less than 0 or more than 1: the prevalence can't be corrected.
    NotAtThisPrevalence {
        /// What the formula gives.
        formula_gives: f64,
    },
    /// Sensitivity and specificity add up to 1 or less (or are no shares): the score says nothing.
    ScoreSaysNothing,
}

/// What a scoring says. Scale and cut-offs go with every figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocomotionSummary {
    /// The scale.
    pub scale: Scale,
    /// Cows scored.
    pub scored: u64,
    /// Cows in the herd, where they are known and no fewer than those scored.
    pub herd: Option<u64>,
    /// Lame cows.
    pub lame: Share,
    /// Severely lame cows, who are among the lame ones.
    pub severe: Share,
    /// Lameness corrected for the score's errors, where the user said how it errs.
    pub corrected: Option<Corrected>,
}

/// Sums up a scoring; `None` where no cow was scored. `herd` narrows the interval where a large part of
/// the herd was scored; a herd smaller than the number scored is left out of account.
pub fn summarise_scores(
    scoring: &Scoring,
    herd: Option<u64>,
    quality: Option<TestQuality>,
) -> Option<LocomotionSummary> {
    let of = scoring.cows();
    if of == 0 {
        return None;
    }
    let herd = herd.filter(|herd| *herd >= of);
    let share = |from_score: u8| {
        let cows = scoring.cows_from(from_score);
        let interval = interval::wilson(cows, of, LEVEL, herd)?;
        Some(Share { from_score, cows, of, prevalence: cows as f64 / of as f64, interval })
    };
    let lame = share(scoring.scale.lame_from())?;
    Some(LocomotionSummary {
        scale: scoring.scale,
        scored: of,
        herd,
        lame,
        severe: share(scoring.scale.severe_from())?,
        corrected: quality.map(|quality| correct(&lame, quality)),
    })
}

fn correct(lame: &Share, quality: TestQuality) -> Corrected {
    let TestQuality { sensitivity, specificity } = quality;
    let Some(point) = interval::rogan_gladen(lame.cows, lame.of, sensitivity, specificity) else {
        return Corrected::ScoreSaysNothing;
    };
    if point.out_of_range {
        return Corrected::NotAtThisPrevalence { formula_gives: point.raw };
    }
    let youden = sensitivity + specificity - 1.0;
    let limit = |apparent: f64| ((apparent + specificity - 1.0) / youden).clamp(0.0, 1.0);
    Corrected::Prevalence {
        prevalence: point.raw,
        interval: (limit(lame.interval.0), limit(lame.interval.1)),
    }
}

/// The prevalence that the recorded cases would give, 0–1: rate × mean duration / 365.25, the lesions
/// weighed by their mix (prevalence is incidence times duration where both are steady; Freeman &
/// Hutchison 1980, Am J Epidemiol 112:707, from memory). `None` where the mix adds up to nothing or a
/// figure is not finite.
pub fn expected_prevalence(
    cases_per_100_cow_years: f64,
    mix: &PerLesion<f64>,
    duration_days: &PerLesion<f64>,
) -> Option<f64> {
    let weight = mix.sum();
    let days: f64 = mix.iter().map(|(lesion, share)| share * duration_days[lesion]).sum();
    let prevalence = cases_per_100_cow_years / 100.0 * days / weight / 365.25;
    (weight > 0.0 && prevalence.is_finite() && prevalence >= 0.0).then_some(prevalence)
}

/// Scored against recorded lameness.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Prevalence to expect from the records, 0–1.
    pub expected: f64,
    /// Scored prevalence less the expected one; negative where the records say more.
    pub unrecorded: f64,
    /// Whether even the lower limit of the scored prevalence lies above the expected one.
    pub clear: bool,
    /// Of the lame cows, how many the records would account for, 0–1; `None` where no cow was lame.
    pub recorded_share: Option<f64>,
}

/// The lameness that no one recorded: lame cows never written down, and the days before and after the
/// recorded case.
pub fn gap(lame: &Share, expected: f64) -> Gap {
    Gap {
        expected,
        unrecorded: lame.prevalence - expected,
        clear: lame.interval.0 > expected,
        recorded_share: (lame.cows > 0).then(|| (expected / lame.prevalence).min(1.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::lesion::Lesion;

    fn scoring(scale: Scale, cows_by_score: [u64; 6]) -> Scoring {
        Scoring { date: None, scale, cows_by_score }
    }

    fn close(got: f64, want: f64) {
        assert!((got - want).abs() <= 1e-8 * want.abs(), "got {got}, want {want}");
    }

    /// Newcombe 1998 (Stat Med 17:857), table I, 15 of 148: 0.0624 to 0.1605 (digits by statsmodels 0.15.0).
    #[test]
    fn prevalence_states_its_scale_and_cut_off() {
        let three = summarise_scores(&scoring(Scale::ZeroToThree, [100, 33, 12, 3, 0, 0]), None, None)
            .expect("a summary");
        assert_eq!(
            (three.lame.from_score, three.lame.cows, three.severe.from_score, three.severe.cows),
            (2, 15, 3, 3)
        );
        close(three.lame.interval.0, 0.06238639953);
        close(three.lame.interval.1, 0.1604872417);
        let five = summarise_scores(&scoring(Scale::OneToFive, [0, 100, 33, 12, 2, 1]), Some(148), None)
            .expect("a summary");
        assert_eq!(
            (five.lame.from_score, five.lame.cows, five.severe.from_score, five.severe.cows),
            (3, 15, 4, 3)
        );
        assert_eq!(five.lame.interval, (15.0 / 148.0, 15.0 / 148.0));
        assert_eq!(summarise_scores(&scoring(Scale::OneToFive, [0; 6]), None, None), None);
    }

    /// Documented examples of R's `epiR::epi.prev` (seen): 45 of 150 give 22 of 100; 6 of 151 give -4,
    /// which is no prevalence.
    #[test]
    fn a_correction_that_fails_is_said_to_fail() {
        let corrected = |cows, lame, sensitivity, specificity| {
            let scoring = scoring(Scale::ZeroToThree, [cows - lame, 0, lame, 0, 0, 0]);
            let quality = TestQuality { sensitivity, specificity };
            summarise_scores(&scoring, None, Some(quality)).and_then(|summary| summary.corrected)
        };
        let Some(Corrected::Prevalence { prevalence, interval }) = corrected(150, 45, 0.96, 0.89) else {
            panic!("a prevalence")
        };
        close(prevalence, 0.2235294118);
        close(interval.0, 0.1440097574);
        close(interval.1, 0.31479976936);
        let Some(Corrected::NotAtThisPrevalence { formula_gives }) = corrected(151, 6, 0.964, 0.927) else {
            panic!("no prevalence")
        };
        close(formula_gives, -0.03733434418);
        assert_eq!(corrected(150, 45, 0.4, 0.6), Some(Corrected::ScoreSaysNothing));
        assert_eq!(corrected(150, 45, f64::NAN, 0.6), Some(Corrected::ScoreSaysNothing));
    }

    /// 37 herds (Clarkson et al. 1996, figures as in the burden file): 54.6 cases per 100 cow-years and
    /// 20.6 % lame go with 138 days a case.
    #[test]
    fn records_give_a_prevalence() {
        let mix = PerLesion::from_fn(|lesion| if lesion == Lesion::Other { 0.25 } else { 0.125 });
        let expected = expected_prevalence(54.6, &mix, &PerLesion::from_fn(|_| 138.0)).expect("a prevalence");
        assert!((expected - 0.206).abs() < 5e-4, "{expected}");
        assert_eq!(expected_prevalence(54.6, &PerLesion::default(), &PerLesion::default()), None);
        let lame = summarise_scores(&scoring(Scale::ZeroToThree, [60, 0, 40, 0, 0, 0]), None, None)
            .expect("a summary")
            .lame;
        let gap = gap(&lame, 0.1);
        close(gap.unrecorded, 0.3);
        assert_eq!((gap.clear, gap.recorded_share), (true, Some(0.25)));
    }
}
