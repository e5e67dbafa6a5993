//! Shared helpers of the whole-house tests.
