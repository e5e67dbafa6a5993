//! A cut back to blocks, in a shop's way of writing.

/// How numbers and words are written.
#[derive(Debug, Clone, PartialEq)]
pub struct Style;

/// Why a cut cannot be written in a syntax.
#[derive(Debug, Clone, PartialEq)]
pub struct Cannot(pub String);

/// Writes.
pub fn write() {}
