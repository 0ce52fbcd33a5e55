//! The tables of cases and scores that lie beside a walk record.

use super::Failure;
use super::commands::today;
use super::files::read_bytes;
use crate::finding::{Findings, SourceText};
use crate::input::{NamedTable, ReadTables, named_tables};
use crate::job;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What was read beside a walk record.
#[derive(Debug, Default)]
pub(super) struct Beside {
    pub(super) tables: ReadTables,
    /// SHA-256 of every table, by base name.
    pub(super) hashes: BTreeMap<String, String>,
}

/// Reads every table that a walk record names. One that can't be opened is a fault of the record.
pub(super) fn read_beside(walk: &SourceText, findings: &mut Findings) -> Result<Beside, Failure> {
    let mut beside = Beside::default();
    for named in named_tables(walk) {
        let path = path_of(walk, &named);
        match read_bytes(&path) {
            Ok(bytes) => {
                let name = path.display().to_string();
                beside.tables.read(&named, &name, &bytes, Some(today()), findings);
                beside.hashes.insert(job::base_name(&named.name).to_owned(), job::sha256(&bytes));
            }
            Err(Failure::File(reason)) => {
                findings.error(
                    "file-not-read",
                    named.place,
                    reason,
                    "the file stands beside the walk record",
                );
            }
            Err(other) => return Err(other),
        }
    }
    Ok(beside)
}

/// The paths of the tables that a walk record names.
pub(super) fn paths_beside(walk: &SourceText) -> Vec<PathBuf> {
    named_tables(walk).iter().map(|named| path_of(walk, named)).collect()
}

fn path_of(walk: &SourceText, named: &NamedTable) -> PathBuf {
    Path::new(walk.name()).parent().unwrap_or(Path::new("")).join(&named.name)
}
