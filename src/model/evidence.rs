//! What was published: sources, effects, herd-level burden, and every constant of the model.

use super::System;
use super::lesion::{Lesion, PerLesion};
use super::money::Triangle;

/// How much of a source was read for the evidence files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Read {
    /// The whole paper.
    FullText,
    /// The abstract.
    Abstract,
    /// Quoted by another publication.
    SecondHand,
    /// Recalled, not read; lends neither size nor direction to a weight.
    Memory,
}

/// A published source.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// First author and year.
    pub id: String,
    /// Authors, as printed.
    pub authors: Option<String>,
    /// Year of publication.
    pub year: i32,
    /// Title.
    pub title: String,
    /// Journal with volume and pages.
    pub journal: Option<String>,
    /// Digital object identifier, only where certain.
    pub doi: Option<String>,
    /// How much of it was read.
    pub read: Read,
}

/// The measure a comparison was published in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Odds ratio: converted to a risk ratio where the reference risk is known.
    OddsRatio,
    /// Risk ratio.
    RiskRatio,
    /// Prevalence ratio.
    PrevalenceRatio,
    /// Rate ratio.
    RateRatio,
    /// Hazard ratio.
    HazardRatio,
}

/// How the study was designed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Design {
    /// Randomised trial.
    Trial,
    /// Cohort.
    Cohort,
    /// Case-control.
    CaseControl,
    /// Cross-sectional.
    CrossSectional,
}

/// Whether a figure was read in published text or recalled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Certainty {
    /// Read in published text.
    Seen,
    /// Recalled; lends neither size nor direction.
    Memory,
    /// Quoted by another publication (costs only).
    SecondHand,
}

/// One published comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// Unique id.
    pub id: String,
    /// Id of the source.
    pub source: String,
    /// Id of the risk factor.
    pub factor: String,
    /// `None` for all lameness, else the one lesion.
    pub outcome: Option<Lesion>,
    /// What was compared, in words.
    pub contrast: String,
    /// Exposure of the published exposed group, 0–1.
    pub exposed: f64,
    /// Exposure of the published reference group, 0–1; never equal to `exposed`.
    pub reference: f64,
    /// Measure of the estimate.
    pub measure: Measure,
    /// Ratio, above 0; absent where only a direction is known.
    pub estimate: Option<f64>,
    /// Interval of the ratio, lower and upper, both above 0.
    pub interval: Option<(f64, f64)>,
    /// Level of the interval, 0–1 exclusive (0.95 by default).
    pub level: f64,
    /// Two-sided p value, or its printed bound; 0–1 exclusive.
    pub p_value: Option<f64>,
    /// Risk in the published reference group, 0–1 exclusive.
    pub reference_risk: Option<f64>,
    /// Overall risk in the study, 0–1 exclusive.
    pub study_risk: Option<f64>,
    /// Study design.
    pub design: Design,
    /// Whether other factors were adjusted for.
    pub adjusted: bool,
    /// Number of herds.
    pub herds: Option<u64>,
    /// Number of cows.
    pub cows: Option<u64>,
    /// Country code (ISO 3166).
    pub country: Option<String>,
    /// System of the herds; `None` for mixed.
    pub system: Option<System>,
    /// Seen or recalled.
    pub certainty: Certainty,
    /// Whether it is pooled; false lists it only (same animals as another).
    pub pool: bool,
    /// False where the source prints no direction or found none.
    pub lends_direction: bool,
    /// Only a bound on p was printed.
    pub p_is_bound: bool,
    /// Looked, found no difference, printed no size.
    pub null_result: bool,
    /// The outcome only stands for the one named.
    pub surrogate: bool,
    /// Names of fields that no source gives.
    pub judged: Vec<String>,
    /// Remark.
    pub note: Option<String>,
}

/// A constant of the model with where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Provenance {
    /// Ids of sources; empty where judged.
    pub sources: Vec<String>,
    /// True where no source gives it.
    pub judgement: bool,
    /// Why this value.
    pub note: Option<String>,
}

/// A number with where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Constant {
    /// Key in the burden file.
    pub key: String,
    /// Where it comes from.
    pub provenance: Provenance,
}

