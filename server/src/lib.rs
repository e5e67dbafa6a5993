//! What people see: the command line and the language server.

pub mod analysis;
mod assist;
mod beside;
pub mod cli;
pub mod config;
pub mod lsp;
mod rewrites;
pub mod show;
