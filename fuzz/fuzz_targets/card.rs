//! A farm's card beside those of the example's group, to the group's page and the farm's own.

#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::CardPile;
use underfoot::job;
use underfoot::reckon::group::{GroupOptions, group};
use underfoot::report::{group_facts::group_facts, group_page::group_page};
use underfoot::show::{html, markdown};
use underfoot_fuzz::{files, is_harmless, settings, source, told};

const OTHERS: [&str; 5] = [
    include_str!("../../examples/group/3wx-3qf-2026.yaml"),
    include_str!("../../examples/group/5mh-dy6-2026.yaml"),
    include_str!("../../examples/group/9sn-7q6-2026.yaml"),
    include_str!("../../examples/group/ccc-fwm-2026.yaml"),
    include_str!("../../examples/group/d8j-699-2026.yaml"),
];

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("card.yaml", bytes) else { return };
    let mut findings = Findings::new();
    let card = underfoot::input::read_card(&source, &mut findings);
    told(&findings);
    assert_eq!(card.is_none(), findings.has_errors());
    let Some(card) = card else { return };

    let mut pile = CardPile::new();
    pile.read(&source);
    for (at, other) in OTHERS.iter().enumerate() {
        pile.read(&SourceText::new(format!("{at}.yaml"), *other));
    }
    let mut findings = Findings::new();
    let read = pile.finish(files(), &mut findings);
    told(&findings);
    let Some((library, cards)) = read else { return };
    for mine in [None, Some(card.code)] {
        let options = GroupOptions { mine, settings: settings() };
        // A card of an older year has no page of its own.
        let Ok(outcome) = group(&cards, &library, &options) else { continue };
        job::json(&group_facts(&library, &outcome, &options)).expect("facts are JSON");
        let report = group_page(&library, &outcome, options.settings.draws);
        let filled = markdown::fill(&underfoot::input::english(), "group.md", &report.page)
            .expect("a template is filled");
        is_harmless(&html::page(
            "The group's farms",
            "adviser",
            &underfoot::input::english(),
            &filled,
            &report.figures,
        ));
    }
});
