//! Case records and locomotion scores: one row a lame cow seen, one count a score given.
//!
//! Text that repeats (cow numbers, treatments) is held once and pointed at, so that a million rows
//! fit in little memory. Remarks are not kept: no result shows them, and they name people.

use super::lesion::Lesion;
use super::walk::Observer;
use chrono::NaiveDate;

/// A foot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Foot {
    /// Left front.
    LeftFront,
    /// Right front.
    RightFront,
    /// Left hind.
    LeftHind,
    /// Right hind.
    RightHind,
}

impl Foot {
    /// Every foot, in the fixed order of every table.
    pub const ALL: [Foot; 4] = [Foot::LeftFront, Foot::RightFront, Foot::LeftHind, Foot::RightHind];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            Foot::LeftFront => "LF",
            Foot::RightFront => "RF",
            Foot::LeftHind => "LH",
            Foot::RightHind => "RH",
        }
    }
}

/// A claw of a foot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Claw {
    /// The inner (medial) claw.
    Inner,
    /// The outer (lateral) claw.
    Outer,
}

impl Claw {
    /// Both claws, in the fixed order of every table.
    pub const ALL: [Claw; 2] = [Claw::Inner, Claw::Outer];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            Claw::Inner => "inner",
            Claw::Outer => "outer",
        }
    }
}

/// One row of the case records.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CaseRecord {
    /// Day of the record.
    pub date: NaiveDate,
    /// The cow: index in [`Cases::cows`].
    pub cow: u32,
    /// Row of the table, from 1, the heading included.
    pub row: u32,
    /// First day on which somebody saw her lame; not after `treated`, nor after `date`.
    pub first_sign: Option<NaiveDate>,
    /// Day of treatment, where the file has a column of its own for it.
    pub treated: Option<NaiveDate>,
    /// Treatment: index in [`Cases::treatments`].
    pub treatment: Option<u32>,
    /// Days in milk.
    pub days_in_milk: Option<u16>,
    /// Number of the lactation, 0 for a heifer before her first.
    pub parity: Option<u8>,
    /// Locomotion score as written, on the farm's own scale.
    pub score: Option<u8>,
    /// Foot.
    pub foot: Option<Foot>,
    /// Claw.
    pub claw: Option<Claw>,
    /// Lesion; `None` where nobody wrote one down.
    pub lesion: Option<Lesion>,
    /// Who saw it.
    pub seen_by: Option<Observer>,
}

/// Case records of a farm, in the order of the file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cases {
    /// The records; every `cow` and `treatment` points into the lists beside.
    pub records: Vec<CaseRecord>,
    /// Cow numbers or names, each once.
    pub cows: Vec<String>,
    /// Treatments as written, each once.
    pub treatments: Vec<String>,
}

impl Cases {
    /// The records cow by cow; each cow's by day, foot (unknown last) and row. Copies rather than
    /// indices, so that going through them stays within the processor's cache.
    pub fn by_cow(&self) -> Vec<CaseRecord> {
        let mut starts = vec![0_usize; self.cows.len() + 1];
        let known = || self.records.iter().filter(|record| (record.cow as usize) < self.cows.len());
        known().for_each(|record| starts[record.cow as usize + 1] += 1);
        for cow in 1..starts.len() {
            starts[cow] += starts[cow - 1];
        }
        let mut next = starts.clone();
        let mut sorted: Vec<CaseRecord> = known().copied().collect();
        for record in known() {
            let slot = &mut next[record.cow as usize];
            sorted[*slot] = *record;
            *slot += 1;
        }
        for bounds in starts.windows(2) {
            let records = &mut sorted[bounds[0]..bounds[1]];
            let order = |record: &CaseRecord| (record.date, record.foot.is_none(), record.foot, record.row);
            // Most files are by day already.
            if !records.is_sorted_by_key(order) {
                records.sort_unstable_by_key(order);
            }
        }
        sorted
    }
}

/// A scale of locomotion scores, with the cut-offs that go with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Scale {
    /// 0 to 3: lame from 2, severely lame at 3 (common practice; cut-offs from memory).
    #[default]
    ZeroToThree,
    /// 1 to 5: lame from 3, severely lame from 4 (Sprecher, Hostetler & Kaneene 1997,
    /// Theriogenology 47:1178; cut-offs from memory). Some sources call only 4 and 5 lame.
    OneToFive,
}

impl Scale {
    /// Both scales.
    pub const ALL: [Scale; 2] = [Scale::ZeroToThree, Scale::OneToFive];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            Scale::ZeroToThree => "0-3",
            Scale::OneToFive => "1-5",
        }
    }

    /// The scale with this id.
    pub fn from_id(id: &str) -> Option<Scale> {
        Scale::ALL.into_iter().find(|scale| scale.id() == id)
    }

    /// Lowest and highest score.
    pub fn bounds(self) -> (u8, u8) {
        match self {
            Scale::ZeroToThree => (0, 3),
            Scale::OneToFive => (1, 5),
        }
    }

    /// The lowest score that counts as lame.
    pub fn lame_from(self) -> u8 {
        match self {
            Scale::ZeroToThree => 2,
            Scale::OneToFive => 3,
        }
    }

    /// The lowest score that counts as severely lame.
    pub fn severe_from(self) -> u8 {
        match self {
            Scale::ZeroToThree => 3,
            Scale::OneToFive => 4,
        }
    }
}

/// One scoring of a herd: cows by score.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scoring {
    /// Day of the scoring, where it is given.
    pub date: Option<NaiveDate>,
    /// The scale; scorings on different scales are never added up.
    pub scale: Scale,
    /// Cows by score, the score being the index; 0 outside the scale.
    pub cows_by_score: [u64; 6],
}

impl Scoring {
    /// Cows scored.
    pub fn cows(&self) -> u64 {
        self.cows_from(0)
    }

    /// Cows with this score or a higher one.
    pub fn cows_from(&self, score: u8) -> u64 {
        self.cows_by_score.iter().skip(score as usize).fold(0, |sum, cows| sum.saturating_add(*cows))
    }
}
