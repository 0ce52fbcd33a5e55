//! "What your records say" in the report of a walk: the records and scores, the lesions beside the
//! factors that cause them, and what the records changed.

use super::figure::Figure;
use super::number::{self, decimals, list, percent, plural, whole};
use super::own_records_facts::by_score;
use super::records_page::{RecordsPage, range, records_page};
use super::words;
use crate::model::Library;
use crate::model::lesion::Lesion;
use crate::model::walk::Walk;
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

/// The words, without the figures and without the second ranking: what the terminal shows.
pub fn own_records_words(prepared: &Prepared, outcome: &Outcome, own: &OwnRecords) -> OwnRecordsText {
    Chapter::new(prepared, outcome, own, None).text().0
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
            sentences.push(scores_in_short(last));
            sentences.extend(self.said.gap.as_ref().and_then(gap_in_short));
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
                .map_or("–".to_owned(), percent),
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
        let named = shares.iter().take(CAUSES).map(|(title, share)| format!("{title} ({})", percent(*share)));
        let named: Vec<String> = named.collect();
        if named.is_empty() { "nothing that was looked at".to_owned() } else { named.join("; ") }
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
        let at_the_top =
            |change: &&RankChange| change.rank_with <= COMPARED || change.rank_without <= COMPARED;
        let row = |change: &RankChange| EffectRow {
            title: self.title(change),
            rank_with: change.rank_with,
            rank_without: change.rank_without,
            cases_with: mean_and_range(change.cases_with),
            cases_without: mean_and_range(change.cases_without),
        };
        EffectText {
            rate: format!(
                "New cases per 100 cow-years: {} from the walk and herds at large alone; {} with your records.",
                mean_and_range(effect.rate_without),
                mean_and_range(effect.rate_with)
            ),
            words: self.first_places(effect),
            moved: moved(effect),
            rows: effect.ranks.iter().filter(at_the_top).map(row).collect(),
        }
    }

    /// What the records did to the first place.
    fn first_places(&self, effect: &RecordsEffect) -> String {
        let first = |rank: fn(&RankChange) -> usize| effect.ranks.iter().find(|change| rank(change) == 1);
        let (Some(now), Some(before)) = (first(|it| it.rank_with), first(|it| it.rank_without)) else {
            return "There is nothing to rank, with the records or without.".to_owned();
        };
        if now.id == before.id {
            return format!("\"{}\" comes first with these records and without.", self.title(now));
        }
        format!(
            "These records put \"{}\" first; without them it is {}, and \"{}\" leads (now {}).",
            self.title(now),
            ordinal(now.rank_without),
            self.title(before),
            ordinal(before.rank_with)
        )
    }

    fn scores(&self) -> Option<ScoresText> {
        let scale = self.said.scored.last()?.scoring.scale;
        let (lowest, highest) = scale.bounds();
        let most = self.said.scored.iter().map(|scored| scored.summary.scored).max().unwrap_or(0);
        let caution = (most > self.walk.cows).then(|| {
            format!(
                "{} were scored, but the herd is given as {}: check both.",
                plural(most, "cow", "cows"),
                whole(self.walk.cows as f64)
            )
        });
        Some(ScoresText {
            scale: scale.id(),
            lame_from: scale.lame_from(),
            severe_from: scale.severe_from(),
            scores: (lowest..=highest).collect(),
            rows: self.said.scored.iter().map(scoring_row).collect(),
            herds: self.herds(),
            gap: self.said.gap.as_ref().map_or(String::new(), gap_words),
            caution: caution.unwrap_or_default(),
        })
    }

    fn herds(&self) -> String {
        let burden = self.library.burden.system(self.walk.system);
        burden.prevalence_beta.map_or(String::new(), |(a, b)| {
            format!(
                "In scored {} herds {} were lame on average, on any scale; scales differ, so set your own scorings \
                 beside each other rather than beside that.",
                words::system_words(self.walk.system),
                percent(a / (a + b))
            )
        })
    }
}

/// "12.3 (8 to 21)".
fn mean_and_range(estimate: Estimate) -> String {
    format!("{} ({})", decimals(estimate.mean, 1), number::count_range(estimate.interval))
}

/// A percentage, with a decimal where it is small.
fn small_percent(share: f64) -> String {
    if share < 0.095 { format!("{}%", decimals(100.0 * share, 1)) } else { percent(share) }
}

