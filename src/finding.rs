//! Findings: what is wrong with an input, where, and what would be right.
//!
//! Readers push findings and go on, so that one run names every fault of a file.

use std::ops::Range;
use std::sync::Arc;

/// Every code with a one-line meaning; `docs/findings.md` explains each.
pub const CODES: &[(&str, &str)] = &[
    ("not-utf8", "the file is not UTF-8 text"),
    ("file-too-large", "the file is larger than 4 MB"),
    ("missing-file", "a set of checklists lacks a file"),
    ("empty-file", "there is nothing in the file"),
    ("unknown-file", "the file is of no known kind"),
    ("same-kind-twice", "two files would take the same place"),
    ("too-many-findings", "more is wrong than is shown"),
    ("yaml-syntax", "the line can't be read as YAML"),
    ("yaml-documents", "a second document begins"),
    ("yaml-alias", "an anchor or alias is used"),
    ("yaml-tag", "a type tag is used"),
    ("yaml-key", "a list or block stands where a name belongs"),
    ("yaml-too-deep", "lists and blocks are nested too deep"),
    ("yaml-too-many", "there are too many values"),
    ("duplicate-key", "a name is given twice"),
    ("unknown-field", "the block has no such field"),
    ("missing-field", "a field that must be there is not"),
    ("wrong-type", "the value is not of the right kind"),
    ("wrong-length", "a list holds too many or too few values"),
    ("comma-in-number", "a comma cuts a number in two"),
    ("out-of-range", "the number can't be right"),
    ("reversed", "values stand in the wrong order"),
    ("empty-text", "a text holds nothing"),
    ("bad-date", "this is no date"),
    ("bad-currency", "this is no currency code"),
    ("bad-country", "this is no country code"),
    ("bad-doi", "this is no DOI"),
    ("bad-id", "this can't be an id"),
    ("duplicate-id", "an id is given twice"),
    ("unknown-word", "the word is none of the known ones"),
    ("unknown-lesion", "there is no such lesion"),
    ("unknown-checklist", "there is no such checklist"),
    ("system-mismatch", "the checklist is for another system"),
    ("no-traffic", "no cow walks any segment"),
    ("unknown-item", "the checklist has no such item"),
    ("unknown-segment", "the farm has no such segment"),
    ("answer-place", "the answer stands for the farm where it should for a segment, or the reverse"),
    ("answer-kind", "the answer is of another kind than the item"),
    ("no-answer", "the answer says nothing"),
    ("two-answers", "the answer is given in two ways"),
    ("more-than-all", "more were counted than there are"),
    ("unknown-option", "there is no such option"),
    ("price-unit", "a price has no unit"),
    ("unused-quantity", "no price is counted by the quantity"),
    ("counts-and-cases", "cases are given twice"),
    ("checklist-name", "a checklist is called otherwise than its file"),
    ("item-kind", "an item has fields of another kind"),
    ("bad-scale", "a scale can't be read"),
    ("factor-system", "the factor is not looked at in the system"),
    ("unknown-source", "there is no such source"),
    ("unknown-factor", "there is no such factor"),
    ("unsourced", "a figure has neither source nor judgement"),
    ("no-contrast", "an effect compares nothing"),
    ("null-estimate", "an estimate of 1 has no interval"),
    ("null-result-size", "a null result has a size"),
    ("bound-without-p", "a bound on p has no p"),
    ("pooled-twice", "the same animals are pooled twice"),
    ("estimate-outside", "an interval doesn't hold its estimate"),
    ("interval-alone", "an interval has no estimate"),
    ("case-control-risk", "the risk in a case-control study is no risk"),
    ("weightless-factor", "a factor acts on no lesion"),
    ("mix-sum", "a lesion mix doesn't add up to 1"),
    ("price-quantity", "a price per metre doesn't say of what"),
    ("idle-option", "an option does nothing"),
    ("impossible-need", "an option could never be chosen"),
    ("circle-in-needs", "options need one another in a circle"),
    ("card-records", "a card's months, rate and lesions don't agree"),
    ("card-group", "a card doesn't fit the others"),
    ("unused-source", "nothing names the source"),
    ("unused-factor", "no checklist asks about the factor"),
    ("not-a-table", "the file is no table"),
    ("empty-table", "there is nothing in the table"),
    ("workbook-damaged", "the workbook is cut short or damaged"),
    ("workbook-locked-or-old", "the workbook has a password or is an old .xls"),
    ("workbook-too-large", "the workbook is too large"),
    ("workbook-not-here", "spreadsheets can't be read in the offline sheet"),
    ("no-sheets", "a text table has no sheets"),
    ("no-such-sheet", "the workbook has no sheet of that name"),
    ("sheets-not-read", "other sheets of the workbook were not read"),
    ("merged-cells", "cells are merged"),
    ("table-too-wide", "there is something far to the right"),
    ("row-above-headings", "a row above the headings was not read"),
    ("two-heading-rows", "there are two rows of headings"),
    ("no-column", "a column is missing"),
    ("no-such-column", "`--columns` names a heading that is not there"),
    ("two-columns-fit", "two columns could be meant"),
    ("cell-without-heading", "a cell stands beyond the last heading"),
    ("quote-not-closed", "a quote mark is not closed"),
    ("maybe-cut-short", "the file may be cut short"),
    ("formula-error", "a formula gave an error"),
    ("no-date", "a record has no day"),
    ("bad-day", "a day can't be read"),
    ("ambiguous-date", "a day can be read two ways"),
    ("date-after-today", "a day has not come yet"),
    ("first-sign-after-treatment", "the first sign comes after treatment"),
    ("no-cow", "a record has no cow"),
    ("bad-number", "a number can't be right"),
    ("word-not-known", "a word is not known"),
    ("cow-twice-on-a-day", "a cow has two records on a day"),
    ("no-records", "there are no records"),
    ("rows-left-out", "bad rows were left out"),
    ("more-bad-rows", "more rows are bad than are shown"),
    ("score-off-scale", "a score is not on the scale"),
    ("no-count", "a score has no count"),
    ("no-sound-cow", "no cow has the score of a sound one"),
    ("fewer-cows-than-lame", "more cows were lame than there were"),
    ("file-not-read", "a file that the walk record names can't be read or counted"),
];

