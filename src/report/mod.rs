//! What is said, in what order, with which units and cautions.

pub mod cases_facts;
pub mod figure;
