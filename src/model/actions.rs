//! What was agreed after a walk: who does what by when, and what came of it.

use super::walk::Segment;
use chrono::NaiveDate;

/// The actions agreed after one walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Actions {
    /// Name of the farm, as in the walk record.
    pub farm: String,
    /// Date of the walk after which they were agreed.
    pub walk_date: NaiveDate,
    /// ISO 4217 code of every cost; `None` where no cost is given.
    pub currency: Option<String>,
    /// The actions, in file order.
    pub list: Vec<Action>,
}

/// One agreed action.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// What is to be done.
    pub what: What,
    /// Who does it.
    pub who: Option<String>,
    /// Last day it should be done by.
    pub by: Option<NaiveDate>,
    /// What it was agreed to cost, once, 0 or more.
    pub agreed_cost: Option<f64>,
    /// Day it was done; `None` where it is not.
    pub done: Option<NaiveDate>,
    /// How much of it was done, above 0 and at most 1; 1 unless the farm says otherwise.
    pub done_share: f64,
    /// What that really cost, once, 0 or more; only where done.
    pub real_cost: Option<f64>,
    /// Remark.
    pub note: Option<String>,
}

/// What an action is: an option of the library, or anything else, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// An intervention option.
    Option {
        /// Id of the intervention.
        id: String,
        /// Id of the track segment, where the option is done to one.
        segment: Option<String>,
    },
    /// Something that the library does not list.
    Words(String),
}

impl What {
    /// As written in the file: `cap-track:home-lane`, or the words.
    pub fn text(&self) -> String {
        match self {
            What::Option { id, segment: Some(segment) } => format!("{id}:{segment}"),
            What::Option { id, segment: None } => id.clone(),
            What::Words(words) => words.clone(),
        }
    }

    /// The index of its segment among those of a walk.
    pub fn segment_in(&self, segments: &[Segment]) -> Option<usize> {
        match self {
            What::Option { segment: Some(id), .. } => segments.iter().position(|segment| segment.id == *id),
            _ => None,
        }
    }
}

/// How an action stands on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Done, on this day.
    Done(NaiveDate),
    /// Not done, and the day has passed: by so many days.
    Overdue(i64),
    /// Not done, and there is time left: so many days.
    Due(i64),
    /// Not done, and no day was agreed.
    NoDate,
}

impl Action {
    /// How it stands on `today`. An action done later than `today` is not done yet; one that is due
    /// today is not overdue.
    pub fn standing(&self, today: NaiveDate) -> Standing {
        match (self.done.filter(|done| *done <= today), self.by) {
            (Some(done), _) => Standing::Done(done),
            (None, Some(by)) if by < today => Standing::Overdue((today - by).num_days()),
            (None, Some(by)) => Standing::Due((by - today).num_days()),
            (None, None) => Standing::NoDate,
        }
    }
}

/// Whether two names of a farm are one but for capitals and spaces.
pub fn same_name(a: &str, b: &str) -> bool {
    let plain = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    plain(a) == plain(b)
}

/// Why the actions of several files can't be taken together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotOneList {
    /// They are of two farms.
    TwoFarms(String, String),
    /// Their costs are in two currencies.
    TwoCurrencies(String, String),
}

impl Actions {
    /// Everything that was agreed after several walks. What stands in two of them, because it was not
    /// done and agreed again, is taken from the later one. `None` without any.
    ///
    /// # Errors
    /// Two farms, or two currencies.
    pub fn together(mut files: Vec<Actions>) -> Result<Option<Actions>, NotOneList> {
        files.sort_by_key(|actions| actions.walk_date);
        let mut files = files.into_iter();
        let Some(mut all) = files.next() else { return Ok(None) };
        for later in files {
            if !all.is_of(&later.farm) {
                return Err(NotOneList::TwoFarms(all.farm, later.farm));
            }
            match (&all.currency, &later.currency) {
                (Some(one), Some(other)) if one != other => {
                    return Err(NotOneList::TwoCurrencies(one.clone(), other.clone()));
                }
                _ => {}
            }
            all.list.retain(|action| later.list.iter().all(|again| again.what != action.what));
            all.list.extend(later.list);
            all = Actions {
                currency: all.currency.or(later.currency),
                farm: later.farm,
                walk_date: later.walk_date,
                list: all.list,
            };
        }
        Ok(Some(all))
    }

