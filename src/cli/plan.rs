//! `plan`: the best set of changes under a budget.

use super::Failure;
use super::args::{Common, PlanArgs, PlanFormat};
use super::commands::{WIDTH, prepare, read_farm, write_page};
use super::files::{walk_inputs, write};
use crate::finding::Findings;
use crate::input::hint;
use crate::job;
use crate::reckon::Prepared;
use crate::reckon::plan::{PlanRefusal, PlanRequest, farm_plan};
use crate::report::plan_facts::plan_facts;
use crate::report::plan_page::{plan_page, refusal};
use crate::show::{html, markdown, plan_terminal};

/// Prints the plan.
pub(super) fn plan(common: &Common, args: &PlanArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let farm = read_farm(common, &args.walk, &mut findings)?;
    let prepared = prepare(&farm, &args.reckoning)?;
    let request = PlanRequest { budget: args.budget, must: args.must.clone(), never: args.never.clone() };
    let plan = farm_plan(&prepared, &request).map_err(|refused| refuse(&prepared, &refused))?;
    let read = walk_inputs(&args.walk, &farm.walk, common.checklists.as_deref())?;
    let out = args.output.out.as_deref();
    match args.format {
        PlanFormat::Json => {
            let facts = plan_facts(&prepared, &plan, farm.inputs.clone());
            write(out, job::json(&facts)?.as_bytes(), &read)?;
        }
        PlanFormat::Text => {
            let text = plan_terminal::plan(&plan_page(&prepared, &plan).page, WIDTH);
            write(out, text.as_bytes(), &read)?;
        }
        PlanFormat::Md => {
            let report = plan_page(&prepared, &plan);
            write(out, markdown::plain(&markdown::fill("plan.md", &report.page)?).as_bytes(), &read)?;
        }
        PlanFormat::Html => {
            let report = plan_page(&prepared, &plan);
            let title = format!("{}: plan", farm.walk.farm_name);
            let filled = markdown::fill("plan.md", &report.page)?;
            let text = html::page(&title, "plan", "en", &filled, &report.figures);
            write_page(common, &args.walk, out, &text, &read)?;
        }
    }
    Ok(findings)
}

fn refuse(prepared: &Prepared, refused: &PlanRefusal) -> Failure {
    let mut words = refusal(prepared, refused);
    if let PlanRefusal::Unknown { id, known } = refused {
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        words = format!("{words} {}", hint(id, &known));
    }
    if refused.is_of_the_request() { Failure::Usage(words) } else { Failure::Refused(words) }
}
