//! Other languages: files that give texts anew, by the ids of what they belong to. What a file leaves
//! out stays English; a name that nothing is called by is an error, so that no text is lost in silence.
//!
//! A file is `LANGUAGE/OF.yaml`, where `OF` is `words`, `pages`, `factors`, `interventions`, `lesions` or
//! the id of a checklist. A language is there when its `words.yaml` is. `words` and `pages` are one table
//! in two files: `words` is what the farmer's report, the score and the walk sheet need; `pages`, all
//! other pages, is read when one of them is written, and the sheet does not carry it.

use super::field::{Page, Value};
use super::library::{FileSet, read_library};
use super::{suggest, yaml};
use crate::finding::{Findings, Place, SourceText};
use crate::model::Library;
use crate::model::checklist::{Checklist, Kind};
use crate::model::evidence::CostRow;
use crate::model::factor::Factor;
use crate::model::intervention::Intervention;
use crate::model::lesion::Lesion;
use crate::model::words::{Forms, Sentence, Sentences, Words};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, LazyLock};

/// The language of what is shipped.
pub const ENGLISH: &str = "en";

/// What the words of a language are kept in.
pub(crate) const WORDS: &str = "words";
pub(crate) const PAGES: &str = "pages";

/// What a language has beside its checklists.
const TABLES: [&str; 5] = [WORDS, PAGES, "factors", "interventions", "lesions"];

/// The names that lead to a text, from the outside in.
pub(super) type Path = Vec<String>;

/// A text that may be given anew, with the names that lead to it.
type Slot<'a> = (Path, &'a mut String);

static SHIPPED: LazyLock<Arc<Words>> = LazyLock::new(|| {
    let sentences = read_english(&english_words(), &mut Findings::new());
    Arc::new(Words { language: ENGLISH.to_owned(), sentences, others: english_pages })
});

static SHIPPED_PAGES: LazyLock<Sentences> =
    LazyLock::new(|| read_english(&english_pages_text(), &mut Findings::new()));

fn english_words() -> SourceText {
    SourceText::new("checklists/en/words.yaml", include_str!("../../checklists/en/words.yaml"))
}

fn english_pages_text() -> SourceText {
    // The walk sheet shows none of the pages, and every phone would carry them.
    #[cfg(not(target_family = "wasm"))]
    let text = include_str!("../../checklists/en/pages.yaml");
    #[cfg(target_family = "wasm")]
    let text = "language: en\nof: pages\ntexts: {}\n";
    SourceText::new("checklists/en/pages.yaml", text)
}

/// The table that the other languages are held against.
fn read_english(source: &SourceText, findings: &mut Findings) -> Sentences {
    let Some(root) = yaml::read(source, findings) else { return BTreeMap::new() };
    let page = Page::new(source);
    let sentences = page.root(&root).block(|block| {
        block.text("language");
        block.text("of");
        let pairs = block.req("texts")?.pairs()?;
        let read = |(key, value): (Value<'_>, Value<'_>)| Some((key.raw().to_owned(), english_forms(value)?));
        Some(pairs.into_iter().filter_map(read).collect())
    });
    page.close(findings);
    sentences.unwrap_or_default()
}

fn english_forms(value: Value<'_>) -> Option<Forms> {
    let sentence = |value: Value<'_>| {
        let read = Sentence::new(&value.text()?);
        read.map_err(|fault| value.error("text-blanks", fault, "")).ok()
    };
    if value.node.entries().is_none() {
        return Some(Forms { one: None, other: sentence(value)? });
    }
    value.block(|block| {
        let (one, other) = (block.req("one"), block.req("other"));
        Some(Forms { one: Some(sentence(one?)?), other: sentence(other?)? })
    })
}

/// The English words, read once.
pub fn english() -> Arc<Words> {
    Arc::clone(&SHIPPED)
}

/// Those of the pages, read once.
pub fn english_pages() -> &'static Sentences {
    &SHIPPED_PAGES
}

/// Languages of a set of files, English first.
pub fn languages(files: &FileSet) -> Vec<&str> {
    let words = |path| -> Option<&str> {
        let (language, rest) = str::split_once(path, '/')?;
        (rest == "words.yaml" && language != ENGLISH).then_some(language)
    };
    std::iter::once(ENGLISH).chain(files.paths().into_iter().filter_map(words)).collect()
}

