//! The methods page of the adviser's report: what `templates/methods.md` says, with every constant, what
//! is judged, what nobody has measured, and the sources that were used.

use super::words::{self, capital, range, ratio, small};
use super::{RatioFacts, factor_evidence};
use crate::model::evidence::{Burden, Constants, Provenance, Source};
use crate::model::lesion::Lesion;
use crate::model::money::Triangle;
use crate::model::{Library, System};
use crate::reckon::effects::{Basis, Role};
use crate::reckon::herd_rate::Plausibility;
use crate::reckon::weights::FactorWeight;
use crate::report::number::{decimals, list, percent, whole};
use crate::report::words::trimmed;
use serde::Serialize;

/// One constant of the model.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ConstantRow {
    /// Key in the burden file.
    pub key: String,
    /// What it is for.
    pub meaning: String,
    /// Value with its unit.
    pub value: String,
    /// Where it comes from: judged, or its sources, with the note of the file.
    pub from: String,
}

/// One weight in a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeightLine {
    /// Id of the factor.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The weight on all lameness, before overlap.
    pub weight: RatioFacts,
    /// What it rests on, with "from housed herds" where that holds.
    pub rests_on: String,
    /// What is left after overlap, as a share; absent where all of it.
    pub overlap: Option<String>,
    /// Effects pooled.
    pub pooled: usize,
    /// Effects listed.
    pub listed: usize,
}

/// A source that was used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SourceLine {
    /// Authors and year.
    pub authors: String,
    /// Title.
    pub title: String,
    /// Journal with volume and pages.
    pub journal: Option<String>,
    /// Digital object identifier.
    pub doi: Option<String>,
    /// How much of it was read.
    pub read: &'static str,
    /// What it was used for.
    pub used_for: String,
}

/// What the methods page says. Texts are finished, but not escaped for Markdown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Methods {
    /// Id of the system.
    pub system: &'static str,
    /// As in "pasture herds".
    pub herds: &'static str,
    /// Every weight, in file order.
    pub weights: Vec<WeightLine>,
    /// Titles of factors with a published size.
    pub published: String,
    /// Titles of factors with a published direction alone.
    pub direction_only: String,
    /// Titles of factors that rest on judgement alone.
    pub judgement: String,
    /// Titles of factors whose published size comes wholly or partly from the other system.
    pub from_other_system: String,
    /// Every constant.
    pub constants: Vec<ConstantRow>,
    /// Values of the constants by key, for the text.
    pub value: Values,
    /// The plausibility limit; absent where it was not reckoned.
    pub limit: Option<Limit>,
    /// Sources, by authors and year.
    pub sources: Vec<SourceLine>,
}

/// Constants that the text itself names, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Values {
    tau_floor: String,
    null_sd: String,
    surrogate: String,
    other_system: String,
    trial: String,
    cohort: String,
    cross_sectional: String,
    case_control: String,
    crude: String,
    prior_sd: String,
    prior_fold: String,
    small: String,
    moderate: String,
    large: String,
    sd_judgement: String,
    log_sd_direction: String,
    k_max: String,
    correlation: String,
    pair_left: String,
    incidence: String,
    incidence_middle: String,
    mix: String,
    limits: String,
    mix_concentration: String,
    explainable: String,
    unexplained: String,
    share_max: String,
    indistinct: String,
    growing: String,
    repeat_days: String,
}

/// The plausibility limit in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// All weights are multiplied by this, 0–1.
    pub kappa: f64,
    /// In words.
    pub words: String,
}

/// The methods page for the weights of a system.
pub fn methods(
    library: &Library,
    weights: &[FactorWeight],
    system: System,
    plausibility: Option<Plausibility>,
) -> Methods {
    let lines: Vec<(WeightLine, Option<String>)> =
        weights.iter().map(|weight| weight_line(library, weight, system)).collect();
    let titled = |basis: Basis| {
        let factors = weights.iter().filter(|weight| weight.basis == basis);
        titles(factors.map(|weight| library.factors[weight.factor].title.as_str()))
    };
    let from_other = lines.iter().filter(|(_, mark)| mark.is_some()).map(|(line, _)| line.title.as_str());
    Methods {
        system: system.id(),
        herds: words::system_herds(Some(system)),
        published: titled(Basis::Published),
        direction_only: titled(Basis::Direction),
        judgement: titled(Basis::Judgement),
        from_other_system: titles(from_other),
        constants: constants(library, system),
        value: values(&library.burden, system),
        limit: plausibility.map(limit),
        sources: sources(library, weights, system),
        weights: lines.into_iter().map(|(line, _)| line).collect(),
    }
}

