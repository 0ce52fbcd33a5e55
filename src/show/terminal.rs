//! The terminal's view of a walk: what `score` prints, at most `width` columns wide.

use super::text_table::{Side, listed, pair, paragraph, table, table_with_free, title};
use crate::model::words::Words;
use crate::report::walk_page::{ActionText, FactorText, OptionText, SectionText, WalkPage};
use unicode_width::UnicodeWidthStr;

/// How many options and factors the terminal lists; the report has all of them.
const LISTED: usize = 12;

/// Score, where the lameness comes from, ranked options.
pub fn score(words: &Words, page: &WalkPage, width: usize) -> String {
    let mut text = heading(words, page, width);
    text.push_str(&listed(&words.word("score.records"), &page.records.in_short, width));
    text.push_str(&sections(words, page, width));
    text.push_str(&causes(words, page, width));
    text.push_str(&options(words, page, width));
    text.push_str(&together(words, page, width));
    text.push_str(&closing(words, page, width));
    text
}

fn heading(words: &Words, page: &WalkPage, width: usize) -> String {
    let key = if page.by.is_empty() { "score.walk" } else { "score.walk-by" };
    let walk = words.say(
        key,
        &[
            ("farm", &page.farm),
            ("date", &page.date),
            ("by", &page.by),
            ("cows", &page.cows),
            ("system", &page.system),
        ],
    );
    let mut text = paragraph(&walk, 0, width);
    text.push_str(&paragraph(&format!("{} ({})", page.checklist, page.version), 0, width));
    text.push('\n');
    let rows = in_short(words, page);
    let at = rows.iter().map(|(name, _)| name.width()).max().unwrap_or(0) + 2;
    rows.iter().for_each(|(name, value)| text.push_str(&pair(name, value, at, width)));
    text.push('\n');
    text.push_str(&paragraph(&page.burden.rests_on, 0, width));
    text
}

/// The first figures, each with its name.
fn in_short(words: &Words, page: &WalkPage) -> Vec<(String, String)> {
    let (burden, score) = (&page.burden, &page.score);
    let rate = [("rate", burden.rate.as_str()), ("herds", &burden.herds_rate)];
    let share = ("share", score.answered.as_str());
    let answered = match page.unanswered.is_empty() {
        true => words.say("score.answered-all", &[share]),
        false => words.say("score.answered-some", &[share, ("bounds", &score.bounds)]),
    };
    let row = |key: &str, value: String| (words.word(key), value);
    let mut rows = vec![
        row("score.cases", format!("{} ({})", burden.cases, burden.cases_range)),
        row("score.rate", words.say("score.rate-and-herds", &rate)),
    ];
    if !burden.cost.is_empty() {
        rows.push(row("score.cost", burden.cost.clone()));
    }
    rows.push(row("score.score", format!("{} ({})", score.value, score.interval)));
    rows.push(row("score.answered", answered));
    rows
}

/// The names of columns.
fn columns<const N: usize>(words: &Words, keys: [&str; N]) -> [String; N] {
    keys.map(|key| words.word(key))
}

fn sections(words: &Words, page: &WalkPage, width: usize) -> String {
    let row =
        |section: &SectionText| vec![section.title.clone(), section.score.clone(), section.answered.clone()];
    let rows: Vec<_> = page.sections.iter().map(row).collect();
    let heading = columns(words, ["score.section", "score.section-score", "score.section-answered"]);
    let sides = [Side::Left, Side::Right, Side::Right];
    title(&words.word("score.found")) + &table(&sides, &heading.each_ref().map(String::as_str), &rows, width)
}

fn causes(words: &Words, page: &WalkPage, width: usize) -> String {
    let row = |factor: &FactorText| {
        vec![factor.title.clone(), factor.cases.clone(), factor.cases_range.clone(), factor.basis.clone()]
    };
    let mut rows: Vec<_> = page.factors.iter().take(LISTED).map(row).collect();
    let unexplained = &page.unexplained;
    rows.push(vec![
        words.word("score.unexplained"),
        unexplained.mean.clone(),
        unexplained.range.clone(),
        String::new(),
    ]);
    let sides = [Side::Left, Side::Right, Side::Right, Side::Left];
    let heading = columns(words, ["score.factor", "score.mean", "score.range", "score.weight"]);
    let mut text = title(&words.word("score.causes"));
    text.push_str(&table(&sides, &heading.each_ref().map(String::as_str), &rows, width));
    text.push_str(&more(words, page.factors.len(), LISTED, "score.more-factors", width));
    text
}

fn more(words: &Words, all: usize, listed: usize, key: &str, width: usize) -> String {
    match all.saturating_sub(listed) {
        0 => String::new(),
        left => paragraph(&words.say_for(left as f64, key, &[("n", &left.to_string())]), 0, width),
    }
}

fn options(words: &Words, page: &WalkPage, width: usize) -> String {
    let row = |option: &OptionText| {
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
    let [change, fewer, range, once, top3] =
        columns(words, ["score.change", "score.fewer", "score.range", "score.once", "score.top3"]);
    let heading = ["", &change, &fewer, &range, &once, &top3];
    let mut text = title(&words.say("score.first", &[("measure", &page.ranked_by)]));
    text.push_str(&table_with_free(&sides, &heading, &rows, width, 1));
    text.push_str(&more(words, page.options.len(), rows.len(), "score.more-options", width));
    text.push_str(&paragraph(&words.word("score.columns"), 0, width));
    text
}

/// The first things that go together, and what they bring.
fn together(words: &Words, page: &WalkPage, width: usize) -> String {
    let Some(together) = &page.together else { return String::new() };
    let named = |(at, action): (usize, &ActionText)| match action.place.is_empty() {
        true => format!("({}) {}", at + 1, action.title),
        false => format!("({}) {}, {}", at + 1, action.title, action.place),
    };
    let titles: Vec<String> = page.actions.iter().enumerate().map(named).collect();
    let (count, titles) = (titles.len().to_string(), titles.join("; "));
    let first = words.say("score.go-together", &[("n", &count), ("titles", &titles)]);
    let values = [("brings", together.brings.as_str()), ("reduction", &together.reduction)];
    let mut brings = words.say("score.together", &values);
    if !together.cost.is_empty() {
        brings.push(' ');
        brings.push_str(&words.say("farmer.cost", &[("cost", &together.cost)]));
    }
    format!("\n{}{}", paragraph(&first, 0, width), paragraph(&brings, 0, width))
}

fn closing(words: &Words, page: &WalkPage, width: usize) -> String {
    let mut text = String::new();
    for reason in &page.money_withheld {
        text.push('\n');
        text.push_str(&paragraph(reason, 0, width));
    }
    if !page.skipped.is_empty() {
        text.push_str(&title(&words.word("score.not-looked-at")));
        for skip in page.skipped.iter().take(LISTED) {
            text.push_str(&pair("-", &format!("{}: {}", skip.ask, skip.reason), 2, width));
        }
        text.push_str(&more(words, page.skipped.len(), LISTED, "score.more-items", width));
    }
    text.push('\n');
    let seed = page.seed.to_string();
    text.push_str(&paragraph(&words.say("score.foot", &[("draws", &page.draws), ("seed", &seed)]), 0, width));
    text
}
