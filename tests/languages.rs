//! Another language is another set of words: nothing a user reads may stand anywhere else.

mod common;

use calamine::{DataType, Reader, Xlsx};
use chrono::NaiveDate;
use common::underfoot;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;
use underfoot::finding::{CODES, Findings, SourceText};
use underfoot::input::{FileSet, english, english_pages, read_actions, read_library, read_walk, translate};
use underfoot::job;
use underfoot::model::actions::{Action, Actions, Standing};
use underfoot::model::checklist::Kind;
use underfoot::model::lesion::Lesion;
use underfoot::model::words::{Forms, Sentence, Sentences, Words};
use underfoot::model::{Library, System};
use underfoot::reckon::revisit::changes::State;
use underfoot::reckon::revisit::learning::NotLearned;
use underfoot::reckon::revisit::periods::{NoRates, Season};
use underfoot::reckon::revisit::{Caution, Revisit, Verdict, Visit, revisit};
use underfoot::reckon::{Settings, prepare};
use underfoot::report::revisit_page::{overdue_page, revisit_page};
use underfoot::report::revisit_words::{drift_words, ratio_range};
use underfoot::show::markdown::{fill, plain};
use underfoot::show::terminal;

const HERONSWAY: &str = include_str!("../examples/01-heronsway/walk.yaml");
const MARLPIT: &str = include_str!("../examples/03-marlpit-fold/walk.yaml");
const SELF_CHECK: &str = include_str!("../examples/04-heronsway-self-check/walk.yaml");

// --- The table

/// The text of every file that may ask for a sentence.
fn sources(folder: &Path, into: &mut String) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let kind = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        if path.is_dir() {
            sources(&path, into);
        } else if ["rs", "md", "txt", "html", "js"].contains(&kind) {
            into.push_str(&fs::read_to_string(&path).expect("text"));
        }
    }
}

#[test]
fn every_sentence_is_asked_for_and_every_one_asked_for_is_there() {
    let mut text = String::new();
    ["src", "templates"].iter().for_each(|folder| sources(Path::new(folder), &mut text));
    let quoted: BTreeSet<&str> = text.split('"').collect();
    // Asked for by a name that is put together: months, measures, a figure's caption.
    let built = |key: &str| {
        ["month.", "quantity.", "finding."].iter().any(|start| key.starts_with(start))
            || key.starts_with("figure.") && (key.ends_with(".title") || key.ends_with(".description"))
    };
    let words = english();
    let keys = || words.sentences.keys().chain(english_pages().keys());
    let unused: Vec<&String> = keys().filter(|key| !quoted.contains(key.as_str()) && !built(key)).collect();
    assert_eq!(unused, Vec::<&String>::new(), "nothing asks for these");
    let asks = ["t(\"", "say(\"", "word(\"", "? \"", ": \"script.", "say_for("];
    let asked = asks.iter().flat_map(|ask| {
        let start = ask.find('"').map_or(0, |at| at + 1);
        let rest = ask.get(start..).unwrap_or_default();
        text.split(ask)
            .skip(1)
            .map(move |after| format!("{rest}{}", after.split('"').next().unwrap_or_default()))
    });
    let section = |key: &str| key.split('.').next().unwrap_or_default().to_owned();
    let sections: BTreeSet<String> = keys().filter(|key| key.contains('.')).map(|key| section(key)).collect();
    let is_key = |key: &String| {
        let is_file = [".md", ".yaml", ".html", ".xlsx"].iter().any(|end| key.ends_with(end));
        key.contains('.') && !is_file && !key.contains(['{', ' ']) && sections.contains(&section(key))
    };
    let missing: Vec<String> = asked.filter(is_key).filter(|key| words.forms(key).is_none()).collect();
    assert_eq!(missing, Vec::<String>::new(), "these are asked for and not there");
}

#[test]
fn the_shipped_languages_are_whole() {
    let files = fs::read_dir("checklists/es").expect("the folder").map(|entry| entry.expect("a file").path());
    let mut names: Vec<String> = files.map(|path| path.display().to_string()).collect();
    names.sort();
    let run = underfoot(std::iter::once("check".to_owned()).chain(names.iter().cloned()));
    let run = names.iter().fold(run, |run, name| run.file(name, fs::read(name).expect("the file"))).run();
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert_eq!(run.stderr, "", "every text is given");
}

// --- A language made by machine

/// A text in a language of its own: each letter outside blanks becomes `ж`.
fn foreign(text: &str) -> String {
    let mut inside = false;
    let letter = |letter: char| {
        inside = (inside || letter == '{') && letter != '}';
        if inside || !letter.is_ascii_alphabetic() { letter } else { 'ж' }
    };
    text.chars().map(letter).collect()
}

/// JSON is YAML.
fn file(of: &str, texts: &Value) -> String {
    json!({ "language": "xx", "of": of, "texts": texts }).to_string()
}

fn sentences(english: &Sentences) -> Value {
    let forms = |key: &str, text: &str| match key {
        "number.decimal" => json!(","),
        "number.thousands" => json!("."),
        _ => json!(foreign(text)),
    };
    let said = english.iter().map(|(key, said)| {
        let other = forms(key, &said.other.source());
        let one = said.one.as_ref().map(|one| forms(key, &one.source()));
        (key.clone(), one.map_or(other.clone(), |one| json!({ "one": one, "other": other })))
    });
    said.collect()
}

fn checklist(library: &Library) -> Value {
    let items = library.checklist.items().map(|item| {
        let mut texts = json!({ "ask": foreign(&item.ask) });
        if let Some(look) = &item.look {
            texts["look"] = json!(foreign(look));
        }
        if let Some(unit) = &item.unit {
            texts["unit"] = json!(foreign(unit));
        }
        if let Kind::Choice(choices) = &item.kind {
            let says = choices.iter().map(|choice| (choice.id.clone(), json!(foreign(&choice.say))));
            texts["options"] = says.collect();
        }
        (item.id.clone(), texts)
    });
    let sections = library.checklist.sections.iter().map(|section| {
        let guide = foreign(section.guide.as_deref().unwrap_or("-"));
        (section.id.clone(), json!({ "title": foreign(&section.title), "guide": guide }))
    });
    json!({
        "title": foreign(&library.checklist.title),
        "items": items.collect::<Value>(),
        "sections": sections.collect::<Value>(),
    })
}

/// Every file of the language, by its name.
fn language() -> Vec<(String, String)> {
    let library = read_library(&FileSet::builtin(), "self-check", &mut Findings::new()).expect("sound");
    let factors = library.factors.iter().map(|factor| {
        let why = foreign(factor.why.as_deref().unwrap_or("-"));
        (factor.id.clone(), json!({ "title": foreign(&factor.title), "why": why }))
    });
    let options = library.interventions.iter().map(|option| {
        let caution = foreign(option.caution.as_deref().unwrap_or("-"));
        let (title, how) = (foreign(&option.title), foreign(&option.how));
        (option.id.clone(), json!({ "title": title, "how": how, "caution": caution }))
    });
    let notes = library.burden.costs.iter().filter_map(|row| {
        Some((format!("{}-{}", row.currency, row.system.id()), json!(foreign(row.note.as_ref()?))))
    });
    let lesions =
        library.burden.lesions.iter().map(|(id, it)| (id.id().to_owned(), json!(foreign(&it.name))));
    let lesions = lesions.chain([("costs".to_owned(), notes.collect())]);
    let checklists = ["self-check", "pasture-herd", "housed-herd"].map(|id| {
        let library = read_library(&FileSet::builtin(), id, &mut Findings::new()).expect("sound");
        (id, checklist(&library))
    });
    let texts = [
        ("words", sentences(&english().sentences)),
        ("pages", sentences(english_pages())),
        ("factors", factors.collect()),
        ("interventions", options.collect()),
        ("lesions", lesions.collect()),
    ];
    texts
        .iter()
        .chain(&checklists)
        .map(|(of, texts)| (format!("mine/xx/{of}.yaml"), file(of, texts)))
        .collect()
}

