//! A farm's anonymous card, and a pile of them. A card is a stranger's file: it is small, holds the
//! fields of the format and nothing else, no text but ids, and no number finer than a card may tell.

use super::burden::SYSTEMS;
use super::field::{Block, Page, SHARE, Value};
use super::library::{FileSet, read_library};
use super::{suggest, yaml};
use crate::finding::{Finding, Findings, Place, Severity, SourceText};
use crate::model::card::{Card, HerdBand, Tenths};
use crate::model::lesion::PerLesion;
use crate::model::{Library, System};
use std::collections::{BTreeMap, BTreeSet};

/// The largest card that is read, in bytes; a long one with all its comments has four thousand.
pub const MAX_CARD_BYTES: usize = 16 * 1024;
/// So many faults of a pile are shown, the rest are counted: a hundred thousand bad cards should not
/// fill memory or the screen.
const MOST_SHOWN: usize = 100;
/// The only kind of card there is so far.
const CARD_VERSION: u64 = 1;
const MOST_MONTHS: u64 = 600;
const MOST_CASES_PER_100_COW_YEARS: u64 = 1_000;
const LONGEST_CODE: usize = 16;
/// Shares rounded to tenths can add up to more than 1, but no further than this.
const MOST_SHARES: u32 = 13;
/// Years further than this from those of most cards are slips.
const YEARS_APART: i32 = 20;

const BANDS: [(&str, HerdBand); 5] = [
    ("under-150", HerdBand::Under150),
    ("150-299", HerdBand::From150),
    ("300-499", HerdBand::From300),
    ("500-799", HerdBand::From500),
    ("800-and-over", HerdBand::From800),
];

/// Reads a card. `None`, with every fault pushed, where it has one.
pub fn read_card(source: &SourceText, findings: &mut Findings) -> Option<Card> {
    if source.text().len() > MAX_CARD_BYTES {
        findings.add(too_large(source));
        return None;
    }
    let mut own = Findings::new();
    let root = yaml::read(source, &mut own);
    let page = Page::new(source);
    let card = root.as_ref().and_then(|root| page.root(root).block(fields));
    page.close(&mut own);
    let failed = own.has_errors();
    findings.extend(own);
    card.filter(|_| !failed)
}

fn too_large(source: &SourceText) -> Finding {
    Finding {
        code: "file-too-large",
        severity: Severity::Error,
        place: Place::File(source.name().to_owned()),
        message: format!("the file has {} bytes; a card has {MAX_CARD_BYTES} at most", source.text().len()),
        help: Some("is this the right file? A card has about three thousand".to_owned()),
    }
}

/// Reads the fields of a card.
pub(crate) fn fields(block: &Block<'_>) -> Option<Card> {
    let version_of_card = block.req("card").and_then(|value| value.whole(CARD_VERSION, CARD_VERSION));
    let code = block.req("code").and_then(code);
    let year = block.req("year").and_then(Value::year);
    let system = block.one_of("system", SYSTEMS);
    let checklist = block.req("checklist").and_then(|value| {
        value.block(|block| {
            let (name, version) = (block.id("name"), block.id("version"));
            Some((name?, version?))
        })
    });
    let herd_band = block.one_of("herd_band", &BANDS);
    let months = block.req("months_of_records").and_then(|months| months.whole(0, MOST_MONTHS));
    let (given_rate, given_shares) = (block.opt("cases_per_100_cow_years"), block.opt("lesion_shares"));
    let rate = given_rate.and_then(|rate| rate.whole(0, MOST_CASES_PER_100_COW_YEARS));
    let shares = given_shares.and_then(lesion_shares);
    let exposures = block.opt("exposures").map(exposures).unwrap_or_default();
    let score = block.opt("score").and_then(|score| score.whole(0, 100));
    version_of_card?;
    let months = months?;
    judge_records(block, months, given_rate.is_some(), given_shares.is_some());
    let (checklist, version) = checklist?;
    Some(Card {
        code: code?,
        year: year?,
        system: system?,
        checklist,
        version,
        herd_band: herd_band?,
        months_of_records: u32::try_from(months).ok()?,
        cases_per_100_cow_years: rate.and_then(|rate| u32::try_from(rate).ok()),
        lesion_shares: shares,
        exposures,
        score: score.and_then(|score| u8::try_from(score).ok()),
    })
}

