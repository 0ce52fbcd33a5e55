//! The layers of DEVELOPERS.md, held by machine: who may import whom, which crates a layer may use,
//! and what may not stand in the source at all. `clippy.toml` bans single functions; it knows
//! nothing of layers, and this test knows nothing of types, so the two go together.
//!
//! Source is read as tokens, so comments, documentation and text in quotes import nothing. Code
//! under `#[cfg(test)]` and files named for tests are free.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// What one layer may use.
struct Layer {
    name: &'static str,
    /// Other layers.
    layers: &'static [&'static str],
    /// Crates, by their names in code. `None`: any.
    crates: Option<&'static [&'static str]>,
    /// True where the outside world is reached: files, environment, clock, terminal.
    door: bool,
}

const LAYERS: [Layer; 10] = [
    Layer { name: "model", layers: &[], crates: Some(&["chrono", "libm", "serde"]), door: false },
    Layer { name: "finding", layers: &[], crates: Some(&["serde"]), door: false },
    Layer {
        name: "input",
        layers: &["model", "finding"],
        crates: Some(&[
            "calamine",
            "chrono",
            "csv",
            "encoding_rs",
            "libm",
            "serde",
            "serde_json",
            "serde_yaml",
            "strsim",
            "zip",
        ]),
        door: false,
    },
    Layer {
        name: "reckon",
        layers: &["model"],
        crates: Some(&["chrono", "libm", "serde", "sobol_burley"]),
        door: false,
    },
    Layer {
        name: "report",
        layers: &["model", "reckon", "finding"],
        crates: Some(&["chrono", "libm", "minijinja", "serde", "serde_json", "unicode_width"]),
        door: false,
    },
    // A blank sheet and a walk record are drawn from the checklist itself; the engine stays out, so
    // that no format can know a number that the facts lack.
    Layer {
        name: "show",
        layers: &["report", "finding", "model"],
        crates: Some(&[
            "anstyle",
            "libm",
            "minijinja",
            "pulldown_cmark",
            "rust_xlsxwriter",
            "serde",
            "serde_json",
            "sha2",
            "unicode_width",
        ]),
        door: false,
    },
    // Whole jobs, strung together from the pure layers for both doors.
    Layer {
        name: "job",
        layers: &["finding", "model", "input", "reckon", "report", "show"],
        crates: Some(&["minijinja", "serde", "serde_json", "sha2"]),
        door: false,
    },
    Layer {
        name: "web",
        layers: &["finding", "model", "input", "reckon", "report", "show", "job"],
        crates: Some(&["serde", "serde_json", "serde_yaml"]),
        door: false,
    },
    Layer {
        name: "cli",
        layers: &["finding", "model", "input", "reckon", "report", "show", "job"],
        crates: None,
        door: true,
    },
    // The crate's own page: it declares modules and imports nothing.
    Layer { name: "lib", layers: &[], crates: Some(&[]), door: false },
];

/// Parts of the standard library that reach the outside world.
const DOORS: [&str; 6] = ["env", "fs", "net", "process", "thread", "time"];
const PRINTING: [&str; 5] = ["print", "println", "eprint", "eprintln", "dbg"];
const PANICS: [&str; 4] = ["panic", "todo", "unimplemented", "unreachable"];
/// Leftovers, in code, documentation and data alike.
const LEFTOVERS: [&str; 8] = ["FIXME", "XXX", "HACK", "TODO", "Lorem ipsum", "/home/", "/root/", "/Users/"];

/// A place of a file under `src`, as the test needs it.
struct Source<'a> {
    /// Path below `src`, with `/`.
    path: &'a str,
    layer: &'a Layer,
    /// How many `super` lead from here to the crate's root.
    depth: usize,
    /// Crates named in Cargo.toml.
    crates: &'a [String],
}

