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

/// The first so many cards of the last year.
fn few(farms: usize) -> Vec<Card> {
    last_year().into_iter().filter(|card| card.nominal_cases().is_some()).take(farms).collect()
}

#[test]
fn under_five_farms_nothing_is_given() {
    for farms in 1..5 {
        let outcome = outcome(&few(farms));
        assert_eq!(outcome.withheld, [Withheld { what: What::Everything, why: Why::TooFew }]);
        assert!(outcome.rate.is_none() && outcome.fit.is_none() && outcome.score.is_none());
        assert!(outcome.farms_list.is_empty() && outcome.limits.is_empty() && outcome.lesions.is_empty());
        assert!(outcome.factors.is_empty() && outcome.sections.is_empty() && outcome.options.is_empty());
        assert!(outcome.years.iter().all(|year| year.rate.is_none() && year.score.is_none()));
    }
    assert_eq!(group(&[], &EXAMPLE.0, &settings()).unwrap_err(), GroupRefusal::NoCards);
}

#[test]
fn five_to_seven_farms_give_medians_alone() {
    for farms in 5..8 {
        let outcome = outcome(&few(farms));
        assert!(outcome.withheld.contains(&Withheld { what: What::AllButMedians, why: Why::TooFew }));
        let spreads = outcome.factors.iter().chain(&outcome.sections).map(|named| named.spread);
        let spreads: Vec<Spread> = spreads.chain(outcome.rate).chain(outcome.score).collect();
        assert!(spreads.len() > 20 && spreads.iter().all(|spread| spread.quartiles.is_none()));
        assert!(outcome.fit.is_none() && outcome.farms_list.is_empty() && outcome.limits.is_empty());
        assert!(
            outcome.lesions.is_empty() && outcome.options.iter().all(|option| option.cases_avoided.is_none())
        );
        assert_eq!(outcome.rate.map(|rate| rate.median % RATE_STEP), Some(0.0));
    }
}

#[test]
fn from_eight_farms_there_are_quartiles_and_a_list_without_codes() {
    let outcome = outcome(&few(8));
    assert!(outcome.rate.is_some_and(|rate| rate.quartiles.is_some()));
    assert_eq!(outcome.farms_list.len(), 8);
    assert!(outcome.farms_list.is_sorted_by(|a, b| a.shrunken.mean <= b.shrunken.mean));
    assert!(outcome.farms_list.iter().all(|point| rounded(point.shrunken.mean, 10.0) == point.shrunken.mean));
    assert!(outcome.fit.is_some() && outcome.limits.len() == FUNNEL_SIZES.len());
}

/// A factor that few were asked of, and records that few keep, are withheld on their own.
#[test]
fn each_cell_is_judged_by_its_own_farms() {
    let mut cards = last_year();
    for card in cards.iter_mut().skip(4) {
        card.exposures.retain(|(id, _)| id.as_ref() != "track-stones");
        (card.months_of_records, card.cases_per_100_cow_years, card.lesion_shares) = (0, None, None);
    }
    let outcome = outcome(&cards);
    let withheld = |what| outcome.withheld.contains(&Withheld { what, why: Why::TooFew });
    assert!(
        withheld(What::Factor("track-stones".to_owned())) && withheld(What::Rates) && withheld(What::Lesions)
    );
    assert!(outcome.factors.iter().all(|named| named.id != "track-stones") && outcome.rate.is_none());
    assert!(outcome.farms_list.is_empty() && outcome.score.is_some_and(|score| score.quartiles.is_some()));
}

/// One farm with nearly all the cases of a lesion: its cell is hidden, and the rest can't be added up.
#[test]
fn a_lesion_that_one_farm_holds_is_hidden_with_another() {
    let mut cards = last_year();
    let shares = |white_line, dermatitis| {
        let mut shares = PerLesion([Tenths::default(); Lesion::COUNT]);
        shares[Lesion::WhiteLine] = Tenths::new(white_line).unwrap();
        shares[Lesion::DigitalDermatitis] = Tenths::new(dermatitis).unwrap();
        shares[Lesion::SolePenetration] = Tenths::new(10 - white_line - dermatitis).unwrap();
        Some(shares)
    };
    for (at, card) in cards.iter_mut().enumerate().filter(|(_, card)| card.nominal_cases().is_some()) {
        card.lesion_shares = if at == 11 { shares(0, 10) } else { shares(6, 1) };
        if at == 11 {
            (card.herd_band, card.cases_per_100_cow_years) = (HerdBand::From800, Some(60));
        }
    }
    let outcome = outcome(&cards);
    let why = |lesion| outcome.withheld.iter().find(|it| it.what == What::Lesion(lesion)).map(|it| it.why);
    assert_eq!(why(Lesion::DigitalDermatitis), Some(Why::Dominated));
    assert_eq!(why(Lesion::SolePenetration), Some(Why::Subtraction));
    assert!(outcome.lesions.len() <= 1);
}

