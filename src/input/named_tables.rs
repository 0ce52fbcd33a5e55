//! The tables that a walk record names, found also where the record has faults elsewhere, so that
//! one run names the faults of all its files.

use super::cases::{
    CaseOptions, CaseReading, LocomotionOptions, Table, TableOptions, holds_scores, read_cases,
    read_locomotion, read_table,
};
use super::yaml::{self, Node, NodeKind};
use crate::finding::{Findings, Place, SourceText};
use crate::model::case_record::{Cases, Scale, Scoring};
use crate::model::day::DateOrder;
use chrono::NaiveDate;

/// What a table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableKind {
    /// Case records.
    Cases,
    /// Locomotion scores, on this scale.
    Scores(Scale),
}

/// A table that a walk record names.
#[derive(Clone, Debug)]
pub struct NamedTable {
    /// What it holds.
    pub kind: TableKind,
    /// Its name, as it stands in the record.
    pub name: String,
    /// Where it is named.
    pub place: Place,
    /// The order of day and month that the record gives.
    pub dates: Option<DateOrder>,
    /// Whether the record also gives the `records` that cases are counted over.
    pub has_records: bool,
}

/// The tables that a walk record names; none for any other file.
pub fn named_tables(source: &SourceText) -> Vec<NamedTable> {
    let Some(root) = yaml::read(source, &mut Findings::new()) else { return Vec::new() };
    if value_at(&root, &["walk"]).is_none() {
        return Vec::new();
    }
    let has_records = value_at(&root, &["records"]).is_some_and(|node| !node.is_null());
    let scale = value_at(&root, &["scale"]).and_then(text).and_then(Scale::from_id).unwrap_or_default();
    let dates = value_at(&root, &["dates"]).and_then(text).and_then(DateOrder::from_id);
    let named = [("cases", TableKind::Cases), ("locomotion", TableKind::Scores(scale))];
    let table = |(key, kind): (&str, TableKind)| {
        let node = value_at(&root, &[key])?;
        let name = text(node).filter(|name| !name.trim().is_empty())?.to_owned();
        let place = Place::Span(source.clone(), node.span.clone());
        Some(NamedTable { kind, name, place, dates, has_records })
    };
    named.into_iter().filter_map(table).collect()
}

/// The place of the value that these names lead to; the file as a whole where there is none.
pub fn place_of(source: &SourceText, path: &[&str]) -> Place {
    let root = yaml::read(source, &mut Findings::new());
    let span = root.as_ref().and_then(|root| value_at(root, path)).map(|node| node.span.clone());
    match span {
        Some(span) => Place::Span(source.clone(), span),
        None => Place::File(source.name().to_owned()),
    }
}

fn value_at<'n>(root: &'n Node, path: &[&str]) -> Option<&'n Node> {
    path.iter().try_fold(root, |node, key| {
        node.entries()?.iter().find(|entry| entry.key == *key).map(|entry| &entry.value)
    })
}

fn text(node: &Node) -> Option<&str> {
    match &node.kind {
        NodeKind::Scalar(scalar) if !scalar.is_null() => Some(&scalar.value),
        _ => None,
    }
}

/// What tables of a farm hold.
#[derive(Clone, Debug, Default)]
pub struct ReadTables {
    /// The case records, and how their reading went.
    pub cases: Option<(Cases, CaseReading)>,
    /// Scorings, the earliest first.
    pub scorings: Vec<Scoring>,
}

impl ReadTables {
    /// Reads a table that a walk record names. `path` is what messages call it; `today` brings a
    /// warning on later days. Every fault is pushed.
    pub fn read(
        &mut self,
        named: &NamedTable,
        path: &str,
        bytes: &[u8],
        today: Option<NaiveDate>,
        findings: &mut Findings,
    ) {
        match read_table(path, bytes, &TableOptions::default()) {
            Ok(table) => self.judge(&table, named.kind, named.dates, today, findings),
            Err(faults) => findings.extend(faults),
        }
        if named.kind == TableKind::Cases && !named.has_records {
            let message = format!("`cases: {}` can't be counted without the period and the cows", named.name);
            let help = "give `records` with from, to and average_cows";
            findings.error("file-not-read", named.place.clone(), message, help);
        }
    }

    fn judge(
        &mut self,
        table: &Table<'_>,
        kind: TableKind,
        dates: Option<DateOrder>,
        today: Option<NaiveDate>,
        findings: &mut Findings,
    ) {
        let made = match kind {
            TableKind::Cases => {
                let (cases, reading, made) =
                    read_cases(table, &CaseOptions { dates, today, ..CaseOptions::default() });
                self.cases = Some((cases, reading));
                made
            }
            TableKind::Scores(scale) => {
                let options = LocomotionOptions { dates, today, ..LocomotionOptions::default() };
                let (scorings, made) = read_locomotion(table, scale, &options);
                self.scorings = scorings;
                made
            }
        };
        findings.extend(made);
    }
}

/// Reads a table that no walk record names, and pushes every fault. Its headings tell cases from
/// scores; scores may be on either scale, and are judged on the one that they fit better.
pub fn check_table(path: &str, bytes: &[u8], today: Option<NaiveDate>, findings: &mut Findings) {
    let table = match read_table(path, bytes, &TableOptions::default()) {
        Ok(table) => table,
        Err(faults) => return findings.extend(faults),
    };
    let read = |kind: TableKind| {
        let mut made = Findings::new();
        ReadTables::default().judge(&table, kind, None, today, &mut made);
        made
    };
    let fewest = |kinds: &mut dyn Iterator<Item = TableKind>| kinds.map(read).min_by_key(Findings::len);
    let made = match holds_scores(&table) {
        true => fewest(&mut Scale::ALL.into_iter().map(TableKind::Scores)),
        false => Some(read(TableKind::Cases)),
    };
    findings.extend(made.unwrap_or_default());
}
