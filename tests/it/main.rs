//! Whole-house tests.

mod lsp;
