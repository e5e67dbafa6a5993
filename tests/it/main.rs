//! Whole-house tests.

mod published;
