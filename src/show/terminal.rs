//! The terminal's view of a walk: what `score` prints, at most `width` columns wide.

use super::text_table::{Side, listed, pair, paragraph, table, table_with_free, title};
use crate::report::walk_page::WalkPage;

/// How many options and factors the terminal lists; the report has all of them.
const LISTED: usize = 12;

/// Score, where the lameness comes from, ranked options.
pub fn score(page: &WalkPage, width: usize) -> String {
    let mut text = heading(page, width);
    text.push_str(&listed("What your records say", &page.records.in_short, width));
    text.push_str(&sections(page, width));
    text.push_str(&causes(page, width));
    text.push_str(&options(page, width));
    text.push_str(&closing(page, width));
    text
}

fn heading(page: &WalkPage, width: usize) -> String {
    let by = if page.by.is_empty() { String::new() } else { format!(" by {}", page.by) };
    let mut text = paragraph(
        &format!("{}: walk of {}{by}, {} cows, {} herd", page.farm, page.date, page.cows, page.system),
        0,
        width,
    );
    text.push_str(&paragraph(&format!("{} ({})", page.checklist, page.version), 0, width));
    let burden = &page.burden;
    let mut rows = vec![
        vec!["New lame cows a year".to_owned(), format!("{} ({})", burden.cases, burden.cases_range)],
        vec!["per 100 cow-years".to_owned(), format!("{}; across herds {}", burden.rate, burden.herds_rate)],
    ];
    if !burden.cost.is_empty() {
        rows.push(vec!["Cost a year".to_owned(), burden.cost.clone()]);
    }
    let score = &page.score;
    rows.push(vec!["Score (0 good, 100 worst)".to_owned(), format!("{} ({})", score.value, score.interval)]);
    let rest = if page.unanswered.is_empty() {
        "every factor was looked at".to_owned()
    } else {
        format!("score with the rest perfect or worst: {}", score.bounds)
    };
    rows.push(vec!["Items answered".to_owned(), format!("{} of {}; {rest}", score.answered, score.asked)]);
    text.push('\n');
    for row in rows {
        text.push_str(&pair(&row[0], &row[1], 27, width));
    }
    text.push('\n');
    text.push_str(&paragraph(&burden.rests_on, 0, width));
    text
}

fn sections(page: &WalkPage, width: usize) -> String {
    let row = |section: &crate::report::walk_page::SectionText| {
        vec![section.title.clone(), section.score.clone(), section.answered.clone()]
    };
    let rows: Vec<_> = page.sections.iter().map(row).collect();
    title("What the walk found")
        + &table(&[Side::Left, Side::Right, Side::Right], &["Section", "Score", "Answered"], &rows, width)
}

fn causes(page: &WalkPage, width: usize) -> String {
    let row = |factor: &crate::report::walk_page::FactorText| {
        vec![factor.title.clone(), factor.cases.clone(), factor.cases_range.clone(), factor.basis.to_owned()]
    };
    let mut rows: Vec<_> = page.factors.iter().take(LISTED).map(row).collect();
    let (mean, range) = page.unexplained.split_once(" (").unwrap_or((&page.unexplained, ""));
    rows.push(vec![
        "Not explained by what was looked at".to_owned(),
        mean.to_owned(),
        range.trim_end_matches(')').to_owned(),
        String::new(),
    ]);
    let sides = [Side::Left, Side::Right, Side::Right, Side::Left];
    let mut text = title("Where the lameness comes from (lame cows a year)");
    text.push_str(&table(&sides, &["Factor", "Mean", "Range", "Weight rests on"], &rows, width));
    text.push_str(&more(page.factors.len(), LISTED, ["factor", "factors"], width));
    text
}

fn more(all: usize, listed: usize, [one, many]: [&str; 2], width: usize) -> String {
    match all.saturating_sub(listed) {
        0 => String::new(),
        left => {
            let what = if left == 1 { one } else { many };
            paragraph(&format!("and {left} more {what}: see `report --for adviser`"), 0, width)
        }
    }
}

fn options(page: &WalkPage, width: usize) -> String {
    let row = |option: &crate::report::walk_page::OptionText| {
        let tie = if option.close_to_next { "≈" } else { "" };
        vec![
            format!("{}{tie}", option.rank),
            option.title.clone(),
            option.cases.clone(),
            option.cases_range.clone(),
            option.capital.clone(),
            option.p_top3.clone(),
        ]
    };
    let bring: Vec<_> = page.options.iter().filter(|option| !option.brings_nothing).collect();
    let rows: Vec<_> = bring.iter().copied().take(LISTED).map(row).collect();
    let sides = [Side::Left, Side::Left, Side::Right, Side::Right, Side::Right, Side::Right];
    let heading = ["", "Change", "Fewer", "Range", "To do it", "Top 3"];
    let mut text = title(&format!("What to change first, by {}", page.ranked_by));
    text.push_str(&table_with_free(&sides, &heading, &rows, width, 1));
    text.push_str(&more(page.options.len(), rows.len(), ["option", "options"], width));
    text.push_str(&paragraph(
        "Fewer: lame cows a year if this alone is done. Top 3: chance of being among the best three. \
         ≈: can't be told apart from the next. Effects overlap: don't add them up.",
        0,
        width,
    ));
    if let Some(together) = &page.together {
        let titles: Vec<String> = page
            .actions
            .iter()
            .enumerate()
            .map(|(at, action)| match action.place.is_empty() {
                true => format!("({}) {}", at + 1, action.title),
                false => format!("({}) {}, {}", at + 1, action.title, action.place),
            })
            .collect();
        text.push('\n');
        text.push_str(&paragraph(
            &format!("The first {} that go together: {}.", titles.len(), titles.join("; ")),
            0,
            width,
        ));
        let cost =
            if together.cost.is_empty() { String::new() } else { format!(" Cost: {}.", together.cost) };
        text.push_str(&paragraph(
            &format!("Together: {}, {} of all.{cost}", together.brings, together.reduction),
            0,
            width,
        ));
    }
    text
}

fn closing(page: &WalkPage, width: usize) -> String {
    let mut text = String::new();
    for reason in &page.money_withheld {
        text.push('\n');
        text.push_str(&paragraph(reason, 0, width));
    }
    if !page.skipped.is_empty() {
        text.push_str(&title("Not looked at"));
        for skip in page.skipped.iter().take(LISTED) {
            text.push_str(&pair("-", &format!("{}: {}", skip.ask, skip.reason), 2, width));
        }
        text.push_str(&more(page.skipped.len(), LISTED, ["item", "items"], width));
    }
    text.push('\n');
    text.push_str(&paragraph(
        &format!(
            "Ranges hold nine chances in ten ({} draws, seed {}). Weights are averages from other farms; this \
             ranks risks and diagnoses nothing.",
            page.draws, page.seed
        ),
        0,
        width,
    ));
    text
}
