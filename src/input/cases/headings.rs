//! Headings: which column holds what.

use super::table::{Row, Table};
use super::words::normalise;
use crate::finding::Findings;
use std::ops::ControlFlow;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Field {
    /// Day of the record.
    Date,
    /// The cow.
    Cow,
    /// Foot.
    Foot,
    /// Claw.
    Claw,
    /// Lesion.
    Lesion,
    /// Who saw it.
    SeenBy,
    /// Locomotion score.
    Score,
    /// Treatment.
    Treatment,
    /// Remark; not kept.
    Note,
    /// Number of the lactation.
    Parity,
    /// Days in milk.
    DaysInMilk,
    /// First day on which she was seen lame.
    FirstSign,
    /// Day of treatment.
    Treated,
    /// How many cows had a score.
    Count,
}

/// Names and headings of the fields, normalised; of two columns the earlier heading of the list
/// wins. The first is the name for `--columns`.
const HEADINGS: [(Field, &[&str]); 14] = [
    (
        Field::Date,
        &[
            "date",
            "day",
            "date seen",
            "case date",
            "date of case",
            "event date",
            "datum",
            "date du cas",
            "fecha",
        ],
    ),
    (
        Field::Cow,
        &[
            "cow",
            "cow no",
            "cow number",
            "cow id",
            "cow name",
            "animal",
            "animal no",
            "animal number",
            "animal id",
            "id",
            "number",
            "tag",
            "tag no",
            "tag number",
            "ear tag",
            "eartag",
            "kuh",
            "koe",
            "vache",
            "vaca",
            "ko",
        ],
    ),
    (Field::Foot, &["foot", "leg", "limb", "hoof", "lame foot", "lame leg", "bein", "fuss", "poot", "pied"]),
    (Field::Claw, &["claw", "digit", "toe", "claws", "klaue", "klauw", "onglon"]),
    (
        Field::Lesion,
        &[
            "lesion",
            "diagnosis",
            "disorder",
            "disease",
            "condition",
            "cause",
            "problem",
            "diagnose",
            "befund",
            "diagnostic",
            "diagnostico",
            "lesión",
            "lésion",
        ],
    ),
    (
        Field::SeenBy,
        &["seen by", "found by", "observer", "reported by", "recorded by", "treated by", "by", "who"],
    ),
    (
        Field::Score,
        &["score", "locomotion score", "mobility score", "lameness score", "locomotion", "mobility"],
    ),
    (Field::Treatment, &["treatment", "treated with", "action", "therapy", "behandlung", "traitement"]),
    (Field::Note, &["note", "notes", "remark", "remarks", "comment", "comments"]),
    (
        Field::Parity,
        &["parity", "lactation", "lactation no", "lactation number", "lact", "lact no", "laktation"],
    ),
    (Field::DaysInMilk, &["days in milk", "dim", "days milking", "stage of lactation days"]),
    (
        Field::FirstSign,
        &[
            "first sign",
            "first signs",
            "first seen",
            "first sign date",
            "first seen date",
            "first seen lame",
            "date first seen",
            "date first lame",
            "onset",
        ],
    ),
    (
        Field::Treated,
        &["treated", "treated on", "date treated", "treatment date", "date of treatment", "treated date"],
    ),
    (Field::Count, &["count", "cows", "number of cows", "cow count", "animals"]),
];

impl Field {
    /// The name in `--columns` and in messages.
    pub fn id(self) -> &'static str {
        match self {
            Field::Date => "date",
            Field::Cow => "cow",
            Field::Foot => "foot",
            Field::Claw => "claw",
            Field::Lesion => "lesion",
            Field::SeenBy => "seen_by",
            Field::Score => "score",
            Field::Treatment => "treatment",
            Field::Note => "note",
            Field::Parity => "parity",
            Field::DaysInMilk => "days_in_milk",
            Field::FirstSign => "first_sign",
            Field::Treated => "treated",
            Field::Count => "count",
        }
    }
}

/// Which heading serves a field: what `--columns date=Datum` says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnName {
    /// The field.
    pub field: Field,
    /// The heading as it stands in the file.
    pub heading: String,
}

