//! What the farm's own records and scores say beside the walk, and what the records changed.

use super::herd_rate::RateDraws;
use super::locomotion::{Gap, LocomotionSummary, expected_prevalence, gap, summarise_scores};
use super::records::{CaseSummary, summarise_counts};
use super::{Estimate, OptionOutcome, Outcome, Prepared};
use crate::model::case_record::Scoring;
use crate::model::lesion::PerLesion;

/// The farm's tables as they were read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnRecords {
    /// The file of cases.
    pub cases: Option<CaseFile>,
    /// Scorings of the herd, the earliest first.
    pub scorings: Vec<Scoring>,
}

/// A file of cases that was read and counted.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseFile {
    /// What it says.
    pub summary: CaseSummary,
    /// Bad rows that were left out on request.
    pub rows_left_out: u64,
    /// Words for lesions that were not known and count as `other`.
    pub counted_as_other: Vec<String>,
}

/// A scoring with what it says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// Cows by score.
    pub scoring: Scoring,
    /// Prevalence.
    pub summary: LocomotionSummary,
}

/// What the farm's own records and scores say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RecordsOutcome {
    /// The cases: of the file, or of the counts of the walk record; `None` without either.
    pub cases: Option<CaseFile>,
    /// Scorings in which a cow was scored, the earliest first.
    pub scored: Vec<Scored>,
    /// The last scoring against the recorded cases.
    pub gap: Option<Gap>,
}

/// One option, ranked with the farm's records and as if there were none.
#[derive(Clone, Debug, PartialEq)]
pub struct RankChange {
    /// Option id, with `:segment` where per segment.
    pub id: String,
    /// Index in the library's interventions.
    pub intervention: usize,
    /// Index in the walk's segments.
    pub segment: Option<usize>,
    /// Place with the records, from 1.
    pub rank_with: usize,
    /// Place without them.
    pub rank_without: usize,
    /// Cases avoided a year with the records.
    pub cases_with: Estimate,
    /// The same without them.
    pub cases_without: Estimate,
}

/// What the records changed.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordsEffect {
    /// New cases per 100 cow-years with the records.
    pub rate_with: Estimate,
    /// The same from the walk and herds at large alone.
    pub rate_without: Estimate,
    /// Every option, in the order of the ranking with the records.
    pub ranks: Vec<RankChange>,
}

impl Prepared<'_> {
    /// What the farm's own records and scores say.
    ///
    /// The gap sets the last scoring against the prevalence that the recorded rate would give, the
    /// lesions weighed by the farm's mix and their mean durations.
    pub fn own_records(&self, own: &OwnRecords) -> RecordsOutcome {
        let counted = || self.walk.records.as_ref().and_then(summarise_counts);
        let from_counts = || {
            let summary = counted()?;
            Some(CaseFile { summary, rows_left_out: 0, counted_as_other: Vec::new() })
        };
        let cases = own.cases.clone().or_else(from_counts);
        let scored = own.scorings.iter().filter_map(|scoring| {
            let summary = summarise_scores(scoring, Some(self.walk.cows), None)?;
            Some(Scored { scoring: *scoring, summary })
        });
        let scored: Vec<Scored> = scored.collect();
        let expected = cases.as_ref().and_then(|cases| self.expected_prevalence(&cases.summary));
        let gap = scored.last().zip(expected).map(|(last, expected)| gap(&last.summary.lame, expected));
        RecordsOutcome { cases, scored, gap }
    }

    fn expected_prevalence(&self, summary: &CaseSummary) -> Option<f64> {
        let durations = &self.library.burden.system(self.walk.system).duration_days;
        let mean_days = PerLesion::from_fn(|lesion| durations[lesion].mean());
        expected_prevalence(summary.rate.per_100_cow_years, &self.herd.mean_mix(), &mean_days)
    }

    /// The ranking beside the one that the farm would get had it kept no records; `None` where it
    /// has kept none.
    pub fn records_effect(&self, outcome: &Outcome) -> Option<RecordsEffect> {
        self.herd.records?;
        let without = self.without_records();
        let rate_without = Estimate::of(without.setting.rates.rate_per_100_cow_years.clone());
        let cases_without = without.walk.cows as f64 / 100.0 * rate_without.mean;
        let ranked = without.ranked(cases_without);
        let change = |with: &OptionOutcome| {
            let without = ranked.iter().find(|option| option.id == with.id)?;
            Some(RankChange {
                id: with.id.clone(),
                intervention: with.intervention,
                segment: with.segment,
                rank_with: with.rank,
                rank_without: without.rank,
                cases_with: with.cases_avoided,
                cases_without: without.cases_avoided,
            })
        };
        Some(RecordsEffect {
            rate_with: outcome.burden.rate_per_100_cow_years,
            rate_without,
            ranks: outcome.options.iter().filter_map(change).collect(),
        })
    }

    /// The same farm as if it had kept no records. The walk still names them; nothing of what is
    /// reckoned from here on looks there.
    fn without_records(&self) -> Self {
        let herd = self.herd.before_records(self.library.burden.constants.mix_concentration);
        let mut without = self.clone();
        without.setting.rates = RateDraws::new(&herd, &self.draws);
        without.herd = herd;
        without
    }
}
