//! The methods page of the adviser's report: what `templates/methods.md` says, with every constant, what
//! is judged, what nobody has measured, and the sources that were used.

use super::words::{self, capital, plain, range, ratio, small};
use super::{RatioFacts, cite_id, factor_evidence};
use crate::model::evidence::{Burden, Constants, Provenance, Source};
use crate::model::lesion::Lesion;
use crate::model::money::Triangle;
use crate::model::words::Words;
use crate::model::{Library, System};
use crate::reckon::effects::{Basis, Role};
use crate::reckon::herd_rate::Plausibility;
use crate::reckon::stats::quantile::gamma_quantile;
use crate::reckon::weights::FactorWeight;
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
    /// How many effects were pooled, of those listed.
    pub pooled_of: String,
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
    pub read: String,
    /// What it was used for.
    pub used_for: String,
}

/// What the methods page says. Texts are finished, but not escaped for Markdown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Methods {
    /// Id of the system.
    pub system: &'static str,
    /// As in "pasture herds".
    pub herds: String,
    /// Every weight, in file order.
    pub weights: Vec<WeightLine>,
    /// Titles of factors with a published size.
    pub published: String,
    /// Titles of factors with a published direction alone.
    pub direction_only: String,
    /// Titles of factors that rest on judgement alone.
    pub judgement: String,
    /// Titles of factors whose published size comes wholly or partly from the other system; empty where
    /// there are none.
    pub from_other_system: String,
    /// Every constant.
    pub constants: Vec<ConstantRow>,
    /// Values of the constants by key, for the text.
    pub value: Values,
    /// What the plausibility limit does; absent where it was not reckoned.
    pub limit: Option<String>,
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
    incidence_low: String,
    incidence_high: String,
    mix: String,
    limits: String,
    mix_concentration: String,
    explainable: String,
    share_max: String,
    indistinct: String,
    growing: String,
}

/// The methods page for the weights of a system.
pub fn methods(
    library: &Library,
    weights: &[FactorWeight],
    system: System,
    plausibility: Option<Plausibility>,
) -> Methods {
    let words = &library.words;
    let lines: Vec<(WeightLine, bool)> =
        weights.iter().map(|weight| weight_line(library, weight, system)).collect();
    let titled = |basis: Basis| {
        let factors = weights.iter().filter(|weight| weight.basis == basis);
        let titles = titles(words, factors.map(|weight| library.factors[weight.factor].title.as_str()));
        if titles.is_empty() { words.word("methods.no-factor") } else { titles }
    };
    let from_other = lines.iter().filter(|(_, from_other)| *from_other).map(|(line, _)| line.title.as_str());
    Methods {
        system: system.id(),
        herds: words::system_herds(words, Some(system)),
        published: titled(Basis::Published),
        direction_only: titled(Basis::Direction),
        judgement: titled(Basis::Judgement),
        from_other_system: titles(words, from_other),
        constants: constants(library, system),
        value: values(words, &library.burden, system),
        limit: plausibility.map(|plausibility| limit(words, plausibility)),
        sources: sources(library, weights, system),
        weights: lines.into_iter().map(|(line, _)| line).collect(),
    }
}

fn titles<'a>(words: &Words, titles: impl Iterator<Item = &'a str>) -> String {
    words.list(&titles.map(small).collect::<Vec<_>>())
}

/// The line of a weight, and whether its size comes wholly or partly from the other system.
fn weight_line(library: &Library, weight: &FactorWeight, system: System) -> (WeightLine, bool) {
    let words = &library.words;
    let evidence = factor_evidence(library, weight, system);
    let line = WeightLine {
        rests_on: evidence.rests_on(words),
        overlap: (weight.overlap < 1.0).then(|| words.percent(weight.overlap)),
        pooled_of: evidence.pooled_of_listed(words),
        id: evidence.id,
        title: evidence.title,
        weight: evidence.weight,
    };
    (line, evidence.mark.is_some())
}

fn limit(words: &Words, plausibility: Plausibility) -> String {
    let Plausibility { kappa, spread_limit, level_limit } = plausibility;
    let key = match (kappa >= 1.0, spread_limit <= level_limit) {
        (true, _) => return words.word("methods.limit-none"),
        (_, true) => "methods.limit-spread",
        (_, false) => "methods.limit-level",
    };
    words.say(
        key,
        &[
            ("spread", &ratio(words, spread_limit.min(1.0))),
            ("level", &ratio(words, level_limit)),
            ("kappa", &ratio(words, kappa)),
        ],
    )
}

