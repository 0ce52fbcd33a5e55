//! Valid types.
