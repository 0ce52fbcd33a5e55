//! `plan`: the best set of changes under a budget.

use super::Failure;
use super::actions::{read_paid_farm, write_blank};
use super::args::{AnyFormat, Common, PlanArgs};
use super::commands::{WIDTH, prepare, translate, write_page};
use super::files::{beside, inputs, write_as};
use super::progress::during;
use crate::finding::Findings;
use crate::input::hint;
use crate::job;
use crate::reckon::Prepared;
use crate::reckon::plan::{PlanRefusal, PlanRequest, farm_plan};
use crate::report::plan_facts::plan_facts;
use crate::report::plan_page::{plan_page, refusal};
use crate::show::{html, markdown, plan_terminal};
use std::path::Path;

/// Prints the plan.
pub(super) fn plan(common: &Common, args: &PlanArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let mut farm = read_paid_farm(common, &args.walk, &args.paid, &mut findings)?;
    if args.format != AnyFormat::Json {
        translate(common, &mut farm.library, &mut findings)?;
    }
    let prepared = prepare(&farm, &args.reckoning)?;
    let request = PlanRequest {
        budget: args.budget,
        must: args.must.clone(),
        never: args.never.clone(),
        at_most: args.at_most.map(usize::from),
    };
    let plan = during(common, "Looking for the best set of changes", || farm_plan(&prepared, &request));
    let plan = plan.map_err(|refused| refuse(&prepared, &refused))?;
    let named: Vec<&Path> = std::iter::once(args.walk.as_path()).chain(args.paid.paid.as_deref()).collect();
    let read = inputs(&named, common.checklists.as_deref())?;
    let out = args.output.out.as_deref();
    let page = || plan_page(&prepared, &plan);
    let text = match args.format {
        AnyFormat::Json => job::json(&plan_facts(&prepared, &plan, farm.inputs.clone()))?,
        AnyFormat::Text => plan_terminal::plan(&farm.library.words, &page().page, WIDTH),
        AnyFormat::Md => markdown::plain(&markdown::fill(&farm.library.words, "plan.md", &page().page)?),
        AnyFormat::Html => {
            let report = page();
            let words = &farm.library.words;
            let filled = markdown::fill(words, "plan.md", &report.page)?;
            let title = words.say("plan.page-title", &[("farm", &farm.walk.farm_name)]);
            html::page(&title, "plan", words, &filled, &report.figures)
        }
    };
    write_blank(common, &args.blank, out, &prepared, &plan)?;
    match args.format {
        AnyFormat::Html => write_page(common, beside(&args.walk, "plan"), out, &text, &read)?,
        format => write_as(format, out, &text, &read)?,
    }
    Ok(findings)
}

pub(super) fn refuse(prepared: &Prepared, refused: &PlanRefusal) -> Failure {
    let mut words = refusal(prepared, refused);
    if let PlanRefusal::Unknown { id, known } = refused {
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        words = format!("{words} {}", hint(id, &known));
    }
    if refused.is_of_the_request() { Failure::Usage(words) } else { Failure::Refused(words) }
}
