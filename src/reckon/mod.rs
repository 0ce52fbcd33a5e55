//! The engine: from a library and a walk to an outcome. Pure: no files, clock, threads, environment
//! or printing; every transcendental function is `libm`'s, every sum has a fixed order, so that the
//! same input gives the same bytes on every machine.
//!
//! One file per step, in the order in which [`prepare`] and [`reckon`] call them.

pub mod attribution;
pub mod effects;
pub mod exposure;
pub mod group;
pub mod herd_rate;
pub mod interventions;
pub mod locomotion;
pub mod own_records;
pub mod plan;
pub mod prices;
pub mod ranking;
pub mod records;
pub mod revisit;
pub mod sample;
pub mod score;
pub mod sets;
pub mod stats;
pub mod weights;

use crate::model::Library;
use crate::model::lesion::PerLesion;
use crate::model::walk::Walk;
use attribution::Attribution;
use exposure::Exposure;
use herd_rate::{HerdRate, Plausibility, RateDraws};
use interventions::{FarmOption, Gain, Setting};
use prices::{OptionCost, Withheld};
use score::Score;
use stats::draws::Draws;
use stats::summary::{central_interval, mean};
use weights::{FactorWeight, WeightDraws};

/// Level of the intervals that come from the draws.
pub const LEVEL: f64 = 0.90;

/// First dimension of the durations in the common stream.
const DURATION_DIMENSION: usize = 8;
/// First dimension of the factors in the common stream: a factor's is this plus its place among the
/// ids of the factors file in alphabetical order, so that neither an added option nor the order of a
/// file moves a draw.
const FACTOR_DIMENSION: usize = 22;

/// What the options are ranked by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum RankBy {
    /// Cases avoided a year.
    #[default]
    Cases,
    /// Lame cow-days avoided a year.
    LameDays,
    /// Net benefit a year.
    NetBenefit,
}

impl RankBy {
    /// Every measure.
    pub const ALL: [RankBy; 3] = [RankBy::Cases, RankBy::LameDays, RankBy::NetBenefit];

    /// The id on the command line and in results.
    pub fn id(self) -> &'static str {
        match self {
            RankBy::Cases => "cases",
            RankBy::LameDays => "lame-days",
            RankBy::NetBenefit => "net-benefit",
        }
    }
}

/// How to reckon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Number of draws: a power of two from 256 to 65,536.
    pub draws: usize,
    /// Seed of the scrambling.
    pub seed: u64,
    /// What the options are ranked by.
    pub rank_by: RankBy,
}

impl Default for Settings {
    fn default() -> Self {
        Settings { draws: 4096, seed: 1, rank_by: RankBy::Cases }
    }
}

/// Why there is no outcome.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The number of draws is no power of two from 256 to 65,536.
    Draws(usize),
    /// Ranking by net benefit, with money withheld for these reasons (at least one).
    RankByMoney(Vec<Withheld>),
}

/// A mean with its central interval of level [`LEVEL`] over the draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Mean.
    pub mean: f64,
    /// Lower and upper end.
    pub interval: (f64, f64),
}

impl Estimate {
    /// The estimate from draws, which it may put in another order.
    pub fn of(mut draws: Vec<f64>) -> Estimate {
        let mean = mean(&draws);
        // Draws are finite by construction; were one not, an interval of NaN is shown as "not known".
        let interval = central_interval(&mut draws, LEVEL).unwrap_or((f64::NAN, f64::NAN));
        Estimate { mean, interval }
    }
}

/// One factor of the outcome.
#[derive(Clone, Debug)]
pub struct FactorOutcome {
    /// The weight and all that led to it.
    pub weight: FactorWeight,
    /// Standard deviation of the all-lameness weight over the draws, before overlap.
    pub log_rr_sd: f64,
    /// What the factor counts for in the score, after overlap, never below 0.
    pub score_weight: f64,
    /// Exposure; `None` where no item was answered.
    pub exposure: Option<Estimate>,
    /// By segment, means, where asked per segment and answered.
    pub exposure_by_segment: Option<Vec<f64>>,
    /// For each segment, whether anyone looked there; empty where not asked per segment.
    pub looked_at: Vec<bool>,
    /// Cases a year attributed to it.
    pub attributed: Option<attribution::Attributed>,
}

