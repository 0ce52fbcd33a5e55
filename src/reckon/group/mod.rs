//! A group of farms from their cards: rates, spreads, what most farms share, what the group could do
//! together, and how it changed.
//!
//! Everything in a [`GroupOutcome`] may be published: it is withheld, coarsened and rounded here, by the
//! rules of [`disclosure`], so that no page or file can give more away. What concerns one farm alone
//! is in [`Mine`], made only for that farm's code.

pub mod disclosure;
mod make_card;
mod options;
mod rates;
mod years;

pub use make_card::make_card;
pub use options::{GroupOption, RoundedSum};
pub use rates::{FunnelLimits, funnel_limits};
pub use years::{Change, YearFigures};

use super::stats::draws::Draws;
use super::weights::{self, FactorWeight};
use super::{Estimate, Settings, herd_rate, score};
use crate::model::card::{Card, Tenths};
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::{Library, System};
use disclosure::{
    FEWEST, FEWEST_FOR_QUARTILES, Spread, Why, judge_line, quarters, rounded, rounded_to, spread,
};
use rates::{GroupRates, group_rates};

/// Step of a score, points of 100.
const SCORE_STEP: f64 = 5.0;
/// Step of a rate where medians alone are given, cases per 100 cow-years.
const RATE_STEP: f64 = 5.0;
/// Parts of the unit of a lesion's share of the group's cases.
const LESION_PARTS: f64 = 20.0;
/// Parts of the unit of a chance.
const CHANCE_PARTS: f64 = 20.0;
/// Cow-years at which the limits of chance are given.
const FUNNEL_SIZES: [f64; 12] =
    [50.0, 75.0, 100.0, 150.0, 225.0, 300.0, 400.0, 500.0, 650.0, 800.0, 1_000.0, 1_300.0];

/// How a group is reckoned.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct GroupOptions {
    /// The code of the farm whose own page is wanted.
    pub mine: Option<String>,
    /// Draws and seed; the ranking plays no part.
    pub settings: Settings,
}

/// Why there is no outcome.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GroupRefusal {
    /// There are no cards.
    NoCards,
    /// The number of draws is no power of two from 256 to 65,536.
    Draws(usize),
    /// No card of the last year has the code.
    UnknownCode {
        /// The code asked for.
        code: String,
        /// The last year.
        year: i32,
    },
}

/// A figure that is not given.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// Every figure of the group.
    Everything,
    /// Quartiles, mean, spread, list of farms, limits of chance and sums.
    AllButMedians,
    /// Every figure of the farms' rates.
    Rates,
    /// Mean, spread, list of farms and limits of chance.
    RateSpread,
    /// The score.
    Score,
    /// A section of the checklist, by id.
    Section(String),
    /// A risk factor, by id.
    Factor(String),
    /// The shares of all lesions.
    Lesions,
    /// One lesion.
    Lesion(Lesion),
    /// What an option would bring, by id.
    Option(String),
    /// The change since an earlier year.
    Change(i32),
}

/// A figure that is not given, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Withheld {
    /// What.
    pub what: What,
    /// Why.
    pub why: Why,
}

/// Mean and spread of the rates over farms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateFit {
    /// Mean, cases per 100 cow-years, to 0.1.
    pub mean: f64,
    /// Shape of the Gamma spread, to two figures; `None` where the farms differ no more than chance
    /// makes them (an infinite shape).
    pub shape: Option<f64>,
}

/// A farm of the list: nothing but its rates, to 0.1, with chances to a twentieth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FarmPoint {
    /// Recorded cases per 100 cow-years, whole as on the card: the rate of a nominal count would tell the
    /// band by its decimals.
    pub rate: f64,
    /// Shrunken rate with its 90 % interval.
    pub shrunken: Estimate,
    /// Chance of being among the quarter with the lowest rates.
    pub p_best_quarter: f64,
    /// Chance of being among the quarter with the highest rates.
    pub p_worst_quarter: f64,
}

/// The spread of something with an id.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Id of the factor or section.
    pub id: String,
    /// Its spread over the farms.
    pub spread: Spread,
}

