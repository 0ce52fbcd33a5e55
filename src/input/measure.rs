//! Lengths and areas: metric, or in feet, yards and acres with their unit.

use super::number::{self, NumberFault};
use crate::model::walk::AsGiven;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Dimension {
    /// Metres.
    Length,
    /// Square metres.
    Area,
    /// Something else: no unit is read.
    Other,
}

impl Dimension {
    /// The dimension of a unit of a checklist, and how many metres or square metres it has.
    pub(crate) fn of_unit(unit: &str) -> (Dimension, f64) {
        match unit {
            "m" => (Dimension::Length, 1.0),
            "cm" => (Dimension::Length, 0.01),
            "mm" => (Dimension::Length, 0.001),
            "m2" | "m²" => (Dimension::Area, 1.0),
            _ => (Dimension::Other, 1.0),
        }
    }

    /// The dimension of a quantity, by the end of its name.
    pub(crate) fn of_quantity(name: &str) -> Dimension {
        match name.rsplit_once('_') {
            Some((_, "m2")) => Dimension::Area,
            Some((_, "m")) => Dimension::Length,
            _ => Dimension::Other,
        }
    }

    fn says(self) -> &'static str {
        match self {
            Dimension::Length => "a length",
            Dimension::Area => "an area",
            Dimension::Other => "something else",
        }
    }

    /// What would be right.
    pub(crate) fn help(self) -> &'static str {
        match self {
            Dimension::Length => "metres without a unit, or with one: 350, \"1150 ft\" or \"380 yd\"",
            Dimension::Area => {
                "square metres without a unit, or with one: 56, \"600 sq ft\" or \"0.5 acres\""
            }
            Dimension::Other => "the number alone",
        }
    }
}

/// A unit: its words, the first as it is shown back; metres or square metres in one.
///
/// 1 ft = 0.3048 m and 1 yd = 0.9144 m exactly (international yard and pound agreement, 1959); an acre is 4840
/// square yards (NIST Handbook 44, Appendix C).
struct Unit {
    words: &'static [&'static str],
    dimension: Dimension,
    metric: f64,
}

const FOOT: f64 = 0.3048;
const YARD: f64 = 0.9144;

const UNITS: &[Unit] = &[
    Unit { words: &["m", "metre", "metres", "meter", "meters"], dimension: Dimension::Length, metric: 1.0 },
    Unit { words: &["ft", "foot", "feet"], dimension: Dimension::Length, metric: FOOT },
    Unit { words: &["yd", "yds", "yard", "yards"], dimension: Dimension::Length, metric: YARD },
    Unit { words: &["m²", "m2", "sq m"], dimension: Dimension::Area, metric: 1.0 },
    Unit {
        words: &["sq ft", "ft2", "ft²", "square foot", "square feet"],
        dimension: Dimension::Area,
        metric: FOOT * FOOT,
    },
    Unit {
        words: &["sq yd", "yd2", "yd²", "square yard", "square yards"],
        dimension: Dimension::Area,
        metric: YARD * YARD,
    },
    Unit { words: &["acres", "acre", "ac"], dimension: Dimension::Area, metric: 4840.0 * YARD * YARD },
    Unit { words: &["ha", "hectare", "hectares"], dimension: Dimension::Area, metric: 10_000.0 },
];

/// A length or area in metres or square metres, and as it was written where that was in another unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Measured {
    pub(crate) metric: f64,
    pub(crate) given: Option<AsGiven>,
}

/// Reads a number with a unit behind it, such as `1150 ft`.
pub(crate) fn with_unit(raw: &str, wanted: Dimension) -> Result<Measured, NumberFault> {
    let raw = raw.trim();
    let split = raw.find(|c: char| !(c.is_ascii_digit() || ".,+-".contains(c))).unwrap_or(raw.len());
    let (amount, word) = (raw[..split].trim(), raw[split..].trim());
    let fault = |code, message: String| NumberFault { code, message, help: wanted.help().to_owned() };
    if amount.is_empty() || word.is_empty() {
        return Err(fault("wrong-type", "which is no number".to_owned()));
    }
    let amount = number::decimal(amount)?;
    let lower = word.to_lowercase();
    let Some(unit) = UNITS.iter().find(|unit| unit.words.contains(&lower.as_str())) else {
        return Err(fault("wrong-unit", format!("and `{word}` is no unit that is read here")));
    };
    if unit.dimension != wanted {
        let message = format!("and `{word}` measures {}, not {}", unit.dimension.says(), wanted.says());
        return Err(fault("wrong-unit", message));
    }
    let given = (unit.metric != 1.0).then_some(AsGiven { amount, unit: unit.words[0] });
    Ok(Measured { metric: amount * unit.metric, given })
}

#[cfg(test)]
mod tests {
    use super::{Dimension, with_unit};

    /// NIST Handbook 44 (2023), Appendix C: 1 foot is 0.3048 m and 1 yard 0.9144 m exactly; 1 square foot is
    /// 0.092 903 04 m², 1 square yard 0.836 127 36 m² and 1 acre, of 4840 square yards of the international
    /// yard, 4046.856 422 4 m² exactly (recalled, not seen; the two squares are the foot's and yard's own).
    #[test]
    fn units_are_the_international_ones() {
        for (raw, dimension, metric) in [
            ("1 ft", Dimension::Length, 0.3048),
            ("1 yd", Dimension::Length, 0.9144),
            ("1 sq ft", Dimension::Area, 0.092_903_04),
            ("1 sq yd", Dimension::Area, 0.836_127_36),
            ("1 acre", Dimension::Area, 4_046.856_422_4),
            ("1150 feet", Dimension::Length, 350.52),
            ("380yd", Dimension::Length, 347.472),
            ("12 m", Dimension::Length, 12.0),
            ("1.5 ha", Dimension::Area, 15_000.0),
        ] {
            let read = with_unit(raw, dimension).map(|it| it.metric);
            assert!(read.is_ok_and(|read| (read - metric).abs() < 1e-9 * metric), "{raw}");
        }
    }

    #[test]
    fn a_wrong_unit_says_what_would_be_right() {
        let refused = |raw, dimension| with_unit(raw, dimension).map_err(|it| (it.code, it.help));
        for (raw, dimension) in [
            ("2 acres", Dimension::Length),
            ("30 ft", Dimension::Area),
            ("3 furlongs", Dimension::Length),
            ("5 min", Dimension::Area),
        ] {
            assert_eq!(refused(raw, dimension), Err(("wrong-unit", dimension.help().to_owned())), "{raw}");
        }
        assert_eq!(refused("1,150 ft", Dimension::Length).map_err(|it| it.0), Err("wrong-type"));
        assert_eq!(refused("feet", Dimension::Length).map_err(|it| it.0), Err("wrong-type"));
    }
}
