//! Whole-house tests.

mod interpreter;
mod lexer;