fn values(words: &Words, burden: &Burden, system: System) -> Values {
    let (constants, own) = (&burden.constants, burden.system(system));
    let (design, judged) = (&constants.design_allowance, &constants.judgement_weights);
    let plain = |value: f64| plain(words, value);
    let (mean, shape) = (own.incidence_mean_per_100_cow_years, own.incidence_shape);
    let herds = |p: f64| words.whole(mean / shape * gamma_quantile(p, shape));
    Values {
        tau_floor: plain(constants.tau_floor),
        null_sd: plain(constants.null_sd),
        surrogate: plain(constants.surrogate_allowance),
        other_system: plain(constants.other_system_allowance),
        trial: plain(design.trial),
        cohort: plain(design.cohort),
        cross_sectional: plain(design.cross_sectional),
        case_control: plain(design.case_control),
        crude: plain(design.crude),
        prior_sd: plain(constants.prior_sd_log_rr),
        prior_fold: words.decimals(libm::exp(1.96 * constants.prior_sd_log_rr), 1),
        small: plain(judged.small),
        moderate: plain(judged.moderate),
        large: plain(judged.large),
        sd_judgement: plain(judged.sd_judgement),
        log_sd_direction: plain(judged.log_sd_direction),
        k_max: plain(constants.k_max),
        correlation: plain(constants.cluster_correlation),
        pair_left: words.percent(1.0 / (1.0 + constants.cluster_correlation)),
        incidence: plain(mean),
        incidence_low: herds(0.05),
        incidence_high: herds(0.95),
        mix: mix(words, burden, system),
        limits: range(words, constants.rr_limits),
        mix_concentration: plain(constants.mix_concentration),
        explainable: words.percent(constants.explainable_share),
        share_max: words.percent(constants.typical_share_max),
        indistinct: words.percent(constants.indistinct_below),
        growing: words.percent(burden.cost_share_growing_with_length),
    }
}

fn mix(words: &Words, burden: &Burden, system: System) -> String {
    let shares = burden.system(system).lesion_mix;
    let named = shares.iter().map(|(lesion, share)| {
        let name = small(&burden.lesions[lesion].name);
        words.say("methods.lesion-share", &[("lesion", &name), ("share", &words.percent(*share))])
    });
    named.collect::<Vec<_>>().join(&words.word("list.semicolon"))
}

/// What a figure rests on: judged, its sources, and the note of its file.
fn from(library: &Library, provenance: &Provenance) -> String {
    let words = &library.words;
    let cited: Vec<String> = provenance.sources.iter().map(|id| cite_id(library, Some(id))).collect();
    let judged = provenance.judgement.then(|| words.word("methods.judged"));
    let cited = (!cited.is_empty()).then(|| words.list(&cited));
    joined(words, [judged, cited, provenance.note.clone()])
}

/// What there is, as one sentence without its stop.
fn joined(words: &Words, parts: [Option<String>; 3]) -> String {
    capital(&parts.into_iter().flatten().collect::<Vec<_>>().join(&words.word("list.semicolon")))
}

