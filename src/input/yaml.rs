//! One YAML document to a tree of placed, raw scalars.
//!
//! Values are kept as written and judged later, so that a finding can quote what stands in the
//! file (`country: NO`, `.nan`, `1,200`). What the files never need is refused at once: anchors and
//! aliases (a few lines of them can stand for gigabytes), tags, several documents, deep nesting.

use super::stand_in::Readable;
use super::text::MAX_BYTES;
use crate::finding::{Findings, Place, SourceText};
use serde_yaml::granit_parser::{ErrorKind, Event, Marker, Options, Parser, ScalarStyle, ScanError, Span};
use std::collections::BTreeMap;
use std::ops::Range;

/// Deepest nesting of lists and blocks; the formats need seven.
const MAX_DEPTH: usize = 16;
/// Most names given twice that are reported.
const MAX_REPEATED: usize = 100;
/// Most values in one file.
const MAX_NODES: usize = 200_000;

/// A value with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Bytes of the text.
    pub span: Range<usize>,
    /// What it is.
    pub kind: NodeKind,
}

/// What a value is.
#[derive(Clone, Debug, PartialEq)]
pub enum NodeKind {
    /// A single value.
    Scalar(Scalar),
    /// A list.
    Seq(Vec<Node>),
    /// A block of named values; every name is there once.
    Map(Vec<Entry>),
}

/// A single value as it stands in the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Scalar {
    /// The value, after the escapes of quotation marks.
    pub value: String,
    /// Whether it stands without quotation marks; only such a value can be a number or null.
    pub plain: bool,
}

impl Scalar {
    /// Whether it is null, written out or left empty.
    pub fn is_null(&self) -> bool {
        self.plain && matches!(self.value.as_str(), "" | "~" | "null" | "Null" | "NULL")
    }
}

/// A name with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The name.
    pub key: String,
    /// The name as a value of its own, with its place.
    pub key_node: Node,
    /// The value.
    pub value: Node,
}

impl Node {
    /// Whether it is null.
    pub fn is_null(&self) -> bool {
        matches!(&self.kind, NodeKind::Scalar(scalar) if scalar.is_null())
    }

    /// The entries of a block.
    pub fn entries(&self) -> Option<&[Entry]> {
        match &self.kind {
            NodeKind::Map(entries) => Some(entries),
            _ => None,
        }
    }
}

/// Reads one document. Faults of syntax end the reading; a name given twice does not.
pub fn read(source: &SourceText, findings: &mut Findings) -> Option<Node> {
    if source.text().len() > MAX_BYTES {
        findings.add(super::text::too_large(source.name(), source.text().len()));
        return None;
    }
    let readable = Readable::new(source.text());
    let mut builder = Builder {
        source,
        readable: &readable,
        findings,
        open: Vec::new(),
        root: None,
        nodes: 0,
        repeated: 0,
    };
    match builder.run() {
        Ok(()) => builder.root,
        Err(stop) => {
            findings.error(stop.code, Place::Span(source.clone(), stop.span), stop.message, stop.help);
            None
        }
    }
}

/// A fault that ends the reading.
struct Stop {
    code: &'static str,
    span: Range<usize>,
    message: String,
    help: String,
}

fn stop(code: &'static str, span: Range<usize>, message: &str, help: &str) -> Stop {
    Stop { code, span, message: message.to_owned(), help: help.to_owned() }
}

/// A list or block whose end has not come yet.
enum Open {
    Seq { start: usize, items: Vec<Node> },
    Map { start: usize, entries: Vec<Entry>, key: Option<(String, Node)>, seen: BTreeMap<String, usize> },
}

struct Builder<'a> {
    source: &'a SourceText,
    readable: &'a Readable<'a>,
    findings: &'a mut Findings,
    open: Vec<Open>,
    root: Option<Node>,
    nodes: usize,
    repeated: usize,
}