/// Reads `date=Datum,cow=Kuh`.
///
/// # Errors
/// Says which part is wrong and what would be right.
pub fn parse_columns(text: &str) -> Result<Vec<ColumnName>, String> {
    text.split(',').map(|part| parse_column(part.trim())).collect()
}

fn parse_column(part: &str) -> Result<ColumnName, String> {
    let names = || HEADINGS.iter().map(|(field, _)| field.id());
    let Some((name, heading)) = part.split_once('=') else {
        return Err(format!("`{part}` should be field=heading, as in date=Datum"));
    };
    let (name, heading) = (name.trim(), heading.trim());
    if heading.is_empty() {
        return Err(format!("`{part}` names no heading"));
    }
    match HEADINGS.iter().find(|(field, _)| field.id() == name) {
        Some((field, _)) => Ok(ColumnName { field: *field, heading: heading.to_owned() }),
        None => {
            let near = names().max_by(|a, b| strsim::jaro(a, name).total_cmp(&strsim::jaro(b, name)));
            let all: Vec<&str> = names().collect();
            Err(format!(
                "there is no field `{name}`; did you mean `{}`? The fields are {}",
                near.unwrap_or("date"),
                all.join(", ")
            ))
        }
    }
}

/// The field that a heading stands for, with the rank of the heading among its names.
fn known(heading: &str) -> Option<(Field, usize)> {
    let heading = normalise(heading);
    HEADINGS
        .iter()
        .find_map(|(field, names)| names.iter().position(|name| *name == heading).map(|rank| (*field, rank)))
}

fn known_count<'h>(headings: impl Iterator<Item = &'h str>) -> usize {
    headings.filter(|heading| known(heading).is_some()).count()
}

/// Finds the delimiter of a text table: the one that makes most headings known in one of the first
/// lines, else the most frequent one of the first line.
pub(super) fn sniff_delimiter(text: &str) -> u8 {
    const CANDIDATES: [u8; 3] = [b'\t', b';', b','];
    let lines = || text.lines().filter(|line| !line.trim().is_empty()).take(HEADING_ROWS);
    let first = lines().next().unwrap_or("");
    let score = |delimiter: &u8| {
        let split = |line: &'_ str| {
            known_count(line.split(char::from(*delimiter)).map(|heading| heading.trim().trim_matches('"')))
        };
        let known = lines().map(split).max().unwrap_or(0);
        // One known heading in an undivided line says nothing of the delimiter.
        let divided = lines().any(|line| line.contains(char::from(*delimiter)));
        (if divided { known } else { 0 }, first.matches(char::from(*delimiter)).count())
    };
    // The last of equals wins, so that the comma does.
    CANDIDATES.into_iter().max_by_key(score).unwrap_or(b',')
}

/// Rows in which the headings are looked for.
const HEADING_ROWS: usize = 10;

/// Where each field stands.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    /// Row of the headings, from 1.
    pub(super) heading_row: usize,
    /// How many columns have headings.
    pub(super) width: usize,
    /// Headings as written, by column.
    pub(super) headings: Vec<String>,
    /// Headings that stand for no field.
    pub(super) unused: Vec<String>,
    at: [Option<usize>; HEADINGS.len()],
}

impl Columns {
    /// The column of a field, from 0.
    pub(super) fn at(&self, field: Field) -> Option<usize> {
        self.at[field as usize]
    }

    /// The heading of a column.
    pub(super) fn heading(&self, column: usize) -> &str {
        self.headings.get(column).map_or("", String::as_str)
    }

    fn put(&mut self, field: Field, column: usize) {
        self.at[field as usize] = Some(column);
    }
}

/// Finds the row of headings and the column of each field. Columns named by the user win.
pub(super) fn find(table: &Table<'_>, named: &[ColumnName], findings: &mut Findings) -> Option<Columns> {
    let rows = first_rows(table);
    let hits = |headings: &Vec<String>| {
        let by_name = named.iter().filter(|name| headings.iter().any(|heading| is_named(heading, name)));
        by_name.count() + known_count(headings.iter().map(String::as_str))
    };
    let best = rows.iter().map(|(_, headings)| hits(headings)).max().unwrap_or(0);
    let at = rows.iter().position(|(_, headings)| hits(headings) == best)?;
    let (heading_row, headings) = rows[at].clone();
    let mut columns = Columns {
        heading_row,
        width: headings.len(),
        unused: Vec::new(),
        at: [None; HEADINGS.len()],
        headings,
    };
    warn_of_rows_above(table, &rows[..at], heading_row, findings);
    if let Some((row, headings)) = rows.get(at + 1).filter(|(_, headings)| best >= 2 && hits(headings) >= 2) {
        findings.error(
            "two-heading-rows",
            table.place(*row, 1),
            format!("a second row of headings: {}", quoted(headings)),
            "leave one row of headings, with one name for each column",
        );
    }
    assign(table, named, &mut columns, findings);
    Some(columns)
}

