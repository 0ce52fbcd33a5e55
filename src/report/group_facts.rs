//! The facts of a group as JSON: the machine contract `underfoot.group/1`. No codes, no names of
//! files, nothing in the order of the cards.

use super::facts::EstimateFacts;
use crate::model::Library;
use crate::reckon::group::disclosure::{Spread, Why};
use crate::reckon::group::{
    Change, FarmPoint, FunnelLimits, GroupOption, GroupOptions, GroupOutcome, Mine, Named, RoundedSum, What,
    Withheld, YearFigures,
};
use serde::Serialize;
use std::collections::BTreeMap;

/// Name and version of the contract.
pub const GROUP_FORMAT: &str = "underfoot.group/1";

/// A figure that is not given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WithheldFacts {
    /// Kind of figure: `everything`, `all-but-medians`, `rates`, `rate-spread`, `score`, `section`,
    /// `factor`, `lesions`, `lesion`, `option` or `change`.
    pub what: &'static str,
    /// Which of its kind, or null.
    pub id: Option<String>,
    /// `too-few-farms`, `one-farm-dominates` or `subtraction`.
    pub why: &'static str,
}

/// Median and quartiles over farms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpreadFacts {
    /// Farms it rests on.
    pub farms: usize,
    /// Median, rounded.
    pub median: f64,
    /// Lower and upper quartile, or null under eight farms.
    pub quartiles: Option<[f64; 2]>,
}

impl From<Spread> for SpreadFacts {
    fn from(spread: Spread) -> Self {
        let Spread { farms, median, quartiles } = spread;
        SpreadFacts { farms, median, quartiles: quartiles.map(|(low, high)| [low, high]) }
    }
}

/// A spread with an id.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NamedFacts {
    /// Id of the factor or section.
    pub id: String,
    /// Its spread.
    #[serde(flatten)]
    pub spread: SpreadFacts,
}

impl From<&Named> for NamedFacts {
    fn from(named: &Named) -> Self {
        NamedFacts { id: named.id.clone(), spread: named.spread.into() }
    }
}

/// One farm of the list.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FarmFacts {
    /// Recorded cases per 100 cow-years.
    pub rate: f64,
    /// Shrunken rate with its 90 % interval.
    pub shrunken: EstimateFacts,
    /// Chance of being among the quarter with the lowest rates.
    pub p_best_quarter: f64,
    /// Chance of being among the quarter with the highest rates.
    pub p_worst_quarter: f64,
}

impl From<FarmPoint> for FarmFacts {
    fn from(point: FarmPoint) -> Self {
        FarmFacts {
            rate: point.rate,
            shrunken: point.shrunken.into(),
            p_best_quarter: point.p_best_quarter,
            p_worst_quarter: point.p_worst_quarter,
        }
    }
}

/// Limits of chance at one size.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LimitFacts {
    /// Cow-years of records.
    pub cow_years: f64,
    /// 95 % limits.
    pub inner: [f64; 2],
    /// 99.8 % limits.
    pub outer: [f64; 2],
}

impl From<FunnelLimits> for LimitFacts {
    fn from(limits: FunnelLimits) -> Self {
        let FunnelLimits { cow_years, inner, outer } = limits;
        LimitFacts { cow_years, inner: [inner.0, inner.1], outer: [outer.0, outer.1] }
    }
}

/// A lesion's share of the group's cases.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LesionShareFacts {
    /// Lesion id.
    pub id: &'static str,
    /// Share, to a twentieth.
    pub share: f64,
}

/// A rounded sum over farms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SumFacts {
    /// Mean.
    pub mean: f64,
    /// 90 % interval, or null in groups too large to draw.
    pub interval: Option<[f64; 2]>,
    /// What the mean is rounded to: no farm's own part is larger.
    pub rounded_to: f64,
}

