//! Whole-house tests.

mod cli;
mod interpreter;
mod lexer;
mod lsp;
mod published;
mod rules;
