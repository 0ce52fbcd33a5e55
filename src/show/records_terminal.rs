//! The terminal's view of case records: what `cases` prints.

use super::text_table::{Side, listed, pair, paragraph, table, table_with_free, title};
use crate::report::records_page::RecordsPage;

/// Where the text beside a name begins.
const BESIDE: usize = 27;
/// The longest bar of a month.
const BAR: u64 = 20;

/// Rate, lesions, months, feet, who saw the cases, and what all this can't say.
pub fn cases(page: &RecordsPage, width: usize) -> String {
    let mut text = heading(page, width);
    text.push_str(&lesions(page, width));
    text.push_str(&months(page, width));
    text.push_str(&feet(page, width));
    text.push_str(&observers(page, width));
    text.push_str(&others(page, width));
    text.push_str(&listed("What can't be said", &page.withheld, width));
    text
}

fn heading(page: &RecordsPage, width: usize) -> String {
    let mut text = pair("Period", &page.period, BESIDE, width);
    let cows = format!("{} on average ({} cow-years)", page.cows, page.cow_years);
    text.push_str(&pair("Cows", &cows, BESIDE, width));
    let cases = format!("{} {}", page.cases, page.lame_cows);
    text.push_str(&pair("Cases", cases.trim_end(), BESIDE, width));
    let rate = format!("{}, exact 95% interval", page.rate);
    text.push_str(&pair("per 100 cow-years", &rate, BESIDE, width));
    let mut cautions = page.cautions.clone();
    cautions.extend([&page.left_out].into_iter().filter(|words| !words.is_empty()).cloned());
    if !page.counted_as_other.is_empty() {
        cautions.push(format!(
            "Words not known as a lesion, counted as another lesion: {}.",
            page.counted_as_other
        ));
    }
    text.push_str(&listed("Read this first", &cautions, width));
    text
}

fn lesions(page: &RecordsPage, width: usize) -> String {
    if page.lesions.is_empty() {
        return String::new();
    }
    let row = |lesion: &crate::report::records_page::LesionRow| {
        let counts = [lesion.name.clone(), lesion.cases.to_string()];
        let shares = [lesion.share.clone(), lesion.interval.clone()];
        counts.into_iter().chain((!page.few_lesions).then_some(shares).into_iter().flatten()).collect()
    };
    let rows: Vec<Vec<String>> = page.lesions.iter().map(row).collect();
    let columns = if page.few_lesions { 2 } else { 4 };
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right];
    let heading = ["Lesion", "Cases", "Share", "95% interval"];
    let mut text = title("Which lesions");
    text.push_str(&table(&sides[..columns], &heading[..columns], &rows, width));
    if !page.top.is_empty() {
        text.push_str(&paragraph(&page.top, 0, width));
    }
    text
}

fn months(page: &RecordsPage, width: usize) -> String {
    if page.months.is_empty() {
        return String::new();
    }
    let most = page.months.iter().map(|month| month.cases).max().unwrap_or(0).max(BAR);
    let row = |month: &crate::report::records_page::MonthRow| {
        let counts = [month.month.clone(), month.cases.to_string()];
        let limits = [month.rate.clone(), month.limits.clone()];
        let bar = "#".repeat((month.cases * BAR / most) as usize);
        let note = format!("{bar} {}", month.signal);
        let limits = (!page.few).then_some(limits).into_iter().flatten();
        counts.into_iter().chain(limits).chain([note.trim().to_owned()]).collect()
    };
    let rows: Vec<Vec<String>> = page.months.iter().map(row).collect();
    let mut text = title("Month by month");
    if page.few {
        let sides = [Side::Left, Side::Right, Side::Left];
        text.push_str(&table_with_free(&sides, &["Month", "Cases", ""], &rows, width, 2));
        return text;
    }
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right, Side::Left];
    let heading = ["Month", "Cases", "Per 100 cows", "Limits of chance", ""];
    text.push_str(&table_with_free(&sides, &heading, &rows, width, 4));
    if page.signals.is_empty() {
        text.push_str(&paragraph("No month stands out from what chance gives.", 0, width));
    }
    text
}

fn feet(page: &RecordsPage, width: usize) -> String {
    if page.feet.is_empty() {
        return String::new();
    }
    let row = |foot: &crate::report::records_page::FootRow| {
        let counts = [foot.cases, foot.inner, foot.outer, foot.no_claw].map(|cases| cases.to_string());
        [foot.foot.to_owned()].into_iter().chain(counts).collect()
    };
    let rows: Vec<Vec<String>> = page.feet.iter().map(row).collect();
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right, Side::Right];
    let heading = ["Foot", "Cases", "Inner claw", "Outer claw", "Claw not given"];
    title("Feet and claws") + &table(&sides, &heading, &rows, width)
}

fn observers(page: &RecordsPage, width: usize) -> String {
    if page.observers.is_empty() {
        return String::new();
    }
    let row = |observer: &crate::report::records_page::ObserverRow| {
        vec![observer.who.to_owned(), observer.cases.to_string(), observer.lesions.clone()]
    };
    let rows: Vec<Vec<String>> = page.observers.iter().map(row).collect();
    let sides = [Side::Left, Side::Right, Side::Left];
    title("Who saw it") + &table_with_free(&sides, &["By", "Cases", "What they saw"], &rows, width, 2)
}

fn others(page: &RecordsPage, width: usize) -> String {
    let mut text = String::new();
    for (heading, bands) in [
        ("Lactations (counts, no rates)", &page.parities),
        ("Days in milk (counts, no rates)", &page.days_in_milk),
    ] {
        if !bands.is_empty() {
            text.push_str(&title(heading));
            text.push_str(&paragraph(&bands.join("; "), 0, width));
        }
    }
    if !page.delay.is_empty() {
        text.push_str(&title("Days to treatment"));
        text.push_str(&paragraph(&page.delay, 0, width));
    }
    text
}
