//! Typed access to a tree of raw values. Each reader judges one value, pushes a finding where it is
//! wrong, and returns nothing, so that reading goes on and one run names every fault.

use super::measure::{Dimension, Measured, with_unit};
use super::outline::{Needs, Outline, PartId, Shape};
use super::yaml::{Entry, Node, NodeKind};
use super::{date, number, suggest};
use crate::finding::{Findings, Place, SourceText};
use crate::model::evidence::Provenance;
use crate::model::lesion::{Lesion, PerLesion};
use crate::model::money::Triangle;
use chrono::NaiveDate;
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::ops::Range;

/// After so many findings in one file the rest are only counted: nobody reads more, and a hostile
/// file should not fill the screen.
const MOST_FINDINGS: usize = 1_000;
/// Longest id.
const LONGEST_ID: usize = 64;

/// What a mention of another id refers to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Refers {
    /// A source of `evidence/sources.yaml`.
    Source,
    /// A factor of `factors.yaml`.
    Factor,
    /// An option of `interventions.yaml`.
    Option,
}

/// A mention of another id, to be looked up when every file is read.
#[derive(Clone, Debug)]
pub(crate) struct Mention {
    pub(crate) refers: Refers,
    pub(crate) id: String,
    pub(crate) place: Place,
    /// How far an option brings the factor.
    pub(crate) target: Option<f64>,
}

/// One file while it is read: its text, what was found wrong, and what it mentions.
pub(crate) struct Page<'a> {
    source: &'a SourceText,
    findings: RefCell<Findings>,
    errors: Cell<usize>,
    left_out: Cell<usize>,
    mentions: RefCell<Vec<Mention>>,
    outline: Option<RefCell<Outline>>,
}

impl<'a> Page<'a> {
    pub(crate) fn new(source: &'a SourceText) -> Self {
        Page {
            source,
            findings: RefCell::default(),
            errors: Cell::new(0),
            left_out: Cell::new(0),
            mentions: RefCell::default(),
            outline: None,
        }
    }

    /// A page on which the requests of a reader are noted instead of answered.
    pub(crate) fn outlining(source: &'a SourceText) -> Self {
        Page { outline: Some(RefCell::new(Outline::new())), ..Page::new(source) }
    }

    /// What was noted.
    pub(crate) fn into_outline(self) -> Outline {
        self.outline.map_or_else(Outline::new, RefCell::into_inner)
    }

    pub(crate) fn place(&self, span: &Range<usize>) -> Place {
        Place::Span(self.source.clone(), span.clone())
    }

    /// Line of a place, for messages that name two places.
    pub(crate) fn line(&self, span: &Range<usize>) -> usize {
        self.source.line_column(span.start).0
    }

    /// Whether so much was found that more need not be said.
    pub(crate) fn full(&self) -> bool {
        self.findings.borrow().len() >= MOST_FINDINGS
    }

    /// Errors so far.
    pub(crate) fn errors(&self) -> usize {
        self.errors.get()
    }

    pub(crate) fn error(
        &self,
        code: &'static str,
        span: &Range<usize>,
        message: String,
        help: impl Into<String>,
    ) {
        self.error_with(code, span, || (message, help.into()));
    }

    /// An error whose words cost something to find, such as the nearest known name.
    pub(crate) fn error_with(
        &self,
        code: &'static str,
        span: &Range<usize>,
        words: impl FnOnce() -> (String, String),
    ) {
        self.errors.set(self.errors.get() + 1);
        if self.full() {
            self.left_out.set(self.left_out.get() + 1);
        } else {
            let (message, help) = words();
            self.findings.borrow_mut().error(code, self.place(span), message, help);
        }
    }

    pub(crate) fn warning(
        &self,
        code: &'static str,
        span: &Range<usize>,
        message: String,
        help: impl Into<String>,
    ) {
        if !self.full() {
            self.findings.borrow_mut().warning(code, self.place(span), message, help);
        }
    }

    /// Hands over what was found and mentioned.
    pub(crate) fn close(self, findings: &mut Findings) -> Vec<Mention> {
        findings.extend(self.findings.into_inner());
        if self.left_out.get() > 0 {
            let message = format!("{} more errors in this file are not shown", self.left_out.get());
            findings.error("too-many-findings", Place::File(self.source.name().to_owned()), message, "");
        }
        self.mentions.into_inner()
    }

