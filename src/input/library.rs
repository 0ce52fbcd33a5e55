//! The set of checklist and evidence files, shipped or the user's own, and the library read from it.

use super::actions::read_actions;
use super::burden::read_burden;
use super::card::read_card;
use super::checklist::read_checklist;
use super::evidence::{read_effects, read_sources};
use super::factors::read_factors;
use super::field::{Listed, Mention, Refers};
use super::interventions::read_interventions;
use super::walk::read_walk;
use super::{suggest, yaml};
use crate::finding::{Findings, Place, SourceText};
use crate::model::checklist::Checklist;
use crate::model::evidence::{Burden, Effect, Source};
use crate::model::factor::Factor;
use crate::model::intervention::Intervention;
use crate::model::walk::Walk;
use crate::model::{Library, System};
use std::collections::{BTreeMap, BTreeSet};

const SOURCES: &str = "evidence/sources.yaml";
const EFFECTS: &str = "evidence/effects.yaml";
const BURDEN: &str = "evidence/burden.yaml";
const FACTORS: &str = "factors.yaml";
const INTERVENTIONS: &str = "interventions.yaml";

/// The files built into the program, by path.
const SHIPPED: &[(&str, &str)] = &[
    (SOURCES, include_str!("../../checklists/evidence/sources.yaml")),
    (EFFECTS, include_str!("../../checklists/evidence/effects.yaml")),
    (BURDEN, include_str!("../../checklists/evidence/burden.yaml")),
    (FACTORS, include_str!("../../checklists/factors.yaml")),
    (INTERVENTIONS, include_str!("../../checklists/interventions.yaml")),
    ("pasture-herd.yaml", include_str!("../../checklists/pasture-herd.yaml")),
    ("housed-herd.yaml", include_str!("../../checklists/housed-herd.yaml")),
    ("self-check.yaml", include_str!("../../checklists/self-check.yaml")),
];

/// Named texts by their path in a folder of checklists, such as `evidence/effects.yaml`. The default
/// is the empty set.
#[derive(Clone, Debug, Default)]
pub struct FileSet {
    shipped: BTreeMap<String, SourceText>,
    own: BTreeMap<String, SourceText>,
}

impl FileSet {
    /// The files built into the program.
    pub fn builtin() -> FileSet {
        let named = |(path, text): &(&str, &str)| {
            ((*path).to_owned(), SourceText::new(format!("checklists/{path}"), *text))
        };
        FileSet { shipped: SHIPPED.iter().map(named).collect(), own: BTreeMap::new() }
    }

    /// Puts a user's file in place of the shipped one of the same path (`/` between folders).
    pub fn overlay(&mut self, path: &str, source: SourceText) {
        self.own.insert(path.to_owned(), source);
    }

    /// The file of a path. With the user's own factors, the shipped options and effects are left
    /// out: they speak of other factors.
    pub fn get(&self, path: &str) -> Option<&SourceText> {
        let other_factors = self.own.contains_key(FACTORS) && matches!(path, EFFECTS | INTERVENTIONS);
        self.own.get(path).or_else(|| self.shipped.get(path).filter(|_| !other_factors))
    }

    /// The user's own files, by path.
    pub fn own(&self) -> impl Iterator<Item = (&str, &SourceText)> {
        self.own.iter().map(|(path, source)| (path.as_str(), source))
    }

    /// Whether a file of this name (that of its text) is the user's own.
    fn is_own(&self, name: &str) -> bool {
        self.own.values().any(|source| source.name() == name)
    }

    /// Ids of the checklists, from the names of the files.
    pub fn checklist_ids(&self) -> Vec<&str> {
        let paths: BTreeSet<&String> = self.shipped.keys().chain(self.own.keys()).collect();
        let others = [FACTORS, INTERVENTIONS];
        paths
            .into_iter()
            .filter(|path| !path.contains('/') && !others.contains(&path.as_str()))
            .filter_map(|path| path.strip_suffix(".yaml"))
            .collect()
    }
}

/// A checklist in a set of files.
#[derive(Clone, Debug, PartialEq)]
pub struct ListedChecklist {
    /// Id.
    pub id: String,
    /// Title and system; `None` where the checklist has faults or speaks of factors that the set
    /// doesn't hold.
    pub available: Option<(String, System)>,
}

