//! Whole jobs, from texts to what is shown: the pure pipeline that the command line and the offline
//! sheet both call.

use crate::finding::{Findings, Place, SourceText};
use crate::input::{FileSet, ReadTables, place_of, read_walk};
use crate::model::Library;
use crate::model::walk::Walk;
use crate::reckon::own_records::{CaseFile, OwnRecords};
use crate::reckon::plan::{FarmPlan, as_plan};
use crate::reckon::records::{CaseDays, CaseSummary, SummaryOptions, case_days, summarise};
use crate::reckon::{self, Outcome, Prepared, Refusal, Settings};
use crate::report::cases_facts::no_summary_words;
use crate::report::facts::{WalkScore, walk_score};
use crate::report::own_records_facts::own_records_facts;
use crate::report::walk_page::{self, ACTIONS, Report, WalkPage};
use crate::report::words;
use crate::report::workbook::{Workbook, workbook};
use crate::show::{html, markdown};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// For whom a report is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reader {
    /// Two pages: the first things to do.
    Farmer,
    /// All of it.
    Adviser,
}

impl Reader {
    fn template(self) -> &'static str {
        match self {
            Reader::Farmer => "farmer.md",
            Reader::Adviser => "adviser.md",
        }
    }

    fn class(self) -> &'static str {
        match self {
            Reader::Farmer => "farmer",
            Reader::Adviser => "adviser",
        }
    }
}

/// A walk that was read, with the library it is judged against and the hashes of what was read.
#[derive(Clone, Debug)]
pub struct Farm {
    /// What the walk is judged against.
    pub library: Library,
    /// The walk.
    pub walk: Walk,
    /// What the tables beside the walk hold.
    pub own: OwnRecords,
    /// SHA-256 of every file that was read, by base name.
    pub inputs: BTreeMap<String, String>,
    /// What its file of cases holds beside the counts; `None` without such a file.
    pub case_days: Option<CaseDays>,
}

/// Reads a walk; `None` where it has errors, which are pushed.
pub fn read_farm(source: &SourceText, files: &FileSet, findings: &mut Findings) -> Option<Farm> {
    let (library, walk) = read_walk(source, files, findings)?;
    if findings.has_errors() {
        return None;
    }
    Some(Farm { library, walk, own: OwnRecords::default(), inputs: inputs_of(source), case_days: None })
}

/// Takes the tables beside a walk into the farm: cases are counted over the walk's period, and from
/// there on stand for its counts.
pub fn take_in(farm: &mut Farm, source: &SourceText, tables: ReadTables, findings: &mut Findings) {
    farm.own.scorings = tables.scorings;
    let (Some((cases, reading)), Some(records)) = (tables.cases, &mut farm.walk.records) else { return };
    let period = SummaryOptions {
        cows: records.average_cows,
        from: Some(records.from),
        to: Some(records.to),
        repeat_days: farm.library.burden.constants.repeat_days,
    };
    match summarise(&cases, &period) {
        Ok(summary) => {
            warn_of_few_cows(&summary, place_of(source, &["records", "average_cows"]), findings);
            records.counts = Some(summary.counts);
            farm.case_days = Some(case_days(&cases, &summary, period.repeat_days));
            farm.own.cases = Some(CaseFile {
                summary,
                rows_left_out: reading.skipped as u64,
                counted_as_other: reading.lesions_counted_as_other(),
            });
        }
        Err(reason) => {
            let place = place_of(source, &["records"]);
            findings.error("file-not-read", place, no_summary_words(&reason), "");
        }
    }
}

/// Warns where more different cows were lame than there were cows.
pub fn warn_of_few_cows(summary: &CaseSummary, place: Place, findings: &mut Findings) {
    if let Some(lame) = summary.lame_cows.filter(|lame| *lame as f64 > summary.cows) {
        findings.warning(
            "fewer-cows-than-lame",
            place,
            format!("{lame} different cows were lame, but there were {} cows", summary.cows),
            "check the number of cows; the rate rests on it",
        );
    }
}