/// Every fault of one file, one line each.
fn faults(path: &str, text: &str, crates: &[String]) -> Vec<String> {
    let parts: Vec<&str> = path.trim_end_matches(".rs").split('/').collect();
    if parts.contains(&"tests") {
        return Vec::new();
    }
    if path == "main.rs" {
        let short = text.lines().count() < 40;
        return if short { Vec::new() } else { vec!["main.rs: 40 lines or more".to_owned()] };
    }
    let Some(layer) = LAYERS.iter().find(|layer| layer.name == parts[0]) else {
        return vec![format!("{path}: no layer of that name; add it to the table of layers")];
    };
    let depth = parts.iter().filter(|part| **part != "mod" && **part != "lib").count();
    let tokens: TokenStream = match text.parse() {
        Ok(tokens) => tokens,
        Err(error) => return vec![format!("{path}: {error}")],
    };
    let source = Source { path, layer, depth, crates };
    let mut faults = Vec::new();
    walk(&source, tokens, 0, &mut faults);
    faults
}

/// Looks through tokens, `nested` modules deep within the file.
fn walk(source: &Source<'_>, tokens: TokenStream, nested: usize, faults: &mut Vec<String>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let mut at = 0;
    while at < tokens.len() {
        if is_test_attribute(&tokens[at..]) {
            at += 2;
            while at < tokens.len() && !ends_item(&tokens[at]) {
                at += 1;
            }
            at += 1;
            continue;
        }
        if let Some(message) = fault(source, &tokens, at, nested) {
            let line = tokens[at].span().start().line;
            faults.push(format!("{}:{line}: {message}", source.path));
        }
        // Attributes and documentation hold no paths that count.
        let attribute = matches!(&tokens.get(at), Some(TokenTree::Punct(hash)) if hash.as_char() == '#');
        if let Some(TokenTree::Group(group)) = tokens.get(at) {
            let module = at >= 2 && is_word(&tokens[at - 2], "mod");
            if !goes_on_a_path(&tokens, at) {
                walk(source, group.stream(), nested + usize::from(module), faults);
            }
        }
        at += if attribute { 2 } else { 1 };
    }
}

fn is_word(token: &TokenTree, word: &str) -> bool {
    matches!(token, TokenTree::Ident(ident) if ident == word)
}

fn is_mark(token: Option<&TokenTree>, mark: char) -> bool {
    matches!(token, Some(TokenTree::Punct(punct)) if punct.as_char() == mark)
}

/// `#[cfg(test)]` and the like.
fn is_test_attribute(tokens: &[TokenTree]) -> bool {
    let [TokenTree::Punct(hash), TokenTree::Group(group), ..] = tokens else { return false };
    let text: String = group.stream().to_string().split_whitespace().collect();
    hash.as_char() == '#' && (text == "cfg(test)" || text.starts_with("cfg(all(test,"))
}

/// The token that ends an item: its braces, or its semicolon.
fn ends_item(token: &TokenTree) -> bool {
    match token {
        TokenTree::Group(group) => group.delimiter() == Delimiter::Brace,
        other => is_mark(Some(other), ';'),
    }
}

/// The words of the path that starts at `at`, each alternative of its last braces.
fn path_at(tokens: &[TokenTree], at: usize) -> Vec<Vec<String>> {
    let mut head = vec![tokens[at].to_string()];
    let mut next = at + 1;
    while is_mark(tokens.get(next), ':') && is_mark(tokens.get(next + 1), ':') {
        match tokens.get(next + 2) {
            Some(TokenTree::Ident(ident)) => head.push(ident.to_string()),
            Some(TokenTree::Group(group)) => {
                let inner: Vec<TokenTree> = group.stream().into_iter().collect();
                let branches = inner.split(|token| is_mark(Some(token), ',')).filter(|part| !part.is_empty());
                let joined = |tail: Vec<String>| head.iter().cloned().chain(tail).collect::<Vec<_>>();
                return branches.flat_map(|part| path_at(part, 0)).map(joined).collect();
            }
            _ => break,
        }
        next += 3;
    }
    vec![head]
}

