//! What is said, in what order, with which units and cautions.

pub mod figure;
pub mod facts;