fn titles<'a>(titles: impl Iterator<Item = &'a str>) -> String {
    list(&titles.map(small).collect::<Vec<_>>())
}

fn weight_line(library: &Library, weight: &FactorWeight, system: System) -> (WeightLine, Option<String>) {
    let evidence = factor_evidence(library, weight, system);
    let mark = evidence.mark.as_ref().map(|mark| format!(", {mark}")).unwrap_or_default();
    let line = WeightLine {
        rests_on: format!("{}{mark}", evidence.basis_words),
        overlap: (weight.overlap < 1.0).then(|| percent(weight.overlap)),
        pooled: evidence.pooled(),
        listed: evidence.effects(),
        id: evidence.id,
        title: evidence.title,
        weight: evidence.weight,
    };
    (line, evidence.mark)
}

fn limit(plausibility: Plausibility) -> Limit {
    let Plausibility { kappa, spread_limit, level_limit } = plausibility;
    let words = if kappa >= 1.0 {
        "With these factors neither limit binds: the weights are used whole.".to_owned()
    } else {
        let which = if spread_limit <= level_limit { "the spread between herds" } else { "the level" };
        format!(
            "With these factors the limit from {which} binds (spread {}, level {}): every log weight is \
             multiplied by {}.",
            ratio(spread_limit.min(1.0)),
            ratio(level_limit),
            ratio(kappa)
        )
    };
    Limit { kappa, words }
}

fn values(burden: &Burden, system: System) -> Values {
    let (constants, own) = (&burden.constants, burden.system(system));
    let (design, judged) = (&constants.design_allowance, &constants.judgement_weights);
    Values {
        tau_floor: trimmed(constants.tau_floor),
        null_sd: trimmed(constants.null_sd),
        surrogate: trimmed(constants.surrogate_allowance),
        other_system: trimmed(constants.other_system_allowance),
        trial: trimmed(design.trial),
        cohort: trimmed(design.cohort),
        cross_sectional: trimmed(design.cross_sectional),
        case_control: trimmed(design.case_control),
        crude: trimmed(design.crude),
        prior_sd: trimmed(constants.prior_sd_log_rr),
        prior_fold: decimals(libm::exp(1.96 * constants.prior_sd_log_rr), 1),
        small: trimmed(judged.small),
        moderate: trimmed(judged.moderate),
        large: trimmed(judged.large),
        sd_judgement: trimmed(judged.sd_judgement),
        log_sd_direction: trimmed(judged.log_sd_direction),
        k_max: trimmed(constants.k_max),
        correlation: trimmed(constants.cluster_correlation),
        pair_left: percent(1.0 / (1.0 + constants.cluster_correlation)),
        incidence: trimmed(own.incidence_mean_per_100_cow_years),
        incidence_middle: incidence_middle(own.incidence_shape, own.incidence_mean_per_100_cow_years),
        mix: mix(burden, system),
        limits: range(constants.rr_limits),
        mix_concentration: trimmed(constants.mix_concentration),
        explainable: percent(constants.explainable_share),
        unexplained: percent(1.0 - constants.explainable_share),
        share_max: percent(constants.typical_share_max),
        indistinct: percent(constants.indistinct_below),
        growing: percent(burden.cost_share_growing_with_length),
        repeat_days: constants.repeat_days.to_string(),
    }
}

/// The middle nine tenths of herds.
fn incidence_middle(shape: f64, mean: f64) -> String {
    let at = |p: f64| mean / shape * crate::reckon::stats::quantile::gamma_quantile(p, shape);
    format!("{} and {}", whole(at(0.05)), whole(at(0.95)))
}

fn mix(burden: &Burden, system: System) -> String {
    let shares = burden.system(system).lesion_mix;
    let named = shares
        .iter()
        .map(|(lesion, share)| format!("{} {}", small(&burden.lesions[lesion].name), percent(*share)));
    named.collect::<Vec<_>>().join("; ")
}

fn from(library: &Library, provenance: &Provenance) -> String {
    let cited: Vec<String> = provenance.sources.iter().map(|id| cite(library, id)).collect();
    let mut parts = Vec::new();
    if provenance.judgement {
        parts.push("judged".to_owned());
    }
    if !cited.is_empty() {
        parts.push(list(&cited));
    }
    parts.extend(provenance.note.clone());
    capital(&parts.join("; "))
}

