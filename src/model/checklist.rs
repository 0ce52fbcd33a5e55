//! A checklist: what is looked at on a walk, in what order, and how an answer becomes an exposure.

use super::System;
use super::intervention::Each;

/// A checklist.
#[derive(Clone, Debug, PartialEq)]
pub struct Checklist {
    /// Id, the file's name without its ending.
    pub id: String,
    /// Version, kept in every result.
    pub version: String,
    /// Title.
    pub title: String,
    /// System it is for.
    pub system: System,
    /// How long it takes, in minutes.
    pub minutes: Option<u64>,
    /// Sections in the order of the walk.
    pub sections: Vec<Section>,
}

impl Checklist {
    /// All items in the order of the walk.
    pub fn items(&self) -> impl Iterator<Item = &Item> {
        self.sections.iter().flat_map(|section| section.items.iter())
    }

    /// The item with this id.
    pub fn item(&self, id: &str) -> Option<&Item> {
        self.items().find(|item| item.id == id)
    }
}

/// A section of a checklist.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Id.
    pub id: String,
    /// Title.
    pub title: String,
    /// How to look, in order, with what in hand.
    pub guide: Option<String>,
    /// Items in order; never empty.
    pub items: Vec<Item>,
}

/// One thing to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Id, unique in the checklist.
    pub id: String,
    /// Id of the risk factor.
    pub factor: String,
    /// For the farm, or for each segment.
    pub each: Each,
    /// What is asked.
    pub ask: String,
    /// How to look and measure.
    pub look: Option<String>,
    /// Kind of answer, with its scale.
    pub kind: Kind,
    /// Unit of a number or count.
    pub unit: Option<String>,
    /// Id of the source of the threshold; `None` = common practice, no source.
    pub source: Option<String>,
}

/// How an answer is given and read.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// One of several options.
    Choice(Vec<Choice>),
    /// A number on a scale.
    Number(Scale),
    /// Things counted over an area, length or time.
    Count(Scale),
    /// So many of so many.
    Share(Scale),
}

impl Kind {
    /// The id in files.
    pub fn id(&self) -> &'static str {
        match self {
            Kind::Choice(_) => "choice",
            Kind::Number(_) => "number",
            Kind::Count(_) => "count",
            Kind::Share(_) => "share",
        }
    }
}

/// One option of a choice.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Id.
    pub id: String,
    /// What the observer sees.
    pub say: String,
    /// Exposure, 0–1.
    pub x: f64,
}

/// A piecewise-linear scale from a value to an exposure, flat beyond its ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Scale(Vec<(f64, f64)>);

impl Scale {
    /// A scale through `(value, exposure)` points: at least two, values finite and rising,
    /// exposures within 0–1. `None` otherwise.
    pub fn new(points: Vec<(f64, f64)>) -> Option<Scale> {
        let rising = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let valid = points.iter().all(|(value, x)| value.is_finite() && (0.0..=1.0).contains(x));
        (points.len() >= 2 && rising && valid).then_some(Scale(points))
    }

    /// The points.
    pub fn points(&self) -> &[(f64, f64)] {
        &self.0
    }

    /// The exposure at a value, 0–1.
    pub fn exposure(&self, value: f64) -> f64 {
        let points = &self.0;
        let after = points.iter().position(|point| value < point.0);
        match after {
            Some(0) => points[0].1,
            None => points[points.len() - 1].1,
            Some(next) => {
                let (v0, x0) = points[next - 1];
                let (v1, x1) = points[next];
                (x0 + (x1 - x0) * (value - v0) / (v1 - v0)).clamp(0.0, 1.0)
            }
        }
    }
}