/// Puts a library into another language. Texts that the language lacks stay English. Faults of the
/// user's own files are pushed.
pub fn translate(library: &mut Library, files: &FileSet, language: &str, findings: &mut Findings) {
    if let Some(words) = words(files, language, findings) {
        library.words = words;
    }
    for of in ["factors", "interventions", "lesions", &library.checklist.id.clone()] {
        if let Some(source) = file(files, language, of) {
            let mut own = Findings::new();
            put(source, slots(library, of), &mut own);
            tell(files, source, own, findings);
        }
    }
}

/// The words of a language, where it is there; of English ones where it lacks some.
pub fn words(files: &FileSet, language: &str, findings: &mut Findings) -> Option<Arc<Words>> {
    let mut read = |of: &str, english: &Sentences| {
        let source = file(files, language, of)?;
        let mut own = Findings::new();
        let sentences = sentences_in(source, english, &mut own);
        tell(files, source, own, findings);
        Some(sentences)
    };
    let mut sentences = read(WORDS, &english().sentences)?;
    sentences.extend(read(PAGES, english_pages()).unwrap_or_default());
    Some(Arc::new(Words { language: language.to_owned(), sentences, others: english_pages }))
}

fn file<'a>(files: &'a FileSet, language: &str, of: &str) -> Option<&'a SourceText> {
    files.get(&format!("{language}/{of}.yaml"))
}

/// What is shipped is judged by the tests; its ids need not be those of the user's own files.
fn tell(files: &FileSet, source: &SourceText, own: Findings, findings: &mut Findings) {
    if files.is_own(source.name()) {
        findings.extend(own);
    }
}

/// The texts of a library that a file called `of` may give anew.
fn slots<'a>(library: &'a mut Library, of: &str) -> Vec<Slot<'a>> {
    match of {
        "factors" => factor_slots(&mut library.factors),
        "interventions" => option_slots(&mut library.interventions),
        "lesions" => lesion_slots(library),
        _ => checklist_slots(&mut library.checklist),
    }
}

/// Judges a translation without using it.
pub(super) fn judge(source: &SourceText, of: &str, library: Option<Library>, findings: &mut Findings) {
    match (of, library) {
        (WORDS, _) => drop(sentences_in(source, &english().sentences, findings)),
        (PAGES, _) => drop(sentences_in(source, english_pages(), findings)),
        (_, Some(mut library)) => put(source, slots(&mut library, of), findings),
        ("", None) => of_nothing(source, findings),
        (_, None) => {}
    }
}

/// A file that doesn't say in its top names what it is of.
fn of_nothing(source: &SourceText, findings: &mut Findings) {
    let Some(root) = yaml::read(source, findings) else { return };
    let page = Page::new(source);
    page.root(&root).block(|block| {
        block.text("language");
        block.text("of");
        block.req("texts")
    });
    page.close(findings);
}

/// The sentences of a language over the English ones.
fn sentences_in(source: &SourceText, english: &Sentences, findings: &mut Findings) -> Sentences {
    let wanted: BTreeMap<Path, Sentence> = forms(english).collect();
    let known = wanted.keys().cloned().collect();
    let given = read_texts(source, &known, findings, |path, value, text| {
        let english = wanted.get(path)?;
        let sentence = Sentence::new(&text)
            .map_err(|fault| value.error("text-blanks", fault, "a brace is written twice: `{{`"))
            .ok()?;
        if sentence.blanks() != english.blanks() {
            let named = |sentence: &Sentence| match sentence.blanks().into_iter().collect::<Vec<_>>() {
                names if names.is_empty() => "no blank".to_owned(),
                names => suggest::list(&names),
            };
            let message =
                format!("the text holds {}, and the English one {}", named(&sentence), named(english));
            value.error("text-blanks", message, "keep each name between braces as it is");
            return None;
        }
        Some(sentence)
    });
    let mut sentences = english.clone();
    for (key, forms) in &mut sentences {
        let form = |form: &str| given.get([key.clone(), form.to_owned()].as_slice());
        if let Some(sentence) = given.get([key.clone()].as_slice()) {
            *forms = Forms { one: None, other: sentence.clone() };
        } else if let Some(other) = form("other") {
            *forms = Forms { one: form("one").or(Some(other)).cloned(), other: other.clone() };
        }
    }
    sentences
}