/// Every constant of the model. The meaning of each is in the methods page and in the burden file.
#[derive(Clone, Debug, PartialEq)]
pub struct Constants {
    /// Share of cases a typical herd would lose with everything put right, at most (section 4).
    pub typical_share_max: f64,
    /// Floor of the between-study standard deviation of a log ratio (section 1.5).
    pub tau_floor: f64,
    /// Standard error given to a published null result without a size (section 1.2).
    pub null_sd: f64,
    /// Extra standard deviation for a surrogate outcome (section 1.4).
    pub surrogate_allowance: f64,
    /// Extra standard deviation for an effect of the other system (section 1.4).
    pub other_system_allowance: f64,
    /// Limits of the farm's prior relative rate by lesion (section 4).
    pub rr_limits: (f64, f64),
    /// Share of the between-herd spread that factors may explain (section 4).
    pub explainable_share: f64,
    /// Standard deviation of the sceptical prior (section 1.6).
    pub prior_sd_log_rr: f64,
    /// Extra standard deviation by design (section 1.4).
    pub design_allowance: DesignAllowance,
    /// Sizes where nothing was published (section 1.7).
    pub judgement_weights: JudgementWeights,
    /// Cap of the spread over lesions (section 2).
    pub k_max: f64,
    /// Correlation of exposures in one cluster (section 2).
    pub cluster_correlation: f64,
    /// Cases that the prior lesion mix counts as (section 4).
    pub mix_concentration: f64,
    /// Days within which a record of the same cow and foot is the same case (section 10).
    pub repeat_days: i64,
    /// Share of draws below which two neighbours can't be told apart (section 7).
    pub indistinct_below: f64,
    /// Yearly discount rate where the walk gives none.
    pub default_discount_rate: f64,
    /// Key and provenance of each, in file order, for the methods page.
    pub provenance: Vec<Constant>,
}

/// Extra standard deviation of a log ratio by study design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DesignAllowance {
    /// Randomised trial.
    pub trial: f64,
    /// Adjusted cohort.
    pub cohort: f64,
    /// Adjusted cross-sectional.
    pub cross_sectional: f64,
    /// Adjusted case-control.
    pub case_control: f64,
    /// Observational and not adjusted.
    pub crude: f64,
}

/// Stated risk ratios where nothing usable was published.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JudgementWeights {
    /// Small size, a risk ratio.
    pub small: f64,
    /// Moderate size, a risk ratio.
    pub moderate: f64,
    /// Large size, a risk ratio.
    pub large: f64,
    /// Standard deviation of a judged log risk ratio.
    pub sd_judgement: f64,
    /// Log-standard deviation where only a direction was published.
    pub log_sd_direction: f64,
}

/// Name and codes of a lesion group.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct LesionInfo {
    /// Plain name.
    pub name: String,
    /// Codes of the ICAR claw disorder key.
    pub icar: Vec<String>,
    /// Remark.
    pub note: Option<String>,
}

/// Herd-level burden of one system.
#[derive(Clone, Debug, PartialEq)]
pub struct SystemBurden {
    /// Shape of the Gamma distribution of recorded incidence across herds.
    pub incidence_shape: f64,
    /// Mean recorded incidence, cases per 100 cow-years.
    pub incidence_mean_per_100_cow_years: f64,
    /// Where the incidence comes from.
    pub incidence_provenance: Provenance,
    /// Reference lesion mix; adds up to 1.
    pub lesion_mix: PerLesion<f64>,
    /// Where the mix comes from.
    pub lesion_mix_provenance: Provenance,
    /// Duration of a recorded case, days.
    pub duration_days: PerLesion<Triangle>,
    /// Where the durations come from.
    pub duration_provenance: Provenance,
    /// Names of fields that no source gives.
    pub judged: Vec<String>,
    /// Beta distribution of scored prevalence across herds.
    pub prevalence_beta: Option<(f64, f64)>,
    /// Remark on the prevalence.
    pub prevalence_note: Option<String>,
}

/// Published costs per case in one currency, system and price year.
#[derive(Clone, Debug, PartialEq)]
pub struct CostRow {
    /// ISO 4217 code.
    pub currency: String,
    /// Year of the prices.
    pub price_year: i32,
    /// System.
    pub system: System,
    /// Id of the source.
    pub source: Option<String>,
    /// Seen, second-hand or recalled.
    pub certainty: Certainty,
    /// Cost per case by lesion; lesions not listed take `others`.
    pub per_case: PerLesion<Triangle>,
    /// Which lesions were listed by name.
    pub listed: PerLesion<bool>,
    /// Remark.
    pub note: Option<String>,
}

/// The burden file.
#[derive(Clone, Debug, PartialEq)]
pub struct Burden {
    /// Every constant of the model.
    pub constants: Constants,
    /// Names and codes of the lesion groups.
    pub lesions: PerLesion<LesionInfo>,
    /// Pasture.
    pub pasture: SystemBurden,
    /// Housed.
    pub housed: SystemBurden,
    /// Costs per case.
    pub costs: Vec<CostRow>,
    /// Share of the cost that grows with the length of a case, 0–1.
    pub cost_share_growing_with_length: f64,
    /// Beta distribution of the share of lame cows the farmer knows of.
    pub farmer_share_beta: Option<(f64, f64)>,
    /// Where the farmer's share comes from.
    pub farmer_share_provenance: Option<Provenance>,
}

impl Burden {
    /// The burden of a system.
    pub fn system(&self, system: System) -> &SystemBurden {
        match system {
            System::Pasture => &self.pasture,
            System::Housed => &self.housed,
        }
    }

    /// The cost row of a currency and system.
    pub fn cost_row(&self, currency: &str, system: System) -> Option<&CostRow> {
        self.costs.iter().find(|row| row.currency == currency && row.system == system)
    }
}