/// Whether a table holds locomotion scores rather than cases: it has a column of scores, and none
/// that only a case has.
pub fn holds_scores(table: &Table<'_>) -> bool {
    const OF_A_CASE: [Field; 7] = [
        Field::Foot,
        Field::Claw,
        Field::Lesion,
        Field::SeenBy,
        Field::Treatment,
        Field::Treated,
        Field::FirstSign,
    ];
    find(table, &[], &mut Findings::new()).is_some_and(|columns| {
        columns.at(Field::Score).is_some() && OF_A_CASE.iter().all(|field| columns.at(*field).is_none())
    })
}

fn first_rows(table: &Table<'_>) -> Vec<(usize, Vec<String>)> {
    let mut rows = Vec::new();
    table.rows(|row: Row<'_>| {
        if !row.is_blank() {
            rows.push((row.number(), (0..row.len()).map(|column| row.text(column)).collect()));
        }
        if rows.len() > HEADING_ROWS { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    rows
}

fn is_named(heading: &str, name: &ColumnName) -> bool {
    heading == name.heading || normalise(heading) == normalise(&name.heading)
}

fn quoted(headings: &[String]) -> String {
    let shown: Vec<String> = headings
        .iter()
        .filter(|heading| !heading.is_empty())
        .take(6)
        .map(|heading| format!("`{heading}`"))
        .collect();
    shown.join(", ")
}

fn warn_of_rows_above(
    table: &Table<'_>,
    above: &[(usize, Vec<String>)],
    heading_row: usize,
    findings: &mut Findings,
) {
    for (row, headings) in above {
        findings.warning(
            "row-above-headings",
            table.place(*row, 1),
            format!(
                "the headings were found in row {heading_row}; this row was not read: {}",
                quoted(headings)
            ),
            "put one row of headings at the top",
        );
    }
}

fn assign(table: &Table<'_>, named: &[ColumnName], columns: &mut Columns, findings: &mut Findings) {
    let headings = columns.headings.clone();
    for name in named {
        match headings.iter().position(|heading| is_named(heading, name)) {
            Some(column) => columns.put(name.field, column),
            None => findings.error(
                "no-such-column",
                table.place(columns.heading_row, 1),
                format!("there is no column `{}`, named for {}", name.heading, name.field.id()),
                format!("the headings are {}", quoted(&headings)),
            ),
        }
    }
    let taken: Vec<usize> = columns.at.iter().flatten().copied().collect();
    let mut used = taken.clone();
    for (field, _) in HEADINGS {
        if columns.at(field).is_some() {
            continue;
        }
        let mut fitting: Vec<(usize, usize)> = headings
            .iter()
            .enumerate()
            .filter(|(column, _)| !taken.contains(column))
            .filter_map(|(column, heading)| match known(heading) {
                Some((known, rank)) if known == field => Some((rank, column)),
                _ => None,
            })
            .collect();
        fitting.sort_unstable();
        let Some((_, column)) = fitting.first().copied() else { continue };
        columns.put(field, column);
        used.push(column);
        for (_, other) in &fitting[1..] {
            findings.warning(
                "two-columns-fit",
                table.place(columns.heading_row, other + 1),
                format!(
                    "`{}` was taken for {}, so `{}` was not read",
                    headings[column],
                    field.id(),
                    headings[*other]
                ),
                format!("say which one with --columns \"{}={}\"", field.id(), headings[*other]),
            );
        }
    }
    columns.unused = (headings.iter().enumerate())
        .filter(|(column, heading)| !heading.is_empty() && !used.contains(column))
        .map(|(_, heading)| heading.clone())
        .collect();
}
