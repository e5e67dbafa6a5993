//! What people see: the command line and the language server.

pub mod analysis;
mod assist;
mod beside;
pub mod cli;
mod clock;
pub mod config;
pub mod lsp;
mod rewrites;
pub mod show;
