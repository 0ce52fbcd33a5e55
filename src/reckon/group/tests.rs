//! The group as a whole: rules by size, the order of cards, years, and the attack from published files.

use super::*;
use crate::finding::Findings;
use crate::input::{CardPile, FileSet, decode_utf8};
use crate::model::card::HerdBand;
use crate::report::group_facts::{GroupFacts, group_facts};
use proptest::prelude::*;
use std::sync::LazyLock;

static EXAMPLE: LazyLock<(Library, Vec<Card>)> = LazyLock::new(|| {
    let mut paths: Vec<_> =
        std::fs::read_dir("examples/group").unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|end| end == "yaml"));
    paths.sort();
    let mut pile = CardPile::new();
    for path in paths {
        pile.read(&decode_utf8("card.yaml", &std::fs::read(path).unwrap()).unwrap());
    }
    let mut findings = Findings::new();
    let read = pile.finish(&FileSet::builtin(), &mut findings);
    read.unwrap_or_else(|| panic!("{}", crate::show::caret::render(&findings)))
});

fn settings() -> GroupOptions {
    GroupOptions { settings: Settings { draws: 256, ..Settings::default() }, mine: None }
}

fn last_year() -> Vec<Card> {
    EXAMPLE.1.iter().filter(|card| card.year == 2026).cloned().collect()
}

fn outcome(cards: &[Card]) -> GroupOutcome {
    group(cards, &EXAMPLE.0, &settings()).unwrap()
}

fn facts(cards: &[Card]) -> GroupFacts {
    group_facts(&EXAMPLE.0, &outcome(cards), &settings())
}

fn json(facts: &GroupFacts) -> String {
    serde_json::to_string_pretty(facts).unwrap()
}

#[test]
fn dbg() {
    let t = std::time::Instant::now();
    let o = facts(&EXAMPLE.1);
    println!("{} {:?}", json(&o), t.elapsed());
    let cards = last_year();
    let full = json(&facts(&cards));
    let mut bad = 0;
    for farm in [0, 4, 8, 11] {
        for f in 0..cards[farm].exposures.len() {
            let v = cards[farm].exposures[f].1.tenths();
            let mut same = Vec::new();
            for w in [v.wrapping_sub(1), v + 1] {
                let Some(w) = Tenths::new(w) else { continue };
                let mut other = cards.clone();
                other[farm].exposures[f].1 = w;
                if json(&facts(&other)) == full {
                    same.push(w)
                }
            }
            if same.is_empty() {
                bad += 1;
                println!("pinned {farm} {} {v}", cards[farm].exposures[f].0);
            }
        }
    }
    println!("{bad} {:?}", t.elapsed());
}
