//! The walk sheet: one HTML file for the phone and the printer, Markdown for those who lay out their
//! own, and a blank walk record as YAML.

use super::caret::harmless;
use super::markdown::escape;
use crate::model::Library;
use crate::model::checklist::{Item, Kind, Section};
use crate::model::intervention::Each;
use crate::model::lesion::Lesion;
use crate::model::money::{Per, Price};
use crate::model::words::{Forms, Words};
use crate::report::sentence::sentence;
use crate::report::words::{self, unit_text};
use minijinja::value::{Kwargs, Serde};
use minijinja::{Environment, UndefinedBehavior, Value, context};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::Arc;

const PAGE: &str = include_str!("../../templates/sheet/page.html");
const STYLE: &str = include_str!("../../templates/sheet/style.css");

/// The page's script, in reading order: one text, so that one hash in the page's policy lets it run.
const SCRIPT: &[&str] = &[
    include_str!("../../templates/sheet/script/1-words.js"),
    include_str!("../../templates/sheet/script/2-record.js"),
    include_str!("../../templates/sheet/script/3-yaml.js"),
    include_str!("../../templates/sheet/script/4-store.js"),
    include_str!("../../templates/sheet/script/5-engine.js"),
    include_str!("../../templates/sheet/script/6-page.js"),
];

/// The engine as committed, gzipped WebAssembly; built by `.ci/build-module`.
pub const MODULE: &[u8] = include_bytes!("../module/underfoot.wasm.gz");

/// Reasons to skip that a gloved thumb can tap, by their sentences.
const REASONS: &[&str] = &["page.reason-1", "page.reason-2", "page.reason-3"];

/// Sentences that the script says, by the starts of their keys.
const SCRIPT_WORDS: &[&str] = &["script.", "page.", "number.", "answer.share"];

/// Columns of a table per stretch of track on paper.
const PAPER_COLUMNS: &[&str] = &["A", "B", "C", "D", "E"];

/// Currencies offered while typing; any ISO 4217 code can be written.
const CURRENCIES: &[&str] =
    &["AUD", "CAD", "CHF", "DKK", "EUR", "GBP", "NOK", "NZD", "PLN", "SEK", "USD", "ZAR"];

/// When to call the vet and how to keep safe, in Markdown: the same words as in the reports.
fn dangers(library: &Library) -> Result<String, minijinja::Error> {
    super::markdown::fill(&library.words, "dangers.md", &())
}

#[derive(Serialize)]
struct SectionView<'a> {
    id: &'a str,
    title: &'a str,
    guide: Vec<String>,
    /// The first section that looks at stretches of track also lists them.
    lists_segments: bool,
    items: Vec<ItemView<'a>>,
}

#[derive(Serialize)]
struct ItemView<'a> {
    id: &'a str,
    each: &'a str,
    kind: &'a str,
    per_segment: bool,
    ask: &'a str,
    look: Vec<String>,
    why: &'a str,
    threshold: String,
    choices: Vec<ChoiceView<'a>>,
    /// Unit of a number.
    unit: String,
    /// By how much one tap changes a number.
    step: f64,
    /// What a count counts, and what it is counted over.
    counted: String,
    over: String,
    stopwatch: Option<Stopwatch>,
}

#[derive(Serialize)]
struct ChoiceView<'a> {
    id: &'a str,
    say: &'a str,
}

#[derive(Clone, Copy, Serialize)]
struct Stopwatch {
    /// `min` or `s`.
    unit: &'static str,
    /// Whether its time is the answer itself; else it goes into the note, to be reckoned with.
    fills: bool,
}

/// A text's paragraphs. Field names in backticks are the page's own labels.
fn paragraphs(text: Option<&str>) -> Vec<String> {
    let text = unit_text(text.unwrap_or_default()).replace('`', "");
    text.split("\n\n").map(|part| part.trim().to_owned()).filter(|part| !part.is_empty()).collect()
}