#[test]
fn farms_alike_but_for_chance_are_said_to_be() {
    let mut cards = last_year();
    cards.iter_mut().for_each(|card| {
        card.cases_per_100_cow_years = Some(15);
        card.months_of_records = 12;
    });
    let outcome = outcome(&cards);
    assert_eq!(outcome.fit.map(|fit| fit.shape), Some(None));
    assert!(
        outcome.farms_list.iter().all(|farm| farm.p_best_quarter == 0.25 && farm.p_worst_quarter == 0.25)
    );
    let page = crate::report::group_page::group_page(&EXAMPLE.0, &outcome, 256).page;
    assert!(page.rates.iter().any(|line| line.contains("infinite shape")), "{:?}", page.rates);
}

#[test]
fn farms_are_linked_over_the_years_by_code_alone() {
    let change = outcome(&EXAMPLE.1).change.unwrap();
    assert_eq!((change.from, change.farms, change.rate.map(|rate| rate.farms)), (2025, 11, Some(10)));
    let mut strangers = EXAMPLE.1.clone();
    for (at, card) in strangers.iter_mut().enumerate().filter(|(_, card)| card.year == 2025) {
        card.code = format!("zzz-{at}");
    }
    let outcome = outcome(&strangers);
    assert_eq!(outcome.change, None);
    assert!(outcome.withheld.contains(&Withheld { what: What::Change(2025), why: Why::TooFew }));
    assert_eq!((outcome.year, outcome.farms, outcome.years.len()), (2026, 12, 2));
}

/// The t interval of the farms' log ratios by scipy 1.17.1: `stats.t.interval(0.95, 7, d.mean(),
/// d.std(ddof=1)/8**.5)` with `d = log((x2 + .5)/t) - log((x1 + .5)/t)`: 0.758 (0.637 to 0.902).
#[test]
fn the_ratio_of_rates_meets_scipy() {
    let mut cards = few(8);
    let before = [20, 12, 18, 30, 9, 15, 22, 11];
    let after = [14, 13, 11, 21, 8, 9, 20, 7];
    let mut all = Vec::new();
    for ((card, before), after) in cards.iter_mut().zip(before).zip(after) {
        card.herd_band = HerdBand::Under150;
        card.months_of_records = 12;
        for (year, rate) in [(2025, before), (2026, after)] {
            all.push(Card { year, cases_per_100_cow_years: Some(rate), ..card.clone() });
        }
    }
    assert_eq!(outcome(&all).change.and_then(|change| change.rate_ratio), Some((0.75, (0.65, 0.9))));
}

#[test]
fn a_farms_own_page_holds_no_other_farms_figures() {
    let card = &last_year()[3];
    let own = GroupOptions { mine: Some(card.code.clone()), ..settings() };
    let outcome = group(&EXAMPLE.1, &EXAMPLE.0, &own).unwrap();
    let facts = group_facts(&EXAMPLE.0, &outcome, &own);
    assert!(facts.farms_list.is_empty());
    let mine = outcome.mine.clone().unwrap();
    assert_eq!((mine.rate, mine.score), (card.cases_per_100_cow_years, card.score));
    let report = crate::report::group_page::group_page(&EXAMPLE.0, &outcome, 256);
    assert!(report.page.points.is_empty() && !report.figures.contains_key("farms"));
    if let Some(crate::report::figure::Figure::Funnel(funnel)) = report.figures.get("funnel") {
        assert!(funnel.points.iter().all(|point| point.own));
    }
    let unknown = GroupOptions { mine: Some("zzz-zzz".to_owned()), ..settings() };
    let refusal = GroupRefusal::UnknownCode { code: String::from("zzz-zzz"), year: 2026 };
    assert_eq!(group(&EXAMPLE.1, &EXAMPLE.0, &unknown).unwrap_err(), refusal);
}

#[test]
fn a_farm_with_records_has_its_place() {
    let cards = last_year();
    let mut places = Vec::new();
    for card in &cards {
        let own = GroupOptions { mine: Some(card.code.clone()), ..settings() };
        let outcome = group(&cards, &EXAMPLE.0, &own).unwrap();
        places.extend(outcome.mine.and_then(|mine| mine.place));
    }
    places.sort_unstable();
    assert_eq!(places, (1..=11).map(|place| (place, 11)).collect::<Vec<_>>());
}

/// No code, band or month of a card is in anything that is published.
#[test]
fn nothing_published_names_a_farm() {
    let outcome = outcome(&EXAMPLE.1);
    let report = crate::report::group_page::group_page(&EXAMPLE.0, &outcome, 256);
    let published = json(&facts(&EXAMPLE.1))
        + &crate::show::markdown::fill(&crate::input::english(), "group.md", &report.page).unwrap()
        + &serde_json::to_string(&report.figures).unwrap();
    for card in &EXAMPLE.1 {
        assert!(!published.contains(&card.code) && !published.contains(card.herd_band.id()));
    }
    assert!(!published.contains("months_of_records") && !published.contains("card.yaml"));
}