/// True for what stands after `::`, braces or a word: `path_at` has looked into it already.
fn goes_on_a_path(tokens: &[TokenTree], at: usize) -> bool {
    at >= 2 && is_mark(tokens.get(at - 1), ':') && is_mark(tokens.get(at - 2), ':')
}

fn fault(source: &Source<'_>, tokens: &[TokenTree], at: usize, nested: usize) -> Option<String> {
    match &tokens[at] {
        TokenTree::Literal(literal) => absolute_path(&literal.to_string()),
        TokenTree::Ident(ident) => {
            let word = ident.to_string();
            if is_mark(tokens.get(at + 1), '!') {
                return macro_fault(source, &word);
            }
            if at > 0 && is_mark(tokens.get(at - 1), '.') {
                return panicking_method(&word, tokens.get(at + 1));
            }
            if goes_on_a_path(tokens, at) {
                return None;
            }
            path_at(tokens, at).iter().find_map(|path| path_fault(source, path, nested))
        }
        _ => None,
    }
}

fn macro_fault(source: &Source<'_>, word: &str) -> Option<String> {
    if PANICS.contains(&word) {
        return Some(format!("`{word}!`: no input may end the program"));
    }
    let printing = PRINTING.contains(&word) && (!source.layer.door || word == "dbg");
    printing.then(|| format!("`{word}!`: only the command line prints"))
}

fn panicking_method(word: &str, next: Option<&TokenTree>) -> Option<String> {
    let TokenTree::Group(arguments) = next? else { return None };
    let is_call = arguments.delimiter() == Delimiter::Parenthesis;
    let panics = ["unwrap", "unwrap_err", "expect_err"].contains(&word)
        || (word == "expect" && is_text(&arguments.stream()));
    (is_call && panics).then(|| format!("`.{word}(`: no input may end the program"))
}

/// True where the arguments are one piece of text, as those of `Option::expect` are; other methods
/// may be called `expect` too.
fn is_text(arguments: &TokenStream) -> bool {
    let arguments: Vec<TokenTree> = arguments.clone().into_iter().collect();
    matches!(arguments.as_slice(), [TokenTree::Literal(literal)] if literal.to_string().starts_with(['"', 'r']))
}

fn path_fault(source: &Source<'_>, path: &[String], nested: usize) -> Option<String> {
    let layer = source.layer;
    let first = path[0].as_str();
    let second = path.get(1)?.as_str();
    match first {
        "crate" => {
            let known = LAYERS.iter().any(|other| other.name == second);
            let allowed = second == layer.name || layer.layers.contains(&second);
            let refused = (known || layer.name != "lib") && !allowed;
            refused.then(|| format!("`{}` may not import `{second}`", layer.name))
        }
        "super" => {
            let ups = path.iter().take_while(|word| *word == "super").count();
            let leaves = ups >= source.depth + nested;
            leaves.then(|| "`super` leads out of the layer: write `crate::`".to_owned())
        }
        "std" if !layer.door && DOORS.contains(&second) => {
            // Lengths of time are numbers; only the clocks reach outside.
            let only_a_length = second == "time" && path.get(2).is_some_and(|word| word == "Duration");
            (!only_a_length).then(|| format!("`std::{second}` belongs to the command line"))
        }
        name if source.crates.iter().any(|known| known == name) => {
            let allowed = layer.crates.is_none_or(|crates| crates.contains(&name));
            (!allowed).then(|| format!("`{}` may not use the crate `{name}`", layer.name))
        }
        _ => None,
    }
}

/// Text in quotes that is a path of one machine: `/word/…` or a drive letter.
fn absolute_path(literal: &str) -> Option<String> {
    let text = literal.trim_start_matches(['r', 'b', '#']).strip_prefix('"')?;
    let unix = text.strip_prefix('/').and_then(|rest| rest.split_once('/')).is_some_and(|(folder, _)| {
        !folder.is_empty() && folder.chars().all(|c| c.is_ascii_alphanumeric() || c == '.' || c == '_')
    });
    let mut chars = text.chars();
    let drive = chars.next().is_some_and(|c| c.is_ascii_uppercase()) && chars.as_str().starts_with(":\\");
    (unix || drive).then(|| format!("{literal}: an absolute path"))
}

