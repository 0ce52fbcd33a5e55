//! A walk record, judged against the shipped checklist that it names.

#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::finding::Findings;
use underfoot::input::read_walk_on;
use underfoot::show::record;
use underfoot_fuzz::{library_for, source, told};

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("walk.yaml", bytes) else { return };
    let library = library_for(source.text());
    let mut findings = Findings::new();
    let walk = read_walk_on(&source, library, &mut findings);
    told(&findings);
    assert_eq!(walk.is_none(), findings.has_errors());
    if let Some(walk) = walk {
        record::walk(library, &walk);
    }
});
