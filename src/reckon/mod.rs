//! The engine: one file per step, in the order in which they are called.

pub mod stats;