/// A farm's own figures, for its own page alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Mine {
    /// Its rate, shrunken rate and chances; `None` without records or where the group gives none.
    pub point: Option<FarmPoint>,
    /// Its place by shrunken rate, from 1 for the lowest, of so many.
    pub place: Option<(usize, usize)>,
    /// Nominal cow-years of its records; `None` without.
    pub cow_years: Option<f64>,
    /// Limits of chance at its own size.
    pub limits: Option<FunnelLimits>,
    /// Recorded cases per 100 cow-years, as on its card.
    pub rate: Option<u32>,
    /// Score, as on its card.
    pub score: Option<u8>,
    /// Exposures by factor id, as on its card.
    pub exposures: Vec<(String, f64)>,
}

/// All that may be said of a group.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupOutcome {
    /// The last year, of which all but the change over years speaks.
    pub year: i32,
    /// System of the herds.
    pub system: System,
    /// Cards of the last year.
    pub farms: usize,
    /// Those with records of cases.
    pub farms_with_records: usize,
    /// What is not given, and why.
    pub withheld: Vec<Withheld>,
    /// Recorded rates over the farms, cases per 100 cow-years.
    pub rate: Option<Spread>,
    /// Mean and spread of the rates.
    pub fit: Option<RateFit>,
    /// The farms by shrunken rate, lowest first; empty where withheld and on a farm's own page.
    pub farms_list: Vec<FarmPoint>,
    /// Limits of chance at several sizes.
    pub limits: Vec<FunnelLimits>,
    /// Scores over the farms.
    pub score: Option<Spread>,
    /// Score of each section, in the order of the checklist.
    pub sections: Vec<Named>,
    /// Exposure to each factor, 0–1, the largest median first.
    pub factors: Vec<Named>,
    /// Shares of the group's cases by lesion, largest first.
    pub lesions: Vec<(Lesion, f64)>,
    /// What would avoid most cases over the group, best first.
    pub options: Vec<GroupOption>,
    /// Every year with cards, first to last.
    pub years: Vec<YearFigures>,
    /// Change since the year before, over the farms that have a card in both.
    pub change: Option<Change>,
    /// The farm whose page this is.
    pub mine: Option<Mine>,
}

/// The group's farms in one fixed order, with what the library makes of them.
struct Group<'a> {
    library: &'a Library,
    system: System,
    weights: Vec<FactorWeight>,
    kappa: f64,
    /// Cards of the last year.
    cards: Vec<&'a Card>,
    /// Exposures, one row a farm, beside the weights.
    exposures: Vec<Vec<Option<Tenths>>>,
    /// Places in `cards` of the farms with records.
    with_records: Vec<usize>,
    draws: Draws,
}

/// Reckons a group from cards of one checklist, at most one a code and year. The order of the cards
/// plays no part.
///
/// # Errors
/// [`GroupRefusal`].
pub fn group(
    cards: &[Card],
    library: &Library,
    options: &GroupOptions,
) -> Result<GroupOutcome, GroupRefusal> {
    let settings = options.settings;
    let draws = Draws::new(settings.draws, settings.seed).ok_or(GroupRefusal::Draws(settings.draws))?;
    let year = cards.iter().map(|card| card.year).max().ok_or(GroupRefusal::NoCards)?;
    let group = Group::new(cards, library, year, draws);
    let mine = match &options.mine {
        None => None,
        Some(code) => {
            let unknown = || GroupRefusal::UnknownCode { code: code.clone(), year };
            Some(group.cards.iter().position(|card| card.code == *code).ok_or_else(unknown)?)
        }
    };
    let mut outcome = group.outcome(year, mine);
    outcome.years = years::figures(cards);
    if group.cards.len() >= FEWEST {
        match years::change(cards, year) {
            None => {}
            Some(Ok(change)) => outcome.change = Some(change),
            Some(Err(from)) => outcome.withhold(What::Change(from), Why::TooFew),
        }
    }
    Ok(outcome)
}

impl GroupOutcome {
    fn withhold(&mut self, what: What, why: Why) {
        self.withheld.push(Withheld { what, why });
    }
}

