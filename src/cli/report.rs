//! `report`: the report of a walk, with the plan in it.

use super::Failure;
use super::actions::{read_paid_farm, write_blank};
use super::args::{Common, Output, ReportArgs, ReportFormat};
use super::commands::{reckon, translate, write_page};
use super::files::{beside, inputs, write};
use super::plan::refuse;
use super::progress::during;
use crate::finding::Findings;
use crate::job::{self, Reader};
use crate::reckon::plan::{PlanRequest, farm_plan};
use crate::report::plan_facts::plan_facts;
use crate::show::xlsx;
use std::io::IsTerminal;
use std::path::Path;

/// Writes the report.
pub(super) fn report(common: &Common, args: &ReportArgs) -> Result<Findings, Failure> {
    let reader: Reader = args.reader.into();
    refuse_workbook(args.format, reader, &args.output)?;
    let mut findings = Findings::new();
    let mut farm = read_paid_farm(common, &args.walk, &args.paid, &mut findings)?;
    if args.format != ReportFormat::Json {
        translate(common, &mut farm.library, &mut findings)?;
    }
    let reckoned = reckon(common, &farm, &args.reckoning)?;
    let request =
        PlanRequest { budget: args.budget, at_most: args.at_most.map(usize::from), ..PlanRequest::default() };
    let plan = match args.budget {
        Some(_) => {
            farm_plan(&reckoned.prepared, &request).map_err(|refused| refuse(&reckoned.prepared, &refused))?
        }
        None => reckoned.short_list(),
    };
    let named: Vec<&Path> = std::iter::once(args.walk.as_path()).chain(args.paid.paid.as_deref()).collect();
    let inputs = inputs(&named, common.checklists.as_deref())?;
    let out = args.output.out.as_deref();
    let (bytes, place) = match args.format {
        ReportFormat::Json => {
            let mut facts = reckoned.facts();
            facts.plan = args.budget.map(|_| plan_facts(&reckoned.prepared, &plan, farm.inputs.clone()));
            (job::json(&facts)?.into_bytes(), None)
        }
        ReportFormat::Md => (job::report_markdown(&reckoned.report_with(&plan), reader)?.into_bytes(), None),
        ReportFormat::Html => {
            let page = job::report_html(&reckoned.report_with(&plan), reader)?;
            (page.into_bytes(), Some(beside(&args.walk, "report")))
        }
        ReportFormat::Xlsx => {
            let workbook = during(common, "Looking for the best set of changes", || reckoned.workbook());
            let bytes = xlsx::bytes(&workbook).map_err(|error| Failure::Program(error.to_string()))?;
            (bytes, Some(beside(&args.walk, "report").with_extension("xlsx")))
        }
    };
    write_blank(common, &args.blank, out, &reckoned.prepared, &plan)?;
    match place {
        Some(place) => write_page(common, place, out, &bytes, &inputs)?,
        None => write(out, &bytes, &inputs)?,
    }
    Ok(findings)
}

/// A workbook is the adviser's, and no text for a terminal.
fn refuse_workbook(format: ReportFormat, reader: Reader, output: &Output) -> Result<(), Failure> {
    if format != ReportFormat::Xlsx {
        return Ok(());
    }
    if reader == Reader::Farmer {
        return Err(Failure::Usage(
            "the farmer's two pages have no workbook: leave out `--for farmer`".to_owned(),
        ));
    }
    if output.out.as_deref() == Some(Path::new("-")) && std::io::stdout().is_terminal() {
        return Err(Failure::Usage(
            "a workbook is no text for a terminal: name a file after --out".to_owned(),
        ));
    }
    Ok(())
}
