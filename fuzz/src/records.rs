//! From the bytes of a table to the page of what the records say.

use crate::{is_harmless, is_printable, library_for, told};
use chrono::NaiveDate;
use underfoot::input;
use underfoot::input::cases::{CaseOptions, DateOrder, TableOptions, read_cases, read_table};
use underfoot::job;
use underfoot::reckon::records::{SummaryOptions, summarise};
use underfoot::report::cases_facts::CasesFacts;
use underfoot::report::records_page::{CasesPage, records_page};
use underfoot::show::{html, markdown, records_terminal};

/// Reads a table of case records, sums it up and draws its page, with bad rows left out and without.
pub fn through(bytes: &[u8]) {
    let table = match read_table("cases", bytes, &TableOptions::default()) {
        Ok(table) => table,
        Err(findings) => return told(&findings),
    };
    for (skip_bad, dates) in [(false, None), (true, DateOrder::from_id("dmy"))] {
        let today = NaiveDate::from_ymd_opt(2026, 3, 14);
        let options = CaseOptions { dates, skip_bad, today, ..CaseOptions::default() };
        let (cases, reading, findings) = read_cases(&table, &options);
        told(&findings);
        let Ok(summary) = summarise(&cases, &SummaryOptions::new(274.0)) else { continue };
        if findings.has_errors() {
            continue;
        }
        let (left_out, other) = (reading.skipped as u64, reading.lesions_counted_as_other());
        let words = input::english();
        job::json(&CasesFacts::new(&words, &summary, left_out, other.clone())).expect("facts are JSON");
        let (kept, figures) = records_page(library_for(""), &summary, left_out, &other);
        is_printable("the terminal", &records_terminal::cases(&words, &kept, 80));
        let filled = markdown::fill(&words, "cases.md", &CasesPage { kept }).expect("a template is filled");
        is_harmless(&html::page("What the records say", "adviser", &words, &filled, &figures));
    }
}