/// Words of Latin letters in a text that a reader sees.
fn latin(text: &str) -> BTreeSet<String> {
    let words = text.split(|letter: char| !letter.is_ascii_alphabetic()).filter(|word| word.len() > 2);
    words.map(str::to_owned).collect()
}

/// A run in the language made by machine, on these files.
fn abroad(arguments: &str, files: &[(&str, &str)]) -> common::Run {
    let run = underfoot(format!("{arguments} --lang xx --checklists mine").split_whitespace());
    let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
    files.iter().fold(run, |run, (name, text)| run.file(name, text))
}

/// English words on a page in the language made by machine, but for those that the files it is written
/// from hold, and the names of studies.
fn left_english(arguments: &str, files: &[(&str, &str)]) -> BTreeSet<String> {
    let run = abroad(arguments, files).run().quiet_success();
    let library = read_library(&FileSet::builtin(), "self-check", &mut Findings::new()).expect("sound");
    let studies = library.sources.iter().map(|source| format!("{source:?}"));
    let given = files.iter().map(|(name, text)| format!("{name} {text}")).chain(studies);
    let names: BTreeSet<String> = given.flat_map(|text| latin(&text)).collect();
    assert!(!run.stdout.contains('{'), "a blank was left open: {}", run.stdout);
    latin(&run.stdout).difference(&names).cloned().collect()
}

fn own(arguments: &str) -> common::Run {
    let run = underfoot(arguments.split(' ')).file("walk.yaml", SELF_CHECK);
    language().iter().fold(run, |run, (name, text)| run.file(name, text))
}

#[test]
fn a_language_needs_no_code_and_no_word_is_left_behind() {
    let report = "report walk.yaml --for farmer --as md --lang xx --checklists mine";
    let run = own(report).run().quiet_success();
    // What the walk record itself says, and what is the same in every language.
    let names = latin(SELF_CHECK);
    let left: Vec<String> = latin(&run.stdout).difference(&names).cloned().collect();
    assert_eq!(left, Vec::<String>::new(), "{}", run.stdout);
    assert!(!run.stdout.contains('{'), "a blank was left open");

    let sheet = own("sheet self-check --as md --lang xx --checklists mine").run().quiet_success().stdout;
    // A threshold's authors and title are printed in HTML alone.
    assert_eq!(latin(&sheet), BTreeSet::new(), "{sheet}");
}

#[test]
fn the_sheets_page_has_no_words_of_its_own() {
    let page = own("sheet self-check --out - --lang xx --checklists mine").run().quiet_success().stdout;
    let (body, _) = page.split_once("<script").expect("the scripts are at the end");
    let body = body.split_once("</style>").expect("the style is in the head").1;
    let mut seen = String::new();
    for piece in body.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').unwrap_or((piece, ""));
        if tag != "p class=\"source\"" && !tag.starts_with("option value=\"EUR") {
            seen.push_str(text);
            seen.push(' ');
        }
        for name in ["aria-label=\"", "placeholder=\"", "title=\""] {
            seen.extend(tag.split(name).skip(1).filter_map(|rest| rest.split('"').next()));
        }
    }
    assert_eq!(latin(&seen), BTreeSet::new());
    assert!(page.contains("<html lang=\"xx\""));
}

// --- Pages: the adviser's report

const TUSSOCK_FLAT: &str = include_str!("../examples/02-tussock-flat/walk.yaml");

/// Pasture and housed, whole and short, with money and without, with records and without.
const WALKS: [&str; 4] = [HERONSWAY, TUSSOCK_FLAT, MARLPIT, SELF_CHECK];

/// A page of a walk in the language made by machine.
fn foreign_page(arguments: &str, walk: &str) -> String {
    abroad(&format!("{arguments} walk.yaml"), &[("walk.yaml", walk)]).run().quiet_success().stdout
}

/// Words of a page that are neither in the language nor what the walk record says between quotation marks
/// or in its notes at the end, nor its currency, nor the name of an author.
fn strange_words(page: &str, walk: &str) -> BTreeSet<String> {
    assert!(!page.contains('{'), "a blank was left open: {page}");
    let library = read_library(&FileSet::builtin(), "self-check", &mut Findings::new()).expect("sound");
    let authors = library.sources.iter().flat_map(|source| source.authors.as_deref());
    let currency = walk.split("currency: ").skip(1).filter_map(|rest| rest.get(..3));
    let notes = walk.split("\nnotes: ").skip(1);
    let given = walk.split('"').skip(1).step_by(2).chain(notes).chain(authors).chain(currency);
    let names: BTreeSet<String> = given.flat_map(latin).collect();
    // The reader is told to write the ids of lesions into the walk record.
    let ids = Lesion::ALL.map(Lesion::id);
    let (last, first) = ids.split_last().expect("lesions");
    let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = page.replace(&format!("{} жжж {last}", first.join(", ")), "");
    let page = page.replace("walk.yaml", "");
    let hash = |part: &&str| part.len() == 64 && part.chars().all(|letter| letter.is_ascii_hexdigit());
    let parts = page.split(' ').filter(|part| !hash(part));
    parts.flat_map(latin).filter(|word| !names.contains(word)).collect()
}