/// The farm's burden of lameness.
#[derive(Clone, Debug)]
pub struct BurdenOutcome {
    /// Prior and posterior of the rate and mix.
    pub herd: HerdRate,
    /// New cases per 100 cow-years.
    pub rate_per_100_cow_years: Estimate,
    /// New cases a year in the herd.
    pub cases_per_year: Estimate,
    /// The same by lesion.
    pub by_lesion: PerLesion<Estimate>,
    /// Lame cow-days a year.
    pub lame_days_per_year: Estimate,
    /// Money lost a year; `None` where withheld.
    pub cost_per_year: Option<Estimate>,
    /// Cases that nothing that was looked at explains.
    pub unexplained: Estimate,
    /// The same by lesion, means.
    pub unexplained_by_lesion: PerLesion<f64>,
}

/// Money of one option.
#[derive(Clone, Debug, PartialEq)]
pub struct OptionMoney {
    /// Spent once.
    pub capital: Estimate,
    /// Running cost a year.
    pub running: Estimate,
    /// Capital spread over its life, plus running cost.
    pub yearly_cost: Estimate,
    /// Saved less yearly cost; `None` where costs per case are withheld.
    pub net_benefit: Option<Estimate>,
    /// Mean capital over mean yearly gain; `None` where that is not positive.
    pub payback_years: Option<f64>,
    /// Chance that the net benefit is above 0.
    pub p_pays: Option<f64>,
    /// True where any price is the farm's own.
    pub own: bool,
}

/// One option of the outcome, in the order of the ranking.
#[derive(Clone, Debug)]
pub struct OptionOutcome {
    /// Id, with `:segment` where per segment.
    pub id: String,
    /// Index in [`Library::interventions`].
    pub intervention: usize,
    /// Index in [`Walk::segments`].
    pub segment: Option<usize>,
    /// Place in the ranking, from 1.
    pub rank: usize,
    /// Cases avoided a year.
    pub cases_avoided: Estimate,
    /// Mean cases avoided over mean cases.
    pub reduction: f64,
    /// Lame cow-days avoided a year.
    pub lame_days_avoided: Estimate,
    /// Money saved a year; `None` where costs per case are withheld.
    pub saved: Option<Estimate>,
    /// What it costs and leaves, or why that can't be said.
    pub money: Result<OptionMoney, Withheld>,
    /// Chance of being the best, and among the best three.
    pub chances: ranking::Chances,
    /// Share of the cases avoided that rests on published weights.
    pub published_share: Option<f64>,
    /// True where it can't be told apart from the next in the ranking.
    pub close_to_next: bool,
}

/// All that the engine says of a farm.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// How it was reckoned.
    pub settings: Settings,
    /// The score.
    pub score: Score,
    /// The plausibility limit.
    pub plausibility: Plausibility,
    /// Every factor of the system, in file order.
    pub factors: Vec<FactorOutcome>,
    /// The burden.
    pub burden: BurdenOutcome,
    /// Costs per case, or why they can't be given.
    pub case_costs: prices::CaseCosts,
    /// The options, best first.
    pub options: Vec<OptionOutcome>,
}

impl Outcome {
    /// What each option of the farm brings alone, in the measure of the ranking, beside
    /// [`Prepared::options`].
    pub fn alone(&self, prepared: &Prepared) -> Vec<f64> {
        let brings = |option: &OptionOutcome| match self.settings.rank_by {
            RankBy::Cases => option.cases_avoided.mean,
            RankBy::LameDays => option.lame_days_avoided.mean,
            RankBy::NetBenefit => option
                .money
                .as_ref()
                .ok()
                .and_then(|money| money.net_benefit)
                .map_or(f64::NEG_INFINITY, |net| net.mean),
        };
        let of = |id: &str| self.options.iter().find(|option| option.id == id).map_or(0.0, brings);
        prepared.options.iter().map(|option| of(&option.id)).collect()
    }
}

