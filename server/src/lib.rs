//! What people see: the command line and the language server.

pub mod analysis;
mod assist;
pub mod cli;
mod clock;
pub mod config;
pub mod lsp;
pub mod show;