/// The forms of every sentence, with the names that lead to each.
fn forms(english: &Sentences) -> impl Iterator<Item = (Path, Sentence)> {
    english.iter().flat_map(|(key, forms)| match &forms.one {
        None => vec![(path(&[key]), forms.other.clone())],
        Some(one) => vec![(path(&[key, "one"]), one.clone()), (path(&[key, "other"]), forms.other.clone())],
    })
}

/// The English of every text that may be given anew, by what it is of.
pub(super) fn english_texts(files: &FileSet) -> BTreeMap<String, Vec<(Path, String)>> {
    let mut texts = BTreeMap::new();
    for (of, table) in [(WORDS, &english().sentences), (PAGES, english_pages())] {
        let sentences = forms(table).map(|(path, sentence)| (path, sentence.source()));
        texts.insert(of.to_owned(), sentences.collect());
    }
    for id in files.checklist_ids() {
        let Some(mut library) = read_library(files, id, &mut Findings::new()) else { continue };
        for of in ["factors", "interventions", "lesions", id] {
            let slots = slots(&mut library, of).into_iter().map(|(path, text)| (path, text.clone()));
            texts.entry(of.to_owned()).or_insert_with(|| slots.collect());
        }
    }
    texts
}

/// Puts the texts of a file into their places.
fn put(source: &SourceText, slots: Vec<Slot<'_>>, findings: &mut Findings) {
    let known = slots.iter().map(|(path, _)| path.clone()).collect();
    let mut texts = read_texts(source, &known, findings, |_, _, text| Some(text));
    for (path, text) in slots {
        if let Some(given) = texts.remove(&path) {
            *text = given;
        }
    }
}

/// The texts of a file. Unknown names are errors; what is left out is one warning.
fn read_texts<T>(
    source: &SourceText,
    known: &BTreeSet<Path>,
    findings: &mut Findings,
    read: impl Fn(&Path, Value<'_>, String) -> Option<T>,
) -> BTreeMap<Path, T> {
    let Some(root) = yaml::read(source, findings) else { return BTreeMap::new() };
    let page = Page::new(source);
    let mut given = BTreeMap::new();
    page.root(&root).block(|block| {
        block.text("language");
        block.text("of");
        let texts = block.req("texts")?;
        let mut seen = BTreeSet::new();
        gather(texts, known, &mut Vec::new(), &mut |path, value| {
            seen.insert(path.clone());
            if let Some(text) = value.text().and_then(|text| read(path, value, text)) {
                given.insert(path.clone(), text);
            }
        });
        let missing: Vec<String> = known.difference(&seen).map(|path| path.join(": ")).collect();
        if !missing.is_empty() {
            let names: Vec<&str> = missing.iter().map(String::as_str).collect();
            let count = match missing.len() {
                1 => "a text is".to_owned(),
                many => format!("{many} texts are"),
            };
            let message = format!("{count} not given here: {}", suggest::list(&names));
            page.warning("not-translated", texts.span(), message, "they are shown in English");
        }
        Some(())
    });
    page.close(findings);
    given
}

/// Walks the names down to the texts that are known.
fn gather<'a>(
    value: Value<'a>,
    known: &BTreeSet<Path>,
    path: &mut Path,
    found: &mut impl FnMut(&Path, Value<'a>),
) {
    for (key, child) in value.pairs().unwrap_or_default() {
        path.push(key.raw().to_owned());
        if child.node.is_null() {
            // A text left empty is a text left out.
        } else if known.contains(path) {
            found(path, child);
        } else if known.range(path.clone()..).next().is_some_and(|slot| slot.starts_with(path)) {
            gather(child, known, path, found);
        } else {
            let above = &path[..path.len() - 1];
            let here = known.iter().filter(|slot| slot.starts_with(above));
            let names: BTreeSet<&str> =
                here.filter_map(|slot| slot.get(above.len())).map(String::as_str).collect();
            let names: Vec<&str> = names.into_iter().collect();
            key.unknown_key("unknown-text", "text", &names);
        }
        path.pop();
    }
}

fn path(names: &[&str]) -> Path {
    names.iter().map(|name| (*name).to_owned()).collect()
}

fn optional<'a>(names: &[&str], text: &'a mut Option<String>) -> Option<Slot<'a>> {
    text.as_mut().map(|text| (path(names), text))
}

