//! The starter folder of an adviser's own checklist: the checklist, and the shipped factors, options and
//! effects to add to, each with its schema beside it for an editor.

use super::library::{EFFECTS, FACTORS, FileSet, INTERVENTIONS};
use super::schema::schema;

const CHECKLIST: &str = include_str!("../../templates/starter/checklist.yaml");
const FACTOR: &str = include_str!("../../templates/starter/factor.yaml");
const INTERVENTION: &str = include_str!("../../templates/starter/intervention.yaml");

/// Path and text of every file of a starter folder. `id` is the new checklist's; `from` names a shipped one to
/// copy, else a short one with an example of each kind of answer is written. `None` where there is no
/// such shipped checklist.
pub fn starter(id: &str, from: Option<&str>) -> Option<Vec<(String, String)>> {
    let files = FileSet::builtin();
    let shipped = |path: &str| files.get(path).map(|source| source.text());
    let checklist = match from {
        None => CHECKLIST.replace("ID", id),
        Some(from) => {
            copied(shipped(&format!("{from}.yaml")).filter(|_| files.checklist_ids().contains(&from))?, id)
        }
    };
    let texts = [
        (format!("{id}.yaml"), "checklist", checklist),
        (FACTORS.to_owned(), "factors", format!("{}{FACTOR}", shipped(FACTORS)?)),
        (INTERVENTIONS.to_owned(), "interventions", format!("{}{INTERVENTION}", shipped(INTERVENTIONS)?)),
        (EFFECTS.to_owned(), "effects", shipped(EFFECTS)?.to_owned()),
    ];
    let mut written = Vec::new();
    for (path, name, text) in texts {
        let up = "../".repeat(path.matches('/').count());
        let hook = format!("# yaml-language-server: $schema={up}schema/{name}.schema.json\n");
        written.push((format!("schema/{name}.schema.json"), schema(name, &files)?));
        written.push((path, hook + &text));
    }
    Some(written)
}

/// A shipped checklist under another id, its version begun anew.
fn copied(text: &str, id: &str) -> String {
    let line = |line: &str| match line.split_once(": ") {
        Some(("checklist", _)) => format!("checklist: {id}"),
        Some(("version", _)) => "version: \"1\"".to_owned(),
        _ => line.to_owned(),
    };
    text.lines().map(|it| line(it) + "\n").collect()
}
