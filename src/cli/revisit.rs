//! `revisit`: what changed between walks of one farm, and whether it worked.

use super::Failure;
use super::actions;
use super::args::{AnyFormat, Common, RevisitArgs};
use super::commands::{WIDTH, prepare, read_farm, translate, write_page};
use super::files::{beside, inputs, write_as};
use crate::finding::{Findings, SourceText};
use crate::job::{self, Farm};
use crate::model::actions::Actions;
use crate::reckon::Prepared;
use crate::reckon::revisit::{Visit, revisit as reckon_revisit};
use crate::report::revisit_facts::revisit_facts;
use crate::report::revisit_page::revisit_page;
use crate::report::revisit_words::{not_one_list, refusal};
use crate::show::{html, markdown, text_page};
use std::collections::BTreeMap;
use std::path::Path;

/// Prints the comparison of the last walk with the one before it.
pub(super) fn revisit(common: &Common, args: &RevisitArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let mut farms = Vec::new();
    for walk in &args.walks {
        let mut farm = read_farm(common, walk, &mut findings)?;
        if args.format != AnyFormat::Json {
            translate(common, &mut farm.library, &mut findings)?;
        }
        farms.push(farm);
    }
    let (actions, sources) = agreed(args, &farms, &mut findings)?;
    let prepared = farms.iter().map(|farm| prepare(farm, &args.reckoning)).collect::<Result<Vec<_>, _>>()?;
    let visits: Vec<Visit> = prepared.iter().zip(&farms).map(visit).collect();
    let compared = reckon_revisit(&visits, actions.as_ref()).map_err(|refused| {
        let (message, help) = refusal(&refused);
        Failure::Refused(format!("{message}\n{help}"))
    })?;
    let nothing = || Failure::Refused("there is nothing to compare".to_owned());
    let words = &farms.first().ok_or_else(nothing)?.library.words;
    let filled = || -> Result<_, Failure> {
        let report = revisit_page(&visits, &compared, actions.as_ref()).ok_or_else(nothing)?;
        Ok((markdown::fill(words, "revisit.md", &report.page)?, report.figures))
    };
    let text = match args.format {
        AnyFormat::Json => {
            let read = read_files(args, &farms, &sources);
            job::json(&revisit_facts(&visits, &compared, actions.as_ref(), read).ok_or_else(nothing)?)?
        }
        AnyFormat::Text => text_page::text_page(&filled()?.0, WIDTH),
        AnyFormat::Md => markdown::plain(&filled()?.0),
        AnyFormat::Html => {
            let (filled, figures) = filled()?;
            html::page(&words.word("revisit.page-title"), "adviser", words, &filled, &figures)
        }
    };
    let named: Vec<&Path> = args.walks.iter().chain(&args.actions).map(|path| path.as_path()).collect();
    let read = inputs(&named, common.checklists.as_deref())?;
    match (args.format, args.walks.last()) {
        (AnyFormat::Html, Some(last)) => {
            write_page(common, beside(last, "revisit"), args.output.out.as_deref(), &text, &read)?;
        }
        (format, _) => write_as(format, args.output.out.as_deref(), &text, &read)?,
    }
    Ok(findings)
}

fn visit<'a>((prepared, farm): (&'a Prepared<'a>, &'a Farm)) -> Visit<'a> {
    let cases = farm.case_days.as_ref();
    Visit {
        prepared,
        case_days: cases.map(|cases| cases.starts.as_slice()),
        days_to_treatment: cases.and_then(|cases| cases.median_days_to_treatment),
    }
}

/// All agreed actions, each file judged against the walk after which it was agreed, where that is given.
fn agreed(
    args: &RevisitArgs,
    farms: &[Farm],
    findings: &mut Findings,
) -> Result<(Option<Actions>, Vec<SourceText>), Failure> {
    let Some(first) = farms.first() else { return Ok((None, Vec::new())) };
    let (mut all, mut sources) = (Vec::new(), Vec::new());
    for path in &args.actions {
        let (as_written, source) = actions::read(path, &first.library, None, findings)?;
        let agreed_after = farms.iter().find(|farm| farm.walk.date == as_written.walk_date);
        if let Some(farm) = agreed_after.filter(|farm| as_written.is_of(&farm.walk.farm_name)) {
            actions::read(path, &farm.library, Some(&farm.walk), findings)?;
        }
        all.push(as_written);
        sources.push(source);
    }
    let all = Actions::together(all).map_err(|reason| Failure::Refused(not_one_list(&reason)))?;
    Ok((all, sources))
}

/// SHA-256 of every file that was read. Files of one base name in two folders are told apart by path.
fn read_files(args: &RevisitArgs, farms: &[Farm], actions: &[SourceText]) -> BTreeMap<String, String> {
    let mut read: BTreeMap<String, String> = BTreeMap::new();
    let mut note = |path: &Path, name: &str, hash: &str| {
        let taken = read.get(name).is_some_and(|other| other != hash);
        let name = if taken { format!("{} ({name})", path.display()) } else { name.to_owned() };
        read.insert(name, hash.to_owned());
    };
    for (path, farm) in args.walks.iter().zip(farms) {
        farm.inputs.iter().for_each(|(name, hash)| note(path, name, hash));
    }
    for (path, source) in args.actions.iter().zip(actions) {
        note(path, job::base_name(source.name()), &job::sha256(source.text().as_bytes()));
    }
    read
}
