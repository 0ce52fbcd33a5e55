//! Findings: what is wrong with an input, where, and what would be right.