fn factor_slots(factors: &mut [Factor]) -> Vec<Slot<'_>> {
    let mut slots = Vec::new();
    for Factor { id, title, why, .. } in factors {
        slots.push((path(&[id, "title"]), title));
        slots.extend(optional(&[id, "why"], why));
    }
    slots
}

fn option_slots(options: &mut [Intervention]) -> Vec<Slot<'_>> {
    let mut slots = Vec::new();
    for Intervention { id, title, how, caution, .. } in options {
        slots.push((path(&[id, "title"]), title));
        slots.push((path(&[id, "how"]), how));
        slots.extend(optional(&[id, "caution"], caution));
    }
    slots
}

/// Names of lesions, and the remarks on what they cost.
fn lesion_slots(library: &mut Library) -> Vec<Slot<'_>> {
    let infos = Lesion::ALL.into_iter().zip(&mut library.burden.lesions.0);
    let names = infos.map(|(lesion, info)| (path(&[lesion.id()]), &mut info.name));
    let notes = library.burden.costs.iter_mut().filter_map(|CostRow { currency, system, note, .. }| {
        optional(&["costs", &format!("{currency}-{}", system.id())], note)
    });
    names.chain(notes).collect()
}

fn checklist_slots(checklist: &mut Checklist) -> Vec<Slot<'_>> {
    let mut slots = vec![(path(&["title"]), &mut checklist.title)];
    for section in &mut checklist.sections {
        slots.push((path(&["sections", &section.id, "title"]), &mut section.title));
        slots.extend(optional(&["sections", &section.id, "guide"], &mut section.guide));
        for item in &mut section.items {
            slots.push((path(&["items", &item.id, "ask"]), &mut item.ask));
            slots.extend(optional(&["items", &item.id, "look"], &mut item.look));
            slots.extend(optional(&["items", &item.id, "unit"], &mut item.unit));
            if let Kind::Choice(choices) = &mut item.kind {
                for choice in choices {
                    slots.push((path(&["items", &item.id, "options", &choice.id]), &mut choice.say));
                }
            }
        }
    }
    slots
}

/// The file that a translation is, `LANGUAGE/OF`, from its two top names.
pub(super) fn name_of(source: &SourceText) -> Option<String> {
    let root = yaml::read(source, &mut Findings::new())?;
    let value = |name: &str| {
        let entry = root.entries()?.iter().find(|entry| entry.key == name)?;
        match &entry.value.kind {
            yaml::NodeKind::Scalar(scalar) => Some(scalar.value.clone()),
            _ => None,
        }
    };
    Some(format!("{}/{}", value("language")?, value("of")?))
}

/// Says that a translation is of something that isn't there.
pub(super) fn unknown(source: &SourceText, of: &str, known: &[&str], findings: &mut Findings) {
    let all: Vec<&str> = TABLES.iter().chain(known).copied().collect();
    let message = format!("there is nothing called `{of}` to translate");
    findings.error("unknown-text", Place::Span(source.clone(), 0..0), message, suggest::hint(of, &all));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_english_table_has_no_fault() {
        let mut findings = Findings::new();
        let [words, pages] =
            [english_words(), english_pages_text()].map(|source| read_english(&source, &mut findings));
        assert!(findings.is_empty(), "{:?}", findings.sorted());
        assert_eq!((&words, &pages), (&english().sentences, english_pages()));
        assert_eq!(pages.keys().find(|key| words.contains_key(*key)), None, "a key stands in one file");
    }

    #[test]
    fn a_language_is_there_once_its_words_are() {
        let mut files = FileSet::builtin();
        files.overlay("fr/self-check.yaml", SourceText::new("fr/self-check.yaml", ""));
        assert_eq!(languages(&files), ["en", "es"]);
        files.overlay("fr/words.yaml", SourceText::new("fr/words.yaml", ""));
        assert_eq!(languages(&files), ["en", "es", "fr"]);
    }
}