/// Names of all dependencies, as in Cargo.toml.
fn dependencies() -> Vec<String> {
    let manifest = read(&root().join("Cargo.toml"));
    let mut names = Vec::new();
    let mut inside = false;
    for line in manifest.lines() {
        if line.starts_with('[') {
            inside = line.ends_with("dependencies]");
        } else if let (true, Some((name, _))) = (inside, line.split_once('=')) {
            names.push(name.trim().to_owned());
        }
    }
    names
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// All files below a folder, in a fixed order; none where there is no such folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut entries: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    entries.into_iter().flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
}

fn fail_on(faults: &[String]) {
    let mut all = String::new();
    faults.iter().for_each(|fault| writeln!(all, "  {fault}").unwrap());
    assert!(faults.is_empty(), "{} faults:\n{all}", faults.len());
}

#[test]
fn every_import_keeps_to_the_layers() {
    let source = root().join("src");
    let crates: Vec<String> = dependencies().iter().map(|name| name.replace('-', "_")).collect();
    let mut all = Vec::new();
    let mut seen = 0;
    for file in files(&source).iter().filter(|file| file.extension().is_some_and(|kind| kind == "rs")) {
        let path = file.strip_prefix(&source).unwrap().to_string_lossy().replace('\\', "/");
        all.extend(faults(&path, &read(file), &crates));
        seen += 1;
    }
    assert!(seen > 30, "only {seen} files were looked at");
    fail_on(&all);
}

#[test]
fn nothing_is_left_over() {
    let this = Path::new(file!()).file_name();
    let mut all = Vec::new();
    for folder in ["src", "tests", "benches", "checklists", "examples", "templates", "docs"] {
        for file in files(&root().join(folder)).iter().filter(|file| file.file_name() != this) {
            // What is no text has no leftovers.
            let Ok(text) = std::fs::read_to_string(file) else { continue };
            for (number, line) in text.lines().enumerate() {
                if let Some(word) = LEFTOVERS.into_iter().find(|word| line.contains(word)) {
                    all.push(format!("{}:{}: `{word}`", file.display(), number + 1));
                }
            }
        }
    }
    fail_on(&all);
}

/// The first two cells of each row of DEVELOPERS.md's tables whose first cell is one word of code.
fn rows(page: &str) -> Vec<(&str, &str)> {
    page.lines()
        .filter_map(|line| {
            let (first, rest) = line.strip_prefix("| `")?.split_once("` |")?;
            Some((first, rest.split('|').next().unwrap_or("").trim()))
        })
        .collect()
}

#[test]
fn the_page_for_developers_says_the_same() {
    let page = read(&root().join("DEVELOPERS.md"));
    let rows = rows(&page);
    for layer in LAYERS.iter().filter(|layer| layer.name != "lib") {
        let imports = layer.layers.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
        let imports = if imports.is_empty() { "nothing".to_owned() } else { imports };
        assert!(rows.contains(&(layer.name, imports.as_str())), "no row `{}` | {imports}", layer.name);
    }
    let table = page.split("\n## ").find(|part| part.starts_with("Crates")).unwrap_or("");
    let mut explained: Vec<&str> = self::rows(table).iter().map(|row| row.0).collect();
    let mut used = dependencies();
    explained.sort_unstable();
    used.sort_unstable();
    assert_eq!(explained, used, "the crates that DEVELOPERS.md explains, and those of Cargo.toml");
}

