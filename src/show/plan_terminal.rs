//! The terminal's view of a plan: what `plan` prints.

use super::text_table::{Side, listed, pair, paragraph, table_with_free, title};
use crate::model::words::Words;
use crate::report::plan_page::{PlanAction, PlanPage, StepText, YearText};
use crate::report::words::without_marks;
use unicode_width::UnicodeWidthStr;

/// The plan, the frontier, the years and where to look next, at most `width` columns wide.
pub fn plan(words: &Words, page: &PlanPage, width: usize) -> String {
    let heading = words.say(
        "plan.heading",
        &[
            ("farm", &page.farm),
            ("date", &page.date),
            ("cows", &page.cows),
            ("system", &page.system),
            ("to_spend", &words.say("plan.to-spend", &[("sum", &page.budget)])),
            ("best_by", &page.best_by),
        ],
    );
    let mut text = paragraph(&heading, 0, width);
    for sentence in &page.in_short {
        text.push('\n');
        text.push_str(&paragraph(sentence, 0, width));
    }
    text.push_str(&actions(words, page, width));
    text.push_str(&steps(words, page, width));
    text.push_str(&years(words, page, width));
    text.push_str(&listed(&words.word("plan.look"), &page.look, width));
    let sure: Vec<String> = std::iter::once(&page.search).chain(&page.sensitivity).cloned().collect();
    text.push_str(&listed(&without_marks(words, &words.word("plan.how-sure")), &sure, width));
    text.push_str(&listed(&words.word("plan.left-out"), &page.left_out, width));
    text
}

/// A table under heads that stand in the table of words; an empty key is a column without a head.
fn headed(
    words: &Words,
    columns: &[(Side, &str)],
    rows: &[Vec<String>],
    width: usize,
    free: usize,
) -> String {
    let sides: Vec<Side> = columns.iter().map(|(side, _)| *side).collect();
    let head = |key: &str| if key.is_empty() { String::new() } else { words.word(key) };
    let heads: Vec<String> = columns.iter().map(|(_, key)| head(key)).collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    table_with_free(&sides, &heads, rows, width, free)
}

fn actions(words: &Words, page: &PlanPage, width: usize) -> String {
    if page.actions.is_empty() {
        return String::new();
    }
    let row = |(at, action): (usize, &PlanAction)| {
        let place = if action.place.is_empty() { String::new() } else { format!(", {}", action.place) };
        vec![
            (at + 1).to_string(),
            format!("{}{place}", action.title),
            action.capital.clone(),
            action.running.clone(),
            action.so_far.clone(),
        ]
    };
    let rows: Vec<_> = page.actions.iter().enumerate().map(row).collect();
    let columns = [
        (Side::Left, ""),
        (Side::Left, "plan.do"),
        (Side::Right, "plan.once"),
        (Side::Right, "plan.yearly"),
        (Side::Right, "plan.so-far"),
    ];
    let mut text = title(&words.word("plan.what-to-do")) + &headed(words, &columns, &rows, width, 1);
    text.push_str(&paragraph(&page.so_far_note, 0, width));
    text.push_str(&title(&words.word("plan.together")));
    let widest = page.together.iter().map(|(name, _)| name.width()).max().unwrap_or(0);
    let at = (widest + 2).min(width * 3 / 5);
    page.together.iter().for_each(|(name, figure)| text.push_str(&pair(name, figure, at, width)));
    text
}

fn steps(words: &Words, page: &PlanPage, width: usize) -> String {
    if page.steps.is_empty() {
        return String::new();
    }
    let row = |step: &StepText| {
        let mark = if step.is_plan { ">" } else { "" };
        let mut row = vec![mark.to_owned(), step.capital.clone(), step.brings.clone()];
        row.extend(page.has_savings.then(|| step.net_benefit.clone()));
        row.push(if step.change.is_empty() { words.word("cost.nothing") } else { step.change.clone() });
        row
    };
    let rows: Vec<_> = page.steps.iter().map(row).collect();
    let mut columns = vec![(Side::Left, ""), (Side::Right, "plan.once"), (Side::Right, "plan.fewer")];
    columns.extend(page.has_savings.then_some((Side::Right, "plan.left")));
    columns.push((Side::Left, "plan.what-changes"));
    let mut text = title(&words.word("plan.more-or-less"));
    text.push_str(&headed(words, &columns, &rows, width, columns.len() - 1));
    text.push_str(&paragraph(&format!("{} {}", page.steps_legend, page.steps_note), 0, width));
    text.push_str(&paragraph(&page.more_money, 0, width));
    text
}

fn years(words: &Words, page: &PlanPage, width: usize) -> String {
    if page.actions.is_empty() {
        return String::new();
    }
    // The currency stands once, in the title: with it in each cell the table is wider than the terminal.
    let currency = page.currency.as_str();
    let has_sums = !currency.is_empty() && page.years.iter().any(|year| year.capital.contains(currency));
    let bare =
        |cell: &String| if has_sums { cell.replace(currency, "").trim().to_owned() } else { cell.clone() };
    let row = |year: &YearText| {
        let mut row = vec![year.year.clone(), bare(&year.capital), bare(&year.running)];
        if page.has_savings {
            row.extend([bare(&year.saved), bare(&year.cash), bare(&year.discounted)]);
        }
        row.push(year.cases.clone());
        row
    };
    let rows: Vec<_> = page.years.iter().map(row).collect();
    let mut columns =
        vec![(Side::Left, "plan.year"), (Side::Right, "plan.spent"), (Side::Right, "plan.running")];
    if page.has_savings {
        columns.extend(["plan.saved", "plan.cash", "plan.all-so-far"].map(|key| (Side::Right, key)));
    }
    columns.push((Side::Right, "plan.new-cases"));
    let heading = match has_sums {
        true => words.say("plan.years.in", &[("currency", currency)]),
        false => words.word("plan.years"),
    };
    title(&heading) + &headed(words, &columns, &rows, width, 0) + &paragraph(&page.years_note, 0, width)
}
