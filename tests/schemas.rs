//! The JSON Schemas: committed and current, true of every shipped file, and at one with the readers.

use std::collections::BTreeSet;
use std::fs;

use jsonschema::Validator;
use serde_json::{Value, json};
use underfoot::finding::{Findings, Severity, SourceText};
use underfoot::input::{self, FileSet, SCHEMAS};

fn schema(name: &str, files: &FileSet) -> Validator {
    let text = input::schema(name, files).expect("a schema");
    let schema: Value = serde_json::from_str(&text).expect("JSON");
    jsonschema::draft202012::meta::validate(&schema).expect("a schema of draft 2020-12");
    jsonschema::draft202012::new(&schema).expect("a schema")
}

/// A YAML file as an editor takes it: YAML 1.2, so that dates and `NO` are text.
fn document(path: &str) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let options = serde_yaml::options! { strict_booleans: true };
    serde_yaml::from_str_with_options(&text, options).unwrap_or_else(|error| panic!("{path}: {error}"))
}

#[test]
fn the_committed_schemas_are_current() {
    for name in SCHEMAS {
        let path = format!("docs/schema/{name}.schema.json");
        let committed = fs::read_to_string(&path).unwrap_or_default();
        let current = input::schema(name, &FileSet::builtin()).expect("a schema");
        assert!(committed == current, "{path} is old: underfoot check --schema {name} > {path}");
    }
}

const GOOD: [(&str, &str); 9] = [
    ("walk", "walk.yaml"),
    ("checklist", "brook.yaml"),
    ("sources", "evidence/sources.yaml"),
    ("effects", "evidence/effects.yaml"),
    ("burden", "evidence/burden.yaml"),
    ("factors", "factors.yaml"),
    ("interventions", "interventions.yaml"),
    ("card", "card.yaml"),
    ("translation", "es/brook.yaml"),
];

#[test]
fn every_shipped_file_and_example_is_of_its_schema() {
    let mut files: Vec<(&str, String)> =
        GOOD.iter().map(|(name, path)| (*name, format!("tests/fixtures/good/{path}"))).collect();
    for name in ["pasture-herd", "housed-herd", "self-check"] {
        files.push(("checklist", format!("checklists/{name}.yaml")));
    }
    for name in ["factors", "interventions"] {
        files.push((name, format!("checklists/{name}.yaml")));
    }
    for name in ["sources", "effects", "burden"] {
        files.push((name, format!("checklists/evidence/{name}.yaml")));
    }
    for language in ["en", "es"] {
        for file in fs::read_dir(format!("checklists/{language}")).expect("a language").flatten() {
            files.push(("translation", file.path().to_string_lossy().into_owned()));
        }
    }
    for folder in fs::read_dir("examples").expect("examples").flatten() {
        for file in fs::read_dir(folder.path()).into_iter().flatten().flatten() {
            let path = file.path().to_string_lossy().into_owned();
            let kind = match file.file_name().to_string_lossy() {
                name if !name.ends_with(".yaml") => continue,
                name if name.starts_with("walk") => "walk",
                name if name == "actions.yaml" => "actions",
                _ => "card",
            };
            files.push((kind, path));
        }
    }
    assert!(files.len() > 30, "{}", files.len());
    for name in SCHEMAS {
        let validator = schema(name, &FileSet::builtin());
        for (_, path) in files.iter().filter(|(kind, _)| *kind == name) {
            // A translation of a checklist of one's own is of one's own schema.
            let of_brook = path.ends_with("es/brook.yaml").then(|| schema(name, &good_files()));
            let faults: Vec<String> = of_brook
                .as_ref()
                .unwrap_or(&validator)
                .iter_errors(&document(path))
                .map(|fault| format!("{}: {fault}", fault.instance_path()))
                .collect();
            assert!(faults.is_empty(), "{path}: {faults:#?}");
        }
    }
}

fn good_text(path: &str) -> SourceText {
    let text = fs::read_to_string(format!("tests/fixtures/good/{path}")).expect("a good file");
    SourceText::new(path, text)
}

/// The good library: all but walk and card.
fn good_files() -> FileSet {
    let mut files = FileSet::default();
    for (_, path) in GOOD.iter().filter(|(kind, _)| !matches!(*kind, "walk" | "card")) {
        files.overlay(path, good_text(path));
    }
    files
}

/// What a reader says of a file of the good set with another text in its place.
fn codes(path: &str, document: &Value) -> BTreeSet<&'static str> {
    let mut findings = Findings::new();
    let source = SourceText::new(path, document.to_string());
    input::check_files(&[source], &good_files(), &mut findings);
    findings.sorted().into_iter().filter(|it| it.severity == Severity::Error).map(|it| it.code).collect()
}