/// "stones/m2" is stones over m²; a unit without a divisor is counted over whatever was looked at.
fn counted_over(words: &Words, unit: &str) -> (String, String) {
    let (counted, over) = unit.split_once('/').unwrap_or((unit, ""));
    let over = match over {
        "" => words.word("page.looked-at"),
        "minute" => words.word("page.minutes"),
        other => unit_text(other),
    };
    (if counted.is_empty() { words.word("page.things") } else { counted.to_owned() }, over)
}

fn stopwatch(kind: &Kind, unit: &str) -> Option<Stopwatch> {
    let timed = match kind {
        Kind::Number(_) => unit,
        Kind::Count(_) => unit.split_once('/')?.1,
        Kind::Choice(_) | Kind::Share(_) => return None,
    };
    let (time, rest) = timed.split_once(['/', ' ']).unwrap_or((timed, ""));
    let unit = match time {
        "min" | "minute" | "minutes" => "min",
        "s" | "second" | "seconds" => "s",
        _ => return None,
    };
    Some(Stopwatch { unit, fills: rest.is_empty() })
}

/// Tenths where the whole scale is a few units long.
fn step(kind: &Kind) -> f64 {
    match kind {
        Kind::Number(scale) => {
            let ends = (scale.points().first(), scale.points().last());
            let span = ends.1.map_or(0.0, |last| last.0) - ends.0.map_or(0.0, |first| first.0);
            if span <= 5.0 { 0.1 } else { 1.0 }
        }
        _ => 1.0,
    }
}

fn item_view<'a>(library: &'a Library, item: &'a Item) -> ItemView<'a> {
    let unit = item.unit.as_deref().unwrap_or_default();
    let words = &library.words;
    let (counted, over) = counted_over(words, unit);
    let choices = match &item.kind {
        Kind::Choice(choices) => choices.iter().map(|it| ChoiceView { id: &it.id, say: &it.say }).collect(),
        _ => Vec::new(),
    };
    ItemView {
        id: &item.id,
        each: if item.each == Each::Segment { "segment" } else { "farm" },
        kind: item.kind.id(),
        per_segment: item.each == Each::Segment,
        ask: &item.ask,
        look: paragraphs(item.look.as_deref()),
        why: library.factor(&item.factor).and_then(|factor| factor.why.as_deref()).unwrap_or_default(),
        threshold: threshold(library, item),
        choices,
        unit: if unit.is_empty() { words.word("page.unit-number") } else { unit_text(unit) },
        step: step(&item.kind),
        counted,
        over,
        stopwatch: stopwatch(&item.kind, unit),
    }
}

/// Where the item's threshold comes from, in words.
fn threshold(library: &Library, item: &Item) -> String {
    let words = &library.words;
    let source = item.source.as_deref().and_then(|id| library.source(id));
    match source {
        Some(source) => {
            let authors = source.authors.as_deref().unwrap_or(&source.id);
            let year = source.year.to_string();
            words.say("page.threshold", &[("authors", authors), ("year", &year), ("title", &source.title)])
        }
        None => words.word("page.threshold-practice"),
    }
}

fn section_views(library: &Library) -> Vec<SectionView<'_>> {
    let per_segment = |section: &Section| section.items.iter().any(|item| item.each == Each::Segment);
    let first = library.checklist.sections.iter().position(per_segment);
    library
        .checklist
        .sections
        .iter()
        .enumerate()
        .map(|(at, section)| SectionView {
            id: &section.id,
            title: &section.title,
            guide: paragraphs(section.guide.as_deref()),
            lists_segments: first == Some(at),
            items: section.items.iter().map(|item| item_view(library, item)).collect(),
        })
        .collect()
}

/// How long the walk takes: "15 minutes", "3 h 40 min".
fn takes(library: &Library) -> Option<String> {
    let minutes = library.checklist.minutes?;
    let (hours, rest) = ((minutes / 60).to_string(), (minutes % 60).to_string());
    let key = match (minutes / 60, minutes % 60) {
        (0, _) => "page.takes-minutes",
        (_, 0) => "page.takes-hours",
        _ => "page.takes-both",
    };
    let values = [("hours", hours.as_str()), ("minutes", rest.as_str())];
    Some(library.words.say(key, &values))
}

