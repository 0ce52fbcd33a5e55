//! Text to valid types, collecting every fault with its place. Opens no files.
//!
//! A file is read into a tree of placed, raw scalars ([`yaml`]); a second pass judges every value
//! and makes the types of [`crate::model`]. Only broken syntax ends a reading early.

mod actions;
mod burden;
mod card;
pub mod cases;
mod checklist;
mod date;
mod evidence;
mod factors;
mod field;
mod interventions;
mod library;
mod measure;
mod named_tables;
mod number;
mod outline;
mod schema;
mod schema_translation;
mod schema_words;
mod stand_in;
mod starter;
mod suggest;
mod text;
mod translation;
mod walk;
pub mod yaml;

pub use actions::read_actions;
pub use card::{CardPile, MAX_CARD_BYTES, read_card};
pub use library::{FileKind, FileSet, ListedChecklist, check_files, checklists, file_kind, read_library};
pub use named_tables::{NamedTable, ReadTables, TableKind, check_table, named_tables, place_of};
pub use schema::{SCHEMAS, schema};
pub use starter::starter;
pub use suggest::hint;
pub use text::{MAX_BYTES, decode_utf8, too_large};
pub use translation::{ENGLISH, english, english_pages, languages, translate, words};
pub use walk::{read_walk, read_walk_on};
