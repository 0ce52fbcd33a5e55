//! Statistics the engine rests on, all over `libm`, so that the bytes are the same everywhere.

pub mod annuity;
pub mod discrete;
pub mod draws;
pub mod empirical_bayes;
pub mod exponential;
pub mod interval;
pub mod pool;
pub mod power;
pub mod quantile;
pub mod sample_size;
pub mod special;
pub mod summary;
pub mod table;
