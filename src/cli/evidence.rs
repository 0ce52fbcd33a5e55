//! `evidence`: where every weight comes from.

use super::Failure;
use super::args::{Common, EvidenceArgs, TextFormat};
use super::commands::{WIDTH, translate};
use super::files::{file_set, inputs, write, write_inked};
use crate::finding::Findings;
use crate::input::{self, FileSet};
use crate::job;
use crate::model::factor::Factor;
use crate::model::{Library, System};
use crate::reckon::weights::weights;
use crate::report::evidence::{factor_evidence, overview, render_overview, render_text};
use crate::show::caret::harmless_lines;

/// Prints the overview, or one factor step by step.
pub(super) fn evidence(common: &Common, args: &EvidenceArgs) -> Result<Findings, Failure> {
    let files = file_set(common.checklists.as_deref())?;
    let system = args.system.map(System::from);
    let (mut library, system) = match &args.factor {
        None => {
            let system = system.unwrap_or(System::Pasture);
            (library(&files, system)?, system)
        }
        Some(id) => library_with(&files, id, system)?,
    };
    let mut findings = Findings::new();
    if args.format != TextFormat::Json {
        translate(common, &mut library, &mut findings)?;
    }
    let weights = weights(&library, system);
    let (out, read) = (args.output.out.as_deref(), inputs(&[], common.checklists.as_deref())?);
    match &args.factor {
        None => {
            let overview = overview(&library, &weights, system);
            match args.format {
                TextFormat::Json => write(out, job::json(&overview)?.as_bytes(), &read)?,
                TextFormat::Text => write_inked(
                    out,
                    &harmless_lines(&render_overview(&library.words, &overview, WIDTH)?),
                    &read,
                )?,
            }
        }
        Some(id) => {
            let weight = weights.iter().find(|weight| library.factors[weight.factor].id == *id);
            let weight = weight.ok_or_else(|| not_looked_at(id, system))?;
            let evidence = factor_evidence(&library, weight, system);
            match args.format {
                TextFormat::Json => write(out, job::json(&evidence)?.as_bytes(), &read)?,
                TextFormat::Text => {
                    write_inked(out, &harmless_lines(&render_text(&library.words, &evidence, WIDTH)?), &read)?
                }
            }
        }
    }
    Ok(findings)
}

fn not_looked_at(id: &str, system: System) -> Failure {
    Failure::Usage(format!(
        "the factor `{id}` isn't looked at in {} herds: try the other --system",
        system.id()
    ))
}

/// The library of the first checklist of a system that can be used.
pub(super) fn library(files: &FileSet, system: System) -> Result<Library, Failure> {
    let listed = input::checklists(files);
    let of_system = |of: &Option<(String, System)>| of.as_ref().is_some_and(|(_, of)| *of == system);
    let Some(checklist) = listed.iter().find(|listed| of_system(&listed.available)) else {
        return Err(Failure::Refused(format!("no checklist for {} herds can be used", system.id())));
    };
    let mut findings = Findings::new();
    input::read_library(files, &checklist.id, &mut findings).ok_or(Failure::Data(findings))
}

/// The library that holds a factor, and the system to show it in: the one asked for, else pasture
/// where the factor is looked at there.
fn library_with(files: &FileSet, id: &str, system: Option<System>) -> Result<(Library, System), Failure> {
    let mut known: Vec<String> = Vec::new();
    for candidate in system.map_or(System::ALL.to_vec(), |system| vec![system]) {
        let library = library(files, candidate)?;
        match library.factor(id).map(|factor| factor.in_system(candidate)) {
            Some(true) => return Ok((library, candidate)),
            Some(false) if system.is_some() => return Err(not_looked_at(id, candidate)),
            _ => known.extend(library.factors.iter().map(|factor: &Factor| factor.id.clone())),
        }
    }
    known.sort();
    known.dedup();
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    Err(Failure::Usage(format!("there is no factor `{id}`; {}", input::hint(id, &known))))
}
