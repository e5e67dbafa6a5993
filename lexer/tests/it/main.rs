//! The lexer from outside: what is written is read again, what is respelled stays the same, and
//! no bytes bring it down.

mod any_bytes;
mod calls;
mod converts;
mod cuts;
mod effects;
mod multiples;
mod round_trip;
mod runs;
mod samples;
