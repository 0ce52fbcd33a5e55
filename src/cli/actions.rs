//! Agreed actions: the blank file, the list of what is overdue, and what was really paid.

use super::Failure;
use super::args::{Blank, Common, OverdueArgs, Paid, PaperFormat};
use super::commands::{WIDTH, read_farm, tell_written, today, translate, write_page};
use super::files::{beside, file_set, inputs, read_text, write, write_inked, write_new};
use crate::finding::{Findings, SourceText};
use crate::input::read_actions;
use crate::job::{self, Farm};
use crate::model::actions::Actions;
use crate::model::walk::Walk;
use crate::model::{Library, System};
use crate::reckon::Prepared;
use crate::reckon::plan::FarmPlan;
use crate::reckon::revisit::real_costs::priced_by_experience;
use crate::report::actions_file::actions_yaml;
use crate::report::revisit_page::overdue_page;
use crate::report::revisit_words::{actions_of_other_farm, two_currencies};
use crate::show::{html, markdown, text_page};
use std::path::Path;

/// Reads agreed actions, with the text they were read from.
pub(super) fn read(
    path: &Path,
    library: &Library,
    walk: Option<&Walk>,
    findings: &mut Findings,
) -> Result<(Actions, SourceText), Failure> {
    let source = read_text(path)?;
    match read_actions(&source, &library.interventions, walk, findings) {
        Some(actions) if !findings.has_errors() => Ok((actions, source)),
        _ => Err(Failure::Data(std::mem::take(findings))),
    }
}

/// A farm whose prices are what the actions that were done really cost, where there are such.
pub(super) fn read_paid_farm(
    common: &Common,
    walk: &Path,
    paid: &Paid,
    findings: &mut Findings,
) -> Result<Farm, Failure> {
    let mut farm = read_farm(common, walk, findings)?;
    let Some(path) = &paid.paid else { return Ok(farm) };
    // The tracks may have got other names since the actions were agreed.
    let (actions, source) = read(path, &farm.library, None, findings)?;
    if !actions.is_of(&farm.walk.farm_name) {
        let (message, help) = actions_of_other_farm(&actions.farm, &farm.walk.farm_name);
        return Err(Failure::Refused(format!("{message}\n{help}")));
    }
    if let (Some(paid), Some(own)) = (&actions.currency, &farm.walk.currency)
        && paid != own
    {
        return Err(Failure::Refused(two_currencies("the actions and the walk", paid, own)));
    }
    farm.walk = priced_by_experience(&farm.library, &farm.walk, &actions);
    farm.inputs.insert(job::base_name(source.name()).to_owned(), job::sha256(source.text().as_bytes()));
    Ok(farm)
}

/// Writes the blank file of a plan's actions, where one was asked for.
pub(super) fn write_blank(
    common: &Common,
    blank: &Blank,
    out: Option<&Path>,
    prepared: &Prepared,
    plan: &FarmPlan,
) -> Result<(), Failure> {
    let Some(path) = &blank.write_actions else { return Ok(()) };
    if out == Some(path) {
        return Err(Failure::Usage(format!("{}: one file can't hold both results", path.display())));
    }
    let chosen: Vec<usize> = plan.order.iter().map(|added| added.option).collect();
    write_new(path, actions_yaml(prepared, &chosen).as_bytes())?;
    tell_written(common, path);
    Ok(())
}

/// Prints what is overdue, and what is still to come.
pub(super) fn overdue(common: &Common, args: &OverdueArgs) -> Result<Findings, Failure> {
    let mut findings = Findings::new();
    let farm = args.walk.as_ref().map(|walk| read_farm(common, walk, &mut findings)).transpose()?;
    let files = file_set(common.checklists.as_deref())?;
    let mut library = match &farm {
        Some(farm) => farm.library.clone(),
        None => super::evidence::library(&files, System::Pasture)?,
    };
    translate(common, &mut library, &mut findings)?;
    let walk = farm.as_ref().map(|farm| &farm.walk);
    let (actions, _) = read(&args.actions, &library, walk, &mut findings)?;
    let segments = walk.map_or(&[][..], |walk| &walk.segments);
    let (words, day) = (&library.words, args.on.unwrap_or_else(today));
    let page = overdue_page(words, &library.interventions, segments, &actions, day);
    let filled = markdown::fill(words, "overdue.md", &page)?;
    let named: Vec<&Path> = std::iter::once(args.actions.as_path()).chain(args.walk.as_deref()).collect();
    let read = inputs(&named, common.checklists.as_deref())?;
    let out = args.output.out.as_deref();
    match args.format {
        PaperFormat::Text => write_inked(out, &text_page::text_page(&filled, WIDTH), &read)?,
        PaperFormat::Md => write(out, markdown::plain(&filled).as_bytes(), &read)?,
        PaperFormat::Html => {
            let title = words.say("overdue.page-title", &[("farm", &page.farm)]);
            let text = html::page(&title, "farmer", words, &filled, &Default::default());
            write_page(common, beside(&args.actions, "overdue"), out, &text, &read)?;
        }
    }
    Ok(findings)
}