/// A farm in draws: everything that the outcome, a plan or a revisit is reckoned from.
#[derive(Clone, Debug)]
pub struct Prepared<'a> {
    /// What the walk is judged against.
    pub library: &'a Library,
    /// The walk.
    pub walk: &'a Walk,
    /// How it is reckoned.
    pub settings: Settings,
    /// The draws.
    pub draws: Draws,
    /// The weight of every factor of the system, in file order.
    pub weights: Vec<FactorWeight>,
    /// The same in draws, after overlap.
    pub drawn: Vec<WeightDraws>,
    /// The exposure to each; `None` where not answered.
    pub exposures: Vec<Option<Exposure>>,
    /// The plausibility limit.
    pub plausibility: Plausibility,
    /// The farm's rate.
    pub herd: HerdRate,
    /// What is common to all options.
    pub setting: Setting,
    /// The options, in file order, those per segment in the order of the segments.
    pub options: Vec<FarmOption>,
}

/// Draws everything of a farm.
///
/// # Errors
/// [`Refusal::Draws`] where the number of draws is no power of two from 256 to 65,536.
pub fn prepare<'a>(
    library: &'a Library,
    walk: &'a Walk,
    settings: Settings,
) -> Result<Prepared<'a>, Refusal> {
    let draws = Draws::new(settings.draws, settings.seed).ok_or(Refusal::Draws(settings.draws))?;
    let burden = library.burden.system(walk.system);
    let weights = weights::weights(library, walk.system);
    let id = |weight: &FactorWeight| library.factors[weight.factor].id.as_str();
    let place = |w: &FactorWeight| library.factors.iter().filter(|other| other.id.as_str() < id(w)).count();
    let drawn = weights
        .iter()
        .map(|w| WeightDraws::new(w, id(w), &draws, FACTOR_DIMENSION + place(w)))
        .collect::<Vec<_>>();
    let exposures = weights
        .iter()
        .map(|weight| exposure::exposure(&library.checklist, walk, id(weight), &draws))
        .collect::<Vec<_>>();
    let plausibility = herd_rate::plausibility(library, &weights, &burden.lesion_mix, burden.incidence_shape);
    let herd = herd_rate::herd_rate(library, walk, &weights, &exposures, plausibility.kappa);
    let setting = Setting {
        hundred_cows: walk.cows as f64 / 100.0,
        kappa: plausibility.kappa,
        traffic_shares: exposure::traffic_shares(walk),
        rates: RateDraws::new(&herd, &draws),
        duration_days: PerLesion::from_fn(|lesion| {
            let dimension = DURATION_DIMENSION + lesion as usize;
            interventions::triangle_draws(&draws, "core", dimension, burden.duration_days[lesion])
        }),
        case_costs: prices::case_costs(library, walk, &draws),
        growing_share: library.burden.cost_share_growing_with_length,
    };
    let options = interventions::farm_options(library, walk, &weights, &exposures, &draws);
    Ok(Prepared {
        library,
        walk,
        settings,
        draws,
        weights,
        drawn,
        exposures,
        plausibility,
        herd,
        setting,
        options,
    })
}

/// Reckons a walk.
///
/// # Errors
/// [`Refusal::Draws`] as for [`prepare`]; [`Refusal::RankByMoney`] where options are to be ranked by
/// net benefit and money is withheld for any of them.
pub fn reckon(library: &Library, walk: &Walk, settings: Settings) -> Result<Outcome, Refusal> {
    prepare(library, walk, settings)?.outcome()
}

