//! Whole-house tests.

mod lsp;
mod published;
mod rules;