/// Every checklist of the set, in alphabetical order, with whether it can be used.
pub fn checklists(files: &FileSet) -> Vec<ListedChecklist> {
    let parts = Parts::read(files, &mut Findings::new());
    let listed = |id: &str| {
        let mut findings = Findings::new();
        let checklist = parts.checklist(files, id, &mut findings);
        let available = checklist.filter(|_| !findings.has_errors()).map(|it| (it.title, it.system));
        ListedChecklist { id: id.to_owned(), available }
    };
    files.checklist_ids().into_iter().map(listed).collect()
}

/// Reads the evidence, factors, options and one checklist. `None`, with the faults pushed, where
/// any of them has an error. Warnings of shipped files are left to [`check_files`].
pub fn read_library(files: &FileSet, checklist_id: &str, findings: &mut Findings) -> Option<Library> {
    read_set(files, checklist_id, findings).ok()
}

/// The library; or, where anything has an error, the checklist alone where that has none, so that a
/// walk can still be judged by it.
pub(super) fn read_set(
    files: &FileSet,
    checklist_id: &str,
    findings: &mut Findings,
) -> Result<Library, Option<Checklist>> {
    let mut own = Findings::new();
    let parts = Parts::read(files, &mut own);
    parts.resolve(&mut own);
    let others = own.errors();
    let checklist = parts.checklist(files, checklist_id, &mut own);
    let sound = checklist.filter(|_| own.errors() == others);
    own.keep_warnings_of(|file| files.is_own(file));
    findings.extend(own);
    if others > 0 {
        return Err(sound);
    }
    sound.and_then(|checklist| parts.library(checklist)).ok_or(None)
}

/// Everything but the checklist.
struct Parts {
    sources: Listed<Source>,
    effects: Listed<Effect>,
    burden: Option<Burden>,
    burden_mentions: Vec<Mention>,
    factors: Listed<Factor>,
    interventions: Listed<Intervention>,
}

impl Parts {
    fn read(files: &FileSet, findings: &mut Findings) -> Parts {
        for path in [SOURCES, BURDEN, FACTORS].into_iter().filter(|path| files.get(path).is_none()) {
            findings.error("missing-file", Place::File(path.to_owned()), "this file is missing", "");
        }
        let (burden, burden_mentions) =
            files.get(BURDEN).map(|it| read_burden(it, findings)).unwrap_or_default();
        Parts {
            sources: files.get(SOURCES).map(|it| read_sources(it, findings)).unwrap_or_default(),
            effects: files.get(EFFECTS).map(|it| read_effects(it, findings)).unwrap_or_default(),
            burden,
            burden_mentions,
            factors: files.get(FACTORS).map(|it| read_factors(it, findings)).unwrap_or_default(),
            interventions: files
                .get(INTERVENTIONS)
                .map(|it| read_interventions(it, findings))
                .unwrap_or_default(),
        }
    }

    /// Every mention outside the checklist.
    fn mentions(&self) -> impl Iterator<Item = &Mention> {
        let listed = [&self.sources.mentions, &self.effects.mentions, &self.factors.mentions];
        listed.into_iter().chain([&self.interventions.mentions, &self.burden_mentions]).flatten()
    }

    fn known(&self, refers: Refers) -> &BTreeMap<String, Place> {
        match refers {
            Refers::Source => &self.sources.ids,
            Refers::Factor => &self.factors.ids,
            Refers::Option => &self.interventions.ids,
        }
    }

    fn resolve(&self, findings: &mut Findings) {
        self.mentions().for_each(|mention| self.look_up(mention, findings));
    }

