//! What the farm's own records and scores say, as the part `own_records` of `underfoot.score/1`.

use super::cases_facts::CasesFacts;
use super::facts::EstimateFacts;
use crate::model::case_record::Scale;
use crate::model::words::Words;
use crate::reckon::locomotion::{Gap, Share};
use crate::reckon::own_records::{CaseFile, OwnRecords, RankChange, RecordsEffect, Scored};
use crate::reckon::{Outcome, Prepared};
use serde::Serialize;
use std::collections::BTreeMap;

/// The farm's own records and scores. Without any, all of it is null or empty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnRecordsFacts {
    /// As `cases --as json` gives it; of counts alone, without months, feet and the like.
    pub cases: Option<CasesFacts>,
    /// Scorings, the earliest first.
    pub locomotion: Vec<ScoringFacts>,
    /// The last scoring against the recorded cases.
    pub gap: Option<GapFacts>,
    /// What the records changed.
    pub effect: Option<EffectFacts>,
}

/// One scoring of the herd.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScoringFacts {
    /// Day, ISO 8601, or null.
    pub date: Option<String>,
    /// `0-3` or `1-5`.
    pub scale: &'static str,
    /// Cows scored.
    pub scored: u64,
    /// Cows by score.
    pub by_score: BTreeMap<String, u64>,
    /// Lame cows.
    pub lame: ShareFacts,
    /// Severely lame cows, who are among the lame ones.
    pub severe: ShareFacts,
}

/// A share of the cows scored.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ShareFacts {
    /// The lowest score that counts.
    pub from_score: u8,
    /// Cows.
    pub cows: u64,
    /// Prevalence, 0–1.
    pub prevalence: f64,
    /// 95 % interval.
    pub interval: (f64, f64),
}

/// Scored against recorded lameness.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct GapFacts {
    /// Prevalence to expect from the records, 0–1.
    pub expected: f64,
    /// Scored prevalence less the expected one.
    pub unrecorded: f64,
    /// Whether the scored interval lies above the expected prevalence.
    pub clear: bool,
    /// Of the lame cows, how many the records would account for, 0–1, or null.
    pub recorded_share: Option<f64>,
}

/// What the records changed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffectFacts {
    /// New cases per 100 cow-years with the records.
    pub rate_with: EstimateFacts,
    /// The same without.
    pub rate_without: EstimateFacts,
    /// Every option, in the order of the ranking with the records.
    pub ranks: Vec<RankFacts>,
}

/// The place of one option with and without the records.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RankFacts {
    /// Option id.
    pub id: String,
    /// Place with the records.
    pub rank_with: usize,
    /// Place without.
    pub rank_without: usize,
    /// Cases avoided a year with the records.
    pub cases_with: EstimateFacts,
    /// The same without.
    pub cases_without: EstimateFacts,
}

/// The facts of a farm's own records.
pub fn own_records_facts(prepared: &Prepared, outcome: &Outcome, own: &OwnRecords) -> OwnRecordsFacts {
    let said = prepared.own_records(own);
    OwnRecordsFacts {
        cases: said.cases.map(|file| cases(&prepared.library.words, file)),
        locomotion: said.scored.iter().map(scoring).collect(),
        gap: said.gap.map(gap),
        effect: prepared.records_effect(outcome).map(effect),
    }
}

fn cases(words: &Words, file: CaseFile) -> CasesFacts {
    CasesFacts::new(words, &file.summary, file.rows_left_out, file.counted_as_other)
}

/// Cows by score, over the whole scale.
pub fn by_score(scale: Scale, cows_by_score: &[u64; 6]) -> impl Iterator<Item = (u8, u64)> {
    let (lowest, highest) = scale.bounds();
    let cows = *cows_by_score;
    (lowest..=highest).map(move |score| (score, cows.get(score as usize).copied().unwrap_or(0)))
}

fn scoring(scored: &Scored) -> ScoringFacts {
    let Scored { scoring, summary } = scored;
    let counts = by_score(scoring.scale, &scoring.cows_by_score);
    ScoringFacts {
        date: scoring.date.map(|date| date.to_string()),
        scale: scoring.scale.id(),
        scored: summary.scored,
        by_score: counts.map(|(score, cows)| (score.to_string(), cows)).collect(),
        lame: share(&summary.lame),
        severe: share(&summary.severe),
    }
}

fn share(share: &Share) -> ShareFacts {
    ShareFacts {
        from_score: share.from_score,
        cows: share.cows,
        prevalence: share.prevalence,
        interval: share.interval,
    }
}

fn gap(gap: Gap) -> GapFacts {
    let Gap { expected, unrecorded, clear, recorded_share } = gap;
    GapFacts { expected, unrecorded, clear, recorded_share }
}

fn effect(effect: RecordsEffect) -> EffectFacts {
    EffectFacts {
        rate_with: effect.rate_with.into(),
        rate_without: effect.rate_without.into(),
        ranks: effect.ranks.into_iter().map(rank).collect(),
    }
}

fn rank(change: RankChange) -> RankFacts {
    RankFacts {
        id: change.id,
        rank_with: change.rank_with,
        rank_without: change.rank_without,
        cases_with: change.cases_with.into(),
        cases_without: change.cases_without.into(),
    }
}
