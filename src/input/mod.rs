//! Text to valid types, collecting every fault with its place. Opens no files.
//!
//! A file is read into a tree of placed, raw scalars ([`yaml`]); a second pass judges every value
//! and makes the types of [`crate::model`]. Only broken syntax ends a reading early.

pub mod burden;
pub mod checklist;
mod date;
pub mod evidence;
pub mod factors;
mod field;
pub mod interventions;
pub mod library;
mod number;
mod suggest;
pub mod text;
pub mod walk;
pub mod yaml;

pub use library::{FileSet, check_files, checklists, read_library};
pub use text::{MAX_BYTES, decode_utf8};
pub use walk::{read_walk, read_walk_on};
