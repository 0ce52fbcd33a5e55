//! `evidence/burden.yaml`: herd-level rates, lesion mixes, durations, costs and every constant.

use super::field::{
    Block, Bounds, End, INNER_SHARE, Mention, NOT_NEGATIVE, POSITIVE, Page, Refers, SHARE, Value,
};
use crate::finding::{Findings, SourceText};
use crate::model::System;
use crate::model::evidence::{
    Burden, Certainty, Constant, Constants, CostRow, DesignAllowance, JudgementWeights, LesionInfo,
    Provenance, SystemBurden,
};
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::money::Triangle;

const CERTAINTY: &[(&str, Certainty)] =
    &[("seen", Certainty::Seen), ("second-hand", Certainty::SecondHand), ("memory", Certainty::Memory)];

pub(crate) const SYSTEMS: &[(&str, System)] = &[("pasture", System::Pasture), ("housed", System::Housed)];

/// Yearly discount rate where neither the walk nor the burden file gives one: a judgement, about
/// what farm loans cost above inflation.
const DEFAULT_DISCOUNT_RATE: f64 = 0.05;

/// How far a lesion mix may be from adding up to 1, for rounding.
const MIX_TOLERANCE: f64 = 0.001;

/// A ratio that is more than none.
const ABOVE_ONE: Bounds = Bounds::new(End::Beyond(1.0), End::Open, "above 1");

/// Reads the burden file.
pub(crate) fn read_burden(text: &SourceText, findings: &mut Findings) -> (Option<Burden>, Vec<Mention>) {
    let Some(root) = super::yaml::read(text, findings) else { return (None, Vec::new()) };
    let page = Page::new(text);
    let burden = page.root(&root).block(fields);
    (burden, page.close(findings))
}

/// Reads the fields of the burden file.
pub(crate) fn fields(block: &Block<'_>) -> Option<Burden> {
    let constants = block.req("constants").and_then(|value| value.block(constants));
    let lesions = block.req("lesions").and_then(lesions);
    let systems = block.req("systems").and_then(|value| {
        value.block(|systems| {
            let pasture = systems.req("pasture").and_then(|value| value.block(system));
            let housed = systems.req("housed").and_then(|value| value.block(system));
            Some((pasture?, housed?))
        })
    });
    let costs = block.opt("costs").and_then(Value::list).unwrap_or_default();
    let costs: Vec<CostRow> = costs.into_iter().filter_map(|row| row.block(cost_row)).collect();
    let growing = block.req("cost_share_growing_with_length").and_then(|value| value.block(growing_share));
    let detection = block.opt("detection").and_then(|value| value.block(detection));
    let (pasture, housed) = systems?;
    Some(Burden {
        constants: constants?,
        lesions: lesions?,
        pasture,
        housed,
        costs,
        cost_share_growing_with_length: growing?,
        farmer_share_beta: detection.as_ref().map(|(beta, _)| *beta),
        farmer_share_provenance: detection.map(|(_, provenance)| provenance),
    })
}

/// Constants while they are read: each notes its key and where it comes from.
struct Reading<'a, 'b> {
    block: &'b Block<'a>,
    provenance: Vec<Constant>,
}

impl<'a> Reading<'a, '_> {
    fn read<T>(&mut self, key: &'static str, read: impl FnOnce(&Block<'a>) -> Option<T>) -> Option<T> {
        let value = self.block.req(key)?;
        self.noted(key, value, read)
    }

    fn noted<T>(
        &mut self,
        key: &'static str,
        value: Value<'a>,
        read: impl FnOnce(&Block<'a>) -> Option<T>,
    ) -> Option<T> {
        value.block(|block| {
            let result = read(block);
            self.provenance.push(Constant { key: key.to_owned(), provenance: block.provenance() });
            result
        })
    }

    fn number(&mut self, key: &'static str, bounds: &Bounds) -> Option<f64> {
        self.read(key, |block| block.number("value", bounds))
    }
}

