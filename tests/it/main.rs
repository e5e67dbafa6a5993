//! Whole-house tests.

mod interpreter;
mod lexer;
mod lsp;
mod published;
