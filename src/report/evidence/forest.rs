//! The picture of a weight: published ratios, what they pool to, the prior, and the weight.
//!
//! Every ratio is for the whole step of exposure from 0 to 1, after conversion; every interval is the
//! central 90 %. A study's is that of its published figures alone, before allowances.

use super::words::small;
use super::{EffectEvidence, EffectNumbers, OutcomeEvidence, RatioFacts, z90};
use crate::model::words::Words;
use crate::report::figure::{Caption, Direction, Forest, PointInterval, Study, Summary, SummaryKind};

/// The forest of an outcome; `None` without a published size.
pub(super) fn forest(words: &Words, title: &str, outcome: &OutcomeEvidence) -> Option<Forest> {
    let pooling = outcome.pooling.as_ref()?;
    let pooled = outcome.effects.iter().filter_map(|effect| Some((effect, effect.numbers.as_ref()?)));
    let studies: Vec<Study> = pooled.map(|(effect, numbers)| study(words, effect, numbers)).collect();
    let idle = outcome.effects.iter().filter(|effect| effect.numbers.is_none());
    let directions = idle.map(|effect| direction(words, effect)).collect();
    let prior = RatioFacts::of_normal(words, 0.0, pooling.prior_sd);
    let summary = |kind, label: &str, facts: &RatioFacts| summary(kind, words.word(label), facts);
    let (n, pooled) = (studies.len() as f64, &pooling.new_farm);
    let caption = Caption {
        title: words.say("evidence.forest-title", &[("factor", title), ("outcome", &small(&outcome.name))]),
        description: words.say_for(
            n,
            "evidence.forest",
            &[("n", &words.whole(n)), ("pooled", &pooled.words), ("weight", &outcome.posterior.words)],
        ),
    };
    Some(Forest {
        caption,
        axis: words.word("evidence.forest-axis"),
        below_one: words.word("evidence.forest-less"),
        above_one: words.word("evidence.forest-more"),
        studies,
        summaries: vec![
            summary(SummaryKind::Pooled, "evidence.forest-pooled", pooled),
            summary(SummaryKind::Prior, "evidence.forest-prior", &prior),
            summary(SummaryKind::Weight, "evidence.weight", &outcome.posterior),
        ],
        directions,
    })
}

fn point_interval(facts: &RatioFacts) -> PointInterval {
    PointInterval { point: facts.risk_ratio, low: facts.interval[0], high: facts.interval[1] }
}

fn summary(kind: SummaryKind, label: String, facts: &RatioFacts) -> Summary {
    Summary { kind, label, ratio: point_interval(facts), value_text: facts.words.clone() }
}

fn label(words: &Words, effect: &EffectEvidence) -> String {
    words.say("evidence.forest-study", &[("cite", &effect.source.cite), ("contrast", &effect.contrast)])
}

fn study(words: &Words, effect: &EffectEvidence, numbers: &EffectNumbers) -> Study {
    let half = z90() * numbers.se;
    let ends = (numbers.log_rr - half, numbers.log_rr + half);
    let facts = RatioFacts::new(words, numbers.log_rr, numbers.se, ends);
    let share = words.percent(numbers.share);
    Study {
        label: label(words, effect),
        ratio: point_interval(&facts),
        weight: numbers.share,
        value_text: words.say("evidence.forest-share", &[("ratio", &facts.words), ("share", &share)]),
    }
}

/// An effect that was not pooled: in words, with what was printed.
fn direction(words: &Words, effect: &EffectEvidence) -> Direction {
    let harmful = (effect.role == "direction").then_some(true);
    let said = [("printed", effect.published.as_str()), ("role", &effect.role_words)];
    Direction { label: label(words, effect), harmful, words: words.say("evidence.forest-direction", &said) }
}
