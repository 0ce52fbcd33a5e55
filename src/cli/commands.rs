//! One function for each command.

use super::actions::read_paid_farm;
use super::args::{Arguments, ChecklistCommand, Command, Common, Output, Paid, Reckoning, TextFormat};
use super::files::{file_set, inputs, read_bytes, read_text, write, write_inked};
use super::progress::during;
use super::tables::{paths_beside, read_beside};
use super::{Failure, tell};
use crate::finding::{Findings, Place};
use crate::input;
use crate::job::{self, Farm, Reckoned};
use crate::model::Library;
use crate::model::words::Words;
use crate::reckon::{self, Prepared, Refusal, Settings};
use crate::report::words;
use crate::show::caret::harmless;
use crate::show::terminal;
use chrono::NaiveDate;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Runs a command; the findings that come back are warnings.
pub(super) fn run(arguments: Arguments) -> Result<Findings, Failure> {
    let Arguments { common, command } = arguments;
    match command {
        Command::Sheet(args) => super::sheet::sheet(&common, &args),
        Command::Score { walk, paid, format, reckoning, output } => {
            score(&common, &walk, &paid, format, &reckoning, &output)
        }
        Command::Report(args) => super::report::report(&common, &args),
        Command::Check { schema: Some(name), out, .. } => {
            super::checklist::schema(&common, &name, out.as_deref())
        }
        Command::Check { files, schema: None, .. } => check(&common, &files),
        Command::Checklist(ChecklistCommand::New { folder, id, from }) => {
            super::checklist::new(&common, &folder, &id, from.as_deref())
        }
        Command::Evidence(args) => super::evidence::evidence(&common, &args),
        Command::Overdue(args) => super::actions::overdue(&common, &args),
        Command::Revisit(args) => super::revisit::revisit(&common, &args),
        Command::Plan(args) => super::plan::plan(&common, &args),
        Command::Cases(args) => super::cases::cases(&common, &args),
        Command::Sample(args) => super::sample::sample(&common, &args),
        Command::Card(args) => super::group::card(&common, &args),
        Command::Group(args) => super::group::group(&common, &args),
        Command::Completions { shell, output } => super::about::completions(shell, &output),
        Command::Man { command, output } => super::about::man(command.as_deref(), &output),
    }
}

pub(super) fn read_farm(common: &Common, path: &Path, findings: &mut Findings) -> Result<Farm, Failure> {
    let source = read_text(path)?;
    let files = file_set(common.checklists.as_deref())?;
    let beside = read_beside(&source, findings)?;
    let farm = job::read_farm(&source, &files, findings);
    let mut farm = farm.ok_or_else(|| Failure::Data(std::mem::take(findings)))?;
    farm.inputs.extend(beside.hashes);
    job::take_in(&mut farm, &source, beside.tables, findings);
    if findings.has_errors() {
        return Err(Failure::Data(std::mem::take(findings)));
    }
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

pub(super) fn reckon<'a>(
    common: &Common,
    farm: &'a Farm,
    reckoning: &Reckoning,
) -> Result<Reckoned<'a>, Failure> {
    during(common, "Reckoning the walk", || job::reckon(farm, settings(reckoning)))
        .map_err(|refusal| refused(farm, refusal))
}

/// A farm in draws, for what is reckoned from them rather than from the ranking.
pub(super) fn prepare<'a>(farm: &'a Farm, reckoning: &Reckoning) -> Result<Prepared<'a>, Failure> {
    reckon::prepare(&farm.library, &farm.walk, settings(reckoning)).map_err(|refusal| refused(farm, refusal))
}

