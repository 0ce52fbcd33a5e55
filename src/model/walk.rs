//! A farm's walk: its herd, tracks, answers, quantities, prices and records.

use super::System;
use super::case_record::Scale;
use super::day::DateOrder;
use super::lesion::PerLesion;
use super::money::Triangle;
use chrono::NaiveDate;

/// Who walked the farm, or who saw a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Observer {
    /// An adviser.
    Adviser,
    /// The farmer.
    Farmer,
    /// A veterinarian.
    Vet,
    /// A hoof trimmer (cases only).
    Trimmer,
}

impl Observer {
    /// Every observer.
    pub const ALL: [Observer; 4] = [Observer::Adviser, Observer::Farmer, Observer::Vet, Observer::Trimmer];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            Observer::Adviser => "adviser",
            Observer::Farmer => "farmer",
            Observer::Vet => "vet",
            Observer::Trimmer => "trimmer",
        }
    }
}

/// A walk record.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Id of the checklist.
    pub checklist: String,
    /// Date of the walk.
    pub date: NaiveDate,
    /// Who walked.
    pub by: Option<Observer>,
    /// Name of the farm.
    pub farm_name: String,
    /// A code the farm goes by.
    pub farm_code: Option<String>,
    /// Cows in the herd, above 0.
    pub cows: u64,
    /// System of the herd.
    pub system: System,
    /// ISO 4217 code; `None` withholds money.
    pub currency: Option<String>,
    /// Yearly discount rate, 0–1.
    pub discount_rate: Option<f64>,
    /// Track segments.
    pub segments: Vec<Segment>,
    /// Answers, in the order of the checklist's items.
    pub answers: Vec<ItemAnswer>,
    /// Quantities by name (metres, square metres, bails), above or equal to 0.
    pub quantities: Vec<(String, f64)>,
    /// The farm's own prices by option id.
    pub prices: Vec<OwnPrice>,
    /// The farm's own cost per case by lesion.
    pub costs_per_case: PerLesion<Option<Triangle>>,
    /// Name of the file of case records beside the walk.
    pub cases_file: Option<String>,
    /// Name of the file of locomotion scores beside the walk.
    pub locomotion_file: Option<String>,
    /// Scale of the locomotion scores.
    pub locomotion_scale: Scale,
    /// The order of day and month in both files, where they don't write the year first.
    pub table_dates: Option<DateOrder>,
    /// The farm's records of lameness.
    pub records: Option<Records>,
    /// Remarks.
    pub notes: Option<String>,
}

impl Walk {
    /// The quantity with this name.
    pub fn quantity(&self, name: &str) -> Option<f64> {
        self.quantities.iter().find(|(key, _)| key == name).map(|(_, value)| *value)
    }

    /// The answers to an item; empty where it was not answered at all.
    pub fn answers_to(&self, item: &str) -> &[Given] {
        self.answers.iter().find(|answer| answer.item == item).map_or(&[], |answer| &answer.given)
    }
}

/// A track segment.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Id.
    pub id: String,
    /// Name on the farm.
    pub name: String,
    /// Length, metres, above 0.
    pub length_m: f64,
    /// Width, metres, above 0.
    pub width_m: Option<f64>,
    /// Passes of the herd a day.
    pub passes_per_day: f64,
    /// Share of the herd that walks it, 0–1.
    pub herd_share: f64,
}

impl Segment {
    /// Traffic: metres × passes a day × share of the herd.
    pub fn traffic(&self) -> f64 {
        self.length_m * self.passes_per_day * self.herd_share
    }
}

/// The answers to one item: one for the farm, or one for each segment looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemAnswer {
    /// Id of the item.
    pub item: String,
    /// What was answered, and where.
    pub given: Vec<Given>,
}

/// An answer with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Given {
    /// Index in [`Walk::segments`]; `None` for the farm as a whole. A skip of the whole item of a
    /// per-segment item also has `None`.
    pub segment: Option<usize>,
    /// The answer.
    pub answer: Answer,
    /// The observer's remark.
    pub note: Option<String>,
}

/// One answer. Its kind matches that of the item.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// Index of the option chosen.
    Choose(usize),
    /// A number.
    Value(f64),
    /// `count` things over `over` units (above 0).
    Count {
        /// Things counted.
        count: u64,
        /// Area, length or time looked at, above 0.
        over: f64,
    },
    /// `count` of `of` (above 0, `count` at most `of`).
    Share {
        /// How many.
        count: u64,
        /// Of how many.
        of: u64,
    },
    /// Not answered, with the reason.
    Skip(String),
}

/// The farm's own price of an option.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnPrice {
    /// Id of the option.
    pub option: String,
    /// Capital per unit of the shipped price.
    pub capital: Option<Triangle>,
    /// Yearly cost per unit of the shipped price.
    pub yearly: Option<Triangle>,
}

/// A farm's records of lameness over a period.
#[derive(Clone, Debug, PartialEq)]
pub struct Records {
    /// First day, included.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Average number of cows over the period, above 0.
    pub average_cows: f64,
    /// Who saw the cases.
    pub seen_by: Vec<Observer>,
    /// Cases by lesion, and those whose lesion nobody wrote down.
    pub counts: Option<CaseCounts>,
}

impl Records {
    /// Days covered, both ends included.
    pub fn days(&self) -> i64 {
        (self.to - self.from).num_days() + 1
    }

    /// Cow-years: average cows × days / 365.25.
    pub fn cow_years(&self) -> f64 {
        self.average_cows * self.days() as f64 / 365.25
    }
}

/// Cases counted by lesion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CaseCounts {
    /// Cases with a recorded lesion.
    pub by_lesion: PerLesion<u64>,
    /// Cases whose lesion was not recorded.
    pub unrecorded: u64,
}

impl Default for CaseCounts {
    fn default() -> Self {
        CaseCounts { by_lesion: PerLesion([0; super::lesion::Lesion::COUNT]), unrecorded: 0 }
    }
}

impl CaseCounts {
    /// All cases.
    pub fn total(&self) -> u64 {
        self.by_lesion.0.iter().sum::<u64>() + self.unrecorded
    }
}
