//! Whole-house tests.

mod rules;
