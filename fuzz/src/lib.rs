//! What the targets share: the shipped library, and what must hold of everything that is printed.

pub mod records;

use std::sync::OnceLock;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, decode_utf8, read_library};
use underfoot::model::Library;
use underfoot::reckon::Settings;
use underfoot::show::caret;

/// The shipped files.
pub fn files() -> &'static FileSet {
    static FILES: OnceLock<FileSet> = OnceLock::new();
    FILES.get_or_init(FileSet::builtin)
}

/// The shipped libraries by checklist, read once.
fn libraries() -> &'static [(String, Library)] {
    static LIBRARIES: OnceLock<Vec<(String, Library)>> = OnceLock::new();
    LIBRARIES.get_or_init(|| {
        let read = |id: &str| {
            let library = read_library(files(), id, &mut Findings::new());
            (id.to_owned(), library.expect("what is shipped can be read"))
        };
        files().checklist_ids().into_iter().map(read).collect()
    })
}

/// The library of the checklist that the text names, else the first one.
pub fn library_for(text: &str) -> &'static Library {
    let named = |(id, _): &&(String, Library)| text.lines().any(|line| line == format!("walk: {id}"));
    let found = libraries().iter().find(named).or(libraries().first());
    &found.expect("a checklist is shipped").1
}

/// The bytes as the program takes them from a file.
pub fn source(name: &str, bytes: &[u8]) -> Option<SourceText> {
    match decode_utf8(name, bytes) {
        Ok(source) => Some(source),
        Err(finding) => {
            let mut findings = Findings::new();
            findings.add(finding);
            told(&findings);
            None
        }
    }
}

/// As few draws as there may be.
pub fn settings() -> Settings {
    Settings { draws: 256, ..Settings::default() }
}

/// Shows the findings as the terminal would; nothing in them may move the cursor or run on without end.
pub fn told(findings: &Findings) {
    let text = caret::render(findings);
    is_printable("a finding", &text);
    assert!(text.len() < 1 << 20, "{} bytes of findings", text.len());
}

/// Holds that a text can be printed: no control character but the end of a line.
pub fn is_printable(what: &str, text: &str) {
    let control = text.chars().find(|c| c.is_control() && *c != '\n');
    assert_eq!(control, None, "{what}");
}

/// Tags that may stand in a page, one way or the other; each of them is ours.
const TAGS: &[&str] = &[
    "!DOCTYPE",
    "body",
    "br",
    "circle",
    "defs",
    "desc",
    "div",
    "em",
    "figcaption",
    "figure",
    "g",
    "h1",
    "h2",
    "h3",
    "h4",
    "head",
    "hr",
    "html",
    "li",
    "line",
    "main",
    "meta",
    "ol",
    "p",
    "path",
    "pattern",
    "polygon",
    "polyline",
    "rect",
    "section",
    "span",
    "strong",
    "style",
    "svg",
    "table",
    "tbody",
    "td",
    "text",
    "th",
    "thead",
    "title",
    "tr",
    "tspan",
    "ul",
];

/// Holds that a page has only tags that are ours, with nothing in them that runs or fetches.
pub fn is_harmless(page: &str) {
    is_printable("a page", page);
    for part in page.split('<').skip(1) {
        let inside = part.split('>').next().unwrap_or("");
        let name = inside.trim_start_matches('/').split([' ', '/', '\n']).next().unwrap_or("");
        assert!(TAGS.contains(&name), "<{inside}>");
        // What stands in quotes is text; outside them stand the names of attributes.
        for names in inside.split('"').step_by(2) {
            let mut names = names.split([' ', '=', '\n']);
            assert!(
                !names.any(|name| name.starts_with("on") || name == "src" || name == "href"),
                "<{inside}>"
            );
        }
    }
}
