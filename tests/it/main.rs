//! Whole-house tests.