impl<'a> Group<'a> {
    fn new(cards: &'a [Card], library: &'a Library, year: i32, draws: Draws) -> Group<'a> {
        let system = library.checklist.system;
        let burden = library.burden.system(system);
        let weights = weights::weights(library, system);
        let kappa =
            herd_rate::plausibility(library, &weights, &burden.lesion_mix, burden.incidence_shape).kappa;
        let mut cards: Vec<&Card> = cards.iter().filter(|card| card.year == year).collect();
        cards.sort_by(|a, b| order(a).cmp(&order(b)));
        let row = |card: &&Card| {
            weights.iter().map(|w| card.exposure(&library.factors[w.factor].id)).collect::<Vec<_>>()
        };
        let exposures = cards.iter().map(row).collect();
        let with_records = (0..cards.len()).filter(|farm| cards[*farm].nominal_cases().is_some()).collect();
        Group { library, system, weights, kappa, cards, exposures, with_records, draws }
    }

    fn outcome(&self, year: i32, mine: Option<usize>) -> GroupOutcome {
        let mut outcome = GroupOutcome {
            year,
            system: self.system,
            farms: self.cards.len(),
            farms_with_records: self.with_records.len(),
            withheld: Vec::new(),
            rate: None,
            fit: None,
            farms_list: Vec::new(),
            limits: Vec::new(),
            score: None,
            sections: Vec::new(),
            factors: Vec::new(),
            lesions: Vec::new(),
            options: Vec::new(),
            years: Vec::new(),
            change: None,
            mine: mine.map(|farm| self.mine(farm)),
        };
        if self.cards.len() < FEWEST {
            outcome.withhold(What::Everything, Why::TooFew);
            return outcome;
        }
        if self.cards.len() < FEWEST_FOR_QUARTILES {
            outcome.withhold(What::AllButMedians, Why::TooFew);
        }
        let rates = self.rates();
        self.publish_rates(rates.as_ref(), mine, &mut outcome);
        self.publish_spreads(&mut outcome);
        self.publish_lesions(&mut outcome);
        let shrunken = self.shrunken(rates.as_ref());
        self.publish_options(&shrunken, &mut outcome);
        outcome
    }

    /// The fitted rates of the farms with records.
    fn rates(&self) -> Option<GroupRates> {
        let counts: Vec<rates::Count> =
            self.with_records.iter().filter_map(|farm| self.cards[*farm].nominal_cases()).collect();
        if counts.len() < FEWEST { None } else { group_rates(&counts, &self.draws) }
    }

    /// Every farm's rate: shrunken, or the mean where there are no records; with too few records over
    /// the group, towards herds at large.
    fn shrunken(&self, rates: Option<&GroupRates>) -> Vec<f64> {
        let burden = self.library.burden.system(self.system);
        let (shape, mean) = (burden.incidence_shape, burden.incidence_mean_per_100_cow_years);
        let mut all: Vec<f64> = match rates {
            Some(rates) => vec![rates.fit.mean; self.cards.len()],
            None => self
                .cards
                .iter()
                .map(|card| card.nominal_cases().unwrap_or((0, 0.0)))
                .map(|(x, t)| (shape + x as f64) / (shape / mean + t))
                .collect(),
        };
        for (farm, rate) in self.with_records.iter().zip(rates.iter().flat_map(|rates| &rates.farms)) {
            all[*farm] = rate.shrunken.mean;
        }
        all
    }

    fn publish_rates(&self, rates: Option<&GroupRates>, mine: Option<usize>, outcome: &mut GroupOutcome) {
        let Some(rates) = rates else {
            outcome.withhold(What::Rates, Why::TooFew);
            return;
        };
        let recorded = self.with_records.iter().filter_map(|farm| self.cards[*farm].cases_per_100_cow_years);
        outcome.rate = rate_spread(recorded.map(f64::from).collect());
        if rates.farms.len() < FEWEST_FOR_QUARTILES {
            if self.cards.len() >= FEWEST_FOR_QUARTILES {
                outcome.withhold(What::RateSpread, Why::TooFew);
            }
            return;
        }
        outcome.fit =
            Some(RateFit { mean: rounded(rates.fit.mean, 10.0), shape: rates.fit.shape.map(two_figures) });
        outcome.limits = FUNNEL_SIZES
            .iter()
            .filter_map(|size| funnel_limits(rates.fit.mean, *size))
            .map(published)
            .collect();
        match (mine, &mut outcome.mine) {
            (Some(farm), Some(own)) => self.place(farm, rates, own),
            _ => outcome.farms_list = points(rates),
        }
    }

    /// A farm's own place among the others.
    fn place(&self, farm: usize, rates: &GroupRates, own: &mut Mine) {
        let Some(at) = self.with_records.iter().position(|other| *other == farm) else { return };
        let Some(rate) = rates.farms.get(at) else { return };
        let below = rates.farms.iter().filter(|other| other.shrunken.mean < rate.shrunken.mean).count();
        own.point = Some(point(rate));
        own.place = Some((below + 1, rates.farms.len()));
        own.limits = own.cow_years.and_then(|size| funnel_limits(rates.fit.mean, size)).map(published);
    }

    fn mine(&self, farm: usize) -> Mine {
        let card = self.cards[farm];
        Mine {
            point: None,
            place: None,
            cow_years: card.nominal_cases().map(|(_, hundreds)| 100.0 * hundreds),
            limits: None,
            rate: card.cases_per_100_cow_years,
            score: card.score,
            exposures: card.exposures.iter().map(|(id, x)| (id.to_string(), x.share())).collect(),
        }
    }

    fn publish_spreads(&self, outcome: &mut GroupOutcome) {
        outcome.score = score_spread(&self.cards);
        if outcome.score.is_none() {
            outcome.withhold(What::Score, Why::TooFew);
        }
        for section in &self.library.checklist.sections {
            let factors: Vec<&str> = section.items.iter().map(|item| item.factor.as_str()).collect();
            let values = self.exposures.iter().filter_map(|row| self.section_score(row, &factors)).collect();
            match spread(values, 1.0 / SCORE_STEP) {
                Some(spread) => outcome.sections.push(Named { id: section.id.clone(), spread }),
                None => outcome.withhold(What::Section(section.id.clone()), Why::TooFew),
            }
        }
        for (at, weight) in self.weights.iter().enumerate() {
            let id = &self.library.factors[weight.factor].id;
            let values: Vec<f64> = self.exposures.iter().filter_map(|row| row[at]).map(quarters).collect();
            let asked = self.library.checklist.items().any(|item| item.factor == *id);
            if values.is_empty() && !asked {
                continue;
            }
            match spread(values, EXPOSURE_PARTS) {
                Some(spread) => outcome.factors.push(Named { id: id.clone(), spread }),
                None => outcome.withhold(What::Factor(id.clone()), Why::TooFew),
            }
        }
        // Stable: factors of one median stay in the order of the file.
        outcome.factors.sort_by(|a, b| b.spread.median.total_cmp(&a.spread.median));
    }

    /// The score of a section, from coarsened exposures, so that a section of one item tells no more of
    /// a farm than the factor's own figures.
    fn section_score(&self, row: &[Option<Tenths>], factors: &[&str]) -> Option<f64> {
        let mix = &self.library.burden.system(self.system).lesion_mix;
        let (mut top, mut bottom) = (0.0, 0.0);
        for (weight, x) in self.weights.iter().zip(row) {
            let Some(x) = x else { continue };
            if factors.contains(&self.library.factors[weight.factor].id.as_str()) {
                let w = score::score_weight(weight, mix);
                top += w * quarters(*x);
                bottom += w;
            }
        }
        (bottom > 0.0).then(|| rounded_to(100.0 * top / bottom, SCORE_STEP))
    }

    /// Shares of the group's cases by lesion: a line that adds up to 1.
    fn publish_lesions(&self, outcome: &mut GroupOutcome) {
        let farms: Vec<PerLesion<f64>> = self
            .cards
            .iter()
            .filter_map(|card| {
                let (shares, (cases, _)) = (card.lesion_shares?, card.nominal_cases()?);
                let sum: f64 = shares.0.iter().map(|share| share.share()).sum();
                Some(PerLesion::from_fn(|lesion| cases as f64 * shares[lesion].share() / sum))
            })
            .collect();
        if farms.len() < FEWEST_FOR_QUARTILES {
            if self.cards.len() >= FEWEST_FOR_QUARTILES {
                outcome.withhold(What::Lesions, Why::TooFew);
            }
            return;
        }
        let line = Lesion::ALL.map(|lesion| farms.iter().map(|farm| farm[lesion]).collect::<Vec<f64>>());
        let total: f64 = farms.iter().map(PerLesion::sum).sum();
        for ((lesion, cell), why) in Lesion::ALL.into_iter().zip(&line).zip(judge_line(&line)) {
            match why {
                Some(why) => outcome.withhold(What::Lesion(lesion), why),
                None => {
                    let share = cell.iter().sum::<f64>() / total;
                    outcome.lesions.push((lesion, rounded(share, LESION_PARTS)));
                }
            }
        }
        outcome.lesions.sort_by(|(_, a), (_, b)| b.total_cmp(a));
    }

    fn publish_options(&self, shrunken: &[f64], outcome: &mut GroupOutcome) {
        let (options, withheld) = options::options(self, shrunken);
        outcome.options = options;
        for (id, why) in withheld {
            outcome.withhold(What::Option(id), why);
        }
    }
}

