//! Text to valid types, collecting every fault with its place. Opens no files.
