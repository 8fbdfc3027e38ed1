//! Banded symmetric systems: factor once, solve often.
