//! `sheet`: the blank walk sheet.

use super::Failure;
use super::args::{Common, SheetArgs, SheetFormat};
use super::commands::{tell_written, translate};
use super::files::{file_set, inputs, write};
use crate::finding::Findings;
use crate::input;
use crate::show::sheet;
use std::path::PathBuf;

/// Writes the sheet of a checklist; HTML into the working folder, the rest to standard output.
pub(super) fn sheet(common: &Common, args: &SheetArgs) -> Result<Findings, Failure> {
    let files = file_set(common.checklists.as_deref())?;
    let known = files.checklist_ids();
    if !known.contains(&args.checklist.as_str()) {
        let hint = input::hint(&args.checklist, &known);
        return Err(Failure::Usage(format!("there is no checklist `{}`; {hint}", args.checklist)));
    }
    let mut findings = Findings::new();
    let Some(mut library) = input::read_library(&files, &args.checklist, &mut findings) else {
        return Err(Failure::Data(findings));
    };
    translate(common, &mut library, &mut findings)?;
    let text = match args.format {
        SheetFormat::Html => {
            let own = files.own().map(|(path, source)| (path.to_owned(), source.text().to_owned()));
            sheet::html(&library, &own.collect(), sheet::MODULE)?
        }
        SheetFormat::Md => sheet::markdown(&library)?,
        SheetFormat::Yaml => sheet::yaml(&library),
    };
    let beside = || {
        (args.format == SheetFormat::Html).then(|| PathBuf::from(format!("{}-sheet.html", args.checklist)))
    };
    let out = args.output.out.clone().or_else(beside);
    write(out.as_deref(), text.as_bytes(), &inputs(&[], common.checklists.as_deref())?)?;
    if let Some(path) = out {
        tell_written(common, &path);
    }
    Ok(findings)
}