/// The parts of the adviser's report that are its own: without the plan, the farm's records, and the
/// methods behind it.
fn own_parts(report: &str) -> String {
    let parts = report.split("\n## ").take(12).enumerate();
    parts.filter(|(at, _)| ![3, 6].contains(at)).map(|(_, part)| part).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_advisers_report_has_no_words_of_its_own() {
    for walk in WALKS {
        let report = own_parts(&foreign_page("report --as md", walk));
        assert_eq!(strange_words(&report, walk), BTreeSet::new(), "{report}");
    }
    // Its branches, too, that none of these walks takes.
    for template in ["adviser.md", "dangers.md"] {
        let text = fs::read_to_string(format!("templates/{template}")).expect("a template");
        let figures = |line: &&str| !["```figure", "ranking", "causes", "sections"].contains(line);
        let text = text.lines().filter(figures).collect::<Vec<_>>().join("\n");
        let outside = text.split('{').map(|piece| piece.rsplit('}').next().unwrap_or_default());
        assert_eq!(latin(&outside.collect::<String>()), BTreeSet::new(), "{template}");
    }
}

#[test]
fn the_advisers_figures_have_no_words_of_their_own() {
    for walk in WALKS {
        let page = foreign_page("report --out -", walk);
        let figures = page.split("<figure>").skip(1).filter_map(|rest| rest.split("</figure>").next());
        let own = ["ranking", "causes", "sections"].map(|name| format!("id=\"{name}-t\""));
        let figures: Vec<&str> =
            figures.filter(|figure| own.iter().any(|id| figure.contains(id.as_str()))).collect();
        assert_eq!(figures.len(), 3);
        for figure in figures {
            let texts = figure.split('<').filter_map(|piece| Some(piece.split_once('>')?.1));
            assert_eq!(strange_words(&texts.collect::<Vec<_>>().join(" "), walk), BTreeSet::new());
        }
    }
}

#[test]
fn charts_write_numbers_as_the_language_does() {
    let ticks = |language: &str| {
        let arguments = format!("report walk.yaml --budget 20000 --lang {language} --out -");
        let run = underfoot(arguments.split(' ')).file("walk.yaml", HERONSWAY);
        let page = run.run().quiet_success().stdout;
        [">100,000</text>", ">100.000</text>"].map(|tick| page.contains(tick))
    };
    assert_eq!((ticks("en"), ticks("es")), ([true, false], [false, true]));
}

#[test]
fn the_score_has_no_words_of_its_own() {
    for walk in WALKS {
        assert_eq!(strange_words(&foreign_page("score", walk), walk), BTreeSet::new());
    }
}

/// It is asked for often, and reading the pages' sentences would be most of its time.
#[test]
fn the_score_needs_no_sentence_of_the_pages() {
    for walk in WALKS {
        let source = SourceText::new("walk.yaml", walk);
        let farm = job::read_farm(&source, &FileSet::builtin(), &mut Findings::new());
        let mut farm = farm.expect("a sound walk");
        let others = || panic!("a sentence of the pages was asked for");
        farm.library.words = Arc::new(Words { others, ..(*farm.library.words).clone() });
        let settings = Settings { draws: 256, ..Settings::default() };
        let reckoned = job::reckon(&farm, settings).expect("it can be reckoned");
        assert!(terminal::score(&farm.library.words, &reckoned.page(), 80).contains("WHAT TO CHANGE"));
    }
}

// --- Pages: where a weight comes from

/// What the files of the evidence say, longest first. It stands on a page as it stands in them: they have no
/// translation.
fn evidence_texts(library: &Library) -> Vec<String> {
    let effects = library.effects.iter().flat_map(|effect| {
        [Some(&effect.id), Some(&effect.contrast), effect.note.as_ref()].into_iter().flatten()
    });
    let sources = library.sources.iter().flat_map(|source| {
        [Some(&source.id), Some(&source.title), source.journal.as_ref(), source.doi.as_ref()]
            .into_iter()
            .flatten()
    });
    let burden = &library.burden;
    let constants = burden.constants.provenance.iter();
    let keys = constants.clone().map(|constant| &constant.key);
    let systems = System::ALL.map(|system| burden.system(system));
    let provenances = systems
        .iter()
        .flat_map(|of| [&of.incidence_provenance, &of.lesion_mix_provenance, &of.duration_provenance]);
    let notes = constants.map(|constant| &constant.provenance).chain(provenances);
    let notes = notes.filter_map(|it| it.note.as_ref());
    let notes = notes.chain(burden.costs.iter().filter_map(|cost| cost.note.as_ref()));
    let factors = library.factors.iter().map(|factor| &factor.id);
    let texts = effects.chain(sources).chain(keys).chain(notes).chain(factors).cloned();
    let more = ["incidence", "lesion_mix", "duration_days", "costs", "cost_share_growing_with_length"];
    let mut texts: Vec<String> = texts.chain(more.map(str::to_owned)).collect();
    texts.sort_by_key(|text| std::cmp::Reverse(text.len()));
    texts
}

/// English words of a text, but for what the evidence says, names of authors, and other texts given.
fn english_beside_evidence(text: &str, library: &Library, others: &[&str]) -> BTreeSet<String> {
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut text = one_line(&text.replace('\\', ""));
    let evidence = evidence_texts(library);
    for known in evidence.iter().map(String::as_str).chain(others.iter().copied()) {
        text = text.replace(&one_line(known), " ");
    }
    let authors = library.sources.iter().filter_map(|source| source.authors.as_deref());
    let authors: BTreeSet<String> = authors.flat_map(latin).collect();
    assert!(text.contains('ж') && !text.contains('{'), "written, and no blank left open: {text}");
    latin(&text).difference(&authors).cloned().collect()
}

fn library_of(checklist: &str) -> Library {
    read_library(&FileSet::builtin(), checklist, &mut Findings::new()).expect("sound")
}

/// What a run on the walk writes, without the names of the files.
fn foreign_run(arguments: &str, walk: &str) -> common::Outcome {
    abroad(&format!("{arguments} --quiet"), &[("walk.yaml", walk)]).run().quiet_success()
}

#[test]
fn the_methods_page_is_written_in_any_language() {
    for (walk, checklist) in [(HERONSWAY, "pasture-herd"), (MARLPIT, "housed-herd")] {
        let page = foreign_run("report walk.yaml --draws 256 --as md", walk).stdout;
        let heading = format!("## {}\n", foreign("How this was reckoned"));
        let (_, page) = page.split_once(&heading).expect("the methods");
        let library = library_of(checklist);
        // Currencies of the published costs, and the name of a number.
        let left = english_beside_evidence(page, &library, &["EUR", "USD", "GBP", "doi:"]);
        assert_eq!(left, BTreeSet::new(), "{page}");
    }
}

#[test]
fn the_evidence_is_written_in_any_language() {
    for (system, factors) in [
        ("pasture", &["overgrown-claws", "herding-pressure", "wet-slurry", "track-cover", "bought-in"][..]),
        ("housed", &["shallow-bedding", "footbath-gaps", "bare-concrete", "cubicle-fit", "late-treatment"]),
    ] {
        let library = library_of(&format!("{system}-herd"));
        let overview = format!("evidence --system {system}");
        let pages = factors.iter().map(|factor| format!("evidence {factor} --system {system}"));
        for arguments in pages.chain([overview]) {
            let page = foreign_run(&arguments, "").stdout;
            assert_eq!(english_beside_evidence(&page, &library, &[]), BTreeSet::new(), "{page}");
        }
    }
}

/// What a walk says in its own words: all that stands in quotes in it.
fn quotes(walk: &str) -> Vec<&str> {
    let mut quotes: Vec<&str> = walk.split('"').skip(1).step_by(2).collect();
    quotes.sort_by_key(|quote| std::cmp::Reverse(quote.len()));
    quotes
}

/// Text cells of a workbook, and the names of its sheets.
fn texts_of(bytes: Vec<u8>) -> Vec<String> {
    let mut file: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
    let sheets = file.worksheets();
    let cells = sheets.iter().flat_map(|(_, cells)| cells.cells());
    let texts = cells.filter_map(|(_, _, cell)| cell.get_string().map(str::to_owned));
    let names = sheets.iter().map(|(name, _)| name.clone());
    names.chain(texts).collect()
}

#[test]
fn the_workbook_is_written_in_any_language() {
    for (walk, checklist) in [(HERONSWAY, "pasture-herd"), (MARLPIT, "housed-herd")] {
        let library = library_of(checklist);
        let lesions = Lesion::ALL.map(|lesion| lesion.id().to_owned());
        let items = library.checklist.items().map(|item| item.id.clone());
        let ids: BTreeSet<String> = lesions.into_iter().chain(items).collect();
        let options: BTreeSet<&str> = library.interventions.iter().map(|option| option.id.as_str()).collect();
        // Ids as `--must` takes them: an option, and where.
        let is_option = |word: &str| options.contains(word.split(':').next().unwrap_or_default());
        let is_sum = |word: &str| word.len() == 64 && word.chars().all(|c| c.is_ascii_hexdigit());
        let run = foreign_run("report walk.yaml --draws 256 --as xlsx", walk);
        let texts = texts_of(run.files.get("walk-report.xlsx").expect("the workbook").clone());
        let shown = texts.iter().filter(|text| !ids.contains(*text) && !text.split(' ').all(is_option));
        let words = shown.flat_map(|text| text.split(' ')).filter(|word| !is_sum(word));
        let shown = words.collect::<Vec<_>>().join(" ");
        // The program, its checklist, the files that were read, and what the walk says.
        let mut known = vec!["EUR", "GBP", "underfoot", checklist, "walk.yaml"];
        let files = language();
        known.extend(files.iter().map(|(name, _)| name.as_str()));
        known.extend(quotes(walk));
        assert_eq!(english_beside_evidence(&shown, &library, &known), BTreeSet::new());
    }
}

// --- Pages: the plan

/// A walk whose own names are not Latin either.
fn unnamed_walk() -> String {
    ["Heronsway", "Home lane, yard to the ash tree", "River lane", "Hill lane", "Old quarry lane"]
        .iter()
        .fold(HERONSWAY.to_owned(), |walk, name| walk.replace(&format!("\"{name}\""), "\"жж\""))
}

/// The walk in a currency in which no price is shipped: only what it prices itself can be costed.
fn in_francs(walk: &str) -> String {
    let yearly = "capital: [70, 110, 160], yearly: [1, 2, 3]";
    walk.replace("currency: EUR", "currency: CHF").replace("capital: [70, 110, 160]", yearly)
}

/// A plan, or a report with one.
fn planned(arguments: &str, walk: &str) -> common::Outcome {
    abroad(&format!("{arguments} --draws 256"), &[("walk.yaml", walk)]).run()
}

/// Holds that a text has no Latin letter but in these words, and no open blank.
#[track_caller]
fn nothing_but(allowed: &[&str], text: &str) {
    let words = text.split(|letter: char| !letter.is_ascii_alphabetic()).filter(|word| !word.is_empty());
    let left: BTreeSet<&str> = words.filter(|word| !allowed.contains(word)).collect();
    assert!(left.is_empty() && !text.contains('{'), "{left:?} in {text}");
}

/// Holds that a page shows the sentence of a key, as far as its first blank.
#[track_caller]
fn shows(key: &str, page: &str) {
    let sentence = foreign(&english_pages()[key].other.source());
    let opening = sentence.split('{').next().unwrap_or_default().trim();
    let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!opening.is_empty() && page.contains(opening), "{key}: {opening} not in {page}");
}

