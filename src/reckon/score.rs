//! The score of a walk: 0 = good practice everywhere, 100 = the exposed end everywhere, each factor
//! counting by its weight on all lameness.

use super::LEVEL;
use super::exposure::{Exposure, is_answered};
use super::stats::summary::central_interval;
use super::weights::{FactorWeight, WeightDraws};
use crate::model::Library;
use crate::model::lesion::PerLesion;
use crate::model::walk::Walk;

/// The score with what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// 0–100; `None` where no factor with a weight was answered.
    pub value: Option<f64>,
    /// Central interval over the draws.
    pub interval: Option<(f64, f64)>,
    /// The score if every unanswered factor were perfect, and if each were at its worst.
    pub bounds: Option<(f64, f64)>,
    /// Items answered.
    pub answered: usize,
    /// Items asked.
    pub asked: usize,
    /// By section of the checklist.
    pub sections: Vec<SectionScore>,
}

/// The score of one section: over the factors of its answered items.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionScore {
    /// Id of the section.
    pub id: String,
    /// 0–100; `None` where nothing with a weight was answered.
    pub value: Option<f64>,
    /// Items answered.
    pub answered: usize,
    /// Items asked.
    pub asked: usize,
}

/// Weighted mean of exposures times 100; `None` without any weight.
fn weighted(parts: impl Iterator<Item = (f64, f64)>) -> Option<f64> {
    let (mut top, mut bottom) = (0.0, 0.0);
    for (weight, x) in parts {
        top += weight * x;
        bottom += weight;
    }
    // Rounding could put the worst of all a hair above 100.
    (bottom > 0.0).then(|| (100.0 * top / bottom).min(100.0))
}

/// What a factor counts for: its weight on all lameness after overlap, never below 0.
pub fn score_weight(weight: &FactorWeight, mix: &PerLesion<f64>) -> f64 {
    super::weights::all_lameness(mix, |lesion| weight.overlap * weight.by_lesion[lesion]).max(0.0)
}

/// The score of a walk. `exposures` and `drawn` run beside `weights`.
pub fn score(
    library: &Library,
    walk: &Walk,
    weights: &[FactorWeight],
    drawn: &[WeightDraws],
    exposures: &[Option<Exposure>],
    draws: usize,
) -> Score {
    let mix = &library.burden.system(walk.system).lesion_mix;
    let fixed: Vec<f64> = weights.iter().map(|weight| score_weight(weight, mix)).collect();
    let pairs = || fixed.iter().zip(exposures);
    let value = weighted(pairs().filter_map(|(w, x)| x.as_ref().map(|x| (*w, x.mean))));
    let bound =
        |unanswered: f64| weighted(pairs().map(|(w, x)| (*w, x.as_ref().map_or(unanswered, |x| x.mean))));
    let answered: Vec<(Vec<f64>, &Exposure)> = drawn
        .iter()
        .zip(exposures)
        .filter_map(|(weight, exposure)| Some((weight.all_lameness(mix, 1.0, draws), exposure.as_ref()?)))
        .collect();
    let in_draw = |draw: usize| {
        weighted(answered.iter().map(|(weight, exposure)| (weight[draw].max(0.0), exposure.x[draw])))
    };
    let mut scores: Vec<f64> = (0..draws).filter_map(in_draw).collect();
    let sections = library.checklist.sections.iter().map(|section| {
        let answered: Vec<_> = section.items.iter().filter(|item| is_answered(walk, item)).collect();
        let here = weights.iter().zip(pairs()).filter_map(|(weight, (w, exposure))| {
            let id = &library.factors[weight.factor].id;
            answered.iter().any(|item| item.factor == *id).then_some((*w, exposure.as_ref()?.mean))
        });
        SectionScore {
            id: section.id.clone(),
            value: weighted(here),
            answered: answered.len(),
            asked: section.items.len(),
        }
    });
    let sections: Vec<SectionScore> = sections.collect();
    Score {
        interval: value.and_then(|_| central_interval(&mut scores, LEVEL)),
        bounds: value.and_then(|_| Some((bound(0.0)?, bound(1.0)?))),
        value,
        answered: sections.iter().map(|section| section.answered).sum(),
        asked: sections.iter().map(|section| section.asked).sum(),
        sections,
    }
}
