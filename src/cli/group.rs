//! `card` and `group`: a farm's anonymous card, and a group's page.

use super::Failure;
use super::args::{AnyFormat, CardArgs, Common, GroupArgs};
use super::commands::{WIDTH, bad_draws, read_farm, reckon, translate, write_page};
use super::files::{file_set, inputs, read_text, write, write_as};
use super::progress::Progress;
use crate::finding::Findings;
use crate::input::CardPile;
use crate::job;
use crate::model::card::new_code;
use crate::reckon::Settings;
use crate::reckon::group::{GroupOptions, GroupRefusal, group as reckon_group, make_card};
use crate::report::card_text::card_yaml;
use crate::report::group_facts::group_facts;
use crate::report::group_page::group_page;
use crate::show::{html, markdown, text_page};
use std::path::{Path, PathBuf};

/// The code kept in this file links a farm's years.
const CODE_FILE: &str = "farm-code.txt";

/// Prints the farm's card.
pub(super) fn card(common: &Common, args: &CardArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let mut farm = read_farm(common, &args.walk, &mut findings)?;
    translate(common, &mut farm.library, &mut findings)?;
    let reckoned = reckon(common, &farm, &args.reckoning)?;
    let code = farm_code(&args.walk)?;
    let card = make_card(&farm.library, &farm.walk, &reckoned.outcome, &code);
    let read = inputs(&[&args.walk], common.checklists.as_deref())?;
    write(args.output.out.as_deref(), card_yaml(&farm.library.words, &card).as_bytes(), &read)?;
    Ok(findings)
}

/// The code kept beside the walk, made at random the first time.
fn farm_code(walk: &Path) -> Result<String, Failure> {
    let path = walk.with_file_name(CODE_FILE);
    if path.exists() {
        let kept = read_text(&path)?;
        return Ok(kept.text().trim().to_owned());
    }
    let mut random = [0u8; 32];
    getrandom::fill(&mut random).map_err(|error| Failure::File(format!("no random numbers: {error}")))?;
    let code = new_code(&random).ok_or_else(|| Failure::Program("no code from 32 bytes".to_owned()))?;
    write(Some(&path), format!("{code}\n").as_bytes(), &[])?;
    Ok(code)
}

/// Prints the group's page, or with a code the farm's own.
pub(super) fn group(common: &Common, args: &GroupArgs) -> Result<Findings, Failure> {
    let paths = card_paths(&args.cards)?;
    let mut pile = CardPile::new();
    let progress = Progress::new(common);
    progress.now("Reading cards", Some(paths.len()));
    for path in &paths {
        progress.step();
        match read_text(path) {
            Ok(source) => pile.read(&source),
            Err(Failure::Data(findings)) => {
                findings.sorted().into_iter().for_each(|fault| pile.note(fault.clone()))
            }
            Err(other) => return Err(other),
        }
    }
    let mut findings = Findings::new();
    let files = file_set(common.checklists.as_deref())?;
    let read = pile.finish(&files, &mut findings);
    let Some((mut library, cards)) = read else { return Err(Failure::Data(findings)) };
    if args.format != AnyFormat::Json {
        translate(common, &mut library, &mut findings)?;
    }
    let settings = Settings { draws: args.draws, seed: args.seed, ..Settings::default() };
    let options = GroupOptions { mine: args.mine.clone(), settings };
    progress.now("Comparing the farms", None);
    let outcome = reckon_group(&cards, &library, &options).map_err(refuse)?;
    let filled = || -> Result<_, Failure> {
        let report = group_page(&library, &outcome, args.draws);
        Ok((markdown::fill(&library.words, "group.md", &report.page)?, report.figures))
    };
    let text = match args.format {
        AnyFormat::Json => job::json(&group_facts(&library, &outcome, &options))?,
        AnyFormat::Text => text_page::text_page(&filled()?.0, WIDTH),
        AnyFormat::Md => markdown::plain(&filled()?.0),
        AnyFormat::Html => {
            let (filled, figures) = filled()?;
            let words = &library.words;
            html::page(&words.word("group.page-title"), "adviser", words, &filled, &figures)
        }
    };
    drop(progress);
    let named: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
    let (out, read) = (args.output.out.as_deref(), inputs(&named, common.checklists.as_deref())?);
    match args.format {
        AnyFormat::Html => write_page(common, here(args.mine.as_deref()), out, &text, &read)?,
        format => write_as(format, out, &text, &read)?,
    }
    Ok(findings)
}

/// Where a page goes: the working folder, since a group's cards come from many.
fn here(mine: Option<&str>) -> PathBuf {
    // A code that names a card's file holds nothing but letters, digits and a dash.
    PathBuf::from(mine.map_or("group.html".to_owned(), |code| format!("group-{code}.html")))
}

fn refuse(refusal: GroupRefusal) -> Failure {
    match refusal {
        GroupRefusal::NoCards => Failure::Refused("there are no cards".to_owned()),
        GroupRefusal::Draws(draws) => bad_draws(draws),
        GroupRefusal::UnknownCode { code, year } => {
            Failure::Usage(format!("no card of {year} has the code `{code}`"))
        }
    }
}

/// Files as they are named, and the YAML files of folders, in order.
fn card_paths(named: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut paths = Vec::new();
    for path in named {
        if !path.is_dir() {
            paths.push(path.clone());
            continue;
        }
        let entries = std::fs::read_dir(path)
            .map_err(|error| Failure::File(format!("{}: can't be read: {error}", path.display())))?;
        let mut inside: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
        inside.retain(|path| path.extension().is_some_and(|end| end == "yaml"));
        inside.sort();
        paths.extend(inside);
    }
    Ok(paths)
}
