//! Whole-house tests.

mod again;
mod cli;
mod constructs;
mod interpreter;
mod lexer;
mod lsp;
mod published;
mod rules;
