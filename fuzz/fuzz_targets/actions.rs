//! Agreed actions, judged against the example's first walk, to the page of its second.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::read_actions;
use underfoot::job::{self, Farm};
use underfoot::reckon::prepare;
use underfoot::reckon::revisit::real_costs::priced_by_experience;
use underfoot::reckon::revisit::{Visit, revisit};
use underfoot::report::{revisit_facts::revisit_facts, revisit_page::revisit_page};
use underfoot::show::{html, markdown};
use underfoot_fuzz::{files, is_harmless, settings, source, told};

fn walks() -> &'static [Farm; 2] {
    static WALKS: OnceLock<[Farm; 2]> = OnceLock::new();
    WALKS.get_or_init(|| {
        [
            include_str!("../../examples/01-heronsway/walk.yaml"),
            include_str!("../../examples/01-heronsway/walk-2026.yaml"),
        ]
        .map(|text| {
            let farm = job::read_farm(&SourceText::new("walk.yaml", text), files(), &mut Findings::new());
            farm.expect("the example can be read")
        })
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("actions.yaml", bytes) else { return };
    let [first, last] = walks();
    let mut findings = Findings::new();
    let read = read_actions(&source, &first.library.interventions, Some(&first.walk), &mut findings);
    told(&findings);
    assert_eq!(read.is_none(), findings.has_errors());
    let Some(actions) = read else { return };

    let priced = priced_by_experience(&last.library, &last.walk, &actions);
    let walks = [(&first.library, &first.walk), (&last.library, &priced)];
    let prepared =
        walks.map(|(library, walk)| prepare(library, walk, settings()).expect("the example is reckoned"));
    let visits: Vec<Visit> = prepared.iter().map(Visit::new).collect();
    let Ok(compared) = revisit(&visits, Some(&actions)) else { return };
    let facts = revisit_facts(&visits, &compared, Some(&actions), Default::default());
    job::json(&facts.expect("two walks")).expect("facts are JSON");
    let report = revisit_page(&visits, &compared, Some(&actions)).expect("two walks");
    let filled = markdown::fill(&underfoot::input::english(), "revisit.md", &report.page)
        .expect("a template is filled");
    is_harmless(&html::page(
        "Did it work?",
        "adviser",
        &underfoot::input::english(),
        &filled,
        &report.figures,
    ));
});
