//! Numbers and published facts in words.

use crate::model::System;
use crate::model::evidence::{Certainty, Design, Effect, Measure, Read, Source};
use crate::model::lesion::Lesion;
use crate::model::words::Words;
use crate::reckon::effects::{Role, Unused};

/// A ratio, to two decimals.
pub(super) fn ratio(words: &Words, value: f64) -> String {
    words.decimals(value, 2)
}

/// A logarithm, standard error or variance, to three decimals.
pub(super) fn log(words: &Words, value: f64) -> String {
    words.decimals(value, 3)
}

/// A constant: no more decimals than it has, at most three.
pub(super) fn plain(words: &Words, value: f64) -> String {
    words.trimmed(value, 3)
}

/// Two ratios, as in "1.10 to 2.10", also where they read the same.
pub(super) fn range(words: &Words, (low, high): (f64, f64)) -> String {
    words.say("number.range", &[("low", &ratio(words, low)), ("high", &ratio(words, high))])
}

/// As in "1.24 (0.85 to 1.81)".
pub(super) fn ratio_interval(words: &Words, value: f64, interval: (f64, f64)) -> String {
    words.say(
        "evidence.ratio-interval",
        &[("ratio", &ratio(words, value)), ("range", &range(words, interval))],
    )
}

/// A share in per cent to one decimal, without a needless ".0".
pub(super) fn fine_percent(words: &Words, share: f64) -> String {
    words.say("number.percent", &[("n", &words.trimmed(100.0 * share, 1))])
}

/// A p value.
pub(super) fn p(words: &Words, value: f64) -> String {
    match value < 0.0005 {
        true => words.say("number.under", &[("n", &plain(words, 0.001))]),
        false => plain(words, value),
    }
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
pub(super) fn cite(words: &Words, source: &Source) -> String {
    let year = source.year.to_string();
    let Some(authors) = &source.authors else {
        return words.say("cite.nobody", &[("source", &source.id)]);
    };
    let names: Vec<&str> = authors.split(',').map(str::trim).filter(|name| !name.is_empty()).collect();
    match names.as_slice() {
        [] => words.say("cite.one", &[("author", &source.id), ("year", &year)]),
        [one] => words.say("cite.one", &[("author", &surname(one)), ("year", &year)]),
        [one, other] if *other != "et al." => {
            words.say("cite.two", &[("first", &surname(one)), ("second", &surname(other)), ("year", &year)])
        }
        [one, ..] => words.say("cite.more", &[("first", &surname(one)), ("year", &year)]),
    }
}

/// A name without the initials behind it.
fn surname(name: &str) -> String {
    let initials = |word: &str| word.len() <= 4 && word.chars().all(char::is_uppercase);
    let words: Vec<&str> = name.split(' ').collect();
    match words.as_slice() {
        [head @ .., last] if !head.is_empty() && initials(last) => head.join(" "),
        _ => name.to_owned(),
    }
}

/// How much of a source was read.
pub(super) fn read(words: &Words, read: Read) -> String {
    words.word(match read {
        Read::FullText => "evidence.read-full",
        Read::Abstract => "evidence.read-abstract",
        Read::SecondHand => "evidence.read-quoted",
        Read::Memory => "evidence.read-recalled",
    })
}

pub(super) fn measure(words: &Words, measure: Measure) -> String {
    words.word(match measure {
        Measure::OddsRatio => "evidence.odds-ratio",
        Measure::RiskRatio => "evidence.risk-ratio",
        Measure::PrevalenceRatio => "evidence.prevalence-ratio",
        Measure::RateRatio => "evidence.rate-ratio",
        Measure::HazardRatio => "evidence.hazard-ratio",
    })
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
pub(super) fn design(words: &Words, effect: &Effect) -> String {
    let design = words.word(match effect.design {
        Design::Trial => "evidence.trial",
        Design::Cohort => "evidence.cohort",
        Design::CaseControl => "evidence.case-control",
        Design::CrossSectional => "evidence.cross-sectional",
    });
    let key = if effect.adjusted { "evidence.adjusted" } else { "evidence.not-adjusted" };
    words.say(key, &[("design", &design)])
}

/// Herds, cows, country and system of the study.
pub(super) fn animals(words: &Words, effect: &Effect) -> String {
    let counted = |count: Option<u64>, key: &str| {
        let count = count? as f64;
        Some(words.say_for(count, key, &[("n", &words.whole(count))]))
    };
    let herds = counted(effect.herds, "evidence.herds");
    let cows = counted(effect.cows, "records.cows");
    let system = Some(system_herds(words, effect.system));
    let parts: Vec<String> = [herds, cows, effect.country.clone(), system].into_iter().flatten().collect();
    parts.join(&words.word("list.comma"))
}

/// "pasture herds", "housed herds", "herds of both systems".
pub(super) fn system_herds(words: &Words, system: Option<System>) -> String {
    words.word(match system {
        Some(System::Pasture) => "evidence.herds-pasture",
        Some(System::Housed) => "evidence.herds-housed",
        None => "evidence.herds-both",
    })
}

pub(super) fn certainty(words: &Words, certainty: Certainty) -> String {
    words.word(match certainty {
        Certainty::Seen => "evidence.seen",
        Certainty::Memory => "evidence.recalled",
        Certainty::SecondHand => "evidence.quoted",
    })
}

/// The estimate as printed.
pub(super) fn published(words: &Words, effect: &Effect) -> String {
    let Some(estimate) = effect.estimate else {
        return words.word(match effect.null_result {
            true => "evidence.printed-no-difference",
            false => "evidence.printed-no-size",
        });
    };
    let (measure, estimate) = (measure(words, effect.measure), ratio(words, estimate));
    let stated = [("measure", measure.as_str()), ("estimate", &estimate)];
    let with = |key: &str, more: &[(&str, &str)]| words.say(key, &[&stated[..], more].concat());
    match (effect.interval, effect.p_value) {
        (Some(interval), _) => with(
            "evidence.printed-interval",
            &[("level", &words.percent(effect.level)), ("range", &range(words, interval))],
        ),
        (None, Some(p)) if effect.p_is_bound => {
            with("evidence.printed-p-bound", &[("p", &self::p(words, p))])
        }
        (None, Some(p)) => with("evidence.printed-p", &[("p", &self::p(words, p))]),
        (None, None) => with("evidence.printed-alone", &[]),
    }
}

/// The id of how an effect was used.
pub(super) fn role_id(role: Role) -> &'static str {
    match role {
        Role::Pooled => "pooled",
        Role::Direction => "direction",
        Role::Listed(_) => "listed",
    }
}

/// How an effect was used, with the reason.
pub(super) fn role(words: &Words, role: Role) -> String {
    words.word(match role {
        Role::Pooled => "evidence.role-pooled",
        Role::Direction => "evidence.role-direction",
        Role::Listed(Unused::Neither) => "evidence.role-neither",
        Role::Listed(Unused::Recalled) => "evidence.role-recalled",
        Role::Listed(Unused::NotPooled) => "evidence.role-not-pooled",
    })
}

pub(super) fn outcome_id(outcome: Option<Lesion>) -> &'static str {
    outcome.map_or("lameness", Lesion::id)
}
