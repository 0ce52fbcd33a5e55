//! Money: cost of a case, and what an option costs on this farm. Money is never converted between
//! currencies or years; where a figure is missing it is withheld with the reason.

use super::interventions::triangle_draws;
use super::stats::annuity::annuity_factor;
use super::stats::draws::Draws;
use super::stats::summary::mean;
use crate::model::intervention::Intervention;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::money::{Per, Price, Triangle};
use crate::model::walk::Walk;
use crate::model::{Library, System};

/// First dimension of the costs per case in the common stream.
const COST_DIMENSION: usize = 15;

/// Why a sum of money can't be given, as data; the words are in [`crate::report`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Withheld {
    /// The walk names no currency.
    NoCurrency,
    /// No cost per case is known for these lesions in this currency and system.
    NoCostPerCase {
        /// The walk's currency.
        currency: String,
        /// The walk's system.
        system: System,
        /// Lesions without a cost.
        lesions: Vec<Lesion>,
    },
    /// The option's price is in another currency, and the farm gives none of its own.
    NoPrice {
        /// Id of the option.
        option: String,
        /// The walk's currency.
        currency: String,
        /// The currency of the shipped price, where there is one.
        shipped: Option<String>,
    },
    /// A quantity that the price is multiplied by is missing in the walk record.
    NoQuantity {
        /// Id of the option.
        option: String,
        /// What is missing: a name under `quantities`, or the width of a segment.
        quantity: String,
    },
}

/// Cost per case by lesion and draw, or why it can't be given.
#[derive(Clone, Debug)]
#[expect(clippy::large_enum_variant, reason = "there is one of it for a whole farm")]
pub enum CaseCosts {
    /// Known for every lesion.
    Known {
        /// By lesion and draw.
        draws: PerLesion<Vec<f64>>,
        /// By lesion: low, likely, high.
        triangles: PerLesion<Triangle>,
        /// Lesions whose cost is the farm's own.
        own: PerLesion<bool>,
    },
    /// Not known.
    Withheld(Withheld),
}

impl CaseCosts {
    /// The draws, where known.
    pub fn draws(&self) -> Option<&PerLesion<Vec<f64>>> {
        match self {
            CaseCosts::Known { draws, .. } => Some(draws),
            CaseCosts::Withheld(_) => None,
        }
    }
}

/// The farm's own costs per case, else those of the shipped row of its currency and system.
pub fn case_costs(library: &Library, walk: &Walk, draws: &Draws) -> CaseCosts {
    let Some(currency) = &walk.currency else { return CaseCosts::Withheld(Withheld::NoCurrency) };
    let row = library.burden.cost_row(currency, walk.system);
    let cost = |lesion: Lesion| walk.costs_per_case[lesion].or(row.map(|row| row.per_case[lesion]));
    let missing: Vec<Lesion> = Lesion::ALL.into_iter().filter(|lesion| cost(*lesion).is_none()).collect();
    if !missing.is_empty() {
        let (currency, system) = (currency.clone(), walk.system);
        return CaseCosts::Withheld(Withheld::NoCostPerCase { currency, system, lesions: missing });
    }
    let zero = Triangle { low: 0.0, likely: 0.0, high: 0.0 };
    let triangles = PerLesion::from_fn(|lesion| cost(lesion).unwrap_or(zero));
    CaseCosts::Known {
        draws: PerLesion::from_fn(|lesion| {
            triangle_draws(draws, "core", COST_DIMENSION + lesion as usize, triangles[lesion])
        }),
        triangles,
        own: PerLesion::from_fn(|lesion| walk.costs_per_case[lesion].is_some()),
    }
}

/// What an option costs, by draw, or why that can't be said.
#[derive(Clone, Debug)]
pub enum OptionCost {
    /// Known.
    Known {
        /// Spent once.
        capital: Vec<f64>,
        /// Capital spread over its life, plus running cost.
        yearly_cost: Vec<f64>,
        /// Running cost alone.
        running: Vec<f64>,
        /// True where any price is the farm's own.
        own: bool,
    },
    /// Not known.
    Withheld(Withheld),
}

impl OptionCost {
    /// Capital by draw; `None` where withheld.
    pub fn capital_draws(&self) -> Option<&Vec<f64>> {
        match self {
            OptionCost::Known { capital, .. } => Some(capital),
            OptionCost::Withheld(_) => None,
        }
    }

    /// Running cost a year by draw; `None` where withheld.
    pub fn running_draws(&self) -> Option<&Vec<f64>> {
        match self {
            OptionCost::Known { running, .. } => Some(running),
            OptionCost::Withheld(_) => None,
        }
    }