/// A chapter of a report, from the heading of a key on.
#[track_caller]
fn chapter(key: &str, page: &str) -> String {
    let heading = foreign(&english_pages()[key].other.source());
    let heading = format!("\n## {}", heading.split('{').next().unwrap_or_default());
    let (_, chapter) = page.split_once(&heading).expect("the chapter is there");
    chapter.split("\n## ").next().unwrap_or_default().to_owned()
}

#[test]
fn a_plan_has_no_words_of_its_own() {
    let walk = unnamed_walk();
    let untrimmed = walk.replace("  overgrown: { count: 5, of: 60 }\n", "");
    let francs = in_francs(&walk);
    for (arguments, walk, shown) in [
        ("--budget 5000", &walk, "plan.by-money.other"),
        ("--budget 1000 --rank-by net-benefit", &walk, "plan.look.more"),
        ("--budget 3000", &untrimmed, "plan.look.new"),
        ("--budget 20000 --rank-by lame-days", &walk, "plan.saves"),
        ("--must build-apron --never rubber-yard", &walk, "plan.things.no-limit"),
        ("--must build-apron", &francs, "plan.first.until"),
        ("--budget 9000", &francs, "plan.nothing.budget"),
    ] {
        for format in ["text", "md"] {
            let run = planned(&format!("plan walk.yaml {arguments} --as {format}"), walk).quiet_success();
            nothing_but(&["EUR", "CHF"], &run.stdout);
            shows(shown, &run.stdout);
        }
    }
}

#[test]
fn the_plans_figure_has_no_words_of_its_own() {
    for measure in ["cases", "lame-days", "net-benefit"] {
        let arguments = format!("plan walk.yaml --budget 5000 --rank-by {measure} --as html --out -");
        let page = planned(&arguments, &unnamed_walk()).quiet_success().stdout;
        let (_, figure) = page.split_once("<figure>").expect("a figure");
        let (figure, _) = figure.split_once("</figure>").expect("its end");
        let texts = figure.split('<').filter_map(|piece| Some(piece.split_once('>')?.1));
        let texts = texts.collect::<Vec<_>>().join(" ");
        nothing_but(&["EUR"], &texts);
        shows("figure.frontier.title", &texts);
        shows("figure.frontier.description", &texts);
        shows("plan.to-spend", &texts);
        let named = figure.split("aria-label=\"").skip(1).filter_map(|rest| rest.split('"').next());
        nothing_but(&["EUR"], &named.collect::<String>());
    }
}

#[test]
fn the_plan_in_a_report_has_no_words_of_its_own() {
    let walk = unnamed_walk();
    let farmer = planned("report walk.yaml --for farmer --budget 5000 --as md", &walk).quiet_success();
    nothing_but(&["EUR"], &farmer.stdout);
    let for_sum = foreign(&english().sentences["farmer.for-sum"].other.source());
    let (_, after) = for_sum.split_once("{all}").expect("a blank");
    assert!(farmer.stdout.contains(after), "{}", farmer.stdout);

    let within = planned("report walk.yaml --budget 5000 --as md", &walk).quiet_success().stdout;
    nothing_but(&["EUR"], &chapter("plan.chapter", &within));
    let no_currency = walk.replace("currency: EUR, ", "");
    let francs = in_francs(&walk);
    for (walk, shown) in
        [(&walk, "plan.added-up"), (&no_currency, "plan.none-priced"), (&francs, "plan.unpriced")]
    {
        let page = planned("report walk.yaml --as md", walk).quiet_success().stdout;
        let told = chapter("plan.chapter.first", &page);
        nothing_but(&["EUR", "CHF"], &told);
        shows(shown, &told);
    }
}

#[test]
fn a_refused_plan_is_told_in_the_language() {
    let walk = unnamed_walk();
    let no_currency = walk.replace("currency: EUR, ", "");
    for (arguments, walk, shown) in [
        ("--budget -1", &walk, "plan.refused.budget"),
        ("--must drift-home --never drift-home", &walk, "plan.refused.must-and-never"),
        ("--must build-apron --budget 10", &walk, "plan.refused.below-musts"),
        ("--must rubber-yard --must groove-concrete", &walk, "plan.refused.must-exclude"),
        ("", &no_currency, "plan.refused.no-prices"),
        ("--rank-by net-benefit", &no_currency, "plan.refused.money"),
    ] {
        let run = planned(&format!("plan walk.yaml {arguments}"), walk);
        let ids = ["error", "build", "apron", "drift", "home", "rubber", "yard", "groove", "concrete", "EUR"];
        nothing_but(&ids, &run.stderr);
        let refusal = foreign(&english_pages()[shown].other.source());
        let longest = refusal.split(['{', '}']).max_by_key(|piece| piece.len()).expect("a piece");
        assert!(run.code != 0 && run.stderr.contains(longest), "{arguments}: {}", run.stderr);
    }
}

#[test]
fn the_blank_actions_have_no_words_of_their_own() {
    let run = planned("plan walk.yaml --budget 5000 --write-actions agreed.yaml", &unnamed_walk());
    let agreed = run.text("agreed.yaml");
    let remarks = agreed.lines().filter_map(|line| Some(line.split_once("# ")?.1));
    let remarks = remarks.collect::<Vec<_>>().join(" ");
    nothing_but(&["EUR"], &remarks);
    ["actions.head", "actions.part", "actions.reckoned"].iter().for_each(|key| shows(key, &remarks));
    assert!(agreed.lines().all(|line| !line.starts_with('#') || line.chars().count() <= 80), "{agreed}");
}

// --- Pages: did it work, and what is overdue

const HERONSWAY_2026: &str = include_str!("../examples/01-heronsway/walk-2026.yaml");
const AGREED: &str = include_str!("../examples/01-heronsway/actions.yaml");
const HOUSED: &str = include_str!("../examples/03-marlpit-fold/walk.yaml");

