//! The terminal's view of case records: what `cases` prints.

use super::text_table::{Side, listed, pair, paragraph, table, table_with_free, title};
use crate::model::words::Words;
use crate::report::records_page::{FootRow, LesionRow, MonthRow, ObserverRow, RecordsPage};

/// Where the text beside a name begins.
const BESIDE: usize = 27;
/// The longest bar of a month.
const BAR: u64 = 20;

/// Rate, lesions, months, feet, who saw the cases, and what all this can't say.
pub fn cases(words: &Words, page: &RecordsPage, width: usize) -> String {
    let mut text = heading(words, page, width);
    text.push_str(&lesions(words, page, width));
    text.push_str(&months(words, page, width));
    text.push_str(&feet(words, page, width));
    text.push_str(&observers(words, page, width));
    text.push_str(&others(words, page, width));
    text.push_str(&listed(&words.word("cases.cannot-be-said"), &page.withheld, width));
    text
}

fn heading(words: &Words, page: &RecordsPage, width: usize) -> String {
    let line = |name: &str, text: &str| pair(&words.word(name), text, BESIDE, width);
    let cows = [("cows", page.cows.as_str()), ("cow_years", &page.cow_years)];
    let mut text = line("cases.period-name", &page.period);
    text.push_str(&line("cases.cows-name", &words.say("cases.cows", &cows)));
    text.push_str(&line("cases.cases-name", &page.cases));
    text.push_str(&line("cases.rate-name", &words.say("cases.rate-exact", &[("rate", &page.rate)])));
    text.push_str(&listed(&words.word("cases.read-first"), &page.cautions, width));
    text
}

/// The words of a heading's columns.
fn headings(words: &Words, keys: &[&str]) -> Vec<String> {
    keys.iter().map(|key| if key.is_empty() { String::new() } else { words.word(key) }).collect()
}

fn lesions(words: &Words, page: &RecordsPage, width: usize) -> String {
    if page.lesions.is_empty() {
        return String::new();
    }
    let row = |lesion: &LesionRow| {
        let counts = [lesion.name.clone(), lesion.cases.to_string()];
        let shares = [lesion.share.clone(), lesion.interval.clone()];
        counts.into_iter().chain((!page.few_lesions).then_some(shares).into_iter().flatten()).collect()
    };
    let rows: Vec<Vec<String>> = page.lesions.iter().map(row).collect();
    let columns = if page.few_lesions { 2 } else { 4 };
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right];
    let heading = headings(words, &["pin-up.lesion", "cases.cases-name", "cases.share", "cases.interval"]);
    let mut text = title(&words.word("cases.which-lesions"));
    text.push_str(&table(&sides[..columns], &heading[..columns], &rows, width));
    if !page.top.is_empty() {
        text.push_str(&paragraph(&page.top, 0, width));
    }
    text
}

fn months(words: &Words, page: &RecordsPage, width: usize) -> String {
    if page.months.is_empty() {
        return String::new();
    }
    let most = page.months.iter().map(|month| month.cases).max().unwrap_or(0).max(BAR);
    let row = |month: &MonthRow| {
        let counts = [month.month.clone(), month.cases.to_string()];
        let limits = [month.rate.clone(), month.limits.clone()];
        let bar = "#".repeat((month.cases * BAR / most) as usize);
        let note = format!("{bar} {}", month.signal);
        let limits = (!page.few).then_some(limits).into_iter().flatten();
        counts.into_iter().chain(limits).chain([note.trim().to_owned()]).collect()
    };
    let rows: Vec<Vec<String>> = page.months.iter().map(row).collect();
    let mut text = title(&words.word("cases.by-month"));
    if page.few {
        let sides = [Side::Left, Side::Right, Side::Left];
        let heading = headings(words, &["cases.month", "cases.cases-name", ""]);
        text.push_str(&table_with_free(&sides, &heading, &rows, width, 2));
        return text;
    }
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right, Side::Left];
    let heading =
        headings(words, &["cases.month", "cases.cases-name", "cases.per-100-cows", "cases.limits-name", ""]);
    text.push_str(&table_with_free(&sides, &heading, &rows, width, 4));
    // The months that stand out say so in their rows.
    if page.months.iter().all(|month| month.signal.is_empty()) {
        text.push_str(&paragraph(&page.months_told, 0, width));
    }
    text
}

fn feet(words: &Words, page: &RecordsPage, width: usize) -> String {
    if page.feet.is_empty() {
        return String::new();
    }
    let row = |foot: &FootRow| {
        let counts = [foot.cases, foot.inner, foot.outer, foot.no_claw].map(|cases| cases.to_string());
        [foot.foot.clone()].into_iter().chain(counts).collect()
    };
    let rows: Vec<Vec<String>> = page.feet.iter().map(row).collect();
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right, Side::Right];
    let claws = ["cases.inner-claw", "cases.outer-claw", "cases.claw-not-given"];
    let heading = headings(words, &["pin-up.foot", "cases.cases-name", claws[0], claws[1], claws[2]]);
    title(&words.word("cases.feet")) + &table(&sides, &heading, &rows, width)
}

fn observers(words: &Words, page: &RecordsPage, width: usize) -> String {
    if page.observers.is_empty() {
        return String::new();
    }
    let row = |observer: &ObserverRow| {
        vec![observer.who.clone(), observer.cases.to_string(), observer.lesions.clone()]
    };
    let rows: Vec<Vec<String>> = page.observers.iter().map(row).collect();
    let sides = [Side::Left, Side::Right, Side::Left];
    let heading = headings(words, &["cases.seen-by", "cases.cases-name", "cases.what-they-saw"]);
    title(&words.word("cases.who-saw-it")) + &table_with_free(&sides, &heading, &rows, width, 2)
}

fn others(words: &Words, page: &RecordsPage, width: usize) -> String {
    let told = [
        ("cases.lactations-name", &page.parities),
        ("cases.days-in-milk-name", &page.days_in_milk),
        ("cases.delay-name", &page.delay),
    ];
    let told = told.into_iter().filter(|(_, text)| !text.is_empty());
    told.map(|(name, text)| title(&words.word(name)) + &paragraph(text, 0, width)).collect()
}
