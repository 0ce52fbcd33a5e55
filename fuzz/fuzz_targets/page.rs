//! The whole way of a walk record: read, reckoned, told in every format, and planned.

#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::finding::Findings;
use underfoot::input::read_walk_on;
use underfoot::job::{self, Farm, Reader};
use underfoot::reckon::own_records::OwnRecords;
use underfoot::reckon::plan::{PlanRequest, farm_plan};
use underfoot::report::plan_page::{plan_page, refusal};
use underfoot::show::{html, markdown, plan_terminal, terminal};
use underfoot_fuzz::{is_harmless, is_printable, library_for, settings, source};

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("walk.yaml", bytes) else { return };
    let library = library_for(source.text());
    let Some(walk) = read_walk_on(&source, library, &mut Findings::new()) else { return };
    let inputs = job::inputs_of(&source);
    let farm = Farm { library: library.clone(), walk, own: OwnRecords::default(), inputs, case_days: None };
    let reckoned = job::reckon(&farm, settings()).expect("what was read can be reckoned");
    job::json(&reckoned.facts()).expect("facts are JSON");
    let report = reckoned.report();
    is_printable("the terminal", &terminal::score(&report.words, &report.page, 80));
    for reader in [Reader::Farmer, Reader::Adviser] {
        is_printable("Markdown", &job::report_markdown(&report, reader).expect("a template is filled"));
        is_harmless(&job::report_html(&report, reader).expect("a template is filled"));
    }

    let at_most = bytes.len().is_multiple_of(2).then_some(3);
    let request = PlanRequest { budget: Some(12_000.0), at_most, ..PlanRequest::default() };
    match farm_plan(&reckoned.prepared, &request) {
        Err(refused) => is_printable("a refusal", &refusal(&reckoned.prepared, &refused)),
        Ok(plan) => {
            let report = plan_page(&reckoned.prepared, &plan);
            is_printable("the terminal", &plan_terminal::plan(&library.words, &report.page, 80));
            let filled = markdown::fill(&underfoot::input::english(), "plan.md", &report.page)
                .expect("a template is filled");
            is_harmless(&html::page(
                "A plan",
                "plan",
                &underfoot::input::english(),
                &filled,
                &report.figures,
            ));
        }
    }
});