fn cite(library: &Library, id: &str) -> String {
    library.source(id).map_or_else(|| id.to_owned(), words::cite)
}

/// What a constant is for, with why it is there, and its value. `None` for a key that this program does
/// not use.
fn explained(key: &str, constants: &Constants) -> Option<(&'static str, String)> {
    let design = &constants.design_allowance;
    let judged = &constants.judgement_weights;
    Some(match key {
        "typical_share_max" => (
            "Most of its cases that a typical herd could lose with everything put right",
            percent(constants.typical_share_max),
        ),
        "tau_floor" => (
            "Least standard deviation of a log risk ratio between farms, since no single study shows how farms \
             differ",
            trimmed(constants.tau_floor),
        ),
        "null_sd" => (
            "Standard error of a log risk ratio where a study found no difference and printed no size, so that \
             not only the significant half of the literature speaks",
            trimmed(constants.null_sd),
        ),
        "surrogate_allowance" => (
            "Allowance where the outcome only stands for the one named, as haemorrhage does for an abscess",
            trimmed(constants.surrogate_allowance),
        ),
        "other_system_allowance" => (
            "Allowance for an effect seen in herds kept in another way",
            trimmed(constants.other_system_allowance),
        ),
        "rr_limits" => (
            "How far the walk alone may move a lesion's rate from that of herds at large",
            range(constants.rr_limits),
        ),
        "explainable_share" => (
            "Share of the spread between herds that all factors together may explain",
            percent(constants.explainable_share),
        ),
        "prior_sd_log_rr" => {
            ("Standard deviation of a log risk ratio before any evidence", trimmed(constants.prior_sd_log_rr))
        }
        "design_allowance" => (
            "Allowances for the design of a study, standard deviations of a log risk ratio",
            format!(
                "trial {}, cohort {}, cross-sectional {}, case-control {}, not adjusted {}",
                trimmed(design.trial),
                trimmed(design.cohort),
                trimmed(design.cross_sectional),
                trimmed(design.case_control),
                trimmed(design.crude)
            ),
        ),
        "judgement_weights" => (
            "Risk ratios where no usable size was published, with their spread; about as large as published \
             ones are after the prior, so that an opinion does not outrank a measurement",
            format!(
                "small {}, moderate {}, large {}; standard deviation of the log {} on judgement; {} of the log \
                 of the log risk ratio on a published direction",
                trimmed(judged.small),
                trimmed(judged.moderate),
                trimmed(judged.large),
                trimmed(judged.sd_judgement),
                trimmed(judged.log_sd_direction)
            ),
        ),
        "k_max" => (
            "Most that a weight is stretched over few lesions, since rare lesions can't carry a whole published \
             effect",
            trimmed(constants.k_max),
        ),
        "cluster_correlation" => (
            "Correlation of exposures that are several looks at one thing",
            trimmed(constants.cluster_correlation),
        ),
        "mix_concentration" => (
            "Cases that the expected lesion mix counts as, against the farm's own",
            trimmed(constants.mix_concentration),
        ),
        "repeat_days" => (
            "Days within which another record of the same cow and foot is the same case",
            constants.repeat_days.to_string(),
        ),
        "indistinct_below" => (
            "Two neighbours in a ranking can't be told apart where the one ahead wins in fewer draws than this",
            percent(constants.indistinct_below),
        ),
        "default_discount_rate" => (
            "Yearly discount rate where the walk record gives none",
            words::fine_percent(constants.default_discount_rate),
        ),
        _ => return None,
    })
}