/// One option over the group.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GroupOptionFacts {
    /// Option id.
    pub id: String,
    /// New cases avoided a year over all farms, or null under eight farms.
    pub cases_avoided: Option<SumFacts>,
    /// Median share of a farm's cases that it avoids.
    pub median_reduction: f64,
}

/// One year's figures.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct YearFacts {
    /// Year.
    pub year: i32,
    /// Cards of the year.
    pub farms: usize,
    /// Recorded cases per 100 cow-years, or null.
    pub rate: Option<SpreadFacts>,
    /// Score, or null.
    pub score: Option<SpreadFacts>,
}

/// A ratio with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RatioFacts {
    /// Ratio.
    pub value: f64,
    /// 95 % interval.
    pub interval: [f64; 2],
}

/// Change since the year before.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChangeFacts {
    /// The year before.
    pub from: i32,
    /// Farms with a card in both years.
    pub farms: usize,
    /// Change of the recorded rate, or null.
    pub rate: Option<SpreadFacts>,
    /// Rate now over rate then, or null.
    pub rate_ratio: Option<RatioFacts>,
    /// Change of the score, or null.
    pub score: Option<SpreadFacts>,
    /// Change of each exposure.
    pub factors: Vec<NamedFacts>,
}

/// A farm's own figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MineFacts {
    /// Its rates and chances, or null.
    pub point: Option<FarmFacts>,
    /// Place by shrunken rate, from 1 for the lowest, or null.
    pub place: Option<usize>,
    /// Of so many, or null.
    pub of: Option<usize>,
    /// Nominal cow-years of its records, or null.
    pub cow_years: Option<f64>,
    /// Limits of chance at its size, or null.
    pub limits: Option<LimitFacts>,
    /// Recorded cases per 100 cow-years, or null.
    pub rate: Option<u32>,
    /// Score, or null.
    pub score: Option<u8>,
    /// Exposures by factor id.
    pub exposures: BTreeMap<String, f64>,
}

/// How the facts were made. The cards are not named: a file's name can be a farm's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GroupMadeWith {
    /// Number of draws.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// Version of the program.
    pub version: &'static str,
}

/// The whole: `underfoot.group/1`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GroupFacts {
    /// [`GROUP_FORMAT`].
    pub format: &'static str,
    /// The last year, of which all but `years` and `change` speaks.
    pub year: i32,
    /// System.
    pub system: &'static str,
    /// Id of the checklist.
    pub checklist: String,
    /// Cards of the last year.
    pub farms: usize,
    /// Those with records of cases.
    pub farms_with_records: usize,
    /// What is not given, and why.
    pub withheld: Vec<WithheldFacts>,
    /// Shape of the spread of rates; null where withheld, or infinite.
    pub shape: Option<f64>,
    /// True where the farms differ no more than chance makes them: the shape is infinite.
    pub no_spread: bool,
    /// Mean rate, cases per 100 cow-years, or null.
    pub mean: Option<f64>,
    /// Recorded rates, or null.
    pub rate: Option<SpreadFacts>,
    /// The farms by shrunken rate, lowest first.
    pub farms_list: Vec<FarmFacts>,
    /// Limits of chance round the mean, by size.
    pub limits: Vec<LimitFacts>,
    /// Scores, or null.
    pub score: Option<SpreadFacts>,
    /// Score by section.
    pub sections: Vec<NamedFacts>,
    /// Exposure by factor, the largest median first.
    pub factors: Vec<NamedFacts>,
    /// Shares of the group's cases by lesion.
    pub lesions: Vec<LesionShareFacts>,
    /// Options, best first.
    pub options: Vec<GroupOptionFacts>,
    /// Every year with cards.
    pub years: Vec<YearFacts>,
    /// Change since the year before, or null.
    pub change: Option<ChangeFacts>,
    /// The farm whose page this is, or null.
    pub mine: Option<MineFacts>,
    /// How it was made.
    pub made_with: GroupMadeWith,
}