/// A named text: a file that was read, with its lines indexed.
#[derive(Clone, Debug)]
pub struct SourceText(Arc<SourceTextInner>);

#[derive(Debug)]
struct SourceTextInner {
    name: String,
    text: String,
    line_starts: Vec<usize>,
}

impl SourceText {
    /// A text under the name that messages show.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        let text = text.into();
        let line_starts = std::iter::once(0)
            .chain(text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1))
            .collect();
        SourceText(Arc::new(SourceTextInner { name: name.into(), text, line_starts }))
    }

    /// The name that messages show.
    pub fn name(&self) -> &str {
        &self.0.name
    }

    /// The whole text.
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// The whole line in which a byte offset lies, without its ending, and the byte at which it starts.
    pub fn line_at(&self, offset: usize) -> (&str, usize) {
        let (line, _) = self.line_column(offset);
        let text = self.text();
        let start = self.0.line_starts.get(line - 1).copied().unwrap_or(0);
        let end = self.0.line_starts.get(line).map_or(text.len(), |next| next - 1);
        (text[start..end].trim_end_matches('\r'), start)
    }

    /// Line and column (both from 1, columns in characters) of a byte offset; offsets past the end
    /// or inside a character are moved back to the nearest character.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let mut offset = offset.min(self.0.text.len());
        while !self.0.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.0.line_starts.partition_point(|start| *start <= offset);
        let start = self.0.line_starts[line - 1];
        (line, self.0.text[start..offset].chars().count() + 1)
    }
}

/// Where a finding lies.
#[derive(Clone, Debug)]
pub enum Place {
    /// A byte range of a text.
    Span(SourceText, Range<usize>),
    /// A row and column (both from 1) of a table such as a spreadsheet.
    Cell {
        /// Name of the file, with the sheet where there is one.
        file: String,
        /// Row, from 1, the heading included.
        row: usize,
        /// Column, from 1.
        column: usize,
    },
    /// A file as a whole.
    File(String),
}

impl Place {
    /// The name of the file.
    pub fn file(&self) -> &str {
        match self {
            Place::Span(source, _) => source.name(),
            Place::Cell { file, .. } | Place::File(file) => file,
        }
    }

    /// Line and column, both from 1.
    pub fn line_column(&self) -> (usize, usize) {
        match self {
            Place::Span(source, span) => source.line_column(span.start),
            Place::Cell { row, column, .. } => (*row, *column),
            Place::File(_) => (1, 1),
        }
    }
}

/// How bad a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The input is used, but the user should know.
    Warning,
    /// The input can't be used.
    Error,
}

/// One thing that is wrong.
#[derive(Clone, Debug)]
pub struct Finding {
    /// Kebab-case code, listed with its meaning in `docs/findings.md`.
    pub code: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// Where it is.
    pub place: Place,
    /// What is wrong, quoting the value.
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
}

/// Findings in the order they were made.
#[derive(Clone, Debug, Default)]
pub struct Findings(Vec<Finding>);

impl Findings {
    /// No findings.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds an error.
    pub fn error(
        &mut self,
        code: &'static str,
        place: Place,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(code, Severity::Error, place, message.into(), help.into());
    }

    /// Adds a warning.
    pub fn warning(
        &mut self,
        code: &'static str,
        place: Place,
        message: impl Into<String>,
        help: impl Into<String>,
    ) {
        self.push(code, Severity::Warning, place, message.into(), help.into());
    }

    fn push(&mut self, code: &'static str, severity: Severity, place: Place, message: String, help: String) {
        let help = (!help.is_empty()).then_some(help);
        self.0.push(Finding { code, severity, place, message, help });
    }

    /// Adds a finding made elsewhere.
    pub fn add(&mut self, finding: Finding) {
        self.0.push(finding);
    }

    /// Leaves out findings that were made before, as when two walks use one library.
    pub fn drop_repeats(&mut self) {
        let mut seen = std::collections::BTreeSet::new();
        self.0.retain(|finding| {
            let place = (finding.place.file().to_owned(), finding.place.line_column());
            seen.insert((place, finding.code, finding.message.clone()))
        });
    }

    /// Keeps every error, and the warnings of the files that `wanted` picks by name.
    pub fn keep_warnings_of(&mut self, wanted: impl Fn(&str) -> bool) {
        self.0.retain(|finding| finding.severity == Severity::Error || wanted(finding.place.file()));
    }

    /// Takes in the findings of another reading.
    pub fn extend(&mut self, other: Findings) {
        self.0.extend(other.0);
    }

    /// Whether any is an error.
    pub fn has_errors(&self) -> bool {
        self.0.iter().any(|finding| finding.severity == Severity::Error)
    }

    /// How many are errors.
    pub fn errors(&self) -> usize {
        self.0.iter().filter(|finding| finding.severity == Severity::Error).count()
    }

    /// How many are warnings.
    pub fn warnings(&self) -> usize {
        self.len() - self.errors()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The findings by file, line and column; those of one place in the order they were made.
    pub fn sorted(&self) -> Vec<&Finding> {
        let mut all: Vec<&Finding> = self.0.iter().collect();
        all.sort_by_cached_key(|finding| (finding.place.file().to_owned(), finding.place.line_column()));
        all
    }
}
