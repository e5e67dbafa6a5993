//! The language server, driven over an in-memory pair of streams (and once as a real process) with
//! a tiny analysis of its own, so that what fails here is the shell and nothing else.

mod actions;
mod assist;
mod capabilities;
mod client;
mod config;
mod diagnostics;
mod documents;
mod fake;
mod framing;
mod hover;
mod lifecycle;
mod measured;
mod plain;
mod positions;
mod process;
mod pull;
mod rewrites;
mod rough;
mod typing;