/// What a constant is for, with why it is there, and its value. `None` for a key that this program does
/// not use.
fn explained(words: &Words, key: &str, constants: &Constants) -> Option<(String, String)> {
    let plain = |value: f64| plain(words, value);
    let (meaning, value) = match key {
        "typical_share_max" => ("methods.typical-share-max", words.percent(constants.typical_share_max)),
        "tau_floor" => ("methods.tau-floor", plain(constants.tau_floor)),
        "null_sd" => ("methods.null-sd", plain(constants.null_sd)),
        "surrogate_allowance" => ("methods.surrogate-allowance", plain(constants.surrogate_allowance)),
        "other_system_allowance" => {
            ("methods.other-system-allowance", plain(constants.other_system_allowance))
        }
        "rr_limits" => ("methods.rr-limits", range(words, constants.rr_limits)),
        "explainable_share" => ("methods.explainable-share", words.percent(constants.explainable_share)),
        "prior_sd_log_rr" => ("methods.prior-sd", plain(constants.prior_sd_log_rr)),
        "design_allowance" => ("methods.design-allowance", design_allowances(words, constants)),
        "judgement_weights" => ("methods.judgement-weights", judgement_weights(words, constants)),
        "k_max" => ("methods.k-max", plain(constants.k_max)),
        "cluster_correlation" => ("methods.cluster-correlation", plain(constants.cluster_correlation)),
        "mix_concentration" => ("methods.mix-concentration", plain(constants.mix_concentration)),
        "repeat_days" => ("methods.repeat-days", constants.repeat_days.to_string()),
        "indistinct_below" => ("methods.indistinct-below", words.percent(constants.indistinct_below)),
        "default_discount_rate" => {
            ("methods.discount-rate", words::fine_percent(words, constants.default_discount_rate))
        }
        _ => return None,
    };
    Some((words.word(meaning), value))
}

fn design_allowances(words: &Words, constants: &Constants) -> String {
    let design = &constants.design_allowance;
    words.say(
        "methods.design-allowance-value",
        &[
            ("trial", &plain(words, design.trial)),
            ("cohort", &plain(words, design.cohort)),
            ("cross_sectional", &plain(words, design.cross_sectional)),
            ("case_control", &plain(words, design.case_control)),
            ("crude", &plain(words, design.crude)),
        ],
    )
}

fn judgement_weights(words: &Words, constants: &Constants) -> String {
    let judged = &constants.judgement_weights;
    words.say(
        "methods.judgement-weights-value",
        &[
            ("small", &plain(words, judged.small)),
            ("moderate", &plain(words, judged.moderate)),
            ("large", &plain(words, judged.large)),
            ("sd_judgement", &plain(words, judged.sd_judgement)),
            ("log_sd_direction", &plain(words, judged.log_sd_direction)),
        ],
    )
}

fn constants(library: &Library, system: System) -> Vec<ConstantRow> {
    let (words, burden) = (&library.words, &library.burden);
    let own = burden.system(system);
    let row = |key: &str, meaning: String, value: String, from: String| ConstantRow {
        key: key.to_owned(),
        meaning,
        value,
        from,
    };
    let stated = burden.constants.provenance.iter().filter_map(|constant| {
        let (meaning, value) = explained(words, &constant.key, &burden.constants)?;
        Some(row(&constant.key, meaning, value, from(library, &constant.provenance)))
    });
    let (mean, shape) =
        (plain(words, own.incidence_mean_per_100_cow_years), plain(words, own.incidence_shape));
    let herds = [
        row(
            "incidence",
            words.word("methods.incidence"),
            words.say("methods.incidence-value", &[("mean", &mean), ("shape", &shape)]),
            from(library, &own.incidence_provenance),
        ),
        row(
            "lesion_mix",
            words.word("methods.lesion-mix"),
            mix(words, burden, system),
            from(library, &own.lesion_mix_provenance),
        ),
        row(
            "duration_days",
            words.word("methods.duration"),
            triangles(words, burden, |lesion| own.duration_days[lesion]),
            from(library, &own.duration_provenance),
        ),
    ];
    let costs = burden.costs.iter().filter(|cost| cost.system == system).map(|cost| {
        let source = cost.source.as_ref().map(|id| cite_id(library, Some(id)));
        let year = cost.price_year.to_string();
        row(
            "costs",
            words.say("methods.costs", &[("currency", &cost.currency), ("year", &year)]),
            triangles(words, burden, |lesion| cost.per_case[lesion]),
            joined(words, [source, Some(words::certainty(words, cost.certainty)), cost.note.clone()]),
        )
    });
    let growing = row(
        "cost_share_growing_with_length",
        words.word("methods.growing-share"),
        words.percent(burden.cost_share_growing_with_length),
        capital(&words.word("methods.judged")),
    );
    stated.chain(herds).chain(costs).chain([growing]).collect()
}

