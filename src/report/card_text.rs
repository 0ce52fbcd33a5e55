//! A card as the file a farmer reads in full before handing it over.

use crate::model::card::Card;
use crate::model::words::Words;
use std::fmt::Write;

/// Longest line of a comment, in characters.
const LINE: usize = 80;

/// A card as YAML: fixed order of fields, a line above each that says why it is there, nothing else.
/// Only those lines are in the language of the words.
pub fn card_yaml(words: &Words, card: &Card) -> String {
    let mut text = comment(&words.word("card.head"));
    let mut field = |why: &str, line: String| {
        // Writing to a string can't fail.
        let _ = writeln!(text, "{}{line}", comment(&words.word(why)));
    };
    field("card.card", "card: 1".to_owned());
    field("card.code", format!("code: \"{}\"", card.code));
    field("card.year", format!("year: {}", card.year));
    field("card.system", format!("system: {}", card.system.id()));
    field(
        "card.checklist",
        format!("checklist: {{ name: {}, version: \"{}\" }}", card.checklist, card.version),
    );
    field("card.herd-band", format!("herd_band: {}", quoted(card.herd_band.id())));
    field("card.months-of-records", format!("months_of_records: {}", card.months_of_records));
    field(
        "card.cases-per-100-cow-years",
        format!("cases_per_100_cow_years: {}", or_null(card.cases_per_100_cow_years)),
    );
    let shares = card.lesion_shares.map(|shares| {
        let named = shares.iter().filter(|(_, share)| share.tenths() > 0);
        let parts: Vec<String> =
            named.map(|(lesion, share)| format!("{}: {:.1}", lesion.id(), share.share())).collect();
        format!("{{ {} }}", parts.join(", "))
    });
    field("card.lesion-shares", format!("lesion_shares: {}", shares.unwrap_or_else(|| "null".to_owned())));
    let exposures: String =
        card.exposures.iter().map(|(id, exposure)| format!("\n  {id}: {:.1}", exposure.share())).collect();
    field(
        "card.exposures",
        if exposures.is_empty() { "exposures: {}".to_owned() } else { format!("exposures:{exposures}") },
    );
    field("card.score", format!("score: {}", or_null(card.score)));
    text
}

/// A sentence as lines that YAML leaves out: whatever breaks a line in it, each begins with the mark.
fn comment(sentence: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    let sentence = sentence.replace(|letter: char| letter.is_control(), " ");
    for word in sentence.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= LINE => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("# {word}")),
        }
    }
    lines.into_iter().map(|line| line + "\n").collect()
}

fn or_null<T: std::fmt::Display>(value: Option<T>) -> String {
    value.map_or_else(|| "null".to_owned(), |value| value.to_string())
}

/// A band in quotation marks, since 150-299 looks like a number.
fn quoted(id: &str) -> String {
    format!("\"{id}\"")
}

#[cfg(test)]
mod tests {
    use super::{LINE, card_yaml, comment};
    use crate::finding::{Findings, SourceText};
    use crate::input::read_card;
    use crate::model::System;
    use crate::model::card::{Card, HerdBand, Tenths};
    use crate::model::lesion::{Lesion, PerLesion};
    use proptest::prelude::*;

    fn card() -> Card {
        let tenths = |n| Tenths::new(n).unwrap();
        let mut shares = PerLesion([Tenths::default(); Lesion::COUNT]);
        shares[Lesion::WhiteLine] = tenths(4);
        shares[Lesion::FootRot] = tenths(6);
        Card {
            code: String::from("k7m-2xq"),
            year: 2026,
            system: System::Pasture,
            checklist: "pasture-herd".to_owned(),
            version: "2026.1".to_owned(),
            herd_band: HerdBand::From300,
            months_of_records: 12,
            cases_per_100_cow_years: Some(17),
            lesion_shares: Some(shares),
            exposures: vec![("late-treatment".into(), tenths(10)), ("track-stones".into(), tenths(6))],
            score: Some(48),
        }
    }

    fn back(card: &Card) -> Option<Card> {
        let mut findings = Findings::new();
        let read = read_card(
            &SourceText::new("card.yaml", card_yaml(&crate::input::english(), card)),
            &mut findings,
        );
        assert!(findings.is_empty(), "{}", crate::show::caret::render(&findings));
        read
    }

    #[test]
    fn a_card_explains_every_field() {
        insta::assert_snapshot!(card_yaml(&crate::input::english(), &card()));
    }

    #[test]
    fn a_card_without_records_says_null() {
        let bare = Card {
            months_of_records: 0,
            cases_per_100_cow_years: None,
            lesion_shares: None,
            exposures: Vec::new(),
            score: None,
            ..card()
        };
        insta::assert_snapshot!(card_yaml(&crate::input::english(), &bare));
        assert_eq!(back(&bare), Some(bare));
    }

    #[test]
    fn no_sentence_gets_out_of_its_comment() {
        assert_eq!(comment("one\ntwo: 2\u{85}three\u{2028}four\u{0}"), "# one two: 2 three four\n");
        let lines = comment(&"word ".repeat(40));
        assert!(lines.lines().all(|line| line.starts_with("# word") && line.len() <= LINE), "{lines}");
    }

    proptest! {
        #[test]
        fn a_card_is_read_back_as_it_was(
            band in 0..5_usize, months in 1..=600_u32, rate in 0..=1000_u32, score in 0..=100_u8,
            x in 0..=10_u8, year in 1850..2200_i32,
        ) {
            let exposures = vec![("track-stones".into(), Tenths::new(x).unwrap())];
            let herd_band = HerdBand::ALL[band];
            let (months_of_records, cases_per_100_cow_years, score) = (months, Some(rate), Some(score));
            let card = Card { year, herd_band, months_of_records, cases_per_100_cow_years, exposures, score, ..card() };
            prop_assert_eq!(back(&card), Some(card));
        }
    }
}