/// An example whose people wrote in the language made by machine, so that no word of theirs excuses one
/// of a page.
fn written_abroad(text: &str) -> String {
    let theirs = [
        "Heronsway",
        "Marlpit Fold",
        "Home lane, yard to the ash tree",
        "River lane",
        "Hill lane",
        "Old quarry lane",
        "no photograph: the milker asked not to be in the picture",
        "the trimmer keeps that book and was not there",
        "too dark by the time the last row came in",
        "differs from day to day; nobody keeps it",
        "Colm, with the builder from the village",
        "Colm",
        "Ines",
        "everyone who milks",
        "Kerb rounded off; swept after each morning milking.",
        "Half of it: the turn into the bails and the first rows. The rest waits for next year.",
        "Write down the day each lame cow is first seen",
        "A board beside the vat.",
    ];
    let quoted = |text: &str| format!("\"{text}\"");
    theirs.iter().fold(text.to_owned(), |text, said| text.replace(&quoted(said), &quoted(&foreign(said))))
}

/// A walk with other records: the one line that YAML needs for them, or `null`.
fn with_records(walk: &str, records: &str) -> String {
    let (before, rest) = walk.split_once("\nrecords:").expect("the example has records");
    let notes = rest.split_once("\nnotes:").map_or("null", |(_, notes)| notes);
    format!("{before}\nrecords: {records}\nnotes:{notes}")
}

fn counted(from: &str, to: &str, cases: u32) -> String {
    let counts = format!("seen_by: [farmer], counts: {{ unrecorded: {cases} }}");
    format!("{{ from: {from}, to: {to}, average_cows: 280, {counts} }}")
}

/// Holds that nothing a reader sees is English but what is the same in every language.
#[track_caller]
fn none_but(same: &[&str], seen: &str) {
    let left: Vec<String> = latin(seen).into_iter().filter(|word| !same.contains(&word.as_str())).collect();
    assert_eq!(left, Vec::<String>::new(), "{seen}");
    assert!(!seen.contains('{'), "a blank was left open: {seen}");
}

/// The text of a page without its tags and its style sheets.
fn without_tags(page: &str) -> String {
    let styled =
        page.split("<style>").map(|part| part.split_once("</style>").map_or(part, |(_, after)| after));
    let page: String = styled.collect();
    let texts = page.split('<').map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text));
    texts.collect::<Vec<_>>().join(" ").replace("&quot;", "\"").replace("&amp;", "&")
}

#[test]
fn coming_back_has_no_words_of_its_own() {
    let (before, after) = (written_abroad(HERONSWAY), written_abroad(HERONSWAY_2026));
    let actions = written_abroad(AGREED);
    let housed = written_abroad(HOUSED);
    let a_year_on = housed.replace("date: 2025-02-18", "date: 2026-02-18");
    let one_case = "date,cow,lesion,first sign\n2024-11-12,7,white-line,2024-11-02\n";
    let by_cases = |walk: &str, file: &str, period: &str| {
        let records = format!("{{ {period}, average_cows: 280, seen_by: [farmer] }}");
        with_records(walk, &records).replace("cases: null", &format!("cases: {file}"))
    };
    let third = after.replace("date: 2026-10-06", "date: 2027-10-06");
    let third = with_records(&third, &counted("2026-10-01", "2027-09-30", 3));
    let line = "revisit before.yaml after.yaml third.yaml --actions actions.yaml";
    let two = "revisit before.yaml after.yaml";
    let pairs = [
        (format!("{two} --actions actions.yaml"), before.clone(), after.clone()),
        (two.to_owned(), with_records(&before, "null"), with_records(&after, "null")),
        (
            two.to_owned(),
            by_cases(&before, "first.csv", "from: 2024-10-01, to: 2025-04-30"),
            by_cases(&after, "last.csv", "from: 2025-10-01, to: 2026-09-30"),
        ),
        (two.to_owned(), with_records(&housed, &counted("2024-02-01", "2025-01-31", 60)), {
            with_records(&a_year_on, &counted("2025-02-01", "2026-01-31", 9))
        }),
        (line.to_owned(), before, after),
    ];
    for (arguments, before, after) in pairs {
        for format in ["text", "md", "html"] {
            let run = underfoot(format!("{arguments} --draws 256 --as {format} --lang xx").split(' '));
            let run = if format == "html" { run.args(["--out", "-"]) } else { run };
            let run =
                run.args(["--checklists", "mine"]).file("before.yaml", &before).file("after.yaml", &after);
            let run =
                run.file("third.yaml", &third).file("actions.yaml", &actions).file("first.csv", one_case);
            let run = run.file("last.csv", one_case.replace("2024-", "2025-"));
            let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
            none_but(&["EUR"], &without_tags(&run.run().done().stdout));
        }
    }
    // The examples as they are.
    let files = [("a.yaml", HERONSWAY), ("b.yaml", HERONSWAY_2026), ("actions.yaml", AGREED)];
    let left = left_english("revisit a.yaml b.yaml --actions actions.yaml --as md", &files);
    assert_eq!(left, BTreeSet::new());
}

#[test]
fn what_is_overdue_has_no_words_of_its_own() {
    let (walk, actions) = (written_abroad(HERONSWAY), written_abroad(AGREED));
    let undone = actions.replace("done: 2", "done: null # 2").replace("real_cost: ", "real_cost: null # ");
    let undone = undone.replace("by: 2026-02-28", "by: null").replace("who: \"ж", "who: null # \"ж");
    let undone = undone.replace("done_share: ", "done_share: 1 # ");
    for (actions, days) in
        [(actions, ["2026-03-01", "2026-03-15", "2026-03-16"]), (undone, ["2025-11-01"; 3])]
    {
        for (day, rest) in days.iter().zip(["", " --walk walk.yaml", ""]) {
            for format in ["text", "md", "html --out -"] {
                let arguments = format!("overdue actions.yaml --on {day} --as {format}{rest}");
                let run = underfoot(format!("{arguments} --lang xx --checklists mine").split(' '));
                let run = run.file("walk.yaml", &walk).file("actions.yaml", &actions);
                let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
                none_but(&["EUR"], &without_tags(&run.run().quiet_success().stdout));
            }
        }
    }
}

/// The words of the language with the key of each sentence before it.
fn marked() -> Words {
    let sentences = english().sentences.clone().into_iter().chain(english_pages().clone());
    let marked = |key: &str, said: &Sentence| {
        Sentence::new(&format!("⟨{key}⟩{}", foreign(&said.source()))).expect("well formed")
    };
    let of = |(key, said): (String, Forms)| {
        let forms =
            Forms { one: said.one.as_ref().map(|it| marked(&key, it)), other: marked(&key, &said.other) };
        (key, forms)
    };
    Words { language: "xx".to_owned(), sentences: sentences.map(of).collect(), others: english_pages }
}

/// Every text in a value.
fn texts_in(value: &Value, into: &mut String) {
    match value {
        Value::String(text) => into.push_str(&format!("{text}\n")),
        Value::Array(list) => list.iter().for_each(|value| texts_in(value, into)),
        Value::Object(fields) => {
            fields.iter().filter(|(name, _)| *name != "kind").for_each(|(_, value)| texts_in(value, into));
        }
        _ => {}
    }
}

/// What a page and its figures say, and the page filled in.
fn all_said(words: &Arc<Words>, template: &str, page: &impl serde::Serialize, figures: &Value) -> String {
    let mut said = plain(&fill(words, template, page).expect("the template is right"));
    texts_in(&serde_json::to_value(page).expect("JSON"), &mut said);
    texts_in(figures, &mut said);
    said
}

fn with(seen: &Revisit, change: impl Fn(&mut Revisit)) -> Revisit {
    let mut seen = seen.clone();
    change(&mut seen);
    seen
}