/// The version, and how long the walk takes where that is known.
fn version_and_time(library: &Library) -> String {
    let version = &library.checklist.version;
    match takes(library) {
        Some(time) => format!("{version}, {}", library.words.say("page.takes", &[("time", &time)])),
        None => version.clone(),
    }
}

/// A quantity of the walk record that prices are multiplied by.
#[derive(Serialize)]
struct QuantityView<'a> {
    id: String,
    label: String,
    /// Title of the first option that is priced by it.
    for_option: &'a str,
}

/// The quantities that the options of the checklist's system are priced by.
fn quantities(library: &Library) -> Vec<QuantityView<'_>> {
    let system = library.checklist.system;
    let looked_at =
        |(id, _): &(String, f64)| library.factor(id).is_some_and(|factor| factor.in_system(system));
    let name = |price: &Price| match (&price.of, price.per) {
        (Some(of), _) => Some(of.clone()),
        (None, Per::Bail) => Some("bails".to_owned()),
        (None, _) => None,
    };
    let mut named: BTreeMap<String, &str> = BTreeMap::new();
    for option in library.interventions.iter().filter(|option| option.to.iter().any(looked_at)) {
        for id in [&option.capital, &option.yearly].into_iter().flatten().filter_map(name) {
            named.entry(id).or_insert(&option.title);
        }
    }
    let view = |(id, for_option): (String, _)| QuantityView {
        label: words::measure(&library.words, &id),
        id,
        for_option,
    };
    named.into_iter().map(view).collect()
}

/// What the script needs to know: the checklist's bones and the names of options and factors.
fn data(library: &Library, files: &BTreeMap<String, String>) -> serde_json::Value {
    let item = |item: &Item| {
        let choices: Vec<&str> = match &item.kind {
            Kind::Choice(choices) => choices.iter().map(|choice| choice.id.as_str()).collect(),
            _ => Vec::new(),
        };
        serde_json::json!({
            "id": item.id,
            "each": if item.each == Each::Segment { "segment" } else { "farm" },
            "kind": item.kind.id(),
            "choices": choices,
            "stopwatch": stopwatch(&item.kind, item.unit.as_deref().unwrap_or_default()),
        })
    };
    let sections = library.checklist.sections.iter().map(|section| {
        serde_json::json!({
            "id": section.id,
            "title": section.title,
            "items": section.items.iter().map(item).collect::<Vec<_>>(),
        })
    });
    let options = library.interventions.iter().map(|option| (option.id.as_str(), option.title.as_str()));
    let factors = library.factors.iter().map(|factor| (factor.id.as_str(), factor.title.as_str()));
    serde_json::json!({
        "id": library.checklist.id,
        "version": library.checklist.version,
        "title": library.checklist.title,
        "system": library.checklist.system.id(),
        "sections": sections.collect::<Vec<_>>(),
        "options": options.collect::<BTreeMap<_, _>>(),
        "factors": factors.collect::<BTreeMap<_, _>>(),
        "files": files,
        "language": library.words.language,
        "words": script_words(&library.words),
    })
}

fn script_words(words: &Words) -> serde_json::Value {
    let wanted =
        words.sentences.iter().filter(|(key, _)| SCRIPT_WORDS.iter().any(|start| key.starts_with(start)));
    let forms = |forms: &Forms| match &forms.one {
        None => serde_json::json!(forms.other.source()),
        Some(one) => serde_json::json!({ "one": one.source(), "other": forms.other.source() }),
    };
    wanted.map(|(key, said)| (key.clone(), forms(said))).collect()
}

