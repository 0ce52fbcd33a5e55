//! A blank file of agreed actions, to be filled in at the kitchen table.

use super::number::money_range;
use super::words;
use crate::reckon::prices::OptionCost;
use crate::reckon::{Estimate, Prepared};
use std::fmt::Write as _;

/// The file as YAML: the chosen options (positions in [`Prepared::options`], such as the report's first
/// actions or a plan's) with room for who, by when and the cost, in the order chosen.
pub fn actions_yaml(prepared: &Prepared, chosen: &[usize]) -> String {
    let walk = prepared.walk;
    let mut text = format!(
        "# What was agreed after the walk: who does what by when. As things get done,\n\
         # fill in `done` (the day) and `real_cost` (all of it). Then `underfoot overdue`\n\
         # lists what is late, `underfoot revisit` sets what was done beside what the\n\
         # next walk finds, and `underfoot plan NEXT-WALK --paid THIS-FILE` reckons with\n\
         # what it really cost. Anything else may stand under `what`, in your own words.\n\
         # Only part of it done: add `done_share: 0.5`.\n\
         farm: {}\nwalk_date: {}\ncurrency: {}\nactions:",
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
            price_note(&option.cost, walk.currency.as_deref()),
        );
    }
    text
}

/// What it may cost once, or a year where nothing is bought, as a remark; empty where that isn't known.
fn price_note(cost: &OptionCost, currency: Option<&str>) -> String {
    let (OptionCost::Known { capital, running, .. }, Some(currency)) = (cost, currency) else {
        return String::new();
    };
    let note = |draws: &Vec<f64>, every: &str| {
        let sum = Estimate::of(draws.clone());
        let range = || format!("        # reckoned at {}{every}", money_range(currency, sum.interval));
        (sum.mean > 0.0).then(range)
    };
    note(capital, "").or_else(|| note(running, " a year")).unwrap_or_default()
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
