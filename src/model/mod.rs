//! Valid types: what the engine accepts. They are made by [`crate::input`], which checks every
//! value; nothing here reads text.

pub mod actions;
pub mod card;
pub mod case_record;
pub mod checklist;
pub mod day;
pub mod evidence;
pub mod factor;
pub mod intervention;
pub mod lesion;
pub mod money;
pub mod walk;
pub mod words;

use checklist::Checklist;
use evidence::{Burden, Effect, Source};
use factor::Factor;
use intervention::Intervention;
use std::sync::Arc;

/// Everything a walk is judged against: one checklist with the evidence, factors and options.
#[derive(Clone, Debug)]
pub struct Library {
    /// Published sources, in file order.
    pub sources: Vec<Source>,
    /// Published effects, in file order; each names a source and a factor that exist.
    pub effects: Vec<Effect>,
    /// Herd-level rates, lesion mixes, durations, costs and every constant of the model.
    pub burden: Burden,
    /// Risk factors, in file order.
    pub factors: Vec<Factor>,
    /// Intervention options, in file order.
    pub interventions: Vec<Intervention>,
    /// The checklist that the walk names.
    pub checklist: Checklist,
    /// The words of its language.
    pub words: Arc<words::Words>,
}

impl Library {
    /// The factor with this id.
    pub fn factor(&self, id: &str) -> Option<&Factor> {
        self.factors.iter().find(|factor| factor.id == id)
    }

    /// The source with this id.
    pub fn source(&self, id: &str) -> Option<&Source> {
        self.sources.iter().find(|source| source.id == id)
    }

    /// The intervention with this id.
    pub fn intervention(&self, id: &str) -> Option<&Intervention> {
        self.interventions.iter().find(|option| option.id == id)
    }
}

/// How cows are kept: the system of a checklist, a walk or a burden row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum System {
    /// Cows graze and walk tracks.
    Pasture,
    /// Cows live in a shed or yard.
    Housed,
}

impl System {
    /// Every system, in the order of the burden file.
    pub const ALL: [System; 2] = [System::Pasture, System::Housed];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            System::Pasture => "pasture",
            System::Housed => "housed",
        }
    }

    /// The system with this id.
    pub fn from_id(id: &str) -> Option<System> {
        System::ALL.into_iter().find(|system| system.id() == id)
    }
}
