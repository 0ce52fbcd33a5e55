//! What is said, in what order, with which units and cautions.
//!
//! [`facts`] is the JSON contract; the pages are finished strings that templates lay out. No page
//! shows a number that the facts lack.

pub mod facts;
pub mod cases_facts;
pub mod evidence;
pub mod figure;
pub mod number;
pub mod walk_page;
pub mod words;
