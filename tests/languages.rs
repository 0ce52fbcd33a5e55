//! Another language is another set of words: nothing a user reads may stand anywhere else.

mod common;

use calamine::{DataType, Reader, Xlsx};
use common::underfoot;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use underfoot::finding::Findings;
use underfoot::input::{FileSet, english, english_pages, read_library};
use underfoot::model::checklist::Kind;
use underfoot::model::lesion::Lesion;
use underfoot::model::words::Sentences;
use underfoot::model::{Library, System};

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
    let lesions =
        library.burden.lesions.iter().map(|(id, it)| (id.id().to_owned(), json!(foreign(&it.name))));
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

/// A page in the language made by machine.
fn foreign_page(arguments: &str, walk: &str) -> common::Outcome {
    let run = underfoot(format!("{arguments} --lang xx --checklists mine --quiet").split(' '));
    let run = language().iter().fold(run, |run, (name, text)| run.file(name, text));
    run.file("walk.yaml", walk).run().quiet_success()
}

#[test]
fn the_methods_page_is_written_in_any_language() {
    for (walk, checklist) in [(HERONSWAY, "pasture-herd"), (MARLPIT, "housed-herd")] {
        let page = foreign_page("report walk.yaml --draws 256 --as md", walk).stdout;
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
            let page = foreign_page(&arguments, "").stdout;
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
    let library = library_of("pasture-herd");
    let lesions = Lesion::ALL.map(|lesion| lesion.id().to_owned());
    let items = library.checklist.items().map(|item| item.id.clone());
    let options: BTreeSet<String> = library.interventions.iter().map(|option| option.id.clone()).collect();
    let ids: BTreeSet<String> = lesions.into_iter().chain(items).collect();
    // Ids as `--must` takes them: an option, and where.
    let is_option = |word: &str| options.contains(word.split('@').next().unwrap_or_default());
    let is_sum = |word: &str| word.len() == 64 && word.chars().all(|c| c.is_ascii_hexdigit());
    let no_currency = HERONSWAY.replace("currency: EUR, ", "");
    for walk in [HERONSWAY, &no_currency] {
        let run = foreign_page("report walk.yaml --draws 256 --as xlsx", walk);
        let texts = texts_of(run.files.get("walk-report.xlsx").expect("the workbook").clone());
        let shown = texts.iter().filter(|text| !ids.contains(*text) && !text.split(' ').all(is_option));
        let words = shown.flat_map(|text| text.split(' ')).filter(|word| !is_sum(word));
        let shown = words.collect::<Vec<_>>().join(" ");
        // The program, its checklist, and the files that were read.
        let mut known = vec!["EUR", "underfoot", "pasture-herd", "walk.yaml"];
        let files = language();
        known.extend(files.iter().map(|(name, _)| name.as_str()));
        known.extend(quotes(walk));
        let left = english_beside_evidence(&shown, &library, &known);
        assert_eq!(left, BTreeSet::new());
    }
}

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
