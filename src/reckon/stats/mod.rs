//! Statistics the engine rests on, all over `libm`, so that the bytes are the same everywhere.

pub mod draws;
pub mod quantile;
pub mod special;
pub mod table;