fn constants(block: &Block<'_>) -> Option<Constants> {
    let mut reading = Reading { block, provenance: Vec::new() };
    let typical_share_max = reading.number("typical_share_max", &INNER_SHARE);
    let tau_floor = reading.number("tau_floor", &NOT_NEGATIVE);
    let null_sd = reading.number("null_sd", &POSITIVE);
    let surrogate_allowance = reading.number("surrogate_allowance", &NOT_NEGATIVE);
    let other_system_allowance = reading.number("other_system_allowance", &NOT_NEGATIVE);
    let rr_limits = reading.read("rr_limits", |block| block.req("value").and_then(limits));
    let explainable_share = reading.number("explainable_share", &INNER_SHARE);
    let prior_sd_log_rr = reading.number("prior_sd_log_rr", &POSITIVE);
    let design_allowance = reading.read("design_allowance", design_allowance);
    let judgement_weights = reading.read("judgement_weights", judgement_weights);
    let k_max = reading.number("k_max", &Bounds::new(End::At(1.0), End::Open, "1 or more"));
    let cluster_correlation = reading
        .number("cluster_correlation", &Bounds::new(End::At(0.0), End::Beyond(1.0), "0 or more, below 1"));
    let mix_concentration = reading.number("mix_concentration", &POSITIVE);
    let repeat_days = reading.read("repeat_days", |block| block.req("value")?.whole(0, 3_650));
    let indistinct_below = reading.number("indistinct_below", &SHARE);
    let default_discount_rate = discount_rate(&mut reading);
    Some(Constants {
        typical_share_max: typical_share_max?,
        tau_floor: tau_floor?,
        null_sd: null_sd?,
        surrogate_allowance: surrogate_allowance?,
        other_system_allowance: other_system_allowance?,
        rr_limits: rr_limits?,
        explainable_share: explainable_share?,
        prior_sd_log_rr: prior_sd_log_rr?,
        design_allowance: design_allowance?,
        judgement_weights: judgement_weights?,
        k_max: k_max?,
        cluster_correlation: cluster_correlation?,
        mix_concentration: mix_concentration?,
        repeat_days: repeat_days.and_then(|days| i64::try_from(days).ok())?,
        indistinct_below: indistinct_below?,
        default_discount_rate,
        provenance: reading.provenance,
    })
}

fn discount_rate(reading: &mut Reading<'_, '_>) -> f64 {
    const KEY: &str = "default_discount_rate";
    let Some(value) = reading.block.opt(KEY) else {
        let note = Some("a real rate, about what farm loans cost above inflation".to_owned());
        let provenance = Provenance { sources: Vec::new(), judgement: true, note };
        reading.provenance.push(Constant { key: KEY.to_owned(), provenance });
        return DEFAULT_DISCOUNT_RATE;
    };
    reading.noted(KEY, value, |block| block.number("value", &SHARE)).unwrap_or(DEFAULT_DISCOUNT_RATE)
}

/// Limits of a relative rate: they must lie on both sides of 1.
fn limits(value: Value<'_>) -> Option<(f64, f64)> {
    let (low, high) = value.interval(&POSITIVE)?;
    if low < 1.0 && high > 1.0 {
        return Some((low, high));
    }
    let message = format!("`rr_limits` are [{low}, {high}], which don't lie on both sides of 1");
    value.error("out-of-range", message, "such as [0.33, 3]");
    None
}

fn design_allowance(block: &Block<'_>) -> Option<DesignAllowance> {
    let trial = block.number("trial", &NOT_NEGATIVE);
    let cohort = block.number("cohort", &NOT_NEGATIVE);
    let cross_sectional = block.number("cross-sectional", &NOT_NEGATIVE);
    let case_control = block.number("case-control", &NOT_NEGATIVE);
    let crude = block.number("crude", &NOT_NEGATIVE);
    Some(DesignAllowance {
        trial: trial?,
        cohort: cohort?,
        cross_sectional: cross_sectional?,
        case_control: case_control?,
        crude: crude?,
    })
}

fn judgement_weights(block: &Block<'_>) -> Option<JudgementWeights> {
    let small = block.number("small", &ABOVE_ONE);
    let moderate = block.number("moderate", &ABOVE_ONE);
    let large = block.number("large", &ABOVE_ONE);
    let sd_judgement = block.number("sd_judgement", &POSITIVE);
    let log_sd_direction = block.number("log_sd_direction", &POSITIVE);
    Some(JudgementWeights {
        small: small?,
        moderate: moderate?,
        large: large?,
        sd_judgement: sd_judgement?,
        log_sd_direction: log_sd_direction?,
    })
}

/// Every lesion group with its name; a block each.
fn lesions(value: Value<'_>) -> Option<PerLesion<LesionInfo>> {
    let mut infos = PerLesion::<LesionInfo>::default();
    let mut complete = true;
    value.block(|block| {
        for lesion in Lesion::ALL {
            let info = block.req(lesion.id()).and_then(|value| value.block(lesion_info));
            complete &= info.is_some();
            infos[lesion] = info.unwrap_or_default();
        }
        Some(())
    })?;
    complete.then_some(infos)
}

fn lesion_info(block: &Block<'_>) -> Option<LesionInfo> {
    let name = block.text("name");
    let icar = block.texts("icar");
    let note = block.opt_text("note");
    Some(LesionInfo { name: name?, icar, note })
}

