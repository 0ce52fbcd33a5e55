//! A blank file of agreed actions, to be filled in at the kitchen table.

use super::words;
use crate::model::words::Words;
use crate::reckon::prices::OptionCost;
use crate::reckon::{Estimate, Prepared};
use std::fmt::Write as _;

/// Columns of a remark, at most.
const WIDTH: usize = 80;

/// The file as YAML: the chosen options (positions in [`Prepared::options`], such as the report's first
/// actions or a plan's) with room for who, by when and the cost, in the order chosen.
pub fn actions_yaml(prepared: &Prepared, chosen: &[usize]) -> String {
    let (walk, words) = (prepared.walk, &prepared.library.words);
    let mut text = format!(
        "{}{}farm: {}\nwalk_date: {}\ncurrency: {}\nactions:",
        remark(&words.word("actions.head")),
        remark(&words.word("actions.part")),
        quoted(&walk.farm_name),
        walk.date,
        walk.currency.as_deref().unwrap_or("null"),
    );
    let options = || chosen.iter().filter_map(|&option| prepared.options.get(option));
    if options().next().is_none() {
        text.push_str(" []\n");
        return text;
    }
    text.push('\n');
    for option in options() {
        let intervention = &prepared.library.interventions[option.intervention];
        let place = words::place(walk, option.segment, intervention.each);
        let place = place.map_or(String::new(), |place| format!(" – {place}"));
        // Writing to a String can't fail.
        let _ = write!(
            text,
            "  # {}{}\n  - what: {}\n    who: null\n    by: null\n    agreed_cost: null{}\n    done: null\n    \
             real_cost: null\n    note: null\n",
            one_line(&intervention.title),
            one_line(&place),
            option.id,
            price_note(words, &option.cost, walk.currency.as_deref()),
        );
    }
    text
}

/// What it may cost once, or a year where nothing is bought, as a remark; empty where that isn't known.
fn price_note(words: &Words, cost: &OptionCost, currency: Option<&str>) -> String {
    let (OptionCost::Known { capital, running, .. }, Some(currency)) = (cost, currency) else {
        return String::new();
    };
    let note = |draws: &Vec<f64>, key: &str| {
        let sum = Estimate::of(draws.clone());
        let said = || words.say(key, &[("cost", &words.money_range(currency, sum.interval))]);
        (sum.mean > 0.0).then(|| format!("        # {}", one_line(&said())))
    };
    let once = note(capital, "actions.reckoned");
    once.or_else(|| note(running, "actions.reckoned-yearly")).unwrap_or_default()
}

/// A remark before the first entry, in lines of a terminal's width.
fn remark(text: &str) -> String {
    let mut lines = vec!["#".to_owned()];
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= WIDTH => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("# {word}")),
        }
    }
    lines.iter().map(|line| format!("{}\n", one_line(line))).collect()
}

/// A text in double quotes, as JSON and YAML both read it.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).unwrap_or_else(|_| "\"\"".to_owned())
}

/// A text that can't end a remark.
fn one_line(text: &str) -> String {
    let spaced: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    spaced.trim_end().to_owned()
}
