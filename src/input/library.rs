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
use super::{suggest, translation, yaml};
use crate::finding::{Findings, Place, SourceText};
use crate::model::checklist::Checklist;
use crate::model::evidence::{Burden, Certainty, Effect, Read, Source};
use crate::model::factor::Factor;
use crate::model::intervention::Intervention;
use crate::model::walk::Walk;
use crate::model::{Library, System};
use std::collections::{BTreeMap, BTreeSet};

const SOURCES: &str = "evidence/sources.yaml";
pub(super) const EFFECTS: &str = "evidence/effects.yaml";
const BURDEN: &str = "evidence/burden.yaml";
pub(super) const FACTORS: &str = "factors.yaml";
pub(super) const INTERVENTIONS: &str = "interventions.yaml";

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
    ("es/words.yaml", include_str!("../../checklists/es/words.yaml")),
    #[cfg(not(target_family = "wasm"))]
    ("es/pages.yaml", include_str!("../../checklists/es/pages.yaml")),
    ("es/factors.yaml", include_str!("../../checklists/es/factors.yaml")),
    ("es/interventions.yaml", include_str!("../../checklists/es/interventions.yaml")),
    ("es/lesions.yaml", include_str!("../../checklists/es/lesions.yaml")),
    ("es/pasture-herd.yaml", include_str!("../../checklists/es/pasture-herd.yaml")),
    ("es/housed-herd.yaml", include_str!("../../checklists/es/housed-herd.yaml")),
    ("es/self-check.yaml", include_str!("../../checklists/es/self-check.yaml")),
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
    /// out: they speak of other factors. So is a shipped translation of a file that the user replaced:
    /// its words are of other texts.
    pub fn get(&self, path: &str) -> Option<&SourceText> {
        let replaced = |path| self.own.contains_key(path);
        let speaks_of_others = match path.split_once('/') {
            Some(("evidence", _)) | None => replaced(FACTORS) && matches!(path, EFFECTS | INTERVENTIONS),
            Some((_, "lesions.yaml")) => replaced(BURDEN),
            Some((_, INTERVENTIONS)) => replaced(FACTORS) || replaced(INTERVENTIONS),
            Some((_, file)) => replaced(file),
        };
        self.own.get(path).or_else(|| self.shipped.get(path).filter(|_| !speaks_of_others))
    }

    /// Every path, in order.
    pub(super) fn paths(&self) -> BTreeSet<&str> {
        self.shipped.keys().chain(self.own.keys()).map(String::as_str).collect()
    }

    /// The user's own files, by path.
    pub fn own(&self) -> impl Iterator<Item = (&str, &SourceText)> {
        self.own.iter().map(|(path, source)| (path.as_str(), source))
    }

    /// Whether a file of this name (that of its text) is the user's own.
    pub(super) fn is_own(&self, name: &str) -> bool {
        self.own.values().any(|source| source.name() == name)
    }

    /// The user's own files; all of a set that has none.
    fn to_check(&self) -> Vec<SourceText> {
        let of = if self.own.is_empty() { &self.shipped } else { &self.own };
        of.values().cloned().collect()
    }

    /// The path and text of every shipped file.
    pub fn shipped() -> impl Iterator<Item = (&'static str, &'static str)> {
        SHIPPED.iter().copied()
    }

    /// Ids of the checklists, from the names of the files.
    pub fn checklist_ids(&self) -> Vec<&str> {
        let others = [FACTORS, INTERVENTIONS];
        self.paths()
            .into_iter()
            .filter(|path| !path.contains('/') && !others.contains(path))
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
    own.drop_explained();
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
        self.judge_targets(findings);
    }

    /// An option that aims at a worse exposure than farms have by themselves is mostly a slip.
    fn judge_targets(&self, findings: &mut Findings) {
        for mention in &self.interventions.mentions {
            let factor = self.factors.items.iter().find(|factor| factor.id == mention.id);
            let (Some(factor), Some(target)) = (factor, mention.target) else { continue };
            if target > factor.typical_mean {
                let message = format!(
                    "this option brings `{}` to {target}, worse than the {} that farms have by themselves",
                    factor.id, factor.typical_mean
                );
                let help = "exposures run from 0, good practice, to 1; is the target the wrong way round?";
                findings.warning("worse-target", mention.place.clone(), message, help);
            }
        }
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
            words: translation::english(),
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
    /// Texts in another language.
    Translation,
}

/// Top keys in the order in which they are looked for: a card, too, has a `checklist`.
const TOP_KEYS: &[(&str, FileKind)] = &[
    ("card", FileKind::Card),
    ("actions", FileKind::Actions),
    ("language", FileKind::Translation),
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
        _ if *kind == FileKind::Translation => translation::name_of(source).unwrap_or_default(),
        yaml::NodeKind::Scalar(scalar) => scalar.value.clone(),
        _ => String::new(),
    };
    Some((*kind, id))
}

