//! A checklist, factors, options, sources, effects or burden in place of the shipped file of its kind.

#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::finding::Findings;
use underfoot::input::check_files;
use underfoot_fuzz::{files, source, told};

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("own.yaml", bytes) else { return };
    let mut findings = Findings::new();
    check_files(&[source], files(), &mut findings);
    told(&findings);
});