impl Prepared<'_> {
    /// The outcome of what was prepared.
    ///
    /// # Errors
    /// [`Refusal::RankByMoney`] as for [`reckon`].
    pub fn outcome(&self) -> Result<Outcome, Refusal> {
        if self.settings.rank_by == RankBy::NetBenefit {
            let withheld = self.money_withheld();
            if !withheld.is_empty() {
                return Err(Refusal::RankByMoney(withheld));
            }
        }
        let setting = &self.setting;
        let attribution = attribution::attribution(
            &self.drawn,
            &self.exposures,
            &setting.rates,
            setting.kappa,
            setting.hundred_cows,
        );
        let burden = self.burden(&attribution);
        Ok(Outcome {
            settings: self.settings,
            score: score::score(
                self.library,
                self.walk,
                &self.weights,
                &self.drawn,
                &self.exposures,
                self.settings.draws,
            ),
            plausibility: self.plausibility,
            factors: self.factors(attribution),
            options: self.ranked(burden.cases_per_year.mean),
            burden,
            case_costs: setting.case_costs.clone(),
        })
    }

    /// Every reason for which money is withheld, each once; empty where it is all known.
    pub fn money_withheld(&self) -> Vec<Withheld> {
        let mut all = Vec::new();
        let costs = match &self.setting.case_costs {
            prices::CaseCosts::Withheld(withheld) => Some(withheld),
            prices::CaseCosts::Known { .. } => None,
        };
        let options = self.options.iter().filter_map(|option| match &option.cost {
            OptionCost::Withheld(withheld) => Some(withheld),
            OptionCost::Known { .. } => None,
        });
        for withheld in costs.into_iter().chain(options) {
            if !all.contains(withheld) {
                all.push(withheld.clone());
            }
        }
        all
    }

    fn factors(&self, attribution: Attribution) -> Vec<FactorOutcome> {
        let mix = &self.library.burden.system(self.walk.system).lesion_mix;
        let parts = self.weights.iter().zip(&self.drawn).zip(&self.exposures).zip(attribution.factors);
        let factor = |(((weight, drawn), exposure), attributed): (((&FactorWeight, &WeightDraws), _), _)| {
            let exposure: &Option<Exposure> = exposure;
            let log_rr = drawn.all_lameness(mix, 1.0 / weight.overlap, self.settings.draws);
            let by_segment = exposure.as_ref().and_then(|exposure| exposure.by_segment.as_ref());
            FactorOutcome {
                log_rr_sd: stats::summary::standard_deviation(&log_rr),
                score_weight: score::score_weight(weight, mix),
                exposure: exposure.as_ref().map(|exposure| Estimate::of(exposure.x.clone())),
                exposure_by_segment: by_segment.map(|segments| segments.iter().map(|x| mean(x)).collect()),
                looked_at: exposure.as_ref().map_or(Vec::new(), |exposure| exposure.looked_at.clone()),
                attributed,
                weight: weight.clone(),
            }
        };
        parts.map(factor).collect()
    }

    fn burden(&self, attribution: &Attribution) -> BurdenOutcome {
        let setting = &self.setting;
        let per_year = |rate: &[f64]| rate.iter().map(|rate| setting.hundred_cows * rate).collect::<Vec<_>>();
        let over_lesions = |values: &PerLesion<Vec<f64>>| {
            let mut total = vec![0.0; self.settings.draws];
            for (lesion, value) in values.iter() {
                let lambda = &setting.rates.by_lesion[lesion];
                attribution::add_product(&mut total, lambda, value, setting.hundred_cows);
            }
            total
        };
        BurdenOutcome {
            herd: self.herd.clone(),
            rate_per_100_cow_years: Estimate::of(setting.rates.rate_per_100_cow_years.clone()),
            cases_per_year: Estimate::of(per_year(&setting.rates.rate_per_100_cow_years)),
            by_lesion: PerLesion::from_fn(|lesion| Estimate::of(per_year(&setting.rates.by_lesion[lesion]))),
            lame_days_per_year: Estimate::of(over_lesions(&setting.duration_days)),
            cost_per_year: setting.case_costs.draws().map(|costs| Estimate::of(over_lesions(costs))),
            unexplained: attribution.unexplained,
            unexplained_by_lesion: attribution.unexplained_by_lesion,
        }
    }

    /// What one option brings, with the drops it works by.
    pub fn single_gain(&self, option: &FarmOption) -> (Vec<(usize, Vec<f64>)>, Gain) {
        let drops = interventions::drops(option, &self.exposures, &self.setting);
        let gain = interventions::gain(&drops, option.duration_ratio.as_deref(), &self.drawn, &self.setting);
        (drops, gain)
    }

    fn ranked(&self, cases_per_year: f64) -> Vec<OptionOutcome> {
        let mut listed: Vec<(OptionOutcome, Vec<f64>)> =
            self.options.iter().map(|option| self.option(option, cases_per_year)).collect();
        let brings: Vec<&[f64]> = listed.iter().map(|(_, brings)| brings.as_slice()).collect();
        let chances = ranking::chances(&brings);
        listed.iter_mut().zip(chances).for_each(|((option, _), chances)| option.chances = chances);
        // The order of the files decides between equal means: stable, and the same every time.
        let mut by_mean: Vec<_> = listed.into_iter().map(|listed| (mean(&listed.1), listed)).collect();
        by_mean.sort_by(|(a, _), (b, _)| b.total_cmp(a));
        let listed: Vec<_> = by_mean.into_iter().map(|(_, listed)| listed).collect();
        let close: Vec<bool> = listed
            .windows(2)
            .map(|pair| {
                let wins = ranking::wins(&pair[0].1, &pair[1].1);
                wins < self.library.burden.constants.indistinct_below
            })
            .collect();
        let options = listed.into_iter().enumerate().map(|(place, (option, _))| OptionOutcome {
            rank: place + 1,
            close_to_next: close.get(place).copied().unwrap_or(false),
            ..option
        });
        options.collect()
    }

    /// One option, not yet ranked, and what it brings by draw in the measure of the ranking.
    fn option(&self, option: &FarmOption, cases_per_year: f64) -> (OptionOutcome, Vec<f64>) {
        let (drops, gain) = self.single_gain(option);
        let net = self.net_benefit(option, &gain);
        let brings = match (self.settings.rank_by, &net) {
            (RankBy::LameDays, _) => gain.lame_days.clone(),
            (RankBy::NetBenefit, Some(net)) => net.clone(),
            (RankBy::Cases, _) | (RankBy::NetBenefit, None) => gain.cases.clone(),
        };
        let money = option_money(option, &gain, net);
        let cases_avoided = Estimate::of(gain.cases);
        let published_share = (cases_avoided.mean > 0.0)
            .then(|| interventions::published_share(&drops, &self.weights, &self.drawn, &self.setting))
            .flatten();
        let outcome = OptionOutcome {
            id: option.id.clone(),
            intervention: option.intervention,
            segment: option.segment,
            rank: 0,
            reduction: if cases_per_year > 0.0 { cases_avoided.mean / cases_per_year } else { 0.0 },
            cases_avoided,
            lame_days_avoided: Estimate::of(gain.lame_days),
            saved: gain.saved.map(Estimate::of),
            money,
            chances: ranking::Chances::default(),
            published_share,
            close_to_next: false,
        };
        (outcome, brings)
    }

    /// Money saved less yearly cost, by draw; `None` where either is withheld.
    fn net_benefit(&self, option: &FarmOption, gain: &Gain) -> Option<Vec<f64>> {
        let (Some(saved), OptionCost::Known { yearly_cost, .. }) = (&gain.saved, &option.cost) else {
            return None;
        };
        Some(saved.iter().zip(yearly_cost).map(|(saved, cost)| saved - cost).collect())
    }
}

fn option_money(option: &FarmOption, gain: &Gain, net: Option<Vec<f64>>) -> Result<OptionMoney, Withheld> {
    let (capital, yearly_cost, running, own) = match &option.cost {
        OptionCost::Withheld(withheld) => return Err(withheld.clone()),
        OptionCost::Known { capital, yearly_cost, running, own } => (capital, yearly_cost, running, *own),
    };
    let gain_a_year = gain.saved.as_ref().map(|saved| mean(saved) - mean(running));
    Ok(OptionMoney {
        payback_years: gain_a_year.filter(|gain| *gain > 0.0).map(|gain| mean(capital) / gain),
        p_pays: net
            .as_ref()
            .map(|net| net.iter().filter(|net| **net > 0.0).count() as f64 / net.len() as f64),
        net_benefit: net.map(Estimate::of),
        capital: Estimate::of(capital.clone()),
        running: Estimate::of(running.clone()),
        yearly_cost: Estimate::of(yearly_cost.clone()),
        own,
    })
}