    /// Whether they are those of a farm.
    pub fn is_of(&self, farm: &str) -> bool {
        same_name(&self.farm, farm)
    }

    /// Indices of the actions that are overdue on `today`, longest overdue first.
    pub fn overdue(&self, today: NaiveDate) -> Vec<usize> {
        let late = |index: &usize| match self.list[*index].standing(today) {
            Standing::Overdue(days) => Some(days),
            _ => None,
        };
        let mut overdue: Vec<usize> = (0..self.list.len()).filter(|index| late(index).is_some()).collect();
        overdue.sort_by_key(|index| std::cmp::Reverse(late(index)));
        overdue
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn action(by: Option<&str>, done: Option<&str>) -> Action {
        Action {
            what: What::Words("hang the gate".into()),
            who: None,
            by: by.map(day),
            agreed_cost: None,
            done: done.map(day),
            done_share: 1.0,
            real_cost: None,
            note: None,
        }
    }

    #[test]
    fn an_action_is_overdue_the_day_after_it_was_due_and_not_once_it_is_done() {
        let today = day("2026-05-02");
        let standing = |by, done| action(by, done).standing(today);
        assert_eq!(standing(Some("2026-05-02"), None), Standing::Due(0));
        assert_eq!(standing(Some("2026-05-01"), None), Standing::Overdue(1));
        assert_eq!(standing(Some("2026-05-01"), Some("2026-05-02")), Standing::Done(today));
        assert_eq!(standing(Some("2026-05-01"), Some("2026-05-03")), Standing::Overdue(1));
        assert_eq!(standing(None, None), Standing::NoDate);
    }

    #[test]
    fn the_longest_overdue_comes_first() {
        let list = vec![
            action(Some("2026-04-01"), None),
            action(Some("2026-02-01"), None),
            action(Some("2026-01-01"), Some("2026-01-01")),
            action(None, None),
        ];
        let actions = Actions { farm: "Mill".into(), walk_date: day("2025-10-07"), currency: None, list };
        assert_eq!(actions.overdue(day("2026-05-02")), [1, 0]);
        assert!(actions.overdue(day("2026-01-15")).is_empty());
    }

    #[test]
    fn what_was_agreed_again_counts_as_it_was_agreed_last() {
        let file = |farm: &str, walk_date: &str, currency: Option<&str>, list: Vec<Action>| Actions {
            farm: farm.into(),
            walk_date: day(walk_date),
            currency: currency.map(str::to_owned),
            list,
        };
        let other = Action { what: What::Words("drain the yard".into()), ..action(None, None) };
        let first = file("Mill", "2024-10-07", None, vec![action(Some("2025-01-01"), None), other.clone()]);
        let later = file("mill ", "2025-10-07", Some("EUR"), vec![action(Some("2026-01-01"), None)]);
        let all = Actions::together(vec![later.clone(), first.clone()]).unwrap().unwrap();
        assert_eq!(all.list, [other, action(Some("2026-01-01"), None)]);
        assert_eq!((all.walk_date, all.currency.as_deref()), (day("2025-10-07"), Some("EUR")));
        let elsewhere = Actions { farm: "Weir".into(), ..first.clone() };
        assert!(matches!(Actions::together(vec![elsewhere, later.clone()]), Err(NotOneList::TwoFarms(..))));
        let in_pounds = Actions { currency: Some("GBP".into()), ..first };
        assert!(matches!(Actions::together(vec![in_pounds, later]), Err(NotOneList::TwoCurrencies(..))));
        assert_eq!(Actions::together(vec![]), Ok(None));
    }
}
