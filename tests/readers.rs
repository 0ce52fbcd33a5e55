//! The readers of YAML files against whole files, good, bad and hostile.

use std::time::{Duration, Instant};
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::show::caret::render;

/// The exact text of everything that is wrong with a file.
fn faults(name: &str, text: &str) -> String {
    let mut findings = Findings::new();
    input::check_files(&[SourceText::new(name, text)], &FileSet::builtin(), &mut findings);
    render(&findings)
}

#[test]
fn every_shipped_file_is_read_without_a_finding() {
    let files = FileSet::builtin();
    for id in files.checklist_ids() {
        let mut findings = Findings::new();
        let library = input::read_library(&files, id, &mut findings);
        assert_eq!(render(&findings), "", "{id}");
        assert!(library.is_some(), "{id}");
    }
}
#[test]