/// The attack: whoever has the published file, and every other farm's card besides, changes one
/// answer of a farm to each value in reach. The file stays the same to the byte within a quarter of
/// the scale, so no answer can be had from it, with or without the farm's file beside it.
#[test]
fn no_answer_of_a_farm_can_be_had_from_what_is_published() {
    let cards = last_year();
    let published = json(&facts(&cards));
    for farm in [0, 3, 8, 11] {
        let mut other = cards.clone();
        for exposure in &mut other[farm].exposures {
            let quarter = quarters(exposure.1);
            let alike: Vec<Tenths> = (0..=10)
                .filter_map(Tenths::new)
                .filter(|x| quarters(*x) == quarter && *x != exposure.1)
                .collect();
            assert!(!alike.is_empty());
            exposure.1 = alike[farm % alike.len()];
        }
        let step = |score: u8| rounded_to(f64::from(score), SCORE_STEP);
        let score = other[farm].score.unwrap();
        other[farm].score = [score - 1, score + 1].into_iter().find(|other| step(*other) == step(score));
        assert_ne!(other[farm], cards[farm]);
        assert_eq!(json(&facts(&other)), published);
    }
}

/// The attack from the files alone: the one with a farm less the one without it. What goes from the list
/// is that farm's rate, which the list is allowed to tell; nothing else there is one farm's.
#[test]
fn taking_a_farm_away_tells_its_rate_and_no_more() {
    let cards = last_year();
    let with = facts(&cards);
    let rates = |facts: &GroupFacts| facts.farms_list.iter().map(|farm| farm.rate).collect::<Vec<_>>();
    for left_out in 0..cards.len() {
        let mut fewer = cards.clone();
        let card = fewer.remove(left_out);
        let without = facts(&fewer);
        let mut gone = rates(&with);
        for rate in rates(&without) {
            let at = gone.iter().position(|other| *other == rate).unwrap();
            gone.remove(at);
        }
        assert_eq!(gone, card.cases_per_100_cow_years.map(f64::from).into_iter().collect::<Vec<_>>());
        assert_eq!(without.farms, with.farms - 1);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn the_order_of_cards_plays_no_part(order in Just((0..EXAMPLE.1.len()).collect::<Vec<_>>()).prop_shuffle()) {
        let shuffled: Vec<Card> = order.into_iter().map(|at| EXAMPLE.1[at].clone()).collect();
        prop_assert_eq!(json(&facts(&shuffled)), json(&facts(&EXAMPLE.1)));
    }
}

#[test]
fn the_pages_of_the_example() {
    let page = |mine: Option<String>| {
        let own = GroupOptions { mine, ..GroupOptions::default() };
        let outcome = group(&EXAMPLE.1, &EXAMPLE.0, &own).unwrap();
        let report = crate::report::group_page::group_page(&EXAMPLE.0, &outcome, own.settings.draws);
        crate::show::markdown::fill(&crate::input::english(), "group.md", &report.page).unwrap()
    };
    insta::assert_snapshot!("page", page(None));
    insta::assert_snapshot!("own_page", page(Some("hx9-kdw".to_owned())));
}

/// The card of a farm holds nothing that could name it.
#[test]
fn a_card_tells_no_name_place_date_price_or_exact_number() {
    let text = include_str!("../../../examples/01-heronsway/walk.yaml");
    let mut findings = Findings::new();
    let source = crate::finding::SourceText::new("walk.yaml", text);
    let (library, walk) = crate::input::read_walk(&source, &FileSet::builtin(), &mut findings).unwrap();
    let outcome = crate::reckon::reckon(&library, &walk, settings().settings).unwrap();
    let card = make_card(&library, &walk, &outcome, "k7m-2xq");
    let yaml = crate::report::card_text::card_yaml(&crate::input::english(), &card);
    insta::assert_snapshot!("card", yaml);
    let records = walk.records.as_ref().unwrap();
    let exact = [walk.cows as f64, records.average_cows, records.cow_years(), records.days() as f64];
    let words = walk.farm_name.split(' ').chain(walk.notes.iter().flat_map(|notes| notes.split(' ')));
    let secret = words
        .filter(|word| word.len() > 6)
        .map(str::to_owned)
        .chain(walk.segments.iter().map(|segment| segment.name.clone()))
        .chain(exact.map(|number| format!(" {number}")))
        .chain([walk.date.to_string(), format!("-{:02}", chrono::Datelike::month(&walk.date))]);
    let values: String = yaml.lines().filter(|line| !line.starts_with('#')).collect();
    for secret in secret {
        assert!(!values.contains(&secret), "{secret}");
    }
}
