//! Whole-house tests.

mod cli;
