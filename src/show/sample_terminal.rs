//! The terminal's view of how much to look at: what `sample` prints.

use super::text_table::{Side, paragraph, table, table_with_free, title};
use crate::model::words::Words;
use crate::report::sample_page::{CowsText, SamplePage, SquaresText};

/// Cows to score and which, squares to lay down.
pub fn sample(words: &Words, page: &SamplePage, width: usize) -> String {
    let mut text = match &page.cows {
        Some(cows) => scoring(words, cows, width),
        None => paragraph(&words.say("sample.give-cows", &[("option", "--cows")]), 0, width),
    };
    text.push_str(&squares(words, &page.squares, width));
    text.push('\n');
    text.push_str(&paragraph(&words.word("sample.chance-alone-short"), 0, width));
    text
}

fn scoring(words: &Words, cows: &CowsText, width: usize) -> String {
    let mut text = paragraph(&format!("{} {}", cows.herd, cows.asked), 0, width);
    text.push('\n');
    text.push_str(&paragraph(&format!("{} {}", cows.answer, cows.coarse), 0, width));
    if cows.every_at_pasture {
        text.push_str(&paragraph(&words.word("sample.at-pasture-short"), 0, width));
    }
    if cows.one_in {
        text.push_str(&paragraph(&words.word("sample.count-on-short"), 0, width));
    }
    text.push_str(&title(&words.word("sample.cows-to-score")));
    let rows: Vec<Vec<String>> = cows.by_precision.iter().map(|row| row.to_vec()).collect();
    let sides = [Side::Left, Side::Right, Side::Left];
    let heading = ["sample.to-within", "sample.arithmetic", "sample.score"].map(|key| words.word(key));
    text.push_str(&table_with_free(&sides, &heading, &rows, width, 2));
    text.push_str(&title(&words.word("sample.where")));
    text.push_str(&paragraph(&words.word("sample.where-short"), 0, width));
    let rows: Vec<Vec<String>> = cows.to_find_one.iter().map(|row| row.to_vec()).collect();
    text.push('\n');
    let heading = ["sample.lame-in-herd", "sample.cows-to-score"].map(|key| words.word(key));
    text.push_str(&table(&[Side::Left, Side::Right], &heading, &rows, width));
    text
}

fn squares(words: &Words, squares: &SquaresText, width: usize) -> String {
    let mut text = title(&words.word("sample.squares-of-stones"));
    text.push_str(&paragraph(&squares.answer, 0, width));
    text.push_str(&paragraph(&words.word("sample.spread-short"), 0, width));
    let rows: Vec<Vec<String>> = squares.by_density.iter().map(|row| row.to_vec()).collect();
    let (stones, area) = (words.word("sample.stones-short"), words.word("sample.square-metres"));
    let heading = [stones, squares.table_heading.clone(), area];
    text.push('\n');
    text.push_str(&table(&[Side::Left, Side::Right, Side::Right], &heading, &rows, width));
    text
}
