//! An adviser's own checklist: the schemas for an editor, and a folder to start from.

use super::Failure;
use super::args::Common;
use super::commands::tell_written;
use super::files::{file_set, inputs, write, write_new};
use crate::finding::Findings;
use crate::input;
use std::path::Path;

/// Prints the JSON Schema of a kind of file, with what the user's own folder holds.
pub(super) fn schema(common: &Common, name: &str, out: Option<&Path>) -> Result<Findings, Failure> {
    let files = file_set(common.checklists.as_deref())?;
    let Some(text) = input::schema(name, &files) else {
        return Err(Failure::Refused("no checklist of the folder can be used; `check` says why".to_owned()));
    };
    write(out, text.as_bytes(), &inputs(&[], common.checklists.as_deref())?)?;
    Ok(Findings::new())
}

/// Writes the starter folder, all of it or nothing where a file is there already.
pub(super) fn new(common: &Common, folder: &Path, id: &str, from: Option<&str>) -> Result<Findings, Failure> {
    let shipped = input::FileSet::builtin();
    let known = shipped.checklist_ids();
    let is_id = !id.is_empty() && id.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c));
    if !is_id || ["factors", "interventions"].contains(&id) {
        return Err(Failure::Usage(format!("`{id}` can't be the id of a checklist, such as yard-walk")));
    }
    let Some(files) = input::starter(id, from) else {
        let from = from.unwrap_or_default();
        let hint = input::hint(from, &known);
        return Err(Failure::Usage(format!("there is no shipped checklist `{from}`; {hint}")));
    };
    if let Some((path, _)) = files.iter().find(|(path, _)| folder.join(path).exists()) {
        let there = folder.join(path);
        return Err(Failure::File(format!("{}: is there already; nothing was written", there.display())));
    }
    for (path, text) in &files {
        let path = folder.join(path);
        write_new(&path, text.as_bytes())?;
        tell_written(common, &path);
    }
    let shown = folder.display();
    let next = format!(
        "Next: change {shown}/{id}.yaml, then look for faults and see the sheet:\n  underfoot check --checklists \
{shown}\n  underfoot sheet {id} --checklists {shown}\n"
    );
    write(None, next.as_bytes(), &[])?;
    Ok(Findings::new())
}
