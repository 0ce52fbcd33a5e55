//! "What your records say" in the report of a walk: the records and scores, the lesions beside the
//! factors that cause them, and what the records changed.

use super::figure::Figure;
use super::own_records_facts::by_score;
use super::records_page::{RecordsPage, range, records_page};
use super::words;
use crate::model::Library;
use crate::model::lesion::Lesion;
use crate::model::walk::Walk;
use crate::model::words::Words;
use crate::reckon::locomotion::{Gap, Share};
use crate::reckon::own_records::{CaseFile, OwnRecords, RankChange, RecordsEffect, RecordsOutcome, Scored};
use crate::reckon::records::{CaseSummary, FEWEST_FOR_PATTERN};
use crate::reckon::{Estimate, Outcome, Prepared};
use serde::Serialize;
use std::collections::BTreeMap;

/// How many options the table of what changed lists, from the top of either ranking.
const COMPARED: usize = 5;
/// How many factors stand beside a lesion.
const CAUSES: usize = 3;
/// The least share of a lesion's cases for which a factor is named.
const LEAST_SHARE: f64 = 0.01;

/// Everything that a template may show of a farm's own records.
#[derive(Clone, Debug, Default, Serialize)]
pub struct OwnRecordsText {
    /// The few sentences for those who read no further.
    pub in_short: Vec<String>,
    /// The case records; `None` where there are none.
    pub kept: Option<RecordsPage>,
    /// Lesions beside the factors that cause them; empty without records.
    pub causes: Vec<CauseRow>,
    /// What the records changed; `None` without records, and where it was not reckoned.
    pub effect: Option<EffectText>,
    /// The scores; `None` without any.
    pub scores: Option<ScoresText>,
}

/// One lesion beside what causes it.
#[derive(Clone, Debug, Serialize)]
pub struct CauseRow {
    /// Name.
    pub lesion: String,
    /// Cases in the records.
    pub recorded: u64,
    /// Factors found on the walk that cause it, with the share of its cases put down to each.
    pub factors: String,
    /// Share of its cases that nothing that was looked at explains.
    pub unexplained: String,
}

/// What the records changed.
#[derive(Clone, Debug, Serialize)]
pub struct EffectText {
    /// Rate without and with the records.
    pub rate: String,
    /// What happened to the first place, in a sentence.
    pub words: String,
    /// How many options changed places, in a sentence.
    pub moved: String,
    /// The options at the top of either ranking.
    pub rows: Vec<EffectRow>,
}

/// One option with and without the records.
#[derive(Clone, Debug, Serialize)]
pub struct EffectRow {
    /// Title with its place.
    pub title: String,
    /// Place with the records.
    pub rank_with: usize,
    /// Place without.
    pub rank_without: usize,
    /// Cases avoided a year with the records.
    pub cases_with: String,
    /// The same without.
    pub cases_without: String,
}

/// The locomotion scores.
#[derive(Clone, Debug, Serialize)]
pub struct ScoresText {
    /// The scale.
    pub scale: &'static str,
    /// The lowest score that counts as lame.
    pub lame_from: u8,
    /// The lowest score that counts as severely lame.
    pub severe_from: u8,
    /// The scores of the scale, in order.
    pub scores: Vec<u8>,
    /// Scorings, the earliest first.
    pub rows: Vec<ScoringRow>,
    /// Scored herds of the system, or empty.
    pub herds: String,
    /// Scored against recorded lameness, or empty.
    pub gap: String,
    /// What the reader should know of the scoring, or empty.
    pub caution: String,
}

/// One scoring.
#[derive(Clone, Debug, Serialize)]
pub struct ScoringRow {
    /// Day in words.
    pub day: String,
    /// Cows scored.
    pub scored: String,
    /// Cows by score.
    pub cows: Vec<String>,
    /// Lame, with interval.
    pub lame: String,
    /// Severely lame, with interval.
    pub severe: String,
}

struct Chapter<'a> {
    library: &'a Library,
    walk: &'a Walk,
    outcome: &'a Outcome,
    said: RecordsOutcome,
    effect: Option<RecordsEffect>,
}

