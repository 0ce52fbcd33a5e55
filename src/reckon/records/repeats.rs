//! From records to cases: which records belong to one case of lameness.
//!
//! A record belongs to the case of the same cow and foot whose last record lies `repeat_days` or
//! fewer days before it; so a case that is treated every fortnight stays one case. Where a foot is not
//! given, the cow alone decides:
//!
//! - a record without a foot belongs to the cow's case with the latest last record, if that lies within
//!   `repeat_days`;
//! - a record with a foot belongs to a case of that foot, else to a case whose foot nobody has given
//!   yet, which then takes the foot; never to a case of another foot.
//!
//! The rule, with 28 days, is the project's own choice; no source gives one.
//!
//! What a case is known by (lesion, claw, observer, ...) comes from its earliest record that says it,
//! and of several on one day the one that comes first in the fixed order of its list, so that the order
//! of rows never matters.

use crate::model::case_record::{CaseRecord, Cases, Claw, Foot};
use crate::model::lesion::Lesion;
use crate::model::walk::Observer;
use chrono::NaiveDate;

/// A case of lameness: one or more records of a cow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Case {
    /// Day of the first record.
    pub start: NaiveDate,
    /// The cow: index in [`Cases::cows`].
    pub cow: u32,
    /// Foot.
    pub foot: Option<Foot>,
    /// Claw.
    pub claw: Option<Claw>,
    /// Lesion.
    pub lesion: Option<Lesion>,
    /// Who saw it first.
    pub seen_by: Option<Observer>,
    /// Number of the lactation.
    pub parity: Option<u8>,
    /// Days in milk.
    pub days_in_milk: Option<u16>,
    /// Days from the first sign to treatment.
    pub days_to_treatment: Option<u32>,
}

/// A value with the day of the record that gave it.
#[derive(Clone, Copy)]
struct Earliest<T> {
    value: Option<T>,
    day: NaiveDate,
}

impl<T: Ord + Copy> Earliest<T> {
    fn new(value: Option<T>, day: NaiveDate) -> Self {
        Earliest { value, day }
    }

    /// Takes in a record of the same day or a later one.
    fn keep(&mut self, value: Option<T>, day: NaiveDate) {
        let Some(new) = value else { return };
        match self.value {
            Some(old) if self.day < day || old <= new => {}
            _ => *self = Earliest { value, day },
        }
    }
}

/// A case that may still grow.
struct Open {
    start: NaiveDate,
    last: NaiveDate,
    cow: u32,
    foot: Option<Foot>,
    claw: Earliest<Claw>,
    lesion: Earliest<Lesion>,
    seen_by: Earliest<Observer>,
    parity: Earliest<u8>,
    days_in_milk: Earliest<u16>,
    days_to_treatment: Earliest<u32>,
}

impl Open {
    fn new(record: &CaseRecord, delay: Option<u32>) -> Self {
        let day = record.date;
        Open {
            start: day,
            last: day,
            cow: record.cow,
            foot: record.foot,
            claw: Earliest::new(record.claw, day),
            lesion: Earliest::new(record.lesion, day),
            seen_by: Earliest::new(record.seen_by, day),
            parity: Earliest::new(record.parity, day),
            days_in_milk: Earliest::new(record.days_in_milk, day),
            days_to_treatment: Earliest::new(delay, day),
        }
    }

    fn take(&mut self, record: &CaseRecord, delay: Option<u32>) {
        let day = record.date;
        self.last = day;
        self.foot = self.foot.or(record.foot);
        self.claw.keep(record.claw, day);
        self.lesion.keep(record.lesion, day);
        self.seen_by.keep(record.seen_by, day);
        self.parity.keep(record.parity, day);
        self.days_in_milk.keep(record.days_in_milk, day);
        self.days_to_treatment.keep(delay, day);
    }

    fn close(self) -> Case {
        Case {
            start: self.start,
            cow: self.cow,
            foot: self.foot,
            claw: self.claw.value,
            lesion: self.lesion.value,
            seen_by: self.seen_by.value,
            parity: self.parity.value,
            days_in_milk: self.days_in_milk.value,
            days_to_treatment: self.days_to_treatment.value,
        }
    }
}

/// The cases that the records make up. `repeat_days` is 28 in the shipped burden file.
pub fn cases_of(cases: &Cases, repeat_days: i64) -> Vec<Case> {
    // Where the file has days of treatment, a record without one was not treated that day.
    let has_treatment_days = cases.records.iter().any(|record| record.treated.is_some());
    let mut closed = Vec::with_capacity(cases.records.len());
    let mut open: Vec<Open> = Vec::new();
    for record in &cases.by_cow() {
        close_past(record, &mut open, repeat_days, &mut closed);
        let delay = days_to_treatment(record, has_treatment_days);
        match belongs_to(record, &mut open) {
            Some(case) => case.take(record, delay),
            None => open.push(Open::new(record, delay)),
        }
    }
    closed.extend(open.into_iter().map(Open::close));
    closed
}

fn days_to_treatment(record: &CaseRecord, has_treatment_days: bool) -> Option<u32> {
    let treated = if has_treatment_days { record.treated? } else { record.date };
    u32::try_from((treated - record.first_sign?).num_days()).ok()
}

/// Closes the cases that can take no record of this cow and day any more.
fn close_past(record: &CaseRecord, open: &mut Vec<Open>, repeat_days: i64, closed: &mut Vec<Case>) {
    let is_past =
        |case: &mut Open| case.cow != record.cow || (record.date - case.last).num_days() > repeat_days;
    closed.extend(open.extract_if(.., is_past).map(Open::close));
}

/// The open case that a record belongs to; see the head of this file.
fn belongs_to<'o>(record: &CaseRecord, open: &'o mut [Open]) -> Option<&'o mut Open> {
    let open = open.iter_mut();
    match record.foot {
        // Of two with one last day, that of the foot that comes first in the fixed order.
        None => open.max_by_key(|case| (case.last, std::cmp::Reverse(case.foot))),
        Some(foot) => {
            open.filter(|case| case.foot.is_none_or(|of| of == foot)).max_by_key(|case| case.foot.is_some())
        }
    }
}