/// The part of the promise of an oldest compiler that clippy can't see: no crate asks for a younger one.
#[test]
fn no_crate_asks_for_a_younger_compiler() {
    let output = std::process::Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--offline", "--manifest-path"])
        .arg(root().join("Cargo.toml"))
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let version = |package: &serde_json::Value| -> Option<Vec<u32>> {
        package["rust_version"].as_str()?.split('.').take(2).map(|part| part.parse().ok()).collect()
    };
    let packages = metadata["packages"].as_array().expect("packages");
    let ours = packages.iter().find(|package| package["name"] == "underfoot").and_then(version);
    assert!(ours.is_some(), "Cargo.toml names the oldest compiler");
    let younger = packages.iter().filter(|package| version(package) > ours);
    let faults: Vec<String> = younger
        .map(|package| format!("{} asks for Rust {}", package["name"], package["rust_version"]))
        .collect();
    fail_on(&faults);
}

/// The check itself: each made-up line is refused where it stands, and its neighbour is not.
#[test]
fn the_check_can_fail() {
    let refused = [
        ("reckon/a.rs", "use crate::show::svg;", "`reckon` may not import `show`"),
        ("reckon/a.rs", "use crate::{model::walk::Walk, input::yaml};", "`reckon` may not import `input`"),
        ("model/a.rs", "fn f() { crate::finding::f() }", "`model` may not import `finding`"),
        ("show/a.rs", "fn f(x: &crate::reckon::Outcome) {}", "`show` may not import `reckon`"),
        ("show/svg/a.rs", "mod b { use crate::input; }", "`show` may not import `input`"),
        ("report/mod.rs", "use crate::cli::main;", "`report` may not import `cli`"),
        ("reckon/mod.rs", "use super::show;", "`super` leads out of the layer"),
        ("reckon/stats/a.rs", "use super::super::super::show;", "`super` leads out of the layer"),
        ("reckon/a.rs", "use csv::Reader;", "`reckon` may not use the crate `csv`"),
        ("reckon/a.rs", "fn f() { std::fs::read(p) }", "`std::fs` belongs to the command line"),
        ("input/a.rs", "use std::{env, fmt};", "`std::env` belongs to the command line"),
        ("web.rs", "use std::time::Instant;", "`std::time` belongs to the command line"),
        ("report/a.rs", "fn f() { println!(\"\") }", "`println!`: only the command line prints"),
        ("cli/a.rs", "fn f() { x.unwrap() }", "`.unwrap(`"),
        ("cli/a.rs", "fn f() { format!(\"{}\", x.expect(\"y\")) }", "`.expect(`"),
        ("cli/a.rs", "fn f() { todo!() }", "`todo!`"),
        ("cli/a.rs", "const P: &str = \"/opt/farm/walk.yaml\";", "an absolute path"),
        ("cli/a.rs", "#[cfg(test)] mod tests { } fn f() { panic!() }", "`panic!`"),
        ("lib.rs", "use crate::cli;", "`lib` may not import `cli`"),
        ("cellar/a.rs", "", "no layer of that name"),
    ];
    let crates = ["csv".to_owned(), "libm".to_owned()];
    for (path, line, message) in refused {
        let faults = faults(path, line, &crates);
        assert!(faults.len() == 1 && faults[0].contains(message), "{path}: {line}\ngave {faults:?}");
    }
    let allowed = [
        ("reckon/a.rs", "use crate::model::walk::Walk; use libm::exp; use super::stats;"),
        ("reckon/stats/a.rs", "mod b { use super::super::super::c; }"),
        ("input/a.rs", "use std::time::Duration; use csv::Reader; // crate::show, panic!"),
        ("reckon/a.rs", "struct A { csv: f64 } fn f(csv: f64) -> bool { csv != 1.0 }"),
        ("input/a.rs", "/// [`crate::show`] /opt/farm/walk\nfn f(p: P) { p.expect(Token::Comma) }"),
        ("show/a.rs", "#[cfg(test)] mod tests { use crate::input; fn f() { x.unwrap() } }"),
        ("show/svg/tests.rs", "use crate::input; fn f() { panic!() }"),
        ("cli/a.rs", "use std::fs; use csv::Writer; fn f() { println!(\"/\"); x.unwrap_or(1) }"),
    ];
    for (path, line) in allowed {
        assert_eq!(faults(path, line, &crates), Vec::<String>::new(), "{path}: {line}");
    }
}
