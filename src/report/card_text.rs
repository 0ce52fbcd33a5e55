//! A card as the file a farmer reads in full before handing it over.

use crate::model::card::Card;
use std::fmt::Write;

const HEAD: &str = "\
# A farm's anonymous card for its discussion group. This is all that leaves the
# farm: no name, place, date, price, note or exact number. Read it through
# before you hand it over: the line above each field says why it is there. You
# may take it back.
";

/// A card as YAML: fixed order of fields, a line above each that says why it is there, nothing else.
pub fn card_yaml(card: &Card) -> String {
    let mut text = String::from(HEAD);
    let mut field = |why: &str, line: String| {
        // Writing to a string can't fail.
        let _ = write!(text, "# {why}\n{line}\n");
    };
    field("What kind of file this is.", "card: 1".to_owned());
    field(
        "A random code, made once, kept beside the walk record. It links your years.",
        format!("code: \"{}\"", card.code),
    );
    field(
        "The year of the walk, so that a year is compared with itself. Not the day.",
        format!("year: {}", card.year),
    );
    field("Herds at pasture and housed herds are not compared.", format!("system: {}", card.system.id()));
    field(
        "Which questions were asked: only like is compared with like.",
        format!("checklist: {{ name: {}, version: \"{}\" }}", card.checklist, card.version),
    );
    field(
        "How far chance can move your rate depends on the herd's size. Only a band.",
        format!("herd_band: {}", quoted(card.herd_band.id())),
    );
    field(
        "How long the records run, in whole months; 0 without records.",
        format!("months_of_records: {}", card.months_of_records),
    );
    field(
        "How much lameness was recorded, to the nearest whole; null without records.",
        format!("cases_per_100_cow_years: {}", or_null(card.cases_per_100_cow_years)),
    );
    let shares = card.lesion_shares.map(|shares| {
        let named = shares.iter().filter(|(_, share)| share.tenths() > 0);
        let parts: Vec<String> =
            named.map(|(lesion, share)| format!("{}: {:.1}", lesion.id(), share.share())).collect();
        format!("{{ {} }}", parts.join(", "))
    });
    field(
        "Which lesions they were, to the nearest tenth; null with under ten cases.",
        format!("lesion_shares: {}", shares.unwrap_or_else(|| "null".to_owned())),
    );
    let exposures: String =
        card.exposures.iter().map(|(id, exposure)| format!("\n  {id}: {:.1}", exposure.share())).collect();
    field(
        "What the walk found, to the nearest tenth: 0 good practice, 1 the bad end.",
        if exposures.is_empty() { "exposures: {}".to_owned() } else { format!("exposures:{exposures}") },
    );
    field(
        "The score of the walk, 0 to 100, to the nearest whole.",
        format!("score: {}", or_null(card.score)),
    );
    text
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
    use super::card_yaml;
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
        let read = read_card(&SourceText::new("card.yaml", card_yaml(card)), &mut findings);
        assert!(findings.is_empty(), "{}", crate::show::caret::render(&findings));
        read
    }

    #[test]
    fn a_card_explains_every_field() {
        insta::assert_snapshot!(card_yaml(&card()));
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
        insta::assert_snapshot!(card_yaml(&bare));
        assert_eq!(back(&bare), Some(bare));
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
