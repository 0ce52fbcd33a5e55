//! What is said, in what order, with which units and cautions.
//!
//! [`facts`] is the JSON contract; the pages are finished strings that templates lay out. No page
//! shows a number that the facts lack.

pub mod actions_file;
pub mod card_text;
pub mod cases_facts;
pub mod evidence;
pub mod facts;
pub mod figure;
pub mod group_facts;
pub mod group_page;
pub mod number;
pub mod own_records_facts;
pub mod own_records_page;
pub mod plan_facts;
pub mod plan_page;
pub mod records_page;
pub mod revisit_facts;
pub mod revisit_page;
pub mod revisit_words;
pub mod sample_page;
pub mod sentence;
pub mod walk_page;
pub mod words;
pub mod workbook;
