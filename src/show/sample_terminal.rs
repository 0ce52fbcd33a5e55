//! The terminal's view of how much to look at: what `sample` prints.

use super::text_table::{Side, paragraph, table, table_with_free, title};
use crate::report::sample_page::{CowsText, SamplePage, SquaresText};

/// Cows to score and which, squares to lay down.
pub fn sample(page: &SamplePage, width: usize) -> String {
    let mut text = match &page.cows {
        Some(cows) => scoring(cows, width),
        None => paragraph("Give the number of cows with --cows for how many to score.", 0, width),
    };
    text.push_str(&squares(&page.squares, width));
    text.push('\n');
    text.push_str(&paragraph(
        "These numbers allow for chance alone, not for two people scoring in two ways.",
        0,
        width,
    ));
    text
}

fn scoring(cows: &CowsText, width: usize) -> String {
    let mut text = paragraph(&format!("{} cows, {} herd. {}", cows.herd, cows.system, cows.asked), 0, width);
    text.push('\n');
    text.push_str(&paragraph(&format!("{} {}", cows.answer, cows.coarse), 0, width));
    if cows.every_at_pasture {
        text.push_str(&paragraph("At pasture few cows are lame, and a sample misses them.", 0, width));
    }
    if cows.one_in {
        let how = "Take the first cow by chance and then count on through the whole milking.";
        text.push_str(&paragraph(how, 0, width));
    }
    text.push_str(&title("Cows to score"));
    let rows: Vec<Vec<String>> = cows.by_precision.iter().map(|row| row.to_vec()).collect();
    let sides = [Side::Left, Side::Right, Side::Left];
    text.push_str(&table_with_free(&sides, &["To within", "Arithmetic", "Score"], &rows, width, 2));
    text.push_str(&title("Where in the milking order"));
    text.push_str(&paragraph(
        "Lame cows come in last: the last 30% of the order held 60% of the lame cows in one study. The first \
         rows are no sample of a herd; the last rows show too many. Only to see whether any cow is lame, begin \
         with the last and go forward. This many find one, 95 times in 100, if taken by chance; from the last \
         forward it takes fewer:",
        0,
        width,
    ));
    let rows: Vec<Vec<String>> = cows.to_find_one.iter().map(|row| row.to_vec()).collect();
    text.push('\n');
    let heading = ["Lame cows in the herd", "Cows to score"];
    text.push_str(&table(&[Side::Left, Side::Right], &heading, &rows, width));
    text
}

fn squares(squares: &SquaresText, width: usize) -> String {
    let mut text = title("Squares of stones");
    text.push_str(&paragraph(&squares.answer, 0, width));
    text.push_str(&paragraph(
        "Spread them over the whole stretch and lay them down without looking: stones lie in patches.",
        0,
        width,
    ));
    let rows: Vec<Vec<String>> = squares.by_density.iter().map(|row| row.to_vec()).collect();
    let within = format!("Squares for {} either way", squares.within);
    let heading = ["Stones a square metre", &within, "Square metres"];
    text.push('\n');
    text.push_str(&table(&[Side::Left, Side::Right, Side::Right], &heading, &rows, width));
    text
}
