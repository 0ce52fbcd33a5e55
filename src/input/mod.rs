//! Text to valid types, collecting every fault with its place. Opens no files.
//!
//! A file is read into a tree of placed, raw scalars ([`yaml`]); a second pass judges every value
//! and makes the types of [`crate::model`].

pub mod cases;