fn constants(library: &Library, system: System) -> Vec<ConstantRow> {
    let burden = &library.burden;
    let own = burden.system(system);
    let row = |key: &str, meaning: &str, value: String, from: String| ConstantRow {
        key: key.to_owned(),
        meaning: meaning.to_owned(),
        value,
        from,
    };
    let mut rows: Vec<ConstantRow> = burden
        .constants
        .provenance
        .iter()
        .filter_map(|constant| {
            let (meaning, value) = explained(&constant.key, &burden.constants)?;
            Some(row(&constant.key, meaning, value, from(library, &constant.provenance)))
        })
        .collect();
    rows.push(row(
        "incidence",
        "Recorded cases per 100 cow-years over herds: Gamma distribution",
        format!(
            "mean {}, shape {}",
            trimmed(own.incidence_mean_per_100_cow_years),
            trimmed(own.incidence_shape)
        ),
        from(library, &own.incidence_provenance),
    ));
    rows.push(row(
        "lesion_mix",
        "Lesions of herds at large",
        mix(burden, system),
        from(library, &own.lesion_mix_provenance),
    ));
    rows.push(row(
        "duration_days",
        "Days a recorded case lasts: low, likely, high",
        triangles(burden, |lesion| Some(own.duration_days[lesion])),
        from(library, &own.duration_provenance),
    ));
    rows.extend(burden.costs.iter().filter(|cost| cost.system == system).map(|cost| {
        let source = cost.source.as_ref().map(|id| cite(library, id));
        let words = [source, Some(words::certainty(cost.certainty).to_owned()), cost.note.clone()];
        row(
            "costs",
            &format!("Cost of a case, {} of {}: low, likely, high", cost.currency, cost.price_year),
            triangles(burden, |lesion| Some(cost.per_case[lesion])),
            capital(&words.into_iter().flatten().collect::<Vec<_>>().join("; ")),
        )
    }));
    rows.push(row(
        "cost_share_growing_with_length",
        "Share of a case's cost that grows with its length: milk, fertility and part of culling do, treatment \
         does not",
        percent(burden.cost_share_growing_with_length),
        "Judged".to_owned(),
    ));
    rows
}

fn triangles(burden: &Burden, of: impl Fn(Lesion) -> Option<Triangle>) -> String {
    let named = Lesion::ALL.into_iter().filter_map(|lesion| {
        let Triangle { low, likely, high } = of(lesion)?;
        let name = small(&burden.lesions[lesion].name);
        Some(format!("{name} {}, {}, {}", trimmed(low), trimmed(likely), trimmed(high)))
    });
    named.collect::<Vec<_>>().join("; ")
}

/// Sources of the weights of a system, the constants and the options, by authors and year.
fn sources(library: &Library, weights: &[FactorWeight], system: System) -> Vec<SourceLine> {
    let mut uses: Vec<(&str, String)> = Vec::new();
    for weight in weights {
        let factor = &library.factors[weight.factor];
        let steps =
            weight.lameness.steps.iter().chain(weight.own.0.iter().flatten().flat_map(|own| &own.steps));
        for step in steps {
            let how = match step.role {
                Role::Pooled => "size",
                Role::Direction => "direction",
                Role::Listed(_) => "listed only",
            };
            let source = library.effects[step.effect].source.as_str();
            uses.push((source, format!("{} ({how})", small(&factor.title))));
        }
    }
    let burden = &library.burden;
    let own = burden.system(system);
    let stated = burden.constants.provenance.iter().map(|it| (&it.provenance, it.key.as_str())).chain([
        (&own.incidence_provenance, "rate of lameness"),
        (&own.lesion_mix_provenance, "lesion mix"),
        (&own.duration_provenance, "length of cases"),
    ]);
    for (provenance, what) in stated {
        uses.extend(provenance.sources.iter().map(|id| (id.as_str(), what.replace('_', " "))));
    }
    let costs = burden.costs.iter().filter(|cost| cost.system == system);
    uses.extend(
        costs
            .filter_map(|cost| Some((cost.source.as_deref()?, format!("cost of a case, {}", cost.currency)))),
    );
    for option in &library.interventions {
        let shortens = option.shortens_cases.as_ref().and_then(|it| it.source.as_deref());
        uses.extend(shortens.map(|id| (id, format!("length of cases: {}", small(&option.title)))));
        uses.extend(
            option.price_source.as_deref().map(|id| (id, format!("price: {}", small(&option.title)))),
        );
    }
    let used = |source: &Source| {
        let mut words: Vec<String> = Vec::new();
        for (_, what) in uses.iter().filter(|(id, _)| *id == source.id) {
            if !words.contains(what) {
                words.push(what.clone());
            }
        }
        (!words.is_empty()).then(|| source_line(source, words.join("; ")))
    };
    let mut lines: Vec<SourceLine> = library.sources.iter().filter_map(used).collect();
    lines.sort_by(|a, b| a.authors.cmp(&b.authors));
    lines
}

fn source_line(source: &Source, used_for: String) -> SourceLine {
    let authors = source.authors.clone().unwrap_or_else(|| "Authors not noted".to_owned());
    SourceLine {
        authors: format!("{} ({})", authors.trim_end_matches('.'), source.year),
        title: source.title.clone(),
        journal: source.journal.clone(),
        doi: source.doi.clone(),
        read: words::read(source.read),
        used_for,
    }
}