fn triangles(words: &Words, burden: &Burden, of: impl Fn(Lesion) -> Triangle) -> String {
    let named = Lesion::ALL.into_iter().map(|lesion| {
        let Triangle { low, likely, high } = of(lesion);
        let name = small(&burden.lesions[lesion].name);
        let [low, likely, high] = [low, likely, high].map(|value| plain(words, value));
        words.say(
            "methods.lesion-range",
            &[("lesion", &name), ("low", &low), ("likely", &likely), ("high", &high)],
        )
    });
    named.collect::<Vec<_>>().join(&words.word("list.semicolon"))
}

/// Sources of the weights of a system, the constants and the options, by authors and year.
fn sources(library: &Library, weights: &[FactorWeight], system: System) -> Vec<SourceLine> {
    let words = &library.words;
    let mut uses = used_for_weights(library, weights);
    uses.extend(used_for_constants(library, system));
    uses.extend(used_for_options(library));
    let used = |source: &Source| {
        let mut said: Vec<String> = Vec::new();
        for (_, what) in uses.iter().filter(|(id, _)| *id == source.id) {
            if !said.contains(what) {
                said.push(what.clone());
            }
        }
        let used_for = said.join(&words.word("list.semicolon"));
        (!said.is_empty()).then(|| source_line(words, source, used_for))
    };
    let mut lines: Vec<SourceLine> = library.sources.iter().filter_map(used).collect();
    lines.sort_by(|a, b| a.authors.cmp(&b.authors));
    lines
}

/// The id of a source beside what it was used for.
type Use<'a> = (&'a str, String);

fn used_for_weights<'a>(library: &'a Library, weights: &[FactorWeight]) -> Vec<Use<'a>> {
    let mut uses = Vec::new();
    for weight in weights {
        let title = small(&library.factors[weight.factor].title);
        let own = weight.own.0.iter().flatten().flat_map(|own| &own.steps);
        for step in weight.lameness.steps.iter().chain(own) {
            let key = match step.role {
                Role::Pooled => "methods.use-size",
                Role::Direction => "methods.use-direction",
                Role::Listed(_) => "methods.use-listed",
            };
            let source = library.effects[step.effect].source.as_str();
            uses.push((source, library.words.say(key, &[("factor", &title)])));
        }
    }
    uses
}

fn used_for_constants(library: &Library, system: System) -> Vec<Use<'_>> {
    let (words, burden) = (&library.words, &library.burden);
    let own = burden.system(system);
    let constant = |key: &str| match key {
        "explainable_share" => words.word("methods.use-explainable"),
        // The others rest on judgement; those of a file of somebody's own go by their names in it.
        other => other.replace('_', " "),
    };
    let constants = burden.constants.provenance.iter().map(|it| (&it.provenance, constant(&it.key)));
    let herds = [
        (&own.incidence_provenance, words.word("methods.use-rate")),
        (&own.lesion_mix_provenance, words.word("methods.use-mix")),
        (&own.duration_provenance, words.word("methods.use-length")),
    ];
    let mut uses: Vec<Use<'_>> = Vec::new();
    for (provenance, what) in constants.chain(herds) {
        uses.extend(provenance.sources.iter().map(|id| (id.as_str(), what.clone())));
    }
    let costs = burden.costs.iter().filter(|cost| cost.system == system);
    uses.extend(costs.filter_map(|cost| {
        Some((cost.source.as_deref()?, words.say("methods.use-cost", &[("currency", &cost.currency)])))
    }));
    uses
}

fn used_for_options(library: &Library) -> Vec<Use<'_>> {
    let mut uses = Vec::new();
    for option in &library.interventions {
        let title = small(&option.title);
        let say = |key: &str| library.words.say(key, &[("option", &title)]);
        let shortens = option.shortens_cases.as_ref().and_then(|it| it.source.as_deref());
        uses.extend(shortens.map(|id| (id, say("methods.use-shorter"))));
        uses.extend(option.price_source.as_deref().map(|id| (id, say("methods.use-price"))));
    }
    uses
}

fn source_line(words: &Words, source: &Source, used_for: String) -> SourceLine {
    let authors = source.authors.clone().unwrap_or_else(|| words.word("methods.authors-unknown"));
    SourceLine {
        authors: format!("{} ({})", authors.trim_end_matches('.'), source.year),
        title: source.title.clone(),
        journal: source.journal.clone(),
        doi: source.doi.clone(),
        read: capital(&words::read(words, source.read)),
        used_for,
    }
}
