//! Statistics the engine rests on, all over `libm`, so that the bytes are the same everywhere.
