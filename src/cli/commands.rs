//! One function for each command.

use super::args::{Arguments, Command, Common, Output, Reckoning, ReportFormat, TextFormat};
use super::files::{beside, file_set, read_text, walk_inputs, write};
use super::{Failure, tell};
use crate::finding::{Findings, Place};
use crate::input;
use crate::job::{self, Farm, Reader, Reckoned};
use crate::reckon::{self, Prepared, Refusal, Settings};
use crate::report::{number, words};
use crate::show::caret::harmless;
use crate::show::terminal;
use chrono::NaiveDate;
use std::path::{Path, PathBuf};

/// Runs a command; the findings that come back are warnings.
pub(super) fn run(arguments: Arguments) -> Result<Findings, Failure> {
    let Arguments { common, command } = arguments;
    match command {
        Command::Sheet(args) => super::sheet::sheet(&common, &args),
        Command::Score { walk, format, reckoning, output } => {
            score(&common, &walk, format, &reckoning, &output)
        }
        Command::Report { walk, format, reader, reckoning, output } => {
            report(&common, &walk, format, reader.into(), &reckoning, &output)
        }
        Command::Check { files } => check(&common, &files),
        Command::Evidence(args) => super::evidence::evidence(&common, &args),
        Command::Revisit(args) => super::revisit::revisit(&common, &args),
        Command::Plan(args) => super::plan::plan(&common, &args),
        Command::Cases(args) => super::cases::cases(&common, &args),
        Command::Card(args) => super::group::card(&common, &args),
        Command::Group(args) => super::group::group(&common, &args),
    }
}

pub(super) fn read_farm(common: &Common, path: &Path, findings: &mut Findings) -> Result<Farm, Failure> {
    let source = read_text(path)?;
    let files = file_set(common.checklists.as_deref())?;
    let farm = job::read_farm(&source, &files, findings);
    let mut farm = farm.ok_or_else(|| Failure::Data(std::mem::take(findings)))?;
    super::cases::attach(&mut farm, path, findings)?;
    let today = today();
    let dates =
        [("the walk", Some(farm.walk.date)), ("the records", farm.walk.records.as_ref().map(|r| r.to))];
    for (what, date) in dates {
        if let Some(date) = date.filter(|date| *date > today) {
            findings.warning(
                "date-after-today",
                Place::File(source.name().to_owned()),
                format!("{what} ends on {date}, after today ({today})"),
                "check the year",
            );
        }
    }
    Ok(farm)
}

/// Today's date by the machine's clock, UTC.
pub(super) fn today() -> NaiveDate {
    let seconds =
        std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let days = i64::try_from(seconds / 86_400).unwrap_or(0);
    NaiveDate::default() + chrono::Duration::days(days)
}

fn settings(reckoning: &Reckoning) -> Settings {
    Settings { draws: reckoning.draws, seed: reckoning.seed, rank_by: reckoning.rank_by.into() }
}

/// What a refusal of the engine says to the user.
fn refused(farm: &Farm, refusal: Refusal) -> Failure {
    match refusal {
        Refusal::Draws(draws) => bad_draws(draws),
        Refusal::RankByMoney(reasons) => Failure::Refused(format!(
            "the options can't be ranked by net benefit.\n{}",
            words::all_withheld(&farm.library, &reasons).join("\n")
        )),
    }
}

pub(super) fn bad_draws(draws: usize) -> Failure {
    Failure::Usage(format!("{draws} draws: a power of two from 256 to 65536 is needed"))
}

pub(super) fn reckon<'a>(farm: &'a Farm, reckoning: &Reckoning) -> Result<Reckoned<'a>, Failure> {
    job::reckon(farm, settings(reckoning)).map_err(|refusal| refused(farm, refusal))
}

/// A farm in draws, for what is reckoned from them rather than from the ranking.
pub(super) fn prepare<'a>(farm: &'a Farm, reckoning: &Reckoning) -> Result<Prepared<'a>, Failure> {
    reckon::prepare(&farm.library, &farm.walk, settings(reckoning)).map_err(|refusal| refused(farm, refusal))
}

/// Writes a page to `out`, or beside the walk, and says where.
pub(super) fn write_page(
    common: &Common,
    walk: &Path,
    out: Option<&Path>,
    page: &str,
    inputs: &[PathBuf],
) -> Result<(), Failure> {
    let path = out.map_or_else(|| beside(walk, "html"), Path::to_path_buf);
    write(Some(&path), page.as_bytes(), inputs)?;
    tell_written(common, &path);
    Ok(())
}

/// Says which file was written, where one was.
pub(super) fn tell_written(common: &Common, path: &Path) {
    if !common.quiet && path != Path::new("-") {
        tell(&format!("wrote {}\n", harmless(&path.display().to_string())));
    }
}

fn score(
    common: &Common,
    walk: &Path,
    format: TextFormat,
    reckoning: &Reckoning,
    output: &Output,
) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let farm = read_farm(common, walk, &mut findings)?;
    let reckoned = reckon(&farm, reckoning)?;
    let text = match format {
        TextFormat::Json => job::json(&reckoned.facts())?,
        TextFormat::Text => terminal::score(&reckoned.page(), WIDTH),
    };
    let inputs = walk_inputs(walk, &farm.walk, common.checklists.as_deref())?;
    write(output.out.as_deref(), text.as_bytes(), &inputs)?;
    Ok(findings)
}

/// Columns of the terminal's text: as many as a terminal has when nobody changed it, and as a page
/// takes when printed.
pub(super) const WIDTH: usize = 80;

fn report(
    common: &Common,
    walk: &Path,
    format: ReportFormat,
    reader: Reader,
    reckoning: &Reckoning,
    output: &Output,
) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let farm = read_farm(common, walk, &mut findings)?;
    let reckoned = reckon(&farm, reckoning)?;
    let inputs = walk_inputs(walk, &farm.walk, common.checklists.as_deref())?;
    match format {
        ReportFormat::Json => {
            write(output.out.as_deref(), job::json(&reckoned.facts())?.as_bytes(), &inputs)?;
        }
        ReportFormat::Md => {
            let text = job::report_markdown(&reckoned.report(), reader)?;
            write(output.out.as_deref(), text.as_bytes(), &inputs)?;
        }
        ReportFormat::Html => {
            let text = job::report_html(&reckoned.report(), reader)?;
            write_page(common, walk, output.out.as_deref(), &text, &inputs)?;
        }
    }
    Ok(findings)
}

fn check(common: &Common, paths: &[PathBuf]) -> Result<Findings, Failure> {
    let files = file_set(common.checklists.as_deref())?;
    let sources = paths.iter().map(|path| read_text(path)).collect::<Result<Vec<_>, _>>()?;
    let mut findings = Findings::new();
    input::check_files(&sources, &files, &mut findings);
    if findings.has_errors() {
        return Err(Failure::Data(findings));
    }
    let checked = if paths.is_empty() { "What is shipped".to_owned() } else { checked(paths) };
    write(None, format!("{}: no errors.\n", harmless(&checked)).as_bytes(), &[])?;
    Ok(findings)
}

fn checked(paths: &[PathBuf]) -> String {
    match paths {
        [one] => one.display().to_string(),
        many => number::plural(many.len() as u64, "file", "files"),
    }
}
