//! `cases`: what a farm's records say by themselves; and the records that a walk names.

use super::Failure;
use super::args::{CasesArgs, Common, DayOrder, PageFormat};
use super::commands::today;
use super::files::{file_set, inputs, read_bytes, write};
use super::progress::Progress;
use crate::finding::{Findings, Place};
use crate::input::cases::{
    CaseOptions, CaseReading, DateOrder, TableOptions, parse_columns, read_cases, read_table,
};
use crate::job::{self, Farm};
use crate::model::System;
use crate::model::case_record::Cases;
use crate::reckon::records::{CaseSummary, SummaryOptions, summarise};
use crate::report::cases_facts::{CasesFacts, no_summary_words};
use crate::report::records_page::records_page;
use crate::show::{html, markdown};
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
    let (cases, reading, findings) = read(&args.file, &read_bytes(&args.file)?, &table, &options)?;
    progress.now("Counting cases", None);
    let period = SummaryOptions { from: args.from, to: args.to, ..SummaryOptions::new(args.cows) };
    let summary = summarise(&cases, &period).map_err(|reason| Failure::Usage(no_summary_words(&reason)))?;
    let text = page(common, args, &summary, &reading)?;
    drop(progress);
    let read = inputs(&[&args.file], common.checklists.as_deref())?;
    write(args.output.out.as_deref(), text.as_bytes(), &read)?;
    Ok(findings)
}

fn page(
    common: &Common,
    args: &CasesArgs,
    summary: &CaseSummary,
    reading: &CaseReading,
) -> Result<String, Failure> {
    let (left_out, other) = (reading.skipped as u64, reading.lesions_counted_as_other());
    if args.format == PageFormat::Json {
        return Ok(job::json(&CasesFacts::new(summary, left_out, other))?);
    }
    let files = file_set(common.checklists.as_deref())?;
    let library = super::evidence::library(&files, System::Pasture)?;
    let (page, figures) = records_page(&library, summary, left_out, &other, None);
    let filled = format!("# What the records say\n\n{}", markdown::fill("records.md", &page)?);
    Ok(match args.format {
        PageFormat::Html => html::page("What the records say", "adviser", "en", &filled, &figures),
        _ => markdown::plain(&filled),
    })
}

/// Reads the case records that a walk names, beside it, and counts them over its period.
pub(super) fn attach(farm: &mut Farm, walk: &Path, findings: &mut Findings) -> Result<(), Failure> {
    let Some(name) = farm.walk.cases_file.clone() else { return Ok(()) };
    let walk_name = walk.display().to_string();
    let path = walk.parent().unwrap_or(Path::new("")).join(&name);
    let fault = |message: String, help: &str| {
        let mut faults = Findings::new();
        faults.error("file-not-read", Place::File(walk_name.clone()), message, help);
        Failure::Data(faults)
    };
    let Some(records) = &mut farm.walk.records else {
        return Err(fault(
            format!("`cases: {name}` can't be counted without the period and the number of cows"),
            "give `records` with from, to and average_cows",
        ));
    };
    let options = CaseOptions { today: Some(today()), ..CaseOptions::default() };
    let bytes = read_bytes(&path).map_err(|failure| match failure {
        Failure::File(reason) => fault(reason, "the file stands beside the walk record"),
        other => other,
    })?;
    let (cases, _, warnings) = read(&path, &bytes, &TableOptions::default(), &options)?;
    findings.extend(warnings);
    let period = SummaryOptions {
        cows: records.average_cows,
        from: Some(records.from),
        to: Some(records.to),
        repeat_days: farm.library.burden.constants.repeat_days,
    };
    let summary = summarise(&cases, &period).map_err(|reason| fault(no_summary_words(&reason), ""))?;
    records.counts = Some(summary.counts);
    farm.inputs.insert(job::base_name(&name).to_owned(), job::sha256(&bytes));
    Ok(())
}
