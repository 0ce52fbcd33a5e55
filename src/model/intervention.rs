//! Intervention options: what can be changed, how far, at what price.

use super::money::Price;

/// Whether something is asked of, or done to, the farm as a whole or each track segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Each {
    /// Once for the farm.
    Farm,
    /// Once for each track segment.
    Segment,
}

/// How an option shortens cases of lameness.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortensCases {
    /// Duration with the option over duration without, above 0.
    pub ratio: f64,
    /// Interval of the ratio.
    pub interval: (f64, f64),
    /// Level of the interval.
    pub level: f64,
    /// Id of the source; `None` where judged.
    pub source: Option<String>,
}

/// One intervention option.
#[derive(Clone, Debug, PartialEq)]
pub struct Intervention {
    /// Unique id.
    pub id: String,
    /// Plain title, starting with a verb.
    pub title: String,
    /// For the farm, or for each segment.
    pub each: Each,
    /// Target exposure by factor id, 0–1.
    pub to: Vec<(String, f64)>,
    /// Mean of the share of the way to the target that is achieved, 0–1 exclusive.
    pub achieved_mean: f64,
    /// Standard deviation of that share.
    pub achieved_sd: f64,
    /// Effect on the length of cases.
    pub shortens_cases: Option<ShortensCases>,
    /// Money to spend once.
    pub capital: Option<Price>,
    /// Money to spend every year.
    pub yearly: Option<Price>,
    /// ISO 4217 code of the shipped prices.
    pub currency: Option<String>,
    /// Year of the shipped prices.
    pub price_year: Option<i32>,
    /// Id of the source of the prices; `None` = invented for the demo.
    pub price_source: Option<String>,
    /// Years until it must be done again, above 0.
    pub life_years: f64,
    /// Options of one name exclude each other.
    pub either: Option<String>,
    /// Ids of options that must come too.
    pub needs: Vec<String>,
    /// Weeks until it takes effect.
    pub weeks_to_effect: Option<f64>,
    /// What to do, in the trade's words.
    pub how: String,
    /// What can go wrong for people or cows.
    pub caution: Option<String>,
}
