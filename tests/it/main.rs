//! Whole-house tests.

mod again;
mod cli;
mod constructs;
mod cut_off;
mod interpreter;
mod lexer;
mod lsp;
mod published;
mod rules;
