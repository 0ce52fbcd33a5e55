//! Words that repeat from row to row, each judged once and counted.
//!
//! A table of its own instead of the standard one, because a million rows look up several million short
//! words: the words lie end to end in one buffer, so that a new one asks for no memory of its own.

/// A word that was met.
#[derive(Clone, Copy, Debug)]
pub(super) struct Met<T> {
    /// What it was judged to mean.
    pub(super) meaning: T,
    /// How many rows had it.
    pub(super) rows: u32,
    /// The first of those rows.
    pub(super) first_row: u32,
}

/// The words of one column.
#[derive(Debug)]
pub(super) struct Memo<T> {
    /// Open addressing over a power of two: key, index of the word plus 1; 0 is free.
    slots: Vec<(u64, u32)>,
    bytes: Vec<u8>,
    ends: Vec<usize>,
    met: Vec<Met<T>>,
}

impl<T> Default for Memo<T> {
    fn default() -> Self {
        Memo { slots: vec![(0, 0); 64], bytes: Vec::new(), ends: Vec::new(), met: Vec::new() }
    }
}

impl<T> Memo<T> {
    /// The index of a word, with its rows counted; a word not met before is judged.
    pub(super) fn meet(&mut self, word: &[u8], row: usize, judge: impl FnOnce(&str) -> T) -> u32 {
        let index = self.index(word, row, judge);
        let met = &mut self.met[index as usize];
        met.rows = met.rows.saturating_add(1);
        index
    }

    /// The index of a word; a word not met before is judged. There are fewer words than rows, and
    /// rows are counted in 32 bits.
    pub(super) fn index(&mut self, word: &[u8], row: usize, judge: impl FnOnce(&str) -> T) -> u32 {
        let key = key(word);
        let mut slot = place(key, self.slots.len());
        loop {
            match self.slots[slot] {
                (_, 0) => break,
                (found, index) if found == key && (is_whole(key) || self.bytes_of(index - 1) == word) => {
                    return index - 1;
                }
                _ => slot = (slot + 1) & (self.slots.len() - 1),
            }
        }
        let index = self.met.len() as u32;
        let first_row = u32::try_from(row).unwrap_or(u32::MAX);
        self.met.push(Met { meaning: judge(&String::from_utf8_lossy(word)), rows: 0, first_row });
        self.bytes.extend_from_slice(word);
        self.ends.push(self.bytes.len());
        self.slots[slot] = (key, index + 1);
        if self.met.len() * 2 > self.slots.len() {
            self.grow();
        }
        index
    }

    fn grow(&mut self) {
        let size = self.slots.len() * 2;
        let mut slots = vec![(0, 0); size];
        for &(key, index) in self.slots.iter().filter(|(_, index)| *index != 0) {
            let mut slot = place(key, size);
            while slots[slot].1 != 0 {
                slot = (slot + 1) & (size - 1);
            }
            slots[slot] = (key, index);
        }
        self.slots = slots;
    }

    fn bytes_of(&self, index: u32) -> &[u8] {
        let index = index as usize;
        let start = if index == 0 { 0 } else { self.ends[index - 1] };
        &self.bytes[start..self.ends[index]]
    }

    /// What the word of this index means.
    pub(super) fn meaning(&self, index: u32) -> &T {
        &self.met[index as usize].meaning
    }

    /// The words in the order in which they were met.
    pub(super) fn words(&self) -> impl Iterator<Item = (String, &Met<T>)> {
        self.met.iter().enumerate().map(|(index, met)| (self.word(index as u32), met))
    }

    /// The words alone, in the order in which they were met.
    pub(super) fn into_words(self) -> Vec<String> {
        (0..self.met.len() as u32).map(|index| self.word(index)).collect()
    }

    fn word(&self, index: u32) -> String {
        String::from_utf8_lossy(self.bytes_of(index)).into_owned()
    }
}

/// Words up to this length are their own key, so that most lookups compare one number.
const WHOLE: usize = 7;
const FACTOR: u64 = 0x9e37_79b9_7f4a_7c15;

/// A short word with its length in the top byte, or the hash of a longer one with the top byte full.
fn key(word: &[u8]) -> u64 {
    if word.len() <= WHOLE {
        return word.iter().fold(word.len() as u64, |packed, byte| (packed << 8) | u64::from(*byte))
            << (8 * (WHOLE - word.len()));
    }
    let (chunks, rest) = word.as_chunks::<8>();
    let mut hash = word.len() as u64;
    for chunk in chunks {
        hash = (hash.rotate_left(5) ^ u64::from_le_bytes(*chunk)).wrapping_mul(FACTOR);
    }
    let last = rest.iter().fold(0, |packed, byte| (packed << 8) | u64::from(*byte));
    hash = (hash.rotate_left(5) ^ last).wrapping_mul(FACTOR);
    (hash ^ (hash >> 29)) | (0xff << 56)
}

/// Whether a key is the word itself.
fn is_whole(key: u64) -> bool {
    key >> 56 != 0xff
}

/// Where a key is first looked for among so many slots. Not proof against someone who makes words
/// collide on purpose; the file is the user's own.
fn place(key: u64, slots: usize) -> usize {
    (key.wrapping_mul(FACTOR) >> 32) as usize & (slots - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_keeps_its_index_however_many_there_are() {
        let mut memo = Memo::default();
        let words: Vec<String> = (0..5_000).map(|number| format!("cow {}", number * 7)).collect();
        for round in 1..=2 {
            for (index, word) in words.iter().enumerate() {
                assert_eq!(memo.meet(word.as_bytes(), round, str::len), index as u32);
            }
        }
        assert_eq!(memo.meet(b"", 9, str::len), 5_000);
        for (index, word) in ["a", "\0a", "a\0", "1234567", "12345678"].iter().enumerate() {
            assert_eq!(memo.meet(word.as_bytes(), 9, str::len), 5_001 + index as u32, "{word:?}");
        }
        assert!(memo.words().take(5_000).all(|(word, met)| met.rows == 2 && met.meaning == word.len()));
        assert_eq!(memo.into_words()[..5_000], words);
    }
}
