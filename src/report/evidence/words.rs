//! Numbers and published facts in words.

use crate::model::System;
use crate::model::evidence::{Certainty, Design, Effect, Measure, Read, Source};
use crate::model::lesion::Lesion;
use crate::report::number::{decimals, percent, plural};
use crate::report::words::trimmed;

/// A ratio, to two decimals.
pub(super) fn ratio(value: f64) -> String {
    decimals(value, 2)
}

/// A logarithm, standard error or variance, to three decimals.
pub(super) fn log(value: f64) -> String {
    decimals(value, 3)
}

/// Two ratios, as in "1.10 to 2.10".
pub(super) fn range((low, high): (f64, f64)) -> String {
    format!("{} to {}", ratio(low), ratio(high))
}

/// A share in per cent to one decimal, without a needless ".0".
pub(super) fn fine_percent(share: f64) -> String {
    let text = decimals(100.0 * share, 1);
    format!("{}%", text.strip_suffix(".0").unwrap_or(&text))
}

/// A p value.
pub(super) fn p(value: f64) -> String {
    if value < 0.0005 { "under 0.001".to_owned() } else { trimmed(value) }
}

/// A text with its first letter in capitals.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A text with its first letter small, unless the word is one of capitals.
pub(super) fn small(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), text.chars().nth(1)) {
        (Some(first), second) if !second.is_some_and(char::is_uppercase) => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

/// First author and year, as in "Solano et al. 2015".
pub(super) fn cite(source: &Source) -> String {
    let Some(authors) = &source.authors else { return format!("{} (authors not noted)", source.id) };
    let names: Vec<&str> = authors.split(',').map(str::trim).filter(|name| !name.is_empty()).collect();
    let surname = |name: &str| {
        let initials = |word: &str| word.len() <= 4 && word.chars().all(char::is_uppercase);
        let words: Vec<&str> = name.split(' ').collect();
        match words.as_slice() {
            [head @ .., last] if !head.is_empty() && initials(last) => head.join(" "),
            _ => name.to_owned(),
        }
    };
    let names = match names.as_slice() {
        [] => source.id.clone(),
        [one] => surname(one),
        [one, other] if *other != "et al." => format!("{} & {}", surname(one), surname(other)),
        [one, ..] => format!("{} et al.", surname(one)),
    };
    format!("{names} {}", source.year)
}

/// How much of a source was read.
pub(super) fn read(read: Read) -> &'static str {
    match read {
        Read::FullText => "read in full",
        Read::Abstract => "abstract read",
        Read::SecondHand => "quoted by another publication",
        Read::Memory => "recalled, not read",
    }
}

pub(super) fn measure(measure: Measure) -> &'static str {
    match measure {
        Measure::OddsRatio => "odds ratio",
        Measure::RiskRatio => "risk ratio",
        Measure::PrevalenceRatio => "prevalence ratio",
        Measure::RateRatio => "rate ratio",
        Measure::HazardRatio => "hazard ratio",
    }
}

pub(super) fn measure_id(measure: Measure) -> &'static str {
    match measure {
        Measure::OddsRatio => "odds-ratio",
        Measure::RiskRatio => "risk-ratio",
        Measure::PrevalenceRatio => "prevalence-ratio",
        Measure::RateRatio => "rate-ratio",
        Measure::HazardRatio => "hazard-ratio",
    }
}

pub(super) fn design_id(design: Design) -> &'static str {
    match design {
        Design::Trial => "trial",
        Design::Cohort => "cohort",
        Design::CaseControl => "case-control",
        Design::CrossSectional => "cross-sectional",
    }
}

/// The design with whether other factors were adjusted for.
pub(super) fn design(effect: &Effect) -> String {
    let design = match effect.design {
        Design::Trial => "trial",
        Design::Cohort => "cohort study",
        Design::CaseControl => "case-control study",
        Design::CrossSectional => "cross-sectional study",
    };
    let adjusted = if effect.adjusted { "adjusted for other factors" } else { "not adjusted" };
    format!("{design}, {adjusted}")
}

/// Herds, cows, country and system of the study.
pub(super) fn animals(effect: &Effect) -> String {
    let herds = effect.herds.map(|n| plural(n, "herd", "herds"));
    let cows = effect.cows.map(|n| plural(n, "cow", "cows"));
    let system = Some(system_herds(effect.system).to_owned());
    let parts: Vec<String> = [herds, cows, effect.country.clone(), system].into_iter().flatten().collect();
    parts.join(", ")
}

/// "pasture herds", "housed herds", "herds of both systems".
pub(super) fn system_herds(system: Option<System>) -> &'static str {
    match system {
        Some(System::Pasture) => "pasture herds",
        Some(System::Housed) => "housed herds",
        None => "herds of both systems",
    }
}

pub(super) fn certainty(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Seen => "figure seen in print",
        Certainty::Memory => "figure recalled, not seen",
        Certainty::SecondHand => "figure quoted by another publication",
    }
}

/// The estimate as printed.
pub(super) fn published(effect: &Effect) -> String {
    let name = measure(effect.measure);
    let Some(estimate) = effect.estimate else {
        return if effect.null_result { "no difference found, no size printed" } else { "no size printed" }
            .to_owned();
    };
    let spread = match (effect.interval, effect.p_value) {
        (Some(interval), _) => format!(" ({} interval {})", percent(effect.level), range(interval)),
        (None, Some(p)) if effect.p_is_bound => format!(" (p at most {}, no interval printed)", self::p(p)),
        (None, Some(p)) => format!(" (p {}, no interval printed)", self::p(p)),
        (None, None) => " (neither interval nor p value printed)".to_owned(),
    };
    format!("{name} {}{spread}", ratio(estimate))
}

pub(super) fn outcome_id(outcome: Option<Lesion>) -> &'static str {
    outcome.map_or("lameness", Lesion::id)
}