fn code(value: Value<'_>) -> Option<String> {
    let code = value.id()?;
    if code.len() <= LONGEST_CODE {
        return Some(code);
    }
    let message = format!("`code` is {}, which is too long for a code", value.quoted());
    value.error("bad-id", message, "a code that `card` made, such as k7m-2xq");
    None
}

/// Without months of records there is neither a rate nor a share, and with them there is a rate.
fn judge_records(block: &Block<'_>, months: u64, rate: bool, shares: bool) {
    let message = match (months > 0, rate, shares) {
        (true, false, _) => "there are months of records, but no `cases_per_100_cow_years`",
        (false, true, _) => "there is a rate, but `months_of_records` is 0",
        (false, _, true) => "there are shares of lesions, but `months_of_records` is 0",
        _ => return,
    };
    let help = "make the card again from the walk record";
    block.page().error("card-records", block.span("months_of_records"), message.to_owned(), help);
}

/// A share to the tenth: a finer one would tell more of the farm than a card may.
fn tenth(value: Value<'_>) -> Option<Tenths> {
    let share = value.number(&SHARE)?;
    let nearest = Tenths::nearest(share);
    if (share - nearest.share()).abs() < 1e-9 {
        return Some(nearest);
    }
    let message = format!("`{}` is {}, finer than a card tells", value.name, value.quoted());
    value.error("out-of-range", message, format!("to the nearest tenth: {:.1}", nearest.share()));
    None
}

fn lesion_shares(value: Value<'_>) -> Option<PerLesion<Tenths>> {
    let errors = value.page.errors();
    let shares = PerLesion(value.per_lesion(tenth)?.0.map(Option::unwrap_or_default));
    if value.page.errors() > errors {
        return None;
    }
    let sum: u32 = shares.0.iter().map(|share| u32::from(share.tenths())).sum();
    if (1..=MOST_SHARES).contains(&sum) {
        return Some(shares);
    }
    let message = format!("the shares of `lesion_shares` add up to {:.1}", f64::from(sum) / 10.0);
    value.error("out-of-range", message, "they are shares of one whole, each rounded to a tenth");
    None
}

/// Exposures by factor, sorted by id. Whether a factor exists is judged with the whole pile.
fn exposures(value: Value<'_>) -> Vec<(Box<str>, Tenths)> {
    let pairs = value.pairs().unwrap_or_default().into_iter();
    let mut all: Vec<(Box<str>, Tenths)> =
        pairs.filter_map(|(key, value)| Some((key.id()?.into_boxed_str(), tenth(value)?))).collect();
    all.sort();
    all
}

/// Cards that are read one after another, and what is wrong with them. Texts are not kept, so that a
/// large pile needs little memory.
#[derive(Debug, Default)]
pub struct CardPile {
    cards: Vec<(Card, String)>,
    read: usize,
    findings: Findings,
    left_out: usize,
}

impl CardPile {
    /// An empty pile.
    pub fn new() -> CardPile {
        CardPile::default()
    }

    /// Reads a card on to the pile.
    pub fn read(&mut self, source: &SourceText) {
        self.read += 1;
        let mut own = Findings::new();
        if let Some(card) = read_card(source, &mut own) {
            self.cards.push((card, source.name().to_owned()));
        }
        own.sorted().into_iter().for_each(|finding| self.note(finding.clone()));
    }

    /// Notes a fault of a file that could not be read as text.
    pub fn note(&mut self, finding: Finding) {
        if self.findings.len() < MOST_SHOWN {
            self.findings.add(finding);
        } else {
            self.left_out += 1;
        }
    }

    /// How many files were read on to the pile.
    pub fn len(&self) -> usize {
        self.read
    }

    /// Whether no file was.
    pub fn is_empty(&self) -> bool {
        self.read == 0
    }

    fn fault(&mut self, code: &'static str, file: &str, message: String, help: String) {
        let place = Place::File(file.to_owned());
        let help = (!help.is_empty()).then_some(help);
        self.note(Finding { code, severity: Severity::Error, place, message, help });
    }

