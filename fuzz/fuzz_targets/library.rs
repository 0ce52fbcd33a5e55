//! A checklist, factors, options, sources, effects or burden in place of the file of its kind. The others are
//! the short ones of the tests, so that a thousand inputs a second can be tried.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, check_files};
use underfoot_fuzz::{source, told};

const SHORT: [(&str, &str); 6] = [
    ("brook.yaml", include_str!("../../tests/fixtures/good/brook.yaml")),
    ("factors.yaml", include_str!("../../tests/fixtures/good/factors.yaml")),
    ("interventions.yaml", include_str!("../../tests/fixtures/good/interventions.yaml")),
    ("evidence/sources.yaml", include_str!("../../tests/fixtures/good/evidence/sources.yaml")),
    ("evidence/effects.yaml", include_str!("../../tests/fixtures/good/evidence/effects.yaml")),
    ("evidence/burden.yaml", include_str!("../../tests/fixtures/good/evidence/burden.yaml")),
];

fn short_files() -> &'static FileSet {
    static FILES: OnceLock<FileSet> = OnceLock::new();
    FILES.get_or_init(|| {
        let mut files = FileSet::default();
        SHORT.iter().for_each(|(path, text)| files.overlay(path, SourceText::new(*path, *text)));
        files
    })
}

fuzz_target!(|bytes: &[u8]| {
    let Some(source) = source("own.yaml", bytes) else { return };
    let mut findings = Findings::new();
    check_files(&[source], short_files(), &mut findings);
    told(&findings);
});