/// The hash of a file, by its base name.
pub fn inputs_of(source: &SourceText) -> BTreeMap<String, String> {
    BTreeMap::from([(base_name(source.name()).to_owned(), sha256(source.text().as_bytes()))])
}

/// The last part of a path, whichever way its slashes lean.
pub fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// SHA-256 in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A farm that was reckoned.
#[derive(Clone, Debug)]
pub struct Reckoned<'a> {
    /// In draws.
    pub prepared: Prepared<'a>,
    /// The outcome.
    pub outcome: Outcome,
    own: &'a OwnRecords,
    inputs: &'a BTreeMap<String, String>,
}

/// Reckons a farm.
///
/// # Errors
/// As [`reckon::reckon`].
pub fn reckon(farm: &Farm, settings: Settings) -> Result<Reckoned<'_>, Refusal> {
    let prepared = reckon::prepare(&farm.library, &farm.walk, settings)?;
    let outcome = prepared.outcome()?;
    Ok(Reckoned { prepared, outcome, own: &farm.own, inputs: &farm.inputs })
}

impl Reckoned<'_> {
    /// The facts, for JSON.
    pub fn facts(&self) -> WalkScore {
        let (library, walk) = (self.prepared.library, self.prepared.walk);
        let withheld = words::all_withheld(library, &self.prepared.money_withheld());
        let own = own_records_facts(&self.prepared, &self.outcome, self.own);
        walk_score(library, walk, &self.outcome, own, withheld, self.inputs.clone())
    }

    /// The report's words alone.
    pub fn page(&self) -> WalkPage {
        walk_page::page(&self.prepared, &self.outcome, self.own, self.inputs)
    }

    /// The report as tables to sort and filter.
    pub fn workbook(&self) -> Workbook {
        workbook(&self.prepared, &self.outcome, self.inputs)
    }

    /// The first things to do, told like a plan.
    pub fn short_list(&self) -> FarmPlan {
        let alone = self.outcome.alone(&self.prepared);
        as_plan(&self.prepared, &self.prepared.first_actions(&alone, ACTIONS))
    }

    /// The report's words and figures, with the first things to do.
    pub fn report(&self) -> Report {
        self.report_with(&self.short_list())
    }

    /// The report's words and figures, with a plan.
    pub fn report_with(&self, plan: &FarmPlan) -> Report {
        walk_page::report(&self.prepared, &self.outcome, self.own, self.inputs, plan)
    }
}

/// The facts as JSON text, ending with a line end.
///
/// # Errors
/// The serializer's own, a fault of the program.
pub fn json(facts: &impl serde::Serialize) -> Result<String, serde_json::Error> {
    Ok(serde_json::to_string_pretty(facts)? + "\n")
}

/// The filled template; the adviser's has the methods page behind it.
fn filled(report: &Report, reader: Reader) -> Result<String, minijinja::Error> {
    let mut text = markdown::fill(&report.words, reader.template(), &report.page)?;
    if reader == Reader::Adviser {
        text.push('\n');
        text.push_str(&markdown::fill(&report.words, "methods.md", &report.methods)?);
        if !report.page.burden.has_records {
            text.push('\n');
            text.push_str(&markdown::fill(&report.words, "record-sheet.md", &report.page)?);
        }
    }
    Ok(text)
}

/// A report as Markdown.
///
/// # Errors
/// The template engine's own, a fault of the program.
pub fn report_markdown(report: &Report, reader: Reader) -> Result<String, minijinja::Error> {
    Ok(markdown::plain(&filled(report, reader)?))
}

/// A report as one HTML page.
///
/// # Errors
/// The template engine's own, a fault of the program.
pub fn report_html(report: &Report, reader: Reader) -> Result<String, minijinja::Error> {
    let filled = filled(report, reader)?;
    let title = report.words.say("report.title", &[("farm", &report.page.farm), ("date", &report.page.date)]);
    Ok(html::page(&title, reader.class(), &report.words, &filled, &report.figures))
}