/// Writes a page to `out`, or to `beside`, and says where.
pub(super) fn write_page(
    common: &Common,
    beside: PathBuf,
    out: Option<&Path>,
    page: impl AsRef<[u8]>,
    inputs: &[PathBuf],
) -> Result<(), Failure> {
    let path = out.map_or(beside, Path::to_path_buf);
    write(Some(&path), page.as_ref(), inputs)?;
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
    paid: &Paid,
    format: TextFormat,
    reckoning: &Reckoning,
    output: &Output,
) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let mut farm = read_paid_farm(common, walk, paid, &mut findings)?;
    if format != TextFormat::Json {
        translate(common, &mut farm.library, &mut findings)?;
    }
    let reckoned = reckon(common, &farm, reckoning)?;
    let named: Vec<&Path> = std::iter::once(walk).chain(paid.paid.as_deref()).collect();
    let (out, inputs) = (output.out.as_deref(), inputs(&named, common.checklists.as_deref())?);
    match format {
        TextFormat::Json => write(out, job::json(&reckoned.facts())?.as_bytes(), &inputs)?,
        TextFormat::Text => {
            let text = terminal::score(&farm.library.words, &reckoned.page(), WIDTH);
            write_inked(out, &text, &inputs)?;
        }
    }
    Ok(findings)
}

/// Columns of the terminal's text: as many as a terminal has when nobody changed it, and as a page
/// takes when printed.
pub(super) const WIDTH: usize = 80;

/// The words of the language asked for, where that is another than English and is there.
pub(super) fn words(common: &Common) -> Option<Arc<Words>> {
    if common.lang == input::ENGLISH {
        return None;
    }
    input::words(&file_set(common.checklists.as_deref()).ok()?, &common.lang, &mut Findings::new())
}

/// Puts a library into the language asked for, or says which there are. For every format but JSON, which
/// holds no words to translate.
pub(super) fn translate(
    common: &Common,
    library: &mut Library,
    findings: &mut Findings,
) -> Result<(), Failure> {
    let language = common.lang.as_str();
    let files = file_set(common.checklists.as_deref())?;
    let known = input::languages(&files);
    if !known.contains(&language) {
        let hint = input::hint(language, &known);
        return Err(Failure::Usage(format!("there is no language `{language}`; {hint}")));
    }
    input::translate(library, &files, language, findings);
    if findings.has_errors() { Err(Failure::Data(std::mem::take(findings))) } else { Ok(()) }
}

fn check(common: &Common, paths: &[PathBuf]) -> Result<Findings, Failure> {
    let files = file_set(common.checklists.as_deref())?;
    let (tables, texts): (Vec<&PathBuf>, Vec<&PathBuf>) = paths.iter().partition(|path| is_table(path));
    let sources = texts.iter().map(|path| read_text(path)).collect::<Result<Vec<_>, _>>()?;
    let mut findings = Findings::new();
    if paths.is_empty() || !sources.is_empty() {
        input::check_files(&sources, &files, &mut findings);
    }
    let mut beside: Vec<PathBuf> = Vec::new();
    for source in &sources {
        let read = read_beside(source, &mut findings)?;
        beside.extend(paths_beside(source));
        // What is wrong with the walk itself was told above.
        if let Some(mut farm) = job::read_farm(source, &files, &mut Findings::new()) {
            job::take_in(&mut farm, source, read.tables, &mut findings);
        }
    }
    for path in tables.into_iter().filter(|path| !beside.contains(path)) {
        let bytes = read_bytes(path)?;
        input::check_table(&path.display().to_string(), &bytes, Some(today()), &mut findings);
    }
    if findings.has_errors() {
        return Err(Failure::Data(findings));
    }
    let checked = match (paths, &common.checklists) {
        ([], None) => "What is shipped".to_owned(),
        ([], Some(folder)) => folder.display().to_string(),
        _ => checked(paths),
    };
    write(None, format!("{}: no errors.\n", harmless(&checked)).as_bytes(), &[])?;
    Ok(findings)
}

/// Whether a file is a table of cases or scores, by its name.
fn is_table(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    ending.is_some_and(|ending| ["csv", "tsv", "txt", "xlsx", "xls", "ods"].contains(&ending.as_str()))
}

fn checked(paths: &[PathBuf]) -> String {
    match paths {
        [one] => one.display().to_string(),
        many => format!("{} files", many.len()),
    }
}
