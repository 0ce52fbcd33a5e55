//! The terminal's view of a plan: what `plan` prints.

use super::text_table::{Side, listed, pair, paragraph, table, table_with_free, title};
use crate::report::plan_page::{PlanPage, StepText, YearText};

/// The plan, the frontier, the years and where to look next, at most `width` columns wide.
pub fn plan(page: &PlanPage, width: usize) -> String {
    let heading = format!(
        "{}: plan from the walk of {}, {} cows, {} herd; to spend: {}; best by {}",
        page.farm, page.date, page.cows, page.system, page.budget, page.best_by
    );
    let mut text = paragraph(&heading, 0, width);
    for sentence in &page.in_short {
        text.push('\n');
        text.push_str(&paragraph(sentence, 0, width));
    }
    text.push_str(&actions(page, width));
    text.push_str(&steps(page, width));
    text.push_str(&years(page, width));
    text.push_str(&listed("Where to look next", &page.look, width));
    let sure: Vec<String> = std::iter::once(&page.search).chain(&page.sensitivity).cloned().collect();
    text.push_str(&listed("How sure is this", &sure, width));
    text.push_str(&listed("Not in any plan", &page.left_out, width));
    text
}

fn actions(page: &PlanPage, width: usize) -> String {
    if page.actions.is_empty() {
        return String::new();
    }
    let row = |(at, action): (usize, &crate::report::plan_page::PlanAction)| {
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
    let sides = [Side::Left, Side::Left, Side::Right, Side::Right, Side::Right];
    let heading = ["", "Do", "Once", "A year", "So far"];
    let mut text = title("What to do") + &table_with_free(&sides, &heading, &rows, width, 1);
    text.push_str(&paragraph(&format!("So far: {}.", page.so_far.to_lowercase()), 0, width));
    text.push_str(&title("What it brings, all together"));
    page.together.iter().for_each(|(name, figure)| text.push_str(&pair(name, figure, 43, width)));
    text
}

fn steps(page: &PlanPage, width: usize) -> String {
    if page.steps.is_empty() {
        return String::new();
    }
    let row = |step: &StepText| {
        let mark = if step.is_plan { ">" } else { "" };
        let change = if step.change.is_empty() { "nothing to buy" } else { &step.change };
        let mut row = vec![mark.to_owned(), step.capital.clone(), step.brings.clone()];
        row.extend(page.has_savings.then(|| step.net_benefit.clone()));
        row.push(change.to_owned());
        row
    };
    let rows: Vec<_> = page.steps.iter().map(row).collect();
    let mut sides = vec![Side::Left, Side::Right, Side::Right];
    let mut heading = vec!["", "Once", "Fewer"];
    if page.has_savings {
        sides.push(Side::Right);
        heading.push("Left a year");
    }
    sides.push(Side::Left);
    heading.push("What changes from the row above");
    let mut text = title("If there were more money, or less");
    text.push_str(&table_with_free(&sides, &heading, &rows, width, sides.len() - 1));
    text.push_str(&paragraph(
        &format!("Fewer: {}. >: the plan. {}", page.steps_count.to_lowercase(), page.steps_note),
        0,
        width,
    ));
    text.push_str(&paragraph(&page.more_money, 0, width));
    text
}

fn years(page: &PlanPage, width: usize) -> String {
    if page.actions.is_empty() {
        return String::new();
    }
    // The currency stands once, in the title: with it in each cell the table is wider than the terminal.
    let currency = page.years.iter().find_map(|year| year.capital.split_once(' ')).map_or("", |(it, _)| it);
    let bare = |cell: &String| cell.strip_prefix(currency).unwrap_or(cell).trim_start().to_owned();
    let row = |year: &YearText| {
        let mut row = vec![year.year.clone(), bare(&year.capital), bare(&year.running)];
        if page.has_savings {
            row.extend([bare(&year.saved), bare(&year.cash), bare(&year.discounted)]);
        }
        row.push(year.cases.clone());
        row
    };
    let rows: Vec<_> = page.years.iter().map(row).collect();
    let mut heading = vec!["Year", "Spent", "To run"];
    if page.has_savings {
        heading.extend(["Saved", "Cash", "All so far"]);
    }
    heading.push("New lame cows");
    let sides: Vec<Side> =
        (0..heading.len()).map(|at| if at == 0 { Side::Left } else { Side::Right }).collect();
    let heading_line =
        if currency.is_empty() { "Year by year".to_owned() } else { format!("Year by year, {currency}") };
    title(&heading_line) + &table(&sides, &heading, &rows, width) + &paragraph(&page.years_note, 0, width)
}