fn withheld(withheld: &Withheld) -> WithheldFacts {
    let (what, id) = match &withheld.what {
        What::Everything => ("everything", None),
        What::AllButMedians => ("all-but-medians", None),
        What::Rates => ("rates", None),
        What::RateSpread => ("rate-spread", None),
        What::Score => ("score", None),
        What::Section(id) => ("section", Some(id.clone())),
        What::Factor(id) => ("factor", Some(id.clone())),
        What::Lesions => ("lesions", None),
        What::Lesion(lesion) => ("lesion", Some(lesion.id().to_owned())),
        What::Option(id) => ("option", Some(id.clone())),
        What::Change(year) => ("change", Some(year.to_string())),
    };
    let why = match withheld.why {
        Why::TooFew => "too-few-farms",
        Why::Dominated => "one-farm-dominates",
        Why::Subtraction => "subtraction",
    };
    WithheldFacts { what, id, why }
}

fn option(option: &GroupOption) -> GroupOptionFacts {
    let sum = |sum: RoundedSum| SumFacts {
        mean: sum.mean,
        rounded_to: sum.step,
        interval: sum.interval.map(|(low, high)| [low, high]),
    };
    GroupOptionFacts {
        id: option.id.clone(),
        cases_avoided: option.cases_avoided.map(sum),
        median_reduction: option.median_reduction,
    }
}

fn year(year: &YearFigures) -> YearFacts {
    YearFacts {
        year: year.year,
        farms: year.farms,
        rate: year.rate.map(Into::into),
        score: year.score.map(Into::into),
    }
}

fn change(change: &Change) -> ChangeFacts {
    let ratio = |(value, (low, high))| RatioFacts { value, interval: [low, high] };
    ChangeFacts {
        from: change.from,
        farms: change.farms,
        rate: change.rate.map(Into::into),
        rate_ratio: change.rate_ratio.map(ratio),
        score: change.score.map(Into::into),
        factors: change.factors.iter().map(Into::into).collect(),
    }
}

fn mine(mine: &Mine) -> MineFacts {
    MineFacts {
        point: mine.point.map(Into::into),
        place: mine.place.map(|(place, _)| place),
        of: mine.place.map(|(_, of)| of),
        cow_years: mine.cow_years,
        limits: mine.limits.map(Into::into),
        rate: mine.rate,
        score: mine.score,
        exposures: mine.exposures.iter().cloned().collect(),
    }
}

/// The facts of an outcome.
pub fn group_facts(library: &Library, outcome: &GroupOutcome, options: &GroupOptions) -> GroupFacts {
    GroupFacts {
        format: GROUP_FORMAT,
        year: outcome.year,
        system: outcome.system.id(),
        checklist: library.checklist.id.clone(),
        farms: outcome.farms,
        farms_with_records: outcome.farms_with_records,
        withheld: outcome.withheld.iter().map(withheld).collect(),
        shape: outcome.fit.and_then(|fit| fit.shape),
        no_spread: outcome.fit.is_some_and(|fit| fit.shape.is_none()),
        mean: outcome.fit.map(|fit| fit.mean),
        rate: outcome.rate.map(Into::into),
        farms_list: outcome.farms_list.iter().copied().map(Into::into).collect(),
        limits: outcome.limits.iter().copied().map(Into::into).collect(),
        score: outcome.score.map(Into::into),
        sections: outcome.sections.iter().map(Into::into).collect(),
        factors: outcome.factors.iter().map(Into::into).collect(),
        lesions: outcome
            .lesions
            .iter()
            .map(|(lesion, share)| LesionShareFacts { id: lesion.id(), share: *share })
            .collect(),
        options: outcome.options.iter().map(option).collect(),
        years: outcome.years.iter().map(year).collect(),
        change: outcome.change.as_ref().map(change),
        mine: outcome.mine.as_ref().map(mine),
        made_with: GroupMadeWith {
            draws: options.settings.draws,
            seed: options.settings.seed,
            version: env!("CARGO_PKG_VERSION"),
        },
    }
}