    fn look_up(&self, mention: &Mention, findings: &mut Findings) {
        let known = self.known(mention.refers);
        // Where a file could not be read at all, its faults are named; each mention of it is not one more.
        if known.contains_key(&mention.id) || known.is_empty() && findings.has_errors() {
            return;
        }
        let (code, thing, file) = match mention.refers {
            Refers::Source => ("unknown-source", "source", SOURCES),
            Refers::Factor => ("unknown-factor", "factor", FACTORS),
            Refers::Option => ("unknown-option", "option", INTERVENTIONS),
        };
        let help = match suggest::nearest(&mention.id, known.keys().map(String::as_str)) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("add it to {file}"),
        };
        findings.error(code, mention.place.clone(), format!("there is no {thing} `{}`", mention.id), help);
    }

    /// Reads a checklist and looks up what it mentions.
    fn checklist(&self, files: &FileSet, id: &str, findings: &mut Findings) -> Option<Checklist> {
        let path = format!("{id}.yaml");
        let Some(source) = files.get(&path).filter(|_| files.checklist_ids().contains(&id)) else {
            let help = suggest::hint(id, &files.checklist_ids());
            findings.error(
                "unknown-checklist",
                Place::File(path),
                format!("there is no checklist `{id}`"),
                help,
            );
            return None;
        };
        let (checklist, mentions) = read_checklist(source, findings);
        mentions.iter().for_each(|mention| self.look_up(mention, findings));
        let checklist = checklist?;
        if checklist.id != id {
            let message = format!("this checklist is called `{}`, but its file {path}", checklist.id);
            findings.error(
                "checklist-name",
                Place::Span(source.clone(), 0..0),
                message,
                "make the two agree",
            );
        }
        for mention in mentions.iter().filter(|mention| mention.refers == Refers::Factor) {
            self.judge_system(mention, checklist.system, findings);
        }
        Some(checklist)
    }

    /// A factor that isn't looked at in the checklist's system has no weight there.
    fn judge_system(&self, mention: &Mention, system: System, findings: &mut Findings) {
        let factor = self.factors.items.iter().find(|factor| factor.id == mention.id);
        if factor.is_some_and(|factor| !factor.in_system(system)) {
            findings.error(
                "factor-system",
                mention.place.clone(),
                format!("the factor `{}` is not looked at in {} herds", mention.id, system.id()),
                format!("add {} to its `systems`, or take the item out", system.id()),
            );
        }
    }

    fn library(self, checklist: Checklist) -> Option<Library> {
        Some(Library {
            sources: self.sources.items,
            effects: self.effects.items,
            burden: self.burden?,
            factors: self.factors.items,
            interventions: self.interventions.items,
            checklist,
        })
    }
}

/// What kind of file a text is, by its top key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FileKind {
    /// A walk record.
    Walk,
    /// A checklist.
    Checklist,
    /// `evidence/sources.yaml`.
    Sources,
    /// `evidence/effects.yaml`.
    Effects,
    /// `evidence/burden.yaml`.
    Burden,
    /// `factors.yaml`.
    Factors,
    /// `interventions.yaml`.
    Interventions,
    /// A farm's anonymous card.
    Card,
    /// What was done after a walk.
    Actions,
}

/// Top keys in the order in which they are looked for: a card, too, has a `checklist`.
const TOP_KEYS: &[(&str, FileKind)] = &[
    ("card", FileKind::Card),
    ("actions", FileKind::Actions),
    ("walk", FileKind::Walk),
    ("checklist", FileKind::Checklist),
    ("sources", FileKind::Sources),
    ("effects", FileKind::Effects),
    ("constants", FileKind::Burden),
    ("factors", FileKind::Factors),
    ("interventions", FileKind::Interventions),
];

/// The kind of a file, with the error pushed where it is none of the known ones.
pub fn file_kind(source: &SourceText, findings: &mut Findings) -> Option<FileKind> {
    kind_and_id(source, findings).map(|(kind, _)| kind)
}

fn kind_and_id(source: &SourceText, findings: &mut Findings) -> Option<(FileKind, String)> {
    let root = yaml::read(source, findings)?;
    let entries = root.entries().unwrap_or_default();
    let found =
        TOP_KEYS.iter().find_map(|(key, kind)| Some((kind, entries.iter().find(|entry| entry.key == *key)?)));
    let Some((kind, entry)) = found else {
        let known: Vec<&str> = TOP_KEYS.iter().map(|(key, _)| *key).collect();
        let key = entries.first().map_or("", |entry| entry.key.as_str());
        let span = entries.first().map_or(root.span.clone(), |entry| entry.key_node.span.clone());
        let message = "none of the names that tell a file's kind is at the top of this file";
        findings.error(
            "unknown-file",
            Place::Span(source.clone(), span),
            message,
            suggest::hint(key, &known),
        );
        return None;
    };
    let id = match &entry.value.kind {
        yaml::NodeKind::Scalar(scalar) => scalar.value.clone(),
        _ => String::new(),
    };
    Some((*kind, id))
}