/// Parts of the unit of an exposure's median.
const EXPOSURE_PARTS: f64 = 20.0;

/// Everything of a card but its code, so that the order of farms is theirs and not that of the files.
fn order(card: &Card) -> impl Ord + '_ {
    let shares = card.lesion_shares.map(|shares| shares.0);
    let records = (card.cases_per_100_cow_years, card.months_of_records, card.herd_band);
    (records, card.score, shares, &card.exposures)
}

/// The spread of recorded rates: coarsened where medians alone are given, since there is no list of
/// farms then that holds them.
fn rate_spread(rates: Vec<f64>) -> Option<Spread> {
    let coarse = rates.len() < FEWEST_FOR_QUARTILES;
    let rates = rates.into_iter().map(|rate| if coarse { rounded_to(rate, RATE_STEP) } else { rate });
    spread(rates.collect(), 1.0)
}

fn score_spread(cards: &[&Card]) -> Option<Spread> {
    let scores = cards.iter().filter_map(|card| card.score).map(|s| rounded_to(f64::from(s), SCORE_STEP));
    spread(scores.collect(), 1.0 / SCORE_STEP)
}

fn point(farm: &rates::FarmRate) -> FarmPoint {
    let tenth = |value| rounded(value, 10.0);
    let (low, high) = farm.shrunken.interval;
    FarmPoint {
        rate: libm::round(farm.rate),
        shrunken: Estimate { mean: tenth(farm.shrunken.mean), interval: (tenth(low), tenth(high)) },
        p_best_quarter: rounded(farm.p_best_quarter, CHANCE_PARTS),
        p_worst_quarter: rounded(farm.p_worst_quarter, CHANCE_PARTS),
    }
}

/// The list of farms: sorted by what it shows and nothing else.
fn points(rates: &GroupRates) -> Vec<FarmPoint> {
    let mut points: Vec<FarmPoint> = rates.farms.iter().map(point).collect();
    points.sort_by(|a, b| {
        let key = |p: &FarmPoint| [p.shrunken.mean, p.rate, p.shrunken.interval.0, p.p_best_quarter];
        key(a)
            .iter()
            .zip(key(b))
            .map(|(a, b)| a.total_cmp(&b))
            .find(|o| o.is_ne())
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    points
}

/// Limits to 0.1: more digits would give the mean to more than its own.
fn published(limits: FunnelLimits) -> FunnelLimits {
    let pair = |(low, high)| (rounded(low, 10.0), rounded(high, 10.0));
    FunnelLimits { inner: pair(limits.inner), outer: pair(limits.outer), ..limits }
}

/// Two significant figures.
fn two_figures(value: f64) -> f64 {
    let decade = libm::floor(libm::log10(value));
    if !decade.is_finite() {
        return value;
    }
    rounded(value, libm::pow(10.0, 1.0 - decade))
}

#[cfg(test)]
mod tests;
