//! Findings: what is wrong with an input, where, and what would be right.
//!
//! Readers push findings and go on, so that one run names every fault of a file.

use std::ops::Range;
use std::sync::Arc;

/// Every code; what it means in a line stands in the table of words, `docs/findings.md` explains each.
pub const CODES: &[&str] = &[
    "not-utf8",
    "file-too-large",
    "missing-file",
    "empty-file",
    "unknown-file",
    "same-kind-twice",
    "too-many-findings",
    "yaml-syntax",
    "yaml-documents",
    "yaml-alias",
    "yaml-tag",
    "yaml-key",
    "yaml-too-deep",
    "yaml-too-many",
    "duplicate-key",
    "unknown-field",
    "missing-field",
    "wrong-type",
    "wrong-length",
    "comma-in-number",
    "out-of-range",
    "wrong-unit",
    "reversed",
    "empty-text",
    "bad-date",
    "bad-currency",
    "bad-country",
    "bad-doi",
    "bad-id",
    "duplicate-id",
    "unknown-word",
    "unknown-lesion",
    "unknown-checklist",
    "system-mismatch",
    "no-traffic",
    "too-many-segments",
    "unknown-item",
    "unknown-segment",
    "answer-place",
    "answer-kind",
    "no-answer",
    "two-answers",
    "more-than-all",
    "unknown-option",
    "price-unit",
    "unused-quantity",
    "counts-and-cases",
    "checklist-name",
    "item-kind",
    "bad-scale",
    "unreachable-point",
    "scale-turns",
    "flat-item",
    "equal-options",
    "factor-system",
    "unknown-source",
    "unknown-factor",
    "unsourced",
    "no-contrast",
    "null-estimate",
    "null-result-size",
    "bound-without-p",
    "pooled-twice",
    "estimate-outside",
    "interval-alone",
    "case-control-risk",
    "weightless-factor",
    "mix-sum",
    "price-quantity",
    "idle-option",
    "worse-target",
    "impossible-need",
    "circle-in-needs",
    "card-records",
    "card-group",
    "unused-source",
    "unused-factor",
    "no-doi",
    "from-memory",
    "idle-explanation",
    "unknown-text",
    "text-blanks",
    "not-translated",
    "not-a-table",
    "empty-table",
    "workbook-damaged",
    "workbook-locked-or-old",
    "workbook-too-large",
    "workbook-not-here",
    "no-sheets",
    "no-such-sheet",
    "sheets-not-read",
    "merged-cells",
    "table-too-wide",
    "row-above-headings",
    "two-heading-rows",
    "no-column",
    "no-such-column",
    "two-columns-fit",
    "cell-without-heading",
    "quote-not-closed",
    "maybe-cut-short",
    "formula-error",
    "no-date",
    "bad-day",
    "ambiguous-date",
    "date-after-today",
    "first-sign-after-treatment",
    "no-cow",
    "bad-number",
    "word-not-known",
    "cow-twice-on-a-day",
    "no-records",
    "rows-left-out",
    "more-bad-rows",
    "score-off-scale",
    "no-count",
    "no-sound-cow",
    "fewer-cows-than-lame",
    "file-not-read",
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
pub struct Findings {
    list: Vec<Finding>,
    explained: Vec<Explanation>,
}

/// A reason that a file gives beforehand for what looks wrong in it.
#[derive(Clone, Debug)]
struct Explanation {
    code: String,
    /// The block whose warnings it explains.
    covers: Place,
    /// Where it stands.
    place: Place,
}

impl Explanation {
    /// Whether a warning is what it explains.
    fn explains(&self, finding: &Finding) -> bool {
        let inside = match (&self.covers, &finding.place) {
            (Place::Span(of, covers), Place::Span(at, span)) => {
                of.name() == at.name() && covers.start <= span.start && span.start < covers.end
            }
            _ => false,
        };
        inside && finding.severity == Severity::Warning && finding.code == self.code
    }
}

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
        self.list.push(Finding { code, severity, place, message, help });
    }

    /// Adds a finding made elsewhere.
    pub fn add(&mut self, finding: Finding) {
        self.list.push(finding);
    }

    /// Leaves out findings that were made before, as when two walks use one library.
    pub fn drop_repeats(&mut self) {
        let mut seen = std::collections::BTreeSet::new();
        self.list.retain(|finding| {
            let place = (finding.place.file().to_owned(), finding.place.line_column());
            seen.insert((place, finding.code, finding.message.clone()))
        });
    }

    /// Keeps every error, and the warnings of the files that `wanted` picks by name.
    pub fn keep_warnings_of(&mut self, wanted: impl Fn(&str) -> bool) {
        self.list.retain(|finding| finding.severity == Severity::Error || wanted(finding.place.file()));
    }

    /// Takes in the findings of another reading.
    pub fn extend(&mut self, other: Findings) {
        self.list.extend(other.list);
        self.explained.extend(other.explained);
    }

    /// Notes that a file gives a reason, at `place`, for warnings of this code in the block `covers`.
    pub fn explain(&mut self, code: &str, covers: Place, place: Place) {
        self.explained.push(Explanation { code: code.to_owned(), covers, place });
    }

    /// Leaves out the warnings that a file explains; gives back the codes and places of explanations
    /// that explained nothing.
    pub fn drop_explained(&mut self) -> Vec<(String, Place)> {
        let explained = std::mem::take(&mut self.explained);
        let idle = explained.iter().filter(|reason| !self.list.iter().any(|it| reason.explains(it)));
        let idle = idle.map(|reason| (reason.code.clone(), reason.place.clone())).collect();
        self.list.retain(|finding| !explained.iter().any(|reason| reason.explains(finding)));
        idle
    }

    /// Whether any is an error.
    pub fn has_errors(&self) -> bool {
        self.list.iter().any(|finding| finding.severity == Severity::Error)
    }

    /// How many are errors.
    pub fn errors(&self) -> usize {
        self.list.iter().filter(|finding| finding.severity == Severity::Error).count()
    }

    /// How many are warnings.
    pub fn warnings(&self) -> usize {
        self.len() - self.errors()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The findings by file, line and column; those of one place in the order they were made.
    pub fn sorted(&self) -> Vec<&Finding> {
        let mut all: Vec<&Finding> = self.list.iter().collect();
        all.sort_by_cached_key(|finding| (finding.place.file().to_owned(), finding.place.line_column()));
        all
    }
}