/// A value for every lesion, each of them needed.
fn every_lesion<'a, T: Copy>(
    value: Value<'a>,
    read: impl FnMut(Value<'a>) -> Option<T>,
) -> Option<PerLesion<T>> {
    let errors = value.page.errors();
    let table = value.per_lesion(read)?;
    value.needs_all_names();
    let missing: Vec<&str> =
        table.iter().filter(|(_, entry)| entry.is_none()).map(|(lesion, _)| lesion.id()).collect();
    if !missing.is_empty() && value.page.errors() == errors {
        let message = format!("`{}` has no value for {}", value.name, super::suggest::list(&missing));
        value.error("missing-field", message, "give one for every lesion");
    }
    let filled: Vec<T> = table.0.into_iter().flatten().collect();
    filled.try_into().ok().map(PerLesion)
}

fn system(block: &Block<'_>) -> Option<SystemBurden> {
    let incidence = block.req("incidence").and_then(|value| {
        value.block(|block| {
            let shape = block.number("shape", &POSITIVE);
            let mean = block.number("mean", &POSITIVE);
            let provenance = block.provenance();
            Some((shape?, mean?, provenance))
        })
    });
    let mix = block.req("lesion_mix").and_then(lesion_mix);
    let mix_sources = block.mentions("lesion_mix_source", Refers::Source);
    let mix_note = block.opt_text("lesion_mix_note");
    let durations =
        block.req("duration_days").and_then(|value| every_lesion(value, |days| days.triangle(&POSITIVE)));
    let duration_sources = block.mentions("duration_source", Refers::Source);
    let duration_note = block.opt_text("duration_note");
    let judged = block.texts("judged");
    let prevalence = block.opt("prevalence").and_then(|value| value.block(beta));
    let (incidence_shape, incidence_mean_per_100_cow_years, incidence_provenance) = incidence?;
    let is_judged = |field: &str| judged.iter().any(|name| name == field);
    Some(SystemBurden {
        incidence_shape,
        incidence_mean_per_100_cow_years,
        incidence_provenance,
        lesion_mix: mix?,
        lesion_mix_provenance: Provenance {
            sources: mix_sources,
            judgement: is_judged("lesion_mix"),
            note: mix_note,
        },
        duration_days: durations?,
        duration_provenance: Provenance {
            sources: duration_sources,
            judgement: is_judged("duration_days"),
            note: duration_note,
        },
        judged,
        prevalence_beta: prevalence.as_ref().map(|(beta, _)| *beta),
        prevalence_note: prevalence.and_then(|(_, provenance)| provenance.note),
    })
}

/// The reference lesion mix; rounding is taken out, so that it adds up to 1.
fn lesion_mix(value: Value<'_>) -> Option<PerLesion<f64>> {
    let mix = every_lesion(value, |share| share.number(&SHARE))?;
    let sum = mix.sum();
    if (sum - 1.0).abs() <= MIX_TOLERANCE {
        return Some(PerLesion(mix.0.map(|share| share / sum)));
    }
    let message = format!("the shares of `{}` add up to {sum:.3}", value.name);
    value.error("mix-sum", message, "they must add up to 1");
    None
}

/// Both parameters of a Beta distribution, with where it comes from.
fn beta(block: &Block<'_>) -> Option<((f64, f64), Provenance)> {
    let a = block.number("a", &POSITIVE);
    let b = block.number("b", &POSITIVE);
    let provenance = block.loose_provenance();
    Some(((a?, b?), provenance))
}

fn detection(block: &Block<'_>) -> Option<((f64, f64), Provenance)> {
    block.req("farmer_share")?.block(beta)
}

fn growing_share(block: &Block<'_>) -> Option<f64> {
    let value = block.number("value", &SHARE);
    block.provenance();
    value
}

fn cost_row(block: &Block<'_>) -> Option<CostRow> {
    let currency = block.req("currency").and_then(Value::currency);
    let price_year = block.req("price_year").and_then(Value::year);
    let system = block.one_of("system", SYSTEMS);
    let source = block.opt("source").and_then(|source| source.mention(Refers::Source));
    let certainty = block.one_of("certainty", CERTAINTY);
    let per_case = block.req("per_case").and_then(costs_per_case);
    let others = block.req("others").and_then(|others| others.triangle(&NOT_NEGATIVE));
    let note = block.opt_text("note");
    let (listed, others) = (per_case?, others?);
    Some(CostRow {
        currency: currency?,
        price_year: price_year?,
        system: system?,
        source,
        certainty: certainty?,
        per_case: PerLesion(listed.0.map(|cost| cost.unwrap_or(others))),
        listed: PerLesion(listed.0.map(|cost| cost.is_some())),
        note,
    })
}

/// Costs per case by lesion: low, likely, high.
pub(crate) fn costs_per_case(value: Value<'_>) -> Option<PerLesion<Option<Triangle>>> {
    value.per_lesion(|cost| cost.triangle(&NOT_NEGATIVE))
}