    /// The cards, with the library of the checklist that most of them name. `None`, with every fault
    /// pushed, where any card has one or the cards don't belong together.
    pub fn finish(mut self, files: &FileSet, findings: &mut Findings) -> Option<(Library, Vec<Card>)> {
        let cards = std::mem::take(&mut self.cards);
        self.judge_codes(&cards);
        let kind = self.judge_kind(&cards);
        self.judge_versions(&cards);
        let library =
            kind.as_ref().and_then(|(_, checklist)| read_library(files, checklist, &mut self.findings));
        if let (Some(library), Some((system, _))) = (&library, kind) {
            self.judge_factors(&cards, library, system);
        }
        if self.left_out > 0 {
            let message = format!("{} more faults of these cards are not shown", self.left_out);
            self.findings.error("too-many-findings", Place::File("the cards".to_owned()), message, "");
        }
        let failed = self.findings.has_errors();
        findings.extend(self.findings);
        if failed { None } else { Some((library?, cards.into_iter().map(|(card, _)| card).collect())) }
    }

    /// One card a farm and year.
    fn judge_codes(&mut self, cards: &[(Card, String)]) {
        let mut first: BTreeMap<(&str, i32), &str> = BTreeMap::new();
        for (card, file) in cards {
            match first.get(&(card.code.as_str(), card.year)) {
                Some(other) => {
                    let message =
                        format!("the code `{}` has a card of {} already, in {other}", card.code, card.year);
                    let help = "keep one of the two; a farm has one code and one card a year";
                    self.fault("duplicate-id", file, message, help.to_owned());
                }
                None => {
                    first.insert((card.code.as_str(), card.year), file);
                }
            }
        }
    }

    /// One system and checklist, and years that can be of one group: those of most cards.
    fn judge_kind(&mut self, cards: &[(Card, String)]) -> Option<(System, String)> {
        let (system, checklist) = most(cards.iter().map(|(card, _)| (card.system, card.checklist.as_str())))?;
        let year = most(cards.iter().map(|(card, _)| card.year))?;
        for (card, file) in cards {
            if (card.system, card.checklist.as_str()) != (system, checklist) {
                let message = format!(
                    "this card is of the checklist `{}` ({}), most of the others of `{checklist}` ({})",
                    card.checklist,
                    card.system.id(),
                    system.id()
                );
                let help = "compare farms that were walked with one checklist";
                self.fault("card-group", file, message, help.to_owned());
            }
            if (card.year - year).abs() > YEARS_APART {
                let message = format!("this card is of {}, most of the others of {year}", card.year);
                self.fault("card-group", file, message, "is the year right?".to_owned());
            }
        }
        Some((system, checklist.to_owned()))
    }

    /// Cards of one year and two versions are compared, with a warning: an item may be asked otherwise.
    fn judge_versions(&mut self, cards: &[(Card, String)]) {
        if self.findings.has_errors() {
            return;
        }
        let mut first: BTreeMap<i32, &str> = BTreeMap::new();
        for (card, file) in cards {
            let version = *first.entry(card.year).or_insert(&card.version);
            if version != card.version {
                let message = format!(
                    "the cards of {} are of versions {version} and {} of the checklist, which may ask otherwise",
                    card.year, card.version
                );
                self.findings.warning("card-group", Place::File(file.clone()), message, "");
                return;
            }
        }
    }

    /// Every factor is one that the library looks at in the cards' system.
    fn judge_factors(&mut self, cards: &[(Card, String)], library: &Library, system: System) {
        let checklist = &library.checklist;
        if let (true, Some((_, file))) = (checklist.system != system, cards.first()) {
            let message = format!("the checklist `{}` is not for {} herds", checklist.id, system.id());
            self.fault("system-mismatch", file, message, String::new());
        }
        let here = library.factors.iter().filter(|factor| factor.in_system(checklist.system));
        let known: BTreeSet<&str> = here.map(|factor| factor.id.as_str()).collect();
        let names: Vec<&str> = known.iter().copied().collect();
        for (card, file) in cards.iter().filter(|(card, _)| card.checklist == checklist.id) {
            for (id, _) in card.exposures.iter().filter(|(id, _)| !known.contains(id.as_ref())) {
                let message = format!("there is no factor `{id}` in {} herds", checklist.system.id());
                self.fault("unknown-factor", file, message, suggest::hint(id, &names));
            }
        }
    }
}