/// Checks files together: each takes the place of the file of its kind in the set, so that a
/// checklist and its factors are judged side by side, and actions beside the walk after which they were
/// agreed, where that is one of them. Unused sources and factors of the files are warnings.
pub fn check_files(sources: &[SourceText], files: &FileSet, findings: &mut Findings) {
    let mut own = Findings::new();
    let kinds: Vec<(FileKind, String, &SourceText)> = sources
        .iter()
        .filter_map(|source| kind_and_id(source, &mut own).map(|(kind, id)| (kind, id, source)))
        .collect();
    let mut set = files.clone();
    let mut taken: BTreeMap<String, &SourceText> = BTreeMap::new();
    for (kind, id, source) in &kinds {
        let Some(path) = path_of(*kind, id) else { continue };
        if let Some(first) = taken.get(&path) {
            let message =
                format!("{} is a file of the same kind; only one of them can be used", first.name());
            own.error(
                "same-kind-twice",
                Place::Span((*source).clone(), 0..0),
                message,
                "check them one at a time",
            );
            continue;
        }
        set.overlay(&path, (*source).clone());
        taken.insert(path, source);
    }
    let parts = Parts::read(&set, &mut own);
    parts.resolve(&mut own);
    let mut walks = Vec::new();
    for (kind, id, source) in &kinds {
        match kind {
            FileKind::Checklist => drop(parts.checklist(&set, id, &mut own)),
            FileKind::Walk => walks.extend(read_walk(source, &set, &mut own).map(|(_, walk)| walk)),
            FileKind::Card => drop(read_card(source, &mut own)),
            _ => {}
        }
    }
    for (_, _, source) in kinds.iter().filter(|(kind, ..)| *kind == FileKind::Actions) {
        check_actions(source, &parts.interventions.items, &walks, &mut own);
    }
    parts.unused(&set, sources, &mut own);
    own.keep_warnings_of(|file| set.is_own(file) || sources.iter().any(|source| source.name() == file));
    own.drop_repeats();
    findings.extend(own);
}

/// Actions beside the walk after which they were agreed, where it is among those checked.
fn check_actions(source: &SourceText, options: &[Intervention], walks: &[Walk], findings: &mut Findings) {
    let mut ignored = Findings::new();
    let actions = read_actions(source, options, None, &mut ignored);
    let agreed_after = |walk: &&Walk| {
        actions.as_ref().is_some_and(|it| it.is_of(&walk.farm_name) && it.walk_date == walk.date)
    };
    drop(read_actions(source, options, walks.iter().find(agreed_after), findings));
}

fn path_of(kind: FileKind, id: &str) -> Option<String> {
    match kind {
        FileKind::Checklist => Some(format!("{id}.yaml")),
        FileKind::Sources => Some(SOURCES.to_owned()),
        FileKind::Effects => Some(EFFECTS.to_owned()),
        FileKind::Burden => Some(BURDEN.to_owned()),
        FileKind::Factors => Some(FACTORS.to_owned()),
        FileKind::Interventions => Some(INTERVENTIONS.to_owned()),
        FileKind::Walk | FileKind::Card | FileKind::Actions => None,
    }
}

impl Parts {
    /// Sources that nothing names and factors that no checklist asks about, in the files asked for.
    fn unused(&self, files: &FileSet, asked: &[SourceText], findings: &mut Findings) {
        let mut ignored = Findings::new();
        let read =
            |id: &str| files.get(&format!("{id}.yaml")).map(|source| read_checklist(source, &mut ignored).1);
        let asked_items: Vec<Mention> =
            files.checklist_ids().into_iter().filter_map(read).flatten().collect();
        let named = |refers: Refers| -> BTreeSet<&str> {
            let all = self.mentions().chain(&asked_items);
            all.filter(|mention| mention.refers == refers).map(|mention| mention.id.as_str()).collect()
        };
        let factors: BTreeSet<&str> = asked_items
            .iter()
            .filter(|mention| mention.refers == Refers::Factor)
            .map(|mention| mention.id.as_str())
            .collect();
        let mut warn =
            |code, used: &BTreeSet<&str>, ids: &BTreeMap<String, Place>, what: &str, help: &str| {
                let unused = ids.iter().filter(|(id, _)| !used.contains(id.as_str()));
                for (id, place) in
                    unused.filter(|(_, place)| asked.iter().any(|file| file.name() == place.file()))
                {
                    findings.warning(code, place.clone(), format!("{what} `{id}`"), help);
                }
            };
        let sources = named(Refers::Source);
        warn(
            "unused-source",
            &sources,
            &self.sources.ids,
            "nothing names the source",
            "name it, or take it out",
        );
        let help = "add an item for it to a checklist, or take it out";
        warn("unused-factor", &factors, &self.factors.ids, "no checklist asks about the factor", help);
    }
}
