//! What the readers accept, noted by the readers themselves.
//!
//! A reader that is given a stand-in for any file asks for its fields and values just as it asks a real
//! one for them; every request is noted here instead of answered. So the JSON Schemas ([`super::schema`])
//! can't fall behind the readers.

use super::field::{Bounds, Refers};
use super::measure::Dimension;

/// Index of a part of an outline.
pub(crate) type PartId = usize;

/// What a value may be.
#[derive(Clone, Debug)]
pub(crate) enum Shape {
    /// Text, or a number or word taken as text.
    Text,
    /// An id.
    Id,
    /// An id of another file.
    Mention(Refers),
    /// A number.
    Number(Bounds),
    /// A whole number from the first to the last.
    Whole(u64, u64),
    /// A length or area: a number, or text with a unit.
    Measure(Dimension, Bounds),
    /// True or false.
    Flag,
    /// A date.
    Date,
    /// A currency.
    Currency,
    /// One of a few words.
    Words(Vec<String>),
    /// A list.
    List(PartId),
    /// A list, or one of its values alone.
    OneOrList(PartId),
    /// So many numbers.
    Numbers(usize, Bounds),
    /// A pair of values.
    Pair(PartId, PartId),
    /// A block whose names are free.
    Free(PartId, PartId),
    /// A block whose names are of a list, each with a value; whether all must be there.
    Named(Vec<(String, PartId)>, bool),
    /// A block of fields.
    Block(Vec<Field>, Needs),
}

/// What a block needs beside its required fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Needs {
    Nothing,
    /// A source, or to be called a judgement.
    Provenance,
}

/// A field of a block.
#[derive(Clone, Debug)]
pub(crate) struct Field {
    pub(crate) name: &'static str,
    pub(crate) part: PartId,
    pub(crate) required: bool,
}

/// A part of a file: its shape, and whether it may be null.
#[derive(Clone, Debug, Default)]
pub(crate) struct Part {
    pub(crate) shape: Option<Shape>,
    pub(crate) nullable: bool,
}

/// Every part of a file; the first is the whole of it.
#[derive(Clone, Debug)]
pub(crate) struct Outline(Vec<Part>);

impl Outline {
    pub(crate) fn new() -> Outline {
        Outline(vec![Part::default()])
    }

    pub(crate) fn part(&self, id: PartId) -> Option<&Part> {
        self.0.get(id)
    }

    pub(crate) fn add(&mut self) -> PartId {
        self.0.push(Part::default());
        self.0.len() - 1
    }

    /// Notes a shape where none was noted before: what is read twice keeps its first.
    pub(crate) fn note(&mut self, id: PartId, shape: impl FnOnce(&mut Outline) -> Shape) {
        if self.0.get(id).is_some_and(|part| part.shape.is_none()) {
            let shape = shape(self);
            if let Some(part) = self.0.get_mut(id) {
                part.shape = Some(shape);
            }
        }
    }

    pub(crate) fn shape(&mut self, id: PartId) -> Option<&mut Shape> {
        self.0.get_mut(id)?.shape.as_mut()
    }

    pub(crate) fn may_be_null(&mut self, id: PartId) {
        if let Some(part) = self.0.get_mut(id) {
            part.nullable = true;
        }
    }

    /// The part of a field of a block, noted where it is asked for the first time.
    pub(crate) fn field(&mut self, block: PartId, name: &'static str) -> PartId {
        self.note(block, |_| Shape::Block(Vec::new(), Needs::Nothing));
        if let Some(Shape::Block(fields, _)) = self.shape(block)
            && let Some(field) = fields.iter().find(|field| field.name == name)
        {
            return field.part;
        }
        let part = self.add();
        self.may_be_null(part);
        if let Some(Shape::Block(fields, _)) = self.shape(block) {
            fields.push(Field { name, part, required: false });
        }
        part
    }

    /// Notes that each name of a block must be there, and so can't be null.
    pub(crate) fn require_all(&mut self, block: PartId) {
        let Some(Shape::Named(named, all)) = self.shape(block) else { return };
        *all = true;
        let parts: Vec<PartId> = named.iter().map(|(_, part)| *part).collect();
        for part in parts {
            if let Some(part) = self.0.get_mut(part) {
                part.nullable = false;
            }
        }
    }

    /// Notes that a field must be there, and so can't be null.
    pub(crate) fn require(&mut self, block: PartId, name: &str) {
        let mut part = None;
        if let Some(Shape::Block(fields, _)) = self.shape(block)
            && let Some(field) = fields.iter_mut().find(|field| field.name == name)
        {
            field.required = true;
            part = Some(field.part);
        }
        if let Some(part) = part.and_then(|part| self.0.get_mut(part)) {
            part.nullable = false;
        }
    }
}
