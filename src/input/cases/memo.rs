//! Words that repeat from row to row, each judged once and counted.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// FNV-1a: short words by the million are what it is fast at. Not proof against someone who makes
/// words collide on purpose; the file is the user's own.
#[derive(Clone, Copy)]
struct ShortWordHasher(u64);

impl Default for ShortWordHasher {
    fn default() -> Self {
        ShortWordHasher(0xcbf2_9ce4_8422_2325)
    }
}

impl Hasher for ShortWordHasher {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
}

/// A word that was met.
#[derive(Clone, Debug)]
pub(super) struct Met<T> {
    /// As first written.
    pub(super) word: String,
    /// What it was judged to mean.
    pub(super) meaning: T,
    /// How many rows had it.
    pub(super) rows: usize,
    /// The first of those rows.
    pub(super) first_row: usize,
}

/// The words of one column.
#[derive(Debug)]
pub(super) struct Memo<T> {
    index: HashMap<Box<[u8]>, u32, BuildHasherDefault<ShortWordHasher>>,
    met: Vec<Met<T>>,
}

impl<T> Default for Memo<T> {
    fn default() -> Self {
        Memo { index: HashMap::default(), met: Vec::new() }
    }
}

impl<T> Memo<T> {
    /// The index of a word; a word not met before is judged. There are fewer words than rows, and
    /// rows are counted in 32 bits.
    pub(super) fn meet(&mut self, word: &[u8], row: usize, judge: impl FnOnce(&str) -> T) -> u32 {
        if let Some(index) = self.index.get(word) {
            self.met[*index as usize].rows += 1;
            return *index;
        }
        let index = self.met.len() as u32;
        let text = String::from_utf8_lossy(word).into_owned();
        self.met.push(Met { meaning: judge(&text), word: text, rows: 1, first_row: row });
        self.index.insert(word.into(), index);
        index
    }

    /// What the word of this index means.
    pub(super) fn meaning(&self, index: u32) -> &T {
        &self.met[index as usize].meaning
    }

    /// The words in the order in which they were met.
    pub(super) fn words(&self) -> &[Met<T>] {
        &self.met
    }

    /// The words alone, in the order in which they were met.
    pub(super) fn into_words(self) -> Vec<String> {
        self.met.into_iter().map(|met| met.word).collect()
    }
}