/// The sheet as one HTML page that asks nothing of any network.
///
/// `files` are the user's own checklist and evidence files by path, which the page hands to the engine
/// in place of the shipped ones; `module` is the engine, gzipped.
///
/// # Errors
/// Where the template has a fault; no checklist can cause one.
pub fn html(
    library: &Library,
    files: &BTreeMap<String, String>,
    module: &[u8],
) -> Result<String, minijinja::Error> {
    let script = format!("\"use strict\";\n(() => {{\n{}\n}})();", SCRIPT.join("\n"));
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.add_template("page.html", PAGE)?;
    let words = Arc::clone(&library.words);
    environment
        .add_function("t", move |key: &str, values: Kwargs| sentence(&words, key, &values, str::to_owned));
    let words = &library.words;
    let lesions: Vec<Value> = Lesion::ALL
        .into_iter()
        .map(|lesion| context! { id => lesion.id(), name => library.burden.lesions[lesion].name.as_str() })
        .collect();
    let mut in_danger = String::new();
    pulldown_cmark::html::push_html(&mut in_danger, pulldown_cmark::Parser::new(&dangers(library)?));
    // Within a script element only `<` could end the data early.
    let data = data(library, files).to_string().replace('<', "\\u003c");
    environment.get_template("page.html")?.render(context! {
        title => library.checklist.title.as_str(),
        language => words.language.as_str(),
        system => words.say("page.herd", &[("system", &words::system_words(words, library.checklist.system))]),
        version => library.checklist.version.as_str(),
        takes => takes(library),
        made_with => env!("CARGO_PKG_VERSION"),
        limits => words.word("page.limits"),
        dangers => Value::from_safe_string(in_danger),
        reasons => REASONS.iter().map(|key| words.word(key)).collect::<Vec<_>>(),
        paper_columns => Value::from(Serde(PAPER_COLUMNS)),
        currencies => Value::from(Serde(CURRENCIES)),
        sections => Value::from(Serde(section_views(library))),
        quantities => Value::from(Serde(quantities(library))),
        lesions,
        script_hash => Value::from_safe_string(base64(&Sha256::digest(script.as_bytes()))),
        style => Value::from_safe_string(STYLE.to_owned()),
        script => Value::from_safe_string(script),
        data => Value::from_safe_string(data),
        engine => Value::from_safe_string(base64(module)),
    })
}

/// Base64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let bits = (0..3).fold(0u32, |bits, at| (bits << 8) | u32::from(group.get(at).copied().unwrap_or(0)));
        for at in 0..4 {
            let sign = SIGNS[(bits >> (18 - 6 * at)) as usize & 63] as char;
            text.push(if at <= group.len() { sign } else { '=' });
        }
    }
    text
}

/// The sheet as Markdown, with boxes to tick.
///
/// # Errors
/// Where a template has a fault; no checklist can cause one.
pub fn markdown(library: &Library) -> Result<String, minijinja::Error> {
    let (checklist, words) = (&library.checklist, &library.words);
    let system = words::system_words(words, checklist.system);
    let head = words.say("paper.head", &[("system", &system), ("version", &version_and_time(library))]);
    let mut text =
        format!("# {}\n\n{}\n\n{}\n", escape(&checklist.title), escape(&head), words.word("paper.fill"));
    for section in section_views(library) {
        let _ = write!(text, "\n## {}\n", escape(section.title));
        section.guide.iter().for_each(|line| text.push_str(&format!("\n{}\n", escape(line))));
        if section.lists_segments {
            let (title, columns) = (words.word("paper.stretches"), words.word("paper.columns"));
            let _ = write!(text, "\n{title}\n\n| | {columns} |\n| --- | --- | --- | --- | --- | --- |\n");
            PAPER_COLUMNS.iter().for_each(|column| text.push_str(&format!("| {column} | | | | | |\n")));
        }
        section.items.iter().for_each(|item| markdown_item(words, item, &mut text));
    }
    let _ = write!(text, "\n---\n\n{}\n\n{}", words.word("page.limits"), dangers(library)?);
    Ok(text)
}