/// Codes of what a schema can't know: what is said elsewhere in the file, or in another.
const BEYOND: [&str; 31] = [
    "duplicate-id",
    "unknown-lesion",
    "unknown-checklist",
    "unknown-file",
    "system-mismatch",
    "no-traffic",
    "unknown-item",
    "unknown-segment",
    "answer-place",
    "answer-kind",
    "no-answer",
    "two-answers",
    "more-than-all",
    "unknown-option",
    "price-unit",
    "checklist-name",
    "bad-scale",
    "factor-system",
    "unknown-source",
    "unknown-factor",
    "reversed",
    "no-contrast",
    "null-estimate",
    "null-result-size",
    "bound-without-p",
    "pooled-twice",
    "weightless-factor",
    "mix-sum",
    "price-quantity",
    "idle-option",
    "card-records",
];

/// Every place of a document, and what is put there instead.
fn changes(document: &Value) -> Vec<(String, Value)> {
    let mut changed = Vec::new();
    let mut places = vec![String::new()];
    while let Some(place) = places.pop() {
        match document.pointer(&place) {
            Some(Value::Object(fields)) => {
                for name in fields.keys() {
                    let mut renamed = document.clone();
                    if let Some(block) = renamed.pointer_mut(&place).and_then(Value::as_object_mut)
                        && let Some(value) = block.remove(name)
                    {
                        block.insert(format!("{name}_x"), value);
                    }
                    changed.push((format!("{place}/{name} renamed"), renamed));
                    places.push(format!("{place}/{name}"));
                }
            }
            // Two of a list stand for all of it.
            Some(Value::Array(items)) => {
                places.extend((0..items.len().min(2)).map(|at| format!("{place}/{at}")));
            }
            _ => {}
        }
        for other in [json!(null), json!("x y!"), json!(-1), json!(7.25), json!([]), json!({}), json!(true)] {
            let mut replaced = document.clone();
            if let Some(value) = replaced.pointer_mut(&place) {
                *value = other.clone();
            }
            changed.push((format!("{place} = {other}"), replaced));
        }
    }
    changed
}

/// A schema underlines nothing that its reader takes, and all that its reader refuses but for what lies
/// between two fields or files.
#[test]
fn schemas_and_readers_agree_on_broken_files() {
    let mut wrong = Vec::new();
    for (name, path) in GOOD {
        let validator = schema(name, &good_files());
        for (change, document) in changes(&document(&format!("tests/fixtures/good/{path}"))) {
            // Codes that are judged as a number's range may rest on another field.
            let said = codes(path, &document);
            let plain = said.iter().any(|code| !BEYOND.contains(code));
            match (validator.is_valid(&document), said.is_empty(), plain) {
                (false, true, _) => wrong.push(format!("{name}: {change}: refused by the schema alone")),
                (true, false, true) => {
                    wrong.push(format!("{name}: {change}: refused by the reader alone: {said:?}"))
                }
                _ => {}
            }
        }
    }
    assert!(wrong.is_empty(), "{}:\n{}", wrong.len(), wrong.join("\n"));
}

/// With a walk of a shipped checklist an editor knows every item and answer.
#[test]
fn answers_are_judged_by_the_checklist_that_the_walk_names() {
    let validator = schema("walk", &FileSet::builtin());
    let walk = |answers: Value| {
        json!({ "walk": "pasture-herd", "date": "2026-03-14", "farm": { "name": "Mill" },
            "herd": { "cows": 100, "system": "pasture" },
            "segments": [{ "id": "lane", "length_m": "1150 ft", "width_m": 5, "passes_per_day": 4 }],
            "answers": answers })
    };
    for (right, answers) in [
        (true, json!({ "backing-gate": { "choose": "pushes" } })),
        (true, json!({ "concrete-damage": { "count": 3, "over": "6000 sq ft" } })),
        (true, json!({ "exit-straight": { "value": "12 ft" } })),
        (true, json!({ "track-stones-count": { "lane": { "count": 29, "over": 2.5 } } })),
        (true, json!({ "thin": { "skip": "too dark" } })),
        (false, json!({ "backing-gate": { "choose": "pushy" } })),
        (false, json!({ "backing-gaet": { "choose": "pushes" } })),
        (false, json!({ "concrete-damage": { "count": 3 } })),
        (false, json!({ "concrete-damage": { "count": 3, "over": "30 ft" } })),
        (false, json!({ "concrete-minutes": { "value": "2 hours" } })),
        (false, json!({ "thin": { "count": 3, "over": 20 } })),
        (false, json!({ "thin": { "count": 3, "of": 20, "skip": "too dark" } })),
    ] {
        let document = walk(answers);
        let mut findings = Findings::new();
        let source = SourceText::new("walk.yaml", document.to_string());
        input::read_walk(&source, &FileSet::builtin(), &mut findings);
        assert_eq!((validator.is_valid(&document), !findings.has_errors()), (right, right), "{document}");
    }
}
