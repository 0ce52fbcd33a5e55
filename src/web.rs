//! The door for the offline sheet: text in, text out, nothing of its own.
//!
//! The page writes a question as JSON into the buffer that `alloc` gives, calls `run`, and reads the
//! answer where `run` points: its length in four bytes, the lowest first, then UTF-8. One buffer each
//! way is kept here, so that no pointer is ever read and no memory of the page's asked for.

use crate::finding::{Findings, Severity, SourceText};
use crate::input::{FileSet, read_library, read_walk_on};
use crate::job::{self, Farm, Reader, Reckoned};
use crate::model::Library;
use crate::reckon::Settings;
use crate::reckon::own_records::OwnRecords;
use crate::show::record;
use serde::Deserialize;
use serde_json::{Value, json};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// What the page asks.
#[derive(Deserialize)]
struct Question {
    task: Task,
    /// Id of the sheet's checklist.
    checklist: String,
    /// Files in place of the shipped ones, by path.
    #[serde(default)]
    files: BTreeMap<String, String>,
    /// The walk record, as YAML.
    walk: String,
    /// Name of its file.
    name: String,
    #[serde(default)]
    draws: Option<usize>,
    #[serde(default)]
    seed: Option<u64>,
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Task {
    /// The walk record as JSON.
    Read,
    /// The facts of the walk: `underfoot.score/1`.
    Score,
    /// The farmer's report as a page.
    Report,
}

/// The library of the last question, so that it is not read again after every tap.
struct Kept {
    checklist: String,
    files: BTreeMap<String, String>,
    library: Library,
}

thread_local! {
    static KEPT: RefCell<Option<Kept>> = const { RefCell::new(None) };
}

/// Answers a question; never fails: what is wrong stands in the answer as `trouble` or `findings`.
pub fn answer(question: &str) -> String {
    let answer = match serde_json::from_str(question) {
        Ok(question) => KEPT.with_borrow_mut(|kept| judged(&question, kept)),
        Err(error) => json!({ "trouble": format!("the question can't be read: {error}") }),
    };
    answer.to_string()
}

fn judged(question: &Question, kept: &mut Option<Kept>) -> Value {
    let mut findings = Findings::new();
    let mut answer = match library(question, kept.take(), &mut findings) {
        Some(library) => on_library(question, library, kept, &mut findings),
        None => json!({}),
    };
    answer["findings"] = listed(&findings);
    answer
}

/// The library asked for: the last one, where nothing of it has changed.
fn library(question: &Question, kept: Option<Kept>, findings: &mut Findings) -> Option<Library> {
    let same = |it: &Kept| it.checklist == question.checklist && it.files == question.files;
    if let Some(kept) = kept.filter(same) {
        return Some(kept.library);
    }
    let mut files = FileSet::builtin();
    for (path, text) in &question.files {
        files.overlay(path, SourceText::new(path.as_str(), text.as_str()));
    }
    read_library(&files, &question.checklist, findings)
}

fn on_library(
    question: &Question,
    library: Library,
    kept: &mut Option<Kept>,
    findings: &mut Findings,
) -> Value {
    let source = SourceText::new(question.name.as_str(), question.walk.as_str());
    let keep =
        |library| Kept { checklist: question.checklist.clone(), files: question.files.clone(), library };
    let Some(walk) = read_walk_on(&source, &library, findings) else {
        *kept = Some(keep(library));
        return json!({});
    };
    let own = OwnRecords::default();
    let farm = Farm { library, walk, own, inputs: job::inputs_of(&source), case_days: None };
    let answer = match question.task {
        Task::Read => json!({ "walk": record::walk(&farm.library, &farm.walk) }),
        Task::Score => reckoned(question, &farm, |reckoned| json!({ "score": reckoned.facts() })),
        Task::Report => {
            reckoned(question, &farm, |reckoned| match job::report_html(&reckoned.report(), Reader::Farmer) {
                Ok(html) => json!({ "html": html }),
                Err(error) => json!({ "trouble": error.to_string() }),
            })
        }
    };
    *kept = Some(keep(farm.library));
    answer
}

fn reckoned(question: &Question, farm: &Farm, answer: impl Fn(&Reckoned<'_>) -> Value) -> Value {
    let usual = Settings::default();
    let (draws, seed) = (question.draws.unwrap_or(usual.draws), question.seed.unwrap_or(usual.seed));
    match job::reckon(farm, Settings { draws, seed, ..usual }) {
        Ok(reckoned) => answer(&reckoned),
        Err(refusal) => json!({ "trouble": format!("this can't be reckoned: {refusal:?}") }),
    }
}

fn listed(findings: &Findings) -> Value {
    let one = |finding: &&crate::finding::Finding| {
        let (line, column) = finding.place.line_column();
        json!({
            "code": finding.code,
            "error": finding.severity == Severity::Error,
            "file": finding.place.file(),
            "line": line,
            "column": column,
            "message": finding.message,
            "help": finding.help,
        })
    };
    findings.sorted().iter().map(one).collect()
}

#[cfg(target_family = "wasm")]
mod door {
    use super::{RefCell, answer};

    thread_local! {
        static QUESTION: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
        static ANSWER: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
    }

    /// A buffer of `length` bytes to write the question into.
    #[unsafe(no_mangle)]
    extern "C" fn alloc(length: usize) -> *mut u8 {
        QUESTION.with_borrow_mut(|question| {
            *question = vec![0; length];
            question.as_mut_ptr()
        })
    }

    /// Answers the question in the buffer; the place of the answer.
    #[unsafe(no_mangle)]
    extern "C" fn run() -> *const u8 {
        let question = QUESTION.take();
        let text = answer(&String::from_utf8_lossy(&question));
        ANSWER.with_borrow_mut(|buffer| {
            let length = u32::try_from(text.len()).unwrap_or(0);
            *buffer = [&length.to_le_bytes(), text.as_bytes()].concat();
            buffer.as_ptr()
        })
    }

    /// Gives the answer's memory back.
    #[unsafe(no_mangle)]
    extern "C" fn dealloc() {
        ANSWER.take();
    }
}

#[cfg(test)]
mod tests {
    use super::answer;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    fn ask(question: &Value) -> Value {
        serde_json::from_str(&answer(&question.to_string())).expect("an answer is JSON")
    }

    #[test]
    fn a_walk_is_read_scored_and_reported() {
        let walk = include_str!("../examples/02-tussock-flat/walk.yaml");
        let question = |task| json!({ "task": task, "checklist": "pasture-herd", "name": "walk.yaml", "walk": walk, "draws": 256 });
        assert_eq!(ask(&question("read"))["walk"]["walk"], "pasture-herd");
        assert_eq!(ask(&question("score"))["score"]["made_with"]["draws"], 256);
        assert!(ask(&question("report"))["html"].as_str().is_some_and(|html| html.contains("<h1")));
    }

    #[test]
    fn a_walk_of_another_checklist_is_told() {
        let walk = include_str!("../examples/02-tussock-flat/walk.yaml");
        let answer =
            ask(&json!({ "task": "read", "checklist": "self-check", "name": "walk.yaml", "walk": walk }));
        assert!(answer["walk"].is_null());
        assert!(
            answer["findings"][0]["message"]
                .as_str()
                .is_some_and(|message| message.contains("another checklist"))
        );
    }

    #[test]
    fn the_sheets_own_files_take_the_place_of_the_shipped_ones() {
        let files = json!({ "pasture-herd.yaml": "checklist: [" });
        let answer = ask(
            &json!({ "task": "read", "checklist": "pasture-herd", "files": files, "name": "w", "walk": "" }),
        );
        assert_eq!(answer["findings"][0]["file"], "pasture-herd.yaml");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn whatever_is_asked_is_answered(text in ".{0,80}", walk in ".{0,120}") {
            serde_json::from_str::<Value>(&answer(&text)).expect("an answer is JSON");
            ask(&json!({ "task": "score", "checklist": "pasture-herd", "name": "w", "walk": walk }));
        }
    }
}
