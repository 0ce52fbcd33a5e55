//! Another language is another set of words: nothing a user reads may stand anywhere else.

mod common;

use common::underfoot;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use underfoot::finding::{Findings, SourceText};
use underfoot::input::{FileSet, english, english_pages, read_library};
use underfoot::job;
use underfoot::model::Library;
use underfoot::model::checklist::Kind;
use underfoot::model::lesion::Lesion;
use underfoot::model::words::{Sentences, Words};
use underfoot::reckon::Settings;
use underfoot::show::terminal;

const HERONSWAY: &str = include_str!("../examples/01-heronsway/walk.yaml");
const SELF_CHECK: &str = include_str!("../examples/04-heronsway-self-check/walk.yaml");

// --- The table

/// The text of every file that may ask for a sentence.
fn sources(folder: &Path, into: &mut String) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let kind = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        if path.is_dir() {
            sources(&path, into);
        } else if ["rs", "md", "html", "js"].contains(&kind) {
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
        ["month.", "quantity."].iter().any(|start| key.starts_with(start))
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

/// English words on a page in the language made by machine, but for those that the files it is written
/// from hold, and the names of studies.
fn left_english(arguments: &str, files: &[(&str, &str)]) -> BTreeSet<String> {
    let run = underfoot(format!("{arguments} --lang xx --checklists mine").split(' '));
    let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
    let run = files.iter().fold(run, |run, (name, text)| run.file(name, text)).run().quiet_success();
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
const MARLPIT_FOLD: &str = include_str!("../examples/03-marlpit-fold/walk.yaml");

/// Pasture and housed, whole and short, with money and without, with records and without.
const WALKS: [&str; 4] = [HERONSWAY, TUSSOCK_FLAT, MARLPIT_FOLD, SELF_CHECK];

/// A page of a walk in the language made by machine.
fn foreign_page(arguments: &str, walk: &str) -> String {
    let run = underfoot(format!("{arguments} walk.yaml --lang xx --checklists mine").split(' '));
    let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
    run.file("walk.yaml", walk).run().quiet_success().stdout
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

// --- Pages: the plan

// --- Pages: did it work, and what is overdue

// --- Pages: the group

// --- Pages: records, and how much to look at

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
