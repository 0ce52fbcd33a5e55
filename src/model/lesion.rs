//! Lesion groups, and tables with one value for each.

use std::ops::{Index, IndexMut};

/// A group of foot lesions that share causes. Ids are those of the files and results.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lesion {
    /// White line disease.
    WhiteLine,
    /// Stone bruise or puncture, and the abscess under the sole.
    SolePenetration,
    /// Axial wall fissure.
    AxialFissure,
    /// Foot rot (interdigital phlegmon).
    FootRot,
    /// Digital dermatitis.
    DigitalDermatitis,
    /// Sole ulcer.
    SoleUlcer,
    /// A lesion that was seen and is none of the above.
    Other,
}

impl Lesion {
    /// How many groups there are.
    pub const COUNT: usize = 7;

    /// Every group, in the fixed order of every table and sum.
    pub const ALL: [Lesion; Lesion::COUNT] = [
        Lesion::WhiteLine,
        Lesion::SolePenetration,
        Lesion::AxialFissure,
        Lesion::FootRot,
        Lesion::DigitalDermatitis,
        Lesion::SoleUlcer,
        Lesion::Other,
    ];

    /// The id in files and results.
    pub fn id(self) -> &'static str {
        match self {
            Lesion::WhiteLine => "white-line",
            Lesion::SolePenetration => "sole-penetration",
            Lesion::AxialFissure => "axial-fissure",
            Lesion::FootRot => "foot-rot",
            Lesion::DigitalDermatitis => "digital-dermatitis",
            Lesion::SoleUlcer => "sole-ulcer",
            Lesion::Other => "other",
        }
    }

    /// The group with this id.
    pub fn from_id(id: &str) -> Option<Lesion> {
        Lesion::ALL.into_iter().find(|lesion| lesion.id() == id)
    }
}

/// One value for each lesion group.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct PerLesion<T>(pub [T; Lesion::COUNT]);

impl<T> PerLesion<T> {
    /// A table filled by a function of the lesion.
    pub fn from_fn(mut value: impl FnMut(Lesion) -> T) -> Self {
        PerLesion(Lesion::ALL.map(&mut value))
    }

    /// Lesions with their values, in the fixed order.
    pub fn iter(&self) -> impl Iterator<Item = (Lesion, &T)> {
        Lesion::ALL.into_iter().zip(self.0.iter())
    }
}

impl PerLesion<f64> {
    /// The sum over lesions, in the fixed order.
    pub fn sum(&self) -> f64 {
        self.0.iter().sum()
    }
}

impl<T> Index<Lesion> for PerLesion<T> {
    type Output = T;
    fn index(&self, lesion: Lesion) -> &T {
        &self.0[lesion as usize]
    }
}

impl<T> IndexMut<Lesion> for PerLesion<T> {
    fn index_mut(&mut self, lesion: Lesion) -> &mut T {
        &mut self.0[lesion as usize]
    }
}