fn a_day() -> NaiveDate {
    "2026-01-16".parse().expect("a day")
}

/// What no example comes to is put into the outcome of one that is: every verdict, and every reason for none.
fn verdicts(seen: &Revisit) -> Vec<Revisit> {
    let verdicts = [
        Verdict::TooFew,
        Verdict::MayBeChance,
        Verdict::FewerWithoutChange,
        Verdict::FewerAsExpected,
        Verdict::FewerThanExpected,
        Verdict::LessThanExpected,
        Verdict::More,
    ];
    let no_rates = [
        NoRates::NoRecords { before: true, after: true },
        NoRates::NoRecords { before: true, after: false },
        NoRates::NoRecords { before: false, after: true },
        NoRates::Overlap { from: a_day(), to: a_day() },
        NoRates::Reversed,
        NoRates::NoCases,
        NoRates::NotReckoned,
    ];
    let seasons = [Season::NoCaseDays, Season::NoMonthInCommon, Season::SameMonths((1..=12).collect())];
    let of_season = |season: Season| {
        with(seen, |it| {
            it.verdict = Verdict::NotComparable;
            it.rates.as_mut().expect("rates").compared.season = season.clone();
        })
    };
    let mut all: Vec<Revisit> = verdicts.map(|verdict| with(seen, |it| it.verdict = verdict)).into();
    all.extend(no_rates.map(|reason| with(seen, |it| it.rates = Err(reason))));
    all.extend(seasons.map(of_season));
    all.push(with(seen, |it| {
        let name = || "ж".to_owned();
        it.verdict = Verdict::NotComparable;
        it.cautions = vec![
            Caution::Renamed { before: name(), after: name() },
            Caution::HerdChanged { before: 1200.0, after: 3000.0 },
            Caution::ObserversDiffer,
            Caution::RecordsBeforeFirstWalk { from: a_day(), walk: a_day() },
            Caution::UnlikeLength { before: 730, after: 365 },
            Caution::BeforeEffect { action: 0, effect: a_day() },
            Caution::SegmentsChanged,
            Caution::ActionsOfOtherWalk { walk: a_day() },
        ];
    }));
    all
}

/// The same of what was expected, how long it takes to see, and what it teaches.
fn expectations(seen: &Revisit) -> Vec<Revisit> {
    let mut all = Vec::new();
    for (place, agrees) in [(0.01, Some(false)), (0.99, Some(false)), (0.5, Some(true)), (0.5, None)] {
        all.push(with(seen, |it| {
            (it.expected.place, it.expected.agrees) = (Some(place), agrees);
            (it.expected.mean, it.expected.range) = (it.expected.in_full, Some((0.5, 2.5)));
        }));
    }
    for (months, in_full) in [(Some(1), 0.8), (None, 0.8), (None, 1.0)] {
        all.push(with(seen, |it| (it.months_to_see, it.expected.in_full) = (months, in_full)));
    }
    let reasons = [
        NotLearned::NoRates,
        NotLearned::NotComparable,
        NotLearned::NothingChanged,
        NotLearned::FewEffective { effective_draws: 12.0, draws: 1024 },
    ];
    all.extend(reasons.map(|reason| with(seen, |it| it.learned = Err(reason))));
    // No ratio, one of 1, and one beyond drift.
    for (ratio, cases) in [(None, 0), (Some(1.0), 1), (Some(1.0), 7), (Some(0.2), 1)] {
        all.push(with(seen, |it| {
            let rates = it.rates.as_mut().expect("rates");
            rates.compared.before.cases = cases;
            (rates.ratio.ratio, rates.ratio.high, rates.ratio.p_central) = (ratio, ratio, 0.000_1);
            it.drift.as_mut().expect("a ratio").could_explain = ratio != Some(0.2);
        }));
    }
    all
}

/// The same of what was found, done and watched.
fn findings_and_signs(seen: &Revisit) -> Vec<Revisit> {
    let states = [
        State::PutRight,
        State::Partly,
        State::AsBefore,
        State::Worse,
        State::StayedGood,
        State::MayBeChance,
        State::OnlyBefore,
        State::OnlyAfter,
        State::Neither,
        State::OtherItems,
    ];
    let in_turn = || states.iter().copied().cycle();
    let every_state = with(seen, |it| {
        it.items.iter_mut().zip(in_turn()).for_each(|(item, state)| item.state = state);
        it.factors.iter_mut().zip(in_turn()).for_each(|(factor, state)| factor.state = state);
        it.actions.iter_mut().for_each(|review| review.seen = vec![(0, State::Worse)]);
    });
    let nothing = with(seen, |it| {
        it.items.clear();
        it.days_to_treatment = (None, Some(7.0));
        it.line.iter_mut().for_each(|moment| (moment.score, moment.rate) = (None, None));
    });
    let third_walk = with(seen, |it| {
        it.line.push(it.line[0]);
        it.line.iter_mut().filter_map(|moment| moment.rate.as_mut()).for_each(|rate| rate.0 = 1);
        let shows = [(None, None), (Some(1.0), Some(a_day())), (Some(6.0), None)];
        for (sign, (weeks, from)) in it.signs.iter_mut().zip(shows) {
            (sign.weeks_to_cases, sign.from, sign.done, sign.treatment) = (weeks, from, false, true);
        }
    });
    let standing = |it: &mut Revisit, first: Standing| {
        it.actions.iter_mut().for_each(|review| review.standing = Standing::Done(a_day()));
        it.actions[0].standing = first;
    };
    let all_done = with(seen, |it| standing(it, Standing::Done(a_day())));
    let one_late = with(seen, |it| standing(it, Standing::Overdue(3)));
    vec![every_state, nothing, third_walk, all_done, one_late]
}

/// Actions late by one day and by more, due today, tomorrow and later, and without a day; who does them, and for
/// how much, is open.
fn open_actions(agreed: &Actions, today: NaiveDate) -> Actions {
    let late = |days: i64| Some(today - chrono::Duration::days(days));
    let open = |by: Option<NaiveDate>| Action {
        by,
        done: None,
        who: None,
        agreed_cost: None,
        ..agreed.list[0].clone()
    };
    let days = [late(1), late(9), late(0), late(-1), late(-9), None];
    Actions { list: days.map(open).into(), ..agreed.clone() }
}

