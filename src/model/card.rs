//! A farm's anonymous card for its group: all that leaves the farm, and nothing finer.
//!
//! Numbers are kept as the card writes them, whole or in tenths, so that no later step can know more
//! of a farm than its card says.

use super::System;
use super::lesion::PerLesion;

/// The size of a herd, as wide as a card tells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum HerdBand {
    /// Under 150 cows.
    Under150,
    /// 150 to 299 cows.
    From150,
    /// 300 to 499 cows.
    From300,
    /// 500 to 799 cows.
    From500,
    /// 800 cows and over.
    From800,
}

impl HerdBand {
    /// Every band, smallest first.
    pub const ALL: [HerdBand; 5] =
        [HerdBand::Under150, HerdBand::From150, HerdBand::From300, HerdBand::From500, HerdBand::From800];

    /// The band of a herd of so many cows.
    pub fn of(cows: u64) -> HerdBand {
        match cows {
            0..150 => HerdBand::Under150,
            150..300 => HerdBand::From150,
            300..500 => HerdBand::From300,
            500..800 => HerdBand::From500,
            _ => HerdBand::From800,
        }
    }

    /// The id in files.
    pub fn id(self) -> &'static str {
        match self {
            HerdBand::Under150 => "under-150",
            HerdBand::From150 => "150-299",
            HerdBand::From300 => "300-499",
            HerdBand::From500 => "500-799",
            HerdBand::From800 => "800-and-over",
        }
    }

    /// Cows that every herd of the band is taken to have.
    pub fn nominal_cows(self) -> f64 {
        match self {
            HerdBand::Under150 => 100.0,
            HerdBand::From150 => 225.0,
            HerdBand::From300 => 400.0,
            HerdBand::From500 => 650.0,
            HerdBand::From800 => 1_000.0,
        }
    }
}

/// An exposure or a share in tenths, 0–10.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Tenths(u8);

impl Tenths {
    /// The nearest tenth of a share; what lies outside 0–1 is moved to the nearer end,
    /// and what is no number is 0.
    pub fn nearest(share: f64) -> Tenths {
        // Within the clamp the cast is exact; NaN becomes 0.
        Tenths(libm::round(10.0 * share).clamp(0.0, 10.0) as u8)
    }

    /// So many tenths; `None` above 10.
    pub fn new(tenths: u8) -> Option<Tenths> {
        (tenths <= 10).then_some(Tenths(tenths))
    }

    /// How many tenths, 0–10.
    pub fn tenths(self) -> u8 {
        self.0
    }

    /// As a share, 0–1.
    pub fn share(self) -> f64 {
        f64::from(self.0) / 10.0
    }
}

/// A farm's card of one year.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Card {
    /// Random code, made once, by which a farm's years are linked.
    pub code: String,
    /// Year of the walk.
    pub year: i32,
    /// System of the herd.
    pub system: System,
    /// Id of the checklist.
    pub checklist: String,
    /// Version of the checklist.
    pub version: String,
    /// Size of the herd.
    pub herd_band: HerdBand,
    /// Months of records, 0 where there are none.
    pub months_of_records: u32,
    /// Recorded cases per 100 cow-years; `None` exactly where there are no months of records.
    pub cases_per_100_cow_years: Option<u32>,
    /// Shares of the recorded lesions; `None` with under ten cases.
    pub lesion_shares: Option<PerLesion<Tenths>>,
    /// Exposures by factor id, answered factors only, sorted by id.
    pub exposures: Vec<(Box<str>, Tenths)>,
    /// Score, 0–100; `None` where nothing with a weight was answered.
    pub score: Option<u8>,
}

impl Card {
    /// Nominal hundreds of cow-years: the band's size × months / 12. 0 without records.
    pub fn hundred_cow_years(&self) -> f64 {
        self.herd_band.nominal_cows() / 100.0 * f64::from(self.months_of_records) / 12.0
    }

    /// Cases and hundreds of cow-years that the rate stands for; `None` without records. A count is
    /// whole, so the product of rate and nominal size is rounded.
    pub fn nominal_cases(&self) -> Option<(u64, f64)> {
        let rate = self.cases_per_100_cow_years?;
        let size = self.hundred_cow_years();
        (size > 0.0).then(|| (libm::round(f64::from(rate) * size) as u64, size))
    }

    /// The exposure to a factor.
    pub fn exposure(&self, factor: &str) -> Option<Tenths> {
        let at = self.exposures.binary_search_by(|(id, _)| id.as_ref().cmp(factor)).ok()?;
        self.exposures.get(at).map(|(_, exposure)| *exposure)
    }
}

/// Letters and digits of a code: none that are taken for one another in handwriting, and no vowels,
/// so that no code spells a word or a name.
const CODE_LETTERS: &[u8; 28] = b"bcdfghjkmnpqrstvwxyz23456789";
/// Letters of a code, in two groups.
const CODE_LENGTH: usize = 6;

/// A farm's code, such as `k7m-2xq`, from random bytes; `None` where they are too few (16 serve in
/// all but one of a million million cases).
pub fn new_code(random: &[u8]) -> Option<String> {
    // Bytes from 252 on are passed over, so that each of the 28 letters is equally likely.
    let fair = random.iter().filter(|byte| **byte < 252);
    let letters: String = fair
        .filter_map(|byte| CODE_LETTERS.get(usize::from(byte % 28)))
        .take(CODE_LENGTH)
        .map(|l| char::from(*l))
        .collect();
    (letters.len() == CODE_LENGTH).then(|| {
        let (first, second) = letters.split_at(CODE_LENGTH / 2);
        format!("{first}-{second}")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn bands_meet_without_gaps() {
        for (cows, id) in [
            (1, "under-150"),
            (149, "under-150"),
            (150, "150-299"),
            (299, "150-299"),
            (300, "300-499"),
            (499, "300-499"),
            (500, "500-799"),
            (799, "500-799"),
            (800, "800-and-over"),
            (u64::MAX, "800-and-over"),
        ] {
            assert_eq!(HerdBand::of(cows).id(), id, "{cows}");
        }
    }

    #[test]
    fn tenths_are_the_nearest() {
        let tenths = |share| Tenths::nearest(share).tenths();
        assert_eq!([0.0, 0.04, 0.05, 0.63, 0.95, 1.0].map(tenths), [0, 0, 1, 6, 10, 10]);
        assert_eq!([f64::NAN, -3.0, f64::INFINITY].map(tenths), [0, 0, 10]);
    }

    #[test]
    fn a_code_uses_only_fair_bytes() {
        assert_eq!(new_code(&[0, 1, 2, 253, 27, 28, 251]).as_deref(), Some("bcd-9b9"));
        assert_eq!(new_code(&[0; 5]), None);
        assert_eq!(new_code(&[255; 400]), None);
    }

    proptest! {
        #[test]
        fn codes_look_like_codes(random in prop::collection::vec(any::<u8>(), 16..32)) {
            if let Some(code) = new_code(&random) {
                prop_assert!(code.len() == 7 && code.as_bytes()[3] == b'-');
                prop_assert!(code.chars().all(|c| c == '-' || c.is_ascii_lowercase() || c.is_ascii_digit()));
                prop_assert!(!code.contains(['a', 'e', 'i', 'o', 'u', 'l', '0', '1']));
            }
        }
    }
}