    /// The whole document as a value.
    pub(crate) fn root(&'a self, node: &'a Node) -> Value<'a> {
        Value { page: self, name: "the file", node, part: 0 }
    }
}

/// An end of a range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum End {
    /// There is none.
    Open,
    /// The number itself belongs to the range.
    At(f64),
    /// The number itself doesn't.
    Beyond(f64),
}

/// A range that a number must lie in, with the words for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) low: End,
    pub(crate) high: End,
    say: &'static str,
}

impl Bounds {
    pub(crate) const fn new(low: End, high: End, say: &'static str) -> Self {
        Bounds { low, high, say }
    }

    fn holds(&self, x: f64) -> bool {
        let above = match self.low {
            End::Open => true,
            End::At(low) => x >= low,
            End::Beyond(low) => x > low,
        };
        let below = match self.high {
            End::Open => true,
            End::At(high) => x <= high,
            End::Beyond(high) => x < high,
        };
        above && below
    }
}

/// Any finite number.
pub(crate) const ANY: Bounds = Bounds::new(End::Open, End::Open, "a number");
/// Above 0.
pub(crate) const POSITIVE: Bounds = Bounds::new(End::Beyond(0.0), End::Open, "above 0");
/// 0 or more.
pub(crate) const NOT_NEGATIVE: Bounds = Bounds::new(End::At(0.0), End::Open, "0 or more");
/// A share, 0 to 1.
pub(crate) const SHARE: Bounds = Bounds::new(End::At(0.0), End::At(1.0), "between 0 and 1");
/// A share that is neither 0 nor 1.
pub(crate) const INNER_SHARE: Bounds = Bounds::new(End::Beyond(0.0), End::Beyond(1.0), "above 0 and below 1");

/// A value with the name it stands under.
#[derive(Clone, Copy)]
pub(crate) struct Value<'a> {
    pub(crate) page: &'a Page<'a>,
    pub(crate) name: &'a str,
    pub(crate) node: &'a Node,
    /// Where its requests are noted; 0 where they are answered.
    part: PartId,
}

impl<'a> Value<'a> {
    /// Notes what is asked for, where requests are noted; whether they are.
    fn notes(self, shape: impl FnOnce(&mut Outline) -> Shape) -> bool {
        let Some(outline) = &self.page.outline else { return false };
        outline.borrow_mut().note(self.part, shape);
        true
    }

    /// What was noted for this value.
    fn noted(self, read: impl FnOnce(&mut Shape)) {
        if let Some(outline) = &self.page.outline
            && let Some(shape) = outline.borrow_mut().shape(self.part)
        {
            read(shape);
        }
    }