/// Checks files together: each takes the place of the file of its kind in the set, so that a
/// checklist and its factors are judged side by side, and actions beside the walk after which they were
/// agreed, where that is one of them. No files: the user's own of the set are checked, or all of a set that
/// has none. What looks wrong and may be meant, such as a source that nothing names, is a warning; it is not
/// said where the file gives its reason.
pub fn check_files(sources: &[SourceText], files: &FileSet, findings: &mut Findings) {
    let mut own = Findings::new();
    let all = files.to_check();
    let sources = if sources.is_empty() { &all } else { sources };
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
    let languages = translation::languages(&set);
    for (path, source) in set.own() {
        let Some((folder, file)) = path.split_once('/') else { continue };
        // A folder of another use may be called like a language.
        let asked = sources.iter().any(|it| it.name() == source.name());
        if folder != "evidence" && (asked || languages.contains(&folder)) {
            judge_translation(source, file.trim_end_matches(".yaml"), &set, &mut own);
        }
    }
    parts.judge_uses(&set, sources, &mut own);
    own.keep_warnings_of(|file| set.is_own(file) || sources.iter().any(|source| source.name() == file));
    own.drop_repeats();
    for (code, place) in own.drop_explained() {
        let asked = sources.iter().any(|source| source.name() == place.file());
        if asked && !own.has_errors() {
            let message = format!("there is no `{code}` here that would need the reason given");
            own.warning("idle-explanation", place, message, "take it out");
        }
    }
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
        // One that doesn't say what it is of lies beside the languages.
        FileKind::Translation if id.is_empty() => Some("-/.yaml".to_owned()),
        FileKind::Translation => Some(format!("{id}.yaml")),
        FileKind::Walk | FileKind::Card | FileKind::Actions => None,
    }
}

/// Judges a file of texts against what it translates.
fn judge_translation(source: &SourceText, of: &str, set: &FileSet, findings: &mut Findings) {
    let checklists = set.checklist_ids();
    let named = checklists.iter().find(|id| **id == of);
    let mut others = Findings::new();
    // Faults of what it translates are named where that file is checked.
    let library = match (named, of) {
        (Some(id), _) => read_library(set, id, &mut others),
        (None, "factors" | "interventions" | "lesions") => {
            checklists.iter().find_map(|id| read_library(set, id, &mut others))
        }
        (None, translation::WORDS | translation::PAGES | "") => None,
        (None, _) => return translation::unknown(source, of, &checklists, findings),
    };
    translation::judge(source, of, library, findings);
}

/// A warning of [`Parts::judge_uses`]: where, what, and what would be right.
type Doubt = (&'static str, Place, String, String);

impl Parts {
    /// Sources that nothing names, that can't be found, or that nobody had open though figures rest on
    /// them; factors that no checklist asks about. In the files asked for.
    fn judge_uses(&self, files: &FileSet, asked: &[SourceText], findings: &mut Findings) {
        let mut ignored = Findings::new();
        let read =
            |id: &str| files.get(&format!("{id}.yaml")).map(|source| read_checklist(source, &mut ignored).1);
        let items: Vec<Mention> = files.checklist_ids().into_iter().filter_map(read).flatten().collect();
        let doubts = self.sources_in_doubt(&items).into_iter().chain(self.factors_in_doubt(&items));
        for (code, place, message, help) in doubts {
            if asked.iter().any(|file| file.name() == place.file()) {
                findings.warning(code, place, message, help);
            }
        }
    }

    fn sources_in_doubt(&self, items: &[Mention]) -> Vec<Doubt> {
        let mut doubts = Vec::new();
        let named: BTreeSet<&str> = (self.mentions().chain(items))
            .filter(|mention| mention.refers == Refers::Source)
            .map(|mention| mention.id.as_str())
            .collect();
        for (id, place) in self.sources.ids.iter().filter(|(id, _)| !named.contains(id.as_str())) {
            let message = format!("nothing names the source `{id}`");
            doubts.push(("unused-source", place.clone(), message, "name it, or take it out".to_owned()));
        }
        for source in &self.sources.items {
            let Some(place) = self.sources.ids.get(&source.id) else { continue };
            if source.doi.is_none() {
                let message = format!("the source `{}` has no DOI", source.id);
                let help = "add it; or say why there is none: `explained: { no-doi: \"a thesis\" }`";
                doubts.push(("no-doi", place.clone(), message, help.to_owned()));
            }
            let resting = if source.read == Read::Memory { self.rests_on(&source.id, items) } else { None };
            if let Some(first) = resting {
                let (line, _) = first.line_column();
                let message = format!(
                    "`{}` is cited from memory, and a figure rests on it: {}:{line}",
                    source.id,
                    first.file()
                );
                let help = "read it, and correct the figure; or let the figure be a judgement";
                doubts.push(("from-memory", place.clone(), message, help.to_owned()));
            }
        }
        doubts
    }

    /// The first figure that rests on a source. An effect recalled from memory makes no weight.
    fn rests_on(&self, source: &str, items: &[Mention]) -> Option<Place> {
        let is_seen = |effect: &&Effect| effect.source == source && effect.certainty == Certainty::Seen;
        let effect =
            self.effects.items.iter().find(is_seen).and_then(|effect| self.effects.ids.get(&effect.id));
        let others = self.interventions.mentions.iter().chain(&self.burden_mentions).chain(items);
        let mut named = others.filter(|mention| mention.refers == Refers::Source && mention.id == source);
        effect.cloned().or_else(|| named.next().map(|mention| mention.place.clone()))
    }

    fn factors_in_doubt(&self, items: &[Mention]) -> Vec<Doubt> {
        let is_asked = |id: &str| items.iter().any(|it| it.refers == Refers::Factor && it.id == id);
        let unused = self.factors.ids.iter().filter(|(id, _)| !is_asked(id));
        let doubt = |(id, place): (&String, &Place)| {
            let message = format!("no checklist asks about the factor `{id}`");
            let help = "add an item for it to a checklist, or take it out";
            ("unused-factor", place.clone(), message, help.to_owned())
        };
        unused.map(doubt).collect()
    }
}
