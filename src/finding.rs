//! Findings: what is wrong with an input, where, and what would be right.
//!
//! Readers push findings and go on, so that one run names every fault of a file.

use std::ops::Range;
use std::sync::Arc;

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
