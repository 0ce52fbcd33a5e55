//! `report`: the report of a walk, with the plan in it.

use super::Failure;
use super::actions::{read_paid_farm, write_blank};
use super::args::{Common, ReportArgs, ReportFormat};
use super::commands::{reckon, write_page};
use super::files::{beside, inputs, write};
use super::plan::refuse;
use crate::finding::Findings;
use crate::job::{self, Reader};
use crate::reckon::plan::{PlanRequest, farm_plan};
use crate::report::plan_facts::plan_facts;
use std::path::Path;

/// Writes the report.
pub(super) fn report(common: &Common, args: &ReportArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let farm = read_paid_farm(common, &args.walk, &args.paid, &mut findings)?;
    let reckoned = reckon(&farm, &args.reckoning)?;
    let request = PlanRequest { budget: args.budget, ..PlanRequest::default() };
    let plan = match args.budget {
        Some(_) => {
            farm_plan(&reckoned.prepared, &request).map_err(|refused| refuse(&reckoned.prepared, &refused))?
        }
        None => reckoned.short_list(),
    };
    let named: Vec<&Path> = std::iter::once(args.walk.as_path()).chain(args.paid.paid.as_deref()).collect();
    let inputs = inputs(&named, common.checklists.as_deref())?;
    let reader: Reader = args.reader.into();
    let out = args.output.out.as_deref();
    let (text, is_page) = match args.format {
        ReportFormat::Json => {
            let mut facts = reckoned.facts();
            facts.plan = args.budget.map(|_| plan_facts(&reckoned.prepared, &plan, farm.inputs.clone()));
            (job::json(&facts)?, false)
        }
        ReportFormat::Md => (job::report_markdown(&reckoned.report_with(&plan), reader)?, false),
        ReportFormat::Html => (job::report_html(&reckoned.report_with(&plan), reader)?, true),
    };
    write_blank(common, &args.blank, out, &reckoned.prepared, &plan)?;
    match is_page {
        true => write_page(common, beside(&args.walk, "report"), out, &text, &inputs)?,
        false => write(out, text.as_bytes(), &inputs)?,
    }
    Ok(findings)
}