/// The few sentences alone, without the second ranking: what the terminal shows.
pub fn own_records_words(prepared: &Prepared, outcome: &Outcome, own: &OwnRecords) -> OwnRecordsText {
    let in_short = Chapter::new(prepared, outcome, own, None).in_short();
    OwnRecordsText { in_short, ..OwnRecordsText::default() }
}

/// The chapter, and the figures of the case records by name.
pub fn own_records_chapter(
    prepared: &Prepared,
    outcome: &Outcome,
    own: &OwnRecords,
) -> (OwnRecordsText, BTreeMap<String, Figure>) {
    Chapter::new(prepared, outcome, own, prepared.records_effect(outcome)).text()
}

impl<'a> Chapter<'a> {
    fn new(
        prepared: &'a Prepared,
        outcome: &'a Outcome,
        own: &OwnRecords,
        effect: Option<RecordsEffect>,
    ) -> Chapter<'a> {
        let said = prepared.own_records(own);
        Chapter { library: prepared.library, walk: prepared.walk, outcome, said, effect }
    }

    fn text(&self) -> (OwnRecordsText, BTreeMap<String, Figure>) {
        let page = |file: &CaseFile| {
            records_page(self.library, &file.summary, file.rows_left_out, &file.counted_as_other)
        };
        let (kept, figures) = self.said.cases.as_ref().map(page).unzip();
        let text = OwnRecordsText {
            in_short: self.in_short(),
            kept,
            causes: self.said.cases.as_ref().map_or(Vec::new(), |file| self.causes(&file.summary)),
            effect: self.effect.as_ref().map(|effect| self.effect_text(effect)),
            scores: self.scores(),
        };
        (text, figures.unwrap_or_default())
    }

    fn in_short(&self) -> Vec<String> {
        let mut sentences = Vec::new();
        if let Some(file) = &self.said.cases {
            sentences.push(cases_in_short(self.library, &file.summary));
        }
        sentences.extend(self.effect.as_ref().map(|effect| self.first_places(effect)));
        if let Some(last) = self.said.scored.last() {
            sentences.push(scores_in_short(&self.library.words, last));
            sentences.extend(self.said.gap.as_ref().and_then(|gap| gap_in_short(&self.library.words, gap)));
        }
        sentences
    }

    /// Lesions in the order of the records, each beside the factors with most of its cases.
    fn causes(&self, summary: &CaseSummary) -> Vec<CauseRow> {
        let row = |lesion: Lesion, recorded: u64| CauseRow {
            lesion: words::lesion(self.library, lesion),
            recorded,
            factors: self.factors_of(lesion),
            unexplained: self
                .share_of(lesion, self.outcome.burden.unexplained_by_lesion[lesion])
                .map_or("–".to_owned(), |share| self.library.words.percent(share)),
        };
        summary.lesions.iter().map(|share| row(share.lesion, share.cases)).collect()
    }

    fn factors_of(&self, lesion: Lesion) -> String {
        let shares = self.outcome.factors.iter().filter_map(|factor| {
            let cases = factor.attributed.as_ref()?.by_lesion[lesion];
            Some((self.library.factors[factor.weight.factor].title.as_str(), self.share_of(lesion, cases)?))
        });
        let mut shares: Vec<(&str, f64)> = shares.filter(|(_, share)| *share >= LEAST_SHARE).collect();
        shares.sort_by(|(_, a), (_, b)| b.total_cmp(a));
        let words = &self.library.words;
        let shares = shares.iter().take(CAUSES);
        let named = shares.map(|(title, share)| format!("{title} ({})", words.percent(*share)));
        let named: Vec<String> = named.collect();
        match named.is_empty() {
            true => words.word("own-records.no-factor"),
            false => named.join(&words.word("list.semicolon")),
        }
    }

    /// What part of a lesion's cases a year this many are; `None` where it has none.
    fn share_of(&self, lesion: Lesion, cases: f64) -> Option<f64> {
        let all = self.outcome.burden.by_lesion[lesion].mean;
        (all > 0.0).then(|| cases / all)
    }

    fn title(&self, change: &RankChange) -> String {
        let option = &self.library.interventions[change.intervention];
        match words::place(self.walk, change.segment, option.each) {
            Some(place) => format!("{} – {place}", option.title),
            None => option.title.clone(),
        }
    }

    fn effect_text(&self, effect: &RecordsEffect) -> EffectText {
        let words = &self.library.words;
        let at_the_top =
            |change: &&RankChange| change.rank_with <= COMPARED || change.rank_without <= COMPARED;
        let row = |change: &RankChange| EffectRow {
            title: self.title(change),
            rank_with: change.rank_with,
            rank_without: change.rank_without,
            cases_with: mean_and_range(words, change.cases_with),
            cases_without: mean_and_range(words, change.cases_without),
        };
        EffectText {
            rate: words.say(
                "own-records.rate",
                &[
                    ("without", &mean_and_range(words, effect.rate_without)),
                    ("with", &mean_and_range(words, effect.rate_with)),
                ],
            ),
            words: self.first_places(effect),
            moved: moved(words, effect),
            rows: effect.ranks.iter().filter(at_the_top).map(row).collect(),
        }
    }

    /// What the records did to the first place.
    fn first_places(&self, effect: &RecordsEffect) -> String {
        let words = &self.library.words;
        let first = |rank: fn(&RankChange) -> usize| effect.ranks.iter().find(|change| rank(change) == 1);
        let (Some(now), Some(before)) = (first(|it| it.rank_with), first(|it| it.rank_without)) else {
            return words.word("records.nothing-to-rank");
        };
        if now.id == before.id {
            return words.say("records.same-first", &[("title", &self.title(now))]);
        }
        words.say(
            "records.new-first",
            &[
                ("now", &self.title(now)),
                ("rank_without", &words.ordinal(now.rank_without)),
                ("before", &self.title(before)),
                ("rank_with", &words.ordinal(before.rank_with)),
            ],
        )
    }

    fn scores(&self) -> Option<ScoresText> {
        let words = &self.library.words;
        let scale = self.said.scored.last()?.scoring.scale;
        let (lowest, highest) = scale.bounds();
        let most = self.said.scored.iter().map(|scored| scored.summary.scored).max().unwrap_or(0);
        let caution = (most > self.walk.cows).then(|| {
            let (scored, herd) = (words.whole(most as f64), words.whole(self.walk.cows as f64));
            words.say("own-records.more-scored", &[("scored", &scored), ("herd", &herd)])
        });
        Some(ScoresText {
            scale: scale.id(),
            lame_from: scale.lame_from(),
            severe_from: scale.severe_from(),
            scores: (lowest..=highest).collect(),
            rows: self.said.scored.iter().map(|scored| scoring_row(words, scored)).collect(),
            herds: self.herds(),
            gap: self.said.gap.as_ref().map_or(String::new(), |gap| gap_words(words, gap)),
            caution: caution.unwrap_or_default(),
        })
    }

    fn herds(&self) -> String {
        let words = &self.library.words;
        let burden = self.library.burden.system(self.walk.system);
        burden.prevalence_beta.map_or(String::new(), |(a, b)| {
            let (system, share) = (words::system_words(words, self.walk.system), words.percent(a / (a + b)));
            words.say("own-records.herds", &[("system", &system), ("share", &share)])
        })
    }
}

