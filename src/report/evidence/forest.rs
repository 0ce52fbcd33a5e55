//! The picture of a weight: published ratios, what they pool to, the prior, and the weight.
//!
//! Every ratio is for the whole step of exposure from 0 to 1, after conversion; every interval is the
//! central 90 %. A study's is that of its published figures alone, before allowances.

use super::words::small;
use super::{EffectEvidence, EffectNumbers, OutcomeEvidence, RatioFacts, z90};
use crate::report::figure::{Caption, Direction, Forest, PointInterval, Study, Summary, SummaryKind};
use crate::report::number::{percent, plural};

/// The forest of an outcome; `None` without a published size.
pub(super) fn forest(title: &str, outcome: &OutcomeEvidence) -> Option<Forest> {
    let pooling = outcome.pooling.as_ref()?;
    let pooled = outcome.effects.iter().filter_map(|effect| Some((effect, effect.numbers.as_ref()?)));
    let studies: Vec<Study> = pooled.map(|(effect, numbers)| study(effect, numbers)).collect();
    let directions =
        outcome.effects.iter().filter(|effect| effect.numbers.is_none()).map(direction).collect();
    let prior = RatioFacts::of_normal(0.0, pooling.prior_sd);
    let caption = Caption {
        title: format!("{title}: {}", small(&outcome.name)),
        description: format!(
            "{} pool to a risk ratio of {}; with the sceptical prior the weight is {}, 90% intervals.",
            plural(studies.len() as u64, "published effect", "published effects"),
            pooling.new_farm.words,
            outcome.posterior.words
        ),
    };
    Some(Forest {
        caption,
        axis: "Risk ratio for the whole step of exposure, 90% intervals".to_owned(),
        below_one: "less lameness".to_owned(),
        above_one: "more lameness".to_owned(),
        studies,
        summaries: vec![
            summary(SummaryKind::Pooled, "Pooled, for a new farm", &pooling.new_farm),
            summary(SummaryKind::Prior, "Before any evidence", &prior),
            summary(SummaryKind::Weight, "Weight", &outcome.posterior),
        ],
        directions,
    })
}

fn point_interval(facts: &RatioFacts) -> PointInterval {
    PointInterval { point: facts.risk_ratio, low: facts.interval[0], high: facts.interval[1] }
}

fn summary(kind: SummaryKind, label: &str, facts: &RatioFacts) -> Summary {
    Summary { kind, label: label.to_owned(), ratio: point_interval(facts), value_text: facts.words.clone() }
}

fn label(effect: &EffectEvidence) -> String {
    format!("{}: {}", effect.source.cite, effect.contrast)
}

fn study(effect: &EffectEvidence, numbers: &EffectNumbers) -> Study {
    let half = z90() * numbers.se;
    let facts = RatioFacts::new(numbers.log_rr, numbers.se, (numbers.log_rr - half, numbers.log_rr + half));
    Study {
        label: label(effect),
        ratio: point_interval(&facts),
        weight: numbers.share,
        value_text: format!("{}, share {}", facts.words, percent(numbers.share)),
    }
}

/// An effect that was not pooled: in words, with what was printed.
fn direction(effect: &EffectEvidence) -> Direction {
    let harmful = (effect.role == "direction").then_some(true);
    let words = format!("{}; {}", effect.published, effect.role_words);
    Direction { label: label(effect), harmful, words }
}
