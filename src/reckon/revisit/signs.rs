//! The early signs: what moves first once a change is made, and when.
//!
//! What was changed can be seen and measured the day it is done. How soon a lame cow is treated moves with
//! the next cases. New cases themselves move later: a bruise of today breaks out weeks from now
//! (`weeks_to_effect` of the option). Told from chance they can be later still.

use crate::model::actions::{Action, Actions, What};
use crate::model::intervention::Intervention;
use crate::reckon::Prepared;
use chrono::{Duration, NaiveDate};

/// How many options are watched where no actions were agreed.
const FIRST_ACTIONS: usize = 3;

/// When one change should show.
#[derive(Clone, Debug, PartialEq)]
pub struct Sign {
    /// Index in [`crate::model::Library::interventions`].
    pub intervention: usize,
    /// Id of the segment, where it is done to one.
    pub segment: Option<String>,
    /// Indices of the factors to measure again, in [`crate::model::Library::factors`].
    pub factors: Vec<usize>,
    /// Whether the days from first sign to treatment should fall.
    pub treatment: bool,
    /// Weeks from the work to the first fewer cases; `None` where the option avoids none or nobody
    /// says.
    pub weeks_to_cases: Option<f64>,
    /// Day the work was done, or is due where that day is still to come.
    pub from: Option<NaiveDate>,
    /// Whether that day is when it was done.
    pub done: bool,
}

/// What to watch for the agreed options, or the first ones of the ranking where none were agreed;
/// what shows soonest first. `today` is the day of the last walk.
pub fn signs(before: &Prepared, actions: Option<&Actions>, today: NaiveDate) -> Vec<Sign> {
    let mut signs: Vec<Sign> = match actions {
        Some(actions) => actions
            .list
            .iter()
            .filter_map(|action| {
                let What::Option { id, segment } = &action.what else { return None };
                let day = action.done.or(action.by.filter(|by| *by >= today));
                sign(before, id, segment.clone(), day, action.done.is_some())
            })
            .collect(),
        None => before
            .first_actions(&alone(before), FIRST_ACTIONS)
            .into_iter()
            .filter_map(|option| {
                let option = &before.options[option];
                let segment = option.segment.and_then(|at| before.walk.segments.get(at));
                let id = &before.library.interventions[option.intervention].id;
                sign(before, id, segment.map(|segment| segment.id.clone()), None, false)
            })
            .collect(),
    };
    let weeks = |sign: &Sign| sign.weeks_to_cases.unwrap_or(f64::INFINITY);
    signs.sort_by(|a, b| weeks(a).total_cmp(&weeks(b)));
    signs
}

/// What each option brings alone, in the measure of the ranking.
fn alone(prepared: &Prepared) -> Vec<f64> {
    let brings = |option| prepared.measure(&prepared.set_gain(&[option]), &[option]);
    (0..prepared.options.len()).map(brings).collect()
}

fn sign(
    before: &Prepared,
    id: &str,
    segment: Option<String>,
    from: Option<NaiveDate>,
    done: bool,
) -> Option<Sign> {
    let library = before.library;
    let intervention = library.interventions.iter().position(|option| option.id == id)?;
    let option = &library.interventions[intervention];
    let position = |(id, _): &(String, f64)| library.factors.iter().position(|factor| factor.id == *id);
    Some(Sign {
        intervention,
        segment,
        factors: option.to.iter().filter_map(position).collect(),
        treatment: option.shortens_cases.is_some(),
        weeks_to_cases: option.weeks_to_effect.filter(|_| !option.to.is_empty()),
        from,
        done,
    })
}

/// Actions that are done, with the first day on which their cases could be fewer.
pub(crate) fn effects(before: &Prepared, actions: Option<&Actions>) -> Vec<(usize, NaiveDate)> {
    let effect = |(index, action): (usize, &Action)| {
        let What::Option { id, .. } = &action.what else { return None };
        let option = before.library.intervention(id)?;
        Some((index, shows(action.done?, option)?))
    };
    actions.map_or(Vec::new(), |actions| actions.list.iter().enumerate().filter_map(effect).collect())
}

/// The first day on which a done action's change of exposure counts, by position of the factor; the
/// latest, where several actions work on one.
pub(crate) fn factors_from(before: &Prepared, actions: Option<&Actions>) -> Vec<(usize, NaiveDate)> {
    let mut from: Vec<(usize, NaiveDate)> = Vec::new();
    for (index, day) in effects(before, actions) {
        let Some(What::Option { id, .. }) = actions.map(|actions| &actions.list[index].what) else {
            continue;
        };
        let option = before.library.intervention(id);
        for (factor, _) in option.iter().flat_map(|option| &option.to) {
            let at = before.weights.iter().position(|it| before.library.factors[it.factor].id == *factor);
            let Some(position) = at else { continue };
            match from.iter_mut().find(|(of, _)| *of == position) {
                Some((_, known)) => *known = day.max(*known),
                None => from.push((position, day)),
            }
        }
    }
    from
}

fn shows(done: NaiveDate, option: &Intervention) -> Option<NaiveDate> {
    let days = (7.0 * option.weeks_to_effect?).min(36_500.0) as i64;
    done.checked_add_signed(Duration::days(days))
}