    /// Where values inside this one are noted.
    fn parts(self, find: impl FnOnce(&Shape) -> Vec<PartId>) -> Vec<Value<'a>> {
        let mut parts = Vec::new();
        self.noted(|shape| parts = find(shape));
        parts.into_iter().map(|part| Value { part, ..self }).collect()
    }

    /// Whether nothing stands here: null is the same as left out.
    pub(crate) fn is_left_out(self) -> bool {
        if let Some(outline) = &self.page.outline {
            outline.borrow_mut().may_be_null(self.part);
            return false;
        }
        self.node.is_null()
    }

    pub(crate) fn span(self) -> &'a Range<usize> {
        &self.node.span
    }

    pub(crate) fn error(self, code: &'static str, message: String, help: impl Into<String>) {
        self.page.error(code, self.span(), message, help);
    }

    /// The value as it stands in the file, for a message.
    pub(crate) fn quoted(self) -> String {
        match &self.node.kind {
            NodeKind::Seq(_) => "a list".to_owned(),
            NodeKind::Map(_) => "a block".to_owned(),
            NodeKind::Scalar(scalar) if scalar.is_null() => "empty".to_owned(),
            NodeKind::Scalar(scalar) if scalar.plain => format!("`{}`", short(&scalar.value)),
            NodeKind::Scalar(scalar) => format!("`\"{}\"`", short(&scalar.value)),
        }
    }

    fn wrong_type<T>(self, wanted: &str, help: impl Into<String>) -> Option<T> {
        self.error("wrong-type", format!("`{}` is {}, not {wanted}", self.name, self.quoted()), help);
        None
    }

    /// Text as written; numbers and words alike.
    pub(crate) fn text(self) -> Option<String> {
        if self.notes(|_| Shape::Text) {
            return Some("a".to_owned());
        }
        match &self.node.kind {
            NodeKind::Scalar(scalar) if scalar.value.trim().is_empty() || scalar.is_null() => {
                self.error(
                    "empty-text",
                    format!("`{}` holds no text", self.name),
                    "write something, or leave it out",
                );
                None
            }
            NodeKind::Scalar(scalar) => Some(scalar.value.clone()),
            _ => {
                self.wrong_type("text", "write text; in quotation marks where it holds `:`, `#` or brackets")
            }
        }
    }

    /// A name that other places refer to: letters, digits, `-`, `_` and `.`.
    pub(crate) fn id(self) -> Option<String> {
        if self.notes(|_| Shape::Id) {
            return Some("a".to_owned());
        }
        let text = self.text()?;
        self.judge_id(&text).then_some(text)
    }

    fn judge_id(self, id: &str) -> bool {
        let right = id.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c)) && id.len() <= LONGEST_ID;
        if !right {
            let help = format!("letters, digits, `-`, `_` and `.`, at most {LONGEST_ID}, such as home-lane");
            self.error("bad-id", format!("`{}` is {}, which can't be an id", self.name, self.quoted()), help);
        }
        right
    }

    /// An id of another file, looked up later.
    pub(crate) fn mention(self, refers: Refers) -> Option<String> {
        self.mention_with(refers, None)
    }

    /// A factor with how far an option brings it.
    pub(crate) fn mention_with(self, refers: Refers, target: Option<f64>) -> Option<String> {
        if self.notes(|_| Shape::Mention(refers)) {
            return Some("a".to_owned());
        }
        let id = self.text()?;
        let place = self.page.place(self.span());
        self.page.mentions.borrow_mut().push(Mention { refers, id: id.clone(), place, target });
        Some(id)
    }

    fn scalar<T>(self, read: impl FnOnce(&str) -> Result<T, number::NumberFault>) -> Option<T> {
        let NodeKind::Scalar(scalar) = &self.node.kind else {
            return self.wrong_type("a number", "a number, such as 12 or 0.5");
        };
        if !scalar.plain {
            let help = match number::decimal(scalar.value.trim()) {
                Ok(_) => "take out the quotation marks".to_owned(),
                Err(fault) => fault.help,
            };
            return self.wrong_type("a number", help);
        }
        read(&scalar.value)
            .map_err(|fault| {
                self.error(
                    fault.code,
                    format!("`{}` is {}, {}", self.name, self.quoted(), fault.message),
                    fault.help,
                )
            })
            .ok()
    }

    pub(crate) fn number(self, bounds: &Bounds) -> Option<f64> {
        if self.notes(|_| Shape::Number(*bounds)) {
            return [0.5, 2.0].into_iter().find(|number| bounds.holds(*number));
        }
        let number = self.scalar(number::decimal)?;
        self.within(number, bounds).then_some(number)
    }

    /// A length in metres or an area in square metres; or text with another unit, such as `1150 ft`.
    pub(crate) fn measure(self, dimension: Dimension, bounds: &Bounds) -> Option<Measured> {
        if self.notes(|_| Shape::Measure(dimension, *bounds)) {
            return Some(Measured { metric: 2.0, given: None });
        }
        if dimension == Dimension::Other || !self.has_unit() {
            return self.number(bounds).map(|metric| Measured { metric, given: None });
        }
        match with_unit(self.raw(), dimension) {
            Ok(measured) => self.within(measured.metric, bounds).then_some(measured),
            Err(fault) => {
                let message = format!("`{}` is {}, {}", self.name, self.quoted(), fault.message);
                self.error(fault.code, message, fault.help);
                None
            }
        }
    }

    /// Whether a number and a word stand here, such as `1150 ft`.
    pub(crate) fn has_unit(self) -> bool {
        let text = self.raw().trim();
        let number = text.trim_start_matches(['+', '-', '.']).starts_with(|c: char| c.is_ascii_digit());
        number
            && text.contains(char::is_alphabetic)
            && !number::is_decimal(text.trim_start_matches(['+', '-']))
    }

    /// Whether a number lies in its range; an error where not.
    pub(crate) fn within(self, number: f64, bounds: &Bounds) -> bool {
        if bounds.holds(number) {
            return true;
        }
        let message = format!("`{}` is {}; it must be {}", self.name, self.quoted(), bounds.say);
        let percent = bounds.say == SHARE.say && number > 1.0 && number <= 100.0;
        let help = if percent { format!("{number} % is written {}", number / 100.0) } else { String::new() };
        self.error("out-of-range", message, help);
        false
    }

    /// A whole number from `least` to `most`.
    pub(crate) fn whole(self, least: u64, most: u64) -> Option<u64> {
        if self.notes(|_| Shape::Whole(least, most)) {
            return Some(least);
        }
        let number = self.scalar(number::whole)?;
        if (least..=most).contains(&number) {
            return Some(number);
        }
        let message =
            format!("`{}` is {}; it must be a whole number from {least} to {most}", self.name, self.quoted());
        self.error("out-of-range", message, "");
        None
    }

    pub(crate) fn year(self) -> Option<i32> {
        self.whole(1850, 2199).and_then(|year| i32::try_from(year).ok())
    }

    pub(crate) fn flag(self) -> Option<bool> {
        if self.notes(|_| Shape::Flag) {
            return Some(true);
        }
        match &self.node.kind {
            NodeKind::Scalar(scalar) if scalar.plain => match scalar.value.as_str() {
                "true" | "True" | "TRUE" => Some(true),
                "false" | "False" | "FALSE" => Some(false),
                _ => self.wrong_type("true or false", "write true or false"),
            },
            _ => self.wrong_type("true or false", "write true or false"),
        }
    }

    pub(crate) fn date(self) -> Option<NaiveDate> {
        if self.notes(|_| Shape::Date) {
            return Some(NaiveDate::default());
        }
        let NodeKind::Scalar(scalar) = &self.node.kind else {
            return self.wrong_type("a date", "a date, such as 2026-03-14");
        };
        date::read(&scalar.value)
            .map_err(|(message, help)| {
                self.error("bad-date", format!("`{}` is {}: {message}", self.name, self.quoted()), help);
            })
            .ok()
    }

    /// Three capital letters, as in ISO 4217.
    pub(crate) fn currency(self) -> Option<String> {
        if self.notes(|_| Shape::Currency) {
            return Some("EUR".to_owned());
        }
        let text = self.text()?;
        if text.len() == 3 && text.bytes().all(|byte| byte.is_ascii_uppercase()) {
            return Some(text);
        }
        let message = format!("`{}` is {}, which is no currency code", self.name, self.quoted());
        self.error("bad-currency", message, "three capital letters of ISO 4217, such as EUR, NZD or USD");
        None
    }

    /// One of a few words.
    pub(crate) fn one_of<T: Copy>(self, words: &[(&str, T)]) -> Option<T> {
        if self.notes(|_| Shape::Words(words.iter().map(|(word, _)| (*word).to_owned()).collect())) {
            return words.first().map(|(_, value)| *value);
        }
        let text = self.text()?;
        if let Some((_, value)) = words.iter().find(|(word, _)| *word == text) {
            return Some(*value);
        }
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        self.unknown("unknown-word", &known);
        None
    }

    /// Says that the value is none of the known ones.
    pub(crate) fn unknown(self, code: &'static str, known: &[&str]) {
        self.page.error_with(code, self.span(), || {
            let message = format!("`{}` is {}, which isn't known", self.name, self.quoted());
            (message, suggest::hint(self.raw(), known))
        });
    }

    /// Says that a name made by [`Value::pairs`] is none of the known ones.
    pub(crate) fn unknown_key(self, code: &'static str, thing: &str, known: &[&str]) {
        self.page.error_with(code, self.span(), || {
            (format!("there is no {thing} `{}`", short(self.raw())), suggest::hint(self.raw(), known))
        });
    }

    /// The values of a list.
    pub(crate) fn list(self) -> Option<Vec<Value<'a>>> {
        if self.notes(|outline| Shape::List(outline.add())) {
            // Two, since some lists need as many.
            return Some(self.parts(|shape| match shape {
                Shape::List(part) => vec![*part; 2],
                _ => Vec::new(),
            }));
        }
        match &self.node.kind {
            NodeKind::Seq(items) => Some(items.iter().map(|node| Value { node, ..self }).collect()),
            _ => self.wrong_type("a list", "a list: `[one, two]`, or one line with `- ` for each"),
        }
    }

    /// A list of words, or a single word.
    pub(crate) fn words(self) -> Option<Vec<Value<'a>>> {
        if self.notes(|outline| Shape::OneOrList(outline.add())) {
            return Some(self.parts(|shape| match shape {
                Shape::OneOrList(part) => vec![*part],
                _ => Vec::new(),
            }));
        }
        match &self.node.kind {
            NodeKind::Scalar(_) => Some(vec![self]),
            _ => self.list(),
        }
    }

    /// The values of a list of exactly `N` numbers.
    fn numbers<const N: usize>(self, bounds: &Bounds, wanted: &str) -> Option<[f64; N]> {
        if self.notes(|_| Shape::Numbers(N, *bounds)) {
            return None;
        }
        let items = self.list()?;
        if items.len() != N {
            let message = format!("`{}` has {} values; it needs {N}: {wanted}", self.name, items.len());
            self.error("wrong-length", message, "");
            return None;
        }
        let read: Vec<f64> = items.iter().filter_map(|item| item.number(bounds)).collect();
        read.try_into().ok()
    }

    /// The two values of a pair.
    pub(crate) fn pair(self, what: &str, wanted: &str) -> Option<[Value<'a>; 2]> {
        if self.notes(|outline| Shape::Pair(outline.add(), outline.add())) {
            let parts = self.parts(|shape| match shape {
                Shape::Pair(first, second) => vec![*first, *second],
                _ => Vec::new(),
            });
            return parts.try_into().ok();
        }
        let list = self.list()?;
        let count = list.len();
        let pair = list.try_into().ok();
        if pair.is_none() {
            self.error("wrong-length", format!("{what} has {count} values"), wanted);
        }
        pair
    }

    /// Lower and upper bound.
    pub(crate) fn interval(self, bounds: &Bounds) -> Option<(f64, f64)> {
        let [low, high] = self.numbers(bounds, "lower, upper")?;
        if low > high {
            let message = format!("`{}` runs from {low} down to {high}", self.name);
            self.error("reversed", message, format!("the lower one first: [{high}, {low}]"));
            return None;
        }
        Some((low, high))
    }

    /// Low, likely and high.
    pub(crate) fn triangle(self, bounds: &Bounds) -> Option<Triangle> {
        let [low, likely, high] = self.numbers(bounds, "low, likely, high")?;
        let triangle = Triangle::new(low, likely, high);
        if triangle.is_none() {
            let message = format!("`{}` is [{low}, {likely}, {high}], which doesn't rise", self.name);
            self.error("reversed", message, "the lowest first, then the likely, then the highest");
        }
        triangle
    }

    /// The names and values of a block whose names are free.
    pub(crate) fn pairs(self) -> Option<Vec<(Value<'a>, Value<'a>)>> {
        if self.notes(|outline| Shape::Free(outline.add(), outline.add())) {
            let parts = self.parts(|shape| match shape {
                Shape::Free(key, value) => vec![*key, *value],
                _ => Vec::new(),
            });
            return Some(parts.first().copied().zip(parts.get(1).copied()).into_iter().collect());
        }
        let Some(entries) = self.node.entries() else {
            return self.wrong_type("a block", "a block of `name: value`");
        };
        let pair = |entry: &'a Entry| {
            let value = Value { name: &entry.key, node: &entry.value, ..self };
            (self.key(entry), value)
        };
        Some(entries.iter().map(pair).collect())
    }

    fn key(self, entry: &'a Entry) -> Value<'a> {
        Value { node: &entry.key_node, ..self }
    }

    /// The text of a single value or name; empty for a list or block.
    pub(crate) fn raw(self) -> &'a str {
        match &self.node.kind {
            NodeKind::Scalar(scalar) => &scalar.value,
            _ => "",
        }
    }

    /// The names of a block that are of a list, with their values; others are errors. `is` says what
    /// they name.
    pub(crate) fn named(
        self,
        code: &'static str,
        is: &str,
        known: &[&'a str],
    ) -> Option<Vec<(&'a str, Value<'a>)>> {
        let note = |outline: &mut Outline| {
            Shape::Named(known.iter().map(|name| ((*name).to_owned(), outline.add())).collect(), false)
        };
        if self.notes(note) {
            let parts = self.parts(|shape| match shape {
                Shape::Named(named, _) => named.iter().map(|(_, part)| *part).collect(),
                _ => Vec::new(),
            });
            return Some(known.iter().copied().zip(parts).collect());
        }
        let mut named = Vec::new();
        for (key, value) in self.pairs()? {
            match known.iter().find(|name| **name == key.raw()) {
                Some(name) => named.push((*name, value)),
                None => key.unknown_key(code, is, known),
            }
        }
        Some(named)
    }

    /// Notes that each of the names must be there.
    pub(crate) fn needs_all_names(self) {
        if let Some(outline) = &self.page.outline {
            outline.borrow_mut().require_all(self.part);
        }
    }

    /// One value for each lesion that is named.
    pub(crate) fn per_lesion<T: Copy>(
        self,
        mut read: impl FnMut(Value<'a>) -> Option<T>,
    ) -> Option<PerLesion<Option<T>>> {
        let mut table = PerLesion([None; Lesion::COUNT]);
        for (name, value) in self.named("unknown-lesion", "lesion", &Lesion::ALL.map(Lesion::id))? {
            if let Some(lesion) = Lesion::from_id(name).filter(|_| !value.is_left_out()) {
                table[lesion] = read(value);
            }
        }
        Some(table)
    }

    /// Reads a block of named fields; names that were not asked for are errors.
    pub(crate) fn block<T>(self, read: impl FnOnce(&Block<'a>) -> Option<T>) -> Option<T> {
        let noting = self.notes(|_| Shape::Block(Vec::new(), Needs::Nothing));
        if !noting && self.node.entries().is_none() {
            return self.wrong_type("a block", "a block of `name: value`");
        }
        let block = Block { value: self, asked: RefCell::default(), missing: RefCell::default() };
        let result = read(&block);
        if !noting {
            block.close();
        }
        result
    }
}

/// Whether a field is what a comma cut off a number: in `{ length_m: 1,200 }` the 200.
fn is_rest_of_number(entry: &Entry) -> bool {
    let digits = !entry.key.is_empty() && entry.key.bytes().all(|byte| byte.is_ascii_digit());
    digits && entry.value.is_null()
}

/// The start of a text, for a message.
fn short(text: &str) -> String {
    const SHOWN: usize = 40;
    let mut shown: String = text.chars().take(SHOWN).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

/// A block of named fields while it is read.
pub(crate) struct Block<'a> {
    pub(crate) value: Value<'a>,
    asked: RefCell<Vec<&'static str>>,
    missing: RefCell<Vec<&'static str>>,
}

impl<'a> Block<'a> {
    pub(crate) fn page(&self) -> &'a Page<'a> {
        self.value.page
    }

    /// A field that may be left out; null is the same as left out.
    pub(crate) fn opt(&self, name: &'static str) -> Option<Value<'a>> {
        if let Some(outline) = &self.page().outline {
            let part = outline.borrow_mut().field(self.value.part, name);
            return Some(Value { name, part, ..self.value });
        }
        self.asked.borrow_mut().push(name);
        let entry = self.value.node.entries()?.iter().find(|entry| entry.key == name)?;
        let value = Value { name: &entry.key, node: &entry.value, ..self.value };
        (!value.node.is_null()).then_some(value)
    }

    /// A field that must be there.
    pub(crate) fn req(&self, name: &'static str) -> Option<Value<'a>> {
        let value = self.opt(name);
        if let Some(outline) = &self.page().outline {
            outline.borrow_mut().require(self.value.part, name);
        }
        if value.is_none() {
            self.missing.borrow_mut().push(name);
        }
        value
    }

    /// The place of a field, or of the block where the field is left out.
    pub(crate) fn span(&self, name: &str) -> &'a Range<usize> {
        let entries = self.value.node.entries().unwrap_or_default();
        entries.iter().find(|entry| entry.key == name).map_or(self.value.span(), |entry| &entry.value.span)
    }

    pub(crate) fn id(&self, name: &'static str) -> Option<String> {
        self.req(name)?.id()
    }

    pub(crate) fn opt_id(&self, name: &'static str) -> Option<String> {
        self.opt(name)?.id()
    }

    pub(crate) fn text(&self, name: &'static str) -> Option<String> {
        self.req(name)?.text()
    }

    pub(crate) fn opt_text(&self, name: &'static str) -> Option<String> {
        self.opt(name)?.text()
    }

    pub(crate) fn number(&self, name: &'static str, bounds: &Bounds) -> Option<f64> {
        self.req(name)?.number(bounds)
    }

    pub(crate) fn opt_number(&self, name: &'static str, bounds: &Bounds) -> Option<f64> {
        self.opt(name)?.number(bounds)
    }

    /// A number that is `default` where left out. Where it is wrong the default stands in; the
    /// finding keeps the result from being used.
    pub(crate) fn number_or(&self, name: &'static str, bounds: &Bounds, default: f64) -> f64 {
        self.opt_number(name, bounds).unwrap_or(default)
    }

    pub(crate) fn opt_whole(&self, name: &'static str, least: u64, most: u64) -> Option<u64> {
        self.opt(name)?.whole(least, most)
    }

    pub(crate) fn flag_or(&self, name: &'static str, default: bool) -> bool {
        self.opt(name).and_then(Value::flag).unwrap_or(default)
    }

    pub(crate) fn one_of<T: Copy>(&self, name: &'static str, words: &[(&str, T)]) -> Option<T> {
        self.req(name)?.one_of(words)
    }

    pub(crate) fn opt_one_of<T: Copy>(&self, name: &'static str, words: &[(&str, T)]) -> Option<T> {
        self.opt(name)?.one_of(words)
    }

    /// Reasons why a warning about this block is right but wanted, by its code: `explained: { no-doi: … }`.
    pub(crate) fn explained(&self, codes: &[&'static str]) {
        let Some(reasons) = self.opt("explained") else { return };
        for (code, reason) in reasons.named("unknown-word", "warning", codes).unwrap_or_default() {
            if reason.is_left_out() || reason.text().is_none() {
                continue;
            }
            let (covers, place) = (self.page().place(self.value.span()), self.page().place(reason.span()));
            self.page().findings.borrow_mut().explain(code, covers, place);
        }
    }

    /// A list of ids or words that may be left out.
    pub(crate) fn texts(&self, name: &'static str) -> Vec<String> {
        let items = self.opt(name).and_then(Value::words).unwrap_or_default();
        items.into_iter().filter_map(Value::text).collect()
    }

    /// Where a figure comes from: `source` (one or several), `judgement` and `note`. A figure with
    /// neither source nor judgement is an error: nobody could tell how far to trust it.
    pub(crate) fn provenance(&self) -> Provenance {
        let provenance = self.loose_provenance();
        self.value.noted(|shape| {
            if let Shape::Block(_, needs) = shape {
                *needs = Needs::Provenance;
            }
        });
        if provenance.sources.is_empty() && !provenance.judgement {
            self.page().error(
                "unsourced",
                self.value.span(),
                format!("`{}` has neither a source nor `judgement: true`", self.value.name),
                "say where it comes from: `source: maker-2020`, or `judgement: true`",
            );
        }
        provenance
    }

    /// [`Block::provenance`] where it may be left out.
    pub(crate) fn loose_provenance(&self) -> Provenance {
        Provenance {
            sources: self.mentions("source", Refers::Source),
            judgement: self.flag_or("judgement", false),
            note: self.opt_text("note"),
        }
    }

    /// Ids of another file, one or several, looked up later.
    pub(crate) fn mentions(&self, name: &'static str, refers: Refers) -> Vec<String> {
        let items = self.opt(name).and_then(Value::words).unwrap_or_default();
        items.into_iter().filter_map(|item| item.mention(refers)).collect()
    }

    /// Reports unknown and missing fields. A missing one that an unknown one was meant to be is
    /// said once.
    fn close(self) {
        let page = self.page();
        let asked = self.asked.into_inner();
        let mut missing = self.missing.into_inner();
        let unknown = |entry: &&Entry| !asked.contains(&entry.key.as_str());
        for entry in self.value.node.entries().unwrap_or_default().iter().filter(unknown) {
            let span = &entry.key_node.span;
            if is_rest_of_number(entry) {
                page.error_with("comma-in-number", span, || {
                    let message =
                        format!("the comma before `{}` ends the number and begins a new field", entry.key);
                    (message, "write 1200 or 1.2, not 1,200".to_owned())
                });
                continue;
            }
            page.error_with("unknown-field", span, || {
                if let Some(near) = suggest::nearest(&entry.key, asked.iter().copied()) {
                    missing.retain(|name| *name != near);
                }
                let message = format!("`{}` is not a field of {}", short(&entry.key), self.value.title());
                (message, suggest::hint(&entry.key, &asked))
            });
        }
        for name in missing {
            let message = format!("`{name}` is missing from {}", self.value.title());
            page.error("missing-field", self.value.span(), message, format!("add `{name}: …` to it"));
        }
    }
}

impl Value<'_> {
    /// What a block is called in messages.
    fn title(self) -> String {
        let id = self.node.entries().unwrap_or_default().iter().find(|entry| entry.key == "id");
        match id.map(|entry| &entry.value.kind) {
            Some(NodeKind::Scalar(scalar)) => format!("`{}`", short(&scalar.value)),
            _ if self.name == "the file" => "this file".to_owned(),
            _ => format!("`{}`", short(self.name)),
        }
    }
}

/// Ids that were given, so that one given twice is found, with both places.
#[derive(Default)]
pub(crate) struct Ids(BTreeMap<String, Range<usize>>);

impl Ids {
    /// Notes an id; an error where it was given before.
    pub(crate) fn claim(&mut self, value: Value<'_>, id: &str) {
        match self.0.get(id) {
            Some(first) => {
                let message =
                    format!("the id `{id}` is given twice; the first is on line {}", value.page.line(first));
                value.error("duplicate-id", message, "give each its own id");
            }
            None => {
                self.0.insert(id.to_owned(), value.span().clone());
            }
        }
    }

    /// Every id with its place.
    fn placed(self, page: &Page<'_>) -> BTreeMap<String, Place> {
        self.0.into_iter().map(|(id, span)| (id, page.place(&span))).collect()
    }
}

/// What was read of a file that lists things with ids.
pub(crate) struct Listed<T> {
    /// The things that are valid.
    pub(crate) items: Vec<T>,
    /// Every id, also of things that are not valid, so that a mention of one isn't a second fault.
    pub(crate) ids: BTreeMap<String, Place>,
    /// Mentions of other ids.
    pub(crate) mentions: Vec<Mention>,
}

impl<T> Default for Listed<T> {
    fn default() -> Self {
        Listed { items: Vec::new(), ids: BTreeMap::new(), mentions: Vec::new() }
    }
}

/// Reads a file whose only field is a list of things with ids.
pub(crate) fn read_listed<T>(
    source: &SourceText,
    field: &'static str,
    findings: &mut Findings,
    read: impl Fn(Value<'_>) -> Option<T>,
    judge: impl Fn(&Page<'_>, &[(T, Range<usize>)]),
) -> Listed<T> {
    let Some(root) = super::yaml::read(source, findings) else { return Listed::default() };
    let page = Page::new(source);
    let mut ids = Ids::default();
    let mut items = Vec::new();
    page.root(&root).block(|block| {
        for value in block.req(field)?.list()? {
            if let Some(id) = value.block_id() {
                ids.claim(id, id.raw());
            }
            items.extend(read(value).map(|item| (item, value.span().clone())));
        }
        Some(())
    });
    judge(&page, &items);
    let ids = ids.placed(&page);
    let mentions = page.close(findings);
    Listed { items: items.into_iter().map(|(item, _)| item).collect(), ids, mentions }
}

impl<'a> Value<'a> {
    /// The `id` of a block, where it has one.
    pub(crate) fn block_id(self) -> Option<Value<'a>> {
        let entry = self.node.entries()?.iter().find(|entry| entry.key == "id")?;
        let value = Value { name: &entry.key, node: &entry.value, ..self };
        matches!(&value.node.kind, NodeKind::Scalar(scalar) if !scalar.is_null()).then_some(value)
    }
}
