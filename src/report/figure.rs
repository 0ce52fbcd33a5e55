//! Figures as data: what a chart shows, before anyone draws it.
