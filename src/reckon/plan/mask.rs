//! Sets of options as bits: small enough to copy at every step of the search.

const WORDS: usize = 4;

/// A set of positions below [`Mask::ROOM`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Mask([u64; WORDS]);

impl Mask {
    /// How many positions there are.
    pub(super) const ROOM: usize = 64 * WORDS;

    /// The set of one position; empty beyond the room there is.
    pub(super) fn of(position: usize) -> Mask {
        let mut mask = Mask::default();
        mask.insert(position);
        mask
    }

    pub(super) fn insert(&mut self, position: usize) {
        if let Some(word) = self.0.get_mut(position / 64) {
            *word |= 1 << (position % 64);
        }
    }

    pub(super) fn has(&self, position: usize) -> bool {
        self.0.get(position / 64).is_some_and(|word| word >> (position % 64) & 1 == 1)
    }

    fn zip(self, other: Mask, with: impl Fn(u64, u64) -> u64) -> Mask {
        Mask(std::array::from_fn(|word| with(self.0[word], other.0[word])))
    }

    pub(super) fn union(self, other: Mask) -> Mask {
        self.zip(other, |a, b| a | b)
    }

    pub(super) fn common(self, other: Mask) -> Mask {
        self.zip(other, |a, b| a & b)
    }

    pub(super) fn minus(self, other: Mask) -> Mask {
        self.zip(other, |a, b| a & !b)
    }

    pub(super) fn meets(self, other: Mask) -> bool {
        !self.common(other).is_empty()
    }

    pub(super) fn is_empty(self) -> bool {
        self.0 == [0; WORDS]
    }

    pub(super) fn len(self) -> usize {
        self.0.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// The positions, lowest first.
    pub(super) fn iter(self) -> impl Iterator<Item = usize> {
        (0..WORDS).flat_map(move |word| {
            let mut left = self.0[word];
            std::iter::from_fn(move || {
                let bit = (left != 0).then(|| left.trailing_zeros() as usize)?;
                left &= left - 1;
                Some(64 * word + bit)
            })
        })
    }
}
