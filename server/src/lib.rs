//! What people see: the command line and the language server.

pub mod analysis;
mod assist;
mod beside;
pub mod cli;
mod clock;
pub mod config;
mod hash;
pub mod lsp;
mod report;
mod rewrites;
pub mod show;