/// "12.3 (8 to 21)".
fn mean_and_range(words: &Words, estimate: Estimate) -> String {
    format!("{} ({})", words.decimals(estimate.mean, 1), words.count_range(estimate.interval))
}

/// A percentage, with a decimal where it is small.
fn small_percent(words: &Words, share: f64) -> String {
    match share < 0.095 {
        true => words.say("number.percent", &[("n", &words.decimals(100.0 * share, 1))]),
        false => words.percent(share),
    }
}

fn moved(words: &Words, effect: &RecordsEffect) -> String {
    let moved = effect.ranks.iter().filter(|it| it.rank_with != it.rank_without).count();
    let options = effect.ranks.len() as f64;
    let key = if moved == 0 { "own-records.none-moved" } else { "own-records.moved" };
    let values = [("n", words.whole(options)), ("moved", words.whole(moved as f64))];
    words.say_for(options, key, &values.each_ref().map(|(name, value)| (*name, value.as_str())))
}

fn cases_in_short(library: &Library, summary: &CaseSummary) -> String {
    let (words, rate) = (&library.words, &summary.rate);
    let first = words.say_for(
        summary.cases as f64,
        "records.cases",
        &[
            ("n", &words.whole(summary.cases as f64)),
            ("from", &words.date(summary.period.from)),
            ("to", &words.date(summary.period.to)),
            ("rate", &words.decimals(rate.per_100_cow_years, 1)),
            ("low", &words.decimals(rate.interval.0, 1)),
            ("high", &words.decimals(rate.interval.1, 1)),
        ],
    );
    let then = match &summary.top {
        Some(top) => {
            let names = top.lesions.iter().map(|lesion| words::lesion_in_list(library, *lesion));
            let names: Vec<String> = names.collect();
            let share = words.percent(top.share);
            words.say("records.mostly", &[("lesions", &words.list(&names)), ("share", &share)])
        }
        None => words.say("records.too-few", &[("n", &FEWEST_FOR_PATTERN.to_string())]),
    };
    format!("{first} {then}")
}

