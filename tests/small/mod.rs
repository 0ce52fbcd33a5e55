//! A small invented library and farm, put together from lines of YAML, so that a test of the engine
//! shows everything that its figures rest on.

#![allow(dead_code, reason = "each test file uses its own part")]

use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::model::Library;
use underfoot::model::walk::Walk;
use underfoot::reckon::{self, Outcome, RankBy, Settings};
use underfoot::show::caret::render;

/// Herd-level figures of the fixtures; the constants are the model's.
const BURDEN: &str = include_str!("../fixtures/good/evidence/burden.yaml");

/// Lines of each file, in YAML's flow style.
#[derive(Clone, Debug, Default)]
pub(crate) struct Small {
    pub(crate) burden: String,
    pub(crate) sources: Vec<String>,
    pub(crate) effects: Vec<String>,
    pub(crate) factors: Vec<String>,
    pub(crate) options: Vec<String>,
    pub(crate) items: Vec<String>,
    pub(crate) herd: String,
    pub(crate) segments: Vec<String>,
    pub(crate) answers: Vec<String>,
    /// Whole lines at the end of the walk record.
    pub(crate) more: Vec<String>,
}

fn list(key: &str, lines: &[String]) -> String {
    if lines.is_empty() {
        return format!("{key}: []\n");
    }
    lines.iter().fold(format!("{key}:\n"), |text, line| text + "  - " + line + "\n")
}

impl Small {
    /// A pasture herd of 200 cows that knows nothing yet.
    pub(crate) fn new() -> Small {
        Small {
            burden: BURDEN.to_owned(),
            sources: vec!["{ id: maker-2020, year: 2020, title: Invented, read: full-text }".to_owned()],
            herd: "{ cows: 200, system: pasture, currency: EUR, discount_rate: 0.06 }".to_owned(),
            ..Small::default()
        }
    }

    /// A factor with its `acts_on`, and `rest` such as a cluster or another judged size.
    pub(crate) fn factor(mut self, id: &str, acts_on: &str, rest: &str) -> Small {
        let typical = if rest.contains("typical") { "" } else { "typical: { mean: 0.4, sd: 0.3 }, " };
        let judgement = if rest.contains("judgement") { "" } else { "judgement: moderate, " };
        self.factors.push(format!(
            "{{ id: {id}, title: {id}, acts_on: {{ {acts_on} }}, {typical}{judgement}systems: [pasture], {rest} }}"
        ));
        self
    }

    /// A published effect from a source of its own, seen, at pasture, from an adjusted cohort unless
    /// `rest` says otherwise.
    pub(crate) fn effect(mut self, id: &str, factor: &str, rest: &str) -> Small {
        self.sources.push(format!("{{ id: from-{id}, year: 2020, title: Invented, read: full-text }}"));
        let mut line =
            format!("id: {id}, source: from-{id}, factor: {factor}, contrast: one v. other, {rest}");
        for (name, usual) in [
            ("outcome", "lameness"),
            ("measure", "risk-ratio"),
            ("design", "cohort"),
            ("adjusted", "true"),
            ("system", "pasture"),
            ("certainty", "seen"),
        ] {
            if !rest.contains(&format!("{name}:")) {
                line.push_str(&format!(", {name}: {usual}"));
            }
        }
        self.effects.push(format!("{{ {line} }}"));
        self
    }

    /// A choice of `good` (0), `middling` (0.5) and `bad` (1), answered where `answer` is not empty.
    pub(crate) fn choice(self, item: &str, factor: &str, answer: &str) -> Small {
        let options =
            "[{ id: good, say: good, x: 0 }, { id: middling, say: so, x: 0.5 }, { id: bad, say: bad, x: 1 }]";
        let answer = if answer.is_empty() { String::new() } else { format!("{{ choose: {answer} }}") };
        self.item(item, factor, &format!("kind: choice, options: {options}"), &answer)
    }

    /// An item of any kind with its answer, or none.
    pub(crate) fn item(mut self, item: &str, factor: &str, kind: &str, answer: &str) -> Small {
        self.items.push(format!("{{ id: {item}, factor: {factor}, ask: {item}, {kind} }}"));
        if !answer.is_empty() {
            self.answers.push(format!("{item}: {answer}"));
        }
        self
    }

    /// An option for the farm that achieves 0.8 (0.1) of the way, unless `rest` says otherwise.
    pub(crate) fn option(mut self, id: &str, to: &str, rest: &str) -> Small {
        let achieved = if rest.contains("achieved") { "" } else { "achieved: { mean: 0.8, sd: 0.1 }, " };
        let life = if rest.contains("life_years") { "" } else { "life_years: 10, " };
        self.options.push(format!(
            "{{ id: {id}, title: {id}, to: {{ {to} }}, {achieved}{life}currency: EUR, how: Do it, {rest} }}"
        ));
        self
    }

    pub(crate) fn segment(mut self, id: &str, rest: &str) -> Small {
        self.segments.push(format!("{{ id: {id}, passes_per_day: 4, {rest} }}"));
        self
    }

    pub(crate) fn with(mut self, line: &str) -> Small {
        self.more.push(line.to_owned());
        self
    }

    /// Replaces a piece of the herd-level figures.
    pub(crate) fn burden(mut self, from: &str, to: &str) -> Small {
        assert!(self.burden.contains(from), "{from}");
        self.burden = self.burden.replace(from, to);
        self
    }

    pub(crate) fn files(&self) -> FileSet {
        let items: String = self.items.iter().map(|item| format!("      - {item}\n")).collect();
        let checklist = format!(
            "checklist: plot\nversion: \"1\"\ntitle: Plot\nsystem: pasture\nsections:\n  - id: all\n    title: All\n    items:\n{items}"
        );
        let mut files = FileSet::default();
        for (path, text) in [
            ("plot.yaml", checklist),
            ("factors.yaml", list("factors", &self.factors)),
            ("interventions.yaml", list("interventions", &self.options)),
            ("evidence/sources.yaml", list("sources", &self.sources)),
            ("evidence/effects.yaml", list("effects", &self.effects)),
            ("evidence/burden.yaml", self.burden.clone()),
        ] {
            files.overlay(path, SourceText::new(path, text));
        }
        files
    }

    pub(crate) fn walk_text(&self) -> String {
        let answers: String = self.answers.iter().map(|answer| format!("  {answer}\n")).collect();
        let answers = if answers.is_empty() { " {}\n".to_owned() } else { format!("\n{answers}") };
        format!(
            "walk: plot\ndate: 2026-03-14\nfarm: {{ name: Plot }}\nherd: {}\n{}answers:{answers}{}",
            self.herd,
            list("segments", &self.segments),
            self.more.iter().map(|line| format!("{line}\n")).collect::<String>()
        )
    }

    #[track_caller]
    pub(crate) fn read(&self) -> (Library, Walk) {
        let mut findings = Findings::new();
        let read =
            input::read_walk(&SourceText::new("walk.yaml", self.walk_text()), &self.files(), &mut findings);
        read.unwrap_or_else(|| panic!("{}", render(&findings)))
    }

    /// The outcome of `draws` draws.
    #[track_caller]
    pub(crate) fn reckon(&self, draws: usize) -> Outcome {
        let (library, walk) = self.read();
        reckon::reckon(&library, &walk, settings(draws)).expect("an outcome")
    }
}

pub(crate) fn settings(draws: usize) -> Settings {
    Settings { draws, seed: 1, rank_by: RankBy::Cases }
}
