//! Facts of the trade, against the shipped files. Common practice, no source, each of them.

use underfoot::finding::{Findings, SourceText};
use underfoot::input::{self, FileSet};
use underfoot::model::lesion::{Lesion, PerLesion};
use underfoot::model::walk::{CaseCounts, Walk};
use underfoot::model::{Library, System};
use underfoot::reckon::{self, Outcome, Settings};
use underfoot::show::caret::render;

const HERONSWAY: &str = include_str!("../examples/01-heronsway/walk.yaml");

fn read(text: &str) -> (Library, Walk) {
    let mut findings = Findings::new();
    let read = input::read_walk(&SourceText::new("walk.yaml", text), &FileSet::builtin(), &mut findings);
    read.unwrap_or_else(|| panic!("{}", render(&findings)))
}

fn reckon(library: &Library, walk: &Walk) -> Outcome {
    let settings = Settings { draws: 1024, ..Settings::default() };
    reckon::reckon(library, walk, settings).expect("an outcome")
}

/// Common practice, no source: at pasture a handful of conditions (white line disease, penetrated
/// sole, axial crack, foot rot) make up most cases.
#[test]
fn a_handful_of_lesions_make_most_of_the_pasture_mix() {
    let (library, _) = read(HERONSWAY);
    let mix = &library.burden.system(System::Pasture).lesion_mix;
    let four = [Lesion::WhiteLine, Lesion::SolePenetration, Lesion::AxialFissure, Lesion::FootRot];
    let share: f64 = four.into_iter().map(|lesion| mix[lesion]).sum();
    assert!(share > 0.75, "{share}");
    assert!(mix[Lesion::WhiteLine] >= four.into_iter().map(|lesion| mix[lesion]).fold(0.0, f64::max));
}

/// Common practice, no source: the track nearest the dairy bears most traffic, so of segments that are
/// equally bad and equally long it is the one to mend first, whatever is done to it.
#[test]
fn the_track_nearest_the_dairy_comes_first() {
    let ids = ["home-lane", "middle-lane", "hill-lane", "far-lane"];
    let mut text = "walk: pasture-herd\ndate: 2025-10-07\nfarm: { name: Even }\n\
        herd: { cows: 280, system: pasture, currency: EUR }\nsegments:\n"
        .to_owned();
    // Listed from the far end, so that the order of the file can't do it.
    for (id, herd_share) in ids.iter().zip([1.0, 0.5, 0.3, 0.2]).rev() {
        text += &format!(
            "  - {{ id: {id}, length_m: 300, width_m: 4, passes_per_day: 4, herd_share: {herd_share} }}\n"
        );
    }
    text += "answers:\n";
    for (item, answer) in [
        ("track-stones-count", "{ count: 24, over: 2.5 }"),
        ("track-surface", "{ choose: bare }"),
        ("track-wet-strides", "{ count: 20, of: 50 }"),
        ("track-width-percent", "{ value: 60 }"),
    ] {
        let each: Vec<String> = ids.iter().map(|id| format!("{id}: {answer}")).collect();
        text += &format!("  {item}: {{ {} }}\n", each.join(", "));
    }
    let (library, walk) = read(&text);
    let outcome = reckon(&library, &walk);
    let places: Vec<(&str, &str)> = outcome.options.iter().filter_map(|it| it.id.split_once(':')).collect();
    assert_eq!(places[0].1, "home-lane", "{places:?}");
    for (option, _) in places.iter().filter(|(_, segment)| *segment == "home-lane") {
        let order: Vec<&str> = places.iter().filter(|(id, _)| id == option).map(|(_, at)| *at).collect();
        assert_eq!(order, ids, "{option}");
    }
}

/// Common practice, no source: a wooden block is worn off after three to four weeks, so who asks
/// whether blocks are looked at again must say so, on the walk and in the advice.
#[test]
fn block_checks_know_when_a_block_is_worn_off() {
    let (library, _) = read(HERONSWAY);
    let item = library.checklist.item("blocks-checked").expect("the item");
    let advice = &library.intervention("treat-well").expect("the option").how;
    for text in [item.look.as_deref().unwrap_or_default(), advice] {
        assert!(text.contains("block") && text.contains("three to four weeks"), "{text}");
    }
}

/// A farm whose records are mostly white line disease is told to look at what causes white line
/// disease; one with digital dermatitis, at slurry and bought-in cattle.
#[test]
fn the_farms_own_records_steer_the_advice() {
    let (library, mut walk) = read(HERONSWAY);
    let mut with = |lesion: Lesion| {
        let mut by_lesion = PerLesion([0; Lesion::COUNT]);
        by_lesion[lesion] = 50;
        let records = walk.records.as_mut().expect("records");
        records.counts = Some(CaseCounts { by_lesion, unrecorded: 0 });
        reckon(&library, &walk)
    };
    let (white_line, dermatitis) = (with(Lesion::WhiteLine), with(Lesion::DigitalDermatitis));
    let share = |outcome: &Outcome, id: &str| {
        let factor = outcome.factors.iter().find(|it| library.factors[it.weight.factor].id == id).expect(id);
        factor.attributed.as_ref().expect("answered").cases.mean / outcome.burden.cases_per_year.mean
    };
    for id in ["track-stones", "herding-pressure", "yard-turning", "stone-carry-over"] {
        let acts = library.factor(id).expect(id).acts_on;
        assert!(acts[Lesion::WhiteLine] == 1.0 && acts[Lesion::DigitalDermatitis] == 0.0);
        let (gained, lost) = (share(&white_line, id), share(&dermatitis, id));
        assert!(gained > 1.5 * lost, "{id}: {gained} against {lost}");
    }
    for id in ["wet-slurry", "bought-in"] {
        let (lost, gained) = (share(&white_line, id), share(&dermatitis, id));
        assert!(gained > 1.5 * lost, "{id}: {gained} against {lost}");
    }
    let rank = |outcome: &Outcome, id: &str| outcome.options.iter().find(|it| it.id == id).expect(id).rank;
    assert!(rank(&dermatitis, "scrape-often") < rank(&white_line, "scrape-often"));
}