/// The last scoring, with its scale and cut-offs.
fn scores_in_short(words: &Words, scored: &Scored) -> String {
    let Scored { scoring, summary } = scored;
    let (_, highest) = scoring.scale.bounds();
    let from = |share: &Share| {
        let key = if share.from_score == highest { "records.score" } else { "records.score-from" };
        words.say(key, &[("n", &share.from_score.to_string())])
    };
    let (low, high) = (words.percent(summary.lame.interval.0), words.percent(summary.lame.interval.1));
    let cows = summary.scored as f64;
    words.say(
        "records.scored",
        &[
            ("day", &scoring.date.map_or(words.word("records.no-day"), |day| words.date(day))),
            ("lame", &words.whole(summary.lame.cows as f64)),
            ("cows", &words.say_for(cows, "records.cows", &[("n", &words.whole(cows))])),
            ("from", &from(&summary.lame)),
            ("scale", scoring.scale.id()),
            ("share", &words.percent(summary.lame.prevalence)),
            ("range", &words.say("number.range", &[("low", &low), ("high", &high)])),
            ("severe", &words.whole(summary.severe.cows as f64)),
            ("severe_from", &from(&summary.severe)),
        ],
    )
}

/// The gap, where there is one, in a sentence.
fn gap_in_short(words: &Words, gap: &Gap) -> Option<String> {
    let share = gap.recorded_share.filter(|_| gap.clear)?;
    Some(words.say("records.gap", &[("share", &words.percent(share))]))
}

fn scoring_row(words: &Words, scored: &Scored) -> ScoringRow {
    let share = |share: &Share| {
        let cows = words.whole(share.cows as f64);
        format!("{cows} ({}; {})", words.percent(share.prevalence), range(words, share.interval))
    };
    let cows = by_score(scored.scoring.scale, &scored.scoring.cows_by_score);
    ScoringRow {
        day: scored.scoring.date.map_or(words.word("own-records.no-day"), |day| words.date(day)),
        scored: words.whole(scored.summary.scored as f64),
        cows: cows.map(|(_, cows)| words.whole(cows as f64)).collect(),
        lame: share(&scored.summary.lame),
        severe: share(&scored.summary.severe),
    }
}

/// What was scored against what was recorded.
fn gap_words(words: &Words, gap: &Gap) -> String {
    let expected = small_percent(words, gap.expected);
    match (gap.clear, gap.recorded_share) {
        (true, Some(share)) => {
            let unrecorded = words.percent(1.0 - share);
            words.say("own-records.gap", &[("expected", &expected), ("unrecorded", &unrecorded)])
        }
        _ => words.say("own-records.no-gap", &[("expected", &expected)]),
    }
}