#[test]
fn every_sentence_of_coming_back_is_printed_and_none_beside() {
    let mut files = FileSet::builtin();
    for (name, text) in language() {
        files.overlay(&name.replace("mine/", ""), SourceText::new(&name, text));
    }
    let words = Arc::new(marked());
    let read = |text: &str| {
        let source = SourceText::new("walk.yaml", written_abroad(text));
        let (mut library, walk) = read_walk(&source, &files, &mut Findings::new()).expect("sound");
        translate(&mut library, &files, "xx", &mut Findings::new());
        library.words = Arc::clone(&words);
        (library, walk)
    };
    let ((library, before), (_, after)) = (read(HERONSWAY), read(HERONSWAY_2026));
    let source = SourceText::new("actions.yaml", written_abroad(AGREED));
    let agreed = read_actions(&source, &library.interventions, Some(&before), &mut Findings::new());
    let agreed = agreed.expect("sound");
    let settings = Settings { draws: 256, ..Settings::default() };
    let prepared = [&before, &after].map(|walk| prepare(&library, walk, settings).expect("it is reckoned"));
    let visits = [
        Visit { days_to_treatment: Some(12.0), ..Visit::new(&prepared[0]) },
        Visit { days_to_treatment: Some(7.0), ..Visit::new(&prepared[1]) },
    ];
    let seen = revisit(&visits, Some(&agreed)).expect("the walks belong together");
    // One action is done in part; here all are done in full.
    let mut in_full = agreed.clone();
    in_full.list.iter_mut().for_each(|action| action.done_share = 1.0);
    let mut said = String::new();
    let outcomes = [verdicts(&seen), expectations(&seen), findings_and_signs(&seen), vec![seen.clone()]];
    for (seen, agreed) in outcomes.iter().flatten().flat_map(|seen| [(seen, &agreed), (seen, &in_full)]) {
        let report = revisit_page(&visits, seen, Some(agreed)).expect("there are walks");
        let figures = serde_json::to_value(&report.figures).expect("JSON");
        said.push_str(&all_said(&words, "revisit.md", &report.page, &figures));
    }
    said.push_str(&drift_words(&words, &seen, System::Housed));
    said.push_str(&ratio_range(&words, 0.5, None));
    let (open, none) = (open_actions(&agreed, a_day()), Actions { list: Vec::new(), ..agreed.clone() });
    for (agreed, day) in [(&agreed, after.date), (&open, a_day()), (&none, a_day())] {
        let page = overdue_page(&words, &library.interventions, &before.segments, agreed, day);
        said.push_str(&all_said(&words, "overdue.md", &page, &Value::Null));
    }

    let (mut keys, mut rest) = (BTreeSet::new(), String::new());
    for part in said.split('⟨') {
        let (key, text) = part.split_once('⟩').unwrap_or(("", part));
        keys.insert(key);
        rest.push_str(text);
    }
    none_but(&["EUR"], &rest);
    // The title of the page in a browser is asked for by the command.
    let ours = |key: &&str| ["revisit.", "overdue."].iter().any(|start| key.starts_with(start));
    let wanted = words.sentences.keys().map(String::as_str).filter(ours);
    let unsaid: Vec<&str> =
        wanted.filter(|key| !keys.contains(key) && *key != "revisit.page-title").collect();
    assert_eq!(unsaid, Vec::<&str>::new(), "printed by no outcome");
}

// --- Pages: the group

/// A page in the language made by machine, of files that are full of English themselves: no word of
/// theirs is let through.
fn page(arguments: &str, files: &[(String, String)]) -> String {
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let run = abroad(arguments, &files).run().done();
    let is_blank =
        |name: &str| !name.is_empty() && name.chars().all(|it| it.is_ascii_lowercase() || it == '_');
    let mut braces = run.stdout.split('{').skip(1).filter_map(|rest| Some(rest.split_once('}')?.0));
    assert_eq!(braces.find(|name| is_blank(name)), None, "a blank was left open");
    assert_ne!(run.stdout, "", "{arguments}");
    run.stdout
}

/// What a reader sees of a page for the browser.
fn seen(page: &str) -> String {
    let (head, body) = page.split_once("<style>").expect("a style");
    let title = head.split_once("<title>").expect("a title").1;
    let body = body.split_once("</style>").expect("the end of the style").1;
    let pieces = format!("title>{title}{body}");
    pieces.split('<').filter_map(|piece| piece.split_once('>')).map(|(_, text)| format!("{text} ")).collect()
}

/// Every form of a page, without the marks of HTML.
fn forms(arguments: &str, files: &[(String, String)]) -> [String; 3] {
    ["text", "md", "html"].map(|form| {
        let page = page(&format!("{arguments} --as {form} --out -"), files);
        if form == "html" { seen(&page) } else { page }
    })
}

/// The cards of the example whose names hold this.
fn cards(of: &str) -> Vec<(String, String)> {
    let entries = fs::read_dir("examples/group").expect("the example");
    let paths = entries.map(|entry| entry.expect("a file").path());
    let named = paths.map(|path| (path.file_name().expect("a name").to_string_lossy().into_owned(), path));
    let mut cards: Vec<(String, String)> = named
        .filter(|(name, _)| name.ends_with(".yaml") && name.contains(of))
        .map(|(name, path)| (name, fs::read_to_string(path).expect("a card")))
        .collect();
    cards.sort();
    cards
}

#[test]
fn the_groups_page_is_in_its_language_of_many_farms_and_of_few() {
    let few = |count: usize| {
        let codes: Vec<String> = cards("-2026").iter().map(|(name, _)| name[..7].to_owned()).collect();
        let mut few = cards("");
        few.retain(|(name, _)| codes[..count].iter().any(|code| name.starts_with(code.as_str())));
        few
    };
    let one = &cards("hx9-kdw-2026")[0].1;
    // Sixty-four of one rate: more than a page lists, with nothing to tell them apart.
    let digits = ["2", "3", "4", "5", "6", "7", "8", "9"];
    let alike = digits.iter().flat_map(|a| digits.map(|b| format!("{a}{b}x-kdw")));
    let alike: Vec<(String, String)> =
        alike.map(|code| (format!("{code}.yaml"), one.replace("hx9-kdw", &code))).collect();
    for files in [cards(""), cards("-2026"), few(6), few(3), alike] {
        let mine = files[0].0[..7].to_owned();
        for whose in [String::new(), format!(" --mine {mine}")] {
            for form in forms(&format!("group . --draws 256{whose}"), &files) {
                assert_eq!(latin(&form), BTreeSet::new(), "{} cards{whose}:\n{form}", files.len());
            }
        }
    }
}

/// The words above the fields are in the language; the fields are what another farm's program reads.
#[test]
fn a_card_tells_of_its_fields_in_its_language() {
    let files = |code: &str| {
        let code = ("farm-code.txt".to_owned(), format!("{code}\n"));
        vec![("walk.yaml".to_owned(), HERONSWAY.to_owned()), code]
    };
    let card = page("card walk.yaml", &files("hx9-kdw"));
    let told: Vec<&str> = card.lines().filter(|line| line.starts_with('#')).collect();
    assert!(told.len() > 11 && told.iter().all(|line| latin(line).is_empty()), "{card}");
    let run = underfoot(["card", "walk.yaml"]).file("walk.yaml", HERONSWAY);
    let plain = run.file("farm-code.txt", "hx9-kdw\n").run().done().stdout;
    let fields = |card: &str| card.lines().filter(|line| !line.starts_with('#')).collect::<String>();
    assert_eq!(fields(&card), fields(&plain));
    let text = page("group card.yaml --as text", &[("card.yaml".to_owned(), card)]);
    assert_eq!(latin(&text), BTreeSet::new(), "{text}");
}

// --- Pages: records, and how much to look at

/// Three cases, one of them of a word that is not known, with a bad row and with all that may be told of few.
const THREE: &str = "date,cow,foot,claw,lesion,seen by,first seen,lactation,dim\n\
    2025-03-04,112,LH,outer,WL,vet,2025-03-01,1,20\n2025-03-20,112,LH,outer,WL,vet,,1,36\n\
    2025-05-02,7,RF,,mystery,vet,2025-05-02,4,200\n2025-09-09,311,,,,vet,,2,300\n\
    2023-01-01,99,LF,,sole,,,,\nbad,1,LF,,sole,vet,,,\n";
const THIRTY: &str = include_str!("../examples/05-sallow-bridge/cases.csv");
const SCORES: &str = include_str!("../examples/05-sallow-bridge/scores.csv");
const SALLOW_BRIDGE: &str = include_str!("../examples/05-sallow-bridge/walk.yaml");

#[test]
fn what_the_records_say_is_in_its_language() {
    let year = "--from 2025-01-01 --to 2025-12-31";
    for (table, arguments) in [
        (THIRTY, format!("--cows 186 {year}")),
        (THIRTY, "--cows 20".to_owned()),
        (THREE, format!("--cows 2 --skip-bad {year}")),
        (THREE, "--cows 186 --skip-bad --from 2024-01-01".to_owned()),
        (&THIRTY.replace("farmer", "").replace("vet", "").replace("trimmer", ""), "--cows 186".to_owned()),
    ] {
        let files = [("cases.csv".to_owned(), table.to_owned())];
        for form in forms(&format!("cases cases.csv {arguments}"), &files) {
            // The words that were not known are shown as they were written.
            assert_eq!(
                &latin(&form) - &latin("mystery, swollen hock"),
                BTreeSet::new(),
                "{arguments}:\n{form}"
            );
        }
    }
}