fn markdown_item(words: &Words, item: &ItemView<'_>, text: &mut String) {
    let _ = write!(text, "\n### {}\n", escape(item.ask));
    item.look.iter().for_each(|line| text.push_str(&format!("\n{}\n", escape(line))));
    text.push('\n');
    let (yes, of_all) = (words.word("page.yes"), words.word("page.of-all"));
    let rows: Vec<&str> = match item.kind {
        "choice" => item.choices.iter().map(|choice| choice.say).collect(),
        "count" => vec![&item.counted, &item.over],
        "share" => vec![&yes, &of_all],
        _ => vec![&item.unit],
    };
    let rows = rows.into_iter().map(escape);
    if item.per_segment {
        let _ = writeln!(
            text,
            "| | {} |\n| ---{} |",
            PAPER_COLUMNS.join(" | "),
            " | ---".repeat(PAPER_COLUMNS.len())
        );
        let mark = if item.kind == "choice" { " ☐ |" } else { " |" };
        rows.for_each(|row| {
            let _ = writeln!(text, "| {row} |{}", mark.repeat(PAPER_COLUMNS.len()));
        });
    } else {
        rows.for_each(|row| {
            let _ = if item.kind == "choice" {
                writeln!(text, "- ☐ {row}")
            } else {
                writeln!(text, "- {row}: ________")
            };
        });
    }
    let _ = writeln!(text, "\n{}", words.word("paper.not-because"));
}

/// A blank walk record: everything to fill in, every item with what it asks. An answer left empty
/// counts as not looked at.
pub fn yaml(library: &Library) -> String {
    let (checklist, words) = (&library.checklist, &library.words);
    let title = words.say("record.title", &[("title", &checklist.title), ("version", &checklist.version)]);
    let mut text = format!(
        "# {}\n# {}\n# {}\n\
         walk: {}\n\
         date:                # 2026-03-14\n\
         by:                  # adviser | farmer | vet\n\
         farm: {{ name:  }}\n\
         herd: {{ cows: , system: {}, currency:  }}   # {}\n",
        comment(&title),
        words.word("record.fill"),
        words.word("record.empty"),
        checklist.id,
        checklist.system.id(),
        words.word("record.currency")
    );
    if checklist.items().any(|item| item.each == Each::Segment) {
        let _ = write!(
            text,
            "segments:            # {}\n  \
             - {{ id: home-lane, name: \"{}\", length_m: , width_m: , passes_per_day: 4, herd_share: 1.0 }}\n",
            words.word("record.segments"),
            words.word("page.home-lane").replace('"', "'")
        );
    }
    text.push_str("answers:\n");
    for section in section_views(library) {
        let _ = write!(text, "\n  # --- {}\n", comment(section.title));
        section.guide.iter().for_each(|line| wrapped(line, &mut text));
        section.items.iter().for_each(|item| yaml_item(words, item, &mut text));
    }
    let _ = writeln!(text, "\nquantities:          # {}", words.word("record.quantities"));
    for quantity in quantities(library) {
        let _ = writeln!(
            text,
            "  {}:              # {}: {}",
            quantity.id,
            quantity.label,
            comment(quantity.for_option)
        );
    }
    text.push_str("notes:\n");
    text
}

fn comment(text: &str) -> String {
    text.split_whitespace().map(harmless).collect::<Vec<_>>().join(" ")
}

/// A text as comment lines of a block of answers.
fn wrapped(text: &str, into: &mut String) {
    let mut line = String::new();
    for word in text.split_whitespace().map(harmless) {
        if !line.is_empty() && line.chars().count() + word.chars().count() > 96 {
            let _ = writeln!(into, "  #{line}");
            line.clear();
        }
        line.push(' ');
        line.push_str(&word);
    }
    if !line.is_empty() {
        let _ = writeln!(into, "  #{line}");
    }
}