impl Builder<'_> {
    fn run(&mut self) -> Result<(), Stop> {
        let readable = self.readable;
        let mut options = Options::default();
        options.set_emit_comments(false);
        options.emit_anchor_events = true;
        options.flow_nesting_limit = MAX_DEPTH + 1;
        options.block_nesting_limit = MAX_DEPTH + 1;
        let mut documents = 0;
        for event in Parser::new_from_str_with_options(readable.text(), options) {
            let (event, span) = event.map_err(|fault| self.syntax(&fault))?;
            if matches!(event, Event::DocumentStart(..)) {
                documents += 1;
            }
            if documents > 1 {
                let help = "keep one document in a file: take out the line `---` or split the file";
                return Err(stop("yaml-documents", self.bytes(&span), "a second document begins here", help));
            }
            self.take(event, &span)?;
        }
        match &self.root {
            Some(node) if !node.is_null() => Ok(()),
            _ => Err(stop("empty-file", 0..0, "there is nothing in this file", "")),
        }
    }

    fn bytes(&self, span: &Span) -> Range<usize> {
        let start = self.byte(&span.start);
        start..self.byte(&span.end).max(start)
    }

    fn byte(&self, mark: &Marker) -> usize {
        self.readable.original(mark.byte_offset().unwrap_or(0)).min(self.source.text().len())
    }

    fn take(&mut self, event: Event<'_>, at: &Span) -> Result<(), Stop> {
        let span = self.bytes(at);
        match event {
            Event::Alias(_) | Event::UnresolvedAlias(_) | Event::Anchor(..) => Err(alias(span)),
            Event::Scalar(value, style, _, tag) => {
                self.admit(tag.is_some(), at)?;
                let plain = style == ScalarStyle::Plain;
                let value =
                    if plain && span.is_empty() { String::new() } else { self.readable.restored(value) };
                self.place(Node { span, kind: NodeKind::Scalar(Scalar { value, plain }) })
            }
            Event::SequenceStart(_, _, tag) => {
                self.admit(tag.is_some(), at)?;
                self.deepen(Open::Seq { start: span.start, items: Vec::new() }, &span)
            }
            Event::MappingStart(_, _, tag) => {
                self.admit(tag.is_some(), at)?;
                let (entries, seen) = (Vec::new(), BTreeMap::new());
                self.deepen(Open::Map { start: span.start, entries, key: None, seen }, &span)
            }
            Event::SequenceEnd | Event::MappingEnd => match self.open.pop() {
                Some(open) => self.place(closed(open, span)),
                None => Ok(()),
            },
            _ => Ok(()),
        }
    }

    /// Refuses type tags, and counts what is admitted. An anchor is an event of its own.
    fn admit(&mut self, tagged: bool, at: &Span) -> Result<(), Stop> {
        self.nodes += 1;
        if tagged {
            let help = "take out the word that begins with `!`, or put text in quotation marks";
            Err(stop("yaml-tag", self.tag(at), "a type tag (`!…`) is not used in these files", help))
        } else if self.nodes > MAX_NODES {
            let message = format!("more than {MAX_NODES} values in one file");
            Err(stop("yaml-too-many", self.bytes(at), &message, "is this the right file?"))
        } else {
            Ok(())
        }
    }

    /// Where the tag of a value stands; the value itself where the parser doesn't say.
    fn tag(&self, at: &Span) -> Range<usize> {
        let start = at.tag_start.map(|mark| self.byte(&mark));
        let word = start.and_then(|start| self.source.text().get(start..)?.split_whitespace().next());
        match (start, word) {
            (Some(start), Some(word)) => start..start + word.len(),
            _ => self.bytes(at),
        }
    }

    fn deepen(&mut self, open: Open, span: &Range<usize>) -> Result<(), Stop> {
        if self.open.len() >= MAX_DEPTH {
            return Err(too_deep(span.clone()));
        }
        if let Some(Open::Map { key: None, .. }) = self.open.last() {
            return Err(not_a_name(span.clone()));
        }
        self.open.push(open);
        Ok(())
    }

    fn place(&mut self, node: Node) -> Result<(), Stop> {
        match self.open.last_mut() {
            None => self.root = Some(node),
            Some(Open::Seq { items, .. }) => items.push(node),
            Some(Open::Map { entries, key, seen, .. }) => match (key.take(), node) {
                (None, node) => match &node.kind {
                    NodeKind::Scalar(scalar) => *key = Some((scalar.value.clone(), node)),
                    _ => return Err(not_a_name(node.span)),
                },
                (Some((key, key_node)), value) => match seen.get(&key) {
                    Some(first) => {
                        self.repeated += 1;
                        if self.repeated <= MAX_REPEATED {
                            duplicate(self.source, self.findings, &key, key_node.span, *first);
                        }
                    }
                    None => {
                        seen.insert(key.clone(), key_node.span.start);
                        entries.push(Entry { key, key_node, value });
                    }
                },
            },
        }
        Ok(())
    }

    fn syntax(&self, fault: &ScanError) -> Stop {
        let at = self.byte(fault.marker());
        if matches!(fault.kind(), ErrorKind::UnknownAnchor) {
            return alias(at..at);
        }
        if matches!(fault.kind(), ErrorKind::RecursionLimitExceeded) {
            return too_deep(at..at);
        }
        let (message, help) = explain(fault.kind());
        Stop { code: "yaml-syntax", span: at..at, message, help: help.to_owned() }
    }
}

