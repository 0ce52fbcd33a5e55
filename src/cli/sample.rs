//! `sample`: how many cows to score, and how many squares of stones to lay down.

use super::Failure;
use super::args::{AnyFormat, Common, SampleArgs};
use super::commands::WIDTH;
use super::files::{file_set, inputs, write};
use crate::finding::Findings;
use crate::job;
use crate::model::System;
use crate::reckon::sample::{SampleRequest, plan_sample};
use crate::report::sample_page::{sample_facts, sample_page};
use crate::show::{html, markdown, sample_terminal};
use std::collections::BTreeMap;

/// Prints how much to look at.
pub(super) fn sample(common: &Common, args: &SampleArgs) -> Result<Findings, Failure> {
    let system = System::from(args.system);
    let request = SampleRequest {
        cows: args.cows,
        system,
        expected: args.expect,
        half_width: args.within,
        stones_per_m2: args.stones,
        relative_half_width: args.stones_within,
    };
    let files = file_set(common.checklists.as_deref())?;
    let plans = plan_sample(&super::evidence::library(&files, system)?, &request);
    if args.cows.is_some() && plans.cows.is_none() {
        let reason = "the burden file gives no prevalence of scored herds: say what to expect with --expect";
        return Err(Failure::Usage(reason.to_owned()));
    }
    let page = sample_page(&plans);
    let filled = || markdown::fill("sample.md", &page);
    let text = match args.format {
        AnyFormat::Json => job::json(&sample_facts(&plans))?,
        AnyFormat::Text => sample_terminal::sample(&page, WIDTH),
        AnyFormat::Md => markdown::plain(&filled()?),
        AnyFormat::Html => html::page("How much to look at", "adviser", "en", &filled()?, &BTreeMap::new()),
    };
    write(args.output.out.as_deref(), text.as_bytes(), &inputs(&[], common.checklists.as_deref())?)?;
    Ok(Findings::new())
}
