//! Whole-house tests.

mod cli;
mod constructs;
mod cut_off;
mod interpreter;
mod lexer;
mod lsp;
mod published;
mod rules;