fn moved(effect: &RecordsEffect) -> String {
    let moved = effect.ranks.iter().filter(|it| it.rank_with != it.rank_without).count() as u64;
    let options = plural(effect.ranks.len() as u64, "option", "options");
    match moved {
        0 => format!("None of the {options} changed places."),
        moved => format!("{} of the {options} changed places.", whole(moved as f64)),
    }
}

/// "1st", "22nd", "13th".
fn ordinal(place: usize) -> String {
    let ending = match (place % 10, place % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{place}{ending}")
}

fn cases_in_short(library: &Library, summary: &CaseSummary) -> String {
    let rate = &summary.rate;
    let first = format!(
        "{} from {} to {}: {} for every 100 cows a year ({} to {}, allowing for chance).",
        plural(summary.cases, "new case", "new cases"),
        number::date(summary.period.from),
        number::date(summary.period.to),
        decimals(rate.per_100_cow_years, 1),
        decimals(rate.interval.0, 1),
        decimals(rate.interval.1, 1)
    );
    let then = match &summary.top {
        Some(top) => {
            let names = top.lesions.iter().map(|lesion| words::lesion_in_list(library, *lesion));
            let names: Vec<String> = names.collect();
            format!("Mostly {} ({} of those with a lesion written down).", list(&names), percent(top.share))
        }
        None => format!(
            "Too few with a lesion written down to say which kind you have: it takes {FEWEST_FOR_PATTERN}."
        ),
    };
    format!("{first} {then}")
}

/// The last scoring, with its scale and cut-offs.
fn scores_in_short(scored: &Scored) -> String {
    let Scored { scoring, summary } = scored;
    let (_, highest) = scoring.scale.bounds();
    let from = |share: &Share| match share.from_score == highest {
        true => format!("score {highest}"),
        false => format!("score {} or more", share.from_score),
    };
    format!(
        "On {}, {} of {} scored were lame ({} on the scale {}): {} ({}); {} severely ({}).",
        day(scored),
        whole(summary.lame.cows as f64),
        plural(summary.scored, "cow", "cows"),
        from(&summary.lame),
        scoring.scale.id(),
        percent(summary.lame.prevalence),
        range(summary.lame.interval),
        whole(summary.severe.cows as f64),
        from(&summary.severe),
    )
}

/// The gap, where there is one, in a sentence.
fn gap_in_short(gap: &Gap) -> Option<String> {
    let share = gap.recorded_share.filter(|_| gap.clear)?;
    Some(format!(
        "The records would account for about {} of these: lame cows are more than anybody writes down, and \
         more than the cases counted here.",
        percent(share)
    ))
}

fn day(scored: &Scored) -> String {
    scored.scoring.date.map_or("a day not given".to_owned(), number::date)
}

fn scoring_row(scored: &Scored) -> ScoringRow {
    let share = |share: &Share| {
        format!("{} ({}; {})", whole(share.cows as f64), percent(share.prevalence), range(share.interval))
    };
    let cows = by_score(scored.scoring.scale, &scored.scoring.cows_by_score);
    ScoringRow {
        day: scored.scoring.date.map_or("not given".to_owned(), number::date),
        scored: whole(scored.summary.scored as f64),
        cows: cows.map(|(_, cows)| whole(cows as f64)).collect(),
        lame: share(&scored.summary.lame),
        severe: share(&scored.summary.severe),
    }
}

/// What was scored against what was recorded.
fn gap_words(gap: &Gap) -> String {
    let expected = format!(
        "The recorded cases alone would give about {} of the herd lame on any day",
        small_percent(gap.expected)
    );
    match (gap.clear, gap.recorded_share) {
        (true, Some(share)) => format!(
            "{expected}, so about {} of the lameness seen that day is in no record: cows nobody wrote down, and \
             the days before and after a recorded case. Farmers know of about three lame cows in ten \
             (eight studies); this is how lameness hides, not a fault. Every number of cases in this report counts recorded cases: \
             the true ones are more.",
            percent(1.0 - share)
        ),
        _ => format!("{expected}: no clear gap between what was scored and what was recorded."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_said_as_people_say_them() {
        let said: Vec<String> = [1, 2, 3, 4, 11, 12, 13, 21, 102, 111].map(ordinal).into();
        assert_eq!(said.join(" "), "1st 2nd 3rd 4th 11th 12th 13th 21st 102nd 111th");
    }
}