    /// Yearly cost by draw; `None` where withheld.
    pub fn yearly_draws(&self) -> Option<&Vec<f64>> {
        match self {
            OptionCost::Known { yearly_cost, .. } => Some(yearly_cost),
            OptionCost::Withheld(_) => None,
        }
    }

    /// Mean capital; `None` where withheld.
    pub fn mean_capital(&self) -> Option<f64> {
        self.capital_draws().map(|draws| mean(draws))
    }

    /// Mean yearly cost; `None` where withheld.
    pub fn mean_yearly_cost(&self) -> Option<f64> {
        self.yearly_draws().map(|draws| mean(draws))
    }
}

/// How many units a price is multiplied by; the name of what is missing otherwise.
fn quantity(price: &Price, walk: &Walk, segment: Option<usize>) -> Result<f64, String> {
    if let Some(name) = &price.of {
        return walk.quantity(name).ok_or_else(|| name.clone());
    }
    let here = segment.and_then(|segment| walk.segments.get(segment));
    match (price.per, here) {
        (Per::Farm, _) => Ok(1.0),
        (Per::Cow, _) => Ok(walk.cows as f64),
        (Per::Bail, _) => walk.quantity("bails").ok_or_else(|| "bails".to_owned()),
        (Per::Metre, Some(segment)) => Ok(segment.length_m),
        (Per::SquareMetre, Some(segment)) => {
            segment.width_m.map(|width| width * segment.length_m).ok_or(format!("width_m of {}", segment.id))
        }
        (Per::Metre | Per::SquareMetre, None) => Err(price.per.id().to_owned()),
    }
}

/// Draws of one price times its quantity; zeros where the option has no such price.
struct Pricing<'a> {
    walk: &'a Walk,
    option: &'a Intervention,
    segment: Option<usize>,
    draws: &'a Draws,
    stream: &'a str,
}

impl Pricing<'_> {
    fn sum(
        &self,
        shipped: &Option<Price>,
        own: Option<Triangle>,
        dimension: usize,
    ) -> Result<Vec<f64>, Withheld> {
        let Some(currency) = &self.walk.currency else { return Err(Withheld::NoCurrency) };
        let once = Price { per: Per::Farm, of: None, amount: Triangle { low: 0.0, likely: 0.0, high: 0.0 } };
        let price = match (shipped, own) {
            (None, None) => return Ok(vec![0.0; self.draws.count()]),
            (None, Some(amount)) => Price { amount, ..once },
            (Some(shipped), Some(amount)) => Price { amount, ..shipped.clone() },
            (Some(shipped), None) if self.option.currency.as_ref() == Some(currency) => shipped.clone(),
            (Some(_), None) => {
                return Err(Withheld::NoPrice {
                    option: self.option.id.clone(),
                    currency: currency.clone(),
                    shipped: self.option.currency.clone(),
                });
            }
        };
        let units = quantity(&price, self.walk, self.segment)
            .map_err(|quantity| Withheld::NoQuantity { option: self.option.id.clone(), quantity })?;
        let mut drawn = triangle_draws(self.draws, self.stream, dimension, price.amount);
        drawn.iter_mut().for_each(|amount| *amount *= units);
        Ok(drawn)
    }
}

/// The yearly discount rate: the walk's, else the default of the burden file.
pub fn discount_rate(library: &Library, walk: &Walk) -> f64 {
    walk.discount_rate.unwrap_or(library.burden.constants.default_discount_rate)
}

/// What an option costs on this farm.
pub fn option_cost(
    library: &Library,
    walk: &Walk,
    option: &Intervention,
    segment: Option<usize>,
    draws: &Draws,
    stream: &str,
) -> OptionCost {
    let own = walk.prices.iter().find(|price| price.option == option.id);
    let pricing = Pricing { walk, option, segment, draws, stream };
    let capital = pricing.sum(&option.capital, own.and_then(|own| own.capital), 2);
    let running = pricing.sum(&option.yearly, own.and_then(|own| own.yearly), 3);
    let (capital, running) = match (capital, running) {
        (Ok(capital), Ok(running)) => (capital, running),
        (Err(withheld), _) | (_, Err(withheld)) => return OptionCost::Withheld(withheld),
    };
    // A rate or a life that makes no sense can't pass the readers; capital spread over nothing is all of it.
    let factor = annuity_factor(discount_rate(library, walk), option.life_years).unwrap_or(1.0);
    let yearly_cost = capital.iter().zip(&running).map(|(capital, running)| capital * factor + running);
    OptionCost::Known { yearly_cost: yearly_cost.collect(), capital, running, own: own.is_some() }
}