/// The value that occurs most often; of equals the first in order.
fn most<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<T> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    values.for_each(|value| *counts.entry(value).or_default() += 1);
    counts.into_iter().rev().max_by_key(|(_, count)| *count).map(|(value, _)| value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::caret::render;

    const CARD: &str = include_str!("../../tests/fixtures/good/card.yaml");

    fn pile(texts: impl IntoIterator<Item = String>) -> (Option<usize>, Findings) {
        let mut pile = CardPile::new();
        for (at, text) in (0..).zip(texts) {
            pile.read(&SourceText::new(format!("card-{at}.yaml"), text));
        }
        let mut findings = Findings::new();
        let read = pile.finish(&FileSet::builtin(), &mut findings);
        (read.map(|(_, cards)| cards.len()), findings)
    }

    /// A sound card of the shipped checklist with its own code.
    fn sound(at: usize) -> String {
        CARD.replace("k7m-2xq", &format!("farm{at}"))
            .replace("name: brook, version: \"1\"", "name: pasture-herd, version: \"2026.1\"")
            .replace("bare-floor", "track-stones")
    }

    #[test]
    fn sound_cards_are_read() {
        let (cards, findings) = pile((0..3).map(sound));
        assert_eq!((cards, findings.len()), (Some(3), 0));
    }

    /// Text that would be markup or a command to a terminal can stand in no field of a card, and every
    /// number is bounded and coarse.
    #[test]
    fn a_hostile_card_is_refused_with_every_fault_named() {
        let card = CARD
            .replace("k7m-2xq", "\"<script>alert(1)</script>\"")
            .replace("brook", "\"[click](http://x)\"")
            .replace("\"1\"", "\"\\e[31m| # boo\"")
            .replace("rate: 12", "rate: 1e308")
            .replace("17", "99999999999999999999")
            .replace("0.6, foot-rot: 0.4", "0.63, hoof: 0.4")
            .replace("bare-floor: 0.6", "bare-floor: -.inf, \"*x*\": 0.5")
            .replace("48", "4800")
            + "farm: \"Heronsway\"\n";
        let mut findings = Findings::new();
        assert_eq!(read_card(&SourceText::new("card.yaml", card), &mut findings), None);
        insta::assert_snapshot!(render(&findings));
    }

    #[test]
    fn cards_that_do_not_belong_together_are_named() {
        let housed =
            CARD.replace("pasture", "housed").replace("brook, version: \"1\"", "housed-herd, version: \"1\"");
        let cards = [
            sound(0),
            sound(1),
            sound(2),
            sound(1),
            housed.replace("k7m-2xq", "farm4").replace("bare-floor", "standing-time"),
            sound(5).replace("2026\n", "1926\n"),
            sound(6).replace("track-stones", "track-stonse"),
            sound(7).replace("pasture\n", "housed\n"),
        ];
        let (read, findings) = pile(cards);
        assert_eq!(read, None);
        insta::assert_snapshot!(render(&findings));
    }

    #[test]
    fn two_versions_of_one_checklist_are_compared_with_a_warning() {
        let (read, findings) = pile([sound(0), sound(1).replace("2026.1", "2026.2")]);
        assert_eq!((read, findings.errors(), findings.warnings()), (Some(2), 0, 1));
    }

    #[test]
    fn a_large_file_is_no_card() {
        let mut findings = Findings::new();
        let long = format!("{CARD}# {}", "x".repeat(MAX_CARD_BYTES));
        assert_eq!(read_card(&SourceText::new("card.yaml", long), &mut findings), None);
        assert!(render(&findings).contains("[file-too-large]"));
    }

    #[test]
    fn many_faults_are_counted_and_not_shown() {
        let (read, findings) = pile((0..2_000).map(|at| sound(at).replace("score: 48", "score: 480")));
        assert_eq!((read, findings.len()), (None, MOST_SHOWN + 1));
        assert!(render(&findings).contains("1900 more faults"));
        // The same code over and over: each is a fault, most are counted.
        let (read, findings) = pile((0..2_000).map(|_| sound(1)));
        assert_eq!((read, findings.len()), (None, MOST_SHOWN + 1));
    }

    #[test]
    fn no_cards_are_no_group() {
        assert_eq!(pile([]).0, None);
    }
}
