//! What the lexer reads, beyond its own unit tests.
