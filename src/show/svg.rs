//! Charts as SVG text.
