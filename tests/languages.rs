//! Another language is another set of words: nothing a user reads may stand anywhere else.

mod common;

use common::underfoot;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use underfoot::finding::Findings;
use underfoot::input::{FileSet, english, english_pages, read_library};
use underfoot::model::Library;
use underfoot::model::checklist::Kind;
use underfoot::model::words::Sentences;

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

// --- Pages: the plan

// --- Pages: did it work, and what is overdue

// --- Pages: the group

/// A page in the language made by machine, of files that are full of English themselves: no word of
/// theirs is let through.
fn page(arguments: &str, files: &[(String, String)]) -> String {
    let run = underfoot(format!("{arguments} --lang xx --checklists mine").split(' '));
    let texts = language();
    let run = texts.iter().chain(files).fold(run, |run, (name, text)| run.file(name, text)).run().done();
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
const TUSSOCK_FLAT: &str = include_str!("../examples/02-tussock-flat/walk.yaml");

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
