//! `cases`: what a farm's records say by themselves.

use super::Failure;
use super::args::{AnyFormat, CasesArgs, Common, DayOrder};
use super::commands::{WIDTH, today, translate};
use super::files::{file_set, inputs, read_bytes, write_as};
use super::progress::Progress;
use crate::finding::{Findings, Place};
use crate::input;
use crate::input::cases::{
    CaseOptions, CaseReading, DateOrder, TableOptions, parse_columns, read_cases, read_table,
};
use crate::job;
use crate::model::System;
use crate::model::case_record::Cases;
use crate::reckon::records::{CaseSummary, SummaryOptions, summarise};
use crate::report::cases_facts::{CasesFacts, no_summary_words};
use crate::report::records_page::{CasesPage, records_page};
use crate::show::{html, markdown, records_terminal};
use std::path::Path;

impl From<DayOrder> for Option<DateOrder> {
    fn from(order: DayOrder) -> Self {
        match order {
            DayOrder::Iso => None,
            DayOrder::Dmy => DateOrder::from_id("dmy"),
            DayOrder::Mdy => DateOrder::from_id("mdy"),
        }
    }
}

fn read(
    path: &Path,
    bytes: &[u8],
    table: &TableOptions,
    options: &CaseOptions,
) -> Result<(Cases, CaseReading, Findings), Failure> {
    let table = read_table(&path.display().to_string(), bytes, table).map_err(Failure::Data)?;
    let (cases, reading, findings) = read_cases(&table, options);
    if findings.has_errors() { Err(Failure::Data(findings)) } else { Ok((cases, reading, findings)) }
}

/// Prints what the records say.
pub(super) fn cases(common: &Common, args: &CasesArgs) -> Result<Findings, Failure> {
    let columns = args.columns.as_deref().map_or(Ok(Vec::new()), parse_columns).map_err(Failure::Usage)?;
    let options = CaseOptions {
        columns,
        dates: args.dates.into(),
        skip_bad: args.skip_bad,
        today: Some(today()),
        ..CaseOptions::default()
    };
    let table = TableOptions { sheet: args.sheet.clone(), delimiter: None };
    let progress = Progress::new(common);
    progress.now(format!("Reading {}", args.file.display()), None);
    let (cases, reading, mut findings) = read(&args.file, &read_bytes(&args.file)?, &table, &options)?;
    progress.now("Counting cases", None);
    let period = SummaryOptions { from: args.from, to: args.to, ..SummaryOptions::new(args.cows) };
    let summary = summarise(&cases, &period).map_err(|reason| Failure::Usage(no_summary_words(&reason)))?;
    job::warn_of_few_cows(&summary, Place::File(args.file.display().to_string()), &mut findings);
    let text = page(common, args, &summary, &reading, &mut findings)?;
    drop(progress);
    let read = inputs(&[&args.file], common.checklists.as_deref())?;
    write_as(args.format, args.output.out.as_deref(), &text, &read)?;
    Ok(findings)
}

fn page(
    common: &Common,
    args: &CasesArgs,
    summary: &CaseSummary,
    reading: &CaseReading,
    findings: &mut Findings,
) -> Result<String, Failure> {
    let (left_out, other) = (reading.skipped as u64, reading.lesions_counted_as_other());
    if args.format == AnyFormat::Json {
        return Ok(job::json(&CasesFacts::new(&input::english(), summary, left_out, other))?);
    }
    let files = file_set(common.checklists.as_deref())?;
    let mut library = super::evidence::library(&files, System::Pasture)?;
    translate(common, &mut library, findings)?;
    let (kept, figures) = records_page(&library, summary, left_out, &other);
    if args.format == AnyFormat::Text {
        return Ok(records_terminal::cases(&library.words, &kept, WIDTH));
    }
    let filled = markdown::fill(&library.words, "cases.md", &CasesPage { kept })?;
    Ok(match args.format {
        AnyFormat::Html => {
            let words = &library.words;
            html::page(&words.word("cases.page-title"), "cases", words, &filled, &figures)
        }
        _ => markdown::plain(&filled),
    })
}
