//! Amounts with a low, a likely and a high value, and the currency they are in.

/// A triangular amount: low ≤ likely ≤ high. Also used for durations (days).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Triangle {
    /// Lowest value thought possible.
    pub low: f64,
    /// Most likely value.
    pub likely: f64,
    /// Highest value thought possible.
    pub high: f64,
}

impl Triangle {
    /// A triangle, when the three are finite and in order.
    pub fn new(low: f64, likely: f64, high: f64) -> Option<Triangle> {
        (low.is_finite() && high.is_finite() && low <= likely && likely <= high).then_some(Triangle {
            low,
            likely,
            high,
        })
    }

    /// The mean of the triangular distribution, `(low + likely + high) / 3`.
    pub fn mean(self) -> f64 {
        (self.low + self.likely + self.high) / 3.0
    }
}

/// What a price is counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// Once for the farm.
    Farm,
    /// For each cow of the herd.
    Cow,
    /// For each metre.
    Metre,
    /// For each square metre.
    SquareMetre,
    /// For each bail (milking place).
    Bail,
}

impl Per {
    /// Every unit, in the order of the format's description.
    pub const ALL: [Per; 5] = [Per::Farm, Per::Cow, Per::Metre, Per::SquareMetre, Per::Bail];

    /// The id in files.
    pub fn id(self) -> &'static str {
        match self {
            Per::Farm => "farm",
            Per::Cow => "cow",
            Per::Metre => "m",
            Per::SquareMetre => "m2",
            Per::Bail => "bail",
        }
    }
}

/// A price: an amount per unit, and which quantity of the walk record it is multiplied by.
#[derive(Clone, Debug, PartialEq)]
pub struct Price {
    /// What one unit is.
    pub per: Per,
    /// The quantity of the walk record (`yard_m2`, …) that counts the units; `None` where the unit
    /// itself says it (farm, cow, bail, or the metres of a segment option's own segment).
    pub of: Option<String>,
    /// Amount for one unit.
    pub amount: Triangle,
}
