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

/// A run on the walk in the language made by machine.
fn abroad(arguments: &str, walk: &str) -> common::Outcome {
    let run = underfoot(format!("{arguments} --draws 256 --lang xx --checklists mine").split_whitespace());
    language().iter().fold(run.file("walk.yaml", walk), |run, (name, text)| run.file(name, text)).run()
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
            let run = abroad(&format!("plan walk.yaml {arguments} --as {format}"), walk).quiet_success();
            nothing_but(&["EUR", "CHF"], &run.stdout);
            shows(shown, &run.stdout);
        }
    }
}

#[test]
fn the_plans_figure_has_no_words_of_its_own() {
    for measure in ["cases", "lame-days", "net-benefit"] {
        let arguments = format!("plan walk.yaml --budget 5000 --rank-by {measure} --as html --out -");
        let page = abroad(&arguments, &unnamed_walk()).quiet_success().stdout;
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
    let farmer = abroad("report walk.yaml --for farmer --budget 5000 --as md", &walk).quiet_success();
    nothing_but(&["EUR"], &farmer.stdout);
    let for_sum = foreign(&english().sentences["farmer.for-sum"].other.source());
    let (_, after) = for_sum.split_once("{all}").expect("a blank");
    assert!(farmer.stdout.contains(after), "{}", farmer.stdout);

    let within = abroad("report walk.yaml --budget 5000 --as md", &walk).quiet_success().stdout;
    nothing_but(&["EUR"], &chapter("plan.chapter", &within));
    let no_currency = walk.replace("currency: EUR, ", "");
    let francs = in_francs(&walk);
    for (walk, shown) in
        [(&walk, "plan.added-up"), (&no_currency, "plan.none-priced"), (&francs, "plan.unpriced")]
    {
        let page = abroad("report walk.yaml --as md", walk).quiet_success().stdout;
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
        let run = abroad(&format!("plan walk.yaml {arguments}"), walk);
        let ids = ["error", "build", "apron", "drift", "home", "rubber", "yard", "groove", "concrete", "EUR"];
        nothing_but(&ids, &run.stderr);
        let refusal = foreign(&english_pages()[shown].other.source());
        let longest = refusal.split(['{', '}']).max_by_key(|piece| piece.len()).expect("a piece");
        assert!(run.code != 0 && run.stderr.contains(longest), "{arguments}: {}", run.stderr);
    }
}

#[test]
fn the_blank_actions_have_no_words_of_their_own() {
    let run = abroad("plan walk.yaml --budget 5000 --write-actions agreed.yaml", &unnamed_walk());
    let agreed = run.text("agreed.yaml");
    let remarks = agreed.lines().filter_map(|line| Some(line.split_once("# ")?.1));
    let remarks = remarks.collect::<Vec<_>>().join(" ");
    nothing_but(&["EUR"], &remarks);
    ["actions.head", "actions.part", "actions.reckoned"].iter().for_each(|key| shows(key, &remarks));
    assert!(agreed.lines().all(|line| !line.starts_with('#') || line.chars().count() <= 80), "{agreed}");
}

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