/// The records' part of a report: from its title to the next.
fn records_part(report: &str) -> &str {
    let title = foreign(&english_pages()["own-records.title"].other.source());
    let part = report.split_once(&format!("## {title}\n")).expect("the part").1;
    part.split("\n## ").next().unwrap_or_default()
}

#[test]
fn the_records_part_of_a_report_is_in_its_language() {
    let three: Vec<&str> = THREE.lines().filter(|row| !row.starts_with("bad")).collect();
    let (three, none) = (three.join("\n"), String::new());
    // More than the herd has, on the other scale and on no day.
    let too_many = "score,count\n0,150\n1,60\n2,2\n3,1\n";
    let other_scale = SALLOW_BRIDGE.replace("scale: 1-5", "scale: 0-3");
    for (walk, cases, scores) in [
        (SALLOW_BRIDGE, THIRTY, SCORES),
        (&other_scale, &three, too_many),
        (HERONSWAY, &none, ""),
        (TUSSOCK_FLAT, &none, ""),
    ] {
        let files = [("walk.yaml", walk), ("cases.csv", cases), ("scores.csv", scores)];
        let files = files.map(|(name, text)| (name.to_owned(), text.to_owned()));
        let report = page("report walk.yaml --for adviser --draws 256 --as md", &files);
        let part = records_part(&report);
        // Stretches are called what the walk calls them, and words that were not known are shown as they
        // were written; `sample` is the name of a command.
        let mut names: BTreeSet<String> = latin("sample, mystery, swollen hock");
        let called = walk.lines().filter_map(|line| line.split('"').nth(1));
        called.for_each(|name| names.extend(latin(name)));
        assert_eq!(&latin(part) - &names, BTreeSet::new(), "{part}");
    }
}

#[test]
fn how_much_to_look_at_is_in_its_language() {
    for arguments in [
        "sample --cows 280",
        "sample --cows 3",
        "sample --cows 420 --system housed --expect 25 --within 5",
        "sample --stones 0.5 --stones-within 1%",
    ] {
        for form in forms(arguments, &[]) {
            // The name of an option of the command.
            let option = BTreeSet::from(["cows".to_owned()]);
            assert_eq!(&latin(&form) - &option, BTreeSet::new(), "{arguments}:\n{form}");
        }
    }
}

// --- Spanish

#[track_caller]
fn snapshot(name: &str, text: &str) {
    insta::with_settings!({
        prepend_module_to_snapshot => false,
        snapshot_path => "snapshots/languages",
        filters => vec![(r"programa \d+\.\d+\.\d+", "programa VERSION")],
    }, {
        insta::assert_snapshot!(name, text);
    });
}

#[test]
fn spanish_stands() {
    for (name, walk) in [("heronsway", HERONSWAY), ("self-check", SELF_CHECK)] {
        let run = underfoot("report walk.yaml --for farmer --as md --lang es".split(' '));
        let run = run.file("walk.yaml", walk).run().quiet_success();
        snapshot(&format!("{name}-farmer-es.md"), &run.stdout);
    }
    for format in ["md", "yaml"] {
        let run = underfoot(["sheet", "self-check", "--lang", "es", "--as", format]).run().quiet_success();
        snapshot(&format!("self-check-es.{format}"), &run.stdout);
    }
    let page = underfoot("report walk.yaml --for farmer --lang es --out -".split(' '));
    let page = page.file("walk.yaml", HERONSWAY).run().quiet_success().stdout;
    assert!(page.contains("<html lang=\"es\">") && page.contains("<title>Heronsway: recorrido"));
}

#[test]
fn json_is_the_same_in_every_language() {
    let facts = |language: &str| {
        let run = underfoot("score walk.yaml --as json".split(' ')).file("walk.yaml", SELF_CHECK);
        let plain = run.run().quiet_success().stdout;
        let run = underfoot(["report", "walk.yaml", "--as", "json", "--lang", language]);
        (plain, run.file("walk.yaml", SELF_CHECK).run().quiet_success().stdout)
    };
    let (plain, spanish) = facts("es");
    assert_eq!(plain, spanish);
}

// --- Faults

#[test]
fn what_is_not_there_is_said_plainly() {
    let run = |arguments: &str| underfoot(arguments.split(' ')).file("walk.yaml", SELF_CHECK).run();
    let unknown = run("report walk.yaml --for farmer --lang fr");
    assert_eq!(
        (unknown.code, unknown.stderr.as_str()),
        (2, "error: there is no language `fr`; known: `en`, `es`\n")
    );
}

#[test]
fn every_code_of_a_finding_has_its_line() {
    let lines = english_pages().keys().filter_map(|key| key.strip_prefix("finding."));
    let codes: BTreeSet<&str> = CODES.iter().copied().collect();
    assert_eq!(lines.collect::<BTreeSet<_>>(), codes);
}

#[test]
fn a_finding_is_told_in_the_language_too() {
    let walk = SELF_CHECK.replace("cows: 280", "cows: 0");
    for lang in ["en", "es"] {
        let run = underfoot(["check", "walk.yaml", "--lang", lang]).file("walk.yaml", &walk).run();
        let line = "    |               ^\n    = el número no puede ser correcto\n";
        assert_eq!((run.code, run.stderr.contains(line)), (1, lang == "es"), "{}", run.stderr);
    }
}

#[test]
fn faults_of_a_language_are_named() {
    let words = "language: xx\nof: words\ntexts:\n  nevr: \"nie\"\n  years: { one: \"{n} Jahr\", other: \"{x} Jahre\" }\n  \
                 never: \"nie{\"\n";
    let run = underfoot(["check", "words.yaml"]).file("words.yaml", words).run();
    assert_eq!(run.code, 1);
    for said in
        ["did you mean `never`?", "the text holds `x`, and the English one `n`", "a `{` is not closed"]
    {
        assert!(run.stderr.contains(said), "{said}: {}", run.stderr);
    }
    // `check` looks into the folder of a user's own, also without being told the files.
    let run = underfoot("check --checklists mine".split(' ')).file("mine/xx/words.yaml", words).run();
    assert_eq!((run.code, run.stderr.contains("[unknown-text]")), (1, true));
    // In use, what is missing stays English and is said.
    let few = "language: xx\nof: words\ntexts:\n  farmer.found: \"Gefunden:\"\n";
    let run = underfoot("report walk.yaml --for farmer --as md --lang xx --checklists mine".split(' '))
        .file("walk.yaml", SELF_CHECK)
        .file("mine/xx/words.yaml", few)
        .run();
    assert_eq!(run.code, 0, "{}", run.stderr);
    assert!(run.stderr.contains("[not-translated]"), "{}", run.stderr);
    assert!(run.stdout.contains("**Gefunden:**") && run.stdout.contains("Take care:"));
}

#[test]
fn a_translation_of_a_file_that_was_replaced_is_not_used() {
    let mine = include_str!("../checklists/self-check.yaml")
        .replace("Does the base rock show through?", "Any moss?");
    let run = underfoot("sheet self-check --as md --lang es --checklists mine".split(' '))
        .file("mine/self-check.yaml", mine)
        .run()
        .quiet_success();
    assert!(run.stdout.contains("Any moss?") && !run.stdout.contains("roca de la base"));
}
