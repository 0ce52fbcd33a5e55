//! Case records and locomotion scores from tables: CSV in any common dress, XLSX, ODS.
//!
//! [`read_table`] makes a table of bytes, [`read_cases`] and [`read_locomotion`] judge its rows.

mod dates;
mod decode;
mod headings;
mod locomotion;
mod memo;
mod records;
mod table;
mod words;
#[cfg(not(target_family = "wasm"))]
mod workbook;

pub use crate::model::day::DateOrder;
pub use decode::Encoding;
pub use headings::{ColumnName, Field, holds_scores, parse_columns};
pub use locomotion::{LocomotionOptions, read_locomotion};
pub use records::{CaseOptions, CaseReading, LesionWord, UnknownWord, read_cases};
pub use table::{Table, TableOptions, read_table};

#[cfg(test)]
mod tests;
