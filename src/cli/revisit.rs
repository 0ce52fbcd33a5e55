//! `revisit`: what changed between walks of one farm, and whether it worked.

use super::Failure;
use super::args::{Common, PageFormat, RevisitArgs};
use super::commands::{prepare, read_farm};
use super::files::{inputs, read_text, walk_inputs, write};
use crate::finding::Findings;
use crate::input::read_actions;
use crate::job::{self, Farm};
use crate::model::actions::Actions;
use crate::reckon::revisit::real_costs::priced_by_experience;
use crate::reckon::revisit::{Visit, revisit as reckon_revisit};
use crate::report::revisit_facts::revisit_facts;
use crate::report::revisit_page::revisit_page;
use crate::report::revisit_words::refusal;
use crate::show::{html, markdown};
use std::collections::BTreeMap;
use std::path::Path;

/// Prints the comparison of the first walk with the last.
pub(super) fn revisit(common: &Common, args: &RevisitArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let mut farms = Vec::new();
    for walk in &args.walks {
        farms.push(read_farm(common, walk, &mut findings)?);
    }
    let actions = agreed(args, &farms, &mut findings)?;
    if let (Some(actions), Some(last)) = (&actions, farms.last_mut()) {
        last.walk = priced_by_experience(&last.library, &last.walk, actions);
    }
    let prepared = farms.iter().map(|farm| prepare(farm, &args.reckoning)).collect::<Result<Vec<_>, _>>()?;
    let visits: Vec<Visit> = prepared.iter().map(Visit::new).collect();
    let compared = reckon_revisit(&visits, actions.as_ref()).map_err(|refused| {
        let (message, help) = refusal(&refused);
        Failure::Refused(format!("{message}\n{help}"))
    })?;
    let nothing = || Failure::Refused("there is nothing to compare".to_owned());
    let text = match args.format {
        PageFormat::Json => {
            let read = read_files(args, &farms)?;
            let facts = revisit_facts(&visits, &compared, actions.as_ref(), read).ok_or_else(nothing)?;
            job::json(&facts)?
        }
        format => {
            let report = revisit_page(&visits, &compared, actions.as_ref()).ok_or_else(nothing)?;
            let filled = markdown::fill("revisit.md", &report.page)?;
            match format {
                PageFormat::Html => html::page("Did it work?", "adviser", "en", &filled, &report.figures),
                _ => markdown::plain(&filled),
            }
        }
    };
    let named: Vec<&Path> = args.actions.iter().map(|path| path.as_path()).collect();
    let mut read = inputs(&named, common.checklists.as_deref())?;
    for (path, farm) in args.walks.iter().zip(&farms) {
        read.extend(walk_inputs(path, &farm.walk, None)?);
    }
    write(args.output.out.as_deref(), text.as_bytes(), &read)?;
    Ok(findings)
}

/// The agreed actions, judged against the first walk, where they were agreed.
fn agreed(args: &RevisitArgs, farms: &[Farm], findings: &mut Findings) -> Result<Option<Actions>, Failure> {
    let (Some(path), Some(first)) = (&args.actions, farms.first()) else { return Ok(None) };
    let source = read_text(path)?;
    let read = read_actions(&source, &first.library.interventions, Some(&first.walk), findings);
    match read {
        Some(actions) if !findings.has_errors() => Ok(Some(actions)),
        _ => Err(Failure::Data(std::mem::take(findings))),
    }
}

/// SHA-256 of every file that was read. Walks of one base name in two folders are told apart by path.
fn read_files(args: &RevisitArgs, farms: &[Farm]) -> Result<BTreeMap<String, String>, Failure> {
    let mut read: BTreeMap<String, String> = BTreeMap::new();
    for (path, farm) in args.walks.iter().zip(farms) {
        for (name, hash) in &farm.inputs {
            let taken = read.get(name).is_some_and(|other| other != hash);
            let name = if taken { format!("{} ({name})", path.display()) } else { name.clone() };
            read.insert(name, hash.clone());
        }
    }
    if let Some(path) = &args.actions {
        let source = read_text(path)?;
        let name = job::base_name(source.name()).to_owned();
        read.insert(name, job::sha256(source.text().as_bytes()));
    }
    Ok(read)
}
