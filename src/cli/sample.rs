//! `sample`: how many cows to score, and how many squares of stones to lay down.

use super::Failure;
use super::args::{AnyFormat, Common, SampleArgs};
use super::commands::{WIDTH, translate};
use super::files::{file_set, inputs, write_as};
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
    let mut findings = Findings::new();
    let mut library = super::evidence::library(&files, system)?;
    if args.format != AnyFormat::Json {
        translate(common, &mut library, &mut findings)?;
    }
    let words = &library.words;
    let plans = plan_sample(&library, &request);
    if args.cows.is_some() && plans.cows.is_none() {
        let reason = "the burden file gives no prevalence of scored herds: say what to expect with --expect";
        return Err(Failure::Usage(reason.to_owned()));
    }
    let page = sample_page(words, &plans);
    let filled = || markdown::fill(words, "sample.md", &page);
    let text = match args.format {
        AnyFormat::Json => job::json(&sample_facts(&plans))?,
        AnyFormat::Text => sample_terminal::sample(words, &page, WIDTH),
        AnyFormat::Md => markdown::plain(&filled()?),
        AnyFormat::Html => {
            let title = words.word("sample.page-title");
            html::page(&title, "sample", words, &filled()?, &BTreeMap::new())
        }
    };
    let read = inputs(&[], common.checklists.as_deref())?;
    write_as(args.format, args.output.out.as_deref(), &text, &read)?;
    Ok(findings)
}