/// A list or block with all its values. Its place begins at its bracket or first value.
fn closed(open: Open, end: Range<usize>) -> Node {
    match open {
        Open::Seq { start, items } => {
            let until =
                items.last().map_or(end.end, |last| last.span.end.max(end.end.min(last.span.end + 1)));
            Node { span: start..until.max(start), kind: NodeKind::Seq(items) }
        }
        Open::Map { start, entries, .. } => {
            let until =
                entries.last().map_or(end.end, |last| last.value.span.end.max(last.key_node.span.end));
            Node { span: start..until.max(start), kind: NodeKind::Map(entries) }
        }
    }
}

fn duplicate(source: &SourceText, findings: &mut Findings, key: &str, span: Range<usize>, first: usize) {
    let (line, column) = source.line_column(first);
    findings.error(
        "duplicate-key",
        Place::Span(source.clone(), span),
        format!("`{key}` is given twice; the first is at line {line}, column {column}"),
        "keep one of the two",
    );
}

fn not_a_name(span: Range<usize>) -> Stop {
    stop("yaml-key", span, "a list or block can't be a name", "a name is a word, followed by `:`")
}

fn alias(span: Range<usize>) -> Stop {
    stop(
        "yaml-alias",
        span,
        "anchors and aliases (`&name`, `*name`) are not used in these files",
        "write the value out; put text that begins with `&` or `*` in quotation marks",
    )
}

fn too_deep(span: Range<usize>) -> Stop {
    let message = format!("lists and blocks lie more than {MAX_DEPTH} deep in one another");
    stop("yaml-too-deep", span, &message, "is a bracket or a dash repeated by mistake?")
}

/// A fault of syntax in our own words, and what would be right.
fn explain(kind: &ErrorKind) -> (String, &'static str) {
    use ErrorKind as K;
    let line =
        "each line is `name: value` or `- value`; lines of one block begin with the same number of spaces";
    match kind {
        K::TabNotAllowed
        | K::TabInBlockIndentation
        | K::TabInIndentation
        | K::TabAtBlockScalarStart
        | K::TabInPlainScalar => {
            ("a tab stands where only spaces can".to_owned(), "put spaces in place of the tab")
        }
        K::UnclosedQuotedScalar | K::DocumentIndicatorInQuotedScalar => {
            ("a quotation mark is opened here and never closed".to_owned(), "close it on the same line")
        }
        K::UnclosedFlowCollection { open } => {
            (format!("`{open}` is opened here and never closed"), "close it, or take it out")
        }
        K::MismatchedFlowCollectionEnd { open, close } => {
            (format!("`{open}` is closed by `{close}`"), "close `[` by `]` and `{` by `}`")
        }
        K::MisplacedFlowCollectionEnd => {
            ("a bracket is closed here that was never opened".to_owned(), "take it out, or open it")
        }
        K::UnexpectedEof
        | K::UnexpectedEofFlowSequence
        | K::UnexpectedEofFlowMapping
        | K::UnexpectedEofImplicitFlowMapping
        | K::UnexpectedEofBlockSequence
        | K::UnexpectedEofBlockMapping => {
            ("the file ends in the middle of something".to_owned(), "is it cut off?")
        }
        K::ExpectedFlowMappingSeparator | K::ExpectedFlowSequenceSeparator => (
            "a comma or a closing bracket is missing before this".to_owned(),
            "part the values by commas; put text with a comma, a colon or a bracket in quotation marks",
        ),
        K::MappingValueNotAllowed
        | K::InvalidColonPlacement
        | K::InvalidMappingValueWhitespace
        | K::FlowMappingValueAdjacentCollection
        | K::InvalidSimpleKey => (
            "a `:` stands where no value can begin".to_owned(),
            "put text that holds a colon in quotation marks, and look at the spaces the line begins with",
        ),
        K::UnexpectedCharacter { character } => {
            (format!("nothing can begin with `{character}`"), "put the text in quotation marks")
        }
        K::UnknownQuotedScalarEscape | K::InvalidQuotedScalarHexEscape | K::InvalidUnicodeEscape => (
            "a backslash in double quotation marks begins a code that isn't known".to_owned(),
            "write `\\\\` for a backslash, or use single quotation marks",
        ),
        K::InvalidTrailingSingleQuotedScalar | K::InvalidTrailingDoubleQuotedScalar => (
            "something follows the closing quotation mark".to_owned(),
            "put all of the text inside the quotation marks",
        ),
        K::CommentNotSeparated => ("a space is missing before `#`".to_owned(), "put a space before a remark"),
        K::BomInsideDocument => {
            ("an invisible byte-order mark stands inside the text".to_owned(), "delete it")
        }
        _ => ("this line doesn't fit the lines before it".to_owned(), line),
    }
}
