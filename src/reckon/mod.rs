//! The engine: one file per step, in the order in which they are called.

pub mod locomotion;
pub mod records;
pub mod sample;
pub mod stats;