fn yaml_item(words: &Words, item: &ItemView<'_>, text: &mut String) {
    text.push('\n');
    wrapped(item.ask, text);
    item.look.iter().for_each(|line| wrapped(line, text));
    item.choices.iter().for_each(|choice| wrapped(&format!("- {}: {}", choice.id, choice.say), text));
    let blank = match item.kind {
        "choice" => "{ choose:  }".to_owned(),
        "count" => {
            let (what, over) = (comment(&item.counted), comment(&item.over));
            format!(
                "{{ count: , over:  }}   # {}",
                words.say("record.count", &[("what", &what), ("over", &over)])
            )
        }
        "share" => format!("{{ count: , of:  }}   # {}", words.word("record.share")),
        _ => format!("{{ value:  }}   # {}", comment(&item.unit)),
    };
    let place = if item.per_segment { "\n    home-lane:" } else { "" };
    let _ = writeln!(text, "  {}:{place} {blank}", item.id);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Findings, SourceText};
    use crate::input::{FileSet, read_library, read_walk};

    fn library(checklist: &str) -> Library {
        read_library(&FileSet::builtin(), checklist, &mut Findings::new())
            .expect("what is shipped has no faults")
    }

    fn page(library: &Library) -> String {
        html(library, &BTreeMap::new(), b"engine").expect("the template fits")
    }

    #[test]
    fn base64_is_that_of_the_standard() {
        // RFC 4648, section 10.
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ];
        vectors.iter().for_each(|(bytes, text)| assert_eq!(base64(bytes.as_bytes()), *text));
    }

    #[test]
    fn every_question_stands_in_every_format_of_every_checklist() {
        for id in FileSet::builtin().checklist_ids() {
            let library = library(id);
            let paper = markdown(&library).expect("the template fits");
            let texts = [page(&library), paper, yaml(&library)];
            for item in library.checklist.items() {
                let first_word = item.ask.split_whitespace().next().unwrap_or_default();
                texts.iter().for_each(|text| assert!(text.contains(first_word), "{id}: {}", item.ask));
                assert!(texts[0].contains(&format!("id=\"i-{}\"", item.id)), "{id}: {}", item.id);
                assert!(texts[2].contains(&format!("\n  {}:", item.id)), "{id}: {}", item.id);
            }
        }
    }

    #[test]
    fn a_blank_record_with_its_few_needs_filled_in_reads_without_a_fault() {
        for id in FileSet::builtin().checklist_ids() {
            let filled = yaml(&library(id))
                .replace("date:  ", "date: 2026-03-14  ")
                .replace("{ name:  }", "{ name: Brook }")
                .replace("cows: ,", "cows: 200,")
                .replace("length_m: ,", "length_m: 300,");
            let mut findings = Findings::new();
            let read = read_walk(&SourceText::new("walk.yaml", filled), &FileSet::builtin(), &mut findings);
            assert!(findings.is_empty(), "{id}: {:?}", findings.sorted());
            assert!(read.is_some_and(|(_, walk)| walk.answers.is_empty()), "{id}");
        }
    }

    #[test]
    fn no_text_of_a_checklist_can_become_markup() {
        let mut library = library("pasture-herd");
        let hostile = "</script><script>alert(1)</script><img src=x onerror=alert(1)>";
        library.checklist.title = hostile.to_owned();
        library.checklist.sections[0].title = hostile.to_owned();
        library.checklist.sections[0].items[0].ask = hostile.to_owned();
        library.interventions[0].title = hostile.to_owned();
        let page = page(&library);
        assert!(!page.contains("<img"));
        assert_eq!(page.matches("<script").count(), 3, "the data, the engine and the page's own");
    }

    #[test]
    fn units_are_told_apart() {
        let words = crate::input::english();
        let told = |unit| counted_over(&words, unit);
        assert_eq!(told("stones/m2"), ("stones".to_owned(), "m²".to_owned()));
        assert_eq!(told("shoves/minute"), ("shoves".to_owned(), "minutes".to_owned()));
        assert_eq!(told(""), ("things".to_owned(), "looked at".to_owned()));
        let number =
            Kind::Number(crate::model::checklist::Scale::new(vec![(0.0, 0.0), (1.0, 1.0)]).expect("rising"));
        assert!(stopwatch(&number, "min").is_some_and(|watch| watch.fills));
        assert!(stopwatch(&number, "min/day").is_some_and(|watch| !watch.fills));
        assert!(stopwatch(&number, "mm").is_none());
    }
}
