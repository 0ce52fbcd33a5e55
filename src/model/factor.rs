//! Risk factors that an observer can see on a farm.

use super::System;
use super::lesion::PerLesion;

/// The size taken where nothing usable was published.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JudgedSize {
    /// Risk ratio 1.1 by default.
    Small,
    /// Risk ratio 1.25 by default.
    Moderate,
    /// Risk ratio 1.5 by default.
    Large,
}

/// A risk factor.
#[derive(Clone, Debug, PartialEq)]
pub struct Factor {
    /// Unique id.
    pub id: String,
    /// Plain title.
    pub title: String,
    /// How it lames a cow, in one or two sentences.
    pub why: Option<String>,
    /// How strongly it acts on each lesion, 0–1; at least one is above 0.
    pub acts_on: PerLesion<f64>,
    /// Mean exposure across farms, 0–1.
    pub typical_mean: f64,
    /// Standard deviation of the exposure across farms.
    pub typical_sd: f64,
    /// Size used where no effect is usable.
    pub judgement: JudgedSize,
    /// Name shared by factors that are several looks at one thing.
    pub cluster: Option<String>,
    /// Systems in which it is looked at; never empty.
    pub systems: Vec<System>,
    /// Remark.
    pub note: Option<String>,
}

impl Factor {
    /// Whether the factor is looked at in this system.
    pub fn in_system(&self, system: System) -> bool {
        self.systems.contains(&system)
    }
}
